//! SMPTE linear timecode (ST 12-1) as sound: labels to bits to a biphase-mark wave, and back.
//!
//! # Conventions
//! 80 bits a frame, sent in order, the least bit of each figure first; user bits are zero and the
//! colour flag is not set. The polarity correction bit (27 where 24 or 30 frames are counted, 59
//! at 25) makes the number of zeros even, so that every frame starts with an edge of the same
//! direction. Edges are raised cosines that take 40 µs from 10 to 90 % (the standard allows 25 to
//! 55 µs; from memory), placed to a fraction of a sample.

use crate::Error;
use model::FrameRate;
use std::f64::consts::PI;
use std::fmt;

/// Bits in a frame.
const BITS: usize = 80;
/// Sync word, bits 64 to 79, as bytes with the least bit first.
const SYNC: [u8; 2] = [0xFC, 0xBF];
/// Time of a whole raised-cosine edge of which 10 to 90 % take 40 µs.
const EDGE_S: f64 = 40e-6 / 0.590_334;

/// A rate that labels are sent at, and how they are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rate {
    frames: FrameRate,
    drop: bool,
}

/// A label: hours, minutes, seconds and frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Label {
    /// 0 to 23.
    pub hours: u32,
    /// 0 to 59.
    pub minutes: u32,
    /// 0 to 59.
    pub seconds: u32,
    /// 0 to the counted rate less one.
    pub frames: u32,
    /// Drop-frame counting.
    pub drop: bool,
}

/// A frame of timecode read from sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Read {
    /// What it says.
    pub label: Label,
    /// Its bytes as sent, least bit first.
    pub bytes: [u8; 10],
    /// Where its first bit starts, in samples.
    pub start: f64,
}

impl Rate {
    /// Labels at `frames` a second: 23.976, 24, 25, 29.97 or 30. `drop` counts off labels at 29.97,
    /// so that they keep to the clock; it means nothing at the other rates.
    ///
    /// # Errors
    /// [`Error::TimecodeRate`] at any other rate.
    pub fn new(frames: FrameRate, drop: bool) -> Result<Self, Error> {
        if ![(24_000, 1001), (24, 1), (25, 1), (30_000, 1001), (30, 1)]
            .contains(&(frames.num(), frames.den()))
        {
            return Err(Error::TimecodeRate { rate: frames });
        }
        Ok(Self {
            frames,
            drop: drop && frames == FrameRate::FPS_29_97,
        })
    }

    /// The rate for a video shown at `shown`: the same up to 30, half of it from 47.95 to 60, as
    /// linear timecode has labels for 30 frames at most (common practice). Drop-frame at 29.97.
    ///
    /// # Errors
    /// [`Error::TimecodeRate`] when there is none.
    pub fn for_show(shown: FrameRate) -> Result<Self, Error> {
        Self::new(shown, true).or_else(|e| {
            let half = shown
                .den()
                .checked_mul(2)
                .and_then(|den| FrameRate::new(shown.num(), den))
                .ok_or_else(|| e.clone())?;
            Self::new(half, true).map_err(|_| e)
        })
    }

    /// Frames per second.
    pub fn frames(self) -> FrameRate {
        self.frames
    }

    /// Whether labels are counted drop-frame.
    pub fn drop(self) -> bool {
        self.drop
    }

    /// The label of the `frame`th frame of the day, wrapped at 24 hours.
    pub fn label(self, frame: i64) -> Label {
        let counted = i64::from(self.frames.counted());
        let mut number = frame.rem_euclid(self.frames_in_day());
        if self.drop {
            // Numbers 0 and 1 are left out at each minute but every tenth (ST 12-1).
            let (tens, rest) = (number / 17_982, number % 17_982);
            number += 18 * tens + 2 * ((rest - 2).max(0) / 1798);
        }
        let part = |divide: i64, modulo: i64| (number / divide % modulo) as u32;
        Label {
            hours: part(counted * 3600, 24),
            minutes: part(counted * 60, 60),
            seconds: part(counted, 60),
            frames: part(1, counted),
            drop: self.drop,
        }
    }

    /// The frame of the day that carries `label`.
    pub fn frame(self, label: Label) -> i64 {
        let minutes = i64::from(label.hours * 60 + label.minutes);
        let number = (minutes * 60 + i64::from(label.seconds)) * i64::from(self.frames.counted())
            + i64::from(label.frames);
        if self.drop {
            number - 2 * (minutes - minutes / 10)
        } else {
            number
        }
    }

    /// Frames in 24 hours of labels.
    pub fn frames_in_day(self) -> i64 {
        if self.drop {
            17_982 * 144
        } else {
            i64::from(self.frames.counted()) * 86_400
        }
    }

    /// The ten bytes of `label`, least bit first.
    pub fn bytes(self, label: Label) -> [u8; 10] {
        let pair = |value: u32| [(value % 10) as u8, (value / 10) as u8];
        let ([fu, ft], [su, st]) = (pair(label.frames), pair(label.seconds));
        let ([mu, mt], [hu, ht]) = (pair(label.minutes), pair(label.hours));
        let flag = if label.drop { 1 << 2 } else { 0 };
        let mut bytes = [fu, ft | flag, su, st, mu, mt, hu, ht, SYNC[0], SYNC[1]];
        let ones: u32 = bytes.iter().map(|b| b.count_ones()).sum();
        if ones % 2 == 1 {
            // Bit 27 or 59: the fourth of byte 3 or 7.
            bytes[if self.frames.counted() == 25 { 7 } else { 3 }] |= 1 << 3;
        }
        bytes
    }
}

impl fmt::Display for Label {
    /// `01:02:03:04`, drop-frame `01:02:03;04`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = if self.drop { ';' } else { ':' };
        write!(
            f,
            "{:02}:{:02}:{:02}{mark}{:02}",
            self.hours, self.minutes, self.seconds, self.frames
        )
    }
}

/// Where the frames of a run of labels lie in a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Run {
    /// Frame of the day of the first label.
    pub first_frame: i64,
    /// How many frames.
    pub frames: i64,
    /// Where the first starts, in samples.
    pub start: f64,
    /// Samples per frame.
    pub spacing: f64,
}

/// The run as sound: `samples` long, peaks at `level`, silent outside the run.
pub(crate) fn encode(rate: Rate, run: Run, rate_hz: u32, samples: usize, level: f32) -> Vec<f32> {
    let mut out = vec![0.0; samples];
    let half_edge = EDGE_S * f64::from(rate_hz) / 2.0;
    let (mut held, mut filled) = (0.0_f64, 0_usize);
    let mut edge = |at: f64, to: f64| {
        let until = ((at - half_edge).ceil().max(0.0) as usize).min(samples);
        if until > filled {
            out[filled..until].fill(held as f32 * level);
            filled = until;
        }
        while filled < samples && (filled as f64) <= at + half_edge {
            let x = ((filled as f64 - at) / (2.0 * half_edge) + 0.5).clamp(0.0, 1.0);
            let rise = 0.5 - 0.5 * (PI * x).cos();
            out[filled] = (held + (to - held) * rise) as f32 * level;
            filled += 1;
        }
        held = to;
    };
    let bit = run.spacing / BITS as f64;
    let mut sign = 1.0;
    for n in 0..run.frames {
        let bytes = rate.bytes(rate.label(run.first_frame + n));
        let frame_at = run.start + n as f64 * run.spacing;
        for k in 0..BITS {
            let at = frame_at + k as f64 * bit;
            edge(at, sign);
            sign = -sign;
            if bytes[k / 8] >> (k % 8) & 1 == 1 {
                edge(at + bit / 2.0, sign);
                sign = -sign;
            }
        }
    }
    // The last bit ends with an edge too; then the line goes to rest.
    let end = run.start + run.frames as f64 * run.spacing;
    edge(end, sign);
    edge(end + bit / 2.0, 0.0);
    out
}

/// Every whole frame of timecode in `samples`, in order, played forwards at a steady speed at any
/// level. The rate cannot be told from one frame and is not: it follows from where frames start.
pub fn decode(samples: &[f32]) -> Vec<Read> {
    let edges = crossings(samples);
    let mut gaps: Vec<f64> = edges.windows(2).map(|w| w[1] - w[0]).collect();
    if gaps.len() < BITS {
        return Vec::new();
    }
    // Gaps are a bit (a zero) or half a bit (each half of a one); a frame has some of both.
    gaps.sort_by(f64::total_cmp);
    let mut bit = 2.0 * gaps[gaps.len() / 50];
    let mut found = Vec::new();
    // The bits read so far, with where each started.
    let mut bits: Vec<(bool, f64)> = Vec::new();
    let mut k = 0;
    while k + 1 < edges.len() {
        let gap = edges[k + 1] - edges[k];
        let next = edges.get(k + 2).map(|e| e - edges[k + 1]);
        if gap > 0.75 * bit && gap < 1.5 * bit {
            bits.push((false, edges[k]));
            bit += 0.05 * (gap - bit);
            k += 1;
        } else if gap <= 0.75 * bit && next.is_some_and(|next| next <= 0.75 * bit) {
            bits.push((true, edges[k]));
            k += 2;
        } else {
            bits.clear();
            k += 1;
        }
        if bits.len() >= BITS {
            let frame = &bits[bits.len() - BITS..];
            let mut bytes = [0_u8; 10];
            for (n, (one, _)) in frame.iter().enumerate() {
                bytes[n / 8] |= u8::from(*one) << (n % 8);
            }
            if bytes[8..] == SYNC {
                found.extend(label_of(&bytes).map(|label| Read {
                    label,
                    bytes,
                    start: frame[0].1,
                }));
                bits.clear();
            }
        }
    }
    found
}

/// Where the wave crosses zero, between samples; wobble below a tenth of its level is passed over.
fn crossings(samples: &[f32]) -> Vec<f64> {
    let level = samples.iter().fold(0_f32, |m, x| m.max(x.abs()));
    let least = level * 0.1;
    let mut edges = Vec::new();
    let mut sign = 0_i8;
    for (n, x) in samples.iter().enumerate() {
        let now = if *x > least {
            1
        } else if *x < -least {
            -1
        } else {
            0
        };
        if now != 0 && now != sign {
            let crossing = |k: usize, height: f64| {
                let (a, b) = (f64::from(samples[k]), f64::from(samples[k + 1]));
                let share = (height - a) / (b - a);
                k as f64 + if share.is_finite() { share } else { 0.0 }
            };
            let at = if sign == 0 {
                // From silence the wave crosses half its level in the middle of the edge.
                let half = 0.5 * level * f32::from(now);
                (n.saturating_sub(1)..samples.len() - 1)
                    .take(16)
                    .find(|k| samples[k + 1].abs() >= half.abs())
                    .map_or(n as f64, |k| crossing(k, f64::from(half)))
            } else {
                (0..n)
                    .rev()
                    .take(16)
                    .find(|k| (samples[*k] > 0.0) != (now > 0))
                    .map_or(n as f64, |k| crossing(k, 0.0))
            };
            edges.push(at);
            sign = now;
        }
    }
    edges
}

/// The label in ten bytes; `None` when a figure is none.
fn label_of(bytes: &[u8; 10]) -> Option<Label> {
    let two = |units: u8, tens: u8, tens_mask: u8, most: u32| {
        let units = u32::from(units & 15);
        let value = u32::from(tens & tens_mask) * 10 + units;
        (units < 10 && value <= most).then_some(value)
    };
    Some(Label {
        frames: two(bytes[0], bytes[1], 3, 29)?,
        seconds: two(bytes[2], bytes[3], 7, 59)?,
        minutes: two(bytes[4], bytes[5], 7, 59)?,
        hours: two(bytes[6], bytes[7], 3, 23)?,
        drop: bytes[1] & 4 != 0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rate(num: u32, den: u32, drop: bool) -> Rate {
        Rate::new(FrameRate::new(num, den).unwrap(), drop).unwrap()
    }

    fn label(hours: u32, minutes: u32, seconds: u32, frames: u32, drop: bool) -> Label {
        Label {
            hours,
            minutes,
            seconds,
            frames,
            drop,
        }
    }

    /// Bytes as the general-purpose C library libltc 1.3.2 packs them.
    #[test]
    fn bytes_are_those_of_the_reference_library() {
        let cases = [
            (
                rate(25, 1, false),
                label(1, 2, 3, 4, false),
                [4, 0, 3, 0, 2, 0, 1, 0, 0xFC, 0xBF],
            ),
            (
                rate(30_000, 1001, true),
                label(0, 10, 0, 0, true),
                [0, 4, 0, 8, 0, 1, 0, 0, 0xFC, 0xBF],
            ),
            (
                rate(30_000, 1001, true),
                label(1, 0, 0, 2, true),
                [2, 4, 0, 0, 0, 0, 1, 0, 0xFC, 0xBF],
            ),
            (
                rate(24, 1, false),
                label(23, 59, 59, 23, false),
                [3, 2, 9, 0xD, 9, 5, 3, 2, 0xFC, 0xBF],
            ),
            (
                rate(30, 1, false),
                label(0, 0, 0, 0, false),
                [0, 0, 0, 8, 0, 0, 0, 0, 0xFC, 0xBF],
            ),
            (
                rate(25, 1, false),
                label(0, 0, 0, 0, false),
                [0, 0, 0, 0, 0, 0, 0, 8, 0xFC, 0xBF],
            ),
        ];
        for (rate, label, bytes) in cases {
            assert_eq!(rate.bytes(label), bytes, "{label}");
        }
    }

    /// Drop-frame labels and their frames, from the published table of counts.
    #[test]
    fn drop_frame_leaves_out_labels_and_no_frames() {
        let drop = rate(30_000, 1001, true);
        for (frame, text) in [
            (0, "00:00:00;00"),
            (1799, "00:00:59;29"),
            (1800, "00:01:00;02"),
            (3597, "00:01:59;29"),
            (3598, "00:02:00;02"),
            (17_981, "00:09:59;29"),
            (17_982, "00:10:00;00"),
            (107_892, "01:00:00;00"),
            (1_000_000, "09:16:06;22"),
            (2_589_407, "23:59:59;29"),
            (2_589_408, "00:00:00;00"),
            (-1, "23:59:59;29"),
        ] {
            assert_eq!(drop.label(frame).to_string(), text);
        }
    }

    #[test]
    fn rates_of_a_show_are_halved_where_they_must() {
        let of = |num, den| {
            Rate::for_show(FrameRate::new(num, den).unwrap())
                .map(|r| (r.frames().num(), r.frames().den(), r.drop()))
        };
        assert_eq!(of(24_000, 1001), Ok((24_000, 1001, false)));
        assert_eq!(of(30_000, 1001), Ok((30_000, 1001, true)));
        assert_eq!(of(60_000, 1001), Ok((30_000, 1001, true)));
        assert_eq!(of(50, 1), Ok((25, 1, false)));
        assert_eq!(of(48, 1), Ok((24, 1, false)));
        assert!(of(18, 1).is_err() && of(120, 1).is_err() && of(1, 1).is_err());
    }

    #[test]
    fn no_sound_holds_no_timecode() {
        assert!(decode(&[]).is_empty() && decode(&[0.0; 5000]).is_empty());
        let noise: Vec<f32> = (0..20_000_u32)
            .map(|k| (k.wrapping_mul(2_654_435_761) >> 8) as f32 / 8_388_608.0 - 1.0)
            .collect();
        assert!(decode(&noise).is_empty());
        assert!(decode(&[f32::NAN; 5000]).is_empty());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn what_is_sent_is_read(which in 0_usize..6, first in 0_i64..2_500_000, start in 0.0..3000.0, factor in 0.998..1.002, at_44 in any::<bool>()) {
            let rate = [rate(24_000, 1001, false), rate(24, 1, false), rate(25, 1, false), rate(30_000, 1001, false), rate(30_000, 1001, true), rate(30, 1, false)][which];
            let hz = if at_44 { 44_100 } else { 48_000 };
            let spacing = f64::from(hz) / rate.frames().fps() * factor;
            let run = Run { first_frame: first, frames: 12, start, spacing };
            let sound = encode(rate, run, hz, 36_000, 0.25);
            prop_assert!(sound.iter().all(|x| x.abs() <= 0.25));
            let read = decode(&sound);
            prop_assert_eq!(read.len(), 12);
            for (n, read) in read.iter().enumerate() {
                prop_assert_eq!(read.label, rate.label(first + n as i64));
                prop_assert_eq!(rate.frame(read.label), (first + n as i64).rem_euclid(rate.frames_in_day()));
                // The first edge may be cut by the start of the sound.
                let off = read.start - (start + n as f64 * spacing);
                prop_assert!(off.abs() < if n == 0 { 1.0 } else { 0.1 }, "{n} {off}");
            }
        }
    }
}
