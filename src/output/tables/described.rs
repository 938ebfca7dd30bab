//! The columns of the tables of seasons, gaps, refuge shares, yields, sweeps and numbers.

use super::columns::{Column, Described, column};

const LOW: Column = column(
    "low",
    "as the value",
    "lower end of the 95 % interval; empty where there is none",
);
const HIGH: Column = column(
    "high",
    "as the value",
    "upper end of the 95 % interval; empty where there is none",
);
const SEASONS: Column = column("seasons", "count", "site-seasons simulated for the row");
const NOTE: Column = column("note", "text", "what the figures alone do not say");
const SITE: Column = column("site", "text", "name of the scenario");
const REPLICATE: Column = column(
    "replicate",
    "count",
    "number of the season; the same number and seed give the same season",
);
const NATAL_PATCH: Column = column(
    "natal_patch",
    "text",
    "patch on which the egg was laid: treated, untouched, or its name",
);
const NATAL_HALF: Column = column(
    "natal_half",
    "text",
    "half in which the egg was laid: refuge, cut, or whole",
);
const REFUGE_SHARE: Column = column(
    "refuge_share",
    "share",
    "share of the treated patch's stems left as a refuge",
);
const ATTRACTION: Column = column(
    "attraction_peak",
    "ratio",
    "eggs on a fresh stem at its peak relative to a mature stem; empty where net yield reaches 1 nowhere",
);

/// Stray share against gap.
pub const GAP: Described = Described {
    file: "gap.csv",
    row: "a gap and a patch",
    columns: &[
        column("gap_m", "m", "edge-to-edge distance between the patches"),
        column("patch", "text", "treated or untouched, or the patch's name"),
        column(
            "stray_share",
            "share",
            "of the late-stage larvae standing on the patch's stems at surveys, those laid elsewhere; empty if none stood there",
        ),
        LOW,
        HIGH,
        SEASONS,
    ],
};

/// Where stray share falls to the tolerance.
pub const CLEAR_GAP: Described = Described {
    file: "clear-gap.csv",
    row: "a patch; the last row, if any, is a band over plausible parameter sets",
    columns: &[
        column("what", "text", "patch, or the band"),
        column(
            "clear_gap_m",
            "m",
            "smallest gap at which the stray share stays at or under the tolerance; empty outside the gaps tried and where undefined",
        ),
        column(
            "low_m",
            "m",
            "lower end: of the 95 % interval, or 5 % of the parameter sets",
        ),
        column(
            "high_m",
            "m",
            "upper end: of the 95 % interval, or 95 % of the parameter sets; empty beyond the gaps tried",
        ),
        column("tolerance", "share", "stray share that is still tolerable"),
        NOTE,
    ],
};

/// Late-stage larvae by half and natal half.
pub const REFUGE: Described = Described {
    file: "refuge.csv",
    row: "a refuge share, a half where larvae stand and a place where they were laid",
    columns: &[
        REFUGE_SHARE,
        column("stands", "text", "half on which they stand: refuge or cut"),
        column(
            "laid",
            "text",
            "where they were laid: refuge, cut or other_patch",
        ),
        column("stems", "count", "stems in the half on which they stand"),
        column(
            "late_per_season",
            "count",
            "late-stage larvae met at the surveys of a season, summed, mean over seasons",
        ),
        LOW,
        HIGH,
    ],
};

/// Measures against refuge share.
pub const REFUGE_MEASURES: Described = Described {
    file: "refuge-measures.csv",
    row: "a refuge share and a measure",
    columns: &[
        REFUGE_SHARE,
        column(
            "measure",
            "text",
            "half_drift, laid_in_refuge_of_cut (of the late-stage larvae in the cut half, those laid in the refuge half), observed_ratio, home_ratio, net_yield",
        ),
        column(
            "value",
            "share or ratio",
            "the measure; empty where undefined",
        ),
        LOW,
        HIGH,
    ],
};

/// Net yield against attraction.
pub const NET_YIELD: Described = Described {
    file: "net-yield.csv",
    row: "an attraction of fresh stems",
    columns: &[
        ATTRACTION,
        column(
            "net_yield",
            "ratio",
            "larvae reaching pupation per stem, treated over untouched; empty where undefined",
        ),
        LOW,
        HIGH,
        SEASONS,
    ],
};

/// Where cutting breaks even.
pub const BREAK_EVEN: Described = Described {
    file: "break-even.csv",
    row: "the one crossing",
    columns: &[ATTRACTION, LOW, HIGH, NOTE],
};

/// The measures of a scenario.
pub const MEASURES: Described = Described {
    file: "measures.csv",
    row: "a measure",
    columns: &[
        column(
            "measure",
            "text",
            "name of the measure; each is explained where it is a column",
        ),
        column(
            "value",
            "share or ratio",
            "the measure over all seasons pooled; empty where undefined",
        ),
        LOW,
        HIGH,
        SEASONS,
    ],
};

/// A sweep.
pub const SWEEP: Described = Described {
    file: "sweep.csv",
    row: "a point of the sweep",
    columns: &[
        column(
            "{setting}",
            "of the setting",
            "value of the setting at the point",
        ),
        SEASONS,
        column("{measure}", "share or ratio", "empty where undefined"),
        column(
            "{measure}_low",
            "share or ratio",
            "lower end of the 95 % interval",
        ),
        column(
            "{measure}_high",
            "share or ratio",
            "upper end of the 95 % interval",
        ),
    ],
};

/// What bands add to a sweep.
pub const SWEEP_BANDS: [Column; 5] = [
    column(
        "{measure}_plausible_5",
        "share or ratio",
        "5 % of the plausible parameter sets lie below",
    ),
    column(
        "{measure}_plausible_50",
        "share or ratio",
        "middle of the plausible parameter sets",
    ),
    column(
        "{measure}_plausible_95",
        "share or ratio",
        "5 % of the plausible parameter sets lie above",
    ),
    column("{measure}_sets", "count", "parameter sets drawn"),
    column(
        "{measure}_undefined",
        "count",
        "parameter sets that leave the measure undefined",
    ),
];

/// The numbers of a scenario.
pub const NUMBERS: Described = Described {
    file: "standard output of `check --csv`",
    row: "a number of the scenario",
    columns: &[
        column("path", "text", "path by which --set and --vary name it"),
        column("value", "of the row", "value in the scenario"),
        column("unit", "text", "unit; empty for a pure number"),
        column("low", "of the row", "lower end of its plausible range"),
        column("high", "of the row", "upper end of its plausible range"),
        column(
            "standing",
            "text",
            "what the value rests on: published, derived, from memory, practice, assumed, chosen",
        ),
        column("source", "text", "where it comes from"),
        column("meaning", "text", "what it is"),
    ],
};

/// Surveys of seasons.
pub const SURVEYS: Described = Described {
    file: "surveys.csv",
    row: "a survey, half, condition of stems and stage",
    columns: &[
        SITE,
        REPLICATE,
        column("week", "count", "number of the survey, from 1"),
        column("date", "date", "day of the survey"),
        column("patch", "text", "treated, untouched, or the patch's name"),
        column("half", "text", "refuge, cut, or whole"),
        column(
            "condition",
            "text",
            "condition of the stems: mature, stubble, fresh or eaten_out",
        ),
        column("stage", "text", "egg, L1 to L5"),
        column(
            "stems",
            "count",
            "stems in the half, whatever their condition",
        ),
        column(
            "stems_counted",
            "count",
            "the same as the volunteer counted them before cutting",
        ),
        column(
            "counted",
            "count",
            "animals that the volunteer found and read as this stage; empty where the survey was missed",
        ),
        column("present", "count", "animals of the stage that were there"),
        column("laid_here", "count", "of those present, laid in this half"),
        column(
            "laid_other_half",
            "count",
            "of those present, laid in the other half of the patch",
        ),
        column(
            "laid_elsewhere",
            "count",
            "of those present, laid on another patch",
        ),
    ],
};

/// Fates of seasons.
pub const FATES: Described = Described {
    file: "fates.csv",
    row: "a natal half, fate and stage; the counts of a season sum to its eggs",
    columns: &[
        SITE,
        REPLICATE,
        NATAL_PATCH,
        NATAL_HALF,
        column(
            "fate",
            "text",
            "died_on_stem, died_off_plant, destroyed_by_cutting, lost_from_arena, pupated or alive_at_end",
        ),
        column("stage", "text", "stage at the end: egg, L1 to L5"),
        column("count", "count", "animals"),
    ],
};

/// Walks of seasons.
pub const WALKS: Described = Described {
    file: "walks.csv",
    row: "a point of a walk, one stride after the last",
    columns: &[
        SITE,
        REPLICATE,
        column("larva", "count", "number of the larva in its season"),
        column("bout", "count", "number of the walk of that larva, from 1"),
        column("stage", "text", "stage at the beginning of the walk"),
        NATAL_PATCH,
        NATAL_HALF,
        column("began", "date", "day on which the walk began"),
        column(
            "ended_as",
            "text",
            "settled, died, lost, or pupated_or_season_over",
        ),
        column(
            "stride",
            "count",
            "number of the point, 0 at the stem it left",
        ),
        column(
            "x_m",
            "m",
            "place along the line from the first patch to the second, from the first patch's middle",
        ),
        column("y_m", "m", "place across that line"),
    ],
};
