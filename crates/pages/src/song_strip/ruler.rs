//! The ruler that scripts measure the song with.

use charts::song::section_words;
use model::{SongMap, SongTime};
use serde_json::{Value, json};

/// Seconds as scripts get them: nine decimals, which lead back to the same tick.
fn seconds(at: SongTime) -> f64 {
    (at.seconds() * 1e9).round() / 1e9
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
                "words": section_words(map, index),
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
