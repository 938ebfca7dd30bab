//! Tables, charts, terminal text and safe files.

pub mod charts;
