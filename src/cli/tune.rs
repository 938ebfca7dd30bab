//! `tune`: walking and leaving fitted to a pilot release of marked larvae.

use super::args::{Common, TuneArgs};
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::tune as shown;
use crate::random::Key;
use crate::scenario::{Layered, presets};
use crate::study::tune::{self, Release, TuneQuestion, Tuner};
use crate::trouble::{Outcome, Trouble};
use std::path::Path;

/// Replicate under which a rehearsal is simulated, apart from the candidates that are fitted to it.
const REHEARSAL: u64 = 0x9ea1;

pub fn run(args: &TuneArgs) -> Result<(), Stopped> {
    let question = question(args)?;
    let common = Common {
        scenario: args.scenario.clone(),
        set: args.set.clone(),
        seed: args.seed,
        machine: args.machine.clone(),
        shard: None,
    };
    let mut prepared = None;
    let context = Context::open(&common, |layered, _| {
        let tuner = tune::prepare(layered, &question)?;
        let release = release(args, layered, &tuner)?;
        prepared = Some((tuner, release));
        Ok(())
    })?;
    let Some((tuner, release)) = prepared else {
        return Err(Stopped::Failed("nothing was read".to_owned()));
    };
    let runner = context.runner();
    let most = question.effort.particles as u64 * question.effort.generations as u64;
    runner.watch.begin("simulated releases", most);
    let answer = tuner.fit(&release, question.effort, &runner);
    let answer = context.simulated(answer, Left::Statistics)?;
    runner.watch.end();
    let source = args.release.as_ref().map_or_else(
        || "an imaginary release".to_owned(),
        |path| crate::trouble::shown::path(path),
    );
    let folder = &context.folder;
    if args.release.is_none() {
        let note = "imaginary: simulated, nobody was let go";
        let table = shown::release(&release, &tuner.plan.clock, note)?;
        folder.write("rehearsal.csv", &table)?;
    }
    folder.write("tune.csv", &shown::table(&answer)?)?;
    folder.write("tune-particles.csv", &shown::particles(&answer)?)?;
    let extends = extended(&context);
    let preset = shown::preset(&answer, &source, extends.as_deref());
    folder.write("tuned.ron", preset.as_bytes())?;
    context.write_chart("tune", &shown::chart(&answer)?)?;
    let text = shown::text(&answer, &source);
    folder.write("tune.txt", format!("{text}\n").as_bytes())?;
    context.write_provenance("tune")?;
    say(format!("{text}\n"));
    context.finish();
    Ok(())
}

fn question(args: &TuneArgs) -> Result<TuneQuestion, Trouble> {
    let mut question = TuneQuestion::usual(usize::from(args.stage));
    if let Some(fit) = &args.fit {
        question.fit.clone_from(fit);
    }
    question.effort.particles = args.particles;
    question.effort.generations = args.generations;
    Ok(question)
}

/// The release as read, or an imaginary one.
fn release(args: &TuneArgs, layered: &Layered, tuner: &Tuner) -> Outcome<Release> {
    match (&args.release, args.rehearse) {
        (Some(path), _) => {
            // Read as a data file of the scenario, it travels with the record.
            let again = args.machine.origin.again.as_ref();
            let folder = again.map_or(Path::new(""), |again| again.data_folder.as_path());
            let file = layered.data.read(folder, &path.to_string_lossy());
            tune::read_in(file, &tuner.plan)
        }
        (None, Some(larvae)) => {
            let release = tuner.imaginary(larvae, &args.search_days);
            let key = Key::master(args.seed, REHEARSAL);
            tuner.rehearsed(&release, None, key)
        }
        (None, None) => Err(Trouble::new("no release is given")
            .at("the command line")
            .expected("a CSV file, or --rehearse with a number of larvae")
            .remedy("see `crawlspan help tune`")),
    }
}

/// What the posterior's preset extends: a built-in preset by name, a file by its full path.
fn extended(context: &Context) -> Option<String> {
    let base = context.layered.draft.extends.clone()?;
    if presets::find(&base).is_some() {
        return Some(base);
    }
    let path = context.layered.folder.join(&base);
    let path = std::fs::canonicalize(&path).unwrap_or(path);
    Some(path.display().to_string())
}
