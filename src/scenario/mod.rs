//! Scenarios: the RON schema, presets, ranges, sources, and the checks that turn what was typed
//! into settings that nothing further in has to doubt.

mod checks;
pub mod choices;
pub mod data;
pub mod draft;
mod fault;
pub mod files;
pub mod given;
pub mod groups;
pub mod input;
mod layers;
mod listing;
mod locate;
pub mod names;
pub mod offered;
pub mod presets;
pub mod recruitment;
pub mod shape;
mod sizes;
pub mod spreadsheet;
mod timing;
pub mod variants;

pub use choices::{CoverKind, CutSide, LayoutKind, Outline, Treatment, WeatherSource};
pub use draft::{PerStage, STAGE_NAMES, STAGES};
pub use groups::Numbers;
pub use layers::Layered;
pub use listing::{Listed, listed};

use choices::{CoverArea, LateFrom};
use groups::PatchNumbers;
use jiff::civil::Date;

/// Index of a stage: 0 egg, 1 .. 5 the instars.
pub type Stage = usize;

/// Stems in the patch at which the effect of patch size on egg-laying is 1.
pub const REFERENCE_STEMS: f64 = 100.0;

/// How the stems of a patch stand, with any file already read.
#[derive(Debug, Clone, PartialEq)]
pub enum StemPlacement {
    /// Square lattice.
    Regular,
    /// Uniform random, anew each season.
    Random,
    /// Thomas process, anew each season: stems a cluster, SD in metres.
    Clustered {
        /// Mean stems in a cluster.
        stems_per_cluster: f64,
        /// SD along each axis, metres.
        spread_m: f64,
    },
    /// Fixed coordinates in metres around the patch's origin.
    Fixed(Vec<(f64, f64)>),
}

/// One patch, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchSettings {
    /// Name in tables and on maps.
    pub name: String,
    /// Centre in metres when the site is given by coordinates.
    pub centre_m: Option<(f64, f64)>,
    /// What is done to it.
    pub treatment: Treatment,
    /// Its numbers; `stems` is a whole number.
    pub numbers: PatchNumbers,
    /// Outline.
    pub outline: Outline,
    /// Placement.
    pub placement: StemPlacement,
    /// Cover inside.
    pub cover: CoverKind,
}

/// Temperatures, with any file already read.
#[derive(Debug, Clone, PartialEq)]
pub enum Temperatures {
    /// The same at every hour, C.
    Constant(f64),
    /// A daily sine between minimum and maximum, C.
    DailySine(f64, f64),
    /// Daily minimum and maximum, C, from a first date on.
    Daily(Date, Vec<(f64, f64)>),
    /// Hourly temperatures, C, from midnight of a first date on.
    Hourly(Date, Vec<f64>),
}

/// A scenario that has passed every check. Nothing in it is changed afterwards.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Short name, also of the output folder.
    pub name: String,
    /// What it is for.
    pub purpose: String,
    /// The animal.
    pub species: String,
    /// The plant.
    pub host: String,
    /// Every number, in the unit of its name.
    pub numbers: Numbers,
    /// Layout family.
    pub layout: LayoutKind,
    /// Which side is cut.
    pub cut_side: CutSide,
    /// Patches; treated first in a pair.
    pub patches: Vec<PatchSettings>,
    /// Cover around the patches.
    pub surroundings: CoverKind,
    /// Cover between two patches.
    pub between: CoverKind,
    /// Further rectangles of cover.
    pub areas: Vec<CoverArea>,
    /// Date of cutting: day 0.
    pub cutting_date: Date,
    /// Flight season: (day of year, relative egg-laying), ascending.
    pub flight: Vec<(f64, f64)>,
    /// Temperatures.
    pub temperatures: Temperatures,
    /// Youngest late stage: 4 or 5.
    pub late_from: Stage,
    /// Sites that volunteers offer.
    pub population: recruitment::Population,
    /// Whether an offered site needs its owner's permission to be accepted.
    pub permission: choices::PermissionRule,
    /// The merged draft it was made from, complete, for provenance and listing.
    pub draft: groups::Draft,
}

impl Scenario {
    /// Checks layered settings and makes a scenario of them.
    ///
    /// # Errors
    /// The first fault found, with file and line where the setting stands.
    pub fn from_layers(layered: &Layered) -> crate::trouble::Outcome<Self> {
        checks::scenario(layered).map_err(|fault| layered.placed(fault))
    }

    /// The scenario of a ready name or path.
    ///
    /// # Errors
    /// When it cannot be read, parsed or makes no sense.
    pub fn open(name_or_path: &str) -> crate::trouble::Outcome<Self> {
        Self::from_layers(&Layered::open(name_or_path)?)
    }

    /// Checks that stems, ground and eggs of a scenario whose patches were changed fit into memory.
    ///
    /// # Errors
    /// When they do not.
    pub fn check_size(&self) -> crate::trouble::Outcome<()> {
        sizes::ground(&self.numbers, &self.patches, self.areas.len())?;
        sizes::eggs(&self.numbers, &self.patches, &self.flight)
    }

    /// Whether a stage counts as late stage.
    #[must_use]
    pub fn is_late(&self, stage: Stage) -> bool {
        stage >= self.late_from
    }

    /// The complete scenario as RON text that reads back as the same scenario.
    ///
    /// # Errors
    /// When it cannot be written as RON, which no checked scenario should cause.
    pub fn to_ron(&self) -> crate::trouble::Outcome<String> {
        as_ron(self.draft.clone())
    }
}

/// Merged settings as RON text that extends nothing.
fn as_ron(mut draft: groups::Draft) -> crate::trouble::Outcome<String> {
    draft.extends = None;
    let style = ron::ser::PrettyConfig::new()
        .depth_limit(4)
        .extensions(ron::extensions::Extensions::IMPLICIT_SOME);
    ron::ser::to_string_pretty(&draft, style)
        .map_err(|fault| crate::trouble::Trouble::new(format!("scenario as RON: {fault}")))
}

fn late_stage(late_from: LateFrom) -> Stage {
    match late_from {
        LateFrom::L4 => 4,
        LateFrom::L5 => 5,
    }
}
