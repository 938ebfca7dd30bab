//! Temperature by the hour and degree-days.

use crate::maths::{asin, cos};
use crate::scenario::Temperatures;
use crate::scenario::files::days_between;
use jiff::civil::Date;
use std::f64::consts::PI;

/// Hour of the daily maximum; the minimum is twelve hours off. Degree-days of a day do not depend on it.
const WARMEST_HOUR: f64 = 15.0;

/// Temperature, C, at an hour (may be fractional) of a day that lies `day` days after `start`.
#[must_use]
pub fn temperature(temperatures: &Temperatures, start: Date, day: usize, hour: f64) -> f64 {
    let sine = |low: f64, high: f64| {
        let phase = (hour - WARMEST_HOUR) / 24.0 * 2.0 * PI;
        f64::midpoint(low, high) + (high - low) / 2.0 * cos(phase)
    };
    let on_record = |first: Date| day + usize::try_from(days_between(first, start)).unwrap_or(0);
    match temperatures {
        Temperatures::Constant(celsius) => *celsius,
        Temperatures::DailySine(low, high) => sine(*low, *high),
        Temperatures::Daily(first, days) => days
            .get(on_record(*first))
            .or(days.last())
            .map_or(0.0, |(low, high)| sine(*low, *high)),
        Temperatures::Hourly(first, hours) => {
            let index = on_record(*first) * 24 + hour as usize;
            hours.get(index).or(hours.last()).copied().unwrap_or(0.0)
        }
    }
}

/// Degree-days per day at a temperature, with horizontal cut-off: what is above the upper threshold counts
/// as the threshold.
#[must_use]
pub fn rate(celsius: f64, lower_c: f64, upper_c: f64) -> f64 {
    (celsius.min(upper_c) - lower_c).max(0.0)
}

/// Degree-days of one day between a minimum and a maximum, C: single sine with horizontal cut-off
/// (Baskerville & Emin 1969, Ecology 50:514), as an exact integral.
///
/// A horizontal cut-off is the difference of two integrals above a threshold. With mean `m` and amplitude
/// `a`, the integral above `t` is `((m - t)(pi/2 - theta) + a cos theta)/pi`, `theta = asin((t - m)/a)`.
#[must_use]
pub fn single_sine(low_c: f64, high_c: f64, lower_c: f64, upper_c: f64) -> f64 {
    let above = |threshold: f64| {
        let mean = f64::midpoint(low_c, high_c);
        let amplitude = (high_c - low_c) / 2.0;
        if threshold <= low_c {
            mean - threshold
        } else if threshold >= high_c {
            0.0
        } else {
            let theta = asin((threshold - mean) / amplitude);
            ((mean - threshold) * (PI / 2.0 - theta) + amplitude * cos(theta)) / PI
        }
    };
    above(lower_c) - above(upper_c)
}
