//! Playing sound faster or slower with its pitch kept, in time with an exact map.
//!
//! What is struck and what is steady are taken apart by median filters over time and over
//! frequency (`split`; Fitzgerald 2010, Driedger, Müller and Disch 2014) and stretched each in its
//! own way, as Driedger, Müller and Ewert (2014) propose: the steady part by a phase vocoder with
//! rigid phase locking (`vocoder`; Laroche and Dolson 1999), the struck part by laying its events,
//! never stretched, at the places the speed gives them (`grains`; overlap-add). New partials start
//! with the phases of the song (after Röbel 2003).
//!
//! Every frame and every event is placed from the anchor by the exact speed, none from the one
//! before, so nothing drifts. Other events than struck ones (a bowed or sung start) are as exact as
//! a frame of the vocoder is long.

mod grains;
mod split;
mod vocoder;

use crate::Error;
use crate::resample::excerpt;
use crate::speed::Speed;

/// Song read beyond both ends, so that filters and frames are filled.
const MARGIN_S: f64 = 0.5;

/// `count` samples of playback of every channel, the first of them `out_from` samples after the
/// anchor; the song sample at the anchor is `origin`. Outside of the song there is silence.
pub(crate) fn stretch(
    song: &[Vec<f32>],
    origin: i64,
    speed: Speed,
    out_from: i64,
    count: usize,
    rate_hz: u32,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<Vec<f32>>, Error> {
    let margin = (MARGIN_S * f64::from(rate_hz)) as i64;
    let from = origin + speed.song_near(out_from) - margin;
    let to = origin + speed.song_near(out_from + count as i64) + margin;
    let parts: Vec<Vec<f32>> = song.iter().map(|c| excerpt(c, from, to)).collect();
    let split = split::split(parts, rate_hz, keep_going)?;
    let map = Map {
        // Where the anchor lies in the excerpt.
        anchor: origin - from,
        speed,
        out_from,
        count,
    };
    let (steady, struck) = rayon::join(
        || vocoder::stretch(&split.steady, map, rate_hz, keep_going),
        || grains::lay(&split.struck, map, rate_hz),
    );
    let mut out = steady?;
    for (channel, struck) in out.iter_mut().zip(struck) {
        for (x, s) in channel.iter_mut().zip(struck) {
            *x += s;
        }
    }
    Ok(out)
}

/// `channel` from `start` on times `window`, silence outside, into `out`.
fn windowed(channel: &[f32], start: i64, window: &[f32], out: &mut [f32]) {
    let inside = usize::try_from(start)
        .ok()
        .and_then(|start| channel.get(start..start + window.len()));
    if let Some(part) = inside {
        for ((out, x), w) in out.iter_mut().zip(part).zip(window) {
            *out = x * w;
        }
    } else {
        for ((out, at), w) in out.iter_mut().zip(start..).zip(window) {
            let x = usize::try_from(at).ok().and_then(|at| channel.get(at));
            *out = x.map_or(0.0, |x| x * w);
        }
    }
}

/// Which song sample sounds at which sample of playback.
#[derive(Clone, Copy, Debug)]
struct Map {
    anchor: i64,
    speed: Speed,
    out_from: i64,
    count: usize,
}

impl Map {
    /// The sample of the excerpt that sounds `out` samples after the first sample made.
    fn song(&self, out: i64) -> i64 {
        self.anchor + self.speed.song_near(self.out_from + out)
    }

    /// Where a sample of the excerpt sounds, from the first sample made.
    fn out(&self, song: i64) -> i64 {
        self.speed.out_near(song - self.anchor) - self.out_from
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const RATE: u32 = 48_000;

    fn noise(seed: u32) -> impl FnMut() -> f32 {
        let mut state = seed;
        move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        }
    }

    fn made(song: &[f32], speed: Speed) -> Vec<f32> {
        let count = speed.out_near(song.len() as i64) as usize;
        stretch(&[song.to_vec()], 0, speed, 0, count, RATE, &|| true)
            .unwrap()
            .remove(0)
    }

    fn speeds() -> Vec<Speed> {
        [
            (2, 1),
            (5, 2),
            (5, 4),
            (25, 24),
            (24, 25),
            (3, 4),
            (1, 2),
            (4, 1),
            (1, 4),
        ]
        .map(|(n, d)| Speed::new(n, d).unwrap())
        .to_vec()
    }

    /// Where the sound near `at` first reaches half of its greatest level there.
    fn onset_near(sound: &[f32], at: f64) -> f64 {
        let reach = 0.03 * f64::from(RATE);
        let from = (at - reach).max(0.0) as usize;
        let to = ((at + reach) as usize).min(sound.len());
        let most = sound[from..to].iter().fold(0_f32, |m, x| m.max(x.abs()));
        let first = sound[from..to].iter().position(|x| x.abs() >= 0.5 * most);
        (from + first.unwrap_or(0)) as f64
    }

    /// Drum hits (noise that falls by 60 dB in 80 ms) at unequal distances over a chord.
    fn drums() -> (Vec<f32>, Vec<usize>) {
        let mut noise = noise(7);
        let mut song: Vec<f32> = (0..8 * RATE)
            .map(|n| {
                let t = f64::from(n) / f64::from(RATE);
                [220.0, 277.2, 329.6]
                    .iter()
                    .map(|f| (0.04 * (TAU * f * t).sin()) as f32)
                    .sum()
            })
            .collect();
        let hits: Vec<usize> = (0..24)
            .map(|k| 9_600 + k * 14_400 + (k * k * 37) % 2_000)
            .collect();
        for &hit in &hits {
            for n in 0..3_840 {
                song[hit + n] += 0.5 * 10f32.powf(-3.0 * n as f32 / 3_840.0) * noise();
            }
        }
        (song, hits)
    }

    #[test]
    fn drum_hits_lie_where_the_speed_puts_them() {
        let (song, hits) = drums();
        for speed in speeds() {
            let out = made(&song, speed);
            for &hit in &hits {
                let expected = hit as f64 / speed.value();
                let off_ms = (onset_near(&out, expected) - onset_near(&song, hit as f64)
                    + hit as f64
                    - expected)
                    / 48.0;
                assert!(off_ms.abs() < 1.0, "{speed}: {off_ms} ms at {expected}");
            }
        }
    }

    #[test]
    fn a_sine_keeps_its_pitch_and_level() {
        for hz in [110.0, 440.0, 3000.0] {
            let song: Vec<f32> = (0..4 * RATE)
                .map(|n| (0.5 * (TAU * hz * f64::from(n) / f64::from(RATE)).sin()) as f32)
                .collect();
            for speed in speeds() {
                let out = made(&song, speed);
                let middle = &out[out.len() / 4..out.len() * 3 / 4];
                // Frequency from rising zero crossings, first to last.
                let rises: Vec<f64> = middle
                    .windows(2)
                    .enumerate()
                    .filter(|(_, w)| w[0] < 0.0 && w[1] >= 0.0)
                    .map(|(n, w)| n as f64 + f64::from(w[0] / (w[0] - w[1])))
                    .collect();
                let got = (rises.len() - 1) as f64 / (rises[rises.len() - 1] - rises[0])
                    * f64::from(RATE);
                let cents = 1200.0 * (got / hz).log2();
                assert!(cents.abs() < 3.0, "{hz} Hz at {speed}: {cents} cents");
                let level = (middle.iter().map(|x| x * x).sum::<f32>() / middle.len() as f32)
                    .sqrt()
                    / 0.353_55;
                assert!(
                    (level - 1.0).abs() < 0.06,
                    "{hz} Hz at {speed}: level {level}"
                );
            }
        }
    }

    #[test]
    fn silence_and_shortness_are_no_trouble() {
        let five = Speed::new(5, 2).unwrap();
        assert!(made(&[0.0; 96_000], five).iter().all(|x| x.abs() < 1e-9));
        assert_eq!(made(&[1.0], Speed::new(1, 4).unwrap()).len(), 4);
        let stopped = stretch(&[vec![0.1; 96_000]], 0, five, 0, 1000, RATE, &|| false);
        assert_eq!(stopped, Err(Error::Stopped));
    }
}
