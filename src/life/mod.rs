//! Life processes: weather, egg-laying, development, death, feeding.

pub mod clock;
pub mod daylight;
pub mod laying;
pub mod traits;
pub mod weather;

pub use clock::{Clock, Moment};
pub use traits::Traits;
