//! `recruit`: how many sites must be recruited?

use super::args::RecruitArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::recruit::{band as shown, note, pictures, tables, text};
use crate::output::text::wrapped;
use crate::plan::Plan;
use crate::runner::Runner;
use crate::scenario::listed;
use crate::study::recruit::band::{self, RecruitBand};
use crate::study::recruit::sites::Sites;
use crate::study::recruit::siting::SitingPoint;
use crate::study::recruit::what_if::{VARIANTS, what_if};
use crate::study::recruit::{self, POOL, RATIOS, RecruitAnswer, RecruitQuestion};
use crate::study::{StudyError, check_precision, known};
use crate::trouble::Trouble;

/// With fresh sites each season serves one study only, so that many more are needed.
const FRESH_POOL: u64 = 10 * POOL;

pub fn run(args: &RecruitArgs) -> Result<(), Stopped> {
    let question = question(args)?;
    let context = Context::open(&args.common, |_, scenario| {
        question.check()?;
        check_precision(args.precision, "0.02")?;
        let sites = Sites::of(scenario)?;
        for attraction in &question.attractions {
            sites
                .check_attraction(*attraction)
                .map_err(|fault| fault.at("the option --attractions"))?;
        }
        Ok(())
    })?;
    let runner = context.runner();
    runner.watch.begin("sites", question.seasons());
    let outcome = answered(args, &context, &question, &runner);
    let Answers {
        answer,
        bands,
        variants,
    } = context.simulated(outcome, Left::Simulation)?;
    runner.watch.end();
    write(&context, &answer, bands.as_ref())?;
    let drop_out = context.scenario.numbers.surveying.drop_out;
    let mut words = text::recruit(
        &answer,
        bands.as_ref(),
        drop_out,
        &listed(&context.scenario),
    );
    if let Some(found) = &bands {
        let table = shown::table(found)?;
        context.folder.write("sites-needed-plausible.csv", &table)?;
        words = format!("{words}\n{}", shown::text(found, &question.sizes));
    }
    if let Some(points) = variants {
        context
            .folder
            .write("what-if.csv", &tables::sitings(&points)?)?;
        words += "\n\nWhat if?\n--------\n";
        words += &text::siting_rows(&points, &question.sizes).join("\n");
        words += "\n";
        words += &wrapped(
            "Attraction as above throughout; the home ratio is what each variant makes of it.",
            0,
        );
    }
    context
        .folder
        .write("recruit.txt", format!("{words}\n").as_bytes())?;
    context.write_provenance("recruit")?;
    say(format!("{words}\n"));
    context.finish();
    Ok(())
}

/// All that is simulated.
struct Answers {
    answer: RecruitAnswer,
    bands: Option<RecruitBand>,
    variants: Option<Vec<SitingPoint>>,
}

/// The answer, its bands and the variants of the scenario, as far as they are asked for.
fn answered(
    args: &RecruitArgs,
    context: &Context,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Answers, StudyError> {
    // A shard does its share of the parameter sets too before it stops for the results of others.
    let answer = known(match args.precision {
        None => recruit::answer(&context.scenario, question, runner),
        Some(asked) => recruit::precise(&context.scenario, question, asked, runner),
    })?;
    runner.watch.end();
    let mut bands = Some(None);
    if args.uncertain > 0 {
        let seasons = band::seasons(question, args.uncertain);
        runner.watch.begin("plausible parameter sets", seasons);
        let found = band::band(&context.layered, question, args.uncertain, runner);
        bands = known(found.map(Some))?;
        runner.watch.end();
    }
    let answer = answer.ok_or(StudyError::Elsewhere)?;
    let mut variants = None;
    if args.what_if && answer.side > 0 {
        let seasons = question.pool / 2 * VARIANTS.len() as u64;
        runner.watch.begin("what if", seasons);
        let effect = answer.effects[answer.side].effect;
        variants = Some(what_if(&context.layered, effect, question, runner)?);
        runner.watch.end();
    }
    Ok(Answers {
        answer,
        bands: bands.ok_or(StudyError::Elsewhere)?,
        variants,
    })
}

fn question(args: &RecruitArgs) -> Result<RecruitQuestion, Trouble> {
    let usual = RecruitQuestion::default();
    let estimator = args.estimator.parse().map_err(|_| {
        Trouble::new(format!("`{}` is no estimator", args.estimator))
            .at("the option --estimator")
            .expected("flip, beta-binomial, mixed, signed-rank or log-ratio-t")
            .remedy("choose one of them")
    })?;
    let ratios = match (&args.ratios, &args.attractions) {
        (Some(ratios), _) => ratios.clone(),
        (None, Some(_)) => Vec::new(),
        (None, None) => RATIOS.to_vec(),
    };
    Ok(RecruitQuestion {
        ratios,
        attractions: args.attractions.clone().unwrap_or_default(),
        sizes: args.sites.clone().unwrap_or(usual.sizes),
        studies: args.studies as usize,
        estimator,
        pool: args
            .pool
            .unwrap_or(if args.fresh { FRESH_POOL } else { POOL }),
        fresh: args.fresh,
    })
}

fn write(
    context: &Context,
    answer: &RecruitAnswer,
    bands: Option<&RecruitBand>,
) -> Result<(), Stopped> {
    let scenario = &context.scenario;
    let numbers = &scenario.numbers;
    let folder = &context.folder;
    folder.write("recruit.csv", &tables::power(answer)?)?;
    folder.write(
        "sites-needed.csv",
        &tables::sites_needed(answer, numbers.surveying.drop_out)?,
    )?;
    folder.write("recruit-effects.csv", &tables::pilot(&answer.pilot)?)?;
    context.write_chart("recruit-power", &pictures::power(answer, bands)?)?;
    if !answer.siting.is_empty() {
        folder.write("recruit-siting.csv", &tables::sitings(&answer.siting)?)?;
        let chart = pictures::siting(answer, numbers.recruitment.least_gap_m)?;
        context.write_chart("recruit-siting", &chart)?;
    }
    if let Some(chart) = pictures::example(answer)? {
        folder.write("recruit-example.csv", &tables::example(answer)?)?;
        context.write_chart("recruit-example", &chart)?;
    }
    let plan = Plan::of(scenario.clone())?;
    let note = note::note(answer, bands, &plan, &listed(scenario));
    folder.write("recruitment-note.md", note.markdown.as_bytes())?;
    folder.write("recruitment-note.html", note.html.as_bytes())?;
    Ok(())
}
