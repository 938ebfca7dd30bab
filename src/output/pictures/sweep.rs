//! A sweep as a chart: a line over one setting, shaded cells over two.

use super::super::charts::{
    self, Across, CurveChart, CurvePoint, CurveSeries, HeatAxis, HeatChart, Rendered, Threshold,
    Upward, style,
};
use super::super::text::percent;
use super::{estimate, unbroken};
use crate::study::drawn::{Drawn, Limit};
use crate::study::sweep::{Axis, Described, SweepPoint};
use crate::trouble::Trouble;

/// A setting in metres under this name is a gap: its axis gives small values more room, in yards too.
const GAP: &str = "site.gap_m";

/// A sweep that is complete.
#[derive(Debug)]
pub struct Swept<'a> {
    /// The settings varied,
    pub axes: &'a [Axis],
    /// and what they mean.
    pub described: &'a [Described],
    /// All points, the last setting running fastest.
    pub points: &'a [SweepPoint],
    /// What is shown.
    pub drawn: Drawn,
    /// Stray share that is tolerated.
    pub tolerance: f64,
}

/// Draws a sweep over one or two settings; `None` for more.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn sweep(swept: &Swept<'_>) -> Result<Option<Rendered>, Trouble> {
    match swept.described {
        [axis] => line(swept, axis).map(Some),
        [across, upward] => cells(swept, across, upward).map(Some),
        _ => Ok(None),
    }
}

impl Swept<'_> {
    fn limit(&self) -> Option<Threshold> {
        let (value, name) = match self.drawn.limit {
            Limit::Tolerance => (
                self.tolerance,
                format!("tolerance {}", unbroken(&percent(self.tolerance))),
            ),
            Limit::Even => (1.0, "1: as much on both sides".to_owned()),
            Limit::Nowhere => return None,
        };
        Some(Threshold { value, name })
    }

    fn value(&self, value: f64) -> String {
        if self.drawn.is_share {
            unbroken(&percent(value))
        } else {
            format!("{value:.2}")
        }
    }

    fn note(&self, intervals: &str) -> String {
        let seasons = self.points.first().map_or(0, |point| point.seasons);
        format!(
            "{intervals}{seasons} simulated seasons at each point, the same seasons at all of them."
        )
    }

    /// How many points keep within the limit, or how far the measure runs.
    fn finding(&self) -> String {
        let words = sentence(self.drawn.words);
        let values: Vec<f64> = self
            .points
            .iter()
            .filter_map(|point| self.drawn.of(point).value)
            .collect();
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let all = values.len();
        if all == 0 {
            return format!("{words} is undefined at every point");
        }
        let undefined = match self.points.len() - all {
            0 => String::new(),
            some => format!("; undefined at {some}"),
        };
        let count = |is_kept: &dyn Fn(f64) -> bool| {
            let kept = values.iter().filter(|value| is_kept(**value)).count();
            match kept {
                0 => format!("at none of {all} points"),
                kept if kept == all => format!("at all {all} points"),
                kept => format!("at {kept} of {all} points"),
            }
        };
        match self.drawn.limit {
            Limit::Tolerance => format!(
                "{words} keeps within {} {}{undefined}",
                self.value(self.tolerance),
                count(&|value| value <= self.tolerance)
            ),
            Limit::Even => format!(
                "{words} is above 1 {}{undefined}",
                count(&|value| value > 1.0)
            ),
            Limit::Nowhere => format!(
                "{words} runs from {} to {} over {all} points{undefined}",
                self.value(low),
                self.value(high)
            ),
        }
    }
}

fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn axis_title(axis: &Described) -> String {
    if axis.meaning.is_empty() {
        return axis.path.clone();
    }
    let unit = if axis.unit.is_empty() {
        String::new()
    } else {
        format!(" ({})", axis.unit)
    };
    format!("{}{unit}: {}", sentence(axis.meaning), axis.path)
}

fn choice(value: &str) -> String {
    value.trim_matches('"').to_owned()
}

/// Between which neighbours the measure passes its limit, where it does so once.
fn passes_between(swept: &Swept<'_>, axis: &Described, numbers: &[f64]) -> Option<String> {
    let limit = swept.limit()?.value;
    let mut values: Vec<(f64, f64)> = numbers
        .iter()
        .zip(swept.points)
        .filter_map(|(x, point)| Some((*x, swept.drawn.of(point).value?)))
        .collect();
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let is_above = |value: f64| value > limit;
    let mut passes = values
        .windows(2)
        .filter(|pair| is_above(pair[0].1) != is_above(pair[1].1));
    let (pass, more) = (passes.next()?, passes.next());
    if more.is_some() {
        return None;
    }
    let verb = if is_above(pass[0].1) {
        "falls to"
    } else {
        "rises above"
    };
    let unit = if axis.unit.is_empty() {
        String::new()
    } else {
        format!("\u{a0}{}", axis.unit)
    };
    Some(format!(
        "{} {verb} {} between {} and {}{unit} ({})",
        sentence(swept.drawn.words),
        if swept.drawn.is_share {
            swept.value(limit)
        } else {
            "1".to_owned()
        },
        pass[0].0,
        pass[1].0,
        axis.meaning
    ))
}

fn line(swept: &Swept<'_>, axis: &Described) -> Result<Rendered, Trouble> {
    let values = &swept.axes[0].values;
    let (places, across) = match &axis.numbers {
        Some(numbers) if axis.path == GAP => (numbers.clone(), Across::Metres),
        Some(numbers) => (numbers.clone(), Across::Numbers),
        None => (
            (0..values.len()).map(|index| index as f64).collect(),
            Across::Choices(values.iter().map(|value| choice(value)).collect()),
        ),
    };
    let finding = axis
        .numbers
        .as_deref()
        .and_then(|numbers| passes_between(swept, axis, numbers));
    // Two patches stand side by side; the larger of them would hide which it is.
    let series = swept
        .drawn
        .measures
        .iter()
        .map(|name| {
            let points = places.iter().zip(swept.points);
            CurveSeries {
                name: series_name(&swept.drawn, name),
                mark: mark(name),
                points: points
                    .map(|(x, point)| CurvePoint {
                        x: *x,
                        y: estimate(&point.measure(name)),
                    })
                    .collect(),
            }
        })
        .collect();
    let unit = if swept.drawn.is_share { "%" } else { "ratio" };
    let strokes = matches!(across, Across::Choices(_));
    let intervals = if strokes {
        "Strokes: 95 % intervals over "
    } else {
        "Bands: 95 % intervals over "
    };
    Ok(charts::curve_chart(&CurveChart {
        title: finding.unwrap_or_else(|| swept.finding()),
        note: swept.note(intervals),
        x_label: if across == Across::Metres {
            format!("{}; yards below; square-root axis", axis_title(axis))
        } else {
            axis_title(axis)
        },
        y_label: format!("{} ({unit})", sentence(swept.drawn.meaning)),
        series,
        thresholds: swept.limit().into_iter().collect(),
        crossings: Vec::new(),
        across,
        upward: if swept.drawn.is_share {
            Upward::Shares
        } else if swept.drawn.name == "attenuation" {
            // A quotient of logarithms: its zero is no amount, and it may be negative.
            Upward::Numbers
        } else {
            Upward::Amounts
        },
        strokes,
    })?)
}

fn series_name(drawn: &Drawn, measure: &str) -> String {
    match measure {
        "stray_share_treated" => "treated patch".to_owned(),
        "stray_share_untouched" => "untouched patch".to_owned(),
        _ => drawn.name.replace('_', " "),
    }
}

fn mark(measure: &str) -> style::Mark {
    match measure {
        "stray_share_treated" => style::TREATED,
        "stray_share_untouched" => style::UNTOUCHED,
        // Larvae of the cut half, in the colour that they have beside the refuge half's.
        "half_drift" => style::CUT_HALF,
        _ => style::COMPARISON,
    }
}

/// Order in which the values of an axis are drawn, numbers ascending, with their labels; a value given twice is
/// drawn once.
fn drawn_order(axis: &Axis, described: &Described) -> Vec<(usize, String)> {
    let mut order: Vec<(usize, String)> = Vec::new();
    match &described.numbers {
        Some(numbers) => {
            let mut indices: Vec<usize> = (0..numbers.len()).collect();
            indices.sort_by(|a, b| numbers[*a].total_cmp(&numbers[*b]));
            indices.dedup_by(|a, b| numbers[*a] == numbers[*b]);
            order.extend(
                indices
                    .into_iter()
                    .map(|index| (index, short(numbers[index]))),
            );
        }
        None => {
            for (index, value) in axis.values.iter().enumerate() {
                let label = choice(value);
                if order.iter().all(|(_, other)| *other != label) {
                    order.push((index, label));
                }
            }
        }
    }
    order
}

/// A number with at most four decimals.
fn short(number: f64) -> String {
    const DECIMALS: f64 = 1e4;
    let rounded = (number * DECIMALS).round() / DECIMALS;
    if rounded == 0.0 {
        number.to_string()
    } else {
        rounded.to_string()
    }
}

fn cells(swept: &Swept<'_>, across: &Described, upward: &Described) -> Result<Rendered, Trouble> {
    let columns = drawn_order(&swept.axes[0], across);
    let rows = drawn_order(&swept.axes[1], upward);
    let fast = swept.axes[1].values.len();
    let value = |x: usize, y: usize| {
        let point = swept.points.get(x * fast + y)?;
        swept.drawn.of(point).value
    };
    let heat_axis = |described: &Described, order: &[(usize, String)]| HeatAxis {
        title: axis_title(described),
        labels: order.iter().map(|(_, label)| label.clone()).collect(),
        is_numeric: described.numbers.is_some(),
    };
    let mut note = swept.note("");
    let is_numeric = across.numbers.is_some() || upward.numbers.is_some();
    if is_numeric {
        note.push_str(" Cells are spaced by the order of the values.");
    }
    if is_numeric && swept.drawn.limit != Limit::Nowhere {
        note.push_str(" The line runs straight between their middles.");
    }
    if swept
        .points
        .iter()
        .any(|point| swept.drawn.of(point).value.is_none())
    {
        note.push_str(" Hatched: undefined.");
    }
    Ok(charts::heat_chart(&HeatChart {
        title: swept.finding(),
        note,
        across: heat_axis(across, &columns),
        upward: heat_axis(upward, &rows),
        rows: rows
            .iter()
            .map(|(y, _)| columns.iter().map(|(x, _)| value(*x, *y)).collect())
            .collect(),
        value_label: swept.drawn.meaning.to_owned(),
        is_share: swept.drawn.is_share,
        limit: swept.limit(),
    })?)
}
