//! Every number of a scenario with unit, range, standing and source.

use super::Scenario;
use super::draft::Leaf;
use super::given::{Dimension, Standing};

/// A number as `check` lists it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Listed {
    /// Dotted path.
    pub path: String,
    /// Value, in `unit`.
    pub value: f64,
    /// Unit; empty for a pure number.
    pub unit: &'static str,
    /// Plausible range, when stated.
    pub range: Option<(f64, f64)>,
    /// Standing; a bare number is the scenario's own choice.
    pub standing: Standing,
    /// Source; may be empty.
    pub source: String,
    /// What it means.
    pub meaning: &'static str,
}

/// All numbers of a checked scenario, in the order of the schema.
#[must_use]
pub fn listed(scenario: &Scenario) -> Vec<Listed> {
    let mut list = Vec::new();
    let mut draft = scenario.draft.clone();
    draft.visit("", &mut |leaf: Leaf<'_>| {
        let Some(given) = leaf.given.as_ref() else {
            return;
        };
        let Some(value) = given.value.in_unit(Dimension::of_unit(leaf.meaning.unit)) else {
            return;
        };
        list.push(Listed {
            path: leaf.path,
            value,
            unit: leaf.meaning.unit,
            range: given.range,
            standing: given.standing.unwrap_or(Standing::Chosen),
            source: given.source.clone().unwrap_or_default().replace('\n', " "),
            meaning: leaf.meaning.words,
        });
    });
    list
}
