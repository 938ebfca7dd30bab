//! The machinery of a draft: what was typed, layer upon layer, before it is checked.

use super::given::{Dimension, Given};
use crate::trouble::shown::is_unseen;
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};

/// Number of stages: egg and five instars.
pub const STAGES: usize = 6;

/// Names of the stages, in order.
pub const STAGE_NAMES: [&str; STAGES] = ["egg", "L1", "L2", "L3", "L4", "L5"];

/// One value a stage: egg, L1 .. L5.
pub type PerStage = [f64; STAGES];

/// What a number means and which values make sense at all.
#[derive(Debug, Clone, Copy)]
pub struct Meaning {
    /// Unit, as written after values; empty for a pure number.
    pub unit: &'static str,
    /// Lowest value that makes sense.
    pub lowest: f64,
    /// Highest value that makes sense.
    pub highest: f64,
    /// What it is, in words.
    pub words: &'static str,
}

/// A numeric field of a draft on a visit.
pub struct Leaf<'a> {
    /// Dotted path, such as `walking.speed_cm_per_s.l5`.
    pub path: String,
    /// What it means.
    pub meaning: Meaning,
    /// The field itself.
    pub given: &'a mut Option<Given>,
}

/// The values of a staged field as typed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Staged {
    #[serde(skip_serializing_if = "Option::is_none")]
    egg: Option<Given>,
    #[serde(skip_serializing_if = "Option::is_none")]
    l1: Option<Given>,
    #[serde(skip_serializing_if = "Option::is_none")]
    l2: Option<Given>,
    #[serde(skip_serializing_if = "Option::is_none")]
    l3: Option<Given>,
    #[serde(skip_serializing_if = "Option::is_none")]
    l4: Option<Given>,
    #[serde(skip_serializing_if = "Option::is_none")]
    l5: Option<Given>,
}

impl Staged {
    fn fields(&mut self) -> [(&'static str, &mut Option<Given>); STAGES] {
        [
            ("egg", &mut self.egg),
            ("l1", &mut self.l1),
            ("l2", &mut self.l2),
            ("l3", &mut self.l3),
            ("l4", &mut self.l4),
            ("l5", &mut self.l5),
        ]
    }

    /// These values where given, else those of `base`.
    #[must_use]
    pub fn over(self, base: Self) -> Self {
        Self {
            egg: over_given(self.egg, base.egg),
            l1: over_given(self.l1, base.l1),
            l2: over_given(self.l2, base.l2),
            l3: over_given(self.l3, base.l3),
            l4: over_given(self.l4, base.l4),
            l5: over_given(self.l5, base.l5),
        }
    }

    /// Visits the six fields.
    pub fn visit(&mut self, path: &str, meaning: Meaning, visitor: &mut dyn FnMut(Leaf<'_>)) {
        for (stage, given) in self.fields() {
            visitor(Leaf {
                path: format!("{path}.{stage}"),
                meaning,
                given,
            });
        }
    }

    /// The checked values; a missing egg stage counts as 0, as eggs neither walk nor eat.
    ///
    /// # Errors
    /// When a larval stage is missing or a value makes no sense.
    pub fn resolve(&self, path: &str, meaning: Meaning) -> Outcome<PerStage> {
        let given = [&self.egg, &self.l1, &self.l2, &self.l3, &self.l4, &self.l5];
        let names = ["egg", "l1", "l2", "l3", "l4", "l5"];
        let mut values = [0.0; STAGES];
        for (index, (value, name)) in values.iter_mut().zip(names).enumerate() {
            if index == 0 && given[0].is_none() {
                continue;
            }
            *value = resolve_number(given[index].as_ref(), &format!("{path}.{name}"), meaning)?;
        }
        Ok(values)
    }
}

/// The upper value where there is one. A bare number keeps what the base says about range and source only
/// if it is the same number: a changed value is the scenario's own choice.
#[must_use]
pub fn over_given(upper: Option<Given>, base: Option<Given>) -> Option<Given> {
    upper.or(base)
}

/// Checks one number and brings it into its field's unit.
///
/// # Errors
/// When it is missing, not finite, in a unit that does not fit, or outside what makes sense.
pub fn resolve_number(given: Option<&Given>, path: &str, meaning: Meaning) -> Outcome<f64> {
    let Some(given) = given else {
        return Err(Trouble::new(format!("`{path}` has no value"))
            .at(path)
            .expected(meaning.range_words())
            .remedy("give it a value, or extend a preset that does"));
    };
    let Some(value) = given.value.in_unit(Dimension::of_unit(meaning.unit)) else {
        return Err(
            Trouble::new(format!("`{path}` is given in a unit that does not fit"))
                .at(path)
                .expected(format!("a value in {}", meaning.unit_words()))
                .remedy("use a plain number, or a unit of the same kind"),
        );
    };
    let value = meaning.checked(value, path)?;
    // A long source may be written on several lines.
    let is_odd = |sign| is_unseen(sign) && sign != '\n';
    if given
        .source
        .as_deref()
        .is_some_and(|source| source.chars().any(is_odd))
    {
        return Err(
            Trouble::new(format!("the source of `{path}` holds control characters"))
                .at(path)
                .expected("plain text")
                .remedy("remove them"),
        );
    }
    if let Some((low, high)) = given.range
        && (low < meaning.lowest || high > meaning.highest || !low.is_finite() || !high.is_finite())
    {
        return Err(
            Trouble::new(format!("the range of `{path}` is {low} to {high}"))
                .at(path)
                .expected(meaning.range_words())
                .remedy("narrow the range"),
        );
    }
    Ok(value)
}

impl Meaning {
    /// The unit in words fit for a sentence.
    #[must_use]
    pub fn unit_words(&self) -> &'static str {
        if self.unit.is_empty() {
            "a pure number"
        } else {
            self.unit
        }
    }

    /// A value of the field named, if it makes sense; the one place that says so, wherever the value comes from.
    ///
    /// # Errors
    /// When it is not finite, or outside what makes sense.
    pub fn checked(&self, value: f64, name: &str) -> Outcome<f64> {
        if (self.lowest..=self.highest).contains(&value) {
            // A negative zero is a zero.
            return Ok(value + 0.0);
        }
        Err(Trouble::new(format!("`{name}` is {value}"))
            .at(name)
            .expected(self.range_words())
            .remedy(format!("change the value ({})", self.words)))
    }

    /// The limits in words, with the unit.
    #[must_use]
    pub fn range_words(&self) -> String {
        format!(
            "a number from {} to {}{}{}",
            self.lowest,
            self.highest,
            if self.unit.is_empty() { "" } else { " " },
            self.unit
        )
    }
}

/// Declares a group of settings: the draft as typed, its layering, its visit, and the checked numbers.
macro_rules! settings {
    (
        $(#[$doc:meta])*
        $draft:ident => $checked:ident {
            $(numbers { $($n:ident : $nu:literal, $nl:expr, $nh:expr, $nw:literal;)* })?
            $(stages { $($s:ident : $su:literal, $sl:expr, $sh:expr, $sw:literal;)* })?
            $(choices { $($c:ident : $ct:ty, $cw:literal;)* })?
            $(groups { $($g:ident : $gt:ident => $gc:ident, $gw:literal;)* })?
        }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct $draft {
            $($(
                #[doc = concat!($nw, " (", $nu, ")")]
                #[serde(skip_serializing_if = "Option::is_none")]
                pub $n: Option<$crate::scenario::given::Given>,
            )*)?
            $($(
                #[doc = concat!($sw, " (", $su, ")")]
                pub $s: $crate::scenario::draft::Staged,
            )*)?
            $($(
                #[doc = $cw]
                #[serde(skip_serializing_if = "Option::is_none")]
                pub $c: Option<$ct>,
            )*)?
            $($(
                #[doc = $gw]
                pub $g: $gt,
            )*)?
        }

        impl $draft {
            /// These settings where given, else those of `base`.
            #[must_use]
            pub fn over(self, base: Self) -> Self {
                Self {
                    $($($n: $crate::scenario::draft::over_given(self.$n, base.$n),)*)?
                    $($($s: self.$s.over(base.$s),)*)?
                    $($($c: self.$c.or(base.$c),)*)?
                    $($($g: self.$g.over(base.$g),)*)?
                }
            }

            /// Visits every numeric field under a path.
            #[allow(unused_variables)]
            pub fn visit(
                &mut self,
                path: &str,
                visitor: &mut dyn FnMut($crate::scenario::draft::Leaf<'_>),
            ) {
                $($(visitor($crate::scenario::draft::Leaf {
                    path: $crate::scenario::draft::join(path, stringify!($n)),
                    meaning: Self::meaning_of(stringify!($n)),
                    given: &mut self.$n,
                });)*)?
                $($(self.$s.visit(
                    &$crate::scenario::draft::join(path, stringify!($s)),
                    Self::meaning_of(stringify!($s)),
                    visitor,
                );)*)?
                $($(self.$g.visit(
                    &$crate::scenario::draft::join(path, stringify!($g)),
                    visitor,
                );)*)?
            }

            #[allow(dead_code)]
            fn meaning_of(field: &str) -> $crate::scenario::draft::Meaning {
                #[allow(unused_imports)]
                use $crate::scenario::draft::Meaning;
                match field {
                    $($(stringify!($n) => Meaning {
                        unit: $nu, lowest: $nl, highest: $nh, words: $nw,
                    },)*)?
                    $($(stringify!($s) => Meaning {
                        unit: $su, lowest: $sl, highest: $sh, words: $sw,
                    },)*)?
                    _ => Meaning { unit: "", lowest: f64::MIN, highest: f64::MAX, words: "" },
                }
            }

            /// The checked numbers, in the units of their names.
            ///
            /// # Errors
            /// When a number is missing or makes no sense.
            #[allow(unused_variables)]
            pub fn resolve(&self, path: &str) -> $crate::trouble::Outcome<$checked> {
                Ok($checked {
                    $($($n: $crate::scenario::draft::resolve_number(
                        self.$n.as_ref(),
                        &$crate::scenario::draft::join(path, stringify!($n)),
                        Self::meaning_of(stringify!($n)),
                    )?,)*)?
                    $($($s: self.$s.resolve(
                        &$crate::scenario::draft::join(path, stringify!($s)),
                        Self::meaning_of(stringify!($s)),
                    )?,)*)?
                    $($($g: self.$g.resolve(
                        &$crate::scenario::draft::join(path, stringify!($g)),
                    )?,)*)?
                })
            }
        }

        #[doc = concat!("Checked numbers of [`", stringify!($draft), "`].")]
        #[derive(Debug, Clone, PartialEq)]
        pub struct $checked {
            $($(
                #[doc = concat!($nw, " (", $nu, ")")]
                pub $n: f64,
            )*)?
            $($(
                #[doc = concat!($sw, " (", $su, ")")]
                pub $s: $crate::scenario::draft::PerStage,
            )*)?
            $($(
                #[doc = $gw]
                pub $g: $gc,
            )*)?
        }
    };
}
pub(super) use settings;

/// Joins a path and a field.
#[must_use]
pub fn join(path: &str, field: &str) -> String {
    if path.is_empty() {
        field.to_owned()
    } else {
        format!("{path}.{field}")
    }
}

/// What the number at a path means, with its limits; `None` if there is no such number.
#[must_use]
pub fn meaning_at(path: &str) -> Option<Meaning> {
    let mut found = None;
    super::groups::Draft::default().visit("", &mut |leaf: Leaf<'_>| {
        if leaf.path == path {
            found = Some(leaf.meaning);
        }
    });
    found
}

/// Checks a value that takes the place of a setting but does not come as one, such as a value of an option.
///
/// # Errors
/// As [`Meaning::checked`], at the place named.
pub fn check_as(path: &str, value: f64, place: &str) -> Outcome<f64> {
    let Some(meaning) = meaning_at(path) else {
        return Err(Trouble::new(format!("`{path}` is no setting")).at(place));
    };
    meaning
        .checked(value, path)
        .map_err(|fault| fault.at(place))
}
