//! Words for the terminal: numbers people can say, lines that fit into 80 columns.

use crate::study::measures::Measured;

/// Columns that text keeps to.
pub const COLUMNS: usize = 80;

/// Metres in a yard.
const METRES_PER_YARD: f64 = 0.9144;

/// Cautions that stand in every brief.
pub const CAUTIONS: [&str; 5] = [
    "The sap and latex of host plants irritate skin and eyes: wear gloves and eye protection, wash hands.",
    "Cutting tools injure: minors need an adult with them.",
    "Ask the owner of the land first.",
    "Permits and the law on protected species, mowing dates and noxious weeds are local: local rules and licensed practice come first.",
    "This is planning evidence, not permission.",
];

/// What to do where nothing was counted.
pub const LOOK_AT: &str = "Look at laying.eggs_per_stem_week, laying.flight, the survival of the stages, the dates and the stems \
    (`crawlspan check` lists them), or run more seasons.";

/// Wraps text to the terminal, with an indent.
#[must_use]
pub fn wrapped(text: &str, indent: usize) -> String {
    let space = " ".repeat(indent);
    let options = textwrap::Options::new(COLUMNS)
        .initial_indent(&space)
        .subsequent_indent(&space)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    textwrap::fill(text, options).replace(NO_BREAK, " ")
}

/// Wraps text to the terminal with all lines but the first indented.
#[must_use]
pub fn hanging(text: &str, indent: usize) -> String {
    let space = " ".repeat(indent);
    let options = textwrap::Options::new(COLUMNS)
        .subsequent_indent(&space)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::fill(text, options).replace(NO_BREAK, " ")
}

/// Keeps a number and its unit on one line; a plain space once lines are wrapped.
pub(super) const NO_BREAK: char = '\u{a0}';

/// A share in percent with three figures at most.
#[must_use]
pub fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    if percent != 0.0 && percent.abs() < 1.0 {
        format!("{percent:.2}{NO_BREAK}%")
    } else {
        format!("{percent:.1}{NO_BREAK}%")
    }
}

/// A length in metres and yards.
#[must_use]
pub fn length(metres: f64) -> String {
    format!("{metres:.1} m ({:.1} yd)", metres / METRES_PER_YARD)
}

pub(super) fn measured_percent(measured: &Measured) -> String {
    match (measured.value, measured.interval) {
        (None, _) => "undefined: nothing was counted".to_owned(),
        (Some(value), None) => percent(value),
        (Some(value), Some((low, high))) => {
            format!(
                "{} (95 % interval {} to {})",
                percent(value),
                percent(low),
                percent(high)
            )
        }
    }
}
