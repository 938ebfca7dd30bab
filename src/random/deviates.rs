//! Exponential, normal and gamma deviates that are the same on every machine.
//!
//! The algorithms are those of rand_distr 0.6.0, which takes its logarithms and powers from the system's library where
//! another crate wants that; here they come from [`crate::maths`]. the tests below hold them to rand_distr draw by draw.

use super::tables::{EXP_F, EXP_R, EXP_X, NORM_F, NORM_R, NORM_X};
use super::{Stream, unit};
use crate::maths::{exp, ln, pow};
use rand::Rng;

const MANTISSA_BITS: u32 = f64::MANTISSA_DIGITS - 1;
const EXPONENT_BIAS: u64 = 1023;
/// Bits of a random number that a float has no room for.
const SPARE_BITS: u32 = u64::BITS - MANTISSA_BITS;
/// Bits that choose a layer of the ziggurat.
const LAYER: u64 = 0xff;

/// A float between 2^exponent and twice that, by the upper bits of a random number.
#[inline]
fn from_mantissa(bits: u64, exponent: u64) -> f64 {
    f64::from_bits((EXPONENT_BIAS + exponent) << MANTISSA_BITS | bits >> SPARE_BITS)
}

/// Uniform on (0, 1).
#[inline]
fn open_unit(bits: u64) -> f64 {
    from_mantissa(bits, 0) - (1.0 - f64::EPSILON / 2.0)
}

/// Exponential deviate of mean 1, by the ziggurat method (Marsaglia & Tsang 2000; ZIGNOR variant of Doornik 2005).
#[inline]
pub fn exponential(stream: &mut Stream) -> f64 {
    loop {
        let bits = stream.next_u64();
        let layer = (bits & LAYER) as usize;
        let x = open_unit(bits) * EXP_X[layer];
        if x < EXP_X[layer + 1] {
            return x;
        }
        if layer == 0 {
            return EXP_R - ln(unit(stream));
        }
        let (low, high) = (EXP_F[layer + 1], EXP_F[layer]);
        if low + (high - low) * unit(stream) < exp(-x) {
            return x;
        }
    }
}

/// Standard normal deviate, by the same method.
#[inline]
pub fn normal(stream: &mut Stream) -> f64 {
    loop {
        let bits = stream.next_u64();
        let layer = (bits & LAYER) as usize;
        let u = from_mantissa(bits, 1) - 3.0;
        let x = u * NORM_X[layer];
        if x.abs() < NORM_X[layer + 1] {
            return x;
        }
        if layer == 0 {
            return normal_tail(u < 0.0, stream);
        }
        let (low, high) = (NORM_F[layer + 1], NORM_F[layer]);
        if low + (high - low) * unit(stream) < exp(-x * x / 2.0) {
            return x;
        }
    }
}

#[cold]
fn normal_tail(below: bool, stream: &mut Stream) -> f64 {
    loop {
        let x = ln(open_unit(stream.next_u64())) / NORM_R;
        let y = ln(open_unit(stream.next_u64()));
        if -2.0 * y >= x * x {
            return if below { x - NORM_R } else { NORM_R - x };
        }
    }
}

/// The gamma distribution (Marsaglia & Tsang 2000).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gamma {
    shape: f64,
    scale: f64,
    d: f64,
    c: f64,
}

impl Gamma {
    /// A gamma distribution of mean `shape` times `scale`; `None` unless both are positive and finite.
    #[must_use]
    pub fn new(shape: f64, scale: f64) -> Option<Self> {
        if !(shape > 0.0 && scale > 0.0 && shape.is_finite() && scale.is_finite()) {
            return None;
        }
        let boosted = if shape < 1.0 { shape + 1.0 } else { shape };
        let d = boosted - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        Some(Self { shape, scale, d, c })
    }

    /// Draws from it.
    pub fn sample(&self, stream: &mut Stream) -> f64 {
        if self.shape == 1.0 {
            return exponential(stream) * (1.0 / (1.0 / self.scale));
        }
        if self.shape < 1.0 {
            let u = open_unit(stream.next_u64());
            let large = self.unscaled(stream);
            return (large * pow(u, 1.0 / self.shape) * self.d) * self.scale;
        }
        self.unscaled(stream) * (self.d * self.scale)
    }

    fn unscaled(&self, stream: &mut Stream) -> f64 {
        /// Constant of the squeeze in the published algorithm.
        const SQUEEZE: f64 = 0.0331;
        loop {
            let x = normal(stream);
            let root = 1.0 + self.c * x;
            if root <= 0.0 {
                continue;
            }
            let v = root * root * root;
            let u = open_unit(stream.next_u64());
            let x2 = x * x;
            if u < 1.0 - SQUEEZE * x2 * x2 || ln(u) < 0.5 * x2 + self.d * (1.0 - v + ln(v)) {
                return v;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Key;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    const DRAWS: u64 = 200_000;

    /// Both draw from streams in the same state: the streams must go on together, and the draws be the same, to the
    /// last digits where the functions of the two libraries may differ.
    fn same(ours: impl Fn(&mut Stream) -> f64, theirs: impl Fn(&mut Stream) -> f64) {
        let (mut one, mut other) = (Key::master(3, 0).stream(), Key::master(3, 0).stream());
        for draw in 0..DRAWS {
            let (a, b) = (ours(&mut one), theirs(&mut other));
            assert!(
                (a - b).abs() <= 4.0 * f64::EPSILON * b.abs(),
                "draw {draw}: {a} {b}"
            );
            assert_eq!(one, other, "draw {draw}");
        }
    }

    #[test]
    fn exact_exponential_deviates_are_those_of_rand_distr() {
        same(exponential, |stream| Exp1.sample(stream));
    }

    #[test]
    fn exact_normal_deviates_are_those_of_rand_distr() {
        same(normal, |stream| StandardNormal.sample(stream));
    }

    #[test]
    fn exact_gamma_deviates_are_those_of_rand_distr() {
        for shape in [0.05, 0.4, 0.999, 1.0, 1.2, 7.0, 300.0] {
            let ours = Gamma::new(shape, 1.0 / shape).unwrap();
            let theirs = rand_distr::Gamma::new(shape, 1.0 / shape).unwrap();
            same(|stream| ours.sample(stream), |stream| theirs.sample(stream));
        }
        assert_eq!(Gamma::new(0.0, 1.0), None);
        assert_eq!(Gamma::new(1.0, f64::INFINITY), None);
    }
}
