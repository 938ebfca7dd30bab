//! Everything that `recruit` writes: terminal text, tables, charts and the printable note.

pub mod band;
pub mod columns;
pub mod note;
pub mod pictures;
pub mod tables;
pub mod text;
mod words;
