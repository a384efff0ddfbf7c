//! Who plays what, where: the arrangement of the song, and of another song that is heard in one take.

use crate::band::{bass, bell, cymbal, guitar, keys, kick, rim, shaker, snare, strings, tom};
use crate::compose::SONG_RATE_HZ;
use crate::dice::Dice;
use crate::mixer::{Stem, reverb};
use crate::score::{FORM, Note, Part, Score};
use rayon::prelude::*;

/// The whole band, mixed, without voices.
pub fn band(score: &Score, seed: u64) -> Stem {
    let samples = (score.duration_s * f64::from(SONG_RATE_HZ)).round() as usize;
    // Who plays, their gain in the mix and the share sent to the reverb.
    type Seat = (&'static str, fn(&mut Player), f32, f32);
    const DESK: [Seat; 6] = [
        ("drums", drums, 0.62, 0.07),
        ("bass", low, 0.44, 0.0),
        ("keys", piano, 0.2, 0.2),
        ("guitar", strummer, 0.34, 0.2),
        ("strings", string_section, 0.13, 0.3),
        ("bells", motif, 0.15, 0.4),
    ];
    let played = |(name, part, ..): &Seat| {
        let mut player = Player {
            score,
            stem: Stem::silent(samples),
            dice: Dice::new(seed, name),
        };
        part(&mut player);
        player.stem
    };
    let stems: Vec<Stem> = DESK.par_iter().map(played).collect();
    let mut mix = Stem::silent(samples);
    let mut send = Stem::silent(samples);
    for (stem, (_, _, gain, sent)) in stems.iter().zip(DESK) {
        mix.add_stem(stem, gain);
        send.add_stem(stem, gain * sent);
    }
    send.cut_below(180.0);
    mix.add_stem(&reverb(&send, 1.6), 0.7);
    mix
}

/// The notes a second voice doubles.
pub fn doubled(notes: &[Note]) -> Vec<Note> {
    notes
        .iter()
        .filter(|note| matches!(note.part, Part::Chorus | Part::LastChorus | Part::Pre))
        .cloned()
        .collect()
}

/// A harmony a third below in the choruses, within F major.
pub fn harmony(notes: &[Note]) -> Vec<Note> {
    const SCALE: [i32; 7] = [0, 2, 4, 5, 7, 9, 10];
    notes
        .iter()
        .filter(|note| matches!(note.part, Part::Chorus | Part::LastChorus | Part::Outro))
        .map(|note| {
            // Degrees counted from C with B flat: two degrees down.
            let (octave, class) = (note.pitch.div_euclid(12), note.pitch.rem_euclid(12));
            let degree = SCALE.iter().position(|step| *step >= class).unwrap_or(0) as i32;
            let lower = degree - 2;
            let pitch = (octave + lower.div_euclid(7)) * 12 + SCALE[lower.rem_euclid(7) as usize];
            Note {
                pitch,
                ..note.clone()
            }
        })
        .collect()
}

struct Player<'a> {
    score: &'a Score,
    stem: Stem,
    dice: Dice,
}

impl Player<'_> {
    /// Plays `sound` at `beat` of `bar`, up to about 10 ms off as people are.
    fn play(&mut self, sound: &[f32], bar: usize, beat: f64, loose_s: f32, gain: f32, pan: f32) {
        let at = self.at(bar, beat) + f64::from((self.dice.normal() * loose_s).clamp(-0.01, 0.01));
        self.stem.add(sound, at, gain, pan);
    }

    fn at(&self, bar: usize, beat: f64) -> f64 {
        self.score.at_beat((bar * 4) as f64 + beat)
    }

    /// How long `beats` from `beat` of `bar` last.
    fn long(&self, bar: usize, beat: f64, beats: f64) -> f32 {
        (self.at(bar, beat + beats) - self.at(bar, beat)) as f32
    }

    fn part(&self, bar: usize) -> Part {
        FORM[self.score.bars[bar].0].part
    }

    /// Bar within its section, and how many the section has.
    fn within(&self, bar: usize) -> (usize, usize) {
        let (section, within) = self.score.bars[bar];
        (within, FORM[section].bars)
    }

    /// A slightly uneven touch around `force`.
    fn touch(&mut self, force: f32) -> f32 {
        force * (1.0 + self.dice.normal() * 0.06)
    }
}

const TIGHT_S: f32 = 0.0018;
const EASY_S: f32 = 0.004;

/// A drum or cymbal: what it sounds like, in turns; how loosely it is played; where it stands.
struct Drum(Vec<Vec<f32>>, f32, f32);

impl Player<'_> {
    /// Hits `drum`, the `turn`-th of its sounds.
    fn hit(&mut self, drum: &Drum, turn: usize, bar: usize, beat: f64, force: f32) {
        let Drum(sounds, loose_s, pan) = drum;
        self.play(
            &sounds[turn % sounds.len()],
            bar,
            beat,
            *loose_s,
            force,
            *pan,
        );
    }
}

fn drums(p: &mut Player) {
    fn four(dice: &mut Dice, sound: fn(&mut Dice) -> Vec<f32>) -> Vec<Vec<f32>> {
        (0..4).map(|_| sound(dice)).collect()
    }
    let dice = &mut p.dice;
    let snares = Drum(four(dice, |dice| snare(1.0, dice)), TIGHT_S, 0.05);
    let ticks = four(dice, |dice| cymbal(1.0, 0.028, 7600.0, dice));
    let closed = Drum(ticks, EASY_S, -0.3);
    let open = Drum(vec![cymbal(1.0, 0.16, 6800.0, dice)], EASY_S, -0.3);
    let crash = Drum(vec![cymbal(1.0, 0.5, 3600.0, dice)], TIGHT_S, 0.25);
    let shakers = Drum(four(dice, |dice| shaker(1.0, dice)), EASY_S, 0.45);
    let kicks = Drum(vec![kick(1.0)], TIGHT_S, 0.0);
    let rims = Drum(vec![rim(1.0)], TIGHT_S, 0.12);
    for bar in 0..p.score.bars.len() {
        beat_of(p, bar, &kicks, &rims, &snares);
        hats(p, bar, &closed, &open, &shakers);
        fills(p, bar, &crash, &snares);
    }
}

/// Bass drum and backbeat.
fn beat_of(p: &mut Player, bar: usize, kicks: &Drum, rims: &Drum, snares: &Drum) {
    let (within, of) = p.within(bar);
    let part = p.part(bar);
    let pattern: &[f64] = match part {
        Part::Intro if within + 1 == of => &[0.0],
        Part::Intro | Part::Outro => &[],
        Part::Verse1 | Part::Verse2 => &[0.0, 2.5],
        Part::Pre => &[0.0, 1.5, 2.0],
        Part::Chorus => &[0.0, 1.5, 2.5],
        Part::LastChorus => &[0.0, 1.5, 2.0, 3.5],
        Part::Bridge => &[0.0],
    };
    for &beat in pattern {
        let force = p.touch(if part.is_chorus() { 1.0 } else { 0.8 });
        p.hit(kicks, 0, bar, beat, force);
    }
    for beat in [1.0, 3.0] {
        let force = p.touch(1.0);
        match part {
            Part::Verse1 | Part::Verse2 => p.hit(rims, 0, bar, beat, 0.5 * force),
            Part::Pre => p.hit(snares, bar, bar, beat, 0.42 * force),
            Part::Chorus | Part::LastChorus => {
                p.hit(snares, bar + beat as usize, bar, beat, 0.62 * force);
            }
            _ => {}
        }
    }
    if part == Part::Bridge && within >= 2 {
        p.hit(snares, bar, bar, 2.0, 0.4);
    }
}

/// Eighths, accents on the beat; sixteenths in the second verse; shakers where it is full.
fn hats(p: &mut Player, bar: usize, closed: &Drum, open: &Drum, shakers: &Drum) {
    let (within, of) = p.within(bar);
    let part = p.part(bar);
    let hat = match part {
        Part::Verse1 => 0.13,
        Part::Verse2 | Part::Pre => 0.17,
        Part::Chorus => 0.24,
        Part::LastChorus => 0.26,
        Part::Intro if within + 1 == of => 0.1,
        _ => 0.0,
    };
    let eighths = if hat > 0.0 { 8 } else { 0 };
    for eighth in 0..eighths {
        let beat = eighth as f64 / 2.0;
        let force = p.touch(if eighth % 2 == 0 { hat } else { hat * 0.62 });
        if part.is_chorus() && eighth % 2 == 1 {
            p.hit(open, 0, bar, beat, force * 0.7);
        } else {
            p.hit(closed, eighth, bar, beat, force);
        }
        if part == Part::Verse2 {
            let force = p.touch(hat * 0.3);
            p.hit(closed, eighth + 1, bar, beat + 0.25, force);
        }
    }
    if part.is_chorus() || part == Part::Verse2 {
        for sixteenth in 0..16 {
            let force = p.touch(if sixteenth % 4 == 2 { 0.16 } else { 0.08 });
            p.hit(shakers, sixteenth, bar, sixteenth as f64 / 4.0, force);
        }
    }
}

/// Crashes at the heads of choruses, fills at their doors.
fn fills(p: &mut Player, bar: usize, crash: &Drum, snares: &Drum) {
    let (within, of) = p.within(bar);
    let part = p.part(bar);
    let tom = |n: usize, pan: f32| Drum(vec![tom(1.0, [150.0, 118.0, 92.0][n])], TIGHT_S, pan);
    if part.is_chorus() && within % 8 == 0
        || matches!(part, Part::Outro | Part::Bridge) && within == 0
    {
        p.hit(crash, 0, bar, 0.0, 0.34);
    }
    if within + 1 < of {
        return;
    }
    match part {
        Part::Pre => {
            for step in 0..8 {
                let force = 0.18 + 0.05 * step as f32;
                p.hit(snares, step, bar, 2.0 + step as f64 / 4.0, force);
            }
        }
        Part::Bridge => {
            for step in 0..12 {
                let force = 0.3 + 0.04 * step as f32;
                let drum = tom(step / 4, 0.4 - 0.3 * (step / 4) as f32);
                p.hit(&drum, 0, bar, 1.0 + step as f64 / 4.0, force);
            }
        }
        Part::Chorus => {
            for (step, beat) in [2.5, 3.0, 3.5].into_iter().enumerate() {
                p.hit(&tom(step, 0.4 - 0.4 * step as f32), 0, bar, beat, 0.55);
            }
        }
        _ => {}
    }
}

fn low(p: &mut Player) {
    for bar in 0..p.score.bars.len() {
        let chord = p.score.chord(bar);
        let (within, of) = p.within(bar);
        let next = p.score.chord((bar + 1).min(p.score.bars.len() - 1)).bass;
        let part = p.part(bar);
        let pattern: &[(f64, f64, i32)] = match part {
            Part::Intro => &[],
            Part::Verse1 => &[(0.0, 2.2, 0), (2.5, 1.3, 0)],
            Part::Verse2 => &[(0.0, 1.4, 0), (1.5, 0.8, 12), (2.5, 1.0, 0), (3.5, 0.5, 7)],
            Part::Pre => &[(0.0, 1.4, 0), (1.5, 0.45, 0), (2.0, 0.9, 0), (3.0, 0.9, 0)],
            Part::Chorus | Part::LastChorus => &[
                (0.0, 0.95, 0),
                (1.0, 0.45, 0),
                (1.5, 0.9, 0),
                (2.5, 0.45, 0),
                (3.0, 0.45, 7),
                (3.5, 0.45, 12),
            ],
            Part::Bridge => &[(0.0, 3.8, 0)],
            Part::Outro if within + 1 == of => &[(0.0, 4.5, 0)],
            Part::Outro => &[(0.0, 3.8, 0)],
        };
        for &(beat, beats, above) in pattern {
            let force = p.touch(if part.is_chorus() { 0.95 } else { 0.75 });
            // The last eighth of a bar walks towards the next root.
            let pitch = if beat == 3.5 && above == 7 {
                (chord.bass + next) / 2
            } else {
                chord.bass + above
            };
            let sound = bass(pitch, p.long(bar, beat, beats), force);
            p.play(&sound, bar, beat, TIGHT_S, 1.0, 0.0);
        }
    }
}

fn piano(p: &mut Player) {
    for bar in 0..p.score.bars.len() {
        let chord = p.score.chord(bar);
        let (within, of) = p.within(bar);
        let part = p.part(bar);
        let (pattern, force): (&[(f64, f64)], f32) = match part {
            Part::Intro => (&[(0.0, 2.4), (2.5, 1.4)], 0.5),
            Part::Verse1 => (&[(0.0, 1.4), (1.5, 2.2)], 0.46),
            Part::Verse2 => (&[(0.0, 1.4), (1.5, 1.4), (3.0, 0.9)], 0.46),
            Part::Pre => (&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (3.0, 1.0)], 0.5),
            Part::Chorus | Part::LastChorus => (&[(0.0, 1.4), (1.5, 0.9), (2.5, 1.4)], 0.66),
            Part::Bridge => (&[(0.0, 3.9)], 0.5),
            Part::Outro if within + 1 == of => (&[(0.0, 5.0)], 0.44),
            Part::Outro => (&[(0.0, 3.8)], 0.5),
        };
        for &(beat, beats) in pattern {
            let length = p.long(bar, beat, beats);
            for (index, pitch) in chord.notes.into_iter().enumerate() {
                let force = p.touch(force);
                let sound = keys(pitch, length, force);
                // Chords are rolled a little, upwards.
                let roll = index as f64 * if part == Part::Outro { 0.06 } else { 0.008 };
                let pan = -0.2 + 0.12 * index as f32;
                p.play(&sound, bar, beat + roll, EASY_S, 0.8, pan);
            }
        }
    }
}

fn strummer(p: &mut Player) {
    for bar in 0..p.score.bars.len() {
        let chord = p.score.chord(bar);
        let part = p.part(bar);
        let order: &[usize] = match part {
            Part::Verse1 => &[0, 2, 1, 3, 2, 1, 3, 2],
            Part::Verse2 | Part::Outro => &[0, 1, 2, 3, 2, 1, 2, 3],
            Part::Pre => &[0, 1, 2, 3, 0, 1, 2, 3],
            _ => &[],
        };
        let thin = part == Part::Verse1 && p.within(bar).0 < 4;
        for (eighth, &string) in order.iter().enumerate() {
            if thin && eighth % 2 == 1 {
                continue;
            }
            let beat = eighth as f64 / 2.0;
            let force = p.touch(if eighth == 0 { 0.7 } else { 0.5 });
            let long_s = p.long(bar, beat, 1.6);
            let sound = guitar(chord.notes[string] + 12, long_s, force, &mut p.dice);
            p.play(&sound, bar, beat, EASY_S, 0.7, 0.4);
        }
        if part.is_chorus() {
            const STRUMS: [(f64, f32); 6] = [
                (0.0, 0.8),
                (1.0, 0.5),
                (1.5, 0.7),
                (2.5, 0.75),
                (3.0, 0.5),
                (3.5, 0.6),
            ];
            for (beat, force) in STRUMS {
                for (string, pitch) in chord.notes.into_iter().enumerate() {
                    let force = p.touch(force);
                    let low = guitar(pitch, p.long(bar, beat, 0.9), force, &mut p.dice);
                    let at = beat + string as f64 * 0.022;
                    p.play(&low, bar, at, EASY_S, 0.42, 0.45);
                    let long_s = p.long(bar, beat, 0.7);
                    let high = guitar(pitch + 12, long_s, force * 0.8, &mut p.dice);
                    let at = beat + string as f64 * 0.025;
                    p.play(&high, bar, at, EASY_S, 0.3, -0.5);
                }
            }
        }
    }
}

fn string_section(p: &mut Player) {
    for bar in 0..p.score.bars.len() {
        let chord = p.score.chord(bar);
        let (within, of) = p.within(bar);
        let grown = within as f32 / of as f32;
        let (force, bright) = match p.part(bar) {
            Part::Intro => (0.28, 0.05),
            Part::Verse1 => (0.0, 0.0),
            Part::Verse2 => (0.3, 0.1),
            Part::Pre => (0.4 + 0.35 * grown, 0.15 + 0.4 * grown),
            Part::Chorus => (0.85, 0.5),
            Part::LastChorus => (1.0, 0.75),
            Part::Bridge => (0.5 + 0.5 * grown, 0.1 + 0.7 * grown),
            Part::Outro => (0.6, 0.2),
        };
        if force <= 0.0 {
            continue;
        }
        let length = p.long(bar, 0.0, 4.0);
        for (index, pitch) in chord.notes.into_iter().enumerate() {
            for side in [-1.0f32, 1.0] {
                let pitch = pitch + 12 * i32::from(index % 2 == 0);
                let sound = strings(pitch, length, force, bright, &mut p.dice);
                let pan = side * (0.3 + 0.18 * index as f32);
                p.play(&sound, bar, 0.0, 0.0, 0.5, pan);
            }
        }
    }
}

/// The falling motif that opens the song and comes back over the last chorus.
fn motif(p: &mut Player) {
    const BEATS: [f64; 7] = [0.0, 0.5, 1.5, 2.0, 3.0, 4.5, 5.5];
    const PITCHES: [i32; 7] = [84, 81, 79, 81, 77, 76, 74];
    for bar in 0..p.score.bars.len() {
        let within = p.within(bar).0;
        let force = match p.part(bar) {
            Part::Intro => 0.55,
            Part::LastChorus if within < 8 => 0.4,
            Part::Outro if within == 0 => 0.5,
            _ => continue,
        };
        if !within.is_multiple_of(2) {
            continue;
        }
        for (beat, pitch) in BEATS.into_iter().zip(PITCHES) {
            let force = p.touch(force);
            let sound = bell(pitch, force);
            p.play(&sound, bar, beat, EASY_S, 1.0, 0.3);
        }
    }
}

/// Another song: forty seconds of a slow waltz in another key, mono. It plays next door in one take.
pub fn other_song(seed: u64) -> Vec<f32> {
    let mut dice = Dice::new(seed, "next door");
    let samples = 44 * SONG_RATE_HZ as usize;
    let mut stem = Stem::silent(samples);
    let beat_s = 60.0 / 138.0;
    let chords = [
        [40, 59, 64, 67],
        [45, 60, 64, 69],
        [38, 57, 62, 66],
        [43, 59, 62, 67],
    ];
    let tune = [76, 74, 71, 72, 71, 69, 66, 69, 74, 71, 67, 71];
    let hats = shaker(0.8, &mut dice);
    for bar in 0..32 {
        let at = bar as f64 * 3.0 * beat_s + 0.2;
        let chord = chords[(bar / 2) % 4];
        stem.add(&bass(chord[0], beat_s as f32 * 0.9, 0.8), at, 0.5, 0.0);
        stem.add(&kick(0.7), at, 0.4, 0.0);
        for beat in 1..3 {
            for pitch in &chord[1..] {
                let sound = guitar(*pitch, 0.4, 0.5, &mut dice);
                stem.add(&sound, at + f64::from(beat) * beat_s, 0.3, 0.0);
            }
            stem.add(&hats, at + f64::from(beat) * beat_s, 0.2, 0.0);
        }
        for step in 0..3 {
            if dice.unit() < 0.7 {
                let pitch = tune[(bar * 3 + step) % tune.len()];
                let sound = keys(pitch, beat_s as f32, 0.6);
                stem.add(&sound, at + step as f64 * beat_s, 0.3, 0.0);
            }
        }
    }
    let [mut left, right] = stem.sides;
    left.iter_mut()
        .zip(&right)
        .for_each(|(l, r)| *l = (*l + r) * 0.35);
    left
}
