//! Every site with its figures, and the list of accepted sites.

use super::columns::{ACCEPTED, HELD_OUT, SCREENED};
use super::words::{from_scenario, reasons, remedies};
use crate::output::tables::{Column, Sheet, cell};
use crate::scenario::CoverKind;
use crate::study::screen::ScreenAnswer;
use crate::study::screen::grounds::PatchFacts;
use crate::study::screen::pooled::Ranged;
use crate::study::screen::verdict::Use;
use crate::trouble::Outcome;

fn three(value: Option<Ranged>) -> [String; 3] {
    // An open end is an empty cell.
    let end = |end: f64| cell(Some(end).filter(|end| end.is_finite()));
    value.map_or_else(Default::default, |value| {
        [end(value.value), end(value.low), end(value.high)]
    })
}

fn yes(is: bool) -> String {
    if is { "yes" } else { "no" }.to_owned()
}

fn cover(cover: CoverKind) -> String {
    format!("{cover:?}")
}

/// Table [`SCREENED`].
///
/// # Errors
/// When a row cannot be written to memory.
pub fn screened(answer: &ScreenAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = SCREENED.sheet()?;
    for (index, screened) in answer.sites.iter().enumerate() {
        let site = &answer.grounds.sites[index];
        let verdict = &screened.verdict;
        let pair = screened.figures.pair.as_ref();
        let halves = &screened.figures.halves;
        let facts = |patch: usize| screened.patches.get(patch);
        let alone =
            (verdict.site_use == Use::OnePatch).then(|| site.patches[halves.patch].name.clone());
        let mut row = vec![
            site.name.clone(),
            verdict.site_use.word().to_owned(),
            verdict.if_permitted.word().to_owned(),
            site.permission.word().to_owned(),
            alone.unwrap_or_default(),
            yes(verdict.close_call),
            cell(site.gap_m),
        ];
        let values: [fn(&PatchFacts) -> f64; 3] = [
            |facts| facts.stems,
            |facts| facts.density_per_m2,
            |facts| facts.shade_share,
        ];
        for value in values {
            row.extend([0, 1].map(|patch| cell(facts(patch).map(value))));
        }
        row.extend(three(
            pair.and_then(|pair| pair.worst().share.known_share()),
        ));
        for treated in [0, 1] {
            row.extend([0, 1].map(|patch| {
                let share = pair.and_then(|pair| pair.strays[treated][patch].known_share());
                cell(share.map(|share| share.value))
            }));
        }
        row.push(cell(pair.map(|pair| pair.home_ratio)));
        row.extend(three(pair.map(|pair| pair.standing_ratio)));
        row.extend(three(pair.map(|pair| pair.counted)));
        row.extend(three(halves.drift.known_share()));
        row.extend(three(Some(halves.counted)));
        row.push(
            pair.map_or(halves.origin, |pair| pair.origin)
                .word()
                .to_owned(),
        );
        row.push(from_scenario(site).join(" "));
        for sentences in [reasons(answer, index), remedies(answer, index)] {
            row.push(sentences.join(" ").replace('\u{a0}', " "));
        }
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// Table [`ACCEPTED`].
///
/// # Errors
/// As [`screened`].
pub fn accepted(answer: &ScreenAnswer, carried: &[String]) -> Outcome<Vec<u8>> {
    let own = ACCEPTED
        .columns
        .split_last()
        .map_or(&[][..], |(_, own)| own);
    let names = own.iter().map(|column: &Column| column.name);
    let names: Vec<&str> = names.chain(carried.iter().map(String::as_str)).collect();
    let mut sheet = Sheet::with_header(&names)?;
    for (index, screened) in answer.sites.iter().enumerate() {
        let site = &answer.grounds.sites[index];
        let used: Vec<usize> = match screened.verdict.site_use {
            Use::Pair => vec![0, 1],
            Use::OnePatch => vec![screened.figures.halves.patch],
            Use::Unsuitable => continue,
        };
        let pair = screened.figures.pair.as_ref().filter(|_| used.len() > 1);
        let halves = &screened.figures.halves;
        let of = |place: usize, value: &dyn Fn(usize) -> String| {
            used.get(place)
                .map_or_else(String::new, |patch| value(*patch))
        };
        let mut row = vec![
            site.name.clone(),
            screened.verdict.site_use.word().to_owned(),
            cell(site.gap_m.filter(|_| used.len() > 1)),
        ];
        let facts = &screened.patches;
        for value in [
            &(|patch: usize| site.patches[patch].name.clone()) as &dyn Fn(usize) -> String,
            &|patch| facts[patch].stems.to_string(),
            &|patch| facts[patch].density_per_m2.to_string(),
            &|patch| facts[patch].shade_share.to_string(),
        ] {
            row.extend([of(0, value), of(1, value)]);
        }
        let (between, around) = answer.grounds.covers(index);
        row.extend([
            cover(between),
            cover(around),
            site.permission.word().to_owned(),
        ]);
        row.push(cell(site.latitude_deg));
        let strays = pair.map_or(halves.drift, |pair| pair.worst().share);
        row.push(cell(strays.known_share().map(|share| share.value)));
        row.push(cell(pair.map(|pair| pair.standing_ratio.value)));
        row.push(cell(Some(
            pair.map_or(halves.counted.value, |pair| pair.counted.value),
        )));
        row.extend(site.carried.iter().cloned());
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// Table [`HELD_OUT`]; `None` if every site was simulated.
///
/// # Errors
/// As [`screened`].
pub fn held_out(answer: &ScreenAnswer) -> Outcome<Option<Vec<u8>>> {
    let Some(report) = &answer.surface else {
        return Ok(None);
    };
    let mut sheet = HELD_OUT.sheet()?;
    for site in &report.held_out {
        let mut row = vec![answer.grounds.sites[site.site].name.clone()];
        row.extend(three(site.simulated));
        row.extend(three(site.fitted));
        row.push(yes(site.verdicts_agree));
        sheet.row(&row)?;
    }
    sheet.bytes().map(Some)
}
