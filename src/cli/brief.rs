//! `brief`: all answers about a scenario.

use super::args::BriefArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::brief_page::{BriefCharts, Origin, brief_page};
use crate::output::charts::Rendered;
use crate::output::{brief_text, pictures, tables, text};
use crate::plan::Plan;
use crate::scenario::{LayoutKind, Scenario, listed};
use crate::season::Season;
use crate::season::record::Recorder;
use crate::study::brief::{Brief, BriefEffort};
use crate::study::{StudyError, gap};
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
    let usual = BriefEffort::scaled(args.effort);
    let effort = BriefEffort {
        sets: args.uncertain.unwrap_or(usual.sets),
        ..usual
    };
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
            &tables::measures(&own.measures, own.seasons, brief.own_bands.as_deref())?,
        )?;
    }
    if let Some(answer) = &brief.gap {
        context.folder.write("gap.csv", &tables::gap(answer)?)?;
        context.folder.write(
            "clear-gap.csv",
            &tables::clear_gap(answer, brief.band.as_ref())?,
        )?;
    }
    if let Some(points) = &brief.refuge {
        context
            .folder
            .write("refuge.csv", &tables::refuge(points)?)?;
        let measures = tables::refuge_measures(points, brief.refuge_bands.as_deref())?;
        context.folder.write("refuge-measures.csv", &measures)?;
    }
    if let Some(answer) = &brief.yields {
        let band = brief.yield_band.as_ref();
        context
            .folder
            .write("net-yield.csv", &tables::yields(answer, band)?)?;
        context
            .folder
            .write("break-even.csv", &tables::break_even(answer, band)?)?;
    }
    let charts = drawn(context, brief, effort)?;
    let listed = listed(scenario);
    let subject = brief_text::Subject {
        title: &format!("crawlspan brief: {}", scenario.name),
        purpose: &scenario.purpose,
        setting: &setting(scenario),
        refuge_share: scenario.numbers.site.refuge_share,
    };
    let parts = brief_text::brief_parts(&subject, brief, &listed);
    let text = brief_text::brief(&parts);
    context
        .folder
        .write("brief.txt", format!("{text}\n").as_bytes())?;
    let origin = Origin {
        seed: context.seed,
        ron: &scenario.to_ron()?,
        arguments: &context.task().arguments,
    };
    let page = brief_page(&parts, &charts, brief.yields.as_ref(), &listed, &origin);
    context.folder.write("brief.html", page.as_bytes())?;
    say(format!("{text}\n"));
    Ok(())
}

/// Draws and writes the charts of the answers that are there.
fn drawn(context: &Context, brief: &Brief, effort: &BriefEffort) -> Result<BriefCharts, Stopped> {
    let single = context.scenario.layout == LayoutKind::OnePatchHalves;
    let mut charts = BriefCharts {
        map: Some(map(context)?),
        ..BriefCharts::default()
    };
    if let Some(answer) = &brief.gap {
        charts.gap = Some(pictures::gap(answer, brief.band.as_ref())?);
    }
    if let Some(points) = &brief.refuge {
        charts.refuge = Some(pictures::refuge(
            points,
            effort.refuge,
            single,
            context.scenario.numbers.site.refuge_share,
            brief.refuge_bands.as_deref(),
        )?);
    }
    if let Some(answer) = &brief.yields {
        charts.yields = Some(pictures::yields(answer, single, brief.yield_band.as_ref())?);
    }
    for (name, chart) in [
        ("gap", &charts.gap),
        ("refuge", &charts.refuge),
        ("net-yield", &charts.yields),
        ("season-map", &charts.map),
    ] {
        if let Some(chart) = chart {
            context.write_chart(name, chart)?;
        }
    }
    Ok(charts)
}

fn map(context: &Context) -> Result<Rendered, Stopped> {
    let plan = Plan::of(context.scenario.clone())?;
    let mut season = Season::new(&plan);
    let mut recorder = Recorder::default();
    let runner = context.runner();
    season
        .run_unless(runner.stop, runner.key(0, 0), &mut recorder)
        .map_err(StudyError::from)?;
    Ok(pictures::season_map(&season, &recorder, 0)?)
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
