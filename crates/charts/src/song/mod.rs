//! The song across a drawing: where a second of it stands, how its sections are called and coloured, and the
//! strip of it, for a page and as a file.
//!
//! Positions are percentages of the song, so that one drawing fits every width without script.

mod file;
mod strip;

pub use file::{LEAST_WIDTH, StripFile};
pub use strip::{Kind, PATTERN, Row, Span, band, cut, energy, ruler, shot, wave};

use crate::draw::text_width;
use model::{SongMap, SongTime, Stretch};

/// From the song's time to a drawing's width.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    seconds: f64,
}

impl Scale {
    /// The scale on which the whole of a song of so many seconds is 100 %.
    pub fn over(seconds: f64) -> Self {
        let known = seconds.is_finite();
        Self {
            seconds: if known { seconds.max(0.001) } else { 0.001 },
        }
    }

    /// The scale of a whole song.
    pub fn of(map: &SongMap) -> Self {
        Self::over(map.length.seconds())
    }

    /// Where `at_s` stands, 0 to 1; what lies outside the song stands at its ends.
    pub fn share(self, at_s: f64) -> f64 {
        let share = at_s / self.seconds;
        if share.is_nan() {
            0.0
        } else {
            share.clamp(0.0, 1.0)
        }
    }

    /// Which share of the song lies from `from_s` to `to_s`.
    pub fn part(self, from_s: f64, to_s: f64) -> f64 {
        (self.share(to_s) - self.share(from_s)).max(0.0)
    }

    /// Where `at_s` stands as an SVG length: `12.5%`.
    pub fn at(self, at_s: f64) -> String {
        percent(self.share(at_s))
    }

    /// How wide what lies from `from_s` to `to_s` is, as an SVG length.
    pub fn width(self, from_s: f64, to_s: f64) -> String {
        percent(self.part(from_s, to_s))
    }
}

/// A share as a percentage, to a thousandth: a seventieth of a pixel at 1440.
fn percent(share: f64) -> String {
    let text = format!("{:.3}", share * 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text}%")
}

/// The class that gives a section the colour of its letter.
pub fn section_class(label: &str) -> &'static str {
    const CLASSES: [&str; 7] = [
        "section-a",
        "section-b",
        "section-c",
        "section-d",
        "section-e",
        "section-f",
        "section-g",
    ];
    let last = label.chars().next_back().unwrap_or('A');
    let last = last.to_ascii_uppercase();
    let from = if last.is_ascii_alphabetic() {
        'A'
    } else {
        '\0'
    };
    CLASSES[(u32::from(last) - u32::from(from)) as usize % CLASSES.len()]
}

/// What is written on a section `room` px wide in letters of `size` px: its call with its name, its call alone,
/// or nothing: a clipped name says less than none.
pub(crate) fn section_label(map: &SongMap, index: usize, room: f64, size: f64) -> Option<String> {
    let call = map.section_call(index);
    let name = map.sections[index].name.as_ref();
    let whole = name.map(|name| format!("{call} {name}"));
    let mut texts = whole.into_iter().chain([call]);
    texts.find(|text| text_width(text, size) <= room)
}

/// Minutes, seconds and tenths: `0:41.2`.
pub fn song_clock(at: SongTime) -> String {
    let tenths = (at.seconds() * 10.0).round() as i64;
    let sign = if tenths < 0 { "-" } else { "" };
    let tenths = tenths.abs();
    let (minutes, seconds) = (tenths / 600, tenths / 10 % 60);
    format!("{sign}{minutes}:{seconds:02}.{}", tenths % 10)
}

/// `0:41.2–0:52.0`.
pub fn song_clocks(at: Stretch) -> String {
    format!("{}–{}", song_clock(at.start()), song_clock(at.end()))
}

/// A stretch in the bars of which it holds at least half: `bars 1–16`; in times where there is none.
fn in_bars(map: &SongMap, at: Stretch) -> String {
    let mut whole = map.bars.iter().filter(|bar| bar.is_half_held(&[at]));
    match (whole.next(), whole.next_back()) {
        (Some(first), Some(last)) => format!("bars {}–{}", first.number, last.number),
        (Some(only), None) => format!("bar {}", only.number),
        _ => song_clocks(at),
    }
}

/// How section `index` is called in a sentence: by its name, with a number when several have the same one;
/// without a name `section B2`.
pub fn section_words(map: &SongMap, index: usize) -> String {
    let Some(name) = map.sections[index].name.as_deref() else {
        return format!("section {}", map.section_call(index));
    };
    let same = |section: &&model::Section| section.name.as_deref() == Some(name);
    if map.sections.iter().filter(same).count() == 1 {
        return name.to_owned();
    }
    let nth = map.sections[..=index].iter().filter(same).count();
    format!("{name} {nth}")
}

/// The same with where it lies: `chorus 2: bars 17–24, 0:41.2–0:52.0`.
pub fn section_says(map: &SongMap, index: usize) -> String {
    let at = map.sections[index].at;
    let (words, bars) = (section_words(map, index), in_bars(map, at));
    format!("{words}: {bars}, {}", song_clocks(at))
}
