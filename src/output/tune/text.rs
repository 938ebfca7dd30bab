//! What a release tells, in words.

use super::{figures, verdict};
use crate::output::text::{heading, percent, wrapped};
use crate::stats::abc::effective_particles;
use crate::study::tune::{TuneAnswer, Tuned};

/// Correlation from which two parameters are said to be told together only.
const TOGETHER: f64 = 0.5;

fn row(tuned: &Tuned) -> String {
    let parameter = &tuned.parameter;
    let [low, middle, high] = tuned.posterior.map(figures);
    let (lowest, highest) = (figures(parameter.range.0), figures(parameter.range.1));
    format!(
        "  {:<29} {:>15} {:>7} {:>15}  {:>4.0} %",
        parameter.path,
        format!("{lowest} to {highest}"),
        middle,
        format!("{low} to {high}"),
        100.0 * tuned.width()
    )
}

/// The posterior as text.
#[must_use]
pub fn tune(answer: &TuneAnswer, source: &str) -> String {
    let [larvae, searches, findings, ever] = answer.counts;
    let mut lines = Vec::new();
    heading(&mut lines, "What does the release tell?");
    lines.push(wrapped(
        &format!(
            "{source}: {larvae} larvae let go, {searches} searches, {findings} findings of {ever} larvae; {} never found again.",
            larvae - ever
        ),
        0,
    ));
    lines.push(String::new());
    lines.push(format!(
        "  {:<29} {:>15} {:>7} {:>15}  {:>6}",
        "parameter", "plausible", "middle", "90 %", "width"
    ));
    lines.extend(answer.tuned.iter().map(row));
    lines.push(wrapped(
        "(width: of the posterior, as part of the plausible range)",
        2,
    ));
    lines.push(String::new());
    for told in [
        "the release tells",
        "the release tells a little",
        "the release does not tell",
    ] {
        let those = answer.tuned.iter().filter(|tuned| verdict(tuned) == told);
        let names: Vec<&str> = those.map(|tuned| tuned.parameter.path.as_str()).collect();
        if names.is_empty() {
            continue;
        }
        let meaning = match told {
            "the release tells" => "The release tells these",
            "the release tells a little" => "It tells a little about these",
            _ => {
                "It does not tell these: their posterior is about as wide as the plausible range was, and its middle is no finding"
            }
        };
        lines.push(wrapped(&format!("{meaning}: {}.", names.join(", ")), 0));
    }
    lines.extend(together(answer).iter().map(|words| wrapped(words, 0)));
    let (tolerance, tried) = answer.generations.last().copied().unwrap_or((f64::NAN, 0));
    lines.push(wrapped(
        &format!(
            "By approximate Bayesian computation: {} particles (worth {:.0} of even weight) within a distance of {tolerance:.2} prior SDs after {} generations, {} of the last candidates kept. In rehearsals such 90 % intervals held the truth about nine times in ten. All other numbers kept the scenario's values: where they are wrong, so is the posterior.",
            answer.particles.len(),
            effective_particles(&answer.particles),
            answer.generations.len(),
            percent(answer.particles.len() as f64 / tried.max(1) as f64)
        ),
        0,
    ));
    lines.join("\n").trim_start().to_owned()
}

/// Pairs of parameters that the release tells only together.
fn together(answer: &TuneAnswer) -> Vec<String> {
    let mut words = Vec::new();
    for (a, one) in answer.tuned.iter().enumerate() {
        for (b, other) in answer.tuned.iter().enumerate().skip(a + 1) {
            let correlation = answer.correlations[a][b];
            if correlation.abs() >= TOGETHER {
                words.push(format!(
                    "{} and {} are told together rather than each (correlation {correlation:.2}): {}.",
                    one.parameter.path,
                    other.parameter.path,
                    if correlation > 0.0 {
                        "both may be high or both low"
                    } else {
                        "more of one goes with less of the other"
                    }
                ));
            }
        }
    }
    words
}
