//! Tables, charts, terminal text and safe files.

pub mod allot;
pub mod analysis;
pub mod analysis_columns;
mod analysis_list;
pub mod analysis_text;
pub mod bands;
pub mod brief_page;
pub mod brief_text;
pub mod calendar;
pub mod charts;
pub mod compare;
pub mod describe;
pub mod document;
pub mod files;
pub mod lesson;
pub mod pictures;
pub mod provenance;
pub mod records;
pub mod recruit;
pub mod screen;
pub mod sweep_text;
pub mod tables;
pub mod text;
pub mod tune;
pub mod weigh;
mod words;
mod yield_text;
