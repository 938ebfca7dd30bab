//! Submodels of what is seen and reckoned: surveys, measures, sites that volunteers offer, hours.

use super::{Model, Submodel, says};
use crate::output::document::Block;
use crate::scenario::choices::PermissionRule;

pub(super) const SUBMODELS: [Submodel; 6] = [
    Submodel {
        heading: "Surveys and volunteers",
        words: surveys,
        symbols: &[
            ("dates.first_survey_day", "D_first"),
            ("dates.surveys", "N"),
            ("dates.days_between_surveys", "D_between"),
            ("dates.survey_hour", "t_survey"),
            ("surveying.found", "y"),
            ("surveying.fresh_detection", "o"),
            ("surveying.misread_early", "m_early"),
            ("surveying.misread_late", "m_late"),
            ("surveying.missed_share", "p_missed"),
            ("surveying.drop_out", "p_drop"),
            ("surveying.stem_miscount_sd", "sigma_count"),
        ],
    },
    Submodel {
        heading: "Measures",
        words: measures,
        symbols: &[("answers.stray_tolerance", "tau")],
    },
    Submodel {
        heading: "Sites that volunteers offer",
        words: recruitment,
        symbols: &[
            ("recruitment.least_gap_m", "g_least"),
            ("recruitment.stem_split_sd", "sigma_split"),
            ("recruitment.weather_sd_c", "sigma_T"),
            ("recruitment.second_kind_share", "p_second"),
            ("recruitment.second_kind_factor", "f_second"),
        ],
    },
    Submodel {
        heading: "What an offered site must meet",
        words: screening,
        symbols: &[
            ("screening.least_stems", "n_least"),
            ("screening.largest_size_ratio", "r_size"),
            ("screening.largest_false_ratio", "r_false"),
            ("screening.largest_half_drift", "d_largest"),
            ("screening.least_late_counted", "c_least"),
        ],
    },
    Submodel {
        heading: "The end of the season",
        words: decline,
        symbols: &[
            ("answers.decline_flight", "f_decline"),
            ("answers.finished_share", "p_finished"),
        ],
    },
    Submodel {
        heading: "Volunteer hours",
        words: hours,
        symbols: &[
            ("hours.travel_min", "t_travel"),
            ("hours.set_up_min", "t_set_up"),
            ("hours.count_stem_min", "t_count"),
            ("hours.cut_stem_min", "t_cut"),
            ("hours.search_stem_min", "t_search"),
            ("hours.notes_min", "t_notes"),
        ],
    },
];

fn list(items: &[&str]) -> Block {
    Block::List(items.iter().map(|item| (*item).to_owned()).collect())
}

fn surveys(_: &Model<'_>) -> Vec<Block> {
    vec![
        says(
            "N surveys are held, the first D_first days after cutting, then every D_between days, at the hour t_survey, at which \
             stems are cut as well. Everything that stands on a stem is recorded as it is; what a volunteer makes of it is:"
                .to_owned(),
        ),
        list(&[
            "A larva or egg is found with probability y, by stage; on a fresh stem the odds y / (1 - y) are multiplied by o.",
            "The stage of a larva found is misread with probability m_early in L1 to L3 and m_late in L4 and L5, by one stage up \
             or down, each as likely; L1 is then read as L2, and L5 as L4. Eggs are always told from larvae.",
            "A survey is missed with probability p_missed. A volunteer drops out with probability p_drop, before a survey drawn \
             evenly from all; none is held from then on.",
            "Stems of each half are counted once before cutting, with a factor exp(sigma_count z).",
        ]),
    ]
}

fn measures(_: &Model<'_>) -> Vec<Block> {
    vec![
        says("Measures pool counts over seasons; one whose parts are zero is undefined. Late-stage larvae are counted over all \
              surveys, as they are:".to_owned()),
        list(&[
            "Stray share of a patch: of the late-stage larvae standing on it, the share laid elsewhere. Clear gap: the gap at \
             which the larger stray share of a pair is tau.",
            "Observed ratio: late-stage larvae per stem by where they stand, treated over untouched (in one patch: cut half over \
             refuge half). Home ratio: the same by where they were laid. Attenuation: ln observed ratio / ln home ratio.",
            "Half drift: of the late-stage larvae standing in the refuge half of a treated patch, the share laid in its cut half.",
            "Net yield: larvae that pupate per stem on which their eggs were laid, treated over untouched, from all eggs of the \
             season.",
        ]),
        says(
            "Intervals are percentile bootstrap intervals over seasons (Davison & Hinkley 1997).".to_owned(),
        ),
    ]
}

fn screening(model: &Model<'_>) -> Vec<Block> {
    let permission = match model.plan.scenario.permission {
        PermissionRule::Needed => "A site without its owner's permission is not taken.",
        PermissionRule::Disregarded => "Permission of owners is disregarded, for a first look.",
    };
    vec![
        says(
            "Only the screening of offered sites rests on this part. A site is simulated with its own gap, sizes, densities, \
             shade and covers, each patch treated in turn; it can serve as a pair if"
                .to_owned(),
        ),
        list(&[
            "each patch has at least n_least stems, and the larger fewer than r_size times those of the smaller;",
            "the largest stray share of the two patches, whichever is treated, is at most tau;",
            "with nothing cut, late-stage larvae per stem differ between the patches by a factor of at most r_false;",
            "a volunteer can expect to count c_least late-stage larvae in a season.",
        ]),
        says(format!(
            "Failing that, a patch can be compared by halves if each half has at least n_least stems, half drift is at most \
             d_largest, and c_least late-stage larvae can be expected. {permission}"
        )),
    ]
}

fn decline(_: &Model<'_>) -> Vec<Block> {
    vec![says(
        "Only the calendar rests on this part. The season is in decline from the day on from which the flight season stays \
         below f_decline of its highest. A round of regrowth is what is laid on fresh stems until they have aged; it is finished \
         when the share p_finished of its larvae has pupated, at the mean rate of development and with deaths falling on all \
         alike."
            .to_owned(),
    )]
}

fn recruitment(model: &Model<'_>) -> Vec<Block> {
    let population = &model.plan.scenario.population;
    let cover = population.cover.iter();
    let cover: Vec<String> = cover
        .map(|(cover, weight)| format!("{cover:?} {weight}"))
        .collect();
    let offered = match &population.offered {
        Some(offered) => format!(
            " A file offers {} sites (element 6); of those with a gap of at least g_least one is drawn for each recruited site, \
             with its gap, stems and whatever else the file states.",
            offered.len()
        ),
        None => String::new(),
    };
    vec![
        says(
            "Only power and numbers of sites rest on this part. A recruited site is the scenario's pair with these settings drawn \
             for it:"
                .to_owned(),
        ),
        Block::List(vec![
            format!("gap: {}, those below g_least being refused;", population.gap_m.words("m")),
            format!(
                "stems of both patches together: {}, of which the treated one has the share 1 / (1 + exp(-sigma_split z));",
                population.stems.words("stems")
            ),
            format!("density of both patches: {};", population.density_per_m2.words("per m2")),
            format!("share of each patch in shade: {};", population.shade_share.words("of the day").trim()),
            format!("cover around and between the patches, by weight: {};", cover.join(", ")),
            "a shift of all temperatures, normal with SD sigma_T, in nine classes of equal probability;".to_owned(),
            "with probability p_second the second kind of surroundings, where the home ratio is f_second times that of the first;"
                .to_owned(),
            "which of the two patches is treated, by a coin, unless the file of sites says so.".to_owned(),
        ]),
        says(format!("The hour of surveys, the larvae and the volunteers are as above.{offered}")),
    ]
}

fn hours(_: &Model<'_>) -> Vec<Block> {
    vec![
        says("Time of a site in a season, minutes, with n stems on P patches of which n_cut are cut, and V surveys held; it has no \
              effect on larvae:".to_owned()),
        list(&[
            "t_travel + P t_set_up + n t_count, and if anything is cut t_travel + n_cut t_cut;",
            "V (t_travel + t_notes + n t_search).",
        ]),
    ]
}
