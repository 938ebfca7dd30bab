//! Simulated site-seasons: a whole larval season at a site of its own, as its volunteer counts it.

use super::sites::{Effect, Sites};
use crate::random::{Key, Purpose};
use crate::runner::{Runner, Taken};
use crate::season::Season;
use crate::stats::paired::PairedSite;
use crate::study::StudyError;
use crate::survey::Volunteer;
use crate::walk::NoTrail;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Halves of a pair: refuge and cut half of the treated patch, then the same of the untouched one.
pub const HALVES: usize = 4;

/// Counts by half.
pub type ByHalf = [u32; HALVES];

/// What is kept of a site-season.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SiteSeason {
    /// Whether the site lies in the second kind of surroundings.
    pub second_kind: bool,
    /// Whether the volunteer drops out before the last survey.
    pub drops_out: bool,
    /// Stems, by half.
    pub stems: ByHalf,
    /// Stems as the volunteer counted them before cutting, by half.
    pub stems_counted: ByHalf,
    /// Late-stage larvae counted over the surveys that were held.
    pub late: ByHalf,
    /// The same if the volunteer had not dropped out.
    pub late_if_staying: ByHalf,
    /// Eggs counted over the surveys that were held.
    pub eggs: ByHalf,
    /// Late-stage larvae present at all surveys, by the half in which they stand.
    pub standing: ByHalf,
    /// The same, by the half in which they were laid.
    pub home: ByHalf,
}

/// Which counts a study compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Comparison {
    /// Late stage, treated patch against untouched patch.
    Late,
    /// The same with the counts of volunteers who drop out left aside; their sites stay in the number recruited.
    LateOfStayers,
    /// The same if nobody dropped out.
    LateIfStaying,
    /// Eggs, treated patch against untouched patch.
    Eggs,
    /// Late stage, cut half against refuge half of the treated patch alone.
    Halves,
    /// Eggs in the same halves.
    HalvesEggs,
    /// Late-stage larvae that are present, by where they stand; true stems.
    Standing,
    /// The same by where they were laid: the home ratio.
    Home,
    /// Halves of the treated patch by where late-stage larvae stand; true stems.
    HalvesStanding,
    /// The same by where they were laid.
    HalvesHome,
}

impl Comparison {
    /// Name in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Late => "late",
            Self::LateOfStayers => "late_of_those_who_stay",
            Self::LateIfStaying => "late_if_all_stay",
            Self::Eggs => "eggs",
            Self::Halves => "late_by_halves",
            Self::HalvesEggs => "eggs_by_halves",
            Self::Standing => "late_standing",
            Self::Home => "late_home",
            Self::HalvesStanding => "late_standing_by_halves",
            Self::HalvesHome => "late_home_by_halves",
        }
    }

    fn by_halves(self) -> bool {
        matches!(
            self,
            Self::Halves | Self::HalvesEggs | Self::HalvesStanding | Self::HalvesHome
        )
    }
}

impl SiteSeason {
    /// The counts that a study compares, with the stems that belong to them.
    #[must_use]
    pub fn pair(&self, comparison: Comparison) -> PairedSite {
        const NOTHING: ByHalf = [0; HALVES];
        let (counts, stems) = match comparison {
            Comparison::LateOfStayers if self.drops_out => (&NOTHING, &self.stems_counted),
            Comparison::Late | Comparison::LateOfStayers | Comparison::Halves => {
                (&self.late, &self.stems_counted)
            }
            Comparison::LateIfStaying => (&self.late_if_staying, &self.stems_counted),
            Comparison::Eggs | Comparison::HalvesEggs => (&self.eggs, &self.stems_counted),
            Comparison::Standing | Comparison::HalvesStanding => (&self.standing, &self.stems),
            Comparison::Home | Comparison::HalvesHome => (&self.home, &self.stems),
        };
        let sides = |by: &ByHalf| {
            if comparison.by_halves() {
                [by[1], by[0]]
            } else {
                [by[0] + by[1], by[2] + by[3]]
            }
        };
        let ([treated, untouched], stems) = (sides(counts), sides(stems));
        PairedSite {
            treated,
            untouched,
            stems_treated: f64::from(stems[0].max(1)),
            stems_untouched: f64::from(stems[1].max(1)),
        }
    }

    /// What the volunteer of a season counts.
    #[must_use]
    pub fn of(season: &Season<'_>, second_kind: bool) -> Self {
        let plan = season.plan;
        let volunteer = Volunteer::of(plan, season.key());
        let mut kept = Self {
            second_kind,
            drops_out: volunteer.drops_out,
            ..Self::default()
        };
        for half in 0..HALVES.min(plan.layout.halves()) {
            let stems = plan.layout.stems_in(crate::world::HalfId(half as u16));
            kept.stems[half] = stems as u32;
            let counted = (stems as f64 * volunteer.stem_count_factor[half]).round();
            kept.stems_counted[half] = counted as u32;
        }
        for sighting in &season.sightings {
            let survey = usize::from(sighting.survey);
            let stands = sighting.stands.index();
            if plan.scenario.is_late(usize::from(sighting.stage)) {
                kept.standing[stands] += 1;
                kept.home[sighting.natal.index()] += 1;
            }
            let Some(read) = sighting.read.map(usize::from) else {
                continue;
            };
            let (held, staying) = (volunteer.held[survey], volunteer.held_if_staying[survey]);
            if plan.scenario.is_late(read) {
                kept.late[stands] += u32::from(held);
                kept.late_if_staying[stands] += u32::from(staying);
            }
            if read == 0 {
                kept.eggs[stands] += u32::from(held);
            }
        }
        kept
    }
}

/// Number of the form of a [`SiteSeason`]: raised when what it holds is changed.
const FORM: u32 = 1;
/// Site-seasons that are kept together: each takes a few times as long as a season of one plan.
const KEPT_TOGETHER: u64 = 8;

/// Simulates a season at each of a range of sites. A site keeps its key, hence its draws, under every effect.
///
/// # Errors
/// When the run is stopped.
pub fn site_seasons(
    sites: &Sites,
    effect: Effect,
    which: Range<u64>,
    runner: &Runner<'_>,
) -> Result<Vec<SiteSeason>, StudyError> {
    let root = Key::apart(runner.seed, Purpose::Recruitment);
    let population = sites.settings();
    let taken = Taken::new("site-seasons", FORM)
        .with(&population)
        .with(&effect);
    runner.run_each(&taken, which, KEPT_TOGETHER, |number| {
        let key = root.with(number);
        let site = sites.draw(key);
        let plan = sites.plan(&site, effect)?;
        let mut season = Season::new(&plan);
        season.run_unless(runner.stop, key, &mut NoTrail)?;
        Ok(SiteSeason::of(&season, site.second_kind))
    })
}
