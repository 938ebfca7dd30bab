//! Where a command keeps its finished pieces, and what it says about them.

use super::origin::Origin;
use super::say::tell;
use crate::output::files::Folder;
use crate::output::provenance::Heading;
use crate::runner::{Found, Journal, Pieces};
use crate::trouble::{Outcome, Trouble};
use std::path::{Path, PathBuf};

/// Ending of a file of pieces.
pub const ENDING: &str = ".pieces";
/// Begins the name of the file of a run that is not shared out.
const KEPT: &str = "kept-";
/// Begins the name of the file of a shard.
const SHARD: &str = "shard-";
/// Hexadecimal digits of the digest that a name holds, so that pieces of two commands lie side by side.
const DIGITS: usize = 8;

/// Name of the file of pieces of a run or shard.
fn name_of(heading: &Heading) -> Outcome<String> {
    let digest = heading.digest()?;
    let tail = format!("{}-{}{ENDING}", heading.task.command, &digest[..DIGITS]);
    Ok(match heading.shard {
        None => format!("{KEPT}{tail}"),
        Some(shard) => format!("{SHARD}{}-of-{}-{tail}", shard.number(), shard.of()),
    })
}

/// Files of a folder whose names begin so and end as files of pieces do, in the order of their names.
pub fn files_of_pieces(folder: &Path, beginning: &str) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name.starts_with(beginning) && name.ends_with(ENDING) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// Files of shards in a folder.
pub fn files_of_shards(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    files_of_pieces(folder, SHARD)
}

/// Reads the heading of a file of pieces.
///
/// # Errors
/// What is wrong with it: no version of this program wrote it so.
pub fn heading_of(journal: &Journal) -> Result<Heading, serde_json::Error> {
    serde_json::from_str(journal.label())
}

/// Opens the pieces of a command and says what was found.
pub fn open(folder: &Folder, heading: &Heading, origin: &Origin) -> Outcome<Pieces> {
    let path = folder.path().join(name_of(heading)?);
    let others = match &origin.again {
        Some(again) => again.shards.clone(),
        None if heading.shard.is_some() => siblings(folder.path(), &path, heading),
        None => Vec::new(),
    };
    let others = others
        .iter()
        .filter_map(|path| Journal::open(path, false).ok())
        .collect();
    let (pieces, found) = Pieces::open(&path, &heading.text()?, heading.shard, others)
        .map_err(|fault| refused(&path, &fault.why))?;
    said(&path, &found);
    left_alone(folder.path(), &path);
    if !folder.is_locked() {
        tell(format!(
            "note: {} has no locks: see to it that no other crawlspan works there",
            folder.path().display()
        ));
    }
    Ok(pieces)
}

fn refused(path: &Path, why: &str) -> Trouble {
    Trouble::new(format!("finished pieces cannot be kept: {why}"))
        .at(path.display().to_string())
        .expected("a file that this process alone can write")
        .remedy("free or remove the file, or choose another folder with --out")
}

/// Files of the other shards of the same run.
fn siblings(folder: &Path, own: &Path, heading: &Heading) -> Vec<PathBuf> {
    let same_run = |path: &PathBuf| {
        let other = Journal::open(path, false)
            .ok()
            .and_then(|journal| heading_of(&journal).ok());
        other.is_some_and(|other| other.program == heading.program && other.task == heading.task)
    };
    let mut files = files_of_pieces(folder, SHARD).unwrap_or_default();
    files.retain(|path| path != own && same_run(path));
    files
}

fn said(path: &Path, found: &Found) {
    let torn = match found.cut_off {
        0 => String::new(),
        bytes => format!("; a torn end of {bytes} bytes was cut off"),
    };
    if found.pieces > 0 || found.cut_off > 0 {
        tell(format!(
            "resuming: {} finished pieces are kept in {}{torn}",
            found.pieces,
            path.display()
        ));
    }
    if let Some((aside, why)) = &found.set_aside {
        tell(format!(
            "set aside: {} was not used, because {why}; it is now {}",
            path.display(),
            aside.display()
        ));
    }
}

/// Names pieces of other commands, which are neither used nor touched.
fn left_alone(folder: &Path, own: &Path) {
    for path in files_of_pieces(folder, KEPT).unwrap_or_default() {
        if path == own {
            continue;
        }
        let whose = Journal::open(&path, false)
            .ok()
            .and_then(|journal| heading_of(&journal).ok())
            .map_or_else(
                || "they cannot be read".to_owned(),
                |heading| {
                    format!(
                        "they belong to `{}`, version {} ({})",
                        heading.task.typed(),
                        heading.program.version,
                        heading.program.revision
                    )
                },
            );
        tell(format!(
            "left alone: the pieces in {} are not of this command; {whose}. Give that command again to go on with \
             them, or remove the file.",
            path.display()
        ));
    }
}
