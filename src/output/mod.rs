//! Tables, charts, terminal text and safe files.

pub mod analysis;
mod analysis_list;
pub mod analysis_text;
pub mod bands;
pub mod charts;
pub mod files;
pub mod lesson;
pub mod pictures;
pub mod provenance;
pub mod recruit;
pub mod tables;
pub mod text;
pub mod tune;
pub mod weigh;
mod words;
mod yield_text;
