//! What lax siting costs: sites needed when every pair has the same gap, and under a laxer rule.

use super::effects::pooled_ratio;
use super::pool::{Comparison, site_seasons};
use super::power::{StudyPlan, power_curve};
use super::sites::{Effect, Sites};
use crate::runner::Runner;
use crate::scenario::Scenario;
use crate::stats::paired::PairedSite;
use crate::stats::{CrossingReport, Estimate};
use crate::study::{StudyError, every};

/// Gaps tried, metres.
pub const GAPS_M: [f64; 8] = [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0];
/// A rule as lax as is met with, metres.
pub const LAX_GAP_M: f64 = 3.0;

/// Sites needed under one siting of the pairs.
#[derive(Debug, Clone, PartialEq)]
pub struct SitingPoint {
    /// What the pairs have in common, in words.
    pub what: String,
    /// The gap of all pairs, metres, when they have the same.
    pub gap_m: Option<f64>,
    /// Share of the pairs offered that may be taken.
    pub share_taken: Option<f64>,
    /// Home ratio.
    pub home: Option<Estimate>,
    /// Ratio by where the larvae stand.
    pub standing: Option<Estimate>,
    /// Ratio as the volunteers count it.
    pub counted: Option<Estimate>,
    /// Sites for each power.
    pub needed: [CrossingReport; 2],
}

/// One siting.
///
/// # Errors
/// When the run is stopped or a statistic cannot be worked out.
pub fn siting_point(
    sites: &Sites,
    (what, gap_m): (String, Option<f64>),
    effect: Effect,
    seasons: u64,
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<SitingPoint, StudyError> {
    let pool = site_seasons(sites, effect, 0..seasons, runner)?;
    let late: Vec<PairedSite> = pool
        .iter()
        .map(|site| site.pair(Comparison::Late))
        .collect();
    Ok(SitingPoint {
        what,
        gap_m,
        share_taken: gap_m.is_none().then_some(sites.share_meeting_rule),
        home: pooled_ratio(&pool, Comparison::Home),
        standing: pooled_ratio(&pool, Comparison::Standing),
        counted: pooled_ratio(&pool, Comparison::Late),
        needed: power_curve(&late, plan, runner)?.needed,
    })
}

/// Sites needed with one gap at all pairs, for each of [`GAPS_M`]; then with the scenario's rule and with
/// [`LAX_GAP_M`] as the rule. The sites are the same but for the gap.
///
/// # Errors
/// As [`siting_point`].
pub fn siting(
    scenario: &Scenario,
    effect: Effect,
    seasons: u64,
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<Vec<SitingPoint>, StudyError> {
    let sites = Sites::of(scenario)?;
    let fixed = GAPS_M.map(|gap_m| {
        let what = format!("all pairs {gap_m} m apart");
        (sites.with_gap(gap_m), (what, Some(gap_m)))
    });
    let least = scenario.numbers.recruitment.least_gap_m;
    let rules = if least > LAX_GAP_M {
        vec![least, LAX_GAP_M]
    } else {
        vec![least]
    };
    let mut all = Vec::from(fixed);
    for rule in rules {
        let what = format!("pairs from {rule:.1} m on");
        all.push((Sites::with_rule(scenario, rule)?, (what, None)));
    }
    every(
        all.into_iter()
            .map(|(sites, what)| siting_point(&sites, what, effect, seasons, plan, runner)),
    )
}
