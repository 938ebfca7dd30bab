//! The printable recruitment note, as Markdown and as HTML from the same blocks.

use super::super::document::{Block, Table, markdown, page};
use super::super::text::{CAUTIONS, length, percent};
use super::words::{closed_gap, expected, needed, people, reach, short_ratio, siting_price};
use crate::plan::Plan;
use crate::scenario::{LayoutKind, Listed};
use crate::study::recruit::RecruitAnswer;
use crate::study::recruit::band::RecruitBand;
use crate::study::recruit::pool::Comparison;
use crate::study::recruit::power::POWERS;

/// The note in both forms.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Markdown.
    pub markdown: String,
    /// A complete HTML page that names the charts beside it.
    pub html: String,
}

/// Writes the note. `listed` are the numbers of the scenario; `band` over plausible parameter sets, where it was asked for.
#[must_use]
pub fn note(
    answer: &RecruitAnswer,
    band: Option<&RecruitBand>,
    plan: &Plan,
    listed: &[Listed],
) -> Note {
    let mut blocks = vec![Block::Title(format!(
        "Recruitment note: {}",
        plan.scenario.name
    ))];
    number(answer, band, plan, listed, &mut blocks);
    rules(answer, plan, &mut blocks);
    weeks(plan, &mut blocks);
    picture(answer, &mut blocks);
    blocks.push(Block::Heading("What is assumed".to_owned()));
    blocks.push(Block::List(assumed(answer, plan, listed)));
    blocks.push(Block::Heading("Cautions".to_owned()));
    blocks.push(Block::List(
        CAUTIONS
            .iter()
            .map(|caution| (*caution).to_owned())
            .collect(),
    ));
    Note {
        markdown: markdown(&blocks),
        html: page(&blocks),
    }
}

fn number(
    answer: &RecruitAnswer,
    band: Option<&RecruitBand>,
    plan: &Plan,
    listed: &[Listed],
    blocks: &mut Vec<Block>,
) {
    let effect = &answer.effects[answer.side];
    let sizes = &answer.question.sizes;
    let drop_out = plan.scenario.numbers.surveying.drop_out;
    blocks.push(Block::Heading("The number".to_owned()));
    let of = |comparison: Comparison, power: usize| {
        effect
            .curve(comparison)
            .map_or_else(String::new, |curve| needed(&curve.needed[power], sizes))
    };
    for power in (0..POWERS.len()).filter(|_| answer.side > 0) {
        let words = people(answer, band, &effect.name, power);
        blocks.push(Block::Paragraph(format!("{words}.")));
    }
    blocks.push(Block::Paragraph(format!(
        "That holds if the true (home) ratio of late-stage larvae per stem is {}. Each person looks after one pair of patches. The \
         numbers count everybody who is invited: {} of them are expected to drop out, and the weeks that they counted are analysed. \
         In brackets: 95 % intervals of the simulation.",
        short_ratio(effect.home),
        percent(drop_out)
    )));
    blocks.push(Block::Paragraph(format!(
        "With the central numbers: if it is decided beforehand that the counts of those who leave early are left aside, invite {} \
         for 80 % and {} for 90 % power.",
        of(Comparison::LateOfStayers, 0),
        of(Comparison::LateOfStayers, 1)
    )));
    blocks.push(Block::Paragraph(expected(answer, listed)));
    let rows = answer
        .effects
        .iter()
        .skip(1)
        .map(|effect| {
            let of = |comparison, power: usize| {
                effect
                    .curve(comparison)
                    .map_or_else(String::new, |curve| needed(&curve.needed[power], sizes))
            };
            vec![
                effect.name.clone(),
                short_ratio(effect.home),
                short_ratio(effect.counted),
                of(Comparison::Late, 0),
                of(Comparison::Late, 1),
                of(Comparison::Eggs, 0),
            ]
        })
        .collect();
    let header = [
        "Effect",
        "Home ratio",
        "Ratio as counted",
        "Invite for 80 %, central numbers",
        "Invite for 90 %, central numbers",
        "Eggs alone, 80 %, central numbers",
    ];
    blocks.push(Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows,
        caption: String::new(),
    }));
    if !answer.unreachable.is_empty() {
        let ratios: Vec<String> = answer.unreachable.iter().map(f64::to_string).collect();
        blocks.push(Block::Paragraph(format!(
            "Not reachable in this scenario: ratio {}. The attractions tried give {}.",
            ratios.join(", "),
            reach(&answer.pilot)
        )));
    }
    blocks.push(Block::Picture(
        "recruit-power.svg",
        "Power against the number of people invited",
    ));
    for index in 1..answer.effects.len() {
        if let Some(gap) = closed_gap(answer, index) {
            blocks.push(Block::Paragraph(gap));
        }
    }
}

fn rules(answer: &RecruitAnswer, plan: &Plan, blocks: &mut Vec<Block>) {
    let scenario = &plan.scenario;
    let (numbers, population) = (&scenario.numbers, &scenario.population);
    blocks.push(Block::Heading("Which sites to take".to_owned()));
    let cut = match scenario.layout {
        LayoutKind::PairWholeCut => "cut one patch whole, by the toss of a coin".to_owned(),
        _ => format!(
            "cut one patch of the two, by the toss of a coin, except for a refuge of {} of its stems",
            percent(numbers.site.refuge_share)
        ),
    };
    let mut list = vec![
        "Two patches of the host plant at each site, both counted in the same weeks by the same person.".to_owned(),
        format!(
            "At least {} from edge to edge. {} of the pairs offered meet this.",
            length(numbers.recruitment.least_gap_m),
            percent(answer.share_meeting_rule)
        ),
        format!("At each site {cut}."),
        "Count the stems of both patches, and of both halves, BEFORE cutting, and never correct them afterwards.".to_owned(),
    ];
    if population.offered.is_none() {
        list.push(format!(
            "Reckoned with: {} in the two patches together, {}; the larger patch about {:.1} times the smaller.",
            population.stems.words("stems"),
            population.density_per_m2.words("stems a square metre"),
            numbers.recruitment.stem_split_sd.exp()
        ));
    } else {
        list.push("The sites are drawn from the list of sites offered.".to_owned());
    }
    if let Some(price) = siting_price(answer, 3.0, 20.0) {
        list.push(format!(
            "With the central numbers, pairs 3 m apart would need {price:.2} times the sites of pairs 20 m apart."
        ));
    }
    blocks.push(Block::List(list));
    blocks.push(Block::Picture(
        "recruit-siting.svg",
        "Sites needed against the gap of the pairs",
    ));
}

fn weeks(plan: &Plan, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("The weeks".to_owned()));
    let dates: Vec<String> = plan
        .clock
        .surveys
        .iter()
        .map(|time| plan.clock.date(*time).to_string())
        .collect();
    let surveying = &plan.scenario.numbers.surveying;
    blocks.push(Block::List(vec![
        format!("Cut on {}.", plan.scenario.cutting_date),
        format!("Count on {}.", dates.join(", ")),
        format!("Reckoned with: {} of the weeks are missed.", percent(surveying.missed_share)),
        "Do not end early: larvae of the first weeks come from eggs laid before the stems grew back.".to_owned(),
    ]));
}

fn picture(answer: &RecruitAnswer, blocks: &mut Vec<Block>) {
    let Some(example) = &answer.example else {
        return;
    };
    blocks.push(Block::Heading("What the data will look like".to_owned()));
    blocks.push(Block::Paragraph(format!(
        "One simulated study of {} sites. At {} of them no late-stage larva was counted; that is as it should be.",
        example.result.sites,
        example.result.sites - example.result.informative
    )));
    blocks.push(Block::Picture(
        "recruit-example.svg",
        "One simulated study, site by site",
    ));
}

fn assumed(answer: &RecruitAnswer, plan: &Plan, listed: &[Listed]) -> Vec<String> {
    let question = &answer.question;
    let population = &plan.scenario.population;
    let mut list = vec![
        format!(
            "{} studies of simulated seasons at each number of sites, {} site-seasons for each effect; {} test, two-sided, 5 % level.",
            question.studies, question.pool, question.estimator
        ),
        "The effect is set as the attraction of fresh stems and given as the ratio by where larvae hatched; crawling and counting then \
         change it."
            .to_owned(),
        format!("Shade {}.", population.shade_share.words("of the day")),
    ];
    if population.offered.is_none() {
        list.push(format!(
            "Gaps {}, those below the rule left out.",
            population.gap_m.words("m")
        ));
    }
    let own = listed.iter().filter(|number| {
        number.path.starts_with("recruitment.") || number.path.starts_with("surveying.")
    });
    list.extend(own.map(|number| {
        // `surveying.found.l5` is one of six of the same meaning.
        let stage = number
            .path
            .split('.')
            .nth(2)
            .map_or_else(String::new, |stage| format!(", {stage}"));
        let unit = if number.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", number.unit)
        };
        let source = if number.source.is_empty() {
            String::new()
        } else {
            format!("; {}", number.source)
        };
        let range = number.range.map_or_else(String::new, |(low, high)| {
            format!(", plausible {low} to {high}")
        });
        format!(
            "{}{stage}: {}{unit}{range} ({}{source}).",
            number.meaning,
            number.value,
            number.standing.word()
        )
    }));
    list.push(
        "All other numbers of the model, with their standing, are listed by `crawlspan check`."
            .to_owned(),
    );
    list
}
