//! Which run a file in a folder belongs to: the record that names it tells its digest.
//!
//! A record, `provenance-COMMAND.json`, comes last, when all files that it names are on the disk. Before the first of
//! them is replaced by other bytes, whether by the same command or another one, it is renamed to
//! `earlier-provenance-COMMAND.json`. So a record under its first name is true of all its files at any moment, that of a
//! kill or a power cut included. An earlier one is true of those files whose digests still fit, and its run can still be
//! made again from it; the next complete record of its command takes its place.

use crate::runner::plain;
use crate::scenario::input::LARGEST_FILE;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::{self, Read};
use std::path::Path;

const BEGINS: &str = "provenance-";
const ENDS: &str = ".json";
/// Begins the name of a record some of whose files may have been replaced since.
const EARLIER: &str = "earlier-";

/// Name of the record of a command.
#[must_use]
pub fn name_of(command: &str) -> String {
    format!("{BEGINS}{command}{ENDS}")
}

/// Name under which a record is kept when some of its files are about to be replaced.
#[must_use]
pub fn earlier(name: &str) -> String {
    format!("{EARLIER}{name}")
}

/// What a record says of its files.
#[derive(Debug, Deserialize)]
struct Said {
    #[serde(default)]
    complete: bool,
    written: BTreeMap<String, String>,
}

/// A record in a folder.
#[derive(Debug)]
pub struct Signed {
    /// Its name.
    pub name: String,
    /// Digests of the files that it names.
    pub written: BTreeMap<String, String>,
}

/// What a file says, if it is a record of any version.
fn said(path: &Path) -> Option<Said> {
    let mut bytes = Vec::new();
    plain::open_to_read(path)
        .and_then(|file| file.take(LARGEST_FILE).read_to_end(&mut bytes))
        .ok()?;
    serde_json::from_slice(&bytes).ok()
}

/// The records in a folder that stand under their first names. What is no record signs no file.
///
/// # Errors
/// When the folder cannot be read.
pub fn all_in(folder: &Path) -> io::Result<Vec<Signed>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        if name.starts_with(BEGINS)
            && name.ends_with(ENDS)
            && let Some(said) = said(&folder.join(&name))
        {
            found.push(Signed {
                name,
                written: said.written,
            });
        }
    }
    Ok(found)
}

/// Renames a record, if it is there, before one of its files is replaced. One of a run that was interrupted is removed
/// if a complete one was set aside before it.
///
/// # Errors
/// When the disk refuses.
pub fn set_aside(folder: &Path, name: &str) -> io::Result<()> {
    let (path, aside) = (folder.join(name), folder.join(earlier(name)));
    let is_there = |path: &Path| path.symlink_metadata().is_ok();
    if !is_there(&path) {
        return Ok(());
    }
    let is_complete = || said(&path).is_some_and(|said| said.complete);
    if is_there(&aside) && !is_complete() {
        std::fs::remove_file(&path)?;
    } else {
        std::fs::rename(&path, &aside)?;
    }
    synced(folder);
    Ok(())
}

/// Removes an earlier record of which a new one has taken the place.
pub fn drop_earlier(folder: &Path, name: &str) {
    // If it stays, its digests tell which files it is true of.
    let _ = std::fs::remove_file(folder.join(earlier(name)));
}

/// Forces the names in a folder onto the disk, where the system can.
pub fn synced(folder: &Path) {
    #[cfg(unix)]
    let _ = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
    #[cfg(not(unix))]
    let _ = folder;
}
