//! Speed of playback as an exact fraction, and what becomes of the pitch.

use model::Ratio;
use serde::{Serialize, Serializer};
use std::fmt;

/// Song seconds per second of playback, an exact fraction above zero in lowest terms: 2 plays the
/// song twice as fast, for a picture shot at 48 and shown at 24 frames a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Speed(Ratio);

/// What becomes of the pitch at another speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pitch {
    /// It rises and falls with the speed, as on a tape.
    Follows,
    /// It stays: the song is stretched in time only.
    Kept,
}

/// Why a speed is none.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpeedError {
    /// A text or fraction that is no speed.
    #[error(
        "`{text}` is no speed; write a fraction such as 5/2 or a number such as 2.5 above zero"
    )]
    Form {
        /// What was given.
        text: String,
    },
    /// A speed beyond what can be made.
    #[error("a speed of {speed} with {pitch} cannot be made; it lies between {least} and {most}")]
    Range {
        /// The speed met.
        speed: Speed,
        /// What shall become of the pitch.
        pitch: Pitch,
        /// The least speed.
        least: f64,
        /// The greatest speed.
        most: f64,
    },
}

/// Speeds with [`Pitch::Kept`].
pub const KEPT_RANGE: (f64, f64) = (0.25, 4.0);
/// Speeds with [`Pitch::Follows`].
pub const FOLLOWS_RANGE: (f64, f64) = (0.1, 10.0);

impl From<Ratio> for Speed {
    /// The speed that a picture shot at one rate and shown at another needs, so that lips match when it is
    /// shown: their quotient ([`model::FrameRate::over`]), exactly.
    fn from(ratio: Ratio) -> Self {
        Self(ratio)
    }
}

impl Speed {
    /// The song as it is.
    pub const ONE: Self = Self(Ratio::ONE);

    /// `num`/`den`.
    ///
    /// # Errors
    /// [`SpeedError::Form`] when either is zero or negative or above 10⁹ in lowest terms.
    pub fn new(num: i64, den: i64) -> Result<Self, SpeedError> {
        let wrong = || SpeedError::Form {
            text: format!("{num}/{den}"),
        };
        let whole = |n: i64| u128::try_from(n).ok().filter(|n| *n > 0);
        let ratio = whole(num)
            .zip(whole(den))
            .and_then(|(num, den)| Ratio::new(num, den))
            .filter(|ratio| ratio.num().max(ratio.den()) <= 1_000_000_000);
        ratio.map(Self).ok_or_else(wrong)
    }

    /// Reads `5/2`, `2.5` or `2`; a decimal is taken as it stands.
    ///
    /// # Errors
    /// [`SpeedError::Form`].
    pub fn parse(text: &str) -> Result<Self, SpeedError> {
        let wrong = || SpeedError::Form {
            text: text.chars().take(40).collect(),
        };
        let text = text.trim();
        let whole = |part: &str| -> Option<i64> {
            let digits = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
            digits.then(|| part.parse().ok())?
        };
        let (num, den) = if let Some((num, den)) = text.split_once('/') {
            (whole(num), whole(den))
        } else if let Some((units, decimals)) = text.split_once('.') {
            let places = u32::try_from(decimals.len()).unwrap_or(u32::MAX);
            (
                whole(&format!("{units}{decimals}")),
                10_i64.checked_pow(places),
            )
        } else {
            (whole(text), Some(1))
        };
        match (num, den) {
            (Some(num), Some(den)) => Self::new(num, den).map_err(|_| wrong()),
            _ => Err(wrong()),
        }
    }

    /// Numerator.
    pub const fn num(self) -> u64 {
        self.0.num()
    }

    /// Denominator.
    pub const fn den(self) -> u64 {
        self.0.den()
    }

    /// As a float, for showing and for signal processing.
    pub fn value(self) -> f64 {
        self.0.value()
    }

    /// By how much the pitch rises when it follows, in semitones of equal temperament.
    pub fn semitones(self) -> f64 {
        12.0 * self.value().log2()
    }

    /// Whether the song runs as it is.
    pub fn is_one(self) -> bool {
        self == Self::ONE
    }

    /// Whether it is within 0.2 % of one: a clock's or a 1000/1001 difference, 3.5 cents of pitch.
    pub fn is_near_one(self) -> bool {
        (self.value() - 1.0).abs() <= 0.002
    }

    /// Refuses what cannot be made.
    pub(crate) fn within(self, pitch: Pitch) -> Result<(), SpeedError> {
        let (least, most) = match pitch {
            Pitch::Kept => KEPT_RANGE,
            Pitch::Follows => FOLLOWS_RANGE,
        };
        if (least..=most).contains(&self.value()) {
            Ok(())
        } else {
            Err(SpeedError::Range {
                speed: self,
                pitch,
                least,
                most,
            })
        }
    }

    /// Song samples in `out` playback samples, rounded down, and the rest in `1/den` of a sample.
    pub(crate) fn song_at(self, out: i64) -> (i64, u64) {
        let (num, den) = (i128::from(self.num()), i128::from(self.den()));
        let product = i128::from(out) * num;
        (
            product.div_euclid(den) as i64,
            product.rem_euclid(den) as u64,
        )
    }

    /// As [`Speed::song_at`], to the nearest song sample.
    pub(crate) fn song_near(self, out: i64) -> i64 {
        let (whole, rest) = self.song_at(out);
        whole + i64::from(rest * 2 >= self.den())
    }

    /// The playback sample nearest to `song` song samples.
    pub(crate) fn out_near(self, song: i64) -> i64 {
        let (num, den) = (i128::from(self.num()), i128::from(self.den()));
        (i128::from(song) * den * 2 + num).div_euclid(num * 2) as i64
    }
}

impl Serialize for Speed {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl fmt::Display for Speed {
    /// `2`, or `5/2`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Follows => "the pitch following",
            Self::Kept => "the pitch kept",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rate(num: u32, den: u32) -> model::FrameRate {
        model::FrameRate::new(num, den).unwrap()
    }

    /// The table of usual pairs: shooting rate over showing rate; semitones are 12 log2 of it.
    #[test]
    fn usual_pairs_are_exact() {
        let cases = [
            ((48, 1), (24, 1), (2, 1), 12.0),
            ((60, 1), (24, 1), (5, 2), 15.8631),
            ((36, 1), (24, 1), (3, 2), 7.0196),
            ((30, 1), (24, 1), (5, 4), 3.8631),
            ((120, 1), (24, 1), (5, 1), 27.8631),
            ((50, 1), (25, 1), (2, 1), 12.0),
            ((60_000, 1001), (24_000, 1001), (5, 2), 15.8631),
            ((30_000, 1001), (24_000, 1001), (5, 4), 3.8631),
            ((25, 1), (24, 1), (25, 24), 0.7067),
            ((24, 1), (25, 1), (24, 25), -0.7067),
            ((24_000, 1001), (24, 1), (1000, 1001), -0.0173),
            ((18, 1), (24, 1), (3, 4), -4.9804),
            ((60, 1), (24_000, 1001), (1001, 400), 15.8804),
        ];
        for (shot, shown, expected, semitones) in cases {
            let speed = Speed::from(rate(shot.0, shot.1).over(rate(shown.0, shown.1)));
            assert_eq!((speed.num(), speed.den()), expected);
            assert!((speed.semitones() - semitones).abs() < 1e-4, "{speed}");
        }
    }

    #[test]
    fn it_is_written_as_a_fraction_that_reads_back() {
        for (num, den, text) in [(2, 1, "2"), (5, 2, "5/2"), (1000, 1001, "1000/1001")] {
            let speed = Speed::new(num, den).unwrap();
            assert_eq!(serde_json::to_value(speed).unwrap(), text);
            assert_eq!(Speed::parse(text).unwrap(), speed);
        }
    }

    #[test]
    fn texts_are_read_exactly() {
        for (text, expected) in [
            ("5/2", (5, 2)),
            ("2.50", (5, 2)),
            ("2", (2, 1)),
            ("0.96", (24, 25)),
        ] {
            let speed = Speed::parse(text).unwrap();
            assert_eq!((speed.num(), speed.den()), expected, "{text}");
        }
        for text in [
            "",
            "0",
            "-2",
            "0/1",
            "1/0",
            "2.",
            ".",
            "1e3",
            "nan",
            "+2",
            "2/-1",
            "9999999999",
            "1.0000000000000000000000001",
        ] {
            let got = Speed::parse(text);
            // `2.` is a whole number with an empty decimal part.
            assert!(got.is_err() || text == "2.", "{text} {got:?}");
        }
    }

    #[test]
    fn speeds_of_zero_and_a_hundred_are_refused() {
        assert!(
            Speed::new(0, 1).is_err() && Speed::new(-1, 2).is_err() && Speed::new(1, -2).is_err()
        );
        let hundred = Speed::new(100, 1).unwrap();
        assert!(hundred.within(Pitch::Follows).is_err() && hundred.within(Pitch::Kept).is_err());
        assert!(Speed::new(5, 1).unwrap().within(Pitch::Kept).is_err());
        assert!(Speed::new(5, 1).unwrap().within(Pitch::Follows).is_ok());
    }

    proptest! {
        #[test]
        fn there_and_back_is_within_half_a_playback_sample(num in 1_i64..5000, den in 1_i64..5000, song in -50_000_000_i64..50_000_000) {
            let speed = Speed::new(num, den).unwrap();
            let out = speed.out_near(song);
            let (whole, rest) = speed.song_at(out);
            let back = whole as f64 + rest as f64 / speed.den() as f64;
            prop_assert!((back - song as f64).abs() <= 0.5 * speed.value() + 1e-6);
        }
    }
}
