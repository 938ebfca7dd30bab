//! The calendar in words: for the terminal and, with its charts, as a page.

use super::super::charts::Rendered;
use super::super::document::{Block, Figure, Table, page, terminal};
use super::super::text::{CAUTIONS, percent};
use super::dates::{dates, recommended};
use super::{after, day, short_day};
use crate::life::traits::{PHASES, regrowth_lag_weeks};
use crate::plan::Plan;
use crate::scenario::files::days_between;
use crate::scenario::{STAGE_NAMES, STAGES, Temperatures};
use crate::study::calendar::{CalendarAnswer, ENOUGH, EggDay, Spread, Unknown};

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
        Block::Paragraph(weather(&plan.scenario.temperatures)),
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

/// What the dates rest on: a calendar is as good as its temperatures.
fn weather(temperatures: &Temperatures) -> String {
    const STATION: &str = "a station's temperatures (weather: (source: Station(\"station.csv\"))) make them those of a real year";
    match temperatures {
        Temperatures::Constant(mean) => format!(
            "Temperatures: {mean} C at every hour of the year; dates far from the middle of summer mean little, and {STATION}."
        ),
        Temperatures::DailySine(night, day) => format!(
            "Temperatures: {night} to {day} C on every day of the year; dates far from the middle of summer mean little, and \
             {STATION}."
        ),
        Temperatures::Daily(from, _) | Temperatures::Hourly(from, _) => {
            format!("Temperatures: those of a station, from {} on.", day(*from))
        }
    }
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
        if own < answer.weeks.held {
            text += &format!(
                " To count in those weeks, write in the scenario: dates: (first_survey_day: {}, surveys: {}), and let \
                 laying_until_day and run_out_days reach as far.",
                from * 7,
                to + 1 - from
            );
        }
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
                if is_in { "yes" } else { "" }.to_owned(),
            ]
        })
        .collect();
    Block::Table(Table {
        header: ["week", "date", "share seen", "to count"]
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
