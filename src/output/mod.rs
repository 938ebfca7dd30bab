//! Tables, charts, terminal text and safe files.

pub mod charts;
pub mod files;
pub mod pictures;
pub mod provenance;
pub mod recruit;
pub mod tables;
pub mod text;
