//! The page of a small day: what is read on it, that its policy fits it, and that it holds whatever
//! text it is given.

use super::*;
use crate::view::{
    BatteryView, Care, Contact, LateLine, LeftOut, Moment, PassView, PlaceView, Sound,
};
use model::{Finding, Framing, KitId, SetupId};
use proptest::prelude::*;

fn clock(text: &str, at_s: i64) -> Clock {
    Clock {
        text: text.into(),
        at_s: Some(at_s),
    }
}

fn night() -> Pocket {
    let quay = SetupId::new("quay").unwrap();
    Pocket {
        title: "Paper Weather".into(),
        artist: "Ilse Quarry".into(),
        project: "0123456789ab".into(),
        date: Some("2026-11-20".parse().unwrap()),
        zone: Some("Europe/Lisbon".into()),
        call: Some(clock("16:30", 1_795_192_200)),
        wrap: Some(clock("01:10 (+1)", 1_795_223_400)),
        meal: Some([clock("20:00", 1_795_204_800), clock("20:30", 1_795_206_600)]),
        setups: vec![SetupView {
            id: quay.clone(),
            name: "Quay, close".into(),
            place: "Cais da Tinta".into(),
            start: Some(clock("21:00", 1_795_208_400)),
            shoot: Some(clock("21:20", 1_795_209_600)),
            end: Some(clock("21:50", 1_795_211_400)),
            travel_minutes: 15,
            room_minutes: Some(40),
            must: true,
            state: "powdered".into(),
            framing: Framing::Close,
            action: "She sings to the water.".into(),
            part: "bars 9–16".into(),
            passes: 3,
            settings: vec![("lens".into(), "35 mm, T2".into())],
            lights: vec!["Bare bulb on the face, 1.2 m".into()],
            cautions: vec!["wet stone".into()],
            people: vec!["Ilse Quarry".into()],
            picture: None,
            sounds: vec![PassView {
                sound: 0,
                name: "bars 9–16".into(),
            }],
        }],
        left_out: vec![LeftOut {
            id: SetupId::new("lamps").unwrap(),
            name: "Lamps".into(),
            why: "no time".into(),
        }],
        sky: vec![Moment {
            at: clock("17:12", 1_795_194_720),
            what: "sunset".into(),
        }],
        sky_over: "Cais da Tinta".into(),
        late: vec![LateLine {
            at: clock("20:30", 1_795_206_600),
            next: "Quay, close".into(),
            cells: vec![(30, "drop Lamps; wrap 01:00 (+1)".into())],
        }],
        batteries: vec![BatteryView {
            id: KitId::new("np").unwrap(),
            name: "Small battery".into(),
            count: 2,
            changes: vec![(clock("22:05", 1_795_212_300), "in Quay, close".into())],
        }],
        places: vec![PlaceView {
            name: "Cais da Tinta".into(),
            address: "by the water".into(),
            hospital: "an invented one".into(),
            leave: "granted by the port".into(),
            cautions: vec!["the edge has no rail".into()],
        }],
        contacts: vec![Contact {
            name: "Ilse Quarry".into(),
            role: "performer".into(),
            contact: "by phone".into(),
            hours: "16:00–02:00 (+1)".into(),
        }],
        care: vec![Care {
            name: "edge".into(),
            place: "Cais da Tinta".into(),
            finding: Finding::warning("edge", "The quay drops 3 m.")
                .about(&quay)
                .mended_by("Somebody watches the edge."),
            ask: "Ask the port.".into(),
        }],
        bars_s: vec![0.0, 2.0, 4.0],
        sounds: vec![Sound {
            m4a: b"sound".to_vec(),
            length_s: 22.4,
            clicks_s: vec![2.5, 3.0, 3.5, 4.0],
            stretch_start_s: 4.5,
            stretch_end_s: 20.4,
            song_at_stretch_s: 16.0,
            speed: 2.0,
            speed_text: "2".into(),
            pitch_kept: true,
        }],
        ..Pocket::default()
    }
}

/// What is read on a page, a line for each block.
fn text(html: &str) -> String {
    let body = &html[html.find("<body").unwrap()..html.find("<audio").unwrap()];
    let mut out = String::new();
    let mut tag = String::new();
    let mut inside = false;
    for c in body.chars() {
        match c {
            '<' => {
                inside = true;
                tag.clear();
            }
            '>' => {
                inside = false;
                let name = tag.trim_start_matches('/');
                let name = name.split([' ', '/']).next().unwrap_or_default();
                let flows = [
                    "b", "small", "span", "time", "a", "dt", "svg", "path", "rect",
                ];
                if !flows.contains(&name) && !out.ends_with('\n') {
                    out.push('\n');
                } else if name == "dt" {
                    out.push(' ');
                }
            }
            c if inside => tag.push(c),
            c => out.push(c),
        }
    }
    let lines = out.lines().map(str::trim).filter(|line| !line.is_empty());
    lines.map(|line| format!("{line}\n")).collect()
}

#[test]
fn the_text_of_a_small_night() {
    insta::assert_snapshot!(text(&page(&night(), 16.0 / 9.0).html));
}

#[test]
fn the_policy_names_exactly_what_stands_in_the_page() {
    let Page { html, policy } = page(&night(), 16.0 / 9.0);
    let within = |open: &str, close: &str| {
        let from = html.rfind(open).unwrap() + open.len();
        &html[from..from + html[from..].find(close).unwrap()]
    };
    for (name, text) in [
        ("script", within("<script>", "</script>")),
        ("style", within("<style>", "</style>")),
    ] {
        let hash = BASE64_STANDARD.encode(Sha256::digest(text.as_bytes()));
        assert!(
            policy.contains(&format!("{name}-src 'sha256-{hash}'")),
            "{name}"
        );
    }
    // The policy itself would forbid these; nothing else is fetched from anywhere.
    let markup = &html[..html.rfind("<script>").unwrap()];
    for barred in [
        " style=",
        " onclick=",
        "src=\"http",
        "href=\"http",
        "@import",
        "url(",
    ] {
        assert!(!markup.contains(barred), "{barred}");
    }
}

#[test]
fn no_script_ends_early() {
    for part in SCRIPT.iter().chain([&CODES]) {
        assert!(!part.contains("</script") && !part.contains("<!--"));
    }
    assert!(!STYLE.contains("</style"));
}

proptest! {
    /// No text from a plan becomes markup or ends the data it stands in.
    #[test]
    fn every_text_stays_text(text in "\\PC{0,24}|</script><script>|\"><img src=x>|<!--") {
        let mut pocket = night();
        pocket.title.clone_from(&text);
        pocket.setups[0].name.clone_from(&text);
        pocket.setups[0].action.clone_from(&text);
        pocket.contacts[0].contact.clone_from(&text);
        let html = page(&pocket, 1.5).html;
        prop_assert_eq!(html.matches("<script").count(), 2);
        let markup = &html[..html.rfind("<script>").unwrap()];
        prop_assert_eq!(markup.matches("<img").count(), 0);
        let from = html.find("application/json\">").unwrap() + 18;
        let data = &html[from..from + html[from..].find("</script>").unwrap()];
        let read: serde_json::Value = serde_json::from_str(data).unwrap();
        prop_assert_eq!(read["setups"][0]["name"].as_str(), Some(text.as_str()));
    }
}
