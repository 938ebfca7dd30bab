//! `check`: validates a scenario and lists every number.

use super::args::CheckArgs;
use super::context::{Stopped, layered};
use crate::output::{tables, text};
use crate::plan::Plan;
use crate::scenario::{Listed, Scenario, listed};
use std::io::Write;

pub fn run(args: &CheckArgs) -> Result<(), Stopped> {
    let scenario = Scenario::from_layers(&layered(&args.scenario, &args.set)?)?;
    let plan = Plan::of(scenario)?;
    let list = listed(&plan.scenario);
    let out = if args.csv {
        tables::numbers(&list)?
    } else {
        table(&plan, &list).into_bytes()
    };
    // A closed pipe, as with `head`, is the reader's choice and no fault.
    let _ = std::io::stdout().write_all(&out);
    Ok(())
}

fn table(plan: &Plan, list: &[Listed]) -> String {
    let scenario = &plan.scenario;
    let mut lines = vec![
        format!("{}: the scenario is sound.", scenario.name),
        text::wrapped(&format!("{} on {}.", scenario.species, scenario.host), 0),
        text::wrapped(
            &format!(
                "Arena {:.0} m by {:.0} m, {} stems, {} days from {}, {} surveys, cut {}.",
                plan.layout.arena_m.0,
                plan.layout.arena_m.1,
                plan.layout.stems(),
                (plan.clock.ticks as f64 / plan.clock.ticks_per_day).round(),
                plan.clock.start,
                plan.clock.surveys.len(),
                scenario.cutting_date
            ),
            0,
        ),
    ];
    let mut group = String::new();
    for number in list {
        let (this, name) = number.path.split_once('.').unwrap_or(("", &number.path));
        if this != group {
            group = this.to_owned();
            lines.push(format!("\n{group}"));
        }
        let range = number
            .range
            .map_or_else(String::new, |(low, high)| format!("{low}..{high}"));
        lines.push(format!(
            "  {name:<28} {:>8} {:<12} {range:<14} {}",
            number.value,
            short_unit(number.unit),
            number.standing.word()
        ));
        if !number.source.is_empty() {
            lines.push(text::wrapped(&number.source, 6));
        }
    }
    lines.push(format!("\n{}", text::wrapped(&text::assumptions(list), 0)));
    lines.join("\n") + "\n"
}

fn short_unit(unit: &str) -> &str {
    match unit {
        "degree-days C" => "degree-days",
        other => other,
    }
}
