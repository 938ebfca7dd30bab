//! Finished pieces of a run, kept so that a run that is cut short goes on where it was, and shared out among shards.

use super::halt::Unkept;
use super::journal::Journal;
use super::plain;
use super::taken::PieceKey;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// One of several processes that share the pieces of a run among them. However it comes about, from an option or from a
/// file, its number lies from 1 to how many there are, which are at most 100,000.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "Unchecked")]
pub struct Shard {
    number: u32,
    of: u32,
}

/// A shard as a file gives it.
#[derive(serde::Deserialize)]
struct Unchecked {
    number: u32,
    of: u32,
}

impl TryFrom<Unchecked> for Shard {
    type Error = String;

    fn try_from(Unchecked { number, of }: Unchecked) -> Result<Self, String> {
        Self::new(number, of).map_err(|why| format!("there is no shard {number}/{of}: {why}"))
    }
}

/// Most shards of a run: beyond it a shard's share is too small to be worth a process.
pub const MOST_SHARDS: u32 = 100_000;

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let numbers = text.split_once('/').and_then(|(number, of)| {
            let read = |text: &str| text.trim().parse::<u32>().ok();
            Some((read(number)?, read(of)?))
        });
        let (number, of) = numbers.ok_or_else(Self::expected)?;
        Self::new(number, of)
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

impl Shard {
    /// A shard by its number, from 1, and how many there are.
    ///
    /// # Errors
    /// When there is no such shard, in words that say what was expected.
    pub fn new(number: u32, of: u32) -> Result<Self, String> {
        if (1..=of).contains(&number) && of <= MOST_SHARDS {
            Ok(Self { number, of })
        } else {
            Err(Self::expected())
        }
    }

    fn expected() -> String {
        format!("expected number/of, such as 3/16, from 1/16 to 16/16 and of at most {MOST_SHARDS}")
    }

    /// Its number, from 1.
    #[must_use]
    pub fn number(self) -> u32 {
        self.number
    }

    /// How many there are, at most 100,000.
    #[must_use]
    pub fn of(self) -> u32 {
        self.of
    }

    /// Whether the piece with a number is this shard's.
    #[must_use]
    pub fn owns(self, piece: u64) -> bool {
        piece % u64::from(self.of) == u64::from(self.number - 1)
    }
}

/// What was found where pieces are kept.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// Pieces that an earlier run kept.
    pub pieces: usize,
    /// Bytes of a torn end that were cut off.
    pub cut_off: u64,
    /// Where a file was put that could not be used, and why.
    pub set_aside: Option<(PathBuf, String)>,
}

/// The pieces of one run.
pub struct Pieces {
    path: PathBuf,
    label: String,
    shard: Option<Shard>,
    own: Mutex<Own>,
    others: Vec<Mutex<Journal>>,
    /// Whether the other files have held a piece that was asked for.
    others_asked: AtomicBool,
}

#[derive(Default)]
struct Own {
    /// Made with the first piece, so that a run that keeps nothing leaves nothing.
    journal: Option<Journal>,
    refused: Option<Unkept>,
    /// Pieces made in this process.
    made: usize,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Pieces {
    /// The pieces kept in a file under a label, with those that other files hold to read from. A file under another
    /// label, or one that is damaged from its beginning, is renamed, never used.
    ///
    /// # Errors
    /// When the file is there but can be neither used nor put aside, or something else stands in its place.
    pub fn open(
        path: &Path,
        label: &str,
        shard: Option<Shard>,
        others: Vec<Journal>,
    ) -> Result<(Self, Found), Unkept> {
        let refused = |fault: &std::io::Error| Unkept {
            path: path.to_owned(),
            why: fault.to_string(),
        };
        let mut found = Found::default();
        let mut own = Own::default();
        if plain::is_other(path) {
            return Err(Unkept {
                path: path.to_owned(),
                why: "a link, a pipe, a device or a folder stands in the place of their file"
                    .to_owned(),
            });
        }
        if Journal::is_stub(path, label) {
            std::fs::remove_file(path).map_err(|fault| refused(&fault))?;
        }
        if path.exists() {
            let why = match Journal::open(path, true) {
                Ok(mut journal) if journal.label() == label => {
                    found.cut_off = journal.mend().map_err(|fault| refused(&fault))?;
                    found.pieces = journal.pieces();
                    own.journal = Some(journal);
                    None
                }
                Ok(_) => Some("it belongs to another command or version".to_owned()),
                Err(fault) if fault.kind() == std::io::ErrorKind::PermissionDenied => {
                    return Err(refused(&fault));
                }
                Err(fault) => Some(fault.to_string()),
            };
            if let Some(why) = why {
                let aside = free_name(path);
                std::fs::rename(path, &aside).map_err(|fault| refused(&fault))?;
                found.set_aside = Some((aside, why));
            }
        }
        let pieces = Self {
            path: path.to_owned(),
            label: label.to_owned(),
            shard,
            own: Mutex::new(own),
            others: others.into_iter().map(Mutex::new).collect(),
            others_asked: AtomicBool::new(false),
        };
        Ok((pieces, found))
    }

    /// The shard that this process is, if it is one.
    #[must_use]
    pub fn shard(&self) -> Option<Shard> {
        self.shard
    }

    /// File in which pieces are kept.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Pieces that are kept in the file, and how many of them this process made.
    #[must_use]
    pub fn count(&self) -> (usize, usize) {
        let own = locked(&self.own);
        let kept = own.journal.as_ref().map_or(0, Journal::pieces);
        (kept, own.made)
    }

    /// Whether the file in which pieces are kept is still there.
    #[must_use]
    pub fn is_there(&self) -> bool {
        let own = locked(&self.own);
        own.journal.as_ref().is_some_and(Journal::is_there)
    }

    /// Whether the other files, if they hold pieces at all, have held one that was asked for: else they are of
    /// another run, whatever their labels say.
    #[must_use]
    pub fn others_fit(&self) -> bool {
        self.others_asked.load(Ordering::Relaxed)
            || self.others.iter().all(|other| locked(other).pieces() == 0)
    }

    /// The payload of a piece, where it is kept.
    pub(super) fn find(&self, key: &PieceKey) -> Option<Vec<u8>> {
        if !self.others_asked.load(Ordering::Relaxed)
            && self.others.iter().any(|other| locked(other).holds(key))
        {
            self.others_asked.store(true, Ordering::Relaxed);
        }
        let own = |own: &mut Own| own.journal.as_mut().and_then(|journal| journal.find(key));
        let mine = own(&mut locked(&self.own));
        mine.or_else(|| self.others.iter().find_map(|other| locked(other).find(key)))
    }

    /// Keeps a piece. Once the disk has refused one, all later ones are refused too, so that a run ends soon.
    pub(super) fn keep(&self, key: PieceKey, payload: &[u8]) -> Result<(), Unkept> {
        let mut own = locked(&self.own);
        if let Some(refused) = &own.refused {
            return Err(refused.clone());
        }
        self.added(&mut own, key, payload).map_err(|fault| {
            let refused = Unkept {
                path: self.path.clone(),
                why: fault.to_string(),
            };
            own.refused = Some(refused.clone());
            refused
        })
    }

    fn added(&self, own: &mut Own, key: PieceKey, payload: &[u8]) -> std::io::Result<()> {
        self.journal(own)?.keep(key, payload)?;
        own.made += 1;
        Ok(())
    }

    fn journal<'o>(&self, own: &'o mut Own) -> std::io::Result<&'o mut Journal> {
        let journal = match own.journal.take() {
            Some(journal) => journal,
            None => Journal::create(&self.path, &self.label)?,
        };
        Ok(own.journal.insert(journal))
    }

    /// Notes in the file of a shard that its share is done.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn finish_share(&self) -> Result<(), Unkept> {
        let mut own = locked(&self.own);
        self.journal(&mut own)
            .and_then(Journal::finish)
            .map_err(|fault| Unkept {
                path: self.path.clone(),
                why: fault.to_string(),
            })
    }

    /// Removes the file: the run has its results and needs no pieces any more.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn remove(&self) -> std::io::Result<()> {
        match locked(&self.own).journal.take() {
            None => Ok(()),
            Some(journal) => {
                // Another file may have been put in its place since.
                if !journal.is_there() {
                    return Ok(());
                }
                drop(journal);
                std::fs::remove_file(&self.path)
            }
        }
    }
}

/// A name beside a file that is free.
fn free_name(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    (1u64..)
        .map(|number| path.with_file_name(format!("{name}.aside-{number}")))
        .find(|free| free.symlink_metadata().is_err())
        .unwrap_or_else(|| path.with_extension("aside"))
}
