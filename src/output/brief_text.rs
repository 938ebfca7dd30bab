//! The brief in words, in parts that the terminal and the page share.

use super::document::{Block, terminal};
use super::headline::{Quantity, headline, plain_percent, plain_ratio, reading};
use super::text::{gap_blocks, refuge_blocks, say};
use super::words::CAUTIONS;
use super::yield_text::yields;
use crate::scenario::Listed;
use crate::scenario::given::Standing;
use crate::study::brief::Brief;
use crate::study::measures::MEASURES;
use crate::study::uncertain::{BAND_SETS, Band};

fn own(brief: &Brief, (treated, untouched): (&str, &str), blocks: &mut Vec<Block>) {
    let Some(own) = &brief.own else { return };
    blocks.push(Block::Heading(
        "What this scenario does to the counts".to_owned(),
    ));
    let find = |name: &str| {
        let index = MEASURES.iter().position(|named| named.name == name)?;
        let measured = own.measures.get(index)?;
        measured.value.is_some().then_some(*measured)
    };
    let mut told = |what: &str, (show, unit): Shown, name: &str| {
        let Some(measured) = find(name) else {
            return false;
        };
        let quantity = Quantity {
            what,
            show: &show,
            unit,
        };
        let central = quantity.measured(&measured);
        let band = own_band(brief, name);
        say(
            blocks,
            format!("{}.", headline(&quantity, band.as_ref(), &central)),
        );
        true
    };
    let share: Shown = (plain_percent, "%");
    let ratio: Shown = (plain_ratio, "");
    let over = format!("late-stage larvae per stem, {treated} over {untouched}");
    told("Strays on the treated patch", share, "stray_share_treated");
    told(
        "Strays on the untouched patch",
        share,
        "stray_share_untouched",
    );
    told(
        &format!("Ratio of {over}, by where they hatched"),
        ratio,
        "home_ratio",
    );
    told("The same by where they stand", ratio, "observed_ratio");
    let attenuation = told("Attenuation", ratio, "attenuation");
    // Told already where refuge shares are compared.
    let drift = brief.refuge.is_none() && told("Half drift", share, "half_drift");
    told("Lost beyond the margin, of all eggs", share, "lost_share");
    if attenuation {
        say(
            blocks,
            "Attenuation: crawling leaves this share of the logarithm of the true ratio.",
        );
    }
    if drift {
        say(
            blocks,
            "Half drift: share of the late-stage larvae in the refuge half that were laid in the cut half.",
        );
    }
    let means: Vec<String> = own
        .late_per_survey
        .iter()
        .map(|(patch, mean)| format!("{mean:.2} on the {patch} patch"))
        .collect();
    say(
        blocks,
        format!(
            "Late-stage larvae at a survey, on average with the central numbers: {}. {} seasons.",
            means.join(", "),
            own.seasons
        ),
    );
}

/// How values of a kind are written, and their unit.
type Shown = (fn(f64) -> String, &'static str);

/// The band of a measure of the scenario as it is.
fn own_band(brief: &Brief, name: &str) -> Option<Band> {
    let index = MEASURES.iter().position(|named| named.name == name)?;
    brief.own_bands.as_ref()?.get(index).copied()
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
    /// Where the number of people to invite comes from, for a pair.
    pub people: Vec<Block>,
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
            Block::Paragraph(reading(brief.own_bands.is_some() || brief.band.is_some())),
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
        people: if pair { people() } else { Vec::new() },
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

/// Studies are not simulated here: no number is given, but the command that gives it, band first.
fn people() -> Vec<Block> {
    vec![
        Block::Heading("How many people must be invited?".to_owned()),
        Block::Paragraph(format!(
            "Studies are not simulated for the brief. `crawlspan recruit` does it; `--uncertain {BAND_SETS}` gives the number over \
             plausible parameter sets, which is far less certain than with the central numbers alone."
        )),
    ]
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
        people,
        assumed,
        cautions,
    } = parts;
    terminal(
        &[opening, gap, refuge, own, yields, people, assumed, cautions]
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
