//! The figures by which variants are held side by side.

use super::power;
use super::side::Side;
use crate::study::measures::MEASURES;

/// What a difference of two values is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// One minus the other.
    Plain,
    /// Natural logarithm of one minus that of the other: for ratios, and for numbers that only compare as ratios.
    Logarithm,
}

impl Scale {
    /// The difference; `None` where a logarithm is undefined.
    #[must_use]
    pub fn difference(self, value: f64, reference: f64) -> Option<f64> {
        match self {
            Self::Plain => Some(value - reference),
            Self::Logarithm => {
                (value > 0.0 && reference > 0.0).then(|| value.ln() - reference.ln())
            }
        }
    }

    /// Name in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Logarithm => "logarithm",
        }
    }
}

/// How a value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// A share of a whole.
    Share,
    /// A ratio or another pure number.
    Number,
    /// A number of sites.
    Sites,
    /// Hours.
    Hours,
    /// A number of larvae.
    Larvae,
}

/// The study for which power is stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Study {
    /// Late-stage larvae that hatch on a cut stem for each one on a stem of the untouched part; above 0 and not 1.
    pub ratio: f64,
    /// Sites of the study whose power is stated.
    pub sites: u64,
}

/// How many a share looks at, and how many of them it counts.
type Counts = fn(&Side, &[f64]) -> (f64, f64);

/// A figure of a variant.
#[derive(Debug, Clone, Copy)]
pub struct Figure {
    /// Name in tables.
    pub name: &'static str,
    /// Name as a heading.
    pub heading: &'static str,
    /// What it is, in a sentence.
    pub meaning: &'static str,
    /// How it is written.
    pub unit: Unit,
    /// What its differences are.
    pub scale: Scale,
    /// Whether it is printed and drawn; all are in the table.
    pub is_shown: bool,
    value: fn(&Side, &[f64], Study) -> Option<f64>,
    counts: Option<Counts>,
    why: fn(&Side) -> &'static str,
}

/// Power for which sites and hours are stated.
pub const POWER: f64 = 0.8;

const NO_OTHER: &str = "a single patch has no other to stray from; see half drift";
const NOBODY: &str = "no late-stage larva stood there at a survey";

impl Figure {
    /// Its value from pooled sums.
    #[must_use]
    pub fn value(&self, side: &Side, sums: &[f64], study: Study) -> Option<f64> {
        (self.value)(side, sums, study).filter(|value| value.is_finite())
    }

    /// For a share: how many were looked at, and how many of them it counts.
    #[must_use]
    pub fn counts(&self, side: &Side, sums: &[f64]) -> Option<(f64, f64)> {
        self.counts.map(|counts| counts(side, sums))
    }

    /// Why it is undefined for a variant for which it is.
    #[must_use]
    pub fn why_undefined(&self, side: &Side) -> &'static str {
        (self.why)(side)
    }

    /// The figure of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        FIGURES.iter().find(|figure| figure.name == name)
    }
}

fn measure(side: &Side, sums: &[f64], name: &str) -> Option<f64> {
    let named = MEASURES.iter().find(|named| named.name == name)?;
    named.of(&side.contrast, sums)
}

fn patches(side: &Side) -> usize {
    side.contrast.patches()
}

/// Late-stage larvae and strays of the patch with the larger share of them; without any, of the one with fewer larvae.
fn worse_patch(side: &Side, sums: &[f64]) -> (f64, f64) {
    let share = |(all, strays): (f64, f64)| if all > 0.0 { strays / all } else { 0.0 };
    let of = (0..patches(side)).map(|patch| side.contrast.strays(sums, patch));
    of.filter(|(all, _)| *all > 0.0)
        .max_by(|a, b| share(*a).total_cmp(&share(*b)).then(b.0.total_cmp(&a.0)))
        .unwrap_or((0.0, 0.0))
}

fn share_of((all, some): (f64, f64)) -> Option<f64> {
    (all > 0.0).then(|| some / all)
}

fn why_no_ratio(side: &Side) -> &'static str {
    let (treated, untouched) = side.contrast.stems();
    if treated == 0.0 {
        "nothing is treated"
    } else if untouched == 0.0 {
        "nothing is left untouched to compare with"
    } else {
        "one side of the ratio has none"
    }
}

fn why_no_drift(side: &Side) -> &'static str {
    if side.cut_stems == 0.0 {
        "nothing is cut"
    } else if !side.has_refuge {
        "no half is left as a refuge"
    } else {
        "no late-stage larva stood in the refuge half at a survey"
    }
}

fn why_no_power(side: &Side) -> &'static str {
    let (treated, untouched) = side.contrast.stems();
    if side.cut_stems == 0.0 {
        "nothing is cut, so there is no effect to find"
    } else if treated == 0.0 || untouched == 0.0 {
        why_no_ratio(side)
    } else {
        "too few late-stage larvae were counted, or nothing of the effect is left in the counts"
    }
}

fn why_by_patch(side: &Side) -> &'static str {
    if patches(side) > 1 { NOBODY } else { NO_OTHER }
}

/// All figures, in the order of the table.
pub const FIGURES: [Figure; 16] = [
    Figure {
        name: "stray_share",
        heading: "Stray share, worse patch",
        meaning: "Late-stage larvae standing on a patch that were laid on another, on the patch where they are more.",
        unit: Unit::Share,
        scale: Scale::Plain,
        is_shown: true,
        value: |side, sums, _| (patches(side) > 1).then(|| share_of(worse_patch(side, sums)))?,
        counts: Some(worse_patch),
        why: why_by_patch,
    },
    Figure {
        name: "stray_share_treated",
        heading: "Stray share, treated patch",
        meaning: "Late-stage larvae standing on the treated patch that were laid elsewhere.",
        unit: Unit::Share,
        scale: Scale::Plain,
        is_shown: false,
        value: |side, sums, _| measure(side, sums, "stray_share_treated"),
        counts: Some(|side, sums| side.contrast.strays(sums, 0)),
        why: why_by_patch,
    },
    Figure {
        name: "stray_share_untouched",
        heading: "Stray share, untouched patch",
        meaning: "Late-stage larvae standing on the untouched patch that were laid elsewhere.",
        unit: Unit::Share,
        scale: Scale::Plain,
        is_shown: false,
        value: |side, sums, _| measure(side, sums, "stray_share_untouched"),
        counts: Some(|side, sums| {
            if patches(side) > 1 {
                side.contrast.strays(sums, 1)
            } else {
                (0.0, 0.0)
            }
        }),
        why: why_by_patch,
    },
    Figure {
        name: "half_drift",
        heading: "Half drift",
        meaning: "Late-stage larvae in the refuge half that were laid in the cut half.",
        unit: Unit::Share,
        scale: Scale::Plain,
        is_shown: true,
        value: |side, sums, _| {
            // Where nothing is cut there is no line that a larva could cross.
            (side.has_refuge).then(|| measure(side, sums, "half_drift"))?
        },
        counts: Some(|side, sums| side.contrast.drifted(sums)),
        why: why_no_drift,
    },
    Figure {
        name: "home_ratio",
        heading: "Home ratio",
        meaning: "Late-stage larvae per stem by natal patch, treated over untouched; in one patch cut half over refuge half.",
        unit: Unit::Number,
        scale: Scale::Logarithm,
        is_shown: false,
        value: |side, sums, _| measure(side, sums, "home_ratio"),
        counts: None,
        why: why_no_ratio,
    },
    Figure {
        name: "observed_ratio",
        heading: "Observed ratio",
        meaning: "The same by where they stand.",
        unit: Unit::Number,
        scale: Scale::Logarithm,
        is_shown: false,
        value: |side, sums, _| measure(side, sums, "observed_ratio"),
        counts: None,
        why: why_no_ratio,
    },
    Figure {
        name: "attenuation",
        heading: "Attenuation",
        meaning: "What crawling leaves of the logarithm of the home ratio: 1 is all of it.",
        unit: Unit::Number,
        scale: Scale::Plain,
        is_shown: true,
        value: |side, sums, _| measure(side, sums, "attenuation"),
        counts: None,
        why: why_no_ratio,
    },
    Figure {
        name: "net_yield",
        heading: "Net yield",
        meaning: "Larvae reaching pupation per stem, treated over untouched; in one patch cut half over refuge half.",
        unit: Unit::Number,
        scale: Scale::Logarithm,
        is_shown: true,
        value: |side, sums, _| measure(side, sums, "net_yield"),
        counts: None,
        why: why_no_ratio,
    },
    Figure {
        name: "late_counted",
        heading: "Late stage counted at a site",
        meaning: "Late-stage larvae that a volunteer counts at a site over the season, drop-outs included.",
        unit: Unit::Larvae,
        scale: Scale::Logarithm,
        is_shown: false,
        value: |side, sums, _| side.counted_a_site(sums),
        counts: None,
        why: |_| "no season was run",
    },
    Figure {
        name: "standing_ratio",
        heading: "Ratio that stands at surveys",
        meaning: "Late-stage larvae per stem where they stand, treated over untouched, if cut stems bore the ratio that the study is planned for.",
        unit: Unit::Number,
        scale: Scale::Logarithm,
        is_shown: false,
        value: |side, sums, study| Some(power::shown_ratio(side, sums, study.ratio)?.0),
        counts: None,
        why: why_no_power,
    },
    Figure {
        name: "counted_ratio",
        heading: "Ratio counted",
        meaning: "Late-stage larvae counted per stem, treated over untouched, if cut stems bore the ratio that the study is planned for.",
        unit: Unit::Number,
        scale: Scale::Logarithm,
        is_shown: true,
        value: |side, sums, study| power::counted_ratio(side, sums, study.ratio),
        counts: None,
        why: why_no_power,
    },
    Figure {
        name: "signal",
        heading: "Signal of a site",
        meaning: "Logarithm of the ratio counted over the noise of the log ratio of one site; below 0 where it points the wrong way.",
        unit: Unit::Number,
        scale: Scale::Plain,
        is_shown: false,
        value: |side, sums, study| power::signal(side, sums, study.ratio),
        counts: None,
        why: why_no_power,
    },
    Figure {
        name: "power",
        heading: "Power of a study",
        meaning: "Chance that a study of so many sites finds the effect, and the right way round, in the counts of late-stage larvae.",
        unit: Unit::Share,
        scale: Scale::Plain,
        is_shown: true,
        value: |side, sums, study| power::power(side, sums, study.ratio, study.sites as f64),
        counts: None,
        why: why_no_power,
    },
    Figure {
        name: "sites_needed",
        heading: "Sites for a power of 80 %",
        meaning: "Sites to recruit for a power of 80 %, drop-outs included.",
        unit: Unit::Sites,
        scale: Scale::Logarithm,
        is_shown: true,
        value: |side, sums, study| power::sites_needed(side, sums, study.ratio, POWER),
        counts: None,
        why: why_no_power,
    },
    Figure {
        name: "hours_a_site",
        heading: "Volunteer hours at a site",
        meaning: "Hours that one site takes in a season: set-up, cutting, and the surveys that are held.",
        unit: Unit::Hours,
        scale: Scale::Plain,
        is_shown: true,
        value: |side, sums, _| side.hours(sums),
        counts: None,
        why: |_| "no season was run",
    },
    Figure {
        name: "hours_needed",
        heading: "Volunteer hours for a power of 80 %",
        meaning: "Sites for a power of 80 % times the hours at a site.",
        unit: Unit::Hours,
        scale: Scale::Logarithm,
        is_shown: true,
        value: |side, sums, study| {
            let sites = power::sites_needed(side, sums, study.ratio, POWER)?;
            Some(sites * side.hours(sums)?)
        },
        counts: None,
        why: why_no_power,
    },
];
