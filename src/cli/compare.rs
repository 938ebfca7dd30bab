//! `compare`: several scenarios or layouts side by side.

use super::args::{Common, CompareArgs};
use super::context::{Context, Left, put_on};
use super::origin::Again;
use super::say::say;
use super::stopped::Stopped;
use crate::output::compare as shown;
use crate::output::provenance::{self, RecordedComparison, RecordedVariant, Task};
use crate::plan::Plan;
use crate::scenario::data::{DataFiles, sha256};
use crate::scenario::variants::{self, SideBySide, Variant, side_by_side};
use crate::scenario::{Layered, Scenario};
use crate::study::compare::figures::Study;
use crate::study::compare::{self, CompareAnswer, CompareQuestion, Ready};
use crate::study::{Effort, check_precision, check_seasons, effect_words, is_effect};
use crate::trouble::{Outcome, Trouble};
use crate::world::Layout;

pub fn run(args: &CompareArgs) -> Result<(), Stopped> {
    let all = match &args.machine.origin.again {
        Some(again) => recorded(again, args)?,
        None => named(args)?,
    };
    check_precision(args.precision, "0.005")?;
    check_ratio(args.ratio)?;
    check_seasons(args.seasons, all.variants.len() as u64)?;
    let place = match args.against {
        Some(_) => "the option --against",
        None => "against",
    };
    let wanted = args.against.as_deref().or(all.against.as_deref());
    let names = all.variants.iter().map(|variant| variant.name.as_str());
    let against = compare::reference(names, wanted, place)?;
    let checked = all.variants.iter().map(checked);
    let checked = checked.collect::<Outcome<Vec<(Scenario, RecordedVariant)>>>()?;
    let task = task(args, &all, against, &checked);
    let (scenarios, records): (Vec<_>, Vec<_>) = checked.into_iter().unzip();
    let own = (
        all.variants[against].layered.clone(),
        scenarios[against].clone(),
    );
    let context = Context::ready(&common(args), &all.name, own, task)?;
    let answer = answered(args, &context, ready(&all, scenarios)?, against)?;
    for record in &records {
        let ron = record.complete_scenario.join("\n") + "\n";
        context
            .folder
            .write(&format!("variant-{}.ron", record.name), ron.as_bytes())?;
    }
    let text = shown::text(&answer);
    context
        .folder
        .write("compare.csv", &shown::table(&answer)?)?;
    context.write_chart("compare", &shown::chart(&answer)?)?;
    context
        .folder
        .write("compare.txt", format!("{text}\n").as_bytes())?;
    context.write_provenance("compare")?;
    say(format!("{text}\n"));
    context.finish();
    Ok(())
}

/// The variants, ready to run.
fn ready(all: &SideBySide, scenarios: Vec<Scenario>) -> Outcome<Vec<Ready>> {
    let each = all.variants.iter().zip(scenarios);
    each.map(|(variant, scenario)| {
        Ok(Ready {
            name: variant.name.clone(),
            words: variant.words.clone(),
            plan: Plan::of(scenario)?,
        })
    })
    .collect()
}

/// All that is simulated.
fn answered(
    args: &CompareArgs,
    context: &Context,
    ready: Vec<Ready>,
    against: usize,
) -> Result<CompareAnswer, Stopped> {
    let question = CompareQuestion {
        against,
        study: Study {
            ratio: args.ratio,
            sites: args.sites,
        },
        effort: Effort::of(args.seasons),
        precision: args.precision,
    };
    let runner = context.runner();
    let seasons = args.seasons * ready.len() as u64;
    runner.watch.begin("side by side", seasons);
    let answer = compare::answer(&ready, &question, &runner);
    runner.watch.end();
    let left = match args.precision {
        None => Left::Statistics,
        Some(_) => Left::Simulation,
    };
    context.simulated(answer, left)
}

fn check_ratio(ratio: f64) -> Outcome<()> {
    if is_effect(ratio) {
        return Ok(());
    }
    Err(Trouble::new(format!("the ratio {ratio} is no effect"))
        .at("the option --ratio")
        .expected(format!("a ratio {}, such as 2", effect_words()))
        .remedy("mend it"))
}

/// What was typed, with the options on top of every variant.
fn named(args: &CompareArgs) -> Outcome<SideBySide> {
    let mut all = side_by_side(&args.compared, args.on.as_deref())?;
    for variant in &mut all.variants {
        put_on(&mut variant.layered, &args.set)?;
    }
    Ok(all)
}

/// The variants of a record.
fn recorded(again: &Again, args: &CompareArgs) -> Outcome<SideBySide> {
    let recorded = again.task.comparison.as_ref().ok_or_else(|| {
        Trouble::new("the record holds no scenarios to compare")
            .at(again.label.clone())
            .expected("the variants that were run")
            .remedy("run the command itself")
    })?;
    let names = recorded.variants.iter().map(|variant| &*variant.name);
    variants::check_recorded(names.chain([&*recorded.name]), &again.label)?;
    let variants = recorded.variants.iter().map(|variant| {
        let place = format!("the variant {} in {}", variant.name, again.label);
        let text = variant.complete_scenario.join("\n");
        let mut layered = Layered::from_text(&place, text, again.data_folder.clone())?;
        layered.data = DataFiles::recorded(&again.label, variant.data_files.clone());
        again.check_typed(&layered, None, &args.set)?;
        Ok(Variant {
            name: variant.name.clone(),
            words: variant.words.clone(),
            layered,
            place,
        })
    });
    let all = SideBySide {
        name: recorded.name.clone(),
        against: Some(recorded.against.clone()),
        variants: variants.collect::<Outcome<_>>()?,
    };
    variants::check(&all)?;
    Ok(all)
}

/// A variant's scenario, and how a record holds it.
fn checked(variant: &Variant) -> Outcome<(Scenario, RecordedVariant)> {
    let layered = &variant.layered;
    let scenario = Scenario::from_layers(layered)?;
    Layout::of(&scenario).map_err(|fault| layered.placed(fault))?;
    let complete = scenario.to_ron()?;
    let record = RecordedVariant {
        name: variant.name.clone(),
        words: variant.words.clone(),
        sha256: sha256(complete.as_bytes()),
        complete_scenario: provenance::lines(&complete),
        data_files: layered.data.all(),
    };
    Ok((scenario, record))
}

fn task(
    args: &CompareArgs,
    all: &SideBySide,
    against: usize,
    checked: &[(Scenario, RecordedVariant)],
) -> Task {
    Task {
        command: args.machine.origin.command.to_owned(),
        arguments: args.machine.origin.arguments.clone(),
        seed: args.seed,
        scenario: None,
        comparison: Some(RecordedComparison {
            name: all.name.clone(),
            against: all.variants[against].name.clone(),
            variants: checked.iter().map(|(_, record)| record.clone()).collect(),
        }),
        counts: None,
    }
}

fn common(args: &CompareArgs) -> Common {
    Common {
        scenario: String::new(),
        set: Vec::new(),
        seed: args.seed,
        machine: args.machine.clone(),
        shard: args.shard,
    }
}
