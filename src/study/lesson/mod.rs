//! Seasons recorded for teaching: the same site under several gaps, refuge shares and cut sides, each season kept
//! whole so that it can be watched.

mod moment;

pub use moment::{Animal, Tally};

use super::{StudyError, plan_with};
use crate::ids::{LarvaId, StemId};
use crate::life::traits::PUPATING;
use crate::plan::Plan;
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, STAGES, Scenario};
use crate::season::record::{RecordedWalk, Recorder};
use crate::season::{Fate, Interrupted, Larva, Season, State};
use crate::survey::Sighting;
use crate::trouble::Trouble;
use crate::walk::End;
use crate::world::Stem;
use std::collections::BTreeMap;

/// Gaps recorded unless others are asked for, metres: from nearly touching to well apart.
pub const GAPS_M: [f64; 4] = [0.5, 2.0, 5.0, 15.0];
/// Refuge shares recorded unless others are asked for.
pub const SHARES: [f64; 4] = [0.0, 0.25, 0.5, 0.75];
/// Sides of the treated patch that are cut, as the scenario names them.
pub const SIDES: [&str; 2] = ["Towards", "Away"];

/// Most seasons that are recorded for a page: each takes about a quarter of a megabyte while it is made.
pub const MOST_TAKES: u64 = 1_000;

/// Which seasons to record.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonQuestion {
    /// Gaps, metres, ascending.
    pub gaps_m: Vec<f64>,
    /// Refuge shares, ascending, from 0 to less than 1; 0 (all is cut) is what the lesson shows as no refuge.
    pub shares: Vec<f64>,
    /// Seasons recorded at every setting.
    pub seasons: u64,
}

/// Where a larva stood and how it came there. Times are ticks.
#[derive(Debug, Clone)]
pub struct Visit {
    /// The stem, or nothing when the walk led to none.
    pub stem: Option<StemId>,
    /// When it left the stem before; when it was laid, for the first visit.
    pub left: f64,
    /// When it arrived, or the walk ended.
    pub arrived: f64,
    /// Index of the walk among those recorded.
    pub walk: Option<usize>,
}

/// One egg and what became of it. Times are ticks.
#[derive(Debug, Clone)]
pub struct Life {
    /// Index in its season.
    pub larva: LarvaId,
    /// Stem on which it was laid.
    pub natal: StemId,
    /// When it was laid.
    pub laid: f64,
    /// When each larval stage began; infinite where it was not reached.
    pub stages: [f64; STAGES - 1],
    /// When it was gone: dead, out of the arena, destroyed, or off its last stem to pupate.
    pub gone: f64,
    /// Its fate.
    pub fate: Fate,
    /// Where it stood, the natal stem first.
    pub visits: Vec<Visit>,
}

/// A late-stage larva that a volunteer found and read as late stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// Index of the survey.
    pub survey: u16,
    /// Index among the lives of the season.
    pub life: u32,
    /// The stem on which it stood.
    pub stem: StemId,
}

/// A season kept whole.
#[derive(Debug, Clone)]
pub struct Take {
    /// Index of the gap.
    pub gap: usize,
    /// Index of the refuge share.
    pub share: usize,
    /// Index of the cut side.
    pub side: usize,
    /// Replicate.
    pub season: u64,
    /// Extent of the arena, metres.
    pub arena_m: (f64, f64),
    /// Bounds of the patches: left, bottom, right, top, arena metres.
    pub patches_m: Vec<(f64, f64, f64, f64)>,
    /// Stems as the season left them.
    pub stems: Vec<Stem>,
    /// Lives, in the order of the season's larvae, without eggs that were never laid.
    pub lives: Vec<Life>,
    /// Every walk.
    pub walks: Vec<RecordedWalk>,
    /// What a volunteer counted as late stage.
    pub counted: Vec<Counted>,
}

/// The recorded seasons of a scenario.
#[derive(Debug)]
pub struct Lesson {
    /// What was asked.
    pub question: LessonQuestion,
    /// The plan at the first setting: dates, stages and species are the same in all.
    pub plan: Plan,
    /// Seasons: by gap, then refuge share, then side, then replicate. Where all is cut there is one side only.
    pub takes: Vec<Take>,
}

/// Checks a question before anything is run.
///
/// # Errors
/// When the scenario is no pair with halves, or the lists make no sense.
pub fn check(layered: &Layered, question: &LessonQuestion) -> Result<(), Trouble> {
    let scenario = Scenario::from_layers(layered)?;
    if scenario.layout != LayoutKind::PairHalfCut {
        return Err(Trouble::new(format!(
            "the lesson compares two patches, one of them with halves, and `{}` has another layout",
            scenario.name
        ))
        .at("site.layout")
        .expected("PairHalfCut")
        .remedy("choose a scenario with two patches, or add --set site.layout=PairHalfCut"));
    }
    let ascending = |list: &[f64]| list.windows(2).all(|pair| pair[0] < pair[1]);
    let gaps = &question.gaps_m;
    if gaps.len() < 2 || !ascending(gaps) || gaps[0] < 0.0 {
        return Err(Trouble::new("the list of gaps makes no sense")
            .at("the option --gaps")
            .expected("at least two gaps in metres, ascending, none negative")
            .remedy("such as --gaps 0.5,2,5,15"));
    }
    let shares = &question.shares;
    let fits = |share: &f64| (0.0..1.0).contains(share);
    let halves = shares.iter().any(|share| *share > 0.0);
    if shares.first() != Some(&0.0) || !halves || !ascending(shares) || !shares.iter().all(fits) {
        return Err(Trouble::new("the list of refuge shares makes no sense")
            .at("the option --shares")
            .expected(
                "shares from 0 to less than 1, ascending, with 0 (no refuge) and at least one more",
            )
            .remedy("such as --shares 0,0.25,0.5,0.75"));
    }
    let settings = settings(question).len() as u64;
    if takes(question) > MOST_TAKES {
        let most = MOST_TAKES / settings;
        let expected = match most {
            0 => format!("at most {MOST_TAKES} seasons in all"),
            most => {
                format!("at most {MOST_TAKES} seasons in all: --takes {most} for so many choices")
            }
        };
        return Err(Trouble::new(format!(
            "{settings} choices of gap, share and side with {} seasons each are more than a page can hold",
            question.seasons
        ))
        .at("the option --takes")
        .expected(expected)
        .remedy("record fewer seasons, or offer fewer gaps and shares"));
    }
    for gap_m in [gaps[0], gaps[gaps.len() - 1]] {
        plan_with(layered, &[("site.gap_m", gap_m.to_string())])?;
    }
    Ok(())
}

/// Settings at which seasons are recorded: indices of gap, refuge share and side. With everything cut there is no
/// side to choose.
fn settings(question: &LessonQuestion) -> Vec<(usize, usize, usize)> {
    let mut settings = Vec::new();
    for gap in 0..question.gaps_m.len() {
        for (share, refuge_share) in question.shares.iter().enumerate() {
            let sides = if *refuge_share == 0.0 { 1 } else { SIDES.len() };
            settings.extend((0..sides).map(|side| (gap, share, side)));
        }
    }
    settings
}

/// Number of seasons that will be recorded.
#[must_use]
pub fn takes(question: &LessonQuestion) -> u64 {
    (settings(question).len() as u64).saturating_mul(question.seasons)
}

/// Records the seasons.
///
/// # Errors
/// When the question makes no sense or the run is stopped.
pub fn record(
    layered: &Layered,
    question: &LessonQuestion,
    runner: &Runner<'_>,
) -> Result<Lesson, StudyError> {
    check(layered, question)?;
    let mut takes = Vec::new();
    let mut first = None;
    for at in settings(question) {
        let plan = plan_with(
            layered,
            &[
                ("site.gap_m", question.gaps_m[at.0].to_string()),
                ("site.refuge_share", question.shares[at.1].to_string()),
                ("site.cut_side", SIDES[at.2].to_owned()),
            ],
        )?;
        for season in 0..question.seasons {
            takes.push(take(&plan, runner, at, season)?);
            runner.watch.advance(1);
        }
        first.get_or_insert(plan);
    }
    let plan = first.ok_or_else(|| Trouble::new("nothing to record"))?;
    Ok(Lesson {
        question: question.clone(),
        plan,
        takes,
    })
}

fn take(
    plan: &Plan,
    runner: &Runner<'_>,
    (gap, share, side): (usize, usize, usize),
    replicate: u64,
) -> Result<Take, Interrupted> {
    let mut season = Season::new(plan);
    let mut recorder = Recorder::default();
    season.run_unless(runner.stop, runner.key(0, replicate), &mut recorder)?;
    let lives = lives(plan, &season.larvae, &recorder);
    let counted = counted(plan, &season.sightings, &lives);
    let patches_m = plan
        .layout
        .patches
        .iter()
        .map(|patch| {
            let (left, bottom, right, top) = patch.shape.bounds();
            let (x, y) = patch.origin_m;
            (left + x, bottom + y, right + x, top + y)
        })
        .collect();
    Ok(Take {
        gap,
        share,
        side,
        season: replicate,
        arena_m: plan.layout.arena_m,
        patches_m,
        stems: season.stems,
        lives,
        walks: recorder.walks,
        counted,
    })
}

fn lives(plan: &Plan, larvae: &[Larva], recorder: &Recorder) -> Vec<Life> {
    let mut lives = Vec::new();
    let mut position = BTreeMap::new();
    for (index, larva) in larvae.iter().enumerate() {
        let State::Ended(fate) = larva.state else {
            continue;
        };
        position.insert(LarvaId::new(index), lives.len());
        lives.push(Life {
            larva: LarvaId::new(index),
            natal: larva.natal,
            laid: larva.laid_at,
            stages: [f64::INFINITY; STAGES - 1],
            gone: larva.ended_at,
            fate,
            visits: vec![Visit {
                stem: Some(larva.natal),
                left: larva.laid_at,
                arrived: larva.laid_at,
                walk: None,
            }],
        });
    }
    let of = |larva: LarvaId| position.get(&larva).copied();
    for (larva, phase, time) in &recorder.phases {
        if let Some(life) = of(*larva).and_then(|at| lives.get_mut(at)) {
            match usize::from(*phase) {
                PUPATING => life.gone = *time,
                stage => life.stages[stage - 1] = *time,
            }
        }
    }
    for (index, walk) in recorder.walks.iter().enumerate() {
        if let Some(life) = of(walk.larva).and_then(|at| lives.get_mut(at)) {
            life.visits.push(Visit {
                stem: match walk.end {
                    End::Settled(stem) => Some(stem),
                    _ => None,
                },
                left: walk.began,
                arrived: walk.ended.min(plan.clock.ticks as f64),
                walk: Some(index),
            });
        }
    }
    for (larva, stem, time) in &recorder.carried {
        if let Some(life) = of(*larva).and_then(|at| lives.get_mut(at)) {
            life.visits.push(Visit {
                stem: Some(*stem),
                left: *time,
                arrived: *time,
                walk: None,
            });
        }
    }
    for life in &mut lives {
        life.visits[1..].sort_by(|a, b| a.left.total_cmp(&b.left));
    }
    lives
}

fn counted(plan: &Plan, sightings: &[Sighting], lives: &[Life]) -> Vec<Counted> {
    sightings
        .iter()
        .filter(|sighting| {
            sighting
                .read
                .is_some_and(|read| plan.scenario.is_late(usize::from(read)))
        })
        .filter_map(|sighting| {
            let life = lives
                .binary_search_by_key(&sighting.larva, |life| life.larva)
                .ok()?;
            let time = plan.clock.surveys[usize::from(sighting.survey)];
            let stem = lives[life]
                .visits
                .iter()
                .rev()
                .find(|visit| visit.arrived <= time)?
                .stem?;
            Some(Counted {
                survey: sighting.survey,
                life: life as u32,
                stem,
            })
        })
        .collect()
}
