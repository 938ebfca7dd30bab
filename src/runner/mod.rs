//! Many seasons: streams of randomness, threads, progress, interruption, kept pieces.
//!
//! A season's stream depends on (master seed, parameter set, replicate) alone, and results come back in
//! the order of replicates; so the same seed gives the same bytes on any number of threads.
//!
//! Work goes in pieces: fixed blocks of replicates. A runner with a file of pieces ([`Pieces`]) keeps each one when it
//! is done and takes it from there when it is asked for again, in this process or after a kill. The key of a piece is a
//! hash of all that it depends on, so the file can be lost or damaged, which costs time, but cannot answer wrongly.

mod halt;
mod journal;
mod pieces;
pub mod plain;
mod taken;

pub use crate::season::Interrupted;
pub use halt::{Halt, Unkept};
pub use journal::Journal;
pub use pieces::{Found, Pieces, Shard};
pub use taken::{Digested, Row, Taken};

use crate::plan::Plan;
use crate::random::Key;
use crate::scenario::groups::Draft;
use crate::season::Season;
use crate::walk::NoTrail;
use rayon::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use taken::Family;

/// Seasons of a piece: enough to make the cost of its workspace and of its record vanish, few enough to be done in a
/// fraction of a second even in a large scenario.
const SEASONS_OF_A_PIECE: u64 = 16;

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
    pieces: Option<&'w Pieces>,
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
            pieces: None,
            seasons_run: AtomicU64::new(0),
        }
    }

    /// The same runner, which keeps finished pieces and uses those that are kept.
    #[must_use]
    pub fn keeping(self, pieces: &'w Pieces) -> Self {
        Self {
            pieces: Some(pieces),
            ..self
        }
    }

    /// A runner with another master seed, watched, stopped and keeping pieces as this one.
    #[must_use]
    pub fn with_seed(&self, seed: u64) -> Self {
        Self {
            pieces: self.pieces,
            ..Self::new(seed, self.watch, self.stop)
        }
    }

    /// Key of a season.
    #[must_use]
    pub fn key(&self, parameter_set: u64, replicate: u64) -> Key {
        Key::master(self.seed, parameter_set).with(replicate)
    }

    /// Seasons run so far in this process, those taken from kept pieces not counted.
    #[must_use]
    pub fn seasons_run(&self) -> u64 {
        self.seasons_run.load(Ordering::Relaxed)
    }

    /// Runs replicates of a plan and takes of each what `keep` takes, in the order of replicates. `taken` names it.
    ///
    /// # Errors
    /// When the run is stopped from outside, a piece cannot be kept, or pieces belong to other shards.
    pub fn run<R: Send + Serialize + DeserializeOwned>(
        &self,
        plan: &Plan,
        taken: &Taken<'_>,
        parameter_set: u64,
        replicates: Range<u64>,
        keep: impl Fn(&Season<'_>) -> R + Sync + Send,
    ) -> Result<Vec<R>, Halt> {
        let family = self.pieces.map(|_| {
            let mut scenario = plan.scenario.clone();
            // What the draft adds to the settings, such as sources, changes no season.
            scenario.draft = Draft::default();
            Family::of::<R>(&taken.clone().with(&scenario), self.seed, parameter_set)
        });
        let pieces: Result<Vec<Option<Vec<R>>>, Halt> = blocks(&replicates, SEASONS_OF_A_PIECE)
            .into_par_iter()
            .map_init(
                || None,
                |season, block| {
                    self.piece(family.as_ref(), block.clone(), SEASONS_OF_A_PIECE, || {
                        let season = season.get_or_insert_with(|| Season::new(plan));
                        self.each_of(block, true, |replicate| {
                            let key = self.key(parameter_set, replicate);
                            season
                                .run_unless(self.stop, key, &mut NoTrail)
                                .map_err(Halt::from)?;
                            Ok(keep(season))
                        })
                    })
                },
            )
            .collect();
        whole(pieces?).ok_or(Halt::Elsewhere)
    }

    /// Runs something of its own for each of a range of replicates, such as a season at a site of its own, and
    /// gives back the results in the order of replicates. `taken` names what is taken and all that it depends on but
    /// the master seed; `at_a_time` replicates make a piece.
    ///
    /// # Errors
    /// As [`Runner::run`]; and the first that `each` gives.
    pub fn run_each<R, E>(
        &self,
        taken: &Taken<'_>,
        replicates: Range<u64>,
        at_a_time: u64,
        each: impl Fn(u64) -> Result<R, E> + Sync + Send,
    ) -> Result<Vec<R>, E>
    where
        R: Send + Serialize + DeserializeOwned,
        E: From<Halt> + Send,
    {
        let seasons = taken.seasons;
        let family = self.pieces.map(|_| Family::of::<R>(taken, self.seed, 0));
        let pieces: Result<Vec<Option<Vec<R>>>, E> = blocks(&replicates, at_a_time)
            .into_par_iter()
            .map(|block| {
                self.piece(family.as_ref(), block.clone(), at_a_time, || {
                    self.each_of(block, seasons, &each)
                })
            })
            .collect();
        whole(pieces?).ok_or_else(|| Halt::Elsewhere.into())
    }

    fn each_of<R, E: From<Halt>>(
        &self,
        block: Range<u64>,
        seasons: bool,
        mut each: impl FnMut(u64) -> Result<R, E>,
    ) -> Result<Vec<R>, E> {
        block
            .map(|replicate| {
                if self.stop.load(Ordering::Relaxed) {
                    return Err(Halt::from(Interrupted).into());
                }
                let result = each(replicate)?;
                if seasons {
                    self.watch.advance(1);
                    self.seasons_run.fetch_add(1, Ordering::Relaxed);
                }
                Ok(result)
            })
            .collect()
    }

    /// One piece: from where it is kept, or made and kept; `None` if it is another shard's.
    fn piece<R: Serialize + DeserializeOwned, E: From<Halt>>(
        &self,
        family: Option<&Family>,
        block: Range<u64>,
        at_a_time: u64,
        make: impl FnOnce() -> Result<Vec<R>, E>,
    ) -> Result<Option<Vec<R>>, E> {
        let (Some(family), Some(pieces)) = (family, self.pieces) else {
            return make().map(Some);
        };
        let key = family.key(&block);
        let count = block.end - block.start;
        let kept = pieces
            .find(&key)
            .and_then(|payload| postcard::from_bytes::<Vec<R>>(&payload).ok());
        if let Some(kept) = kept.filter(|kept| kept.len() as u64 == count) {
            if self.stop.load(Ordering::Relaxed) {
                return Err(Halt::from(Interrupted).into());
            }
            if family.seasons {
                self.watch.advance(count);
            }
            return Ok(Some(kept));
        }
        let number = (block.start / at_a_time).wrapping_add(family.offset);
        if pieces.shard().is_some_and(|shard| !shard.owns(number)) {
            return Ok(None);
        }
        let made = make()?;
        let payload = postcard::to_allocvec(&made).map_err(|fault| {
            Halt::from(Unkept {
                path: pieces.path().to_owned(),
                why: fault.to_string(),
            })
        })?;
        pieces.keep(key, &payload).map_err(Halt::from)?;
        Ok(Some(made))
    }
}

/// The blocks of a range: whole multiples of a size, so that a longer run finds the pieces of a shorter one.
fn blocks(range: &Range<u64>, size: u64) -> Vec<Range<u64>> {
    let mut blocks = Vec::new();
    let mut start = range.start;
    while start < range.end {
        let end = (start / size + 1).saturating_mul(size).min(range.end);
        blocks.push(start..end);
        start = end;
    }
    blocks
}

/// All pieces in a row, unless one is missing.
fn whole<R>(pieces: Vec<Option<Vec<R>>>) -> Option<Vec<R>> {
    let pieces: Option<Vec<Vec<R>>> = pieces.into_iter().collect();
    Some(pieces?.into_iter().flatten().collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_blocks_have_fixed_bounds() {
        assert_eq!(blocks(&(0..40), 16), [0..16, 16..32, 32..40]);
        assert_eq!(blocks(&(5..33), 16), [5..16, 16..32, 32..33]);
        assert_eq!(blocks(&(7..7), 16), []);
    }

    #[test]
    fn exact_shards_share_out_every_piece_once() {
        for of in [1, 3, 16] {
            for piece in 0..100 {
                let owners = (1..=of).filter(|number| {
                    let shard = Shard::new(*number, of).expect("a shard");
                    shard.owns(piece)
                });
                assert_eq!(owners.count(), 1);
            }
        }
    }
}
