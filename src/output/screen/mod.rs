//! What the screening of offered sites found: tables, chart, words and a page.

mod chart;
mod columns;
mod tables;
mod text;
mod words;

pub use chart::chart;
pub use columns::{ACCEPTED, HELD_OUT, SCREENED};
pub use tables::{accepted, held_out, screened};
pub use text::document;
