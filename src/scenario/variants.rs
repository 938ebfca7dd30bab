//! Scenarios side by side: named one by one, or as a list of variants of one scenario.

use super::groups::Draft;
use super::layers::{guarded, read_named};
use super::{Layered, checks, fault, files, given, locate, names, presets};
use crate::trouble::{Outcome, Trouble};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// Most variants that are compared: more is a sweep.
pub const MOST_VARIANTS: usize = 40;

/// A scenario among others, before it is checked.
#[derive(Debug, Clone)]
pub struct Variant {
    /// Its name in tables and of its file.
    pub name: String,
    /// What it is, in a few words; the name where nothing is said.
    pub words: String,
    /// Its settings.
    pub layered: Layered,
    /// Where it is named, for messages.
    pub place: String,
}

/// All that is to be compared.
#[derive(Debug, Clone)]
pub struct SideBySide {
    /// Name of the whole, also of the output folder: that of the list, if a single one is named, else `compare`.
    pub name: String,
    /// Name of the variant that the list holds the others against.
    pub against: Option<String>,
    /// The variants; no two of one name.
    pub variants: Vec<Variant>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct VariantList {
    name: String,
    #[serde(default)]
    purpose: Option<String>,
    #[serde(default)]
    scenario: Option<String>,
    #[serde(default)]
    against: Option<String>,
    variants: Vec<VariantEntry>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct VariantEntry {
    name: String,
    #[serde(default)]
    words: Option<String>,
    #[serde(default)]
    scenario: Option<String>,
    #[serde(default)]
    set: Draft,
}

/// Text of a list with the label that messages call it by and its folder.
struct Source {
    label: String,
    text: String,
    folder: PathBuf,
}

impl Source {
    /// Gives a fault that names a path within the list its file and line.
    fn placed(&self, fault: Trouble, path: &str) -> Trouble {
        fault.at(self.place(path))
    }

    fn place(&self, path: &str) -> String {
        match locate::line_of(&self.text, path) {
            Some(line) => format!("{}, line {line} ({path})", self.label),
            None => format!("{} ({path})", self.label),
        }
    }
}

/// Reads scenarios and lists of variants, each by ready name or by path; a RON file with `variants` is a list. Without
/// any, the first ready list. Lists change the scenario `on` instead of their own, if there is one.
///
/// # Errors
/// When something cannot be read or parsed, a name serves twice, or there are too few or too many to compare.
pub fn side_by_side(named: &[String], on: Option<&str>) -> Outcome<SideBySide> {
    let default = [presets::LISTS[0].name.to_owned()];
    let named = if named.is_empty() { &default } else { named };
    let mut all = SideBySide {
        name: "compare".to_owned(),
        against: None,
        variants: Vec::new(),
    };
    let mut lists = 0;
    if named.len() > MOST_VARIANTS {
        return Err(too_many(named.len()).at("the scenarios and lists named"));
    }
    for name in named {
        let source = read(name)?;
        if locate::line_of(&source.text, "variants").is_none() {
            all.variants.push(alone(name, source)?);
            continue;
        }
        let list = list(&source, on)?;
        if named.len() == 1 {
            all.name = list.name;
        }
        if lists == 0 {
            all.against = list.against;
        }
        lists += 1;
        all.variants.extend(list.variants);
    }
    if lists == 0 && on.is_some() {
        return Err(
            Trouble::new("there is no list whose scenario could be another")
                .at("the option --on")
                .expected("a list of variants, such as `layouts`")
                .remedy("leave --on away, or name a list"),
        );
    }
    check(&all)?;
    Ok(all)
}

fn read(name: &str) -> Outcome<Source> {
    if let Some(ready) = presets::find_list(name) {
        return Ok(Source {
            label: format!("{} (built in)", ready.name),
            text: ready.text.to_owned(),
            folder: PathBuf::from("."),
        });
    }
    let (label, text, folder) = read_named(name, Path::new("."))?;
    Ok(Source {
        label,
        text,
        folder,
    })
}

/// A scenario that is named by itself.
fn alone(named: &str, source: Source) -> Outcome<Variant> {
    let layered = Layered::from_text(&source.label, source.text, source.folder)?;
    let name = layered.draft.name.clone();
    Ok(Variant {
        name: name.unwrap_or_else(|| "unnamed".to_owned()),
        words: layered.draft.purpose.clone().unwrap_or_default(),
        layered,
        place: format!("the scenario {named}"),
    })
}

fn list(source: &Source, on: Option<&str>) -> Outcome<SideBySide> {
    guarded(&source.text).map_err(|fault| {
        let place = fault.place.clone().unwrap_or_else(|| "line 1".to_owned());
        fault.at(format!("{}, {place}", source.label))
    })?;
    let list = given::lenient()
        .from_str::<VariantList>(&source.text)
        .map_err(|fault| fault::placed(&source.label, &source.text, &fault))?;
    named(&list.name, "name", source)?;
    checks::words(list.purpose.as_deref(), "purpose")
        .map_err(|fault| source.placed(fault, "purpose"))?;
    let own = list.scenario.as_deref();
    if list.variants.len() > MOST_VARIANTS {
        return Err(source.placed(too_many(list.variants.len()), "variants"));
    }
    let variants = list.variants.into_iter().enumerate();
    let variants = variants
        .map(|(index, entry)| variant(entry, index + 1, source, (on, own)))
        .collect::<Outcome<Vec<_>>>()?;
    Ok(SideBySide {
        name: list.name,
        against: list.against,
        variants,
    })
}

/// One variant of a list; `number` counts from 1.
fn variant(
    entry: VariantEntry,
    number: usize,
    source: &Source,
    (on, own): (Option<&str>, Option<&str>),
) -> Outcome<Variant> {
    let path = format!("variants.{number}");
    named(&entry.name, &format!("{path}.name"), source)?;
    let words = checks::words(entry.words.as_deref(), "words")
        .map_err(|fault| source.placed(fault, &format!("{path}.words")))?;
    let mut layered = match (entry.scenario.as_deref(), on, own) {
        (Some(scenario), _, _) => Layered::open_from(scenario, &source.folder)
            .map_err(|fault| files::placed(fault, &source.place(&format!("{path}.scenario"))))?,
        (None, Some(on), _) => Layered::open(on)?,
        (None, None, Some(own)) => Layered::open_from(own, &source.folder)
            .map_err(|fault| files::placed(fault, &source.place("scenario")))?,
        (None, None, None) => {
            let what = format!(
                "nothing says which scenario the variant `{}` changes",
                entry.name
            );
            return Err(source.placed(
                Trouble::new(what)
                    .expected(
                        "`scenario` in the variant or in the list: a ready name or a RON file",
                    )
                    .remedy("add it, or give the option --on"),
                &format!("{path}.name"),
            ));
        }
    };
    let within = format!("{path}.set");
    if entry.set.name.is_some() || entry.set.extends.is_some() {
        let what = "a variant takes its name and what it builds on from the list, not from `set`";
        return Err(source.placed(
            Trouble::new(what)
                .expected("settings of the site, the species or the study")
                .remedy("use `name` and `scenario` of the variant"),
            &within,
        ));
    }
    layered.put(entry.set, (&source.label, &source.text), &within);
    // A variant stands on its own afterwards: its file is called by its name.
    layered.draft.name = Some(entry.name.clone());
    Ok(Variant {
        words: if words.is_empty() {
            entry.name.clone()
        } else {
            words
        },
        name: entry.name,
        layered,
        place: source.place(&format!("{path}.name")),
    })
}

fn named(name: &str, path: &str, source: &Source) -> Outcome<()> {
    judged(name).map_err(|fault| source.placed(fault, path))
}

fn judged(name: &str) -> Outcome<()> {
    match names::fault_of_short(name) {
        None => Ok(()),
        Some(why) => Err(names::refused(name, "file", why).remedy("rename it")),
    }
}

/// Checks names of a record, which become files, as those that are typed are checked.
///
/// # Errors
/// When one cannot be a file.
pub fn check_recorded<'n>(names: impl IntoIterator<Item = &'n str>, label: &str) -> Outcome<()> {
    let mut names = names.into_iter();
    names.try_for_each(|name| judged(name).map_err(|fault| fault.at(label)))
}

/// Checks that scenarios can stand side by side.
///
/// # Errors
/// When two have the same name but for capitals, or there are too few or too many.
pub fn check(all: &SideBySide) -> Outcome<()> {
    for (index, variant) in all.variants.iter().enumerate() {
        let before = &all.variants[..index];
        let own = names::regardless_of_case(&variant.name);
        let same = |other: &&Variant| names::regardless_of_case(&other.name) == own;
        if let Some(other) = before.iter().find(same) {
            let what = if other.name == variant.name {
                format!("two variants are called `{}`", variant.name)
            } else {
                format!(
                    "the variants `{}` and `{}` differ only in capitals",
                    other.name, variant.name
                )
            };
            return Err(Trouble::new(what)
                .at(variant.place.clone())
                .expected(format!(
                    "a name of its own for every variant; the other is in {}",
                    other.place
                ))
                .remedy("rename one of them"));
        }
    }
    let count = all.variants.len();
    if !(2..=MOST_VARIANTS).contains(&count) {
        return Err(too_many(count).at("the scenarios and lists named"));
    }
    Ok(())
}

/// A number of variants that is too large, or too small.
fn too_many(count: usize) -> Trouble {
    Trouble::new(format!("{count} variants cannot be compared"))
        .expected(format!("2 to {MOST_VARIANTS} variants"))
        .remedy("name more scenarios or a list of variants; for more points use `sweep`")
}
