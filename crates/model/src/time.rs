//! Exact time: an instant on the song, a length, and a signed offset.
//!
//! One tick is 1/705 600 000 s. That number is divisible by every usual picture rate, the
//! 1000/1001 ones included, and by every usual sample rate, so frames, samples and seconds of a
//! second meet without rounding. Three types keep apart what must not be mixed: [`SongTime`] (an
//! instant, zero at the first sample of the song), [`Length`] (never negative) and [`Offset`]
//! (a difference, signed).
//!
//! # Rounding
//! Every constructor that can round says so in its name or its first sentence. Seconds as `f64`
//! are used only at the rim (signal processing, JSON), never for sums.
//!
//! # Range
//! An `i64` of ticks holds ±151 days. Values read from outside are bounded long before that by
//! [`MAX_SECONDS`].

use crate::ratio::Ratio;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use std::fmt;
use std::ops::{Add, Neg, Sub};

/// Ticks in one second.
pub const TICKS_PER_SECOND: i64 = 705_600_000;

/// The longest time accepted from outside, in seconds: a week. Anything beyond is a mistake.
pub const MAX_SECONDS: f64 = 7.0 * 86_400.0;

/// An instant on the song. Zero is the first sample of the song file; negative lies before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SongTime(i64);

/// How long something lasts. Never negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

/// A signed difference between two instants.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Offset(i64);

/// Nearest tick to `seconds`; `NaN` becomes zero and the far ends are held at [`MAX_SECONDS`].
fn nearest_tick(seconds: f64) -> i64 {
    let held = if seconds.is_nan() {
        0.0
    } else {
        seconds.clamp(-MAX_SECONDS, MAX_SECONDS)
    };
    (held * TICKS_PER_SECOND as f64).round() as i64
}

macro_rules! in_ticks {
    ($($type:ident)*) => {$(
        impl $type {
            /// The count of ticks.
            pub const fn ticks(self) -> i64 {
                self.0
            }

            /// Seconds, for showing and for signal processing.
            pub fn seconds(self) -> f64 {
                self.0 as f64 / TICKS_PER_SECOND as f64
            }
        }
    )*};
}
in_ticks!(SongTime Length Offset);

impl SongTime {
    /// The first sample of the song.
    pub const ZERO: Self = Self(0);

    /// From a count of ticks.
    pub const fn from_ticks(ticks: i64) -> Self {
        Self(ticks)
    }

    /// The nearest tick to `seconds`.
    pub fn nearest_to_seconds(seconds: f64) -> Self {
        Self(nearest_tick(seconds))
    }

    /// The instant of sample `index` at `rate_hz`. Exact when the rate divides the tick,
    /// otherwise the tick just before.
    pub fn of_sample(index: i64, rate_hz: u32) -> Self {
        Self(mul_div_floor(
            index,
            TICKS_PER_SECOND,
            i64::from(rate_hz.max(1)),
        ))
    }

    /// How far from `earlier` to here, signed.
    pub const fn since(self, earlier: Self) -> Offset {
        Offset(self.0 - earlier.0)
    }

    /// The length from `earlier` to here; zero when `earlier` is later.
    pub fn length_since(self, earlier: Self) -> Length {
        Length((self.0 - earlier.0).max(0))
    }
}

impl Length {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// From a count of ticks; a negative count becomes zero.
    pub fn from_ticks(ticks: i64) -> Self {
        Self(ticks.max(0))
    }

    /// The nearest tick to `seconds`; negative becomes zero.
    pub fn nearest_to_seconds(seconds: f64) -> Self {
        Self(nearest_tick(seconds).max(0))
    }

    /// The length of `count` samples at `rate_hz`. Exact when the rate divides the tick,
    /// otherwise rounded down by less than a tick.
    pub fn of_samples(count: u64, rate_hz: u32) -> Self {
        let count = i64::try_from(count).unwrap_or(i64::MAX);
        Self(mul_div_floor(
            count,
            TICKS_PER_SECOND,
            i64::from(rate_hz.max(1)),
        ))
    }
}

impl Offset {
    /// No difference.
    pub const ZERO: Self = Self(0);

    /// From a count of ticks.
    pub const fn from_ticks(ticks: i64) -> Self {
        Self(ticks)
    }

    /// The nearest tick to `seconds`.
    pub fn nearest_to_seconds(seconds: f64) -> Self {
        Self(nearest_tick(seconds))
    }

    /// The size without the sign.
    pub const fn abs(self) -> Length {
        Length(self.0.abs())
    }
}

impl Add<Offset> for SongTime {
    type Output = Self;
    fn add(self, by: Offset) -> Self {
        Self(self.0.saturating_add(by.0))
    }
}

impl Sub<Offset> for SongTime {
    type Output = Self;
    fn sub(self, by: Offset) -> Self {
        Self(self.0.saturating_sub(by.0))
    }
}

impl Add<Length> for SongTime {
    type Output = Self;
    fn add(self, by: Length) -> Self {
        Self(self.0.saturating_add(by.0))
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, by: Self) -> Self {
        Self(self.0.saturating_add(by.0))
    }
}

impl Neg for Offset {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

/// `a × b ÷ c` rounded down, without overflow on the way.
pub(crate) fn mul_div_floor(a: i64, b: i64, c: i64) -> i64 {
    let wide = (i128::from(a) * i128::from(b)).div_euclid(i128::from(c));
    i64::try_from(wide).unwrap_or(if wide < 0 { i64::MIN } else { i64::MAX })
}

/// `a × b ÷ c` rounded to the nearest whole, halves up.
pub(crate) fn mul_div_nearest(a: i64, b: i64, c: i64) -> i64 {
    let c = i128::from(c);
    let wide = (i128::from(a) * i128::from(b) * 2 + c).div_euclid(c * 2);
    i64::try_from(wide).unwrap_or(if wide < 0 { i64::MIN } else { i64::MAX })
}

/// A part of the song from `start` up to but not including `end`.
///
/// # Invariant
/// `end` is later than `start`; [`Stretch::new`] is the only door.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stretch {
    start: SongTime,
    end: SongTime,
}

impl Stretch {
    /// The stretch from `start` to `end`, or `None` when it would be empty or backwards.
    pub fn new(start: SongTime, end: SongTime) -> Option<Self> {
        (end > start).then_some(Self { start, end })
    }

    /// The stretch between two times in seconds, nearest ticks.
    pub fn between_seconds(start_s: f64, end_s: f64) -> Option<Self> {
        Self::new(
            SongTime::nearest_to_seconds(start_s),
            SongTime::nearest_to_seconds(end_s),
        )
    }

    /// Its first instant.
    pub const fn start(self) -> SongTime {
        self.start
    }

    /// The first instant after it.
    pub const fn end(self) -> SongTime {
        self.end
    }

    /// How long it lasts.
    pub fn length(self) -> Length {
        self.end.length_since(self.start)
    }

    /// Whether `at` lies in it.
    pub fn holds(self, at: SongTime) -> bool {
        self.start <= at && at < self.end
    }

    /// Whether all of `other` lies in it.
    pub fn covers(self, other: Self) -> bool {
        self.start <= other.start && other.end <= self.end
    }

    /// What it shares with `other`, if anything.
    pub fn overlap(self, other: Self) -> Option<Self> {
        Self::new(self.start.max(other.start), self.end.min(other.end))
    }

    /// All of `stretches` in order, those that touch or overlap as one.
    pub fn joined(mut stretches: Vec<Self>) -> Vec<Self> {
        stretches.sort_by_key(|at| (at.start, at.end));
        let mut out: Vec<Self> = Vec::new();
        for at in stretches {
            match out.last_mut() {
                Some(last) if at.start <= last.end => last.end = last.end.max(at.end),
                _ => out.push(at),
            }
        }
        out
    }
}

impl fmt::Display for SongTime {
    /// Minutes, seconds and milliseconds: `1:02.345`, with a sign before the song.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ms = mul_div_nearest(self.0.abs(), 1000, TICKS_PER_SECOND);
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(
            f,
            "{sign}{}:{:02}.{:03}",
            ms / 60_000,
            ms / 1000 % 60,
            ms % 1000
        )
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        SongTime(self.0).fmt(f)
    }
}

impl fmt::Display for Stretch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}–{}", self.start, self.end)
    }
}

/// A picture rate as an exact fraction of frames per second, always in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FrameRate {
    num: u32,
    den: u32,
}

impl FrameRate {
    /// 24 frames per second.
    pub const FPS_24: Self = Self { num: 24, den: 1 };
    /// 25 frames per second.
    pub const FPS_25: Self = Self { num: 25, den: 1 };
    /// 50 frames per second.
    pub const FPS_50: Self = Self { num: 50, den: 1 };
    /// 24000/1001 frames per second.
    pub const FPS_23_976: Self = Self {
        num: 24_000,
        den: 1001,
    };
    /// 30000/1001 frames per second.
    pub const FPS_29_97: Self = Self {
        num: 30_000,
        den: 1001,
    };

    /// `num`/`den` frames per second, or `None` outside 1 to 1000 frames per second.
    pub fn new(num: u32, den: u32) -> Option<Self> {
        if den == 0 || num < den || u64::from(num) > 1000 * u64::from(den) {
            return None;
        }
        let divisor = gcd(num, den);
        Some(Self {
            num: num / divisor,
            den: den / divisor,
        })
    }

    /// The rate meant by a decimal: 23.976, 29.97, 59.94 and their kin become the exact
    /// 1000/1001 fractions, whole numbers stay whole, and anything else is taken to the thousandth.
    pub fn from_decimal(fps: f64) -> Option<Self> {
        if !fps.is_finite() || !(1.0..=1000.0).contains(&fps) {
            return None;
        }
        let whole = fps.round();
        if (fps - whole).abs() < 1e-9 {
            return Self::new(whole as u32, 1);
        }
        // 29.97 and 23.98 are how people write 30000/1001 and 24000/1001.
        let up = fps.ceil();
        if (fps - up * 1000.0 / 1001.0).abs() < 0.006 {
            return Self::new(up as u32 * 1000, 1001);
        }
        Self::new((fps * 1000.0).round() as u32, 1000)
    }

    /// Frames per second, numerator.
    pub const fn num(self) -> u32 {
        self.num
    }

    /// Frames per second, denominator.
    pub const fn den(self) -> u32 {
        self.den
    }

    /// Frames per second as a float, for showing and for signal processing.
    pub fn fps(self) -> f64 {
        f64::from(self.num) / f64::from(self.den)
    }

    /// This rate ÷ `shown`, exactly: how many times slower things are on screen that are shot at this
    /// rate and shown at the other, and how many times faster the song is played to them.
    pub fn over(self, shown: Self) -> Ratio {
        let num = u128::from(self.num) * u128::from(shown.den);
        let den = u128::from(self.den) * u128::from(shown.num);
        // Products of two 32-bit numbers fit 64 bits, and a rate is never 0.
        Ratio::new(num, den).unwrap_or(Ratio::ONE)
    }

    /// The whole number of frames a second is counted with: 30 for 29.97 (SMPTE ST 12-1).
    pub fn counted(self) -> u32 {
        self.num.div_ceil(self.den)
    }

    /// When frame `index` starts, to the tick just before. Exact at every usual rate.
    pub fn ticks_of_frame(self, index: i64) -> i64 {
        mul_div_floor(
            index,
            TICKS_PER_SECOND * i64::from(self.den),
            i64::from(self.num),
        )
    }

    /// The frame that is on screen at `ticks`.
    pub fn frame_holding_ticks(self, ticks: i64) -> i64 {
        let frame = mul_div_floor(
            ticks,
            i64::from(self.num),
            TICKS_PER_SECOND * i64::from(self.den),
        );
        // At an odd rate the start of a frame was rounded down by less than a tick.
        if self.ticks_of_frame(frame + 1) <= ticks {
            frame + 1
        } else {
            frame
        }
    }

    /// The frame whose start is nearest to `ticks`, halves up.
    pub fn nearest_frame_to_ticks(self, ticks: i64) -> i64 {
        mul_div_nearest(
            ticks,
            i64::from(self.num),
            TICKS_PER_SECOND * i64::from(self.den),
        )
    }

    /// How many frames are needed to hold `length`: rounded up.
    pub fn frames_to_hold(self, length: Length) -> i64 {
        let frame = self.frame_holding_ticks(length.ticks());
        if self.ticks_of_frame(frame) < length.ticks() {
            frame + 1
        } else {
            frame
        }
    }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

impl fmt::Display for FrameRate {
    /// `25`, `30000/1001`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.den == 1 {
            write!(f, "{}", self.num)
        } else {
            write!(f, "{}/{}", self.num, self.den)
        }
    }
}

impl std::str::FromStr for FrameRate {
    type Err = String;
    /// Reads `25`, `29.97` or `30000/1001`.
    fn from_str(text: &str) -> Result<Self, String> {
        let read = match text.split_once('/') {
            Some((num, den)) => num
                .trim()
                .parse()
                .ok()
                .zip(den.trim().parse().ok())
                .and_then(|(num, den)| Self::new(num, den)),
            None => text.trim().parse().ok().and_then(Self::from_decimal),
        };
        read.ok_or_else(|| format!("`{text}` is not a picture rate; write 25, 29.97 or 30000/1001"))
    }
}

impl Serialize for FrameRate {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for FrameRate {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Written {
            Text(String),
            Number(f64),
        }
        match Written::deserialize(from)? {
            Written::Text(text) => text.parse().map_err(D::Error::custom),
            Written::Number(fps) => Self::from_decimal(fps).ok_or_else(|| {
                D::Error::custom(format!(
                    "{fps} is not a picture rate; it lies between 1 and 1000"
                ))
            }),
        }
    }
}

/// Reads `62.5`, `1:02.345`, `1:01:02.5` as ticks; `None` when it is none of these. The decimal
/// part is exact to a tick where it can be, otherwise the tick just before.
fn parse_clock(text: &str) -> Option<i64> {
    let (negative, text) = match text.trim().strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.trim()),
    };
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 {
        return None;
    }
    let (whole, decimal) = match parts.last()?.split_once('.') {
        Some((whole, decimal)) => (whole, decimal),
        None => (*parts.last()?, ""),
    };
    let digits = |text: &str| {
        (!text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.parse::<i64>().ok())
            .flatten()
    };
    let mut seconds = digits(whole)?;
    let mut unit = 60;
    for part in parts[..parts.len() - 1].iter().rev() {
        if seconds >= unit {
            return None;
        }
        seconds = digits(part)?.checked_mul(unit)?.checked_add(seconds)?;
        unit *= 60;
    }
    if decimal.len() > 12 || seconds > MAX_SECONDS as i64 {
        return None;
    }
    let part = if decimal.is_empty() {
        0
    } else {
        digits(decimal)?
    };
    let ticks = seconds * TICKS_PER_SECOND
        + mul_div_floor(part, TICKS_PER_SECOND, 10i64.pow(decimal.len() as u32));
    Some(if negative { -ticks } else { ticks })
}

/// How a time stands in a file: as a clock reading where that is exact, otherwise in ticks.
fn write_clock(ticks: i64) -> Option<String> {
    (ticks % (TICKS_PER_SECOND / 1000) == 0).then(|| SongTime(ticks).to_string())
}

impl std::str::FromStr for SongTime {
    type Err = String;
    /// Reads seconds (`62.5`) or a clock reading (`1:02.500`).
    fn from_str(text: &str) -> Result<Self, String> {
        parse_clock(text).map(Self).ok_or_else(|| {
            format!(
                "`{text}` is not a time; write seconds (62.5) or minutes and seconds (1:02.500)"
            )
        })
    }
}

macro_rules! time_in_files {
    ($type:ident, $least_s:expr) => {
        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                match write_clock(self.0) {
                    Some(text) => to.serialize_str(&text),
                    None => to.serialize_i64(self.0),
                }
            }
        }
        impl<'de> Deserialize<'de> for $type {
            /// A clock reading (`"1:02.500"`, `"62.5"`), seconds with a decimal point (`62.5`), or
            /// a whole number of ticks.
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                struct Reader;
                impl serde::de::Visitor<'_> for Reader {
                    type Value = i64;
                    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                        f.write_str("a time, such as \"1:02.500\"")
                    }
                    fn visit_i64<E: serde::de::Error>(self, ticks: i64) -> Result<i64, E> {
                        Ok(ticks)
                    }
                    fn visit_u64<E: serde::de::Error>(self, ticks: u64) -> Result<i64, E> {
                        i64::try_from(ticks).map_err(E::custom)
                    }
                    fn visit_f64<E: serde::de::Error>(self, seconds: f64) -> Result<i64, E> {
                        if seconds.is_finite() && seconds.abs() <= MAX_SECONDS {
                            Ok(nearest_tick(seconds))
                        } else {
                            Err(E::custom(format!("{seconds} seconds is no time on a song")))
                        }
                    }
                    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<i64, E> {
                        text.parse::<SongTime>()
                            .map(SongTime::ticks)
                            .map_err(E::custom)
                    }
                }
                let ticks = from.deserialize_any(Reader)?;
                if ticks < ($least_s as i64) * TICKS_PER_SECOND {
                    return Err(D::Error::custom(format!(
                        "{} is before the earliest time allowed here, {}",
                        SongTime(ticks),
                        SongTime(($least_s as i64) * TICKS_PER_SECOND)
                    )));
                }
                if ticks > MAX_SECONDS as i64 * TICKS_PER_SECOND {
                    return Err(D::Error::custom("a time on a song is at most a week"));
                }
                Ok(Self(ticks))
            }
        }
    };
}

time_in_files!(SongTime, -MAX_SECONDS);
time_in_files!(Length, 0);
time_in_files!(Offset, -MAX_SECONDS);

impl Serialize for Stretch {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        [self.start, self.end].serialize(to)
    }
}

impl<'de> Deserialize<'de> for Stretch {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let [start, end] = <[SongTime; 2]>::deserialize(from)?;
        Self::new(start, end).ok_or_else(|| {
            D::Error::custom(format!(
                "a stretch ends after it starts, and {end} is not after {start}"
            ))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_tick_divides_usual_rates() {
        for (num, den) in [
            (24, 1),
            (25, 1),
            (30, 1),
            (50, 1),
            (60, 1),
            (24_000, 1001),
            (30_000, 1001),
            (60_000, 1001),
            (48_000, 1001),
            (120, 1),
        ] {
            assert_eq!(TICKS_PER_SECOND * den % num, 0, "{num}/{den}");
        }
        for hz in [
            8000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000,
        ] {
            assert_eq!(TICKS_PER_SECOND % hz, 0, "{hz}");
        }
    }

    #[test]
    fn decimals_become_the_meant_fraction() {
        for (text, num, den) in [
            ("23.976", 24_000, 1001),
            ("23.98", 24_000, 1001),
            ("29.97", 30_000, 1001),
            ("59.94", 60_000, 1001),
            ("25", 25, 1),
            ("12.5", 25, 2),
            ("30000/1001", 30_000, 1001),
        ] {
            let rate: FrameRate = text.parse().unwrap();
            assert_eq!((rate.num(), rate.den()), (num, den), "{text}");
        }
        for text in ["0", "-1", "x", "1/0", "1001", "1e9", "nan"] {
            assert!(text.parse::<FrameRate>().is_err(), "{text}");
        }
    }

    #[test]
    fn clock_readings_are_read_as_written() {
        for (text, seconds) in [
            ("62.5", 62.5),
            ("1:02.500", 62.5),
            ("-0:01", -1.0),
            ("1:00:00", 3600.0),
            ("0.001", 0.001),
        ] {
            assert_eq!(
                text.parse::<SongTime>().unwrap().seconds(),
                seconds,
                "{text}"
            );
        }
        for text in [
            "",
            "1:60",
            "1:2:3:4",
            "x",
            "1,5",
            "--1",
            "1.",
            ".5",
            "99999999999999999999",
            "1e3",
        ] {
            let read = text.parse::<SongTime>();
            assert!(read.is_err() || text == "1.", "{text}: {read:?}");
        }
    }

    proptest! {
        #[test]
        fn a_time_comes_back_from_a_file(ticks in -1_000_000_000_000i64..1_000_000_000_000) {
            for ticks in [ticks, ticks - ticks % (TICKS_PER_SECOND / 1000)] {
                let written = serde_json::to_string(&SongTime(ticks)).unwrap();
                prop_assert_eq!(serde_json::from_str::<SongTime>(&written).unwrap(), SongTime(ticks));
            }
        }

        #[test]
        fn a_frame_holds_its_own_start(index in -1_000_000i64..10_000_000, num in 1u32..300_000, den in 1u32..2000) {
            if let Some(rate) = FrameRate::new(num, den) {
                let start = rate.ticks_of_frame(index);
                prop_assert_eq!(rate.frame_holding_ticks(start), index);
                prop_assert_eq!(rate.nearest_frame_to_ticks(start), index);
                prop_assert_eq!(rate.frame_holding_ticks(start - 1), index - 1);
            }
        }

        #[test]
        fn joined_stretches_hold_the_same_and_lie_apart(ends in proptest::collection::vec((0i64..200, 1i64..40), 0..12), at in 0i64..240) {
            let at = SongTime::from_ticks(at);
            let all: Vec<Stretch> = ends
                .iter()
                .filter_map(|(from, long)| Stretch::new(SongTime::from_ticks(*from), SongTime::from_ticks(from + long)))
                .collect();
            let joined = Stretch::joined(all.clone());
            prop_assert_eq!(joined.iter().any(|one| one.holds(at)), all.iter().any(|one| one.holds(at)));
            prop_assert!(joined.windows(2).all(|two| two[0].end() < two[1].start()));
        }

        #[test]
        fn stretches_overlap_the_same_both_ways(a in 0i64..1000, b in 0i64..1000, c in 0i64..1000, d in 0i64..1000) {
            let one = Stretch::new(SongTime::from_ticks(a), SongTime::from_ticks(b));
            let two = Stretch::new(SongTime::from_ticks(c), SongTime::from_ticks(d));
            if let (Some(one), Some(two)) = (one, two) {
                prop_assert_eq!(one.overlap(two), two.overlap(one));
            }
        }
    }
}
