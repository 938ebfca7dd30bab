//! Reasons and remedies in whole sentences.

use crate::output::text::{length, percent};
use crate::scenario::offered::{OfferedSite, Permission};
use crate::study::screen::figures::PairFigures;
use crate::study::screen::pooled::Ranged;
use crate::study::screen::remedy::Remedy;
use crate::study::screen::verdict::{Fault, Thresholds, Use, Verdict};
use crate::study::screen::{ScreenAnswer, Screened};

/// A share with its interval.
pub(super) fn share(share: Ranged) -> String {
    if share.known_share().is_none() {
        return "unknown, as none were seen".to_owned();
    }
    format!(
        "{} (95\u{a0}% interval {} to {})",
        percent(share.value),
        percent(share.low),
        percent(share.high)
    )
}

fn number(value: Ranged) -> String {
    format!(
        "{:.2} (95\u{a0}% interval {:.2} to {:.2})",
        value.value, value.low, value.high
    )
}

/// A factor with two decimals.
fn factor(value: Ranged) -> String {
    if !value.high.is_finite() {
        return format!(
            "{:.2} times (by eggs alone, as too few larvae were seen)",
            value.value
        );
    }
    format!(
        "{:.2} times (95\u{a0}% interval {:.2} to {:.2})",
        value.value, value.low, value.high
    )
}

/// A patch by its name.
pub(super) fn patch(site: &OfferedSite, index: usize) -> String {
    let name = site.patches.get(index).map_or("", |patch| &patch.name);
    match name {
        "first patch" | "second patch" => format!("the {name}"),
        name => format!("the patch \"{name}\""),
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}.", first.to_uppercase(), letters.as_str())
    })
}

/// What a site can serve as, in words.
pub(super) fn as_what(site_use: Use) -> &'static str {
    match site_use {
        Use::Pair => "pair",
        Use::OnePatch => "one patch",
        Use::Unsuitable => "not suitable",
    }
}

fn fault(site: &OfferedSite, fault: &Fault, thresholds: &Thresholds) -> String {
    sentence(&match fault {
        Fault::OnePatchOnly => "only one patch is offered".to_owned(),
        Fault::FewStems {
            patch: of,
            stems,
            needed,
        } => format!(
            "{} has {stems} stems; at least {needed} are needed",
            patch(site, *of)
        ),
        Fault::Unequal { ratio } => format!(
            "the patches differ {ratio:.1}-fold in stems; from {}-fold on they make no pair",
            thresholds.size_ratio
        ),
        Fault::Strays {
            treated,
            patch: stands,
            share: of,
        } => format!(
            "with {} treated, {} of the late-stage larvae on {} would be strays; {} is tolerated",
            patch(site, *treated),
            share(*of),
            if stands == treated {
                "it".to_owned()
            } else {
                patch(site, *stands)
            },
            percent(thresholds.stray_share)
        ),
        Fault::FalseRatio { factor: of } => format!(
            "unequal size or shade alone would show {} the late-stage larvae per stem in one patch as in the other; {} is the most",
            factor(*of),
            thresholds.false_ratio
        ),
        Fault::FewLarvae { counted } => format!(
            "a volunteer would count {} late-stage larvae in a season; at least {} are needed",
            number(*counted),
            thresholds.late_counted
        ),
        Fault::Drift { share: of } => format!(
            "{} of the late-stage larvae in its refuge half would come from its cut half; {} is the most",
            share(*of),
            percent(thresholds.half_drift)
        ),
    })
}

fn fine_pair(pair: &PairFigures) -> String {
    format!(
        "As a pair: strays at most {}; with nothing cut one patch shows {} the late-stage larvae per stem of the other; {} late-stage larvae \
         counted in a season.",
        share(pair.worst().share),
        factor(pair.false_factor()),
        number(pair.counted)
    )
}

/// Why the verdict is what it is, in whole sentences.
#[must_use]
pub(super) fn reasons(answer: &ScreenAnswer, index: usize) -> Vec<String> {
    let (site, screened) = (&answer.grounds.sites[index], &answer.sites[index]);
    let Verdict {
        against_pair,
        against_one_patch,
        permission,
        ..
    } = &screened.verdict;
    let mut found = Vec::new();
    if screened.verdict.site_use != screened.verdict.if_permitted {
        found.push(
            match permission {
                Permission::Refused => "The owner has refused permission.",
                Permission::Asked => "The owner was asked and has not answered yet.",
                Permission::Unknown | Permission::Given => {
                    "The list does not say that the owner permits it."
                }
            }
            .to_owned(),
        );
    }
    if against_pair.is_empty() {
        found.extend(screened.figures.pair.as_ref().map(fine_pair));
        return found;
    }
    let told = |of: &[Fault]| {
        of.iter()
            .map(|one| fault(site, one, &answer.thresholds))
            .collect::<Vec<_>>()
    };
    found.extend(told(against_pair));
    let halves = &screened.figures.halves;
    let alone = patch(site, halves.patch);
    if against_one_patch.is_empty() {
        found.push(format!(
            "{} can be compared by halves: {} of the late-stage larvae in its refuge half come from its cut half, and {} are counted in a season.",
            sentence(&alone).trim_end_matches('.'),
            share(halves.drift),
            number(halves.counted)
        ));
    } else {
        let one = told(against_one_patch).join(" ");
        found.push(format!(
            "{} cannot be compared by halves either: {one}",
            sentence(&alone).trim_end_matches('.')
        ));
    }
    found
}

/// What would make it suitable, or a pair, in whole sentences.
#[must_use]
pub(super) fn remedies(answer: &ScreenAnswer, index: usize) -> Vec<String> {
    let (site, screened) = (&answer.grounds.sites[index], &answer.sites[index]);
    screened
        .remedies
        .iter()
        .map(|one| remedy(site, screened, one))
        .collect()
}

fn remedy(site: &OfferedSite, screened: &Screened, remedy: &Remedy) -> String {
    match remedy {
        Remedy::Permission { then } => {
            format!(
                "Ask the owner: with permission it can serve as {}.",
                match then {
                    Use::Pair => "a pair",
                    Use::OnePatch | Use::Unsuitable => "one patch compared by halves",
                }
            )
        }
        Remedy::Gap(needed) => match needed.gap_m {
            Some(gap_m) => format!("A gap of about {} would do at these sizes.", length(gap_m)),
            None => format!(
                "No gap up to {} is wide enough at these sizes.",
                length(needed.tried_m)
            ),
        },
        Remedy::SecondPatch => "A second patch at some distance would make it a pair.".to_owned(),
        Remedy::MoreStems {
            patch: of,
            at_least,
        } => {
            format!(
                "It would take at least {at_least} stems in {}.",
                patch(site, *of)
            )
        }
        Remedy::Even {
            larger,
            at_most,
            at_least,
        } => format!(
            "As far as size goes, it would do with at most {at_most} stems in {}, the rest kept cut from before the flight to the last \
             count, or with at least {at_least} in {}. Stems left standing but not counted do not help.",
            patch(site, *larger),
            patch(site, 1 - larger)
        ),
        Remedy::LikeShade => {
            let shades: Vec<String> = screened
                .patches
                .iter()
                .map(|facts| percent(facts.shade_share))
                .collect();
            format!(
                "Only patches of like shade would do (these are shaded for {} of the day).",
                shades.join(" and ")
            )
        }
        Remedy::MoreInAll { stems } => {
            format!("It would take about {stems} stems in all for enough late-stage larvae.")
        }
    }
}

/// What a site takes from the scenario because the list does not tell it.
#[must_use]
pub(super) fn from_scenario(site: &OfferedSite) -> Vec<&'static str> {
    let mut found = Vec::new();
    let any = |missing: fn(&crate::scenario::offered::OfferedPatch) -> bool| {
        site.patches.iter().any(missing)
    };
    if any(|patch| patch.density_per_m2.is_none()) {
        found.push("area");
    }
    if any(|patch| patch.shade_share.is_none()) {
        found.push("shade");
    }
    if site.gap_m.is_some() && site.between.is_none() {
        found.push("between");
    }
    if site.surroundings.is_none() {
        found.push("surroundings");
    }
    if site.latitude_deg.is_none() {
        found.push("latitude");
    }
    found
}
