//! Answers turned into charts: titles that state the finding.

mod season;
mod sweep;

pub(super) use season::condition;
pub use season::season_map;
pub use sweep::{Swept, sweep};

use super::charts::{
    self, ChartError, ClearGap, CurvePoint, Estimate, GapChart, GapLine, GapPoint, Half,
    NatalPlace, PlausibleGap, RefugeChart, RefugeSeries, Rendered, Tolerance, YieldChart, style,
};
use super::text::{gap_headline, half_drift_headline, nearest_point, percent};
use super::yield_text::break_even_headline;
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::Measured;
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::{BAND_GRID_M, Band, GapBand};
use crate::study::yields::{YieldAnswer, YieldBand};
use crate::trouble::Trouble;

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

/// Stray share against gap, with the headline of the clear gap.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn gap(answer: &GapAnswer, band: Option<&GapBand>) -> Result<Rendered, Trouble> {
    gap_titled(gap_headline(answer, band), answer, band)
}

/// Stray share against gap for the lesson, whose scenario shows mixing and advises no gap.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn lesson_gap(answer: &GapAnswer) -> Result<Rendered, Trouble> {
    let tolerance = unbroken(&percent(answer.tolerance));
    let title = match answer.clear_crossing() {
        Some(Crossing::At(gap_m)) => format!(
            "Here, from a gap of {gap_m:.1}\u{a0}m on, at most {tolerance} of the late-stage larvae on a patch hatched elsewhere"
        ),
        Some(Crossing::BelowGrid) => format!(
            "Here even nearly touching patches keep strays to {tolerance} of the late-stage larvae"
        ),
        Some(Crossing::NotReached) => format!(
            "Here no gap up to {:.0}\u{a0}m keeps strays to {tolerance} of the late-stage larvae",
            answer.grid_m.last().copied().unwrap_or(0.0)
        ),
        None => "Here too few late-stage larvae are seen to say how far apart the patches must be"
            .to_owned(),
    };
    gap_titled(title, answer, None)
}

fn gap_titled(
    title: String,
    answer: &GapAnswer,
    band: Option<&GapBand>,
) -> Result<Rendered, Trouble> {
    let tolerance = unbroken(&percent(answer.tolerance));
    let clear_gap = match answer.clear_crossing() {
        Some(Crossing::At(gap_m)) => {
            let interval = answer.clear().and_then(|clear| clear.interval);
            ClearGap::Reached {
                gap_m,
                low_m: interval.and_then(|i| i.low),
                high_m: interval.and_then(|i| i.high),
            }
        }
        Some(Crossing::BelowGrid) | None => ClearGap::NotShown,
        Some(Crossing::NotReached) => ClearGap::NotReached {
            largest_gap_m: answer.grid_m.last().copied().unwrap_or(0.0),
        },
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
    let plausible = band.and_then(plausible);
    Ok(charts::gap_chart(&GapChart {
        title,
        note: format!(
            "Clear gap: from it on, at most {tolerance} of the late-stage larvae on a patch hatched elsewhere. Lines and bands: the \
             central numbers, 95 % intervals over {} simulated seasons at each gap.{}",
            answer.seasons,
            if plausible.is_some() {
                " Bracket: clear gap in 90 % of plausible parameter sets."
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
        plausible,
    })?)
}

/// The band that the chart shows; none where every set lies on one side of the gaps tried.
fn plausible(band: &GapBand) -> Option<PlausibleGap> {
    let [low, _, high] = band.percentiles_m?;
    // Zero stands for a clear gap below the smallest gap tried, nothing for one beyond the largest.
    if high == Some(0.0) || low.is_none() {
        return None;
    }
    Some(PlausibleGap {
        low_m: low.filter(|gap_m| *gap_m > 0.0),
        high_m: high,
        tried_m: (BAND_GRID_M[0], BAND_GRID_M[BAND_GRID_M.len() - 1]),
    })
}

/// Counts by half and natal half against refuge share; `chosen` is the scenario's share, whose half drift is told, and
/// `plausible` has the bands of every share.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn refuge(
    points: &[RefugePoint],
    seasons: u64,
    single_patch: bool,
    chosen: f64,
    plausible: Option<&[Vec<Band>]>,
) -> Result<Rendered, Trouble> {
    let title = nearest_point(points, chosen).map_or_else(
        || "Late-stage larvae by where they stand and where they were laid".to_owned(),
        |(index, point)| half_drift_headline(point, plausible.and_then(|bands| bands.get(index))),
    );
    refuge_titled(title, points, seasons, single_patch)
}

/// Counts by half and natal half for the lesson, whose scenario shows mixing and advises no refuge.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn lesson_refuge(points: &[RefugePoint], seasons: u64) -> Result<Rendered, Trouble> {
    let drift = nearest_point(points, 0.5)
        .and_then(|(_, point)| Some((point.share, point.half_drift.value?)));
    let title = drift.map_or_else(
        || "Late-stage larvae by where they stand and where they were laid".to_owned(),
        |(share, drift)| {
            format!(
                "Here, with {:.0}\u{a0}% left as refuge, {} of the late-stage larvae in the refuge half hatched in the cut half",
                100.0 * share,
                unbroken(&percent(drift))
            )
        },
    );
    refuge_titled(title, points, seasons, false)
}

fn refuge_titled(
    title: String,
    points: &[RefugePoint],
    seasons: u64,
    single_patch: bool,
) -> Result<Rendered, Trouble> {
    let series = |standing: Half,
                  laid: NatalPlace,
                  pick: fn(&RefugePoint) -> crate::stats::Estimate| RefugeSeries {
        standing,
        laid,
        points: points
            .iter()
            .map(|point| {
                let mean = pick(point);
                let (refuge, cut) = point.stems;
                let is_there = |half: Half| match half {
                    Half::Refuge => refuge > 0,
                    Half::Cut => cut > 0,
                };
                let laid_somewhere = match laid {
                    NatalPlace::RefugeHalf => is_there(Half::Refuge),
                    NatalPlace::CutHalf => is_there(Half::Cut),
                    NatalPlace::OtherPatch => true,
                };
                charts::RefugePoint {
                    refuge_share: point.share,
                    larvae: (is_there(standing) && laid_somewhere).then_some(Estimate {
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
            "Half drift: of the late-stage larvae standing in the refuge half, the share laid in the cut half. Lines and bands: the \
             central numbers, 95 % intervals of the mean over {seasons} simulated seasons at each refuge share."
        ),
        count_label: "Late-stage larvae present per season, all surveys together".to_owned(),
        series: all,
    })?)
}

/// Net yield against attraction. In a single patch the cut half is compared with the refuge half.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn yields(
    answer: &YieldAnswer,
    single_patch: bool,
    band: Option<&YieldBand>,
) -> Result<Rendered, Trouble> {
    let interval = answer.break_even.interval;
    let break_even = match answer.break_even.crossing {
        Some(Crossing::At(value)) => Some(charts::Crossing {
            value,
            low: interval.and_then(|i| i.low),
            high: interval.and_then(|i| i.high),
            name: "break-even, central numbers".to_owned(),
        }),
        Some(Crossing::BelowGrid | Crossing::NotReached) | None => None,
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
        title: break_even_headline(answer, band),
        note: format!(
            "Break-even: from this attraction on cutting does no net harm. Line and band: the central numbers, 95 % interval over \
             {} simulated seasons at each attraction ratio.",
            answer.seasons
        ),
        compared: if single_patch {
            "cut half over refuge half"
        } else {
            "treated over untouched patch"
        }
        .to_owned(),
        points,
        break_even,
    })?)
}
