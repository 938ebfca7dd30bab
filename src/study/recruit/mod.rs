//! How many sites must be recruited? Simulated studies made of simulated seasons.
//!
//! A site is drawn from the recruitment population, a whole larval season runs at it, and its volunteer counts. Such
//! site-seasons fill a pool for each effect; studies are drawn from the pool with replacement. Every volunteer who
//! is invited is a site, those who drop out included.

mod answers;
pub mod band;
pub mod closed;
pub mod effects;
pub mod example;
pub mod kinds;
pub mod pool;
pub mod power;
mod precise;
mod question;
pub mod sites;
pub mod siting;
pub mod what_if;

pub use answers::answer;
pub use precise::precise;
pub use question::{POOL, RATIOS, RecruitQuestion};

use crate::stats::{Crossing, CrossingReport, Estimate};
use closed::Closed;
use effects::Pilot;
use example::ExampleStudy;
use kinds::KindsAnswer;
use pool::Comparison;
use power::PowerCurve;
use sites::Effect;
use siting::SitingPoint;

/// Home ratio for which the side questions are answered; of the effects asked for, the nearest.
pub const SIDE_RATIO: f64 = 2.0;

/// The answer for one effect.
#[derive(Debug, Clone)]
pub struct EffectAnswer {
    /// In words: `no effect`, `ratio 2`, `attraction 6`.
    pub name: String,
    /// Home ratio asked for.
    pub asked: Option<f64>,
    /// What was done.
    pub effect: Effect,
    /// Home ratio of the pool: late stage per stem, by natal patch.
    pub home: Option<Estimate>,
    /// The same by where the larvae stand.
    pub standing: Option<Estimate>,
    /// As the volunteers count it.
    pub counted: Option<Estimate>,
    /// Eggs as counted.
    pub eggs: Option<Estimate>,
    /// Home ratio of the halves of the treated patch, the ratio by where larvae stand, and as counted.
    pub halves: [Option<Estimate>; 3],
    /// Share of sites with any late-stage larva counted.
    pub informative: f64,
    /// Late-stage larvae counted per untouched patch.
    pub late_per_patch: f64,
    /// Power curves.
    pub curves: Vec<(Comparison, PowerCurve)>,
    /// The closed form.
    pub closed: Option<Closed>,
}

impl EffectAnswer {
    /// The curve of a comparison.
    #[must_use]
    pub fn curve(&self, comparison: Comparison) -> Option<&PowerCurve> {
        self.curves
            .iter()
            .find(|(which, _)| *which == comparison)
            .map(|(_, curve)| curve)
    }

    /// Share of the logarithm of the home ratio that crawling leaves.
    #[must_use]
    pub fn attenuation(&self) -> Option<f64> {
        let (home, standing) = (self.home?.value.ln(), self.standing?.value.ln());
        // Near a ratio of 1 the quotient is noise over noise.
        const LEAST_EFFECT: f64 = 0.1;
        (home.abs() > LEAST_EFFECT).then(|| standing / home)
    }

    /// Sites needed at 80 % power, rounded up, when reached.
    #[must_use]
    pub fn sites_needed(&self) -> Option<usize> {
        whole_sites(&self.curve(Comparison::Late)?.needed[0])
    }
}

/// Sites needed, rounded up, when reached within the numbers tried.
#[must_use]
pub fn whole_sites(report: &CrossingReport) -> Option<usize> {
    match report.crossing? {
        Crossing::At(sites) => Some(sites.ceil() as usize),
        Crossing::BelowGrid | Crossing::NotReached => None,
    }
}

/// What cutting without a true difference does to a comparison: false positives by crawling and by the calendar.
#[derive(Debug, Clone)]
pub struct FalseEffect {
    /// The comparison.
    pub comparison: Comparison,
    /// Attraction at which its own home ratio is 1.
    pub attraction: f64,
    /// Home ratio, ratio by where larvae stand, ratio as counted.
    pub ratios: [Option<Estimate>; 3],
    /// Share of studies that reject.
    pub curve: PowerCurve,
}

/// The whole answer.
#[derive(Debug, Clone)]
pub struct RecruitAnswer {
    /// The question.
    pub question: RecruitQuestion,
    /// Home ratio against attraction.
    pub pilot: Pilot,
    /// Ratios that no attraction tried reaches.
    pub unreachable: Vec<f64>,
    /// Effects; the first is no effect.
    pub effects: Vec<EffectAnswer>,
    /// Cutting with a home ratio of 1, for pairs and for halves.
    pub false_effects: Vec<FalseEffect>,
    /// Difference between two kinds of surroundings.
    pub kinds: Vec<KindsAnswer>,
    /// Price of lax siting, at the effect nearest to a ratio of 2.
    pub siting: Vec<SitingPoint>,
    /// Index of that effect.
    pub side: usize,
    /// One simulated study.
    pub example: Option<ExampleStudy>,
    /// Share of offered pairs that meet the siting rule.
    pub share_meeting_rule: f64,
}
