//! How the answer comes about: pools, curves, and the questions beside the main one.

use super::closed::closed_form;
use super::effects::{Pilot, pooled_ratio};
use super::example::{ExampleStudy, example};
use super::kinds::{KindsAnswer, kinds_power};
use super::pool::{Comparison, SiteSeason, site_seasons};
use super::power::{POWERS, StudyPlan, power_curve};
use super::sites::{Effect, Sites};
use super::siting::SitingPoint;
use super::{EffectAnswer, FalseEffect, RecruitAnswer, RecruitQuestion, SIDE_RATIO, siting};
use crate::runner::Runner;
use crate::scenario::{LayoutKind, Scenario};
use crate::stats::paired::PairedSite;
use crate::study::{StudyError, every, known};
use crate::trouble::Trouble;

/// Answers the recruitment question.
///
/// # Errors
/// When the scenario is no pair, the question makes no sense, or the run is stopped.
pub fn answer(
    scenario: &Scenario,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<RecruitAnswer, StudyError> {
    question.check()?;
    let sites = Sites::of(scenario)?;
    let (untouched, pilot) = groundwork(&sites, question, runner)?;
    let (wanted, unreachable) = wanted_effects(scenario, question, &pilot);
    // In a shard, what comes later may do its share although something before it waits for other shards.
    let false_effects = known(false_effects(scenario, &sites, &pilot, question, runner))?;
    let pools = known(every(wanted.iter().map(|(_, _, effect)| {
        site_seasons(&sites, *effect, 0..question.pool, runner)
    })))?;
    let nothing = ("no effect".to_owned(), None, Effect::Nothing);
    let first = known(effect_answer(nothing, &untouched, &sites, question, runner))?;
    let mut pools = pools.ok_or(StudyError::Elsewhere)?;
    let others = known(every(wanted.into_iter().zip(&pools).map(
        |(wanted, pool)| effect_answer(wanted, pool, &sites, question, runner),
    )))?;
    pools.insert(0, untouched);
    let kinds = known(kinds_of(scenario, &pools, question, runner))?;
    let side = nearest(&pools);
    let effect = others
        .as_ref()
        .and_then(|all| Some(all.get(side.checked_sub(1)?)?.effect));
    let siting = match effect {
        Some(effect) => known(side_siting(scenario, effect, question, runner))?,
        None => Some(Vec::new()),
    };
    let (Some(first), Some(others), Some(kinds), Some(siting), Some(false_effects)) =
        (first, others, kinds, siting, false_effects)
    else {
        return Err(StudyError::Elsewhere);
    };
    let effects = [vec![first], others].concat();
    let example = match effects.get(side).filter(|_| side > 0) {
        Some(chosen) => Some(example_study(chosen, &pools[side], question, runner.seed)?),
        None => None,
    };
    Ok(RecruitAnswer {
        question: question.clone(),
        unreachable,
        kinds,
        false_effects,
        pilot,
        siting,
        side,
        example,
        share_meeting_rule: sites.share_meeting_rule,
        effects,
    })
}

/// What all else rests on: the sites with nothing done to any, and home ratios over a range of attractions.
pub(super) fn groundwork(
    sites: &Sites,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<(Vec<SiteSeason>, Pilot), StudyError> {
    let untouched = known(site_seasons(
        sites,
        Effect::Nothing,
        0..question.pool,
        runner,
    ))?;
    let pilot_seasons = question.pilot_seasons().max(1);
    let pilot = Pilot::run(sites, pilot_seasons, runner)?;
    let untouched = untouched.ok_or(StudyError::Elsewhere)?;
    let pilot = pilot.scaled(share_of_luck(&untouched, pilot_seasons as usize));
    Ok((untouched, pilot))
}

fn side_siting(
    scenario: &Scenario,
    effect: Effect,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<SitingPoint>, StudyError> {
    let plan = StudyPlan {
        fresh: false,
        ..question.plan(false)
    };
    siting::siting(scenario, effect, question.side_seasons(), &plan, runner)
}

/// Home ratio of a whole pool over that of its first sites, where nothing was done to any: luck of the draw.
fn share_of_luck(pool: &[SiteSeason], first: usize) -> f64 {
    let ratio = |sites| pooled_ratio(sites, Comparison::Home).map(|ratio| ratio.value);
    match (ratio(pool), ratio(&pool[..first.min(pool.len())])) {
        (Some(all), Some(few)) => all / few,
        _ => 1.0,
    }
}

/// An effect before it is answered: name, home ratio asked for, what is done.
pub(super) type Wanted = (String, Option<f64>, Effect);

pub(super) fn wanted_effects(
    scenario: &Scenario,
    question: &RecruitQuestion,
    pilot: &Pilot,
) -> (Vec<Wanted>, Vec<f64>) {
    let factor = scenario.numbers.recruitment.second_kind_factor;
    let mut wanted = Vec::new();
    let mut unreachable = Vec::new();
    for ratio in &question.ratios {
        let both = (pilot.for_pair(*ratio), pilot.for_pair(ratio * factor));
        if let (Some(first), Some(second)) = both {
            let effect = Effect::Attraction(first, second);
            wanted.push((format!("ratio {ratio}"), Some(*ratio), effect));
        } else {
            unreachable.push(*ratio);
        }
    }
    for attraction in &question.attractions {
        let effect = Effect::Attraction(*attraction, *attraction);
        wanted.push((format!("attraction {attraction}"), None, effect));
    }
    (wanted, unreachable)
}

fn effect_answer(
    (name, asked, effect): Wanted,
    pool: &[SiteSeason],
    sites: &Sites,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<EffectAnswer, StudyError> {
    let null = effect == Effect::Nothing;
    let halves = sites.scenario().layout == LayoutKind::PairHalfCut && !null;
    let plan = question.plan(null && sites.coin_decides() && !question.fresh);
    let mut comparisons = vec![
        Comparison::Late,
        Comparison::LateOfStayers,
        Comparison::LateIfStaying,
        Comparison::Eggs,
    ];
    if halves {
        comparisons.extend([Comparison::Halves, Comparison::HalvesEggs]);
    }
    let curves = every(comparisons.into_iter().map(|comparison| {
        let pairs = pairs_of(pool, comparison);
        Ok((comparison, power_curve(&pairs, &plan, runner)?))
    }))?;
    let late = pairs_of(pool, Comparison::Late);
    let number = late.len().max(1) as f64;
    let by_halves = |comparison| {
        if halves {
            pooled_ratio(pool, comparison)
        } else {
            None
        }
    };
    Ok(EffectAnswer {
        name,
        asked,
        effect,
        home: pooled_ratio(pool, Comparison::Home),
        standing: pooled_ratio(pool, Comparison::Standing),
        counted: pooled_ratio(pool, Comparison::Late),
        eggs: pooled_ratio(pool, Comparison::Eggs),
        halves: [
            by_halves(Comparison::HalvesHome),
            by_halves(Comparison::HalvesStanding),
            by_halves(Comparison::Halves),
        ],
        informative: late.iter().filter(|site| site.is_informative()).count() as f64 / number,
        late_per_patch: late
            .iter()
            .map(|site| f64::from(site.untouched))
            .sum::<f64>()
            / number,
        curves,
        closed: if null {
            None
        } else {
            closed_form(&late, POWERS)
        },
    })
}

pub(super) fn pairs_of(pool: &[SiteSeason], comparison: Comparison) -> Vec<PairedSite> {
    pool.iter().map(|site| site.pair(comparison)).collect()
}

/// Index of the pool whose home ratio is nearest to [`SIDE_RATIO`]; 0 when there is none but that of no effect.
fn nearest(pools: &[Vec<SiteSeason>]) -> usize {
    let distances: Vec<f64> = pools
        .iter()
        .map(|pool| {
            pooled_ratio(pool, Comparison::Home)
                .map_or(f64::INFINITY, |home| (home.value / SIDE_RATIO).ln().abs())
        })
        .collect();
    (1..pools.len())
        .min_by(|a, b| distances[*a].total_cmp(&distances[*b]))
        .unwrap_or(0)
}

fn kinds_of(
    scenario: &Scenario,
    pools: &[Vec<SiteSeason>],
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<KindsAnswer>, StudyError> {
    let numbers = &scenario.numbers.recruitment;
    let plan = StudyPlan {
        fresh: false,
        ..question.plan(false)
    };
    let share = numbers.second_kind_share;
    if pools.len() < 2 || share <= 0.0 || share >= 1.0 {
        return Ok(Vec::new());
    }
    let pairs: Vec<(usize, usize)> = if numbers.second_kind_factor == 1.0 {
        // No difference is built in: the same effect in both kinds gives the false positives, and the smallest
        // effect in one kind with the largest in the other gives the power.
        let last = pools.len() - 1;
        if last > 1 {
            vec![(1, 1), (1, last)]
        } else {
            vec![(1, 1)]
        }
    } else {
        (1..pools.len()).map(|index| (index, index)).collect()
    };
    every(pairs.into_iter().map(|(first, second)| {
        let of = |index: usize, kind: bool| {
            let kept: Vec<_> = pools[index]
                .iter()
                .filter(|s| s.second_kind == kind)
                .copied()
                .collect();
            pooled_ratio(&kept, Comparison::Home).map(|ratio| ratio.value)
        };
        let ratios = [of(first, false), of(second, true)];
        kinds_power([&pools[first], &pools[second]], ratios, &plan, runner)
    }))
}

fn false_effects(
    scenario: &Scenario,
    sites: &Sites,
    pilot: &Pilot,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<FalseEffect>, StudyError> {
    let mut wanted = vec![(
        Comparison::Late,
        [Comparison::Home, Comparison::Standing, Comparison::Late],
        pilot.for_pair(1.0),
    )];
    if scenario.layout == LayoutKind::PairHalfCut {
        wanted.push((
            Comparison::Halves,
            [
                Comparison::HalvesHome,
                Comparison::HalvesStanding,
                Comparison::Halves,
            ],
            pilot.for_halves(1.0),
        ));
    }
    let plan = StudyPlan {
        fresh: false,
        ..question.plan(false)
    };
    let possible = wanted
        .into_iter()
        .filter_map(|(comparison, ratios, attraction)| Some((comparison, ratios, attraction?)));
    every(possible.map(|(comparison, ratios, attraction)| {
        let effect = Effect::Attraction(attraction, attraction);
        let pool = site_seasons(sites, effect, 0..question.side_seasons(), runner)?;
        Ok(FalseEffect {
            comparison,
            attraction,
            ratios: ratios.map(|which| pooled_ratio(&pool, which)),
            curve: power_curve(&pairs_of(&pool, comparison), &plan, runner)?,
        })
    }))
}

/// Sites of the example study when no number was enough: few enough to be drawn.
const EXAMPLE_SITES: usize = 40;

fn example_study(
    effect: &EffectAnswer,
    pool: &[SiteSeason],
    question: &RecruitQuestion,
    seed: u64,
) -> Result<ExampleStudy, Trouble> {
    let size = effect
        .sites_needed()
        .unwrap_or(EXAMPLE_SITES)
        .min(pool.len());
    let pairs = pairs_of(pool, Comparison::Late);
    let home = effect.home.map(|home| home.value);
    example(
        &pairs,
        size,
        (effect.name.clone(), home),
        &question.plan(false),
        seed,
    )
}
