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

/// How many frames lie before the start of minute `minute` of the day.
fn frames_before_minute(minute: i64, rate: FrameRate, counting: Counting) -> i64 {
    let all = minute * 60 * i64::from(rate.counted());
    match counting {
        Counting::NonDrop => all,
        Counting::Drop => all - dropped_per_minute(rate) * (minute - minute / 10),
    }
}
