//! WebVTT captions (W3C) from timed lyrics.
//!
//! One cue per line, in order of time, never two at once: a line still sung when the next begins
//! ends there, and lines that begin together share a cue. Times are rounded to the millisecond the
//! format has. `&`, `<` and `>` are escaped, which also keeps `-->` out of the text.

use crate::edit::Written;
use crate::error::Note;
use model::{Length, LyricLine};
use std::fmt::Write as _;

/// Ticks in a millisecond.
const MILLISECOND: i64 = model::TICKS_PER_SECOND / 1000;

/// Captions from the lyric lines that have a time; `length` is the song's. Lines without a time,
/// without words or outside the song are left out, with a note.
pub fn webvtt(lyrics: &[LyricLine], length: Length) -> Written {
    let mut notes = Vec::new();
    let mut untimed = 0;
    let end = length.ticks() / MILLISECOND;
    let mut cues: Vec<(i64, i64, Vec<String>)> = Vec::new();
    for line in lyrics {
        let words = payload(&line.text);
        let Some(at) = line.at else {
            untimed += usize::from(!words.is_empty());
            continue;
        };
        let from = nearest_ms(at.start().ticks()).max(0);
        let to = nearest_ms(at.end().ticks()).min(end).max(from + 1);
        if words.is_empty() {
            continue;
        }
        if to > end || at.end().ticks() <= 0 {
            notes.push(Note::OutsideSong {
                text: line.text.chars().take(60).collect(),
                length,
            });
            continue;
        }
        cues.push((from, to, vec![words]));
    }
    if untimed > 0 {
        notes.insert(
            0,
            Note::Untimed {
                count: untimed,
                of: lyrics.len(),
            },
        );
    }
    cues.sort_by_key(|cue| cue.0);
    cues.dedup_by(|next, kept| {
        let together = next.0 == kept.0;
        if together {
            kept.1 = kept.1.max(next.1);
            kept.2.append(&mut next.2);
        }
        together
    });
    let mut text = String::from("WEBVTT\n");
    for (index, (from, to, lines)) in cues.iter().enumerate() {
        let next = cues.get(index + 1).map_or(i64::MAX, |cue| cue.0);
        let words = lines.join("\n");
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "\n{} --> {}\n{words}",
            clock(*from),
            clock(next.min(*to))
        );
    }
    Written { text, notes }
}

fn nearest_ms(ticks: i64) -> i64 {
    ticks
        .saturating_add(MILLISECOND / 2)
        .div_euclid(MILLISECOND)
}

/// `00:01:02.345`.
fn clock(ms: i64) -> String {
    format!(
        "{:02}:{:02}:{:02}.{:03}",
        ms / 3_600_000,
        ms / 60_000 % 60,
        ms / 1000 % 60,
        ms % 1000
    )
}

/// The words as a cue holds them: escaped, no blank line (it would end the cue), no control
/// characters.
fn payload(text: &str) -> String {
    let lines = text.split(['\n', '\r']).map(|line| {
        line.chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect::<String>()
    });
    let kept: Vec<String> = lines
        .map(|line| line.trim().to_owned())
        .filter(|line| !line.is_empty())
        .map(|line| {
            line.replace('&', "&amp;")
                .replace('<', "&lt;")
                .replace('>', "&gt;")
        })
        .collect();
    kept.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Stretch;
    use proptest::prelude::*;

    fn line(from: f64, to: f64, text: &str) -> LyricLine {
        LyricLine {
            at: Stretch::between_seconds(from, to),
            text: text.into(),
            extra: Default::default(),
        }
    }

    #[test]
    fn lines_become_cues_in_order() {
        let mut lines = vec![
            line(3600.0, 3602.25, "long after"),
            line(59.5, 62.0, "rain on paper"),
            line(1.0, 3.0, "a --> b & <c>\n\n d"),
            line(2.0, 2.5, "over it"),
            line(2.0, 4.0, "and with it"),
            line(5.0, 6.0, " \n"),
            line(9000.0, 9001.0, "never"),
            line(-2.0, -1.0, "before"),
            line(-1.0, 0.5, "from before"),
        ];
        lines.push(LyricLine {
            at: None,
            ..lines[0].clone()
        });
        let out = webvtt(&lines, Length::nearest_to_seconds(4000.0));
        assert_eq!(
            out.text,
            "WEBVTT\n\n\
             00:00:00.000 --> 00:00:00.500\nfrom before\n\n\
             00:00:01.000 --> 00:00:02.000\na --&gt; b &amp; &lt;c&gt;\nd\n\n\
             00:00:02.000 --> 00:00:04.000\nover it\nand with it\n\n\
             00:00:59.500 --> 00:01:02.000\nrain on paper\n\n\
             01:00:00.000 --> 01:00:02.250\nlong after\n"
        );
        assert_eq!(out.notes[0], Note::Untimed { count: 1, of: 10 });
        assert_eq!(out.notes.len(), 3);
    }

    #[test]
    fn no_lyrics_are_an_empty_file() {
        assert_eq!(webvtt(&[], Length::ZERO).text, "WEBVTT\n");
    }

    proptest! {
        #[test]
        fn any_lyrics_give_cues_that_rise_and_never_overlap(
            lines in prop::collection::vec((-1e5_f64..1e5, -1.0_f64..20.0, "(?s).{0,40}|[<>&\\n\\r -]{0,12}"), 0..30),
            length in 0.0_f64..1e5,
        ) {
            let lines: Vec<LyricLine> = lines.iter().map(|(at, long, text)| line(*at, at + long, text)).collect();
            let text = webvtt(&lines, Length::nearest_to_seconds(length)).text;
            let mut blocks = text.trim_end_matches('\n').split("\n\n");
            prop_assert_eq!(blocks.next(), Some("WEBVTT"));
            let mut last = String::new();
            for block in blocks {
                let (times, words) = block.split_once('\n').unwrap();
                let (from, to) = times.split_once(" --> ").unwrap();
                prop_assert!(from < to && from >= last.as_str(), "{}", times);
                prop_assert!(!words.contains("-->") && !words.contains('<') && !words.is_empty());
                last = to.to_owned();
            }
        }
    }
}
