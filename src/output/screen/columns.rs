//! What the columns of the screening's tables mean.

use crate::output::tables::{Described, column};

/// Every site offered, with verdict, figures, reasons and remedies.
pub const SCREENED: Described = Described {
    file: "screen.csv",
    row: "a site offered",
    columns: &[
        column("site", "text", "name of the site"),
        column(
            "verdict",
            "text",
            "pair, one_patch (compared by halves) or not_suitable",
        ),
        column(
            "verdict_if_permitted",
            "text",
            "the same if the owner agreed",
        ),
        column(
            "permission",
            "text",
            "yes, no, asked; empty if the list says nothing",
        ),
        column(
            "patch",
            "text",
            "patch that is compared by halves; empty unless the verdict is one_patch",
        ),
        column(
            "close_call",
            "yes or no",
            "yes if a figure that decides has its threshold within its interval",
        ),
        column(
            "gap_m",
            "m",
            "distance from edge to edge; empty for a single patch",
        ),
        column("stems_first", "count", "stems of the first patch"),
        column(
            "stems_second",
            "count",
            "stems of the second patch; empty for a single patch",
        ),
        column(
            "density_first_per_m2",
            "per m2",
            "stems per square metre of the first patch",
        ),
        column("density_second_per_m2", "per m2", "the same of the second"),
        column(
            "shade_first",
            "share",
            "share of the day in shade, first patch",
        ),
        column("shade_second", "share", "the same of the second"),
        column(
            "stray_share",
            "share",
            "largest stray share of either patch, whichever is treated",
        ),
        column("stray_share_low", "share", "lower end of its 95 % interval"),
        column("stray_share_high", "share", "upper end"),
        column(
            "stray_share_first_if_first_treated",
            "share",
            "stray share of the first patch with the first treated",
        ),
        column(
            "stray_share_second_if_first_treated",
            "share",
            "stray share of the second patch with the first treated",
        ),
        column(
            "stray_share_first_if_second_treated",
            "share",
            "stray share of the first patch with the second treated",
        ),
        column(
            "stray_share_second_if_second_treated",
            "share",
            "stray share of the second patch with the second treated",
        ),
        column(
            "false_home_ratio",
            "ratio",
            "late-stage larvae per stem by where they were laid, first over second, with nothing cut: what size and shade alone make",
        ),
        column("false_ratio", "ratio", "the same by where they stand"),
        column("false_ratio_low", "ratio", "lower end of its 95 % interval"),
        column("false_ratio_high", "ratio", "upper end"),
        column(
            "late_counted",
            "count",
            "late-stage larvae that a volunteer counts in both patches in a season, mean of both assignments",
        ),
        column(
            "late_counted_low",
            "count",
            "lower end of its 95 % interval",
        ),
        column("late_counted_high", "count", "upper end"),
        column(
            "half_drift",
            "share",
            "larger patch cut by half: share of the late-stage larvae in its refuge half laid in the cut half",
        ),
        column("half_drift_low", "share", "lower end of its 95 % interval"),
        column("half_drift_high", "share", "upper end"),
        column(
            "late_counted_by_halves",
            "count",
            "late-stage larvae that a volunteer counts in that patch in a season",
        ),
        column(
            "late_counted_by_halves_low",
            "count",
            "lower end of its 95 % interval",
        ),
        column("late_counted_by_halves_high", "count", "upper end"),
        column(
            "figures",
            "text",
            "simulated with the site's own geometry, or fitted: read off the surface",
        ),
        column(
            "from_scenario",
            "text",
            "what the list does not tell and the scenario's value stands for",
        ),
        column("reasons", "text", "the verdict in sentences"),
        column(
            "remedies",
            "text",
            "what would make it suitable, or a pair; empty if nothing would",
        ),
    ],
};

/// Sites that were accepted, in the form in which lists of offered sites are read; empty cells are unknown. The columns
/// that the list had besides stand behind these.
pub const ACCEPTED: Described = Described {
    file: "accepted.csv",
    row: "an accepted site",
    columns: &[
        column("site", "text", "name of the site"),
        column("use", "text", "pair, or one_patch: compared by halves"),
        column(
            "gap_m",
            "m",
            "distance from edge to edge; empty where one patch is used",
        ),
        column(
            "first_name",
            "text",
            "name of the first patch, or of the one that is used",
        ),
        column(
            "second_name",
            "text",
            "name of the second patch; empty where one patch is used",
        ),
        column(
            "stems_first",
            "count",
            "stems of the first patch, or of the one that is used",
        ),
        column(
            "stems_second",
            "count",
            "stems of the second patch; empty where one patch is used",
        ),
        column(
            "density_first_per_m2",
            "per m2",
            "stems per square metre; the scenario's where the list tells no size",
        ),
        column(
            "density_second_per_m2",
            "per m2",
            "the same of the second patch",
        ),
        column("shade_first", "share", "share of the day in shade"),
        column("shade_second", "share", "the same of the second patch"),
        column(
            "between",
            "text",
            "ground cover of the strip between the patches",
        ),
        column("surroundings", "text", "ground cover around the patches"),
        column(
            "permission",
            "text",
            "what the list says of the owner's permission",
        ),
        column(
            "latitude_deg",
            "degrees",
            "latitude; empty if the list does not tell it",
        ),
        column(
            "stray_share",
            "share",
            "largest stray share of either patch; half drift where one patch is used",
        ),
        column(
            "false_ratio",
            "ratio",
            "late-stage larvae per stem with nothing cut, first over second; empty where one patch is used",
        ),
        column(
            "late_counted",
            "count",
            "late-stage larvae that a volunteer counts in a season",
        ),
        column(
            "{carried}",
            "text",
            "columns of the list that mean nothing to the screening, as they were",
        ),
    ],
};

/// Sites that were held out of the fit of the surfaces, simulated and read off them.
pub const HELD_OUT: Described = Described {
    file: "screen-surface.csv",
    row: "a site held out of the fit of the surfaces",
    columns: &[
        column("site", "text", "name of the site"),
        column(
            "stray_share_simulated",
            "share",
            "largest stray share, simulated; empty for a single patch",
        ),
        column(
            "stray_share_simulated_low",
            "share",
            "lower end of its 95 % interval",
        ),
        column("stray_share_simulated_high", "share", "upper end"),
        column(
            "stray_share_fitted",
            "share",
            "the same share off the surface",
        ),
        column(
            "stray_share_fitted_low",
            "share",
            "lower end of its 95 % interval, the surface's error included",
        ),
        column("stray_share_fitted_high", "share", "upper end"),
        column(
            "verdicts_agree",
            "yes or no",
            "yes if both give the same verdict, permission aside",
        ),
    ],
};
