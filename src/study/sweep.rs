//! Any settings by path over lists and ranges, crossed.

use super::measures::{Contrast, MEASURES, Measured, all_measured};
use super::uncertain::{self, Band};
use super::{Effort, StudyError, check_precision, plan_with, resampled, tallies};
use crate::runner::Runner;
use crate::scenario::given::Dimension;
use crate::scenario::{Layered, Scenario};
use crate::stats::{LEVEL, clopper_pearson};
use crate::trouble::{Outcome, Trouble};
use crate::world::Layout;

/// Most points of a sweep: more is a mistyped range.
pub const MOST_POINTS: usize = 10_000;

/// One setting and the values it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Dotted path.
    pub path: String,
    /// Values as RON text.
    pub values: Vec<String>,
}

impl Axis {
    /// Reads `path=1,2,5`, `path=2..20/4` (from 2 to 20 in 4 equal steps) or any list of RON values; commas
    /// inside brackets do not separate.
    ///
    /// # Errors
    /// When the text is not of that form.
    pub fn parse(text: &str) -> Outcome<Self> {
        let wrong = |what: &str| {
            Trouble::new(format!("`{text}`: {what}"))
                .at("the option --vary")
                .expected("path=value,value,.. or path=from..to/steps, such as site.gap_m=2..20/6")
                .remedy("list the paths with `crawlspan check`")
        };
        let (path, list) = text
            .split_once('=')
            .ok_or_else(|| wrong("there is no `=`"))?;
        // A quoted value may be a file name with dots in it.
        let range = list.split_once("..").filter(|_| !list.contains('"'));
        let values = match range {
            Some((from, rest)) => {
                let (to, steps) = rest
                    .split_once('/')
                    .ok_or_else(|| wrong("a range needs its number of steps"))?;
                let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
                let (from, to) = (number(from), number(to));
                let steps = steps
                    .trim()
                    .parse::<usize>()
                    .ok()
                    .filter(|n| (1..=MOST_POINTS).contains(n));
                match (from, to, steps) {
                    (Some(from), Some(to), Some(steps)) if from < to => (0..=steps)
                        .map(|step| (from + (to - from) * step as f64 / steps as f64).to_string())
                        .collect(),
                    (Some(from), Some(to), Some(_)) if from >= to => {
                        return Err(wrong("the range is upside down"));
                    }
                    _ => return Err(wrong("the range is not made of numbers")),
                }
            }
            None => split_list(list),
        };
        if values.iter().any(|value| value.trim().is_empty()) {
            return Err(wrong("a value is missing"));
        }
        if values.len() > MOST_POINTS + 1 {
            return Err(wrong(&format!("{} values are too many", values.len())));
        }
        if let Some(twice) = first_twice(&values) {
            return Err(wrong(&format!("the value {twice} is given twice")));
        }
        Ok(Self {
            path: path.trim().to_owned(),
            values,
        })
    }
}

/// The first value that was given before, as a number or as text.
fn first_twice(values: &[String]) -> Option<&String> {
    let mut before = std::collections::BTreeSet::new();
    values.iter().find(|value| {
        // A negative zero is a zero.
        let number = value.parse::<f64>().ok().map(|number| number + 0.0);
        let same = number.map_or_else(|| (*value).clone(), |number| number.to_string());
        !before.insert(same)
    })
}

fn split_list(list: &str) -> Vec<String> {
    let mut values = vec![String::new()];
    let mut depth = 0i32;
    for character in list.chars() {
        match character {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            ',' if depth == 0 => {
                values.push(String::new());
                continue;
            }
            _ => {}
        }
        if let Some(value) = values.last_mut() {
            value.push(character);
        }
    }
    values.iter().map(|value| value.trim().to_owned()).collect()
}

/// One point of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepPoint {
    /// Values of the settings, in the order of the axes.
    pub values: Vec<String>,
    /// Seasons run.
    pub seasons: u64,
    /// The measures, in the order of [`super::measures::MEASURES`].
    pub measures: Vec<Measured>,
    /// The same over plausible parameter sets, if any were asked for.
    pub bands: Option<Vec<Band>>,
}

impl SweepPoint {
    /// A measure of the point by its name; undefined when there is no such measure.
    #[must_use]
    pub fn measure(&self, name: &str) -> Measured {
        MEASURES
            .iter()
            .position(|named| named.name == name)
            .and_then(|index| self.measures.get(index))
            .copied()
            .unwrap_or(Measured {
                value: None,
                interval: None,
            })
    }

    /// Half-width of the interval of the stray share, of the patch where it is wider; of half drift in a single patch.
    #[must_use]
    pub fn half_width(&self) -> Option<f64> {
        let width = |name: &str| {
            let (low, high) = self.measure(name).interval?;
            Some((high - low) / 2.0)
        };
        let strays = STRAYS.iter().filter_map(|name| width(name));
        strays
            .max_by(f64::total_cmp)
            .or_else(|| width("half_drift"))
    }

    /// Whether nothing was seen of which a share could be told.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let mut shares = STRAYS.iter().chain(&["half_drift"]);
        shares.all(|name| self.measure(name).value.is_none())
    }
}

/// All combinations of the axes, the last one running fastest.
///
/// # Errors
/// When there are too many, or a setting is named twice.
pub fn crossed(axes: &[Axis]) -> Outcome<Vec<Vec<String>>> {
    for (index, axis) in axes.iter().enumerate() {
        if axes[..index].iter().any(|other| other.path == axis.path) {
            return Err(Trouble::new(format!("`{}` is varied twice", axis.path))
                .at("the options --vary")
                .expected("every setting once")
                .remedy("join the two lists of values"));
        }
    }
    let points = axes
        .iter()
        .try_fold(1usize, |points, axis| points.checked_mul(axis.values.len()));
    if points.is_none_or(|points| points > MOST_POINTS) {
        return Err(Trouble::new("the sweep has too many points")
            .at("the options --vary")
            .expected(format!("at most {MOST_POINTS}"))
            .remedy("take fewer steps"));
    }
    let mut all: Vec<Vec<String>> = vec![Vec::new()];
    for axis in axes {
        all = all
            .into_iter()
            .flat_map(|point| {
                axis.values
                    .iter()
                    .map(move |value| [point.clone(), vec![value.clone()]].concat())
            })
            .collect();
    }
    Ok(all)
}

/// Checks every point before any is run, so that a mistake in the last one costs nothing.
///
/// # Errors
/// The first fault among the points.
pub fn check(layered: &Layered, axes: &[Axis], points: &[Vec<String>]) -> Outcome<()> {
    for values in points {
        let mut changed = layered.clone();
        for (path, value) in settings(axes, values) {
            changed.set(path, &value)?;
        }
        Layout::of(&Scenario::from_layers(&changed)?).map_err(|fault| changed.placed(fault))?;
    }
    Ok(())
}

fn settings<'a>(axes: &'a [Axis], values: &[String]) -> Vec<(&'a str, String)> {
    axes.iter()
        .map(|axis| axis.path.as_str())
        .zip(values.iter().cloned())
        .collect()
}

/// Runs one point. All points share their random numbers season by season. With a precision, seasons double until the
/// stray share (in a single patch half drift) is known to that half-width, and a fresh batch is reported; the number
/// of seasons then differs between points.
///
/// # Errors
/// When the point or the precision makes no sense, or the run is stopped.
pub fn point(
    layered: &Layered,
    axes: &[Axis],
    values: &[String],
    (effort, precision): (Effort, Option<f64>),
    runner: &Runner<'_>,
) -> Result<SweepPoint, StudyError> {
    check_precision(precision, "0.005")?;
    let plan = plan_with(layered, &settings(axes, values))?;
    let contrast = Contrast::of(&plan);
    let at = |effort: Effort| {
        let table = tallies(&plan, runner, 0, effort)?;
        let resamples = resampled(&table, runner, effort)?;
        let mut measures = all_measured(&contrast, &resamples)?;
        for (patch, name) in STRAYS.iter().enumerate().take(contrast.patches()) {
            bound_unseen(
                &mut measures,
                name,
                contrast.strays(resamples.observed(), patch),
            )?;
        }
        Ok(SweepPoint {
            values: values.to_vec(),
            seasons: effort.seasons,
            measures,
            bands: None,
        })
    };
    let Some(asked) = precision else {
        return at(effort);
    };
    let known = |width: f64| format!("share known to +-{width:.4}");
    super::precise(
        (effort, 1),
        asked,
        runner,
        at,
        (SweepPoint::half_width, SweepPoint::is_empty),
        known,
    )
}

/// Names of the stray shares, by patch.
const STRAYS: [&str; 2] = ["stray_share_treated", "stray_share_untouched"];

/// Where no stray was seen, resampling gives none again: the exact bound of a proportion stands in for the interval.
fn bound_unseen(
    measures: &mut [Measured],
    name: &str,
    (all, strays): (f64, f64),
) -> Result<(), StudyError> {
    let at = MEASURES.iter().position(|named| named.name == name);
    if let Some(measured) = at.and_then(|at| measures.get_mut(at))
        && measured.value == Some(0.0)
        && strays == 0.0
    {
        measured.interval = Some(unseen_of(all)?);
    }
    Ok(())
}

/// The interval of a share of which nothing was seen among so many.
pub(super) fn unseen_of(all: f64) -> Result<(f64, f64), StudyError> {
    Ok((0.0, clopper_pearson(0, all as u64, LEVEL)?.high))
}

/// An axis with what its setting means.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// Dotted path of the setting.
    pub path: String,
    /// What the setting is, in words; empty for a choice by name.
    pub meaning: &'static str,
    /// Unit of the values; empty for a pure number or a choice.
    pub unit: &'static str,
    /// The values in that unit, in the order given; `None` for a choice by name.
    pub numbers: Option<Vec<f64>>,
}

/// Looks up what an axis varies: values given in units of their own, such as `Yards(12)`, are converted.
///
/// # Errors
/// When the path is unknown or a value does not parse.
pub fn described(layered: &Layered, axis: &Axis) -> Outcome<Described> {
    let mut described = Described {
        path: axis.path.clone(),
        meaning: "",
        unit: "",
        numbers: None,
    };
    let mut numbers = Vec::with_capacity(axis.values.len());
    for value in &axis.values {
        let mut changed = layered.clone();
        changed.set(&axis.path, value)?;
        changed.visit(&mut |leaf| {
            let given = leaf.given.as_ref().filter(|_| leaf.path == axis.path);
            let dimension = Dimension::of_unit(leaf.meaning.unit);
            if let Some(number) = given.and_then(|given| given.value.in_unit(dimension)) {
                described.meaning = leaf.meaning.words;
                described.unit = leaf.meaning.unit;
                numbers.push(number);
            }
        });
    }
    if numbers.len() == axis.values.len() {
        described.numbers = Some(numbers);
    }
    Ok(described)
}

/// Bands of the measures of one point over plausible parameter sets; the settings varied keep the point's values.
///
/// # Errors
/// As [`point`].
pub fn bands(
    layered: &Layered,
    axes: &[Axis],
    values: &[String],
    (sets, seasons): (u64, u64),
    runner: &Runner<'_>,
) -> Result<Vec<Band>, StudyError> {
    uncertain::measure_bands(layered, &settings(axes, values), (sets, seasons), runner)
}
