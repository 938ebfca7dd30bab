//! Net yield and break-even in words.

use super::document::Block;
use super::headline::{Quantity, headline, plain_ratio, within};
use super::text::say;
use super::words::LOOK_AT;
use crate::study::measures::Measured;
use crate::study::uncertain::Band;
use crate::study::yields::{YieldAnswer, YieldBand};

/// The headline of the break-even, without a full stop; for the terminal, the page and the chart alike.
pub(super) fn break_even_headline(answer: &YieldAnswer, band: Option<&YieldBand>) -> String {
    let quantity = Quantity {
        what: "Break-even attraction of fresh stems",
        show: &within(&answer.attractions, plain_ratio),
        unit: "",
    };
    let central = quantity.crossing(&answer.break_even);
    headline(&quantity, band.map(|band| &band.break_even), &central)
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
    if let Some(own) = own {
        let quantity = Quantity {
            what: "Net yield",
            show: &plain_ratio,
            unit: "",
        };
        let central = quantity.measured(&own);
        let words = headline(&quantity, own_band.as_ref(), &central);
        say(
            blocks,
            format!(
                "{words}. Net yield is how many larvae reach pupation per stem of the {treated} for one of the {untouched}, what the \
                 cutting destroyed included; above 1 cutting does net good, below 1 net harm."
            ),
        );
    }
    say(
        blocks,
        format!(
            "{}. From this attraction on, the eggs that a fresh stem at its peak draws for one of a mature stem, cutting does no \
             net harm.",
            break_even_headline(answer, band)
        ),
    );
    if answer.break_even.crossing.is_none() {
        say(
            blocks,
            format!(
                "Too few larvae reached pupation, or one side has no stems, in {} seasons at each attraction. {LOOK_AT}",
                answer.seasons
            ),
        );
    }
}
