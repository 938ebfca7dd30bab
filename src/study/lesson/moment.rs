//! What a recorded season looks like at one moment, and what has been counted by then.

use super::{Life, Take, Visit};
use crate::ids::StemId;
use crate::scenario::STAGES;
use crate::world::HalfId;

/// An egg or larva at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Animal {
    /// Index among the lives of the take.
    pub life: usize,
    /// Stage: 0 for an egg.
    pub stage: usize,
    /// Where it is, arena metres.
    pub at_m: (f64, f64),
    /// The stem on which it stands; nothing while it walks.
    pub stem: Option<StemId>,
}

/// Late-stage larvae counted by volunteers, by the half on which they stood and the half in which they were laid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    halves: usize,
    counts: Vec<u64>,
}

impl Tally {
    /// Counted on some halves, laid in others.
    #[must_use]
    pub fn of(&self, stood: impl Fn(HalfId) -> bool, laid: impl Fn(HalfId) -> bool) -> u64 {
        let chosen = |index: &usize| {
            stood(HalfId((index / self.halves) as u16))
                && laid(HalfId((index % self.halves) as u16))
        };
        (0..self.counts.len())
            .filter(chosen)
            .map(|index| self.counts[index])
            .sum()
    }
}

impl Life {
    /// Its stage at a time in ticks, if it is there at all.
    #[must_use]
    pub fn stage_at(&self, time: f64) -> Option<usize> {
        let there = self.laid <= time && time < self.gone;
        there.then(|| self.stages.iter().filter(|began| **began <= time).count())
    }

    /// The visit that it is on or walks to at a time in ticks.
    fn visit_at(&self, time: f64) -> Option<&Visit> {
        self.visits.iter().rev().find(|visit| visit.left <= time)
    }
}

impl Take {
    /// Half of a stem.
    #[must_use]
    pub fn half(&self, stem: StemId) -> HalfId {
        self.stems[stem].half
    }

    /// Everything that is there at a time in ticks.
    #[must_use]
    pub fn animals(&self, time: f64) -> Vec<Animal> {
        let mut animals = Vec::new();
        for (index, life) in self.lives.iter().enumerate() {
            let Some(stage) = life.stage_at(time) else {
                continue;
            };
            let Some(visit) = life.visit_at(time) else {
                continue;
            };
            let standing = visit.stem.filter(|_| visit.arrived <= time);
            let at_m = match (standing, visit.walk) {
                (Some(stem), _) => {
                    let stem = &self.stems[stem];
                    (stem.x_m, stem.y_m)
                }
                (None, Some(walk)) => {
                    let points = &self.walks[walk].points_m;
                    points[self.strides_by(walk, visit.arrived, time)]
                }
                (None, None) => continue,
            };
            debug_assert!(stage < STAGES);
            animals.push(Animal {
                life: index,
                stage,
                at_m,
                stem: standing,
            });
        }
        animals
    }

    /// What late-stage larvae have walked between two times in ticks: the life, and the places in order, arena metres.
    #[must_use]
    pub fn trails(&self, from: f64, until: f64, late_from: usize) -> Vec<(usize, Vec<(f64, f64)>)> {
        let mut trails = Vec::new();
        for (index, life) in self.lives.iter().enumerate() {
            for visit in &life.visits {
                let Some(walk) = visit.walk else {
                    continue;
                };
                let apart = visit.left > until || visit.arrived < from;
                if apart || self.walks[walk].stage < late_from {
                    continue;
                }
                let first = self.strides_by(walk, visit.arrived, from);
                let last = self.strides_by(walk, visit.arrived, until);
                trails.push((index, self.walks[walk].points_m[first..=last].to_vec()));
            }
        }
        trails
    }

    /// Strides of a walk done by a time in ticks.
    fn strides_by(&self, walk: usize, ended: f64, time: f64) -> usize {
        self.walks[walk].strides_by(time, ended)
    }

    /// What volunteers have counted in the first so many surveys.
    #[must_use]
    pub fn tally(&self, surveys: usize) -> Tally {
        let halves = 2 * self.patches_m.len();
        let mut counts = vec![0; halves * halves];
        for counted in &self.counted {
            if usize::from(counted.survey) < surveys {
                let stood = self.half(counted.stem).index();
                let laid = self.half(self.lives[counted.life as usize].natal).index();
                counts[stood * halves + laid] += 1;
            }
        }
        Tally { halves, counts }
    }
}
