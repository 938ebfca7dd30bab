//! How far an egg gets by degree-days alone.

use crate::life::traits::PHASES;
use crate::plan::Plan;

/// An egg laid on a day, in a larva that develops at the mean rate.
#[derive(Debug, Clone, PartialEq)]
pub struct EggDay {
    /// Day after cutting on which it is laid, at the hour of cutting.
    pub day: usize,
    /// Days after cutting on which L1 to L5 begin, the larva leaves its stem to pupate, and it pupates; `None` beyond
    /// the end of the season that is followed.
    pub begins: [Option<f64>; PHASES],
}

/// An egg for each day from cutting to the end of egg-laying.
#[must_use]
pub fn egg_days(plan: &Plan) -> Vec<EggDay> {
    let clock = &plan.clock;
    let last = plan.scenario.numbers.dates.laying_until_day.floor() as usize;
    (0..=last)
        .map(|day| {
            let laid = clock.cutting + day as f64 * clock.ticks_per_day;
            let mut need = clock.degree_days.by(laid);
            let begins = std::array::from_fn(|phase| {
                need += plan.traits.need_dd[phase];
                let time = clock.degree_days.when(need);
                time.is_finite().then(|| clock.days_since_cutting(time))
            });
            EggDay { day, begins }
        })
        .collect()
}
