//! Sites by gap and size with their verdicts.

use crate::output::charts::{
    ChartError, Limit, Rendered, ScatterChart, ScatterGroup, ScatterPoint, scatter_chart, style,
};
use crate::study::screen::ScreenAnswer;
use crate::study::screen::verdict::Use;

/// The summary chart.
///
/// # Errors
/// When it cannot be drawn.
pub fn chart(answer: &ScreenAnswer) -> Result<Rendered, ChartError> {
    let groups = [
        (Use::Pair, "pair", style::FIT_PAIR),
        (Use::OnePatch, "one patch, by halves", style::FIT_ONE_PATCH),
        (Use::Unsuitable, "not suitable", style::FIT_NOTHING),
    ]
    .map(|(site_use, name, mark)| {
        let points: Vec<ScatterPoint> = answer
            .sites
            .iter()
            .enumerate()
            .filter(|(_, screened)| screened.verdict.site_use == site_use)
            .map(|(index, screened)| ScatterPoint {
                x: answer.grounds.sites[index].gap_m,
                y: screened
                    .patches
                    .iter()
                    .map(|facts| facts.stems)
                    .fold(f64::INFINITY, f64::min),
            })
            .collect();
        ScatterGroup {
            name: format!("{} {name}", points.len()),
            mark,
            points,
        }
    });
    let pairs = groups[0].points.len();
    let singles = groups[1].points.len();
    scatter_chart(&ScatterChart {
        title: format!(
            "Of {} sites offered, {pairs} can serve as pairs and {singles} as one patch",
            answer.sites.len()
        ),
        note: format!(
            "Each mark is a site. Neither gap nor stems decide alone: strays also depend on sizes, densities and covers, and a site may \
             lack permission. Largest stray share {:.0} %, largest false ratio {}, at least {} late-stage larvae a season.",
            100.0 * answer.thresholds.stray_share,
            answer.thresholds.false_ratio,
            answer.thresholds.late_counted
        ),
        x_label: "Gap from edge to edge (m)".to_owned(),
        y_label: "Stems of the smaller patch (number)".to_owned(),
        nowhere: "one patch".to_owned(),
        groups: groups.to_vec(),
        limit: Some(Limit {
            value: answer.thresholds.stems,
            name: format!("least {} stems", answer.thresholds.stems),
        }),
    })
}
