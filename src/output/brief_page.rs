//! The brief as a page to print or attach: the answers of the terminal with charts, assumptions and provenance.

use super::brief_text::BriefParts;
use super::charts::Rendered;
use super::document::{Block, Figure, Table, page};
use crate::scenario::Listed;
use crate::scenario::data::sha256;
use crate::scenario::given::Standing;
use crate::study::yields::YieldAnswer;

/// Charts of a brief; those of answers that are not there are `None`.
#[derive(Debug, Default)]
pub struct BriefCharts {
    /// Stray share against gap.
    pub gap: Option<Rendered>,
    /// Counts by half and natal half against refuge share.
    pub refuge: Option<Rendered>,
    /// Net yield against attraction.
    pub yields: Option<Rendered>,
    /// Map of one season.
    pub map: Option<Rendered>,
}

/// How the brief came about.
#[derive(Debug, Clone, Copy)]
pub struct Origin<'a> {
    /// Master seed.
    pub seed: u64,
    /// The complete scenario as RON text.
    pub ron: &'a str,
    /// What was typed after the program's name.
    pub arguments: &'a [String],
}

/// Standings in the order in which they matter to a reader: what nobody has measured first.
const STANDINGS: [(Standing, &str); 6] = [
    (Standing::Assumed, "Guesses: no source was found"),
    (Standing::Practice, "Common practice, no source"),
    (Standing::FromMemory, "Published, quoted from memory"),
    (
        Standing::Derived,
        "Derived by arithmetic from published values",
    ),
    (Standing::Published, "Published"),
    (Standing::Chosen, "Chosen by the designer of the study"),
];

/// The page.
#[must_use]
pub fn brief_page(
    parts: &BriefParts,
    charts: &BriefCharts,
    yields: Option<&YieldAnswer>,
    listed: &[Listed],
    origin: &Origin<'_>,
) -> String {
    let mut blocks = parts.opening.clone();
    blocks.extend_from_slice(&parts.gap);
    figure(&mut blocks, charts.gap.as_ref(), NUMBERS_ABOVE);
    blocks.extend_from_slice(&parts.refuge);
    figure(&mut blocks, charts.refuge.as_ref(), NUMBERS_ABOVE);
    blocks.extend_from_slice(&parts.own);
    blocks.extend_from_slice(&parts.yields);
    blocks.extend(yields.map(yield_table));
    figure(&mut blocks, charts.yields.as_ref(), NUMBERS_ABOVE);
    if charts.map.is_some() {
        blocks.push(Block::Heading("What one season looks like".to_owned()));
        figure(
            &mut blocks,
            charts.map.as_ref(),
            "One season of many, drawn to be looked at; no answer rests on it alone.",
        );
    }
    blocks.extend_from_slice(&parts.people);
    blocks.extend_from_slice(&parts.assumed);
    for (standing, words) in STANDINGS {
        assumptions(&mut blocks, standing, words, listed);
    }
    blocks.extend_from_slice(&parts.cautions);
    blocks.extend(provenance_blocks(origin));
    page(&blocks)
}

const NUMBERS_ABOVE: &str = "The table above holds the numbers.";

/// A chart with its finding and the meaning of its signs in words below it.
fn figure(blocks: &mut Vec<Block>, chart: Option<&Rendered>, where_else: &str) {
    let Some(chart) = chart else { return };
    blocks.push(Block::Figure(Figure {
        svg: chart.svg.clone(),
        words: format!("Chart: {}. {} {where_else}", chart.title, chart.note),
    }));
}

fn yield_table(answer: &YieldAnswer) -> Block {
    let rows = answer.attractions.iter().zip(&answer.yields);
    Block::Table(Table {
        header: vec![
            "attraction at its peak".to_owned(),
            "net yield".to_owned(),
            "95 % interval".to_owned(),
        ],
        rows: rows
            .map(|(attraction, measured)| {
                let undefined = || "undefined".to_owned();
                let value = |value: f64| format!("{value:.2}");
                let interval = |(low, high): (f64, f64)| format!("{low:.2} to {high:.2}");
                vec![
                    attraction.to_string(),
                    measured.value.map_or_else(undefined, value),
                    measured.interval.map_or_else(undefined, interval),
                ]
            })
            .collect(),
        caption: format!(
            "with the central numbers; {} seasons at each attraction",
            answer.seasons
        ),
    })
}

fn assumptions(blocks: &mut Vec<Block>, standing: Standing, words: &str, listed: &[Listed]) {
    let numbers: Vec<&Listed> = listed
        .iter()
        .filter(|number| number.standing == standing)
        .collect();
    if numbers.is_empty() {
        return;
    }
    blocks.push(Block::Subheading(format!("{words} ({})", numbers.len())));
    let with_unit = |text: String, unit: &str| {
        if unit.is_empty() {
            text
        } else {
            format!("{text} {unit}")
        }
    };
    let header = ["number", "value", "plausible range", "meaning", "source"];
    blocks.push(Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows: numbers
            .into_iter()
            .map(|number| {
                let range = number.range.map(|(low, high)| format!("{low} to {high}"));
                vec![
                    number.path.clone(),
                    with_unit(number.value.to_string(), number.unit),
                    range.unwrap_or_else(|| "none stated".to_owned()),
                    number.meaning.to_owned(),
                    number.source.clone(),
                ]
            })
            .collect(),
        caption: String::new(),
    }));
}

fn provenance_blocks(origin: &Origin<'_>) -> Vec<Block> {
    vec![
        Block::Heading("How this came about".to_owned()),
        Block::List(vec![
            format!(
                "Program: {} {}.",
                env!("CARGO_PKG_NAME"),
                env!("CARGO_PKG_VERSION")
            ),
            format!(
                "Command: {} {}",
                env!("CARGO_PKG_NAME"),
                origin.arguments.join(" ")
            ),
            format!(
                "Seed: {}. The same seed and scenario give the same numbers.",
                origin.seed
            ),
            format!(
                "Digest of the scenario (SHA-256): {}",
                sha256(origin.ron.as_bytes())
            ),
        ]),
        Block::Verbatim(
            "The complete scenario, as it was run".to_owned(),
            origin.ron.to_owned(),
        ),
    ]
}
