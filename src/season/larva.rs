//! A larva, from egg to its fate.

use super::sitting::RISKS;
use crate::ids::{LarvaId, StemId, indexed_by};
use crate::life::Moment;
use crate::life::traits::stage_of;
use crate::random::Key;
use crate::scenario::Stage;

/// How a life ends. Every egg ends in exactly one fate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fate {
    /// Died on a stem, in the stage it was in.
    DiedOnStem,
    /// Died on the ground.
    DiedOffPlant,
    /// Destroyed by cutting.
    Destroyed,
    /// Walked out of the arena.
    Lost,
    /// Reached pupation.
    Pupated,
    /// Still alive at the end of the season.
    Alive,
}

impl Fate {
    /// All fates.
    pub const ALL: [Self; 6] = [
        Self::DiedOnStem,
        Self::DiedOffPlant,
        Self::Destroyed,
        Self::Lost,
        Self::Pupated,
        Self::Alive,
    ];

    /// Word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::DiedOnStem => "died_on_stem",
            Self::DiedOffPlant => "died_off_plant",
            Self::Destroyed => "destroyed_by_cutting",
            Self::Lost => "lost_from_arena",
            Self::Pupated => "pupated",
            Self::Alive => "alive_at_end",
        }
    }
}

/// Where a larva is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Not laid yet.
    Unlaid,
    /// Would have been laid on a stem that had no leaves: it never existed.
    NeverLaid,
    /// On a stem.
    OnStem,
    /// On the ground.
    Walking,
    /// Its life has ended.
    Ended(Fate),
}

/// What happens to a larva next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Event {
    Laid,
    PhaseEnds,
    Dies,
    Leaves,
}

/// An egg or larva. Times are ticks; hazards are spent from unit-exponential budgets.
#[derive(Debug, Clone)]
pub struct Larva {
    /// Stem on which it was laid.
    pub natal: StemId,
    /// Stem on which it is or last was.
    pub stem: StemId,
    /// Where it is.
    pub state: State,
    /// Phase: its stage, or the time after it has left to pupate.
    pub phase: u8,
    /// Number of bouts so far.
    pub bouts: u16,
    /// Number of stems on which it has stood, the natal stem included.
    pub stems_used: u16,
    /// When it was laid.
    pub laid_at: f64,
    /// When its life ended.
    pub ended_at: f64,
    /// Own development rate, relative to the mean.
    pub rate: f64,
    /// Identity, from which all its draws come.
    pub key: Key,
    pub(super) since: Moment,
    /// What is left of the budget of each risk. Before the larva is endowed, that of the end of the phase is the share of
    /// its first phase that it has lived already: 0 for an egg.
    pub(super) left: [f64; RISKS.len()],
    pub(super) next_time: f64,
    pub(super) next: Event,
    pub(super) before: Option<LarvaId>,
    pub(super) behind: Option<LarvaId>,
}

indexed_by!(LarvaId, Larva);

impl Larva {
    /// Stage: 0 egg, 1 .. 5 the instars.
    #[must_use]
    pub fn stage(&self) -> Stage {
        stage_of(usize::from(self.phase))
    }

    /// Its fate, once its life has ended.
    #[must_use]
    pub fn fate(&self) -> Option<Fate> {
        match self.state {
            State::Ended(fate) => Some(fate),
            _ => None,
        }
    }

    /// Whether it was laid at all.
    #[must_use]
    pub fn was_laid(&self) -> bool {
        !matches!(self.state, State::Unlaid | State::NeverLaid)
    }
}
