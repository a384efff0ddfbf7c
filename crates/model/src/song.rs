//! The song: its file, what was heard in it, and what a person corrected.

use crate::noun;
use crate::noun::made;
use crate::setup::Setup;
use crate::time::{Length, SongTime, Stretch};

/// The most characters of a section's letter or name: what fits over a stretch of the strip.
pub const MAX_SECTION_NAME: usize = 40;

noun! {
    /// A file outside the document, known by place and by content.
    pub struct MediaFile {
        /// Where it lies: relative to the project folder, with `/`, or absolute.
        pub path: String => "Where it lies",
        /// XXH3-128 of its content, 32 lower-case hexadecimal digits. A moved file is found again by it.
        pub hash: String => "Content",
        /// Its size.
        pub bytes: u64 => "Size".unit("bytes"),
    }
}

noun! {
    /// The finished song.
    pub struct Song(list: "song", called: "song") {
        /// Its file.
        pub file: MediaFile => "File".never(),
        /// How long it sounds.
        pub length: Length => "Length".never(),
        /// What a person corrected of the listening.
        pub corrections: Corrections => "Corrections".never(),
        /// Lyrics with their times, in order.
        pub lyrics: Vec<LyricLine> => "Lyrics".never(),
    }
}

noun! {
    /// One line of the lyrics.
    pub struct LyricLine(called: "line") {
        /// The words.
        pub text: String => "Words",
        /// When it is sung, once it has been timed.
        pub at: Option<Stretch> => "Sung at",
    }
}

noun! {
    /// What a person corrected of the listening. It holds against every later listening.
    pub struct Corrections {
        /// The tempo set by hand.
        pub tempo_bpm: Option<f64> => "Tempo".unit("beats a minute").range(20.0, 400.0),
        /// Beats halved (negative) or doubled (positive), so many times.
        pub doublings: i8 = 0 => "Doubled".range(-3.0, 3.0),
        /// Beats in a bar, set by hand.
        pub beats_per_bar: Option<u32> => "Beats in a bar".range(1.0, 16.0),
        /// Where the first downbeat was moved to; the beat nearest to it starts a bar.
        pub first_downbeat: Option<SongTime> => "First downbeat",
        /// Beats tapped by hand, in order; the grid passes through each.
        pub taps: Vec<SongTime> => "Tapped beats",
        /// The sections as a person left them. Once any was touched, all are kept as they then stood.
        pub sections: Option<Vec<MarkedSection>> => "Sections",
    }
}

impl Default for Corrections {
    fn default() -> Self {
        made(serde_json::json!({}))
    }
}

impl Corrections {
    /// Whether nothing was corrected.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

noun! {
    /// A section as a person marked it.
    pub struct MarkedSection(called: "section") {
        /// Letter (same letter, same music).
        pub label: String => "Letter".range(1.0, MAX_SECTION_NAME as f64),
        /// What the maker calls it: verse, last chorus.
        pub name: Option<String> => "Name".range(0.0, MAX_SECTION_NAME as f64),
        /// Where it lies.
        pub at: Stretch => "Where",
    }
}

/// A section of the song, as the rest of the program uses it.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Letter; the same letter marks the same music.
    pub label: String,
    /// What the maker calls it, if named.
    pub name: Option<String>,
    /// Where it lies.
    pub at: Stretch,
    /// Loudness of its bars against the rest of the song, 0 (quietest) to 1 (loudest).
    pub energy: f32,
    /// Share of it in which a voice is likely, 0 to 1.
    pub voiced: f32,
}

/// A bar of the song. Bars tile the song: none overlap and nothing is left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// Counted from 1; 0 is what sounds before the first downbeat.
    pub number: u32,
    /// Where it lies.
    pub at: Stretch,
    /// Energy, 0 (quietest bar) to 1 (loudest).
    pub energy: f32,
    /// How likely a voice is, 0 to 1.
    pub voice: f32,
}

/// The song as a ruler: beats, bars and sections after corrections.
///
/// # Invariants
/// `beats` rises strictly and lies in the song; `downbeats` holds rising indices into it; `bars`
/// and `sections` each tile the song from zero to `length` without gap or overlap, in order, and
/// there is at least one of each. Made by `listen`.
#[derive(Clone, Debug, PartialEq)]
pub struct SongMap {
    /// How long the song sounds.
    pub length: Length,
    /// Median tempo, beats a minute.
    pub tempo_bpm: f64,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Every beat.
    pub beats: Vec<SongTime>,
    /// Which beats start a bar, as indices into `beats`.
    pub downbeats: Vec<usize>,
    /// The bars.
    pub bars: Vec<Bar>,
    /// The sections.
    pub sections: Vec<Section>,
}

impl SongMap {
    /// The index in `bars` of the bar holding `at`; the ends hold what lies outside.
    pub fn bar_index_at(&self, at: SongTime) -> usize {
        self.bars
            .partition_point(|bar| bar.at.start() <= at)
            .saturating_sub(1)
    }

    /// The index in `sections` of the section holding `at`; the ends hold what lies outside.
    pub fn section_index_at(&self, at: SongTime) -> usize {
        self.sections
            .partition_point(|section| section.at.start() <= at)
            .saturating_sub(1)
    }

    /// Bar and beat at `at`, both counted from 1: the address a musician would say. Before the
    /// first downbeat the bar is 0.
    pub fn address(&self, at: SongTime) -> (u32, u32) {
        let bar = &self.bars[self.bar_index_at(at).min(self.bars.len() - 1)];
        let first = self.beats.partition_point(|beat| *beat < bar.at.start());
        let now = self.beats.partition_point(|beat| *beat <= at);
        (bar.number, now.saturating_sub(first).max(1) as u32)
    }

    /// The stretch of bars `first` to `last`, both counted as in [`Bar::number`], both included.
    pub fn bars_stretch(&self, first: u32, last: u32) -> Option<Stretch> {
        let from = self.bars.iter().find(|bar| bar.number == first)?;
        let to = self.bars.iter().find(|bar| bar.number == last)?;
        Stretch::new(from.at.start(), to.at.end())
    }

    /// How a section is called when its letter comes more than once: `B2` is the second `B`.
    /// A letter that comes once stands alone.
    pub fn section_call(&self, index: usize) -> String {
        let label = &self.sections[index].label;
        let same = |s: &&Section| s.label == *label;
        if self.sections.iter().filter(same).count() == 1 {
            label.clone()
        } else {
            format!(
                "{label}{}",
                self.sections[..=index].iter().filter(same).count()
            )
        }
    }

    /// The stretches that `call` names: a letter (every section so labelled), a letter and count
    /// (`B2`), or a section's name.
    pub fn sections_called(&self, call: &str) -> Vec<Stretch> {
        self.sections
            .iter()
            .enumerate()
            .filter(|(index, section)| {
                section.label == call
                    || section.name.as_deref() == Some(call)
                    || self.section_call(*index) == call
            })
            .map(|(_, section)| section.at)
            .collect()
    }

    /// Where `setup` is planned on the song: its sections, bars and stretches, what touches joined, in
    /// order and cut to the song; the whole song for one that names nothing. Empty when the song has
    /// nothing of what it names.
    pub fn planned(&self, setup: &Setup) -> Vec<Stretch> {
        let Some(song) = Stretch::new(SongTime::ZERO, SongTime::ZERO + self.length) else {
            return Vec::new();
        };
        if setup.is_over_all() {
            return vec![song];
        }
        let mut all: Vec<Stretch> = setup
            .sections
            .iter()
            .flat_map(|call| self.sections_called(call))
            .collect();
        let bars = setup.bars.iter();
        all.extend(bars.filter_map(|[first, last]| self.bars_stretch(*first, *last)));
        all.extend(&setup.stretches);
        Stretch::joined(all.into_iter().filter_map(|at| at.overlap(song)).collect())
    }
}
