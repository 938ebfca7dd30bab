//! The question that `recruit` asks, with its usual values.

use super::power::{SIZES, StudyPlan};
use super::{effects, siting};
use crate::scenario::draft::check_as;
use crate::stats::paired::Estimator;
use crate::study::{effect_words, is_effect};
use crate::trouble::Trouble;

/// Home ratios asked for unless others are given.
pub const RATIOS: [f64; 3] = [1.5, 2.0, 3.0];

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct RecruitQuestion {
    /// Home ratios, each above 0 and not 1.
    pub ratios: Vec<f64>,
    /// Peak attractions given directly.
    pub attractions: Vec<f64>,
    /// Numbers of sites, ascending.
    pub sizes: Vec<usize>,
    /// Studies at each number.
    pub studies: usize,
    /// How patches are compared.
    pub estimator: Estimator,
    /// Site-seasons in the pool of each effect.
    pub pool: u64,
    /// Whether each study has fresh sites.
    pub fresh: bool,
}

/// Most numbers of sites that are tried.
const MOST_SIZES: usize = 100;
/// Most effects: every one has a pool of its own.
const MOST_EFFECTS: usize = 50;
/// Most site-seasons of all pools together: about two gigabytes.
const MOST_HELD: u64 = 5_000_000;

/// Site-seasons in a pool unless another number is asked for.
pub const POOL: u64 = 6_000;

impl Default for RecruitQuestion {
    fn default() -> Self {
        Self {
            ratios: RATIOS.to_vec(),
            attractions: Vec::new(),
            sizes: SIZES.to_vec(),
            studies: 2_000,
            estimator: Estimator::Flip,
            pool: POOL,
            fresh: false,
        }
    }
}

impl RecruitQuestion {
    /// Seasons run in search of the attractions, at each attraction tried.
    #[must_use]
    pub fn pilot_seasons(&self) -> u64 {
        self.pool / 4
    }

    /// Seasons behind each answer to a side question.
    #[must_use]
    pub fn side_seasons(&self) -> u64 {
        self.pool / 4
    }

    /// Seasons to be run in all.
    #[must_use]
    pub fn seasons(&self) -> u64 {
        let effects = (1 + self.ratios.len() + self.attractions.len()) as u64;
        let sides = (siting::GAPS_M.len() + 4) as u64;
        effects * self.pool
            + effects::ATTRACTIONS.len() as u64 * self.pilot_seasons()
            + sides * self.side_seasons()
    }

    /// Whether the question makes sense.
    ///
    /// # Errors
    /// When it does not, with the option at fault.
    pub fn check(&self) -> Result<(), Trouble> {
        let ascending = self.sizes.windows(2).all(|pair| pair[0] < pair[1]);
        const FEWEST: usize = 2;
        const MOST: usize = 10_000;
        let within = self.sizes.iter().all(|size| (FEWEST..=MOST).contains(size));
        if self.sizes.len() < 2 || !ascending || !within {
            return Err(Trouble::new("the list of numbers of sites makes no sense")
                .at("the option --sites")
                .expected("at least two whole numbers from 2 to 10,000, ascending")
                .remedy("such as --sites 10,20,40,80"));
        }
        if self.sizes.len() > MOST_SIZES {
            return Err(Trouble::new(format!(
                "{} numbers of sites are asked for",
                self.sizes.len()
            ))
            .at("the option --sites")
            .expected(format!("at most {MOST_SIZES}"))
            .remedy("power between two of them is read from a curve"));
        }
        self.check_effects()?;
        if self.ratios.is_empty() && self.attractions.is_empty() {
            return Err(Trouble::new("no effect is asked for")
                .at("the options --ratios and --attractions")
                .remedy("such as --ratios 1.5,2,3"));
        }
        let most = self.sizes.last().copied().unwrap_or(0) as u64;
        if self.fresh && self.pool < most {
            return Err(
                Trouble::new(format!("{} sites make no fresh study of {most}", self.pool))
                    .at("the option --pool")
                    .expected("many times the largest number of sites")
                    .remedy("raise --pool or lower --sites"),
            );
        }
        Ok(())
    }

    /// Most site-seasons that the pool of each effect may have: all are held in memory.
    #[must_use]
    pub fn most_pool(&self) -> u64 {
        let effects = 1 + self.ratios.len() + self.attractions.len();
        MOST_HELD / effects as u64
    }

    fn check_effects(&self) -> Result<(), Trouble> {
        let odd = self.ratios.iter().find(|ratio| !is_effect(**ratio));
        if let Some(ratio) = odd {
            return Err(Trouble::new(format!("the ratio {ratio} is no effect"))
                .at("the option --ratios")
                .expected(format!("ratios {}, such as 1.5,2,3", effect_words()))
                .remedy("no effect is always answered as well"));
        }
        for attraction in &self.attractions {
            check_as(
                "laying.attraction_peak",
                *attraction,
                "the option --attractions",
            )?;
        }
        let effects = self.ratios.len() + self.attractions.len();
        if effects > MOST_EFFECTS {
            return Err(Trouble::new(format!("{effects} effects are asked for"))
                .at("the options --ratios and --attractions")
                .expected(format!("at most {MOST_EFFECTS}"))
                .remedy("ask for them in parts"));
        }
        let most = self.most_pool();
        if self.pool > most {
            return Err(Trouble::new(format!(
                "{effects} effects and no effect with {} site-seasons each are more than fit into memory",
                self.pool
            ))
            .at("the option --pool")
            .expected(format!("at most {most} for so many effects"))
            .remedy("lower --pool, or ask for fewer effects"));
        }
        Ok(())
    }

    pub(super) fn plan(&self, coin: bool) -> StudyPlan {
        StudyPlan {
            sizes: self.sizes.clone(),
            studies: self.studies,
            estimator: self.estimator,
            fresh: self.fresh,
            coin,
        }
    }
}
