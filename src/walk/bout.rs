//! One bout: from leaving a stem to settling on another, dying, or leaving the arena.

use super::perception::met_at;
use super::turning::Turns;
use crate::ids::{BoutSlot, LarvaId, StemId, indexed_by};
use crate::life::Traits;
use crate::life::clock::StepWeather;
use crate::life::traits::{by_condition, stage_of};
use crate::maths::{cos, sin, square};
use crate::random::{Key, Stream, exponential, unit};
use crate::scenario::{PerStage, Scenario};
use crate::world::ground::{COVER_BITS, COVERS, NEAR, OUTSIDE};
use crate::world::{Ground, Stems};
use rand::Rng;
use std::f64::consts::TAU;

/// How larvae of a scenario move, by cover.
#[derive(Debug, Clone)]
pub struct Movement {
    turns: Vec<Turns>,
    speed_factor: [f64; COVERS],
    hazard_per_h: [f64; COVERS],
    strides_per_h: PerStage,
    acceptance: [PerStage; 2],
    /// Length of a stride, metres.
    pub stride_m: f64,
    range2_m2: f64,
    /// Square of the distance from the middle of a stride beyond which no stem can be met by it, square metres.
    beside2_m2: f64,
    /// Distance from the end of a stride within which a stem can be met, metres.
    pub reach_m: f64,
}

/// Largest mean cosine that a cover may bring about: beyond it a walk is a straight line.
const STRAIGHTEST: f64 = 0.999;

impl Movement {
    /// Movement in a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario, traits: &Traits) -> Self {
        let (walking, ground) = (&scenario.numbers.walking, &scenario.numbers.ground);
        // In the order of `cover_code`.
        let covers = [
            &ground.short_grass,
            &ground.mown,
            &ground.tall_grass,
            &ground.paved,
        ];
        Self {
            turns: covers
                .iter()
                .map(|cover| {
                    let cosine = walking.mean_cosine * cover.straightness_factor;
                    Turns::wrapped_cauchy(cosine.min(STRAIGHTEST))
                })
                .collect(),
            speed_factor: covers.map(|cover| cover.speed_factor),
            hazard_per_h: covers.map(|cover| cover.hazard_factor * traits.ground_hazard_per_h),
            strides_per_h: traits.strides_per_h,
            acceptance: traits.acceptance,
            stride_m: walking.stride_m,
            range2_m2: walking.perceptual_range_m * walking.perceptual_range_m,
            beside2_m2: square(walking.perceptual_range_m + walking.stride_m / 2.0),
            reach_m: walking.perceptual_range_m + walking.stride_m,
        }
    }

    /// The same movement with turns of one's own, for comparison with theory.
    #[must_use]
    pub fn with_turns(mut self, turns: &Turns) -> Self {
        self.turns = vec![turns.clone(); COVERS];
        self
    }
}

/// How a bout goes on or ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// It goes on in the next tick.
    Walking,
    /// Settled on a stem.
    Settled(StemId),
    /// Died on the ground.
    Died,
    /// Walked out of the arena.
    Lost,
}

/// Follows walks, and what else changes where a larva is or how old it is, for maps, tables and lessons.
pub trait Trail {
    /// Whether the season is to end at once. Whoever asks leaves things as they are; what is left is of no use.
    #[inline]
    fn is_called_off(&self) -> bool {
        false
    }
    /// A bout begins.
    fn begin(&mut self, larva: LarvaId, stage: usize, time: f64, x_m: f64, y_m: f64);
    /// A stride ends.
    fn stride(&mut self, larva: LarvaId, x_m: f64, y_m: f64);
    /// A bout ends.
    fn end(&mut self, larva: LarvaId, time: f64, end: End);
    /// A tick ends while the bout goes on.
    fn tick_ends(&mut self, _larva: LarvaId, _time: f64) {}
    /// A phase begins: a stage, or the time after the larva has left to pupate.
    fn phase_begins(&mut self, _larva: LarvaId, _phase: u8, _time: f64) {}
    /// A volunteer carries a larva or egg to another stem.
    fn carried(&mut self, _larva: LarvaId, _stem: StemId, _time: f64) {}
}

/// Strides between two looks at whether the season is called off: few enough to be done within a moment even where a
/// thousand stems stand near, many enough to cost nothing.
const STRIDES_BETWEEN_LOOKS: u64 = 1 << 14;

/// Follows nothing, at no cost.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoTrail;

impl Trail for NoTrail {
    #[inline]
    fn begin(&mut self, _: LarvaId, _: usize, _: f64, _: f64, _: f64) {}
    #[inline]
    fn stride(&mut self, _: LarvaId, _: f64, _: f64) {}
    #[inline]
    fn end(&mut self, _: LarvaId, _: f64, _: End) {}
}

/// A larva on the ground.
#[derive(Debug, Clone)]
pub struct Bout {
    /// The larva.
    pub larva: LarvaId,
    /// Place, arena coordinates, metres.
    pub x_m: f64,
    /// Place, arena coordinates, metres.
    pub y_m: f64,
    /// Time reached, ticks.
    pub time: f64,
    /// Strides so far.
    pub strides: u64,
    /// The stride taken last, metres.
    stride: (f64, f64),
    under_way: f64,
    hazard_left: f64,
    rejected: Vec<StemId>,
    stream: Stream,
}

indexed_by!(BoutSlot, Bout);

impl Bout {
    /// A bout that has not begun; for reuse.
    #[must_use]
    pub fn idle() -> Self {
        Self {
            larva: LarvaId::new(0),
            x_m: 0.0,
            y_m: 0.0,
            time: 0.0,
            strides: 0,
            stride: (0.0, 0.0),
            under_way: 0.0,
            hazard_left: 0.0,
            rejected: Vec::new(),
            stream: Key::master(0, 0).stream(),
        }
    }

    /// Begins a bout at a place with a random heading. `left` is the stem that was left by choice and is not
    /// climbed again in this bout; a larva that fell may climb its stem again.
    pub fn begin(
        &mut self,
        larva: LarvaId,
        key: Key,
        place: (f64, f64),
        time: f64,
        left: Option<StemId>,
        stride_m: f64,
    ) {
        let mut stream = key.stream();
        let heading = unit(&mut stream) * TAU;
        self.larva = larva;
        (self.x_m, self.y_m) = place;
        self.time = time;
        self.strides = 0;
        self.stride = (stride_m * cos(heading), stride_m * sin(heading));
        self.under_way = 0.0;
        self.hazard_left = exponential(&mut stream);
        self.rejected.clear();
        self.rejected.extend(left);
        self.stream = stream;
    }

    /// The next number of the larva's own for what follows the bout: a unit-exponential.
    pub fn next_exponential(&mut self) -> f64 {
        exponential(&mut self.stream)
    }

    /// Walks to the end of a step, or until the bout ends earlier.
    pub fn advance<T: Trail>(
        &mut self,
        phase: usize,
        step: StepWeather,
        movement: &Movement,
        ground: &Ground,
        stems: &Stems,
        trail: &mut T,
    ) -> End {
        let stage = stage_of(phase);
        // Nobody walks in inactive steps: what was left of them is passed over.
        self.time = self.time.max(step.end - 1.0);
        if step.pace <= 0.0 || self.time >= step.end {
            return End::Walking;
        }
        loop {
            let cover = ground.code(ground.cell(self.x_m, self.y_m)) & COVER_BITS;
            let index = usize::from(cover);
            let strides_per_step = movement.strides_per_h[stage]
                * movement.speed_factor[index]
                * step.pace
                * step.step_h;
            let hazard_per_step = movement.hazard_per_h[index] * step.active_h;
            let dies_at = self.time + self.hazard_left / hazard_per_step;
            let until = step.end.min(dies_at);
            let walked = self.under_way + (until - self.time) * strides_per_step;
            let whole = walked as u64;
            let (taken, end) = self.stride_on(whole, cover, stage, movement, ground, stems, trail);
            match end {
                None if taken == whole => {
                    self.hazard_left -= (until - self.time) * hazard_per_step;
                    self.under_way = walked - whole as f64;
                    self.time = until;
                    return if dies_at <= step.end {
                        End::Died
                    } else {
                        End::Walking
                    };
                }
                stopped => {
                    let elapsed = (taken as f64 - self.under_way) / strides_per_step;
                    self.hazard_left -= elapsed * hazard_per_step;
                    self.under_way = 0.0;
                    self.time = (self.time + elapsed).min(until);
                    if let Some(end) = stopped {
                        return end;
                    }
                }
            }
        }
    }

    /// Takes up to a number of strides on one cover. Returns the strides taken and, if the bout ended, how;
    /// fewer strides without an end mean that the cover changed.
    #[allow(clippy::too_many_arguments)]
    #[inline]
    fn stride_on<T: Trail>(
        &mut self,
        strides: u64,
        cover: u8,
        stage: usize,
        movement: &Movement,
        ground: &Ground,
        stems: &Stems,
        trail: &mut T,
    ) -> (u64, Option<End>) {
        let mut taken = 0;
        let mut end = None;
        while taken < strides {
            if trail.is_called_off() {
                // The rest of the tick is not walked, as if it were done.
                return (strides, None);
            }
            let at_once = (strides - taken).min(STRIDES_BETWEEN_LOOKS);
            taken += self.stride_freely(at_once, cover, movement, ground, trail);
            let cell = ground.cell(self.x_m, self.y_m);
            let code = ground.code(cell);
            if code & OUTSIDE != 0 {
                end = Some(End::Lost);
            } else if code & NEAR != 0 {
                end = self
                    .meet(ground, cell, stems, (movement, stage), trail)
                    .map(End::Settled);
            }
            if end.is_some() || code & COVER_BITS != cover {
                break;
            }
        }
        self.strides += taken;
        (taken, end)
    }

    /// Strides on while the cover lasts and no stem is near. Returns the strides taken; after the last of them there
    /// is something to look at, unless all were taken.
    ///
    /// Everything that changes is a local here, so that it stays in registers.
    #[inline]
    fn stride_freely<T: Trail>(
        &mut self,
        strides: u64,
        cover: u8,
        movement: &Movement,
        ground: &Ground,
        trail: &mut T,
    ) -> u64 {
        let turns = &movement.turns[usize::from(cover)];
        let mut stream = self.stream.clone();
        let (mut x, mut y) = (self.x_m, self.y_m);
        let (mut dx, mut dy) = self.stride;
        let mut left = strides;
        while left > 0 {
            left -= 1;
            let (cos, sin) = turns.pick(stream.next_u64());
            (dx, dy) = (dx * cos - dy * sin, dx * sin + dy * cos);
            x += dx;
            y += dy;
            trail.stride(self.larva, x, y);
            let cell = ground.cell(x, y);
            let code = ground.code(cell);
            if code != cover
                && (code & !NEAR != cover
                    || ground.any_near(cell, (x - dx / 2.0, y - dy / 2.0), movement.beside2_m2))
            {
                break;
            }
        }
        self.stream = stream;
        (self.x_m, self.y_m) = (x, y);
        self.stride = (dx, dy);
        strides - left
    }

    /// Meets the stems on a stride, nearest along the path first; the first one accepted is climbed.
    fn meet<T: Trail>(
        &mut self,
        ground: &Ground,
        cell: usize,
        stems: &Stems,
        (movement, stage): (&Movement, usize),
        trail: &T,
    ) -> Option<StemId> {
        let stride = self.stride;
        let from = (self.x_m - stride.0, self.y_m - stride.1);
        let mut passed = f64::NEG_INFINITY;
        loop {
            let mut first: Option<(f64, StemId)> = None;
            for (stem, x, y) in ground.near(cell) {
                // A bout meets the stem that it began at more often than any other.
                if self.rejected.contains(&stem) {
                    continue;
                }
                let Some(at) = met_at(from, stride, (x, y), movement.range2_m2) else {
                    continue;
                };
                let earlier = first.is_none_or(|(best, id)| at < best || (at == best && stem < id));
                if earlier && at >= passed && stems[stem].condition.has_leaves() {
                    first = Some((at, stem));
                }
            }
            let (at, stem) = first?;
            passed = at;
            let condition = by_condition(stems[stem].condition);
            if unit(&mut self.stream) < movement.acceptance[condition][stage] {
                return Some(stem);
            }
            self.rejected.push(stem);
            if trail.is_called_off() {
                return None;
            }
        }
    }
}
