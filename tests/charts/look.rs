//! Writes every chart to a folder, for a person to look at.

use crawlspan::output::charts::*;

use super::data::{curve, gap, gap_not_reached, map, net_yield, refuge};

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
    let mut edge = gap();
    edge.clear_gap = ClearGap::Reached {
        gap_m: 38.0,
        low_m: Some(30.0),
        high_m: None,
    };
    edge.plausible = Some(PlausibleGap {
        low_m: None,
        high_m: Some(3.0),
        tried_m: (0.5, 36.0),
    });
    let mut long = map(60, 24);
    for (patch, group) in long.patches.iter_mut().zip(&mut long.groups) {
        patch.label = "a patch with a very long name that goes on and on".to_owned();
        group.label = format!("laid in {} and then on and on, without end", patch.label);
    }
    let mut wide = curve();
    wide.upward = Upward::Numbers;
    for series in &mut wide.series {
        for point in &mut series.points {
            point.y = point.y.map(|y| Estimate {
                value: y.value * 1e7 - 3e8,
                low: y.low * 1e7 - 3e8,
                high: y.high * 1e7 - 3e8,
            });
        }
        series.points.remove(5);
    }
    let crossing = |value, name: &str| Crossing {
        value,
        low: Some(value - 4.0),
        high: Some(value + 5.0),
        name: name.to_owned(),
    };
    wide.crossings = vec![
        crossing(20.0, "first crossing"),
        crossing(24.0, "second crossing"),
    ];
    let charts = [
        ("gap", gap_chart(&gap())),
        ("gap_edge", gap_chart(&edge)),
        ("map_long", season_map(&long)),
        ("curve_wide", curve_chart(&wide)),
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
