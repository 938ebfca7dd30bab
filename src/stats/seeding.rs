//! Independent random streams from one seed and an index.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// Increment of the Weyl sequence in SplitMix: 2^64 over the golden ratio, made odd.
const GOLDEN_GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

/// The 64-bit mixing function of SplitMix (variant 13 of Stafford) in Steele, Lea & Flood
/// (2014), Proceedings of OOPSLA: 453-472. A bijection, so distinct inputs stay distinct.
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The random stream number `index` of `seed`.
///
/// The seed is mixed before the index is added, so that neighbouring seeds do not share
/// shifted copies of the same streams.
pub(super) fn stream(seed: u64, index: u64) -> Xoshiro256PlusPlus {
    let start = mix(seed.wrapping_add(GOLDEN_GAMMA));
    let step = index.wrapping_add(1).wrapping_mul(GOLDEN_GAMMA);
    Xoshiro256PlusPlus::seed_from_u64(mix(start.wrapping_add(step)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of the SplitMix64 generator started at 0, as printed with the
    /// reference C code by Vigna (splitmix64.c, public domain); from memory.
    #[test]
    fn published_mix_gives_the_first_splitmix_outputs() {
        assert_eq!(mix(GOLDEN_GAMMA), 0xe220_a839_7b1d_cdaf);
        assert_eq!(mix(GOLDEN_GAMMA.wrapping_mul(2)), 0x6e78_9e6a_a1b9_65f4);
    }

    #[test]
    fn exact_streams_differ_by_seed_and_by_index() {
        let streams = [stream(1, 0), stream(1, 1), stream(2, 0), stream(2, 1)];
        for (i, a) in streams.iter().enumerate() {
            for b in &streams[i + 1..] {
                assert_ne!(a, b);
            }
        }
    }
}
