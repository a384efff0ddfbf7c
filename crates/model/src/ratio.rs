//! Exact fractions: shutter angles and speeds that must not be rounded on the way.

use serde::{Serialize, Serializer};
use std::fmt;

/// A fraction of whole numbers in lowest terms, zero or more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    num: u64,
    den: u64,
}

impl Ratio {
    /// One.
    pub const ONE: Self = Self { num: 1, den: 1 };

    /// `num`/`den` in lowest terms; `None` when `den` is zero or the fraction does not fit.
    pub fn new(num: u128, den: u128) -> Option<Self> {
        if den == 0 {
            return None;
        }
        let divisor = gcd(num, den);
        Some(Self {
            num: u64::try_from(num / divisor).ok()?,
            den: u64::try_from(den / divisor).ok()?,
        })
    }

    /// The nearest thousandth to `value`, which is how angles and rates are written on a camera;
    /// `None` when it is negative, no number or above a billion.
    pub fn nearest_thousandth(value: f64) -> Option<Self> {
        if (0.0..=1e9).contains(&value) {
            Self::new((value * 1000.0).round() as u128, 1000)
        } else {
            None
        }
    }

    /// The numerator.
    pub const fn num(self) -> u64 {
        self.num
    }

    /// The denominator, never zero.
    pub const fn den(self) -> u64 {
        self.den
    }

    /// As a float, for showing.
    pub fn value(self) -> f64 {
        self.num as f64 / self.den as f64
    }

    /// Whether it is a whole number.
    pub const fn is_whole(self) -> bool {
        self.den == 1
    }
}

fn gcd(a: u128, b: u128) -> u128 {
    if b == 0 { a.max(1) } else { gcd(b, a % b) }
}

impl fmt::Display for Ratio {
    /// `2`, `5/2`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.den == 1 {
            write!(f, "{}", self.num)
        } else {
            write!(f, "{}/{}", self.num, self.den)
        }
    }
}

impl Serialize for Ratio {
    /// As text, `"5/2"`, as rates are written in the document.
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn odd_ends() {
        assert_eq!(Ratio::new(1, 0), None);
        assert_eq!(Ratio::new(u128::MAX, 1), None);
        assert_eq!(Ratio::new(0, 7).map(|r| (r.num(), r.den())), Some((0, 1)));
        assert_eq!(Ratio::nearest_thousandth(f64::NAN), None);
        assert_eq!(Ratio::nearest_thousandth(-1.0), None);
        assert_eq!(
            Ratio::nearest_thousandth(172.8).unwrap().to_string(),
            "864/5"
        );
    }

    proptest! {
        #[test]
        fn lowest_terms_keep_the_value(num in 0u64..1_000_000_000, den in 1u64..1_000_000) {
            let ratio = Ratio::new(u128::from(num), u128::from(den)).unwrap();
            prop_assert_eq!(u128::from(ratio.num()) * u128::from(den), u128::from(num) * u128::from(ratio.den()));
            prop_assert_eq!(gcd(u128::from(ratio.num()), u128::from(ratio.den())), 1);
        }
    }
}
