//! The brief in words, in parts that the terminal and the page share.

use super::bands;
use super::document::{Block, terminal};
use super::text::{gap_blocks, refuge_blocks, say};
use super::words::{CAUTIONS, measured_percent, measured_ratio};
use super::yield_text::yields;
use crate::scenario::Listed;
use crate::scenario::given::Standing;
use crate::study::brief::Brief;
use crate::study::measures::{MEASURES, Measured};
use crate::study::uncertain::Band;

fn own(brief: &Brief, (treated, untouched): (&str, &str), blocks: &mut Vec<Block>) {
    let Some(own) = &brief.own else { return };
    blocks.push(Block::Heading(
        "What this scenario does to the counts".to_owned(),
    ));
    let find = |name: &str| {
        MEASURES
            .iter()
            .position(|named| named.name == name)
            .and_then(|index| own.measures.get(index))
            .copied()
            .unwrap_or(Measured {
                value: None,
                interval: None,
            })
    };
    for (patch, mean) in &own.late_per_survey {
        say(
            blocks,
            format!("Late-stage larvae on the {patch} patch at a survey: {mean:.2} on average."),
        );
    }
    for (words, name) in [
        ("treated", "stray_share_treated"),
        ("untouched", "stray_share_untouched"),
    ] {
        if find(name).value.is_some() {
            say(
                blocks,
                format!(
                    "Strays on the {words} patch: {}.",
                    measured_percent(&find(name))
                ),
            );
        }
    }
    if find("observed_ratio").value.is_some() || find("home_ratio").value.is_some() {
        say(
            blocks,
            format!(
                "Ratio of late-stage larvae per stem, {treated} over {untouched}: {} by where they stand, {} by where they hatched.",
                measured_ratio(&find("observed_ratio")),
                measured_ratio(&find("home_ratio"))
            ),
        );
        say(
            blocks,
            format!(
                "Attenuation: {}. Crawling leaves this share of the logarithm of the true ratio.",
                measured_ratio(&find("attenuation"))
            ),
        );
        for (what, name) in [
            ("ratio where they hatched", "home_ratio"),
            ("attenuation", "attenuation"),
        ] {
            if let Some(band) = own_band(brief, name) {
                let words = bands::words(&band, ratio);
                say(
                    blocks,
                    format!("If the guesses are wrong, {what}: {words}."),
                );
            }
        }
    }
    // Told already where refuge shares are compared.
    if brief.refuge.is_none() && find("half_drift").value.is_some() {
        say(
            blocks,
            format!(
                "Half drift: {} of the late-stage larvae in the refuge half were laid in the cut half.",
                measured_percent(&find("half_drift"))
            ),
        );
    }
    say(
        blocks,
        format!(
            "Lost beyond the margin: {} of all eggs. {} seasons.",
            measured_percent(&find("lost_share")),
            own.seasons
        ),
    );
}

/// The band of a measure of the scenario as it is.
fn own_band(brief: &Brief, name: &str) -> Option<Band> {
    let index = MEASURES.iter().position(|named| named.name == name)?;
    brief.own_bands.as_ref()?.get(index).copied()
}

fn ratio(value: f64) -> String {
    format!("{value:.2}")
}

/// What a brief is about.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// Title of the brief.
    pub title: &'a str,
    /// What the scenario is for.
    pub purpose: &'a str,
    /// The site in a sentence.
    pub setting: &'a str,
    /// Share of the treated patch that is left.
    pub refuge_share: f64,
}

/// The brief in parts, between which a page puts its charts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BriefParts {
    /// Title, purpose, setting.
    pub opening: Vec<Block>,
    /// How far apart, for a pair.
    pub gap: Vec<Block>,
    /// What the refuge half does, where there is one.
    pub refuge: Vec<Block>,
    /// What the scenario does to the counts.
    pub own: Vec<Block>,
    /// Whether cutting does net good.
    pub yields: Vec<Block>,
    /// Which numbers are guesses.
    pub assumed: Vec<Block>,
    /// Cautions.
    pub cautions: Vec<Block>,
}

/// The brief in parts; `listed` are the numbers of the scenario.
#[must_use]
pub fn brief_parts(subject: &Subject<'_>, brief: &Brief, listed: &[Listed]) -> BriefParts {
    // Two patches are compared where there are two, else the halves of the one.
    let pair = brief
        .own
        .as_ref()
        .is_some_and(|own| own.late_per_survey.len() > 1);
    let sides = if pair {
        ("treated patch", "untouched patch")
    } else {
        ("cut half", "refuge half")
    };
    let mut own_blocks = Vec::new();
    own(brief, sides, &mut own_blocks);
    let mut yield_blocks = Vec::new();
    if let Some(answer) = &brief.yields {
        let index = MEASURES.iter().position(|named| named.name == "net_yield");
        let own = index.and_then(|index| brief.own.as_ref()?.measures.get(index).copied());
        let bands = (own_band(brief, "net_yield"), brief.yield_band.as_ref());
        yields(answer, own, bands, sides, &mut yield_blocks);
    }
    let gap = brief.gap.as_ref();
    let refuge = brief.refuge.as_ref();
    BriefParts {
        opening: vec![
            Block::Title(subject.title.to_owned()),
            Block::Paragraph(subject.purpose.to_owned()),
            Block::Paragraph(subject.setting.to_owned()),
        ],
        gap: gap.map_or_else(Vec::new, |answer| {
            let mut blocks = gap_blocks(answer, brief.band.as_ref());
            let driver = brief.driver.as_ref().map(super::weigh::driver);
            blocks.extend(driver.map(Block::Paragraph));
            blocks
        }),
        refuge: refuge.map_or_else(Vec::new, |points| {
            refuge_blocks(points, subject.refuge_share, brief.refuge_bands.as_deref())
        }),
        own: own_blocks,
        yields: yield_blocks,
        assumed: vec![
            Block::Heading("What is assumed".to_owned()),
            Block::Paragraph(assumptions(listed)),
        ],
        cautions: vec![
            Block::Heading("Cautions".to_owned()),
            Block::List(CAUTIONS.map(str::to_owned).to_vec()),
        ],
    }
}

/// The whole brief as text.
#[must_use]
pub fn brief(parts: &BriefParts) -> String {
    let BriefParts {
        opening,
        gap,
        refuge,
        own,
        yields,
        assumed,
        cautions,
    } = parts;
    terminal(
        &[opening, gap, refuge, own, yields, assumed, cautions]
            .map(Vec::as_slice)
            .concat(),
    )
}

/// Which numbers are guesses, in a paragraph.
#[must_use]
pub fn assumptions(listed: &[Listed]) -> String {
    let guesses: Vec<&Listed> = listed
        .iter()
        .filter(|number| number.standing == Standing::Assumed && number.range.is_some())
        // These only matter to `recruit`, whose note states them one by one.
        .filter(|number| !number.path.starts_with("recruitment."))
        .collect();
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for number in &guesses {
        let (group, rest) = number.path.split_once('.').unwrap_or(("", &number.path));
        let name = rest.split('.').next().unwrap_or(rest);
        match groups.iter_mut().find(|(other, _)| *other == group) {
            Some((_, names)) if names.contains(&name) => {}
            Some((_, names)) => names.push(name),
            None => groups.push((group, vec![name])),
        }
    }
    let words: Vec<String> = groups
        .iter()
        .map(|(group, names)| format!("{group} ({})", names.join(", ")))
        .collect();
    format!(
        "{} of {} numbers are guesses with no source, and the answers hang on them: {}. `crawlspan check` lists each with its range.",
        guesses.len(),
        listed.len(),
        words.join("; ")
    )
}
