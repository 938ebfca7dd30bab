//! The plain hour-by-hour loop: a second, slow account of a season that touches every larva in every tick.
//! The program's own loop skips ticks in which nothing happens to a larva; both must agree larva by larva.
//!
//! It shares `Bout`, `Traits` and `Clock` with the program: what it proves is the skipping, not the biology.

mod common;

use common::plan;
use crawlspan::ids::{LarvaId, StemId};
use crawlspan::life::clock::StepWeather;
use crawlspan::life::traits::{PHASES, PUPATING, by_condition, stage_of};
use crawlspan::plan::Plan;
use crawlspan::random::{Key, Purpose};
use crawlspan::season::{Fate, Season};
use crawlspan::walk::{Bout, End, NoTrail, Trail};
use crawlspan::world::{Condition, Ground, Stem};
use rand_distr::{Distribution, Exp1, StandardNormal};

enum Place {
    Unlaid,
    Never,
    Stem,
    Ground(Box<Bout>),
    Done(Fate),
}

struct PlainLarva {
    key: Key,
    natal: StemId,
    stem: StemId,
    laid_at: f64,
    place: Place,
    phase: usize,
    rate: f64,
    need: f64,
    death: f64,
    leave: f64,
    bouts: u16,
    ended_at: f64,
}

struct PlainSeason<'p> {
    plan: &'p Plan,
    ground: Ground,
    stems: Vec<Stem>,
    eaten: Vec<f64>,
    hazards: [[f64; PHASES]; 2],
    larvae: Vec<PlainLarva>,
    present: Vec<(usize, LarvaId, StemId, usize)>,
}

impl<'p> PlainSeason<'p> {
    /// Starts from the same stems and eggs as a season of the program; all that follows is done anew.
    fn starting_like(season: &Season<'p>) -> Self {
        let plan = season.plan;
        let mut ground = plan.ground.clone();
        let stems: Vec<Stem> = season
            .stems
            .iter()
            .map(|stem| {
                let mut fresh = Stem::new(stem.x_m, stem.y_m, stem.half);
                (fresh.fresh_at, fresh.mature_at) = (stem.fresh_at, stem.mature_at);
                fresh
            })
            .collect();
        for (id, stem) in stems.iter().enumerate() {
            ground.enter(StemId::new(id), stem.x_m, stem.y_m, plan.movement.reach_m);
        }
        let z: f64 = StandardNormal.sample(&mut season.key().to(Purpose::SiteSurvival).stream());
        let larvae = season
            .larvae
            .iter()
            .map(|larva| PlainLarva {
                key: larva.key,
                natal: larva.natal,
                stem: larva.natal,
                laid_at: larva.laid_at,
                place: Place::Unlaid,
                phase: 0,
                rate: 1.0,
                need: 0.0,
                death: 0.0,
                leave: 0.0,
                bouts: 0,
                ended_at: f64::INFINITY,
            })
            .collect();
        Self {
            eaten: vec![0.0; stems.len()],
            hazards: plan.traits.hazards(plan.traits.site_logit_sd * z),
            plan,
            ground,
            stems,
            larvae,
            present: Vec::new(),
        }
    }

    fn run(&mut self) {
        for tick in 0..self.plan.clock.ticks {
            self.stems_at(tick as f64);
            for (survey, time) in self.plan.clock.surveys.iter().enumerate() {
                if *time == tick as f64 {
                    let standing = self
                        .larvae
                        .iter()
                        .enumerate()
                        .filter(|(_, larva)| matches!(larva.place, Place::Stem));
                    self.present.extend(standing.map(|(id, larva)| {
                        (survey, LarvaId::new(id), larva.stem, stage_of(larva.phase))
                    }));
                }
            }
            for id in 0..self.larvae.len() {
                self.one_tick(id, tick);
            }
            self.eat_out((tick + 1) as f64);
        }
        for larva in &mut self.larvae {
            if matches!(larva.place, Place::Stem | Place::Ground(_)) {
                larva.place = Place::Done(Fate::Alive);
            }
        }
    }

    fn stems_at(&mut self, now: f64) {
        if now == self.plan.clock.cutting {
            for (id, stem) in self
                .stems
                .iter_mut()
                .enumerate()
                .filter(|(_, stem)| stem.half.is_cut())
            {
                stem.condition = Condition::Stubble;
                for larva in &mut self.larvae {
                    if larva.stem.index() == id && matches!(larva.place, Place::Stem) {
                        larva.place = Place::Done(Fate::Destroyed);
                        larva.ended_at = now;
                    }
                }
            }
        }
        for (stem, eaten) in self.stems.iter_mut().zip(&mut self.eaten) {
            if stem.fresh_at == now && stem.condition == Condition::Stubble {
                stem.condition = Condition::Fresh;
                *eaten = 0.0;
            } else if stem.mature_at == now && stem.condition == Condition::Fresh {
                stem.condition = Condition::Mature;
            }
        }
    }

    fn one_tick(&mut self, id: usize, tick: usize) {
        let mut now = tick as f64;
        let end = now + 1.0;
        if matches!(self.larvae[id].place, Place::Unlaid) {
            let laid_at = self.larvae[id].laid_at;
            if laid_at >= end {
                return;
            }
            if !self.stems[self.larvae[id].natal].condition.has_leaves() {
                self.larvae[id].place = Place::Never;
                return;
            }
            self.hatchable(id);
            now = laid_at;
        }
        loop {
            match self.larvae[id].place {
                Place::Unlaid | Place::Never | Place::Done(_) => return,
                Place::Stem => match self.sit(id, tick, now) {
                    Some(later) => now = later,
                    None => return,
                },
                Place::Ground(_) => match self.walk(id, tick) {
                    Some(later) => now = later,
                    None => return,
                },
            }
        }
    }

    fn hatchable(&mut self, id: usize) {
        let larva = &mut self.larvae[id];
        let mut stream = larva.key.to(Purpose::Life).stream();
        let z: f64 = StandardNormal.sample(&mut stream);
        larva.rate = (self.plan.traits.rate_log_sd * z).exp();
        larva.death = Exp1.sample(&mut stream);
        larva.leave = Exp1.sample(&mut stream);
        larva.need = self.plan.traits.need_dd[0];
        larva.place = Place::Stem;
    }

    /// Sits until the end of the tick (`None`) or until something happens at a time within it.
    fn sit(&mut self, id: usize, tick: usize, now: f64) -> Option<f64> {
        let (clock, traits) = (&self.plan.clock, &self.plan.traits);
        let larva = &mut self.larvae[id];
        let stage = stage_of(larva.phase);
        let condition = by_condition(self.stems[larva.stem].condition);
        let own_dd = clock.degree_days.in_tick(tick) * larva.rate;
        let hazard = self.hazards[condition][larva.phase] * own_dd;
        let leaving = if stage == 0 {
            0.0
        } else {
            (traits.leave_per_h[condition][stage] + traits.fall_per_h[stage])
                * clock.active_hours.in_tick(tick)
        };
        let left = (tick + 1) as f64 - now;
        let waits = [
            larva.need / own_dd,
            larva.death / hazard,
            larva.leave / leaving,
        ]
        .map(|wait| if wait.is_nan() { f64::INFINITY } else { wait });
        // Degree-days may have run out on the ground: the phase then ends on arrival.
        let waits = waits.map(|wait: f64| wait.max(0.0));
        let first = waits.iter().copied().fold(left, f64::min);
        larva.need -= first * own_dd;
        larva.death -= first * hazard;
        larva.leave -= first * leaving;
        self.eaten[larva.stem.index()] += first * own_dd * traits.intake_cm_per_dd[stage];
        if first >= left {
            return None;
        }
        let then = now + first;
        if waits[0] == first {
            self.end_phase(id, then);
        } else if waits[1] == first {
            self.end(id, Fate::DiedOnStem, then);
        } else {
            self.depart(id, then, true);
        }
        Some(then)
    }

    fn end(&mut self, id: usize, fate: Fate, time: f64) {
        self.larvae[id].place = Place::Done(fate);
        self.larvae[id].ended_at = time;
    }

    fn end_phase(&mut self, id: usize, time: f64) {
        let larva = &mut self.larvae[id];
        larva.phase += 1;
        if larva.phase == PUPATING {
            self.pupate(id, time);
            return;
        }
        larva.need += self.plan.traits.need_dd[larva.phase];
        if self.stems[larva.stem].condition == Condition::EatenOut {
            self.depart(id, time, false);
        }
    }

    fn pupate(&mut self, id: usize, time: f64) {
        // Tick by tick to whichever comes first: the end of the last instar or death.
        let clock = &self.plan.clock;
        let larva = &mut self.larvae[id];
        let (mut need, mut now) = (self.plan.traits.need_dd[PUPATING], time);
        let hazard = self.hazards[0][PUPATING];
        while (now as usize) < clock.ticks {
            let own_dd = clock.degree_days.in_tick(now as usize) * larva.rate;
            let left = now.floor() + 1.0 - now;
            let (ends, dies) = (need / own_dd, larva.death / (own_dd * hazard));
            if ends.min(dies) <= left {
                let fate = if dies < ends {
                    Fate::DiedOffPlant
                } else {
                    Fate::Pupated
                };
                self.end(id, fate, now + ends.min(dies));
                return;
            }
            need -= left * own_dd;
            larva.death -= left * own_dd * hazard;
            now = now.floor() + 1.0;
        }
        self.end(id, Fate::Alive, now);
    }

    fn depart(&mut self, id: usize, time: f64, by_hazard: bool) {
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id];
        let stage = stage_of(larva.phase);
        let stem = &self.stems[larva.stem];
        let condition = by_condition(stem.condition);
        let key = larva.key.to(Purpose::Bout).with(u64::from(larva.bouts));
        let (leaves, falls) = (
            traits.leave_per_h[condition][stage],
            traits.fall_per_h[stage],
        );
        let fell = by_hazard && key.to(Purpose::Fall).unit() * (leaves + falls) < falls;
        larva.bouts += 1;
        let mut bout = Bout::idle();
        let left = (!fell).then_some(larva.stem);
        bout.begin(
            LarvaId::new(id),
            key,
            (stem.x_m, stem.y_m),
            time,
            left,
            self.plan.movement.stride_m,
        );
        larva.place = Place::Ground(Box::new(bout));
    }

    fn walk(&mut self, id: usize, tick: usize) -> Option<f64> {
        let clock = &self.plan.clock;
        let now = StepWeather {
            end: (tick + 1) as f64,
            pace: clock.pace[tick],
            active_h: clock.active_hours.in_tick(tick),
            step_h: clock.tick_h,
        };
        let larva = &mut self.larvae[id];
        let Place::Ground(mut bout) = std::mem::replace(&mut larva.place, Place::Never) else {
            return None;
        };
        let began = bout.time.max(tick as f64);
        let (mut phase, mut need) = (larva.phase, larva.need);
        let end = bout.advance(
            phase,
            now,
            &self.plan.movement,
            &self.ground,
            &self.stems,
            &mut NoTrail,
        );
        // Degree-days of the part of this tick that was spent on the ground.
        let until = if end == End::Walking {
            now.end
        } else {
            bout.time
        };
        need -= (until - began) * clock.degree_days.in_tick(tick) * larva.rate;
        (larva.phase, larva.need) = (phase, need);
        match end {
            End::Walking => {
                larva.place = Place::Ground(bout);
                while need <= 0.0 {
                    phase += 1;
                    self.larvae[id].phase = phase;
                    if phase == PUPATING {
                        self.pupate(id, now.end);
                        return None;
                    }
                    need += self.plan.traits.need_dd[phase];
                    self.larvae[id].need = need;
                }
                None
            }
            End::Settled(stem) => {
                larva.leave = bout.next_exponential();
                larva.stem = stem;
                larva.place = Place::Stem;
                Some(bout.time)
            }
            End::Died => {
                self.end(id, Fate::DiedOffPlant, bout.time);
                None
            }
            End::Lost => {
                self.end(id, Fate::Lost, bout.time);
                None
            }
        }
    }

    fn eat_out(&mut self, time: f64) {
        let traits = &self.plan.traits;
        for stem in 0..self.stems.len() {
            let here = &self.stems[stem];
            if !here.condition.has_leaves() {
                continue;
            }
            let regrown = here.half.is_cut() && here.fresh_at <= time;
            let grown = if regrown {
                traits.regrowth.grown_cm(time - here.fresh_at)
            } else {
                traits.regrowth.full_cm
            };
            if grown - self.eaten[stem] > traits.eaten_out_cm {
                continue;
            }
            self.stems[stem].condition = Condition::EatenOut;
            for id in 0..self.larvae.len() {
                let larva = &self.larvae[id];
                if larva.stem.index() == stem
                    && matches!(larva.place, Place::Stem)
                    && larva.phase > 0
                {
                    self.depart(id, time, false);
                }
            }
        }
    }
}

fn compare(name: &str, settings: &[(&str, &str)], seasons: u64) {
    let plan = plan(name, settings);
    let mut season = Season::new(&plan);
    let (mut lives, mut bouts, mut eaten_out) = (0usize, 0u64, 0usize);
    for replicate in 0..seasons {
        season.run(Key::master(11, 0).with(replicate), &mut NoTrail);
        let mut plain = PlainSeason::starting_like(&season);
        plain.run();
        for (id, (fast, slow)) in season.larvae.iter().zip(&plain.larvae).enumerate() {
            let fate = match slow.place {
                Place::Done(fate) => Some(fate),
                _ => None,
            };
            let told = format!("{name}, replicate {replicate}, larva {id}: fast {fast:?}");
            assert_eq!(fast.fate(), fate, "{told}");
            assert_eq!(usize::from(fast.phase), slow.phase, "{told}");
            assert_eq!(fast.bouts, slow.bouts, "{told}");
            // Rounding of sums of thousands of ticks; a tick is 1.
            if fate.is_some() && fate != Some(Fate::Alive) {
                assert!(
                    (fast.ended_at - slow.ended_at).abs() < 1e-6,
                    "{told}, slow {}",
                    slow.ended_at
                );
            }
            lives += usize::from(fate.is_some());
            bouts += u64::from(fast.bouts);
        }
        let seen: Vec<(usize, LarvaId, usize)> = season
            .sightings
            .iter()
            .map(|s| (usize::from(s.survey), s.larva, usize::from(s.stage)))
            .collect();
        let present: Vec<(usize, LarvaId, usize)> =
            plain.present.iter().map(|p| (p.0, p.1, p.3)).collect();
        assert_eq!(seen, present, "{name}, replicate {replicate}: surveys");
        for (id, (fast, slow)) in season.stems.iter().zip(&plain.stems).enumerate() {
            assert_eq!(
                fast.condition, slow.condition,
                "{name}, replicate {replicate}, stem {id}"
            );
            eaten_out += usize::from(slow.condition == Condition::EatenOut);
        }
    }
    println!(
        "{name}: {seasons} seasons, {lives} lives, {bouts} bouts, {eaten_out} stems eaten out: all agree"
    );
    assert!(lives > 0 && bouts > 0);
}

#[test]
fn exact_skipping_agrees_with_the_plain_loop_by_default() {
    compare("verge-pair", &[], 40);
}

#[test]
fn exact_skipping_agrees_with_the_plain_loop_at_half_an_hour() {
    compare(
        "verge-pair",
        &[("dates.tick_h", "0.5"), ("laying.attraction_peak", "8")],
        10,
    );
}

#[test]
fn exact_skipping_agrees_with_the_plain_loop_where_food_is_shared() {
    compare("cinnabar-strip", &[], 6);
    compare(
        "verge-pair",
        &[
            ("feeding.lifetime_intake_cm", "150"),
            ("plant.mature_stem_cm", "60"),
            ("laying.eggs_per_stem_week", "0.6"),
        ],
        15,
    );
}

#[test]
fn exact_skipping_agrees_with_the_plain_loop_on_mixed_ground_late_in_summer() {
    compare(
        "late-summer",
        &[
            ("site.between", "Paved"),
            ("site.surroundings", "TallGrass"),
            ("site.treated.cover", "Mown"),
            ("walking.mature_preference", "2.5"),
        ],
        20,
    );
    compare(
        "one-patch",
        &[(
            "site.treated.placement",
            "Clustered(stems_per_cluster: 6, spread_m: 0.3)",
        )],
        20,
    );
}

/// Notes when phases begin, and of whom on the ground.
#[derive(Default)]
struct Moults {
    on_the_ground: std::collections::BTreeSet<LarvaId>,
    /// Larva, phase that begins, time, whether on the ground.
    seen: Vec<(LarvaId, u8, f64, bool)>,
}

impl Trail for Moults {
    fn begin(&mut self, larva: LarvaId, _: usize, _: f64, _: f64, _: f64) {
        self.on_the_ground.insert(larva);
    }
    fn stride(&mut self, _: LarvaId, _: f64, _: f64) {}
    fn end(&mut self, larva: LarvaId, _: f64, _: End) {
        self.on_the_ground.remove(&larva);
    }
    fn phase_begins(&mut self, larva: LarvaId, phase: u8, time: f64) {
        let on_the_ground = self.on_the_ground.contains(&larva);
        self.seen.push((larva, phase, time, on_the_ground));
    }
}

/// Owes nothing to the loops: a phase begins when the degree-days since the egg was laid make up the phases before, on
/// the ground at the end of that step, by night as by day.
#[test]
fn exact_phases_begin_in_the_step_in_which_their_degree_days_are_done() {
    const ROUNDING_DD: f64 = 1e-6;
    // Slow walkers that few stems take in, so that many a night is spent on the ground.
    let plan = plan(
        "verge-pair",
        &[
            ("walking.acceptance", "0.2"),
            ("leaving.per_day.l3", "0.8"),
            ("leaving.per_day.l4", "0.8"),
            ("leaving.per_day.l5", "0.8"),
            ("walking.death_per_active_hour", "0.002"),
        ],
    );
    let done_by: Vec<f64> = plan
        .traits
        .need_dd
        .iter()
        .scan(0.0, |sum, need| {
            *sum += need;
            Some(*sum)
        })
        .collect();
    let (mut by_day, mut by_night) = (0, 0);
    let mut season = Season::new(&plan);
    for replicate in 0..40 {
        let mut moults = Moults::default();
        season.run(Key::master(5, 0).with(replicate), &mut moults);
        for (id, phase, time, on_the_ground) in moults.seen {
            let larva = &season.larvae[id];
            let own_dd = |time: f64| {
                let dd = &plan.clock.degree_days;
                larva.rate * (dd.by(time) - dd.by(larva.laid_at))
            };
            let due = done_by[usize::from(phase) - 1];
            let told = format!("replicate {replicate}, larva {id}, phase {phase} at {time}");
            assert!(own_dd(time) >= due - ROUNDING_DD, "too early: {told}");
            let step = time.ceil() - 1.0;
            assert!(own_dd(step) < due + ROUNDING_DD, "too late: {told}");
            if on_the_ground {
                assert_eq!(time.fract(), 0.0, "{told}");
                if plan.clock.pace[step as usize] > 0.0 {
                    by_day += 1;
                } else {
                    by_night += 1;
                }
            }
        }
    }
    println!("moults on the ground: {by_day} by day, {by_night} by night");
    assert!(by_day > 0 && by_night > 0);
}
