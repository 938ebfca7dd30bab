//! Direct labels in the margin beside a plot: wrapped, kept apart, tied to
//! what they name by a thin leader when they had to move.

use super::ChartError;
use super::scene::{Align, Lettering, Point, Scene, text_width, wash, wrap};
use super::sheet::Area;
use super::style::{Colour, SMALL_SIZE, THIN_WIDTH, for_letters};

/// Distance from the plot's edge to the text.
const GAP: f64 = 14.0;
/// Space between neighbouring labels.
const BETWEEN: f64 = 6.0;
/// A label runs over at most this many lines.
const MOST_LINES: usize = 3;
/// Moves smaller than this need no leader.
const UNNOTICED: f64 = 3.0;
/// Labels may stand this far above and below the plot.
const BELOW: f64 = 12.0;
/// Leaders leave the plot level for this distance,
const LEADER_BEND: f64 = 2.0;
/// and end this far from the text.
const LEADER_END: f64 = 4.0;
/// Opacity of leaders.
const LEADER_OPACITY: f64 = 0.5;
/// Height of small letters above the baseline, in em: half of it puts a line
/// of text level with its point.
const LETTER_HEIGHT: f64 = 0.55;

/// Side of the plot on which direct labels stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

/// A label before it is placed.
#[derive(Debug, Clone)]
pub(super) struct EndLabel {
    /// What it names.
    pub(super) anchor: Point,
    pub(super) text: String,
    pub(super) colour: Colour,
    pub(super) bold: bool,
}

impl EndLabel {
    fn style(&self) -> Lettering {
        let plain = Lettering::new(SMALL_SIZE).colour(for_letters(self.colour));
        if self.bold { plain.bold() } else { plain }
    }
}

/// Room that labels need beside the plot, `most` at the most.
pub(super) fn room_for<'a>(
    labels: impl Iterator<Item = (&'a str, bool)>,
    most: f64,
) -> Result<f64, ChartError> {
    let mut widest = 0.0_f64;
    for (text, bold) in labels {
        let plain = Lettering::new(SMALL_SIZE);
        let style = if bold { plain.bold() } else { plain };
        let (lines, _) = wrap(text, style, most - GAP, MOST_LINES)?;
        for line in lines {
            widest = widest.max(text_width(&line, style)?);
        }
    }
    Ok((widest + GAP + 1.0).min(most))
}

/// Draws the labels beside `area`, in `width` units of room.
pub(super) fn draw_end_labels(
    scene: &mut Scene,
    area: Area,
    (side, width): (Side, f64),
    mut labels: Vec<EndLabel>,
) -> Result<(), ChartError> {
    labels.sort_by(|one, other| one.anchor.1.total_cmp(&other.anchor.1));
    let mut blocks = Vec::new();
    for label in labels {
        let (lines, _) = wrap(&label.text, label.style(), width - GAP, MOST_LINES)?;
        let height = lines.len() as f64 * label.style().leading();
        blocks.push((label, lines, height));
    }
    let heights: Vec<(f64, f64)> = blocks
        .iter()
        .map(|block| (block.0.anchor.1, block.2))
        .collect();
    let tops = spread(&heights, area.top, area.bottom);
    for ((label, lines, height), top) in blocks.iter().zip(tops) {
        let style = label.style();
        let middle = top + height / 2.0;
        let from = label.anchor;
        let (edge, outwards, align) = match side {
            Side::Right => (area.right, 1.0, Align::Left),
            Side::Left => (area.left, -1.0, Align::Right),
        };
        let away = (edge - from.0).abs() > UNNOTICED;
        if away || (middle - from.1).abs() > UNNOTICED {
            let line = vec![
                from,
                (edge + outwards * LEADER_BEND, from.1),
                (edge + outwards * (GAP - LEADER_END), middle),
            ];
            scene.path(line, wash(label.colour, LEADER_OPACITY), THIN_WIDTH);
        }
        let slack = (style.leading() - style.size * LETTER_HEIGHT) / 2.0;
        let baseline = top + style.leading() - slack;
        scene.lines(lines, (edge + outwards * GAP, baseline), style.align(align));
    }
    Ok(())
}

/// Tops of blocks with wished middles and heights (in order of the middles),
/// moved apart as little as possible: neighbours that would overlap are pooled
/// and centred together (isotonic regression by pooling adjacent violators).
fn spread(blocks: &[(f64, f64)], top: f64, bottom: f64) -> Vec<f64> {
    let mut offset = 0.0;
    let mut offsets = Vec::with_capacity(blocks.len());
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (middle, height) in blocks {
        let mut pool = (middle - height / 2.0 - offset, 1);
        while let Some(&(mean, count)) = pools.last() {
            if mean <= pool.0 {
                break;
            }
            let together = count + pool.1;
            let sum = mean * count as f64 + pool.0 * pool.1 as f64;
            pool = (sum / together as f64, together);
            pools.pop();
        }
        pools.push(pool);
        offsets.push(offset);
        offset += height + BETWEEN;
    }
    // A label of the lowest value may stand a little below the plot.
    let last = bottom + BELOW - (offset - BETWEEN);
    let first = (top - BELOW).min(last);
    let places = pools
        .iter()
        .flat_map(|&(mean, count)| std::iter::repeat_n(mean, count));
    places
        .zip(offsets)
        .map(|(place, offset)| place.min(last).max(first) + offset)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_labels_never_overlap() {
        let blocks = [(10.0, 20.0), (12.0, 20.0), (95.0, 40.0), (100.0, 20.0)];
        let tops = spread(&blocks, 0.0, 200.0);
        for index in 1..blocks.len() {
            assert!(tops[index] >= tops[index - 1] + blocks[index - 1].1);
        }
        assert_eq!(spread(&[(50.0, 20.0)], 0.0, 100.0), [40.0]);
    }
}
