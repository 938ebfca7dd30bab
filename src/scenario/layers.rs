//! Layers of a scenario: the file, what it extends, and options from the command line on top.

use super::draft::Leaf;
use super::given::lenient;
use super::groups::Draft;
use super::{locate, presets};
use crate::trouble::{Outcome, Trouble};
use std::path::{Path, PathBuf};

/// Longest chain of `extends` that is followed.
const LONGEST_CHAIN: usize = 8;
/// Largest scenario file that is read, bytes: a thousand times any real one.
const LARGEST_FILE: u64 = 4 << 20;

/// One layer with its text, kept for messages.
#[derive(Debug, Clone)]
struct Layer {
    label: String,
    text: String,
}

/// A scenario before it is checked: merged settings and where they came from.
#[derive(Debug, Clone)]
pub struct Layered {
    /// Merged settings.
    pub draft: Draft,
    /// Folder against which file names inside the scenario are read.
    pub folder: PathBuf,
    layers: Vec<Layer>,
}

impl Layered {
    /// Reads a scenario by ready name or by path, with everything that it extends.
    ///
    /// # Errors
    /// When the file cannot be read or parsed, or extends something unknown or itself.
    pub fn open(name_or_path: &str) -> Outcome<Self> {
        let (label, text, folder) = read_named(name_or_path, Path::new("."))?;
        Self::from_text(&label, text, folder)
    }

    /// Reads a scenario from its text.
    ///
    /// # Errors
    /// As [`Layered::open`].
    pub fn from_text(label: &str, text: String, folder: PathBuf) -> Outcome<Self> {
        let mut draft = parse(label, &text)?;
        let mut layers = vec![Layer {
            label: label.to_owned(),
            text,
        }];
        let mut next = draft.extends.clone();
        let mut base_folder = folder.clone();
        while let Some(base) = next {
            if layers.len() >= LONGEST_CHAIN {
                return Err(Trouble::new(format!(
                    "`extends` goes on for more than {LONGEST_CHAIN} files, perhaps in a circle"
                ))
                .at(label)
                .remedy("extend a preset directly"));
            }
            let (label, text, folder) = read_named(&base, &base_folder)?;
            let below = parse(&label, &text)?;
            base_folder = folder;
            next = below.extends.clone();
            draft = draft.over(below);
            layers.push(Layer { label, text });
        }
        Ok(Self {
            draft,
            folder,
            layers,
        })
    }

    /// Puts `path=value` on top, as `--set` and the sweep do. The value is RON, as in a file.
    ///
    /// # Errors
    /// When the path is unknown or the value does not parse.
    pub fn set(&mut self, path: &str, value: &str) -> Outcome<()> {
        let names: Vec<&str> = path.trim().split('.').collect();
        let proper = names.iter().all(|name| {
            !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        });
        if !proper {
            return Err(Trouble::new(format!("`{path}` is not a path"))
                .expected("names joined by dots, such as site.gap_m")
                .remedy("list the paths with `crawlspan check`"));
        }
        let text = format!(
            "({}{value}{})",
            names
                .iter()
                .map(|name| format!("{name}:"))
                .collect::<Vec<_>>()
                .join("("),
            ")".repeat(names.len() - 1)
        );
        let upper: Draft = lenient().from_str(&text).map_err(|fault| {
            Trouble::new(format!("`{path}={value}` cannot be set: {}", fault.code))
                .at("an option, not a file")
                .remedy("list the paths and their units with `crawlspan check`")
        })?;
        let below = std::mem::take(&mut self.draft);
        self.draft = upper.over(below);
        self.layers.insert(
            0,
            Layer {
                label: format!("the option {path}={value}"),
                text,
            },
        );
        Ok(())
    }

    /// Visits every numeric setting, in the order of the file.
    pub fn visit(&mut self, visitor: &mut dyn FnMut(Leaf<'_>)) {
        self.draft.visit("", visitor);
    }

    /// Adds file and line to a fault that names a dotted path as its place.
    #[must_use]
    pub fn placed(&self, fault: Trouble) -> Trouble {
        let Some(path) = fault.place.clone() else {
            let label = self.layers.first().map(|layer| layer.label.clone());
            return label.map_or(fault.clone(), |label| fault.at(label));
        };
        for layer in &self.layers {
            if let Some(line) = locate::line_of(&layer.text, &path) {
                let place = if layer.label.starts_with("the option") {
                    layer.label.clone()
                } else {
                    format!("{}, line {line} ({path})", layer.label)
                };
                return fault.at(place);
            }
        }
        match self.layers.first() {
            Some(layer) if path.contains('.') => fault.at(format!("{} ({path})", layer.label)),
            _ => fault,
        }
    }
}

fn parse(label: &str, text: &str) -> Outcome<Draft> {
    lenient().from_str::<Draft>(text).map_err(|fault| {
        let start = fault.span.start;
        Trouble::new(fault.code.to_string())
            .at(format!("{label}, line {}, column {}", start.line, start.col))
            .remedy("mend the line; `crawlspan check` on a ready scenario lists every name, unit and range")
    })
}

fn read_named(name_or_path: &str, folder: &Path) -> Outcome<(String, String, PathBuf)> {
    if let Some(ready) = presets::find(name_or_path) {
        let label = format!("{} (built in)", ready.name);
        return Ok((label, ready.text.to_owned(), folder.to_owned()));
    }
    let path = folder.join(name_or_path);
    let label = path.display().to_string();
    let unreadable = |why: String| {
        Trouble::new(format!(
            "the scenario `{name_or_path}` cannot be read: {why}"
        ))
        .at(label.clone())
        .expected(format!("a RON file, or one of: {}", presets::names()))
        .remedy("check the path, or start with `crawlspan new my-study.ron`")
    };
    let length = std::fs::metadata(&path)
        .map_err(|fault| unreadable(fault.to_string()))?
        .len();
    if length > LARGEST_FILE {
        return Err(unreadable(format!(
            "it has {length} bytes, more than {LARGEST_FILE}"
        )));
    }
    let text = std::fs::read_to_string(&path).map_err(|fault| unreadable(fault.to_string()))?;
    let parent = path.parent().unwrap_or(Path::new(".")).to_owned();
    Ok((label, text, parent))
}
