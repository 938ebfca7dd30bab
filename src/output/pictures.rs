//! Answers turned into charts: titles that state the finding.

use super::charts::{
    self, Bounds, ChartError, ClearGap, CurvePoint, Estimate, GapChart, GapLine, GapPoint, Half,
    MapStem, NatalPlace, PatchOutline, RefugeChart, RefugeSeries, Rendered, SeasonMap,
    StemCondition, Tolerance, Walk, WalkEnd, WalkGroup, YieldChart, style,
};
use super::text::percent;
use crate::plan::Plan;
use crate::season::Season;
use crate::season::record::{RecordedWalk, Recorder};
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::Measured;
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::GapBand;
use crate::study::yields::YieldAnswer;
use crate::trouble::Trouble;
use crate::walk::End;
use crate::world::Condition;

/// A chart could not be drawn.
impl From<ChartError> for Trouble {
    fn from(fault: ChartError) -> Self {
        Self::new(format!("a chart cannot be drawn: {fault}"))
    }
}

fn estimate(measured: &Measured) -> Option<Estimate> {
    let value = measured.value?;
    let (low, high) = measured.interval.unwrap_or((value, value));
    Some(Estimate {
        value,
        low: low.min(value),
        high: high.max(value),
    })
}

/// Keeps a number and its unit on one line.
fn unbroken(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// Stray share against gap.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn gap(answer: &GapAnswer, band: Option<&GapBand>) -> Result<Rendered, Trouble> {
    let tolerance = unbroken(&percent(answer.tolerance));
    let (title, clear_gap) = match answer.clear().crossing {
        Crossing::At(gap_m) => {
            let interval = answer.clear().interval;
            let clear = ClearGap::Reached {
                gap_m,
                low_m: interval.and_then(|i| i.low),
                high_m: interval.and_then(|i| i.high),
            };
            (
                format!(
                    "From a gap of {gap_m:.1}\u{a0}m on, at most {tolerance} of the late-stage larvae on a patch hatched elsewhere"
                ),
                clear,
            )
        }
        Crossing::BelowGrid => (
            format!(
                "Even nearly touching patches keep strays to {tolerance} of the late-stage larvae"
            ),
            ClearGap::NotShown,
        ),
        Crossing::NotReached => {
            let largest_gap_m = answer.grid_m.last().copied().unwrap_or(0.0);
            (
                format!(
                    "No gap up to {largest_gap_m:.0}\u{a0}m keeps strays to {tolerance} of the late-stage larvae"
                ),
                ClearGap::NotReached { largest_gap_m },
            )
        }
    };
    let marks = [style::TREATED, style::UNTOUCHED];
    let lines = answer
        .curves
        .iter()
        .zip(marks)
        .map(|(curve, mark)| GapLine {
            name: format!("{} patch", curve.patch),
            mark,
            points: answer
                .grid_m
                .iter()
                .zip(&curve.shares)
                .map(|(gap_m, share)| GapPoint {
                    gap_m: *gap_m,
                    share: estimate(share),
                })
                .collect(),
        })
        .collect();
    let plausible_m = band.and_then(|band| Some((band.percentiles_m[0]?, band.percentiles_m[2]?)));
    Ok(charts::gap_chart(&GapChart {
        title,
        note: format!(
            "Bands: 95 % intervals over {} simulated seasons at each gap.{}",
            answer.seasons,
            if plausible_m.is_some() {
                " Bracket: clear gap over 90 % of plausible parameter sets."
            } else {
                ""
            }
        ),
        share_label: "Stray share: late-stage larvae laid elsewhere".to_owned(),
        lines,
        tolerance: Some(Tolerance {
            share: answer.tolerance,
            name: format!("tolerance {tolerance}"),
        }),
        clear_gap,
        plausible_m,
    })?)
}

/// Counts by half and natal half against refuge share.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn refuge(
    points: &[RefugePoint],
    seasons: u64,
    single_patch: bool,
) -> Result<Rendered, Trouble> {
    let worst = points
        .iter()
        .filter_map(|point| Some((point.share, point.half_drift.value?)));
    let middle = worst.min_by(|a, b| (a.0 - 0.5).abs().total_cmp(&(b.0 - 0.5).abs()));
    let title = middle.map_or_else(
        || "Late-stage larvae by where they stand and where they were laid".to_owned(),
        |(share, drift)| {
            format!(
                "With {:.0}\u{a0}% left as refuge, {} of the late-stage larvae in the refuge half hatched in the cut half",
                100.0 * share,
                unbroken(&percent(drift))
            )
        },
    );
    let series = |standing: Half,
                  laid: NatalPlace,
                  pick: fn(&RefugePoint) -> crate::stats::Estimate| RefugeSeries {
        standing,
        laid,
        points: points
            .iter()
            .map(|point| {
                let mean = pick(point);
                charts::RefugePoint {
                    refuge_share: point.share,
                    larvae: Some(Estimate {
                        value: mean.value,
                        low: mean.low.max(0.0),
                        high: mean.high,
                    }),
                }
            })
            .collect(),
    };
    let mut all = vec![
        series(Half::Refuge, NatalPlace::RefugeHalf, |point| {
            point.on_refuge[0]
        }),
        series(Half::Refuge, NatalPlace::CutHalf, |point| {
            point.on_refuge[1]
        }),
        series(Half::Cut, NatalPlace::CutHalf, |point| point.on_cut[0]),
        series(Half::Cut, NatalPlace::RefugeHalf, |point| point.on_cut[1]),
    ];
    if !single_patch {
        all.push(series(Half::Refuge, NatalPlace::OtherPatch, |point| {
            point.on_refuge[2]
        }));
        all.push(series(Half::Cut, NatalPlace::OtherPatch, |point| {
            point.on_cut[2]
        }));
    }
    Ok(charts::refuge_chart(&RefugeChart {
        title,
        note: format!(
            "Bands: 95 % intervals of the mean over {seasons} simulated seasons at each refuge share."
        ),
        count_label: "Late-stage larvae present per season, all surveys together".to_owned(),
        series: all,
    })?)
}

/// Net yield against attraction.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn yields(answer: &YieldAnswer) -> Result<Rendered, Trouble> {
    let interval = answer.break_even.interval;
    let (title, break_even) = match answer.break_even.crossing {
        Crossing::At(value) => (
            format!(
                "Cutting does no net harm once fresh stems draw {value:.1} times the eggs of mature stems at their peak"
            ),
            Some(charts::Crossing {
                value,
                low: interval.and_then(|i| i.low),
                high: interval.and_then(|i| i.high),
                name: "break-even".to_owned(),
            }),
        ),
        Crossing::BelowGrid => (
            "Cutting does no net harm at any attraction tried".to_owned(),
            None,
        ),
        Crossing::NotReached => (
            "Cutting does net harm at every attraction tried".to_owned(),
            None,
        ),
    };
    let points = answer
        .attractions
        .iter()
        .zip(&answer.yields)
        .map(|(x, y)| CurvePoint {
            x: *x,
            y: estimate(y),
        })
        .collect();
    Ok(charts::yield_chart(&YieldChart {
        title,
        note: format!(
            "Band: 95 % interval over {} simulated seasons at each attraction ratio.",
            answer.seasons
        ),
        points,
        break_even,
    })?)
}

/// Map of one season: stems as they are at one survey, walks of late larvae up to the end.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn season_map(
    season: &Season<'_>,
    recorder: &Recorder,
    replicate: u64,
) -> Result<Rendered, Trouble> {
    let plan = season.plan;
    let middle = plan
        .clock
        .surveys
        .get(plan.clock.surveys.len() / 2)
        .copied()
        .unwrap_or(plan.clock.cutting);
    let home = |larva: u32| {
        season.stems[season.larvae[larva as usize].natal as usize]
            .half
            .patch()
    };
    // Walks cut short by pupation or by the end of the season have no end to draw.
    let late: Vec<&RecordedWalk> = recorder
        .walks
        .iter()
        .filter(|walk| plan.scenario.is_late(walk.stage) && walk.end != End::Walking)
        .collect();
    let strays = late
        .iter()
        .filter(|walk| matches!(walk.end, End::Settled(stem) if season.stems[stem as usize].half.patch() != home(walk.larva)))
        .count();
    let walks = late
        .iter()
        .map(|walk| Walk {
            points_m: walk.points_m.clone(),
            group: home(walk.larva).min(GROUPS - 1),
            end: match walk.end {
                End::Settled(_) | End::Walking => WalkEnd::OnStem,
                End::Died => WalkEnd::DiedOffPlant,
                End::Lost => WalkEnd::Lost,
            },
        })
        .collect();
    let (width, height) = plan.layout.arena_m;
    Ok(charts::season_map(&SeasonMap {
        title: format!(
            "{} walks of late-stage larvae in one season; {strays} ended on another patch than the larva's own",
            late.len()
        ),
        note: format!(
            "Replicate {replicate}. Stems as they stand on {}; walks of the whole season.",
            plan.clock.date(middle)
        ),
        arena: Bounds {
            min_x_m: 0.0,
            min_y_m: 0.0,
            max_x_m: width,
            max_y_m: height,
        },
        view: None,
        patches: outlines(plan),
        stems: season
            .stems
            .iter()
            .map(|stem| MapStem {
                x_m: stem.x_m,
                y_m: stem.y_m,
                condition: condition(stem.condition_at(middle, plan.clock.cutting)),
            })
            .collect(),
        groups: groups(plan),
        walks,
    })?)
}

/// Patches that get a colour of their own on the map; the rest share the last.
const GROUPS: usize = 3;

fn marks() -> [style::Mark; GROUPS] {
    [style::TREATED, style::UNTOUCHED, style::OTHER_PATCH]
}

fn groups(plan: &Plan) -> Vec<WalkGroup> {
    plan.layout
        .patches
        .iter()
        .zip(marks())
        .map(|(patch, mark)| WalkGroup {
            label: format!("laid in the {} patch", patch.settings.name),
            mark,
        })
        .collect()
}

fn outlines(plan: &Plan) -> Vec<PatchOutline> {
    let marks = marks();
    plan.layout
        .patches
        .iter()
        .enumerate()
        .map(|(index, patch)| PatchOutline {
            label: format!("{} patch", patch.settings.name),
            mark: marks[index.min(GROUPS - 1)],
            corners_m: patch
                .shape
                .corners()
                .iter()
                .map(|c| (c.0 + patch.origin_m.0, c.1 + patch.origin_m.1))
                .collect(),
        })
        .collect()
}

pub(super) fn condition(condition: Condition) -> StemCondition {
    match condition {
        Condition::Mature => StemCondition::Mature,
        Condition::Stubble => StemCondition::Stubble,
        Condition::Fresh => StemCondition::Fresh,
        Condition::EatenOut => StemCondition::EatenOut,
    }
}
