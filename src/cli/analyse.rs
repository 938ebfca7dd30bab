//! `analyse`: treated against untouched patches in real counts.

use super::args::{AnalyseArgs, Common};
use super::context::{Context, Left, folder as folder_of, layers_of, write_record};
use super::patience::patiently;
use super::say::say;
use super::stopped::Stopped;
use crate::output::analysis::{self, Analysis};
use crate::output::analysis_text;
use crate::output::files::Use;
use crate::output::provenance::{RecordedCounts, Task};
use crate::scenario::Scenario;
use crate::scenario::data::{LARGEST_CARRIED, changed};
use crate::stats::paired::{Estimator, PairedOptions};
use crate::study::RATIO_LIMITS;
use crate::study::analyse::{
    Caution, Counts, Exchange, ExchangeEffort, Question, cautions, check_sides, compare_sites,
    corrected, exchange, open_table, prepare, read_counts,
};
use crate::trouble::Trouble;
use std::io::{BufReader, Read};
use std::path::Path;

/// Seasons of each parameter set.
const SEASONS_PER_SET: u64 = 100;

pub fn run(args: &AnalyseArgs) -> Result<(), Stopped> {
    if !RATIO_LIMITS.contains(&args.ratio_null) {
        return Err(Trouble::new(format!("the ratio is {}", args.ratio_null))
            .at("the option --ratio-null")
            .expected("a number from 0.001 to 1000")
            .remedy("1 tests whether the patches differ at all")
            .into());
    }
    let (counts, recorded) = table(args)?;
    let mut question = Question {
        stage: args.stage,
        comparison: args.compare,
        ratio_null: args.ratio_null,
        ..Question::default()
    };
    if let Some(name) = &args.scenario {
        question.late_from =
            Scenario::from_layers(&layers_of(&args.machine.origin, name, &args.set)?)?.late_from;
    }
    // Before any folder is made: a table of which nothing is left gets no files.
    let prepared = prepare(&counts, &question)?;
    let context = match &args.scenario {
        None => None,
        Some(name) => Some(Context::open_in(
            &common(args, name),
            Some(&folder_name(args)),
            |_, scenario| check_sides(scenario, question.comparison),
        )?),
    };
    let options = PairedOptions {
        seed: args.seed,
        ..PairedOptions::default()
    };
    let estimators = if args.all {
        Estimator::ALL.to_vec()
    } else {
        vec![args.estimator]
    };
    let pairs = prepared.pairs();
    let purpose = format!("comparing {} sites", pairs.len());
    let (compared, ratio) = (pairs.clone(), question.ratio_null);
    let results = patiently(&purpose, move || {
        compare_sites(&compared, ratio, &estimators, &options)
    })?
    .map_err(|fault| Stopped::Failed(fault.to_string()))?;
    let mut cautions = cautions(&prepared, &question, options.flips, args.seed);
    let exchange = match &context {
        None => None,
        Some(context) => {
            let found = simulated(context, &question, args)?;
            if found.is_none() {
                cautions.push(Caution::NoExchange {
                    stage: question.stage.words(question.late_from),
                    seasons: args.seasons,
                    scenario: context.scenario.name.clone(),
                });
            }
            found
        }
    };
    let correction = exchange.map(|exchange| {
        let all = results
            .iter()
            .map(|result| corrected(&exchange, &pairs, result, args.seed))
            .collect();
        (exchange, all)
    });
    let analysis = Analysis {
        cautions,
        question,
        counts,
        prepared,
        results,
        correction,
    };
    write(args, context.as_ref(), &analysis, recorded)
}

fn simulated(
    context: &Context,
    question: &Question,
    args: &AnalyseArgs,
) -> Result<Option<Exchange>, Stopped> {
    let effort = ExchangeEffort {
        seasons: args.seasons,
        sets: args.uncertain,
        seasons_per_set: SEASONS_PER_SET,
    };
    let found = exchange(&context.layered, question, effort, &context.runner());
    context.simulated(found, Left::Statistics)
}

/// Passes its source on and keeps a copy of what passed, as far as it may travel with the record.
struct Copied<R> {
    source: R,
    bytes: u64,
    copy: Vec<u8>,
}

impl<R: Read> Read for Copied<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let length = self.source.read(buffer)?;
        self.bytes += length as u64;
        if self.bytes <= LARGEST_CARRIED {
            self.copy.extend_from_slice(&buffer[..length]);
        }
        Ok(length)
    }
}

/// The table of counts as typed, or as recorded.
fn table(args: &AnalyseArgs) -> Result<(Counts, RecordedCounts), Trouble> {
    let again = args.machine.origin.again.as_ref();
    let recorded = again.and_then(|again| again.task.counts.clone());
    let name = args.counts.display().to_string();
    if let Some(recorded) = &recorded
        && let Some(text) = &recorded.text
    {
        let counts = read_counts(text.as_bytes(), &name)?;
        let read = RecordedCounts {
            name,
            sha256: counts.sha256.clone(),
            bytes: text.len() as u64,
            text: Some(text.clone()),
        };
        return if read == *recorded {
            Ok((counts, read))
        } else {
            Err(changed(&args.counts, recorded.bytes, &recorded.sha256))
        };
    }
    let folder = again.map_or(Path::new(""), |again| again.data_folder.as_path());
    let path = folder.join(&args.counts);
    let mut source = Copied {
        source: open_table(&path)?,
        bytes: 0,
        copy: Vec::new(),
    };
    let counts = read_counts(BufReader::new(&mut source), &name)?;
    let read = RecordedCounts {
        name,
        sha256: counts.sha256.clone(),
        bytes: source.bytes,
        text: Some(source.copy)
            .filter(|copy| copy.len() as u64 == source.bytes)
            .and_then(|copy| String::from_utf8(copy).ok()),
    };
    match recorded {
        Some(recorded) if recorded.sha256 != read.sha256 => {
            Err(changed(&path, recorded.bytes, &recorded.sha256))
        }
        _ => Ok((counts, read)),
    }
}

/// The folder is named after the table.
fn folder_name(args: &AnalyseArgs) -> String {
    let stem = args.counts.file_stem().unwrap_or_default();
    format!("analyse-{}", stem.to_string_lossy())
}

fn common(args: &AnalyseArgs, scenario: &str) -> Common {
    Common {
        scenario: scenario.to_owned(),
        set: args.set.clone(),
        seed: args.seed,
        machine: args.machine.clone(),
        shard: None,
    }
}

fn write(
    args: &AnalyseArgs,
    context: Option<&Context>,
    analysis: &Analysis,
    counts: RecordedCounts,
) -> Result<(), Stopped> {
    let task = Task {
        command: args.machine.origin.command.to_owned(),
        arguments: args.machine.origin.arguments.clone(),
        seed: args.seed,
        scenario: context.and_then(|context| context.task().scenario.clone()),
        comparison: None,
        counts: Some(counts),
    };
    let again = args.machine.origin.again.as_ref();
    if let Some(again) = again {
        again.check(&task)?;
    }
    let own;
    let folder = match context {
        Some(context) => &context.folder,
        None => {
            own = folder_of(&args.machine, &folder_name(args), Use::Alone)?;
            &own
        }
    };
    folder.write("analysis.csv", &analysis::results(analysis)?)?;
    folder.write("sites.csv", &analysis::sites(analysis)?)?;
    folder.write("dropped.csv", &analysis::dropped(analysis)?)?;
    let text = analysis_text::report(analysis);
    folder.write("analysis.txt", format!("{text}\n").as_bytes())?;
    let ron = context
        .map(|context| context.scenario.to_ron())
        .transpose()?;
    if let Some(ron) = &ron {
        folder.write("scenario.ron", ron.as_bytes())?;
    }
    write_record(folder, &task, &args.machine.origin, true)?;
    say(format!("{text}\n"));
    match context {
        Some(context) => context.finish(),
        None => say(folder.written()),
    }
    Ok(())
}
