//! An analysis of real counts in words, within the terminal's columns.

use super::analysis::Analysis;
use super::analysis_list;
use super::text::{heading, length, percent, wrapped};
use super::words::measured_percent;
use crate::stats::paired::{Estimator, PairedResult, RatioEstimate, RatioInterval};
use crate::study::analyse::{Comparison, Corrected, CorrectedInterval, Exchange};

/// p values below this are told as such: ten times the smallest that 9,999 flips can give.
const SMALLEST_P: f64 = 0.001;

/// The whole report.
#[must_use]
pub fn report(analysis: &Analysis) -> String {
    let mut lines = Vec::new();
    lines.push(wrapped(&what_was_read(analysis), 0));
    answer(&mut lines, analysis);
    if let Some((exchange, corrected)) = &analysis.correction {
        correction(&mut lines, analysis, exchange, corrected);
    }
    if !analysis.cautions.is_empty() {
        heading(&mut lines, "Cautions");
        for caution in &analysis.cautions {
            lines.push(item(&caution.to_string()));
        }
    }
    analysis_list::sites(&mut lines, analysis);
    analysis_list::left_out(&mut lines, analysis);
    lines.join("\n")
}

/// A wrapped item of a list.
pub(super) fn item(text: &str) -> String {
    // The dash takes the place of two of the blanks of the indent.
    let text = wrapped(text, 2);
    text.replacen("  ", "- ", 1)
}

pub(super) fn number_of(number: usize, what: &str) -> String {
    if number == 1 {
        format!("1 {what}")
    } else {
        format!("{number} {what}s")
    }
}

fn what_was_read(analysis: &Analysis) -> String {
    let counts = &analysis.counts;
    let mut text = format!(
        "{} and {} read; counts from the column `{}`, stems from `{}`.",
        number_of(counts.sites(), "site"),
        number_of(counts.rows as usize, "row"),
        counts.count_column,
        counts.stems_column
    );
    if counts.comments > 0 {
        text += &format!(
            " {} ignored.",
            number_of(counts.comments as usize, "comment line")
        );
    }
    if !counts.unused.is_empty() {
        text += &format!(" Columns not used: {}.", counts.unused);
    }
    text
}

fn answer(lines: &mut Vec<String>, analysis: &Analysis) {
    let question = &analysis.question;
    let [treated, other] = question.comparison.sides();
    let title = format!(
        "{} per stem, {treated} over {other}",
        capital(&question.stage.words(question.late_from))
    );
    heading(lines, &title);
    if analysis.results.len() > 1 {
        side_by_side(lines, &analysis.results);
        lines.push(format!(
            "  p is for a true ratio of {}.",
            question.ratio_null
        ));
    }
    for result in &analysis.results {
        if analysis.results.len() == 1 {
            lines.push(wrapped(
                &format!(
                    "Ratio {}, {}.",
                    ratio_words(result.estimate),
                    interval_words(&result.interval)
                ),
                0,
            ));
            lines.push(wrapped(&evidence(result, question.ratio_null), 0));
        }
        for warning in &result.warnings {
            let whose = if analysis.results.len() > 1 {
                format!("{}: ", result.estimator)
            } else {
                String::new()
            };
            lines.push(item(&format!("{whose}{warning}.")));
        }
    }
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn side_by_side(lines: &mut Vec<String>, results: &[PairedResult]) {
    lines.push(format!(
        "  {:<14} {:>9}  {:<22} {:>8}  informative sites",
        "estimator", "ratio", "95 % interval", "p"
    ));
    for result in results {
        lines.push(format!(
            "  {:<14} {:>9}  {:<22} {:>8}  {:>3} of {}",
            result.estimator.name(),
            short_ratio(result.estimate),
            ends(result.interval.lower, result.interval.upper),
            p_words(result.p_value),
            result.informative,
            result.sites
        ));
    }
}

fn short_ratio(estimate: RatioEstimate) -> String {
    match estimate {
        RatioEstimate::Finite { ratio } => figures(ratio),
        RatioEstimate::UnboundedAbove => "unbounded".to_owned(),
        RatioEstimate::UnboundedBelow => "0".to_owned(),
        RatioEstimate::Undefined => "undefined".to_owned(),
    }
}

/// Three significant figures, or scientific where that is shorter.
pub(super) fn figures(value: f64) -> String {
    match value.abs() {
        size if !(0.001..100_000.0).contains(&size) && size != 0.0 => format!("{value:.1e}"),
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        size if size >= 0.1 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

fn ratio_words(estimate: RatioEstimate) -> String {
    match estimate {
        RatioEstimate::Finite { ratio } => figures(ratio),
        RatioEstimate::UnboundedAbove => "unbounded: all counts are on the treated side".to_owned(),
        RatioEstimate::UnboundedBelow => "zero: all counts are on the other side".to_owned(),
        RatioEstimate::Undefined => "undefined: nothing was counted".to_owned(),
    }
}

fn ends(low: Option<f64>, high: Option<f64>) -> String {
    match (low, high) {
        (None, None) => "open on both sides".to_owned(),
        (Some(low), None) => format!("{} and above", figures(low)),
        (None, Some(high)) => format!("up to {}", figures(high)),
        (Some(low), Some(high)) => format!("{} to {}", figures(low), figures(high)),
    }
}

fn interval_words(interval: &RatioInterval) -> String {
    format!(
        "{:.0} % interval {}",
        100.0 * interval.confidence,
        ends(interval.lower, interval.upper)
    )
}

fn p_words(p_value: Option<f64>) -> String {
    match p_value {
        None => "none".to_owned(),
        Some(p) if p < SMALLEST_P => format!("< {SMALLEST_P}"),
        Some(p) => format!("{p:.3}"),
    }
}

fn evidence(result: &PairedResult, ratio_null: f64) -> String {
    let p = match result.p_value {
        None => "No p value can be given".to_owned(),
        Some(p) if p < SMALLEST_P => {
            format!("p is below {SMALLEST_P} for a true ratio of {ratio_null}")
        }
        Some(p) => format!("p = {p:.3} for a true ratio of {ratio_null}"),
    };
    format!(
        "{p}, by {}. {} of {} used hold a count above zero; the others say nothing about the ratio.",
        estimator_words(result.estimator),
        result.informative,
        number_of(result.sites, "site")
    )
}

fn estimator_words(estimator: Estimator) -> &'static str {
    match estimator {
        Estimator::Flip => "sign flips (flip)",
        Estimator::BetaBinomial => "a beta-binomial likelihood (beta-binomial)",
        Estimator::Mixed => "a mixed model of counts (mixed)",
        Estimator::SignedRank => "Wilcoxon's signed ranks (signed-rank)",
        Estimator::LogRatioT => "a paired t test of log ratios (log-ratio-t)",
    }
}

fn correction(
    lines: &mut Vec<String>,
    analysis: &Analysis,
    exchange: &Exchange,
    corrected: &[Corrected],
) {
    heading(lines, "Corrected for larvae that changed sides");
    for (result, corrected) in analysis.results.iter().zip(corrected) {
        let whose = if analysis.results.len() > 1 {
            format!(" ({})", result.estimator)
        } else {
            String::new()
        };
        lines.push(wrapped(
            &format!("Home ratio{whose} {}.", corrected_words(corrected)),
            0,
        ));
    }
    let [treated, other] = analysis.question.comparison.sides();
    let place = exchange
        .gap_m
        .map_or_else(String::new, |gap| format!(", gap {}", length(gap)));
    lines.push(wrapped(
        &format!(
            "Exchange in {} simulated seasons of {}{place}: of those laid on the {treated}, {} stand on the {other}; \
             of those laid on the {other}, {} stand on the {treated}. Stray share of the {treated} {}, of the {other} {}.",
            exchange.seasons,
            exchange.scenario,
            measured_percent(&exchange.moved_shares[0]),
            measured_percent(&exchange.moved_shares[1]),
            measured_percent(&exchange.stray_shares[0]),
            measured_percent(&exchange.stray_shares[1]),
        ),
        0,
    ));
    lines.push(wrapped(&assumption(analysis, exchange), 0));
    let without = corrected
        .first()
        .map_or(0.0, |corrected| corrected.sets_without_answer);
    if without > 0.0 {
        lines.push(wrapped(
            &format!(
                "In {} of the parameter sets so many larvae change sides that no ratio could be corrected: these are \
                 not in the interval, which is too narrow.",
                percent(without)
            ),
            0,
        ));
    }
}

fn corrected_words(corrected: &Corrected) -> String {
    let interval = |interval: CorrectedInterval| ends(interval.low, interval.high);
    let mut text = corrected.home_ratio.map_or_else(
        || "without a value: the ratio is as far from 1 as this exchange allows".to_owned(),
        figures,
    );
    if let Some(fixed) = corrected.interval {
        text += &format!(", 95 % interval {}", interval(fixed));
    }
    if let Some(sets) = corrected.over_sets {
        text += &format!(", over plausible parameter sets as well {}", interval(sets));
    }
    text
}

fn assumption(analysis: &Analysis, exchange: &Exchange) -> String {
    let apart = match analysis.question.comparison {
        Comparison::Patches => "gap, patch sizes and ground",
        Comparison::Halves => "patch size and refuge share",
    };
    let sets = if exchange.sets.is_empty() {
        "Its interval does not hold the doubt about the walking; --uncertain 200 adds it."
            .to_owned()
    } else {
        format!(
            "{} plausible parameter sets of {} seasons each stand for the doubt about the walking.",
            exchange.sets.len(),
            exchange.seasons_per_set
        )
    };
    format!(
        "Assumed: larvae walk as in the scenario, the exchange is the same at all sites ({apart} as in the scenario), \
         and a larva is found as easily on one side as on the other. {sets}"
    )
}
