//! The song strip: positions, nothing written in part, the file whole whatever it is given.

use charts::song::*;
use listen::Zoom;
use model::{Bar, Length, LyricLine, Project, Section, SetupId, SongMap, SongTime, Stretch};
use proptest::prelude::*;

/// A song of `bars` bars of four beats, two seconds each, in sections of eight bars: A, B, A, B …
fn map(bars: u32) -> SongMap {
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
                name: (nth % 2 == 1).then(|| "last chorus".into()),
                at: stretch(bar, (bar + 8).min(bars)),
                energy: 0.5,
                voiced: 0.5,
            })
            .collect(),
    }
}

fn stretch(from_s: f64, to_s: f64) -> Stretch {
    Stretch::between_seconds(from_s, to_s).expect("a stretch")
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
    let all: Vec<String> = (0..4).map(|index| section_words(&map, index)).collect();
    assert_eq!(
        all,
        ["section A1", "last chorus 1", "section A2", "last chorus 2"]
    );
    assert_eq!(
        section_says(&map, 1),
        "last chorus 1: bars 9–16, 0:16.0–0:32.0"
    );
}

#[test]
fn nothing_is_written_in_part() {
    // `B2 last chorus` over so many of the song's bars.
    let texts = |bars: u32, whole: u32| -> Vec<String> {
        let mut map = map(whole);
        map.sections.truncate(1);
        map.sections[0].label = "B".into();
        map.sections[0].name = Some("last chorus".into());
        map.sections[0].at = stretch(0.0, f64::from(bars) * 2.0);
        let text = band(&map).into_string();
        let texts = text.split("<text").skip(1);
        texts
            .map(|text| text.split("</text>").next().unwrap_or("").to_owned())
            .collect()
    };
    assert_eq!(texts(10, 20), [r#" x="5" y="15">B last chorus"#]);
    assert_eq!(
        texts(4, 20),
        [
            r#" class="roomy" x="5" y="15">B last chorus"#,
            r#" class="tight" x="5" y="15">B"#
        ]
    );
    assert_eq!(texts(1, 20), [r#" class="roomy" x="5" y="15">B"#]);
    assert!(texts(1, 200).is_empty());
}

#[test]
fn the_same_letter_has_the_same_colour() {
    assert_eq!(section_class("A"), "section-a");
    assert_eq!(section_class("B"), section_class("b"));
    assert_eq!(section_class("H"), section_class("A"));
    assert_ne!(section_class("AA"), "");
    assert_ne!(section_class(""), "");
}

#[test]
fn voice_in_bars_that_touch_is_one() {
    let mut map = map(6);
    map.bars[3].voice = 1.0;
    let said = |lyrics: &[LyricLine]| energy(&map, lyrics).into_string();
    let heard = said(&[]);
    assert_eq!(heard.matches("Voice from").count(), 2);
    assert!(heard.contains("Voice from 0:00.0 to 0:02.0"));
    assert!(heard.contains("Voice from 0:04.0 to 0:10.0"));
    let line = LyricLine {
        at: Some(stretch(3.0, 4.5)),
        text: "a line".into(),
        extra: Default::default(),
    };
    let sung = said(&[line]);
    assert_eq!(sung.matches("Voice from").count(), 1, "lyrics know better");
    assert!(sung.contains("Voice from 0:03.0 to 0:04.5"));
}

#[test]
fn numbers_find_room() {
    // 320 px hold every eighth number of 60, 760 px every fourth.
    let text = ruler(&map(60)).into_string();
    assert!(
        text.contains(r#"<text x="0%" dx="3" y="14">1</text>"#),
        "{text}"
    );
    assert!(
        text.contains(r#"<text class="roomy" x="6.667%" dx="3" y="14">5</text>"#),
        "{text}"
    );
    assert!(
        text.contains(r#"<text x="13.333%" dx="3" y="14">9</text>"#),
        "{text}"
    );
}

#[test]
fn rows_are_drawn_in_percentages_with_their_words() {
    let row = Row {
        name: "Ideas".into(),
        spans: vec![
            Span::over(stretch(10.0, 20.0), Kind::Hatched, "<a> thought").to("/change/idea/a"),
        ],
    };
    let text = row.draw(Scale::over(80.0)).into_string();
    assert!(text.contains(r#"x="12.5%" width="12.5%""#), "{text}");
    assert!(text.contains("<title>&lt;a&gt; thought</title>"), "{text}");
    assert!(text.contains(r#"href="/change/idea/a""#), "{text}");
    assert!(!text.contains("style="), "{text}");
}

/// Two takes of one setup and one of none, and a cut of them.
fn project() -> Project {
    serde_json::from_value(serde_json::json!({
        "format": 1,
        "setups": [{"id": "wide", "name": "Wide"}],
        "takes": [{"id": "C1", "file": {"path": "C1.mp4", "hash": "0".repeat(64), "bytes": 1}, "setup": "wide"}],
        "cuts": [{"version": 1, "rate": "25", "shots": [
            {"from_frame": 0, "to_frame": 50, "take": "C1", "in_sync": true, "locked": true},
            {"from_frame": 50, "to_frame": 100, "take": "C1"},
            {"from_frame": 100, "to_frame": 200}
        ]}]
    }))
    .expect("a project")
}

#[test]
fn a_cut_says_what_it_shows_and_how_sure_that_is() {
    let project = project();
    let shots = cut(&project, &project.cuts[0]);
    let says: Vec<(&str, Kind)> = shots
        .iter()
        .map(|(_, span)| (span.words.as_str(), span.kind))
        .collect();
    assert_eq!(
        says,
        [
            ("0:00.0–0:02.0: Wide, take C1, locked", Kind::Locked),
            ("0:02.0–0:04.0: Wide, take C1, placed freely", Kind::Outline),
            ("0:04.0–0:08.0: black", Kind::Hatched),
        ]
    );
}

#[test]
fn the_file_says_it_as_text_and_wears_no_property() {
    let mut map = map(16);
    map.sections[1].name = Some("verse <1> & \"x\"".into());
    let wave = Zoom {
        columns_per_s: 20,
        low: vec![-10; 640],
        high: vec![10; 640],
    };
    let project = project();
    let placed = model::PlacedTake {
        id: project.takes[0].id.clone(),
        setup: Some(SetupId::new("wide").expect("an id")),
        rating: model::Rating::Circled,
        state: 0,
        length: Length::nearest_to_seconds(10.0),
        picture: None,
        placement: model::Placement::default(),
        track: None,
    };
    let strip = StripFile {
        title: "<b>\u{1}",
        map: &map,
        zoom: Some(&wave),
        project: &project,
        takes: &[placed],
        cut: project.newest_cut(),
    };
    let text = strip.svg(1440);
    assert!(text.contains("<title>&lt;b&gt; </title>"));
    assert!(
        text.contains("verse &lt;1&gt; &amp; &quot;x&quot;: bars 9–16, 0:16.0–0:32.0"),
        "{text}"
    );
    // 1296 px hold every name, though a page may have 320 alone.
    assert!(text.contains(r#"y="15">B verse &lt;1&gt; &amp; &quot;x&quot;</text>"#));
    // The dress by day: the file knows colours alone.
    assert!(text.contains("fill:#fbf7ef") && !text.contains("var("));
    assert!(!text.contains("NaN") && !text.contains("inf"));
    for row in ["Wide", "black"] {
        assert_eq!(text.matches(&format!(">{row}</text>")).count(), 1, "{row}");
    }
    // Narrow names stand over their rows: the same, taller.
    assert!(strip.svg(360).contains(r#"width="360""#));
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

    #[test]
    fn any_peaks_give_a_closed_outline(columns_per_s in 0u32..200, low in proptest::collection::vec(-127i8..=0, 0..500), high in proptest::collection::vec(0i8..=127, 0..500), bars in 1u32..300) {
        let zoom = Zoom { columns_per_s, low, high };
        let text = wave(&map(bars), Some(&zoom), 56).into_string();
        let path = text.split("<path d=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a path");
        if zoom.low.is_empty() || zoom.high.is_empty() {
            prop_assert!(path.is_empty());
        } else {
            prop_assert!(path.starts_with('M') && path.ends_with('z'));
            // There and back over 720 columns.
            prop_assert_eq!(path.matches('l').count(), 2 * 720 - 1);
        }
    }

    #[test]
    fn any_numbers_give_a_whole_file(width in 0u32..5000, bars in 2u32..300, columns in 0usize..2000, title in "\\PC{0,40}", columns_per_s in 0u32..200) {
        let zoom = Zoom { columns_per_s, low: vec![-5; columns], high: vec![5; columns] };
        let strip = StripFile { title: &title, map: &map(bars), zoom: Some(&zoom), project: &Project::default(), takes: &[], cut: None };
        let text = strip.svg(width);
        prop_assert!(text.starts_with("<svg") && text.ends_with("</svg>\n"));
        prop_assert_eq!(text.matches("<g").count(), text.matches("</g>").count());
        let bad = text.contains("NaN") || text.contains("=\"-") || text.contains("inf\"");
        prop_assert!(!bad, "{}", text);
    }
}
