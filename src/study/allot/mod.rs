//! Which patch is treated and which half is cut: a draw that anybody can make again.
//!
//! Chance comes from SHA-256 (FIPS 180-4), not from the streams of the simulation: a digest of a few readable
//! characters can be worked out with any computer's own tools, so that nobody has to trust this program.
//!
//! Every site gets a ticket, the digest of `SEED:site:NAME`. Within a stratum the sites stand in the order of their
//! tickets and get the arms in turn; what is left over at the end is chosen by a coin, the digest of
//! `SEED:stratum:LABEL`. Hence the order of the list does not matter, and what is added to one stratum changes no
//! other.

mod list;

pub use list::{EXAMPLE, ListedSite, SiteList, SiteUse, example, read_list};

use crate::scenario::data::sha256;
use crate::scenario::{CutSide, LayoutKind, Scenario};
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Name of the way in which the draw is made; raised with every change that could alter a draw.
pub const METHOD: &str = "sha256-tickets-1";

/// What is cut of a treated patch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cut {
    /// The half that faces the other patch.
    Towards,
    /// The half that faces away from it.
    Away,
    /// The half on the left of somebody who has come to the patch.
    Left,
    /// The half on the right.
    Right,
    /// All of it.
    Whole,
}

impl Cut {
    /// Word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Towards => "towards",
            Self::Away => "away",
            Self::Left => "left",
            Self::Right => "right",
            Self::Whole => "whole",
        }
    }
}

/// What can happen to a site: which of its patches is treated (0 the first), and what is cut of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Arm {
    /// Index of the treated patch.
    pub treated: usize,
    /// What is cut.
    pub cut: Cut,
}

/// What is drawn, by the use of a site.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arms {
    /// For pairs of patches.
    pub pair: Vec<Arm>,
    /// For single patches.
    pub one_patch: Vec<Arm>,
}

impl Arms {
    /// The arms of a scenario. In a pair the treated patch is always drawn; the half is drawn where the scenario
    /// tosses a coin for the side, and is the scenario's where it names one. In a single patch, where nothing lies
    /// opposite, left or right is drawn unless the scenario names one of them.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let side = scenario.cut_side;
        let is_whole = scenario.layout == LayoutKind::PairWholeCut
            || scenario.numbers.site.refuge_share == 0.0;
        let pair_cuts = match side {
            _ if is_whole => vec![Cut::Whole],
            CutSide::Coin => vec![Cut::Towards, Cut::Away],
            CutSide::Towards => vec![Cut::Towards],
            CutSide::Away => vec![Cut::Away],
            CutSide::Left => vec![Cut::Left],
            CutSide::Right => vec![Cut::Right],
        };
        let one_patch_cuts = match side {
            CutSide::Left => vec![Cut::Left],
            CutSide::Right => vec![Cut::Right],
            CutSide::Coin | CutSide::Towards | CutSide::Away => vec![Cut::Left, Cut::Right],
        };
        let crossed = |patches: usize, cuts: &[Cut]| -> Vec<Arm> {
            (0..patches)
                .flat_map(|treated| cuts.iter().map(move |cut| Arm { treated, cut: *cut }))
                .collect()
        };
        Self {
            pair: crossed(2, &pair_cuts),
            one_patch: crossed(1, &one_patch_cuts),
        }
    }

    /// The arms of a use.
    #[must_use]
    pub fn of_use(&self, used_as: SiteUse) -> &[Arm] {
        match used_as {
            SiteUse::Pair => &self.pair,
            SiteUse::OnePatch => &self.one_patch,
        }
    }
}

/// Checks that a list can be allotted under a scenario.
///
/// # Errors
/// When nothing would be cut, or a single patch would be left without a half to compare with.
pub fn check(scenario: &Scenario, list: &SiteList) -> Outcome<()> {
    let refuge = scenario.numbers.site.refuge_share;
    let wrong = |what: &str| {
        Err(Trouble::new(what)
            .at("site.refuge_share")
            .expected("a share above 0 and below 1 where halves are compared")
            .remedy("name the scenario of the study with --scenario"))
    };
    if refuge >= 1.0 && scenario.layout != LayoutKind::PairWholeCut {
        return wrong("the refuge is all of the treated patch: nothing is cut");
    }
    let single = list
        .sites
        .iter()
        .any(|site| site.used_as == SiteUse::OnePatch);
    if single && !(refuge > 0.0 && refuge < 1.0) {
        return wrong("a site of one patch needs a half that is left alone");
    }
    Ok(())
}

/// What was drawn for a site.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Allotted {
    /// Index of the site in its list.
    #[serde(skip)]
    pub site: usize,
    /// Name of the site.
    pub name: String,
    /// Its stratum.
    pub stratum: String,
    /// Its ticket: hexadecimal SHA-256.
    pub ticket: String,
    /// Its place in its stratum by ticket, from 1.
    pub place: usize,
    /// What happens to it.
    pub arm: Arm,
}

/// What was drawn within a stratum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stratum {
    /// Its label.
    pub label: String,
    /// Its coin: hexadecimal SHA-256.
    pub coin: String,
    /// How many sites got each arm, in the order of the arms.
    pub arms: Vec<(Arm, usize)>,
}

impl Stratum {
    /// Number of sites.
    #[must_use]
    pub fn sites(&self) -> usize {
        self.arms.iter().map(|(_, sites)| sites).sum()
    }

    /// Sites whose arm is of a kind.
    #[must_use]
    pub fn count(&self, kind: impl Fn(Arm) -> bool) -> usize {
        let of_kind = self.arms.iter().filter(|(arm, _)| kind(*arm));
        of_kind.map(|(_, sites)| sites).sum()
    }
}

/// A draw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Allotment {
    /// Seed.
    pub seed: u64,
    /// Strata by label.
    pub strata: Vec<Stratum>,
    /// Sites by name.
    pub sites: Vec<Allotted>,
}

/// Text whose digest is the ticket of a site.
#[must_use]
pub fn ticket_text(seed: u64, site: &str) -> String {
    format!("{seed}:site:{site}")
}

/// Text whose digest is the coin of a stratum.
#[must_use]
pub fn coin_text(seed: u64, stratum: &str) -> String {
    format!("{seed}:stratum:{stratum}")
}

/// Makes the draw. In every stratum the numbers of sites of any two arms, of both patches and of both halves differ
/// by at most one; every site gets every arm with the same chance over seeds.
#[must_use]
pub fn allot(list: &SiteList, arms: &Arms, seed: u64) -> Allotment {
    let mut strata: BTreeMap<&str, Vec<(String, usize)>> = BTreeMap::new();
    for (index, site) in list.sites.iter().enumerate() {
        let ticket = sha256(ticket_text(seed, &site.name).as_bytes());
        strata
            .entry(&site.stratum)
            .or_default()
            .push((ticket, index));
    }
    let mut allotment = Allotment {
        seed,
        strata: Vec::with_capacity(strata.len()),
        sites: Vec::with_capacity(list.sites.len()),
    };
    for (label, mut tickets) in strata {
        tickets.sort_unstable();
        let Some(first) = tickets.first() else {
            continue;
        };
        let arms = arms.of_use(list.sites[first.1].used_as);
        let coin = sha256(coin_text(seed, label).as_bytes());
        let turns = turns(tickets.len(), arms.len(), toss(&coin));
        let mut counts: Vec<(Arm, usize)> = arms.iter().map(|arm| (*arm, 0)).collect();
        for (place, ((ticket, site), turn)) in tickets.into_iter().zip(turns).enumerate() {
            counts[turn].1 += 1;
            allotment.sites.push(Allotted {
                site,
                name: list.sites[site].name.clone(),
                stratum: label.to_owned(),
                ticket,
                place: place + 1,
                arm: arms[turn],
            });
        }
        allotment.strata.push(Stratum {
            label: label.to_owned(),
            coin,
            arms: counts,
        });
    }
    allotment.sites.sort_unstable_by(|a, b| a.name.cmp(&b.name));
    allotment
}

/// The toss that a coin stands for: its first hexadecimal digit.
fn toss(coin: &str) -> usize {
    let digit = coin.chars().next().and_then(|digit| digit.to_digit(16));
    digit.unwrap_or(0) as usize
}

/// Arms of the sites in the order of their tickets: all arms in turn, over and over; the last round, if it is not
/// full, as the coin says. Of four arms (two patches by two halves) two that are left over are opposites, so that
/// patches and halves both stay even.
fn turns(sites: usize, arms: usize, toss: usize) -> Vec<usize> {
    let full = sites / arms * arms;
    let mut turns: Vec<usize> = (0..full).map(|place| place % arms).collect();
    let left_over = sites - full;
    match (arms, left_over) {
        (_, 0) => {}
        (4, 2) if toss.is_multiple_of(2) => turns.extend([0, 3]),
        (4, 2) => turns.extend([1, 2]),
        (4, 3) => turns.extend((0..4).filter(|arm| *arm != toss % 4)),
        _ => turns.push(toss % arms),
    }
    turns
}

/// The way the draw is made, in words from which it can be made again with other tools.
pub const IN_WORDS: [&str; 4] = [
    "The ticket of a site is the SHA-256 digest (FIPS 180-4), in small hexadecimal letters, of the characters \
     SEED:site:NAME in UTF-8; the coin of a stratum that of SEED:stratum:LABEL, where the label is its use and then \
     each column balanced within, such as pair; size=large.",
    "Within each stratum the sites stand in the order of their tickets and get the arms in turn, over and over. The \
     arms of a pair are 1 first patch treated, half towards the other patch cut; 2 first, away; 3 second, towards; \
     4 second, away. Where the half is not drawn they are 1 first and 2 second; of a single patch 1 left and 2 right.",
    "If the last round is not full, the first digit of the coin (0 to f for 0 to 15) decides. Two arms, one site left: \
     an even digit gives it arm 1, an odd one arm 2. Four arms: one site left gets arm 1 + the remainder of the digit \
     divided by 4; two sites left get arms 1 and 4 if the digit is even, else 2 and 3; three sites left get all arms in \
     turn but for 1 + that remainder.",
    "To work out a ticket: printf '%s' 'SEED:site:NAME' | sha256sum",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_every_toss_leaves_patches_and_halves_even() {
        for arms in [1, 2, 4] {
            for sites in 1..=33 {
                for toss in 0..16 {
                    let turns = turns(sites, arms, toss);
                    assert_eq!(turns.len(), sites);
                    let count = |kind: &dyn Fn(usize) -> bool| {
                        turns.iter().filter(|arm| kind(**arm)).count()
                    };
                    let apart = |a: usize, b: usize| assert!(a.abs_diff(b) <= 1, "{turns:?}");
                    for (a, b) in (0..arms).flat_map(|a| (0..arms).map(move |b| (a, b))) {
                        apart(count(&|arm| arm == a), count(&|arm| arm == b));
                    }
                    if arms == 4 {
                        apart(count(&|arm| arm < 2), count(&|arm| arm >= 2));
                        apart(count(&|arm| arm % 2 == 0), count(&|arm| arm % 2 == 1));
                    }
                }
            }
        }
    }
}
