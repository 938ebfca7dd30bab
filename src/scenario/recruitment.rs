//! The recruitment population: what the sites that volunteers offer are like.

use super::checks::need;
use super::groups::Draft;
use super::layers::Layered;
use super::offered::{self, Offered};
use super::{CoverKind, files};
use crate::maths::{exp, ln, pow};
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// How a number varies between sites.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Spread {
    /// The same at every site.
    Always(f64),
    /// Uniform between two values.
    Between(f64, f64),
    /// Uniform on the log scale between two values.
    EvenlyByRatio(f64, f64),
    /// Log-normal: half of the sites lie below `middle`, two thirds within a factor exp(`log_sd`) of it. The
    /// outer thousandths are cut off.
    Around {
        /// Median.
        middle: f64,
        /// SD of the logarithm.
        log_sd: f64,
    },
}

/// Tail of a log-normal spread that is cut off at either end, so that no site is beyond all measure.
const TAIL: f64 = 0.001;

impl Spread {
    /// Value below which a share of the sites lies.
    #[must_use]
    pub fn quantile(self, share: f64) -> f64 {
        match self {
            Self::Always(value) => value,
            Self::Between(low, high) => low + (high - low) * share,
            Self::EvenlyByRatio(low, high) => low * pow(high / low, share),
            Self::Around { middle, log_sd } => {
                let inner = TAIL + (1.0 - 2.0 * TAIL) * share.clamp(0.0, 1.0);
                middle * exp(log_sd * Normal::standard().inverse_cdf(inner))
            }
        }
    }

    /// Share of the sites that lie below a value.
    #[must_use]
    pub fn share_below(self, value: f64) -> f64 {
        let share = match self {
            Self::Always(only) => f64::from(u8::from(only < value)),
            Self::Between(low, high) if high > low => (value - low) / (high - low),
            Self::EvenlyByRatio(low, high) if high > low && value > 0.0 => {
                ln(value / low) / ln(high / low)
            }
            Self::Between(low, _) | Self::EvenlyByRatio(low, _) => f64::from(u8::from(low < value)),
            Self::Around { middle, log_sd } if log_sd > 0.0 && value > 0.0 => {
                let inner = Normal::standard().cdf(ln(value / middle) / log_sd);
                (inner - TAIL) / (1.0 - 2.0 * TAIL)
            }
            Self::Around { middle, .. } => f64::from(u8::from(middle < value)),
        };
        share.clamp(0.0, 1.0)
    }

    /// In words.
    #[must_use]
    pub fn words(self, unit: &str) -> String {
        match self {
            Self::Always(value) => format!("{value} {unit} everywhere"),
            Self::Between(low, high) => format!("{low} to {high} {unit}, evenly"),
            Self::EvenlyByRatio(low, high) => {
                format!("{low} to {high} {unit}, evenly on the log scale")
            }
            Self::Around { middle, log_sd } => {
                format!("about {middle} {unit}, log-normal with log SD {log_sd}")
            }
        }
    }

    fn check(self, path: &str, lowest: f64, highest: f64) -> Outcome<Self> {
        let proper = match self {
            Self::Always(value) => value.is_finite(),
            Self::Between(low, high) => low <= high,
            Self::EvenlyByRatio(low, high) => low > 0.0 && low <= high,
            Self::Around { middle, log_sd } => middle > 0.0 && (0.0..=3.0).contains(&log_sd),
        };
        let (low, high) = (self.quantile(0.0), self.quantile(1.0));
        if proper && low >= lowest && high <= highest {
            return Ok(self);
        }
        Err(Trouble::new(format!("`{path}` is {self:?}, which reaches from {low:.3} to {high:.3}"))
            .at(path)
            .expected(format!("Always(x), Between(low, high), EvenlyByRatio(low, high) or Around(middle: x, log_sd: s) within {lowest} to {highest}"))
            .remedy("mend the spread"))
    }
}

/// Sites that volunteers offer, checked. Numbers of the group stand in `Numbers::recruitment`.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// Gaps, metres.
    pub gap_m: Spread,
    /// Stems of both patches together.
    pub stems: Spread,
    /// Stems per square metre.
    pub density_per_m2: Spread,
    /// Shade of a patch.
    pub shade_share: Spread,
    /// Covers with weights above 0.
    pub cover: Vec<(CoverKind, f64)>,
    /// Real sites, when a file lists them.
    pub offered: Option<Vec<Offered>>,
}

/// Largest gap, metres; larvae walk tens of metres.
pub(super) const LARGEST_GAP_M: f64 = 2000.0;
/// Most stems of a pair: ten times any patch of the published range.
pub(super) const MOST_STEMS: f64 = 20_000.0;
/// Densities that a stand can have.
pub(super) const DENSITIES: (f64, f64) = (0.02, 200.0);

pub(super) fn population(draft: &Draft, layered: &Layered) -> Outcome<Population> {
    let group = &draft.recruitment;
    let spread = |given: Option<Spread>, name: &str, low: f64, high: f64| {
        let path = format!("recruitment.{name}");
        need(given, &path)?.check(&path, low, high)
    };
    let cover = need(group.cover.clone(), "recruitment.cover")?;
    let sound = cover
        .iter()
        .all(|(_, weight)| *weight > 0.0 && weight.is_finite());
    if cover.is_empty() || !sound {
        return Err(Trouble::new("the list of covers makes no sense")
            .at("recruitment.cover")
            .expected("at least one (cover, weight above 0), such as [(ShortGrass, 1)]")
            .remedy("mend the list"));
    }
    let offered = match &group.offered {
        None => None,
        Some(file) => Some(
            layered
                .data
                .read(&layered.folder, file)
                .and_then(offered::read_in)
                .map_err(|fault| files::placed(fault, "recruitment.offered"))?,
        ),
    };
    // Two patches with one stem each at the least.
    const FEWEST_STEMS: f64 = 2.0;
    Ok(Population {
        gap_m: spread(group.gap_m, "gap_m", 0.0, LARGEST_GAP_M)?,
        stems: spread(group.stems, "stems", FEWEST_STEMS, MOST_STEMS)?,
        density_per_m2: spread(
            group.density_per_m2,
            "density_per_m2",
            DENSITIES.0,
            DENSITIES.1,
        )?,
        shade_share: spread(group.shade_share, "shade_share", 0.0, 1.0)?,
        cover,
        offered,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_share_below_undoes_quantile() {
        for spread in [
            Spread::Between(2.0, 30.0),
            Spread::EvenlyByRatio(60.0, 600.0),
            Spread::Around {
                middle: 15.0,
                log_sd: 0.7,
            },
        ] {
            for share in [0.0, 0.1, 0.5, 0.99] {
                let back = spread.share_below(spread.quantile(share));
                assert!((back - share).abs() < 1e-9, "{spread:?} {share} {back}");
            }
        }
    }
}
