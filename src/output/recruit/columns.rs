//! The columns of the tables of the recruitment answer.

use crate::output::tables::{Column, Described, column};

const EFFECT: Column = column("effect", "text", "effect that is planned for");
const HOME: Column = column(
    "home_ratio",
    "ratio",
    "late-stage larvae per stem by natal patch, treated over untouched, in the population",
);
const STANDING: Column = column("standing_ratio", "ratio", "the same by where they stand");
const COUNTED: Column = column(
    "counted_ratio",
    "ratio",
    "the same as volunteers count them",
);
const COMPARISON: Column = column(
    "comparison",
    "text",
    "what is compared: late, eggs, by patches or halves, with or without those who drop out",
);
const NOTE: Column = column("note", "text", "what the figures alone do not say");

/// Power by effect, comparison and number of sites.
pub const POWER: Described = Described {
    file: "recruit.csv",
    row: "an effect, a comparison and a number of sites",
    columns: &[
        EFFECT,
        HOME,
        column(
            "home_ratio_second_kind",
            "ratio",
            "the same in the second kind of surroundings; empty unless the two kinds are compared",
        ),
        COMPARISON,
        column("estimator", "text", "how sides are compared"),
        column("sites", "count", "people invited, one site each"),
        column("studies", "count", "studies simulated"),
        column(
            "rejected_share",
            "share",
            "of those, the share that finds a difference: the power",
        ),
        column(
            "wilson_low",
            "share",
            "lower end of its 95 % interval over studies",
        ),
        column(
            "wilson_high",
            "share",
            "upper end of its 95 % interval over studies",
        ),
        column(
            "with_pool_low",
            "share",
            "lower end with the chance of the pool of seasons as well",
        ),
        column(
            "with_pool_high",
            "share",
            "upper end with the chance of the pool of seasons as well",
        ),
    ],
};

/// People to invite.
pub const SITES_NEEDED: Described = Described {
    file: "sites-needed.csv",
    row: "an effect, a comparison and a power",
    columns: &[
        EFFECT,
        column(
            "attraction_first_kind",
            "ratio",
            "peak attraction of fresh stems that gives the effect; empty if nothing is cut",
        ),
        column(
            "attraction_second_kind",
            "ratio",
            "the same in the second kind of surroundings",
        ),
        HOME,
        STANDING,
        COUNTED,
        column(
            "attenuation",
            "ratio",
            "logarithm of the standing ratio over that of the home ratio; empty where undefined",
        ),
        COMPARISON,
        column("power", "share", "power asked for"),
        column(
            "people_to_invite",
            "count",
            "people to invite, one site each; empty outside the numbers tried",
        ),
        column("low", "count", "lower end of its 95 % interval"),
        column(
            "high",
            "count",
            "upper end of its 95 % interval; empty beyond the numbers tried",
        ),
        column(
            "of_whom_stay",
            "count",
            "of the people invited, those expected to stay",
        ),
        column(
            "closed_form_sites",
            "count",
            "the same by a closed formula, for comparison; empty where it does not apply",
        ),
        NOTE,
    ],
};

/// Sites needed for sitings or variants.
pub const SITINGS: Described = Described {
    file: "recruit-siting.csv",
    row: "a siting rule or variant",
    columns: &[
        column("what", "text", "the rule or variant"),
        column(
            "gap_m",
            "m",
            "gap of the pairs; empty where the variant does not set one",
        ),
        column(
            "share_of_offered_pairs_taken",
            "share",
            "pairs offered that the rule takes",
        ),
        HOME,
        column("home_low", "ratio", "lower end of its 95 % interval"),
        column("home_high", "ratio", "upper end of its 95 % interval"),
        STANDING,
        COUNTED,
        column(
            "sites_80",
            "count",
            "people to invite for 80 % power; empty outside the numbers tried",
        ),
        column("low_80", "count", "lower end of its 95 % interval"),
        column("high_80", "count", "upper end of its 95 % interval"),
        column(
            "sites_90",
            "count",
            "people to invite for 90 % power; empty outside the numbers tried",
        ),
        column("low_90", "count", "lower end of its 95 % interval"),
        column("high_90", "count", "upper end of its 95 % interval"),
        NOTE,
    ],
};

/// The same for the variants asked by `--what-if`.
pub const WHAT_IF: Described = Described {
    file: "what-if.csv",
    row: "a variant of the scenario",
    columns: SITINGS.columns,
};

/// Home ratio against attraction.
pub const EFFECTS: Described = Described {
    file: "recruit-effects.csv",
    row: "a peak attraction",
    columns: &[
        column(
            "attraction_peak",
            "ratio",
            "eggs on a fresh stem at its peak relative to a mature stem",
        ),
        HOME,
        column(
            "home_ratio_of_halves",
            "ratio",
            "the same, cut half over refuge half",
        ),
    ],
};

/// The example study.
pub const EXAMPLE: Described = Described {
    file: "recruit-example.csv",
    row: "a site of the example study",
    columns: &[
        column("site", "count", "number of the site"),
        column(
            "late_treated",
            "count",
            "late-stage larvae counted on the treated patch, summed over weeks",
        ),
        column("late_untouched", "count", "the same on the untouched patch"),
        column(
            "stems_treated",
            "count",
            "stems counted on the treated patch",
        ),
        column(
            "stems_untouched",
            "count",
            "stems counted on the untouched patch",
        ),
        column(
            "ratio",
            "ratio",
            "late-stage larvae per stem, treated over untouched; empty unless finite",
        ),
        column("low", "ratio", "lower end of its 95 % interval"),
        column("high", "ratio", "upper end of its 95 % interval"),
    ],
};

/// People to invite over plausible parameter sets.
pub const PLAUSIBLE: Described = Described {
    file: "sites-needed-plausible.csv",
    row: "an effect and a power",
    columns: &[
        EFFECT,
        column("power", "share", "power asked for"),
        column(
            "plausible_5",
            "count",
            "people to invite: 5 % of the sets need fewer; empty outside the numbers tried",
        ),
        column("plausible_50", "count", "middle of the sets"),
        column("plausible_95", "count", "5 % of the sets need more"),
        column("sets", "count", "parameter sets drawn"),
        column(
            "undefined",
            "count",
            "parameter sets that cannot reach the effect",
        ),
        column(
            "below_fewest_tried",
            "count",
            "sets that need fewer than the fewest tried",
        ),
        column(
            "beyond_most_tried",
            "count",
            "sets that need more than the most tried",
        ),
        column(
            "central_with_same_effort",
            "count",
            "people to invite at the central values, worked out as roughly as for each set",
        ),
        column("pool", "count", "site-seasons an effect and set"),
        column(
            "studies",
            "count",
            "studies at each number of sites and set",
        ),
    ],
};
