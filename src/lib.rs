//! crawlspan: larvae that walk between patches of host plant.
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod cli;
pub mod life;
pub mod output;
pub mod plan;
pub mod random;
pub mod runner;
pub mod scenario;
pub mod season;
pub mod stats;
pub mod study;
pub mod survey;
pub mod trouble;
pub mod walk;
pub mod world;
