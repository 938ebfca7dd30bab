//! Rounds of regrowth against the end of the season: by when must a cutting be made so that its larvae get through?

use super::days::known_days;
use crate::life::Clock;
use crate::life::clock::flight_on;
use crate::life::laying::Laying;
use crate::life::traits::regrowth_lag_weeks;
use crate::scenario::Scenario;
use jiff::ToSpan;
use jiff::civil::Date;
use statrs::distribution::{ContinuousCDF, Normal};

/// Days in a week.
const WEEK: f64 = 7.0;
/// Days before the scenario's cutting date from which a round is tried: the flight season has hardly begun earlier.
const EARLIEST_DAYS: i64 = 90;

/// Why the last cutting date of a round is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Temperatures end on this date, before the decline.
    StationEnds(Date),
    /// No cutting in the weeks before is early enough.
    NoneInTime,
}

/// A round that begins with a cutting: eggs laid on the fresh stems until these have aged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Round {
    /// Cutting.
    pub cutting: Date,
    /// Of its eggs, the share that develops to pupation before the season declines. Eggs are expected ones, larvae
    /// develop at the mean rate; deaths fall on all alike.
    pub in_time: f64,
    /// Date by which the share that is asked for has pupated, if that is known.
    pub finished: Option<Date>,
}

/// Rounds of regrowth in a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Rounds {
    /// First day of the decline: flight is below `answers.decline_flight` of its highest.
    pub decline: Date,
    /// The round of the scenario's own cutting.
    pub own: Option<Round>,
    /// Last cutting date whose round is finished (`answers.finished_share`) before the decline.
    pub last: Result<Date, Unknown>,
    /// Rounds by cutting date, every day from the first tried to the decline.
    pub all: Vec<Round>,
}

impl Rounds {
    /// The round of a cutting date.
    #[must_use]
    pub fn of(&self, cutting: Date) -> Option<&Round> {
        self.all.iter().find(|round| round.cutting == cutting)
    }
}

/// First day of the season's decline in the year of cutting.
#[must_use]
pub fn decline(scenario: &Scenario) -> Date {
    let year = scenario.cutting_date;
    let days = || {
        std::iter::successors(Some(year.first_of_year()), |date| {
            date.checked_add(1.days())
                .ok()
                .filter(|next| next.year() == year.year())
        })
    };
    let highest = days()
        .map(|date| flight_on(scenario, date))
        .fold(0.0, f64::max);
    let is_low =
        |date: Date| flight_on(scenario, date) < scenario.numbers.answers.decline_flight * highest;
    // Backwards from the end of the year: a lull between two flights is no decline.
    let mut decline = year.last_of_year();
    while let Ok(before) = decline.checked_sub(1.days()) {
        if before.year() != year.year() || !is_low(before) {
            break;
        }
        decline = before;
    }
    decline
}

/// Rounds of a scenario from three months before its cutting date on.
#[must_use]
pub fn rounds(scenario: &Scenario) -> Rounds {
    let decline = decline(scenario);
    let mut long = scenario.clone();
    let mut first = scenario
        .cutting_date
        .checked_sub(EARLIEST_DAYS.days())
        .unwrap_or(scenario.cutting_date);
    // Temperatures before the record begins are not known either.
    while known_days(scenario, first).is_some_and(|days| days > record_days(scenario)) {
        first = first.checked_add(1.days()).unwrap_or(scenario.cutting_date);
    }
    let until_decline = days(first, decline);
    let known = known_days(scenario, first);
    let none = |last| Rounds {
        decline,
        own: None,
        last: Err(last),
        all: Vec::new(),
    };
    if until_decline < 1 {
        return none(Unknown::NoneInTime);
    }
    if let Some(days) = known.filter(|days| *days < until_decline) {
        let ends = first.checked_add(days.days()).unwrap_or(first);
        return none(Unknown::StationEnds(ends));
    }
    long.cutting_date = first;
    let dates = &mut long.numbers.dates;
    dates.lead_in_days = 0.0;
    dates.laying_until_day = until_decline as f64;
    dates.run_out_days = 0.0;
    let clock = Clock::of(&long);
    let all: Vec<Round> = (0..until_decline)
        .map(|day| round(&long, &clock, first, day))
        .collect();
    let enough = scenario.numbers.answers.finished_share;
    let in_time = all.iter().rev().find(|round| round.in_time >= enough);
    let last = in_time.map_or(Err(Unknown::NoneInTime), |round| Ok(round.cutting));
    let own = all
        .iter()
        .find(|round| round.cutting == scenario.cutting_date)
        .copied();
    Rounds {
        decline,
        own,
        last,
        all,
    }
}

fn days(from: Date, to: Date) -> i64 {
    crate::scenario::files::days_between(from, to)
}

/// Days of the station's record; without end where there is none.
fn record_days(scenario: &Scenario) -> i64 {
    use crate::scenario::Temperatures;
    match &scenario.temperatures {
        Temperatures::Constant(_) | Temperatures::DailySine(..) => i64::MAX,
        Temperatures::Daily(_, days) => days.len() as i64,
        Temperatures::Hourly(_, hours) => (hours.len() / 24) as i64,
    }
}

/// One round, of which the clock covers all to the decline. Eggs are weighed by the day: flight, attraction of the
/// stems, and the share of them that is fresh by then.
fn round(scenario: &Scenario, clock: &Clock, first: Date, day: i64) -> Round {
    let numbers = &scenario.numbers;
    let laying = Laying::of(scenario);
    let need: f64 = numbers.development.degree_days.iter().sum();
    let cutting = clock.cutting + day as f64 * clock.ticks_per_day;
    let date = |time: f64| {
        let days = ((time - clock.cutting) / clock.ticks_per_day).ceil() as i64;
        first.checked_add(days.days()).ok()
    };
    let mut eggs = Vec::new();
    let hours = clock.ticks_per_day;
    let until = numbers.laying.attraction_to_weeks;
    for after in 0..(until * WEEK).ceil() as i64 {
        let time = cutting + (after as f64 + 0.5) * hours;
        let weeks = (after as f64 + 0.5) / WEEK;
        if weeks >= until {
            break;
        }
        // Beyond the clock lies the decline, and no egg laid in it is in time; its weight counts all the same.
        let on = first
            .checked_add((day + after).days())
            .map_or(0.0, |date| flight_on(scenario, date));
        let weight = on * laying.attraction(Some(weeks)) * regrown(scenario, weeks);
        let pupates = if time < clock.ticks as f64 {
            clock.degree_days.when(clock.degree_days.by(time) + need)
        } else {
            f64::INFINITY
        };
        eggs.push((weight, pupates));
    }
    let all: f64 = eggs.iter().map(|egg| egg.0).sum();
    // Added to a plain zero: the sum of no eggs would be a negative one.
    let of_eggs_in_time = eggs.iter().filter(|egg| egg.1.is_finite());
    let in_time = of_eggs_in_time.fold(0.0, |sum, egg| sum + egg.0);
    // Pupation comes in the order of laying, so the share is reached with the egg at which the weights do.
    let mut sum = 0.0;
    let finished = eggs.iter().find(|egg| {
        sum += egg.0;
        sum >= numbers.answers.finished_share * all
    });
    Round {
        cutting: first.checked_add(day.days()).unwrap_or(first),
        in_time: if all > 0.0 { in_time / all } else { 0.0 },
        finished: finished
            .filter(|egg| all > 0.0 && egg.1.is_finite())
            .and_then(|egg| date(egg.1)),
    }
}

/// Of the stems that grow again, the share that has by a number of weeks after cutting.
fn regrown(scenario: &Scenario, weeks: f64) -> f64 {
    let mean = regrowth_lag_weeks(scenario);
    let spread = scenario.numbers.cutting.regrowth_lag_sd_weeks;
    if spread <= 0.0 {
        return f64::from(u8::from(weeks >= mean));
    }
    Normal::new(mean, spread).map_or(0.0, |lag| lag.cdf(weeks))
}
