//! An exact fraction: speeds and counts of frames that must not round.

use std::fmt;

/// A fraction in lowest terms with a positive denominator.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    num: i128,
    den: i128,
}

/// How near a fraction must come to a speed given as a decimal, relative: over an hour at 60 frames
/// a second this is 0.0002 frames.
const NEAR: f64 = 1e-9;

impl Ratio {
    /// One.
    pub const ONE: Self = Self { num: 1, den: 1 };

    /// `num`/`den` in lowest terms; a zero denominator is taken as 1.
    pub fn new(num: i128, den: i128) -> Self {
        if den == 0 {
            return Self { num, den: 1 };
        }
        let divisor = gcd(num.unsigned_abs(), den.unsigned_abs()).max(1) as i128;
        let sign = den.signum();
        Self {
            num: sign * num / divisor,
            den: sign * den / divisor,
        }
    }

    /// The simplest fraction within one part in 10⁹ of `value` (continued fraction), so that
    /// 0.999000999 is 1000/1001 and 2.5 is 5/2. `None` unless `value` lies between 0.001 and 1000.
    pub fn nearest(value: f64) -> Option<Self> {
        if !(1e-3..=1e3).contains(&value) {
            return None;
        }
        // Convergents h/k of the continued fraction of `value`.
        let (mut h, mut k) = ((1_i128, 0_i128), (0_i128, 1_i128));
        let mut rest = value;
        for _ in 0..40 {
            let whole = rest.floor();
            h = (whole as i128 * h.0 + h.1, h.0);
            k = (whole as i128 * k.0 + k.1, k.0);
            if (h.0 as f64 / k.0 as f64 - value).abs() <= value * NEAR {
                break;
            }
            rest = 1.0 / (rest - whole);
        }
        Some(Self::new(h.0, k.0))
    }

    /// Numerator.
    pub fn num(self) -> i128 {
        self.num
    }

    /// Denominator, positive.
    pub fn den(self) -> i128 {
        self.den
    }

    /// One over it; zero stays zero.
    pub fn inverse(self) -> Self {
        Self::new(self.den, self.num)
    }

    /// The product.
    pub fn times(self, other: Self) -> Self {
        // Cancel crosswise first, so that the products stay small.
        let a = Self::new(self.num, other.den);
        let b = Self::new(other.num, self.den);
        Self::new(a.num.saturating_mul(b.num), a.den.saturating_mul(b.den))
    }

    /// The nearest whole number, halves up.
    pub fn round(self) -> i64 {
        clamp(
            (self.num.saturating_mul(2).saturating_add(self.den))
                .div_euclid(self.den.saturating_mul(2)),
        )
    }

    /// The whole number not above it.
    pub fn floor(self) -> i64 {
        clamp(self.num.div_euclid(self.den))
    }

    /// As a float.
    pub fn value(self) -> f64 {
        self.num as f64 / self.den as f64
    }
}

impl fmt::Display for Ratio {
    /// `24`, `1000/1001`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.den == 1 {
            write!(f, "{}", self.num)
        } else {
            write!(f, "{}/{}", self.num, self.den)
        }
    }
}

fn clamp(wide: i128) -> i64 {
    i64::try_from(wide).unwrap_or(if wide < 0 { i64::MIN } else { i64::MAX })
}

fn gcd(a: u128, b: u128) -> u128 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn usual_speeds_become_the_fractions_meant() {
        // The usual ratios of shot to shown frame rates, as floating point would hand them over.
        for (value, num, den) in [
            (2.0, 2, 1),
            (2.5, 5, 2),
            (1.5, 3, 2),
            (1.25, 5, 4),
            (25.0 / 24.0, 25, 24),
            (24.0 / 25.0, 24, 25),
            (1000.0 / 1001.0, 1000, 1001),
            (2.0 * 1000.0 / 1001.0, 2000, 1001),
            (60_000.0 / 1001.0 / 24.0, 2500, 1001),
            (0.75, 3, 4),
            (1.0 / 3.0, 1, 3),
        ] {
            assert_eq!(Ratio::nearest(value), Some(Ratio::new(num, den)), "{value}");
        }
    }

    #[test]
    fn what_is_no_speed_is_none() {
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-9, 1e9] {
            assert_eq!(Ratio::nearest(value), None);
        }
    }

    #[test]
    fn rounds_halves_up() {
        assert_eq!(Ratio::new(5, 2).round(), 3);
        assert_eq!(Ratio::new(-5, 2).round(), -2);
        assert_eq!(Ratio::new(-5, 2).floor(), -3);
        assert_eq!(Ratio::new(7, -14), Ratio::new(-1, 2));
    }

    proptest! {
        #[test]
        fn nearest_is_near(value in 0.001_f64..1000.0) {
            let ratio = Ratio::nearest(value).unwrap();
            prop_assert!((ratio.value() - value).abs() <= value * NEAR * 1.001);
        }

        #[test]
        fn huge_products_saturate(a in any::<i64>(), b in 1..=i64::MAX, c in any::<i64>()) {
            let big = Ratio::new(i128::from(a), i128::from(b));
            let _ = big.times(big).times(Ratio::new(i128::from(c), 1)).times(big).round();
        }
    }
}
