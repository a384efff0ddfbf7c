//! The struck part at another speed: its events, never stretched, each laid where the speed puts
//! it; between them the sound that follows, read on from the song in short grains (overlap-add).
//!
//! At a higher speed the tail of an event is cut short where the next one comes; at a lower one it
//! goes on in grains that never reach into the next event.

use super::Map;

/// Sound before an event that goes with it.
const BEFORE_S: f64 = 0.002;
/// One grain passes into the next over this time.
const FADE_S: f64 = 0.003;
/// A grain is no longer than this.
const LONGEST_S: f64 = 0.045;
/// Events nearer than this in playback are one.
const NEAREST_S: f64 = 0.012;
/// An event's energy rises at least so many times within some milliseconds: 6 dB.
const RISE: f64 = 4.0;
/// Events weaker than the strongest within half a second by this (in energy, 36 dB) are none.
const FAINT: f64 = 2.5e-4;

/// A piece of the song laid at a place of playback; it reads on at the song's own speed.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Grain {
    out: i64,
    song: i64,
}

/// The struck channels by `map`.
pub(super) fn lay(struck: &[Vec<f32>], map: Map, rate_hz: u32) -> Vec<Vec<f32>> {
    let samples = |s: f64| ((s * f64::from(rate_hz)) as i64).max(1);
    let (before, fade) = (samples(BEFORE_S), samples(FADE_S));
    let len = struck.first().map_or(0, Vec::len) as i64;
    let events = strongest_apart(events(struck, rate_hz), map, samples(NEAREST_S));
    let mut grains = Vec::new();
    // The excerpt's ends stand for events, so that every sample has its grain.
    let ends = [0, len].map(|song| Grain {
        out: map.out(song),
        song,
    });
    let all: Vec<Grain> = std::iter::once(ends[0])
        .chain(events.iter().map(|(song, _)| Grain {
            out: map.out(*song),
            song: *song,
        }))
        .chain(std::iter::once(ends[1]))
        .collect();
    for pair in all.windows(2) {
        fill(
            pair[0],
            pair[1],
            map,
            before + fade,
            samples(LONGEST_S),
            &mut grains,
        );
    }
    let mut out = vec![vec![0_f32; map.count]; struck.len()];
    for (k, grain) in grains.iter().enumerate() {
        let next = grains.get(k + 1).map_or(ends[1].out, |next| next.out);
        let (from, to) = (grain.out - before - fade, next - before);
        let rise = |n: i64| {
            let share = (n as f64 + 0.5) / fade as f64;
            (share.clamp(0.0, 1.0) * std::f64::consts::FRAC_PI_2).sin() as f32
        };
        for at in from.max(0)..to.min(map.count as i64) {
            let weight = if at - from < fade {
                rise(at - from)
            } else {
                1.0
            } * if to - at <= fade {
                rise(to - 1 - at)
            } else {
                1.0
            };
            let song = grain.song + at - grain.out;
            let Ok(song) = usize::try_from(song) else {
                continue;
            };
            for (out, struck) in out.iter_mut().zip(struck) {
                out[at as usize] += weight * struck.get(song).copied().unwrap_or(0.0);
            }
        }
    }
    out
}

/// The event at `from` and the grains that lead to the one at `to`. A grain reads `lead` samples
/// before its place.
fn fill(from: Grain, to: Grain, map: Map, lead: i64, longest: i64, grains: &mut Vec<Grain>) {
    let length = to.out - from.out;
    if length <= 0 {
        return;
    }
    grains.push(from);
    // The event alone reads up to the next one in the song, if that is nearer there.
    let most = longest.min((to.song - from.song - lead).max(lead));
    let count = (length + most - 1) / most;
    for k in 1..count {
        let out = from.out + length * k / count;
        let reads = length / count + 1;
        // Never into the next event, nor back into this one.
        let song = map
            .song(out)
            .min(to.song - lead - reads)
            .max(from.song + lead);
        grains.push(Grain { out, song });
    }
}

/// Of events nearer than `nearest` in playback the stronger.
fn strongest_apart(events: Vec<(i64, f64)>, map: Map, nearest: i64) -> Vec<(i64, f64)> {
    let mut kept: Vec<(i64, f64)> = Vec::new();
    for event in events {
        match kept.last_mut() {
            Some(last) if map.out(event.0) - map.out(last.0) < nearest => {
                if event.1 > last.1 {
                    *last = event;
                }
            }
            _ => kept.push(event),
        }
    }
    kept
}

/// Where events start in the struck part, with their energy: where the energy of the next 4 ms
/// exceeds that of the 8 ms before the most, then to the sample where the wave rises.
fn events(struck: &[Vec<f32>], rate_hz: u32) -> Vec<(i64, f64)> {
    let len = struck.first().map_or(0, Vec::len);
    let ms = (rate_hz as usize / 1000).max(1);
    let mut sums = Vec::with_capacity(len + 1);
    let mut sum = 0.0_f64;
    sums.push(0.0);
    for n in 0..len {
        sum += struck.iter().map(|c| f64::from(c[n]).powi(2)).sum::<f64>();
        sums.push(sum);
    }
    let mean = |from: usize, to: usize| {
        let (from, to) = (from.min(len), to.min(len));
        (sums[to] - sums[from]) / (to - from).max(1) as f64
    };
    let count = len / ms;
    let ahead: Vec<f64> = (0..count).map(|k| mean(k * ms, (k + 4) * ms)).collect();
    // The strongest within half a second, by quarters.
    let quarters: Vec<f64> = ahead
        .chunks(250)
        .map(|part| part.iter().copied().fold(0.0, f64::max))
        .collect();
    let strongest = |k: usize| {
        let at = k / 250;
        let range = at.saturating_sub(2)..(at + 3).min(quarters.len());
        quarters[range].iter().copied().fold(0.0, f64::max)
    };
    let rises: Vec<f64> = (0..count)
        .map(|k| {
            let least = strongest(k) * FAINT + 1e-12;
            let earlier = mean(k.saturating_sub(9) * ms, k.saturating_sub(1) * ms);
            (ahead[k] + least) / (earlier + least)
        })
        .collect();
    let mut found = Vec::new();
    for k in 0..count {
        let around = k.saturating_sub(12)..(k + 13).min(count);
        let greatest = rises[around.clone()].iter().copied().fold(0.0, f64::max);
        if rises[k] < RISE || rises[k] < greatest || rises[around.start..k].contains(&rises[k]) {
            continue;
        }
        let range = k.saturating_sub(1) * ms..((k + 6) * ms).min(len);
        let size = |n: usize| struck.iter().map(|c| c[n].abs()).fold(0_f32, f32::max);
        let most = range.clone().map(size).fold(0_f32, f32::max);
        if let Some(at) = range.clone().find(|n| size(*n) >= 0.3 * most) {
            found.push((at as i64, ahead[k]));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speed::Speed;

    #[test]
    fn impulses_are_laid_to_the_sample_once_each() {
        let mut song = vec![0_f32; 200_000];
        let at: Vec<usize> = (0..25).map(|k| 5_000 + k * 7_500 + (k * k) % 333).collect();
        at.iter().for_each(|n| song[*n] = 1.0);
        for (num, den) in [(5, 2), (2, 1), (25, 24), (3, 4), (1, 2), (1, 4), (4, 1)] {
            let speed = Speed::new(num, den).unwrap();
            let count = speed.out_near(200_000) as usize;
            let map = Map {
                anchor: 0,
                speed,
                out_from: 0,
                count,
            };
            let out = lay(std::slice::from_ref(&song), map, 48_000).remove(0);
            let mut expected = vec![0_f32; count];
            at.iter()
                .for_each(|n| expected[speed.out_near(*n as i64) as usize] = 1.0);
            assert_eq!(out, expected, "{speed}");
        }
    }

    #[test]
    fn noise_keeps_its_level() {
        let mut state = 1_u32;
        let song: Vec<f32> = (0..200_000)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 8) as f32 / 8_388_608.0 - 1.0
            })
            .collect();
        let energy = |x: &[f32]| x.iter().map(|x| x * x).sum::<f32>() / x.len() as f32;
        for (num, den) in [(5, 2), (25, 24), (1, 2)] {
            let speed = Speed::new(num, den).unwrap();
            let count = speed.out_near(200_000) as usize;
            let map = Map {
                anchor: 0,
                speed,
                out_from: 0,
                count,
            };
            let out = lay(std::slice::from_ref(&song), map, 48_000).remove(0);
            let ratio = energy(&out[2_000..count - 2_000]) / energy(&song);
            assert!((ratio - 1.0).abs() < 0.1, "{speed}: {ratio}");
        }
    }
}
