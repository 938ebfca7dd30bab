//! Submodels of time, ground, stems and egg-laying.

use super::{Model, Submodel, says};
use crate::output::document::Block;
use crate::scenario::{CutSide, Temperatures};

pub(super) const SUBMODELS: [Submodel; 4] = [
    Submodel {
        heading: "Time and weather",
        words: weather,
        symbols: &[
            ("dates.lead_in_days", "D_before"),
            ("dates.laying_until_day", "D_laying"),
            ("dates.run_out_days", "D_after"),
            ("dates.tick_h", "h"),
            ("weather.mean_c", "T"),
            ("weather.night_c", "T_night"),
            ("weather.day_c", "T_day"),
            ("weather.sunrise_h", "t_rise"),
            ("weather.sunset_h", "t_set"),
        ],
    },
    Submodel {
        heading: "Site, patches and ground",
        words: site,
        symbols: &[
            ("site.gap_m", "g"),
            ("site.refuge_share", "r"),
            ("site.margin_m", "m"),
            ("site.cell_m", "c"),
            ("site.treated.stems", "n"),
            ("site.treated.density_per_m2", "rho"),
            ("site.treated.aspect", "a"),
            ("site.treated.shade_share", "s"),
            ("site.untouched.stems", "n"),
            ("site.untouched.density_per_m2", "rho"),
            ("site.untouched.aspect", "a"),
            ("site.untouched.shade_share", "s"),
        ],
    },
    Submodel {
        heading: "Cutting and regrowth",
        words: cutting,
        symbols: &[
            ("cutting.height_cm", "H"),
            ("cutting.regrowth_lag_weeks", "L"),
            ("cutting.lag_weeks_per_cm", "b"),
            ("cutting.regrowth_lag_sd_weeks", "sigma_L"),
            ("cutting.regrown_share", "p_regrow"),
            ("cutting.regrowth_rate_per_week", "k_leaf"),
            ("cutting.first_leaf_share", "f"),
            ("cutting.moved_share", "p_moved"),
            ("plant.mature_stem_cm", "K"),
        ],
    },
    Submodel {
        heading: "Egg-laying",
        words: laying,
        symbols: &[
            ("laying.eggs_per_stem_week", "E"),
            ("laying.batch_smallest", "B_1"),
            ("laying.batch_largest", "B_2"),
            ("laying.attraction_peak", "A_peak"),
            ("laying.attraction_from_weeks", "w_from"),
            ("laying.attraction_peak_weeks", "w_peak"),
            ("laying.attraction_to_weeks", "w_to"),
            ("laying.size_exponent", "zeta"),
            ("laying.site_log_sd", "sigma_site"),
            ("laying.patch_log_sd", "sigma_patch"),
            ("laying.stem_dispersion_k", "k"),
            ("laying.full_shade_factor", "f_shade"),
        ],
    },
];

fn list(items: &[&str]) -> Block {
    Block::List(items.iter().map(|item| (*item).to_owned()).collect())
}

fn weather(model: &Model<'_>) -> Vec<Block> {
    let scenario = &model.plan.scenario;
    let temperature = match &scenario.temperatures {
        Temperatures::Constant(_) => "T(t) = T, by day and by night.",
        Temperatures::DailySine(..) => {
            "T(t) = (T_night + T_day) / 2 + (T_day - T_night) / 2 · cos(2 pi (t - 15) / 24), t the hour of the day: warmest at \
             15 h."
        }
        Temperatures::Daily(..) => {
            "T(t) = (T_min + T_max) / 2 + (T_max - T_min) / 2 · cos(2 pi (t - 15) / 24), t the hour of the day, T_min and T_max \
             the station's of that day: warmest at 15 h."
        }
        Temperatures::Hourly(..) => "T(t) is the station's temperature of the hour.",
    };
    let knots = scenario.draft.laying.flight.iter().flatten();
    let knots: Vec<String> = knots
        .map(|(day, height)| format!("{day}: {height}"))
        .collect();
    vec![
        says(format!(
            "A season runs from D_before days (in whole days) before the day of cutting, {}, to D_laying + D_after days after \
             it. Within a step of h hours the temperature is that of its middle, and what depends on it accrues evenly:",
            scenario.cutting_date
        )),
        list(&[
            temperature,
            "Degree-days of a step: max(0, min(T, T_upper) - T_lower) · h / 24, thresholds as in 7.5 (horizontal cut-off).",
            "Light of a step: its hours between t_rise and t_set, the same on all days. Active hours of a step: its light if \
             T is at least T_active (7.9), else none.",
        ]),
        says(format!(
            "Flight season F(day), a step function of the date: one value for each whole day from midnight, read on straight lines \
             between these knots (month-day: relative egg-laying), level before the first and after the last: {}. From day D_laying \
             after the day of cutting on, F is 0. The eggs of a day are spread evenly over its light.",
            knots.join(", ")
        )),
    ]
}

fn site(model: &Model<'_>) -> Vec<Block> {
    let scenario = &model.plan.scenario;
    let side = cut_side(scenario.cut_side, model.plan.layout.patches.len() == 1);
    let areas: Vec<String> = scenario
        .areas
        .iter()
        .map(|area| {
            format!(
                "{:?} from {:?} to {:?} m",
                area.cover, area.from_m, area.to_m
            )
        })
        .collect();
    let areas = if areas.is_empty() {
        String::new()
    } else {
        format!(
            " Further areas lie on top of all of these, patches included, the later on top: {}.",
            areas.join("; ")
        )
    };
    vec![
        says(
            "A rectangular or elliptic patch has area n / rho and length over width a, lengthwise along the x axis, which is the line \
             between the two patches of a pair; a polygon is taken as drawn. Stems at random are uniform in the outline. In clusters \
             they follow a Thomas process with a fixed number of stems: max(1, round(n / stems in a cluster)) parents, uniform in the \
             outline; each stem has one of them as its parent, drawn evenly, and stands normally around it, drawn again where it falls \
             outside (after 1,000 failures in a row it stands at its parent's place). On a lattice the stems nearest the middle are \
             kept."
                .to_owned(),
        ),
        says(format!(
            "Of a patch that is cut but for its refuge, the round((1 - r) n) stems that reach farthest in the direction of the \
             cut are cut. That direction is {side}. \
             Among more than two patches, the other is the one whose centre is nearest. Two patches of a pair lie g apart, edge to edge. The ground reaches m beyond \
             the patches' bounding box."
        )),
        says(format!(
            "The ground has square cells of side c, counted from its lower left corner (least x, least y). A cell has the cover of the \
             patch that its middle lies in, else {:?} on the strip between two patches, else {:?}. The strip goes, along x, from the \
             right edge of the first patch's bounding box to the left edge of the second's, and, across, from the lower of the two \
             patches' lower edges to the higher of their upper edges; where a site has not exactly two patches there is no strip.{areas}",
            scenario.between, scenario.surroundings
        )),
        says(
            "The margin ends by cells: a cell whose middle lies beyond it is outside, so that the two far edges lie up to half a cell \
             from the margin itself, and the two near ones on it. A larva is lost when a stride ends in a cell outside."
                .to_owned(),
        ),
    ]
}

/// The direction of the cut, in words; a single patch has no other to lie towards.
fn cut_side(side: CutSide, alone: bool) -> &'static str {
    match (side, alone) {
        (CutSide::Towards, false) => "towards the other patch",
        (CutSide::Away, false) => "away from the other patch",
        (CutSide::Left, false) => "to the left, seen from the treated patch towards the other",
        (CutSide::Right, false) => "to the right, seen from the treated patch towards the other",
        (CutSide::Coin, false) => {
            "towards or away from the other patch, by the toss of a coin for each patch and season"
        }
        (CutSide::Towards, true) => {
            "that of growing x (Towards; with one patch there is no other, and the x axis stands for the line to it)"
        }
        (CutSide::Away, true) => {
            "that of falling x (Away; with one patch there is no other, and the x axis stands for the line to it)"
        }
        (CutSide::Left, true) => {
            "that of growing y (Left; with one patch there is no other, and the x axis stands for the line to it)"
        }
        (CutSide::Right, true) => {
            "that of falling y (Right; with one patch there is no other, and the x axis stands for the line to it)"
        }
        (CutSide::Coin, true) => {
            "that of growing or of falling x, by the toss of a coin for each season (Coin; with one patch there is no other, and the \
             x axis stands for the line to it)"
        }
    }
}

fn cutting(model: &Model<'_>) -> Vec<Block> {
    let method = model.plan.scenario.draft.cutting.method;
    let method = method.map_or_else(|| "Shears".to_owned(), |method| format!("{method:?}"));
    vec![
        says(format!(
            "Stems are cut once (method: {method}; a method stands for a lag, its spread, the share regrown and the rate of \
             regrowth, unless the scenario states them). A cut stem is stubble: nothing to eat or to lay on. Eggs and larvae on \
             it are destroyed, except that each is moved with probability p_moved to an uncut stem with leaves, drawn evenly \
             from its own patch, or from all where its own has none."
        )),
        list(&[
            "A cut stem regrows with probability p_regrow; it then turns fresh max(0, L + b (H - 7.5) + sigma_L z) weeks after \
             cutting, rounded up to a step, and mature w_to weeks after cutting (7.4), at the earliest one step after it turned \
             fresh.",
            "Leaves of a stem that was never cut: K. Leaves of a cut stem, fresh or aged, t weeks after it turned fresh: K / (1 + ((1 - f) / f) exp(-k_leaf \
             t)), whatever is eaten of them; what was eaten before cutting is forgotten.",
        ]),
    ]
}

fn laying(model: &Model<'_>) -> Vec<Block> {
    let laying = &model.plan.scenario.numbers.laying;
    let batches = if laying.batch_largest > 1.0 {
        "Eggs come in batches of B_1 to B_2, each size as likely; visits are a Poisson process at the rate of eggs over the mean \
         size (B_1 + B_2) / 2."
    } else {
        "Eggs are laid singly, as a Poisson process."
    };
    vec![
        says("Eggs per week on a stem at time t, w weeks after cutting, on a patch of n stems with share s in shade:".to_owned()),
        list(&[
            "lambda(t) = E · F(t) · A(w) · (n / 100)^zeta · (1 - s (1 - f_shade)) · S · P · G.",
            "A = 1 for a stem that was not or not yet cut; 0 until w_from; A_peak (w - w_from) / (w_peak - w_from) until w_peak; \
             A_peak + (1 - A_peak) (w - w_peak) / (w_to - w_peak) until w_to; 1 from then on. w is a real number, the time since cutting \
             at the moment of the visit: between the weeks given attraction changes continuously, on these straight lines, not by \
             weeks. It goes by the time since cutting alone: the same for all stems cut, whenever a stem itself turned fresh.",
            "S = exp(sigma_site z - sigma_site^2 / 2) for the site and P = exp(sigma_patch z - sigma_patch^2 / 2) for the patch, \
             both of mean 1 over seasons; G, for the stem, gamma with shape k and mean 1, so that eggs per stem are negative \
             binomial.",
            "An egg that would fall on stubble or on a stem eaten out is not laid.",
        ]),
        says(batches.to_owned()),
    ]
}
