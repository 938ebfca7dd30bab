//! The lesson: one page, complete in itself, that plays recorded seasons.

mod blobs;
pub mod frames;
pub mod moving;

use super::charts::Rendered;
use super::html::{Frame, filled, within_script};
use super::text::{CAUTIONS, hanging, percent, wrapped};
use crate::scenario::STAGE_NAMES;
use crate::study::gap::GapAnswer;
use crate::study::lesson::{Lesson, Take};
use crate::study::refuge::RefugePoint;
use crate::trouble::{Outcome, Trouble};
use blobs::Quanta;
use maud::{PreEscaped, html};
use serde::Serialize;

/// Version of the recorded form that the page's script reads.
const SCHEMA: u32 = 1;
/// Largest page that still opens at once from a stick or a letter, bytes.
pub const LARGEST_PAGE: usize = 5 * 1024 * 1024;
/// Strides between the points that are kept of a walk, the finest that fits the page: with strides of a decimetre a
/// trail stays true to within a step of a person.
const STRIDES_A_POINT: [usize; 5] = [2, 3, 5, 8, 12];

/// Body of the page, with places to be filled.
const BODY: &str = include_str!("page.html");
const STYLE: &str = include_str!("page.css");
/// The script's parts in their order: each names what stands before it.
const SCRIPT: [&str; 8] = [
    include_str!("script/season.js"),
    include_str!("script/words.js"),
    include_str!("script/marks.js"),
    include_str!("script/picture.js"),
    include_str!("script/sheet.js"),
    include_str!("script/playing.js"),
    include_str!("script/scenes.js"),
    include_str!("script/start.js"),
];

#[derive(Serialize)]
struct Recording<'a> {
    schema: u32,
    title: &'a str,
    purpose: &'a str,
    species: &'a str,
    plant: &'a str,
    stages: &'a [&'a str],
    late_from: usize,
    first_day: String,
    cutting_hour: f64,
    end_hour: f64,
    count_hours: Vec<f64>,
    patches: Vec<Patch<'a>>,
    gaps_m: &'a [f64],
    refuge_shares: &'a [f64],
    cut_sides: [String; 2],
    seasons: u64,
    point_cm: u32,
    hour_parts: u32,
    takes: Vec<Recorded>,
}

#[derive(Serialize)]
struct Patch<'a> {
    name: &'a str,
    stems: usize,
    width_m: f64,
    height_m: f64,
}

#[derive(Serialize)]
struct Recorded {
    gap: usize,
    share: usize,
    side: usize,
    season: u64,
    arena_cm: [u32; 2],
    patch_cm: Vec<[u32; 4]>,
    stems: String,
    lives: String,
    visits: String,
    points: String,
    counted: String,
}

/// The seasons as the page's script reads them.
///
/// # Errors
/// When a season is too long or too crowded to be recorded.
pub fn recording(lesson: &Lesson, strides_a_point: usize) -> Outcome<String> {
    for take in &lesson.takes {
        check_numbers(take)?;
    }
    let quanta = Quanta::of(lesson, strides_a_point)?;
    let (scenario, clock) = (&lesson.plan.scenario, &lesson.plan.clock);
    let hour = |ticks: f64| ticks * clock.tick_h;
    let recording = Recording {
        schema: SCHEMA,
        title: &scenario.name,
        purpose: &scenario.purpose,
        species: &scenario.species,
        plant: &scenario.host,
        stages: &STAGE_NAMES,
        late_from: scenario.late_from,
        first_day: clock.start.to_string(),
        cutting_hour: hour(clock.cutting),
        end_hour: hour(clock.ticks as f64),
        count_hours: clock.surveys.iter().map(|time| hour(*time)).collect(),
        patches: lesson
            .plan
            .layout
            .patches
            .iter()
            .map(|patch| {
                let (left, bottom, right, top) = patch.shape.bounds();
                Patch {
                    name: &patch.settings.name,
                    stems: patch.stems(),
                    width_m: right - left,
                    height_m: top - bottom,
                }
            })
            .collect(),
        gaps_m: &lesson.question.gaps_m,
        refuge_shares: &lesson.question.shares,
        cut_sides: crate::study::lesson::SIDES.map(str::to_lowercase),
        seasons: lesson.question.seasons,
        point_cm: quanta.point_cm,
        hour_parts: quanta.hour_parts,
        takes: lesson
            .takes
            .iter()
            .map(|take| recorded(take, &quanta))
            .collect(),
    };
    serde_json::to_string(&recording)
        .map_err(|fault| Trouble::new(format!("the recording cannot be written: {fault}")))
}

/// Everything in a recorded season is named by sixteen bits.
fn check_numbers(take: &Take) -> Outcome<()> {
    let visits: usize = take.lives.iter().map(|life| life.visits.len()).sum();
    let most = take.stems.len().max(take.lives.len()).max(visits);
    if most < usize::from(u16::MAX) {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "a season with {} stems and {} eggs is too crowded to be watched",
        take.stems.len(),
        take.lives.len()
    ))
    .at("site")
    .expected("fewer than 65,535 stems, eggs and walks")
    .remedy("take smaller patches, or fewer eggs per stem"))
}

fn recorded(take: &Take, quanta: &Quanta) -> Recorded {
    const CM: f64 = 100.0;
    let cm = |metres: f64| (metres * CM).round().max(0.0) as u32;
    let (visits, points) = blobs::visits(take, quanta);
    Recorded {
        gap: take.gap,
        share: take.share,
        side: take.side,
        season: take.season,
        arena_cm: [cm(take.arena_m.0), cm(take.arena_m.1)],
        patch_cm: take
            .patches_m
            .iter()
            .map(|&(left, bottom, right, top)| [cm(left), cm(bottom), cm(right), cm(top)])
            .collect(),
        stems: blobs::stems(take, quanta),
        lives: blobs::lives(take, quanta),
        visits,
        points,
        counted: blobs::counted(take),
    }
}

/// A chart of many seasons on the page.
pub struct Figure {
    /// The chart.
    pub chart: Rendered,
    /// What it shows, in words that stand for the picture.
    pub words: String,
}

/// Words for the gap chart.
#[must_use]
pub fn gap_words(answer: &GapAnswer) -> String {
    let ends = [0, answer.grid_m.len() - 1];
    let said: Vec<String> = ends
        .iter()
        .map(|&at| {
            let shares: Vec<String> = answer
                .curves
                .iter()
                .filter_map(|curve| {
                    let share = percent(curve.shares[at].value?);
                    Some(format!("{share} on the {} patch", curve.patch))
                })
                .collect();
            format!(
                "at a gap of {} m {}",
                answer.grid_m[at],
                shares.join(" and ")
            )
        })
        .collect();
    format!(
        "Chart: the share of late-stage larvae that were laid elsewhere falls as the gap grows: {}. {} seasons at each gap.",
        said.join("; "),
        answer.seasons
    )
}

/// Words for the refuge chart.
#[must_use]
pub fn refuge_words(points: &[RefugePoint], seasons: u64) -> String {
    let said: Vec<String> = points
        .iter()
        .filter_map(|point| {
            let drift = percent(point.half_drift.value?);
            Some(format!(
                "{drift} with {} left as refuge",
                percent(point.share)
            ))
        })
        .collect();
    format!(
        "Chart: of the late-stage larvae in the refuge half these shares were laid in the cut half: {}. {seasons} seasons at each share.",
        said.join("; ")
    )
}

/// What was made, for the terminal.
#[must_use]
pub fn summary(lesson: &Lesson, page_bytes: usize) -> String {
    let question = &lesson.question;
    let gaps: Vec<String> = question.gaps_m.iter().map(f64::to_string).collect();
    let shares: Vec<String> = question
        .shares
        .iter()
        .map(|share| percent(*share))
        .collect();
    let mut text = wrapped(
        &format!(
            "The lesson is ready: open lesson.html in any browser; it needs no network ({:.1} MiB). It plays {} recorded seasons of `{}`: gaps of {} m, refuge shares of {}, the cut side towards or away from the other patch, {} seasons of each.",
            page_bytes as f64 / (1024.0 * 1024.0),
            lesson.takes.len(),
            lesson.plan.scenario.name,
            gaps.join(", "),
            shares.join(", "),
            question.seasons
        ),
        0,
    );
    text.push_str("\n\n");
    text.push_str(&wrapped(
        "lesson.gif shows the nearest and the farthest pair in the same season; the stills are for slides.",
        0,
    ));
    text.push_str("\n\nCautions\n");
    for caution in CAUTIONS {
        text.push_str(&hanging(&format!("- {caution}"), 2));
        text.push('\n');
    }
    text
}

/// The page.
///
/// # Errors
/// When a season cannot be recorded, or the page would be larger than [`LARGEST_PAGE`] however coarse its trails.
pub fn page(lesson: &Lesson, figures: &[Figure], provenance: &str) -> Outcome<String> {
    // One closed scope: the page gives away nothing but what the last part shows.
    let script = format!("'use strict';\n(() => {{\n{}}})();", SCRIPT.concat());
    let mut bytes = 0;
    for strides_a_point in STRIDES_A_POINT {
        let json = within_script(&recording(lesson, strides_a_point)?);
        let page = Frame {
            title: &lesson.plan.scenario.name,
            style: STYLE,
            script: Some(&script),
            has_pictures: false,
            body: PreEscaped(filled(
                BODY,
                &[
                    ("charts", &charts(figures)),
                    ("cautions", &cautions()),
                    ("provenance", &html! { (provenance) }.into_string()),
                    ("recording", &json),
                ],
            )),
        }
        .page();
        bytes = page.len();
        if bytes < LARGEST_PAGE {
            return Ok(page);
        }
    }
    const MIB: f64 = 1024.0 * 1024.0;
    Err(
        Trouble::new(format!("the page would have {:.1} MiB", bytes as f64 / MIB))
            .at("the lesson")
            .expected("less than 5 MiB, so that it opens at once and fits in a letter")
            .remedy("record fewer seasons with --takes, fewer gaps or refuge shares, or smaller patches"),
    )
}

fn charts(figures: &[Figure]) -> String {
    let chart = |figure: &Figure| {
        // The words say it all: the drawing itself is kept from readers of text.
        let hidden = "<svg aria-hidden=\"true\" focusable=\"false\" ";
        let svg = figure.chart.svg.replacen("<svg ", hidden, 1);
        html! {
            figure.chart { (PreEscaped(svg)) figcaption { (figure.words) } }
            "\n"
        }
        .into_string()
    };
    figures.iter().map(chart).collect()
}

fn cautions() -> String {
    html! { @for caution in CAUTIONS { li { (caution) } "\n" } }.into_string()
}
