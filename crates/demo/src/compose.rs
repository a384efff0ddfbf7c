//! The song, composed: the score played by the band, sung, mixed and mastered.

use crate::arrange;
use crate::mixer::{Stem, master, reverb};
use crate::score::{BEATS_PER_BAR, FORM, Note, Score};
use crate::truth::{SectionTruth, SongTruth};
use crate::voice::{Singer, mouth, sing};

/// Sample rate of the composed song.
pub const SONG_RATE_HZ: u32 = 48_000;

/// Loudness of the master, LUFS (a usual streaming level; common practice).
const LOUDNESS_LUFS: f64 = -14.0;

/// Highest sample of the master: −1.2 dB below full scale leaves room between the samples.
const CEILING: f32 = 0.87;

/// The song and what else is heard on set.
#[derive(Clone, Debug)]
pub struct Composed {
    /// The seed it came from.
    pub seed: u64,
    /// The mixed song: left and right, interleaved, at [`SONG_RATE_HZ`], within ±1.
    pub sound: Vec<f32>,
    /// What is true of it.
    pub truth: SongTruth,
    /// The song as mono, for the loudspeaker on set.
    pub(crate) mono: Vec<f32>,
    /// The performer singing along on set, mono, dry, in song time.
    pub(crate) live_voice: Vec<f32>,
    /// Another song that plays in the room in one take, mono.
    pub(crate) other_song: Vec<f32>,
}

/// Composes the song from `seed`. The same seed gives the same samples.
pub fn compose(seed: u64) -> Composed {
    let score = Score::new();
    let notes: Vec<Note> = score
        .lines
        .iter()
        .flat_map(|line| line.notes.iter().cloned())
        .collect();
    let lead = Singer {
        seed,
        late_s: 0.004,
        loose_s: 0.005,
        cents: 0.0,
        breath: 0.55,
        throat: 1.0,
    };
    // On set she hears the loudspeaker and follows it: a little late, a little flat, looser.
    let live = Singer {
        seed: seed ^ 0x11fe,
        late_s: 0.022,
        loose_s: 0.011,
        cents: -9.0,
        breath: 0.8,
        throat: 1.02,
    };
    let ((band, voices), (live_voice, other_song)) = rayon::join(
        || {
            rayon::join(
                || arrange::band(&score, seed),
                || voices(&score, &notes, lead),
            )
        },
        || {
            rayon::join(
                || sing(&notes, score.duration_s, live),
                || arrange::other_song(seed),
            )
        },
    );
    let mut mix = band;
    mix.add_stem(&voices, 1.0);
    mix.cut_below(28.0);
    master(&mut mix, LOUDNESS_LUFS, CEILING);
    fade_out(&mut mix);
    let mono = mix.sides[0]
        .iter()
        .zip(&mix.sides[1])
        .map(|(left, right)| (left + right) * 0.5)
        .collect();
    Composed {
        seed,
        sound: mix.interleaved(),
        truth: truth(&score, &notes),
        mono,
        live_voice,
        other_song,
    }
}

/// The last half second falls to silence.
fn fade_out(mix: &mut Stem) {
    let length = (0.5 * SONG_RATE_HZ as f32) as usize;
    for side in &mut mix.sides {
        let from = side.len().saturating_sub(length);
        for (n, value) in side[from..].iter_mut().enumerate() {
            let left = 1.0 - n as f32 / length as f32;
            *value *= left * left;
        }
    }
}

/// Lead, double, harmony and echo, with their reverb.
fn voices(score: &Score, notes: &[Note], lead: Singer) -> Stem {
    let samples = (score.duration_s * f64::from(SONG_RATE_HZ)).round() as usize;
    let doubled = arrange::doubled(notes);
    let below = arrange::harmony(notes);
    let double = Singer {
        seed: lead.seed ^ 2,
        late_s: 0.012,
        loose_s: 0.009,
        cents: 6.0,
        breath: 0.9,
        throat: 0.985,
    };
    let under = Singer {
        seed: lead.seed ^ 3,
        late_s: 0.009,
        loose_s: 0.008,
        cents: -5.0,
        breath: 0.9,
        throat: 1.03,
    };
    let (first, (second, third)) = rayon::join(
        || sing(notes, score.duration_s, lead),
        || {
            rayon::join(
                || sing(&doubled, score.duration_s, double),
                || sing(&below, score.duration_s, under),
            )
        },
    );
    let mut dry = Stem::silent(samples);
    dry.add(&first, 0.0, 1.0, 0.0);
    dry.add(&second, 0.0, 0.34, -0.55);
    dry.add(&third, 0.0, 0.4, 0.5);
    dry.cut_below(130.0);
    let mut send = Stem::silent(samples);
    send.add_stem(&dry, 1.0);
    // An echo a dotted eighth behind, softly, into the reverb only.
    send.add(&first, 0.75 * 60.0 / 102.0, 0.28, 0.25);
    dry.add_stem(&reverb(&send, 1.9), 0.16);
    dry
}

fn truth(score: &Score, notes: &[Note]) -> SongTruth {
    let beats = score.beats_s.len() - 1;
    let beats_s = score.beats_s[..beats].to_vec();
    let downbeats_s: Vec<f64> = beats_s.iter().step_by(BEATS_PER_BAR).copied().collect();
    let starts = score.section_bars();
    let sections = FORM
        .iter()
        .enumerate()
        .map(|(index, form)| SectionTruth {
            label: form.label.to_string(),
            name: form.name.to_string(),
            start_s: if index == 0 {
                0.0
            } else {
                downbeats_s[starts[index]]
            },
            end_s: downbeats_s
                .get(starts[index + 1])
                .copied()
                .unwrap_or(score.duration_s),
        })
        .collect();
    let mut steps: Vec<f64> = beats_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let mut voiced_s: Vec<(f64, f64)> = Vec::new();
    for note in notes {
        match voiced_s.last_mut() {
            Some(last) if note.start_s - last.1 < 0.5 => last.1 = note.end_s,
            _ => voiced_s.push((note.start_s, note.end_s)),
        }
    }
    let (mouth_open, mouth_wide) = mouth(notes, score.duration_s);
    SongTruth {
        title: "Paper Weather".to_string(),
        artist: "Ilse Quarry".to_string(),
        duration_s: score.duration_s,
        tempo_bpm: 60.0 / steps[steps.len() / 2],
        beats_per_bar: BEATS_PER_BAR as u32,
        beats_s,
        downbeats_s,
        sections,
        lyrics: score
            .lines
            .iter()
            .filter_map(|line| {
                let (first, last) = (line.notes.first()?, line.notes.last()?);
                Some((first.start_s, last.end_s, line.text.to_string()))
            })
            .collect(),
        voiced_s,
        mouth_open,
        mouth_wide,
    }
}

/// The song of seed 1, composed once for all tests.
#[cfg(test)]
pub(crate) fn sample() -> &'static Composed {
    static SAMPLE: std::sync::OnceLock<Composed> = std::sync::OnceLock::new();
    SAMPLE.get_or_init(|| compose(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::hash::{DefaultHasher, Hash, Hasher};

    fn print(sound: &[f32]) -> u64 {
        let mut hasher = DefaultHasher::new();
        for sample in sound {
            sample.to_bits().hash(&mut hasher);
        }
        hasher.finish()
    }

    #[test]
    fn the_same_seed_gives_the_same_song() {
        let (one, two) = (sample(), compose(1));
        for (a, b) in [
            (&one.sound, &two.sound),
            (&one.live_voice, &two.live_voice),
            (&one.other_song, &two.other_song),
        ] {
            assert_eq!(print(a), print(b));
        }
        assert_eq!(one.truth, two.truth);
        assert_ne!(print(&one.other_song), print(&arrange::other_song(2)));
    }

    #[test]
    fn the_song_is_clean_loud_enough_and_as_long_as_it_says() {
        let song = sample();
        let samples = song.sound.len() / 2;
        assert_eq!(samples, (song.truth.duration_s * 48_000.0).round() as usize);
        assert!(
            song.sound
                .iter()
                .all(|s| s.is_finite() && s.abs() <= CEILING)
        );
        let mut meter =
            ebur128::EbuR128::new(2, SONG_RATE_HZ, ebur128::Mode::I | ebur128::Mode::TRUE_PEAK)
                .unwrap();
        meter.add_frames_f32(&song.sound).unwrap();
        let loudness = meter.loudness_global().unwrap();
        assert!((loudness - LOUDNESS_LUFS).abs() < 0.6, "{loudness}");
        assert!(meter.true_peak(0).unwrap() < 1.0);
        for sound in [&song.live_voice, &song.other_song] {
            assert!(sound.iter().all(|s| s.is_finite() && s.abs() < 2.0));
        }
    }

    #[test]
    fn the_truth_agrees_with_itself() {
        let truth = &sample().truth;
        assert_eq!(truth.beats_s.len(), truth.downbeats_s.len() * 4);
        assert!(truth.beats_s.windows(2).all(|pair| pair[1] > pair[0]));
        assert_eq!(truth.sections[0].start_s, 0.0);
        for pair in truth.sections.windows(2) {
            assert_eq!(pair[0].end_s, pair[1].start_s);
            assert!(truth.downbeats_s.contains(&pair[1].start_s));
        }
        assert_eq!(truth.sections.last().unwrap().end_s, truth.duration_s);
        assert_eq!(
            truth
                .sections
                .iter()
                .filter(|section| section.label == "D")
                .count(),
            3
        );
        for (start, end, text) in &truth.lyrics {
            assert!(end > start && !text.is_empty());
            let open = (0..40)
                .map(|n| {
                    truth
                        .mouth_at(start + (end - start) * f64::from(n) / 40.0)
                        .0
                })
                .fold(0.0, f32::max);
            assert!(open > 0.35, "{text}: {open}");
        }
        // Between the last chorus line of chorus 2 and the bridge nobody sings.
        assert_eq!(truth.mouth_at(1.0).0, 0.0);
    }

    #[test]
    fn drums_hit_on_the_beats_of_the_truth() {
        // Energy in the 30 ms after a chorus downbeat is well above that 100 ms before it.
        let song = sample();
        let power = |at: f64| -> f32 {
            let from = (at * 48_000.0) as usize;
            song.mono[from..from + 1440].iter().map(|v| v * v).sum()
        };
        let chorus = &song.truth.sections[3];
        let louder = song
            .truth
            .downbeats_s
            .iter()
            .filter(|at| (chorus.start_s..chorus.end_s).contains(at));
        let (mut hits, mut all) = (0, 0);
        for at in louder {
            all += 1;
            hits += usize::from(power(*at + 0.002) > power(*at - 0.1));
        }
        assert!(hits * 10 >= all * 8, "{hits} of {all}");
    }
}
