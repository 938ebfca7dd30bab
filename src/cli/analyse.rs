//! `analyse`: treated against untouched patches in real counts.

use super::args::{AnalyseArgs, Common};
use super::context::{Context, Stopped, layered};
use super::say::say;
use crate::output::analysis::{self, Analysis};
use crate::output::analysis_text;
use crate::output::files::Folder;
use crate::output::provenance;
use crate::scenario::Scenario;
use crate::stats::paired::{Estimator, PairedOptions};
use crate::study::analyse::{
    Exchange, ExchangeEffort, Question, cautions, check_sides, compare_sites, corrected, exchange,
    open_counts, prepare,
};
use crate::trouble::Trouble;

/// Seasons of each parameter set.
const SEASONS_PER_SET: u64 = 100;
/// Ratios that a hypothesis can sensibly name.
const RATIOS: std::ops::RangeInclusive<f64> = 1e-3..=1e3;

pub fn run(args: &AnalyseArgs) -> Result<(), Stopped> {
    if !RATIOS.contains(&args.ratio_null) {
        return Err(Trouble::new(format!("the ratio is {}", args.ratio_null))
            .at("the option --ratio-null")
            .expected("a number from 0.001 to 1000")
            .remedy("1 tests whether the patches differ at all")
            .into());
    }
    let counts = open_counts(&args.counts)?;
    let mut question = Question {
        stage: args.stage,
        comparison: args.compare,
        ratio_null: args.ratio_null,
        ..Question::default()
    };
    if let Some(name) = &args.scenario {
        question.late_from = Scenario::from_layers(&layered(name, &args.set)?)?.late_from;
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
    let results = compare_sites(&pairs, question.ratio_null, &estimators, &options)
        .map_err(|fault| Stopped::Failed(fault.to_string()))?;
    let correction = match &context {
        None => None,
        Some(context) => {
            let exchange = simulated(context, &question, args)?;
            let all = results
                .iter()
                .map(|result| corrected(&exchange, &pairs, result, args.seed))
                .collect();
            Some((exchange, all))
        }
    };
    let analysis = Analysis {
        cautions: cautions(&prepared, &question, options.flips, args.seed),
        question,
        counts,
        prepared,
        results,
        correction,
    };
    write(args, context.as_ref(), &analysis)
}

fn simulated(
    context: &Context,
    question: &Question,
    args: &AnalyseArgs,
) -> Result<Exchange, Stopped> {
    let effort = ExchangeEffort {
        seasons: args.seasons,
        sets: args.uncertain,
        seasons_per_set: SEASONS_PER_SET,
    };
    Ok(exchange(
        &context.layered,
        question,
        effort,
        &context.runner(),
    )?)
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
        threads: args.threads,
        out: args.out.clone(),
    }
}

fn write(
    args: &AnalyseArgs,
    context: Option<&Context>,
    analysis: &Analysis,
) -> Result<(), Stopped> {
    let own;
    let folder = match context {
        Some(context) => &context.folder,
        None => {
            own = Folder::open(&args.out.join(folder_name(args)))?;
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
    let scenario = context.map(|context| context.scenario.name.as_str());
    let label = args.counts.display().to_string();
    let record = provenance::of_counts(
        "analyse",
        args.seed,
        (&label, &analysis.counts.sha256),
        scenario.zip(ron.as_deref()),
    )?;
    folder.write("provenance-analyse.json", record.as_bytes())?;
    say(format!("{text}\n\n{}", folder.written()));
    Ok(())
}
