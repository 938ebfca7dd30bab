//! Walking and leaving fitted to a release: tables, preset, chart and words.

mod columns;
mod preset;
mod text;

pub use columns::{PARTICLES, REHEARSAL, TUNE};
pub use preset::preset;
pub use text::tune as text;

use super::charts::{self, PosteriorChart, PosteriorRow, Rendered};
use super::tables::Sheet;
use crate::life::Clock;
use crate::study::tune::{Release, TuneAnswer, Tuned, when};
use crate::trouble::{Outcome, Trouble};

/// A number with three figures, as people write it.
pub(super) fn figures(value: f64) -> String {
    const FIGURES: i32 = 3;
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let decimals = (FIGURES - 1 - value.abs().log10().floor() as i32).clamp(0, 6);
    format!("{value:.*}", decimals as usize)
}

/// What a release says about a parameter, from the width of its posterior.
pub(super) fn verdict(tuned: &Tuned) -> &'static str {
    /// From this part of the prior's width on, a posterior says next to nothing.
    const AS_WIDE: f64 = 0.8;
    /// Below this part it says much.
    const NARROW: f64 = 0.4;
    match tuned.width() {
        width if width >= AS_WIDE => "the release does not tell",
        width if width >= NARROW => "the release tells a little",
        _ => "the release tells",
    }
}

/// Prior and posterior of every parameter.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn table(answer: &TuneAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = TUNE.sheet()?;
    for tuned in &answer.tuned {
        let parameter = &tuned.parameter;
        let [low, middle, high] = tuned.posterior.map(|value| value.to_string());
        sheet.row(&[
            parameter.path.clone(),
            parameter.unit.to_owned(),
            parameter.range.0.to_string(),
            parameter.range.1.to_string(),
            low,
            middle,
            high,
            tuned.width().to_string(),
            verdict(tuned).to_owned(),
        ])?;
    }
    sheet.bytes()
}

/// The particles of the posterior: one row each, with weight and distance.
///
/// # Errors
/// As [`table`].
pub fn particles(answer: &TuneAnswer) -> Outcome<Vec<u8>> {
    let paths = answer.tuned.iter().map(|t| t.parameter.path.as_str());
    let header: Vec<&str> = ["weight", "distance"].into_iter().chain(paths).collect();
    let mut sheet = Sheet::with_header(&header)?;
    for particle in &answer.particles {
        let values = answer.tuned.iter().zip(&particle.point);
        let mut row = vec![particle.weight.to_string(), particle.distance.to_string()];
        row.extend(values.map(|(tuned, place)| tuned.parameter.at(*place).to_string()));
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// A release as a table that reads back as the same release; `note` goes into a column of its own.
///
/// # Errors
/// As [`table`].
pub fn release(release: &Release, clock: &Clock, note: &str) -> Outcome<Vec<u8>> {
    let mut sheet = REHEARSAL.sheet()?;
    let mut untold: Vec<f64> = release.searches.clone();
    for (number, larva) in release.larvae.iter().enumerate() {
        let start = [
            larva.name.clone(),
            larva.at_m.0.to_string(),
            larva.at_m.1.to_string(),
            when(clock, larva.time),
        ];
        let mut found: Vec<_> = release.found.iter().filter(|f| f.larva == number).collect();
        found.sort_by_key(|found| found.search);
        for found in &found {
            let time = release.searches[found.search];
            untold.retain(|other| *other != time);
            let metres = |value: f64| format!("{value:.3}");
            let end = [
                metres(found.at_m.0),
                metres(found.at_m.1),
                when(clock, time),
            ];
            sheet.row(&[&start[..], &end, &[note.to_owned()]].concat())?;
        }
        if found.is_empty() {
            // Searches in which nobody was found are told in the rows of those who were not.
            let time = untold
                .pop()
                .map_or_else(String::new, |time| when(clock, time));
            let end = [String::new(), String::new(), time, note.to_owned()];
            sheet.row(&[&start[..], &end].concat())?;
        }
    }
    sheet.bytes()
}

/// Prior range against posterior.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn chart(answer: &TuneAnswer) -> Result<Rendered, Trouble> {
    let rows = answer.tuned.iter().map(|tuned| {
        let parameter = &tuned.parameter;
        let [low, middle, high] = tuned.posterior.map(figures);
        PosteriorRow {
            name: parameter.path.clone(),
            places: tuned.places,
            prior: [figures(parameter.range.0), figures(parameter.range.1)],
            posterior: format!("{middle} ({low} to {high})"),
        }
    });
    let told = |how: &str| {
        let those = answer.tuned.iter().filter(|tuned| verdict(tuned) == how);
        let names: Vec<&str> = those.map(|tuned| tuned.parameter.path.as_str()).collect();
        names.join(" and ")
    };
    let title = match (
        told("the release tells"),
        told("the release tells a little"),
    ) {
        (much, _) if !much.is_empty() => format!("The release narrows {much}"),
        (_, little) if !little.is_empty() => format!("The release narrows {little} a little"),
        _ => "The release leaves every parameter as uncertain as before".to_owned(),
    };
    Ok(charts::posterior_chart(&PosteriorChart {
        title,
        note: format!(
            "Wide bars: plausible range. Narrow bars: 90 % of the posterior, with its middle, from {} larvae let go, {} of which were found again.",
            answer.counts[0], answer.counts[3]
        ),
        rows: rows.collect(),
    })?)
}
