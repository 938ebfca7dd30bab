//! Charts: what a reader must find in them, and data that must not break them.

#[path = "charts/data.rs"]
mod data;
#[path = "charts/look.rs"]
mod look;
#[path = "charts/odd.rs"]
mod odd;
#[path = "charts/reading.rs"]
mod reading;
#[path = "charts/sweep.rs"]
mod sweep;

use crawlspan::output::charts::style::{
    COMPARISON, CUT_HALF, NO_EFFECT, OTHER_PATCH, REFUGE_HALF, SERIES, STEM_EATEN_OUT, STEM_FRESH,
    STEM_MATURE, STEM_STUBBLE, TREATED, UNTOUCHED,
};
use crawlspan::output::charts::*;
use data::{around, curve, gap, gap_not_reached, map, net_yield, refuge};
use reading::{assert_says, assert_whole, attribute};

#[test]
fn practice_gap_chart_says_what_it_shows() {
    let chart = gap_chart(&gap()).unwrap();
    assert_whole(&chart);
    let wanted = [
        "Patches at least 9.2 m apart keep stray larvae below 5 %",
        "Stray share: late-stage larvae found outside the patch they were laid in (%)",
        "Gap between the patches, edge to edge (metres, yards below; square-root axis",
        "10 m",
        "11 yd",
        "20 %",
        "tolerance 5 %",
        "clear gap, central numbers: 9.2 m (8.7–9.8)",
        "clear gap, plausible parameters: 6.1–14.3 m",
        "treated patch",
        "untouched patch",
        "Bands: 95\u{a0}% intervals",
    ];
    assert_says(&chart, &wanted);
}

#[test]
fn practice_gap_chart_says_when_the_gap_is_not_reached() {
    let chart = gap_chart(&gap_not_reached()).unwrap();
    assert_whole(&chart);
    assert_says(
        &chart,
        &[
            "clear gap, central numbers: not reached up to 40 m (44 yd)",
            "tolerance 1 %",
        ],
    );
    let mut open = gap();
    open.clear_gap = ClearGap::Reached {
        gap_m: 38.0,
        low_m: Some(30.0),
        high_m: None,
    };
    let chart = gap_chart(&open).unwrap();
    assert_says(
        &chart,
        &["clear gap, central numbers: 38.0 m (30.0 or more)"],
    );
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
            "Attraction at its peak",
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
    chart.series[0].mark = TREATED;
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
fn exact_looks_differ_in_colour_and_in_shape_or_stroke() {
    let powers = style::POWERS;
    let verdicts = [
        style::FIT_PAIR,
        style::FIT_ONE_PATCH,
        style::FIT_WAITING,
        style::FIT_NOTHING,
    ];
    let groups: [&[style::Mark]; 7] = [
        &powers,
        &verdicts,
        &[TREATED, UNTOUCHED, COMPARISON, NO_EFFECT],
        &[TREATED, UNTOUCHED],
        &[REFUGE_HALF, CUT_HALF, OTHER_PATCH, UNTOUCHED],
        &[STEM_MATURE, STEM_STUBBLE, STEM_FRESH, STEM_EATEN_OUT],
        &SERIES,
    ];
    for group in groups {
        for (index, one) in group.iter().enumerate() {
            for other in &group[index + 1..] {
                assert_ne!(one.colour, other.colour);
                let alike = one.shape == other.shape && one.stroke == other.stroke;
                assert!(!alike, "{one:?} {other:?}");
            }
        }
    }
}

#[test]
fn exact_a_colour_means_one_thing() {
    let named = [
        TREATED,
        UNTOUCHED,
        REFUGE_HALF,
        CUT_HALF,
        OTHER_PATCH,
        COMPARISON,
        NO_EFFECT,
        style::FIT_PAIR,
        style::FIT_ONE_PATCH,
        style::FIT_WAITING,
        style::FIT_NOTHING,
    ];
    let all: Vec<style::Colour> = named
        .iter()
        .chain(&SERIES)
        .chain(&style::POWERS)
        .map(|mark| mark.colour)
        .collect();
    for (index, one) in all.iter().enumerate() {
        assert!(!all[index + 1..].contains(one), "{one:?}");
    }
}

#[test]
fn exact_series_keep_their_order_in_grey() {
    for count in 1..=SERIES.len() {
        let greys: Vec<f64> = (0..count)
            .map(|index| luminance(style::series_mark(index, count).colour))
            .collect();
        assert!(greys.windows(2).all(|pair| pair[0] > pair[1]), "{greys:?}");
    }
}

#[test]
fn exact_gap_axis_is_spaced_by_the_square_root() {
    let mut data = gap();
    data.lines.truncate(1);
    data.lines[0].points = [1.0, 4.0, 9.0, 16.0]
        .map(|gap_m| GapPoint {
            gap_m,
            share: around(0.1, 0.0),
        })
        .to_vec();
    let chart = gap_chart(&data).unwrap();
    let places: Vec<f64> = chart
        .svg
        .split("<circle ")
        .skip(1)
        .map(|disc| attribute(disc, "cx"))
        .collect();
    let [one, four, nine, sixteen] = places[..] else {
        panic!("{places:?}");
    };
    // Roots 1, 2, 3, 4: equal steps.
    assert!(((four - one) - (nine - four)).abs() <= 2.0, "{places:?}");
    assert!(
        ((nine - four) - (sixteen - nine)).abs() <= 2.0,
        "{places:?}"
    );
}

#[test]
fn practice_open_ends_are_named_and_drawn() {
    let mut data = gap();
    data.plausible = Some(PlausibleGap {
        low_m: None,
        high_m: Some(12.7),
        tried_m: (0.5, 36.0),
    });
    let chart = gap_chart(&data).unwrap();
    assert_says(
        &chart,
        &["clear gap, plausible parameters: below 0.5 to 12.7 m"],
    );
    data.plausible = Some(PlausibleGap {
        low_m: Some(3.0),
        high_m: None,
        tried_m: (0.5, 36.0),
    });
    let chart = gap_chart(&data).unwrap();
    assert_says(
        &chart,
        &["clear gap, plausible parameters: 3.0 to beyond 36.0 m"],
    );
    let mut sites = curve();
    sites.across = Across::Metres;
    sites.strokes = true;
    sites.crossings = vec![Crossing {
        value: 9.144,
        low: None,
        high: None,
        name: "siting rule".to_owned(),
    }];
    let whole = curve_chart(&sites).unwrap();
    assert_whole(&whole);
    assert_says(&whole, &["siting rule 9.1 m (10 yd)", "yd"]);
    // An open end is drawn with one stroke more corner than a closed one.
    for point in sites
        .series
        .iter_mut()
        .flat_map(|series| &mut series.points)
    {
        point.y = point.y.map(|y| Estimate {
            high: f64::INFINITY,
            ..y
        });
    }
    let open = curve_chart(&sites).unwrap();
    assert_whole(&open);
    assert_ne!(open.svg, whole.svg);
}

#[test]
fn practice_charts_tell_their_finding_to_those_who_cannot_see_them() {
    let mut data = gap();
    data.title = "Gaps < 9 m & more".to_owned();
    let chart = gap_chart(&data).unwrap();
    assert!(
        chart
            .svg
            .contains("<title>Gaps &lt; 9 m &amp; more</title>")
    );
    assert!(chart.svg.contains("role=\"img\""));
    assert!(chart.svg.contains("<desc>Bands"));
    assert_eq!(chart.title, data.title);
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
