//! SMPTE timecode (ST 12-1): labels for frames, drop-frame counting included.
//!
//! A label counts whole frames, never seconds: at 24000/1001 an hour of labels lasts 3603.6 s.
//! Drop-frame counting leaves out labels, never frames, so that at 29.97 and 59.94 the labels keep
//! to the clock (17 982 frames, 599.9994 s, in ten minutes of labels): two at the start of every
//! minute but each tenth, four at 59.94. Labels wrap at 24 hours. Rates above 100 frames a second,
//! for which the standard has no label, are shown with three digits of frames.

use model::FrameRate;
use std::fmt;

/// How labels are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Counting {
    /// A label for every number: `01:00:00:00`.
    NonDrop,
    /// Some labels left out so that they keep to the clock: `01:00:00;00`.
    Drop,
}

/// A label: a frame of the day at a rate, counted one way or the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Timecode {
    frame: i64,
    rate: FrameRate,
    counting: Counting,
}

/// Why a text is no timecode.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimecodeError {
    /// Not of the form `hh:mm:ss:ff`.
    #[error("`{text}` is not a timecode; write hours, minutes, seconds and frames as 01:02:03:04")]
    Form {
        /// What was read.
        text: String,
    },
    /// A part beyond its range.
    #[error("`{text}` is not a timecode: {part} is {value}, and may be 0 to {most}")]
    Range {
        /// What was read.
        text: String,
        /// Which part.
        part: &'static str,
        /// Its value.
        value: u32,
        /// The greatest allowed.
        most: u32,
    },
    /// A label that drop-frame counting leaves out.
    #[error(
        "`{text}` does not exist in drop-frame timecode: frames 0 to {last} are left out at the start of minute {minute}; the next label is frame {next}"
    )]
    Dropped {
        /// What was read.
        text: String,
        /// The last number left out.
        last: u32,
        /// Which minute.
        minute: u32,
        /// The first number there is.
        next: u32,
    },
    /// Drop-frame counting at a rate that has none.
    #[error(
        "`{text}` is drop-frame timecode (`;`), which exists at 29.97 and 59.94 frames a second only, not at {rate}"
    )]
    NoDrop {
        /// What was read.
        text: String,
        /// The rate.
        rate: FrameRate,
    },
}

impl Counting {
    /// What a cut at `rate` is counted with: drop-frame where the rate has it, else every label.
    pub fn usual(rate: FrameRate) -> Self {
        if dropped_per_minute(rate) > 0 {
            Self::Drop
        } else {
            Self::NonDrop
        }
    }
}

impl Timecode {
    /// The label of the `frame`th frame of the day, wrapped at 24 hours. Drop-frame counting at a
    /// rate that has none becomes non-drop.
    pub fn from_frame(frame: i64, rate: FrameRate, counting: Counting) -> Self {
        let counting = match counting {
            Counting::Drop => Counting::usual(rate),
            Counting::NonDrop => Counting::NonDrop,
        };
        let day = frames_before_minute(24 * 60, rate, counting);
        Self {
            frame: frame.rem_euclid(day),
            rate,
            counting,
        }
    }

    /// The label at hours, minutes and seconds, frame 0 (or the first label there is in that
    /// minute), wrapped at 24 hours.
    pub fn at_clock(h: u32, m: u32, s: u32, rate: FrameRate, counting: Counting) -> Self {
        let minute = i64::from(h) * 60 + i64::from(m);
        let counted = i64::from(rate.counted());
        let frame = frames_before_minute(minute, rate, counting);
        let into = i64::from(s) * counted;
        let gone = if counting == Counting::Drop && minute % 10 != 0 && s > 0 {
            dropped_per_minute(rate)
        } else {
            0
        };
        Self::from_frame(frame + into - gone, rate, counting)
    }

    /// Reads `01:02:03:04`, or `01:02:03;04` as drop-frame.
    ///
    /// # Errors
    /// When the text has another form, a part is out of range, the label is one that drop-frame
    /// counting leaves out, or the rate has no drop-frame counting.
    pub fn parse(text: &str, rate: FrameRate) -> Result<Self, TimecodeError> {
        let form = || TimecodeError::Form {
            text: text.chars().take(40).collect(),
        };
        let trimmed = text.trim();
        let mut numbers = [0_u32; 4];
        let mut separators = [':'; 3];
        let mut at = 0;
        let mut digits = 0;
        for c in trimmed.chars() {
            if let Some(digit) = c.to_digit(10) {
                digits += 1;
                if digits > 3 {
                    return Err(form());
                }
                numbers[at] = numbers[at] * 10 + digit;
            } else if matches!(c, ':' | ';') && digits > 0 && at < 3 {
                separators[at] = c;
                at += 1;
                digits = 0;
            } else {
                return Err(form());
            }
        }
        if at < 3 || digits == 0 {
            return Err(form());
        }
        let text = || trimmed.to_owned();
        let [h, m, s, f] = numbers;
        let counted = rate.counted();
        for (part, value, most) in [
            ("hours", h, 23),
            ("minutes", m, 59),
            ("seconds", s, 59),
            ("frames", f, counted - 1),
        ] {
            if value > most {
                return Err(TimecodeError::Range {
                    text: text(),
                    part,
                    value,
                    most,
                });
            }
        }
        let minute = h * 60 + m;
        if separators[2] != ';' {
            let seconds = i64::from(minute) * 60 + i64::from(s);
            let frame = seconds * i64::from(counted) + i64::from(f);
            return Ok(Self::from_frame(frame, rate, Counting::NonDrop));
        }
        let dropped = dropped_per_minute(rate) as u32;
        if dropped == 0 {
            return Err(TimecodeError::NoDrop { text: text(), rate });
        }
        let short = m % 10 != 0;
        if short && s == 0 && f < dropped {
            return Err(TimecodeError::Dropped {
                text: text(),
                last: dropped - 1,
                minute: m,
                next: dropped,
            });
        }
        let gone = if short { dropped } else { 0 };
        let frame = frames_before_minute(i64::from(minute), rate, Counting::Drop)
            + i64::from(s * counted + f - gone);
        Ok(Self::from_frame(frame, rate, Counting::Drop))
    }

    /// Which frame of the day it labels, counted from 0.
    pub fn to_frame(self) -> i64 {
        self.frame
    }

    /// Its rate.
    pub fn rate(self) -> FrameRate {
        self.rate
    }

    /// How it is counted.
    pub fn counting(self) -> Counting {
        self.counting
    }

    /// The label `frames` later (earlier when negative), wrapped at 24 hours.
    pub fn plus(self, frames: i64) -> Self {
        let day = frames_before_minute(24 * 60, self.rate, self.counting);
        Self {
            frame: (self.frame + frames.rem_euclid(day)).rem_euclid(day),
            ..self
        }
    }

    /// Hours, minutes, seconds and frames.
    pub fn parts(self) -> [u32; 4] {
        let counted = i64::from(self.rate.counted());
        let number = match self.counting {
            Counting::NonDrop => self.frame,
            Counting::Drop => {
                // Put the numbers left out back in, ten minutes at a time: the first minute of ten
                // is whole, the other nine are short.
                let drop = dropped_per_minute(self.rate);
                let short = 60 * counted - drop;
                let ten = 10 * 60 * counted - 9 * drop;
                let (tens, rest) = (self.frame / ten, self.frame % ten);
                let minutes = (rest - drop).max(0) / short;
                self.frame + tens * 9 * drop + minutes * drop
            }
        };
        let seconds = number / counted;
        [
            (seconds / 3600) as u32,
            (seconds / 60 % 60) as u32,
            (seconds % 60) as u32,
            (number % counted) as u32,
        ]
    }
}

impl fmt::Display for Timecode {
    /// `01:02:03:04`; a `;` before the frames marks drop-frame.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [h, m, s, f] = self.parts();
        let mark = match self.counting {
            Counting::NonDrop => ':',
            Counting::Drop => ';',
        };
        let width = if self.rate.counted() > 100 { 3 } else { 2 };
        write!(out, "{h:02}:{m:02}:{s:02}{mark}{f:0width$}")
    }
}

/// Labels left out at the start of each minute but every tenth: 2 at 29.97, 4 at 59.94, 8 at
/// 119.88, none elsewhere (ST 12-1 for 29.97; the others keep its proportion of one in 900).
fn dropped_per_minute(rate: FrameRate) -> i64 {
    let counted = rate.counted();
    if rate.den() == 1001 && rate.num() == counted * 1000 && matches!(counted, 30 | 60 | 120) {
        i64::from(counted / 15)
    } else {
        0
    }
}

/// How many frames lie before the first label of minute `minute` of the day.
fn frames_before_minute(minute: i64, rate: FrameRate, counting: Counting) -> i64 {
    let all = minute * 60 * i64::from(rate.counted());
    match counting {
        Counting::NonDrop => all,
        // Labels are left out at the start of a minute, so this minute's own are not yet gone.
        Counting::Drop => {
            let before = (minute - 1).max(0);
            all - dropped_per_minute(rate) * (before - before / 10)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rate(num: u32, den: u32) -> FrameRate {
        FrameRate::new(num, den).unwrap()
    }

    /// 29.97: drop-frame label, frame, non-drop label of the same frame, and real
    /// seconds (values of the OpenTimelineIO 0.18.1 library and of published descriptions of
    /// drop-frame counting).
    const PAIRS: [(&str, i64, &str, f64); 15] = [
        ("00:00:00;00", 0, "00:00:00:00", 0.0),
        ("00:00:59;29", 1799, "00:00:59:29", 60.026633),
        ("00:01:00;02", 1800, "00:01:00:00", 60.060000),
        ("00:01:59;29", 3597, "00:01:59:27", 120.019900),
        ("00:02:00;02", 3598, "00:01:59:28", 120.053267),
        ("00:09:59;29", 17981, "00:09:59:11", 599.966033),
        ("00:10:00;00", 17982, "00:09:59:12", 599.999400),
        ("00:10:59;29", 19781, "00:10:59:11", 660.026033),
        ("00:11:00;02", 19782, "00:10:59:12", 660.059400),
        ("00:30:00;00", 53946, "00:29:58:06", 1799.9982),
        ("00:59:59;29", 107891, "00:59:56:11", 3599.963033),
        ("01:00:00;00", 107892, "00:59:56:12", 3599.996400),
        ("09:16:06;22", 1000000, "09:15:33:10", 33366.666667),
        ("10:00:00;00", 1078920, "09:59:24:00", 35999.964000),
        ("23:59:59;29", 2589407, "23:58:33:17", 86399.880233),
    ];

    #[test]
    fn published_drop_frame_pairs_at_29_97() {
        let r = FrameRate::FPS_29_97;
        for (drop, frame, non_drop, seconds) in PAIRS {
            assert_eq!(
                Timecode::from_frame(frame, r, Counting::Drop).to_string(),
                drop
            );
            assert_eq!(
                Timecode::from_frame(frame, r, Counting::NonDrop).to_string(),
                non_drop
            );
            assert_eq!(Timecode::parse(drop, r).unwrap().to_frame(), frame);
            assert_eq!(Timecode::parse(non_drop, r).unwrap().to_frame(), frame);
            assert!((frame as f64 / r.fps() - seconds).abs() < 1e-6, "{drop}");
        }
    }

    #[test]
    fn a_day_wraps_by_its_own_count() {
        // Counted by hand: 2589408 frames are 24 h of drop-frame; non-drop goes on to 23:58:33:18.
        let r = FrameRate::FPS_29_97;
        assert_eq!(
            Timecode::from_frame(2_589_408, r, Counting::Drop).to_frame(),
            0
        );
        assert_eq!(
            Timecode::from_frame(2_589_408, r, Counting::NonDrop).to_string(),
            "23:58:33:18"
        );
        assert_eq!(
            Timecode::from_frame(2_592_000, r, Counting::NonDrop).to_frame(),
            0
        );
        let last = Timecode::parse("23:59:59;29", r).unwrap();
        assert_eq!(last.plus(1).to_string(), "00:00:00;00");
        assert_eq!(last.plus(1).plus(-1), last);
        assert_eq!(last.plus(i64::MAX).plus(-i64::MAX), last);
        assert_eq!(last.plus(i64::MIN).plus(1).plus(i64::MAX), last);
    }

    #[test]
    fn published_drop_frame_pairs_at_59_94() {
        // OpenTimelineIO 0.18.1.
        let r = rate(60_000, 1001);
        for (label, frame) in [
            ("00:00:59;59", 3599),
            ("00:01:00;04", 3600),
            ("00:01:00;05", 3601),
            ("00:09:59;59", 35963),
            ("00:10:00;00", 35964),
            ("01:00:00;00", 215784),
            ("23:59:59;59", 5178815),
        ] {
            assert_eq!(
                Timecode::from_frame(frame, r, Counting::Drop).to_string(),
                label
            );
            assert_eq!(Timecode::parse(label, r).unwrap().to_frame(), frame);
        }
        assert_eq!(
            Timecode::from_frame(5_178_816, r, Counting::Drop).to_frame(),
            0
        );
    }

    #[test]
    fn published_non_drop_pairs() {
        // Label, rate, frame (OpenTimelineIO 0.18.1), real seconds (frame over rate).
        for (label, r, frame, seconds) in [
            ("01:00:00:00", rate(24_000, 1001), 86_400, 3603.6),
            ("01:00:00:00", rate(24, 1), 86_400, 3600.0),
            ("01:00:00:00", rate(25, 1), 90_000, 3600.0),
            ("01:00:00:00", rate(30_000, 1001), 108_000, 3603.6),
            ("00:59:59:23", rate(24_000, 1001), 86_399, 3603.558292),
            ("10:00:00:00", rate(30, 1), 1_080_000, 36_000.0),
        ] {
            let code = Timecode::parse(label, r).unwrap();
            assert_eq!(code.to_frame(), frame);
            assert_eq!(
                Timecode::from_frame(frame, r, Counting::NonDrop).to_string(),
                label
            );
            assert!((frame as f64 / r.fps() - seconds).abs() < 1e-6);
        }
    }

    #[test]
    fn illegal_labels_are_refused_with_a_sentence() {
        let r = FrameRate::FPS_29_97;
        for (text, r, says) in [
            (
                "00:01:00;00",
                r,
                "frames 0 to 1 are left out at the start of minute 1; the next label is frame 2",
            ),
            ("00:59:00;01", r, "start of minute 59"),
            (
                "00:01:00;03",
                rate(60_000, 1001),
                "frames 0 to 3 are left out",
            ),
            ("00:00:00:30", r, "frames is 30, and may be 0 to 29"),
            ("24:00:00:00", r, "hours is 24"),
            ("00:60:00:00", r, "minutes is 60"),
            ("00:00:60:00", r, "seconds is 60"),
            (
                "00:00:00;00",
                FrameRate::FPS_25,
                "exists at 29.97 and 59.94",
            ),
            (
                "00:00:00;00",
                FrameRate::FPS_23_976,
                "exists at 29.97 and 59.94",
            ),
            ("1:2:3", r, "write hours, minutes, seconds and frames"),
            ("", r, "is not a timecode"),
            (":::", r, "is not a timecode"),
            ("00:00:00:", r, "is not a timecode"),
            ("00:00:00:00:00", r, "is not a timecode"),
            ("-1:00:00:00", r, "is not a timecode"),
            ("00:00:00:00000000000000001", r, "is not a timecode"),
            ("٠٠:٠٠:٠٠:٠٠", r, "is not a timecode"),
        ] {
            let sentence = Timecode::parse(text, r).unwrap_err().to_string();
            assert!(sentence.contains(says), "{text}: {sentence}");
        }
    }

    #[test]
    fn clock_readings() {
        for (r, counting, label) in [
            (FrameRate::FPS_24, Counting::NonDrop, "01:00:00:00"),
            (FrameRate::FPS_29_97, Counting::Drop, "01:00:00;00"),
        ] {
            assert_eq!(Timecode::at_clock(1, 0, 0, r, counting).to_string(), label);
        }
        let at =
            |h, m, s| Timecode::at_clock(h, m, s, FrameRate::FPS_29_97, Counting::Drop).to_string();
        assert_eq!(at(0, 1, 0), "00:01:00;02");
        assert_eq!(at(0, 1, 1), "00:01:01;00");
        assert_eq!(at(10, 20, 30), "10:20:30;00");
        assert_eq!(at(24, 0, 0), "00:00:00;00");
    }

    #[test]
    fn every_drop_frame_label_of_a_day_comes_back() {
        // Frame to text to frame is the identity for all 0 <= n < 2589408. All of
        // the first hour and a seventh of the rest; the count repeats every ten minutes.
        let r = FrameRate::FPS_29_97;
        for frame in (0..107_892).chain((107_892..2_589_408).step_by(7)) {
            let code = Timecode::from_frame(frame, r, Counting::Drop);
            assert_eq!(Timecode::parse(&code.to_string(), r), Ok(code));
        }
    }

    proptest! {
        #[test]
        fn frame_to_text_to_frame(frame in any::<i64>(), num in 1..=1000_u32, odd in any::<bool>(), drop in any::<bool>()) {
            let r = if odd { FrameRate::new(num * 1000, 1001) } else { FrameRate::new(num, 1) };
            let Some(r) = r else { return Ok(()) };
            let counting = if drop { Counting::Drop } else { Counting::NonDrop };
            let code = Timecode::from_frame(frame, r, counting);
            prop_assert_eq!(Timecode::parse(&code.to_string(), r), Ok(code));
            prop_assert_eq!(Timecode::from_frame(code.to_frame(), r, counting), code);
        }

        #[test]
        fn labels_rise_by_one(frame in 0..5_178_814_i64) {
            let r = rate(60_000, 1001);
            let here = Timecode::from_frame(frame, r, Counting::Drop);
            let next = Timecode::from_frame(frame + 1, r, Counting::Drop);
            prop_assert!(here.to_string() < next.to_string());
            prop_assert_eq!(here.plus(1), next);
        }

        #[test]
        fn any_text_is_answered(text in "\\PC{0,40}|[0-9:;]{0,14}", num in 1..=1000_u32) {
            let _ = Timecode::parse(&text, rate(num, 1));
        }
    }
}
