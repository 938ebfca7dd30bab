//! Net yield and break-even in words.

use super::bands;
use super::document::Block;
use super::text::say;
use super::words::{LOOK_AT, measured_ratio};
use crate::stats::Crossing;
use crate::study::measures::Measured;
use crate::study::uncertain::Band;
use crate::study::yields::{YieldAnswer, YieldBand};

fn break_even(answer: &YieldAnswer) -> String {
    let report = &answer.break_even;
    let (first, last) = (
        answer.attractions.first().copied().unwrap_or(0.0),
        answer.attractions.last().copied().unwrap_or(0.0),
    );
    let value = match report.crossing {
        Some(Crossing::At(ratio)) => format!("{ratio:.2}"),
        Some(Crossing::BelowGrid) => format!("below {first}, the smallest tried"),
        Some(Crossing::NotReached) => format!("not reached up to {last}, the largest tried"),
        None => format!(
            "undefined: too few larvae reached pupation, or one side has no stems, in {} seasons at each attraction",
            answer.seasons
        ),
    };
    match report.interval {
        None => value,
        Some(interval) => format!(
            "{value}, 95 % interval {} to {}",
            interval
                .low
                .map_or_else(|| format!("below {first}"), |low| format!("{low:.2}")),
            interval
                .high
                .map_or_else(|| format!("beyond {last}"), |high| format!("{high:.2}"))
        ),
    }
}

/// Appends what cutting does on balance: the scenario's own net yield, and the break-even, with their bands.
pub(super) fn yields(
    answer: &YieldAnswer,
    own: Option<Measured>,
    (own_band, band): (Option<Band>, Option<&YieldBand>),
    (treated, untouched): (&str, &str),
    blocks: &mut Vec<Block>,
) {
    blocks.push(Block::Heading("Does cutting do net good?".to_owned()));
    if let Some(own) = own.filter(|own| own.value.is_none()) {
        let text = format!(
            "Net yield, larvae that reach pupation per stem of the {treated} for one of the {untouched}: {}.",
            measured_ratio(&own)
        );
        say(blocks, text);
    } else if let Some(own) = own {
        say(
            blocks,
            format!(
                "Net yield: {} larvae reach pupation per stem of the {treated} for one of the {untouched}, what the cutting destroyed included; above 1 cutting does net good, below 1 net harm.",
                measured_ratio(&own)
            ),
        );
    }
    if let Some(band) = own_band {
        say(
            blocks,
            bands::sentence(&band, |value| format!("{value:.2}")),
        );
    }
    say(
        blocks,
        format!(
            "Break-even: cutting does no net harm once a fresh stem at its peak draws this many times the eggs of a mature stem: {}.",
            break_even(answer)
        ),
    );
    if answer.break_even.crossing.is_none() {
        say(blocks, LOOK_AT);
    }
    if let Some(band) = band {
        let (first, last) = (answer.attractions.first(), answer.attractions.last());
        let show = |value: f64| match (first, last) {
            (Some(first), _) if value <= 0.0 => format!("below {first}"),
            (_, Some(last)) if value.is_infinite() => format!("beyond {last}"),
            _ => format!("{value:.2}"),
        };
        say(blocks, bands::sentence(&band.break_even, show));
    }
}
