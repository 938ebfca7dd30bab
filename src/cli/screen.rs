//! `screen`: which of the sites offered can serve, as a pair, as one patch, or not at all?

use super::args::{Common, NETWORK_SCENARIO, ScreenArgs};
use super::context::{Context, Left};
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::document::{page, terminal};
use crate::output::screen as shown;
use crate::scenario::offered::{OfferedList, read_list_in};
use crate::scenario::{Layered, listed};
use crate::study::screen::{self, ScreenQuestion};
use crate::trouble::{Outcome, Trouble};
use std::path::Path;

/// The list that is screened if none is given.
const EXAMPLE: &str = "tansey-sites.csv";

pub fn run(args: &ScreenArgs) -> Result<(), Stopped> {
    let question = ScreenQuestion {
        seasons: args.seasons,
        direct_up_to: args.direct_up_to,
    };
    let common = Common {
        scenario: args.scenario.clone(),
        set: args.set.clone(),
        seed: args.seed,
        machine: args.machine.clone(),
        shard: args.shard,
    };
    let mut read = None;
    let context = Context::open(&common, |layered, scenario| {
        let list = list(args, layered)?;
        screen::check(scenario, &list, &question)?;
        read = Some(list);
        Ok(())
    })?;
    if args.sites.is_some() && args.scenario == NETWORK_SCENARIO {
        tell(format!(
            "note: your list is judged by the dates and thresholds of the invented study {NETWORK_SCENARIO}; name your own with \
             --scenario"
        ));
    }
    let Some(list) = read else {
        return Err(Stopped::Failed("nothing was read".to_owned()));
    };
    let found = screen::answer(&context.scenario, &list, &question, &context.runner());
    let answer = context.simulated(found, Left::Simulation)?;
    let folder = &context.folder;
    folder.write(shown::SCREENED.file, &shown::screened(&answer)?)?;
    folder.write(
        shown::ACCEPTED.file,
        &shown::accepted(&answer, &list.carried)?,
    )?;
    if let Some(table) = shown::held_out(&answer)? {
        folder.write(shown::HELD_OUT.file, &table)?;
    }
    let chart = shown::chart(&answer).map_err(Trouble::from)?;
    context.write_chart("screen", &chart)?;
    let numbers = listed(&context.scenario);
    let blocks = shown::document(&answer, &numbers, list.tells_permission, &chart);
    let text = terminal(&blocks);
    folder.write("screen.txt", format!("{text}\n").as_bytes())?;
    folder.write("screen.html", page(&blocks).as_bytes())?;
    context.write_provenance("screen")?;
    say(format!("{text}\n"));
    context.finish();
    Ok(())
}

/// Read as a data file of the scenario, the list travels with the record.
fn list(args: &ScreenArgs, layered: &Layered) -> Outcome<OfferedList> {
    let again = args.machine.origin.again.as_ref();
    let folder = again.map_or(Path::new(""), |again| again.data_folder.as_path());
    let name = args.sites.as_ref().map_or_else(
        || EXAMPLE.to_owned(),
        |path| path.to_string_lossy().into_owned(),
    );
    layered.data.read(folder, &name).and_then(read_list_in)
}
