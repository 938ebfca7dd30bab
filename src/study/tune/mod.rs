//! Walking and leaving fitted to a pilot release of marked larvae, by simulation.
//!
//! The parameters chosen are drawn from their plausible ranges; for each draw the engine lets the same larvae go on the
//! same stems at the same times, and searches at the same times. Draws whose releases look like the real one are kept
//! ([`crate::stats::abc`]). Everything else in the scenario keeps its value, so that the posterior holds for that
//! scenario only.

mod simulate;
mod table;

pub use table::{COLUMNS, Found, Marked, Release, read, read_in, when};

use super::StudyError;
use super::uncertain::{self, Ranged};
use crate::plan::Plan;
use crate::random::{Key, Purpose};
use crate::runner::{Digested, Runner, Taken};
use crate::scenario::given::{Dimension, Given, Measure};
use crate::scenario::{CutSide, Layered, STAGES, Scenario, Stage};
use crate::stats::abc::{AbcEffort, Generation, Particle, sequential, weighted_quantile};
use crate::trouble::{Outcome, Trouble};
use crate::world::layout::PlacedPatch;
use crate::world::placement;
use std::sync::atomic::AtomicBool;

/// Stops nothing: what is simulated before the work begins is a single season.
static UNSTOPPED: AtomicBool = AtomicBool::new(false);
/// Most larvae of a release, real or imaginary: thousands of releases of as many are simulated to fit one.
pub const MOST_LARVAE: usize = 10_000;
/// Draws from the prior by which the numbers that describe a release are put on one scale.
const SCALE_DRAWS: u64 = 400;
/// Share of the posterior below the ends and the middle of an interval.
pub const POSTERIOR_AT: [f64; 3] = [0.05, 0.5, 0.95];
/// Groups of settings that a release can say something about.
const GROUPS: [&str; 2] = ["leaving.", "walking."];

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct TuneQuestion {
    /// Dotted paths of the parameters to fit.
    pub fit: Vec<String>,
    /// Stage of the larvae let go: 4 or 5.
    pub stage: Stage,
    /// Particles, generations, tries.
    pub effort: AbcEffort,
}

impl TuneQuestion {
    /// The usual parameters of a stage: hazard of leaving and speed of the stage and the later one, how straight
    /// larvae walk, how far they perceive, and how often they climb a stem that they meet.
    #[must_use]
    pub fn usual(stage: Stage) -> Self {
        let of_stages = (stage..STAGES).flat_map(|stage| {
            [
                format!("leaving.per_day.l{stage}"),
                format!("walking.speed_cm_per_s.l{stage}"),
            ]
        });
        let shared = ["mean_cosine", "perceptual_range_m", "acceptance"];
        Self {
            fit: of_stages
                .chain(shared.iter().map(|name| format!("walking.{name}")))
                .collect(),
            stage,
            effort: AbcEffort {
                particles: 400,
                generations: 7,
                most_tries: 30,
            },
        }
    }
}

/// One parameter, fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Tuned {
    /// The parameter with its plausible range: the prior.
    pub parameter: Ranged,
    /// Posterior at [`POSTERIOR_AT`], in the parameter's unit.
    pub posterior: [f64; 3],
    /// The same as places in the prior, from 0 to 1.
    pub places: [f64; 3],
}

impl Tuned {
    /// Width of the posterior interval over that of the prior, on the scale on which the prior is even.
    #[must_use]
    pub fn width(&self) -> f64 {
        (self.places[2] - self.places[0]) / (POSTERIOR_AT[2] - POSTERIOR_AT[0])
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct TuneAnswer {
    /// Parameters in the order asked for.
    pub tuned: Vec<Tuned>,
    /// Correlations of the posterior between parameters, by their numbers.
    pub correlations: Vec<Vec<f64>>,
    /// Particles of the last generation.
    pub particles: Vec<Particle>,
    /// Tolerance and candidates of every generation.
    pub generations: Vec<(f64, u64)>,
    /// Larvae let go, searches, findings, and larvae ever found.
    pub counts: [usize; 4],
}

/// Checks a question and makes the scenario ready for releases.
///
/// # Errors
/// When a path is no parameter of leaving or walking with a plausible range, or the stems do not stand still.
pub fn prepare(layered: &Layered, question: &TuneQuestion) -> Outcome<Tuner> {
    let scenario = Scenario::from_layers(layered)?;
    let plan = Plan::of(scenario)?;
    if !plan.layout.patches.iter().all(placement::is_fixed) {
        return Err(Trouble::new(
            "the stems of the scenario are placed anew each season, so a release has no stems to be put on",
        )
        .at("site")
        .expected("placement: FromCsv(\"stems.csv\") or Regular in every patch")
        .remedy("measure the stems and name their file in the scenario"));
    }
    let half_cut = |patch: &PlacedPatch| patch.cut_stems > 0 && patch.cut_stems < patch.stems();
    if plan.scenario.cut_side == CutSide::Coin && plan.layout.patches.iter().any(half_cut) {
        return Err(Trouble::new(
            "a coin decides which half is cut, but the larvae were let go after it had fallen",
        )
        .at("site.cut_side")
        .expected("Towards, Away, Left or Right")
        .remedy("set the side that was cut, as by --set site.cut_side=Away"));
    }
    let all = uncertain::ranged(layered);
    let parameters = question
        .fit
        .iter()
        .map(|path| {
            let known = all.iter().find(|parameter| parameter.path == *path);
            let tunable = GROUPS.iter().any(|group| path.starts_with(group));
            known.filter(|_| tunable).cloned().ok_or_else(|| {
                Trouble::new(format!("`{path}` cannot be fitted to a release"))
                    .at("the option --fit")
                    .expected("numbers of `leaving` or `walking` that have a plausible range")
                    .remedy("list them with `crawlspan check`")
            })
        })
        .collect::<Outcome<Vec<_>>>()?;
    if parameters.is_empty() {
        return Err(Trouble::new("nothing is to be fitted")
            .at("the option --fit")
            .remedy("name a parameter"));
    }
    Ok(Tuner {
        plan,
        parameters,
        stage: question.stage,
    })
}

/// Number of the form of what is kept of simulated releases: raised when it is changed.
const FORM: u32 = 1;
/// Simulated releases that are kept together.
const KEPT_TOGETHER: u64 = 8;

/// A scenario ready for releases.
#[derive(Debug, Clone)]
pub struct Tuner {
    /// The plan of the scenario's own season.
    pub plan: Plan,
    parameters: Vec<Ranged>,
    stage: Stage,
}

impl Tuner {
    /// Parameters to fit.
    #[must_use]
    pub fn parameters(&self) -> &[Ranged] {
        &self.parameters
    }

    /// A plan whose surveys are the searches of a release and which ends after the last, with the fitted parameters at
    /// places in their ranges; `None` leaves the central values.
    fn plan_at(&self, release: &Release, places: Option<&[f64]>) -> Outcome<Plan> {
        let mut scenario = self.plan.scenario.clone();
        if let Some(places) = places {
            scenario.draft.visit("", &mut |leaf| {
                let at = self.parameters.iter().position(|p| p.path == leaf.path);
                if let Some(at) = at {
                    let value = Measure::Plain(self.parameters[at].at(places[at]));
                    let value = value.in_unit(Dimension::of_unit(leaf.meaning.unit));
                    *leaf.given = value.map(Given::plain);
                }
            });
            scenario.numbers = scenario.draft.resolve("")?;
        }
        let weather = ["walking.q10", "walking.active_above_c"];
        let by_clock = |parameter: &Ranged| weather.iter().any(|w| parameter.path.starts_with(w));
        let mut clock = if self.parameters.iter().any(by_clock) {
            crate::life::Clock::of(&scenario)
        } else {
            self.plan.clock.clone()
        };
        let last = release.searches.last().copied().unwrap_or(0.0);
        clock.ticks = clock.ticks.min(last as usize + 1);
        clock.surveys.clone_from(&release.searches);
        Plan::with_clock(scenario, clock)
    }

    /// A release with the same larvae and searches as simulated with parameters at places in their ranges, or at
    /// their central values; what it found replaces what was found.
    ///
    /// # Errors
    /// When the values make no sense together, or a larva is put on a stem that has no leaves then.
    pub fn rehearsed(
        &self,
        release: &Release,
        places: Option<&[f64]>,
        key: Key,
    ) -> Outcome<Release> {
        let plan = self.plan_at(release, places)?;
        let found = simulate::simulated(&plan, release, self.stage, key, &UNSTOPPED);
        self.with_found(release, found.unwrap_or_default())
    }

    /// A release that found something else; a larva put where it cannot be is refused.
    fn with_found(
        &self,
        release: &Release,
        (found, nowhere): (Vec<Found>, usize),
    ) -> Outcome<Release> {
        if nowhere > 0 {
            return Err(Trouble::new(format!(
                "{nowhere} of {} larvae are let go on stems that have no leaves then",
                release.larvae.len()
            ))
            .at("the column released_when")
            .expected("stems that are not cut, or a release before cutting or after regrowth")
            .remedy("set dates.cutting, site.cut_side or site.refuge_share as they were"));
        }
        Ok(Release {
            found,
            ..release.clone()
        })
    }

    /// An imaginary release: a number of larvae, spread evenly over the stems of the first patch that are not cut, let go
    /// at the first survey and searched for after a number of days each.
    #[must_use]
    pub fn imaginary(&self, larvae: usize, search_days: &[f64]) -> Release {
        let mut season = crate::season::Season::new(&self.plan);
        let key = Key::apart(0, Purpose::Calibration);
        let whole = season.run_release(&UNSTOPPED, key, &[], &mut crate::walk::NoTrail);
        let (dx, dy) = self.plan.layout.shift_m;
        let stems: Vec<(f64, f64)> = season
            .stems
            .iter()
            .filter(|stem| whole.is_ok() && stem.half.patch() == 0 && !stem.half.is_cut())
            .map(|stem| (stem.x_m - dx, stem.y_m - dy))
            .collect();
        let clock = &self.plan.clock;
        let time = clock.surveys.first().copied().unwrap_or(clock.cutting);
        let larvae = (0..larvae)
            .filter_map(|number| {
                let (x, y) = *stems.get(number * stems.len() / larvae.max(1))?;
                // Millimetres, as they stand in a table.
                let millimetre = |metres: f64| (metres * 1e3).round() / 1e3;
                Some(Marked {
                    name: (number + 1).to_string(),
                    at_m: (millimetre(x), millimetre(y)),
                    time,
                })
            })
            .collect();
        let day = |days: &f64| (time + days * clock.ticks_per_day).floor();
        Release {
            larvae,
            searches: search_days.iter().map(day).collect(),
            found: Vec::new(),
        }
    }

    /// Fits the parameters to a release.
    ///
    /// # Errors
    /// When the release does not fit the scenario, or the run is stopped.
    pub fn fit(
        &self,
        release: &Release,
        effort: AbcEffort,
        runner: &Runner<'_>,
    ) -> Result<TuneAnswer, StudyError> {
        let root = Key::apart(runner.seed, Purpose::Calibration);
        // The central values first: a release that the scenario cannot hold is told at once.
        let plan = self.plan_at(release, None)?;
        let found = simulate::simulated(&plan, release, self.stage, root, runner.stop)?;
        self.with_found(release, found)?;
        let classes = simulate::classes(release);
        let observed = simulate::summaries(release, &classes, &release.found, &self.plan);
        let numbers = |key: Key, places: &[f64]| {
            let Ok(plan) = self.plan_at(release, Some(places)) else {
                return Ok(None);
            };
            let (found, _) = simulate::simulated(&plan, release, self.stage, key, runner.stop)?;
            let numbers = simulate::summaries(release, &classes, &found, &plan);
            Ok::<_, StudyError>(Some(numbers))
        };
        let scale_key = root.with(0);
        let searched = (&self.plan.scenario, &self.parameters, self.stage, release);
        let taken = Taken::new("releases over the prior", FORM).with(&searched);
        let pilots = runner.run_each(&taken, 0..SCALE_DRAWS, KEPT_TOGETHER, |draw| {
            let places = uncertain::shares_of(self.parameters.len(), scale_key.with(draw));
            numbers(scale_key.with(draw), &places)
        })?;
        let pilots: Vec<_> = pilots.into_iter().flatten().collect();
        let scales: [f64; simulate::SUMMARIES] = std::array::from_fn(|at| {
            let values: Vec<f64> = pilots.iter().map(|numbers| numbers[at]).collect();
            spread(&values)
        });
        let key = root.with(1);
        let generations: Vec<Generation> = sequential(
            self.parameters.len(),
            effort,
            super::bootstrap_seed(runner.seed),
            |first, candidates| -> Result<Vec<f64>, StudyError> {
                let tried = Digested(candidates);
                let taken = Taken::new("distances of releases", FORM)
                    .with(&searched)
                    .with(&scales)
                    .with(&first)
                    .with(&tried);
                runner.run_each(&taken, 0..candidates.len() as u64, KEPT_TOGETHER, |at| {
                    let found = numbers(key.with(first + at), &candidates[at as usize])?;
                    Ok(found.map_or(f64::INFINITY, |found| apart(&found, &observed, &scales)))
                })
            },
        )?;
        Ok(self.answer(release, &generations))
    }

    fn answer(&self, release: &Release, generations: &[Generation]) -> TuneAnswer {
        let particles = generations
            .last()
            .map_or(Vec::new(), |last| last.particles.clone());
        let tuned = self
            .parameters
            .iter()
            .enumerate()
            .map(|(at, parameter)| {
                let places = POSTERIOR_AT.map(|share| weighted_quantile(&particles, at, share));
                Tuned {
                    posterior: places.map(|place| parameter.at(place)),
                    places,
                    parameter: parameter.clone(),
                }
            })
            .collect();
        let mut ever: Vec<usize> = release.found.iter().map(|found| found.larva).collect();
        ever.sort_unstable();
        ever.dedup();
        TuneAnswer {
            tuned,
            correlations: correlations(&particles, self.parameters.len()),
            generations: generations.iter().map(|g| (g.tolerance, g.tried)).collect(),
            particles,
            counts: [
                release.larvae.len(),
                release.searches.len(),
                release.found.len(),
                ever.len(),
            ],
        }
    }
}

/// SD of a number over the prior; a number that never varies says nothing and gets an infinite one.
fn spread(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let sd = (squares / values.len() as f64).sqrt();
    if sd > 0.0 { sd } else { f64::INFINITY }
}

/// Distance between two releases, in prior SDs of the numbers that describe them.
fn apart<const N: usize>(one: &[f64; N], other: &[f64; N], scales: &[f64; N]) -> f64 {
    let parts = one.iter().zip(other).zip(scales);
    parts
        .map(|((one, other), scale)| ((one - other) / scale).powi(2))
        .sum::<f64>()
        .sqrt()
}

fn correlations(particles: &[Particle], parameters: usize) -> Vec<Vec<f64>> {
    let mean =
        |of: &dyn Fn(&Particle) -> f64| -> f64 { particles.iter().map(|p| p.weight * of(p)).sum() };
    let means: Vec<f64> = (0..parameters).map(|at| mean(&|p| p.point[at])).collect();
    let covariance =
        |a: usize, b: usize| mean(&|p| (p.point[a] - means[a]) * (p.point[b] - means[b]));
    let sds: Vec<f64> = (0..parameters)
        .map(|at| covariance(at, at).sqrt())
        .collect();
    (0..parameters)
        .map(|a| {
            (0..parameters)
                .map(|b| covariance(a, b) / (sds[a] * sds[b]))
                .collect()
        })
        .collect()
}
