//! What the screening of offered sites found: tables, chart, words and a page.

mod chart;
mod tables;
mod text;
mod words;

pub use chart::chart;
pub use tables::{ACCEPTED, HELD_OUT, SCREENED, accepted, held_out, screened};
pub use text::document;
