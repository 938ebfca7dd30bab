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
use super::text::percent;
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::Measured;
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::{BAND_GRID_M, GapBand};
use crate::study::yields::YieldAnswer;
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

/// Stray share against gap.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn gap(answer: &GapAnswer, band: Option<&GapBand>) -> Result<Rendered, Trouble> {
    let tolerance = unbroken(&percent(answer.tolerance));
    let (title, clear_gap) = match answer.clear_crossing() {
        Some(Crossing::At(gap_m)) => {
            let interval = answer.clear().and_then(|clear| clear.interval);
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
        None => (
            "Too few late-stage larvae to say how far apart the patches must be".to_owned(),
            ClearGap::NotShown,
        ),
        Some(Crossing::BelowGrid) => (
            format!(
                "Even nearly touching patches keep strays to {tolerance} of the late-stage larvae"
            ),
            ClearGap::NotShown,
        ),
        Some(Crossing::NotReached) => {
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
    let plausible = band.and_then(plausible);
    Ok(charts::gap_chart(&GapChart {
        title,
        note: format!(
            "Bands: 95 % intervals over {} simulated seasons at each gap.{}",
            answer.seasons,
            if plausible.is_some() {
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
            "Bands: 95 % intervals of the mean over {seasons} simulated seasons at each refuge share."
        ),
        count_label: "Late-stage larvae present per season, all surveys together".to_owned(),
        series: all,
    })?)
}

/// Net yield against attraction. In a single patch the cut half is compared with the refuge half.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn yields(answer: &YieldAnswer, single_patch: bool) -> Result<Rendered, Trouble> {
    let interval = answer.break_even.interval;
    let (title, break_even) = match answer.break_even.crossing {
        Some(Crossing::At(value)) => (
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
        Some(Crossing::BelowGrid) => (
            "Cutting does no net harm at any attraction tried".to_owned(),
            None,
        ),
        Some(Crossing::NotReached) => (
            "Cutting does net harm at every attraction tried".to_owned(),
            None,
        ),
        None => (
            "Too few larvae reached pupation to say whether cutting does net good".to_owned(),
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
