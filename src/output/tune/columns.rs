//! The columns of the tables that a release of marked larvae gives.

use crate::output::tables::{Described, column};

/// Prior and posterior of every parameter.
pub const TUNE: Described = Described {
    file: "tune.csv",
    row: "a fitted number",
    columns: &[
        column("parameter", "text", "path of the number"),
        column("unit", "text", "unit; empty for a pure number"),
        column(
            "prior_lowest",
            "of the row",
            "lower end of the range it began with",
        ),
        column(
            "prior_highest",
            "of the row",
            "upper end of the range it began with",
        ),
        column(
            "posterior_5",
            "of the row",
            "5 % of the posterior lie below",
        ),
        column("posterior_50", "of the row", "middle of the posterior"),
        column(
            "posterior_95",
            "of the row",
            "5 % of the posterior lie above",
        ),
        column(
            "width_over_prior",
            "ratio",
            "width of the posterior's 90 % over that of the range it began with; about 1 where the release does not tell",
        ),
        column("verdict", "text", "what the release tells of the number"),
    ],
};

/// The particles of the posterior.
pub const PARTICLES: Described = Described {
    file: "tune-particles.csv",
    row: "a parameter set of the posterior",
    columns: &[
        column("weight", "share", "weight of the set; weights sum to 1"),
        column(
            "distance",
            "",
            "distance of its simulated release from the data",
        ),
        column(
            "{setting}",
            "of the setting",
            "value of the number in the set",
        ),
    ],
};

const PLACE: &str = "place along or across the line between patches, from the first patch's middle";

/// An imaginary release, in the form in which a real one is read.
pub const REHEARSAL: Described = Described {
    file: "rehearsal.csv",
    row: "a larva and a finding, or a search in which it was not found",
    columns: &[
        column("larva", "text", "name of the larva"),
        column("released_x_m", "m", PLACE),
        column("released_y_m", "m", PLACE),
        column("released_when", "date and time", "when it was let go"),
        column(
            "found_x_m",
            "m",
            "the same of the stem on which it was found; empty if not found",
        ),
        column(
            "found_y_m",
            "m",
            "the same of the stem on which it was found; empty if not found",
        ),
        column(
            "found_when",
            "date and time",
            "when it was found or searched for",
        ),
        column("note", "text", "says that the release is imaginary"),
    ],
};
