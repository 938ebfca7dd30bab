//! Offered sites on their own ground: the plan of a season at each, whichever patch is treated.

use crate::life::Clock;
use crate::life::daylight::mean_day_length_h;
use crate::plan::Plan;
use crate::random::Key;
use crate::scenario::offered::{OfferedList, OfferedSite};
use crate::scenario::recruitment::Population;
use crate::scenario::{
    CoverKind, LayoutKind, Outline, PatchSettings, REFERENCE_STEMS, Scenario, Treatment, groups,
    shape,
};
use crate::study::recruit::sites;
use crate::trouble::{Outcome, Trouble};
use std::collections::BTreeMap;

/// Gaps wider than this are simulated as this wide: larvae walk tens of metres.
pub const WIDEST_SIMULATED_M: f64 = 100.0;
/// Hours that a day must leave dark and light, so that sunrise stays before sunset on one day.
const LEAST_HOURS: f64 = 0.5;
/// Refuge share of a patch compared by halves where the scenario leaves no refuge, or nothing but one.
const EVEN_HALVES: f64 = 0.5;

/// What is done to a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Setup {
    /// The patch of this index is treated as the scenario says, the other is left alone.
    Treated(usize),
    /// Both patches are left alone.
    Uncut,
    /// The patch of this index alone, cut by half.
    Halves(usize),
}

/// A patch in numbers, with what the list leaves out taken from the scenario.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchFacts {
    /// Stems.
    pub stems: f64,
    /// Stems per square metre.
    pub density_per_m2: f64,
    /// Length along the line between the patches over width across it.
    pub aspect: f64,
    /// Share of the day in shade.
    pub shade_share: f64,
    /// Expected eggs relative to a patch of 100 stems in full sun, with nothing cut.
    pub eggs: f64,
}

/// The sites of a list, ready to be simulated.
#[derive(Debug, Clone)]
pub struct Grounds {
    template: Scenario,
    /// The sites.
    pub sites: Vec<OfferedSite>,
    clocks: Vec<Clock>,
    daylight_h: Vec<f64>,
    clock_of: Vec<usize>,
    keys: Vec<Key>,
}

impl Grounds {
    /// The sites of a list in a scenario's season, with its larvae and its study.
    ///
    /// # Errors
    /// When the scenario is no pair or tied to one real place, or a site is too large to be simulated.
    pub fn of(scenario: &Scenario, list: &OfferedList) -> Outcome<Self> {
        sites::check(scenario)?;
        let mut template = scenario.clone();
        // The draft is only for provenance, and too heavy to be copied for every site.
        template.draft = groups::Draft::default();
        template.population = Population {
            offered: None,
            ..scenario.population.clone()
        };
        let mut grounds = Self {
            clocks: Vec::new(),
            daylight_h: Vec::new(),
            clock_of: Vec::new(),
            keys: list.sites.iter().map(|site| key_of(&site.name)).collect(),
            sites: list.sites.clone(),
            template,
        };
        grounds.wind_clocks();
        for (index, site) in grounds.sites.iter().enumerate() {
            let setup = if site.patches.len() > 1 {
                Setup::Treated(0)
            } else {
                Setup::Halves(0)
            };
            grounds
                .scenario(index, setup)
                .check_size()
                .map_err(|fault| {
                    Trouble::new(format!(
                        "the site `{}` is too large: {}",
                        site.name, fault.what
                    ))
                    .at(format!("line {} of the list", site.line))
                    .expected("a site that can be simulated in a fraction of a second")
                    .remedy("offer a part of it, or check the units of its size")
                })?;
        }
        Ok(grounds)
    }

    /// One clock for each degree of latitude in the list: a clock costs about as much as a season.
    fn wind_clocks(&mut self) {
        let mut known: BTreeMap<Option<i64>, usize> = BTreeMap::new();
        for site in &self.sites {
            let class = site.latitude_deg.map(|latitude| latitude.round() as i64);
            let next = known.len();
            let index = *known.entry(class).or_insert(next);
            if index == self.clocks.len() {
                let mut lit = self.template.clone();
                if let Some(latitude) = class {
                    set_daylight(&mut lit, latitude as f64);
                }
                let weather = &lit.numbers.weather;
                self.daylight_h.push(weather.sunset_h - weather.sunrise_h);
                self.clocks.push(Clock::of(&lit));
            }
            self.clock_of.push(index);
        }
    }

    /// Hours of daylight at a site: by its latitude, or the scenario's.
    #[must_use]
    pub fn daylight_h(&self, site: usize) -> f64 {
        self.daylight_h[self.clock_of[site]]
    }

    /// The scenario whose season, larvae and study the sites share.
    #[must_use]
    pub fn template(&self) -> &Scenario {
        &self.template
    }

    /// Key of the seasons of a site: by its name, so that a site keeps its seasons when the list changes.
    #[must_use]
    pub fn key(&self, site: usize, root: Key) -> Key {
        root.with(self.keys[site].seed())
    }

    /// All that seasons at a site depend on but the seed and the template.
    pub(super) fn settings(&self, site: usize) -> impl std::fmt::Debug + '_ {
        (&self.sites[site], self.daylight_h(site).to_bits())
    }

    /// Whether the list describes a patch of the site by its corners.
    #[must_use]
    pub fn has_corners(&self, site: usize) -> bool {
        let patches = &self.sites[site].patches;
        patches.iter().any(|patch| patch.corners_m.is_some())
    }

    /// A patch of a site in numbers.
    #[must_use]
    pub fn patch(&self, site: usize, patch: usize) -> PatchFacts {
        let settings = self.settings_of(site, patch);
        let numbers = &settings.numbers;
        let laying = &self.template.numbers.laying;
        let size = (numbers.stems / REFERENCE_STEMS).powf(1.0 + laying.size_exponent);
        let shade = 1.0 - numbers.shade_share * (1.0 - laying.full_shade_factor);
        let aspect = match &settings.outline {
            Outline::Polygon(corners) => {
                let shape = shape::Shape::Polygon(corners.clone());
                shape.width_m() / shape.height_m()
            }
            Outline::Rectangle | Outline::Ellipse => numbers.aspect,
        };
        PatchFacts {
            stems: numbers.stems,
            density_per_m2: numbers.density_per_m2,
            aspect,
            shade_share: numbers.shade_share,
            // In the deepest shade no eggs at all would leave a ratio without a value.
            eggs: (size * shade).max(f64::MIN_POSITIVE),
        }
    }

    /// Cover of the strip between the patches and around them.
    #[must_use]
    pub fn covers(&self, site: usize) -> (CoverKind, CoverKind) {
        let offered = &self.sites[site];
        let around = offered.surroundings.unwrap_or(self.template.surroundings);
        (offered.between.unwrap_or(self.template.between), around)
    }

    /// Gap as simulated, metres; `None` for a single patch.
    #[must_use]
    pub fn gap_m(&self, site: usize) -> Option<f64> {
        self.sites[site]
            .gap_m
            .map(|gap| gap.min(WIDEST_SIMULATED_M))
    }

    fn settings_of(&self, site: usize, patch: usize) -> PatchSettings {
        let offered = &self.sites[site].patches[patch];
        let mut settings = self.template.patches[patch].clone();
        settings.name.clone_from(&offered.name);
        let numbers = &mut settings.numbers;
        numbers.stems = offered.stems;
        numbers.density_per_m2 = offered.density_per_m2.unwrap_or(numbers.density_per_m2);
        numbers.aspect = offered.aspect.unwrap_or(numbers.aspect);
        numbers.shade_share = offered.shade_share.unwrap_or(numbers.shade_share);
        if let Some(corners) = &offered.corners_m {
            settings.outline = Outline::Polygon(corners.clone());
        }
        settings
    }

    fn scenario(&self, site: usize, setup: Setup) -> Scenario {
        let mut scenario = self.template.clone();
        let patches: Vec<PatchSettings> = (0..self.sites[site].patches.len())
            .map(|patch| self.settings_of(site, patch))
            .collect();
        let treatment = self.template.patches[0].treatment;
        (scenario.between, scenario.surroundings) = self.covers(site);
        scenario.numbers.site.gap_m = self.gap_m(site).unwrap_or_default();
        scenario.patches = match setup {
            Setup::Treated(0) | Setup::Uncut => patches,
            // The treated patch stands first, so the site is seen from its other side.
            Setup::Treated(_) => patches.into_iter().rev().map(seen_from_behind).collect(),
            Setup::Halves(patch) => {
                scenario.layout = LayoutKind::OnePatchHalves;
                let share = &mut scenario.numbers.site.refuge_share;
                if *share <= 0.0 || *share >= 1.0 {
                    *share = EVEN_HALVES;
                }
                patches.into_iter().skip(patch).take(1).collect()
            }
        };
        for (index, patch) in scenario.patches.iter_mut().enumerate() {
            patch.treatment = match setup {
                Setup::Treated(_) if index == 0 => treatment,
                Setup::Halves(_) => Treatment::HalfCut,
                Setup::Treated(_) | Setup::Uncut => Treatment::Untouched,
            };
        }
        scenario
    }

    /// The plan of seasons at a site.
    ///
    /// # Errors
    /// As [`Plan::of`], which a pair should not cause.
    pub fn plan(&self, site: usize, setup: Setup) -> Outcome<Plan> {
        let clock = self.clocks[self.clock_of[site]].clone();
        Plan::with_clock(self.scenario(site, setup), clock)
    }

    /// Sites of this list with other gaps, metres: index of the site and its gap. Each keeps its seasons.
    #[must_use]
    pub fn with_gaps(&self, variants: &[(usize, f64)]) -> Self {
        let of = |(site, gap_m): &(usize, f64)| OfferedSite {
            gap_m: Some(*gap_m),
            ..self.sites[*site].clone()
        };
        Self {
            template: self.template.clone(),
            sites: variants.iter().map(of).collect(),
            clocks: self.clocks.clone(),
            daylight_h: self.daylight_h.clone(),
            clock_of: variants
                .iter()
                .map(|variant| self.clock_of[variant.0])
                .collect(),
            keys: variants
                .iter()
                .map(|variant| self.keys[variant.0])
                .collect(),
        }
    }
}

fn key_of(name: &str) -> Key {
    name.bytes()
        .fold(Key::master(0, 0), |key, byte| key.with(u64::from(byte)))
}

fn seen_from_behind(mut patch: PatchSettings) -> PatchSettings {
    if let Outline::Polygon(corners) = &mut patch.outline {
        for corner in corners {
            corner.0 = -corner.0;
        }
    }
    patch
}

/// Sunrise and sunset of the mean day of the season at a latitude, around the scenario's noon.
fn set_daylight(scenario: &mut Scenario, latitude_deg: f64) {
    let dates = &scenario.numbers.dates;
    let days = dates.lead_in_days + dates.laying_until_day + dates.run_out_days;
    let lead = jiff::Span::new().days(dates.lead_in_days.ceil() as i64);
    let first = scenario
        .cutting_date
        .checked_sub(lead)
        .unwrap_or(scenario.cutting_date);
    let hours = mean_day_length_h(first, days.ceil() as u32, latitude_deg);
    let half = hours.clamp(LEAST_HOURS, 24.0) / 2.0;
    let weather = &mut scenario.numbers.weather;
    let noon = f64::midpoint(weather.sunrise_h, weather.sunset_h).clamp(half, 24.0 - half);
    (weather.sunrise_h, weather.sunset_h) = (noon - half, noon + half);
}
