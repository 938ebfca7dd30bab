//! The scenario as a description of the model, in the seven elements of the ODD protocol (Grimm et al. 2020).
//!
//! Every number stands in the table of the submodel that uses it, taken from the scenario as it was resolved; a number
//! that no submodel names is listed at the end under a heading of its own, which a test keeps empty.

pub mod elements;
mod larva;
mod place;
mod state;
mod study;

use super::document::{Block, Table};
use super::provenance::Program;
use crate::plan::Plan;
use crate::scenario::data::{DataFile, sha256};
use crate::scenario::given::Standing;
use crate::scenario::{LayoutKind, Listed, Outline, StemPlacement, Temperatures, listed};
use crate::trouble::Outcome;

/// What a description is made from.
#[derive(Debug, Clone, Copy)]
pub struct Model<'a> {
    /// The scenario, ready.
    pub plan: &'a Plan,
    /// The data files that it names.
    pub files: &'a [DataFile],
    /// Whether release and revision of the program are told; without them the text depends on the scenario alone.
    pub with_program: bool,
}

/// A part of the model with the numbers that it uses.
struct Submodel {
    heading: &'static str,
    words: fn(&Model<'_>) -> Vec<Block>,
    /// Paths of numbers and their symbols; a number by stages is named once.
    symbols: &'static [(&'static str, &'static str)],
}

impl Submodel {
    /// Symbol of a number that it uses.
    fn symbol(&self, path: &str) -> Option<&'static str> {
        let of = |named: &str| {
            let rest = path.strip_prefix(named)?;
            (rest.is_empty() || rest.starts_with('.')).then_some(())
        };
        let found = self.symbols.iter().find(|(named, _)| of(named).is_some());
        found.map(|(_, symbol)| *symbol)
    }
}

fn submodels() -> impl Iterator<Item = &'static Submodel> {
    place::SUBMODELS
        .iter()
        .chain(&larva::SUBMODELS)
        .chain(&study::SUBMODELS)
}

/// Numbers that no submodel names; none, unless a number was added without a word about it.
#[must_use]
pub fn unassigned(numbers: &[Listed]) -> Vec<&Listed> {
    let named = |number: &&Listed| submodels().all(|part| part.symbol(&number.path).is_none());
    numbers.iter().filter(named).collect()
}

/// Numbers that more than one submodel names: none.
#[must_use]
pub fn assigned_twice(numbers: &[Listed]) -> Vec<&Listed> {
    let times = |number: &Listed| {
        let naming = submodels().filter(|part| part.symbol(&number.path).is_some());
        naming.count()
    };
    numbers.iter().filter(|number| times(number) > 1).collect()
}

/// The description in blocks.
///
/// # Errors
/// When the scenario cannot be written as RON, which no checked scenario should cause.
pub fn description(model: &Model<'_>) -> Outcome<Vec<Block>> {
    let scenario = &model.plan.scenario;
    let numbers = listed(scenario);
    let mut blocks = elements::opening(model);
    blocks.push(heading("7. Submodels"));
    blocks.push(says(
        "Each submodel is given with its equations and with all of its numbers: value, plausible range, standing and \
         source. A standing says how well a number is known: published; derived from published values; from memory, \
         published but quoted without the publication at hand; common practice, with no source; assumed, with no source \
         found; chosen by the designer of the study. Logarithms are natural; z is a \
         standard normal deviate, u a uniform one in [0, 1); each is drawn anew where it stands."
            .to_owned(),
    ));
    for (index, part) in submodels().enumerate() {
        blocks.push(Block::Subheading(format!(
            "7.{} {}",
            index + 1,
            part.heading
        )));
        blocks.extend((part.words)(model));
        let own = numbers.iter().filter_map(|number| {
            let symbol = part.symbol(&number.path)?;
            Some((number, symbol))
        });
        let rows: Vec<Vec<String>> = own
            .map(|(number, symbol)| row(model, number, symbol))
            .collect();
        if !rows.is_empty() {
            blocks.push(table(rows));
        }
    }
    let left = unassigned(&numbers);
    if !left.is_empty() {
        blocks.push(Block::Subheading("Further numbers".to_owned()));
        blocks.push(table(
            left.iter().map(|number| row(model, number, "")).collect(),
        ));
    }
    blocks.push(heading("References"));
    blocks.push(Block::List(elements::references(&numbers)));
    blocks.push(heading("How this description came about"));
    blocks.push(Block::List(origin(model)?));
    Ok(blocks)
}

fn heading(text: &str) -> Block {
    Block::Heading(text.to_owned())
}

fn says(text: String) -> Block {
    Block::Paragraph(text)
}

fn table(rows: Vec<Vec<String>>) -> Block {
    let header = [
        "number",
        "symbol",
        "value",
        "plausible range",
        "standing",
        "meaning",
        "source",
    ];
    Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows,
        caption: String::new(),
    })
}

fn row(model: &Model<'_>, number: &Listed, symbol: &str) -> Vec<String> {
    let unit = if number.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", number.unit)
    };
    let range = number.range.map(|(low, high)| format!("{low} to {high}"));
    let idle = idle(model, &number.path).map_or_else(String::new, |why| format!(" ({why})"));
    vec![
        number.path.clone(),
        symbol.to_owned(),
        format!("{}{unit}", number.value),
        range.unwrap_or_else(|| "none stated".to_owned()),
        number.standing.word().to_owned(),
        format!("{}{idle}", number.meaning),
        if number.source.is_empty() {
            "none".to_owned()
        } else {
            number.source.clone()
        },
    ]
}

/// Why a number changes nothing in this scenario, if so.
fn idle(model: &Model<'_>, path: &str) -> Option<&'static str> {
    let scenario = &model.plan.scenario;
    let by_coordinates = scenario.layout == LayoutKind::ByCoordinates;
    let one = scenario.layout == LayoutKind::OnePatchHalves;
    let constant = matches!(scenario.temperatures, Temperatures::Constant(_));
    let sine = matches!(scenario.temperatures, Temperatures::DailySine(..));
    match path {
        "weather.mean_c" if !constant => Some("not used: the temperature is not constant"),
        "weather.night_c" | "weather.day_c" if !sine => {
            Some("not used: temperatures come from elsewhere")
        }
        "site.gap_m" if one || by_coordinates => Some("not used in this layout"),
        "site.refuge_share" if scenario.layout == LayoutKind::PairWholeCut => {
            Some("not used: the treated patch is cut whole")
        }
        _ if path.starts_with("site.untouched.") && one => Some("not used: there is one patch"),
        _ if path.starts_with("site.treated.") || path.starts_with("site.untouched.") => {
            if by_coordinates {
                Some("holds for the patches of element 2 that state nothing else")
            } else {
                idle_in_patch(model, path)
            }
        }
        _ => None,
    }
}

/// Why a number of a patch of a pair, or of the only patch, changes nothing.
fn idle_in_patch(model: &Model<'_>, path: &str) -> Option<&'static str> {
    let index = usize::from(path.starts_with("site.untouched."));
    let patch = &model.plan.layout.patches.get(index)?.settings;
    let is_listed = matches!(patch.placement, StemPlacement::Fixed(_));
    let is_polygon = matches!(patch.outline, Outline::Polygon(_));
    match path.rsplit('.').next()? {
        "stems" if is_listed => Some("not used: the file of coordinates holds the stems"),
        "density_per_m2" | "aspect" if is_polygon => Some("not used: the outline is a polygon"),
        _ => None,
    }
}

fn origin(model: &Model<'_>) -> Outcome<Vec<String>> {
    let scenario = &model.plan.scenario;
    let mut lines = Vec::new();
    if model.with_program {
        let program = Program::this();
        lines.push(format!(
            "Program: {} {}, revision {}, digest of its sources {}.",
            program.program, program.version, program.revision, program.sources
        ));
        lines.push(format!("Random numbers: {}.", program.generator));
    }
    lines.push(format!(
        "Scenario: {}, digest of its complete settings (SHA-256) {}.",
        scenario.name,
        sha256(scenario.to_ron()?.as_bytes())
    ));
    let numbers = listed(scenario);
    let guesses = numbers
        .iter()
        .filter(|number| number.standing == Standing::Assumed)
        .count();
    lines.push(format!(
        "Numbers: {}, of which {guesses} are assumed with no source.",
        numbers.len()
    ));
    lines.push(
        "This text is generated from the settings that a run uses. A number that is changed changes it; words and \
         equations are those of the program that wrote it."
            .to_owned(),
    );
    Ok(lines)
}
