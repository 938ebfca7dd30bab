//! Tables of the calendar.

use super::super::tables::{Described, Sheet, cell, column};
use super::after;
use crate::scenario::STAGE_NAMES;
use crate::study::calendar::{CalendarAnswer, Part};
use crate::study::measures::Measured;
use crate::trouble::Outcome;

/// What stands on the stems, day by day.
pub const DAYS: Described = Described {
    file: "calendar.csv",
    row: "a stage on a part of the site on a day after cutting",
    columns: &[
        column("day", "days", "days after cutting, at the hour of cutting"),
        column("date", "date", "its date"),
        column("part", "text", "cut, refuge or untouched"),
        column("stage", "text", "egg or L1 to L5"),
        column(
            "per_100_stems",
            "per 100 stems",
            "standing there, mean over sites",
        ),
        column("low", "per 100 stems", "5 % of sites are below"),
        column("high", "per 100 stems", "95 % of sites are below"),
        column(
            "laid_there_after_cutting",
            "per 100 stems",
            "of those, laid on cut stems after cutting; empty on other parts",
        ),
        column(
            "regrown_share",
            "share",
            "share of the cut stems that have turned fresh by then, mean over sites",
        ),
    ],
};

/// How far eggs get by degree-days.
pub const EGGS: Described = Described {
    file: "egg-days.csv",
    row: "an egg laid on a day after cutting, in a larva of mean rate; a stage without a date lies beyond the season followed",
    columns: &[
        column(
            "laid_day",
            "days",
            "days after cutting, at the hour of cutting",
        ),
        column("laid", "date", "its date"),
        column("l1", "date", "L1 begins"),
        column("l2", "date", "L2 begins"),
        column("l3", "date", "L3 begins"),
        column("l4", "date", "L4 begins"),
        column("l5", "date", "L5 begins"),
        column(
            "leaves_to_pupate",
            "date",
            "the larva leaves its stem to pupate",
        ),
        column("pupates", "date", "it pupates"),
    ],
};

/// Cutting dates compared.
pub const CUTTINGS: Described = Described {
    file: "cutting-dates.csv",
    row: "a cutting date; intervals are 95 % by bootstrap over seasons",
    columns: &[
        column("cutting", "date", "cutting date"),
        column(
            "late_cut",
            "per 100 stems",
            "late-stage larvae on cut stems, all surveys of a season together, mean over sites",
        ),
        column("late_cut_low", "per 100 stems", "lower end of its interval"),
        column(
            "late_cut_high",
            "per 100 stems",
            "upper end of its interval",
        ),
        column(
            "late_beside",
            "per 100 stems",
            "the same on the untouched patch, or the refuge half of a single patch; empty if there is neither",
        ),
        column(
            "late_beside_low",
            "per 100 stems",
            "lower end of its interval",
        ),
        column(
            "late_beside_high",
            "per 100 stems",
            "upper end of its interval",
        ),
        column(
            "observed_ratio",
            "ratio",
            "late-stage larvae per stem, treated over untouched; empty if undefined",
        ),
        column("observed_ratio_low", "ratio", "lower end of its interval"),
        column("observed_ratio_high", "ratio", "upper end of its interval"),
        column(
            "net_yield",
            "ratio",
            "larvae that pupate per stem, treated over untouched; empty if undefined",
        ),
        column("net_yield_low", "ratio", "lower end of its interval"),
        column("net_yield_high", "ratio", "upper end of its interval"),
        column(
            "late_to_best",
            "ratio",
            "late_cut over that of the date with the most, same seasons",
        ),
        column("late_to_best_low", "ratio", "lower end of its interval"),
        column("late_to_best_high", "ratio", "upper end of its interval"),
        column(
            "yield_to_best",
            "ratio",
            "net yield over that of the date with the highest, same seasons",
        ),
        column("yield_to_best_low", "ratio", "lower end of its interval"),
        column("yield_to_best_high", "ratio", "upper end of its interval"),
        column(
            "pupated_before_decline",
            "share",
            "share of the larvae of its round that pupates before the decline, by degree-days; empty if not known",
        ),
        column("seasons", "count", "seasons simulated"),
    ],
};

/// The day series as a table.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn days(answer: &CalendarAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = DAYS.sheet()?;
    let series = &answer.days;
    for (day, date) in series.dates.iter().enumerate() {
        for part in &series.parts {
            for (stage, name) in STAGE_NAMES.iter().enumerate() {
                let present = part.present[day][stage];
                let own = (part.part == Part::Cut).then(|| series.own[day][stage]);
                sheet.row(&[
                    day.to_string(),
                    date.to_string(),
                    part.part.word().to_owned(),
                    (*name).to_owned(),
                    present.mean.to_string(),
                    present.low.to_string(),
                    present.high.to_string(),
                    cell(own),
                    series.regrown[day].mean.to_string(),
                ])?;
            }
        }
    }
    sheet.bytes()
}

/// Eggs by day of laying as a table.
///
/// # Errors
/// As [`days`].
pub fn eggs(answer: &CalendarAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = EGGS.sheet()?;
    for egg in &answer.eggs {
        let date = |day: f64| after(answer.cutting, day).to_string();
        let mut cells = vec![egg.day.to_string(), date(egg.day as f64)];
        cells.extend(
            egg.begins
                .iter()
                .map(|begins| begins.map_or_else(String::new, date)),
        );
        sheet.row(&cells)?;
    }
    sheet.bytes()
}

/// Cutting dates as a table.
///
/// # Errors
/// As [`days`].
pub fn cuttings(answer: &CalendarAnswer) -> Outcome<Vec<u8>> {
    let mut sheet: Sheet = CUTTINGS.sheet()?;
    for date in &answer.dates {
        let none = Measured {
            value: None,
            interval: None,
        };
        let measures = [
            date.late_cut,
            date.late_beside.unwrap_or(none),
            date.observed_ratio,
            date.net_yield,
            date.late_to_best,
            date.yield_to_best,
        ];
        let mut cells = vec![date.cutting.to_string()];
        for measure in measures {
            cells.push(cell(measure.value));
            cells.push(cell(measure.interval.map(|interval| interval.0)));
            cells.push(cell(measure.interval.map(|interval| interval.1)));
        }
        cells.push(cell(
            answer.rounds.of(date.cutting).map(|round| round.in_time),
        ));
        cells.push(answer.seasons.to_string());
        sheet.row(&cells)?;
    }
    sheet.bytes()
}
