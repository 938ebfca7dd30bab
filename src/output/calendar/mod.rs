//! The calendar of a study: tables, charts, words and page.

mod dates;
pub mod pictures;
pub mod tables;
pub mod text;

use crate::study::calendar::Part;
use jiff::ToSpan;
use jiff::civil::Date;

/// A date as on a wall calendar.
fn day(date: Date) -> String {
    date.strftime("%a %-d %b %Y").to_string()
}

/// A date in brief, which no line breaks.
fn short_day(date: Date) -> String {
    date.strftime("%-d\u{a0}%b").to_string()
}

/// The date a number of days after another; the day in which the moment falls.
fn after(cutting: Date, days: f64) -> Date {
    cutting
        .checked_add((days.floor() as i64).days())
        .unwrap_or(cutting)
}

/// A part in words.
fn part_words(part: Part) -> &'static str {
    match part {
        Part::Cut => "cut stems",
        Part::Refuge => "refuge half",
        Part::Untouched => "untouched patch",
    }
}
