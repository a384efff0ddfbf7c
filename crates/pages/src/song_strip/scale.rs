//! The song's seconds as percentages of a drawing's width, and the ruler that scripts measure with.

use model::{SongMap, SongTime};
use serde_json::{Value, json};

/// From the song's time to a drawing's width.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    seconds: f64,
}

impl Scale {
    /// The scale on which the whole of a song of so many seconds is 100 %.
    pub fn over(seconds: f64) -> Self {
        Self {
            seconds: if seconds.is_finite() {
                seconds.max(0.001)
            } else {
                0.001
            },
        }
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

    /// Where `at_s` stands as an SVG length: `12.5%`.
    pub fn at(self, at_s: f64) -> String {
        percent(self.share(at_s))
    }

    /// How wide what lies from `from_s` to `to_s` is, as an SVG length.
    pub fn width(self, from_s: f64, to_s: f64) -> String {
        percent((self.share(to_s) - self.share(from_s)).max(0.0))
    }
}

/// A share as a percentage, to a thousandth: a seventieth of a pixel at 1440.
fn percent(share: f64) -> String {
    let text = format!("{:.3}", share * 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text}%")
}

/// Seconds as scripts get them: nine decimals, which lead back to the same tick.
fn seconds(at: SongTime) -> f64 {
    (at.seconds() * 1e9).round() / 1e9
}

/// How section `index` is called in a sentence: by its name, with a number when several have the same one;
/// without a name `section B2`.
pub fn words(map: &SongMap, index: usize) -> String {
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

/// What scripts measure the song with, all times in seconds: `file` (its content), `length`, `tempo`, `beatsPerBar`,
/// `beats`, `bars` as `[number, start]` (they tile the song), `sections` with `from`, `to`, `letter`, `call`, `words`.
pub fn ruler(map: &SongMap, file: &str) -> Value {
    let beats: Vec<f64> = map.beats.iter().copied().map(seconds).collect();
    let bars: Vec<Value> = map
        .bars
        .iter()
        .map(|bar| json!([bar.number, seconds(bar.at.start())]))
        .collect();
    let sections: Vec<Value> = map
        .sections
        .iter()
        .enumerate()
        .map(|(index, section)| {
            json!({
                "from": seconds(section.at.start()),
                "to": seconds(section.at.end()),
                "letter": section.label,
                "call": map.section_call(index),
                "words": words(map, index),
            })
        })
        .collect();
    json!({
        "file": file,
        "length": seconds(SongTime::ZERO + map.length),
        "tempo": map.tempo_bpm,
        "beatsPerBar": map.beats_per_bar,
        "beats": beats,
        "bars": bars,
        "sections": sections,
    })
}

/// `json` as it can stand inside a script element: nothing in it ends the element.
pub fn inside_script(json: &Value) -> String {
    json.to_string().replace('<', "\\u003c")
}

/// Minutes, seconds and tenths: `0:41.2`.
pub fn clock(at: SongTime) -> String {
    let tenths = (at.seconds() * 10.0).round() as i64;
    let sign = if tenths < 0 { "-" } else { "" };
    let tenths = tenths.abs();
    format!(
        "{sign}{}:{:02}.{}",
        tenths / 600,
        tenths / 10 % 60,
        tenths % 10
    )
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use model::{Bar, Length, Section, Stretch};
    use proptest::prelude::*;

    /// A song of `bars` bars of four beats, two seconds each, in sections of eight bars: A, B, A, B …
    pub(crate) fn map(bars: u32) -> SongMap {
        let at = |bar: u32| SongTime::nearest_to_seconds(f64::from(bar) * 2.0);
        let stretch = |from: u32, to: u32| Stretch::new(at(from), at(to)).expect("a stretch");
        SongMap {
            length: Length::nearest_to_seconds(f64::from(bars) * 2.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..bars * 4)
                .map(|beat| SongTime::nearest_to_seconds(f64::from(beat) * 0.5))
                .collect(),
            downbeats: (0..bars as usize).map(|bar| bar * 4).collect(),
            bars: (0..bars)
                .map(|bar| Bar {
                    number: bar + 1,
                    at: stretch(bar, bar + 1),
                    energy: 0.5,
                    voice: if bar % 2 == 0 { 0.9 } else { 0.1 },
                })
                .collect(),
            sections: (0..bars)
                .step_by(8)
                .enumerate()
                .map(|(nth, bar)| Section {
                    label: if nth % 2 == 0 { "A" } else { "B" }.into(),
                    name: (nth % 2 == 1).then(|| "chorus".into()),
                    at: stretch(bar, (bar + 8).min(bars)),
                    energy: 0.5,
                    voiced: 0.5,
                })
                .collect(),
        }
    }

    #[test]
    fn positions_are_shares_of_the_song() {
        let scale = Scale::over(80.0);
        assert_eq!(scale.at(10.0), "12.5%");
        assert_eq!(scale.at(0.0), "0%");
        assert_eq!(scale.at(80.0), "100%");
        assert_eq!(scale.width(20.0, 50.0), "37.5%");
        assert_eq!(scale.at(-3.0), "0%");
        assert_eq!(scale.width(70.0, 900.0), "12.5%");
        assert_eq!(scale.width(50.0, 20.0), "0%");
    }

    #[test]
    fn names_that_come_twice_are_counted() {
        let map = map(32);
        let all: Vec<String> = (0..4).map(|index| words(&map, index)).collect();
        assert_eq!(all, ["section A1", "chorus 1", "section A2", "chorus 2"]);
    }

    #[test]
    fn the_ruler_stands_in_a_script() {
        let mut map = map(8);
        map.sections[0].name = Some("</script><b>".into());
        let text = inside_script(&ruler(&map, "ab"));
        assert!(!text.contains('<'));
        let read: Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(read["sections"][0]["words"], "</script><b>");
        assert_eq!(read["bars"][7], json!([8, 14.0]));
    }

    proptest! {
        #[test]
        fn any_scale_gives_lengths(seconds in proptest::num::f64::ANY, from in proptest::num::f64::ANY, to in proptest::num::f64::ANY) {
            let scale = Scale::over(seconds);
            for text in [scale.at(from), scale.width(from, to)] {
                let value: f64 = text.trim_end_matches('%').parse().expect("a number");
                prop_assert!((0.0..=100.0).contains(&value), "{text}");
            }
        }

        /// A script that sends back a time of the ruler means the same tick.
        #[test]
        fn seconds_lead_back_to_their_tick(ticks in 0i64..model::TICKS_PER_SECOND * 3600) {
            let at = SongTime::from_ticks(ticks);
            let text = serde_json::to_string(&seconds(at)).expect("JSON");
            let back: f64 = serde_json::from_str(&text).expect("a number");
            prop_assert_eq!(SongTime::nearest_to_seconds(back), at);
        }
    }
}
