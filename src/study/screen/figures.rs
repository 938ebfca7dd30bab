//! The figures of a site that its verdict rests on.

use super::grounds::{Grounds, Setup};
use super::pooled::{Pooled, Ranged};

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Simulated with the site's own geometry.
    Simulated,
    /// Read off the surface that was fitted to other sites of the list.
    Fitted,
}

impl Origin {
    /// The word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Simulated => "simulated",
            Self::Fitted => "fitted",
        }
    }
}

/// Figures of a pair of patches, before a draw has decided which is treated.
#[derive(Debug, Clone, PartialEq)]
pub struct PairFigures {
    /// Stray shares: by the patch that is treated, then by the patch in which the larvae stand.
    pub strays: [[Ranged; 2]; 2],
    /// Home ratio with nothing cut, first patch over second: what unequal size and shade alone make of the eggs, in
    /// closed form.
    pub home_ratio: f64,
    /// Late-stage larvae per stem with nothing cut, first patch over second, by where they stand.
    pub standing_ratio: Ranged,
    /// Late-stage larvae that a volunteer counts in both patches in a season, mean of the two assignments.
    pub counted: Ranged,
    /// Where stray shares and counts come from.
    pub origin: Origin,
}

/// The stray share that decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// Patch that is treated.
    pub treated: usize,
    /// Patch in which the strays stand.
    pub patch: usize,
    /// The share.
    pub share: Ranged,
}

impl PairFigures {
    /// The largest stray share of either patch under either assignment.
    #[must_use]
    pub fn worst(&self) -> Worst {
        let mut worst = Worst {
            treated: 0,
            patch: 0,
            share: self.strays[0][0],
        };
        for (treated, shares) in self.strays.iter().enumerate() {
            for (patch, share) in shares.iter().enumerate() {
                if share.value > worst.share.value {
                    worst = Worst {
                        treated,
                        patch,
                        share: *share,
                    };
                }
            }
        }
        worst
    }

    /// The false ratio as a factor of at least 1, whichever patch has more.
    #[must_use]
    pub fn false_factor(&self) -> Ranged {
        let Ranged { value, low, high } = self.standing_ratio;
        if value >= 1.0 {
            return self.standing_ratio;
        }
        Ranged {
            value: 1.0 / value,
            low: 1.0 / high,
            high: 1.0 / low,
        }
    }

    /// Stray shares of pooled seasons with each patch treated in turn, as in [`PairFigures::strays`].
    #[must_use]
    pub fn stray_shares(treated: [&Pooled; 2]) -> [[Ranged; 2]; 2] {
        // Parts of a pool are treated and untouched patch.
        [0, 1].map(|which| {
            [0, 1].map(|patch: usize| treated[which].stray_share(usize::from(patch != which)))
        })
    }

    /// Figures of pooled seasons: each patch treated in turn, then nothing cut.
    #[must_use]
    pub fn of(grounds: &Grounds, site: usize, treated: [&Pooled; 2], uncut: &Pooled) -> Self {
        let home_ratio = home_ratio(grounds, site);
        Self {
            strays: Self::stray_shares(treated),
            home_ratio,
            standing_ratio: standing_ratio(grounds, site, uncut).unwrap_or(Ranged {
                value: home_ratio,
                low: 0.0,
                high: f64::INFINITY,
            }),
            counted: mean_of(treated.map(Pooled::counted_a_season)),
            origin: Origin::Simulated,
        }
    }
}

/// Home ratio of a pair with nothing cut, first patch over second: eggs per stem by patch size and shade; survival is
/// the same in both.
#[must_use]
pub fn home_ratio(grounds: &Grounds, site: usize) -> f64 {
    let [first, second] = [0, 1].map(|patch| grounds.patch(site, patch));
    (first.eggs / first.stems) / (second.eggs / second.stems)
}

fn standing_ratio(grounds: &Grounds, site: usize, uncut: &Pooled) -> Option<Ranged> {
    let [first, second] = [0, 1].map(|patch| grounds.patch(site, patch).stems);
    let (log, error) = uncut.log_standing_ratio()?;
    Some(Ranged::of_log(log - (first / second).ln(), error))
}

/// Mean of two estimates from the same seasons: their errors go together.
pub(super) fn mean_of([one, other]: [Ranged; 2]) -> Ranged {
    Ranged {
        value: f64::midpoint(one.value, other.value),
        low: f64::midpoint(one.low, other.low),
        high: f64::midpoint(one.high, other.high),
    }
}

/// Figures of one patch whose halves are compared.
#[derive(Debug, Clone, PartialEq)]
pub struct HalvesFigures {
    /// Index of the patch.
    pub patch: usize,
    /// Of the late-stage larvae in the refuge half, the share laid in the cut half.
    pub drift: Ranged,
    /// Late-stage larvae that a volunteer counts in both halves in a season.
    pub counted: Ranged,
    /// Where they come from.
    pub origin: Origin,
}

impl HalvesFigures {
    /// Figures of pooled seasons of the patch cut by half.
    #[must_use]
    pub fn of(patch: usize, halves: &Pooled) -> Self {
        Self {
            patch,
            drift: halves.stray_share(0),
            counted: halves.counted_a_season(),
            origin: Origin::Simulated,
        }
    }
}

/// All figures of a site.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Of its pair, if two patches are offered.
    pub pair: Option<PairFigures>,
    /// Of its larger patch alone.
    pub halves: HalvesFigures,
}

/// The patch that would be compared by halves: the one with more stems.
#[must_use]
pub fn larger_patch(grounds: &Grounds, site: usize) -> usize {
    match grounds.sites[site].patches.as_slice() {
        [first, second] if second.stems > first.stems => 1,
        _ => 0,
    }
}

/// What has to be simulated for all figures of a site.
#[must_use]
pub fn setups(grounds: &Grounds, site: usize) -> Vec<Setup> {
    let halves = Setup::Halves(larger_patch(grounds, site));
    if grounds.sites[site].patches.len() > 1 {
        vec![Setup::Treated(0), Setup::Treated(1), Setup::Uncut, halves]
    } else {
        vec![halves]
    }
}

/// Figures of a site from its pools, in the order of [`setups`].
#[must_use]
pub fn figures(grounds: &Grounds, site: usize, pools: &[Pooled]) -> Option<Figures> {
    let patch = larger_patch(grounds, site);
    match pools {
        [halves] => Some(Figures {
            pair: None,
            halves: HalvesFigures::of(patch, halves),
        }),
        [first, second, uncut, halves] => Some(Figures {
            pair: Some(PairFigures::of(grounds, site, [first, second], uncut)),
            halves: HalvesFigures::of(patch, halves),
        }),
        _ => None,
    }
}
