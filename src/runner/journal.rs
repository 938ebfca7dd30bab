//! The file of pieces: a label, then one record after another, each with its own checksum.
//!
//! ```text
//! magic     16 bytes  "crawlspan piece\n"
//! form       4 bytes  number of this layout
//! length     4 bytes  of the label
//! label                text that says which command the pieces belong to
//! checksum  16 bytes  of form, length and label
//! then for each piece
//! length     4 bytes  of the payload
//! key       16 bytes
//! payload              results, as postcard writes them
//! checksum  16 bytes  of length, key and payload
//! ```
//!
//! Numbers are little-endian; a checksum is the first 16 bytes of SHA-256. A record is written by one call; whatever a
//! kill, a power cut or a full disk leaves of it fails its checksum and is cut off with all that follows.

use super::plain;
use super::taken::{KEY_BYTES, PieceKey};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Begins every file of pieces.
const MAGIC: &[u8; 16] = b"crawlspan piece\n";
/// Number of the layout; another one is not read.
const FORM: u32 = 1;
const CHECK_BYTES: usize = 16;
/// Longest label and payload that are believed, bytes: a damaged length must not ask for all memory.
const LONGEST: u32 = 1 << 28;
/// How often a file is forced onto the disk. Between two times a power cut may cost the newest pieces, never a wrong one.
const SYNC_EVERY: Duration = Duration::from_secs(10);

const REMOVED: &str = "the file was removed while the command worked";

/// Where the payload of a piece lies.
#[derive(Clone, Copy)]
struct Place {
    at: u64,
    length: u32,
}

/// A file of pieces that is open.
pub struct Journal {
    path: PathBuf,
    file: File,
    label: String,
    places: HashMap<PieceKey, Place>,
    /// Where the sound records end.
    end: u64,
    /// Bytes beyond them.
    torn: u64,
    finished: bool,
    synced: Instant,
}

/// Key of the record that a shard writes when it has done its share.
fn finish_key() -> PieceKey {
    let mut key = [0; KEY_BYTES];
    key.copy_from_slice(&Sha256::digest(b"this shard has done its share")[..KEY_BYTES]);
    key
}

fn check(parts: &[&[u8]]) -> [u8; CHECK_BYTES] {
    let mut hasher = Sha256::new();
    for part in parts {
        hasher.update(part);
    }
    let mut check = [0; CHECK_BYTES];
    check.copy_from_slice(&hasher.finalize()[..CHECK_BYTES]);
    check
}

fn damaged(why: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, why.to_owned())
}

fn array<const N: usize>(source: &mut impl Read) -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    source.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn bytes(source: &mut impl Read, length: u32) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    source.take(u64::from(length)).read_to_end(&mut bytes)?;
    if bytes.len() == length as usize {
        Ok(bytes)
    } else {
        Err(damaged("it ends too early"))
    }
}

/// All that comes before the first piece.
fn beginning(label: &str) -> io::Result<Vec<u8>> {
    let length = u32::try_from(label.len())
        .ok()
        .filter(|length| *length <= LONGEST)
        .ok_or_else(|| damaged("the label is too long"))?;
    let (form, length) = (FORM.to_le_bytes(), length.to_le_bytes());
    let sum = check(&[&form, &length, label.as_bytes()]);
    Ok([MAGIC, &form[..], &length, label.as_bytes(), &sum].concat())
}

/// Reads the label, and how many bytes it takes up with what surrounds it.
fn read_label(source: &mut impl Read) -> io::Result<(String, u64)> {
    if &array::<16>(source)? != MAGIC {
        return Err(damaged("it is no file of pieces"));
    }
    let (form, length) = (array::<4>(source)?, array::<4>(source)?);
    if u32::from_le_bytes(form) != FORM {
        return Err(damaged("its layout is not the one that this version reads"));
    }
    let count = u32::from_le_bytes(length).min(LONGEST);
    let label = bytes(source, count)?;
    if array::<CHECK_BYTES>(source)? != check(&[&form, &length, &label]) {
        return Err(damaged("its label is damaged"));
    }
    let label = String::from_utf8(label).map_err(|_| damaged("its label is no text"))?;
    let taken = MAGIC.len() + 4 + 4 + label.len() + CHECK_BYTES;
    Ok((label, taken as u64))
}

/// Reads one record; `None` if what follows is no sound record.
fn read_record(source: &mut impl Read) -> Option<(PieceKey, u32)> {
    let length = array::<4>(source).ok()?;
    let key = array::<KEY_BYTES>(source).ok()?;
    let count = u32::from_le_bytes(length);
    if count > LONGEST {
        return None;
    }
    let payload = bytes(source, count).ok()?;
    let found = array::<CHECK_BYTES>(source).ok()?;
    (found == check(&[&length, &key, &payload])).then_some((key, count))
}

/// Bytes of a record before its payload.
const BEFORE: u64 = 4 + KEY_BYTES as u64;

impl Journal {
    /// Begins a file with a label.
    ///
    /// # Errors
    /// When the disk refuses, or there is such a file already.
    pub fn create(path: &Path, label: &str) -> io::Result<Self> {
        let mut options = OpenOptions::new();
        options.read(true).append(true).create_new(true);
        let mut file = plain::open_own(path, &mut options)?;
        let whole = beginning(label)?;
        if let Err(fault) = file.write_all(&whole) {
            drop(file);
            // Half a label is of no use to anybody; if it stays it is found damaged.
            let _ = std::fs::remove_file(path);
            return Err(fault);
        }
        Ok(Self {
            path: path.to_owned(),
            file,
            label: label.to_owned(),
            places: HashMap::new(),
            end: whole.len() as u64,
            torn: 0,
            finished: false,
            synced: Instant::now(),
        })
    }

    /// Whether a file holds less than the beginning of one with this label: it was cut short when it was made, and
    /// nothing is lost with it.
    #[must_use]
    pub fn is_stub(path: &Path, label: &str) -> bool {
        let Ok(whole) = beginning(label) else {
            return false;
        };
        let mut found = Vec::new();
        let longest = whole.len() as u64;
        plain::open_own(path, OpenOptions::new().read(true))
            .and_then(|file| file.take(longest).read_to_end(&mut found))
            .is_ok_and(|length| length < whole.len() && whole.starts_with(&found))
    }

    /// Opens a file and reads it up to the first damaged record. One that will be written must be the program's own.
    ///
    /// # Errors
    /// When it cannot be read, is no plain file, or its label is damaged.
    pub fn open(path: &Path, writing: bool) -> io::Result<Self> {
        let file = if writing {
            plain::open_own(path, OpenOptions::new().read(true).append(true))?
        } else {
            plain::open_to_read(path)?
        };
        let length = file.metadata()?.len();
        let mut source = BufReader::new(&file);
        let (label, mut end) = read_label(&mut source)?;
        let mut places = HashMap::new();
        let mut finished = false;
        while let Some((key, length)) = read_record(&mut source) {
            finished = key == finish_key();
            let at = end + BEFORE;
            places.insert(key, Place { at, length });
            end = at + u64::from(length) + CHECK_BYTES as u64;
        }
        places.remove(&finish_key());
        Ok(Self {
            path: path.to_owned(),
            label,
            places,
            end,
            torn: length.saturating_sub(end),
            finished,
            synced: Instant::now(),
            file,
        })
    }

    /// Cuts off what follows the last sound record, and returns how many bytes that was.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn mend(&mut self) -> io::Result<u64> {
        let torn = self.torn;
        if torn > 0 {
            self.file.set_len(self.end)?;
            self.torn = 0;
        }
        Ok(torn)
    }

    /// The label.
    #[must_use]
    pub fn label(&self) -> &str {
        &self.label
    }

    /// Path of the file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether the file is still there under its name.
    #[must_use]
    pub fn is_there(&self) -> bool {
        !plain::is_gone(&self.file, &self.path)
    }

    /// Number of pieces.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.places.len()
    }

    /// Whether a piece is in the file.
    pub(super) fn holds(&self, key: &PieceKey) -> bool {
        self.places.contains_key(key)
    }

    /// Bytes after the last sound record.
    #[must_use]
    pub fn torn(&self) -> u64 {
        self.torn
    }

    /// Whether a shard has said, last of all, that its share is done.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        self.finished
    }

    /// The payload of a piece. Its checksum is taken once more, as the file may have changed since it was opened.
    pub(super) fn find(&mut self, key: &PieceKey) -> Option<Vec<u8>> {
        let place = *self.places.get(key)?;
        self.file.seek(SeekFrom::Start(place.at - BEFORE)).ok()?;
        let mut source = Read::by_ref(&mut self.file);
        let head = bytes(&mut source, BEFORE as u32).ok()?;
        let payload = bytes(&mut source, place.length).ok()?;
        let sum = array::<CHECK_BYTES>(&mut source).ok()?;
        (head[4..] == key[..] && sum == check(&[&head, &payload])).then_some(payload)
    }

    /// Adds a piece.
    ///
    /// # Errors
    /// When the disk refuses; what was there before stays.
    pub(super) fn keep(&mut self, key: PieceKey, payload: &[u8]) -> io::Result<()> {
        let count = u32::try_from(payload.len())
            .ok()
            .filter(|count| *count <= LONGEST)
            .ok_or_else(|| damaged("the piece is too large"))?;
        let length = count.to_le_bytes();
        let sum = check(&[&length, &key, payload]);
        if let Err(fault) = self
            .file
            .write_all(&[&length[..], &key, payload, &sum].concat())
        {
            // If even that fails, the checksum tells the torn end from a piece.
            let _ = self.file.set_len(self.end);
            return Err(fault);
        }
        let at = self.end + BEFORE;
        self.end = at + u64::from(count) + CHECK_BYTES as u64;
        self.places.insert(key, Place { at, length: count });
        self.finished = false;
        if self.synced.elapsed() > SYNC_EVERY {
            if !self.is_there() {
                return Err(io::Error::new(io::ErrorKind::NotFound, REMOVED));
            }
            self.file.sync_data()?;
            self.synced = Instant::now();
        }
        Ok(())
    }

    /// Says, as the last record, that the share of a shard is done, and forces all onto the disk.
    pub(super) fn finish(&mut self) -> io::Result<()> {
        if !self.finished {
            self.keep(finish_key(), &[])?;
            self.places.remove(&finish_key());
            self.finished = true;
        }
        self.file.sync_all()
    }
}
