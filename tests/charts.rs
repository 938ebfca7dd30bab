//! Charts: what a reader must find in them, and data that must not break them.

mod charts_data;

use charts_data::{around, curve, gap, gap_not_reached, map, net_yield, refuge};
use crawlspan::output::charts::style::{
    CUT_HALF, OTHER_PATCH, REFUGE_HALF, SERIES, STEM_EATEN_OUT, STEM_FRESH, STEM_MATURE,
    STEM_STUBBLE, TREATED, UNTOUCHED,
};
use crawlspan::output::charts::*;

/// The words of an SVG, lines of one text joined by spaces.
fn words(chart: &Rendered) -> String {
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

fn assert_says(chart: &Rendered, wanted: &[&str]) {
    let said = words(chart);
    for phrase in wanted {
        assert!(said.contains(phrase), "{phrase:?} is missing in {said:?}");
    }
}

/// Size the SVG is shown at.
fn svg_size(chart: &Rendered) -> (u32, u32) {
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
fn decode(chart: &Rendered) -> (u32, u32, Vec<u8>) {
    let decoder = png::Decoder::new(chart.png.as_slice());
    let mut reader = decoder.read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size()];
    let info = reader.next_frame(&mut pixels).unwrap();
    assert_eq!(info.color_type, png::ColorType::Rgb);
    (info.width, info.height, pixels)
}

/// Asserts that both files are whole, and that something is drawn in them.
fn assert_whole(chart: &Rendered) {
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

#[test]
fn practice_gap_chart_says_what_it_shows() {
    let chart = gap_chart(&gap()).unwrap();
    assert_whole(&chart);
    let wanted = [
        "Patches at least 9.2 m apart keep stray larvae below 5 %",
        "Stray share: late-stage larvae found outside the patch they were laid in (%)",
        "Gap between the patches, edge to edge (metres; yards below)",
        "10 m",
        "11 yd",
        "20 %",
        "tolerance 5 %",
        "clear gap 9.2 m (8.7–9.8)",
        "plausible parameters: 6.1–14.3 m",
        "treated patch",
        "untouched patch",
        "Bands: 95 % intervals",
    ];
    assert_says(&chart, &wanted);
}

#[test]
fn practice_gap_chart_says_when_the_gap_is_not_reached() {
    let chart = gap_chart(&gap_not_reached()).unwrap();
    assert_whole(&chart);
    assert_says(
        &chart,
        &["clear gap not reached up to 40 m (44 yd)", "tolerance 1 %"],
    );
    let mut open = gap();
    open.clear_gap = ClearGap::Reached {
        gap_m: 38.0,
        low_m: Some(30.0),
        high_m: None,
    };
    let chart = gap_chart(&open).unwrap();
    assert_says(&chart, &["clear gap 38.0 m (30.0 or more)"]);
}

#[test]
fn practice_refuge_chart_says_what_it_shows() {
    let chart = refuge_chart(&refuge()).unwrap();
    assert_whole(&chart);
    let wanted = [
        "every fourth late-stage larva in the refuge half was laid",
        "Late-stage larvae present at the surveys (mean number per season)",
        "Refuge share of the patch (%)",
        "Standing in the refuge half",
        "Standing in the cut half",
        "laid in the cut\u{a0}half",
        "laid in the refuge\u{a0}half",
        "laid in another\u{a0}patch",
    ];
    assert_says(&chart, &wanted);
}

#[test]
fn practice_season_map_says_what_it_shows() {
    let chart = season_map(&map(300, 200)).unwrap();
    assert_whole(&chart);
    let wanted = [
        "Most late-stage larvae stay",
        "10 m (11 yd)",
        "edge of the arena",
        "untouched patch",
        "mature (",
        "stubble (",
        "fresh (",
        "eaten out (",
        "laid in the refuge half (67)",
        "on a stem (",
        "died off-plant (",
        "lost (",
    ];
    assert_says(&chart, &wanted);
}

#[test]
fn practice_curves_say_what_they_show() {
    let chart = curve_chart(&curve()).unwrap();
    assert_whole(&chart);
    let wanted = [
        "Twenty sites find",
        "wanted power 80 %",
        "Power: studies that find the drop (%)",
        "True drop in late-stage larvae on treated patches (%)",
        "10 sites",
        "with two patches each",
    ];
    assert_says(&chart, &wanted);
    let chart = yield_chart(&net_yield()).unwrap();
    assert_whole(&chart);
    assert_says(
        &chart,
        &[
            "no net change",
            "break-even 1.8 (1.4–2.3)",
            "Attraction ratio",
            "Net yield",
        ],
    );
}

#[test]
fn exact_same_data_give_the_same_bytes() {
    assert_eq!(gap_chart(&gap()).unwrap(), gap_chart(&gap()).unwrap());
    assert_eq!(
        refuge_chart(&refuge()).unwrap(),
        refuge_chart(&refuge()).unwrap()
    );
    assert_eq!(
        season_map(&map(50, 30)).unwrap(),
        season_map(&map(50, 30)).unwrap()
    );
    assert_eq!(
        curve_chart(&curve()).unwrap(),
        curve_chart(&curve()).unwrap()
    );
}

#[test]
fn exact_points_stand_where_their_numbers_say() {
    // Two discs of one series: twice the value must stand twice as high above
    // the axis line, whose height the first horizontal axis stroke gives.
    let mut chart = curve();
    chart.series.truncate(1);
    chart.thresholds.clear();
    chart.series[0].points = [(0.0, 0.0), (1.0, 10.0), (2.0, 20.0)]
        .map(|(x, y)| CurvePoint {
            x,
            y: around(y, 0.0),
        })
        .to_vec();
    let chart = curve_chart(&chart).unwrap();
    let discs: Vec<(f64, f64)> = chart
        .svg
        .split("<circle ")
        .skip(1)
        .map(|disc| (attribute(disc, "cx"), attribute(disc, "cy")))
        .collect();
    let [zero, one, two] = discs[..] else {
        panic!("{discs:?}");
    };
    assert!(
        (zero.1 - two.1 - 2.0 * (zero.1 - one.1)).abs() <= 2.0,
        "{discs:?}"
    );
    assert!(
        (two.0 - zero.0 - 2.0 * (one.0 - zero.0)).abs() <= 2.0,
        "{discs:?}"
    );
    assert!(zero.1 > one.1 && zero.0 < one.0);
}

fn attribute(element: &str, name: &str) -> f64 {
    let name = format!("{name}=\"");
    let rest = &element[element.find(&name).unwrap() + name.len()..];
    rest.split('"').next().unwrap().parse().unwrap()
}

#[test]
fn exact_map_is_equally_scaled_both_ways() {
    let mut data = map(0, 0);
    data.patches.clear();
    data.stems = [(10.0, 10.0), (15.0, 10.0), (10.0, 15.0)]
        .map(|(x_m, y_m)| MapStem {
            x_m,
            y_m,
            condition: StemCondition::Mature,
        })
        .to_vec();
    let chart = season_map(&data).unwrap();
    let discs: Vec<(f64, f64)> = chart
        .svg
        .split("<circle ")
        .skip(1)
        .map(|disc| (attribute(disc, "cx"), attribute(disc, "cy")))
        .collect();
    let east = discs[1].0 - discs[0].0;
    let north = discs[0].1 - discs[2].1;
    assert!(east > 0.0 && (east - north).abs() <= 2.0, "{discs:?}");
}

#[test]
fn practice_empty_charts_say_so() {
    let mut no_lines = gap();
    no_lines.lines.clear();
    let mut undefined = gap();
    for point in undefined.lines.iter_mut().flat_map(|line| &mut line.points) {
        point.share = None;
    }
    let mut no_refuge = refuge();
    no_refuge.series.clear();
    let mut no_map = map(0, 0);
    no_map.patches.clear();
    no_map.groups.clear();
    let mut no_curve = curve();
    no_curve
        .series
        .iter_mut()
        .for_each(|series| series.points.clear());
    no_curve.thresholds.clear();
    let charts = [
        gap_chart(&no_lines),
        gap_chart(&undefined),
        refuge_chart(&no_refuge),
        season_map(&no_map),
        curve_chart(&no_curve),
    ];
    for chart in charts {
        let chart = chart.unwrap();
        assert_whole(&chart);
        assert_says(&chart, &["no data"]);
    }
}

#[test]
fn practice_odd_numbers_do_not_break_curves() {
    let estimate = |value, low, high| Some(Estimate { value, low, high });
    let odd: [&[(f64, Option<Estimate>)]; 9] = [
        &[(1.0, estimate(2.0, 1.0, 3.0))],
        &[
            (0.0, estimate(0.0, 0.0, 0.0)),
            (1.0, estimate(0.0, 0.0, 0.0)),
        ],
        &[
            (f64::NAN, estimate(1.0, 0.0, 2.0)),
            (1.0, estimate(f64::NAN, 0.0, 1.0)),
        ],
        &[
            (1.0, estimate(1.0, f64::NEG_INFINITY, f64::INFINITY)),
            (2.0, None),
        ],
        &[
            (-1e15, estimate(-1e15, -1e15, 1e15)),
            (1e15, estimate(1e15, 0.0, 1e15)),
        ],
        &[
            (1e-300, estimate(1e-300, 0.0, 1e-299)),
            (2e-300, estimate(1e-310, 0.0, 1e-300)),
        ],
        &[
            (5.0, estimate(1e12, 1e12, 1e12 + 1.0)),
            (5.0, estimate(1e12 + 1.0, 1e12, 1e12)),
        ],
        &[
            (3.0, estimate(1.0, 5.0, -5.0)),
            (2.0, estimate(1.0, 0.0, 1.0)),
            (2.0, None),
        ],
        &[(f64::INFINITY, None)],
    ];
    for points in odd {
        for from_zero in [true, false] {
            let mut chart = curve();
            chart.from_zero = from_zero;
            chart.series.truncate(1);
            chart.series[0].points = points.iter().map(|&(x, y)| CurvePoint { x, y }).collect();
            assert_whole(&curve_chart(&chart).unwrap());
            chart.thresholds.clear();
            assert_whole(&curve_chart(&chart).unwrap());
        }
    }
}

#[test]
fn practice_odd_shares_and_counts_do_not_break_charts() {
    let mut one = gap();
    one.lines.truncate(1);
    one.lines[0].points.truncate(1);
    assert_whole(&gap_chart(&one).unwrap());
    let mut zeros = gap();
    for point in zeros.lines.iter_mut().flat_map(|line| &mut line.points) {
        point.share = around(0.0, 0.0);
    }
    zeros.tolerance = None;
    zeros.clear_gap = ClearGap::Reached {
        gap_m: 0.0,
        low_m: None,
        high_m: None,
    };
    assert_whole(&gap_chart(&zeros).unwrap());
    let mut counts = refuge();
    counts.series[0].points.truncate(1);
    counts.series[1].points[2].larvae = around(f64::NAN, 0.0);
    for point in &mut counts.series[2].points {
        point.larvae = around(0.0, 0.0);
    }
    assert_whole(&refuge_chart(&counts).unwrap());
}

#[test]
fn practice_very_long_names_fit() {
    let long = "a patch with a very long name that goes on and on ".repeat(40);
    let unbroken = "abcdefghij".repeat(200);
    for name in [long.as_str(), &unbroken, "", "  ", "ñ 象 \u{1F41B} <&>\"'"] {
        let mut chart = gap();
        chart.title = name.to_owned();
        chart.note = name.to_owned();
        chart.share_label = name.to_owned();
        chart.lines[0].name = name.to_owned();
        chart.tolerance = Some(Tolerance {
            share: 1.0,
            name: name.to_owned(),
        });
        assert_whole(&gap_chart(&chart).unwrap());
        let mut ground = map(9, 9);
        ground.patches[0].label = name.to_owned();
        ground.groups[1].label = name.to_owned();
        assert_whole(&season_map(&ground).unwrap());
        let mut sweep = curve();
        sweep.x_label = name.to_owned();
        for series in &mut sweep.series {
            series.name = name.to_owned();
        }
        sweep.crossings = vec![Crossing {
            value: 1.0,
            low: None,
            high: None,
            name: name.to_owned(),
        }];
        assert_whole(&curve_chart(&sweep).unwrap());
    }
}

#[test]
fn practice_odd_maps_do_not_break() {
    let mut ground = map(20, 12);
    ground.stems[0].x_m = f64::NAN;
    ground.walks[0].points_m.clear();
    ground.walks[1].points_m.truncate(1);
    ground.walks[2].points_m = vec![(f64::NAN, 1.0), (f64::INFINITY, 2.0), (1e300, -1e300)];
    ground.walks[3].points_m = vec![(-1e9, 5.0), (1e9, 6.0)];
    ground.walks[4].points_m = vec![(5.0, 5.0); 10];
    ground.patches[0].corners_m.truncate(2);
    ground.patches[1].corners_m = vec![(1e12, 1e12), (2e12, 1e12), (2e12, 2e12)];
    assert_whole(&season_map(&ground).unwrap());
    ground.view = Some(Bounds {
        min_x_m: 8.0,
        min_y_m: 9.0,
        max_x_m: 10.0,
        max_y_m: 12.0,
    });
    assert_whole(&season_map(&ground).unwrap());
    for (width, height) in [(1e6, 1e-6), (1e-6, 1e6), (1e15, 1e15)] {
        ground.view = Some(Bounds {
            min_x_m: 0.0,
            min_y_m: 0.0,
            max_x_m: width,
            max_y_m: height,
        });
        assert_whole(&season_map(&ground).unwrap());
    }
}

#[test]
fn exact_impossible_numbers_are_refused() {
    let mut share = gap();
    share.lines[0].points[0].share = around(1.2, 0.1);
    let mut tolerance = gap();
    tolerance.tolerance = Some(Tolerance {
        share: f64::NAN,
        name: String::new(),
    });
    let mut negative = gap();
    negative.clear_gap = ClearGap::NotReached {
        largest_gap_m: -1.0,
    };
    let mut refuge_share = refuge();
    refuge_share.series[0].points[0].refuge_share = 25.0;
    let mut huge = curve();
    huge.series[0].points[0].x = 1e16;
    let mut threshold = curve();
    threshold.thresholds[0].value = f64::INFINITY;
    let mut flat = map(1, 1);
    flat.arena.max_x_m = flat.arena.min_x_m;
    let refused = [
        gap_chart(&share),
        gap_chart(&tolerance),
        gap_chart(&negative),
        refuge_chart(&refuge_share),
        curve_chart(&huge),
        curve_chart(&threshold),
        season_map(&flat),
    ];
    for chart in refused {
        let error = chart.unwrap_err();
        assert!(matches!(error, ChartError::OutOfRange { .. }), "{error}");
    }
    let mut group = map(1, 1);
    group.walks[0].group = 3;
    let error = season_map(&group).unwrap_err();
    assert_eq!(
        error.to_string(),
        "a walk belongs to group 3, but the map has only 3 groups"
    );
}

#[test]
fn exact_looks_differ_in_colour_and_in_shape_or_stroke() {
    let groups: [&[style::Mark]; 4] = [
        &[TREATED, UNTOUCHED],
        &[REFUGE_HALF, CUT_HALF, OTHER_PATCH, UNTOUCHED],
        &[STEM_MATURE, STEM_STUBBLE, STEM_FRESH, STEM_EATEN_OUT],
        &SERIES,
    ];
    for group in groups {
        for (index, one) in group.iter().enumerate() {
            for other in &group[index + 1..] {
                assert_ne!(one.colour, other.colour);
                assert_ne!(one.shape, other.shape);
            }
        }
    }
}

#[test]
#[ignore = "writes the charts to a folder, for a person to look at"]
fn practice_charts_can_be_looked_at() {
    let folder = std::env::var_os("CRAWLSPAN_CHARTS").map_or_else(
        || std::env::temp_dir().join("crawlspan-charts"),
        std::path::PathBuf::from,
    );
    std::fs::create_dir_all(&folder).unwrap();
    let mut one_point = gap();
    one_point
        .lines
        .iter_mut()
        .for_each(|line| line.points.truncate(1));
    one_point.lines[0].name = "a treated patch with a very long name indeed ".repeat(4);
    let mut nothing = curve();
    nothing.series.clear();
    let mut close = map(300, 200);
    close.view = Some(Bounds {
        min_x_m: 4.0,
        min_y_m: 6.0,
        max_x_m: 14.0,
        max_y_m: 16.0,
    });
    let charts = [
        ("gap", gap_chart(&gap())),
        ("gap_not_reached", gap_chart(&gap_not_reached())),
        ("gap_one_point", gap_chart(&one_point)),
        ("refuge", refuge_chart(&refuge())),
        ("map_small", season_map(&map(60, 24))),
        ("map_full", season_map(&map(300, 200))),
        ("map_close", season_map(&close)),
        ("curve", curve_chart(&curve())),
        ("curve_empty", curve_chart(&nothing)),
        ("yield", yield_chart(&net_yield())),
    ];
    for (name, chart) in charts {
        let chart = chart.unwrap();
        std::fs::write(folder.join(format!("{name}.svg")), chart.svg).unwrap();
        std::fs::write(folder.join(format!("{name}.png")), chart.png).unwrap();
    }
    println!("charts are in {}", folder.display());
}

/// Relative luminance (WCAG 2.1, "relative luminance").
fn luminance((red, green, blue): style::Colour) -> f64 {
    let linear = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.03928 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

#[test]
fn published_letters_keep_the_contrast_of_wcag() {
    let paper = luminance(style::BACKGROUND);
    let contrast = |colour| (paper + 0.05) / (luminance(colour) + 0.05);
    let marks = SERIES
        .iter()
        .chain([&TREATED, &UNTOUCHED, &REFUGE_HALF, &CUT_HALF, &OTHER_PATCH]);
    let letters = marks.map(|mark| style::for_letters(mark.colour)).chain([
        style::TEXT,
        style::TEXT_QUIET,
        style::SPAN_TEXT,
    ]);
    for colour in letters {
        assert!(contrast(colour) >= 4.5, "{colour:?} {}", contrast(colour));
    }
}
