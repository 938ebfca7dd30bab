//! A sitting: the time that a larva or egg spends on one stem between two events, and the risks that compete to end it.
//!
//! A new risk is a line in [`RISKS`], an [`Event`] with its process in `Season::step`, and the file of that process.

use super::Season;
use super::larva::{Event, Larva, State};
use super::queue::Lane;
use super::{death, development, leaving};
use crate::ids::{LarvaId, StemId};
use crate::life::Moment;
use crate::life::traits::{Hazards, Traits, by_condition};
use crate::scenario::Stage;

/// One of the things that can end a sitting. It has a budget that is spent at a rate; when the budget is spent, the
/// event happens.
pub(super) struct Risk {
    /// What happens.
    pub event: Event,
    /// What the budget is spent by.
    pub spent_by: SpentBy,
    /// Rate of spending, per unit of what it is spent by; 0 where it cannot happen.
    pub rate: fn(&Sitting<'_>) -> f64,
}

/// What spends a budget.
pub(super) enum SpentBy {
    /// Degree-days times the larva's own development rate.
    OwnDegreeDays,
    /// Active hours.
    ActiveHours,
}

/// What rates depend on.
pub(super) struct Sitting<'s> {
    pub traits: &'s Traits,
    /// Hazards of death at this site.
    pub hazards: &'s Hazards,
    pub stage: Stage,
    pub phase: usize,
    /// Index of the condition of the stem, see [`by_condition`].
    pub condition: usize,
}

/// The competing risks. Of two that fall on the same instant the earlier in the list happens.
pub(super) const RISKS: [Risk; 3] = [development::PHASE_ENDS, death::DIES, leaving::LEAVES];

/// Index in [`RISKS`], and of its budget: own degree-days to the end of the phase.
pub(super) const PHASE_ENDS: usize = 0;
/// Index of death; the budget is a unit-exponential deviate for the whole life.
pub(super) const DIES: usize = 1;
/// Index of leaving; the budget is a unit-exponential deviate for each stem.
pub(super) const LEAVES: usize = 2;

impl Season<'_> {
    /// The next event of a larva or egg in a step, with its moment. Entries that were overtaken are passed over.
    #[inline]
    pub(super) fn next_event(&mut self, step: usize) -> Option<(LarvaId, Event, Moment)> {
        loop {
            let id = LarvaId::new(self.queue.take(Lane::Larvae, step)?);
            let larva = &self.larvae[id];
            let awaits = matches!(larva.state, State::Unlaid | State::OnStem);
            if awaits && larva.next_time as usize == step {
                return Some((id, larva.next, self.plan.clock.moment(larva.next_time)));
            }
        }
    }

    /// The larva stands on a stem from now on.
    pub(super) fn arrive(&mut self, id: LarvaId, stem: StemId, now: Moment) {
        let (word, bit) = seat(id);
        self.on_stems[word] |= bit;
        let first = self.stems[stem].first_larva;
        let larva = &mut self.larvae[id];
        larva.state = State::OnStem;
        larva.stem = stem;
        larva.before = None;
        larva.behind = first;
        if let Some(first) = first {
            self.larvae[first].before = Some(id);
        }
        let there = &mut self.stems[stem];
        there.first_larva = Some(id);
        there.occupants += 1;
        self.begin_sitting(id, now);
    }

    /// The larva stands on its stem no longer; its account is closed.
    pub(super) fn take_off_stem(&mut self, id: LarvaId) {
        let (word, bit) = seat(id);
        self.on_stems[word] &= !bit;
        let (before, behind, stem) = {
            let larva = &self.larvae[id];
            (larva.before, larva.behind, larva.stem)
        };
        match before {
            None => self.stems[stem].first_larva = behind,
            Some(before) => self.larvae[before].behind = behind,
        }
        if let Some(behind) = behind {
            self.larvae[behind].before = before;
        }
        let stem = &mut self.stems[stem];
        stem.occupants -= 1;
        if stem.occupants == 0 {
            stem.rest();
        }
    }

    /// The larva on a stem that was taken up last, if any is there.
    pub(super) fn first_on(&self, stem: StemId) -> Option<LarvaId> {
        self.stems[stem].first_larva
    }

    /// The larva on the same stem that comes after another.
    pub(super) fn behind(&self, larva: LarvaId) -> Option<LarvaId> {
        self.larvae[larva].behind
    }

    /// Accounts from now on: budgets, leaves eaten; and enters what comes first.
    pub(super) fn begin_sitting(&mut self, id: LarvaId, now: Moment) {
        self.larvae[id].since = now;
        self.begin_eating(id, now);
        self.enter_next_event(id);
    }

    /// Closes the account since the last event: what was spent of each budget, what was eaten.
    pub(super) fn end_sitting(&mut self, id: LarvaId, now: Moment) {
        let larva = &mut self.larvae[id];
        let condition = by_condition(self.stems[larva.stem].condition);
        let sitting = sitting_of(larva, condition, &self.plan.traits, &self.hazards);
        let own_dd = larva.rate * (now.dd - larva.since.dd);
        let hours = now.active_h - larva.since.active_h;
        for (risk, left) in RISKS.iter().zip(&mut larva.left) {
            let spent = match risk.spent_by {
                SpentBy::OwnDegreeDays => own_dd,
                SpentBy::ActiveHours => hours,
            };
            *left -= spent * (risk.rate)(&sitting);
        }
        self.cease_eating(id, now);
        self.larvae[id].since = now;
    }

    /// What happens first if nothing else changes.
    #[inline]
    fn enter_next_event(&mut self, id: LarvaId) {
        let clock = &self.plan.clock;
        let larva = &mut self.larvae[id];
        let condition = by_condition(self.stems[larva.stem].condition);
        let sitting = sitting_of(larva, condition, &self.plan.traits, &self.hazards);
        let (mut own_dd, mut by_dd) = (f64::INFINITY, Event::PhaseEnds);
        let (mut hours, mut by_hours) = (f64::INFINITY, Event::Leaves);
        for (risk, left) in RISKS.iter().zip(&larva.left) {
            let wait = left / (risk.rate)(&sitting);
            match risk.spent_by {
                SpentBy::OwnDegreeDays if wait < own_dd => (own_dd, by_dd) = (wait, risk.event),
                SpentBy::ActiveHours if wait < hours => (hours, by_hours) = (wait, risk.event),
                _ => {}
            }
        }
        let time = clock
            .degree_days
            .when(larva.since.dd + own_dd.max(0.0) / larva.rate);
        (larva.next_time, larva.next) = (time, by_dd);
        let target = larva.since.active_h + hours.max(0.0);
        // Most sittings end by degree-days: the search for the moment of the other event is spared them.
        const ROUNDING_H: f64 = 1e-6;
        if hours.is_finite()
            && (time.is_infinite() || target <= clock.active_hours.by(time) + ROUNDING_H)
        {
            let sooner = clock.active_hours.when(target);
            if sooner < time {
                (larva.next_time, larva.next) = (sooner, by_hours);
            }
        }
        larva.next_time = larva.next_time.max(larva.since.time);
        self.queue.enter(Lane::Larvae, larva.next_time, id.index());
    }
}

/// Where the bit of a larva is among those that say who is on a stem.
#[inline]
fn seat(id: LarvaId) -> (usize, u64) {
    (id.index() / 64, 1 << (id.index() % 64))
}

#[inline]
fn sitting_of<'s>(
    larva: &Larva,
    condition: usize,
    traits: &'s Traits,
    hazards: &'s Hazards,
) -> Sitting<'s> {
    Sitting {
        traits,
        hazards,
        stage: larva.stage(),
        phase: usize::from(larva.phase),
        condition,
    }
}
