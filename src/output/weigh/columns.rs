//! The columns of `weigh.csv`.

use crate::output::tables::{Described, column};

/// How strongly each unknown drives each quantity.
pub const WEIGH: Described = Described {
    file: "weigh.csv",
    row: "a quantity and an unknown; the noise of the seasons has a row too",
    columns: &[
        column("quantity", "text", "quantity that is explained"),
        column(
            "unknown",
            "text",
            "path of the number, `all others` together, or the noise",
        ),
        column(
            "unit",
            "text",
            "unit of the number; empty for a pure number",
        ),
        column("standing", "text", "what its value rests on"),
        column(
            "lowest",
            "of the unknown",
            "lower end of its plausible range",
        ),
        column(
            "highest",
            "of the unknown",
            "upper end of its plausible range",
        ),
        column(
            "effect",
            "of the quantity",
            "mean elementary effect over the trajectories, on the scale on which the quantity is weighed",
        ),
        column(
            "absolute_effect",
            "of the quantity",
            "mean of the effects without their sign",
        ),
        column(
            "absolute_effect_low",
            "of the quantity",
            "lower end of its 95 % interval",
        ),
        column(
            "absolute_effect_high",
            "of the quantity",
            "upper end of its 95 % interval",
        ),
        column(
            "effect_sd",
            "of the quantity",
            "SD of the effects: large where the effect is curved or depends on other unknowns",
        ),
        column(
            "effect_noise_sd",
            "of the quantity",
            "the part of that SD that is noise of the seasons; empty if not known",
        ),
        column(
            "squared_effect",
            "squared",
            "mean squared effect with the noise taken off; may be below 0 by chance",
        ),
        column(
            "squared_effect_low",
            "squared",
            "lower end of its 95 % interval",
        ),
        column(
            "squared_effect_high",
            "squared",
            "upper end of its 95 % interval",
        ),
        column(
            "share_alone",
            "share of the variance",
            "first-order Sobol' index; empty for unknowns not weighed one by one",
        ),
        column(
            "share_alone_low",
            "share of the variance",
            "lower end of its 95 % interval",
        ),
        column(
            "share_alone_high",
            "share of the variance",
            "upper end of its 95 % interval",
        ),
        column(
            "share_total",
            "share of the variance",
            "total Sobol' index: alone and with others; in the row of the noise its share of all",
        ),
        column(
            "share_total_low",
            "share of the variance",
            "lower end of its 95 % interval",
        ),
        column(
            "share_total_high",
            "share of the variance",
            "upper end of its 95 % interval",
        ),
        column("trajectories", "count", "screening trajectories used"),
        column(
            "rows",
            "count",
            "rows of parameter sets used for the shares",
        ),
        column(
            "variance",
            "squared",
            "variance of the quantity over parameter sets, noise taken off",
        ),
    ],
};
