//! Element 2: state variables in a table, and the fates in which a life ends.

use super::Model;
use crate::output::document::{Block, Table};
use crate::season::Fate;

/// One row a line: entity, variable, unit, values, when it changes.
const VARIABLES: &str = "\
site | time | step | 0 to the length of the season | every step
site | temperature, light, active hours | C, h, h | those of the step (7.1) | every step
site | effect on egg-laying S | factor | above 0, mean 1 | drawn at the start of the season (7.4)
site | effect on survival | logit | any | drawn at the start of the season (7.6)
patch | effect on egg-laying P | factor | above 0, mean 1 | drawn at the start of the season (7.4)
patch | coin for the side that is cut |  | towards, away | drawn at the start of the season (7.2)
stem | place | m | inside the outline of its patch | start of the season (7.2)
stem | patch and half |  | refuge (or not cut), cut | start of the season (7.2)
stem | condition |  | mature, stubble, fresh, eaten out | cutting, regrowth, ageing at the start of a step (7.3); eaten out at its end (7.7)
stem | times at which it turns fresh and mature | step | whole steps after cutting; never | drawn at the start of the season (7.3)
stem | leaves eaten | cm of stem | 0 to (1 - e) K and what is eaten in one step | continuously while larvae are on it (7.7); 0 when it turns fresh
stem | weight G in egg-laying | factor | above 0, mean 1 | drawn at the start of the season (7.4)
egg, larva | natal stem |  | a stem | never, once it is laid
egg, larva | state |  | on a stem, on the ground, left to pupate, ended | laid, left a stem, settled, left to pupate, ended
egg, larva | stem on which it is or last was |  | a stem | when it settles, or is moved at cutting
egg, larva | stage |  | egg, L1 to L5 | when the degree-days of the stage are done (7.5)
egg, larva | rate of development | factor | above 0, median 1 | drawn when it is laid
egg, larva | own degree-days left in the stage | C d | 0 to DD | continuously; anew with every stage (7.5)
egg, larva | budget of death |  | 0 and above | drawn when it is laid; spent continuously on stems (7.6)
egg, larva | budget of leaving |  | 0 and above | drawn when it is laid and when it settles; spent in active hours (7.8)
egg, larva | stems stood on; bouts walked | count | 1 and above; 0 and above | when it settles on another stem; when it leaves one
egg, larva | fate |  | one of six, below | once, at the end of its life
egg, larva | time of its fate | step | real | once, at the end of its life
larva on the ground | place; last stride as a vector | m | within the ground | with every whole stride (7.9)
larva on the ground | share of the next stride that is done |  | 0 to 1 | end of a step; 0 at a change of cover (7.9)
larva on the ground | budget of death on the ground |  | 0 and above | drawn when the bout begins; spent in active hours (7.9)
larva on the ground | stems that it ignores |  | a set of stems | set when the bout begins; grows with every refusal (7.9)
volunteer | surveys held |  | yes, no, by survey | drawn for the season (7.10)
volunteer | survey before which he or she drops out |  | a survey; never | drawn for the season (7.10)
volunteer | factor of the stem count, by half | factor | above 0 | drawn for the season (7.10)";

/// The table of state variables, and the fates.
pub(super) fn variables(_: &Model<'_>) -> Vec<Block> {
    let rows = VARIABLES.lines().map(|line| {
        let cells = line.split('|').map(|cell| cell.trim().to_owned());
        cells.collect()
    });
    let header = ["entity", "variable", "unit", "values", "when it changes"];
    vec![
        Block::Table(Table {
            header: header.map(str::to_owned).to_vec(),
            rows: rows.collect(),
            caption: "state variables".to_owned(),
        }),
        Block::Paragraph("Every egg that is laid ends in exactly one of six fates:".to_owned()),
        Block::List(Fate::ALL.map(fate).map(str::to_owned).to_vec()),
    ]
}

/// A fate, with the word that the tables of results have for it.
fn fate(fate: Fate) -> &'static str {
    match fate {
        Fate::DiedOnStem => "died on a stem, in the stage that it was in (died_on_stem);",
        Fate::DiedOffPlant => {
            "died off the plant: on the ground while walking, or after it had left to pupate (died_off_plant);"
        }
        Fate::Destroyed => {
            "destroyed by cutting, with the stem on which it was (destroyed_by_cutting);"
        }
        Fate::Lost => "lost: walked beyond the margin (lost_from_arena);",
        Fate::Pupated => "pupated, off the plant (pupated);",
        Fate::Alive => {
            "alive at the end of the season: still on a stem, on the ground, or not done with what is left before pupation (alive_at_end)."
        }
    }
}
