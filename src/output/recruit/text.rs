//! The recruitment answer for the terminal, within 80 columns.

use super::super::text::{heading, percent, wrapped};
use super::words::{
    closed_gap, expected, needed, people as people_headline, ratio, reach, short_ratio,
    siting_price,
};
use crate::scenario::Listed;
use crate::study::recruit::band::RecruitBand;
use crate::study::recruit::pool::Comparison;
use crate::study::recruit::siting::SitingPoint;
use crate::study::recruit::{EffectAnswer, RecruitAnswer};

/// What a site, a person and a number of sites mean here.
pub const MEANING: &str = "One site is one person with two patches. The numbers count everybody who is invited: those who drop \
     out are among them, with the weeks they counted, and so are sites where no late-stage larva is ever found.";

/// The whole answer; `band` over plausible parameter sets, where it was asked for.
#[must_use]
pub fn recruit(
    answer: &RecruitAnswer,
    band: Option<&RecruitBand>,
    drop_out: f64,
    listed: &[Listed],
) -> String {
    let mut lines = Vec::new();
    heading(&mut lines, "How many people must be invited?");
    headlines(answer, band, &mut lines);
    people(answer, drop_out, &mut lines);
    lines.push(wrapped(&expected(answer, listed), 0));
    attenuation(answer, &mut lines);
    false_positives(answer, &mut lines);
    stages(answer, &mut lines);
    halves(answer, &mut lines);
    siting(answer, &mut lines);
    kinds(answer, &mut lines);
    closed(answer, &mut lines);
    lines.join("\n").trim_start().to_owned()
}

/// What leads: every effect over plausible parameter sets; without them the main effect, which says what it lacks.
fn headlines(answer: &RecruitAnswer, band: Option<&RecruitBand>, lines: &mut Vec<String>) {
    let names: Vec<&str> = match band {
        Some(band) => band
            .effects
            .iter()
            .map(|found| found.name.as_str())
            .collect(),
        None if answer.side > 0 => vec![&answer.effects[answer.side].name],
        None => Vec::new(),
    };
    for name in names {
        let words = people_headline(answer, band, name, 0);
        lines.push(wrapped(&format!("{words}."), 0));
    }
}

fn people(answer: &RecruitAnswer, drop_out: f64, lines: &mut Vec<String>) {
    let question = &answer.question;
    lines.push(wrapped(MEANING, 0));
    lines.push(wrapped(
        &format!(
            "All that follows rests on the central numbers. Test: {}, two-sided, 5 % level. {} simulated studies at each number of sites, {} site-seasons for each effect{}. \
             In brackets: 95 % intervals, the size of the pool included.",
            question.estimator,
            question.studies,
            question.pool,
            if question.fresh { ", each used once" } else { "" }
        ),
        0,
    ));
    lines.push(String::new());
    lines.push(format!(
        "  {:<14} {:>10} {:>8} {:>20} {:>20}",
        "effect", "home ratio", "counted", "invite for 80 %", "invite for 90 %"
    ));
    for effect in answer.effects.iter().skip(1) {
        let Some(curve) = effect.curve(Comparison::Late) else {
            continue;
        };
        lines.push(format!(
            "  {:<14} {:>10} {:>8} {:>20} {:>20}",
            effect.name,
            short_ratio(effect.home),
            short_ratio(effect.counted),
            needed(&curve.needed[0], &question.sizes),
            needed(&curve.needed[1], &question.sizes)
        ));
    }
    lines.push(String::new());
    for ratio in &answer.unreachable {
        let (from, to) = (
            answer.pilot.attractions[0],
            answer.pilot.attractions.last().copied().unwrap_or(0.0),
        );
        lines.push(wrapped(
            &format!(
                "Ratio {ratio} cannot be reached: attractions from {from} to {to} give {}.",
                reach(&answer.pilot)
            ),
            0,
        ));
    }
    leavers(answer, drop_out, lines);
}

fn leavers(answer: &RecruitAnswer, drop_out: f64, lines: &mut Vec<String>) {
    let Some(effect) = answer.effects.get(answer.side).filter(|_| answer.side > 0) else {
        return;
    };
    let sizes = &answer.question.sizes;
    let of = |comparison| {
        effect
            .curve(comparison)
            .map_or_else(String::new, |curve| needed(&curve.needed[0], sizes))
    };
    lines.push(wrapped(
        &format!(
            "{} of the people invited drop out. With the central numbers, at {} and 80 % power: invite {} if their weeks are analysed too; invite {} if the \
             counts of those who leave early are left aside; if nobody dropped out, {} would do. Decide which before the counts are \
             seen. (Early weeks hold larvae from eggs laid before the regrowth, so half a season can point the wrong way.)",
            percent(drop_out),
            effect.name,
            of(Comparison::Late),
            of(Comparison::LateOfStayers),
            of(Comparison::LateIfStaying)
        ),
        0,
    ));
}

fn attenuation(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    heading(lines, "What crawling and counting do to the ratio");
    lines.push(format!(
        "  {:<14} {:>18} {:>18} {:>18}",
        "effect", "where they hatched", "where they stand", "as counted"
    ));
    for effect in &answer.effects {
        lines.push(format!(
            "  {:<14} {:>18} {:>18} {:>18}",
            effect.name,
            ratio(effect.home),
            ratio(effect.standing),
            ratio(effect.counted)
        ));
    }
    let left = answer
        .effects
        .get(answer.side)
        .and_then(EffectAnswer::attenuation);
    if let Some(left) = left {
        lines.push(wrapped(
            &format!("Crawling leaves {} of the logarithm of the home ratio at the gaps of this population.", percent(left)),
            0,
        ));
    }
}

fn false_positives(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    heading(lines, "How often is an effect found where there is none?");
    if let Some(curve) = answer
        .effects
        .first()
        .and_then(|effect| effect.curve(Comparison::Late))
    {
        let shares: Vec<String> = curve
            .points
            .iter()
            .map(|point| format!("{} sites {:.1} %", point.sites, 100.0 * point.power.value))
            .collect();
        lines.push(wrapped(
            &format!("Nothing cut, late stage: {}.", shares.join(", ")),
            0,
        ));
    }
    for found in &answer.false_effects {
        let what = if found.comparison == Comparison::Late {
            "Pairs"
        } else {
            "Halves of one patch"
        };
        let Some(last) = found.curve.points.last() else {
            continue;
        };
        lines.push(wrapped(
            &format!(
                "{what}, cut, but with as many late-stage larvae hatched per stem on either side (attraction {:.1}): {} by where they \
                 stand, {} as counted; {} of studies with {} sites find a difference.",
                found.attraction,
                ratio(found.ratios[1]),
                ratio(found.ratios[2]),
                percent(last.power.value),
                last.sites
            ),
            0,
        ));
    }
    if !answer.false_effects.is_empty() {
        lines.push(wrapped(
            "Why: a cut patch fills late. Weeks that are missed and people who leave early take more from one side than from the \
             other, so a ratio as counted leans below the ratio of those that hatched, even where walking is slight. Hold all weeks, \
             and read a small ratio with that in mind.",
            0,
        ));
    }
}

fn stages(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    heading(lines, "Eggs and late stage side by side (invite for 80 %)");
    lines.push(format!(
        "  {:<14} {:>12} {:>20} {:>20}",
        "effect", "ratio of eggs", "eggs", "late stage"
    ));
    for effect in answer.effects.iter().skip(1) {
        let of = |comparison| {
            effect.curve(comparison).map_or_else(String::new, |curve| {
                needed(&curve.needed[0], &answer.question.sizes)
            })
        };
        lines.push(format!(
            "  {:<14} {:>12}  {:>20} {:>20}",
            effect.name,
            short_ratio(effect.eggs),
            of(Comparison::Eggs),
            of(Comparison::Late)
        ));
    }
    lines.push(wrapped(
        "More eggs do not make more butterflies: what eggs show sooner is laying, not survival.",
        0,
    ));
}

fn halves(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    let known: Vec<&EffectAnswer> = answer
        .effects
        .iter()
        .filter(|effect| effect.halves[0].is_some())
        .collect();
    if known.is_empty() {
        return;
    }
    heading(lines, "Why not two halves of one patch?");
    lines.push(format!(
        "  {:<14} {:>18} {:>18} {:>18}",
        "late stage", "where they hatched", "where they stand", "as counted"
    ));
    for effect in known {
        lines.push(format!(
            "  {:<14} {:>18} {:>18} {:>18}",
            effect.name,
            ratio(effect.halves[0]),
            ratio(effect.halves[1]),
            ratio(effect.halves[2])
        ));
    }
    lines.push(wrapped(
        "Larvae walk across the line: the halves' late-stage ratio is drawn far towards 1, however many sites there are. A test between \
         halves may reject often and still name the wrong ratio. Compare halves for eggs only.",
        0,
    ));
}

fn siting(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    if answer.siting.is_empty() {
        return;
    }
    heading(lines, "The price of lax siting");
    lines.extend(siting_rows(&answer.siting, &answer.question.sizes));
    lines.push(wrapped(
        &format!(
            "{} of the pairs offered meet the siting rule. These rows rest on {} site-seasons each, the same sites throughout: compare \
             them with each other.{}",
            percent(answer.share_meeting_rule),
            answer.question.side_seasons(),
            siting_price(answer, 3.0, 20.0).map_or_else(String::new, |price| format!(
                " Pairs 3 m apart need {price:.2} times the sites of pairs 20 m apart."
            ))
        ),
        0,
    ));
}

/// Rows of sitings or variants.
#[must_use]
pub fn siting_rows(points: &[SitingPoint], sizes: &[usize]) -> Vec<String> {
    const WHAT: usize = 34;
    let mut lines = vec![format!(
        "  {:<WHAT$} {:>6} {:>7} {:>7}  {:>17}",
        "", "home", "stands", "counted", "invite for 80 %"
    )];
    for point in points {
        let mut what = textwrap::wrap(&point.what, WHAT);
        let first = if what.is_empty() {
            String::new()
        } else {
            what.remove(0).into_owned()
        };
        lines.push(format!(
            "  {first:<WHAT$} {:>6} {:>7} {:>7}  {:>17}",
            short_ratio(point.home),
            short_ratio(point.standing),
            short_ratio(point.counted),
            needed(&point.needed[0], sizes)
        ));
        lines.extend(what.iter().map(|rest| format!("    {rest}")));
    }
    lines
}

fn kinds(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    if answer.kinds.is_empty() {
        return;
    }
    heading(
        lines,
        "Does the effect differ between two kinds of surroundings?",
    );
    for found in &answer.kinds {
        let last = found.curve.points.last();
        let sites = last.map_or(0, |point| point.sites);
        let share = last.map_or_else(String::new, |point| percent(point.power.value));
        let [Some(one), Some(other)] = found.ratios else {
            let text =
                "Undefined: no late-stage larvae hatched on one side at the sites of one kind.";
            lines.push(text.to_owned());
            continue;
        };
        // Apart by less than this on the log scale, two ratios are the same but for the pool's own noise.
        const ALIKE: f64 = 0.1;
        let text = if (one / other).ln().abs() < ALIKE {
            format!(
                "The same effect in both kinds (home ratios {one:.2} and {other:.2}): {share} of studies with {sites} sites find a \
                 difference that is not there."
            )
        } else {
            format!(
                "Home ratio {one:.2} in one kind, {other:.2} in the other: a power of 80 % to find the difference takes {} sites; with \
                 {sites} sites {share} of studies find it.",
                needed(&found.curve.needed[0], &answer.question.sizes)
            )
        };
        lines.push(wrapped(&text, 0));
    }
    lines.push(wrapped(
        "Test: labels of kind dealt at random to the sites' scores at the common ratio, by mean and variance of the dealing.",
        0,
    ));
}

fn closed(answer: &RecruitAnswer, lines: &mut Vec<String>) {
    heading(lines, "The closed form beside the simulation (80 %)");
    for (index, effect) in answer.effects.iter().enumerate().skip(1) {
        let (Some(closed), Some(curve)) = (effect.closed, effect.curve(Comparison::Late)) else {
            continue;
        };
        lines.push(format!(
            "  {:<14} closed form {:>5.0}   simulated {}",
            effect.name,
            closed.sites[0].ceil(),
            needed(&curve.needed[0], &answer.question.sizes)
        ));
        if let Some(gap) = closed_gap(answer, index) {
            lines.push(wrapped(&gap, 4));
        }
    }
}
