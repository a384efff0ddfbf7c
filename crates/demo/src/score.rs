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
            let verses: &[Verse] = match form.part {
                Part::Intro => &[],
                Part::Verse1 => &VERSE_1,
                Part::Verse2 => &VERSE_2,
                Part::Pre if section < 4 => &PRE_1,
                Part::Pre => &PRE_2,
                Part::Chorus => &CHORUS_LINES,
                Part::Bridge => &BRIDGE_LINES,
                Part::LastChorus => &LAST_LINES,
                Part::Outro => &OUTRO_LINES,
            };
            let force = match form.part {
                Part::Verse1 => 0.62,
                Part::Verse2 | Part::Outro => 0.66,
                Part::Pre => 0.76,
                Part::Bridge => 0.58,
                Part::Chorus => 0.92,
                Part::LastChorus => 1.0,
                Part::Intro => 0.0,
            };
            for (index, verse) in verses.iter().enumerate() {
                let first_eighth = (starts[section] + index * 2) * BEATS_PER_BAR * 2;
                // The bridge grows line by line.
                let grown = if form.part == Part::Bridge {
                    0.13 * index as f32
                } else {
                    0.0
                };
                lines.push(self.written_line(verse, first_eighth as i32, force + grown, form.part));
            }
        }
        lines
    }

    fn written_line(&self, verse: &Verse, first_eighth: i32, force: f32, part: Part) -> Line {
        let at = |eighth: i32| self.at_beat(f64::from(first_eighth + eighth) / 2.0);
        let notes = verse
            .notes
            .iter()
            .map(|&(phones, eighth, length, pitch)| Note {
                start_s: at(eighth),
                end_s: at(eighth + length),
                pitch,
                phones: phones.split(' ').collect(),
                // Notes on the beat weigh more than those between.
                force: force * if eighth % 2 == 0 { 1.0 } else { 0.9 },
                part,
            })
            .collect();
        Line {
            text: verse.text,
            notes,
        }
    }
}

/// A line as written: phones (as a pronouncing dictionary spells them), first eighth in its two
/// bars (pickups are negative), length in eighths, MIDI number.
struct Verse {
    text: &'static str,
    notes: &'static [(&'static str, i32, i32, i32)],
}

const VERSE_1: [Verse; 4] = [
    Verse {
        text: "The last machine is winding down to slow",
        notes: &[
            ("dh ah", -1, 1, 57),
            ("l ae s t", 0, 2, 62),
            ("m ah", 2, 1, 62),
            ("sh iy n", 3, 2, 65),
            ("ih z", 5, 1, 64),
            ("w ay n", 6, 2, 65),
            ("d ih ng", 8, 1, 65),
            ("d aw n", 9, 2, 62),
            ("t uw", 11, 1, 60),
            ("s l ow", 12, 3, 62),
        ],
    },
    Verse {
        text: "There's steam on every window, lights are low",
        notes: &[
            ("dh eh r z", -1, 1, 60),
            ("s t iy m", 0, 2, 65),
            ("aa n", 2, 1, 65),
            ("eh v", 3, 2, 69),
            ("r iy", 5, 1, 67),
            ("w ih n", 6, 2, 69),
            ("d ow", 8, 1, 67),
            ("l ay t s", 9, 2, 67),
            ("aa r", 11, 1, 62),
            ("l ow", 12, 3, 64),
        ],
    },
    Verse {
        text: "I wrote your name in pencil on my hand",
        notes: &[
            ("ay", -1, 1, 57),
            ("r ow t", 0, 2, 62),
            ("y ao r", 2, 1, 64),
            ("n ey m", 3, 2, 65),
            ("ih n", 5, 1, 67),
            ("p eh n", 6, 2, 69),
            ("s ah l", 8, 1, 70),
            ("aa n", 9, 2, 69),
            ("m ay", 11, 1, 67),
            ("h ae n d", 12, 3, 65),
        ],
    },
    Verse {
        text: "It washes out the way we never planned",
        notes: &[
            ("ih t", -1, 1, 65),
            ("w aa sh", 0, 2, 69),
            ("ih z", 2, 1, 69),
            ("aw t", 3, 2, 67),
            ("dh ah", 5, 1, 65),
            ("w ey", 6, 2, 67),
            ("w iy", 8, 1, 65),
            ("n eh v", 9, 2, 64),
            ("er", 11, 1, 62),
            ("p l ae n d", 12, 3, 60),
        ],
    },
];

const VERSE_2: [Verse; 4] = [
    Verse {
        text: "The tiles are blue from climbing into night",
        notes: &[
            ("dh ah", -1, 1, 57),
            ("t ay l z", 0, 2, 62),
            ("aa r", 2, 1, 62),
            ("b l uw", 3, 2, 65),
            ("f r ah m", 5, 1, 64),
            ("k l ay m", 6, 2, 65),
            ("ih ng", 8, 1, 65),
            ("ih n", 9, 2, 62),
            ("t uw", 11, 1, 60),
            ("n ay t", 12, 3, 62),
        ],
    },
    Verse {
        text: "A naked bulb is all I have for light",
        notes: &[
            ("ah", -1, 1, 60),
            ("n ey", 0, 2, 65),
            ("k ih d", 2, 1, 65),
            ("b ah l b", 3, 2, 69),
            ("ih z", 5, 1, 67),
            ("ao l", 6, 2, 69),
            ("ay", 8, 1, 67),
            ("h ae v", 9, 2, 67),
            ("f ao r", 11, 1, 62),
            ("l ay t", 12, 3, 64),
        ],
    },
    Verse {
        text: "The river keeps the letters that I threw",
        notes: &[
            ("dh ah", -1, 1, 57),
            ("r ih v", 0, 2, 62),
            ("er", 2, 1, 64),
            ("k iy p s", 3, 2, 65),
            ("dh ah", 5, 1, 67),
            ("l eh t", 6, 2, 69),
            ("er z", 8, 1, 70),
            ("dh ae t", 9, 2, 69),
            ("ay", 11, 1, 67),
            ("th r uw", 12, 3, 65),
        ],
    },
    Verse {
        text: "And folds them into boats that look like you",
        notes: &[
            ("ae n d", -1, 1, 65),
            ("f ow l d z", 0, 2, 69),
            ("dh eh m", 2, 1, 69),
            ("ih n", 3, 2, 67),
            ("t uw", 5, 1, 65),
            ("b ow t s", 6, 2, 67),
            ("dh ae t", 8, 1, 65),
            ("l uh k", 9, 2, 64),
            ("l ay k", 11, 1, 62),
            ("y uw", 12, 3, 60),
        ],
    },
];

const PRE_1: [Verse; 2] = [
    Verse {
        text: "Count the coins and count the stairs",
        notes: &[
            ("k aw n t", 0, 2, 67),
            ("dh ah", 2, 2, 69),
            ("k oy n z", 4, 3, 70),
            ("ae n d", 7, 1, 69),
            ("k aw n t", 8, 2, 72),
            ("dh ah", 10, 2, 70),
            ("s t eh r z", 12, 3, 69),
        ],
    },
    Verse {
        text: "Someone is singing and nobody cares",
        notes: &[
            ("s ah m", 0, 1, 62),
            ("w ah n", 1, 1, 65),
            ("ih z", 2, 1, 67),
            ("s ih ng", 3, 2, 70),
            ("ih ng", 5, 1, 69),
            ("ae n d", 6, 1, 67),
            ("n ow", 7, 2, 72),
            ("b aa", 9, 1, 72),
            ("d iy", 10, 1, 70),
            ("k eh r z", 11, 4, 72),
        ],
    },
];

const PRE_2: [Verse; 2] = [
    Verse {
        text: "Count the lamps along the quay",
        notes: &[
            ("k aw n t", 0, 2, 67),
            ("dh ah", 2, 2, 69),
            ("l ae m p s", 4, 3, 70),
            ("ah", 7, 1, 69),
            ("l ao ng", 8, 2, 72),
            ("dh ah", 10, 2, 70),
            ("k iy", 12, 3, 69),
        ],
    },
    Verse {
        text: "Someone is humming the same as me",
        notes: &[
            ("s ah m", 0, 1, 62),
            ("w ah n", 1, 1, 65),
            ("ih z", 2, 1, 67),
            ("h ah m", 3, 2, 70),
            ("ih ng", 5, 1, 69),
            ("dh ah", 6, 1, 67),
            ("s ey m", 7, 3, 72),
            ("ae z", 10, 1, 70),
            ("m iy", 11, 4, 72),
        ],
    },
];

const PAPER: Verse = Verse {
    text: "It's paper weather, paper weather",
    notes: &[
        ("ih t s", -1, 1, 69),
        ("p ey", 0, 2, 72),
        ("p er", 2, 1, 69),
        ("w eh dh", 3, 3, 72),
        ("er", 6, 2, 69),
        ("p ey", 8, 2, 72),
        ("p er", 10, 1, 67),
        ("w eh dh", 11, 3, 74),
        ("er", 14, 1, 72),
    ],
};
const TEAR: Verse = Verse {
    text: "We tear so easy when it rains",
    notes: &[
        ("w iy", -1, 1, 69),
        ("t eh r", 0, 2, 74),
        ("s ow", 2, 1, 72),
        ("iy", 3, 3, 69),
        ("z iy", 6, 1, 67),
        ("w eh n", 7, 1, 65),
        ("ih t", 8, 1, 67),
        ("r ey n z", 9, 5, 65),
    ],
};
const HOLD: Verse = Verse {
    text: "Hold me together, lightly together",
    notes: &[
        ("h ow l d", 0, 2, 72),
        ("m iy", 2, 1, 69),
        ("t uw", 3, 1, 69),
        ("g eh dh", 4, 2, 72),
        ("er", 6, 2, 69),
        ("l ay t", 8, 2, 74),
        ("l iy", 10, 1, 72),
        ("t uw", 11, 1, 72),
        ("g eh dh", 12, 2, 76),
        ("er", 14, 2, 72),
    ],
};
const REMAINS: Verse = Verse {
    text: "I am the colour that remains",
    notes: &[
        ("ay", 0, 2, 74),
        ("ae m", 2, 1, 72),
        ("dh ah", 3, 1, 69),
        ("k ah l", 4, 2, 69),
        ("er", 6, 1, 67),
        ("dh ae t", 7, 1, 65),
        ("r iy", 8, 2, 67),
        ("m ey n z", 10, 5, 65),
    ],
};

const CHORUS_LINES: [Verse; 4] = [PAPER, TEAR, HOLD, REMAINS];

const BRIDGE_LINES: [Verse; 3] = [
    Verse {
        text: "Throw the dust, let it fall",
        notes: &[
            ("th r ow", 0, 2, 62),
            ("dh ah", 2, 2, 62),
            ("d ah s t", 4, 4, 65),
            ("l eh t", 8, 2, 64),
            ("ih t", 10, 2, 65),
            ("f ao l", 12, 4, 67),
        ],
    },
    Verse {
        text: "Let it settle on us all",
        notes: &[
            ("l eh t", 0, 2, 72),
            ("ih t", 2, 2, 72),
            ("s eh t", 4, 2, 69),
            ("ah l", 6, 2, 67),
            ("aa n", 8, 2, 69),
            ("ah s", 10, 2, 67),
            ("ao l", 12, 4, 65),
        ],
    },
    Verse {
        text: "Nothing that lasts ever flew",
        notes: &[
            ("n ah th", 0, 2, 70),
            ("ih ng", 2, 1, 69),
            ("dh ae t", 3, 1, 67),
            ("l ae s t s", 4, 4, 70),
            ("eh v", 8, 2, 72),
            ("er", 10, 1, 72),
            ("f l uw", 11, 4, 72),
        ],
    },
];

const LAST_LINES: [Verse; 5] = [
    PAPER,
    TEAR,
    HOLD,
    REMAINS,
    Verse {
        text: "I am the colour, still the colour",
        notes: &[
            ("ay", 0, 2, 72),
            ("ae m", 2, 1, 69),
            ("dh ah", 3, 1, 69),
            ("k ah l", 4, 2, 72),
            ("er", 6, 2, 69),
            ("s t ih l", 8, 2, 74),
            ("dh ah", 10, 2, 72),
            ("k ah l", 12, 2, 76),
            ("er", 14, 2, 72),
        ],
    },
];

const OUTRO_LINES: [Verse; 1] = [Verse {
    text: "That remains",
    notes: &[
        ("dh ae t", 0, 4, 69),
        ("r iy", 4, 4, 67),
        ("m ey n z", 8, 9, 65),
    ],
}];

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
