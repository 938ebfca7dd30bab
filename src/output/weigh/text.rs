//! The ranking in words.

use super::{Line, is_guess, lines, others_name, overlap, words};
use crate::output::text::{heading, wrapped};
use crate::stats::ResampledEstimate;
use crate::study::uncertain::Driver;
use crate::study::weigh::{WeighAnswer, Weighed};

/// Share below which an unknown is not worth a line.
const LEAST_SHOWN: f64 = 0.01;

fn percent(share: &ResampledEstimate) -> String {
    const HUNDRED: f64 = 100.0;
    match (share.value, share.estimate) {
        (None, _) => "undefined".to_owned(),
        (Some(value), None) => format!("{:.0} %", HUNDRED * value),
        (Some(value), Some(interval)) => format!(
            "{:.0} % ({:.0} to {:.0})",
            HUNDRED * value,
            HUNDRED * interval.low,
            HUNDRED * interval.high
        ),
    }
}

fn row(name: &str, standing: &str, first: &str, total: &str) -> String {
    format!("  {name:<31}{standing:<11}{first:>17}{total:>18}")
}

fn line(answer: &WeighAnswer, line: &Line<'_>) -> String {
    let (name, standing) = match line.parameter {
        Some(index) => {
            let parameter = &answer.parameters[index];
            // One word, so that the columns fit into the terminal.
            let standing = parameter.standing.word();
            let standing = standing.rsplit(' ').next().unwrap_or(standing);
            (parameter.path.clone(), standing)
        }
        None => (others_name(answer), ""),
    };
    row(&name, standing, &percent(line.first), &percent(line.total))
}

fn quantity(answer: &WeighAnswer, weighed: &Weighed, out: &mut Vec<String>) {
    heading(out, &words(weighed.quantity));
    out.push(row("", "standing", "alone", "with others"));
    let ranked = lines(answer, weighed);
    let worth = |line: &&Line<'_>| {
        line.parameter.is_none() || line.total.value.is_some_and(|share| share >= LEAST_SHOWN)
    };
    let (guesses, rest): (Vec<_>, Vec<_>) = ranked
        .iter()
        .filter(worth)
        .partition(|line| is_guess(answer, line));
    if !guesses.is_empty() {
        out.push("  guesses with no source:".to_owned());
    }
    out.extend(guesses.iter().map(|guess| line(answer, guess)));
    if !rest.is_empty() {
        out.push("  the rest:".to_owned());
    }
    out.extend(rest.iter().map(|other| line(answer, other)));
    let (asked, used) = (answer.question.rows, weighed.used.1);
    let mut note = format!(
        "Noise of the seasons is {} of what the sets show, and is taken out of the parts above.",
        percent(&weighed.shares.noise)
    );
    if used < asked {
        note += &format!(
            " {} of {asked} rows are left out: a set of theirs makes no sense, or does not define this.",
            asked - used
        );
    }
    out.push(wrapped(&note, 2));
}

/// The whole ranking as text.
#[must_use]
pub fn weigh(answer: &WeighAnswer) -> String {
    let mut out = Vec::new();
    heading(&mut out, "Which unknown matters most?");
    if let Some(sentence) = headline(answer) {
        out.push(wrapped(&sentence, 0));
    }
    out.push(wrapped(
        &format!(
            "All {} numbers with a plausible range were screened; the {} strongest were weighed, each alone and \
             with all that it takes part in, and the other {} as one. What stands below are parts of the variance over \
             plausible parameter sets (stray shares and half drift as angles, net yield as its logarithm), with 95 % \
             intervals; those `with others` overlap. {} seasons.",
            answer.parameters.len(),
            answer.kept.len(),
            answer.others,
            answer.seasons
        ),
        0,
    ));
    for weighed in &answer.weighed {
        quantity(answer, weighed, &mut out);
    }
    out.join("\n")
}

/// What to find out first, as far as the ranking can tell.
fn headline(answer: &WeighAnswer) -> Option<String> {
    let weighed = answer.weighed.first()?;
    let ranked = lines(answer, weighed);
    let guesses: Vec<&Line<'_>> = ranked.iter().filter(|l| is_guess(answer, l)).collect();
    let first = guesses.first()?;
    let name = |line: &Line<'_>| {
        line.parameter
            .map_or("", |index| &answer.parameters[index].path)
            .to_owned()
    };
    let mut sentence = format!(
        "Of the guesses, `{}` moves the stray share most: it takes part in {} of its variance.",
        name(first),
        percent(first.total)
    );
    if let Some(second) = guesses.get(1) {
        sentence += &if overlap(first, second) {
            format!(
                " Next comes `{}`, whose interval overlaps: which of the two is first is not settled.",
                name(second)
            )
        } else {
            format!(" Next comes `{}`.", name(second))
        };
    }
    Some(sentence)
}

/// The sentence of the brief about what moves the clear gap most, from the parameter sets of its band.
#[must_use]
pub fn driver(driver: &Driver) -> String {
    /// Chance beyond which nothing is said to stand out.
    const TOO_LIKELY: f64 = 0.05;
    let strength = format!(
        "rank correlation {:.2} over {} parameter sets; shuffling them makes the strongest of {} that strong in {} of cases",
        driver.correlation,
        driver.sets,
        driver.parameters,
        crate::output::text::percent(driver.by_chance)
    );
    if driver.by_chance > TOO_LIKELY {
        return format!(
            "No single unknown stands out in the clear gap: the strongest is `{}` ({strength}). `crawlspan weigh` tells more.",
            driver.path
        );
    }
    format!(
        "The parameter that drives the clear gap most is `{}`: {} gap where it is larger ({strength}). `crawlspan weigh` ranks them all.",
        driver.path,
        if driver.correlation > 0.0 {
            "a wider"
        } else {
            "a narrower"
        },
    )
}
