//! Recorded seasons in few bytes: places and times in whole quanta, little-endian.

use crate::ids::StemId;
use crate::season::Fate;
use crate::season::record::RecordedWalk;
use crate::study::lesson::{Lesson, Life, Take};
use crate::trouble::{Outcome, Trouble};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;

/// Stands for never, nowhere, nothing.
const NONE: u16 = u16::MAX;
/// Finest quantum of places, centimetres: well below the size of a dot on any screen.
const FINEST_CM: u32 = 2;
/// Most parts of an hour: six minutes are finer than anyone can watch.
const MOST_PARTS: u32 = 10;
/// Centimetres in a metre.
const CM: f64 = 100.0;

/// Quanta of a lesson, chosen so that every number fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quanta {
    /// Quantum of places, centimetres.
    pub point_cm: u32,
    /// Quanta of time in an hour.
    pub hour_parts: u32,
    /// Strides between the points that are kept of a walk.
    pub strides_a_point: usize,
    /// Length of a tick, hours.
    tick_h: f64,
}

impl Quanta {
    /// Quanta in which the whole lesson can be written.
    ///
    /// # Errors
    /// When the season is too long for any.
    pub fn of(lesson: &Lesson, strides_a_point: usize) -> Outcome<Self> {
        let most = f64::from(NONE - 1);
        let extent = lesson.takes.iter().fold(0.0_f64, |extent, take| {
            extent.max(take.arena_m.0).max(take.arena_m.1)
        });
        let clock = &lesson.plan.clock;
        let hours = clock.ticks as f64 * clock.tick_h;
        let parts = (most / hours).floor();
        if parts < 1.0 {
            return Err(Trouble::new(format!(
                "a season of {hours:.0} hours is too long to be recorded"
            ))
            .at("dates")
            .expected("a season of at most seven years")
            .remedy("shorten dates.laying_until_day or dates.run_out_days"));
        }
        Ok(Self {
            point_cm: FINEST_CM.max((extent * CM / most).ceil() as u32),
            hour_parts: MOST_PARTS.min(parts as u32),
            strides_a_point,
            tick_h: clock.tick_h,
        })
    }

    /// A time in ticks, rounded up, so that what has happened by a whole hour has happened in quanta as well.
    fn time(&self, ticks: f64) -> u16 {
        if !ticks.is_finite() {
            return NONE;
        }
        let parts = ticks * self.tick_h * f64::from(self.hour_parts);
        parts.ceil().clamp(0.0, f64::from(NONE - 1)) as u16
    }

    fn place(&self, metres: f64) -> i32 {
        (metres * CM / f64::from(self.point_cm)).round() as i32
    }

    fn point(&self, (x_m, y_m): (f64, f64)) -> (i32, i32) {
        (self.place(x_m), self.place(y_m))
    }
}

fn text(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}

fn words(values: impl IntoIterator<Item = u16>) -> Vec<u8> {
    values.into_iter().flat_map(u16::to_le_bytes).collect()
}

/// Stems: place, half, when they are fresh, mature again, eaten out.
pub fn stems(take: &Take, quanta: &Quanta) -> String {
    text(&words(take.stems.iter().flat_map(|stem| {
        let (x, y) = quanta.point((stem.x_m, stem.y_m));
        [
            x.max(0) as u16,
            y.max(0) as u16,
            stem.half.index() as u16,
            quanta.time(stem.fresh_at),
            quanta.time(stem.mature_at),
            quanta.time(stem.eaten_out_at),
        ]
    })))
}

fn fate(fate: Fate) -> u16 {
    Fate::ALL
        .iter()
        .position(|other| *other == fate)
        .unwrap_or_default() as u16
}

/// Lives: natal stem, laid, beginnings of L1 to L5, gone, fate, first visit, number of visits.
pub fn lives(take: &Take, quanta: &Quanta) -> String {
    let mut first = 0;
    text(&words(take.lives.iter().flat_map(|life| {
        let mut row = vec![life.natal.index() as u16, quanta.time(life.laid)];
        row.extend(life.stages.iter().map(|time| quanta.time(*time)));
        row.extend([
            quanta.time(life.gone),
            fate(life.fate),
            first as u16,
            life.visits.len() as u16,
        ]);
        first += life.visits.len();
        row
    })))
}

/// What a volunteer counted: survey, life, stem.
pub fn counted(take: &Take) -> String {
    text(&words(take.counted.iter().flat_map(|counted| {
        [
            counted.survey,
            counted.life as u16,
            counted.stem.index() as u16,
        ]
    })))
}

/// Visits and the points of the walks to them.
pub fn visits(take: &Take, quanta: &Quanta) -> (String, String) {
    let mut points = Vec::new();
    let mut rows = Vec::new();
    for life in &take.lives {
        for (index, visit) in life.visits.iter().enumerate() {
            let before = points.len();
            let first = (before / BYTES_A_POINT) as u16;
            if let Some(walk) = visit.walk.and_then(|walk| take.walks.get(walk)) {
                let from = stem_left(life, index)
                    .and_then(|stem| take.stems.get(stem.index()))
                    .map_or_else(
                        || quanta.point(walk.points_m[0]),
                        |stem| quanta.point((stem.x_m, stem.y_m)),
                    );
                walk_points(walk, visit.arrived, from, quanta, &mut points);
            }
            rows.extend([
                visit.stem.map_or(NONE, |stem| stem.index() as u16),
                quanta.time(visit.left),
                quanta.time(visit.arrived),
                first,
                ((points.len() - before) / BYTES_A_POINT) as u16,
            ]);
        }
    }
    (text(&words(rows)), text(&points))
}

/// Bytes of a point: steps in x and y, time.
const BYTES_A_POINT: usize = 3;

fn stem_left(life: &Life, index: usize) -> Option<StemId> {
    life.visits[..index]
        .iter()
        .rev()
        .find_map(|visit| visit.stem)
}

fn walk_points(
    walk: &RecordedWalk,
    ended: f64,
    from: (i32, i32),
    quanta: &Quanta,
    points: &mut Vec<u8>,
) {
    let strides = walk.points_m.len() - 1;
    let (mut at, mut time) = (from, quanta.time(walk.began));
    let mut stride = 0;
    while stride < strides {
        stride = (stride + quanta.strides_a_point).min(strides);
        let when = quanta.time(walk.time_of(stride, ended)).max(time);
        pause(when - time, points);
        time = when;
        at = steps(at, quanta.point(walk.points_m[stride]), points);
    }
}

/// Writes all but the last part of a wait as points that go nowhere; the rest is left to the next step.
fn pause(wait: u16, points: &mut Vec<u8>) {
    for _ in 0..wait / u16::from(u8::MAX) {
        points.extend([0, 0, u8::MAX]);
    }
    points.extend([0, 0, 0]);
    if let Some(last) = points.last_mut() {
        *last = (wait % u16::from(u8::MAX)) as u8;
    }
}

/// Goes to a place; a step too long for a byte is made of several. The wait before it has been written already.
fn steps(from: (i32, i32), to: (i32, i32), points: &mut Vec<u8>) -> (i32, i32) {
    let longest = i32::from(i8::MAX);
    let parts = ((to.0 - from.0).abs().max((to.1 - from.1).abs()) + longest - 1) / longest;
    let mut at = from;
    for part in 1..=parts.max(1) {
        let parts = parts.max(1);
        let next = (
            from.0 + (to.0 - from.0) * part / parts,
            from.1 + (to.1 - from.1) * part / parts,
        );
        let step = [(next.0 - at.0) as i8, (next.1 - at.1) as i8].map(|step| step.to_le_bytes()[0]);
        match points.len().checked_sub(BYTES_A_POINT) {
            // The first part fills the point that the wait left open.
            Some(last) if part == 1 => points[last..last + 2].copy_from_slice(&step),
            _ => points.extend([step[0], step[1], 0]),
        }
        at = next;
    }
    at
}
