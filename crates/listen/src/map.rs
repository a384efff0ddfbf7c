//! The song as a ruler: what was heard, after a person's corrections.
//!
//! Corrections are laid on in one order: tempo, halving and doubling, taps, beats in a bar, first
//! downbeat, sections. Each is laid on what the ones before it left, so the same corrections work on
//! any later listening. What cannot be followed is left out and named in a note.

use crate::bars;
use crate::beats;
use crate::correct::{BEATS_PER_BAR, TEMPI_BPM};
use crate::curves::Curves;
use crate::tempo::PeriodPath;
use crate::tracking;
use crate::voice::CURVE_HZ;
use crate::{Listening, Note, even_grid};
use model::{Bar, Corrections, Length, MarkedSection, Section, SongMap, SongTime, Stretch};

/// Beats closer than this are one beat, seconds.
const CLOSEST_S: f64 = 0.05;
/// Over how many beats the shift of a tap dies away.
const FADE: f64 = 8.0;

/// The ruler of a song after corrections, and what of them could not be followed.
///
/// Pure and total: any listening and any corrections give a map that keeps the invariants of
/// [`SongMap`]. Under a millisecond, except that tracking again under a hand-set tempo takes about
/// 10 ms per minute of song (measured on three minutes: 11 ms at 126 beats a minute, 53 ms at 45).
pub fn song_map(listening: &Listening, corrections: &Corrections) -> (SongMap, Vec<Note>) {
    let mut notes = Vec::new();
    let length = length_of(listening);
    let duration_s = length.seconds();
    let mut grid = Grid::heard(listening, duration_s);
    grid.set_tempo(listening, corrections, duration_s, &mut notes);
    grid.double(corrections.doublings, duration_s, &mut notes);
    grid.tap(&corrections.taps, duration_s, &mut notes);
    grid.set_bar(&listening.curves, corrections.beats_per_bar, &mut notes);
    grid.start_bars(corrections.first_downbeat, duration_s, &mut notes);
    let (beats, downbeats) = grid.exact(length);

    let whole = Stretch::new(SongTime::ZERO, SongTime::ZERO + length);
    let bars = whole.map_or(Vec::new(), |whole| {
        bars_of(listening, whole, &beats, &downbeats)
    });
    let sections = whole.map_or(Vec::new(), |whole| {
        sections_of(listening, corrections, whole, &bars, &mut notes)
    });
    let seconds: Vec<f64> = beats.iter().map(|b| b.seconds()).collect();
    let tempo_bpm = if seconds.len() > 1 {
        tracking::median_tempo(&seconds)
    } else {
        grid.tempo_bpm
    };
    let map = SongMap {
        length,
        tempo_bpm,
        beats_per_bar: grid.beats_per_bar,
        beats,
        downbeats,
        bars,
        sections,
    };
    (map, notes)
}

/// The length of the song; a listening that holds none still has one tick.
fn length_of(listening: &Listening) -> Length {
    let samples = Length::of_samples(listening.samples, listening.sample_rate_hz);
    // A kept listening may have been tampered with; a week is the limit of the model.
    samples.clamp(
        Length::from_ticks(1),
        Length::nearest_to_seconds(model::time::MAX_SECONDS),
    )
}

/// Beats and bars while corrections are laid on.
struct Grid {
    /// Seconds, rising, within the song.
    beats: Vec<f64>,
    /// Rising indices into `beats`.
    downbeats: Vec<usize>,
    beats_per_bar: u32,
    tempo_bpm: f64,
}

impl Grid {
    fn heard(listening: &Listening, duration_s: f64) -> Self {
        let beats_per_bar = listening
            .beats_per_bar
            .clamp(*BEATS_PER_BAR.start(), *BEATS_PER_BAR.end());
        let mut beats = Vec::with_capacity(listening.beats_s.len());
        let mut downbeats = Vec::new();
        for (i, &t) in listening.beats_s.iter().enumerate() {
            let after = beats.last().is_none_or(|last| t > last + 1e-6);
            if t.is_finite() && (0.0..duration_s).contains(&t) && after {
                if listening.downbeats.contains_sorted(i) {
                    downbeats.push(beats.len());
                }
                beats.push(t);
            }
        }
        let tempo_bpm = tracking::median_tempo(&beats);
        Self {
            beats,
            downbeats,
            beats_per_bar,
            tempo_bpm,
        }
    }

    /// Tracks again near the tempo set by hand; an even grid where there is no pulse to follow.
    fn set_tempo(
        &mut self,
        listening: &Listening,
        corrections: &Corrections,
        duration_s: f64,
        notes: &mut Vec<Note>,
    ) {
        let Some(bpm) = corrections.tempo_bpm else {
            return;
        };
        if !bpm.is_finite() || !TEMPI_BPM.contains(&bpm) {
            notes.push(Note::TempoIgnored(bpm));
            return;
        }
        let metre = corrections
            .beats_per_bar
            .filter(|n| BEATS_PER_BAR.contains(n))
            .unwrap_or(self.beats_per_bar) as usize;
        let unheard = listening
            .notes
            .iter()
            .any(|n| matches!(n, Note::Silent | Note::NoPulse));
        self.tempo_bpm = bpm;
        self.beats_per_bar = metre as u32;
        if !unheard && !listening.curves.onset.is_empty() {
            let reward = beats::reward(&listening.curves.onset);
            let path = PeriodPath::steady((60.0 / bpm * Curves::FAST_HZ as f64) as f32);
            let readings = tracking::at_level(
                &listening.curves,
                &reward,
                &path,
                beats::BY_HAND,
                Some(metre),
            );
            let best = readings
                .into_iter()
                .max_by(|a, b| a.score.total_cmp(&b.score));
            if let Some(best) = best {
                let kept: Vec<usize> = (0..best.beats.len())
                    .filter(|i| best.beats[*i] < duration_s)
                    .collect();
                self.downbeats = kept
                    .iter()
                    .copied()
                    .filter(|i| best.count.positions[*i] == 0)
                    .collect();
                self.beats = kept.iter().map(|i| best.beats[*i]).collect();
                return;
            }
        }
        let anchor = self.beats.first().copied().unwrap_or(0.0);
        self.beats = even_grid(anchor, bpm, duration_s);
        self.downbeats = (0..self.beats.len()).step_by(metre).collect();
    }

    /// Halves (negative) or doubles the beats so many times, as far as tempi go.
    fn double(&mut self, times: i8, duration_s: f64, notes: &mut Vec<Note>) {
        let mut done = 0i8;
        while done != times {
            let up = times > 0;
            let bpm = self.tempo_bpm * if up { 2.0 } else { 0.5 };
            if !TEMPI_BPM.contains(&bpm) || self.beats.len() < 2 {
                notes.push(Note::DoublingsCut(times, done));
                return;
            }
            self.tempo_bpm = bpm;
            if up {
                self.twice(duration_s)
            } else {
                self.half()
            }
            done += if up { 1 } else { -1 };
        }
    }

    /// A beat between every two. Old downbeats stay, and so does the number of beats in a bar, so
    /// that every old bar becomes two.
    fn twice(&mut self, duration_s: f64) {
        let old = std::mem::take(&mut self.beats);
        for (i, &t) in old.iter().enumerate() {
            self.beats.push(t);
            let next = old
                .get(i + 1)
                .copied()
                .unwrap_or_else(|| 2.0 * t - old[i - 1]);
            let between = 0.5 * (t + next);
            if between < duration_s {
                self.beats.push(between);
            }
        }
        let first = self.downbeats.first().map_or(0, |i| i * 2);
        self.count_from(first);
    }

    /// Every second beat, those with the downbeats. Two old bars become one.
    fn half(&mut self) {
        let odd = self.downbeats.iter().filter(|i| *i % 2 == 1).count();
        let parity = usize::from(odd * 2 > self.downbeats.len());
        let first = self.downbeats.first().copied().unwrap_or(0);
        self.beats = self.beats.iter().copied().skip(parity).step_by(2).collect();
        self.count_from(
            first
                .saturating_sub(parity)
                .div_ceil(2)
                .min(self.beats.len().saturating_sub(1)),
        );
    }

    /// Bars counted evenly from beat `first`.
    fn count_from(&mut self, first: usize) {
        let bar = self.beats_per_bar.max(1) as usize;
        self.downbeats = (first..self.beats.len()).step_by(bar).collect();
    }

    /// Bends the grid through every tap: between two taps as many beats as the grid has there (at
    /// least one), evenly bent; outside, the shift dies away over [`FADE`] beats. Beyond the beats that
    /// were there it goes only as far as the taps.
    fn tap(&mut self, taps: &[SongTime], duration_s: f64, notes: &mut Vec<Note>) {
        let mut times: Vec<f64> = taps
            .iter()
            .map(|t| t.seconds())
            .filter(|t| (0.0..duration_s).contains(t))
            .collect();
        times.sort_by(f64::total_cmp);
        times.dedup_by(|later, earlier| *later - *earlier < CLOSEST_S);
        if times.len() < taps.len() {
            notes.push(Note::TapsIgnored(taps.len() - times.len()));
        }
        let (Some(&first), Some(&last)) = (times.first(), times.last()) else {
            return;
        };
        if self.beats.len() < 2 {
            self.beats = even_grid(first, self.tempo_bpm, duration_s);
            if self.beats.len() < 2 {
                self.beats = times;
                self.downbeats = vec![0];
                return;
            }
        }
        let old = self.beats.clone();
        let place = Place { beats: &old };
        let starts: Vec<f64> = self
            .downbeats
            .iter()
            .filter_map(|i| old.get(*i).copied())
            .collect();
        let mut bent: Vec<f64> = Vec::with_capacity(old.len() + times.len());
        // Before the first tap: whole beats counted back from it.
        let first_place = place.of(first).round();
        let shift = first - place.at(first_place);
        let mut back: Vec<f64> = Vec::new();
        let mut k = 1.0;
        loop {
            let fade = (1.0 - k / FADE).max(0.0);
            let t = place.at(first_place - k) + shift * fade;
            let next = back.last().copied().unwrap_or(first);
            if t < 0.0 || first_place - k < -0.5 {
                break;
            }
            if next - t >= CLOSEST_S {
                back.push(t);
            }
            k += 1.0;
        }
        bent.extend(back.iter().rev());
        bent.push(first);
        for pair in times.windows(2) {
            let (a, b) = (place.of(pair[0]), place.of(pair[1]));
            let most = ((pair[1] - pair[0]) / CLOSEST_S).floor().max(1.0);
            let count = (b - a).round().clamp(1.0, most);
            for i in 1..=count as usize {
                bent.push(pair[0] + (pair[1] - pair[0]) * i as f64 / count);
            }
        }
        let last_place = place.of(last).round();
        let shift = last - place.at(last_place);
        let mut k = 1.0;
        loop {
            let fade = (1.0 - k / FADE).max(0.0);
            let t = place.at(last_place + k) + shift * fade;
            if t >= duration_s || last_place + k > old.len() as f64 - 0.5 {
                break;
            }
            if t - bent.last().copied().unwrap_or(last) >= CLOSEST_S {
                bent.push(t);
            }
            k += 1.0;
        }
        self.beats = bent;
        // A bar starts at the beat nearest to where it started before.
        self.downbeats = starts
            .iter()
            .filter_map(|t| nearest(&self.beats, *t))
            .collect();
        self.downbeats.dedup();
    }

    /// Counts anew in the metre set by hand.
    fn set_bar(&mut self, curves: &Curves, beats_per_bar: Option<u32>, notes: &mut Vec<Note>) {
        let Some(n) = beats_per_bar else { return };
        if !BEATS_PER_BAR.contains(&n) {
            notes.push(Note::BeatsPerBarIgnored(n));
            return;
        }
        if n == self.beats_per_bar && !self.downbeats.is_empty() {
            return;
        }
        self.beats_per_bar = n;
        let seen = bars::seen(curves, &self.beats);
        let count = bars::count(&seen, n as usize);
        self.downbeats = (0..self.beats.len())
            .filter(|i| count.positions[*i] == 0)
            .collect();
    }

    /// Makes the beat nearest to `at` the first downbeat. What comes before is bar 0.
    fn start_bars(&mut self, at: Option<SongTime>, duration_s: f64, notes: &mut Vec<Note>) {
        if let Some(at) = at {
            let at = at.seconds();
            match nearest(&self.beats, at).filter(|_| (0.0..duration_s).contains(&at)) {
                Some(first) => {
                    // Where the count was lost and found again in the song, it is so still.
                    let bar = self.beats_per_bar.max(1) as usize;
                    let turn = self
                        .downbeats
                        .iter()
                        .rev()
                        .find(|d| **d <= first)
                        .map_or_else(
                            || {
                                self.downbeats
                                    .first()
                                    .map_or(0, |d| bar - (d - first) % bar)
                            },
                            |d| first - d,
                        )
                        % bar;
                    let moved = self
                        .downbeats
                        .iter()
                        .map(|d| d + turn)
                        .filter(|d| *d > first && *d < self.beats.len());
                    self.downbeats = std::iter::once(first).chain(moved).collect();
                }
                None => notes.push(Note::DownbeatIgnored(at)),
            }
        }
        self.downbeats.retain(|d| *d < self.beats.len());
        self.downbeats.dedup();
        if self.downbeats.is_empty() {
            self.count_from(0);
        }
    }

    /// Beats on exact time, rising strictly within the song, and the downbeats among them.
    fn exact(&self, length: Length) -> (Vec<SongTime>, Vec<usize>) {
        let end = SongTime::ZERO + length;
        let mut beats: Vec<SongTime> = Vec::with_capacity(self.beats.len());
        let mut downbeats = Vec::with_capacity(self.downbeats.len());
        for (i, &t) in self.beats.iter().enumerate() {
            let at = SongTime::nearest_to_seconds(t);
            let after = beats.last().is_none_or(|last| at > *last);
            if at >= SongTime::ZERO && at < end && after {
                if self.downbeats.contains_sorted(i) {
                    downbeats.push(beats.len());
                }
                beats.push(at);
            }
        }
        (beats, downbeats)
    }
}

/// Places on a grid of beats: whole numbers are beats, continued evenly beyond both ends.
struct Place<'a> {
    beats: &'a [f64],
}

impl Place<'_> {
    fn gap(&self, i: usize) -> f64 {
        (self.beats[i + 1] - self.beats[i]).max(1e-3)
    }

    fn of(&self, t: f64) -> f64 {
        let i = self
            .beats
            .partition_point(|b| *b <= t)
            .saturating_sub(1)
            .min(self.beats.len() - 2);
        i as f64 + (t - self.beats[i]) / self.gap(i)
    }

    fn at(&self, place: f64) -> f64 {
        let i = (place.floor().max(0.0) as usize).min(self.beats.len() - 2);
        self.beats[i] + (place - i as f64) * self.gap(i)
    }
}

trait ContainsSorted {
    fn contains_sorted(&self, value: usize) -> bool;
}

impl ContainsSorted for Vec<usize> {
    fn contains_sorted(&self, value: usize) -> bool {
        self.binary_search(&value).is_ok()
    }
}

/// Index of the value nearest to `t` in a rising list.
pub(crate) fn nearest(times: &[f64], t: f64) -> Option<usize> {
    if times.is_empty() || !t.is_finite() {
        return None;
    }
    let i = times.partition_point(|x| *x < t).min(times.len() - 1);
    Some(if i > 0 && t - times[i - 1] <= times[i] - t {
        i - 1
    } else {
        i
    })
}

/// The bars: cut at every downbeat, the rest before the first as bar 0.
fn bars_of(
    listening: &Listening,
    whole: Stretch,
    beats: &[SongTime],
    downbeats: &[usize],
) -> Vec<Bar> {
    let mut edges = vec![whole.start()];
    edges.extend(
        downbeats
            .iter()
            .filter_map(|i| beats.get(*i))
            .copied()
            .filter(|t| *t > whole.start()),
    );
    edges.push(whole.end());
    // The first stretch is bar 0 unless a downbeat stands at zero (or there is none at all).
    let counted = downbeats
        .first()
        .is_none_or(|i| beats.get(*i).is_none_or(|t| *t <= whole.start()));
    let mut bars: Vec<Bar> = edges
        .windows(2)
        .filter_map(|e| Stretch::new(e[0], e[1]))
        .enumerate()
        .map(|(i, at)| Bar {
            number: i as u32 + u32::from(counted),
            at,
            energy: level(listening, at),
            voice: voice(listening, at),
        })
        .collect();
    let scale = Scale::of(bars.iter().map(|b| b.energy));
    for bar in &mut bars {
        bar.energy = scale.energy(bar.energy);
    }
    bars
}

/// Brings levels in dB to 0 (the quietest bar) to 1 (the loudest).
struct Scale {
    low: f32,
    high: f32,
}

impl Scale {
    /// Anything 30 dB below the loudest is as good as silent; a spread under 6 dB is not blown up.
    fn of(levels: impl Iterator<Item = f32>) -> Self {
        let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
        for level in levels {
            low = low.min(level);
            high = high.max(level);
        }
        Self {
            low: low.max(high - 30.0).min(high - 6.0),
            high,
        }
    }

    fn energy(&self, level: f32) -> f32 {
        let share = (level - self.low) / (self.high - self.low);
        if share.is_finite() {
            share.clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// The entries of a curve that lie in `at`, at least one if there is any.
fn part_of(curve: &[f32], at: Stretch) -> &[f32] {
    let hz = CURVE_HZ as f64;
    let a = (at.start().seconds() * hz).round().max(0.0) as usize;
    let b = (at.end().seconds() * hz).round().max(0.0) as usize;
    let a = a.min(curve.len().saturating_sub(1));
    let b = b.clamp(a + 1, curve.len().max(a + 1)).min(curve.len());
    curve.get(a..b).unwrap_or(&[])
}

/// Mean level in dB over `at`: of the power, as a meter would.
fn level(listening: &Listening, at: Stretch) -> f32 {
    let part = part_of(&listening.level_db, at);
    let power: f32 = part
        .iter()
        .map(|db| 10f32.powf(db.clamp(-120.0, 60.0) / 10.0))
        .sum();
    10.0 * (power / part.len().max(1) as f32 + 1e-12).log10()
}

/// Mean of the voice curve over `at`.
fn voice(listening: &Listening, at: Stretch) -> f32 {
    let part = part_of(&listening.voice, at);
    let mean = part.iter().sum::<f32>() / part.len().max(1) as f32;
    if mean.is_finite() {
        mean.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Share of `at` in which a voice is likelier than not.
fn voiced(listening: &Listening, at: Stretch) -> f32 {
    let part = part_of(&listening.voice, at);
    part.iter().filter(|v| **v > 0.5).count() as f32 / part.len().max(1) as f32
}

/// The sections as a person left them, or as heard with their boundaries on the nearest bar line.
fn sections_of(
    listening: &Listening,
    corrections: &Corrections,
    whole: Stretch,
    bars: &[Bar],
    notes: &mut Vec<Note>,
) -> Vec<Section> {
    let marked: Vec<MarkedSection> = match &corrections.sections {
        Some(marked) if !marked.is_empty() => marked.clone(),
        _ => heard_sections(listening, whole, bars),
    };
    let by_hand = corrections.sections.as_ref().is_some_and(|m| !m.is_empty());
    let asked = marked.len();
    let mut sorted: Vec<(Stretch, MarkedSection)> = marked
        .into_iter()
        .filter_map(|m| m.at.overlap(whole).map(|at| (at, m)))
        .collect();
    sorted.sort_by_key(|(at, _)| at.start());
    // Where two start together the longer wins; a later start ends the section before it.
    sorted.dedup_by(|later, earlier| {
        let same = later.0.start() == earlier.0.start();
        if same && later.0.end() > earlier.0.end() {
            std::mem::swap(later, earlier);
        }
        same
    });
    if by_hand && sorted.len() < asked {
        notes.push(Note::SectionsIgnored(asked - sorted.len()));
    }
    if sorted.is_empty() {
        let label = model::section::nth_letter(0);
        sorted.push((
            whole,
            MarkedSection {
                extra: Default::default(),
                label,
                name: None,
                at: whole,
            },
        ));
    }
    let mut edges: Vec<SongTime> = sorted.iter().map(|(at, _)| at.start()).collect();
    edges[0] = whole.start();
    edges.push(whole.end());
    let level_of: Vec<f32> = bars.iter().map(|b| level(listening, b.at)).collect();
    let scale = Scale::of(level_of.into_iter());
    edges
        .windows(2)
        .zip(sorted)
        .filter_map(|(e, (_, marked))| Stretch::new(e[0], e[1]).map(|at| (at, marked)))
        .map(|(at, marked)| Section {
            label: marked.label,
            name: marked.name,
            at,
            energy: scale.energy(level(listening, at)),
            voiced: voiced(listening, at),
        })
        .collect()
}

fn heard_sections(listening: &Listening, whole: Stretch, bars: &[Bar]) -> Vec<MarkedSection> {
    let lines: Vec<f64> = bars.iter().map(|b| b.at.start().seconds()).collect();
    let mut starts: Vec<(SongTime, &str)> = Vec::new();
    for section in &listening.sections {
        let Some(bar) = nearest(&lines, section.start_s).and_then(|i| bars.get(i)) else {
            continue;
        };
        // What starts in the sliver before the first bar starts with the song.
        let at = if bar.number <= 1 && section.start_s < 0.5 {
            whole.start()
        } else {
            bar.at.start()
        };
        if starts.last().is_none_or(|last| at > last.0) {
            starts.push((at, &section.label));
        }
    }
    let ends = starts.iter().skip(1).map(|s| s.0).chain([whole.end()]);
    starts
        .iter()
        .zip(ends)
        .filter_map(|((start, label), end)| {
            let at = Stretch::new(*start, end)?;
            Some(MarkedSection {
                extra: Default::default(),
                label: (*label).to_owned(),
                name: None,
                at,
            })
        })
        .collect()
}
