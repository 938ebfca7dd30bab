//! Larvae that walk between patches of host plant, stem by stem and hour by hour.
//!
//! crawlspan simulates egg-laying, stage-by-stage survival and late-instar crawling across fresh and mature
//! stems of the patches of a site, and answers questions about the layout of a field study from many
//! simulated seasons. `README.md` tells what for; `DEVELOPERS.md` has the model in a page. Read
//! [`season`] first.
//!
//! ```
//! use crawlspan::{Plan, Runner, Scenario, Season, Unwatched};
//! use crawlspan::runner::Taken;
//! use crawlspan::study::measures::Contrast;
//! use std::sync::atomic::AtomicBool;
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let plan = Plan::of(Scenario::open("near-pair")?)?;
//! let contrast = Contrast::of(&plan);
//! let stop = AtomicBool::new(false);
//! let rows = Runner::new(1, &Unwatched, &stop)
//!     .run(&plan, &Taken::new("tallies", 1), 0, 0..200, |season: &Season<'_>| contrast.columns().row(season))?;
//! let (mut all, mut strays) = (0.0, 0.0);
//! for row in &rows {
//!     let (on_patch, laid_elsewhere) = contrast.strays(row, 0);
//!     all += on_patch;
//!     strays += laid_elsewhere;
//! }
//! assert!(strays > 0.0 && strays / all < 0.2);
//! # Ok(())
//! # }
//! ```
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod cli;
pub mod ids;
pub mod life;
pub mod maths;
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

pub use plan::Plan;
pub use runner::{Runner, Unwatched, Watch};
pub use scenario::{Layered, Scenario};
pub use season::Season;
pub use trouble::{Outcome, Trouble};
