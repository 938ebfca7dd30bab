//! The clock of a season: what depends only on date and weather, worked out once for all replicates.

use super::weather;
use crate::maths::pow;
use crate::scenario::Scenario;
use jiff::ToSpan;
use jiff::civil::Date;

/// Something that accrues with time, and its inverse.
#[derive(Debug, Clone)]
pub struct Accrual {
    ticks: Vec<Tick>,
    total: f64,
    guide: Vec<u32>,
    per_amount: f64,
}

/// One tick of an accrual.
#[derive(Debug, Clone, Copy)]
struct Tick {
    /// Amount at the start of the tick.
    sum: f64,
    /// Amount that accrues in it.
    amount: f64,
    /// Reciprocal of that amount, 0 where nothing accrues: so no look-up divides.
    reciprocal: f64,
}

/// A time, and what has accrued by then.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moment {
    /// Time, ticks.
    pub time: f64,
    /// Degree-days, C.
    pub dd: f64,
    /// Active hours.
    pub active_h: f64,
}

/// What a step is like for those who walk in it.
#[derive(Debug, Clone, Copy)]
pub struct StepWeather {
    /// End of the step, steps.
    pub end: f64,
    /// Factor of temperature and daylight on speed; 0 while inactive.
    pub pace: f64,
    /// Active hours in the step.
    pub active_h: f64,
    /// Length of the step, hours.
    pub step_h: f64,
}

/// Entries of the guide table per tick: four make the search from a guide a step long.
const GUIDE_DENSITY: usize = 4;

impl Accrual {
    /// From what accrues in each tick, of which there must be one at least.
    #[must_use]
    pub fn of(amounts: &[f64]) -> Self {
        let mut ticks = Vec::with_capacity(amounts.len());
        let mut sum = 0.0;
        for amount in amounts {
            let next = sum + amount;
            ticks.push(Tick {
                sum,
                amount: next - sum,
                reciprocal: if *amount > 0.0 { amount.recip() } else { 0.0 },
            });
            sum = next;
        }
        let entries = (GUIDE_DENSITY * amounts.len()).max(1);
        let per_amount = if sum > 0.0 { entries as f64 / sum } else { 0.0 };
        let mut guide = Vec::with_capacity(entries + 1);
        let mut tick = 0;
        for entry in 0..=entries {
            let amount = if per_amount > 0.0 {
                entry as f64 / per_amount
            } else {
                0.0
            };
            while tick + 1 < ticks.len() && ticks[tick + 1].sum < amount {
                tick += 1;
            }
            guide.push(tick as u32);
        }
        Self {
            ticks,
            total: sum,
            guide,
            per_amount,
        }
    }

    /// Amount accrued by a time in ticks.
    #[inline]
    #[must_use]
    pub fn by(&self, time: f64) -> f64 {
        let tick = (time as u32 as usize).min(self.ticks.len() - 1);
        let Tick { sum, amount, .. } = self.ticks[tick];
        sum + (time - tick as f64) * amount
    }

    /// First time in ticks by which an amount has accrued; infinite if it never does.
    #[inline]
    #[must_use]
    pub fn when(&self, amount: f64) -> f64 {
        if amount > self.total || amount.is_nan() {
            return f64::INFINITY;
        }
        if amount <= 0.0 {
            return 0.0;
        }
        let entry = (amount * self.per_amount) as u32 as usize;
        let mut tick = self.guide[entry.min(self.guide.len() - 1)] as usize;
        while tick > 0 && self.ticks[tick].sum >= amount {
            tick -= 1;
        }
        while let Some(next) = self.ticks.get(tick + 1)
            && next.sum < amount
        {
            tick += 1;
        }
        let Tick {
            sum, reciprocal, ..
        } = self.ticks[tick];
        tick as f64 + ((amount - sum) * reciprocal).min(1.0)
    }

    /// Amount of the whole season.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.total
    }

    /// Amount that accrues in one tick.
    #[must_use]
    pub fn in_tick(&self, tick: usize) -> f64 {
        self.ticks[tick].amount
    }
}

/// Everything about time. A tick is one step of the life processes, an hour by default; times are real
/// numbers of ticks since midnight of the first day.
#[derive(Debug, Clone)]
pub struct Clock {
    /// First day.
    pub start: Date,
    /// Length of a tick, hours.
    pub tick_h: f64,
    /// Number of ticks.
    pub ticks: usize,
    /// Ticks in a day.
    pub ticks_per_day: f64,
    /// Time of cutting.
    pub cutting: f64,
    /// Times of the surveys.
    pub surveys: Vec<f64>,
    /// Degree-days, C.
    pub degree_days: Accrual,
    /// Active hours: daylight above the temperature of activity.
    pub active_hours: Accrual,
    /// Weeks of full flight: the measure that egg-laying follows.
    pub flight_weeks: Accrual,
    /// Factor of temperature on walking speed by tick; 0 while inactive.
    pub pace: Vec<f64>,
}

impl Clock {
    /// The clock of a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let dates = &scenario.numbers.dates;
        let lead_days = dates.lead_in_days.ceil();
        let ticks_per_day = (24.0 / dates.tick_h).round();
        let days = (lead_days + dates.laying_until_day + dates.run_out_days).ceil();
        let ticks = (days * ticks_per_day) as usize;
        let start = scenario
            .cutting_date
            .checked_sub((lead_days as i64).days())
            .unwrap_or(scenario.cutting_date);
        let at_hour =
            |day: f64| (lead_days + day) * ticks_per_day + dates.survey_hour / dates.tick_h;
        let surveys = (0..dates.surveys as usize)
            .map(|week| {
                at_hour(dates.first_survey_day + week as f64 * dates.days_between_surveys).floor()
            })
            .collect();
        let hourly = Hourly::of(scenario, start, ticks, ticks_per_day);
        Self {
            start,
            tick_h: dates.tick_h,
            ticks,
            ticks_per_day,
            cutting: at_hour(0.0).floor(),
            surveys,
            degree_days: Accrual::of(&hourly.degree_days),
            active_hours: Accrual::of(&hourly.active_hours),
            flight_weeks: Accrual::of(&hourly.flight_weeks),
            pace: hourly.pace,
        }
    }

    /// A time, with what has accrued by then.
    #[inline]
    #[must_use]
    pub fn moment(&self, time: f64) -> Moment {
        Moment {
            time,
            dd: self.degree_days.by(time),
            active_h: self.active_hours.by(time),
        }
    }

    /// Weather of a step.
    #[inline]
    #[must_use]
    pub fn weather(&self, step: usize) -> StepWeather {
        StepWeather {
            end: (step + 1) as f64,
            pace: self.pace[step],
            active_h: self.active_hours.in_tick(step),
            step_h: self.tick_h,
        }
    }

    /// Calendar date of a time.
    #[must_use]
    pub fn date(&self, time: f64) -> Date {
        let day = (time / self.ticks_per_day) as i64;
        self.start.checked_add(day.days()).unwrap_or(self.start)
    }

    /// Days since cutting of a time.
    #[must_use]
    pub fn days_since_cutting(&self, time: f64) -> f64 {
        (time - self.cutting) / self.ticks_per_day
    }

    /// Ticks in a number of weeks.
    #[must_use]
    pub fn weeks(&self, weeks: f64) -> f64 {
        weeks * 7.0 * self.ticks_per_day
    }
}

struct Hourly {
    degree_days: Vec<f64>,
    active_hours: Vec<f64>,
    flight_weeks: Vec<f64>,
    pace: Vec<f64>,
}

impl Hourly {
    fn of(scenario: &Scenario, start: Date, ticks: usize, ticks_per_day: f64) -> Self {
        let numbers = &scenario.numbers;
        let tick_h = numbers.dates.tick_h;
        let (sunrise, sunset) = (numbers.weather.sunrise_h, numbers.weather.sunset_h);
        let last_laying = numbers.dates.lead_in_days.ceil() + numbers.dates.laying_until_day;
        let mut hourly = Self {
            degree_days: Vec::with_capacity(ticks),
            active_hours: Vec::with_capacity(ticks),
            flight_weeks: Vec::with_capacity(ticks),
            pace: Vec::with_capacity(ticks),
        };
        for tick in 0..ticks {
            let day = (tick as f64 / ticks_per_day) as usize;
            let from = tick as f64 * tick_h - day as f64 * 24.0;
            let celsius =
                weather::temperature(&scenario.temperatures, start, day, from + tick_h / 2.0);
            let development = &numbers.development;
            let rate = weather::rate(
                celsius,
                development.lower_threshold_c,
                development.upper_threshold_c,
            );
            let light = ((from + tick_h).min(sunset) - from.max(sunrise)).max(0.0);
            let active = if celsius >= numbers.walking.active_above_c {
                light
            } else {
                0.0
            };
            let tens = (celsius - numbers.walking.q10_reference_c) / 10.0;
            let warmth = pow(numbers.walking.q10, tens);
            let season = if (day as f64) < last_laying {
                let date = start.checked_add((day as i64).days()).unwrap_or(start);
                flight_on(scenario, date)
            } else {
                0.0
            };
            hourly.degree_days.push(rate * tick_h / 24.0);
            hourly.active_hours.push(active);
            hourly.pace.push(if active > 0.0 {
                warmth * active / tick_h
            } else {
                0.0
            });
            hourly
                .flight_weeks
                .push(season * light / (sunset - sunrise) / 7.0);
        }
        hourly
    }
}

/// Relative egg-laying on a day: straight lines between the knots, level beyond the first and last.
#[must_use]
pub fn flight_on(scenario: &Scenario, date: Date) -> f64 {
    let today = f64::from(date.day_of_year());
    let knots = &scenario.flight;
    match knots.iter().position(|knot| knot.0 > today) {
        Some(0) => knots[0].1,
        None => knots.last().map_or(0.0, |knot| knot.1),
        Some(next) => {
            let (from, to) = (knots[next - 1], knots[next]);
            from.1 + (to.1 - from.1) * (today - from.0) / (to.0 - from.0)
        }
    }
}
