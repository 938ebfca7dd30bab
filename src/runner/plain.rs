//! Files under names that are fixed, in folders that others may have filled: what stands there may be a link, a pipe or
//! a device, and must be neither followed, nor written, nor waited for.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::Path;

/// Opens a file of the program's own; a link is not followed.
///
/// # Errors
/// When the system refuses, or when it is no plain file.
pub fn open_own(path: &Path, options: &mut OpenOptions) -> io::Result<File> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.custom_flags(libc::O_NOFOLLOW | libc::O_NONBLOCK);
    }
    #[cfg(not(unix))]
    if is_other(path) {
        return Err(not_plain());
    }
    opened(path, options)
}

/// Opens a file to read it, through a link if need be.
///
/// # Errors
/// As [`open_own`].
pub fn open_to_read(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.custom_flags(libc::O_NONBLOCK);
    }
    opened(path, &options)
}

fn opened(path: &Path, options: &OpenOptions) -> io::Result<File> {
    let file = match options.open(path) {
        Ok(file) => file,
        Err(_) if is_other(path) => return Err(not_plain()),
        Err(fault) => return Err(fault),
    };
    if file.metadata()?.is_file() {
        Ok(file)
    } else {
        Err(not_plain())
    }
}

fn not_plain() -> io::Error {
    let why = "it is no plain file but a link, a pipe, a device or a folder";
    io::Error::new(io::ErrorKind::InvalidInput, why)
}

/// Whether something that is no plain file stands under a name.
#[must_use]
pub fn is_other(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|found| !found.is_file())
}

/// Whether a file that is open has been removed, or another one put under its name.
#[must_use]
pub fn is_gone(file: &File, path: &Path) -> bool {
    match (path.symlink_metadata(), file.metadata()) {
        (Err(fault), _) => fault.kind() == io::ErrorKind::NotFound,
        #[cfg(unix)]
        (Ok(found), Ok(own)) => {
            use std::os::unix::fs::MetadataExt;
            // Some file systems make up new numbers; none counts a link to a file that has none.
            own.nlink() == 0 && (found.dev(), found.ino()) != (own.dev(), own.ino())
        }
        _ => false,
    }
}
