//! Frames packed as an animated GIF: one palette, and of each frame only what has changed.

use crate::trouble::{Outcome, Trouble};
use color_quant::NeuQuant;
use gif::{DisposalMethod, Encoder, Repeat};
use std::borrow::Cow;
use std::collections::HashMap;

/// Colours of the palette; the one after them means "as before".
const COLOURS: usize = 255;
const AS_BEFORE: u8 = COLOURS as u8;
/// Thoroughness of the search for a palette, 1 (slow) to 30; flat drawings need little.
const SAMPLING: i32 = 7;

/// A frame: red, green, blue bytes row by row, and how long it is shown.
pub struct Frame {
    /// Pixels in a row.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Bytes.
    pub pixels: Vec<u8>,
    /// Hundredths of a second.
    pub shown_cs: u16,
}

/// Packs frames of one size, without end.
///
/// # Errors
/// When there are none, they differ in size, or the packing fails.
pub fn moving_picture(frames: &[Frame]) -> Outcome<Vec<u8>> {
    let refused = |why: &str| Trouble::new(format!("the moving picture cannot be packed: {why}"));
    let first = frames.first().ok_or_else(|| refused("it has no frames"))?;
    let last = &frames[frames.len() - 1];
    // The last frame has every colour that comes up in the others.
    let opaque: Vec<u8> = [first, last]
        .iter()
        .flat_map(|frame| frame.pixels.chunks_exact(3))
        .flat_map(|pixel| [pixel[0], pixel[1], pixel[2], u8::MAX])
        .collect();
    let quantiser = NeuQuant::new(SAMPLING, COLOURS, &opaque);
    let mut palette = quantiser.color_map_rgb();
    palette.resize(3 * (COLOURS + 1), 0);
    let size = |frame: &Frame| {
        Some((
            u16::try_from(frame.width).ok()?,
            u16::try_from(frame.height).ok()?,
        ))
    };
    let (width, height) = size(first).ok_or_else(|| refused("it is too large"))?;
    let mut file = Vec::new();
    let packed = |fault: gif::EncodingError| refused(&fault.to_string());
    let mut encoder = Encoder::new(&mut file, width, height, &palette).map_err(packed)?;
    encoder.set_repeat(Repeat::Infinite).map_err(packed)?;
    let mut known: HashMap<[u8; 3], u8> = HashMap::new();
    let mut before: Vec<u8> = Vec::new();
    for frame in frames {
        if size(frame) != Some((width, height)) {
            return Err(refused("its frames differ in size"));
        }
        let now: Vec<u8> = frame
            .pixels
            .chunks_exact(3)
            .map(|pixel| {
                let colour = [pixel[0], pixel[1], pixel[2]];
                *known.entry(colour).or_insert_with(|| {
                    quantiser.index_of(&[pixel[0], pixel[1], pixel[2], u8::MAX]) as u8
                })
            })
            .collect();
        let changed: Vec<u8> = if before.is_empty() {
            now.clone()
        } else {
            let differs = |(now, before): (&u8, &u8)| if now == before { AS_BEFORE } else { *now };
            now.iter().zip(&before).map(differs).collect()
        };
        let frame = gif::Frame {
            delay: frame.shown_cs,
            dispose: DisposalMethod::Keep,
            transparent: (!before.is_empty()).then_some(AS_BEFORE),
            width,
            height,
            buffer: Cow::Owned(changed),
            ..gif::Frame::default()
        };
        encoder.write_frame(&frame).map_err(packed)?;
        before = now;
    }
    drop(encoder);
    Ok(file)
}
