//! A sitting: the time that a larva or egg spends on one stem between two events, and the risks that compete to end it.
//!
//! A new risk is a line in [`RISKS`], an [`Event`] with its process in `Season::step`, and the file of that process.

use super::Season;
use super::larva::{Event, Larva, NOBODY, State};
use super::queue::Lane;
use super::{death, development, leaving};
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
    pub(super) fn next_event(&mut self, step: usize) -> Option<(u32, Event, Moment)> {
        loop {
            let id = self.queue.take(Lane::Larvae, step)?;
            let larva = &self.larvae[id as usize];
            let awaits = matches!(larva.state, State::Unlaid | State::OnStem);
            if awaits && larva.next_time as usize == step {
                return Some((id, larva.next, self.plan.clock.moment(larva.next_time)));
            }
        }
    }

    /// The larva stands on a stem from now on.
    pub(super) fn arrive(&mut self, id: u32, stem: u32, now: Moment) {
        self.on_stems[id as usize / 64] |= 1 << (id % 64);
        let first = self.stems[stem as usize].first_larva;
        let larva = &mut self.larvae[id as usize];
        larva.state = State::OnStem;
        larva.stem = stem;
        larva.before = NOBODY;
        larva.behind = first;
        if first != NOBODY {
            self.larvae[first as usize].before = id;
        }
        let there = &mut self.stems[stem as usize];
        there.first_larva = id;
        there.occupants += 1;
        self.begin_sitting(id, now);
    }

    /// The larva stands on its stem no longer; its account is closed.
    pub(super) fn take_off_stem(&mut self, id: u32) {
        self.on_stems[id as usize / 64] &= !(1 << (id % 64));
        let (before, behind, stem) = {
            let larva = &self.larvae[id as usize];
            (larva.before, larva.behind, larva.stem)
        };
        if before == NOBODY {
            self.stems[stem as usize].first_larva = behind;
        } else {
            self.larvae[before as usize].behind = behind;
        }
        if behind != NOBODY {
            self.larvae[behind as usize].before = before;
        }
        let stem = &mut self.stems[stem as usize];
        stem.occupants -= 1;
        if stem.occupants == 0 {
            stem.rest();
        }
    }

    /// The larva on a stem that was taken up last, if any is there.
    pub(super) fn first_on(&self, stem: u32) -> Option<u32> {
        let first = self.stems[stem as usize].first_larva;
        (first != NOBODY).then_some(first)
    }

    /// The larva on the same stem that comes after another.
    pub(super) fn behind(&self, larva: u32) -> Option<u32> {
        let behind = self.larvae[larva as usize].behind;
        (behind != NOBODY).then_some(behind)
    }

    /// Accounts from now on: budgets, leaves eaten; and enters what comes first.
    pub(super) fn begin_sitting(&mut self, id: u32, now: Moment) {
        self.larvae[id as usize].since = now;
        self.begin_eating(id, now);
        self.enter_next_event(id);
    }

    /// Closes the account since the last event: what was spent of each budget, what was eaten.
    pub(super) fn end_sitting(&mut self, id: u32, now: Moment) {
        let larva = &mut self.larvae[id as usize];
        let condition = by_condition(self.stems[larva.stem as usize].condition);
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
        self.larvae[id as usize].since = now;
    }

    /// What happens first if nothing else changes.
    #[inline]
    fn enter_next_event(&mut self, id: u32) {
        let clock = &self.plan.clock;
        let larva = &mut self.larvae[id as usize];
        let condition = by_condition(self.stems[larva.stem as usize].condition);
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
        self.queue.enter(Lane::Larvae, larva.next_time, id);
    }
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
