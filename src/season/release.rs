//! A release: late larvae put on given stems at given times, instead of eggs laid through the season.

use super::Season;
use super::calling_off::{Heeding, Interrupted};
use super::larva::{Event, Larva, State};
use super::queue::Lane;
use super::sitting::{PHASE_ENDS, RISKS};
use crate::ids::StemId;
use crate::life::Moment;
use crate::maths::hypot;
use crate::random::{Key, Purpose};
use crate::scenario::Stage;
use crate::walk::Trail;
use std::sync::atomic::AtomicBool;

/// A larva that is let go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Released {
    /// Where, arena metres: it is put on the nearest stem.
    pub at_m: (f64, f64),
    /// When, ticks.
    pub time: f64,
    /// Stage, from 1; how much of the stage it has lived already is drawn evenly.
    pub stage: Stage,
}

impl Season<'_> {
    /// Runs a season in which no egg is laid and larvae are let go instead; they are numbered in the order given. A
    /// larva put on a stem without leaves never existed. It ends within about a second once a flag is set.
    ///
    /// # Errors
    /// When the flag was set before the season was complete; nothing is left of it then.
    pub fn run_release<T: Trail>(
        &mut self,
        stop: &AtomicBool,
        key: Key,
        released: &[Released],
        trail: &mut T,
    ) -> Result<(), Interrupted> {
        let mut trail = Heeding { trail, stop };
        self.set_up_without_eggs(key, &trail);
        self.make_room(released.len());
        for (number, released) in released.iter().enumerate() {
            if trail.is_called_off() {
                break;
            }
            let key = key.to(Purpose::Release).with(number as u64);
            let stem = self.nearest_stem(released.at_m);
            self.larvae.push(released_larva(released, stem, key));
            self.queue.enter(Lane::Larvae, released.time, number);
        }
        self.go(&mut trail);
        self.complete(&trail)
    }

    fn nearest_stem(&self, (x_m, y_m): (f64, f64)) -> StemId {
        let away = |stem: &crate::world::Stem| hypot(stem.x_m - x_m, stem.y_m - y_m);
        let nearest = self
            .stems
            .iter()
            .enumerate()
            .min_by(|(_, a), (_, b)| away(a).total_cmp(&away(b)));
        StemId::new(nearest.map_or(0, |(stem, _)| stem))
    }
}

fn released_larva(released: &Released, stem: StemId, key: Key) -> Larva {
    let mut left = [0.0; RISKS.len()];
    left[PHASE_ENDS] = key.to(Purpose::Release).unit();
    Larva {
        natal: stem,
        stem,
        state: State::Unlaid,
        phase: released.stage as u8,
        bouts: 0,
        stems_used: 1,
        laid_at: released.time,
        ended_at: f64::INFINITY,
        rate: 1.0,
        key,
        since: Moment::default(),
        left,
        next_time: released.time,
        next: Event::Laid,
        before: None,
        behind: None,
    }
}
