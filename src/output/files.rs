//! Files that are there whole or not at all: written under a temporary name, then renamed.

use super::records::{self, Signed};
use crate::runner::plain;
use crate::scenario::data::{PartDigest, sha256};
use crate::scenario::names::{fault_of, refused as bad_name, regardless_of_case};
use crate::scenario::spreadsheet::unguarded;
use crate::trouble::shown;
use crate::trouble::{Outcome, Trouble};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs::{File, TryLockError};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Who else may work in a folder at the same time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Nobody.
    Alone,
    /// Other shards; no results are written.
    Shared,
}

/// Name of the file whose lock says that a folder is in use. The lock dies with its process; the file stays, empty, as
/// removing it would let two processes hold a lock each.
const IN_USE: &str = ".in-use";

/// A folder that receives results. It is locked as long as this value lives.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    using: Use,
    /// Name of the record of the command that works in it.
    record: String,
    /// Records of other commands, once the own one is out of the way of the first file.
    signed: RefCell<Option<Vec<Signed>>>,
    /// Names of their records that were set aside, each with the file that was replaced.
    set_aside: RefCell<Vec<(String, String)>>,
    /// Names of the files written, with their digests.
    names: RefCell<Vec<(String, String)>>,
    /// Names and headers of the tables among them.
    tables: RefCell<Vec<(String, Vec<String>)>>,
    lock: Option<File>,
}

impl Folder {
    /// Opens a folder of a given name within another; see [`Folder::open`].
    ///
    /// # Errors
    /// When the name cannot be that of a folder, and as [`Folder::open`].
    pub fn open_within(out: &Path, name: &str, using: Use, command: &str) -> Outcome<Self> {
        if let Some(why) = fault_of(name) {
            return Err(bad_name(name, "folder", why)
                .at(format!("the output folder in {}", out.display()))
                .remedy("rename what the folder is named after: the scenario, list or table"));
        }
        Self::open(&out.join(name), using, command)
    }

    /// Makes the folder if need be, locks it, and tries that it can be written, before any work of a command is done.
    ///
    /// # Errors
    /// When it cannot be made or written, or another process works in it.
    pub fn open(path: &Path, using: Use, command: &str) -> Outcome<Self> {
        let refused = |why: std::io::Error| {
            Trouble::new(format!("the output folder cannot be written: {why}"))
                .at(path.display().to_string())
                .expected("a folder in which files can be made")
                .remedy("choose another with --out, or free it")
        };
        std::fs::create_dir_all(path).map_err(refused)?;
        temporary(path).map_err(refused)?;
        let in_use = path.join(IN_USE);
        let mut options = File::options();
        options.create(true).truncate(false).write(true);
        let file = plain::open_own(&in_use, &mut options).map_err(|why| {
            if plain::is_other(&in_use) {
                Trouble::new(format!("the output folder cannot be locked: {why}"))
                    .at(in_use.display().to_string())
                    .expected("an empty file, which says that a folder is in use")
                    .remedy("remove it, or choose another folder with --out")
            } else {
                refused(why)
            }
        })?;
        let locked = match using {
            Use::Alone => file.try_lock(),
            Use::Shared => file.try_lock_shared(),
        };
        let lock = match locked {
            Ok(()) => Some(file),
            Err(TryLockError::WouldBlock) => {
                return Err(Trouble::new("another crawlspan works in the output folder")
                    .at(path.display().to_string())
                    .expected("a folder that no other process uses")
                    .remedy("wait until it has ended, or choose another with --out"));
            }
            // A file system without locks.
            Err(TryLockError::Error(_)) => None,
        };
        if lock.is_some() && using == Use::Alone {
            sweep_out(path);
        }
        Ok(Self {
            path: path.to_owned(),
            using,
            record: records::name_of(command),
            signed: RefCell::default(),
            set_aside: RefCell::default(),
            names: RefCell::default(),
            tables: RefCell::default(),
            lock,
        })
    }

    /// Whether the folder could be locked; some file systems know no locks.
    #[must_use]
    pub fn is_locked(&self) -> bool {
        self.lock.is_some()
    }

    /// Writes a file, whole or not at all; an older one of the same name is replaced, and a record that names it is set
    /// aside before.
    ///
    /// # Errors
    /// When the name cannot be that of a file in this folder, when the folder is gone, or when the disk refuses.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Outcome<()> {
        if self.using == Use::Shared {
            return Err(Trouble::new(format!("a shard writes no results: {name}"))
                .expected("a command whose work can be shared out")
                .remedy("run it without --shard"));
        }
        self.judge(name)?;
        self.still_there()?;
        let digest = sha256(bytes);
        self.make_way(name, &digest)?;
        write_whole(&self.path.join(name), bytes).map_err(Trouble::by_machine)?;
        self.note_table(name, bytes);
        self.note(name, digest);
        Ok(())
    }

    /// Begins a file that grows bit by bit under a temporary name; [`Folder::keep`] gives it its own.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn begin(&self, name: &str) -> Outcome<Growing> {
        self.judge(name)?;
        self.still_there()?;
        let path = self.path.join(name);
        let file = temporary(&self.path).map_err(|why| unwritable(&path, &why).by_machine())?;
        Ok(Growing {
            name: name.to_owned(),
            path,
            file,
            digest: PartDigest::default(),
            head: Vec::new(),
        })
    }

    /// Gives a file that has grown its name, whole; an older one of the same name is replaced.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn keep(&self, growing: Growing) -> Outcome<()> {
        let Growing {
            name,
            path,
            file,
            digest,
            head,
        } = growing;
        let digest = digest.hex();
        self.still_there()?;
        self.make_way(&name, &digest)?;
        persist(file, &path).map_err(Trouble::by_machine)?;
        self.note_table(&name, &head);
        self.note(&name, digest);
        Ok(())
    }

    /// Remembers the header of a table, given its beginning.
    fn note_table(&self, name: &str, head: &[u8]) {
        if name.ends_with(".csv") {
            let mut tables = self.tables.borrow_mut();
            tables.retain(|(other, _)| other != name);
            tables.push((name.to_owned(), header(head)));
        }
    }

    /// Writes the record of the command, last of all: from then on it says what the files come from. A complete one
    /// takes the place of the one that was set aside.
    ///
    /// # Errors
    /// When the folder is gone or the disk refuses.
    pub fn sign(&self, record: &[u8], complete: bool) -> Outcome<()> {
        self.still_there()?;
        records::synced(&self.path);
        write_whole(&self.path.join(&self.record), record).map_err(Trouble::by_machine)?;
        records::synced(&self.path);
        if complete {
            records::drop_earlier(&self.path, &self.record);
        }
        // A file that is written after it makes it an earlier one.
        self.signed.borrow_mut().take();
        self.note(&self.record, sha256(record));
        Ok(())
    }

    fn note(&self, name: &str, digest: String) {
        let mut names = self.names.borrow_mut();
        match names.iter_mut().find(|(other, _)| other == name) {
            Some(written) => written.1 = digest,
            None => names.push((name.to_owned(), digest)),
        }
    }

    /// Refuses a name that leads elsewhere, or that some systems take for that of another file of this run.
    fn judge(&self, name: &str) -> Outcome<()> {
        let names = self.names.borrow();
        let own = regardless_of_case(name);
        let taken = names
            .iter()
            .any(|(other, _)| other != name && regardless_of_case(other) == own);
        let why = match fault_of(name) {
            Some(why) => why,
            None if taken => "another file of the same run differs from it only in capitals",
            None => return Ok(()),
        };
        Err(bad_name(name, "file", why)
            .at(self.path.display().to_string())
            .remedy("rename what the file is named after"))
    }

    /// Refuses to write where the folder has been removed, or made anew by somebody else.
    fn still_there(&self) -> Outcome<()> {
        let in_use = self.path.join(IN_USE);
        let is_gone = |lock: &File| plain::is_gone(lock, &in_use);
        if !self.lock.as_ref().is_some_and(is_gone) {
            return Ok(());
        }
        Err(
            Trouble::new("the output folder was removed or replaced while the command worked")
                .at(self.path.display().to_string())
                .expected("a folder that is left alone meanwhile")
                .remedy("give the same command again")
                .by_machine(),
        )
    }

    /// Sets aside the records that would no longer be true of a file: the own one before the first file, those of other
    /// commands before a file of theirs is replaced by other bytes.
    fn make_way(&self, name: &str, digest: &str) -> Outcome<()> {
        let set_aside = |record: &str| {
            records::set_aside(&self.path, record).map_err(|why| {
                Trouble::new(format!("the earlier record cannot be set aside: {why}"))
                    .at(self.path.join(record).display().to_string())
                    .expected("a record that can be renamed before its files are replaced")
                    .remedy("free it, or choose another folder with --out")
                    .by_machine()
            })
        };
        let mut signed = self.signed.borrow_mut();
        let others = match signed.take() {
            Some(others) => others,
            None => {
                set_aside(&self.record)?;
                records::all_in(&self.path).unwrap_or_default()
            }
        };
        let (stale, sound): (Vec<_>, Vec<_>) = others.into_iter().partition(|record| {
            let said = record.written.get(name);
            said.is_some_and(|said| said != digest)
        });
        for record in stale {
            set_aside(&record.name)?;
            let mut replaced = self.set_aside.borrow_mut();
            replaced.push((record.name, name.to_owned()));
        }
        *signed = Some(sound);
        Ok(())
    }

    /// Path of the folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Digests of the files written so far, by name.
    #[must_use]
    pub fn digests(&self) -> BTreeMap<String, String> {
        self.names.borrow().iter().cloned().collect()
    }

    /// Names and headers of the tables written so far.
    #[must_use]
    pub fn tables(&self) -> Vec<(String, Vec<String>)> {
        self.tables.borrow().clone()
    }

    /// What was written, in a few lines.
    #[must_use]
    pub fn written(&self) -> String {
        let names = self.names.borrow();
        let names: Vec<&str> = names.iter().map(|(name, _)| name.as_str()).collect();
        let names = names.join(", ");
        let text = format!(
            "Written to {}{}: {names}",
            shown::path(&self.path),
            std::path::MAIN_SEPARATOR
        );
        let mut text = super::text::wrapped(&text, 0);
        for (record, file) in self.set_aside.borrow().iter() {
            let line = format!(
                "{file} was also a file of an earlier command: the record of that is now {}",
                records::earlier(record)
            );
            text += "\n";
            text += &super::text::wrapped(&line, 0);
        }
        text
    }
}

/// A file that is being written, part by part, under a temporary name; dropped, it is gone.
#[derive(Debug)]
pub struct Growing {
    name: String,
    path: PathBuf,
    file: tempfile::NamedTempFile,
    digest: PartDigest,
    /// The first part, which holds the header of a table.
    head: Vec<u8>,
}

impl Growing {
    /// Adds a part; the first one holds the header of a table.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn add(&mut self, part: &[u8]) -> Outcome<()> {
        if self.head.is_empty() {
            let line = part.iter().position(|byte| *byte == b'\n');
            let end = line.map_or(part.len(), |at| at + 1);
            self.head = part[..end].to_vec();
        }
        self.digest.add(part);
        self.file
            .write_all(part)
            .map_err(|why| unwritable(&self.path, &why).by_machine())
    }
}

/// Names of the columns of a table.
fn header(table: &[u8]) -> Vec<String> {
    let mut reader = csv::Reader::from_reader(table);
    reader.headers().map_or_else(
        |_| Vec::new(),
        |names| names.iter().map(unguarded).map(str::to_owned).collect(),
    )
}

/// Begins the names of files that are not whole yet.
const HALF: &str = ".half-written-";

/// A file under a name of its own. Who may read it is for the user's mask to say, as for any other file.
fn temporary(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    tempfile::Builder::new()
        .prefix(HALF)
        .make_in(folder, |path| {
            File::options().write(true).create_new(true).open(path)
        })
}

/// Removes what a killed process left half written; nobody else works in the folder. What cannot be removed does no harm.
fn sweep_out(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        if entry.file_name().to_string_lossy().starts_with(HALF) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// Writes a file under a temporary name beside it, then renames it.
///
/// # Errors
/// When the disk refuses; the old file, if any, is then untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Outcome<()> {
    let refused = |why: std::io::Error| unwritable(path, &why);
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut file = temporary(folder).map_err(refused)?;
    file.write_all(bytes).map_err(refused)?;
    persist(file, path)
}

fn unwritable(path: &Path, why: &std::io::Error) -> Trouble {
    Trouble::new(format!("the file cannot be written: {why}"))
        .at(path.display().to_string())
        .remedy("free space or choose another folder with --out; nothing half-written was left")
}

/// Forces a temporary file onto the disk and gives it its name.
fn persist(file: tempfile::NamedTempFile, path: &Path) -> Outcome<()> {
    let refused = |why: std::io::Error| unwritable(path, &why);
    file.as_file().sync_all().map_err(refused)?;
    file.persist(path).map_err(|fault| refused(fault.error))?;
    Ok(())
}
