//! Data, options and results shared by the paired estimators.

use serde::Serialize;
use thiserror::Error;

use super::mixed::MixedOptions;

/// Counts and stems of one site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PairedSite {
    /// Count on the treated patch, summed over surveys.
    pub treated: u32,
    /// Count on the untouched patch, summed over surveys.
    pub untouched: u32,
    /// Stems of the treated patch, counted before treatment (above 0).
    pub stems_treated: f64,
    /// Stems of the untouched patch (above 0).
    pub stems_untouched: f64,
}

impl PairedSite {
    /// Both counts together.
    #[must_use]
    pub fn total(&self) -> f64 {
        f64::from(self.treated) + f64::from(self.untouched)
    }

    /// Whether the site carries information on the ratio: at least one count above zero.
    #[must_use]
    pub fn is_informative(&self) -> bool {
        self.treated > 0 || self.untouched > 0
    }

    /// Expected share of the total on the treated patch under the `ratio` (0 or more).
    #[must_use]
    pub fn treated_share(&self, ratio: f64) -> f64 {
        // Divided through by the ratio, so that a huge one gives a share of 1 and not infinity
        // over infinity.
        self.stems_treated / (self.stems_treated + self.stems_untouched / ratio)
    }

    /// Treated count minus its expectation given the total, under the `ratio`.
    #[must_use]
    pub fn deviation(&self, ratio: f64) -> f64 {
        f64::from(self.treated) - self.total() * self.treated_share(ratio)
    }

    /// ln((y_t + 1/2) / s_t) - ln((y_c + 1/2) / s_c): the log ratio with half a larva added to each
    /// count so that a zero has a logarithm.
    #[must_use]
    pub fn log_ratio_with_half(&self) -> f64 {
        const HALF: f64 = 0.5;
        ((f64::from(self.treated) + HALF) / self.stems_treated).ln()
            - ((f64::from(self.untouched) + HALF) / self.stems_untouched).ln()
    }
}

/// How treated and untouched patches are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Estimator {
    /// Sign-flip randomisation test with the conditional maximum-likelihood ratio.
    #[default]
    Flip,
    /// Conditional beta-binomial, likelihood-ratio test.
    BetaBinomial,
    /// Random intercept for each site with overdispersed counts, likelihood-ratio test.
    Mixed,
    /// Wilcoxon's signed-rank test on log ratios.
    SignedRank,
    /// Paired t test on log ratios with half a larva added.
    LogRatioT,
}

impl Estimator {
    /// Every estimator, the default first.
    pub const ALL: [Self; 5] = [
        Self::Flip,
        Self::BetaBinomial,
        Self::Mixed,
        Self::SignedRank,
        Self::LogRatioT,
    ];

    /// The name used on the command line and in output.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Flip => "flip",
            Self::BetaBinomial => "beta-binomial",
            Self::Mixed => "mixed",
            Self::SignedRank => "signed-rank",
            Self::LogRatioT => "log-ratio-t",
        }
    }
}

impl std::fmt::Display for Estimator {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(self.name())
    }
}

impl std::str::FromStr for Estimator {
    type Err = PairedError;

    fn from_str(name: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|estimator| estimator.name() == name)
            .ok_or_else(|| PairedError::UnknownEstimator(name.to_owned()))
    }
}

/// The ratio of counts per stem, treated over untouched.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum RatioEstimate {
    /// Both sides hold counts.
    Finite {
        /// The ratio, above 0.
        ratio: f64,
    },
    /// Every informative count is on the treated side: no finite ratio fits best.
    UnboundedAbove,
    /// Every informative count is on the untouched side: the ratio is zero, its logarithm unbounded.
    UnboundedBelow,
    /// No informative site.
    Undefined,
}

impl RatioEstimate {
    /// The ratio where it is finite and above zero.
    #[must_use]
    pub fn ratio(self) -> Option<f64> {
        match self {
            Self::Finite { ratio } => Some(ratio),
            _ => None,
        }
    }
}

/// An interval for the ratio; a side without a bound is open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RatioInterval {
    /// Lower bound, `None` if the side is open (down to 0).
    pub lower: Option<f64>,
    /// Upper bound, `None` if the side is open (without limit).
    pub upper: Option<f64>,
    /// Confidence asked for, between 0 and 1.
    pub confidence: f64,
}

impl RatioInterval {
    /// An interval from bounds on the log scale.
    #[must_use]
    pub fn from_logs(lower: Option<f64>, upper: Option<f64>, confidence: f64) -> Self {
        Self {
            lower: lower.map(f64::exp),
            upper: upper.map(f64::exp),
            confidence,
        }
    }

    /// An interval that says nothing.
    #[must_use]
    pub fn open(confidence: f64) -> Self {
        Self::from_logs(None, None, confidence)
    }
}

/// What a reader must know beside the numbers.
#[derive(Debug, Clone, PartialEq, Error, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Warning {
    /// No site has a count above zero.
    #[error("no site has a count above zero: the ratio is undefined")]
    NoInformativeSite,
    /// All counts on one side.
    #[error(
        "all informative counts are on the {side} side: the ratio is unbounded and its interval one-sided"
    )]
    OneSided {
        /// The side that holds the counts.
        side: &'static str,
    },
    /// The test cannot reach the level whatever the counts.
    #[error(
        "{informative} informative sites: the smallest p value possible is {smallest:.3}, above the level of {level:.3}"
    )]
    CannotReachLevel {
        /// Number of informative sites.
        informative: usize,
        /// Smallest two-sided p value possible.
        smallest: f64,
        /// Level of the test.
        level: f64,
    },
    /// A side of the interval could not be bounded.
    #[error("the interval is open {side}: too few sites have counts on the other side to bound it")]
    OpenSide {
        /// "above" or "below".
        side: &'static str,
    },
    /// Few sites hold any count on one side.
    #[error(
        "sites with a count on the {side} side: only {sites}: the interval is approximate there"
    )]
    SparseSide {
        /// "treated" or "untouched".
        side: &'static str,
        /// Sites with a count on that side.
        sites: usize,
    },
    /// The added half counts pull the estimate.
    #[error(
        "half a larva is added to every count, which pulls the ratio towards 1 when counts are low (mean count {mean_count:.1} per patch)"
    )]
    PulledToOne {
        /// Mean count per patch over informative sites.
        mean_count: f64,
    },
    /// A normal approximation was used instead of the exact distribution.
    #[error("p value and interval by the normal approximation with tie correction ({reason})")]
    NormalApproximation {
        /// Why the exact distribution was not used.
        reason: &'static str,
    },
    /// The values do not vary.
    #[error("the log ratios do not vary between sites: no t test is possible")]
    NoSpread,
    /// A known tendency to reject too often.
    #[error(
        "the test is slightly liberal: about 5 % to 7 % false positives at the 5 % level when patches are noisy"
    )]
    SlightlyLiberal,
    /// Overdispersion estimated at its lower limit.
    #[error("overdispersion is estimated at zero")]
    NoOverdispersion,
    /// Site variance estimated at its lower limit.
    #[error("the variance between sites is estimated at zero")]
    NoSiteVariance,
    /// The optimiser stopped before its criterion was met.
    #[error("the fit did not converge: {detail}")]
    NotConverged {
        /// What happened.
        detail: String,
    },
}

/// What an estimator found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairedResult {
    /// Estimator used.
    pub estimator: Estimator,
    /// Ratio of counts per stem, treated over untouched.
    pub estimate: RatioEstimate,
    /// Natural logarithm of the ratio where finite.
    pub log_ratio: Option<f64>,
    /// Interval for the ratio.
    pub interval: RatioInterval,
    /// Two-sided p value of the hypothesis R = 1; `None` if undefined.
    pub p_value: Option<f64>,
    /// Sites with a count above zero.
    pub informative: usize,
    /// Sites recruited.
    pub sites: usize,
    /// What a reader must know beside the numbers.
    pub warnings: Vec<Warning>,
}

/// Settings shared by the estimators.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairedOptions {
    /// Confidence of intervals, strictly between 0 and 1.
    pub confidence: f64,
    /// Random sign patterns of the flip test beyond 16 informative sites (the identity is counted
    /// on top); at least 1.
    pub flips: usize,
    /// Seed of the random sign patterns.
    pub seed: u64,
    /// Settings of the mixed model.
    pub mixed: MixedOptions,
}

impl Default for PairedOptions {
    /// 95 % confidence and 9,999 flips: the Monte Carlo error of a p value of 0.05 is then 0.002.
    fn default() -> Self {
        Self {
            confidence: 0.95,
            flips: 9_999,
            seed: 0,
            mixed: MixedOptions::default(),
        }
    }
}

impl PairedOptions {
    /// The level of the two-sided test that matches the confidence.
    #[must_use]
    pub fn level(&self) -> f64 {
        1.0 - self.confidence
    }
}

/// Why a comparison could not be made.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PairedError {
    /// Stems of a site are zero, negative or not a number.
    #[error("site {site}: stems must be positive and finite, got {treated} and {untouched}")]
    Stems {
        /// Position of the site, from 0.
        site: usize,
        /// Stems of the treated patch.
        treated: f64,
        /// Stems of the untouched patch.
        untouched: f64,
    },
    /// Confidence outside (0, 1).
    #[error("confidence must lie strictly between 0 and 1, got {0}")]
    Confidence(f64),
    /// No random flips.
    #[error("at least one random flip is needed")]
    NoFlips,
    /// A grouped-count fit was given data that do not fit together.
    #[error("grouped counts: {0}")]
    Shape(&'static str),
    /// An unknown estimator name.
    #[error("unknown estimator '{0}'")]
    UnknownEstimator(String),
}

/// Checks stems, confidence and flips.
pub(crate) fn validate(sites: &[PairedSite], options: &PairedOptions) -> Result<(), PairedError> {
    let usable = |stems: f64| stems.is_finite() && stems > 0.0;
    if let Some((site, bad)) = sites
        .iter()
        .enumerate()
        .find(|(_, site)| !(usable(site.stems_treated) && usable(site.stems_untouched)))
    {
        return Err(PairedError::Stems {
            site,
            treated: bad.stems_treated,
            untouched: bad.stems_untouched,
        });
    }
    if !(options.confidence > 0.0 && options.confidence < 1.0) {
        return Err(PairedError::Confidence(options.confidence));
    }
    if options.flips == 0 {
        return Err(PairedError::NoFlips);
    }
    Ok(())
}
