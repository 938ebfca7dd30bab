//! The calendar in words: for the terminal and, with its charts, as a page.

use super::super::charts::Rendered;
use super::super::document::{Block, Figure, Table, page, terminal};
use super::super::text::{CAUTIONS, percent};
use super::{after, day, short_day};
use crate::life::traits::{PHASES, regrowth_lag_weeks};
use crate::plan::Plan;
use crate::scenario::files::days_between;
use crate::scenario::{STAGE_NAMES, STAGES};
use crate::study::calendar::{
    CalendarAnswer, CuttingDate, ENOUGH, EggDay, Settled, Spread, Unknown, settled,
};
use crate::study::measures::Measured;

/// Days between rows of the printed table of eggs.
const EGG_STEP: usize = 7;

/// The calendar for the terminal.
#[must_use]
pub fn text(answer: &CalendarAnswer, plan: &Plan) -> String {
    terminal(&blocks(answer, plan, None))
}

/// The calendar as a page, with its charts: day by day, late-stage counts, net yield.
#[must_use]
pub fn calendar_page(answer: &CalendarAnswer, plan: &Plan, charts: &[Rendered; 3]) -> String {
    page(&blocks(answer, plan, Some(charts)))
}

fn blocks(answer: &CalendarAnswer, plan: &Plan, charts: Option<&[Rendered; 3]>) -> Vec<Block> {
    let mut blocks = vec![
        Block::Title(format!("Calendar: {}", plan.scenario.name)),
        Block::Paragraph(format!(
            "Cut on {}. {}",
            day(answer.cutting),
            regrowth(answer)
        )),
        Block::Heading("What to expect on the regrown stems".to_owned()),
        firsts(answer),
        Block::Paragraph(
            "Counted are only those laid on the cut stems after cutting. Larvae that walk in from uncut stems are there earlier."
                .to_owned(),
        ),
    ];
    figure(&mut blocks, charts.map(|charts| &charts[0]));
    blocks.push(Block::Heading("Weeks to count".to_owned()));
    blocks.push(Block::Paragraph(weeks_to_count(answer)));
    if answer.weeks.run.is_some() {
        blocks.push(weeks_table(answer));
    }
    blocks.push(Block::Heading("An egg, by degree-days".to_owned()));
    blocks.push(eggs(answer));
    blocks.push(Block::Heading(
        "A second round before the decline".to_owned(),
    ));
    blocks.extend(round(answer, plan).into_iter().map(Block::Paragraph));
    blocks.push(Block::Heading("Cutting dates compared".to_owned()));
    blocks.push(dates(answer));
    blocks.extend(recommended(answer).into_iter().map(Block::Paragraph));
    figure(&mut blocks, charts.map(|charts| &charts[1]));
    figure(&mut blocks, charts.map(|charts| &charts[2]));
    blocks.push(Block::Heading("Cautions".to_owned()));
    blocks.push(Block::List(CAUTIONS.map(str::to_owned).to_vec()));
    blocks
}

fn figure(blocks: &mut Vec<Block>, chart: Option<&Rendered>) {
    let Some(chart) = chart else { return };
    blocks.push(Block::Figure(Figure {
        svg: chart.svg.clone(),
        words: format!("Chart: {}. {}", chart.title, chart.note),
    }));
}

fn regrowth(answer: &CalendarAnswer) -> String {
    let shares = &answer.days.regrown;
    let most = shares.last().map_or(0.0, |share| share.mean);
    let by = |share: f64| {
        let reached = |spread: &Spread| most > 0.0 && spread.mean >= share * most;
        shares.iter().position(reached)
    };
    match (by(0.1), by(0.5), by(0.9)) {
        (Some(first), Some(half), Some(nine)) => format!(
            "{} of the cut stems grow again: a tenth of these by {}, half by {}, nine tenths by {}.",
            percent(most),
            day(answer.days.dates[first]),
            day(answer.days.dates[half]),
            day(answer.days.dates[nine])
        ),
        _ => "No cut stem grows again in the season that is followed.".to_owned(),
    }
}

fn stage_name(stage: usize) -> String {
    if stage == 0 {
        "eggs".to_owned()
    } else {
        STAGE_NAMES[stage].to_owned()
    }
}

fn firsts(answer: &CalendarAnswer) -> Block {
    let date = |days: Option<f64>| {
        days.map_or_else(
            || "never".to_owned(),
            |days| {
                format!(
                    "{}\u{a0}(day\u{a0}{days})",
                    short_day(after(answer.cutting, days))
                )
            },
        )
    };
    let rows = (0..STAGES)
        .map(|stage| {
            let first = &answer.days.firsts[stage];
            let most = answer
                .days
                .own
                .iter()
                .map(|row| row[stage])
                .fold(0.0, f64::max);
            vec![
                stage_name(stage),
                date(first.tenth),
                date(first.half),
                date(first.peak),
                format!("{most:.2}"),
            ]
        })
        .collect();
    let header = [
        "stage",
        "there at a tenth\nof sites by",
        "at half of\nsites by",
        "most\non",
        "then per\n100 stems",
    ];
    Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows,
        caption: format!("{} simulated sites", answer.seasons),
    })
}

/// The weeks in a sentence, also the title of the chart.
pub(super) fn weeks_words(answer: &CalendarAnswer) -> String {
    match answer.weeks.run {
        None => "No late-stage larvae of the regrowth are to be seen".to_owned(),
        Some((from, to)) => format!(
            "Weeks {from} to {to} after cutting hold {} of the late-stage larvae of the regrowth",
            percent(answer.weeks.held)
        ),
    }
}

fn weeks_to_count(answer: &CalendarAnswer) -> String {
    let Some((from, to)) = answer.weeks.run else {
        return "No late-stage larvae of the regrowth are to be seen in the season that is followed.".to_owned();
    };
    let date = |week: usize| day(after(answer.cutting, 7.0 * week as f64));
    let mut text = format!(
        "Count in weeks {from} to {to} after cutting, from {} to {}: {} counts. That is the shortest run of weekly counts that \
         holds at least {} of the late-stage larvae to be seen that were laid on the regrown stems; it holds {}.",
        date(from),
        date(to),
        to + 1 - from,
        percent(ENOUGH),
        percent(answer.weeks.held)
    );
    if let Some(own) = answer.weeks.scenario {
        text += &format!(" The survey days of the scenario hold {}.", percent(own));
    }
    if answer.days.is_cut_short {
        text += &format!(
            " Egg-laying is followed to day {} only, not to the end of the flight season: the last weeks are seen too small.",
            answer.days.laying_until_day
        );
    }
    text
}

fn weeks_table(answer: &CalendarAnswer) -> Block {
    let is_seen = |share: &f64| *share >= 0.0005;
    let weeks = answer.weeks.shares.iter().enumerate();
    let rows = weeks
        .filter(|(_, share)| is_seen(share))
        .map(|(index, share)| {
            let week = index + 1;
            let is_in = answer
                .weeks
                .run
                .is_some_and(|(from, to)| (from..=to).contains(&week));
            vec![
                week.to_string(),
                day(after(answer.cutting, 7.0 * week as f64)),
                percent(*share),
                if is_in { "count" } else { "" }.to_owned(),
            ]
        })
        .collect();
    Block::Table(Table {
        header: ["week", "date", "share seen", ""]
            .map(str::to_owned)
            .to_vec(),
        rows,
        caption: String::new(),
    })
}

fn eggs(answer: &CalendarAnswer) -> Block {
    let row = |egg: &EggDay| {
        let date = |day: Option<f64>| {
            day.map_or_else(
                || "-".to_owned(),
                |day| short_day(after(answer.cutting, day)),
            )
        };
        let mut cells = vec![date(Some(egg.day as f64))];
        cells.extend(egg.begins.iter().map(|begins| date(*begins)));
        cells
    };
    let mut header = vec!["egg laid".to_owned()];
    header.extend(STAGE_NAMES[1..].iter().map(|name| (*name).to_owned()));
    header.extend(["leaves to\npupate".to_owned(), "pupates".to_owned()]);
    debug_assert_eq!(header.len(), PHASES + 1);
    Block::Table(Table {
        header,
        rows: answer.eggs.iter().step_by(EGG_STEP).map(row).collect(),
        caption: "when each begins, in a larva of mean rate; -: after the season followed"
            .to_owned(),
    })
}

fn round(answer: &CalendarAnswer, plan: &Plan) -> Vec<String> {
    let answers = &plan.scenario.numbers.answers;
    let rounds = &answer.rounds;
    let lag_days = 7.0 * regrowth_lag_weeks(&plan.scenario);
    let mut list = vec![format!(
        "The flight season is in decline from {}, when it is below {} of its highest. A round is what is laid on fresh stems \
         until they have aged; it is finished when {} of its larvae have pupated. Deaths fall on all alike.",
        day(rounds.decline),
        percent(answers.decline_flight),
        percent(answers.finished_share)
    )];
    if let Some(own) = &rounds.own {
        let finished = own.finished.map_or_else(
            || "it is not finished before the decline".to_owned(),
            |date| format!("it is finished on {}", day(date)),
        );
        list.push(format!(
            "Of the round that begins with the cutting on {}, {} pupates before the decline; {finished}.",
            day(own.cutting),
            percent(own.in_time)
        ));
    }
    list.push(match rounds.last {
        Ok(last) if days_between(answer.cutting, last) as f64 > lag_days => format!(
            "A second round must begin with a cutting on {} at the latest, {} days after the first. What a second cutting destroys of \
             the first round is not reckoned here.",
            day(last),
            days_between(answer.cutting, last)
        ),
        Ok(last) => format!(
            "There is no time for a second round: the last cutting whose round is finished before the decline is on {}, and the stems cut \
             on {} take {lag_days:.0} days to grow back.",
            day(last),
            day(answer.cutting)
        ),
        Err(Unknown::NoneInTime) => "There is no time for a second round: no cutting of this season is early enough.".to_owned(),
        Err(Unknown::StationEnds(date)) => format!(
            "By when a second round must begin is not known: temperatures are known to {} only, and the decline comes later.",
            day(date)
        ),
    });
    list
}

fn figures(measured: &Measured) -> String {
    match (measured.value, measured.interval) {
        (None, _) => "undefined".to_owned(),
        (Some(value), None) => format!("{value:.2}"),
        (Some(value), Some((low, high))) => format!("{value:.2}\u{a0}({low:.2}-{high:.2})"),
    }
}

fn dates(answer: &CalendarAnswer) -> Block {
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

fn recommended(answer: &CalendarAnswer) -> Vec<String> {
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
