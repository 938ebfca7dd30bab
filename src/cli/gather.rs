//! `gather`: joins the shards of a run and finishes it.

use super::args::GatherArgs;
use super::kept::{files_of_shards, heading_of};
use super::origin::Again;
use super::say::tell;
use super::stopped::Stopped;
use crate::output::provenance::{Heading, Program};
use crate::runner::{Journal, Shard};
use crate::trouble::Trouble;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A file of a shard, as found.
struct Found {
    path: PathBuf,
    heading: Heading,
    digest: String,
    shard: Shard,
    finished: bool,
    torn: u64,
    pieces: usize,
}

/// What is wrong with the files, in lines.
#[derive(Default)]
struct Faults {
    /// Faults that `--fill` makes good.
    mendable: Vec<String>,
    others: Vec<String>,
}

pub fn run(args: &GatherArgs) -> Result<(), Stopped> {
    let paths = named_files(&args.from)?;
    let mut faults = Faults::default();
    let found = opened(&paths, &mut faults)?;
    let Some((run, of)) = most_common(&found) else {
        return Err(refusal(args, &faults).into());
    };
    let chosen = of_one_run(&found, &run, of, &mut faults);
    if !faults.others.is_empty() || !(faults.mendable.is_empty() || args.fill) {
        return Err(refusal(args, &faults).into());
    }
    for fault in &faults.mendable {
        tell(format!("made good here: {fault}"));
    }
    let Some(first) = chosen.first() else {
        return Err(refusal(args, &faults).into());
    };
    let pieces: usize = chosen.iter().map(|found| found.pieces).sum();
    tell(format!(
        "gathering {pieces} pieces of {} of {of} shards of: {}",
        chosen.len(),
        first.heading.task.typed()
    ));
    let again = Again {
        task: first.heading.task.clone(),
        label: first.path.display().to_string(),
        folder: match args.out {
            Some(_) => None,
            None => Some(folder_of(&first.path)),
        },
        data_folder: args.files.clone(),
        same_program: true,
        shards: chosen.iter().map(|found| found.path.clone()).collect(),
        outcome: std::sync::OnceLock::new(),
    };
    super::perform_again(again.into(), args.threads, args.out.as_ref())
}

fn folder_of(path: &Path) -> PathBuf {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
        .to_owned()
}

fn named_files(from: &[PathBuf]) -> Result<Vec<PathBuf>, Trouble> {
    let mut paths = Vec::new();
    for path in from {
        if path.is_dir() {
            let files = files_of_shards(path).map_err(|fault| {
                Trouble::new(format!("the folder cannot be read: {fault}"))
                    .at(path.display().to_string())
            })?;
            paths.extend(files);
        } else {
            paths.push(path.clone());
        }
    }
    if paths.is_empty() {
        let places: Vec<String> = from.iter().map(|path| path.display().to_string()).collect();
        return Err(Trouble::new("no shards were found")
            .at(places.join(", "))
            .expected("files shard-*.pieces, as commands with --shard write them")
            .remedy("name the folder in which the shards ran"));
    }
    Ok(paths)
}

fn opened(paths: &[PathBuf], faults: &mut Faults) -> Result<Vec<Found>, Trouble> {
    let mut found = Vec::new();
    for path in paths {
        let label = path.display();
        let journal = match Journal::open(path, false) {
            Ok(journal) => journal,
            Err(fault) => {
                // Whose it was cannot be told; its shard is named as missing as well.
                faults.mendable.push(format!("damaged: {label}: {fault}"));
                continue;
            }
        };
        let heading = match heading_of(&journal) {
            Ok(heading) => heading,
            Err(fault) => {
                faults.others.push(format!(
                    "foreign: the heading of {label} is none that this program writes: {fault}"
                ));
                continue;
            }
        };
        let Some(shard) = heading.shard else {
            faults.others.push(format!("foreign: {label} is no shard"));
            continue;
        };
        found.push(Found {
            path: path.clone(),
            digest: heading.digest()?,
            shard,
            finished: journal.is_finished(),
            torn: journal.torn(),
            pieces: journal.pieces(),
            heading,
        });
    }
    Ok(found)
}

/// Digest and number of shards of the run that most files belong to.
fn most_common(found: &[Found]) -> Option<(String, u32)> {
    let mut counts: BTreeMap<(&str, u32), usize> = BTreeMap::new();
    for file in found {
        *counts.entry((&file.digest, file.shard.of())).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(_, count)| *count)
        .map(|((digest, of), _)| (digest.to_owned(), of))
}

fn of_one_run<'f>(found: &'f [Found], run: &str, of: u32, faults: &mut Faults) -> Vec<&'f Found> {
    let mut chosen: Vec<&Found> = Vec::new();
    // By number: the shards that are there, however many there should be.
    let mut there: BTreeMap<u32, &Found> = BTreeMap::new();
    let this = Program::this();
    for file in found {
        let label = file.path.display();
        let shard = file.shard;
        if file.digest != run || shard.of() != of {
            let typed = file.heading.task.typed();
            faults.others.push(format!(
                "foreign: {label} is shard {shard} of another run: {typed}"
            ));
            continue;
        }
        if file.heading.program != this {
            let program = &file.heading.program;
            faults.others.push(format!(
                "foreign: {label} was made by version {} ({}, sources {}, {}), not by this program",
                program.version, program.revision, program.sources, program.platform
            ));
            continue;
        }
        if let Some(other) = there.get(&shard.number()) {
            faults.others.push(format!(
                "twice: shard {shard} is in {} and in {label}",
                other.path.display()
            ));
            continue;
        }
        if file.torn > 0 {
            faults.mendable.push(format!(
                "damaged: {label}: {} bytes after {} sound pieces",
                file.torn, file.pieces
            ));
        } else if !file.finished {
            faults
                .mendable
                .push(format!("unfinished: {label} has not done its share"));
        }
        there.insert(shard.number(), file);
        chosen.push(file);
    }
    let missing = missing(there.into_keys(), of);
    if !missing.is_empty() {
        faults
            .mendable
            .push(format!("missing: {}", missing.join(", ")));
    }
    chosen
}

/// Shards of so many that are not there, in words: runs of neighbours as one. The numbers ascend.
fn missing(there: impl Iterator<Item = u32>, of: u32) -> Vec<String> {
    let mut runs = Vec::new();
    let mut next = 1;
    for number in there.chain([of + 1]) {
        match number.saturating_sub(next) {
            0 => {}
            1 => runs.push(format!("{next}/{of}")),
            2 => runs.extend([format!("{next}/{of}"), format!("{}/{of}", next + 1)]),
            _ => runs.push(format!("{next}/{of} to {}/{of}", number - 1)),
        }
        next = number + 1;
    }
    runs
}

fn refusal(args: &GatherArgs, faults: &Faults) -> Trouble {
    let lines: Vec<&str> = faults
        .others
        .iter()
        .chain(&faults.mendable)
        .map(String::as_str)
        .collect();
    let places: Vec<String> = args
        .from
        .iter()
        .map(|path| path.display().to_string())
        .collect();
    let remedy = if faults.others.is_empty() {
        "give the commands of these shards again, or add --fill to do here what they have not done"
    } else {
        "name the files of one run only, each shard once"
    };
    Trouble::new(format!(
        "the shards cannot be joined\n  {}",
        lines.join("\n  ")
    ))
    .at(places.join(", "))
    .expected("all shards of one run, each once and with its share done")
    .remedy(remedy)
}
