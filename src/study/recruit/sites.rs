//! Sites drawn from the recruitment population, and the plan of a season at each.

use crate::life::Clock;
use crate::plan::Plan;
use crate::random::{Key, Purpose, unit};
use crate::scenario::recruitment::Population;
use crate::scenario::{
    CoverKind, LayoutKind, Outline, Scenario, StemPlacement, Temperatures, Treatment, groups,
};
use crate::trouble::{Outcome, Trouble};
use rand_distr::{Distribution, StandardNormal};
use statrs::distribution::{ContinuousCDF, Normal};

/// What is done to the treated patches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Effect {
    /// Nothing is cut: treated and untouched patches differ in name only.
    Nothing,
    /// The scenario's cutting, with these peak attractions at sites of the first and of the second kind.
    Attraction(f64, f64),
}

/// One site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Whether it lies in the second kind of surroundings.
    pub second_kind: bool,
    /// Gap, metres.
    pub gap_m: f64,
    /// Stems of the treated and of the untouched patch.
    pub stems: [f64; 2],
    /// Stems per square metre.
    pub density_per_m2: f64,
    /// Share of the day in shade.
    pub shade_share: [f64; 2],
    /// Cover around and between the patches.
    pub cover: CoverKind,
    /// Class of the shift of temperature.
    pub weather: usize,
    /// Whether the coin gave the treated patch the settings of the scenario's untouched one.
    pub swapped: bool,
}

/// Classes of weather: sites of a class share a clock, which would cost about as much as a season to work out.
const WEATHER_CLASSES: usize = 9;

/// The population, ready to draw sites from.
#[derive(Debug, Clone)]
pub struct Sites {
    template: Scenario,
    clocks: Vec<Clock>,
    shifts_c: Vec<f64>,
    fixed_gap_m: Option<f64>,
    /// Sites of the offered list that meet the siting rule; empty without a list.
    offered: Vec<crate::scenario::offered::Offered>,
    /// Share of the pairs offered that meet the siting rule.
    pub share_meeting_rule: f64,
}

impl Sites {
    /// The population of a scenario.
    ///
    /// # Errors
    /// When the scenario is no pair, its patches are fixed on the ground, or no site meets the siting rule.
    pub fn of(scenario: &Scenario) -> Outcome<Self> {
        check(scenario)?;
        let numbers = &scenario.numbers.recruitment;
        let population = &scenario.population;
        let least = numbers.least_gap_m;
        let (offered, share) = match &population.offered {
            None => (Vec::new(), 1.0 - population.gap_m.share_below(least)),
            Some(all) => {
                let kept: Vec<_> = all
                    .iter()
                    .copied()
                    .filter(|site| site.gap_m >= least)
                    .collect();
                let share = kept.len() as f64 / all.len() as f64;
                (kept, share)
            }
        };
        if share <= 0.0 {
            return Err(Trouble::new("no site offered meets the siting rule")
                .at("recruitment.least_gap_m")
                .expected(format!("some gaps of at least {least} m"))
                .remedy("lower least_gap_m or offer wider pairs"));
        }
        let shifts_c = weather_shifts(numbers.weather_sd_c);
        let mut template = scenario.clone();
        // The draft is only for provenance, and too heavy to be copied for every site.
        template.draft = groups::Draft::default();
        template.population.offered = None;
        largest(&template).check_size()?;
        let clocks = shifts_c
            .iter()
            .map(|shift| {
                let mut shifted = template.clone();
                shifted.temperatures = warmer(&template.temperatures, *shift);
                Clock::of(&shifted)
            })
            .collect();
        Ok(Self {
            template,
            clocks,
            shifts_c,
            fixed_gap_m: None,
            offered,
            share_meeting_rule: share,
        })
    }

    /// Checks that seasons of the largest site drawn fit into memory at a peak attraction.
    ///
    /// # Errors
    /// When they do not.
    pub fn check_attraction(&self, peak: f64) -> Outcome<()> {
        let mut scenario = largest(&self.template);
        scenario.numbers.laying.attraction_peak = peak;
        scenario.check_size()
    }

    /// The same population with one gap at all sites, metres, whatever the siting rule says.
    #[must_use]
    pub fn with_gap(&self, gap_m: f64) -> Self {
        Self {
            fixed_gap_m: Some(gap_m),
            ..self.clone()
        }
    }

    /// The same population under another siting rule, metres.
    ///
    /// # Errors
    /// As [`Sites::of`].
    pub fn with_rule(scenario: &Scenario, least_gap_m: f64) -> Outcome<Self> {
        let mut changed = scenario.clone();
        changed.numbers.recruitment.least_gap_m = least_gap_m;
        Self::of(&changed)
    }

    /// Whether a coin decides which patch of a site is treated: for drawn sites, but not for offered ones, which
    /// name the patch to be treated.
    #[must_use]
    pub fn coin_decides(&self) -> bool {
        self.offered.iter().all(|site| site.to_be_drawn)
    }

    /// The scenario from which sites are made.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.template
    }

    /// All that the sites and their seasons depend on but the seed; clocks follow from it.
    pub(super) fn settings(&self) -> impl std::fmt::Debug + '_ {
        (
            &self.template,
            &self.shifts_c,
            self.fixed_gap_m,
            &self.offered,
        )
    }

    /// The site that a key owns.
    #[must_use]
    pub fn draw(&self, key: Key) -> Site {
        let population: &Population = &self.template.population;
        let numbers = &self.template.numbers.recruitment;
        let mut stream = key.to(Purpose::Recruitment).stream();
        // All draws are made in one order, so that a site keeps its draws when a spread changes.
        let second_kind = unit(&mut stream) < numbers.second_kind_share;
        let gap = unit(&mut stream);
        let total = population.stems.quantile(unit(&mut stream));
        let z: f64 = StandardNormal.sample(&mut stream);
        let density_per_m2 = population.density_per_m2.quantile(unit(&mut stream));
        let shade_share = [(); 2].map(|()| population.shade_share.quantile(unit(&mut stream)));
        let cover = weighted(&population.cover, unit(&mut stream));
        let weather = (unit(&mut stream) * WEATHER_CLASSES as f64) as usize;
        let swapped = unit(&mut stream) < 0.5;
        let row = unit(&mut stream);
        let below = population.gap_m.share_below(numbers.least_gap_m);
        let treated_share = 1.0 / (1.0 + (-numbers.stem_split_sd * z).exp());
        let mut site = Site {
            second_kind,
            gap_m: population.gap_m.quantile(below + (1.0 - below) * gap),
            stems: [treated_share, 1.0 - treated_share]
                .map(|share| (total * share).round().max(1.0)),
            density_per_m2,
            shade_share,
            cover,
            weather: weather.min(WEATHER_CLASSES - 1),
            swapped: swapped && self.coin_decides(),
        };
        if let Some(offered) = self.offered.get((row * self.offered.len() as f64) as usize) {
            site.gap_m = offered.gap_m;
            site.stems = offered.stems;
            site.density_per_m2 = offered.density_per_m2.unwrap_or(density_per_m2);
            site.cover = offered.cover.unwrap_or(cover);
            for (shade, known) in site.shade_share.iter_mut().zip(offered.shade_share) {
                *shade = known.unwrap_or(*shade);
            }
            if site.swapped {
                site.stems.reverse();
                site.shade_share.reverse();
            }
        }
        if let Some(gap_m) = self.fixed_gap_m {
            site.gap_m = gap_m;
        }
        site
    }

    /// The plan of seasons at a site.
    ///
    /// # Errors
    /// As [`Plan::of`], which a pair should not cause.
    pub fn plan(&self, site: &Site, effect: Effect) -> Outcome<Plan> {
        let mut scenario = self.template.clone();
        if site.swapped {
            swap_ground(&mut scenario);
        }
        for (index, patch) in scenario.patches.iter_mut().enumerate().take(2) {
            patch.numbers.stems = site.stems[index];
            patch.numbers.density_per_m2 = site.density_per_m2;
            patch.numbers.shade_share = site.shade_share[index];
        }
        scenario.numbers.site.gap_m = site.gap_m;
        scenario.surroundings = site.cover;
        scenario.between = site.cover;
        scenario.temperatures = warmer(&scenario.temperatures, self.shifts_c[site.weather]);
        match effect {
            Effect::Nothing => {
                for patch in &mut scenario.patches {
                    patch.treatment = Treatment::Untouched;
                }
            }
            Effect::Attraction(first, second) => {
                scenario.numbers.laying.attraction_peak =
                    if site.second_kind { second } else { first };
            }
        }
        Plan::with_clock(scenario, self.clocks[site.weather].clone())
    }
}

/// Refuses a scenario that is no pair of patches, cuts nothing, or is tied to one real place.
pub(in crate::study) fn check(scenario: &Scenario) -> Outcome<()> {
    let pair = matches!(
        scenario.layout,
        LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
    );
    if !pair {
        let what = format!("the scenario `{}` is not a pair of patches", scenario.name);
        return Err(Trouble::new(what)
            .at("site.layout")
            .expected(
                "PairHalfCut or PairWholeCut; the halves of one patch are answered beside the pair",
            )
            .remedy("choose a scenario with two patches"));
    }
    let uncut = scenario.layout == LayoutKind::PairHalfCut
        && scenario
            .patches
            .iter()
            .all(|patch| patch.treatment == Treatment::Untouched);
    if uncut {
        return Err(
            Trouble::new("nothing is cut, so there is no effect to find")
                .at("site.refuge_share")
                .expected("a refuge share below 1")
                .remedy("leave less of the treated patch uncut"),
        );
    }
    let fixed = scenario.patches.iter().any(|patch| {
        matches!(patch.placement, StemPlacement::Fixed(_))
            || matches!(patch.outline, Outline::Polygon(_))
    });
    if fixed || !scenario.areas.is_empty() {
        return Err(Trouble::new(
            "the patches are tied to one real place, but every recruited site is another",
        )
        .at("site")
        .expected(
            "patches as Rectangle or Ellipse, stems Regular, Random or Clustered, and no areas",
        )
        .remedy("drop the coordinates, polygons and areas, or choose another scenario"));
    }
    Ok(())
}

/// The scenario with the largest site that may be drawn: all its stems in either patch, as thin as they come.
fn largest(template: &Scenario) -> Scenario {
    let mut scenario = template.clone();
    let population = &template.population;
    for patch in scenario.patches.iter_mut().take(2) {
        patch.numbers.stems = population.stems.quantile(1.0).round();
        patch.numbers.density_per_m2 = population.density_per_m2.quantile(0.0);
    }
    scenario.numbers.site.gap_m = population.gap_m.quantile(1.0);
    scenario
}

/// The treated patch gets outline, placement and cover of the untouched one, and the other way round.
fn swap_ground(scenario: &mut Scenario) {
    if let [one, other] = scenario.patches.as_mut_slice() {
        std::mem::swap(&mut one.numbers, &mut other.numbers);
        std::mem::swap(&mut one.outline, &mut other.outline);
        std::mem::swap(&mut one.placement, &mut other.placement);
        std::mem::swap(&mut one.cover, &mut other.cover);
    }
}

fn weighted(covers: &[(CoverKind, f64)], draw: f64) -> CoverKind {
    let all: f64 = covers.iter().map(|(_, weight)| weight).sum();
    let mut left = draw * all;
    for (cover, weight) in covers {
        left -= weight;
        if left < 0.0 {
            return *cover;
        }
    }
    covers
        .last()
        .map_or(CoverKind::ShortGrass, |(cover, _)| *cover)
}

/// Shifts of equal probability with the SD asked for.
fn weather_shifts(sd_c: f64) -> Vec<f64> {
    let middles: Vec<f64> = (0..WEATHER_CLASSES)
        .map(|class| Normal::standard().inverse_cdf((class as f64 + 0.5) / WEATHER_CLASSES as f64))
        .collect();
    let square: f64 = middles.iter().map(|z| z * z).sum::<f64>() / WEATHER_CLASSES as f64;
    middles.iter().map(|z| sd_c * z / square.sqrt()).collect()
}

fn warmer(temperatures: &Temperatures, by_c: f64) -> Temperatures {
    match temperatures {
        Temperatures::Constant(celsius) => Temperatures::Constant(celsius + by_c),
        Temperatures::DailySine(low, high) => Temperatures::DailySine(low + by_c, high + by_c),
        Temperatures::Daily(first, days) => Temperatures::Daily(
            *first,
            days.iter()
                .map(|(low, high)| (low + by_c, high + by_c))
                .collect(),
        ),
        Temperatures::Hourly(first, hours) => {
            Temperatures::Hourly(*first, hours.iter().map(|hour| hour + by_c).collect())
        }
    }
}
