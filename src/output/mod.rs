//! Tables, charts, terminal text and safe files.

pub mod files;
pub mod provenance;
pub mod tables;
pub mod text;
