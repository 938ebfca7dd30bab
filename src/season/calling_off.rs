//! Seasons that can be called off: a season of a large site takes minutes, and whoever wants it to end should not wait
//! for it. The loops that can be long ask the trail, which is at hand wherever a season goes.

use crate::ids::{LarvaId, StemId};
use crate::walk::{End, Trail};
use std::sync::atomic::{AtomicBool, Ordering};

/// The run was interrupted before it was complete.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("interrupted")]
pub struct Interrupted;

/// A trail that also says when a flag is set.
pub(super) struct Heeding<'t, T> {
    pub trail: &'t mut T,
    pub stop: &'t AtomicBool,
}

impl<T: Trail> Trail for Heeding<'_, T> {
    #[inline]
    fn is_called_off(&self) -> bool {
        self.stop.load(Ordering::Relaxed) || self.trail.is_called_off()
    }
    #[inline]
    fn begin(&mut self, larva: LarvaId, stage: usize, time: f64, x_m: f64, y_m: f64) {
        self.trail.begin(larva, stage, time, x_m, y_m);
    }
    #[inline]
    fn stride(&mut self, larva: LarvaId, x_m: f64, y_m: f64) {
        self.trail.stride(larva, x_m, y_m);
    }
    #[inline]
    fn end(&mut self, larva: LarvaId, time: f64, end: End) {
        self.trail.end(larva, time, end);
    }
    #[inline]
    fn tick_ends(&mut self, larva: LarvaId, time: f64) {
        self.trail.tick_ends(larva, time);
    }
    #[inline]
    fn phase_begins(&mut self, larva: LarvaId, phase: u8, time: f64) {
        self.trail.phase_begins(larva, phase, time);
    }
    #[inline]
    fn carried(&mut self, larva: LarvaId, stem: StemId, time: f64) {
        self.trail.carried(larva, stem, time);
    }
}
