//! Sites needed over plausible parameter sets: the same question with less effort, asked of each set.
//!
//! Each set has a pool, a pilot and studies of its own, all smaller than those of the central values, at the same sites
//! and with the same studies drawn from them. What so small a pool leaves open widens the band; the central values
//! answered with the same small effort tell by how much at most.

use super::answers::{Wanted, groundwork, pairs_of, wanted_effects};
use super::pool::{Comparison, site_seasons};
use super::power::{POWERS, power_curve};
use super::sites::Sites;
use super::{RecruitQuestion, whole_sites};
use crate::runner::Runner;
use crate::scenario::{Layered, Scenario};
use crate::stats::Crossing;
use crate::study::uncertain::{self, Band};
use crate::study::{StudyError, every, known};

/// Site-seasons in the pool of each effect of a set.
const POOL: u64 = 800;
/// Studies of a set at each number of sites.
const STUDIES: usize = 300;

/// Sites needed for one effect over plausible parameter sets.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectBand {
    /// Name of the effect.
    pub name: String,
    /// Sites needed at each of [`POWERS`]: 0 where the fewest tried are more than enough, infinite where the most
    /// tried are not enough; undefined where the set cannot reach the home ratio.
    pub needed: [Band; 2],
    /// The central values, answered with the effort of a set.
    pub central: [Option<f64>; 2],
    /// Sets whose sites needed lie below the fewest and beyond the most tried, at each power.
    pub outside: [(usize, usize); 2],
}

/// Sites needed over plausible parameter sets.
#[derive(Debug, Clone, PartialEq)]
pub struct RecruitBand {
    /// Site-seasons of each effect, and studies at each number of sites, of a set.
    pub effort: (u64, usize),
    /// Effects in the order asked for.
    pub effects: Vec<EffectBand>,
}

/// Site-seasons that a number of sets takes, the central values included.
#[must_use]
pub fn seasons(question: &RecruitQuestion, sets: u64) -> u64 {
    let small = small(question);
    let effects = (1 + small.ratios.len() + small.attractions.len()) as u64;
    let pilot = super::effects::ATTRACTIONS.len() as u64 * small.pilot_seasons();
    (sets + 1) * (effects * small.pool + pilot)
}

fn small(question: &RecruitQuestion) -> RecruitQuestion {
    RecruitQuestion {
        pool: POOL.min(question.pool),
        studies: STUDIES.min(question.studies),
        fresh: false,
        ..question.clone()
    }
}

/// Asks the main question of each parameter set.
///
/// # Errors
/// When the scenario is no pair, or the run is stopped.
pub fn band(
    layered: &Layered,
    question: &RecruitQuestion,
    sets: u64,
    runner: &Runner<'_>,
) -> Result<RecruitBand, StudyError> {
    let small = small(question);
    let central = known(needs(layered, &small, runner))?;
    let found = uncertain::over_sets(layered, sets, runner, |layered, _| {
        needs(layered, &small, runner)
    })?;
    let central = central.ok_or(StudyError::Elsewhere)?;
    let effects = names(&small)
        .into_iter()
        .enumerate()
        .map(|(effect, name)| {
            let values = |power: usize| -> Vec<Option<f64>> {
                found
                    .iter()
                    .map(|(_, needs)| needs[effect].map(|needed| needed[power]))
                    .collect()
            };
            let outside = |power: usize| {
                let values = values(power);
                let count = |is: fn(f64) -> bool| {
                    values.iter().flatten().filter(|value| is(**value)).count()
                };
                (count(|value| value == 0.0), count(f64::is_infinite))
            };
            EffectBand {
                name,
                needed: [0, 1].map(|power| Band::of(&values(power))),
                central: [0, 1].map(|power| central[effect].map(|needed| needed[power])),
                outside: [0, 1].map(outside),
            }
        })
        .collect();
    Ok(RecruitBand {
        effort: (small.pool, small.studies),
        effects,
    })
}

fn names(question: &RecruitQuestion) -> Vec<String> {
    let ratios = question.ratios.iter().map(|ratio| format!("ratio {ratio}"));
    let attractions = question.attractions.iter();
    ratios
        .chain(attractions.map(|attraction| format!("attraction {attraction}")))
        .collect()
}

/// Sites needed at each power.
type Needed = [f64; POWERS.len()];

/// Sites needed for every effect of one set, in the order of [`names`]; `None` where the set cannot reach it.
fn needs(
    layered: &Layered,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<Option<Needed>>, StudyError> {
    let scenario = Scenario::from_layers(layered)?;
    let sites = Sites::of(&scenario)?;
    let (_, pilot) = groundwork(&sites, question, runner)?;
    let (wanted, _) = wanted_effects(&scenario, question, &pilot);
    every(names(question).into_iter().map(|name| {
        let Some((_, _, effect)) = wanted.iter().find(|wanted: &&Wanted| wanted.0 == name) else {
            return Ok(None);
        };
        let pool = site_seasons(&sites, *effect, 0..question.pool, runner)?;
        let pairs = pairs_of(&pool, Comparison::Late);
        let curve = power_curve(&pairs, &question.plan(false), runner)?;
        Ok(Some(std::array::from_fn(|power| {
            let report = &curve.needed[power];
            match report.crossing {
                Some(Crossing::At(sites)) => {
                    whole_sites(report).map_or(sites, |sites| sites as f64)
                }
                Some(Crossing::BelowGrid) => 0.0,
                Some(Crossing::NotReached) | None => f64::INFINITY,
            }
        })))
    }))
}
