//! `season`: one or many seasons as tables, with a map of the first.

use super::args::SeasonArgs;
use super::context::{Context, not_shared};
use super::say::say;
use super::stopped::Stopped;
use crate::output::pictures;
use crate::output::tables::{FateTable, SurveyTable, WalkTable};
use crate::plan::Plan;
use crate::season::record::Recorder;
use crate::season::{Fate, Season};

pub fn run(args: &SeasonArgs) -> Result<(), Stopped> {
    not_shared(&args.common)?;
    let context = Context::open(&args.common, |_, _| Ok(()))?;
    let runner = context.runner();
    let plan = Plan::of(context.scenario.clone())?;
    let mut season = Season::new(&plan);
    let (mut surveys, mut fates, mut walks) =
        (SurveyTable::new()?, FateTable::new()?, WalkTable::new()?);
    let mut totals = std::collections::BTreeMap::<Fate, u64>::new();
    runner.watch.begin("seasons", args.seasons);
    let mut done = 0;
    for replicate in args.replicate..args.replicate + args.seasons {
        let mut recorder = Recorder::default();
        let key = runner.key(0, replicate);
        if season.run_unless(runner.stop, key, &mut recorder).is_err() {
            break;
        }
        surveys.add(&season, replicate)?;
        fates.add(&season, replicate)?;
        if args.walks {
            walks.add(&season, &recorder, replicate)?;
        }
        for fate in season.larvae.iter().filter_map(crate::season::Larva::fate) {
            *totals.entry(fate).or_default() += 1;
        }
        if replicate == args.replicate {
            context.write_chart(
                "season-map",
                &pictures::season_map(&season, &recorder, replicate)?,
            )?;
        }
        done += 1;
        runner.watch.advance(1);
    }
    runner.watch.end();
    context.folder.write("surveys.csv", &surveys.bytes()?)?;
    context.folder.write("fates.csv", &fates.bytes()?)?;
    if args.walks {
        context.folder.write("walks.csv", &walks.bytes()?)?;
    }
    if done == args.seasons {
        context.write_provenance("season")?;
    } else {
        context.write_partial_provenance("season")?;
    }
    let eggs: u64 = totals.values().sum();
    say(format!("{done} seasons, {eggs} eggs. Where they ended:"));
    for (fate, count) in &totals {
        say(format!(
            "  {:<22} {count:>9}  {:>5.1} %",
            fate.word(),
            100.0 * *count as f64 / eggs as f64
        ));
    }
    say("");
    if done < args.seasons {
        context.say_written();
        let next = args.replicate + done;
        return Err(Stopped::Interrupted(format!(
            "{done} of {} seasons are kept; go on with --replicate {next} --seasons {}",
            args.seasons,
            args.seasons - done
        )));
    }
    context.finish();
    Ok(())
}
