//! `season`: one or many seasons as tables, with a map of the first.

use super::args::SeasonArgs;
use super::context::{Context, not_shared};
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::files::{Folder, Growing};
use crate::output::pictures;
use crate::output::tables::{FateTable, SurveyTable, WalkTable};
use crate::plan::Plan;
use crate::runner::Runner;
use crate::season::record::Recorder;
use crate::season::{Fate, Season};
use crate::trouble::{Outcome, Trouble};
use crate::walk::NoTrail;

/// Tables that grow season by season, so that memory does not grow with their number.
struct Tables {
    surveys: (SurveyTable, Growing),
    fates: (FateTable, Growing),
    walks: Option<(WalkTable, Growing)>,
}

impl Tables {
    fn begin(folder: &Folder, walks: bool) -> Outcome<Self> {
        let walks = if walks {
            Some((WalkTable::new()?, folder.begin("walks.csv")?))
        } else {
            None
        };
        Ok(Self {
            surveys: (SurveyTable::new()?, folder.begin("surveys.csv")?),
            fates: (FateTable::new()?, folder.begin("fates.csv")?),
            walks,
        })
    }

    fn add(&mut self, season: &Season<'_>, recorder: &Recorder, replicate: u64) -> Outcome<()> {
        self.surveys.0.add(season, replicate)?;
        self.fates.0.add(season, replicate)?;
        if let Some(walks) = &mut self.walks {
            walks.0.add(season, recorder, replicate)?;
        }
        self.grow()
    }

    fn grow(&mut self) -> Outcome<()> {
        self.surveys.1.add(&self.surveys.0.taken()?)?;
        self.fates.1.add(&self.fates.0.taken()?)?;
        if let Some((walks, file)) = &mut self.walks {
            file.add(&walks.taken()?)?;
        }
        Ok(())
    }

    /// Gives the tables their names; one without a season has its header.
    fn keep(mut self, folder: &Folder) -> Outcome<()> {
        self.grow()?;
        folder.keep(self.surveys.1)?;
        folder.keep(self.fates.1)?;
        self.walks.map_or(Ok(()), |walks| folder.keep(walks.1))
    }
}

/// What became of a season.
enum Went {
    Whole,
    Stopped,
    /// Its walks take more memory than there is for them.
    WalksTooLong,
}

/// Runs one season; walks are recorded if they are asked for.
fn go(
    season: &mut Season<'_>,
    runner: &Runner<'_>,
    replicate: u64,
    recorder: Option<&mut Recorder>,
) -> Went {
    let key = runner.key(0, replicate);
    let Some(recorder) = recorder else {
        return match season.run_unless(runner.stop, key, &mut NoTrail) {
            Ok(()) => Went::Whole,
            Err(_) => Went::Stopped,
        };
    };
    match season.run_unless(runner.stop, key, recorder) {
        Ok(()) => Went::Whole,
        Err(_) if recorder.is_full() => Went::WalksTooLong,
        Err(_) => Went::Stopped,
    }
}

fn too_long(replicate: u64) -> Trouble {
    Trouble::new(format!(
        "the walks of season {replicate} do not fit into memory"
    ))
    .at("the option --walks")
    .expected(format!("at most {} strides a season", Recorder::room()))
    .remedy("leave --walks away, or simulate fewer stems or slower larvae")
}

pub fn run(args: &SeasonArgs) -> Result<(), Stopped> {
    not_shared(&args.common)?;
    let context = Context::open(&args.common, |_, _| Ok(()))?;
    let runner = context.runner();
    let plan = Plan::of(context.scenario.clone())?;
    let mut season = Season::new(&plan);
    let mut tables = Tables::begin(&context.folder, args.walks)?;
    let mut totals = std::collections::BTreeMap::<Fate, u64>::new();
    runner.watch.begin("seasons", args.seasons);
    let mut done = 0;
    for replicate in args.replicate..args.replicate + args.seasons {
        let mut recorder = Recorder::default();
        let is_first = replicate == args.replicate;
        let recorded = (is_first || args.walks).then_some(&mut recorder);
        let mut mapped = is_first;
        let mut went = go(&mut season, &runner, replicate, recorded);
        if matches!(went, Went::WalksTooLong) {
            if args.walks {
                return Err(too_long(replicate).into());
            }
            tell("note: there is no map, as the walks of its season do not fit into memory");
            mapped = false;
            went = go(&mut season, &runner, replicate, None);
        }
        if !matches!(went, Went::Whole) {
            break;
        }
        tables.add(&season, &recorder, replicate)?;
        for fate in season.larvae.iter().filter_map(crate::season::Larva::fate) {
            *totals.entry(fate).or_default() += 1;
        }
        if mapped {
            let map = pictures::season_map(&season, &recorder, replicate)?;
            context.write_chart("season-map", &map)?;
        }
        done += 1;
        runner.watch.advance(1);
    }
    runner.watch.end();
    tables.keep(&context.folder)?;
    finish(args, &context, done, &totals)
}

/// Writes the record and says where eggs ended.
fn finish(
    args: &SeasonArgs,
    context: &Context,
    done: u64,
    totals: &std::collections::BTreeMap<Fate, u64>,
) -> Result<(), Stopped> {
    if done == args.seasons {
        context.write_provenance("season")?;
    } else {
        context.write_partial_provenance("season")?;
    }
    let eggs: u64 = totals.values().sum();
    say(format!("{done} seasons, {eggs} eggs. Where they ended:"));
    for (fate, count) in totals {
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
