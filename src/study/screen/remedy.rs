//! What would make a site suitable.

use super::gaps::NeededGap;
use super::grounds::PatchFacts;
use super::verdict::{Fault, Thresholds, Use, Verdict};
use crate::scenario::choices::PermissionRule;
use crate::scenario::offered::Permission;

/// Something that would remove a reason.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Remedy {
    /// The owner must agree; the rest is in order for this use.
    Permission {
        /// What the site could serve as.
        then: Use,
    },
    /// A wider gap at these sizes.
    Gap(NeededGap),
    /// A second patch.
    SecondPatch,
    /// More stems in a patch.
    MoreStems {
        /// The patch.
        patch: usize,
        /// Stems at least.
        at_least: f64,
    },
    /// Fewer stems in the larger patch, or more in the smaller.
    Even {
        /// The larger patch.
        larger: usize,
        /// Stems that it may have at most beside the other as it is.
        at_most: f64,
        /// Stems that the smaller needs at least beside the larger as it is.
        at_least: f64,
    },
    /// Patches of like shade: no size makes up for it.
    LikeShade,
    /// About so many stems in all, for enough larvae.
    MoreInAll {
        /// Stems in both patches, or in the one.
        stems: f64,
    },
}

/// What would make a site a pair or, failing that, suitable at all.
#[must_use]
pub fn remedies(
    patches: &[PatchFacts],
    verdict: &Verdict,
    needed_gap: Option<NeededGap>,
    thresholds: &Thresholds,
    size_exponent: f64,
) -> Vec<Remedy> {
    let mut found = Vec::new();
    let open = matches!(verdict.permission, Permission::Asked | Permission::Unknown);
    if open
        && thresholds.permission == PermissionRule::Needed
        && verdict.if_permitted != Use::Unsuitable
    {
        found.push(Remedy::Permission {
            then: verdict.if_permitted,
        });
    }
    if verdict.if_permitted == Use::Pair || verdict.permission == Permission::Refused {
        return found;
    }
    let mut evened = false;
    for fault in &verdict.against_pair {
        match fault {
            Fault::OnePatchOnly if verdict.if_permitted == Use::Unsuitable => {
                found.push(Remedy::SecondPatch);
            }
            Fault::FewStems { patch, needed, .. } => found.push(Remedy::MoreStems {
                patch: *patch,
                at_least: *needed,
            }),
            Fault::Unequal { .. } | Fault::FalseRatio { .. } if !evened => {
                evened = true;
                found.push(even(patches, thresholds, size_exponent));
            }
            Fault::Strays { .. } => found.extend(needed_gap.map(Remedy::Gap)),
            Fault::FewLarvae { counted } if counted.value > 0.0 => {
                let stems: f64 = patches.iter().map(|facts| facts.stems).sum();
                let times = thresholds.late_counted / counted.value;
                // Eggs grow with stems to the power of 1 + exponent; beyond -1 no number of stems helps.
                if size_exponent > -1.0 {
                    found.push(Remedy::MoreInAll {
                        stems: (stems * times.powf(1.0 / (1.0 + size_exponent))).ceil(),
                    });
                }
            }
            Fault::OnePatchOnly
            | Fault::Unequal { .. }
            | Fault::FalseRatio { .. }
            | Fault::FewLarvae { .. }
            | Fault::Drift { .. } => {}
        }
    }
    found
}

/// The least change of one patch by which size and shade make no more than the largest false ratio.
fn even(patches: &[PatchFacts], thresholds: &Thresholds, size_exponent: f64) -> Remedy {
    let [first, second] = patches else {
        return Remedy::LikeShade;
    };
    let larger = usize::from(second.stems > first.stems);
    let (large, small) = (&patches[larger], &patches[1 - larger]);
    let shade = |facts: &PatchFacts| facts.eggs / facts.stems / facts.stems.powf(size_exponent);
    let fits = |large_stems: f64, small_stems: f64| {
        let home = (large_stems / small_stems).powf(size_exponent) * shade(large) / shade(small);
        let ratio = large_stems / small_stems;
        home.max(1.0 / home) <= thresholds.false_ratio
            && ratio.max(1.0 / ratio) < thresholds.size_ratio
    };
    let mut at_most = large.stems;
    while at_most >= small.stems && !fits(at_most, small.stems) {
        at_most -= 1.0;
    }
    let mut at_least = small.stems;
    while at_least <= large.stems && !fits(large.stems, at_least) {
        at_least += 1.0;
    }
    if at_most < small.stems || at_least > large.stems || at_most < thresholds.stems {
        return Remedy::LikeShade;
    }
    Remedy::Even {
        larger,
        at_most,
        at_least,
    }
}
