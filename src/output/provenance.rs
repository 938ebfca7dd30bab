//! How a file came about: enough to make it again.

use crate::runner::Shard;
use crate::scenario::data::{DataFile, sha256};
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Version of the provenance record's own form.
pub const FORM: u32 = 2;

/// The program that did the work. Results of two programs are taken for the same only if all of it is the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Program {
    /// Its name.
    pub program: String,
    /// Its version.
    pub version: String,
    /// Revision of its sources, with `-changed` if they were not committed; `unknown` where there was no git.
    pub revision: String,
    /// Digest of its sources.
    pub sources: String,
    /// How random numbers come about.
    pub generator: String,
    /// Processor and system.
    pub platform: String,
}

impl Program {
    /// The program that is running.
    #[must_use]
    pub fn this() -> Self {
        Self {
            program: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            revision: env!("CRAWLSPAN_REVISION").to_owned(),
            sources: env!("CRAWLSPAN_SOURCES").to_owned(),
            generator:
                "xoshiro256++ seeded by hash of (seed, parameter set, replicate, owner, purpose)"
                    .to_owned(),
            platform: format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
        }
    }
}

/// A scenario as a record holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordedScenario {
    /// Its name.
    #[serde(rename = "scenario")]
    pub name: String,
    /// Hexadecimal SHA-256 of the complete scenario.
    #[serde(rename = "scenario_sha256")]
    pub sha256: String,
    /// What its file extends, as it stands there; the settings hold all of it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub extends: Option<String>,
    /// The complete scenario: what was run, line by line of its RON text.
    pub complete_scenario: Vec<String>,
    /// The settings as merged from all files and options, before choices are filled in: what it is made again from.
    pub settings: Vec<String>,
    /// The data files that the settings name.
    pub data_files: Vec<DataFile>,
}

/// A scenario that was compared with others, as a record holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordedVariant {
    /// Its name.
    pub name: String,
    /// What it is, in a few words.
    pub words: String,
    /// Hexadecimal SHA-256 of the complete scenario.
    pub sha256: String,
    /// The complete scenario: what was run, line by line of its RON text, and what it is made again from.
    pub complete_scenario: Vec<String>,
    /// The data files that it names.
    pub data_files: Vec<DataFile>,
}

/// Scenarios side by side as a record holds them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordedComparison {
    /// Name of the whole, also of the folder.
    #[serde(rename = "comparison")]
    pub name: String,
    /// Name of the variant that the others are held against.
    pub against: String,
    /// The variants.
    pub variants: Vec<RecordedVariant>,
}

/// A table of counts as a record holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordedCounts {
    /// The table as it was named.
    #[serde(rename = "counts")]
    pub name: String,
    /// Hexadecimal SHA-256.
    #[serde(rename = "counts_sha256")]
    pub sha256: String,
    /// Length, bytes.
    #[serde(rename = "counts_bytes")]
    pub bytes: u64,
    /// Its text, if it is not too long.
    #[serde(
        rename = "counts_text",
        skip_serializing_if = "Option::is_none",
        default
    )]
    pub text: Option<String>,
}

/// A command with all that its results depend on but the program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Task {
    /// The command.
    pub command: String,
    /// Its arguments but for those that change no byte of the results: threads, folder, shard.
    pub arguments: Vec<String>,
    /// Master seed.
    pub seed: u64,
    /// The scenario, if it has one.
    #[serde(flatten, skip_serializing_if = "Option::is_none", default)]
    pub scenario: Option<RecordedScenario>,
    /// The scenarios side by side, if it compares some.
    #[serde(flatten, skip_serializing_if = "Option::is_none", default)]
    pub comparison: Option<RecordedComparison>,
    /// The table of counts, if it has one.
    #[serde(flatten, skip_serializing_if = "Option::is_none", default)]
    pub counts: Option<RecordedCounts>,
}

impl Task {
    /// The command as it is typed.
    #[must_use]
    pub fn typed(&self) -> String {
        let quoted = |argument: &String| {
            let plain = |c: char| c.is_ascii_alphanumeric() || "-_=.,:/%+@".contains(c);
            if !argument.is_empty() && argument.chars().all(plain) {
                argument.clone()
            } else {
                format!("'{}'", argument.replace('\'', r"'\''"))
            }
        };
        let words: Vec<String> = self.arguments.iter().map(quoted).collect();
        ["crawlspan".to_owned(), words.join(" ")]
            .join(" ")
            .trim_end()
            .to_owned()
    }
}

/// What a file of pieces says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heading {
    /// The program that made them.
    #[serde(flatten)]
    pub program: Program,
    /// The command that they belong to.
    #[serde(flatten)]
    pub task: Task,
    /// The shard, if they are of one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub shard: Option<Shard>,
}

impl Heading {
    /// The heading as text on one line.
    ///
    /// # Errors
    /// When it cannot be written as JSON, which no heading should cause.
    pub fn text(&self) -> Outcome<String> {
        serde_json::to_string(self).map_err(|fault| unwritable(&fault))
    }

    /// Hexadecimal digest of program and task: the same for all shards of a run.
    ///
    /// # Errors
    /// As [`Heading::text`].
    pub fn digest(&self) -> Outcome<String> {
        let whole = Self {
            shard: None,
            ..self.clone()
        };
        Ok(sha256(whole.text()?.as_bytes()))
    }
}

/// The record beside the files of a command.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Record {
    /// Version of this form.
    pub form: u32,
    /// The program that did the work.
    #[serde(flatten)]
    pub program: Program,
    /// The command.
    #[serde(flatten)]
    pub task: Task,
    /// Whether it went to its end; what an interrupted one wrote is not all.
    pub complete: bool,
    /// Hexadecimal SHA-256 of each file that it wrote before this one, by name.
    pub written: BTreeMap<String, String>,
}

impl Record {
    /// The record as JSON.
    ///
    /// # Errors
    /// When it cannot be written as JSON, which no record should cause.
    pub fn text(&self) -> Outcome<String> {
        serde_json::to_string_pretty(self)
            .map(|text| text + "\n")
            .map_err(|fault| unwritable(&fault))
    }

    /// Reads a record.
    ///
    /// # Errors
    /// When it is none, or has a form that this version does not read.
    pub fn read(text: &str, label: &str) -> Outcome<Self> {
        #[derive(Deserialize)]
        struct Form {
            form: u32,
        }
        let broken = |fault: &serde_json::Error| {
            Trouble::new(format!("this is no record of a run: {fault}"))
                .at(format!("{label}, line {}", fault.line()))
                .expected("a provenance-*.json as a command writes it")
                .remedy("name the record beside the results")
        };
        let form: Form = serde_json::from_str(text).map_err(|fault| broken(&fault))?;
        if form.form != FORM {
            return Err(Trouble::new(format!("the record has form {}", form.form))
                .at(label)
                .expected(format!("form {FORM}"))
                .remedy("run its command with the version that it names"));
        }
        serde_json::from_str(text).map_err(|fault| broken(&fault))
    }
}

fn unwritable(fault: &serde_json::Error) -> Trouble {
    Trouble::new(format!("provenance as JSON: {fault}"))
}

/// A text line by line, so that a record can be read by eye.
#[must_use]
pub fn lines(text: &str) -> Vec<String> {
    text.lines().map(str::to_owned).collect()
}
