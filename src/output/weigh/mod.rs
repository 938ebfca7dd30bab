//! Which unknown matters most: table, chart and words.

mod columns;
mod tables;
mod text;

pub use columns::WEIGH;
pub use tables::weigh as table;
pub use text::{driver, weigh as text};

use super::charts::{self, Estimate, Rendered, SharesChart, SharesPanel, SharesRow};
use super::words::length;
use crate::scenario::given::Standing;
use crate::stats::ResampledEstimate;
use crate::study::weigh::{Quantity, WeighAnswer, Weighed};
use crate::trouble::Trouble;

/// A quantity in words, as a heading.
pub(super) fn words(quantity: Quantity) -> String {
    match quantity {
        Quantity::StraysNear { gap_m } => format!(
            "Stray share at {}, the clear gap of the central values",
            length(gap_m)
        ),
        Quantity::Strays => "Stray share at this scenario's gap".to_owned(),
        Quantity::HalfDrift => "Half drift".to_owned(),
        Quantity::NetYield => "Net yield".to_owned(),
    }
}

/// One line of a ranking: an unknown, or all those without a share of their own.
pub(super) struct Line<'a> {
    /// Index among the parameters; `None` is all others together.
    pub parameter: Option<usize>,
    pub first: &'a ResampledEstimate,
    pub total: &'a ResampledEstimate,
}

impl Line<'_> {
    fn size(&self) -> f64 {
        self.total.value.unwrap_or(f64::NEG_INFINITY)
    }
}

/// Lines of a quantity, strongest first; all others together come last.
pub(super) fn lines<'a>(answer: &WeighAnswer, weighed: &'a Weighed) -> Vec<Line<'a>> {
    let shares = weighed.shares.first.iter().zip(&weighed.shares.total);
    let mut lines: Vec<Line<'a>> = shares
        .enumerate()
        .map(|(at, (first, total))| Line {
            parameter: answer.kept.get(at).copied(),
            first,
            total,
        })
        .collect();
    lines.sort_by(|a, b| {
        let last = a.parameter.is_none().cmp(&b.parameter.is_none());
        last.then(b.size().total_cmp(&a.size()))
    });
    lines
}

/// Whether a line is a guess with no source.
pub(super) fn is_guess(answer: &WeighAnswer, line: &Line<'_>) -> bool {
    line.parameter
        .is_some_and(|index| answer.parameters[index].standing == Standing::Assumed)
}

pub(super) fn others_name(answer: &WeighAnswer) -> String {
    format!("the other {} together", answer.others)
}

fn drawn(share: &ResampledEstimate) -> Option<Estimate> {
    let value = share.value?;
    let (low, high) = share.estimate.map_or((value, value), |e| (e.low, e.high));
    Some(Estimate { value, low, high })
}

/// Unknowns drawn for each quantity, besides the others and noise.
const DRAWN: usize = 5;

/// Bars of the strongest unknowns of every quantity.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn chart(answer: &WeighAnswer) -> Result<Rendered, Trouble> {
    let panels = answer.weighed.iter().map(|weighed| {
        let row = |name: String, alone, together, noise| SharesRow {
            name,
            alone,
            together,
            noise,
        };
        let lines = lines(answer, weighed);
        let named = lines.iter().filter(|line| line.parameter.is_some());
        let mut rows: Vec<SharesRow> = named
            .take(DRAWN)
            .chain(lines.iter().filter(|line| line.parameter.is_none()))
            .map(|line| {
                let name = match line.parameter {
                    Some(index) => answer.parameters[index].path.clone(),
                    None => others_name(answer),
                };
                row(name, drawn(line.first), drawn(line.total), false)
            })
            .collect();
        let noise = drawn(&weighed.shares.noise);
        rows.push(row("noise of the seasons".to_owned(), None, noise, true));
        SharesPanel {
            name: words(weighed.quantity),
            rows,
        }
    });
    Ok(charts::shares_chart(&SharesChart {
        title: title(answer),
        note: format!(
            "Shares of the variance over plausible parameter sets (shares as angles, ratios as logarithms), with 95 % bootstrap intervals over {} rows of sets. Noise: its part in what the sets show; it is taken out of the shares above it.",
            answer.question.rows
        ),
        names: [
            "the unknown alone".to_owned(),
            "with all that it takes part in".to_owned(),
        ],
        x_label: String::new(),
        panels: panels.collect(),
    })?)
}

fn title(answer: &WeighAnswer) -> String {
    let plain = || "Which unknown matters most".to_owned();
    let Some(weighed) = answer.weighed.first() else {
        return plain();
    };
    let what = match weighed.quantity {
        Quantity::StraysNear { .. } => "the stray share near the clear gap",
        Quantity::Strays => "the stray share",
        Quantity::HalfDrift => "half drift",
        Quantity::NetYield => "net yield",
    };
    let lines = lines(answer, weighed);
    let path = |line: &Line<'_>| Some(answer.parameters[line.parameter?].path.as_str());
    match lines.as_slice() {
        [first, second, ..] if overlap(first, second) => match (path(first), path(second)) {
            (Some(first), Some(second)) => {
                format!("Of all unknowns, {first} and {second} move {what} most")
            }
            _ => plain(),
        },
        [first, ..] => path(first).map_or_else(plain, |first| {
            format!("Of all unknowns, {first} moves {what} most")
        }),
        [] => plain(),
    }
}

/// Whether it is not settled which of two lines is the larger.
pub(super) fn overlap(first: &Line<'_>, second: &Line<'_>) -> bool {
    match (first.total.estimate, second.total.estimate) {
        (Some(first), Some(second)) => second.high >= first.low,
        _ => true,
    }
}
