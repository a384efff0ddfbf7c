//! The reading of a song: which pulse is the beat, in which metre, from where.
//!
//! The period path settles one level of the pulse. Every simple multiple of it, on the beat and
//! between, is read in full (beats, then bars in each metre), and the readings are judged by what
//! musicians go by: usual tempi, onsets on the beat rather than between, a bar that fits.

use crate::bars::{self, Count};
use crate::beats::{self, Reach};
use crate::curves::Curves;
use crate::tempo::{self, PeriodPath};

/// One way to hear the song.
#[derive(Clone, Debug)]
pub(crate) struct Reading {
    /// Beats, seconds, rising.
    pub beats: Vec<f64>,
    pub count: Count,
    /// Median tempo.
    pub tempo_bpm: f64,
    /// What it was judged, higher is better.
    pub score: f32,
}

/// How many figures a reading is judged by.
pub(crate) const EVIDENCE: usize = 22;
/// Their weights: a multinomial logistic choice between readings, fitted on the songs of
/// `checks/listen` marked as tuned, on 130 drawn at random by the same generator and on twelve simple
/// ones; the songs marked as held were not used.
const JUDGE: [f32; EVIDENCE] = [
    9.17,  // how well the bars fit
    1.23,  // onsets on the beat
    -0.12, // at its half
    0.14,  // at its thirds
    -4.40, // at its quarters
    0.49,  // loud low onsets on the beat
    0.14,  // at its half
    1.54,  // chord or bass changes on the beat
    0.89,  // at its half
    0.50,  // octaves from 112 beats a minute
    -1.00, // the same, squared (raised by hand from -0.67: no loss on the tuned songs)
    -1.80, // three beats in a bar
    -2.18, // two beats in a bar
    1.25,  // thirds over halves, in two
    -0.48, // thirds over halves, in three
    0.66,  // division of the bar: onsets
    0.04,  // loud low onsets
    0.10,  // loud high onsets
    1.40,  // changes
    -3.20, // halves and thirds both
    0.15,  // halves or thirds at all
    2.17,  // backbeat, in four
];

const MULTIPLES: [f32; 7] = [1.0, 0.5, 2.0, 2.0 / 3.0, 1.5, 1.0 / 3.0, 3.0];
/// Tempi outside are not offered, beats a minute.
const TEMPI: (f32, f32) = (42.0, 212.0);

/// All readings, best first; at least one. The second value is how steady the pulse is, 0 to 1.
pub(crate) fn readings(curves: &Curves) -> (Vec<Reading>, f32) {
    let path = tempo::period_path(curves);
    let reward = beats::reward(&curves.onset);
    let mut all = Vec::new();
    for multiple in MULTIPLES {
        let path = path.times(multiple);
        let bpm = 6000.0 / path.median();
        if !(TEMPI.0..=TEMPI.1).contains(&bpm) && multiple != 1.0 {
            continue;
        }
        all.extend(at_level(curves, &reward, &path, beats::HEARD, None));
    }
    // The path bounds periods only roughly; what came out too fast goes, unless nothing is left.
    let usual = |r: &Reading| r.tempo_bpm < f64::from(TEMPI.1);
    if all.iter().any(usual) {
        all.retain(usual);
    }
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    (all, path.strength)
}

/// Readings along one path, on the beat and between, in every metre or the one given.
pub(crate) fn at_level(
    curves: &Curves,
    reward: &[f32],
    path: &PeriodPath,
    reach: Reach,
    beats_per_bar: Option<usize>,
) -> Vec<Reading> {
    let frames = beats::track(reward, path, reach);
    let on = beats::refine(&frames, reward);
    let between: Vec<f64> = on.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect();
    let mut out = Vec::new();
    for beats in [on, between] {
        if beats.is_empty() {
            continue;
        }
        let seen = bars::seen(curves, &beats);
        let strengths = Strengths::of(curves, reward, &beats);
        let metres: Vec<usize> = beats_per_bar.map_or(vec![4, 3, 2], |m| vec![m]);
        for metre in metres {
            // Two beats in a bar are heard in triplets only (6/8); the rest is counted in four.
            if metre == 2 && beats_per_bar.is_none() && strengths.third <= strengths.half + 0.3 {
                continue;
            }
            let count = bars::count(&seen, metre);
            let tempo_bpm = median_tempo(&beats);
            let octaves = (tempo_bpm as f32 / 112.0).log2();
            let sixths = if metre == 4 {
                [0.0; 4]
            } else {
                Strengths::sixths(curves, reward, &beats, &count)
            };
            let ternary = strengths.third - strengths.half;
            let of = |m: usize, x: f32| if metre == m { x } else { 0.0 };
            let evidence = [
                count.fit,
                strengths.on,
                strengths.half,
                strengths.third,
                strengths.quarter,
                strengths.low_on,
                strengths.low_half,
                strengths.change_on,
                strengths.change_half,
                octaves,
                octaves * octaves,
                of(3, 1.0),
                of(2, 1.0),
                of(2, ternary),
                of(3, ternary),
                sixths[0],
                sixths[1],
                sixths[2],
                sixths[3],
                strengths.half.min(strengths.third),
                strengths.half.max(strengths.third),
                of(4, count.backbeat(&seen)),
            ];
            let score = evidence.iter().zip(JUDGE).map(|(e, w)| e * w).sum();
            out.push(Reading {
                beats: beats.clone(),
                count,
                tempo_bpm,
                score,
            });
        }
    }
    out
}

/// Tempo of the median interval.
pub(crate) fn median_tempo(beats: &[f64]) -> f64 {
    let mut gaps: Vec<f64> = beats.windows(2).map(|w| w[1] - w[0]).collect();
    if gaps.is_empty() {
        return 120.0;
    }
    gaps.sort_by(f64::total_cmp);
    60.0 / gaps[gaps.len() / 2].max(1e-3)
}

/// Mean onset strengths on the beat and at its divisions.
struct Strengths {
    on: f32,
    half: f32,
    third: f32,
    quarter: f32,
    low_on: f32,
    low_half: f32,
    change_on: f32,
    change_half: f32,
}

impl Strengths {
    fn of(curves: &Curves, reward: &[f32], beats: &[f64]) -> Self {
        let mean = |value: &dyn Fn(f64) -> f32, parts: &[f64]| -> f32 {
            let mut sum = 0.0;
            let mut count = 0.0;
            for pair in beats.windows(2) {
                for part in parts {
                    sum += value(pair[0] + part * (pair[1] - pair[0]));
                    count += 1.0;
                }
            }
            if count > 0.0 { sum / count } else { 0.0 }
        };
        let all = |t: f64| peak(t, Curves::FAST_HZ, 2, reward.len(), |i| reward[i]);
        let low = |t: f64| {
            peak(t, Curves::FAST_HZ, 2, curves.low.len(), |i| {
                f32::from(curves.low[i]) / Curves::MEAN
            })
        };
        let change = |t: f64| {
            peak(t, Curves::SLOW_HZ, 1, curves.chord_change.len(), |i| {
                f32::from(curves.chord_change[i].max(curves.bass_change[i])) / 255.0
            })
        };
        Self {
            on: mean(&all, &[0.0]),
            half: mean(&all, &[0.5]),
            third: mean(&all, &[1.0 / 3.0, 2.0 / 3.0]),
            quarter: mean(&all, &[0.25, 0.75]),
            low_on: mean(&low, &[0.0]),
            low_half: mean(&low, &[0.5]),
            change_on: mean(&change, &[0.0]),
            change_half: mean(&change, &[0.5]),
        }
    }
}

impl Strengths {
    /// How the bar divides: onsets, loud onsets and changes where the beats of this metre would lie
    /// within the bar, less those where the beats of the other would (two beats of three parts
    /// against three beats of two).
    fn sixths(curves: &Curves, reward: &[f32], beats: &[f64], count: &Count) -> [f32; 4] {
        let firsts: Vec<f64> = beats
            .iter()
            .zip(&count.positions)
            .filter(|x| *x.1 == 0)
            .map(|x| *x.0)
            .collect();
        let (ours, theirs): (&[f64], &[f64]) = (&[0.5], &[1.0 / 3.0, 2.0 / 3.0]);
        let (ours, theirs) = if count.beats_per_bar == 3 {
            (theirs, ours)
        } else {
            (ours, theirs)
        };
        let mean = |value: &dyn Fn(f64) -> f32, parts: &[f64]| -> f32 {
            let sum: f32 = firsts
                .windows(2)
                .flat_map(|w| parts.iter().map(move |p| w[0] + p * (w[1] - w[0])))
                .map(value)
                .sum();
            sum / (firsts.len().saturating_sub(1).max(1) * parts.len()) as f32
        };
        let all = |t: f64| peak(t, Curves::FAST_HZ, 2, reward.len(), |i| reward[i]);
        let of = |curve: &[u8], t: f64| {
            peak(t, Curves::FAST_HZ, 2, curve.len(), |i| {
                f32::from(curve[i]) / Curves::MEAN
            })
        };
        let low = |t: f64| of(&curves.low, t);
        let high = |t: f64| of(&curves.high, t);
        let change = |t: f64| {
            peak(t, Curves::SLOW_HZ, 1, curves.chord_change.len(), |i| {
                f32::from(curves.chord_change[i].max(curves.bass_change[i])) / 255.0
            })
        };
        [
            mean(&all, ours) - mean(&all, theirs),
            mean(&low, ours) - mean(&low, theirs),
            mean(&high, ours) - mean(&high, theirs),
            mean(&change, ours) - mean(&change, theirs),
        ]
    }
}

fn peak(time_s: f64, hz: usize, reach: usize, len: usize, at: impl Fn(usize) -> f32) -> f32 {
    let centre = (time_s * hz as f64).round().max(0.0) as usize;
    (centre.saturating_sub(reach)..(centre + reach + 1).min(len))
        .map(at)
        .fold(0.0, f32::max)
}
