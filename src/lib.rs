//! crawlspan: larvae that walk between patches of host plant.
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod output;
pub mod stats;
