//! The measures, each with its exact definition. Ratios pool counts over seasons; a ratio whose parts are
//! zero is undefined, never 0 or infinite.

use super::StudyError;
use super::tally::Columns;
use crate::plan::Plan;
use crate::scenario::LayoutKind;
use crate::season::Fate;
use crate::stats::{LEVEL, Resamples, resampled_estimate};
use crate::world::HalfId;
use serde::Serialize;

/// A measure with its bootstrap interval over seasons. Undefined values are `None`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Measured {
    /// Pooled value.
    pub value: Option<f64>,
    /// Lower and upper end of the 95 % interval, when it is defined.
    pub interval: Option<(f64, f64)>,
}

/// What is compared with what: the treated part of a site with the untouched part.
#[derive(Debug, Clone)]
pub struct Contrast {
    columns: Columns,
    treated: Vec<HalfId>,
    untouched: Vec<HalfId>,
    stems_treated: f64,
    stems_untouched: f64,
    patches: usize,
}

impl Contrast {
    /// The contrast of a plan. In a pair the treated patch with both its halves is compared with the untouched
    /// patch; in one patch the cut half with the refuge half.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        let columns = Columns::of(plan);
        let by_half = plan.scenario.layout == LayoutKind::OnePatchHalves;
        let is_treated = |half: HalfId| {
            if by_half {
                half.is_cut()
            } else {
                plan.layout.patches[half.patch()].settings.treatment
                    != crate::scenario::Treatment::Untouched
                    || (plan.scenario.layout != LayoutKind::ByCoordinates && half.patch() == 0)
            }
        };
        let (treated, untouched): (Vec<HalfId>, Vec<HalfId>) =
            columns.halves().partition(|half| is_treated(*half));
        let stems = |halves: &[HalfId]| {
            halves
                .iter()
                .map(|half| plan.layout.stems_in(*half) as f64)
                .sum()
        };
        Self {
            columns,
            stems_treated: stems(&treated),
            stems_untouched: stems(&untouched),
            treated,
            untouched,
            patches: plan.layout.patches.len(),
        }
    }

    /// Columns of the tallies.
    #[must_use]
    pub fn columns(&self) -> Columns {
        self.columns
    }

    /// Whether a half is of the treated part.
    #[must_use]
    pub fn is_treated(&self, half: HalfId) -> bool {
        self.treated.contains(&half)
    }

    /// Stems of the treated and of the untouched part.
    #[must_use]
    pub fn stems(&self) -> (f64, f64) {
        (self.stems_treated, self.stems_untouched)
    }

    /// Number of patches.
    #[must_use]
    pub fn patches(&self) -> usize {
        self.patches
    }

    /// Stems of the treated over stems of the untouched part.
    #[must_use]
    pub fn stem_ratio(&self) -> f64 {
        self.stems_treated / self.stems_untouched
    }

    fn late(
        &self,
        sums: &[f64],
        stands: impl Fn(HalfId) -> bool,
        natal: impl Fn(HalfId) -> bool,
    ) -> f64 {
        let halves = self.columns.halves();
        halves
            .clone()
            .filter(|half| stands(*half))
            .flat_map(|stand| halves.clone().map(move |home| (stand, home)))
            .filter(|(_, home)| natal(*home))
            .map(|(stand, home)| sums[self.columns.late(stand, home)])
            .sum()
    }

    /// Late-stage larvae standing on a patch, and how many of them were laid elsewhere.
    #[must_use]
    pub fn strays(&self, sums: &[f64], patch: usize) -> (f64, f64) {
        let here = |half: HalfId| half.patch() == patch;
        let all = self.late(sums, here, |_| true);
        (all, all - self.late(sums, here, here))
    }

    /// `stray_share(P)`: of the late-stage larvae standing on stems of P at surveys, the share laid elsewhere.
    #[must_use]
    pub fn stray_share(&self, sums: &[f64], patch: usize) -> Option<f64> {
        let (all, strays) = self.strays(sums, patch);
        (all > 0.0).then(|| strays / all)
    }

    fn per_stem_ratio(&self, treated: f64, untouched: f64) -> Option<f64> {
        (treated > 0.0 && untouched > 0.0)
            .then(|| treated / self.stems_treated / (untouched / self.stems_untouched))
    }

    /// `observed_ratio`: late-stage larvae per stem, treated over untouched, by where they stand.
    #[must_use]
    pub fn observed_ratio(&self, sums: &[f64]) -> Option<f64> {
        self.per_stem_ratio(
            self.late(sums, |half| self.treated.contains(&half), |_| true),
            self.late(sums, |half| self.untouched.contains(&half), |_| true),
        )
    }

    /// `home_ratio`: the same larvae, by natal patch.
    #[must_use]
    pub fn home_ratio(&self, sums: &[f64]) -> Option<f64> {
        self.per_stem_ratio(
            self.late(sums, |_| true, |half| self.treated.contains(&half)),
            self.late(sums, |_| true, |half| self.untouched.contains(&half)),
        )
    }

    /// `attenuation` = ln observed_ratio / ln home_ratio; undefined where the home ratio is 1.
    #[must_use]
    pub fn attenuation(&self, sums: &[f64]) -> Option<f64> {
        let (observed, home) = (self.observed_ratio(sums)?.ln(), self.home_ratio(sums)?.ln());
        (home != 0.0).then(|| observed / home)
    }

    /// `half_drift`: of the late-stage larvae in the refuge half of treated patches, the share laid in the cut half.
    #[must_use]
    pub fn half_drift(&self, sums: &[f64]) -> Option<f64> {
        let (all, drifted) = self.drifted(sums);
        (all > 0.0).then(|| drifted / all)
    }

    /// Late-stage larvae standing in the refuge halves of treated patches, and how many of them were laid in the cut
    /// half.
    #[must_use]
    pub fn drifted(&self, sums: &[f64]) -> (f64, f64) {
        let divided = |half: HalfId| {
            let cut = HalfId::new(half.patch(), true);
            self.treated.contains(&cut)
        };
        let refuge = |half: HalfId| !half.is_cut() && divided(half);
        let all = self.late(sums, refuge, |_| true);
        let drifted: f64 = (0..self.patches)
            .map(|patch| {
                let (refuge_half, cut_half) = (HalfId::new(patch, false), HalfId::new(patch, true));
                if divided(refuge_half) {
                    sums[self.columns.late(refuge_half, cut_half)]
                } else {
                    0.0
                }
            })
            .sum();
        (all, drifted)
    }

    /// Larvae that reached pupation: from eggs laid in the treated and in the untouched part.
    #[must_use]
    pub fn pupated(&self, sums: &[f64]) -> (f64, f64) {
        let of = |halves: &[HalfId]| -> f64 {
            halves
                .iter()
                .map(|half| sums[self.columns.fate(Fate::Pupated, *half)])
                .sum()
        };
        (of(&self.treated), of(&self.untouched))
    }

    /// `net_yield`: larvae reaching pupation per stem, treated over untouched, from all eggs laid in the season,
    /// those that the cutting destroyed included.
    #[must_use]
    pub fn net_yield(&self, sums: &[f64]) -> Option<f64> {
        let (treated, untouched) = self.pupated(sums);
        self.per_stem_ratio(treated, untouched)
    }

    /// Share of all eggs that ended in a fate.
    #[must_use]
    pub fn fate_share(&self, sums: &[f64], fate: Fate) -> Option<f64> {
        let count = |fate: Fate| -> f64 {
            self.columns
                .halves()
                .map(|half| sums[self.columns.fate(fate, half)])
                .sum()
        };
        let all: f64 = Fate::ALL.iter().map(|fate| count(*fate)).sum();
        (all > 0.0).then(|| count(fate) / all)
    }

    /// Late-stage larvae standing on a patch, summed over surveys.
    #[must_use]
    pub fn late_on(&self, sums: &[f64], patch: usize) -> f64 {
        self.strays(sums, patch).0
    }
}

/// One named measure: a function of pooled sums.
pub struct Named {
    /// Name, as in the column of a table.
    pub name: &'static str,
    measure: fn(&Contrast, &[f64]) -> Option<f64>,
}

impl Named {
    /// Its value from pooled sums; `None` where it is undefined.
    #[must_use]
    pub fn of(&self, contrast: &Contrast, sums: &[f64]) -> Option<f64> {
        (self.measure)(contrast, sums)
    }
}

/// All measures of a pair or a single patch, in the order of tables.
pub const MEASURES: [Named; 9] = [
    Named {
        name: "stray_share_treated",
        measure: |c, sums| {
            if c.patches > 1 {
                c.stray_share(sums, 0)
            } else {
                None
            }
        },
    },
    Named {
        name: "stray_share_untouched",
        measure: |c, sums| {
            if c.patches > 1 {
                c.stray_share(sums, 1)
            } else {
                None
            }
        },
    },
    Named {
        name: "observed_ratio",
        measure: Contrast::observed_ratio,
    },
    Named {
        name: "home_ratio",
        measure: Contrast::home_ratio,
    },
    Named {
        name: "attenuation",
        measure: Contrast::attenuation,
    },
    Named {
        name: "half_drift",
        measure: Contrast::half_drift,
    },
    Named {
        name: "net_yield",
        measure: Contrast::net_yield,
    },
    Named {
        name: "lost_share",
        measure: |c, sums| c.fate_share(sums, Fate::Lost),
    },
    Named {
        name: "pupated_share",
        measure: |c, sums| c.fate_share(sums, Fate::Pupated),
    },
];

/// Values of all measures of pooled sums, without intervals, in the order of [`MEASURES`].
#[must_use]
pub fn values(contrast: &Contrast, sums: &[f64]) -> Vec<Option<f64>> {
    let value = |named: &Named| (named.measure)(contrast, sums).filter(|value| value.is_finite());
    MEASURES.iter().map(value).collect()
}

/// A measure from resampled sums.
///
/// # Errors
/// When the level makes no sense, which the constant in use does not.
pub fn measured(
    resamples: &Resamples,
    measure: impl Fn(&[f64]) -> Option<f64> + Sync + Send,
) -> Result<Measured, StudyError> {
    let estimate = resampled_estimate(resamples, LEVEL, measure)?;
    Ok(Measured {
        value: estimate.value,
        interval: estimate
            .estimate
            .map(|estimate| (estimate.low, estimate.high)),
    })
}

/// All measures of resampled sums, in the order of [`MEASURES`].
///
/// # Errors
/// As [`measured`].
pub fn all_measured(
    contrast: &Contrast,
    resamples: &Resamples,
) -> Result<Vec<Measured>, StudyError> {
    MEASURES
        .iter()
        .map(|named| measured(resamples, |sums| (named.measure)(contrast, sums)))
        .collect()
}
