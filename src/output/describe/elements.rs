//! Elements 1 to 6: purpose, entities, scheduling, concepts, initialization, input; and the references.

use super::{Model, heading, says};
use crate::output::document::{Block, Table};
use crate::scenario::given::Standing;
use crate::scenario::{LayoutKind, Listed, Outline, StemPlacement, Temperatures, Treatment};

/// A pattern that the tests hold the model to.
pub struct Pattern {
    /// What is held against what, with its source.
    pub words: &'static str,
    /// The test, as it is named in the sources.
    pub test: &'static str,
}

/// The outside checks, each a test of the program's sources.
pub const PATTERNS: [Pattern; 8] = [
    Pattern {
        words: "Degree-days of a day between a minimum and a maximum: the single sine with horizontal cut-off of Baskerville & Emin 1969.",
        test: "published_degree_days_of_the_single_sine",
    },
    Pattern {
        words: "Duration of egg and larval stages of the monarch at a constant 25 C: Zalucki 1982, from memory.",
        test: "published_durations_at_constant_25_c",
    },
    Pattern {
        words: "Duration from the third instar to pupation of the monarch under two daily cycles: Lemoine et al. 2015.",
        test: "published_duration_from_third_instar_to_pupation",
    },
    Pattern {
        words: "Share of monarch eggs that reach the last instar, 7 to 10 %: Nail et al. 2015. The assumed survivals are set to it.",
        test: "published_survival_from_egg_to_last_instar",
    },
    Pattern {
        words: "Stems fed on by a monarch larva that survives, 3 to 4: Fisher et al. 2020. The assumed hazards of leaving are set to it.",
        test: "published_stems_fed_on_per_survivor",
    },
    Pattern {
        words: "Share of stems without eggs under a negative binomial number of eggs per stem: one published survey of 326 stems.",
        test: "published_zero_fraction_of_eggs_per_stem",
    },
    Pattern {
        words: "Mean square displacement of a correlated random walk: Kareiva & Shigesada 1983; mean dispersal over thousands of steps: Byers 2001.",
        test: "published_mean_square_displacement_of_a_correlated_walk",
    },
    Pattern {
        words: "Chance that a walker that dies at a constant rate reaches a disc: Brownian motion with killing, a standard result, from memory.",
        test: "published_hitting_of_a_disc_under_killing",
    },
];

/// Title and elements 1 to 6.
pub(super) fn opening(model: &Model<'_>) -> Vec<Block> {
    let scenario = &model.plan.scenario;
    let mut blocks = vec![
        Block::Title(format!("Model description: {}", scenario.name)),
        says(
            "The description follows the ODD protocol (Overview, Design concepts, Details) for individual-based models, in \
             the form of Grimm et al. 2020, Journal of Artificial Societies and Social Simulation 23(2):7."
                .to_owned(),
        ),
    ];
    purpose(model, &mut blocks);
    entities(model, &mut blocks);
    scheduling(model, &mut blocks);
    concepts(&mut blocks);
    initialization(model, &mut blocks);
    input(model, &mut blocks);
    blocks
}

fn purpose(model: &Model<'_>, blocks: &mut Vec<Block>) {
    let scenario = &model.plan.scenario;
    blocks.push(heading("1. Purpose and patterns"));
    blocks.push(says(format!(
        "The model follows larvae ({}) that walk between stems of their host plant ({}), to plan field studies in which \
         patches that are cut are compared with patches that are left alone: how far apart patches must lie, what a refuge \
         half does to late-stage counts, how many sites must be recruited, and whether cutting does net good.",
        scenario.species, scenario.host
    )));
    if !scenario.purpose.is_empty() {
        blocks.push(says(format!("This scenario: {}", scenario.purpose)));
    }
    blocks.push(says(
        "The model is held to these patterns from outside, by tests that come with its sources (the name of the test in \
         brackets). Those of biology were made with the numbers of the preset monarch-on-milkweed; a scenario that changes \
         them is no longer held to them."
            .to_owned(),
    ));
    let patterns = PATTERNS.iter();
    blocks.push(Block::List(
        patterns
            .map(|pattern| format!("{} [{}]", pattern.words, pattern.test))
            .collect(),
    ));
}

fn entities(model: &Model<'_>, blocks: &mut Vec<Block>) {
    let plan = model.plan;
    let scenario = &plan.scenario;
    blocks.push(heading("2. Entities, state variables and scales"));
    let late = if scenario.late_from == 5 {
        "L5"
    } else {
        "L4 and L5"
    };
    blocks.push(Block::List(vec![
        format!(
            "Eggs and larvae: natal stem, place (on a stem, or coordinates on the ground), stage (egg, L1 to L5, and the time \
             after the larva has left its stem to pupate), own rate of development, degree-days left in the stage, what is \
             left of its budgets of death and of leaving, stems stood on, fate. {late} counts as late stage."
        ),
        "Stems: coordinates, patch and half, condition (mature, stubble, fresh, eaten out), leaves grown and leaves eaten (as \
         a length of stem with leaves), times at which it turns fresh and mature."
            .to_owned(),
        "Patches: outline, cover, treatment, a coin for the side that is cut, an effect on egg-laying. Each patch has two \
         halves: the part that is cut and the part that is not, either of which may be empty."
            .to_owned(),
        "Ground: square cells of one cover each. Beyond a margin around the patches a larva is lost (7.2)."
            .to_owned(),
        "Site: effects on egg-laying and on survival; date, temperature, daylight.".to_owned(),
        "Volunteer: surveys held, whether and when he or she drops out, errors of the stem count.".to_owned(),
    ]));
    blocks.extend(super::state::variables(model));
    let days = plan.clock.ticks as f64 / plan.clock.ticks_per_day;
    blocks.push(says(format!(
        "Scales: one site of {:.1} m by {:.1} m, margin included, with {} stems on {} in continuous coordinates; one season \
         of {days:.0} days from {} in steps of {} h, with real-valued times within a step for what happens to a larva; \
         walking by strides within the step. Layout: {}.",
        plan.layout.arena_m.0,
        plan.layout.arena_m.1,
        plan.layout.stems(),
        patches_in_words(plan.layout.patches.len()),
        plan.clock.start,
        plan.clock.tick_h,
        layout_in_words(scenario.layout),
    )));
    blocks.push(patches(model));
}

fn patches_in_words(count: usize) -> String {
    if count == 1 {
        "one patch".to_owned()
    } else {
        format!("{count} patches")
    }
}

pub(super) fn layout_in_words(layout: LayoutKind) -> &'static str {
    match layout {
        LayoutKind::OnePatchHalves => "one patch, whose cut half is compared with its refuge half",
        LayoutKind::PairHalfCut => {
            "two patches; a part of the treated one is cut, the other is left alone"
        }
        LayoutKind::PairWholeCut => {
            "two patches; the treated one is cut whole, the other is left alone"
        }
        LayoutKind::ByCoordinates => "patches by coordinates, each with its own treatment",
    }
}

/// The patches as they are, their numbers resolved.
fn patches(model: &Model<'_>) -> Block {
    let rows = model.plan.layout.patches.iter().map(|patch| {
        let settings = &patch.settings;
        let outline = match &settings.outline {
            Outline::Rectangle => format!("rectangle, aspect {}", settings.numbers.aspect),
            Outline::Ellipse => format!("ellipse, aspect {}", settings.numbers.aspect),
            Outline::Polygon(corners) => {
                let corners = corners.iter().map(|(x, y)| format!("({x}, {y})"));
                format!("polygon {} m", corners.collect::<Vec<_>>().join(" "))
            }
        };
        let placement = match &settings.placement {
            StemPlacement::Regular => "square lattice".to_owned(),
            StemPlacement::Random => "uniform at random, anew each season".to_owned(),
            StemPlacement::Clustered {
                stems_per_cluster,
                spread_m,
            } => format!(
                "in clusters of {stems_per_cluster} stems, SD {spread_m} m, anew each season"
            ),
            StemPlacement::Fixed(_) => "from a file of coordinates".to_owned(),
        };
        let treatment = match settings.treatment {
            Treatment::Untouched => "left alone",
            Treatment::HalfCut => "cut but for its refuge",
            Treatment::WholeCut => "cut whole",
        };
        let area = patch.shape.area_m2();
        let centre = settings
            .centre_m
            .map_or_else(String::new, |(x, y)| format!("({x}, {y})"));
        vec![
            settings.name.clone(),
            treatment.to_owned(),
            format!("{} of {}", patch.cut_stems, patch.stems()),
            format!("{area:.1}"),
            outline,
            placement,
            format!("{:?}", settings.cover),
            format!("{}", settings.numbers.shade_share),
            centre,
        ]
    });
    let header = [
        "patch",
        "treatment",
        "stems cut",
        "area, m2",
        "outline",
        "stems stand",
        "cover",
        "share in shade",
        "centre, m",
    ];
    Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows: rows.collect(),
        caption: "patches as they are simulated".to_owned(),
    })
}

fn scheduling(model: &Model<'_>, blocks: &mut Vec<Block>) {
    blocks.push(heading("3. Process overview and scheduling"));
    blocks.push(says(format!(
        "Time goes by steps of {} h. In each step, in this order:",
        model.plan.clock.tick_h
    )));
    blocks.push(Block::List(
        [
            "on the day of cutting, at the hour of surveys: stems are cut (7.3);",
            "stubble turns fresh, fresh stems age into mature ones (7.3);",
            "on days of survey, at that hour: larvae and eggs on stems are seen (7.10);",
            "eggs are laid, stages end, larvae die and leave their stems, each at its own moment within the step (7.4 to 7.6, 7.8); \
             larvae on the ground walk until they settle, die, are lost, or the step ends (7.9); both again until nothing \
             more happens in the step;",
            "stems whose leaves are gone are eaten out, and their larvae leave (7.7).",
        ]
        .map(str::to_owned)
        .to_vec(),
    ));
    blocks.push(says(
        "Rates are constant within a step, so that the end of a stage, death and departure of a larva each have an exact \
         moment; the earliest comes first and the rest of the step is lived under what it changed. Hazards are spent from \
         budgets: a unit-exponential deviate for death is drawn once for each larva, one for leaving once for each sitting \
         on a stem, one for death on the ground once for each bout of walking. Steps in which nothing happens to a larva are \
         passed over, which changes no result. Two things wait for the end of the step: a stem is found eaten out, and a \
         larva on the ground moults."
            .to_owned(),
    ));
}

fn concepts(blocks: &mut Vec<Block>) {
    blocks.push(heading("4. Design concepts"));
    blocks.push(Block::List(
        [
            "Basic principles: development by degree-days, survival by stage, feeding on leaves that run out, correlated \
             random walks between stems, egg-laying that follows the age of regrowth. Numbers that are not known stand with a \
             plausible range, over which answers can be repeated.",
            "Emergence: where late-stage larvae stand, hence stray shares, ratios of counts and net yield, emerge from \
             egg-laying, survival, feeding and walking. Survival of a stage and the mean number of eggs are imposed.",
            "Adaptation: larvae leave a stem that is eaten out; late-stage larvae may prefer mature or fresh stems (7.8, 7.9). \
             Females prefer stems by their age since cutting (7.4).",
            "Objectives: none are modelled; the preferences are given as numbers.",
            "Learning: none.",
            "Prediction: none.",
            "Sensing: a larva on the ground perceives a stem within a range of its path, and its condition; on a stem it \
             perceives whether leaves are left. A female perceives the age of regrowth, the size of the patch and its shade.",
            "Interaction: larvae on one stem share its leaves; there is no other. Eggs and larvae do not meet enemies that \
             move: death is a hazard.",
            "Stochasticity: effects of site and patch, number and time of eggs, rate of development, death, leaving, walking, \
             places of stems, regrowth, and what a volunteer sees and does. Every draw belongs to an owner (seed, parameter \
             set, season, stem, larva, purpose); the layout is no part of it, so that scenarios that differ in layout share \
             their random numbers larva by larva.",
            "Collectives: none; batches of eggs share a stem and a moment.",
            "Observation: at surveys, larvae and eggs on stems by stage, patch and half, as they are and as a volunteer reads \
             them (7.10); for every egg its natal patch and its fate. Larvae are told by natal patch, as no volunteer could.",
        ]
        .map(str::to_owned)
        .to_vec(),
    ));
}

fn initialization(model: &Model<'_>, blocks: &mut Vec<Block>) {
    let scenario = &model.plan.scenario;
    let lead = scenario.numbers.dates.lead_in_days;
    blocks.push(heading("5. Initialization"));
    let placement = if model
        .plan
        .layout
        .patches
        .iter()
        .all(crate::world::placement::is_fixed)
    {
        "Stems stand in the same places in every season."
    } else {
        "Stems that stand at random are placed anew for every season."
    };
    blocks.push(says(format!(
        "A season begins at midnight of {}, {} days before the day of cutting, with all stems mature and without eggs or \
         larvae; the days before cutting fill them. {placement} Effects of site and patches are drawn for each season: \
         a season is a site of its own.",
        model.plan.clock.start,
        lead.ceil()
    )));
}

fn input(model: &Model<'_>, blocks: &mut Vec<Block>) {
    blocks.push(heading("6. Input data"));
    let weather = match &model.plan.scenario.temperatures {
        Temperatures::Constant(_) => "The temperature is constant.",
        Temperatures::DailySine(..) => "Temperatures follow the same daily cycle throughout.",
        Temperatures::Daily(..) => {
            "Temperatures come from a station's record of daily minimum and maximum, with a sine between them."
        }
        Temperatures::Hourly(..) => "Temperatures come from a station's hourly record.",
    };
    if model.files.is_empty() {
        blocks.push(says(format!(
            "{weather} No file of data drives the model; all settings are in the tables of this description."
        )));
        return;
    }
    blocks.push(says(format!("{weather} These files are read:")));
    let rows = model.files.iter();
    blocks.push(Block::Table(Table {
        header: ["file", "bytes", "SHA-256"].map(str::to_owned).to_vec(),
        rows: rows
            .map(|file| {
                vec![
                    file.name.clone(),
                    file.bytes.to_string(),
                    file.sha256.clone(),
                ]
            })
            .collect(),
        caption: String::new(),
    }));
}

/// What the text cites, and what the numbers name as their source.
pub(super) fn references(numbers: &[Listed]) -> Vec<String> {
    let mut all: Vec<String> = [
        "Grimm, V., Railsback, S. F., Vincenot, C. E., Berger, U., Gallagher, C., DeAngelis, D. L., et al. 2020. The ODD protocol \
         for describing agent-based and other simulation models: a second update to improve clarity, replication, and \
         structural realism. Journal of Artificial Societies and Social Simulation 23(2):7.",
        "Baskerville, G. L. & Emin, P. 1969. Rapid estimation of heat accumulation from maximum and minimum temperatures. \
         Ecology 50:514.",
        "Kareiva, P. M. & Shigesada, N. 1983. Analyzing insect movement as a correlated random walk. Oecologia 56:234.",
        "Byers, J. A. 2001. Correlated random walk equations of animal dispersal resolved by simulation. Ecology 82:1680.",
        "Blackman, D. & Vigna, S. 2021. Scrambled linear pseudorandom number generators. ACM Transactions on Mathematical \
         Software 47:36.",
        "Davison, A. C. & Hinkley, D. V. 1997. Bootstrap Methods and their Application. Cambridge University Press.",
        "Fisher et al. 2020, Lemoine et al. 2015, Nail et al. 2015, Zalucki 1982: named as the sources of numbers name them; \
         whoever cites them should look them up.",
    ]
    .map(str::to_owned)
    .to_vec();
    let known = [Standing::Published, Standing::Derived, Standing::FromMemory];
    let mut sources: Vec<String> = numbers
        .iter()
        .filter(|number| known.contains(&number.standing) && !number.source.is_empty())
        .map(|number| {
            format!(
                "Source of numbers ({}): {}.",
                number.standing.word(),
                number.source
            )
        })
        .collect();
    sources.sort();
    sources.dedup();
    all.extend(sources);
    all
}
