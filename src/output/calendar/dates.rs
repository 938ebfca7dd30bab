//! Cutting dates compared, in words.

use super::super::document::{Block, Table};
use super::super::text::percent;
use super::short_day;
use crate::study::calendar::{CalendarAnswer, CuttingDate, Settled, settled};
use crate::study::measures::Measured;

fn figures(measured: &Measured) -> String {
    match (measured.value, measured.interval) {
        (None, _) => "undefined".to_owned(),
        (Some(value), None) => format!("{value:.2}"),
        (Some(value), Some((low, high))) => format!("{value:.2}\u{a0}({low:.2}-{high:.2})"),
    }
}

/// The dates with their figures.
pub(super) fn dates(answer: &CalendarAnswer) -> Block {
    let row = |date: &CuttingDate| {
        let round = answer.rounds.of(date.cutting);
        vec![
            short_day(date.cutting),
            figures(&date.late_cut),
            date.late_beside.map_or_else(
                || "-".to_owned(),
                |late| match late.value {
                    Some(late) => format!("{late:.2}"),
                    None => "undefined".to_owned(),
                },
            ),
            figures(&date.net_yield),
            round.map_or_else(|| "-".to_owned(), |round| percent(round.in_time)),
        ]
    };
    let header = [
        "cut on",
        "late on\ncut stems",
        "on uncut\nstems",
        "net\nyield",
        "pupated\nbefore decline",
    ];
    Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows: answer.dates.iter().map(row).collect(),
        caption: format!(
            "late stage per 100 stems, all surveys; 95 % intervals, {} seasons",
            answer.seasons
        ),
    })
}

fn named(answer: &CalendarAnswer, indices: &[usize]) -> String {
    let names: Vec<String> = indices
        .iter()
        .map(|index| short_day(answer.dates[*index].cutting))
        .collect();
    names.join(", ")
}

fn late(answer: &CalendarAnswer) -> Option<Settled> {
    settled(
        &answer.dates,
        |date| date.late_cut,
        |date| date.late_to_best,
    )
}

fn yields(answer: &CalendarAnswer) -> Option<Settled> {
    settled(
        &answer.dates,
        |date| date.net_yield,
        |date| date.yield_to_best,
    )
}

fn sentence(answer: &CalendarAnswer, settled: Option<&Settled>, what: &str) -> String {
    let Some(settled) = settled else {
        return format!("Nothing is known of the {what}: too little was counted.");
    };
    let best = short_day(answer.dates[settled.best].cutting);
    if answer.dates.len() == 1 {
        format!("Only {best} was tried")
    } else if settled.alike.is_empty() {
        format!("Cut on {best} for the {what}")
    } else if settled.alike.len() + 1 == answer.dates.len() {
        format!("No cutting date is told apart from {best}, which has the {what}")
    } else {
        format!(
            "Cut on {best} for the {what}; not told apart from it: {}",
            named(answer, &settled.alike)
        )
    }
}

/// What the late-stage counts find, also the title of their chart.
pub(super) fn finding(answer: &CalendarAnswer) -> String {
    sentence(
        answer,
        late(answer).as_ref(),
        "most late-stage larvae on cut stems",
    )
}

/// What the net yields find, also the title of their chart.
pub(super) fn yield_finding(answer: &CalendarAnswer) -> String {
    sentence(answer, yields(answer).as_ref(), "highest net yield")
}

/// Says so where the best date is the first or the last one tried.
fn at_the_edge(answer: &CalendarAnswer) -> Option<String> {
    let last = answer.dates.len() - 1;
    let bests = [late(answer), yields(answer)];
    let edges: Vec<usize> = [0, last]
        .into_iter()
        .filter(|edge| bests.iter().flatten().any(|settled| settled.best == *edge))
        .collect();
    let sides: Vec<&str> = edges
        .iter()
        .map(|edge| if *edge == 0 { "earlier" } else { "later" })
        .collect();
    (last > 0 && !edges.is_empty()).then(|| {
        format!(
            "A best date at the edge of those tried ({}) is not known to be the best of all: try {} ones with --cuttings.",
            named(answer, &edges),
            sides.join(" and ")
        )
    })
}

/// What the figures support, and what they do not.
pub(super) fn recommended(answer: &CalendarAnswer) -> Vec<String> {
    let mut list = vec![format!("{}. {}.", finding(answer), yield_finding(answer))];
    if let (Some(late), Some(yields)) = (late(answer), yields(answer)) {
        let of = |settled: &Settled| -> Vec<usize> {
            let mut all = settled.alike.clone();
            all.push(settled.best);
            all.sort_unstable();
            all
        };
        let (late, yields) = (of(&late), of(&yields));
        let both: Vec<usize> = late
            .into_iter()
            .filter(|date| yields.contains(date))
            .collect();
        list.push(match both.as_slice() {
            _ if answer.dates.len() == 1 => String::new(),
            [] => {
                "The two do not agree on a date: it depends on whether counts or larvae come first."
                    .to_owned()
            }
            all if all.len() == answer.dates.len() => {
                "The figures do not choose between these dates; other reasons may.".to_owned()
            }
            some => format!("Both speak for, or not against: {}.", named(answer, some)),
        });
        let below = answer
            .dates
            .iter()
            .filter(|date| date.net_yield.interval.is_some_and(|(_, high)| high < 1.0));
        let below = below.count();
        if below > 0 {
            list.push(format!(
                "At {below} of {} dates fewer larvae pupate per stem than without cutting.",
                answer.dates.len()
            ));
        }
    }
    list.extend(at_the_edge(answer));
    list.retain(|text| !text.is_empty());
    list.push(
        "Only timing differs between the dates: flight season and temperatures are those of the scenario, one year's. Mowing dates \
         are a matter of local law."
            .to_owned(),
    );
    list
}
