//! What a scenario chooses by name: layouts, sides, outlines, placements, covers, methods.

use serde::{Deserialize, Serialize};

/// How the stems are cut: a preset of lag, spread, share regrown and speed of regrowth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CuttingMethod {
    /// Hand shears or secateurs, stem by stem, above a node.
    Shears,
    /// Scythe or sickle.
    Scythe,
    /// String trimmer, which frays the stem.
    Trimmer,
    /// Mower set high.
    Mower,
}

/// Which stages are the late stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LateFrom {
    /// L4 and L5.
    L4,
    /// L5 alone.
    L5,
}

/// Ground cover of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CoverKind {
    /// Bare or mown.
    Mown,
    /// Short grass.
    ShortGrass,
    /// Tall grass.
    TallGrass,
    /// Paved.
    Paved,
}

/// The layout families.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LayoutKind {
    /// One patch; its cut half is compared with its refuge half.
    OnePatchHalves,
    /// Two patches; half of the treated one is cut, the other patch is left alone.
    PairHalfCut,
    /// Two patches; the treated one is cut whole, the other is left alone.
    PairWholeCut,
    /// Any number of patches by coordinates.
    ByCoordinates,
}

/// Which side of a treated patch is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CutSide {
    /// The side that faces the other patch.
    Towards,
    /// The side that faces away from it.
    Away,
    /// The left side, seen from the treated patch towards the other.
    Left,
    /// The right side, seen so.
    Right,
    /// Towards or away, by the toss of a coin at each site.
    Coin,
}

/// What is done to a patch that is given by coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Treatment {
    /// Left alone.
    Untouched,
    /// Cut except for its refuge half.
    HalfCut,
    /// Cut whole.
    WholeCut,
}

/// Whether a site without its owner's permission can be accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum PermissionRule {
    /// Not until permission is given.
    Needed,
    /// Sites are judged by their patches alone, for a first look.
    Disregarded,
}

/// Outline of a patch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Outline {
    /// A rectangle of the patch's aspect.
    Rectangle,
    /// An ellipse of the patch's aspect.
    Ellipse,
    /// A polygon by its corners in metres around the patch's own origin; scaled to the patch's area
    /// when `density_per_m2` is given.
    Polygon(Vec<(f64, f64)>),
}

/// How stems stand in a patch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Placement {
    /// On a square lattice.
    Regular,
    /// Uniformly at random, anew at every site.
    Random,
    /// In clusters: a Thomas process, anew at every site.
    Clustered {
        /// Mean number of stems in a cluster.
        stems_per_cluster: f64,
        /// Spread of a cluster, SD in metres along each axis.
        spread_m: f64,
    },
    /// From a CSV file with columns `x_m` and `y_m` around the patch's own origin.
    FromCsv(String),
}

/// A rectangle of some cover on the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoverArea {
    /// Its cover.
    pub cover: CoverKind,
    /// One corner, metres.
    pub from_m: (f64, f64),
    /// The opposite corner, metres.
    pub to_m: (f64, f64),
}

/// Where temperatures come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum WeatherSource {
    /// The same temperature day and night (`mean_c`).
    Constant,
    /// A sine between `night_c` and `day_c`, every day.
    DailySine,
    /// A station's CSV file: `date,min_c,max_c` (or `min_f,max_f`) by day, or `datetime,temp_c` (or `temp_f`) by hour.
    Station(String),
}
