//! A season as it went: every walk with its times, every stage that began, every larva that was carried.

use crate::ids::{LarvaId, StemId};
use crate::walk::{End, Trail};
use std::collections::BTreeMap;

/// A walk as recorded. Times are ticks.
#[derive(Debug, Clone)]
pub struct RecordedWalk {
    /// Larva in its season.
    pub larva: LarvaId,
    /// Stage at the start.
    pub stage: usize,
    /// Start.
    pub began: f64,
    /// End; infinite when the season or the larva's life on stems ended first.
    pub ended: f64,
    /// How it ended.
    pub end: End,
    /// Positions, arena metres, the start first.
    pub points_m: Vec<(f64, f64)>,
    /// Ticks that ended on the way: when, and how many strides had been taken by then.
    pub tick_ends: Vec<(f64, usize)>,
}

impl RecordedWalk {
    /// When a stride was done, ticks. `ended` is the end of the walk, or of the season where the walk outlasts it.
    #[must_use]
    pub fn time_of(&self, stride: usize, ended: f64) -> f64 {
        let tick = self
            .tick_ends
            .partition_point(|(_, strides)| *strides < stride);
        let leg = self.leg(tick, ended);
        let part = (stride - leg.before) as f64 / (leg.end - leg.before).max(1) as f64;
        leg.from + (leg.until - leg.from) * part
    }

    /// Strides done by a time in ticks; `ended` as above.
    #[must_use]
    pub fn strides_by(&self, time: f64, ended: f64) -> usize {
        let tick = self.tick_ends.partition_point(|(end, _)| *end <= time);
        let leg = self.leg(tick, ended);
        if leg.until <= leg.from {
            return leg.end;
        }
        let part = ((time - leg.from) / (leg.until - leg.from)).clamp(0.0, 1.0);
        leg.before + (part * (leg.end - leg.before) as f64) as usize
    }

    /// The part of the walk within one tick: strides of a tick follow each other evenly, and nobody walks before the
    /// tick in which a stride was taken.
    fn leg(&self, tick: usize, ended: f64) -> Leg {
        let (from, before) = match tick.checked_sub(1) {
            Some(last) => self.tick_ends[last],
            None => (self.began, 0),
        };
        let (until, end) = match self.tick_ends.get(tick) {
            Some(end) => *end,
            None => (ended, self.points_m.len() - 1),
        };
        Leg {
            from: from.max(until.ceil() - 1.0),
            until,
            before,
            end,
        }
    }
}

/// Strides of one tick: from when to when, and how many were done before and after.
struct Leg {
    from: f64,
    until: f64,
    before: usize,
    end: usize,
}

/// Places that one recorder has room for: a gigabyte or two.
const ROOM: usize = 60_000_000;

/// Records every walk of a season, every stage that begins and every larva that is carried. It calls the season off when
/// its walks take more memory than a table or a picture of them is worth.
#[derive(Debug, Default)]
pub struct Recorder {
    /// Walks in the order in which they began.
    pub walks: Vec<RecordedWalk>,
    /// Phases that began after the egg: larva, phase, time in ticks; in the order of time within a larva.
    pub phases: Vec<(LarvaId, u8, f64)>,
    /// Larvae and eggs carried by volunteers: larva, stem, time in ticks.
    pub carried: Vec<(LarvaId, StemId, f64)>,
    open: BTreeMap<LarvaId, usize>,
    places: usize,
}

impl Recorder {
    /// Whether there was no room for all walks, so that what is recorded is not whole.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.places > ROOM
    }

    /// Most places that are recorded.
    #[must_use]
    pub fn room() -> usize {
        ROOM
    }

    fn under_way(&mut self, larva: LarvaId) -> Option<&mut RecordedWalk> {
        let index = *self.open.get(&larva)?;
        self.walks.get_mut(index)
    }
}

impl Trail for Recorder {
    fn is_called_off(&self) -> bool {
        self.is_full()
    }

    fn begin(&mut self, larva: LarvaId, stage: usize, time: f64, x_m: f64, y_m: f64) {
        self.places += 1;
        self.open.insert(larva, self.walks.len());
        self.walks.push(RecordedWalk {
            larva,
            stage,
            began: time,
            ended: f64::INFINITY,
            end: End::Walking,
            points_m: vec![(x_m, y_m)],
            tick_ends: Vec::new(),
        });
    }

    fn stride(&mut self, larva: LarvaId, x_m: f64, y_m: f64) {
        self.places += 1;
        if let Some(walk) = self.under_way(larva) {
            walk.points_m.push((x_m, y_m));
        }
    }

    fn end(&mut self, larva: LarvaId, time: f64, end: End) {
        if let Some(walk) = self.under_way(larva) {
            walk.ended = time;
            walk.end = end;
        }
        self.open.remove(&larva);
    }

    fn tick_ends(&mut self, larva: LarvaId, time: f64) {
        if let Some(walk) = self.under_way(larva) {
            let strides = walk.points_m.len() - 1;
            walk.tick_ends.push((time, strides));
        }
    }

    fn phase_begins(&mut self, larva: LarvaId, phase: u8, time: f64) {
        self.phases.push((larva, phase, time));
    }

    fn carried(&mut self, larva: LarvaId, stem: StemId, time: f64) {
        self.carried.push((larva, stem, time));
    }
}
