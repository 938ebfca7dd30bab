//! Verdicts: what a site can serve as, by thresholds that stand in the scenario.

use super::figures::{Figures, PairFigures};
use super::grounds::{Grounds, PatchFacts};
use super::pooled::Ranged;
use crate::scenario::Scenario;
use crate::scenario::choices::PermissionRule;
use crate::scenario::offered::Permission;

/// What a site can serve as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// A treated and an untouched patch.
    Pair,
    /// One patch, compared by its halves.
    OnePatch,
    /// Nothing.
    Unsuitable,
}

impl Use {
    /// All, from the best.
    pub const ALL: [Self; 3] = [Self::Pair, Self::OnePatch, Self::Unsuitable];

    /// The word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pair => "pair",
            Self::OnePatch => "one_patch",
            Self::Unsuitable => "not_suitable",
        }
    }
}

/// Thresholds of a scenario.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Largest stray share.
    pub stray_share: f64,
    /// Difference in stems from which two patches make no pair.
    pub size_ratio: f64,
    /// Largest false ratio, a factor either way.
    pub false_ratio: f64,
    /// Largest half drift.
    pub half_drift: f64,
    /// Fewest late-stage larvae counted at a site in a season.
    pub late_counted: f64,
    /// Fewest stems of a part that is compared.
    pub stems: f64,
    /// Share of a treated patch's stems that is left as a refuge, where halves are compared.
    pub refuge_share: f64,
    /// Whether permission is needed.
    pub permission: PermissionRule,
}

impl Thresholds {
    /// The thresholds of a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let screening = &scenario.numbers.screening;
        let share = scenario.numbers.site.refuge_share;
        let halves = share > 0.0 && share < 1.0;
        Self {
            stray_share: scenario.numbers.answers.stray_tolerance,
            size_ratio: screening.largest_size_ratio,
            false_ratio: screening.largest_false_ratio,
            half_drift: screening.largest_half_drift,
            late_counted: screening.least_late_counted,
            stems: screening.least_stems,
            refuge_share: if halves { share } else { 0.5 },
            permission: scenario.permission,
        }
    }

    /// Fewest stems of a patch of which both halves have enough.
    #[must_use]
    pub fn stems_of_halves(&self) -> f64 {
        (self.stems / self.refuge_share.min(1.0 - self.refuge_share)).ceil()
    }
}

/// Why a site cannot be a pair, or one patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// Only one patch is offered.
    OnePatchOnly,
    /// A patch has too few stems.
    FewStems {
        /// The patch.
        patch: usize,
        /// Its stems.
        stems: f64,
        /// Stems needed.
        needed: f64,
    },
    /// The patches differ too much in size.
    Unequal {
        /// Stems of the larger over stems of the smaller.
        ratio: f64,
    },
    /// Too many strays.
    Strays {
        /// Patch that is treated.
        treated: usize,
        /// Patch in which they stand.
        patch: usize,
        /// Their share.
        share: Ranged,
    },
    /// Size or shade alone make a ratio.
    FalseRatio {
        /// The factor, at least 1.
        factor: Ranged,
    },
    /// Too few late-stage larvae.
    FewLarvae {
        /// Larvae counted in a season.
        counted: Ranged,
    },
    /// The halves of the patch exchange too many larvae.
    Drift {
        /// Share of the refuge half's larvae from the cut half.
        share: Ranged,
    },
}

/// Verdict on a site.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// What it can serve as.
    pub site_use: Use,
    /// What it could serve as if its owner agreed.
    pub if_permitted: Use,
    /// What the owner says.
    pub permission: Permission,
    /// Why it is no pair; empty if it is one.
    pub against_pair: Vec<Fault>,
    /// Why it is not one patch; empty if it could be.
    pub against_one_patch: Vec<Fault>,
    /// Whether a figure that decides might as well lie on the other side of its threshold.
    pub close_call: bool,
}

/// The verdict on a site.
#[must_use]
pub fn verdict(
    grounds: &Grounds,
    site: usize,
    figures: &Figures,
    thresholds: &Thresholds,
) -> Verdict {
    let patches: Vec<PatchFacts> = (0..grounds.sites[site].patches.len())
        .map(|patch| grounds.patch(site, patch))
        .collect();
    let permission = grounds.sites[site].permission;
    judged(&patches, permission, figures, thresholds)
}

/// As [`verdict`], of plain facts.
#[must_use]
pub fn judged(
    patches: &[PatchFacts],
    permission: Permission,
    figures: &Figures,
    thresholds: &Thresholds,
) -> Verdict {
    let against_pair = pair_faults(patches, figures.pair.as_ref(), thresholds);
    let against_one_patch = one_patch_faults(patches, figures, thresholds);
    let if_permitted = if against_pair.is_empty() {
        Use::Pair
    } else if against_one_patch.is_empty() {
        Use::OnePatch
    } else {
        Use::Unsuitable
    };
    let permitted =
        permission == Permission::Given || thresholds.permission == PermissionRule::Disregarded;
    Verdict {
        site_use: if permitted {
            if_permitted
        } else {
            Use::Unsuitable
        },
        if_permitted,
        permission,
        close_call: is_close(patches, figures, thresholds),
        against_pair,
        against_one_patch,
    }
}

fn pair_faults(
    patches: &[PatchFacts],
    pair: Option<&PairFigures>,
    thresholds: &Thresholds,
) -> Vec<Fault> {
    let (Some(pair), [first, second]) = (pair, patches) else {
        return vec![Fault::OnePatchOnly];
    };
    let mut faults = Vec::new();
    for (patch, facts) in patches.iter().enumerate() {
        if facts.stems < thresholds.stems {
            faults.push(Fault::FewStems {
                patch,
                stems: facts.stems,
                needed: thresholds.stems,
            });
        }
    }
    let ratio = first.stems.max(second.stems) / first.stems.min(second.stems);
    if ratio >= thresholds.size_ratio {
        faults.push(Fault::Unequal { ratio });
    }
    let worst = pair.worst();
    if worst.share.value > thresholds.stray_share {
        faults.push(Fault::Strays {
            treated: worst.treated,
            patch: worst.patch,
            share: worst.share,
        });
    }
    let factor = pair.false_factor();
    if factor.value > thresholds.false_ratio {
        faults.push(Fault::FalseRatio { factor });
    }
    if pair.counted.value < thresholds.late_counted {
        faults.push(Fault::FewLarvae {
            counted: pair.counted,
        });
    }
    faults
}

fn one_patch_faults(
    patches: &[PatchFacts],
    figures: &Figures,
    thresholds: &Thresholds,
) -> Vec<Fault> {
    let halves = &figures.halves;
    let mut faults = Vec::new();
    let needed = thresholds.stems_of_halves();
    let stems = patches.get(halves.patch).map_or(0.0, |facts| facts.stems);
    if stems < needed {
        faults.push(Fault::FewStems {
            patch: halves.patch,
            stems,
            needed,
        });
    }
    if halves.drift.value > thresholds.half_drift {
        faults.push(Fault::Drift {
            share: halves.drift,
        });
    }
    if halves.counted.value < thresholds.late_counted {
        faults.push(Fault::FewLarvae {
            counted: halves.counted,
        });
    }
    faults
}

/// Whether any figure that could turn the verdict has its threshold within its interval. Where facts of the list alone
/// rule a use out, no figure of that use can turn anything.
fn is_close(patches: &[PatchFacts], figures: &Figures, thresholds: &Thresholds) -> bool {
    is_pair_close(patches, figures.pair.as_ref(), thresholds)
        || (!pair_faults(patches, figures.pair.as_ref(), thresholds).is_empty()
            && is_one_patch_close(patches, figures, thresholds))
}

/// Whether a figure of the pair is close to its threshold and none of the others, by far, decides already.
fn is_pair_close(
    patches: &[PatchFacts],
    pair: Option<&PairFigures>,
    thresholds: &Thresholds,
) -> bool {
    let Some(pair) = pair else { return false };
    let figures = [
        (pair.worst().share, thresholds.stray_share, true),
        (pair.false_factor(), thresholds.false_ratio, true),
        (pair.counted, thresholds.late_counted, false),
    ];
    let by_facts = pair_faults(patches, Some(pair), thresholds)
        .iter()
        .any(|fault| matches!(fault, Fault::FewStems { .. } | Fault::Unequal { .. }));
    !by_facts && close_among(&figures)
}

/// Whether the stray share of a pair is close to its limit while nothing else is clearly against the pair.
pub(super) fn do_strays_decide(
    patches: &[PatchFacts],
    pair: Option<&PairFigures>,
    thresholds: &Thresholds,
) -> bool {
    pair.is_some_and(|pair| pair.worst().share.is_close_to(thresholds.stray_share))
        && is_pair_close(patches, pair, thresholds)
}

/// As [`is_pair_close`], of one patch compared by halves.
fn is_one_patch_close(patches: &[PatchFacts], figures: &Figures, thresholds: &Thresholds) -> bool {
    let halves = &figures.halves;
    let few = patches
        .get(halves.patch)
        .is_none_or(|facts| facts.stems < thresholds.stems_of_halves());
    let judged = [
        (halves.drift, thresholds.half_drift, true),
        (halves.counted, thresholds.late_counted, false),
    ];
    !few && close_among(&judged)
}

/// Of figures with their limits (and whether they must stay below): whether one is close to its limit while no other is
/// clearly on the wrong side.
fn close_among(figures: &[(Ranged, f64, bool)]) -> bool {
    let clearly_wrong = |(figure, limit, below): &(Ranged, f64, bool)| {
        if *below {
            figure.low >= *limit
        } else {
            figure.high <= *limit
        }
    };
    !figures.iter().any(clearly_wrong)
        && figures
            .iter()
            .any(|(figure, limit, _)| figure.is_close_to(*limit))
}
