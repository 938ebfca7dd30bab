//! `describe`: the scenario as a model description.

use super::args::{Common, DescribeArgs};
use super::context::{Context, layers_of};
use super::say::{say, say_bytes};
use super::stopped::Stopped;
use crate::output::describe::{Model, description};
use crate::output::document::{markdown, page};
use crate::output::text::wrapped;
use crate::plan::Plan;
use crate::scenario::data::DataFile;
use crate::scenario::given::Standing;
use crate::scenario::{Scenario, listed};

pub fn run(args: &DescribeArgs) -> Result<(), Stopped> {
    if args.print {
        let layered = layers_of(&args.machine.origin, &args.scenario, &args.set)?;
        let scenario = Scenario::from_layers(&layered)?;
        let plan = Plan::of(scenario).map_err(|fault| layered.placed(fault))?;
        let files = layered.data.all();
        let model = model(&plan, &files);
        say_bytes(markdown(&description(&model)?).as_bytes());
        return Ok(());
    }
    let common = Common {
        scenario: args.scenario.clone(),
        set: args.set.clone(),
        machine: args.machine.clone(),
        ..Common::default()
    };
    let context = Context::open(&common, |_, _| Ok(()))?;
    let plan = Plan::of(context.scenario.clone())?;
    let files = context.layered.data.all();
    let blocks = description(&model(&plan, &files))?;
    let folder = &context.folder;
    folder.write("description.md", markdown(&blocks).as_bytes())?;
    folder.write("description.html", page(&blocks).as_bytes())?;
    context.write_provenance("describe")?;
    let numbers = listed(&plan.scenario);
    let guesses = numbers
        .iter()
        .filter(|number| number.standing == Standing::Assumed);
    say(wrapped(
        &format!(
            "{} as a model description in the seven elements of the ODD protocol, with {} numbers, {} of them assumed.",
            plan.scenario.name,
            numbers.len(),
            guesses.count()
        ),
        0,
    ));
    context.finish();
    Ok(())
}

fn model<'a>(plan: &'a Plan, files: &'a [DataFile]) -> Model<'a> {
    Model {
        plan,
        files,
        with_program: true,
    }
}
