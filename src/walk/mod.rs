//! Walking: turning, perception, the bout.

pub mod bout;
pub mod perception;
pub mod turning;

pub use bout::{Bout, End, Movement, NoTrail, Trail};
