//! Where a command keeps its finished pieces, and what it says about them.

use super::origin::{Kept, Origin};
use super::say::tell;
use super::stopped::Stopped;
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

/// Says what is kept of a command that ended without its results. Where the same command would only end in the same way
/// again, nobody could ever use its pieces, and they are removed; those of a shard stay, as others read them.
pub fn settle(kept: &Kept, ended: Result<(), Stopped>) -> Result<(), Stopped> {
    let (Some(pieces), Err(stop)) = (kept.pieces(), &ended) else {
        return ended;
    };
    let (count, _) = pieces.count();
    let path = pieces.path().display();
    if count == 0 || matches!(stop, Stopped::Shared(_)) {
        return ended;
    }
    if !pieces.is_there() {
        tell(format!(
            "lost: {count} finished pieces, as {path} was removed while the command worked; the same command begins anew"
        ));
    } else if stop.would_recur() && pieces.shard().is_none() && pieces.remove().is_ok() {
        tell(format!(
            "removed: {count} finished pieces, as the same command would end in the same way again"
        ));
    } else {
        tell(format!(
            "kept: {count} finished pieces in {path}; the same command goes on from there"
        ));
    }
    ended
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
                        "they belong to version {} ({}) of: {}",
                        heading.program.version,
                        heading.program.revision,
                        heading.task.typed()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runner::{Runner, Shard, Unwatched};
    use crate::scenario::Layered;
    use crate::study::Effort;
    use crate::study::gap::{self, GapQuestion};
    use std::sync::Arc;
    use std::sync::atomic::AtomicBool;

    /// Pieces of a few seasons in a folder.
    fn some_pieces(folder: &Path, shard: Option<Shard>) -> Kept {
        let path = folder.join("some.pieces");
        let (pieces, _) = Pieces::open(&path, "label", shard, Vec::new()).expect("pieces");
        let pieces = Arc::new(pieces);
        let stop = AtomicBool::new(false);
        let runner = Runner::new(1, &Unwatched, &stop).keeping(&pieces);
        let question = GapQuestion {
            grid_m: vec![1.0, 4.0],
            tolerance: 0.05,
            effort: Effort::of(32),
            precision_m: None,
        };
        // Only the pieces count here.
        let _ = gap::answer(
            &Layered::open("near-pair").expect("ready"),
            &question,
            &runner,
            0,
        );
        assert!(pieces.is_there());
        let kept = Kept::default();
        kept.are(&pieces);
        kept
    }

    #[test]
    fn exact_pieces_stay_only_where_the_same_command_could_go_on() {
        let shard = "1/2".parse::<Shard>().ok();
        let failed = || Stopped::Failed("no answer".to_owned());
        let ends = [
            (failed(), None, false),
            (Trouble::new("no answer").into(), None, false),
            (Trouble::new("full").by_machine().into(), None, true),
            (Stopped::Interrupted(String::new()), None, true),
            (failed(), shard, true),
        ];
        for (stop, shard, stay) in ends {
            let folder = tempfile::TempDir::new().expect("a folder");
            let kept = some_pieces(folder.path(), shard);
            let (code, why) = (stop.code(), stop.to_string());
            let ended = settle(&kept, Err(stop));
            assert_eq!(ended.map_err(|stop| stop.code()), Err(code));
            let path = folder.path().join("some.pieces");
            assert_eq!(path.exists(), stay, "{why}");
        }
    }
}
