//! Cutting dates compared by simulated counts and yield, under common random numbers.

use super::super::measures::{Contrast, Measured, measured};
use super::super::{Effort, StudyError, every, resampled, side_by_side, tallies};
use super::days::{Part, PartOfSite, parts};
use crate::plan::Plan;
use crate::runner::Runner;
use crate::scenario::{Layered, Scenario};
use crate::stats::{Resamples, Table};
use crate::trouble::{Outcome, Trouble};
use jiff::ToSpan;
use jiff::civil::Date;

/// Most cutting dates that are compared.
pub const MOST_DATES: usize = 60;
/// Weeks before and after the scenario's cutting date that are compared unless dates are given.
const WEEKS_AROUND: i64 = 4;

/// A cutting date with what was simulated for it. Everything else of the scenario keeps its distance in days from
/// cutting: surveys, and the span of egg-laying that is followed.
#[derive(Debug, Clone, PartialEq)]
pub struct CuttingDate {
    /// Cutting date.
    pub cutting: Date,
    /// Late-stage larvae on the cut stems per 100 of them, at all surveys of a season together.
    pub late_cut: Measured,
    /// The same on the part that is left alone: the untouched patch, or the refuge half of a single patch.
    pub late_beside: Option<Measured>,
    /// Late-stage larvae per stem, treated over untouched.
    pub observed_ratio: Measured,
    /// Larvae that pupate per stem, treated over untouched.
    pub net_yield: Measured,
    /// Late-stage larvae on the cut stems over those of the date that has the most, the same seasons compared.
    pub late_to_best: Measured,
    /// Net yield over that of the date that has the highest, the same seasons compared.
    pub yield_to_best: Measured,
}

/// Reads a list of dates, `2026-06-15,2026-07-01`, or a range in equal steps, `2026-06-01..2026-07-27/8`.
///
/// # Errors
/// When it is neither, or has too many dates or one twice.
pub fn parse_dates(text: &str) -> Outcome<Vec<Date>> {
    let wrong = |what: String| {
        Trouble::new(what)
            .at("the option --cuttings")
            .expected("dates such as 2026-06-15,2026-07-01, or a range in equal steps of whole days, 2026-06-01..2026-07-27/8")
            .remedy("mend it")
    };
    let date = |text: &str| -> Outcome<Date> {
        let text = text.trim();
        text.parse()
            .map_err(|_| wrong(format!("`{text}` is not a date")))
    };
    let mut dates = match text.split_once("..") {
        None => text.split(',').map(date).collect::<Outcome<Vec<_>>>()?,
        Some((from, rest)) => {
            let (to, steps) = rest
                .split_once('/')
                .ok_or_else(|| wrong("a range needs its number of steps".to_owned()))?;
            let (from, to) = (date(from)?, date(to)?);
            let steps = steps
                .trim()
                .parse::<i64>()
                .ok()
                .filter(|steps| (1..MOST_DATES as i64).contains(steps));
            let steps =
                steps.ok_or_else(|| wrong("the number of steps makes no sense".to_owned()))?;
            let days = crate::scenario::files::days_between(from, to);
            if days <= 0 || days % steps != 0 {
                return Err(wrong(format!(
                    "{days} days do not make {steps} steps of whole days"
                )));
            }
            (0..=steps)
                .filter_map(|step| from.checked_add((step * days / steps).days()).ok())
                .collect()
        }
    };
    dates.sort_unstable();
    if let Some(twice) = dates.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(wrong(format!("{} is given twice", twice[0])));
    }
    if dates.len() > MOST_DATES {
        return Err(wrong(format!(
            "{} dates are more than {MOST_DATES}",
            dates.len()
        )));
    }
    Ok(dates)
}

/// Weekly dates around the scenario's own, as far as temperatures are known; and how many were left out as they are not.
///
/// # Errors
/// When not even the scenario's own date can be had.
pub fn around(layered: &Layered, scenario: &Scenario) -> Outcome<(Vec<Date>, usize)> {
    let mut dates = Vec::new();
    let mut left_out = 0;
    for week in -WEEKS_AROUND..=WEEKS_AROUND {
        let days = (7 * week).days();
        let Ok(date) = scenario.cutting_date.checked_add(days) else {
            continue;
        };
        match at(layered, date) {
            Ok(_) => dates.push(date),
            Err(fault) if week == 0 => return Err(fault),
            Err(_) => left_out += 1,
        }
    }
    Ok((dates, left_out))
}

/// Checks every date before any is simulated.
///
/// # Errors
/// The first fault among the dates.
pub fn check_dates(layered: &Layered, dates: &[Date]) -> Outcome<()> {
    dates
        .iter()
        .try_for_each(|date| at(layered, *date).map(|_| ()))
}

/// The scenario with another cutting date.
fn at(layered: &Layered, cutting: Date) -> Outcome<Plan> {
    let mut changed = layered.clone();
    changed.set("dates.cutting", &format!("\"{cutting}\""))?;
    let scenario = Scenario::from_layers(&changed).map_err(|mut fault| {
        fault.what = format!("cut on {cutting}: {}", fault.what);
        fault
    })?;
    Plan::of(scenario)
}

/// Index and value of the highest of some measures.
fn best(measures: &[Measured]) -> Option<usize> {
    let known = measures
        .iter()
        .enumerate()
        .filter_map(|(index, measure)| Some((index, measure.value?)));
    known
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
        .map(|(index, _)| index)
}

/// Runs the same seasons for every cutting date.
///
/// # Errors
/// When a date makes no sense in the scenario, or the run is stopped.
pub fn compare(
    layered: &Layered,
    dates: &[Date],
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<Vec<CuttingDate>, StudyError> {
    let mut plan = None;
    let tables: Vec<Table> = every(dates.iter().map(|date| {
        let of_date = at(layered, *date)?;
        let table = tallies(&of_date, runner, 0, effort)?;
        plan.get_or_insert(of_date);
        Ok(table)
    }))?;
    let Some(plan) = plan else {
        return Err(Trouble::new("no cutting date is compared").into());
    };
    let figures = Figures {
        contrast: Contrast::of(&plan),
        parts: parts(&plan),
        resamples: resampled(&side_by_side(&tables)?, runner, effort)?,
        dates: dates.len(),
        seasons: effort.seasons as f64,
    };
    figures.all(dates)
}

/// What the figures of the dates come from: sums of all dates side by side.
struct Figures {
    contrast: Contrast,
    parts: Vec<PartOfSite>,
    resamples: Resamples,
    dates: usize,
    seasons: f64,
}

/// A measure of the sums of one date.
type Measure<'a> = &'a (dyn Fn(&[f64]) -> Option<f64> + Sync);

impl Figures {
    fn part(&self, part: Part) -> Option<&PartOfSite> {
        self.parts.iter().find(|of_site| of_site.part == part)
    }

    /// The sums of one date.
    fn block<'s>(&self, sums: &'s [f64], date: usize) -> &'s [f64] {
        let width = self.contrast.columns().count();
        &sums[date * width..(date + 1) * width]
    }

    /// Late-stage larvae on a part in a season, per 100 stems.
    fn late(&self, part: Option<&PartOfSite>, sums: &[f64]) -> Option<f64> {
        let part = part?;
        let columns = self.contrast.columns();
        let all: f64 = part
            .halves
            .iter()
            .flat_map(|stands| {
                columns
                    .halves()
                    .map(|natal| sums[columns.late(*stands, natal)])
            })
            .sum();
        Some(all / part.stems as f64 * 100.0 / self.seasons)
    }

    fn each(&self, measure: Measure<'_>) -> Result<Vec<Measured>, StudyError> {
        (0..self.dates)
            .map(|date| measured(&self.resamples, |sums| measure(self.block(sums, date))))
            .collect()
    }

    /// A measure over that of the date that has the highest, within the same resampled seasons.
    fn to_best(&self, of: &[Measured], measure: Measure<'_>) -> Result<Vec<Measured>, StudyError> {
        let best = best(of);
        (0..self.dates)
            .map(|date| {
                measured(&self.resamples, |sums| {
                    let highest = measure(self.block(sums, best?)).filter(|value| *value > 0.0)?;
                    Some(measure(self.block(sums, date))? / highest)
                })
            })
            .collect()
    }

    fn all(&self, dates: &[Date]) -> Result<Vec<CuttingDate>, StudyError> {
        let cut = self.part(Part::Cut);
        let beside = self
            .part(Part::Untouched)
            .or_else(|| self.part(Part::Refuge));
        let late_measure = |sums: &[f64]| self.late(cut, sums);
        let yield_measure = |sums: &[f64]| self.contrast.net_yield(sums);
        let late_cut = self.each(&late_measure)?;
        let late_beside = self.each(&|sums| self.late(beside, sums))?;
        let ratios = self.each(&|sums| self.contrast.observed_ratio(sums))?;
        let yields = self.each(&yield_measure)?;
        let late_to_best = self.to_best(&late_cut, &late_measure)?;
        let yield_to_best = self.to_best(&yields, &yield_measure)?;
        Ok((0..self.dates)
            .map(|date| CuttingDate {
                cutting: dates[date],
                late_cut: late_cut[date],
                late_beside: beside.map(|_| late_beside[date]),
                observed_ratio: ratios[date],
                net_yield: yields[date],
                late_to_best: late_to_best[date],
                yield_to_best: yield_to_best[date],
            })
            .collect())
    }
}

/// What the figures settle: the date with the highest measure, and those that cannot be told apart from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// Index of the date with the highest measure.
    pub best: usize,
    /// Indices of other dates whose interval of the ratio to it reaches 1.
    pub alike: Vec<usize>,
}

/// What figures settle, given each date's measure and its ratio to the best.
#[must_use]
pub fn settled(
    dates: &[CuttingDate],
    measure: impl Fn(&CuttingDate) -> Measured,
    to_best: impl Fn(&CuttingDate) -> Measured,
) -> Option<Settled> {
    let measures: Vec<Measured> = dates.iter().map(measure).collect();
    let best = best(&measures)?;
    let is_alike = |date: &CuttingDate| to_best(date).interval.is_none_or(|(_, high)| high >= 1.0);
    let alike = dates
        .iter()
        .enumerate()
        .filter(|(index, date)| *index != best && is_alike(date))
        .map(|(index, _)| index)
        .collect();
    Some(Settled { best, alike })
}
