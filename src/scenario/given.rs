//! A number as somebody gave it: plain, in a unit of their own, or with range, standing and source.

use super::fault;
use ron::value::RawValue;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

/// How well a value is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Standing {
    /// Seen in a publication, or in a page quoting it.
    Published,
    /// Derived by arithmetic from published values.
    Derived,
    /// Published, but quoted from memory.
    FromMemory,
    /// Common practice with no source.
    Practice,
    /// No source found: an adjustable guess.
    Assumed,
    /// Chosen by the designer of the study, not a fact about nature.
    Chosen,
}

impl Standing {
    /// The word used in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::Derived => "derived",
            Self::FromMemory => "from memory",
            Self::Practice => "common practice",
            Self::Assumed => "assumed",
            Self::Chosen => "chosen",
        }
    }
}

/// A number with what is known about it. The value is in the unit that the field's name ends in.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// The central value.
    pub value: Measure,
    /// Plausible range (lowest, highest), when one is stated; the same unit as the value.
    pub range: Option<(f64, f64)>,
    /// How well it is known; `None` when the file gives just a number.
    pub standing: Option<Standing>,
    /// Where it comes from.
    pub source: Option<String>,
}

/// A number, bare or with its own unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Measure {
    /// In the unit that the field's name ends in.
    Plain(f64),
    /// Yards (0.9144 m).
    Yards(f64),
    /// Feet (0.3048 m).
    Feet(f64),
    /// Inches (0.0254 m).
    Inches(f64),
    /// Metres.
    Metres(f64),
    /// Centimetres.
    Centimetres(f64),
    /// Degrees Fahrenheit.
    Fahrenheit(f64),
    /// Degrees Celsius.
    Celsius(f64),
}

/// Unit that a field is kept in, as far as conversion needs to know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// A length kept in metres.
    Metre,
    /// A length kept in centimetres.
    Centimetre,
    /// A temperature kept in degrees Celsius.
    Celsius,
    /// Anything else: only bare numbers fit.
    Other,
}

impl Dimension {
    /// The dimension of a field whose unit is written so.
    #[must_use]
    pub fn of_unit(unit: &str) -> Self {
        match unit {
            "m" => Self::Metre,
            "cm" => Self::Centimetre,
            "C" => Self::Celsius,
            _ => Self::Other,
        }
    }
}

impl Measure {
    /// The number in the field's own unit, or `None` when the units do not belong together.
    #[must_use]
    pub fn in_unit(self, dimension: Dimension) -> Option<f64> {
        let metres = match self {
            Self::Plain(number) => return Some(number),
            Self::Fahrenheit(f) => {
                return (dimension == Dimension::Celsius).then_some((f - 32.0) / 1.8);
            }
            Self::Celsius(c) => return (dimension == Dimension::Celsius).then_some(c),
            Self::Yards(n) => n * 0.9144,
            Self::Feet(n) => n * 0.3048,
            Self::Inches(n) => n * 0.0254,
            Self::Metres(n) => n,
            Self::Centimetres(n) => n / 100.0,
        };
        match dimension {
            Dimension::Metre => Some(metres),
            Dimension::Centimetre => Some(metres * 100.0),
            Dimension::Celsius | Dimension::Other => None,
        }
    }
}

impl Given {
    /// A bare number that the scenario or an option sets.
    #[must_use]
    pub fn plain(value: f64) -> Self {
        Self {
            value: Measure::Plain(value),
            range: None,
            standing: None,
            source: None,
        }
    }
}

/// The long spelling in a file: `About(value: 0.8, low: 0.3, high: 1.5, standing: Assumed)`.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
enum Spelled {
    About {
        value: f64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        low: Option<f64>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        high: Option<f64>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        standing: Option<Standing>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<String>,
    },
}

const SHAPES: &str = "a number, a number with its unit such as Yards(10), Feet(30), Inches(4) or Fahrenheit(80), \
     or About(value: .., low: .., high: .., standing: .., source: \"..\")";

impl<'de> Deserialize<'de> for Given {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let raw = <Box<RawValue>>::deserialize(deserializer)?;
        let text = raw.get_ron().trim();
        let fault = |what: String, line: usize| {
            let below = text.matches('\n').count() + 1;
            D::Error::custom(fault::with_lines_back(&what, below.saturating_sub(line)))
        };
        if let Ok(number) = ron::from_str::<f64>(text) {
            return Ok(Self::plain(number));
        }
        if text.starts_with("About") {
            return spelled(text).map_err(|(what, line)| fault(what, line));
        }
        match lenient().from_str::<Measure>(text) {
            Ok(Measure::Plain(_)) | Err(_) => Err(fault(
                format!("`{}` is not a number; expected {SHAPES}", shortened(text)),
                1,
            )),
            Ok(value) => Ok(Self {
                value,
                range: None,
                standing: None,
                source: None,
            }),
        }
    }
}

/// RON in which `Some(..)` need not be written.
pub(super) fn lenient() -> ron::Options {
    ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
}

/// The fault comes with its line within the text, from 1.
fn spelled(text: &str) -> Result<Given, (String, usize)> {
    let Spelled::About {
        value,
        low,
        high,
        standing,
        source,
    } = lenient().from_str(text).map_err(|fault| {
        let what = fault::explained(&fault.code).what;
        (format!("{what}; expected {SHAPES}"), fault.span.start.line)
    })?;
    let range = match (low, high) {
        (None, None) => None,
        (Some(low), Some(high)) if low <= value && value <= high => Some((low, high)),
        (Some(low), Some(high)) => {
            return Err((
                format!(
                    "the range {low} to {high} does not run upwards around the value {value}; expected low <= value <= high"
                ),
                1,
            ));
        }
        _ => {
            return Err((
                "a range needs both ends; expected `low` and `high`".to_owned(),
                1,
            ));
        }
    };
    Ok(Given {
        value: Measure::Plain(value),
        range,
        standing,
        source,
    })
}

fn shortened(text: &str) -> String {
    const SHOWN: usize = 40;
    if text.chars().count() <= SHOWN {
        return text.to_owned();
    }
    text.chars().take(SHOWN).chain("..".chars()).collect()
}

impl Serialize for Given {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.range.is_none() && self.standing.is_none() && self.source.is_none() {
            return match self.value {
                Measure::Plain(number) => number.serialize(serializer),
                other => other.serialize(serializer),
            };
        }
        let value = match self.value {
            Measure::Plain(number) => number,
            other => return other.serialize(serializer),
        };
        Spelled::About {
            value,
            low: self.range.map(|range| range.0),
            high: self.range.map(|range| range.1),
            standing: self.standing,
            source: self.source.clone(),
        }
        .serialize(serializer)
    }
}
