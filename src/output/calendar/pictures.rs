//! Charts of the calendar.

use super::super::charts::{
    self, Across, CurveChart, CurvePoint, CurveSeries, DaysChart, DaysStrip, Estimate, Rendered,
    Threshold, Upward, style,
};
use super::dates::{finding, yield_finding};
use super::text::weeks_words;
use super::{day, part_words, short_day};
use crate::scenario::{STAGE_NAMES, STAGES};
use crate::study::calendar::{CalendarAnswer, CuttingDate, Part, Spread};
use crate::study::measures::Measured;
use crate::trouble::Trouble;

/// Days between the dates that are named.
const NAMED_DAYS: usize = 14;

fn mark(part: Part) -> style::Mark {
    match part {
        Part::Cut => style::CUT_HALF,
        Part::Refuge => style::REFUGE_HALF,
        Part::Untouched => style::UNTOUCHED,
    }
}

fn series(name: &str, mark: style::Mark, spreads: impl Iterator<Item = Spread>) -> CurveSeries {
    CurveSeries {
        name: name.to_owned(),
        mark,
        points: spreads
            .enumerate()
            .map(|(day, spread)| CurvePoint {
                x: day as f64,
                y: Some(Estimate {
                    value: spread.mean,
                    low: spread.low,
                    high: spread.high,
                }),
            })
            .collect(),
    }
}

/// Regrowth and stages day by day.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn days(answer: &CalendarAnswer) -> Result<Rendered, Trouble> {
    let days = &answer.days;
    let regrown = days.regrown.iter().map(|share| Spread {
        mean: 100.0 * share.mean,
        low: 100.0 * share.low,
        high: 100.0 * share.high,
    });
    let mut strips = vec![DaysStrip {
        name: "Cut stems grown again (%)".to_owned(),
        series: vec![series(part_words(Part::Cut), mark(Part::Cut), regrown)],
    }];
    for stage in 0..STAGES {
        let name = if stage == 0 {
            "Eggs"
        } else {
            STAGE_NAMES[stage]
        };
        let of_part = |part: &crate::study::calendar::PartDays| {
            let spreads = part.present.iter().map(|row| row[stage]);
            series(part_words(part.part), mark(part.part), spreads)
        };
        // With both a refuge and an untouched patch three bands would hide each other.
        let shown = days
            .parts
            .iter()
            .filter(|part| part.part != Part::Refuge || days.part(Part::Untouched).is_none());
        strips.push(DaysStrip {
            name: format!("{name} (per 100 stems)"),
            series: shown.map(of_part).collect(),
        });
    }
    let last = days.dates.len().saturating_sub(1);
    let named = days.dates.iter().enumerate().step_by(NAMED_DAYS);
    Ok(charts::days_chart(&DaysChart {
        title: weeks_words(answer),
        note: format!(
            "{} simulated sites, cut on {}; lines are means over sites, bands hold 90 % of sites. Larvae and eggs standing on stems, \
             found or not.",
            answer.seasons,
            day(answer.cutting)
        ),
        x_label: "Date".to_owned(),
        dates: named
            .map(|(day, date)| (day as f64, short_day(*date)))
            .collect(),
        days: (0.0, last as f64),
        shaded: answer.weeks.run.map(|(from, to)| {
            // A week's count stands in the middle of its week.
            const HALF_WEEK: f64 = 3.5;
            let span = (7.0 * from as f64 - HALF_WEEK, 7.0 * to as f64 + HALF_WEEK);
            (
                (span.0.max(0.0), span.1.min(last as f64)),
                "weeks to count".to_owned(),
            )
        }),
        strips,
    })?)
}

fn points(
    dates: &[CuttingDate],
    measure: impl Fn(&CuttingDate) -> Option<Measured>,
) -> Vec<CurvePoint> {
    let estimate = |measured: Measured| {
        let (low, high) = measured.interval.unwrap_or((f64::NAN, f64::NAN));
        Some(Estimate {
            value: measured.value?,
            low,
            high,
        })
    };
    dates
        .iter()
        .enumerate()
        .map(|(index, date)| CurvePoint {
            x: index as f64,
            y: measure(date).and_then(estimate),
        })
        .collect()
}

fn choices(answer: &CalendarAnswer) -> Across {
    Across::Choices(
        answer
            .dates
            .iter()
            .map(|date| short_day(date.cutting))
            .collect(),
    )
}

fn note(answer: &CalendarAnswer) -> String {
    format!(
        "{} seasons at each date, the same sites at all. Strokes: 95 % intervals over seasons. Surveys keep their distance from cutting.",
        answer.seasons
    )
}

/// Late-stage counts against the cutting date.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn cuttings(answer: &CalendarAnswer) -> Result<Rendered, Trouble> {
    let beside = if answer.days.part(Part::Untouched).is_some() {
        Part::Untouched
    } else {
        Part::Refuge
    };
    let mut all = vec![CurveSeries {
        name: part_words(Part::Cut).to_owned(),
        mark: mark(Part::Cut),
        points: points(&answer.dates, |date| Some(date.late_cut)),
    }];
    if answer.dates.iter().any(|date| date.late_beside.is_some()) {
        all.push(CurveSeries {
            name: part_words(beside).to_owned(),
            mark: mark(beside),
            points: points(&answer.dates, |date| date.late_beside),
        });
    }
    Ok(charts::curve_chart(&CurveChart {
        title: finding(answer),
        note: note(answer),
        x_label: "Cutting date".to_owned(),
        y_label: "Late-stage larvae at all surveys together (per 100 stems)".to_owned(),
        series: all,
        thresholds: Vec::new(),
        crossings: Vec::new(),
        across: choices(answer),
        upward: Upward::Amounts,
        strokes: true,
    })?)
}

/// Net yield against the cutting date.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn yields(answer: &CalendarAnswer) -> Result<Rendered, Trouble> {
    Ok(charts::curve_chart(&CurveChart {
        title: yield_finding(answer),
        note: note(answer),
        x_label: "Cutting date".to_owned(),
        y_label: "Net yield (larvae pupating per stem, treated over untouched)".to_owned(),
        series: vec![CurveSeries {
            name: "net yield".to_owned(),
            mark: style::COMPARISON,
            points: points(&answer.dates, |date| Some(date.net_yield)),
        }],
        thresholds: vec![Threshold {
            value: 1.0,
            name: "as many as without cutting".to_owned(),
        }],
        crossings: Vec::new(),
        across: choices(answer),
        upward: Upward::Amounts,
        strokes: true,
    })?)
}
