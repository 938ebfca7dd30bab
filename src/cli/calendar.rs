//! `calendar`: when to cut, and when to count.

use super::args::CalendarArgs;
use super::context::{Context, Left};
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::calendar::{pictures, tables, text};
use crate::plan::Plan;
use crate::study::calendar::{self, CalendarQuestion};

pub fn run(args: &CalendarArgs) -> Result<(), Stopped> {
    let mut chosen = None;
    let context = Context::open(&args.common, |layered, scenario| {
        calendar::check(scenario)?;
        chosen = Some(match &args.cuttings {
            Some(text) => {
                let dates = calendar::parse_dates(text)?;
                calendar::check_dates(layered, &dates)?;
                (dates, 0)
            }
            None => calendar::around(layered, scenario)?,
        });
        Ok(())
    })?;
    let Some((cuttings, left_out)) = chosen else {
        return Err(Stopped::Failed("nothing was read".to_owned()));
    };
    if left_out > 0 {
        tell(format!(
            "note: {left_out} of the weekly dates around the scenario's own are left out, as temperatures are not known"
        ));
    }
    let question = CalendarQuestion {
        cuttings,
        seasons: args.seasons,
    };
    let answer = calendar::answer(
        &context.layered,
        &context.scenario,
        &question,
        &context.runner(),
    );
    let answer = context.simulated(answer, Left::Statistics)?;
    let folder = &context.folder;
    folder.write(tables::DAYS.file, &tables::days(&answer)?)?;
    folder.write(tables::EGGS.file, &tables::eggs(&answer)?)?;
    folder.write(tables::CUTTINGS.file, &tables::cuttings(&answer)?)?;
    let charts = [
        pictures::days(&answer)?,
        pictures::cuttings(&answer)?,
        pictures::yields(&answer)?,
    ];
    for (name, chart) in ["calendar", "cutting-dates", "cutting-dates-yield"]
        .iter()
        .zip(&charts)
    {
        context.write_chart(name, chart)?;
    }
    let plan = Plan::of(context.scenario.clone())?;
    let words = text::text(&answer, &plan);
    folder.write("calendar.txt", format!("{words}\n").as_bytes())?;
    let page = text::calendar_page(&answer, &plan, &charts);
    folder.write("calendar.html", page.as_bytes())?;
    context.write_provenance("calendar")?;
    say(format!("{words}\n"));
    context.finish();
    Ok(())
}
