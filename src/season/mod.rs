//! One season of one site: the page to read first.
//!
//! [`Season::run`] goes through the ten processes of the model tick by tick (an hour by default). A larva
//! is only touched in ticks in which something happens to it: when it settles, its next event is worked
//! out exactly from what accrues with time. Stage ends, deaths and departures that fall into one tick are
//! resolved by which comes first within the tick, in real time, not by a fixed order.

mod calling_off;
mod events;
mod foliage;
mod larva;
mod queue;
pub mod record;
mod release;
mod setup;

pub use calling_off::Interrupted;
pub use larva::{Fate, Larva, State};
pub use release::Released;

use crate::plan::Plan;
use crate::random::Key;
use crate::survey::Sighting;
use crate::walk::bout::TickOfWalk;
use crate::walk::{Bout, End, Trail};
use crate::world::{Ground, Stem};
use calling_off::Heeding;
use larva::NOBODY;
use queue::{Calendar, Matter};
use std::sync::atomic::AtomicBool;

/// A season and all that it needs; reused from season to season by one thread.
#[derive(Debug)]
pub struct Season<'p> {
    /// What all seasons share.
    pub plan: &'p Plan,
    /// Stems, with their condition at the end of the season.
    pub stems: Vec<Stem>,
    /// Eggs and larvae with their fates, in the order of their stems.
    pub larvae: Vec<Larva>,
    /// Larvae and eggs seen standing on stems at surveys.
    pub sightings: Vec<Sighting>,
    /// Strides walked in the season.
    pub strides: u64,
    /// Whether the coin fell so that the cut half of each patch lies towards the other patch.
    pub coin_towards: Vec<bool>,
    key: Key,
    ground: Ground,
    ground_is_fixed: bool,
    hazards: [[f64; crate::life::traits::PHASES]; 2],
    calendar: Calendar,
    /// One bit a larva: whether it is on a stem.
    on_stems: Vec<u64>,
    bouts: Vec<Bout>,
    idle_bouts: Vec<u32>,
    walkers: Vec<u32>,
    scratch: setup::Scratch,
}

impl<'p> Season<'p> {
    /// A workspace for seasons of a plan.
    #[must_use]
    pub fn new(plan: &'p Plan) -> Self {
        Self {
            plan,
            stems: Vec::new(),
            larvae: Vec::new(),
            sightings: Vec::new(),
            strides: 0,
            coin_towards: Vec::new(),
            key: Key::master(0, 0),
            ground: plan.ground.clone(),
            ground_is_fixed: false,
            hazards: plan.traits.hazards(0.0),
            calendar: Calendar::default(),
            on_stems: Vec::new(),
            bouts: Vec::new(),
            idle_bouts: Vec::new(),
            walkers: Vec::new(),
            scratch: setup::Scratch::default(),
        }
    }

    /// Runs the season that a key owns. The result is in the public fields.
    pub fn run<T: Trail>(&mut self, key: Key, trail: &mut T) {
        self.set_up(key, trail);
        self.go(trail);
    }

    /// As [`Season::run`], but ends within about a second once a flag is set.
    ///
    /// # Errors
    /// When the flag was set before the season was complete; nothing is left of it then.
    pub fn run_unless<T: Trail>(
        &mut self,
        stop: &AtomicBool,
        key: Key,
        trail: &mut T,
    ) -> Result<(), Interrupted> {
        let mut trail = Heeding { trail, stop };
        self.run(key, &mut trail);
        self.complete(&trail)
    }

    /// Whether a season was gone through to its end; forgets what there is of one that was called off.
    fn complete<T: Trail>(&mut self, trail: &T) -> Result<(), Interrupted> {
        if !trail.is_called_off() {
            return Ok(());
        }
        self.larvae.clear();
        self.sightings.clear();
        Err(Interrupted)
    }

    /// Goes through the ticks of a season that is set up.
    fn go<T: Trail>(&mut self, trail: &mut T) {
        let mut next_survey = 0;
        let mut tick = 0;
        while tick < self.plan.clock.ticks && !trail.is_called_off() {
            if self.plan.clock.cutting == tick as f64 {
                self.cut_stems(tick as f64, trail);
            }
            self.regrow_stems(tick);
            while self.plan.clock.surveys.get(next_survey) == Some(&(tick as f64)) {
                self.survey(next_survey);
                next_survey += 1;
            }
            loop {
                self.lay_develop_die_and_leave(tick, trail);
                self.walk(tick, trail);
                if self.calendar.is_empty(Matter::Larva, tick) || trail.is_called_off() {
                    break;
                }
            }
            self.eat_out_stems(tick, trail);
            tick = self.next_tick(tick + 1);
        }
        self.close();
    }

    /// The next tick in which anything can happen: every tick while larvae walk, else the next one in the calendar.
    fn next_tick(&self, from: usize) -> usize {
        if self.walkers.is_empty() {
            self.calendar.next_busy(from)
        } else {
            from
        }
    }

    /// Walkers go on to the end of the tick, in inactive ticks by development alone; those that settle have their next
    /// event entered.
    fn walk<T: Trail>(&mut self, tick: usize, trail: &mut T) {
        let clock = &self.plan.clock;
        let now = TickOfWalk {
            end: (tick + 1) as f64,
            pace: clock.pace[tick],
            active_h: clock.active_hours.in_tick(tick),
            tick_h: clock.tick_h,
        };
        let mut at = 0;
        while at < self.walkers.len() && !trail.is_called_off() {
            let slot = self.walkers[at];
            let bout = &mut self.bouts[slot as usize];
            let larva = &self.larvae[bout.larva as usize];
            let end = bout.advance(
                usize::from(larva.phase),
                now,
                &self.plan.movement,
                &self.ground,
                &self.stems,
                trail,
            );
            let (id, time) = (bout.larva, bout.time);
            if end == End::Walking && !self.develop_on_the_ground(id, now.end, trail) {
                trail.tick_ends(id, now.end);
                at += 1;
                continue;
            }
            trail.end(id, time, end);
            self.walkers.swap_remove(at);
            self.strides += self.bouts[slot as usize].strides;
            match end {
                End::Walking => {}
                End::Settled(stem) => self.settle(id, slot, stem, time),
                End::Died => self.finish(id, Fate::DiedOffPlant, time),
                End::Lost => self.finish(id, Fate::Lost, time),
            }
            self.idle_bouts.push(slot);
        }
    }

    /// Every larva still at large is alive at the end.
    fn close(&mut self) {
        let end = self.plan.clock.ticks as f64;
        for larva in &mut self.larvae {
            if matches!(larva.state, State::OnStem | State::Walking) {
                larva.state = State::Ended(Fate::Alive);
                larva.ended_at = end;
            }
        }
        for &slot in &self.walkers {
            self.strides += self.bouts[slot as usize].strides;
        }
        self.walkers.clear();
    }

    /// First larva on a stem, then the next, and so on.
    fn first_on(&self, stem: u32) -> Option<u32> {
        let first = self.stems[stem as usize].first_larva;
        (first != NOBODY).then_some(first)
    }

    /// The key of the season.
    #[must_use]
    pub fn key(&self) -> Key {
        self.key
    }
}
