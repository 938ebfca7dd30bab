//! Stems: their condition, and how much of their leaves is left.

use super::layout::HalfId;
use crate::ids::{LarvaId, StemId, indexed_by};
use crate::maths::exp;

/// Condition of a stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Condition {
    /// Grown, never cut or aged back after cutting.
    Mature = 0,
    /// Just cut: nothing to lay on or eat.
    Stubble = 1,
    /// Regrowing.
    Fresh = 2,
    /// Nothing left to eat.
    EatenOut = 3,
}

/// Number of conditions.
pub const CONDITIONS: usize = 4;

/// Names of the conditions in tables, by index.
pub const CONDITION_NAMES: [&str; CONDITIONS] = ["mature", "stubble", "fresh", "eaten_out"];

impl Condition {
    /// Whether there is something to eat and to lay on.
    #[must_use]
    pub fn has_leaves(self) -> bool {
        matches!(self, Self::Mature | Self::Fresh)
    }

    /// Word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        CONDITION_NAMES[self as usize]
    }
}

/// Logistic regrowth of leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Regrowth {
    /// Leaves of a mature stem, cm of stem.
    pub full_cm: f64,
    /// Share of them when the stem turns fresh.
    pub first_share: f64,
    /// Logistic growth rate, per tick.
    pub rate_per_tick: f64,
}

impl Regrowth {
    /// Leaves grown a number of ticks after the stem turned fresh, cm of stem.
    #[must_use]
    pub fn grown_cm(&self, ticks: f64) -> f64 {
        let odds = (1.0 - self.first_share) / self.first_share;
        self.full_cm / (1.0 + odds * exp(-self.rate_per_tick * ticks))
    }
}

/// One stem. Times are ticks since the start of the season; infinite where they never come.
#[derive(Debug, Clone)]
pub struct Stem {
    /// Arena coordinates, metres.
    pub x_m: f64,
    /// Arena coordinates, metres.
    pub y_m: f64,
    /// Its half.
    pub half: HalfId,
    /// Condition now.
    pub condition: Condition,
    /// When it turns fresh.
    pub fresh_at: f64,
    /// When it has aged back into a mature stem.
    pub mature_at: f64,
    /// When it was eaten out.
    pub eaten_out_at: f64,
    /// First larva on it, as a linked list through the larvae.
    pub first_larva: Option<LarvaId>,
    /// Number of larvae and eggs on it.
    pub occupants: u32,
    /// Tick at which its leaves are to be looked at; `u32::MAX` for none.
    pub look_at: u32,
    eaten_cm: f64,
    rate_cm_per_dd: f64,
    anchored_cm: f64,
}

impl Stem {
    /// A mature stem with nothing on it.
    #[must_use]
    pub fn new(x_m: f64, y_m: f64, half: HalfId) -> Self {
        Self {
            x_m,
            y_m,
            half,
            condition: Condition::Mature,
            fresh_at: f64::INFINITY,
            mature_at: f64::INFINITY,
            eaten_out_at: f64::INFINITY,
            first_larva: None,
            occupants: 0,
            look_at: u32::MAX,
            eaten_cm: 0.0,
            rate_cm_per_dd: 0.0,
            anchored_cm: 0.0,
        }
    }

    /// Its condition at a time of a season that has run, given the time of cutting.
    #[must_use]
    pub fn condition_at(&self, time: f64, cutting: f64) -> Condition {
        let renewed = self.half.is_cut() && time >= cutting && self.eaten_out_at < cutting;
        if time >= self.eaten_out_at && !renewed {
            Condition::EatenOut
        } else if !self.half.is_cut() || time < cutting || time >= self.mature_at {
            Condition::Mature
        } else if time >= self.fresh_at {
            Condition::Fresh
        } else {
            Condition::Stubble
        }
    }

    /// A larva begins to eat at a cumulative degree-day.
    pub fn begin_eating(&mut self, rate_cm_per_dd: f64, at_dd: f64) {
        self.rate_cm_per_dd += rate_cm_per_dd;
        self.anchored_cm += rate_cm_per_dd * at_dd;
    }

    /// A larva that began at `from_dd` ceases at `to_dd`.
    pub fn cease_eating(&mut self, rate_cm_per_dd: f64, from_dd: f64, to_dd: f64) {
        self.rate_cm_per_dd -= rate_cm_per_dd;
        self.anchored_cm -= rate_cm_per_dd * from_dd;
        self.eaten_cm += rate_cm_per_dd * (to_dd - from_dd);
    }

    /// Rounding left over when nobody eats any more is dropped.
    pub fn rest(&mut self) {
        self.rate_cm_per_dd = 0.0;
        self.anchored_cm = 0.0;
    }

    /// Leaves eaten by a cumulative degree-day, cm of stem.
    #[must_use]
    pub fn eaten_cm(&self, at_dd: f64) -> f64 {
        self.eaten_cm + self.rate_cm_per_dd * at_dd - self.anchored_cm
    }

    /// Cumulative degree-day at which a given amount has been eaten if nothing changes; infinite if never.
    #[must_use]
    pub fn eaten_by_dd(&self, amount_cm: f64) -> f64 {
        // Rates below this are rounding, not mouths.
        const NOBODY: f64 = 1e-12;
        if self.rate_cm_per_dd <= NOBODY {
            return f64::INFINITY;
        }
        (amount_cm - self.eaten_cm + self.anchored_cm) / self.rate_cm_per_dd
    }

    /// Forgets what was eaten: new leaves have grown from the stubble.
    pub fn renew(&mut self) {
        self.eaten_cm = 0.0;
        self.rest();
    }
}

indexed_by!(StemId, Stem);

/// All stems of a site.
pub type Stems = Vec<Stem>;
