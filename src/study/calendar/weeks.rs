//! Which weeks to count.

use super::days::DaySeries;
use crate::plan::Plan;
use crate::scenario::STAGES;

/// Share of the late-stage larvae to be seen that the weeks to count must hold.
pub const ENOUGH: f64 = 0.9;
/// Days in a week.
const WEEK: usize = 7;

/// Weekly counts and what they hold.
///
/// What is to be seen are late-stage larvae that stand on cut stems and were laid there after cutting: those alone
/// tell of the fresh growth.
#[derive(Debug, Clone, PartialEq)]
pub struct Weeks {
    /// Share of all that weekly counts would see, week by week from the first after cutting.
    pub shares: Vec<f64>,
    /// First and last week of the shortest run that holds [`ENOUGH`] of it; `None` if nothing is seen.
    pub run: Option<(usize, usize)>,
    /// Share that the run holds.
    pub held: f64,
    /// Share that counts on the scenario's own survey days would see of what counts in every week would, made alike in
    /// number; `None` if nothing is seen.
    pub scenario: Option<f64>,
}

/// Weighs the weeks of a day series.
#[must_use]
pub fn weeks(days: &DaySeries, plan: &Plan) -> Weeks {
    let late_on = |day: usize| -> f64 {
        let row = days.own.get(day);
        row.map_or(0.0, |row| row[plan.scenario.late_from..STAGES].iter().sum())
    };
    let seen: Vec<f64> = (WEEK..days.dates.len())
        .step_by(WEEK)
        .map(late_on)
        .collect();
    let all: f64 = seen.iter().sum();
    if all <= 0.0 {
        return Weeks {
            shares: vec![0.0; seen.len()],
            run: None,
            held: 0.0,
            scenario: None,
        };
    }
    let shares: Vec<f64> = seen.iter().map(|late| late / all).collect();
    let run = shortest_run(&shares, ENOUGH);
    let dates = &plan.scenario.numbers.dates;
    let own: f64 = (0..dates.surveys as usize)
        .map(|survey| {
            let day = dates.first_survey_day + survey as f64 * dates.days_between_surveys;
            late_on(day.round() as usize)
        })
        .sum();
    let per_week = WEEK as f64 / dates.days_between_surveys;
    Weeks {
        run: run.map(|(from, to)| (from + 1, to + 1)),
        held: run.map_or(0.0, |(from, to)| shares[from..=to].iter().sum()),
        shares,
        scenario: Some(own / all / per_week),
    }
}

/// The shortest run of neighbours whose sum is enough; of several the one with the largest sum, of these the first.
fn shortest_run(shares: &[f64], enough: f64) -> Option<(usize, usize)> {
    // Sums of parts of one whole differ from the whole by rounding.
    const ROUNDING: f64 = 1e-9;
    (1..=shares.len()).find_map(|length| {
        let runs = shares.windows(length).enumerate();
        let sums = runs.map(|(from, run)| (from, run.iter().sum::<f64>()));
        let best = sums.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
        (best.1 >= enough - ROUNDING).then_some((best.0, best.0 + length - 1))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_the_shortest_run_is_found() {
        let run = |shares: &[f64]| shortest_run(shares, 0.9);
        assert_eq!(run(&[0.0, 0.95, 0.05]), Some((1, 1)));
        assert_eq!(run(&[0.5, 0.4, 0.1]), Some((0, 1)));
        assert_eq!(run(&[0.2, 0.2, 0.2, 0.2, 0.2]), Some((0, 4)));
        assert_eq!(run(&[0.05, 0.45, 0.45, 0.05]), Some((1, 2)));
        assert_eq!(run(&[]), None);
    }
}
