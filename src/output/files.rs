//! Files that are there whole or not at all: written under a temporary name, then renamed.

use crate::trouble::{Outcome, Trouble};
use std::cell::RefCell;
use std::io::Write;
use std::path::{Path, PathBuf};

/// A folder that receives results.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    names: RefCell<Vec<String>>,
}

impl Folder {
    /// Makes the folder if need be, and tries that it can be written, before any work is done.
    ///
    /// # Errors
    /// When it cannot be made or written.
    pub fn open(path: &Path) -> Outcome<Self> {
        let refused = |why: std::io::Error| {
            Trouble::new(format!("the output folder cannot be written: {why}"))
                .at(path.display().to_string())
                .expected("a folder in which files can be made")
                .remedy("choose another with --out, or free it")
        };
        std::fs::create_dir_all(path).map_err(refused)?;
        tempfile::NamedTempFile::new_in(path).map_err(refused)?;
        Ok(Self {
            path: path.to_owned(),
            names: RefCell::default(),
        })
    }

    /// Writes a file, whole or not at all; an older one of the same name is replaced.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Outcome<()> {
        write_whole(&self.path.join(name), bytes)?;
        let mut names = self.names.borrow_mut();
        if !names.iter().any(|other| other == name) {
            names.push(name.to_owned());
        }
        Ok(())
    }

    /// Path of the folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was written, in a few lines.
    #[must_use]
    pub fn written(&self) -> String {
        let names = self.names.borrow().join(", ");
        let text = format!(
            "Written to {}{}: {names}",
            self.path.display(),
            std::path::MAIN_SEPARATOR
        );
        super::text::wrapped(&text, 0)
    }
}

/// Writes a file under a temporary name beside it, then renames it.
///
/// # Errors
/// When the disk refuses; the old file, if any, is then untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Outcome<()> {
    let refused = |why: std::io::Error| {
        Trouble::new(format!("the file cannot be written: {why}"))
            .at(path.display().to_string())
            .remedy("free space or choose another folder with --out; nothing half-written was left")
    };
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(refused)?;
    file.write_all(bytes).map_err(refused)?;
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
