//! Elementary functions that give the same bits on every machine: those of the `libm` crate, in plain Rust.
//!
//! The system's library picks its code by processor, and its last digit with it. Whatever moves a larva takes its
//! functions from here; `tests/imports.rs` watches that. Square roots, which are exact everywhere, need no such care.

pub use libm::{acos, asin, atan, cos, exp, hypot, log as ln, pow, sin, tan};

/// Square.
#[inline]
#[must_use]
pub fn square(number: f64) -> f64 {
    number * number
}
