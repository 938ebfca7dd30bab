//! The screening as a document: printed, as text and as a page.

use super::words::{as_what, from_scenario, reasons, remedies};
use crate::output::charts::Rendered;
use crate::output::document::{Block, Figure, Table};
use crate::output::text::{CAUTIONS, percent};
use crate::scenario::Listed;
use crate::scenario::choices::PermissionRule;
use crate::study::screen::verdict::{Fault, Use};
use crate::study::screen::{ScreenAnswer, SurfaceReport};

/// Sites up to which each has its own row and sentences; longer lists have theirs in the tables alone.
const MOST_TOLD: usize = 80;
/// Longest name in the printed table, characters.
const NAME: usize = 24;

/// The document, with the chart in it. `listed` are the numbers of the scenario; `tells_permission` is whether the list
/// has a column for it.
#[must_use]
pub fn document(
    answer: &ScreenAnswer,
    listed: &[Listed],
    tells_permission: bool,
    chart: &Rendered,
) -> Vec<Block> {
    let scenario = answer.grounds.template();
    let mut blocks = vec![
        Block::Title(format!("Screening of offered sites: {}", scenario.name)),
        Block::Paragraph(found(answer)),
        Block::Paragraph(
            "All of it rests on the central numbers; what the guesses leave open is not in it."
                .to_owned(),
        ),
    ];
    if !tells_permission && answer.thresholds.permission == PermissionRule::Needed {
        blocks.push(Block::Paragraph(
            "The list has no column `permission`, so no site can be accepted yet. Add it (yes, no, asked), or look at the sites alone \
             with --set screening.permission=Disregarded."
                .to_owned(),
        ));
    }
    blocks.push(Block::Figure(Figure {
        svg: chart.svg.clone(),
        words: format!("{}. {}", chart.title, chart.note),
    }));
    if answer.sites.len() <= MOST_TOLD {
        blocks.push(Block::Table(rows(answer)));
        told(answer, &mut blocks);
    } else {
        blocks.push(Block::Table(counts(answer)));
        blocks.push(Block::Paragraph(
            "Every site has its figures, reasons and remedies in screen.csv.".to_owned(),
        ));
    }
    blocks.push(Block::Heading("How it was judged".to_owned()));
    blocks.push(Block::List(thresholds(answer, listed)));
    blocks.push(Block::Paragraph(how(answer)));
    if let Some(report) = &answer.surface {
        blocks.push(Block::Paragraph(surface(report)));
    }
    blocks.extend(untold(answer).map(Block::Paragraph));
    blocks.push(Block::Heading("Cautions".to_owned()));
    blocks.push(Block::List(
        CAUTIONS.iter().map(|one| (*one).to_owned()).collect(),
    ));
    blocks
}

fn count(answer: &ScreenAnswer, site_use: Use) -> usize {
    let of = |site: &&crate::study::screen::Screened| site.verdict.site_use == site_use;
    answer.sites.iter().filter(of).count()
}

/// What was found, in a paragraph.
fn found(answer: &ScreenAnswer) -> String {
    let all = answer.sites.len();
    let [pairs, singles, unsuitable] = Use::ALL.map(|site_use| count(answer, site_use));
    let waiting = answer
        .sites
        .iter()
        .filter(|site| {
            let verdict = &site.verdict;
            verdict.site_use == Use::Unsuitable && verdict.if_permitted != Use::Unsuitable
        })
        .count();
    let close = answer.sites.iter().filter(|site| site.verdict.close_call);
    let mut text = format!(
        "{all} {} offered: {pairs} can serve as {}, {singles} as one patch compared by halves, {unsuitable} not.",
        if all == 1 { "site is" } else { "sites are" },
        if pairs == 1 { "a pair" } else { "pairs" },
    );
    if waiting > 0 {
        text += &format!(" Of those, {waiting} would do if their owners allowed it.");
    }
    let close = close.count();
    if close > 0 {
        text += &format!(
            " {close} {} close: a figure that decides has its threshold within its 95\u{a0}% interval.",
            if close == 1 {
                "verdict is"
            } else {
                "verdicts are"
            }
        );
    }
    text
}

fn short(name: &str) -> String {
    if name.chars().count() <= NAME {
        return name.to_owned();
    }
    name.chars().take(NAME - 1).chain(['\u{2026}']).collect()
}

fn rows(answer: &ScreenAnswer) -> Table {
    let header = [
        "site",
        "gap,\nm",
        "stems",
        "strays",
        "false\nratio",
        "late\ncounted",
        "verdict",
    ];
    let cells = answer.sites.iter().enumerate().map(|(index, screened)| {
        let site = &answer.grounds.sites[index];
        let pair = screened.figures.pair.as_ref();
        let verdict = &screened.verdict;
        let stems: Vec<String> = screened
            .patches
            .iter()
            .map(|facts| facts.stems.to_string())
            .collect();
        let counted = match verdict.if_permitted {
            Use::OnePatch => screened.figures.halves.counted,
            Use::Pair | Use::Unsuitable => {
                pair.map_or(screened.figures.halves.counted, |pair| pair.counted)
            }
        };
        vec![
            short(&site.name),
            site.gap_m
                .map_or_else(String::new, |gap| format!("{gap:.1}")),
            stems.join(", "),
            pair.map_or_else(String::new, |pair| {
                let known = pair.worst().share.known_share();
                known.map_or_else(|| "unknown".to_owned(), |share| percent(share.value))
            }),
            pair.map_or_else(String::new, |pair| {
                format!("{:.2}", pair.standing_ratio.value)
            }),
            format!("{:.1}", counted.value),
            format!(
                "{}{}",
                match (verdict.site_use, verdict.if_permitted) {
                    (Use::Unsuitable, Use::Pair) => "pair, if allowed",
                    (Use::Unsuitable, Use::OnePatch) => "one, if allowed",
                    (site_use, _) => as_what(site_use),
                },
                if verdict.close_call { " ?" } else { "" }
            ),
        ]
    });
    Table {
        header: header.map(str::to_owned).to_vec(),
        rows: cells.collect(),
        caption: "strays: the largest share; ratio: with nothing cut; ?: a close verdict"
            .to_owned(),
    }
}

/// Why sites are no pair, how often.
fn counts(answer: &ScreenAnswer) -> Table {
    type Is = fn(&Fault) -> bool;
    let kinds: [(&str, Is); 6] = [
        ("only one patch", |fault| {
            matches!(fault, Fault::OnePatchOnly)
        }),
        ("too few stems", |fault| {
            matches!(fault, Fault::FewStems { .. })
        }),
        ("too unequal in stems", |fault| {
            matches!(fault, Fault::Unequal { .. })
        }),
        ("too many strays", |fault| {
            matches!(fault, Fault::Strays { .. })
        }),
        ("size or shade make a ratio", |fault| {
            matches!(fault, Fault::FalseRatio { .. })
        }),
        ("too few late-stage larvae", |fault| {
            matches!(fault, Fault::FewLarvae { .. })
        }),
    ];
    let with = |is: Is| {
        let has = |site: &&crate::study::screen::Screened| site.verdict.against_pair.iter().any(is);
        answer.sites.iter().filter(has).count()
    };
    Table {
        header: vec!["why no pair".to_owned(), "sites".to_owned()],
        rows: kinds
            .iter()
            .map(|(name, is)| vec![(*name).to_owned(), with(*is).to_string()])
            .collect(),
        caption: "a site may have more than one reason".to_owned(),
    }
}

/// Sentences about each site, by verdict.
fn told(answer: &ScreenAnswer, blocks: &mut Vec<Block>) {
    let headings = [
        (Use::Unsuitable, "Not suitable, and why"),
        (Use::OnePatch, "One patch only, and why"),
        (Use::Pair, "Pairs, but close calls"),
    ];
    // What the table says of a clear pair is all there is to say; screen.csv has it in words.
    let speaks = |index: &usize| {
        let verdict = &answer.sites[*index].verdict;
        verdict.site_use != Use::Pair || verdict.close_call
    };
    for (site_use, heading) in headings {
        let items: Vec<String> = (0..answer.sites.len())
            .filter(|index| answer.sites[*index].verdict.site_use == site_use)
            .filter(speaks)
            .map(|index| {
                let mut words = reasons(answer, index);
                words.extend(remedies(answer, index));
                format!("{}: {}", answer.grounds.sites[index].name, words.join(" "))
            })
            .collect();
        if !items.is_empty() {
            blocks.push(Block::Heading(heading.to_owned()));
            blocks.push(Block::List(items));
        }
    }
}

fn thresholds(answer: &ScreenAnswer, listed: &[Listed]) -> Vec<String> {
    let mut lines: Vec<String> = listed
        .iter()
        .filter(|number| {
            number.path.starts_with("screening.") || number.path == "answers.stray_tolerance"
        })
        .map(|number| {
            let source = if number.source.is_empty() {
                String::new()
            } else {
                format!(": {}", number.source)
            };
            format!(
                "{} {} ({}; {}{source})",
                number.path,
                number.value,
                number.meaning,
                number.standing.word()
            )
        })
        .collect();
    lines.push(
        match answer.thresholds.permission {
            PermissionRule::Needed => "Without its owner's permission no site is suitable.",
            PermissionRule::Disregarded => {
                "Permission is disregarded: judge no site by this alone."
            }
        }
        .to_owned(),
    );
    lines
}

fn how(answer: &ScreenAnswer) -> String {
    format!(
        "A draw is to decide later which patch is treated, so each was treated in turn; the larger stray share counts. Sites that were \
         simulated had up to {} seasons each way, larger ones fewer, with their own gap, sizes, shade and covers; \
         gaps beyond 100 m count as 100 m. A latitude sets the length of the day, hence the hours in which larvae \
         walk, but not the temperature. The false ratio is that of late-stage larvae per stem with nothing cut.",
        answer.question.seasons
    )
}

fn surface(report: &SurfaceReport) -> String {
    let (agree, all) = report.agreement();
    let differences = report.differences().map_or_else(String::new, |(typical, largest)| {
        format!(
            " In the largest stray share they differ by {} in the middle and by {} at most, the simulation's own error included.",
            points(typical),
            points(largest)
        )
    });
    format!(
        "The list is too long to simulate every site. Surfaces were fitted to {} simulated sites of the list and tested on {all} others: \
         the verdicts agree at {agree} of {all}.{differences} Beyond the errors stated, the odds of a stray miss by up to {:.0} % (SD, one \
         standard error above what the held-out sites show), which all intervals include. Of {} sites whose stray share lies within that error of the tolerated one, or that lie beyond the reach of the surfaces, the strays \
         were simulated for themselves.",
        report.anchors.len(),
        100.0 * report.misfit.strays,
        report.simulated_after
    )
}

fn points(difference: f64) -> String {
    format!("{:.2} percentage points", 100.0 * difference)
}

/// What the list does not tell.
fn untold(answer: &ScreenAnswer) -> Option<String> {
    let names = ["area", "shade", "between", "surroundings", "latitude"];
    let parts: Vec<String> = names
        .iter()
        .filter_map(|name| {
            let of =
                |site: &&crate::scenario::offered::OfferedSite| from_scenario(site).contains(name);
            let count = answer.grounds.sites.iter().filter(of).count();
            (count > 0).then(|| format!("{name} of {count}"))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "The list leaves out, and the scenario's own value stands for: {}. Verdicts on these sites are no better than that.",
            parts.join(", ")
        )
    })
}
