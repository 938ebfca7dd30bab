//! Streams of randomness: every draw has an owner.
//!
//! A stream is a xoshiro256++ generator (Blackman & Vigna 2021; portable, with pinned output)
//! seeded from a *hash* of who owns it: (master seed, parameter set, replicate, stem, larva,
//! purpose). Keys are never made by adding offsets, so streams of neighbours do not overlap. The
//! layout is not in the key: runs that differ only in layout share their numbers larva by larva.

mod deviates;
mod tables;

pub use deviates::{Gamma, exponential, normal};

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// The generator behind every stream.
pub type Stream = Xoshiro256PlusPlus;

/// What a stream is used for; part of its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u64)]
pub enum Purpose {
    /// Effect of a site on the survival of every stage.
    SiteSurvival = 1,
    /// Where the stems of a patch stand.
    Placement = 2,
    /// Egg-laying on one stem.
    Stem = 3,
    /// Development rate and lifetime budgets of one larva.
    Life = 4,
    /// One bout of walking.
    Bout = 5,
    /// What a volunteer sees of one larva in one survey.
    Sighting = 6,
    /// What a volunteer does at a site: weeks missed, stems miscounted.
    Volunteer = 7,
    /// Moving a larva out of the way at cutting.
    Rescue = 8,
    /// Drawing whole parameter sets.
    ParameterSet = 9,
    /// Which sites volunteers offer, and their seasons.
    Recruitment = 10,
    /// Which sites make up a simulated study.
    Study = 11,
    /// A larva let go in a release.
    Release = 12,
    /// Effect of a site on egg-laying.
    SiteLaying = 13,
    /// Effect of a patch on egg-laying.
    PatchLaying = 14,
    /// The coin for the cut side of a patch.
    CutSide = 15,
    /// Regrowth of one stem after cutting.
    Regrowth = 16,
    /// Whether a departure is a fall.
    Fall = 17,
    /// Resampling of results.
    Bootstrap = 18,
    /// Correction of counts for larvae that changed sides.
    Correction = 19,
    /// Seasons of offered sites.
    Screening = 20,
    /// Releases simulated to calibrate the walk.
    Calibration = 21,
    /// Points at which sensitivity is looked at.
    Sensitivity = 22,
}

/// Odd constants that separate the two arguments of [`Key::with`]; the first is the golden ratio
/// in 64 bits (Knuth's multiplicative hashing), the second the multiplier of Stafford's mix 13.
const SPREAD: u64 = 0x9e37_79b9_7f4a_7c15;
const SHIFTED: u64 = 0xbf58_476d_1ce4_e5b9;

/// Finaliser of SplitMix64 (Steele, Lea & Flood 2014, variant 13 of Stafford).
#[inline]
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(SHIFTED);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The hashed identity of an owner of randomness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key(u64);

impl Key {
    /// The root of everything: master seed and parameter set (0 for the central values).
    #[must_use]
    pub fn master(seed: u64, parameter_set: u64) -> Self {
        Self(mix(seed ^ SHIFTED)).with(parameter_set)
    }

    /// The root of a question's own draws. No number of a parameter set leads here, however many are drawn: the largest
    /// is 2^53, the purposes begin beyond 2^63.
    #[must_use]
    pub fn apart(seed: u64, purpose: Purpose) -> Self {
        Self(mix(seed ^ SHIFTED)).to(purpose)
    }

    /// A key inside this one, by any number: a replicate, a patch, a stem, an egg.
    #[inline]
    #[must_use]
    pub fn with(self, part: u64) -> Self {
        Self(mix(
            mix(part.wrapping_add(SPREAD)) ^ self.0.wrapping_mul(SPREAD).rotate_left(23)
        ))
    }

    /// A key inside this one for a purpose.
    #[inline]
    #[must_use]
    pub fn to(self, purpose: Purpose) -> Self {
        self.with(SHIFTED ^ purpose as u64)
    }

    /// The stream that this key owns.
    #[inline]
    #[must_use]
    pub fn stream(self) -> Stream {
        // What `seed_from_u64` does, spelt out so that it is inlined: a season seeds a thousand streams.
        let mut seed = [0; 32];
        let mut state = self.0;
        for word in seed.chunks_exact_mut(8) {
            state = state.wrapping_add(SPREAD);
            word.copy_from_slice(&mix(state).to_le_bytes());
        }
        Stream::from_seed(seed)
    }

    /// This key as a master seed, for work that is to share nothing with other work.
    #[must_use]
    pub fn seed(self) -> u64 {
        self.0
    }

    /// One number in [0, 1) that belongs to this key; for owners who need just one.
    #[inline]
    #[must_use]
    pub fn unit(self) -> f64 {
        to_unit(self.0)
    }
}

/// Uniform on [0, 1) from 64 random bits: the upper 53, as a multiple of 2^-53.
#[inline]
fn to_unit(bits: u64) -> f64 {
    const STEP: f64 = 1.0 / (1u64 << 53) as f64;
    (bits >> 11) as f64 * STEP
}

/// The stream of a number under a seed, for work that has no other owner.
#[must_use]
pub fn numbered(seed: u64, number: u64) -> Stream {
    Key::master(seed, 0).with(number).stream()
}

/// Uniform on [0, 1).
#[inline]
pub fn unit(stream: &mut Stream) -> f64 {
    to_unit(stream.next_u64())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of the SplitMix64 generator started at 0, as printed with the reference C code by Vigna
    /// (splitmix64.c, public domain); from memory.
    #[test]
    fn published_mix_gives_the_first_splitmix_outputs() {
        assert_eq!(mix(SPREAD), 0xe220_a839_7b1d_cdaf);
        assert_eq!(mix(SPREAD.wrapping_mul(2)), 0x6e78_9e6a_a1b9_65f4);
    }

    #[test]
    fn exact_streams_differ_by_seed_and_by_number() {
        let streams = [
            numbered(1, 0),
            numbered(1, 1),
            numbered(2, 0),
            numbered(2, 1),
        ];
        for (i, a) in streams.iter().enumerate() {
            for b in &streams[i + 1..] {
                assert_ne!(a, b);
            }
        }
    }

    #[test]
    fn exact_streams_are_seeded_by_splitmix64() {
        for number in 0..1_000 {
            let key = Key::master(7, 0).with(number);
            assert_eq!(key.stream(), Stream::seed_from_u64(key.0));
        }
    }
}
