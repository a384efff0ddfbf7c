//! The song as written: its form, harmony, words and melody, and the exact time of every beat.
//!
//! "Paper Weather": 64 bars of 4/4 in F major, verses from D minor. Words and music are ours.

/// Beats in a bar.
pub const BEATS_PER_BAR: usize = 4;

/// Silence before the first downbeat, seconds.
const LEAD_IN_S: f64 = 0.32;

/// How long the last chord rings after the last bar, seconds.
const RING_S: f64 = 1.1;

/// What part of the song a section is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// Keys alone.
    Intro,
    /// First verse.
    Verse1,
    /// Second verse.
    Verse2,
    /// The climb to the chorus.
    Pre,
    /// Chorus.
    Chorus,
    /// Half time.
    Bridge,
    /// Chorus with a tag.
    LastChorus,
    /// The end.
    Outro,
}

impl Part {
    /// Whether it is a chorus, with or without its tag.
    pub fn is_chorus(self) -> bool {
        matches!(self, Self::Chorus | Self::LastChorus)
    }
}

/// A section as written.
#[derive(Clone, Copy, Debug)]
pub struct Form {
    /// What it is.
    pub part: Part,
    /// Letter; the same letter marks the same music.
    pub label: &'static str,
    /// What a musician calls it.
    pub name: &'static str,
    /// How many bars.
    pub bars: usize,
    /// Beats a minute in its bars.
    pub bpm: f64,
    /// One chord a bar, repeated.
    pub chords: &'static [Chord],
}

/// A chord: bass note and the notes above it, as MIDI numbers.
#[derive(Clone, Copy, Debug)]
pub struct Chord {
    /// Bass.
    pub bass: i32,
    /// Voicing for keys and pads.
    pub notes: [i32; 4],
}

const fn chord(bass: i32, notes: [i32; 4]) -> Chord {
    Chord { bass, notes }
}

const DM9: Chord = chord(38, [53, 57, 60, 64]);
const BB_MAJ7: Chord = chord(34, [53, 57, 58, 62]);
const F: Chord = chord(41, [53, 57, 60, 65]);
const F_ADD9: Chord = chord(41, [55, 57, 60, 65]);
const C: Chord = chord(36, [52, 55, 60, 64]);
const C_SUS: Chord = chord(36, [53, 55, 60, 65]);
const GM7: Chord = chord(43, [53, 55, 58, 62]);
const AM7: Chord = chord(45, [52, 55, 60, 64]);
const DM: Chord = chord(38, [53, 57, 62, 65]);
const BB: Chord = chord(34, [53, 58, 62, 65]);
const BB_C: Chord = chord(36, [53, 58, 62, 64]);

const VERSE: &[Chord] = &[DM9, BB_MAJ7, F_ADD9, C];
const PRE: &[Chord] = &[GM7, AM7, BB_MAJ7, C_SUS];
const CHORUS: &[Chord] = &[F, C, DM, BB];
const BRIDGE: &[Chord] = &[BB_MAJ7, BB_C, AM7, DM9, GM7, C_SUS];
const LAST: &[Chord] = &[F, C, DM, BB, F, C, DM, BB, F, C];
const OUTRO: &[Chord] = &[DM, BB, F_ADD9, F_ADD9];

/// The form. The tempo breathes a little: choruses push, the bridge leans back, the end slows down.
pub const FORM: [Form; 10] = [
    form(Part::Intro, "A", "intro", 4, 101.0, VERSE),
    form(Part::Verse1, "B", "verse 1", 8, 101.0, VERSE),
    form(Part::Pre, "C", "pre-chorus 1", 4, 101.6, PRE),
    form(Part::Chorus, "D", "chorus 1", 8, 103.0, CHORUS),
    form(Part::Verse2, "B", "verse 2", 8, 101.4, VERSE),
    form(Part::Pre, "C", "pre-chorus 2", 4, 102.0, PRE),
    form(Part::Chorus, "D", "chorus 2", 8, 103.2, CHORUS),
    form(Part::Bridge, "E", "bridge", 6, 100.0, BRIDGE),
    form(Part::LastChorus, "D", "last chorus", 10, 103.4, LAST),
    form(Part::Outro, "F", "outro", 4, 100.0, OUTRO),
];

const fn form(
    part: Part,
    label: &'static str,
    name: &'static str,
    bars: usize,
    bpm: f64,
    chords: &'static [Chord],
) -> Form {
    Form {
        part,
        label,
        name,
        bars,
        bpm,
        chords,
    }
}

/// One sung note.
#[derive(Clone, Debug)]
pub struct Note {
    /// When its vowel starts.
    pub start_s: f64,
    /// When it ends.
    pub end_s: f64,
    /// MIDI number.
    pub pitch: i32,
    /// Its phones, in order; exactly one is a vowel.
    pub phones: Vec<&'static str>,
    /// Loudness, 0 to 1.
    pub force: f32,
    /// Part of the song it lies in.
    pub part: Part,
}

/// One line of the words.
#[derive(Clone, Debug)]
pub struct Line {
    /// The words.
    pub text: &'static str,
    /// Its notes, one a syllable.
    pub notes: Vec<Note>,
}

/// The song with the time of everything in it.
#[derive(Clone, Debug)]
pub struct Score {
    /// When each beat falls; one more than there are beats, the last one the end of the last bar.
    pub beats_s: Vec<f64>,
    /// Section and bar within it, for every bar.
    pub bars: Vec<(usize, usize)>,
    /// The lines sung.
    pub lines: Vec<Line>,
    /// Length in seconds.
    pub duration_s: f64,
}

impl Score {
    /// Writes it out.
    pub fn new() -> Self {
        let bars: Vec<(usize, usize)> = FORM
            .iter()
            .enumerate()
            .flat_map(|(section, form)| (0..form.bars).map(move |bar| (section, bar)))
            .collect();
        let mut beats_s = vec![LEAD_IN_S];
        for &(section, bar) in &bars {
            let form = &FORM[section];
            for beat in 0..BEATS_PER_BAR {
                // The outro slows down evenly to three quarters of its tempo.
                let slower = if form.part == Part::Outro {
                    let gone =
                        (bar * BEATS_PER_BAR + beat) as f64 / (form.bars * BEATS_PER_BAR) as f64;
                    1.0 - 0.25 * gone * gone
                } else {
                    1.0
                };
                beats_s.push(beats_s[beats_s.len() - 1] + 60.0 / (form.bpm * slower));
            }
        }
        let duration_s = ((beats_s[beats_s.len() - 1] + RING_S) * 100.0).ceil() / 100.0;
        let mut score = Self {
            beats_s,
            bars,
            lines: Vec::new(),
            duration_s,
        };
        score.lines = score.written_lines();
        score
    }

    /// When `beat` (counted from zero, parts allowed, before the first too) falls.
    pub fn at_beat(&self, beat: f64) -> f64 {
        let last = self.beats_s.len() - 2;
        let index = (beat.floor().max(0.0) as usize).min(last);
        let step = self.beats_s[index + 1] - self.beats_s[index];
        self.beats_s[index] + (beat - index as f64) * step
    }

    /// The first bar of each section, and the bar after the last.
    pub fn section_bars(&self) -> Vec<usize> {
        let mut starts = vec![0];
        for form in &FORM {
            starts.push(starts[starts.len() - 1] + form.bars);
        }
        starts
    }

    /// The chord of `bar`.
    pub fn chord(&self, bar: usize) -> Chord {
        let (section, within) = self.bars[bar];
        let chords = FORM[section].chords;
        chords[within % chords.len()]
    }

    fn written_lines(&self) -> Vec<Line> {
        let starts = self.section_bars();
        let mut lines = Vec::new();
        for (section, form) in FORM.iter().enumerate() {
            let force = match form.part {
                Part::Verse1 => 0.62,
                Part::Verse2 | Part::Outro => 0.66,
                Part::Pre => 0.76,
                Part::Bridge => 0.58,
                Part::Chorus => 0.92,
                Part::LastChorus => 1.0,
                Part::Intro => 0.0,
            };
            for (index, (text, notes)) in words(form.name).into_iter().enumerate() {
                let first_eighth = ((starts[section] + index * 2) * BEATS_PER_BAR * 2) as i32;
                let at = |eighth: i32| self.at_beat(f64::from(first_eighth + eighth) / 2.0);
                // The bridge grows line by line.
                let grown = if form.part == Part::Bridge {
                    0.13 * index as f32
                } else {
                    0.0
                };
                let sung = |(phones, eighth, length, pitch): Syllable| Note {
                    start_s: at(eighth),
                    end_s: at(eighth + length),
                    pitch,
                    phones,
                    // Notes on the beat weigh more than those between.
                    force: (force + grown) * if eighth % 2 == 0 { 1.0 } else { 0.9 },
                    part: form.part,
                };
                lines.push(Line {
                    text,
                    notes: notes.into_iter().map(sung).collect(),
                });
            }
        }
        lines
    }
}

/// The words and their notes; what stands in it is said at its head.
const WORDS: &str = include_str!("words.txt");

/// A sung syllable as written: phones, first eighth, eighths, MIDI number.
type Syllable = (Vec<&'static str>, i32, i32, i32);

/// The lines of the section called `name`, as written.
fn words(name: &str) -> Vec<(&'static str, Vec<Syllable>)> {
    let mut sings = false;
    let mut out: Vec<(&str, Vec<Syllable>)> = Vec::new();
    for line in WORDS.lines().filter(|line| !line.starts_with('#')) {
        if let Some(names) = line.strip_prefix('[') {
            sings = names
                .trim_end_matches(']')
                .split(", ")
                .any(|one| one == name);
        } else if let (Some(notes), true) = (line.strip_prefix("  "), sings) {
            let notes = notes.split(" | ").filter_map(syllable);
            out.last_mut()
                .into_iter()
                .for_each(|line| line.1.extend(notes.clone()));
        } else if sings && !line.is_empty() {
            out.push((line, Vec::new()));
        }
    }
    out
}

fn syllable(text: &'static str) -> Option<Syllable> {
    let mut parts: Vec<&str> = text.split(' ').collect();
    let numbers = parts.split_off(parts.len().checked_sub(3)?);
    let number = |n: usize| numbers[n].parse().ok();
    Some((parts, number(0)?, number(1)?, number(2)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::voice::is_vowel;

    #[test]
    fn every_syllable_has_one_vowel_and_notes_do_not_overlap() {
        let score = Score::new();
        let notes: Vec<&Note> = score.lines.iter().flat_map(|line| &line.notes).collect();
        for note in &notes {
            let vowels = note.phones.iter().filter(|phone| is_vowel(phone)).count();
            assert_eq!(vowels, 1, "{:?}", note.phones);
            assert!(note.end_s > note.start_s);
        }
        for pair in notes.windows(2) {
            assert!(pair[0].end_s <= pair[1].start_s + 1e-9, "{pair:?}");
        }
    }

    #[test]
    fn the_song_is_about_two_and_a_half_minutes() {
        let score = Score::new();
        assert!(
            (148.0..158.0).contains(&score.duration_s),
            "{}",
            score.duration_s
        );
        assert_eq!(score.bars.len() * BEATS_PER_BAR + 1, score.beats_s.len());
        let words = score
            .lines
            .iter()
            .map(|line| line.text)
            .collect::<std::collections::BTreeSet<_>>();
        assert!(words.len() >= 20, "{}", words.len());
    }
}
