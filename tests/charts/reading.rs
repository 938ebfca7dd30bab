//! Reads finished charts back.

use crawlspan::output::charts::{PNG_SCALE, Rendered};

/// The words of an SVG, lines of one text joined by spaces.
pub fn words(chart: &Rendered) -> String {
    let texts = chart.svg.split("<text").skip(1).map(|rest| {
        let inner = rest.split_once('>').map_or("", |pair| pair.1);
        inner
            .split("</text>")
            .next()
            .unwrap_or("")
            .trim()
            .to_owned()
    });
    texts.collect::<Vec<_>>().join(" ")
}

pub fn assert_says(chart: &Rendered, wanted: &[&str]) {
    let said = words(chart);
    for phrase in wanted {
        assert!(said.contains(phrase), "{phrase:?} is missing in {said:?}");
    }
}

/// Size the SVG is shown at.
pub fn svg_size(chart: &Rendered) -> (u32, u32) {
    let number = |name: &str| {
        let start = chart.svg.find(name).unwrap() + name.len();
        let digits: String = chart.svg[start..]
            .chars()
            .take_while(char::is_ascii_digit)
            .collect();
        digits.parse().unwrap()
    };
    (number("width=\""), number("height=\""))
}

/// Size and pixels of the PNG.
pub fn decode(chart: &Rendered) -> (u32, u32, Vec<u8>) {
    let decoder = png::Decoder::new(chart.png.as_slice());
    let mut reader = decoder.read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size()];
    let info = reader.next_frame(&mut pixels).unwrap();
    assert_eq!(info.color_type, png::ColorType::Rgb);
    (info.width, info.height, pixels)
}

/// Asserts that both files are whole, and that something is drawn in them.
pub fn assert_whole(chart: &Rendered) {
    assert!(chart.svg.starts_with("<svg "), "{}", &chart.svg[..60]);
    assert!(chart.svg.trim_end().ends_with("</svg>"));
    assert!(!chart.svg.contains("NaN") && !chart.svg.contains("inf"));
    let (width, height) = svg_size(chart);
    let (png_width, png_height, pixels) = decode(chart);
    assert_eq!(
        (png_width, png_height),
        (PNG_SCALE * width, PNG_SCALE * height)
    );
    let paper = [pixels[0], pixels[1], pixels[2]];
    let drawn = pixels
        .chunks_exact(3)
        .filter(|pixel| *pixel != paper)
        .count();
    assert!(drawn > 500, "only {drawn} pixels drawn");
}

pub fn attribute(element: &str, name: &str) -> f64 {
    let name = format!("{name}=\"");
    let rest = &element[element.find(&name).unwrap() + name.len()..];
    rest.split('"').next().unwrap().parse().unwrap()
}
