//! Estimators, intervals and curve reading; knows no larvae.
