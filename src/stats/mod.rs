//! Estimators, intervals and curve reading; knows no larvae.

pub mod design;
pub mod paired;
