//! What stands on the stems of each part of a site, day by day after cutting.

use super::super::{Effort, StudyError};
use crate::life::Clock;
use crate::life::clock::flight_on;
use crate::plan::Plan;
use crate::runner::{Row, Runner, Taken};
use crate::scenario::files::days_between;
use crate::scenario::{STAGES, Scenario, Temperatures};
use crate::season::Season;
use crate::stats::sorted_quantile;
use crate::trouble::Outcome;
use crate::world::HalfId;
use jiff::ToSpan;
use jiff::civil::Date;

/// Number of the form of a row: raised when what its columns hold is changed.
const FORM: u32 = 1;
/// Longest season that is followed, days: as long as a scenario's own may be.
const LONGEST_DAYS: f64 = 400.0;
/// Ends of the spread over sites.
const SPREAD: (f64, f64) = (0.05, 0.95);

/// A part of a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// All that is cut, and grows again.
    Cut,
    /// What is left standing in patches that are cut in part.
    Refuge,
    /// Patches that are left alone.
    Untouched,
}

impl Part {
    /// Word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::Refuge => "refuge",
            Self::Untouched => "untouched",
        }
    }
}

/// A part with its stems and halves.
#[derive(Debug, Clone, PartialEq)]
pub struct PartOfSite {
    /// Which part.
    pub part: Part,
    /// Its halves.
    pub halves: Vec<HalfId>,
    /// Its stems.
    pub stems: usize,
}

/// The parts of a plan that have stems, in the order of [`Part`].
#[must_use]
pub fn parts(plan: &Plan) -> Vec<PartOfSite> {
    let layout = &plan.layout;
    let kind = |half: HalfId| match (half.is_cut(), layout.patches[half.patch()].cut_stems) {
        (true, _) => Part::Cut,
        (false, 0) => Part::Untouched,
        (false, _) => Part::Refuge,
    };
    [Part::Cut, Part::Refuge, Part::Untouched]
        .into_iter()
        .map(|part| {
            let halves = (0..layout.halves() as u16).map(HalfId);
            let halves: Vec<HalfId> = halves.filter(|half| kind(*half) == part).collect();
            PartOfSite {
                part,
                stems: halves.iter().map(|half| layout.stems_in(*half)).sum(),
                halves,
            }
        })
        .filter(|part| part.stems > 0)
        .collect()
}

/// A mean over sites, and what 5 % and 95 % of sites stay below.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// 5 % of sites are below.
    pub low: f64,
    /// 95 % of sites are below.
    pub high: f64,
}

/// What stands on a part on one day: per 100 stems, by stage.
pub type DayRow = [Spread; STAGES];

/// A part, day by day.
#[derive(Debug, Clone, PartialEq)]
pub struct PartDays {
    /// Which part.
    pub part: Part,
    /// Its stems.
    pub stems: usize,
    /// Present on each day.
    pub present: Vec<DayRow>,
}

/// When a stage is first there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstDay {
    /// Day after cutting by which the first one is there at a tenth of sites; `None` if it is never there at so many.
    pub tenth: Option<f64>,
    /// The same at half of the sites.
    pub half: Option<f64>,
    /// Day with the most of them.
    pub peak: Option<f64>,
}

/// A season day by day, from the day of cutting.
#[derive(Debug, Clone, PartialEq)]
pub struct DaySeries {
    /// Dates.
    pub dates: Vec<Date>,
    /// Share of the cut stems that have turned fresh by then.
    pub regrown: Vec<Spread>,
    /// Parts.
    pub parts: Vec<PartDays>,
    /// Of those on the cut stems, the mean number that was laid there after cutting, per 100 stems, by day and stage.
    pub own: Vec<[f64; STAGES]>,
    /// When each stage laid there after cutting is there.
    pub firsts: [FirstDay; STAGES],
    /// Day after cutting to which egg-laying is followed.
    pub laying_until_day: f64,
    /// Whether the flight season goes on after that.
    pub is_cut_short: bool,
}

impl DaySeries {
    /// A part, if the site has it.
    #[must_use]
    pub fn part(&self, part: Part) -> Option<&PartDays> {
        self.parts.iter().find(|days| days.part == part)
    }
}

/// Last day of the flight season of a year, or the last of the year where it has no end.
fn flight_ends(scenario: &Scenario) -> Date {
    let mut date = scenario.cutting_date.last_of_year();
    while date > scenario.cutting_date && flight_on(scenario, date) <= 0.0 {
        date = date.checked_sub(1.days()).unwrap_or(scenario.cutting_date);
    }
    date
}

/// Days after a date for which temperatures are known; `None` without end.
pub(super) fn known_days(scenario: &Scenario, from: Date) -> Option<i64> {
    let (first, days) = match &scenario.temperatures {
        Temperatures::Constant(_) | Temperatures::DailySine(..) => return None,
        Temperatures::Daily(first, days) => (*first, days.len()),
        Temperatures::Hourly(first, hours) => (*first, hours.len() / 24),
    };
    Some(days as i64 - days_between(first, from))
}

/// A plan in which egg-laying is followed to the end of the flight season, as far as temperatures are known, and what
/// stands on the stems is looked at once a day.
///
/// # Errors
/// When patches overlap.
pub fn long_plan(scenario: &Scenario) -> Outcome<Plan> {
    let mut longer = scenario.clone();
    let dates = &mut longer.numbers.dates;
    let wanted = days_between(scenario.cutting_date, flight_ends(scenario)) as f64 + 1.0;
    let mut room = LONGEST_DAYS - dates.lead_in_days - dates.run_out_days;
    if let Some(known) = known_days(scenario, scenario.cutting_date) {
        room = room.min((known as f64 - dates.run_out_days).floor());
    }
    dates.laying_until_day = wanted.min(room).max(dates.laying_until_day);
    let mut clock = Clock::of(&longer);
    clock.surveys = day_times(&clock);
    Plan::with_clock(longer, clock)
}

/// Times at which a day is looked at: that of cutting, and whole days after it.
#[must_use]
pub fn day_times(clock: &Clock) -> Vec<f64> {
    (0..)
        .map(|day| clock.cutting + f64::from(day) * clock.ticks_per_day)
        .take_while(|time| *time < clock.ticks as f64)
        .collect()
}

/// Where things stand in the row of a season.
struct Columns {
    days: usize,
    parts: Vec<PartOfSite>,
    /// Part of each half.
    of_half: Vec<Option<usize>>,
    cut: usize,
}

impl Columns {
    fn of(plan: &Plan) -> Self {
        let parts = parts(plan);
        let mut of_half = vec![None; plan.layout.halves()];
        for (index, part) in parts.iter().enumerate() {
            for half in &part.halves {
                of_half[half.index()] = Some(index);
            }
        }
        let cut = parts.iter().find(|part| part.part == Part::Cut);
        Self {
            days: plan.clock.surveys.len(),
            of_half,
            cut: cut.map_or(0, |part| part.stems),
            parts,
        }
    }

    fn present(&self, part: usize, stage: usize, day: usize) -> usize {
        (part * STAGES + stage) * self.days + day
    }

    fn own(&self, stage: usize, day: usize) -> usize {
        self.present(self.parts.len(), stage, day)
    }

    fn regrown(&self, day: usize) -> usize {
        self.present(self.parts.len() + 1, 0, day)
    }

    fn count(&self) -> usize {
        self.regrown(self.days)
    }

    fn row(&self, season: &Season<'_>) -> Vec<f64> {
        let mut row = vec![0.0; self.count()];
        let clock = &season.plan.clock;
        for sighting in &season.sightings {
            let (stage, day) = (usize::from(sighting.stage), usize::from(sighting.survey));
            if let Some(part) = self.of_half[sighting.stands.index()] {
                row[self.present(part, stage, day)] += 1.0;
            }
            let larva = &season.larvae[sighting.larva];
            let own = sighting.stands.is_cut()
                && sighting.natal.is_cut()
                && larva.laid_at >= clock.cutting;
            if own {
                row[self.own(stage, day)] += 1.0;
            }
        }
        for stem in season.stems.iter().filter(|stem| stem.half.is_cut()) {
            let first = clock.surveys.partition_point(|time| *time < stem.fresh_at);
            for day in first..self.days {
                row[self.regrown(day)] += 1.0;
            }
        }
        row
    }
}

/// Runs the seasons of a long plan and sums them up day by day.
pub(super) fn series(
    plan: &Plan,
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<DaySeries, StudyError> {
    let columns = Columns::of(plan);
    let taken = Taken::new("days", FORM).with(&plan.clock.surveys);
    let rows = runner.run(plan, &taken, 0, 0..effort.seasons, |season| {
        Row(columns.row(season))
    })?;
    let days = 0..columns.days;
    let spread = |column: usize, per: f64| {
        let mut values: Vec<f64> = rows.iter().map(|row| row.0[column] * per).collect();
        values.sort_unstable_by(f64::total_cmp);
        Spread {
            mean: values.iter().sum::<f64>() / values.len() as f64,
            low: sorted_quantile(&values, SPREAD.0),
            high: sorted_quantile(&values, SPREAD.1),
        }
    };
    let per_hundred = |stems: usize| 100.0 / stems as f64;
    let parts = columns.parts.iter().enumerate().map(|(index, part)| {
        let day_row = |day: usize| -> DayRow {
            std::array::from_fn(|stage| {
                spread(columns.present(index, stage, day), per_hundred(part.stems))
            })
        };
        PartDays {
            part: part.part,
            stems: part.stems,
            present: days.clone().map(day_row).collect(),
        }
    });
    let own: Vec<[f64; STAGES]> = days
        .clone()
        .map(|day| {
            std::array::from_fn(|stage| {
                let all: f64 = rows.iter().map(|row| row.0[columns.own(stage, day)]).sum();
                all / rows.len() as f64 * per_hundred(columns.cut)
            })
        })
        .collect();
    let clock = &plan.clock;
    let laying_until_day = plan.scenario.numbers.dates.laying_until_day;
    let last = clock.date(clock.cutting + laying_until_day * clock.ticks_per_day);
    Ok(DaySeries {
        dates: clock.surveys.iter().map(|time| clock.date(*time)).collect(),
        regrown: days
            .clone()
            .map(|day| spread(columns.regrown(day), 1.0 / columns.cut as f64))
            .collect(),
        parts: parts.collect(),
        firsts: std::array::from_fn(|stage| first(&columns, &rows, &own, stage)),
        own,
        laying_until_day,
        is_cut_short: flight_on(&plan.scenario, last) > 0.0,
    })
}

/// When a stage of larvae laid on the cut stems after cutting is there.
fn first(columns: &Columns, rows: &[Row], own: &[[f64; STAGES]], stage: usize) -> FirstDay {
    let mut firsts: Vec<f64> = rows
        .iter()
        .map(|row| {
            let day = (0..columns.days).find(|day| row.0[columns.own(stage, *day)] > 0.0);
            day.map_or(f64::INFINITY, |day| day as f64)
        })
        .collect();
    firsts.sort_unstable_by(f64::total_cmp);
    // The day by which so many sites have it, not one between the days of two sites.
    let by = |share: f64| {
        let needed = (share * firsts.len() as f64).ceil() as usize;
        firsts
            .get(needed.max(1) - 1)
            .copied()
            .filter(|day| day.is_finite())
    };
    let peak = own
        .iter()
        .enumerate()
        .filter(|(_, row)| row[stage] > 0.0)
        .max_by(|a, b| a.1[stage].total_cmp(&b.1[stage]).then(b.0.cmp(&a.0)));
    FirstDay {
        tenth: by(0.1),
        half: by(0.5),
        peak: peak.map(|(day, _)| day as f64),
    }
}
