//! One season of one site: the page to read first.
//!
//! [`Season::run`] goes through the season step by step (an hour by default), and `Season::step` through the ten
//! processes of the model, each in the file of its name. A larva is only touched in steps in which something happens
//! to it: when it settles on a stem, the first of the competing risks of its sitting is worked out exactly from what
//! accrues with time (`sitting`). Ends of stages, deaths and departures that fall into one step are resolved by which
//! comes first within the step, in real time, not by a fixed order.

mod calling_off;
mod death;
mod development;
mod egg_laying;
mod feeding;
mod larva;
mod leaving;
mod leaving_to_pupate;
mod queue;
pub mod record;
mod release;
mod setup;
mod sitting;
mod stems;
mod surveying;
mod walking;

pub use calling_off::Interrupted;
pub use larva::{Fate, Larva, State};
pub use release::Released;

use crate::ids::{BoutSlot, LarvaId};
use crate::life::traits::Hazards;
use crate::plan::Plan;
use crate::random::Key;
use crate::survey::Sighting;
use crate::walk::{Bout, Trail};
use crate::world::{Ground, Stem};
use calling_off::Heeding;
use development::Grown;
use larva::Event;
use queue::{Lane, Queue};
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
    hazards: Hazards,
    queue: Queue,
    /// One bit a larva: whether it is on a stem.
    on_stems: Vec<u64>,
    bouts: Vec<Bout>,
    idle_bouts: Vec<BoutSlot>,
    walkers: Vec<BoutSlot>,
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
            queue: Queue::default(),
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

    /// Goes through the steps of a season that is set up.
    fn go<T: Trail>(&mut self, trail: &mut T) {
        let mut step = 0;
        while step < self.plan.clock.ticks && !trail.is_called_off() {
            self.step(step, trail);
            step = self.next_step(step + 1);
        }
        self.close();
    }

    /// The ten processes of one step.
    fn step<T: Trail>(&mut self, step: usize, trail: &mut T) {
        // 1. What the step is like: the plan has summed it for all seasons.
        let weather = self.plan.clock.weather(step);
        // 2. Stems are cut, turn fresh, and age.
        self.stems(step, trail);
        // 10. Volunteers count as a step begins.
        self.survey(step);
        loop {
            // 3, 4, 5, 7 and 9. Each of these at its own moment within the step.
            while let Some((id, event, now)) = self.next_event(step) {
                if trail.is_called_off() {
                    return;
                }
                match event {
                    Event::Laid => self.egg_laying(id, now),
                    Event::PhaseEnds => match self.development(id, now, trail) {
                        Grown::Older => {}
                        Grown::Up => self.leaving_to_pupate(id, now),
                    },
                    Event::Dies => self.death(id, now),
                    Event::Leaves => self.leaving(id, now, trail),
                }
            }
            // 8. Those on the ground walk to the end of the step, or to a stem, on which something may happen yet.
            self.walking(weather, trail);
            if self.queue.is_empty(Lane::Larvae, step) || trail.is_called_off() {
                break;
            }
        }
        // 6. Stems without leaves at the end of the step are left by all.
        self.feeding(step, trail);
    }

    /// The next step in which anything can happen: every step while larvae walk, else the next one in the queue.
    fn next_step(&self, from: usize) -> usize {
        if self.walkers.is_empty() {
            self.queue.next_busy(from)
        } else {
            from
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
            self.strides += self.bouts[slot].strides;
        }
        self.walkers.clear();
    }

    /// A life ends.
    fn finish(&mut self, id: LarvaId, fate: Fate, time: f64) {
        let larva = &mut self.larvae[id];
        larva.state = State::Ended(fate);
        larva.ended_at = time;
    }

    /// The key of the season.
    #[must_use]
    pub fn key(&self) -> Key {
        self.key
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
}
