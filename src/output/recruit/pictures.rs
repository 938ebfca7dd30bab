//! Charts of the recruitment answer: titles that state the finding.

use super::super::charts::{
    self, Across, CurveChart, CurvePoint, CurveSeries, ForestChart, ForestRow, Rendered, Threshold,
    Upward, style,
};
use super::words::{people, siting_price};
use crate::stats::{Crossing, CrossingReport};
use crate::study::recruit::RecruitAnswer;
use crate::study::recruit::band::RecruitBand;
use crate::study::recruit::pool::Comparison;
use crate::study::recruit::power::{POWERS, PowerCurve, TEST_LEVEL};
use crate::trouble::Trouble;

fn points(curve: &PowerCurve) -> Vec<CurvePoint> {
    curve
        .points
        .iter()
        .map(|point| CurvePoint {
            x: point.sites as f64,
            y: Some(charts::Estimate {
                value: point.power.value,
                low: point.with_pool.0,
                high: point.with_pool.1,
            }),
        })
        .collect()
}

fn mark(report: &CrossingReport, name: String) -> Option<charts::Crossing> {
    let Some(Crossing::At(value)) = report.crossing else {
        return None;
    };
    Some(charts::Crossing {
        value: value.ceil(),
        low: report
            .interval
            .and_then(|interval| interval.low)
            .map(f64::ceil),
        high: report
            .interval
            .and_then(|interval| interval.high)
            .map(f64::ceil),
        name,
    })
}

/// Power curves, with the number for the side effect marked and its band in the title.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn power(answer: &RecruitAnswer, band: Option<&RecruitBand>) -> Result<Rendered, Trouble> {
    let chosen = &answer.effects[answer.side];
    let report = chosen.curve(Comparison::Late).map(|curve| curve.needed[0]);
    let title = if answer.side > 0 {
        people(answer, band, &chosen.name, 0)
    } else {
        "Power against the number of people invited: no effect asked for can be reached".to_owned()
    };
    let series = answer
        .effects
        .iter()
        .enumerate()
        .rev()
        .filter_map(|(index, effect)| {
            Some(CurveSeries {
                name: effect.name.clone(),
                mark: index.checked_sub(1).map_or(style::NO_EFFECT, |index| {
                    style::series_mark(index, answer.effects.len() - 1)
                }),
                points: points(effect.curve(Comparison::Late)?),
            })
        })
        .collect();
    let crossings =
        report.and_then(|report| mark(&report, format!("{}, central numbers:", chosen.name)));
    Ok(charts::curve_chart(&CurveChart {
        title,
        note: format!(
            "Curves: the central numbers. Late stage, {} test at the 5 % level, {} simulated studies at each number. Bands: 95 % intervals, size of the pool included. \
             People invited, drop-outs among them.",
            answer.question.estimator, answer.question.studies
        ),
        x_label: "Sites: people invited (number)".to_owned(),
        y_label: "Power: studies that find a difference (%)".to_owned(),
        series,
        thresholds: vec![
            Threshold {
                value: POWERS[0],
                name: "power 80\u{a0}%".to_owned(),
            },
            Threshold {
                value: TEST_LEVEL,
                name: "level of the test 5\u{a0}%".to_owned(),
            },
        ],
        crossings: crossings.into_iter().collect(),
        across: Across::Numbers,
        upward: Upward::Shares,
        strokes: false,
    })?)
}

/// Sites needed against the gap of the pairs.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn siting(answer: &RecruitAnswer, least_gap_m: f64) -> Result<Rendered, Trouble> {
    let series = [(0, "80 % power"), (1, "90 % power")].map(|(power, name)| CurveSeries {
        name: name.to_owned(),
        mark: style::POWERS[power],
        points: answer
            .siting
            .iter()
            .filter_map(|point| {
                let report = point.needed[power];
                let y = match report.crossing {
                    Some(Crossing::At(sites)) => {
                        // An interval that leaves the sizes tried is open at that end.
                        let (low, high) = report.interval.map_or((f64::NAN, f64::NAN), |i| {
                            (
                                i.low.unwrap_or(f64::NEG_INFINITY),
                                i.high.unwrap_or(f64::INFINITY),
                            )
                        });
                        Some(charts::Estimate {
                            value: sites,
                            low,
                            high,
                        })
                    }
                    Some(Crossing::BelowGrid | Crossing::NotReached) | None => None,
                };
                Some(CurvePoint { x: point.gap_m?, y })
            })
            .collect(),
    });
    let title = siting_price(answer, 1.0, 20.0).map_or_else(
        || "Sites needed against the gap between the patches of a pair".to_owned(),
        |price| {
            format!(
                "Pairs only 1\u{a0}m apart need {price:.2} times the sites of pairs 20\u{a0}m apart"
            )
        },
    );
    let chosen = &answer.effects[answer.side];
    Ok(charts::curve_chart(&CurveChart {
        title,
        note: format!(
            "The central numbers. Effect: {}. {} site-seasons at each gap, the same sites at all gaps, so that neighbouring points move together. \
             Strokes: 95 % intervals.{}",
            chosen.name,
            answer.question.side_seasons(),
            outside(answer)
        ),
        x_label: "Gap of every pair, edge to edge (metres, yards below; square-root axis)"
            .to_owned(),
        y_label: "Sites needed: people to invite (number)".to_owned(),
        series: series.to_vec(),
        thresholds: Vec::new(),
        crossings: vec![charts::Crossing {
            value: least_gap_m,
            low: None,
            high: None,
            name: "siting rule".to_owned(),
        }],
        across: Across::Metres,
        upward: Upward::Amounts,
        strokes: true,
    })?)
}

/// What of the siting chart lies outside the numbers tried, in words.
fn outside(answer: &RecruitAnswer) -> String {
    let gaps = answer.siting.iter().filter(|point| point.gap_m.is_some());
    let reports = || gaps.clone().flat_map(|point| &point.needed);
    let sizes = &answer.question.sizes;
    let (first, last) = (sizes.first().copied(), sizes.last().copied());
    let (first, last) = (first.unwrap_or(0), last.unwrap_or(0));
    let is_open = |report: &&CrossingReport| {
        matches!(report.crossing, Some(Crossing::At(_)))
            && report
                .interval
                .is_some_and(|interval| interval.low.is_none() || interval.high.is_none())
    };
    let mut text = String::new();
    if reports().any(|report| is_open(&report)) {
        text.push_str(&format!(
            " Arrow heads: the interval leaves the numbers tried, {first} to {last}."
        ));
    }
    let missing = reports().filter(|report| !matches!(report.crossing, Some(Crossing::At(_))));
    match missing.count() {
        0 => {}
        1 => text.push_str(" One point lies outside the numbers tried and is not drawn."),
        more => text.push_str(&format!(
            " {more} points lie outside the numbers tried and are not drawn."
        )),
    }
    text
}

/// Most sites drawn in the picture of one study.
const MOST_ROWS: usize = 40;

/// One simulated study, site by site.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn example(answer: &RecruitAnswer) -> Result<Option<Rendered>, Trouble> {
    let Some(example) = &answer.example else {
        return Ok(None);
    };
    let mut rows: Vec<ForestRow> = example
        .sites
        .iter()
        .filter_map(|site| {
            let (low, high) = site.interval?;
            Some(ForestRow {
                label: format!("{} : {}", site.counts.treated, site.counts.untouched),
                ratio: site.ratio?,
                low,
                high,
                weight: site.counts.total(),
            })
        })
        .take(MOST_ROWS)
        .collect();
    rows.sort_by(|a, b| b.ratio.total_cmp(&a.ratio));
    let result = &example.result;
    let pooled = result.estimate.ratio().map(|value| {
        let estimate = charts::Estimate {
            value,
            low: result.interval.lower.unwrap_or(0.0),
            high: result.interval.upper.unwrap_or(f64::INFINITY),
        };
        (estimate, "all sites".to_owned())
    });
    let title = match (result.p_value, result.estimate.ratio()) {
        (Some(p), Some(ratio)) => format!(
            "One simulated study of {} sites: {ratio:.2} times the late-stage larvae per stem on treated patches (p\u{a0}{})",
            result.sites,
            if p < 0.001 {
                "below\u{a0}0.001".to_owned()
            } else {
                format!("=\u{a0}{p:.3}")
            }
        ),
        _ => format!("One simulated study of {} sites", result.sites),
    };
    let hidden = result.informative.saturating_sub(rows.len());
    Ok(Some(charts::forest_chart(&ForestChart {
        title,
        note: format!(
            "{} of {} sites held no late-stage larva and are not drawn{}. Each site: 95 % interval from its two counts alone; rings: one \
             side empty, the ratio lies beyond the edge; arrow heads: the interval does. All sites: {} estimate, 95 %.",
            result.sites - result.informative,
            result.sites,
            if hidden > 0 {
                format!(", nor are {hidden} more")
            } else {
                String::new()
            },
            answer.question.estimator
        ),
        x_label: "Late-stage larvae per stem, treated over untouched (ratio)".to_owned(),
        y_label: "Each row is a site: late-stage larvae counted, treated : untouched".to_owned(),
        rows,
        pooled,
        marked: example
            .home_ratio
            .map(|ratio| (ratio, format!("home ratio {ratio:.2}"))),
    })?))
}
