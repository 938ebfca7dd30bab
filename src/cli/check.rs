//! `check`: validates a scenario and lists every number.

use super::args::CheckArgs;
use super::context::layered;
use super::say::say_bytes;
use super::stopped::Stopped;
use crate::output::{brief_text, tables, text};
use crate::plan::Plan;
use crate::scenario::{Listed, Scenario, listed};

pub fn run(args: &CheckArgs) -> Result<(), Stopped> {
    let layered = layered(&args.scenario, &args.set)?;
    let scenario = Scenario::from_layers(&layered)?;
    let plan = Plan::of(scenario).map_err(|fault| layered.placed(fault))?;
    let list = listed(&plan.scenario);
    let out = if args.csv {
        tables::numbers(&list)?
    } else {
        table(&plan, &list).into_bytes()
    };
    say_bytes(&out);
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
    lines.push("\nchoices".to_owned());
    lines.extend(
        choices(scenario)
            .into_iter()
            .map(|(name, choice)| text::hanging(&format!("  {name:<24} {choice}"), 27)),
    );
    let mut group = String::new();
    for number in list {
        let (this, name) = number.path.split_once('.').unwrap_or(("", &number.path));
        if this != group {
            group = this.to_owned();
            lines.push(format!("\n{group}"));
        }
        let range = number.range.map_or_else(String::new, |(low, high)| {
            format!("{}..{}", figures(low), figures(high))
        });
        let head = format!(
            "  {name:<31} {:>8} {:<11} {range:<14}",
            figures(number.value),
            short_unit(number.unit),
        );
        let standing = number.standing.word();
        let fits = head.chars().count() + standing.len() < text::COLUMNS;
        lines.push(if fits {
            format!("{head} {standing}")
        } else {
            head.trim_end().to_owned()
        });
        let below = match (fits, number.source.is_empty()) {
            (true, _) => number.source.clone(),
            (false, true) => standing.to_owned(),
            (false, false) => format!("{standing}: {}", number.source),
        };
        if !below.is_empty() {
            lines.push(text::wrapped(&below, 6));
        }
    }
    lines.push(format!(
        "\n{}",
        text::wrapped(&brief_text::assumptions(list), 0)
    ));
    lines.join("\n") + "\n"
}

/// A number with at most six significant figures; the CSV has them all.
fn figures(value: f64) -> String {
    const DECIMALS: usize = 5;
    let scientific = format!("{value:.DECIMALS$e}");
    let rounded: f64 = scientific.parse().unwrap_or(value);
    let plain = rounded.to_string();
    if plain.len() <= scientific.len() {
        plain
    } else {
        format!("{rounded:e}")
    }
}

/// What is chosen rather than measured.
fn choices(scenario: &Scenario) -> Vec<(String, String)> {
    let draft = &scenario.draft;
    let mut list = vec![
        ("site.layout".to_owned(), format!("{:?}", scenario.layout)),
        (
            "site.cut_side".to_owned(),
            format!("{:?}", scenario.cut_side),
        ),
        ("site.between".to_owned(), format!("{:?}", scenario.between)),
        (
            "site.surroundings".to_owned(),
            format!("{:?}", scenario.surroundings),
        ),
        (
            "dates.cutting".to_owned(),
            scenario.cutting_date.to_string(),
        ),
        (
            "cutting.method".to_owned(),
            draft
                .cutting
                .method
                .map_or_else(String::new, |method| format!("{method:?}")),
        ),
        (
            "weather.source".to_owned(),
            draft
                .weather
                .source
                .as_ref()
                .map_or_else(String::new, |source| format!("{source:?}")),
        ),
        (
            "surveying.late_from".to_owned(),
            format!("L{}", scenario.late_from),
        ),
    ];
    let knots = draft
        .laying
        .flight
        .iter()
        .flatten()
        .map(|(day, share)| format!("{day} {share}"));
    list.push((
        "laying.flight".to_owned(),
        knots.collect::<Vec<_>>().join(", "),
    ));
    for patch in &scenario.patches {
        let outline = match &patch.outline {
            crate::scenario::Outline::Polygon(corners) => {
                format!("polygon of {} corners", corners.len())
            }
            other => format!("{other:?}").to_lowercase(),
        };
        let placement = match &patch.placement {
            crate::scenario::StemPlacement::Fixed(_) => "from a file".to_owned(),
            crate::scenario::StemPlacement::Clustered {
                stems_per_cluster,
                spread_m,
            } => format!("in clusters of {stems_per_cluster}, spread {spread_m} m"),
            other => format!("{other:?}").to_lowercase(),
        };
        list.push((
            format!("{} patch", patch.name),
            format!(
                "{:?}, {} stems, {outline}, stems {placement}, on {:?}",
                patch.treatment, patch.numbers.stems, patch.cover
            ),
        ));
    }
    list
}

fn short_unit(unit: &str) -> &str {
    match unit {
        "degree-days C" => "degree-days",
        other => other,
    }
}
