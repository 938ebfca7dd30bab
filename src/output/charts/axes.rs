//! Scales from data to paper, round tick values and their labels.

/// Metres in an international yard (exact by definition, 1959 agreement).
pub(super) const METRES_PER_YARD: f64 = 0.9144;

/// Room above the largest value, as a part of the drawn range, so that no
/// marker touches the top.
const HEADROOM: f64 = 0.06;

/// From here on tick labels would need more digits than fit.
const LARGEST_PLAIN: f64 = 1e6;
/// Below this step tick labels would need more decimals than fit.
const SMALLEST_PLAIN_STEP: f64 = 1e-4;

/// Digits of exponents.
const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];

/// How an axis is spaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Spacing {
    /// Equal steps take equal room.
    #[default]
    Even,
    /// By the square root: zero keeps its place, and small values get more room. Negative values mirror it.
    SquareRoot,
}

impl Spacing {
    fn of(self, value: f64) -> f64 {
        match self {
            Self::Even => value,
            Self::SquareRoot => value.abs().sqrt().copysign(value),
        }
    }
}

/// A map from data to SVG units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    start: f64,
    end: f64,
    spacing: Spacing,
}

impl Scale {
    /// Maps `low..high` onto `start..end`; `low < high` must hold.
    pub(super) fn new((low, high): (f64, f64), (start, end): (f64, f64)) -> Self {
        Self {
            low,
            high,
            start,
            end,
            spacing: Spacing::Even,
        }
    }

    /// The same ends with another spacing between them.
    pub(super) fn spaced(self, spacing: Spacing) -> Self {
        Self { spacing, ..self }
    }

    /// Place of a value; values outside the range land on its edge.
    pub(super) fn at(&self, value: f64) -> f64 {
        // Clamped before spacing, so that infinities land on an edge as well.
        let within = self.spacing.of(value.clamp(self.low, self.high));
        let (low, high) = (self.spacing.of(self.low), self.spacing.of(self.high));
        let part = ((within - low) / (high - low)).clamp(0.0, 1.0);
        self.start + part * (self.end - self.start)
    }

    /// Whether a value lies within the range.
    pub(super) fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// Smallest and largest of the values, `None` when there are none.
pub(super) fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |reach, value| match reach {
        Some((low, high)) => Some((value.min(low), value.max(high))),
        None => Some((value, value)),
    })
}

/// A range to draw: never empty, with headroom, from zero when `from_zero`.
pub(super) fn drawn_range((low, high): (f64, f64), from_zero: bool) -> (f64, f64) {
    let (mut low, mut high) = (low, high);
    if from_zero {
        low = low.min(0.0);
        high = high.max(0.0);
    }
    let mut span = high - low;
    if span <= high.abs().max(low.abs()) * f64::EPSILON * 8.0 {
        // A single value: some room on both sides, in proportion to it.
        span = if high == 0.0 { 1.0 } else { high.abs() };
        if from_zero && high == 0.0 {
            high = span;
        } else if !from_zero {
            low -= span / 2.0;
            high += span / 2.0;
        }
    }
    let room = span * HEADROOM;
    if !from_zero || low < 0.0 {
        low -= room;
    }
    (low, high + room)
}

/// Distance between ticks: 1, 2 or 5 times a power of ten, chosen so that
/// about `wanted` ticks fall into `span`.
pub(super) fn tick_step(span: f64, wanted: f64) -> f64 {
    let raw = span / wanted;
    let power = 10_f64.powf(raw.log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .min_by(|one: &f64, other: &f64| {
            let miss = |factor: f64| (factor * power / raw).ln().abs();
            miss(*one).total_cmp(&miss(*other))
        });
    factor.unwrap_or(1.0) * power
}

/// Round values within a range, with their labels.
pub(super) fn ticks((low, high): (f64, f64), wanted: f64) -> Vec<(f64, String)> {
    let step = tick_step(high - low, wanted);
    if !step.is_finite() || step <= 0.0 {
        return Vec::new();
    }
    let first = (low / step).ceil();
    let count = ((high / step).floor() - first).max(0.0) as usize;
    (0..=count)
        .map(|index| (first + index as f64) * step)
        .map(|value| (value, tick_label(value, step, low.abs().max(high.abs()))))
        .collect()
}

/// Digits that ticks of an unevenly spaced axis begin with, the roundest first.
const ROUND_DIGITS: [&[f64]; 3] = [&[1.0], &[5.0, 2.0], &[3.0]];
/// Decades below that of the largest value within which such an axis has ticks,
const DECADES: i32 = 2;
/// unless they are smaller than this part of it: a tick between zero and one metre on an axis of many.
const LEAST_TICK: f64 = 0.01;

/// Round values for an unevenly spaced axis from zero up: the roundest first, each kept if it stands at least
/// `apart` (a part of the axis) from those already there.
pub(super) fn spread_ticks(high: f64, spacing: Spacing, apart: f64) -> Vec<(f64, String)> {
    let axis = Scale::new((0.0, high), (0.0, 1.0)).spaced(spacing);
    let top = high.log10().floor();
    if high.is_nan() || high <= 0.0 || !top.is_finite() {
        return Vec::new();
    }
    let mut kept = vec![0.0];
    for digits in ROUND_DIGITS {
        for power in -DECADES..=0 {
            for digit in digits {
                let value = digit * 10_f64.powf(top + f64::from(power));
                let clear = |other: &f64| (axis.at(*other) - axis.at(value)).abs() >= apart;
                if (LEAST_TICK * high..=high).contains(&value) && kept.iter().all(clear) {
                    kept.push(value);
                }
            }
        }
    }
    kept.sort_by(f64::total_cmp);
    kept.into_iter()
        .map(|value| {
            (
                value,
                tick_label(value, if value == 0.0 { 1.0 } else { value }, high),
            )
        })
        .collect()
}

/// Label of a tick: as many decimals as the step needs.
fn tick_label(value: f64, step: f64, largest: f64) -> String {
    // Adding zero turns a negative zero into a plain one.
    let value = if value.abs() < step / 2.0 { 0.0 } else { value } + 0.0;
    if largest >= LARGEST_PLAIN || step < SMALLEST_PLAIN_STEP {
        if value == 0.0 {
            return "0".to_owned();
        }
        return powers(value);
    }
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    minus(&format!("{value:.decimals$}"))
}

/// Label of a round length, such as a tick step.
pub(super) fn step_label(step: f64) -> String {
    tick_label(step, step, step)
}

/// A value for labels in the chart, with as many decimals as suit a value of
/// the size of `reference`: bounds then have the decimals of their estimate.
pub(super) fn plain(value: f64, reference: f64) -> String {
    let size = reference.abs();
    if value.abs() >= LARGEST_PLAIN || size >= LARGEST_PLAIN {
        return powers(value);
    }
    let decimals = match size {
        size if size >= 100.0 => 0,
        size if size >= 1.0 || size == 0.0 => 1,
        _ => 2,
    };
    minus(&format!("{value:.decimals$}"))
}

/// A value as a number times a power of ten, e.g. 2.5×10⁷.
fn powers(value: f64) -> String {
    let text = format!("{value:.1e}");
    let (number, power) = text.split_once('e').unwrap_or((&text, "0"));
    let raised: String = power
        .chars()
        .map(|letter| match letter.to_digit(10) {
            Some(digit) => RAISED[digit as usize],
            None => '\u{207b}',
        })
        .collect();
    minus(&format!("{number}×10{raised}"))
}

/// From here on yards round to a whole number of two digits.
const TEN_YARDS: f64 = 9.95;

/// Metres as whole yards, one decimal below ten.
pub(super) fn yards(metres: f64) -> String {
    let yards = metres / METRES_PER_YARD;
    if yards.abs() < TEN_YARDS && metres != 0.0 {
        format!("{yards:.1}")
    } else {
        plain_whole(yards)
    }
}

fn plain_whole(value: f64) -> String {
    if value.abs() >= LARGEST_PLAIN {
        powers(value)
    } else {
        format!("{value:.0}")
    }
}

/// The typographic minus sign, which is as wide as a digit.
fn minus(text: &str) -> String {
    text.replace('-', "\u{2212}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_ticks_are_round_and_inside() {
        let labels: Vec<String> = ticks((0.0, 26.5), 5.0).into_iter().map(|t| t.1).collect();
        assert_eq!(labels, ["0", "5", "10", "15", "20", "25"]);
        let labels: Vec<String> = ticks((-0.25, 0.25), 5.0).into_iter().map(|t| t.1).collect();
        assert_eq!(labels, ["\u{2212}0.2", "\u{2212}0.1", "0.0", "0.1", "0.2"]);
    }

    #[test]
    fn exact_root_axis_keeps_zero_and_favours_small_values() {
        let axis = Scale::new((0.0, 36.0), (0.0, 60.0)).spaced(Spacing::SquareRoot);
        assert_eq!(
            [0.0, 1.0, 9.0, 36.0].map(|x| axis.at(x)),
            [0.0, 10.0, 30.0, 60.0]
        );
        assert_eq!(axis.at(f64::INFINITY), 60.0);
        let ticks = spread_ticks(34.0, Spacing::SquareRoot, 0.07);
        let labels: Vec<String> = ticks.into_iter().map(|tick| tick.1).collect();
        assert_eq!(labels, ["0", "1", "2", "5", "10", "20", "30"]);
        assert!(spread_ticks(0.0, Spacing::SquareRoot, 0.1).is_empty());
    }

    #[test]
    fn exact_single_values_get_a_range() {
        assert_eq!(drawn_range((0.0, 0.0), true), (0.0, 1.06));
        let (low, high) = drawn_range((7.0, 7.0), false);
        assert!(low < 7.0 && high > 7.0);
        let (low, high) = drawn_range((1e15, 1e15), false);
        assert!(low < high);
    }

    #[test]
    fn exact_numbers_are_written_as_people_write_them() {
        assert_eq!(plain(9.24, 9.24), "9.2");
        assert_eq!(plain(0.4, 9.24), "0.4");
        assert_eq!(plain(-0.456, 0.3), "\u{2212}0.46");
        assert_eq!(plain(-2.5e7, 1.0), "\u{2212}2.5×10⁷");
        assert_eq!(plain(2.5e-12, 1e9), "2.5×10⁻¹²");
        assert_eq!(step_label(0.05), "0.05");
        assert_eq!(step_label(20.0), "20");
    }

    #[test]
    fn exact_yards_follow_the_definition() {
        assert_eq!(yards(9.144), "10");
        assert_eq!(yards(0.9144), "1.0");
        assert_eq!(yards(0.0), "0");
    }
}
