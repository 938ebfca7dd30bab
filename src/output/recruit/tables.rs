//! Tidy CSV tables of the recruitment answer. An undefined value is an empty cell.

use super::columns::{EFFECTS, EXAMPLE, POWER, SITES_NEEDED, SITINGS};
use crate::output::tables::cell;
use crate::stats::{Crossing, CrossingReport, Estimate};
use crate::study::recruit::pool::Comparison;
use crate::study::recruit::power::{POWERS, PowerCurve};
use crate::study::recruit::siting::SitingPoint;
use crate::study::recruit::{RecruitAnswer, effects::Pilot};
use crate::trouble::Outcome;

fn cells(estimate: Option<Estimate>) -> [String; 3] {
    estimate.map_or_else(Default::default, |e| {
        [e.value.to_string(), e.low.to_string(), e.high.to_string()]
    })
}

/// Power by effect, comparison and number of sites.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn power(answer: &RecruitAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = POWER.sheet()?;
    let estimator = answer.question.estimator.name();
    let mut add = |effect: &str,
                   [home, second]: [String; 2],
                   comparison: &str,
                   test: &str,
                   curve: &PowerCurve|
     -> Outcome<()> {
        for point in &curve.points {
            let [value, low, high] = cells(Some(point.power));
            sheet.row(&[
                effect.to_owned(),
                home.clone(),
                second.clone(),
                comparison.to_owned(),
                test.to_owned(),
                point.sites.to_string(),
                point.studies.to_string(),
                value,
                low,
                high,
                point.with_pool.0.to_string(),
                point.with_pool.1.to_string(),
            ])?;
        }
        Ok(())
    };
    for effect in &answer.effects {
        let home = effect
            .home
            .map_or_else(String::new, |home| home.value.to_string());
        for (comparison, curve) in &effect.curves {
            add(
                &effect.name,
                [home.clone(), String::new()],
                comparison.name(),
                estimator,
                curve,
            )?;
        }
    }
    for found in &answer.false_effects {
        let home = found.ratios[0].map_or_else(String::new, |home| home.value.to_string());
        add(
            "cut, home ratio 1",
            [home, String::new()],
            found.comparison.name(),
            estimator,
            &found.curve,
        )?;
    }
    for kinds in &answer.kinds {
        add(
            "two kinds of surroundings",
            kinds.ratios.map(cell),
            "difference_of_kinds",
            "label-dealing",
            &kinds.curve,
        )?;
    }
    sheet.bytes()
}

fn needed_cells(report: &CrossingReport) -> [String; 4] {
    let (value, note) = match report.crossing {
        Some(Crossing::At(sites)) => (sites.ceil().to_string(), ""),
        Some(Crossing::BelowGrid) => (String::new(), "at or below the smallest number tried"),
        Some(Crossing::NotReached) => (String::new(), "not reached within the numbers tried"),
        None => (String::new(), "undefined"),
    };
    let end = |end: Option<f64>| end.map_or_else(String::new, |sites| sites.ceil().to_string());
    [
        value,
        end(report.interval.and_then(|interval| interval.low)),
        end(report.interval.and_then(|interval| interval.high)),
        note.to_owned(),
    ]
}

/// Sites needed by effect, comparison and power, with the ratios and the closed form beside them.
///
/// # Errors
/// As [`power`].
pub fn sites_needed(answer: &RecruitAnswer, drop_out: f64) -> Outcome<Vec<u8>> {
    let mut sheet = SITES_NEEDED.sheet()?;
    for effect in &answer.effects {
        let attraction = match effect.effect {
            crate::study::recruit::sites::Effect::Nothing => [String::new(), String::new()],
            crate::study::recruit::sites::Effect::Attraction(a, b) => {
                [a.to_string(), b.to_string()]
            }
        };
        for (comparison, curve) in &effect.curves {
            for (index, report) in curve.needed.iter().enumerate() {
                let [value, low, high, note] = needed_cells(report);
                let leaves = if *comparison == Comparison::LateIfStaying {
                    0.0
                } else {
                    drop_out
                };
                let stay = value.parse::<f64>().map_or_else(
                    |_| String::new(),
                    |sites| (sites * (1.0 - leaves)).round().to_string(),
                );
                let closed = match (*comparison, effect.closed) {
                    (Comparison::Late, Some(closed)) => closed.sites[index].ceil().to_string(),
                    _ => String::new(),
                };
                let [first, second] = attraction.clone();
                let [home, standing, counted] =
                    [effect.home, effect.standing, effect.counted].map(|e| cells(e)[0].clone());
                let attenuation = effect
                    .attenuation()
                    .map_or_else(String::new, |a| a.to_string());
                sheet.row(&[
                    effect.name.clone(),
                    first,
                    second,
                    home,
                    standing,
                    counted,
                    attenuation,
                    comparison.name().to_owned(),
                    POWERS[index].to_string(),
                    value,
                    low,
                    high,
                    stay,
                    closed,
                    note,
                ])?;
            }
        }
    }
    sheet.bytes()
}

/// Ratios and sites needed for sitings or variants.
///
/// # Errors
/// As [`power`].
pub fn sitings(points: &[SitingPoint]) -> Outcome<Vec<u8>> {
    let mut sheet = SITINGS.sheet()?;
    for point in points {
        let optional =
            |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
        let [home, low, high] = cells(point.home);
        let [first, first_low, first_high, note] = needed_cells(&point.needed[0]);
        let [second, second_low, second_high, _] = needed_cells(&point.needed[1]);
        sheet.row(&[
            point.what.clone(),
            optional(point.gap_m),
            optional(point.share_taken),
            home,
            low,
            high,
            cells(point.standing)[0].clone(),
            cells(point.counted)[0].clone(),
            first,
            first_low,
            first_high,
            second,
            second_low,
            second_high,
            note,
        ])?;
    }
    sheet.bytes()
}

/// Home ratio against attraction, from the pilot seasons.
///
/// # Errors
/// As [`power`].
pub fn pilot(pilot: &Pilot) -> Outcome<Vec<u8>> {
    let mut sheet = EFFECTS.sheet()?;
    for ((attraction, pair), halves) in pilot.attractions.iter().zip(&pilot.pair).zip(&pilot.halves)
    {
        sheet.row(&[attraction.to_string(), cell(*pair), cell(*halves)])?;
    }
    sheet.bytes()
}

/// The example study, site by site, in the order drawn.
///
/// # Errors
/// As [`power`].
pub fn example(answer: &RecruitAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = EXAMPLE.sheet()?;
    let finite = |value: Option<f64>| {
        value
            .filter(|value| value.is_finite())
            .map_or_else(String::new, |value| value.to_string())
    };
    for (number, site) in answer
        .example
        .iter()
        .flat_map(|example| &example.sites)
        .enumerate()
    {
        sheet.row(&[
            (number + 1).to_string(),
            site.counts.treated.to_string(),
            site.counts.untouched.to_string(),
            site.counts.stems_treated.to_string(),
            site.counts.stems_untouched.to_string(),
            finite(site.ratio),
            finite(site.interval.map(|interval| interval.0)),
            finite(site.interval.map(|interval| interval.1)),
        ])?;
    }
    sheet.bytes()
}
