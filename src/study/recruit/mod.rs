//! How many sites must be recruited? Simulated studies made of simulated seasons.
//!
//! A site is drawn from the recruitment population, a whole larval season runs at it, and its volunteer counts. Such
//! site-seasons fill a pool for each effect; studies are drawn from the pool with replacement. Every volunteer who
//! is invited is a site, those who drop out included.

pub mod closed;
pub mod effects;
pub mod example;
pub mod kinds;
pub mod pool;
pub mod power;
pub mod sites;
pub mod siting;
pub mod what_if;

use crate::runner::Runner;
use crate::scenario::{LayoutKind, Scenario};
use crate::stats::paired::{Estimator, PairedSite};
use crate::stats::{Crossing, CrossingReport, Estimate};
use crate::study::StudyError;
use crate::trouble::Trouble;
use closed::{Closed, closed_form};
use effects::{Pilot, pooled_ratio};
use example::{ExampleStudy, example};
use kinds::{KindsAnswer, kinds_power};
use pool::{Comparison, SiteSeason, site_seasons};
use power::{POWERS, PowerCurve, SIZES, StudyPlan, power_curve};
use sites::{Effect, Sites};
use siting::SitingPoint;

/// Home ratios asked for unless others are given.
pub const RATIOS: [f64; 3] = [1.5, 2.0, 3.0];
/// Home ratio for which the side questions are answered; of the effects asked for, the nearest.
pub const SIDE_RATIO: f64 = 2.0;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct RecruitQuestion {
    /// Home ratios, each above 0 and not 1.
    pub ratios: Vec<f64>,
    /// Peak attractions given directly.
    pub attractions: Vec<f64>,
    /// Numbers of sites, ascending.
    pub sizes: Vec<usize>,
    /// Studies at each number.
    pub studies: usize,
    /// How patches are compared.
    pub estimator: Estimator,
    /// Site-seasons in the pool of each effect.
    pub pool: u64,
    /// Whether each study has fresh sites.
    pub fresh: bool,
}

/// Site-seasons in a pool unless another number is asked for.
pub const POOL: u64 = 6_000;

impl Default for RecruitQuestion {
    fn default() -> Self {
        Self {
            ratios: RATIOS.to_vec(),
            attractions: Vec::new(),
            sizes: SIZES.to_vec(),
            studies: 2_000,
            estimator: Estimator::Flip,
            pool: POOL,
            fresh: false,
        }
    }
}

impl RecruitQuestion {
    /// Seasons run in search of the attractions, at each attraction tried.
    #[must_use]
    pub fn pilot_seasons(&self) -> u64 {
        self.pool / 4
    }

    /// Seasons behind each answer to a side question.
    #[must_use]
    pub fn side_seasons(&self) -> u64 {
        self.pool / 4
    }

    /// Seasons to be run in all.
    #[must_use]
    pub fn seasons(&self) -> u64 {
        let effects = (1 + self.ratios.len() + self.attractions.len()) as u64;
        let sides = (siting::GAPS_M.len() + 4) as u64;
        effects * self.pool
            + effects::ATTRACTIONS.len() as u64 * self.pilot_seasons()
            + sides * self.side_seasons()
    }

    /// Whether the question makes sense.
    ///
    /// # Errors
    /// When it does not, with the option at fault.
    pub fn check(&self) -> Result<(), Trouble> {
        let ascending = self.sizes.windows(2).all(|pair| pair[0] < pair[1]);
        const FEWEST: usize = 2;
        const MOST: usize = 10_000;
        let within = self.sizes.iter().all(|size| (FEWEST..=MOST).contains(size));
        if self.sizes.len() < 2 || !ascending || !within {
            return Err(Trouble::new("the list of numbers of sites makes no sense")
                .at("the option --sites")
                .expected("at least two whole numbers from 2 to 10,000, ascending")
                .remedy("such as --sites 10,20,40,80"));
        }
        let odd = self
            .ratios
            .iter()
            .find(|ratio| !(**ratio > 0.0 && ratio.is_finite() && **ratio != 1.0));
        if let Some(ratio) = odd {
            return Err(Trouble::new(format!("the ratio {ratio} is no effect"))
                .at("the option --ratios")
                .expected("ratios above 0 that are not 1, such as 1.5,2,3")
                .remedy("no effect is always answered as well"));
        }
        if self.ratios.is_empty() && self.attractions.is_empty() {
            return Err(Trouble::new("no effect is asked for")
                .at("the options --ratios and --attractions")
                .remedy("such as --ratios 1.5,2,3"));
        }
        let most = self.sizes.last().copied().unwrap_or(0) as u64;
        if self.fresh && self.pool < most {
            return Err(
                Trouble::new(format!("{} sites make no fresh study of {most}", self.pool))
                    .at("the option --pool")
                    .expected("many times the largest number of sites")
                    .remedy("raise --pool or lower --sites"),
            );
        }
        Ok(())
    }

    fn plan(&self, coin: bool) -> StudyPlan {
        StudyPlan {
            sizes: self.sizes.clone(),
            studies: self.studies,
            estimator: self.estimator,
            fresh: self.fresh,
            coin,
        }
    }
}

/// The answer for one effect.
#[derive(Debug, Clone)]
pub struct EffectAnswer {
    /// In words: `no effect`, `ratio 2`, `attraction 6`.
    pub name: String,
    /// Home ratio asked for.
    pub asked: Option<f64>,
    /// What was done.
    pub effect: Effect,
    /// Home ratio of the pool: late stage per stem, by natal patch.
    pub home: Option<Estimate>,
    /// The same by where the larvae stand.
    pub standing: Option<Estimate>,
    /// As the volunteers count it.
    pub counted: Option<Estimate>,
    /// Eggs as counted.
    pub eggs: Option<Estimate>,
    /// Home ratio of the halves of the treated patch, the ratio by where larvae stand, and as counted.
    pub halves: [Option<Estimate>; 3],
    /// Share of sites with any late-stage larva counted.
    pub informative: f64,
    /// Late-stage larvae counted per untouched patch.
    pub late_per_patch: f64,
    /// Power curves.
    pub curves: Vec<(Comparison, PowerCurve)>,
    /// The closed form.
    pub closed: Option<Closed>,
}

impl EffectAnswer {
    /// The curve of a comparison.
    #[must_use]
    pub fn curve(&self, comparison: Comparison) -> Option<&PowerCurve> {
        self.curves
            .iter()
            .find(|(which, _)| *which == comparison)
            .map(|(_, curve)| curve)
    }

    /// Share of the logarithm of the home ratio that crawling leaves.
    #[must_use]
    pub fn attenuation(&self) -> Option<f64> {
        let (home, standing) = (self.home?.value.ln(), self.standing?.value.ln());
        // Near a ratio of 1 the quotient is noise over noise.
        const LEAST_EFFECT: f64 = 0.1;
        (home.abs() > LEAST_EFFECT).then(|| standing / home)
    }

    /// Sites needed at 80 % power, rounded up, when reached.
    #[must_use]
    pub fn sites_needed(&self) -> Option<usize> {
        whole_sites(&self.curve(Comparison::Late)?.needed[0])
    }
}

/// Sites needed, rounded up, when reached within the numbers tried.
#[must_use]
pub fn whole_sites(report: &CrossingReport) -> Option<usize> {
    match report.crossing {
        Crossing::At(sites) => Some(sites.ceil() as usize),
        Crossing::BelowGrid | Crossing::NotReached => None,
    }
}

/// What cutting without a true difference does to a comparison: false positives by crawling and by the calendar.
#[derive(Debug, Clone)]
pub struct FalseEffect {
    /// The comparison.
    pub comparison: Comparison,
    /// Attraction at which its own home ratio is 1.
    pub attraction: f64,
    /// Home ratio, ratio by where larvae stand, ratio as counted.
    pub ratios: [Option<Estimate>; 3],
    /// Share of studies that reject.
    pub curve: PowerCurve,
}

/// The whole answer.
#[derive(Debug, Clone)]
pub struct RecruitAnswer {
    /// The question.
    pub question: RecruitQuestion,
    /// Home ratio against attraction.
    pub pilot: Pilot,
    /// Ratios that no attraction tried reaches.
    pub unreachable: Vec<f64>,
    /// Effects; the first is no effect.
    pub effects: Vec<EffectAnswer>,
    /// Cutting with a home ratio of 1, for pairs and for halves.
    pub false_effects: Vec<FalseEffect>,
    /// Difference between two kinds of surroundings.
    pub kinds: Vec<KindsAnswer>,
    /// Price of lax siting, at the effect nearest to a ratio of 2.
    pub siting: Vec<SitingPoint>,
    /// Index of that effect.
    pub side: usize,
    /// One simulated study.
    pub example: Option<ExampleStudy>,
    /// Share of offered pairs that meet the siting rule.
    pub share_meeting_rule: f64,
}

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
    let untouched = site_seasons(&sites, Effect::Nothing, 0..question.pool, runner)?;
    let pilot_seasons = question.pilot_seasons().max(1);
    let pilot = Pilot::run(&sites, pilot_seasons, runner)?
        .scaled(share_of_luck(&untouched, pilot_seasons as usize));
    let (wanted, unreachable) = wanted_effects(scenario, question, &pilot);
    let nothing = ("no effect".to_owned(), None, Effect::Nothing);
    let mut effects = vec![effect_answer(
        nothing, &untouched, &sites, question, runner,
    )?];
    let mut pools = vec![untouched];
    for (name, asked, effect) in wanted {
        let pool = site_seasons(&sites, effect, 0..question.pool, runner)?;
        effects.push(effect_answer(
            (name, asked, effect),
            &pool,
            &sites,
            question,
            runner,
        )?);
        pools.push(pool);
    }
    let side = nearest(&effects);
    let mut found = RecruitAnswer {
        question: question.clone(),
        unreachable,
        kinds: kinds_of(scenario, &effects, &pools, question, runner)?,
        false_effects: false_effects(scenario, &sites, &pilot, question, runner)?,
        pilot,
        siting: Vec::new(),
        side,
        example: None,
        share_meeting_rule: sites.share_meeting_rule,
        effects,
    };
    if side > 0 {
        let plan = StudyPlan {
            fresh: false,
            ..question.plan(false)
        };
        let chosen = &found.effects[side];
        found.siting = siting::siting(
            scenario,
            chosen.effect,
            question.side_seasons(),
            &plan,
            runner,
        )?;
        found.example = Some(example_study(chosen, &pools[side], question, runner.seed)?);
    }
    Ok(found)
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
type Wanted = (String, Option<f64>, Effect);

fn wanted_effects(
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
    let mut curves = Vec::new();
    for comparison in comparisons {
        let pairs = pairs_of(pool, comparison);
        curves.push((comparison, power_curve(&pairs, &plan, runner)?));
    }
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

fn pairs_of(pool: &[SiteSeason], comparison: Comparison) -> Vec<PairedSite> {
    pool.iter().map(|site| site.pair(comparison)).collect()
}

/// Index of the effect whose home ratio is nearest to [`SIDE_RATIO`]; 0 when there is none but no effect.
fn nearest(effects: &[EffectAnswer]) -> usize {
    let distance = |effect: &EffectAnswer| {
        effect
            .home
            .map_or(f64::INFINITY, |home| (home.value / SIDE_RATIO).ln().abs())
    };
    (1..effects.len())
        .min_by(|a, b| distance(&effects[*a]).total_cmp(&distance(&effects[*b])))
        .unwrap_or(0)
}

fn kinds_of(
    scenario: &Scenario,
    effects: &[EffectAnswer],
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
    if effects.len() < 2 || share <= 0.0 || share >= 1.0 {
        return Ok(Vec::new());
    }
    let pairs: Vec<(usize, usize)> = if numbers.second_kind_factor == 1.0 {
        // No difference is built in: the same effect in both kinds gives the false positives, and the smallest
        // effect in one kind with the largest in the other gives the power.
        let last = effects.len() - 1;
        if last > 1 {
            vec![(1, 1), (1, last)]
        } else {
            vec![(1, 1)]
        }
    } else {
        (1..effects.len()).map(|index| (index, index)).collect()
    };
    pairs
        .into_iter()
        .map(|(first, second)| {
            let of = |index: usize, kind: bool| {
                let kept: Vec<_> = pools[index]
                    .iter()
                    .filter(|s| s.second_kind == kind)
                    .copied()
                    .collect();
                pooled_ratio(&kept, Comparison::Home).map_or(f64::NAN, |ratio| ratio.value)
            };
            let ratios = [of(first, false), of(second, true)];
            kinds_power([&pools[first], &pools[second]], ratios, &plan, runner)
        })
        .collect()
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
    let mut found = Vec::new();
    for (comparison, ratios, attraction) in wanted {
        let Some(attraction) = attraction else {
            continue;
        };
        let effect = Effect::Attraction(attraction, attraction);
        let pool = site_seasons(sites, effect, 0..question.side_seasons(), runner)?;
        found.push(FalseEffect {
            comparison,
            attraction,
            ratios: ratios.map(|which| pooled_ratio(&pool, which)),
            curve: power_curve(&pairs_of(&pool, comparison), &plan, runner)?,
        });
    }
    Ok(found)
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
    let home = effect.home.map_or(f64::NAN, |home| home.value);
    example(
        &pairs,
        size,
        (effect.name.clone(), home),
        &question.plan(false),
        seed,
    )
}
