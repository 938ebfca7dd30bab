//! Closed-form sample sizes and test statistics for comparisons of counts.
