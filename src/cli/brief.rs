//! `brief`: all answers about a scenario.

use super::args::BriefArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::{pictures, tables, text};
use crate::plan::Plan;
use crate::scenario::{LayoutKind, Scenario, listed};
use crate::season::Season;
use crate::season::record::Recorder;
use crate::study::brief::{Brief, BriefEffort};
use crate::study::gap;
use crate::trouble::Trouble;

/// Effort that is still an effort.
const EFFORT: std::ops::RangeInclusive<f64> = 0.01..=1000.0;

pub fn run(args: &BriefArgs) -> Result<(), Stopped> {
    if !EFFORT.contains(&args.effort) {
        return Err(Trouble::new(format!("the effort is {}", args.effort))
            .at("the option --effort")
            .expected("a number from 0.01 to 1000")
            .remedy("1 is the usual effort")
            .into());
    }
    let context = Context::open(&args.common, |_, _| {
        args.tolerance.map_or(Ok(()), gap::check_tolerance)
    })?;
    let runner = context.runner();
    let tolerance = args
        .tolerance
        .unwrap_or(context.scenario.numbers.answers.stray_tolerance);
    let effort = BriefEffort::scaled(args.effort);
    let mut brief = Brief::default();
    let outcome = brief.answer(
        &context.layered,
        &context.scenario,
        tolerance,
        &effort,
        &runner,
    );
    match context.simulated(outcome, Left::Statistics) {
        Ok(()) => {
            write(&context, &brief, &effort)?;
            context.write_provenance("brief")?;
            context.finish();
            Ok(())
        }
        Err(Stopped::Interrupted(_)) if brief.own.is_some() => {
            write(&context, &brief, &effort)?;
            context.write_partial_provenance("brief")?;
            context.say_written();
            Err(Stopped::Interrupted(
                "the answers that were complete are written; the same command goes on and makes them all"
                    .to_owned(),
            ))
        }
        Err(other) => Err(other),
    }
}

fn write(context: &Context, brief: &Brief, effort: &BriefEffort) -> Result<(), Stopped> {
    let scenario = &context.scenario;
    if let Some(own) = &brief.own {
        context.folder.write(
            "measures.csv",
            &tables::measures(&own.measures, own.seasons)?,
        )?;
    }
    let single = scenario.layout == LayoutKind::OnePatchHalves;
    if let Some(answer) = &brief.gap {
        context.folder.write("gap.csv", &tables::gap(answer)?)?;
        context.folder.write(
            "clear-gap.csv",
            &tables::clear_gap(answer, brief.band.as_ref())?,
        )?;
        context.write_chart("gap", &pictures::gap(answer, brief.band.as_ref())?)?;
    }
    if let Some(points) = &brief.refuge {
        context
            .folder
            .write("refuge.csv", &tables::refuge(points)?)?;
        context
            .folder
            .write("refuge-measures.csv", &tables::refuge_measures(points)?)?;
        context.write_chart("refuge", &pictures::refuge(points, effort.refuge, single)?)?;
    }
    if let Some(answer) = &brief.yields {
        context
            .folder
            .write("net-yield.csv", &tables::yields(answer)?)?;
        context.write_chart("net-yield", &pictures::yields(answer, single)?)?;
    }
    draw_map(context)?;
    let text = text::brief(
        &format!("crawlspan brief: {}", scenario.name),
        &scenario.purpose,
        &setting(scenario),
        brief,
        scenario.numbers.site.refuge_share,
        &listed(scenario),
    );
    context
        .folder
        .write("brief.txt", format!("{text}\n").as_bytes())?;
    say(format!("{text}\n"));
    Ok(())
}

fn draw_map(context: &Context) -> Result<(), Stopped> {
    let plan = Plan::of(context.scenario.clone())?;
    let mut season = Season::new(&plan);
    let mut recorder = Recorder::default();
    season.run(context.runner().key(0, 0), &mut recorder);
    context.write_chart("season-map", &pictures::season_map(&season, &recorder, 0)?)
}

fn setting(scenario: &Scenario) -> String {
    let patches: Vec<String> = scenario
        .patches
        .iter()
        .map(|patch| format!("{} patch of {} stems", patch.name, patch.numbers.stems))
        .collect();
    let pair = matches!(
        scenario.layout,
        LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
    );
    let gap = if pair {
        format!(", {} apart", text::length(scenario.numbers.site.gap_m))
    } else {
        String::new()
    };
    format!(
        "{} on {}; {}{gap}; cut on {}.",
        scenario.species,
        scenario.host,
        patches.join(" and "),
        scenario.cutting_date
    )
}
