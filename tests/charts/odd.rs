//! Data that must not break a chart, and data that must be refused.

use crawlspan::output::charts::*;

use super::data::{around, curve, gap, map, refuge};
use super::reading::{assert_says, assert_whole, attribute};

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
        for upward in [Upward::Amounts, Upward::Numbers] {
            let mut chart = curve();
            chart.upward = upward;
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
fn regress_no_patch_name_stands_in_another_patch() {
    let ground = map(60, 24);
    let chart = season_map(&ground).unwrap();
    let place = |words: &str| {
        let end = chart.svg.find(words).unwrap();
        let start = chart.svg[..end].rfind("<text").unwrap();
        attribute(&chart.svg[start..end], "x")
    };
    // The cut half's name may not stand west of the border between the halves.
    let refuge_name = place("refuge half\n</text>");
    let cut_name = place("cut half\n</text>");
    assert!(cut_name > refuge_name, "{cut_name} {refuge_name}");
}
