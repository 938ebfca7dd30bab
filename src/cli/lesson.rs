//! `lesson`: the page with which volunteers are shown why the layout matters, with a moving picture and stills.

use super::args::LessonArgs;
use super::context::{Context, Left, not_shared};
use super::say::say;
use super::stopped::Stopped;
use crate::output::lesson::{self, Figure, frames};
use crate::output::pictures;
use crate::study::gap::{self, GAP_GRID_M, GapQuestion};
use crate::study::lesson::{GAPS_M, LessonQuestion, SHARES, check, record, takes};
use crate::study::refuge::{self, RefugeQuestion};
use crate::study::{Effort, check_seasons};

pub fn run(args: &LessonArgs) -> Result<(), Stopped> {
    let question = LessonQuestion {
        gaps_m: args.gaps.clone().unwrap_or_else(|| GAPS_M.to_vec()),
        shares: args.shares.clone().unwrap_or_else(|| SHARES.to_vec()),
        seasons: args.takes,
    };
    not_shared(&args.common)?;
    let context = Context::open(&args.common, |layered, _| {
        check_seasons(args.seasons, GAP_GRID_M.len() as u64)?;
        check(layered, &question)
    })?;
    let runner = context.runner();
    runner.watch.begin("seasons recorded", takes(&question));
    let lesson = record(&context.layered, &question, &runner)?;
    runner.watch.end();
    let figures = figures(&context, args.seasons)?;
    let page = lesson::page(&lesson, &figures, &provenance(&context))?;
    context.folder.write("lesson.html", page.as_bytes())?;
    for still in frames::stills(&lesson)? {
        context.write_chart(still.name, &still.picture)?;
    }
    context
        .folder
        .write("lesson.gif", &frames::animation(&lesson)?)?;
    context.write_provenance("lesson")?;
    say(format!("{}\n", lesson::summary(&lesson, page.len())));
    context.finish();
    Ok(())
}

fn provenance(context: &Context) -> String {
    format!(
        "Made by crawlspan {} from the scenario {} with the seed {}; the complete scenario is in scenario-lesson.ron beside this page.",
        env!("CARGO_PKG_VERSION"),
        context.scenario.name,
        context.seed
    )
}

/// The charts of many seasons under the recorded ones.
fn figures(context: &Context, seasons: u64) -> Result<Vec<Figure>, Stopped> {
    let runner = context.runner();
    let effort = Effort::of(seasons);
    let gaps = GapQuestion {
        grid_m: GAP_GRID_M.to_vec(),
        tolerance: context.scenario.numbers.answers.stray_tolerance,
        effort,
        precision_m: None,
    };
    let shares = RefugeQuestion {
        shares: refuge::SHARES.to_vec(),
        effort,
        precision: None,
    };
    let points = gaps.grid_m.len() + shares.shares.len();
    runner.watch.begin("many seasons", seasons * points as u64);
    let gap = gap::answer(&context.layered, &gaps, &runner, 0);
    let refuge = refuge::answer(&context.layered, &shares, &runner);
    let found = gap.and_then(|gap| Ok((gap, refuge?)));
    let (gap, refuge) = context.simulated(found, Left::Statistics)?;
    runner.watch.end();
    Ok(vec![
        Figure {
            words: lesson::gap_words(&gap),
            chart: pictures::lesson_gap(&gap)?,
        },
        Figure {
            words: lesson::refuge_words(&refuge, seasons),
            chart: pictures::lesson_refuge(&refuge, seasons)?,
        },
    ])
}
