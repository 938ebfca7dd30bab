//! Variants side by side in words and tables.

use super::heading;
use crate::output::document::{Block, Table, terminal};
use crate::output::words::CAUTIONS;
use crate::study::compare::figures::{FIGURES, Figure, Scale, Unit};
use crate::study::compare::{CompareAnswer, Figured};

/// The whole as text for the terminal.
#[must_use]
pub fn text(answer: &CompareAnswer) -> String {
    terminal(&blocks(answer))
}

/// The whole in blocks.
#[must_use]
pub fn blocks(answer: &CompareAnswer) -> Vec<Block> {
    let reference = &answer.variants[answer.against].name;
    let mut blocks = vec![Block::Title("Side by side".to_owned())];
    let named = answer.variants.iter().map(|variant| {
        let mark = if variant.name == *reference {
            " (the others are held against it)"
        } else {
            ""
        };
        format!("{}{mark}: {}", variant.name, variant.words)
    });
    blocks.push(Block::List(named.collect()));
    blocks.push(Block::Paragraph(format!(
        "{} seasons of each, the same ones: site, weather, stems and larvae are shared as far as the variants have them \
         in common. In brackets: 95 % intervals. Differences are taken season by season, so they may be clear where \
         the intervals of two values overlap.",
        answer.seasons
    )));
    for (at, figure) in FIGURES.iter().enumerate() {
        if figure.is_shown {
            measure(answer, (at, figure), &mut blocks);
        }
    }
    blocks.push(Block::Heading("How to read this".to_owned()));
    blocks.push(Block::List(vec![
        format!(
            "Power, sites and hours are for one and the same effect: {} late-stage larvae hatch on a cut stem for each one \
             on an untouched stem. Volunteers count less of it where only a part of the patch is cut, where larvae crawl from \
             half to half or from patch to patch, and where missed weeks take more from one side. `crawlspan recruit` states \
             its ratios for the whole treated patch, refuge included: what is {} on a cut stem is less there.",
            answer.study.ratio, answer.study.ratio
        ),
        "They are for sites like this one, by a formula from the counts of the simulated sites (two-sided at 5 %, normal \
         law). `crawlspan recruit` simulates whole studies over sites that differ."
            .to_owned(),
        "Where crawling takes from the ratio, more sites make a study surer of a wrong ratio: few hours are no reason to \
         choose a layout with a low attenuation or a large half drift."
            .to_owned(),
        "Attenuation is that of the scenario's own effect; near a home ratio of 1 it is noise over noise."
            .to_owned(),
        "Hours rest on the minutes under `hours` in the scenario, all of them guesses; set your own.".to_owned(),
    ]));
    blocks.push(Block::Heading("Cautions".to_owned()));
    blocks.push(Block::List(CAUTIONS.map(str::to_owned).to_vec()));
    blocks
}

fn measure(answer: &CompareAnswer, (at, figure): (usize, &Figure), blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading(heading(figure, answer)));
    blocks.push(Block::Paragraph(figure.meaning.to_owned()));
    let reference = &answer.variants[answer.against].name;
    let difference = match (figure.scale, figure.unit) {
        (Scale::Plain, Unit::Share) => "points more than",
        (Scale::Plain, _) => "more than",
        (Scale::Logarithm, _) => "as a multiple of",
    };
    let mut notes: Vec<String> = Vec::new();
    let rows = answer.variants.iter().enumerate().map(|(index, variant)| {
        let figured = &variant.figures[at];
        if !figured.note.is_empty() {
            notes.push(format!("{}: {}", variant.name, figured.note));
        }
        let against = if index == answer.against {
            String::new()
        } else {
            compared(figured, figure)
        };
        vec![variant.name.clone(), value(figured, figure), against]
    });
    let rows = rows.collect();
    blocks.push(Block::Table(Table {
        header: vec![
            String::new(),
            "\nvalue".to_owned(),
            format!("{difference}\n{reference}"),
        ],
        rows,
        caption: String::new(),
    }));
    if !notes.is_empty() {
        blocks.push(Block::List(notes));
    }
}

fn value(figured: &Figured, figure: &Figure) -> String {
    let Some(value) = figured.value.value else {
        return "undefined".to_owned();
    };
    let number = |value: f64| written(value, figure.unit);
    let ends = figured.value.interval;
    let ends = ends.map_or_else(String::new, |(low, high)| {
        format!(" ({} to {})", number(low), number(high))
    });
    let unit = if figure.unit == Unit::Share { " %" } else { "" };
    format!("{}{unit}{ends}", number(value))
}

fn compared(figured: &Figured, figure: &Figure) -> String {
    let Some(value) = figured.difference.value else {
        return "undefined".to_owned();
    };
    let number = |value: f64| match (figure.scale, figure.unit) {
        (Scale::Logarithm, _) => factor(value.exp()),
        (Scale::Plain, Unit::Share) => format!("{:+.2}", 100.0 * value),
        (Scale::Plain, Unit::Hours) => format!("{value:+.1}"),
        (Scale::Plain, _) => format!("{value:+.3}"),
    };
    let ends = figured.difference.interval;
    let ends = ends.map_or_else(String::new, |(low, high)| {
        format!(" ({} to {})", number(low), number(high))
    });
    format!("{}{ends}", number(value))
}

fn factor(value: f64) -> String {
    /// Factors from here on are written without decimals.
    const LARGE: f64 = 10.0;
    /// Beyond this a factor says no more than "very many times".
    const MOST: f64 = 1e4;
    if value >= MOST {
        format!("{MOST:.0}+")
    } else if value >= LARGE {
        format!("{value:.0}")
    } else {
        format!("{value:.2}")
    }
}

fn large(value: f64) -> String {
    /// Beyond this a number of sites or hours says no more than "very many".
    const MOST: f64 = 1e5;
    if value >= MOST {
        format!("{MOST:.0}+")
    } else {
        format!("{value:.0}")
    }
}

/// Hours from here on are written without decimals.
const WHOLE_HOURS: f64 = 100.0;

fn written(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Share => format!("{:.2}", 100.0 * value),
        Unit::Number => format!("{value:.3}"),
        Unit::Sites => large(value.ceil()),
        Unit::Hours if value >= WHOLE_HOURS => large(value),
        Unit::Hours | Unit::Larvae => format!("{value:.1}"),
    }
}
