//! The draw in words, and the announcement before it.

use super::super::document::{Block, Table, terminal};
use super::super::text::{CAUTIONS, COLUMNS, percent};
use super::record::Announcement;
use super::{Drawn, FieldDates, day, half_words};
use crate::scenario::data::sha256;
use crate::study::allot::{Allotted, Arm, Cut, IN_WORDS, Stratum};

/// The draw for the terminal and for `allotment.txt`.
#[must_use]
pub fn text(drawn: &Drawn<'_>) -> String {
    terminal(&blocks(drawn))
}

fn blocks(drawn: &Drawn<'_>) -> Vec<Block> {
    let record = drawn.record;
    let mut blocks = vec![Block::Title(format!("Allotment: {}", record.list.name))];
    if record.example {
        blocks.push(Block::Paragraph(
            "An example: the sites are invented. Name your own list to draw for a study."
                .to_owned(),
        ));
    }
    blocks.push(Block::List(origin(drawn)));
    for stratum in &drawn.allotment.strata {
        sites(drawn, stratum, &mut blocks);
    }
    blocks.push(Block::Heading("Balance".to_owned()));
    blocks.push(balance(&drawn.allotment.strata));
    dates(drawn, &mut blocks);
    blocks.push(Block::Heading("To make the draw again".to_owned()));
    let words = IN_WORDS.map(|words| Block::Paragraph(words.to_owned()));
    blocks.extend(words);
    cautions(&mut blocks);
    blocks
}

fn cautions(blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("Cautions".to_owned()));
    blocks.push(Block::List(CAUTIONS.map(str::to_owned).to_vec()));
}

/// Where the draw comes from.
pub(super) fn origin(drawn: &Drawn<'_>) -> Vec<String> {
    let record = drawn.record;
    let within = match record.list.within.as_slice() {
        [] => "Pairs and single patches are balanced apart; nothing else was asked for.".to_owned(),
        columns => format!(
            "Balanced within {}; pairs and single patches apart.",
            columns.join(" and ")
        ),
    };
    let announced = record.announced.as_ref().map_or_else(
        || {
            "The seed was not announced in this folder before the draw: nothing here shows that no other was tried."
                .to_owned()
        },
        |announced| {
            format!(
                "Announced before: the seed would be {}. Announcement SHA-256 {}.",
                announced.seed_from, announced.sha256
            )
        },
    );
    let mut list = vec![
        format!("{} sites, seed {}.", record.list.sites, record.seed),
        within,
        format!("List SHA-256 {}.", record.list.sha256),
        announced,
    ];
    if let Some(replaced) = &record.replaces {
        list.push(format!(
            "It replaces a draw with seed {} from the list with SHA-256 {} because {}.",
            replaced.seed, replaced.list_sha256, replaced.because
        ));
    }
    list
}

fn sites(drawn: &Drawn<'_>, stratum: &Stratum, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading(format!("Sites: {}", stratum.label)));
    let of_stratum: Vec<&Allotted> = drawn
        .allotment
        .sites
        .iter()
        .filter(|site| site.stratum == stratum.label)
        .collect();
    let rows: Vec<Vec<String>> = of_stratum
        .iter()
        .map(|allotted| {
            let site = &drawn.list.sites[allotted.site];
            vec![
                site.name.clone(),
                site.patches[allotted.arm.treated].clone(),
                allotted.arm.cut.word().to_owned(),
            ]
        })
        .collect();
    let header = ["site", "treated patch", "cut half"].map(str::to_owned);
    if fits(&header, &rows) {
        blocks.push(Block::Table(Table {
            header: header.to_vec(),
            rows,
            caption: String::new(),
        }));
        return;
    }
    let item = |allotted: &&Allotted| {
        let site = &drawn.list.sites[allotted.site];
        format!(
            "{}: treat the {}, cut the {}",
            site.name,
            site.patches[allotted.arm.treated],
            half_words(allotted.arm.cut, site, allotted.arm.treated)
        )
    };
    blocks.push(Block::List(of_stratum.iter().map(item).collect()));
}

/// Whether a table keeps to the columns of the terminal.
fn fits(header: &[String], rows: &[Vec<String>]) -> bool {
    const BETWEEN: usize = 2;
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        let texts = header.get(column).into_iter().chain(cells);
        texts.map(|text| text.chars().count()).max().unwrap_or(0)
    };
    (0..header.len())
        .map(|column| width(column) + BETWEEN)
        .sum::<usize>()
        <= COLUMNS
}

/// Numbers of sites of some strata together, as a row.
fn counted(label: String, strata: &[&Stratum]) -> Vec<String> {
    let count = |of: &[&Stratum], kind: &dyn Fn(Arm) -> bool| -> usize {
        of.iter().map(|stratum| stratum.count(kind)).sum()
    };
    let pair = |one: usize, other: usize| {
        if one + other == 0 {
            "-".to_owned()
        } else {
            format!("{one} / {other}")
        }
    };
    let halves = |one: Cut, other: Cut| {
        let of = |cut: Cut| count(strata, &|arm| arm.cut == cut);
        pair(of(one), of(other))
    };
    let has_two = |stratum: &&&Stratum| stratum.arms.iter().any(|(arm, _)| arm.treated == 1);
    let pairs: Vec<&Stratum> = strata.iter().filter(has_two).copied().collect();
    let treated = |patch: usize| count(&pairs, &|arm| arm.treated == patch);
    vec![
        label,
        count(strata, &|_| true).to_string(),
        pair(treated(0), treated(1)),
        halves(Cut::Towards, Cut::Away),
        halves(Cut::Left, Cut::Right),
    ]
}

/// Numbers of sites by stratum and in all.
fn balance(strata: &[Stratum]) -> Block {
    let mut rows: Vec<Vec<String>> = strata
        .iter()
        .map(|stratum| counted(short(&stratum.label), &[stratum]))
        .collect();
    if strata.len() > 1 {
        let all: Vec<&Stratum> = strata.iter().collect();
        rows.push(counted("all".to_owned(), &all));
    }
    let header = [
        "stratum",
        "sites",
        "first /\nsecond",
        "towards /\naway",
        "left /\nright",
    ];
    Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows,
        caption: "patch treated; half cut".to_owned(),
    })
}

/// A label of a stratum, cut so that the table keeps to the terminal.
fn short(label: &str) -> String {
    const LONGEST: usize = 38;
    if label.chars().count() <= LONGEST {
        return label.to_owned();
    }
    label.chars().take(LONGEST - 2).collect::<String>() + ".."
}

fn dates(drawn: &Drawn<'_>, blocks: &mut Vec<Block>) {
    let scenario = drawn.scenario;
    let dates = FieldDates::of(scenario);
    blocks.push(Block::Heading("Days outdoors".to_owned()));
    let counts: Vec<String> = dates.counts.iter().map(|(date, _)| day(*date)).collect();
    let is_whole = drawn
        .allotment
        .sites
        .iter()
        .all(|site| site.arm.cut == Cut::Whole);
    let refuge = if is_whole {
        ", the treated patches whole".to_owned()
    } else {
        let share = percent(scenario.numbers.site.refuge_share);
        format!(", all of the treated patch but a refuge of {share} of its stems")
    };
    blocks.push(Block::List(vec![
        "Before cutting: mark the halves, and count all stems of every part.".to_owned(),
        format!("Cut on {}{refuge}.", day(dates.cutting)),
        format!("Count on {}.", counts.join(", ")),
        format!(
            "Dates and tools are those of the scenario {}.",
            scenario.name
        ),
    ]));
}

/// The announcement in words, to be sent to others before the seed is known. `json` is the announcement's own file.
#[must_use]
pub fn announcement(announcement: &Announcement, json: &str, sites: &[String]) -> String {
    let list = &announcement.list;
    let within = match list.within.as_slice() {
        [] => String::new(),
        columns => format!(" --within {}", columns.join(",")),
    };
    let mut blocks = vec![
        Block::Title(format!("Announcement of a draw: {}", list.name)),
        Block::Paragraph(
            "Send this to somebody who has no part in the study, or publish it, BEFORE the seed can be known. Only \
             then does it show that no other seed was tried."
                .to_owned(),
        ),
        Block::List(vec![
            format!("The list {} has {} sites and SHA-256 {}.", list.name, list.sites, list.sha256),
            format!("How the seed will come about: {}.", announcement.seed_from),
            format!("The draw: crawlspan allot {}{within} --seed SEED", list.name),
            format!("announcement.json SHA-256 {}.", sha256(json.as_bytes())),
        ]),
        Block::Heading("The sites".to_owned()),
        Block::Paragraph(format!("{}.", sites.join(", "))),
        Block::Heading("The way of drawing".to_owned()),
    ];
    blocks.extend(IN_WORDS.map(|words| Block::Paragraph(words.to_owned())));
    cautions(&mut blocks);
    terminal(&blocks)
}
