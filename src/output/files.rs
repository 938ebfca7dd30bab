//! Files that are there whole or not at all: written under a temporary name, then renamed.

use crate::scenario::data::{PartDigest, sha256};
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
    /// Names of the files written, with their digests.
    names: RefCell<Vec<(String, String)>>,
    /// Names and headers of the tables among them.
    tables: RefCell<Vec<(String, Vec<String>)>>,
    lock: Option<File>,
}

impl Folder {
    /// Makes the folder if need be, locks it, and tries that it can be written, before any work is done.
    ///
    /// # Errors
    /// When it cannot be made or written, or another process works in it.
    pub fn open(path: &Path, using: Use) -> Outcome<Self> {
        let refused = |why: std::io::Error| {
            Trouble::new(format!("the output folder cannot be written: {why}"))
                .at(path.display().to_string())
                .expected("a folder in which files can be made")
                .remedy("choose another with --out, or free it")
        };
        std::fs::create_dir_all(path).map_err(refused)?;
        temporary(path).map_err(refused)?;
        let file = File::options()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path.join(IN_USE))
            .map_err(refused)?;
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

    /// Writes a file, whole or not at all; an older one of the same name is replaced.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Outcome<()> {
        if self.using == Use::Shared {
            return Err(Trouble::new(format!("a shard writes no results: {name}"))
                .expected("a command whose work can be shared out")
                .remedy("run it without --shard"));
        }
        write_whole(&self.path.join(name), bytes).map_err(Trouble::by_machine)?;
        self.note(name, bytes, sha256(bytes));
        Ok(())
    }

    /// Begins a file that grows bit by bit under a temporary name; [`Folder::keep`] gives it its own.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn begin(&self, name: &str) -> Outcome<Growing> {
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
        persist(file, &path).map_err(Trouble::by_machine)?;
        self.note(&name, &head, digest.hex());
        Ok(())
    }

    /// Remembers a file that was written: its name, its beginning, its digest.
    fn note(&self, name: &str, head: &[u8], digest: String) {
        if name.ends_with(".csv") {
            let mut tables = self.tables.borrow_mut();
            tables.retain(|(other, _)| other != name);
            tables.push((name.to_owned(), header(head)));
        }
        let mut names = self.names.borrow_mut();
        match names.iter_mut().find(|(other, _)| other == name) {
            Some(written) => written.1 = digest,
            None => names.push((name.to_owned(), digest)),
        }
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
            self.path.display(),
            std::path::MAIN_SEPARATOR
        );
        super::text::wrapped(&text, 0)
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
        |names| names.iter().map(str::to_owned).collect(),
    )
}

/// Begins the names of files that are not whole yet.
const HALF: &str = ".half-written-";

fn temporary(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    tempfile::Builder::new().prefix(HALF).tempfile_in(folder)
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
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Temporary files are private; results are for everybody who may read the folder.
        const READABLE: u32 = 0o644;
        file.as_file()
            .set_permissions(std::fs::Permissions::from_mode(READABLE))
            .map_err(refused)?;
    }
    file.persist(path).map_err(|fault| refused(fault.error))?;
    Ok(())
}
