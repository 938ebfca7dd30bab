//! The world that larvae walk in: layout of patches, placement of stems, stems, ground grid.

pub mod ground;
pub mod layout;
pub mod placement;
pub mod stems;

pub use ground::Ground;
pub use layout::{HalfId, Layout};
pub use stems::{Condition, Stem, Stems};
