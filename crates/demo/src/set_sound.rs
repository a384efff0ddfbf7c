//! The song as a camera on set hears it: a small loudspeaker in a room or in wind, the performer
//! over it, steps and talk around it, and a recorder with its own clock and its own gain.
//!
//! Where a take lies on the song is exact: the sound straight from the loudspeaker to the camera
//! is at the place the truth says, to the sample. Only the pass with the pitch kept is less exact,
//! because what stretched it moves pieces of the song by up to [`STRETCH_SLACK_S`].

use crate::band::Filter;
use crate::compose::{Composed, SONG_RATE_HZ};
use crate::dice::Dice;
use crate::mixer::{Stem, reverb};
use crate::score::{Note, Part};
use crate::takes::{Heard, TakePlan, Tracks};
use crate::voice::{Singer, sing};
use std::f32::consts::TAU;

/// How far a stretch with the pitch kept may move a piece of the song.
pub const STRETCH_SLACK_S: f64 = 0.008;

/// What a place does to sound.
struct Room {
    /// Echoes off walls: seconds late and gain, per side.
    echoes: &'static [(f64, [f32; 2])],
    /// Time to fall by 60 dB and level of the tail.
    tail: (f32, f32),
    /// Steady noise, and wind.
    air: f32,
    wind: f32,
    /// Machines turning.
    rumble: f32,
}

#[rustfmt::skip]
fn room(setup: &str) -> Room {
    match setup {
        "launderette-wide" | "launderette-close" | "drum" | "bulb" => Room {
            echoes: &[(0.0071, [0.42, 0.30]), (0.0118, [0.28, 0.37]), (0.0193, [0.3, 0.22])],
            tail: (0.7, 0.32), air: 0.008, wind: 0.0, rumble: if setup == "drum" { 0.12 } else { 0.03 },
        },
        "stairs-medium" => Room {
            echoes: &[(0.0102, [0.5, 0.42]), (0.0237, [0.33, 0.41]), (0.041, [0.3, 0.26])],
            tail: (1.5, 0.4), air: 0.006, wind: 0.004, rumble: 0.0,
        },
        _ => Room { echoes: &[(0.0135, [0.22, 0.18])], tail: (0.35, 0.08), air: 0.006, wind: 0.07, rumble: 0.0 },
    }
}

/// The sound tracks of `take`, each a vector per channel at its own sample rate.
pub fn set_sound(composed: &Composed, take: &TakePlan) -> Vec<Vec<Vec<f32>>> {
    let truth = &take.truth;
    let rate = f64::from(take.sample_rate_hz);
    let samples = (truth.duration_s * rate).round() as usize;
    let mut dice = Dice::new(composed.seed ^ (u64::from(truth.number) << 8), "set");
    let room = room(&truth.setup);
    let mut speaker = played(composed, take, samples);
    loudspeaker(&mut speaker);
    let mut near = performer(composed, take, samples, &mut dice);
    let next_door = if take.heard == Heard::Other {
        0.35
    } else {
        1.0
    };
    for (sum, value) in near.iter_mut().zip(&speaker) {
        *sum += value * next_door;
    }
    people(&mut near, take, &mut dice);
    let mut heard = in_room(&near, &room, rate);
    noises(&mut heard, &room, rate, &mut dice);
    let [mut left, right] = heard;
    let mut channels = if take.tracks == Tracks::Stereo {
        vec![left, right]
    } else {
        left.iter_mut()
            .zip(right)
            .for_each(|(l, r)| *l = (*l + r) * 0.5);
        vec![left]
    };
    // One take in four was set a little hot.
    let drive = if truth.number % 4 == 1 { 2.0 } else { 1.15 };
    recorder(&mut channels, rate, drive);
    if take.tracks == Tracks::HumThenSet {
        vec![vec![hum(samples, rate, &mut dice)], channels]
    } else {
        vec![channels]
    }
}

/// What the loudspeaker is given to play, over `samples` of the take.
fn played(composed: &Composed, take: &TakePlan, samples: usize) -> Vec<f32> {
    let truth = &take.truth;
    let rate = f64::from(take.sample_rate_hz);
    let mut out = vec![0.0f32; samples];
    let stretched;
    let (song, own_speed) = match take.heard {
        Heard::SongPitchKept => {
            stretched = stretch(&composed.mono, 2.0);
            (&stretched, 2.0)
        }
        _ => (&composed.mono, 1.0),
    };
    for run in &truth.runs {
        let when = (run.take_start_s, run.take_end_s);
        let what = (run.song_start_s / own_speed, run.true_speed() / own_speed);
        lay(&mut out, rate, song, when, what, 1.0);
    }
    if take.heard == Heard::Other {
        let when = (2.0, truth.duration_s - 1.5);
        lay(&mut out, rate, &composed.other_song, when, (0.0, 1.0), 1.0);
    }
    out
}

/// The performer: she sings along at normal speed; at double speed she only mouths.
fn performer(composed: &Composed, take: &TakePlan, samples: usize, dice: &mut Dice) -> Vec<f32> {
    let rate = f64::from(take.sample_rate_hz);
    let mut out = vec![0.0f32; samples];
    let late_s = f64::from(dice.normal()) * 0.004;
    let gain = dice.between(0.3, 0.55);
    for run in &take.truth.runs {
        if (run.speed - 1.0).abs() < 1e-9 {
            let when = (run.take_start_s, run.take_end_s);
            let what = (run.song_start_s - late_s, run.true_speed());
            lay(&mut out, rate, &composed.live_voice, when, what, gain);
        }
    }
    out
}

/// Zero crossings of the windowed sinc to each side.
const CROSSINGS: f64 = 8.0;
/// Parts of a sample that have weights of their own.
const PHASES: usize = 256;

/// Adds `source` (at [`SONG_RATE_HZ`]) to `to` (at `rate`), from `from_s` to `to_s` of the take, starting at
/// `source_s` and advancing `step` source seconds a second. Band-limited (windowed sinc, 16 zero
/// crossings), so that no sample is moved by more than rounding.
fn lay(
    to: &mut [f32],
    rate: f64,
    source: &[f32],
    (from_s, to_s): (f64, f64),
    (source_s, step): (f64, f64),
    gain: f32,
) {
    let source_rate = f64::from(SONG_RATE_HZ);
    // Played faster, the song's top would fold down: narrow the filter.
    let cut = (1.0 / (step * source_rate / rate)).min(1.0) * 0.97;
    let reach = (CROSSINGS / cut).ceil() as usize;
    let taps = 2 * reach;
    let table = weights(cut, reach);
    let first = (from_s * rate).ceil().max(0.0) as usize;
    let last = ((to_s * rate).ceil().max(0.0) as usize).min(to.len());
    let fade = (0.004 * rate) as usize;
    let mut padded = vec![0.0f32; taps];
    for (n, sample) in to.iter_mut().enumerate().take(last).skip(first) {
        let at = (source_s + (n as f64 / rate - from_s) * step) * source_rate;
        let middle = at.floor();
        let fine = (at - middle) * PHASES as f64;
        let phase = (fine as usize).min(PHASES - 1);
        let part = (fine - phase as f64) as f32;
        let low = middle as i64 - reach as i64 + 1;
        let sample_at = |at: i64| usize::try_from(at).ok().and_then(|at| source.get(at));
        let whole = usize::try_from(low).ok();
        let piece = whole.and_then(|low| source.get(low..low + taps));
        let piece = piece.unwrap_or_else(|| {
            // At the ends of the source: silence beyond.
            for (value, at) in padded.iter_mut().zip(low..) {
                *value = sample_at(at).copied().unwrap_or(0.0);
            }
            &padded
        });
        let (here, next) = table[phase * taps..(phase + 2) * taps].split_at(taps);
        // Playback starts and stops without a click.
        let edge = (n - first).min(last - 1 - n).min(fade) as f32 / fade.max(1) as f32;
        *sample += weighted(piece, here, next, part) * gain * edge;
    }
}

/// Weights of a low-pass at `cut` of the sampling rate's half, `reach` samples to each side: a row for each part of a
/// sample, and one more to interpolate towards.
fn weights(cut: f64, reach: usize) -> Vec<f32> {
    use std::f64::consts::{FRAC_PI_2, PI};
    let weight = |distance: f64| -> f32 {
        let x = (distance * cut).abs();
        let window = (FRAC_PI_2 * (x / CROSSINGS).min(1.0)).cos().powi(2);
        let sinc = if x < 1e-9 {
            1.0
        } else {
            (PI * x).sin() / (PI * x)
        };
        (sinc * window * cut) as f32
    };
    (0..=PHASES)
        .flat_map(|phase| (0..2 * reach).map(move |tap| (phase, tap)))
        .map(|(phase, tap)| weight(tap as f64 - (reach - 1) as f64 - phase as f64 / PHASES as f64))
        .collect()
}

/// `piece` weighted by what lies `part` of the way from `here` to `next`.
fn weighted(piece: &[f32], here: &[f32], next: &[f32], part: f32) -> f32 {
    // Eight sums side by side, which the compiler turns into vectors.
    let mut sums = [0.0f32; 8];
    let chunks = piece
        .chunks_exact(8)
        .zip(here.chunks_exact(8))
        .zip(next.chunks_exact(8));
    for ((value, a), b) in chunks {
        for lane in 0..8 {
            sums[lane] += value[lane] * (a[lane] + (b[lane] - a[lane]) * part);
        }
    }
    for tap in piece.len() - piece.len() % 8..piece.len() {
        sums[0] += piece[tap] * (here[tap] + (next[tap] - here[tap]) * part);
    }
    sums.iter().sum()
}

/// A small battery loudspeaker: little bass, no top, a bump in the middle, and it strains.
fn loudspeaker(sound: &mut [f32]) {
    // The filters are tuned for the song's rate; at 44.1 kHz all corners lie 8 % lower, as another
    // speaker's might.
    let mut bass = Filter::new(210.0, 0.8);
    let mut bump = Filter::new(1250.0, 0.9);
    let mut top = Filter::new(7800.0, 0.7);
    for value in sound {
        let body = bass.run(*value)[2];
        let [_, band, _] = bump.run(body);
        *value = (top.run(body + band * 0.5)[0] * 2.2).tanh() * 0.45;
    }
}

fn in_room(near: &[f32], room: &Room, rate: f64) -> [Vec<f32>; 2] {
    let send = Stem {
        sides: [near.to_vec(), near.to_vec()],
    };
    let wet = reverb(&send, room.tail.0);
    let mut sides = wet.sides;
    for (index, side) in sides.iter_mut().enumerate() {
        for (value, dry) in side.iter_mut().zip(near) {
            *value = *value * room.tail.1 + dry;
        }
        for (late_s, gains) in room.echoes {
            let late = (late_s * rate).round() as usize;
            for (value, dry) in side.iter_mut().skip(late).zip(near) {
                *value += dry * gains[index];
            }
        }
    }
    sides
}

/// Steps, a word or two before and after, where no song is playing.
fn people(near: &mut [f32], take: &TakePlan, dice: &mut Dice) {
    let rate = f64::from(take.sample_rate_hz);
    let mut free_from = 0.25;
    let mut gaps: Vec<(f64, f64)> = Vec::new();
    for run in &take.truth.runs {
        gaps.push((free_from, run.take_start_s - 0.3));
        free_from = run.take_end_s + 0.35;
    }
    gaps.push((free_from, take.truth.duration_s - 0.1));
    for (from_s, to_s) in gaps {
        if to_s - from_s < 0.8 {
            continue;
        }
        if !take.truth.runs.is_empty() {
            let talk = talk(to_s - from_s, dice);
            let gain = dice.between(0.25, 0.5);
            lay(near, rate, &talk, (from_s, to_s), (0.0, 1.0), gain);
        }
        let mut at_s = from_s + f64::from(dice.unit()) * 0.5;
        while at_s < to_s.min(from_s + 3.5) {
            let start = (at_s * rate) as usize;
            let (pitch, force) = (dice.between(70.0, 110.0), dice.between(0.05, 0.12));
            for n in 0..(0.09 * rate) as usize {
                let t = n as f32 / rate as f32;
                if let Some(value) = near.get_mut(start + n) {
                    *value += ((TAU * pitch * t).sin() * (-t * 45.0).exp()
                        + dice.noise() * (-t * 120.0).exp() * 0.5)
                        * force;
                }
            }
            at_s += f64::from(dice.between(0.45, 0.7));
        }
    }
}

/// Something like talk: spoken pitch, quick syllables, no words.
fn talk(length_s: f64, dice: &mut Dice) -> Vec<f32> {
    const SYLLABLES: [&str; 8] = [
        "d ah", "k ey", "s eh t", "ow", "r eh", "l iy", "w ah n", "b ae k",
    ];
    let mut notes = Vec::new();
    let mut at_s = 0.15 + f64::from(dice.unit()) * 0.4;
    while at_s < length_s - 0.3 {
        let long_s = f64::from(dice.between(0.11, 0.24));
        let phones = SYLLABLES[(dice.bits() % 8) as usize].split(' ').collect();
        notes.push(Note {
            start_s: at_s,
            end_s: at_s + long_s,
            pitch: 55 + (dice.normal() * 2.0) as i32,
            phones,
            force: dice.between(0.5, 0.8),
            part: Part::Intro,
        });
        at_s += long_s + if dice.unit() < 0.18 { 0.5 } else { 0.02 };
    }
    let singer = Singer {
        seed: dice.bits(),
        breath: 0.8,
        throat: dice.between(0.9, 1.05),
        ..Singer::EXACT
    };
    sing(&notes, length_s, singer)
}

fn noises(heard: &mut [Vec<f32>; 2], room: &Room, rate: f64, dice: &mut Dice) {
    let turn = dice.between(0.45, 0.6);
    for side in heard.iter_mut() {
        let mut hiss = Filter::new(2600.0, 0.6);
        let mut gusts = Filter::new(190.0, 0.6);
        let (mut gust, mut aim) = (0.5f32, 0.5f32);
        for (n, value) in side.iter_mut().enumerate() {
            let t = n as f32 / rate as f32;
            let white = dice.noise();
            let mut sum = (hiss.run(white)[0] + white * 0.15) * room.air;
            if room.wind > 0.0 {
                if n % 12_000 == 0 {
                    aim = dice.unit();
                }
                gust += (aim - gust) * 3e-5;
                sum += gusts.run(white)[0] * room.wind * gust * gust * 6.0;
            }
            if room.rumble > 0.0 {
                let slosh = 0.55 + 0.45 * (TAU * turn * t).sin();
                sum +=
                    ((TAU * 49.0 * t).sin() * 0.5 + hiss.run(0.0)[1] * 2.0 * slosh) * room.rumble;
            }
            *value += sum;
        }
    }
}

/// Automatic gain: quick down, slow up; then the converter's ceiling. All channels together.
fn recorder(channels: &mut [Vec<f32>], rate: f64, drive: f32) {
    let (down, up) = (
        1.0 - (-1.0 / (0.006 * rate)).exp(),
        1.0 - (-1.0 / (1.6 * rate)).exp(),
    );
    let (down, up) = (down as f32, up as f32);
    let (mut level, mut gain) = (0.25f32, drive);
    let samples = channels.first().map_or(0, Vec::len);
    for n in 0..samples {
        let now = channels
            .iter()
            .map(|channel| channel[n].abs())
            .fold(0.0, f32::max);
        level += (now - level) * if now > level { down } else { up };
        if n % 8 == 0 {
            gain = (0.42 / level.max(0.06)).powf(0.75) * drive;
        }
        for channel in channels.iter_mut() {
            channel[n] = (channel[n] * gain).clamp(-0.98, 0.98);
        }
    }
}

fn hum(samples: usize, rate: f64, dice: &mut Dice) -> Vec<f32> {
    (0..samples)
        .map(|n| {
            let t = n as f32 / rate as f32;
            ((TAU * 50.0 * t).sin() + 0.4 * (TAU * 150.0 * t).sin()) * 0.006 + dice.noise() * 0.0008
        })
        .collect()
}

/// `sound` played `speed` times as fast with its pitch kept: pieces overlapped where they fit best
/// (WSOLA; Verhelst and Roelands 1993). Piece `n` is never moved by more than [`STRETCH_SLACK_S`].
fn stretch(sound: &[f32], speed: f64) -> Vec<f32> {
    const HOP: usize = 768;
    const PIECE: usize = HOP * 2;
    let slack = (STRETCH_SLACK_S * f64::from(SONG_RATE_HZ)) as i64;
    let length = (sound.len() as f64 / speed) as usize;
    let window: Vec<f32> = (0..PIECE)
        .map(|n| 0.5 - 0.5 * (TAU * n as f32 / PIECE as f32).cos())
        .collect();
    let mut out = vec![0.0f32; length + PIECE];
    let mut wanted: Option<usize> = None;
    let mut at = 0usize;
    while at + PIECE < out.len() {
        // Each piece is centred on where the song should stand at its middle.
        let exact = ((at + HOP) as f64 * speed) as i64 - HOP as i64;
        let mut from = exact.clamp(0, (sound.len() - PIECE - 1) as i64);
        if let Some(wanted) = wanted.filter(|wanted| wanted + HOP < sound.len()) {
            let likeness = |from: i64| -> f32 {
                let here = &sound[from as usize..];
                (0..HOP)
                    .step_by(4)
                    .map(|n| here[n] * sound[wanted + n])
                    .sum()
            };
            let last = (sound.len() - PIECE - 1) as i64;
            let mut best = f32::MIN;
            let centre = from;
            for shift in (-slack..=slack).step_by(3) {
                let tried = (centre + shift).clamp(0, last);
                let value = likeness(tried);
                if value > best {
                    (best, from) = (value, tried);
                }
            }
        }
        for n in 0..PIECE {
            out[at + n] += sound[from as usize + n] * window[n];
        }
        wanted = Some(from as usize + HOP);
        at += HOP;
    }
    out.truncate(length);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;
    use crate::{plan, takes};

    /// Lag (in samples) at which `take` from `at_s` fits `song` best around where the truth puts it.
    fn best_lag(composed: &Composed, plan: &TakePlan, sound: &[f32], at_s: f64, reach: i64) -> i64 {
        let rate = f64::from(plan.sample_rate_hz);
        let run = plan
            .truth
            .runs
            .iter()
            .rev()
            .find(|run| run.sounds_at(at_s))
            .unwrap();
        // The song as the truth says it stands in the take, on its own samples.
        let mut song = vec![0.0f32; (rate * 4.0) as usize + 2 * reach as usize];
        let from = at_s - reach as f64 / rate;
        let what = (run.song_s_at(from), run.true_speed());
        lay(&mut song, rate, &composed.mono, (0.0, 5.0), what, 1.0);
        let start = (at_s * rate).round() as usize;
        let piece = &sound[start..start + (rate * 4.0) as usize];
        // Both whitened by a difference, so that the peak is sharp.
        let white = |s: &[f32]| -> Vec<f32> { s.windows(2).map(|p| p[1] - p[0]).collect() };
        let (song, piece) = (white(&song), white(piece));
        (-reach..=reach)
            .max_by(|a, b| {
                let fit = |lag: i64| -> f32 {
                    piece
                        .iter()
                        .zip(&song[(reach + lag) as usize..])
                        .map(|(x, y)| x * y)
                        .sum()
                };
                fit(*a).abs().total_cmp(&fit(*b).abs())
            })
            .unwrap()
    }

    #[test]
    fn takes_lie_where_the_truth_says() {
        let composed = sample();
        let project = plan(composed);
        let all = takes(composed, &project);
        // Stereo indoors, mono at 44.1 kHz, the second start after a false one, two tracks, outdoors.
        for (number, at_s) in [(1, 30.0), (2, 130.0), (5, 150.0), (6, 40.0), (20, 30.0)] {
            let take = &all[number - 1];
            let tracks = set_sound(composed, take);
            let sound = &tracks[tracks.len() - 1][0];
            assert_eq!(
                sound.len(),
                (take.truth.duration_s * f64::from(take.sample_rate_hz)).round() as usize
            );
            assert!(sound.iter().all(|s| s.is_finite() && s.abs() <= 1.0));
            // `at_s` on a whole sample of the take.
            let lag = best_lag(composed, take, sound, at_s, 60);
            // The loudspeaker's filters delay the middle of the spectrum by a few samples.
            assert!((-8..=1).contains(&lag), "take {number}: {lag}");
        }
    }

    #[test]
    fn resampling_is_exact_to_a_fraction_of_a_sample() {
        // A 1 kHz tone, a clock 60 ppm fast: phase at the end is right to 0.02 of a sample.
        let tone: Vec<f32> = (0..SONG_RATE_HZ * 20)
            .map(|n| (TAU * 1000.0 * n as f32 / 48_000.0 % TAU).sin())
            .collect();
        let mut out = vec![0.0f32; SONG_RATE_HZ as usize * 19];
        lay(
            &mut out,
            48_000.0,
            &tone,
            (0.5, 19.0),
            (0.25, 1.000_06),
            1.0,
        );
        for n in [100_000usize, 500_000, 900_000] {
            let at_s = 0.25 + (n as f64 / 48_000.0 - 0.5) * 1.000_06;
            let exact = (std::f64::consts::TAU * (1000.0 * at_s).fract()).sin();
            assert!(
                (f64::from(out[n]) - exact).abs() < 0.01,
                "{n}: {} {exact}",
                out[n]
            );
        }
    }

    #[test]
    fn a_stretch_keeps_time_and_pitch() {
        let tone: Vec<f32> = (0..SONG_RATE_HZ * 4)
            .map(|n| (TAU * (440.0 * n as f32 / 48_000.0).fract()).sin())
            .collect();
        let fast = stretch(&tone, 2.0);
        assert_eq!(fast.len(), tone.len() / 2);
        let crossings = fast[4800..52_800]
            .windows(2)
            .filter(|p| p[0] < 0.0 && p[1] >= 0.0)
            .count();
        assert!((436..=444).contains(&crossings), "{crossings}");
    }
}
