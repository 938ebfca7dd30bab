//! Sites by gap and size with their verdicts.

use crate::output::charts::{
    ChartError, Limit, Rendered, ScatterChart, ScatterGroup, ScatterPoint, scatter_chart, style,
};
use crate::study::screen::ScreenAnswer;
use crate::study::screen::verdict::{Use, Verdict};

/// The summary chart.
///
/// # Errors
/// When it cannot be drawn.
pub fn chart(answer: &ScreenAnswer) -> Result<Rendered, ChartError> {
    let look = |verdict: &Verdict| match (verdict.site_use, verdict.if_permitted) {
        (Use::Pair, _) => 0,
        (Use::OnePatch, _) => 1,
        (Use::Unsuitable, Use::Pair | Use::OnePatch) => 2,
        (Use::Unsuitable, Use::Unsuitable) => 3,
    };
    let groups = [
        ("as pairs", style::FIT_PAIR),
        ("as one patch, by halves", style::FIT_ONE_PATCH),
        ("wait for permission", style::FIT_WAITING),
        ("not suitable", style::FIT_NOTHING),
    ];
    let groups: Vec<ScatterGroup> = groups
        .into_iter()
        .enumerate()
        .map(|(group, (name, mark))| {
            let of_group = |site: &usize| look(&answer.sites[*site].verdict) == group;
            let points: Vec<ScatterPoint> = (0..answer.sites.len())
                .filter(of_group)
                .map(|site| point(answer, site))
                .collect();
            ScatterGroup {
                name: format!("{} {name}", points.len()),
                mark,
                points,
            }
        })
        .collect();
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
        groups,
        limit: Some(Limit {
            value: answer.thresholds.stems,
            name: format!("least {} stems", answer.thresholds.stems),
        }),
    })
}

fn point(answer: &ScreenAnswer, site: usize) -> ScatterPoint {
    let stems = answer.sites[site].patches.iter().map(|facts| facts.stems);
    ScatterPoint {
        x: answer.grounds.sites[site].gap_m,
        y: stems.fold(f64::INFINITY, f64::min),
    }
}
