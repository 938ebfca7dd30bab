//! Layers of a scenario: the file, what it extends, and options from the command line on top.

use super::data::DataFiles;
use super::draft::Leaf;
use super::given::lenient;
use super::groups::Draft;
use super::input::{self, LARGEST_SCENARIO, contents};
use super::{fault, locate, presets};
use crate::trouble::shown::shortened;
use crate::trouble::{Outcome, Trouble};
use std::path::{Path, PathBuf};

/// Longest chain of `extends` that is followed.
const LONGEST_CHAIN: usize = 8;
/// Deepest nesting of brackets; a real scenario needs eight.
const DEEPEST: usize = 32;
/// Begins the label of a layer that comes from the command line.
const OPTION: &str = "the option";

/// One layer with its text, kept for messages.
#[derive(Debug, Clone)]
struct Layer {
    label: String,
    text: String,
    /// Where in the text the settings stand, such as `variants.2.set.`; empty when the text is a scenario.
    within: String,
}

impl Layer {
    fn whole(label: String, text: String) -> Self {
        Self {
            label,
            text,
            within: String::new(),
        }
    }
}

/// A scenario before it is checked: merged settings and where they came from.
#[derive(Debug, Clone)]
pub struct Layered {
    /// Merged settings.
    pub draft: Draft,
    /// Folder against which file names inside the scenario are read.
    pub folder: PathBuf,
    /// Data files that the settings name, read so far.
    pub data: DataFiles,
    layers: Vec<Layer>,
}

impl Layered {
    /// Reads a scenario by ready name or by path, with everything that it extends.
    ///
    /// # Errors
    /// When the file cannot be read or parsed, or extends something unknown or itself.
    pub fn open(name_or_path: &str) -> Outcome<Self> {
        Self::open_from(name_or_path, Path::new("."))
    }

    /// As [`Layered::open`], with a path that is read from a folder.
    ///
    /// # Errors
    /// As [`Layered::open`].
    pub(super) fn open_from(name_or_path: &str, folder: &Path) -> Outcome<Self> {
        let (label, text, folder) = read_named(name_or_path, folder)?;
        Self::from_text(&label, text, folder)
    }

    /// Reads a scenario from its text.
    ///
    /// # Errors
    /// As [`Layered::open`].
    pub fn from_text(label: &str, text: String, folder: PathBuf) -> Outcome<Self> {
        let mut draft = parse(label, &text)?;
        let mut layers = vec![Layer::whole(label.to_owned(), text)];
        let mut next = draft.extends.clone();
        let mut base_folder = folder.clone();
        while let Some(base) = next {
            let below = extended(&layers, &base, &base_folder)?;
            base_folder = below.folder;
            next = below.draft.extends.clone();
            draft = draft.over(below.draft);
            layers.push(below.layer);
        }
        Ok(Self {
            draft,
            folder,
            data: DataFiles::default(),
            layers,
        })
    }

    /// The merged settings as RON text, from which the same layers can be made again without any other file but data.
    ///
    /// # Errors
    /// When they cannot be written as RON, which no settings that were read should cause.
    pub fn settings(&self) -> Outcome<String> {
        super::as_ron(self.draft.clone())
    }

    /// Puts `path=value` on top, as `--set` and the sweep do. The value is RON, as in a file.
    ///
    /// # Errors
    /// When the path is unknown or the value does not parse.
    pub fn set(&mut self, path: &str, value: &str) -> Outcome<()> {
        let label = format!("{OPTION} {path}={}", shortened(value));
        let names: Vec<&str> = path.trim().split('.').collect();
        let proper = names.iter().all(|name| {
            !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        });
        if !proper {
            return Err(Trouble::new(format!("`{path}` is not a path"))
                .at(label)
                .expected("names joined by dots, such as site.gap_m")
                .remedy("list the paths with `crawlspan check`"));
        }
        if names == ["extends"] {
            return Err(Trouble::new("`extends` cannot be set by an option")
                .at(label)
                .expected("a setting of the site, the species or the study")
                .remedy("name another scenario, or write a file that extends it"));
        }
        if !locate::is_balanced(value) {
            return Err(
                Trouble::new(format!("the brackets of `{value}` do not match"))
                    .at(label)
                    .expected("every bracket opened and closed")
                    .remedy("mend the value, and quote it for the shell"),
            );
        }
        let path_to: Vec<String> = names.iter().map(|name| format!("{name}:")).collect();
        let open = path_to.join("(");
        let close = ")".repeat(names.len() - 1);
        let read = |value: &str| {
            let text = format!("({open}{value}{close})");
            let draft: Outcome<Draft> = guarded(&text).and_then(|()| {
                lenient()
                    .from_str(&text)
                    .map_err(|fault| fault::explained(&fault.code))
            });
            draft.map(|draft| (draft, text))
        };
        // A shell takes quotes away, so that a date or a file name comes bare.
        let bare = || {
            let quotable = !value.contains(['"', '\\']);
            quotable.then(|| read(&format!("\"{}\"", value.trim())).ok())
        };
        let (upper, text) = read(value)
            .or_else(|fault| bare().flatten().ok_or(fault))
            .map_err(|fault| {
                fault
                    .at(label.clone())
                    .remedy("list the paths and their units with `crawlspan check`")
            })?;
        let below = std::mem::take(&mut self.draft);
        self.draft = upper.over(below);
        self.layers.insert(0, Layer::whole(label, text));
        Ok(())
    }

    /// Puts settings on top that stand within a larger text, which messages call by its label: `within` is the path
    /// of the group that holds them, such as `variants.2.set`.
    pub(super) fn put(&mut self, upper: Draft, (label, text): (&str, &str), within: &str) {
        let below = std::mem::take(&mut self.draft);
        self.draft = upper.over(below);
        let layer = Layer {
            label: label.to_owned(),
            text: text.to_owned(),
            within: format!("{within}."),
        };
        self.layers.insert(0, layer);
    }

    /// Adds the numbers that a choice stands for, such as the method of cutting, so that a visit meets them.
    pub fn complete(&mut self) {
        super::checks::fill_cutting(&mut self.draft);
    }

    /// Visits every numeric setting, in the order of the file.
    pub fn visit(&mut self, visitor: &mut dyn FnMut(Leaf<'_>)) {
        self.draft.visit("", visitor);
    }

    /// Adds file and line to a fault that names a dotted path as its place. Any other place stays.
    #[must_use]
    pub fn placed(&self, fault: Trouble) -> Trouble {
        let Some(path) = fault.place.clone() else {
            let label = self.layers.first().map(|layer| layer.label.clone());
            return label.map_or(fault.clone(), |label| fault.at(label));
        };
        if !is_setting(&path) {
            return fault;
        }
        for layer in &self.layers {
            if let Some(line) = locate::line_of(&layer.text, &format!("{}{path}", layer.within)) {
                let place = if layer.label.starts_with(OPTION) {
                    layer.label.clone()
                } else {
                    format!("{}, line {line} ({path})", layer.label)
                };
                return fault.at(place);
            }
        }
        // Nothing sets it: the scenario itself must.
        let own = self
            .layers
            .iter()
            .find(|layer| !layer.label.starts_with(OPTION));
        match own {
            Some(layer) => fault.at(format!("{} ({path})", layer.label)),
            None => fault,
        }
    }
}

/// Whether a place is the dotted path of a setting rather than a file.
fn is_setting(place: &str) -> bool {
    place.split('.').all(|name| {
        !name.is_empty()
            && name
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    })
}

/// What a layer extends.
struct Below {
    layer: Layer,
    draft: Draft,
    folder: PathBuf,
}

fn extended(above: &[Layer], base: &str, folder: &Path) -> Outcome<Below> {
    let place = above.last().map_or_else(String::new, |layer| {
        let line = locate::line_of(&layer.text, "extends").unwrap_or(1);
        format!("{}, line {line} (extends)", layer.label)
    });
    let (label, text, folder) =
        read_named(base, folder).map_err(|fault| fault.at(place.clone()))?;
    if above.iter().any(|layer| layer.label == label) {
        return Err(
            Trouble::new(format!("`extends` runs in a circle: back to `{base}`"))
                .at(place)
                .expected(format!(
                    "a preset or a file that builds on one: {}",
                    presets::names()
                ))
                .remedy("extend a preset directly"),
        );
    }
    if above.len() >= LONGEST_CHAIN {
        return Err(Trouble::new(format!(
            "`extends` goes on for more than {LONGEST_CHAIN} files"
        ))
        .at(place)
        .expected("a chain that ends in a preset")
        .remedy("extend a preset directly"));
    }
    let draft = parse(&label, &text)?;
    Ok(Below {
        layer: Layer::whole(label, text),
        draft,
        folder,
    })
}

/// Refuses what the RON reader should not even be given: its own guard against deep nesting gives no hint.
pub(super) fn guarded(text: &str) -> Outcome<()> {
    if text.trim().is_empty() {
        return Err(Trouble::new("the scenario is empty")
            .expected("a group in parentheses: (name: \"..\", extends: \"..\", ..)")
            .remedy("start with `crawlspan new my-study.ron`"));
    }
    match locate::too_deep(text, DEEPEST) {
        Some((line, column)) => Err(Trouble::new("the brackets nest too deeply")
            .at(format!("line {line}, column {column}"))
            .expected(format!("at most {DEEPEST} levels"))
            .remedy("close the brackets that are open")),
        None => Ok(()),
    }
}

fn parse(label: &str, text: &str) -> Outcome<Draft> {
    guarded(text).map_err(|fault| {
        let place = fault.place.clone().unwrap_or_else(|| "line 1".to_owned());
        fault.at(format!("{label}, {place}"))
    })?;
    lenient()
        .from_str::<Draft>(text)
        .map_err(|fault| fault::placed(label, text, &fault))
}

pub(super) fn read_named(name_or_path: &str, folder: &Path) -> Outcome<(String, String, PathBuf)> {
    if let Some(ready) = presets::find(name_or_path) {
        let label = format!("{} (built in)", ready.name);
        return Ok((label, ready.text.to_owned(), folder.to_owned()));
    }
    if name_or_path.trim().is_empty() {
        return Err(Trouble::new("the name of a scenario is empty")
            .at("where a scenario is named")
            .expected(format!("a RON file, or one of: {}", presets::names()))
            .remedy("name one, or leave the name away for the usual one"));
    }
    // No "./" before a plain name: messages name files as they were typed.
    let path = if folder == Path::new(".") {
        PathBuf::from(name_or_path)
    } else {
        folder.join(name_or_path)
    };
    let label = path.display().to_string();
    let unreadable = |why: String| {
        Trouble::new(format!(
            "the scenario `{name_or_path}` cannot be read: {why}"
        ))
        .at(label.clone())
        .expected(format!("a RON file, or one of: {}", presets::names()))
        .remedy("check the path, or start with `crawlspan new my-study.ron`")
    };
    let bytes = contents(&path, LARGEST_SCENARIO).map_err(unreadable)?;
    let text = input::text(&bytes)
        .map_err(|fault| unreadable(fault.why).at(format!("{label}, line {}", fault.line)))?
        .to_owned();
    let parent = path.parent().unwrap_or(Path::new(".")).to_owned();
    Ok((label, text, parent))
}
