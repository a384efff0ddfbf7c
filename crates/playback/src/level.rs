//! Loud enough and clean: loudness by ITU-R BS.1770, a look-ahead limiter, and true peak.
//!
//! The limiter lowers the level before a peak comes and lets go after it, by one gain for all
//! channels; it shifts nothing in time. Whatever it leaves above the ceiling is taken out by one
//! constant gain at the end, so the ceiling holds by both meters: that of the `ebur128` crate
//! (4 times oversampled, as BS.1770 annex 2) and our own (8 times).

use crate::Error;
use crate::resample::{dot, row};
use ebur128::{Channel, EbuR128, Mode};
use rayon::prelude::*;
use std::collections::VecDeque;

/// True peak that no file exceeds, dBTP.
pub const CEILING_DBTP: f64 = -1.0;
/// What the limiter aims at: less, since oversampled peaks are read a little low by any meter.
const AIM_DBTP: f64 = -1.2;
/// At most so much is given to the limiter, dB: more would be heard as pumping.
const MOST_LIMITING_DB: f64 = 6.0;
/// The limiter looks so far ahead, and takes as long to turn down.
const AHEAD_S: f64 = 0.005;
/// Time constant of letting go.
const RELEASE_S: f64 = 0.08;
/// Taps of the oversampling filter per phase.
const TAPS: usize = 24;

/// How loud the song shall be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Level {
    /// As it was mastered; turned down as a whole where its true peak needs it. At speed one
    /// nothing but that one gain is done to the song.
    AsMastered,
    /// Raised towards this loudness in LUFS, as far as the true peak allows with at most 6 dB of
    /// limiting; a louder song is not turned down for it.
    Raised(f64),
}

impl Default for Level {
    /// About what loud masters have, so that quiet ones do not drown in a street.
    fn default() -> Self {
        Self::Raised(-11.0)
    }
}

/// What a meter reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Integrated loudness, LUFS; `None` for silence.
    pub loudness_lufs: Option<f64>,
    /// Highest true peak of any channel, dBTP; −200 for silence.
    pub true_peak_dbtp: f64,
}

/// The gain for the song before limiting, from what it reads.
pub(crate) fn gain_for(level: Level, song: Reading) -> f64 {
    let (Level::Raised(target), Some(loudness)) = (level, song.loudness_lufs) else {
        return 1.0;
    };
    let room = CEILING_DBTP - song.true_peak_dbtp + MOST_LIMITING_DB;
    from_db((target - loudness).min(room).max(0.0))
}

/// Reads loudness and true peak. One channel is read as two equal ones, since a loudspeaker plays
/// it alone as loud as a pair of them.
///
/// # Errors
/// [`Error::Meter`] when the meter refuses.
pub(crate) fn measure(channels: &[Vec<f32>], rate_hz: u32) -> Result<Reading, Error> {
    let refused = |e: ebur128::Error| Error::Meter(e.to_string());
    let (loudness, ours) = rayon::join(
        || {
            let mut meter = EbuR128::new(channels.len() as u32, rate_hz, Mode::I | Mode::TRUE_PEAK)
                .map_err(refused)?;
            if channels.len() == 1 {
                meter.set_channel(0, Channel::DualMono).map_err(refused)?;
            }
            let planar: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
            meter.add_frames_planar_f32(&planar).map_err(refused)?;
            let peak = (0..channels.len() as u32)
                .filter_map(|c| meter.true_peak(c).ok())
                .fold(0.0, f64::max);
            let loudness = meter.loudness_global().ok().filter(|x| x.is_finite());
            Ok::<_, Error>((loudness, peak))
        },
        || true_peak(channels, 8),
    );
    let (loudness_lufs, theirs) = loudness?;
    Ok(Reading {
        loudness_lufs,
        true_peak_dbtp: to_db(theirs.max(f64::from(ours))),
    })
}

/// Limits `channels` so that no true peak exceeds [`CEILING_DBTP`], and reads the result. `limiter`
/// off turns the whole down instead.
///
/// # Errors
/// [`Error::Meter`] when the meter refuses.
pub(crate) fn finish(
    channels: &mut [Vec<f32>],
    rate_hz: u32,
    limiter: bool,
) -> Result<Reading, Error> {
    if limiter {
        limit(channels, rate_hz);
    }
    let mut reading = measure(channels, rate_hz)?;
    if reading.true_peak_dbtp > CEILING_DBTP - 0.02 {
        let down_db = CEILING_DBTP - 0.05 - reading.true_peak_dbtp;
        scale(channels, from_db(down_db) as f32);
        reading.true_peak_dbtp += down_db;
        reading.loudness_lufs = reading.loudness_lufs.map(|l| l + down_db);
    }
    Ok(reading)
}

/// Multiplies every sample; one by nothing.
pub(crate) fn scale(channels: &mut [Vec<f32>], gain: f32) {
    if gain != 1.0 {
        for channel in channels {
            channel.par_iter_mut().for_each(|x| *x *= gain);
        }
    }
}

/// Decibels to a factor.
pub(crate) fn from_db(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

fn to_db(peak: f64) -> f64 {
    20.0 * peak.max(1e-10).log10()
}

/// Turns down around every peak above the aim.
fn limit(channels: &mut [Vec<f32>], rate_hz: u32) {
    let aim = from_db(AIM_DBTP) as f32;
    let len = channels.first().map_or(0, Vec::len);
    let mut needed = vec![1_f32; len];
    for channel in channels.iter() {
        let peaks = peaks(channel, 4, aim * 0.6);
        needed.par_iter_mut().enumerate().for_each(|(n, gain)| {
            // The wave between a sample and the next belongs to both.
            let peak = peaks[n].max(if n > 0 { peaks[n - 1] } else { 0.0 });
            if peak > aim {
                *gain = gain.min(aim / peak);
            }
        });
    }
    if needed.iter().all(|gain| *gain == 1.0) {
        return;
    }
    let ahead = ((AHEAD_S * f64::from(rate_hz)) as usize).max(1);
    let mut gains = least_within(&needed, ahead);
    let letting_go = 1.0 - (-1.0 / (RELEASE_S * f64::from(rate_hz))).exp() as f32;
    let mut held = 1_f32;
    for gain in &mut gains {
        held += (1.0 - held) * letting_go;
        held = held.min(*gain);
        *gain = held;
    }
    // A mean over the same window turns steps into ramps and stays at or below what is needed.
    let gains = mean_within(&gains, ahead);
    for channel in channels {
        channel
            .par_iter_mut()
            .zip(&gains)
            .for_each(|(x, gain)| *x *= gain);
    }
}

/// The least of the values from `reach` before to `reach` after each.
fn least_within(values: &[f32], reach: usize) -> Vec<f32> {
    let mut queue: VecDeque<usize> = VecDeque::new();
    let mut out = Vec::with_capacity(values.len());
    for n in 0..values.len() + reach {
        if n < values.len() {
            while queue.back().is_some_and(|back| values[*back] >= values[n]) {
                queue.pop_back();
            }
            queue.push_back(n);
        }
        if n >= reach {
            while queue.front().is_some_and(|front| front + 2 * reach < n) {
                queue.pop_front();
            }
            out.push(queue.front().map_or(1.0, |front| values[*front]));
        }
    }
    out
}

/// The mean of the values from `reach` before to `reach` after each; beyond the ends stands one.
fn mean_within(values: &[f32], reach: usize) -> Vec<f32> {
    let width = (2 * reach + 1) as f64;
    let value = |n: i64| {
        usize::try_from(n)
            .ok()
            .and_then(|n| values.get(n))
            .map_or(1.0, |x| f64::from(*x))
    };
    let reach = reach as i64;
    let mut sum: f64 = (-reach..reach).map(value).sum();
    (0..values.len() as i64)
        .map(|n| {
            sum += value(n + reach);
            let mean = sum / width;
            sum -= value(n - reach);
            mean as f32
        })
        .collect()
}

/// The highest oversampled peak of any channel, linear.
pub(crate) fn true_peak(channels: &[Vec<f32>], times: usize) -> f32 {
    channels
        .iter()
        .map(|channel| {
            let most = channel.iter().fold(0_f32, |m, x| m.max(x.abs()));
            // Where samples stay below half of the greatest one, no wave between exceeds it.
            peaks(channel, times, most * 0.5)
                .into_iter()
                .fold(most, f32::max)
        })
        .fold(0.0, f32::max)
}

/// For each sample the greatest size of the wave from it up to the next, `times` oversampled; where
/// both samples are below `floor` only the sample itself.
fn peaks(samples: &[f32], times: usize, floor: f32) -> Vec<f32> {
    let rows: Vec<Vec<f32>> = (1..times)
        .map(|phase| row(TAPS, phase as f64 / times as f64, 1.0).collect())
        .collect();
    let before = TAPS / 2 - 1;
    let mut padded = vec![0_f32; before];
    padded.extend_from_slice(samples);
    padded.resize(samples.len() + TAPS, 0.0);
    (0..samples.len())
        .into_par_iter()
        .with_min_len(1 << 14)
        .map(|n| {
            let here = samples[n].abs();
            if here.max(samples.get(n + 1).map_or(0.0, |x| x.abs())) < floor {
                return here;
            }
            let window = &padded[n..n + TAPS];
            rows.iter()
                .fold(here, |most, row| most.max(dot(window, row).abs()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::{PI, TAU};

    fn sine(hz: f64, phase: f64, level: f64, len: usize) -> Vec<f32> {
        (0..len)
            .map(|n| (level * (TAU * hz * n as f64 / 48_000.0 + phase).sin()) as f32)
            .collect()
    }

    /// EBU Tech 3341, signal 16: a quarter of the sample rate at 45°, whose samples stay 3 dB below
    /// its wave, reads −6.0 +0.2/−0.4 dBTP.
    #[test]
    fn a_peak_between_samples_is_seen() {
        let wave = sine(12_000.0, PI / 4.0, 0.5, 48_000);
        let peak = to_db(f64::from(true_peak(&[wave[100..47_000].to_vec()], 8)));
        assert!((-6.4..=-5.8).contains(&peak), "{peak}");
    }

    /// 997 Hz at −23 dBFS in two channels reads −23 LUFS (EBU Tech 3341), in one as in two.
    #[test]
    fn one_channel_reads_as_two() {
        let wave = sine(1000.0, 0.0, from_db(-23.0), 480_000);
        for channels in [vec![wave.clone()], vec![wave.clone(), wave.clone()]] {
            let reading = measure(&channels, 48_000).unwrap();
            assert!((reading.loudness_lufs.unwrap() + 23.0).abs() < 0.1);
            assert!((reading.true_peak_dbtp + 23.0).abs() < 0.1);
        }
        let silent = measure(&[vec![0.0; 48_000]], 48_000).unwrap();
        assert_eq!(silent.loudness_lufs, None);
    }

    #[test]
    fn gain_is_bounded_by_the_peak() {
        let song = |loudness, peak| Reading {
            loudness_lufs: Some(loudness),
            true_peak_dbtp: peak,
        };
        let db = |level, reading| to_db(gain_for(level, reading));
        assert!((db(Level::Raised(-11.0), song(-20.0, -8.0)) - 9.0).abs() < 1e-9);
        assert!((db(Level::Raised(-11.0), song(-20.0, -1.0)) - 6.0).abs() < 1e-9);
        assert_eq!(gain_for(Level::Raised(-11.0), song(-8.0, 0.5)), 1.0);
        assert_eq!(gain_for(Level::AsMastered, song(-30.0, -20.0)), 1.0);
    }

    #[test]
    fn what_is_below_the_ceiling_is_left_alone() {
        let quiet = vec![sine(440.0, 0.0, 0.5, 48_000)];
        let mut same = quiet.clone();
        finish(&mut same, 48_000, true).unwrap();
        assert_eq!(same, quiet);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn no_true_peak_exceeds_the_ceiling(seed in any::<u32>(), level in 0.5_f32..8.0, limiter in any::<bool>()) {
            let mut state = seed;
            let mut channels: Vec<Vec<f32>> = (0..2).map(|_| (0..20_000).map(|n: usize| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let x = (state >> 8) as f32 / 8_388_608.0 - 1.0;
                x * level * if (n / 3_000).is_multiple_of(2) { 1.0 } else { 0.1 }
            }).collect()).collect();
            let reading = finish(&mut channels, 48_000, limiter).unwrap();
            prop_assert!(reading.true_peak_dbtp <= CEILING_DBTP);
            prop_assert!(to_db(f64::from(true_peak(&channels, 16))) <= CEILING_DBTP + 0.05);
        }

        #[test]
        fn the_limiter_turns_down_before_a_peak(at in 1_000_usize..9_000) {
            let mut wave = vec![sine(300.0, 0.0, 0.3, 10_000)];
            wave[0][at] = 2.0;
            let before = wave.clone();
            limit(&mut wave, 48_000);
            // Far ahead of the peak nothing is done; right before it the level is down.
            prop_assert!(wave[0][..at.saturating_sub(1_000)].iter().zip(&before[0]).all(|(a, b)| (a - b).abs() < 1e-6));
            prop_assert!(wave[0][at] <= from_db(AIM_DBTP) as f32 + 1e-6);
        }
    }
}
