//! Parameter sets, run through their seasons.

use super::{BATCHES, Quantity};
use crate::plan::Plan;
use crate::random::{Key, Purpose};
use crate::runner::{Digested, Runner, Taken};
use crate::scenario::{Layered, LayoutKind, Scenario};
use crate::season::{Interrupted, Season};
use crate::study::measures::Contrast;
use crate::study::{StudyError, uncertain};
use crate::walk::NoTrail;
use std::sync::atomic::{AtomicU64, Ordering};

/// Number of the form of what is kept of a group of sets: raised when it is changed.
const FORM: u32 = 1;

/// Which part of the work seasons belong to; its own random numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    Screening = 1,
    Shares = 2,
}

impl Phase {
    fn words(self) -> &'static str {
        match self {
            Self::Screening => "screening all unknowns",
            Self::Shares => "weighing the strongest",
        }
    }
}

/// Late-stage larvae seen by which a batch ends, once it has its least number of seasons: sets that lay few eggs get
/// more seasons, so that what is known of each share is about as good in every set. Without that, poor counts would
/// bend the shares, and the number of eggs would seem to matter for what it does not move.
const ENOUGH_LARVAE: f64 = 80.0;
/// A batch never takes more than this many times its least number of seasons.
const MOST_TIMES: u64 = 10;

/// A quantity of one set: by batch, `None` where undefined.
type ByBatch = [Option<f64>; BATCHES];
/// All quantities of one set, in the order of [`Sets::quantities`].
type Outcome = Vec<ByBatch>;
/// Outputs of a trajectory or row in which a quantity is defined: by point and batch.
type Outputs = Vec<Vec<f64>>;

/// What all sets share.
pub(super) struct Sets<'l> {
    layered: &'l Layered,
    /// Least number of seasons of a batch.
    seasons: u64,
    run: AtomicU64,
    near_m: Option<f64>,
    layout: Option<LayoutKind>,
}

impl<'l> Sets<'l> {
    pub fn of(layered: &'l Layered, seasons: u64, near_m: Option<f64>) -> Self {
        Self {
            layered,
            seasons,
            run: AtomicU64::new(0),
            near_m,
            layout: Scenario::from_layers(layered).ok().map(|s| s.layout),
        }
    }

    pub fn quantities(&self) -> Vec<Quantity> {
        let mut all = Vec::new();
        if let Some(gap_m) = self.near_m {
            all.push(Quantity::StraysNear { gap_m });
        }
        if self.layout != Some(LayoutKind::OnePatchHalves) {
            all.push(Quantity::Strays);
        }
        all.extend([Quantity::HalfDrift, Quantity::NetYield]);
        all
    }

    /// Seasons run so far.
    pub fn seasons_run(&self) -> u64 {
        self.run.load(Ordering::Relaxed)
    }

    /// Runs every set of every trajectory or row. All points of one share their seasons.
    pub fn evaluate(
        &self,
        phase: Phase,
        groups: &[Vec<Vec<f64>>],
        runner: &Runner<'_>,
    ) -> Result<Vec<Option<Vec<Outcome>>>, StudyError> {
        let root = Key::apart(runner.seed, Purpose::Sensitivity).with(phase as u64);
        // How many seasons a set will need is not known before; the watch counts sets instead.
        let sets: usize = groups.iter().map(Vec::len).sum();
        runner.watch.begin(phase.words(), sets as u64);
        let (data, points) = (self.layered.data.all(), Digested(groups));
        let taken = Taken::new("weighed sets", FORM)
            .with(&phase)
            .with(&self.layered.draft)
            .with(&data)
            .with(&self.seasons)
            .with(&self.near_m)
            .with(&points);
        let found = runner.run_each(&taken, 0..groups.len() as u64, 1, |group| {
            let points = &groups[group as usize];
            let mut run = 0;
            let outcomes: Result<Vec<Outcome>, StudyError> = points
                .iter()
                .map(|point| self.outcome(point, root.with(group), runner, &mut run))
                .collect();
            // The runner counts one for each group.
            runner.watch.advance(points.len() as u64 - 1);
            // A draw can put a lower threshold above an upper one: such a set is no parameter set.
            match outcomes {
                Ok(outcomes) => Ok((Some(outcomes), run)),
                Err(StudyError::Trouble(_)) => Ok((None, run)),
                Err(other) => Err(other),
            }
        })?;
        runner.watch.end();
        // Seasons belong to the answer, so those of kept pieces count as well.
        let seasons = found.iter().map(|(_, run)| run).sum();
        self.run.fetch_add(seasons, Ordering::Relaxed);
        Ok(found.into_iter().map(|(outcomes, _)| outcomes).collect())
    }

    /// All quantities of one set; adds the seasons that it took.
    fn outcome(
        &self,
        point: &[f64],
        key: Key,
        runner: &Runner<'_>,
        run: &mut u64,
    ) -> Result<Outcome, StudyError> {
        let set = uncertain::placed(self.layered, point);
        let plan = Plan::of(Scenario::from_layers(&set)?)?;
        let far = self.batches(&plan, key, runner, run)?;
        let near = match self.near_m {
            None => None,
            Some(gap_m) => {
                let mut set = set;
                set.set("site.gap_m", &gap_m.to_string())?;
                let plan = Plan::of(Scenario::from_layers(&set)?)?;
                Some(self.batches(&plan, key, runner, run)?)
            }
        };
        Ok(self
            .quantities()
            .into_iter()
            .map(|quantity| match (quantity, &near) {
                (Quantity::StraysNear { .. }, Some(near)) => near.of(quantity),
                _ => far.of(quantity),
            })
            .collect())
    }

    fn batches(
        &self,
        plan: &Plan,
        key: Key,
        runner: &Runner<'_>,
        run: &mut u64,
    ) -> Result<Batches, StudyError> {
        let contrast = Contrast::of(plan);
        let mut season = Season::new(plan);
        let sums: Result<_, Interrupted> = (0..BATCHES as u64)
            .map(|batch| {
                let mut sums = vec![0.0; contrast.columns().count()];
                let (mut seasons, mut larvae) = (0, 0.0);
                let most = self.seasons * MOST_TIMES;
                while seasons < self.seasons || (larvae < ENOUGH_LARVAE && seasons < most) {
                    let key = key.with(batch).with(seasons);
                    season.run_unless(runner.stop, key, &mut NoTrail)?;
                    let row = contrast.columns().row(&season);
                    sums.iter_mut()
                        .zip(row)
                        .for_each(|(sum, tally)| *sum += tally);
                    seasons += 1;
                    larvae = (0..contrast.patches())
                        .map(|patch| contrast.late_on(&sums, patch))
                        .sum();
                }
                *run += seasons;
                Ok(sums)
            })
            .collect();
        Ok(Batches {
            sums: sums?,
            contrast,
        })
    }

    /// Trajectories or rows in which every set defines a quantity, with their number and their outputs.
    pub fn defined(
        &self,
        outcomes: &[Option<Vec<Outcome>>],
        quantity: Quantity,
    ) -> Vec<(usize, Outputs)> {
        let Some(at) = self
            .quantities()
            .iter()
            .position(|other| *other == quantity)
        else {
            return Vec::new();
        };
        let outputs = |points: &Vec<Outcome>| -> Option<Outputs> {
            points
                .iter()
                .map(|point| point[at].iter().copied().collect())
                .collect()
        };
        outcomes
            .iter()
            .enumerate()
            .filter_map(|(index, points)| Some((index, outputs(points.as_ref()?)?)))
            .collect()
    }
}

/// Pooled tallies of the batches of one set.
struct Batches {
    contrast: Contrast,
    sums: Vec<Vec<f64>>,
}

impl Batches {
    fn of(&self, quantity: Quantity) -> ByBatch {
        std::array::from_fn(|batch| {
            let sums = &self.sums[batch];
            match quantity {
                Quantity::StraysNear { .. } | Quantity::Strays => {
                    let shares = (0..self.contrast.patches()).filter_map(|patch| {
                        let (all, strays) = self.contrast.strays(sums, patch);
                        angle(strays, all)
                    });
                    shares.max_by(f64::total_cmp)
                }
                Quantity::HalfDrift => {
                    let (all, drifted) = self.contrast.drifted(sums);
                    angle(drifted, all)
                }
                Quantity::NetYield => {
                    let (treated, untouched) = self.contrast.pupated(sums);
                    let (treated, untouched) = (treated + HALF, untouched + HALF);
                    let ratio = treated / untouched / self.contrast.stem_ratio();
                    Some(ratio.ln()).filter(|log| log.is_finite())
                }
            }
        })
    }
}

/// Added to both counts of a ratio before its logarithm: the least biased small addition (Haldane 1956, Annals of Human
/// Genetics 20: 309-311), and a ratio is then defined where a side is empty.
const HALF: f64 = 0.5;

/// A share of counts as an angle, on whose scale counting noise is even: arcsine of the root of
/// (x + 3/8) / (n + 3/4) (Anscombe 1948, Biometrika 35: 246-254). `None` where nothing was counted.
fn angle(part: f64, all: f64) -> Option<f64> {
    const ADDED: f64 = 0.375;
    (all > 0.0).then(|| ((part + ADDED) / (all + 2.0 * ADDED)).sqrt().asin())
}
