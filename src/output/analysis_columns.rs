//! The columns of the tables of an analysis of real counts.

use super::tables::{Described, column};

/// What the estimators found.
pub const ANALYSIS: Described = Described {
    file: "analysis.csv",
    row: "an estimator",
    columns: &[
        column("estimator", "text", "how sides are compared"),
        column("stage", "text", "what was counted"),
        column("compare", "text", "patches or halves"),
        column(
            "ratio",
            "ratio",
            "counts per stem, treated over the other side; empty unless finite",
        ),
        column("low", "ratio", "lower end of the interval; empty if open"),
        column("high", "ratio", "upper end of the interval; empty if open"),
        column("confidence", "share", "level of the interval"),
        column(
            "kind",
            "text",
            "finite, unbounded-above, unbounded-below or undefined",
        ),
        column("ratio_null", "ratio", "ratio that the p value tests"),
        column("p_value", "share", "two-sided p value"),
        column("sites", "count", "sites used"),
        column(
            "informative_sites",
            "count",
            "sites of them with at least one animal",
        ),
        column(
            "home_ratio",
            "ratio",
            "the ratio corrected for larvae that changed sides; empty without --scenario",
        ),
        column("home_low", "ratio", "lower end of the corrected interval"),
        column("home_high", "ratio", "upper end of the corrected interval"),
        column(
            "home_low_over_sets",
            "ratio",
            "lower end over plausible parameter sets as well",
        ),
        column(
            "home_high_over_sets",
            "ratio",
            "upper end over plausible parameter sets as well",
        ),
        column("warnings", "text", "what the estimator warns of"),
    ],
};

/// Counts of each site.
pub const SITES: Described = Described {
    file: "sites.csv",
    row: "a site of the counts",
    columns: &[
        column("site", "text", "name as in the counts"),
        column("line", "count", "first line of the site in the file"),
        column("used", "yes or no", "whether it takes part"),
        column("treated", "count", "animals on the treated side"),
        column("stems_treated", "count", "stems of the treated side"),
        column("untouched", "count", "animals on the other side"),
        column("stems_untouched", "count", "stems of the other side"),
        column(
            "informative",
            "yes or no",
            "whether it has at least one animal",
        ),
        column(
            "log_ratio_with_half",
            "",
            "logarithm of the ratio per stem with one half added to both counts; empty if not informative",
        ),
        column("weeks", "text", "weeks used, with spaces between"),
        column("weeks_dropped", "count", "weeks left out"),
        column("reason", "text", "why the site is left out; empty if used"),
    ],
};

/// What was left out.
pub const DROPPED: Described = Described {
    file: "dropped.csv",
    row: "a week, or a site, that was left out",
    columns: &[
        column("site", "text", "name as in the counts"),
        column("week", "count", "the week; empty for a whole site"),
        column("line", "count", "line in the file"),
        column("kind", "text", "kind of reason, in one word"),
        column("reason", "text", "the reason in words"),
    ],
};
