//! Submodels of what larvae do: develop, die, feed, leave, walk.

use super::{Model, Submodel, says};
use crate::output::document::Block;

pub(super) const SUBMODELS: [Submodel; 5] = [
    Submodel {
        heading: "Development",
        words: development,
        symbols: &[
            ("development.lower_threshold_c", "T_lower"),
            ("development.upper_threshold_c", "T_upper"),
            ("development.rate_log_sd", "sigma_rate"),
            ("development.degree_days", "DD"),
            ("survival.pupation_departure", "q"),
        ],
    },
    Submodel {
        heading: "Survival",
        words: survival,
        symbols: &[
            ("survival.site_logit_sd", "sigma_logit"),
            ("survival.mature", "S"),
            ("survival.fresh_hazard", "x"),
        ],
    },
    Submodel {
        heading: "Feeding",
        words: feeding,
        symbols: &[
            ("feeding.lifetime_intake_cm", "I"),
            ("feeding.intake_share", "i"),
            ("plant.eaten_out_share", "e"),
        ],
    },
    Submodel {
        heading: "Leaving a stem",
        words: leaving,
        symbols: &[
            ("leaving.active_hours_per_day", "a_day"),
            ("leaving.falls_per_day", "phi"),
            ("leaving.per_day", "l"),
            ("walking.mature_preference", "p"),
        ],
    },
    Submodel {
        heading: "Walking",
        words: walking,
        symbols: &[
            ("walking.stride_m", "d"),
            ("walking.mean_cosine", "kappa"),
            ("walking.perceptual_range_m", "R"),
            ("walking.q10", "Q"),
            ("walking.q10_reference_c", "T_ref"),
            ("walking.active_above_c", "T_active"),
            ("walking.walking_share", "omega"),
            ("walking.death_per_active_hour", "mu"),
            ("walking.acceptance", "alpha"),
            ("walking.speed_cm_per_s", "v"),
            ("ground.mown.speed_factor", "c_v"),
            ("ground.mown.straightness_factor", "c_kappa"),
            ("ground.mown.hazard_factor", "c_mu"),
            ("ground.short_grass.speed_factor", "c_v"),
            ("ground.short_grass.straightness_factor", "c_kappa"),
            ("ground.short_grass.hazard_factor", "c_mu"),
            ("ground.tall_grass.speed_factor", "c_v"),
            ("ground.tall_grass.straightness_factor", "c_kappa"),
            ("ground.tall_grass.hazard_factor", "c_mu"),
            ("ground.paved.speed_factor", "c_v"),
            ("ground.paved.straightness_factor", "c_kappa"),
            ("ground.paved.hazard_factor", "c_mu"),
        ],
    },
];

fn list(items: &[&str]) -> Block {
    Block::List(items.iter().map(|item| (*item).to_owned()).collect())
}

fn development(_: &Model<'_>) -> Vec<Block> {
    vec![says(
        "A larva has a rate of its own, exp(sigma_rate z), drawn when the egg is laid. Its own degree-days are those of 7.1 \
         times that rate. A stage ends when DD own degree-days of it are done, on a stem at that moment, on the ground at the \
         end of the step. After the share q of the last stage the larva leaves its stem for good; it pupates when the rest is \
         done, and is then out of the model."
            .to_owned(),
    )]
}

fn survival(_: &Model<'_>) -> Vec<Block> {
    vec![
        says("On a stem a larva or egg dies by a hazard on its own degree-days, so that the survival of a stage is the same \
              whatever the weather and whatever its rate:".to_owned()),
        list(&[
            "Site: logit S' = logit S + sigma_logit z, the same z for all stages.",
            "Hazard per own degree-day on a mature stem, on stubble and on a stem eaten out: -ln S' / DD; on a fresh stem: that \
             times x.",
            "It dies when the hazard that it has spent reaches its budget, a unit-exponential deviate.",
            "After it has left to pupate the hazard of a mature stem in the last stage goes on; who dies then counts as dead off \
             the plant. On the ground before that, another hazard takes its place (7.9), and the budget rests.",
        ]),
    ]
}

fn feeding(_: &Model<'_>) -> Vec<Block> {
    vec![says(
        "A larva on a stem eats i I / DD of stem with leaves per own degree-day; in the last stage i I / (q DD), since it has \
         left when the share q is done. On the ground it eats nothing and develops all the same. A stem on which no more than \
         e K is left of its leaves (7.3) at the end of a step is eaten out for the rest of the season, or until it is cut and \
         regrows: its larvae leave at once, and so does a larva that hatches there."
            .to_owned(),
    )]
}

fn leaving(model: &Model<'_>) -> Vec<Block> {
    let late = if model.plan.scenario.late_from == 5 {
        "in L5"
    } else {
        "in L4 and L5"
    };
    vec![
        says("Larvae leave a stem that has food by a hazard per active hour (7.1); eggs do not:".to_owned()),
        Block::List(vec![
            "by choice: l / a_day, by stage;".to_owned(),
            format!(
                "{late}, which count as late stage, times 1 / root(p) on a mature stem (also on one eaten out) and times root(p) on a fresh one: p is the \
                 odds ratio of the preference for mature over fresh stems;"
            ),
            "by a fall: phi / a_day, in all stages."
                .to_owned(),
        ]),
        says(
            "It leaves when the hazard spent on this stem reaches a unit-exponential deviate, drawn anew for every stem that it \
             settles on (a larva moved at cutting keeps what is left of it); whether by a fall is drawn in proportion to the two hazards. \
             A larva that left by choice or by hunger does not climb this stem again in the same bout. One that fell lies at the foot of \
             its stem: it meets that stem at the beginning of its first stride, before any other, and climbs it again with the \
             probability of 7.9, or else ignores it for the rest of the bout."
                .to_owned(),
        ),
    ]
}

fn walking(model: &Model<'_>) -> Vec<Block> {
    let late = if model.plan.scenario.late_from == 5 {
        "L5"
    } else {
        "L4 and L5"
    };
    vec![
        says("A bout begins at the foot of the stem that was left, in a direction drawn evenly, and goes by strides of length d:".to_owned()),
        Block::List(vec![
            "Turn between strides: wrapped Cauchy around 0 with mean cosine min(kappa c_kappa, 0.999), by one of 1,024 equally \
             probable quantiles 2 atan((1 - m) / (1 + m) tan(pi (u - 1/2))), m being that mean cosine."
                .to_owned(),
            "Strides per hour of activity: 36 v omega / d (v in cm/s) times c_v, times Q^((T - T_ref) / 10). Outside active hours \
             it rests where it is."
                .to_owned(),
            "Death: hazard mu c_mu per active hour against a unit-exponential deviate of the bout.".to_owned(),
            "Stems: a stem with leaves is met when the segment walked in a stride comes within R of it. Stems that one stride meets are \
             met in the order of first contact, that is of the point of the segment at which each first lies within R (the beginning \
             of the stride for those that lie within R already), not in the order of their distances from the path. A stem is climbed \
             with probability alpha, at its first meeting in the bout; then the bout ends, at the end of that stride. A stem that is \
             refused is ignored for the rest of the bout."
                .to_owned(),
            format!(
                "In {late} the odds alpha / (1 - alpha) are multiplied by root(p) on mature and divided by root(p) on fresh stems \
                 (p as in 7.8)."
            ),
            "A larva that walks beyond the margin is lost (7.2).".to_owned(),
        ]),
        says(
            "The factors c are those of the cover on which a stride begins, relative to short grass. The place changes by whole \
             strides. At a change of cover no stride is divided: a stride that crosses the line is walked to its end, at the turn, \
             speed and hazard of the cover on which it began, and the next one begins there under the new cover. The share of a \
             stride that is under way when a step ends is carried over into the next step in which the larva walks; what is left of a \
             step after its last whole stride is reckoned at the cover of that stride."
                .to_owned(),
        ),
    ]
}
