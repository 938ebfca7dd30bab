//! When to cut and when to count: what stands on the stems day by day, and what other cutting dates would give.

mod cuttings;
mod days;
mod eggs;
mod rounds;
mod weeks;

pub use cuttings::{
    CuttingDate, MOST_DATES, Settled, around, check_dates, compare, parse_dates, settled,
};
pub use days::{
    DayRow, DaySeries, FirstDay, Part, PartDays, PartOfSite, Spread, day_times, long_plan, parts,
};
pub use eggs::{EggDay, egg_days};
pub use rounds::{Round, Rounds, Unknown, decline, rounds};
pub use weeks::{ENOUGH, Weeks, weeks};

use super::{Effort, StudyError, known};
use crate::plan::Plan;
use crate::runner::Runner;
use crate::scenario::{Layered, Scenario};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;

/// Most seasons: rows of single seasons are kept, as their spread is asked for.
pub const MOST_SEASONS: u64 = super::MOST_ROWS;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarQuestion {
    /// Cutting dates to compare, ascending.
    pub cuttings: Vec<Date>,
    /// Seasons of the day series and of each cutting date.
    pub seasons: u64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct CalendarAnswer {
    /// Cutting date of the scenario.
    pub cutting: Date,
    /// Day by day.
    pub days: DaySeries,
    /// Weeks to count.
    pub weeks: Weeks,
    /// When an egg laid on a day gets how far, by degree-days alone.
    pub eggs: Vec<EggDay>,
    /// Rounds of regrowth and the end of the season.
    pub rounds: Rounds,
    /// Cutting dates compared.
    pub dates: Vec<CuttingDate>,
    /// Seasons of the day series and of each date.
    pub seasons: u64,
}

/// Checks that there is something to ask of a scenario.
///
/// # Errors
/// When nothing is cut in it.
pub fn check(scenario: &Scenario) -> Outcome<()> {
    let plan = Plan::of(scenario.clone())?;
    if parts(&plan).iter().any(|part| part.part == Part::Cut) {
        return Ok(());
    }
    Err(Trouble::new("nothing is cut in this scenario")
        .at("site.refuge_share")
        .expected("a site with a patch or half that is cut")
        .remedy("choose another layout or a smaller refuge share"))
}

/// Answers the question.
///
/// # Errors
/// When a cutting date makes no sense in the scenario, or the run is stopped.
pub fn answer(
    layered: &Layered,
    scenario: &Scenario,
    question: &CalendarQuestion,
    runner: &Runner<'_>,
) -> Result<CalendarAnswer, StudyError> {
    let plan = long_plan(scenario)?;
    let effort = Effort::of(question.seasons);
    runner.watch.begin("day by day", question.seasons);
    let days = known(days::series(&plan, effort, runner))?;
    runner.watch.end();
    let all = question.seasons * question.cuttings.len() as u64;
    runner.watch.begin("cutting dates", all);
    let dates = compare(layered, &question.cuttings, effort, runner);
    runner.watch.end();
    let (days, dates) = (days.ok_or(StudyError::Elsewhere)?, dates?);
    Ok(CalendarAnswer {
        cutting: scenario.cutting_date,
        weeks: weeks(&days, &plan),
        eggs: egg_days(&plan),
        rounds: rounds(scenario),
        days,
        dates,
        seasons: question.seasons,
    })
}
