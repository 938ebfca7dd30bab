//! Many seasons: streams of randomness, threads, progress, interruption.
//!
//! A season's stream depends on (master seed, parameter set, replicate) alone, and results come back in
//! the order of replicates; so the same seed gives the same bytes on any number of threads.

use crate::plan::Plan;
use crate::random::Key;
use crate::season::Season;
use crate::walk::NoTrail;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Seasons that a thread takes at a time: enough to make the cost of its workspace vanish.
const SEASONS_AT_A_TIME: usize = 16;

/// The run was interrupted before it was complete.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("interrupted")]
pub struct Interrupted;

/// What long work tells of itself.
pub trait Watch: Sync {
    /// A number of seasons is to be run, for a purpose in words.
    fn begin(&self, purpose: &str, seasons: u64);
    /// Some more seasons are done.
    fn advance(&self, seasons: u64);
    /// The work announced last is done.
    fn end(&self);
    /// The work announced last turns out to be more: what is known so far, in words, and how many seasons come.
    fn goes_on(&self, _known: &str, _seasons: u64) {}
}

/// Watches nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn begin(&self, _: &str, _: u64) {}
    fn advance(&self, _: u64) {}
    fn end(&self) {}
}

/// How seasons are run.
pub struct Runner<'w> {
    /// Master seed.
    pub seed: u64,
    /// Who watches.
    pub watch: &'w dyn Watch,
    /// Set by whoever wants the work to stop.
    pub stop: &'w AtomicBool,
    seasons_run: AtomicU64,
}

impl<'w> Runner<'w> {
    /// A runner with a master seed.
    #[must_use]
    pub fn new(seed: u64, watch: &'w dyn Watch, stop: &'w AtomicBool) -> Self {
        Self {
            seed,
            watch,
            stop,
            seasons_run: AtomicU64::new(0),
        }
    }

    /// Key of a season.
    #[must_use]
    pub fn key(&self, parameter_set: u64, replicate: u64) -> Key {
        Key::master(self.seed, parameter_set).with(replicate)
    }

    /// Seasons run so far.
    #[must_use]
    pub fn seasons_run(&self) -> u64 {
        self.seasons_run.load(Ordering::Relaxed)
    }

    /// Runs replicates of a plan and keeps of each what `keep` takes, in the order of replicates.
    ///
    /// # Errors
    /// When the run is stopped from outside.
    pub fn run<R: Send>(
        &self,
        plan: &Plan,
        parameter_set: u64,
        replicates: Range<u64>,
        keep: impl Fn(&Season<'_>) -> R + Sync + Send,
    ) -> Result<Vec<R>, Interrupted> {
        let first = replicates.start;
        let count = usize::try_from(replicates.end - first).unwrap_or(usize::MAX);
        let kept: Option<Vec<R>> = (0..count)
            .into_par_iter()
            .with_min_len(SEASONS_AT_A_TIME)
            .map_init(
                || Season::new(plan),
                |season, index| {
                    if self.stop.load(Ordering::Relaxed) {
                        return None;
                    }
                    season.run(self.key(parameter_set, first + index as u64), &mut NoTrail);
                    self.watch.advance(1);
                    self.seasons_run.fetch_add(1, Ordering::Relaxed);
                    Some(keep(season))
                },
            )
            .collect();
        kept.ok_or(Interrupted)
    }

    /// Runs something of its own for each of a range of replicates, such as a season at a site of its own, and
    /// gives back the results in the order of replicates.
    ///
    /// # Errors
    /// When the run is stopped from outside.
    pub fn run_each<R: Send>(
        &self,
        replicates: Range<u64>,
        each: impl Fn(u64) -> R + Sync + Send,
    ) -> Result<Vec<R>, Interrupted> {
        let results: Option<Vec<R>> = replicates
            .into_par_iter()
            .map(|replicate| {
                if self.stop.load(Ordering::Relaxed) {
                    return None;
                }
                let result = each(replicate);
                self.watch.advance(1);
                self.seasons_run.fetch_add(1, Ordering::Relaxed);
                Some(result)
            })
            .collect();
        results.ok_or(Interrupted)
    }
}
