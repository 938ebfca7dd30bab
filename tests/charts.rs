//! Charts: what a reader must find in them, and data that must not break them.

mod charts_data;

use charts_data::{curve, gap, gap_not_reached, map, net_yield, refuge};
use crawlspan::output::charts::*;

#[test]
#[ignore = "writes the charts to a folder, for a person to look at"]
fn practice_charts_can_be_looked_at() {
    let folder = std::env::var_os("CRAWLSPAN_CHARTS").map_or_else(
        || std::env::temp_dir().join("crawlspan-charts"),
        std::path::PathBuf::from,
    );
    std::fs::create_dir_all(&folder).unwrap();
    let charts = [
        ("gap", gap_chart(&gap())),
        ("gap_not_reached", gap_chart(&gap_not_reached())),
        ("refuge", refuge_chart(&refuge())),
        ("map_small", season_map(&map(60, 24))),
        ("map_full", season_map(&map(300, 200))),
        ("curve", curve_chart(&curve())),
        ("yield", yield_chart(&net_yield())),
    ];
    for (name, chart) in charts {
        let chart = chart.unwrap();
        std::fs::write(folder.join(format!("{name}.svg")), chart.svg).unwrap();
        std::fs::write(folder.join(format!("{name}.png")), chart.png).unwrap();
    }
    println!("charts are in {}", folder.display());
}
