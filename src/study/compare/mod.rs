//! Several scenarios side by side on the same seasons.
//!
//! The keys of random numbers do not hold the layout, so replicate 17 is the same season in every variant: the same
//! site, weather, stems and larvae, as far as the variants have them in common. Differences are taken season by season:
//! a resample draws the same seasons for all variants, and a difference is read from it as from the seasons themselves.

pub mod figures;
pub mod hours;
pub mod power;
pub mod side;

use super::measures::{Measured, measured};
use super::{Effort, StudyError, check_precision, every, resampled, side_by_side, sweep};
use crate::plan::Plan;
use crate::runner::Runner;
use crate::stats::Resamples;
use crate::trouble::{Outcome, Trouble};
use figures::{FIGURES, Figure, Study};
use side::Side;

/// A variant that is ready to run.
#[derive(Debug, Clone)]
pub struct Ready {
    /// Its name.
    pub name: String,
    /// What it is, in a few words.
    pub words: String,
    /// Its plan.
    pub plan: Plan,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompareQuestion {
    /// Index of the variant that the others are held against.
    pub against: usize,
    /// The study that power is stated for.
    pub study: Study,
    /// Seasons of every variant.
    pub effort: Effort,
    /// Half-width to which stray share (in a single patch half drift) is to be known in every variant.
    pub precision: Option<f64>,
}

/// A figure of one variant.
#[derive(Debug, Clone, PartialEq)]
pub struct Figured {
    /// The value with its interval.
    pub value: Measured,
    /// The difference to the reference on the figure's [`figures::Scale`], with the interval of the difference;
    /// undefined for the reference itself.
    pub difference: Measured,
    /// Why something is undefined; else empty.
    pub note: String,
}

/// One variant with its figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Its name.
    pub name: String,
    /// What it is, in a few words.
    pub words: String,
    /// Its figures, in the order of [`FIGURES`].
    pub figures: Vec<Figured>,
}

impl Compared {
    /// A figure by its name.
    #[must_use]
    pub fn figure(&self, name: &str) -> Option<&Figured> {
        let at = FIGURES.iter().position(|figure| figure.name == name)?;
        self.figures.get(at)
    }

    /// Half-width of the interval of the stray share, in a single patch of half drift.
    fn half_width(&self) -> Option<f64> {
        let of = |name: &str| {
            let (low, high) = self.figure(name)?.value.interval?;
            Some((high - low) / 2.0)
        };
        of("stray_share").or_else(|| of("half_drift"))
    }
}

/// All variants side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareAnswer {
    /// Index of the variant that the others are held against.
    pub against: usize,
    /// The study that power is stated for.
    pub study: Study,
    /// Seasons of every variant.
    pub seasons: u64,
    /// The variants.
    pub variants: Vec<Compared>,
}

impl CompareAnswer {
    /// The widest half-width of stray share or half drift; `None` while one has no interval.
    #[must_use]
    pub fn half_width(&self) -> Option<f64> {
        let widths: Option<Vec<f64>> = self.variants.iter().map(Compared::half_width).collect();
        widths?.into_iter().max_by(f64::total_cmp)
    }
}

/// Index of the variant of a name; the first if none is named.
///
/// # Errors
/// When there is no variant of that name.
pub fn reference<'a>(
    names: impl Iterator<Item = &'a str>,
    named: Option<&str>,
    place: &str,
) -> Outcome<usize> {
    let Some(named) = named else { return Ok(0) };
    let names: Vec<&str> = names.collect();
    names.iter().position(|name| *name == named).ok_or_else(|| {
        Trouble::new(format!("there is no variant `{named}`"))
            .at(place)
            .expected(names.join(", "))
            .remedy("name one of these")
    })
}

/// Runs the same seasons of every variant and holds them side by side.
///
/// # Errors
/// When there is no variant, the precision or the reference makes no sense, or the run is stopped.
pub fn answer(
    variants: &[Ready],
    question: &CompareQuestion,
    runner: &Runner<'_>,
) -> Result<CompareAnswer, StudyError> {
    check_precision(question.precision, "0.005")?;
    if question.against >= variants.len() {
        return Err(Trouble::new("there is no variant to hold the others against").into());
    }
    let at = |effort: Effort| of_effort(variants, question, effort, runner);
    let Some(asked) = question.precision else {
        return at(question.effort);
    };
    let settings = variants.len() as u64;
    super::precise(
        (question.effort, settings),
        asked,
        runner,
        at,
        (CompareAnswer::half_width, |_: &CompareAnswer| false),
        |width| format!("shares known to +-{width:.4}"),
    )
}

/// Where a variant's columns stand among those of all.
struct Place {
    side: Side,
    from: usize,
}

impl Place {
    fn sums<'a>(&self, all: &'a [f64]) -> &'a [f64] {
        &all[self.from..self.from + self.side.columns()]
    }

    fn value(&self, figure: &Figure, all: &[f64], study: Study) -> Option<f64> {
        figure.value(&self.side, self.sums(all), study)
    }

    /// How many a share looked at, if it saw none.
    fn unseen(&self, figure: &Figure, all: &[f64]) -> Option<f64> {
        let (all, some) = figure.counts(&self.side, self.sums(all))?;
        (some == 0.0 && all > 0.0).then_some(all)
    }
}

fn of_effort(
    variants: &[Ready],
    question: &CompareQuestion,
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<CompareAnswer, StudyError> {
    let mut places = Vec::with_capacity(variants.len());
    let mut from = 0;
    for variant in variants {
        let side = Side::of(&variant.plan);
        let columns = side.columns();
        places.push(Place { side, from });
        from += columns;
    }
    let each = variants.iter().zip(&places);
    let tables =
        every(each.map(|(variant, place)| place.side.table(&variant.plan, runner, effort)))?;
    let resamples = resampled(&side_by_side(&tables)?, runner, effort)?;
    let compared = variants.iter().enumerate().map(|(index, variant)| {
        let figures = FIGURES.iter().map(|figure| {
            let pair = (&places[index], &places[question.against]);
            let is_reference = index == question.against;
            figured(figure, pair, is_reference, question.study, &resamples)
        });
        Ok(Compared {
            name: variant.name.clone(),
            words: variant.words.clone(),
            figures: figures.collect::<Result<_, StudyError>>()?,
        })
    });
    Ok(CompareAnswer {
        against: question.against,
        study: question.study,
        seasons: effort.seasons,
        variants: compared.collect::<Result<_, StudyError>>()?,
    })
}

fn figured(
    figure: &Figure,
    (own, reference): (&Place, &Place),
    is_reference: bool,
    study: Study,
    resamples: &Resamples,
) -> Result<Figured, StudyError> {
    let nothing = Measured {
        value: None,
        interval: None,
    };
    let mut value = measured(resamples, |sums| own.value(figure, sums, study))?;
    let observed = resamples.observed();
    let unseen = own.unseen(figure, observed);
    if let (Some(all), Some(_)) = (unseen, value.value) {
        value.interval = Some(sweep::unseen_of(all)?);
    }
    if value.value.is_none() {
        return Ok(Figured {
            value,
            difference: nothing,
            note: format!("undefined: {}", figure.why_undefined(&own.side)),
        });
    }
    let mut note = String::new();
    if value.interval.is_none() {
        note = TOO_FEW.to_owned();
    }
    if is_reference {
        return Ok(Figured {
            value,
            difference: nothing,
            note,
        });
    }
    let mut difference = measured(resamples, |sums| {
        let value = own.value(figure, sums, study)?;
        let other = reference.value(figure, sums, study)?;
        figure.scale.difference(value, other)
    })?;
    if difference.value.is_none() {
        note = format!(
            "no difference: in the reference, {}",
            figure.why_undefined(&reference.side)
        );
    } else if unseen.is_some() || reference.unseen(figure, observed).is_some() {
        // Resampling seasons without a stray gives none again, and a difference as if it were known exactly.
        difference.interval = None;
        note = "none was seen in one of the two: the difference has no interval".to_owned();
    } else if difference.interval.is_none() {
        note = TOO_FEW.to_owned();
    }
    Ok(Figured {
        value,
        difference,
        note,
    })
}

const TOO_FEW: &str = "no interval: too few resamples define it, more seasons would";
