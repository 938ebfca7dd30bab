//! What a chart of a sweep shows: one measure, or the larger of two, with the value at which it matters.

use super::measures::Measured;
use super::sweep::SweepPoint;
use crate::trouble::{Outcome, Trouble};

/// Where a measure has a value of its own at which something changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// The stray share that the study tolerates; below it is good.
    Tolerance,
    /// As much on one side as on the other; above it the treated side has more.
    Even,
    /// None.
    Nowhere,
}

/// A measure that can be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drawn {
    /// Name, as it is typed.
    pub name: &'static str,
    /// Name in a sentence.
    pub words: &'static str,
    /// What it is, for an axis; without its unit.
    pub meaning: &'static str,
    /// Whether it is a share of a whole rather than a ratio.
    pub is_share: bool,
    /// Where it matters.
    pub limit: Limit,
    /// Columns of [`super::measures::MEASURES`] it is made of: the larger of them.
    pub measures: &'static [&'static str],
}

const STRAYS: &str = "late-stage larvae on a patch that were laid elsewhere";

/// The measures that can be drawn. The first that is defined is drawn unless another is asked for.
pub const DRAWN: [Drawn; 10] = [
    Drawn {
        name: "stray_share",
        words: "the stray share of the worse patch",
        meaning: "Stray share, the larger of the two patches: late-stage larvae on a patch that were laid elsewhere",
        is_share: true,
        limit: Limit::Tolerance,
        measures: &["stray_share_treated", "stray_share_untouched"],
    },
    share(
        "half_drift",
        "the half drift",
        "Half drift: late-stage larvae in the refuge half that were laid in the cut half",
        Limit::Nowhere,
        &["half_drift"],
    ),
    ratio(
        "net_yield",
        "the net yield",
        "Net yield: larvae reaching pupation per stem, treated over untouched",
        Limit::Even,
        &["net_yield"],
    ),
    share(
        "stray_share_treated",
        "the stray share of the treated patch",
        STRAYS,
        Limit::Tolerance,
        &["stray_share_treated"],
    ),
    share(
        "stray_share_untouched",
        "the stray share of the untouched patch",
        STRAYS,
        Limit::Tolerance,
        &["stray_share_untouched"],
    ),
    ratio(
        "observed_ratio",
        "the observed ratio",
        "Observed ratio: late-stage larvae per stem where they stand, treated over untouched",
        Limit::Even,
        &["observed_ratio"],
    ),
    ratio(
        "home_ratio",
        "the home ratio",
        "Home ratio: late-stage larvae per stem by natal patch, treated over untouched",
        Limit::Even,
        &["home_ratio"],
    ),
    ratio(
        "attenuation",
        "the attenuation",
        "Attenuation: logarithm of the observed over that of the home ratio",
        Limit::Nowhere,
        &["attenuation"],
    ),
    share(
        "lost_share",
        "the lost share",
        "Lost share: eggs whose larva walked off beyond the margin",
        Limit::Nowhere,
        &["lost_share"],
    ),
    share(
        "pupated_share",
        "the pupated share",
        "Pupated share: eggs whose larva reached pupation",
        Limit::Nowhere,
        &["pupated_share"],
    ),
];

const fn share(
    name: &'static str,
    words: &'static str,
    meaning: &'static str,
    limit: Limit,
    measures: &'static [&'static str],
) -> Drawn {
    Drawn {
        name,
        words,
        meaning,
        is_share: true,
        limit,
        measures,
    }
}

const fn ratio(
    name: &'static str,
    words: &'static str,
    meaning: &'static str,
    limit: Limit,
    measures: &'static [&'static str],
) -> Drawn {
    Drawn {
        is_share: false,
        ..share(name, words, meaning, limit, measures)
    }
}

impl Drawn {
    /// The measure of a name.
    ///
    /// # Errors
    /// When there is none of that name.
    pub fn named(name: &str) -> Outcome<Self> {
        DRAWN
            .into_iter()
            .find(|drawn| drawn.name == name)
            .ok_or_else(|| {
                let names: Vec<&str> = DRAWN.iter().map(|drawn| drawn.name).collect();
                Trouble::new(format!("there is no measure `{name}`"))
                    .at("the option --draw")
                    .expected(names.join(", "))
                    .remedy("choose one of these; all of them are in sweep.csv")
            })
    }

    /// The first measure that is defined anywhere; the first of all when none is.
    #[must_use]
    pub fn of_points(points: &[SweepPoint]) -> Self {
        let is_defined = |drawn: &&Self| points.iter().any(|point| drawn.of(point).value.is_some());
        DRAWN.iter().find(is_defined).copied().unwrap_or(DRAWN[0])
    }

    /// Its value at a point, with the interval that belongs to that value.
    #[must_use]
    pub fn of(&self, point: &SweepPoint) -> Measured {
        let measures = self.measures.iter().map(|name| point.measure(name));
        measures
            .filter(|measured| measured.value.is_some())
            .max_by(|a, b| {
                let value = |measured: &Measured| measured.value.unwrap_or(f64::NEG_INFINITY);
                value(a).total_cmp(&value(b))
            })
            .unwrap_or(Measured {
                value: None,
                interval: None,
            })
    }
}
