//! Counts with a random intercept for each site, overdispersed within sites, stems as offset.
//!
//! The test is by likelihood ratio and the interval by profile likelihood. Sites without any count
//! stay in the fit, where they inform the variance between sites.

mod grouped;
mod optimise;
mod quadrature;
mod response;

use nalgebra::DMatrix;
use serde::Serialize;

pub use grouped::{GroupedCounts, GroupedFit, Quadrature};
pub use response::Response;

use super::beta_binomial::{allowed_loss, profile_bound, ratio_test};
use super::conditional;
use super::flip::one_sided_interval;
use super::types::{
    Estimator, PairedError, PairedOptions, PairedResult, PairedSite, RatioEstimate, RatioInterval,
    Warning,
};

/// Spreads on the log scale below this are reported as zero: they change a mean by a thousandth.
const NEGLIGIBLE_SPREAD: f64 = 1e-3;
/// Column of the design matrix that marks treated patches.
const TREATED: usize = 1;

/// Overdispersion within sites.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Noise {
    /// Negative binomial.
    #[default]
    NegativeBinomial,
    /// Log-normal error for each observation.
    LogNormal,
}

impl From<Noise> for Response {
    fn from(noise: Noise) -> Self {
        match noise {
            Noise::NegativeBinomial => Self::NegativeBinomial,
            Noise::LogNormal => Self::LogNormal,
        }
    }
}

/// Settings of the mixed model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct MixedOptions {
    /// Overdispersion within sites.
    pub noise: Noise,
    /// Quadrature over site effects.
    pub quadrature: Quadrature,
}

/// Counts of paired sites as grouped counts: an intercept, a column that marks treated patches, and
/// the logarithm of stems as offset.
///
/// # Errors
/// [`PairedError::Shape`] without sites.
pub fn grouped_counts(sites: &[PairedSite]) -> Result<GroupedCounts, PairedError> {
    let number = 2 * sites.len();
    let counts = sites.iter().flat_map(|site| [site.treated, site.untouched]);
    let stems = sites
        .iter()
        .flat_map(|site| [site.stems_treated.ln(), site.stems_untouched.ln()]);
    let groups: Vec<usize> = (0..number).map(|at| at / 2).collect();
    // Even rows are treated patches.
    let design = DMatrix::from_fn(number, 2, |row, column| {
        f64::from(u8::from(column != TREATED || row % 2 == 0))
    });
    GroupedCounts::new(counts.collect(), design, stems.collect(), &groups)
}

/// Highest log-likelihood as the ratio grows without limit: the side without counts is then certain
/// to be empty, and the other side alone remains.
fn limit(sites: &[PairedSite], treated: bool, options: MixedOptions) -> Result<f64, PairedError> {
    let counts = sites.iter().map(|site| {
        if treated {
            site.treated
        } else {
            site.untouched
        }
    });
    let stems = sites.iter().map(|site| {
        if treated {
            site.stems_treated.ln()
        } else {
            site.stems_untouched.ln()
        }
    });
    let groups: Vec<usize> = (0..sites.len()).collect();
    let design = DMatrix::from_element(sites.len(), 1, 1.0);
    let data = GroupedCounts::new(counts.collect(), design, stems.collect(), &groups)?;
    Ok(data
        .fit(options.noise.into(), options.quadrature)
        .log_likelihood)
}

/// Two-sided p value of the likelihood-ratio test of R = 1, the path for simulated studies: no
/// interval and no check of the stems. `None` without an informative site.
#[must_use]
pub fn p_value_only(sites: &[PairedSite], options: MixedOptions) -> Option<f64> {
    let response = Response::from(options.noise);
    let data = grouped_counts(sites).ok()?;
    let highest = match conditional::estimate(sites) {
        RatioEstimate::Undefined => return None,
        RatioEstimate::UnboundedAbove => limit(sites, true, options).ok()?,
        RatioEstimate::UnboundedBelow => limit(sites, false, options).ok()?,
        RatioEstimate::Finite { .. } => data.fit(response, options.quadrature).log_likelihood,
    };
    let null = data
        .with_fixed(TREATED, 0.0)
        .fit(response, options.quadrature);
    Some(ratio_test(highest, null.log_likelihood))
}

/// Ratio, profile interval and likelihood-ratio test.
pub(crate) fn compare(
    sites: &[PairedSite],
    options: &PairedOptions,
) -> Result<PairedResult, PairedError> {
    let mut warnings = Vec::new();
    let side = conditional::estimate(sites);
    let (estimate, interval, p_value) = match side {
        RatioEstimate::Undefined => {
            warnings.push(Warning::NoInformativeSite);
            (side, RatioInterval::open(options.confidence), None)
        }
        RatioEstimate::UnboundedAbove | RatioEstimate::UnboundedBelow => {
            let on_treated = side == RatioEstimate::UnboundedAbove;
            let highest = limit(sites, on_treated, options.mixed)?;
            let null = grouped_counts(sites)?
                .with_fixed(TREATED, 0.0)
                .fit(options.mixed.noise.into(), options.mixed.quadrature);
            warnings.extend(fit_warnings(&null));
            let interval = one_sided_interval(sites, side, options, &mut warnings);
            let p_value = ratio_test(highest, null.log_likelihood);
            (side, interval, Some(p_value))
        }
        RatioEstimate::Finite { .. } => {
            warnings.push(Warning::SlightlyLiberal);
            let data = grouped_counts(sites)?;
            fitted(&data, options, &mut warnings)
        }
    };
    Ok(PairedResult {
        estimator: Estimator::Mixed,
        estimate,
        log_ratio: estimate.ratio().map(f64::ln),
        interval,
        p_value,
        informative: sites.iter().filter(|site| site.is_informative()).count(),
        sites: sites.len(),
        warnings,
    })
}

/// What a reader of a fit must know.
fn fit_warnings(fit: &GroupedFit) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if !fit.converged {
        warnings.push(Warning::NotConverged {
            detail: "the likelihood is flat or its maximum was not reached".to_owned(),
        });
    }
    if fit.group_spread < NEGLIGIBLE_SPREAD {
        warnings.push(Warning::NoSiteVariance);
    }
    if fit
        .overdispersion
        .is_some_and(|spread| spread < NEGLIGIBLE_SPREAD)
    {
        warnings.push(Warning::NoOverdispersion);
    }
    warnings
}

/// Estimate, interval and p value where counts lie on both sides.
fn fitted(
    data: &GroupedCounts,
    options: &PairedOptions,
    warnings: &mut Vec<Warning>,
) -> (RatioEstimate, RatioInterval, Option<f64>) {
    let response = Response::from(options.mixed.noise);
    let best = data.fit(response, options.mixed.quadrature);
    warnings.extend(fit_warnings(&best));
    let log_ratio = best.coefficients[TREATED];
    let start = best.start_without(TREATED);
    let profile = |at: f64| {
        data.with_fixed(TREATED, at)
            .fit_from(response, options.mixed.quadrature, &start)
            .log_likelihood
    };
    let null = data
        .with_fixed(TREATED, 0.0)
        .fit(response, options.mixed.quadrature);
    let least = best.log_likelihood - allowed_loss(options.confidence);
    let mut side = |direction: f64, name: &'static str| {
        let bound = profile_bound(profile, log_ratio, direction, least);
        if bound.is_none() {
            warnings.push(Warning::OpenSide { side: name });
        }
        bound
    };
    let lower = side(-1.0, "below");
    let upper = side(1.0, "above");
    (
        RatioEstimate::Finite {
            ratio: log_ratio.exp(),
        },
        RatioInterval::from_logs(lower, upper, options.confidence),
        Some(ratio_test(best.log_likelihood, null.log_likelihood)),
    )
}
