//! Numbers of the recruitment answer as people say them.

use super::super::headline::{Quantity, headline, span};
use crate::scenario::Listed;
use crate::stats::{Crossing, CrossingReport, Estimate};
use crate::study::recruit::RecruitAnswer;
use crate::study::recruit::band::RecruitBand;
use crate::study::recruit::effects::Pilot;
use crate::study::recruit::pool::Comparison;
use crate::study::recruit::power::POWERS;
use crate::study::recruit::sites::Effect;

/// Sites needed, rounded up, with interval: `53 (47-61)`.
pub fn needed(report: &CrossingReport, sizes: &[usize]) -> String {
    let (first, last) = (
        sizes.first().copied().unwrap_or(0),
        sizes.last().copied().unwrap_or(0),
    );
    let value = match report.crossing {
        Some(Crossing::At(sites)) => format!("{:.0}", sites.ceil()),
        Some(Crossing::BelowGrid) => format!("{first} or fewer"),
        Some(Crossing::NotReached) => format!("over {last}"),
        None => "undefined".to_owned(),
    };
    let outside = |count: usize| count == report.resamples;
    let Some(interval) = report.interval else {
        return value;
    };
    if outside(report.below) || outside(report.beyond) {
        return value;
    }
    let sites = |end: f64| format!("{:.0}", end.ceil());
    match (interval.low.map(sites), interval.high.map(sites)) {
        (Some(low), Some(high)) => format!("{value} ({})", span(&low, &high)),
        (Some(low), None) => format!("{value} (from {low})"),
        (None, Some(high)) => format!("{value} (up to {high})"),
        (None, None) => value,
    }
}

/// The headline of the people to invite for an effect, by its name, at one of the powers; without a full stop, for the
/// terminal, the note and the chart alike.
pub fn people(
    answer: &RecruitAnswer,
    band: Option<&RecruitBand>,
    effect: &str,
    power: usize,
) -> String {
    let sizes = &answer.question.sizes;
    let found = answer.effects.iter().find(|found| found.name == effect);
    let curve = found.and_then(|found| found.curve(Comparison::Late));
    let central = curve.map_or_else(
        || "out of reach".to_owned(),
        |curve| needed(&curve.needed[power], sizes),
    );
    let band = band.and_then(|band| {
        let found = band.effects.iter().find(|found| found.name == effect);
        Some(&found?.needed[power])
    });
    let quantity = Quantity {
        what: &format!(
            "People to invite for {effect} and {:.0}\u{a0}% power",
            100.0 * POWERS[power]
        ),
        show: &|sites| people_within(sites, sizes),
        unit: "",
    };
    headline(&quantity, band, &central)
}

/// A number of people; 0 and infinity stand for what lies outside the numbers of sites tried.
pub fn people_within(sites: f64, sizes: &[usize]) -> String {
    let end = |size: Option<&usize>| size.copied().unwrap_or(0);
    if sites <= 0.0 {
        format!("{} or fewer", end(sizes.first()))
    } else if sites.is_infinite() {
        format!("over {}", end(sizes.last()))
    } else {
        format!("{sites:.0}")
    }
}

/// A ratio with its interval.
pub fn ratio(estimate: Option<Estimate>) -> String {
    estimate.map_or_else(
        || "undefined".to_owned(),
        |e| format!("{:.2} ({:.2}-{:.2})", e.value, e.low, e.high),
    )
}

/// A ratio alone.
pub fn short_ratio(estimate: Option<Estimate>) -> String {
    estimate.map_or_else(|| "undefined".to_owned(), |e| format!("{:.2}", e.value))
}

/// Why the closed form and the simulation differ by more than a quarter; `None` when they do not.
pub fn closed_gap(answer: &RecruitAnswer, effect: usize) -> Option<String> {
    const MUCH: f64 = 0.25;
    let effect = answer.effects.get(effect)?;
    let (closed, simulated) = (effect.closed?, effect.sites_needed()? as f64);
    let apart = closed.sites[0] / simulated - 1.0;
    if apart.abs() <= MUCH {
        return None;
    }
    Some(format!(
        "{}: the closed form says {:.0} sites, the simulation {simulated:.0} ({:+.0} %). The closed form averages the noise over all \
         sites. Here a tenth of them holds {:.0} % of all larvae counted, and most of the noise with them (1/k = {:.2}, squared CV of \
         sites {:.1}); a study of ordinary size has few of these, and the test measures the noise that the study itself has. Trust the \
         simulation.",
        effect.name,
        closed.sites[0].ceil(),
        100.0 * apart,
        100.0 * closed.top_tenth_share,
        closed.inverse_k,
        closed.site_variation
    ))
}

/// Sites needed under two sitings of the same pool, as a factor.
pub fn siting_price(answer: &RecruitAnswer, lax_m: f64, strict_m: f64) -> Option<f64> {
    let sites = |gap_m: f64| {
        let point = answer
            .siting
            .iter()
            .find(|point| point.gap_m == Some(gap_m))?;
        match point.needed[0].crossing? {
            Crossing::At(sites) => Some(sites),
            Crossing::BelowGrid | Crossing::NotReached => None,
        }
    };
    Some(sites(lax_m)? / sites(strict_m)?)
}

/// What attraction the effects stand for, and what ratio this scenario itself leads one to expect.
#[must_use]
pub fn expected(answer: &RecruitAnswer, listed: &[Listed]) -> String {
    let own = listed
        .iter()
        .find(|number| number.path == "laying.attraction_peak");
    let range = own.and_then(|number| number.range);
    let beyond = |attraction: f64| match range {
        Some((low, high)) if attraction < low || attraction > high => {
            format!(", outside the plausible {low} to {high}")
        }
        _ => String::new(),
    };
    let needs: Vec<String> = answer
        .effects
        .iter()
        .filter_map(|effect| match effect.effect {
            Effect::Attraction(first, _) => {
                Some(format!("{first:.1} for {}{}", effect.name, beyond(first)))
            }
            Effect::Nothing => None,
        })
        .collect();
    let mut text = format!(
        "What the effects ask of nature: at its peak a fresh stem must draw this many times the eggs of a mature stem: {}.",
        needs.join("; ")
    );
    if let Some((attraction, ratio)) =
        own.and_then(|number| Some((number.value, home_ratio_at(&answer.pilot, number.value)?)))
    {
        text.push_str(&format!(
            " This scenario itself states {attraction}, at which the home ratio is about {ratio:.2}: plan for a larger effect only with \
             a reason to expect it."
        ));
    }
    text
}

/// What home ratios the attractions tried give.
pub fn reach(pilot: &Pilot) -> String {
    pilot.reach().map_or_else(
        || "no home ratio, as too few late-stage larvae hatch".to_owned(),
        |(low, high)| format!("home ratios from {low:.2} to {high:.2}"),
    )
}

/// Home ratio of the pair at an attraction, by straight lines between the attractions of the pilot.
fn home_ratio_at(pilot: &Pilot, attraction: f64) -> Option<f64> {
    let next = pilot.attractions.iter().position(|at| *at >= attraction)?;
    let before = next.checked_sub(1)?;
    let (from, to) = (pilot.attractions[before], pilot.attractions[next]);
    let share = (attraction - from) / (to - from);
    let (low, high) = (pilot.pair[before]?, pilot.pair[next]?);
    Some(low + share * (high - low))
}
