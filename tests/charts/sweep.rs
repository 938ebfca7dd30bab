//! Charts of sweeps: shaded cells with the line of a limit, and choices by name.

use crawlspan::output::charts::style::{SHADES, shade_of};
use crawlspan::output::charts::*;

use super::data::{around, curve};
use super::luminance;
use super::reading::{assert_says, assert_whole};

fn surface(columns: usize, rows: usize, height: fn(f64, f64) -> f64) -> Vec<Vec<Option<f64>>> {
    (0..rows)
        .map(|y| {
            (0..columns)
                .map(|x| Some(height(x as f64, y as f64)))
                .collect()
        })
        .collect()
}

fn heat(rows: Vec<Vec<Option<f64>>>) -> HeatChart {
    let axis = |title: &str, count: usize| HeatAxis {
        title: title.to_owned(),
        labels: (0..count).map(|index| format!("{title} {index}")).collect(),
        is_numeric: true,
    };
    HeatChart {
        title: "An invented surface".to_owned(),
        note: "No simulation behind it.".to_owned(),
        across: axis("gap", rows.first().map_or(0, Vec::len)),
        upward: axis("stems", rows.len()),
        rows,
        value_label: "Stray share".to_owned(),
        is_share: true,
        limit: Some(Threshold {
            value: 0.05,
            name: "tolerance 5 %".to_owned(),
        }),
    }
}

#[test]
fn exact_the_line_of_a_plane_is_straight() {
    let lines = contour_lines(&surface(6, 5, |x, y| x + y), 3.5);
    assert_eq!(lines.len(), 1, "{lines:?}");
    for (x, y) in &lines[0] {
        assert!((x + y - 3.5).abs() < 1e-12, "{x} {y}");
    }
    // It enters at the left edge and leaves at the lower one; nothing is drawn beyond the outermost centres.
    let ends = [lines[0][0], lines[0][lines[0].len() - 1]];
    assert!(
        ends.contains(&(0.0, 3.5)) && ends.contains(&(3.5, 0.0)),
        "{ends:?}"
    );
}

#[test]
fn exact_the_line_of_a_hill_is_one_ring() {
    let lines = contour_lines(&surface(9, 9, |x, y| -(x - 4.0).hypot(y - 4.0)), -2.5);
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert_eq!(lines[0].first(), lines[0].last());
    for (x, y) in &lines[0] {
        // A distance is convex between two centres: interpolation along a line a cell long errs by less than
        // 1/(8 r) at radius r (second derivative at most 1/r).
        let radius = (x - 4.0).hypot(y - 4.0);
        assert!((radius - 2.5).abs() < 1.0 / (8.0 * 1.5), "{radius}");
    }
}

#[test]
fn exact_a_saddle_is_joined_by_its_middle() {
    // High along one diagonal: the middle (mean 0.6) is above 0.5, so the high corners stay joined and each low
    // corner is cut off by a line of its own.
    let rows = vec![vec![Some(1.0), Some(0.2)], vec![Some(0.2), Some(1.0)]];
    let lines = contour_lines(&rows, 0.5);
    assert_eq!(lines.len(), 2);
    for line in &lines {
        let (x, y) = (line[0].0.midpoint(line[1].0), line[0].1.midpoint(line[1].1));
        assert!((x - 0.5) * (y - 0.5) < 0.0, "{line:?}");
    }
}

#[test]
fn exact_no_line_touches_an_undefined_cell() {
    let mut rows = surface(5, 5, |x, _| x);
    rows[2][2] = None;
    let lines = contour_lines(&rows, 1.5);
    // The squares around the undefined cell are left out, so the line from below to above is broken in two.
    assert_eq!(lines.len(), 2, "{lines:?}");
    for (_, y) in lines.concat() {
        assert!(!(1.0 < y && y < 3.0), "{y}");
    }
    assert!(contour_lines(&rows, 17.0).is_empty());
    assert!(contour_lines(&[], 0.0).is_empty());
}

#[test]
fn practice_cells_say_what_they_show() {
    let mut rows = surface(5, 4, |x, y| 0.01 * (x + y));
    rows[3][4] = None;
    let chart = heat_chart(&heat(rows)).unwrap();
    assert_whole(&chart);
    assert_says(
        &chart,
        &[
            "An invented surface",
            "Shade: Stray share (%)",
            "Upwards: stems",
            "gap 4",
            "line: tolerance",
            "undefined",
            "6.0",
            "0.0",
        ],
    );
}

#[test]
fn practice_odd_surfaces_do_not_break_cells() {
    let all_alike = surface(3, 3, |_, _| 0.05);
    let none = vec![vec![None; 3]; 2];
    let many = surface(60, 50, |x, y| (x * y).sin().abs());
    let one = surface(1, 1, |_, _| 0.2);
    let holes = vec![vec![Some(f64::NAN), Some(f64::INFINITY)]];
    for rows in [all_alike, none, many, one, holes, Vec::new()] {
        let mut chart = heat(rows);
        assert_whole(&heat_chart(&chart).unwrap());
        chart.is_share = false;
        chart.upward.is_numeric = false;
        chart.limit = None;
        assert_whole(&heat_chart(&chart).unwrap());
        chart.across.is_numeric = false;
        chart.across.title = "a setting of a very long name ".repeat(20);
        assert_whole(&heat_chart(&chart).unwrap());
    }
    let mut huge = heat(surface(2, 2, |_, _| 1e20));
    assert!(heat_chart(&huge).is_err());
    huge = heat(surface(2, 2, |x, _| x));
    huge.limit = Some(Threshold {
        value: f64::NAN,
        name: "none".to_owned(),
    });
    assert!(heat_chart(&huge).is_err());
}

#[test]
fn exact_beside_a_choice_the_limit_is_read_off_along_the_numbers_alone() {
    let paths = |chart: &HeatChart| {
        let svg = heat_chart(chart).unwrap().svg;
        svg.matches("<polyline").count()
    };
    let mut chart = heat(surface(4, 3, |x, _| 0.02 * x));
    chart.upward.is_numeric = false;
    let limit = chart.limit.take();
    let without = paths(&chart);
    chart.limit = limit.clone();
    // One stroke a row and one on the bar, each on its own paper.
    assert_eq!(paths(&chart) - without, 2 * (3 + 1));
    chart.across.is_numeric = false;
    // Between choices nothing can be read off: only the bar has it.
    assert_eq!(paths(&chart) - without, 2);
}

/// Lightness L* (CIE 1976) of a colour.
fn lightness(colour: style::Colour) -> f64 {
    116.0 * luminance(colour).cbrt() - 16.0
}

#[test]
fn published_shades_step_evenly_in_lightness() {
    // CIE 1976 L*, formula from memory; equal steps of it look about equal.
    let steps: Vec<f64> = SHADES
        .windows(2)
        .map(|pair| lightness(pair[0]) - lightness(pair[1]))
        .collect();
    for step in &steps {
        assert!((8.0..=10.5).contains(step), "{steps:?}");
    }
    // Between the stops as well every part is darker than the one before.
    let greys: Vec<f64> = (0..=100)
        .map(|part| luminance(shade_of(f64::from(part) / 100.0)))
        .collect();
    assert!(greys.windows(2).all(|pair| pair[0] >= pair[1]));
    assert!(greys[0] > greys[100]);
}

#[test]
fn published_numbers_on_shades_keep_a_contrast() {
    for part in 0..=100 {
        let part = f64::from(part) / 100.0;
        let letters = luminance(style::letters_on(part));
        let shade = luminance(shade_of(part));
        let contrast = (letters.max(shade) + 0.05) / (letters.min(shade) + 0.05);
        // WCAG 2.1, criterion 1.4.3, asks for 4.5 of text of this size.
        assert!(contrast >= 4.5, "{part}: {contrast}");
    }
}

#[test]
fn practice_choices_are_named_and_not_joined() {
    let mut chart = curve();
    chart.series.truncate(1);
    chart.thresholds.clear();
    chart.series[0].points = [0.0, 1.0, 2.0]
        .map(|x| CurvePoint {
            x,
            y: around(5.0 + x, 1.0),
        })
        .to_vec();
    let joined = curve_chart(&chart)
        .unwrap()
        .svg
        .matches("<polyline")
        .count();
    chart.across = Across::Choices(["Towards", "Away", "Coin"].map(str::to_owned).to_vec());
    chart.strokes = true;
    let alone = curve_chart(&chart).unwrap();
    assert_whole(&alone);
    assert_says(&alone, &["Towards", "Away", "Coin"]);
    assert!(joined > 0);
}
