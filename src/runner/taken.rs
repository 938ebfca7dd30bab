//! What is taken of each replicate, named so that a kept piece never answers another question.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};
use std::fmt::{self, Debug, Write};
use std::ops::Range;

/// Bytes of the key of a piece: at 128 bits no two pieces of any run meet.
pub const KEY_BYTES: usize = 16;

/// Key of a piece: a hash of all that it depends on.
pub type PieceKey = [u8; KEY_BYTES];

/// What is taken of each replicate: a name, the number of its form, and whatever else it depends on.
///
/// Two questions that take different things of the same seasons must differ in one of these; a change of what is taken
/// raises the form.
#[derive(Clone)]
pub struct Taken<'a> {
    what: &'static str,
    form: u32,
    parts: Vec<&'a dyn Debug>,
    /// Whether replicates are seasons, which the watch counts.
    pub(super) seasons: bool,
}

impl<'a> Taken<'a> {
    /// Something taken of a season that depends on nothing but the season.
    #[must_use]
    pub fn new(what: &'static str, form: u32) -> Self {
        Self {
            what,
            form,
            parts: Vec::new(),
            seasons: true,
        }
    }

    /// Something taken of replicates that are no seasons, such as studies: nobody who watches seasons is told of them.
    #[must_use]
    pub fn of_no_seasons(mut self) -> Self {
        self.seasons = false;
        self
    }

    /// Adds something that it depends on. Derived `Debug` names every field and prints numbers so that they read back
    /// the same, so nothing is forgotten when a type grows.
    #[must_use]
    pub fn with(mut self, part: &'a dyn Debug) -> Self {
        self.parts.push(part);
        self
    }
}

/// Stands for a value as part of [`Taken`] by the hash of its contents: short where `Debug` would be long.
pub struct Digested<'a, T: ?Sized>(pub &'a T);

impl<T: Serialize + ?Sized> Debug for Digested<'_, T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bytes = postcard::to_allocvec(self.0).map_err(|_| fmt::Error)?;
        write!(f, "{:x?}", &Sha256::digest(bytes)[..])
    }
}

/// The keys of all pieces of one run: what is taken of which replicates of what.
#[derive(Clone)]
pub(super) struct Family {
    hasher: Sha256,
    /// Spreads the first piece of each run over the shards.
    pub offset: u64,
    /// Whether replicates are seasons.
    pub seasons: bool,
}

impl Family {
    /// The family of results of a type under a seed and a parameter set.
    pub fn of<R>(taken: &Taken<'_>, seed: u64, parameter_set: u64) -> Self {
        let mut text = Hashed(Sha256::new());
        // Writing into a hash cannot fail.
        let _ = write!(
            text,
            "{};{};{};{seed};{parameter_set}",
            taken.what,
            taken.form,
            std::any::type_name::<R>()
        );
        for part in &taken.parts {
            text.0.update([APART]);
            let _ = write!(text, "{part:?}");
        }
        text.0.update([APART]);
        let hasher = text.0;
        let bytes = hasher.clone().finalize();
        let mut first = [0; 8];
        first.copy_from_slice(&bytes[..8]);
        Self {
            hasher,
            seasons: taken.seasons,
            offset: u64::from_le_bytes(first),
        }
    }

    /// Key of the piece that holds some replicates.
    pub fn key(&self, replicates: &Range<u64>) -> PieceKey {
        let mut hasher = self.hasher.clone();
        hasher.update(replicates.start.to_le_bytes());
        hasher.update(replicates.end.to_le_bytes());
        let mut key = [0; KEY_BYTES];
        key.copy_from_slice(&hasher.finalize()[..KEY_BYTES]);
        key
    }
}

/// A byte that is in no text, so that parts cannot run into each other.
const APART: u8 = 0xff;

struct Hashed(Sha256);

impl fmt::Write for Hashed {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text.as_bytes());
        Ok(())
    }
}

/// A row of tallies. Kept in a tenth of the space where all of them are counts, and bit for bit in any case.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row(pub Vec<f64>);

#[derive(Serialize, Deserialize)]
enum Packed {
    Counts(Vec<u64>),
    Numbers(Vec<f64>),
}

/// The count that a number is, if turning it back gives the same bits.
fn count(number: f64) -> Option<u64> {
    let count = number as u64;
    ((count as f64).to_bits() == number.to_bits()).then_some(count)
}

impl Serialize for Row {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let counts: Option<Vec<u64>> = self.0.iter().map(|number| count(*number)).collect();
        counts
            .map_or_else(|| Packed::Numbers(self.0.clone()), Packed::Counts)
            .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Row {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Self(match Packed::deserialize(deserializer)? {
            Packed::Counts(counts) => counts.into_iter().map(|count| count as f64).collect(),
            Packed::Numbers(numbers) => numbers,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_rows_come_back_bit_for_bit() {
        let odd = [
            vec![0.0, 1.0, 3e15, 9.007_199_254_740_992e15],
            vec![-0.0, 1.0],
            vec![0.1 + 0.2, f64::MIN_POSITIVE, f64::MAX, 1.8e19, 1e300],
            vec![f64::INFINITY, f64::NEG_INFINITY, -3.0],
            vec![f64::from_bits(0x7ff8_0000_0000_0001)],
            Vec::new(),
        ];
        for numbers in odd {
            let bytes = postcard::to_allocvec(&Row(numbers.clone())).unwrap();
            let back: Row = postcard::from_bytes(&bytes).unwrap();
            let bits = |row: &[f64]| row.iter().map(|n| n.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&back.0), bits(&numbers));
        }
    }

    #[test]
    fn exact_whatever_a_piece_depends_on_changes_its_key() {
        let key = |taken: &Taken<'_>, seed, set, range: Range<u64>| {
            Family::of::<Row>(taken, seed, set).key(&range)
        };
        let (one, two) = (vec![1.0, 2.0], vec![1.0, 2.000_000_000_000_000_4]);
        let plain = Taken::new("tallies", 1);
        let keys = [
            key(&plain, 1, 0, 0..16),
            key(&plain, 2, 0, 0..16),
            key(&plain, 1, 1, 0..16),
            key(&plain, 1, 0, 0..15),
            key(&plain, 1, 0, 16..32),
            key(&Taken::new("tallies", 2), 1, 0, 0..16),
            key(&Taken::new("strays", 1), 1, 0, 0..16),
            key(&plain.clone().with(&one), 1, 0, 0..16),
            key(&plain.clone().with(&two), 1, 0, 0..16),
            key(&plain.clone().with(&one).with(&two), 1, 0, 0..16),
            Family::of::<Vec<f64>>(&plain, 1, 0).key(&(0..16)),
        ];
        for (index, key) in keys.iter().enumerate() {
            assert!(!keys[..index].contains(key), "{index}");
        }
    }
}
