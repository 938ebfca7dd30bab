//! The data files that a scenario names, each read once: what a run saw is what it records, and what it can be made
//! again from.

use super::input::{LARGEST_FILE, contents};
use super::presets;
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Largest file whose text travels with a record, bytes: a year of hourly temperatures is a twentieth of it. Of a larger
/// one the digest travels.
pub const LARGEST_CARRIED: u64 = 4 << 20;

/// A file as it was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DataFile {
    /// Name as the setting gives it.
    pub name: String,
    /// Length, bytes.
    pub bytes: u64,
    /// Hexadecimal SHA-256.
    pub sha256: String,
    /// Its text, if it is text and not too long.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub text: Option<String>,
}

impl DataFile {
    /// A file with some contents.
    #[must_use]
    pub fn of(name: &str, contents: Vec<u8>) -> Self {
        Self {
            name: name.to_owned(),
            bytes: contents.len() as u64,
            sha256: sha256(&contents),
            text: Some(contents)
                .filter(|contents| contents.len() as u64 <= LARGEST_CARRIED)
                .and_then(|contents| String::from_utf8(contents).ok()),
        }
    }
}

/// Hexadecimal SHA-256.
#[must_use]
pub fn sha256(contents: &[u8]) -> String {
    let mut digest = PartDigest::default();
    digest.add(contents);
    digest.hex()
}

/// SHA-256 of what comes in parts.
#[derive(Debug, Clone, Default)]
pub struct PartDigest(Sha256);

impl PartDigest {
    /// Adds a part.
    pub fn add(&mut self, part: &[u8]) {
        self.0.update(part);
    }

    /// Hexadecimal digest of all parts.
    #[must_use]
    pub fn hex(self) -> String {
        self.0
            .finalize()
            .iter()
            .fold(String::new(), |mut text, byte| {
                // Writing to a string cannot fail.
                let _ = write!(text, "{byte:02x}");
                text
            })
    }
}

#[derive(Debug, Default)]
struct State {
    known: BTreeMap<String, DataFile>,
    /// The record whose files these are: no other files may be read.
    record: Option<String>,
}

/// The data files of a scenario and of everything derived from it.
#[derive(Debug, Clone, Default)]
pub struct DataFiles(Arc<Mutex<State>>);

impl DataFiles {
    /// The files of a record, of which the larger ones must still be there with the same contents.
    #[must_use]
    pub fn recorded(record: &str, files: Vec<DataFile>) -> Self {
        let known = files.into_iter().map(|file| (file.name.clone(), file));
        Self(Arc::new(Mutex::new(State {
            known: known.collect(),
            record: Some(record.to_owned()),
        })))
    }

    /// All files read so far, in the order of their names.
    #[must_use]
    pub fn all(&self) -> Vec<DataFile> {
        let state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        state.known.values().cloned().collect()
    }

    /// Contents of a file that is named in a scenario of a folder, with the label by which messages call it.
    ///
    /// # Errors
    /// When it cannot be read, is not part of the record, or is no longer what it was.
    pub fn read(&self, folder: &Path, name: &str) -> Outcome<(String, Vec<u8>)> {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let path: PathBuf = folder.join(name);
        let label = path.display().to_string();
        if let Some(known) = state.known.get(name)
            && let Some(text) = &known.text
        {
            return if sha256(text.as_bytes()) == known.sha256 && text.len() as u64 == known.bytes {
                Ok((label, text.clone().into_bytes()))
            } else {
                Err(changed(&path, known.bytes, &known.sha256))
            };
        }
        if let (None, Some(record)) = (state.known.get(name), &state.record) {
            return Err(Trouble::new(format!("the record has no file `{name}`"))
                .at(record.clone())
                .expected("every data file that the settings name")
                .remedy("make the record anew with this version"));
        }
        let ready = presets::table(name).filter(|_| !path.exists());
        let read = match ready {
            Some(ready) => Ok(ready.text.as_bytes().to_owned()),
            None => contents(&path, LARGEST_FILE),
        };
        let contents = read.map_err(|why| {
            Trouble::new(format!("the file {label} cannot be read: {why}"))
                .at(label.clone())
                .expected("a CSV file with a header line")
                .remedy("check the path, which is read from the scenario's own folder")
        })?;
        match state.known.get(name) {
            None => {
                let file = DataFile::of(name, contents.clone());
                state.known.insert(name.to_owned(), file);
            }
            Some(known) if sha256(&contents) != known.sha256 => {
                return Err(changed(&path, known.bytes, &known.sha256));
            }
            Some(_) => {}
        }
        Ok((label, contents))
    }
}

/// The fault of a file that is no longer what it was.
#[must_use]
pub fn changed(path: &Path, bytes: u64, sha256: &str) -> Trouble {
    let label = path.display().to_string();
    Trouble::new(format!("the file {label} has changed"))
        .at(label)
        .expected(format!("{bytes} bytes with SHA-256 {sha256}"))
        .remedy("put the file back as it was, or run the command itself on the new one")
}
