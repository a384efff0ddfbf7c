//! The page Song as a browser sees it: the strip, forms that work by typing, changes by hand.

mod common;

use axum::body::Body;
use axum::http::StatusCode;
use axum::http::{Method, header};
use common::{Answer, Served};
use model::{Edit, Project, SongTime};
use serde_json::json;
use steps::Quiet;

/// A project with a song of clicks: 120 beats a minute, four in a bar, the first the loudest.
async fn with_song(seconds: u32) -> Served {
    let served = Served::new(&Project::default()).await;
    let song = served.dir.path().join("song").join("clicks.wav");
    std::fs::write(&song, clicks(seconds)).expect("written");
    served.beside(|app| {
        app.with_job(|job| job.set_song(&song, &Quiet))
            .map(drop)
            .expect("a song");
    });
    served
}

/// A form as the page Song draws it: with the revision it was drawn from.
async fn send(served: &Served, path: &str, fields: &[(&str, &str)]) -> Answer {
    let revision = newest(served).to_string();
    let mut all = vec![("-revision", revision.as_str())];
    all.extend(fields);
    served.post(path, &all).await
}

fn newest(served: &Served) -> i64 {
    served.revision()
}

/// A WAV of clicks, 16 bits, one channel.
fn clicks(seconds: u32) -> Vec<u8> {
    const RATE: u32 = 22_050;
    let samples = RATE * seconds;
    let mut out = Vec::with_capacity(44 + samples as usize * 2);
    out.extend(b"RIFF");
    out.extend((36 + samples * 2).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    out.extend(1_u16.to_le_bytes());
    out.extend(1_u16.to_le_bytes());
    out.extend(RATE.to_le_bytes());
    out.extend((RATE * 2).to_le_bytes());
    out.extend(2_u16.to_le_bytes());
    out.extend(16_u16.to_le_bytes());
    out.extend(b"data");
    out.extend((samples * 2).to_le_bytes());
    for n in 0..samples {
        let beat = n / (RATE / 2);
        let into = f64::from(n % (RATE / 2)) / f64::from(RATE);
        let (loud, pitch) = if beat.is_multiple_of(4) {
            (0.9, 90.0)
        } else {
            (0.4, 1_200.0)
        };
        let tone = (into * pitch * std::f64::consts::TAU).sin() * (-into * 40.0).exp();
        out.extend(((tone * loud * 32_000.0) as i16).to_le_bytes());
    }
    out
}

#[tokio::test]
async fn a_song_that_comes_in_from_a_page_stays() {
    let served = Served::new(&Project::default()).await;
    let edge = "an-edge-that-is-in-no-song";
    let mut body = format!("--{edge}\r\ncontent-disposition: form-data; name=\"token\"\r\n\r\n{}\r\n--{edge}\r\ncontent-disposition: form-data; name=\"song\"; filename=\"clicks.wav\"\r\ncontent-type: audio/wav\r\n\r\n", served.token()).into_bytes();
    body.extend(clicks(12));
    body.extend(format!("\r\n--{edge}--\r\n").bytes());
    let request = served
        .request(Method::POST, "/take-in/song")
        .header(
            header::CONTENT_TYPE,
            format!("multipart/form-data; boundary={edge}"),
        )
        .body(Body::from(body))
        .expect("a request");
    let taken = served.send(request).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    let song = served.project().song.clone().expect("a song");
    assert_eq!(song.file.path, "song/clicks.wav");
    assert_eq!(served.get("/media/song").await.status, StatusCode::OK);
}

#[tokio::test]
async fn without_a_song_the_page_asks_for_one() {
    let open = Served::new(&Project::default()).await;
    let page = open.get("/song").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text.contains("action=\"/take-in/song\""));
    assert!(!page.text.contains("<song-strip"));
}

#[tokio::test]
async fn every_page_carries_the_strip() {
    let open = with_song(24).await;
    for path in ["/", "/brief", "/song", "/history"] {
        let page = open.get(path).await;
        assert!(page.text.contains("<song-strip"), "{path}");
        assert!(page.text.contains("id=\"song-map\""), "{path}");
        assert!(!page.text.contains("style=\""), "{path}");
    }
    let page = open.get("/song").await.text;
    let (_, rest) = page
        .split_once("type=\"application/json\">")
        .expect("a ruler");
    let map: serde_json::Value =
        serde_json::from_str(rest.split("</script>").next().unwrap_or_default()).expect("JSON");
    assert_eq!(map["length"], json!(24.0));
    assert!(
        map["beats"]
            .as_array()
            .is_some_and(|beats| beats.len() > 20)
    );
}

#[tokio::test]
async fn tempo_and_bars_are_put_right_by_typing() {
    let open = with_song(24).await;
    let saved = send(&open, "/song/correct", &[("do", "tempo"), ("bpm", "119,5")]).await;
    assert_eq!(
        (saved.status, saved.location.as_deref()),
        (StatusCode::SEE_OTHER, Some("/song"))
    );
    send(&open, "/song/correct", &[("do", "beats"), ("beats", "3")]).await;
    send(
        &open,
        "/song/correct",
        &[("do", "downbeat"), ("at", "0:00.5")],
    )
    .await;
    let held = open.project().song.clone().expect("a song").corrections;
    assert_eq!(held.tempo_bpm, Some(119.5));
    assert_eq!(held.beats_per_bar, Some(3));
    assert_eq!(held.first_downbeat, Some(SongTime::nearest_to_seconds(0.5)));

    let refused = send(&open, "/song/correct", &[("do", "tempo"), ("bpm", "1000")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused
            .text
            .contains("1000 is out of range; 20 to 400 beats a minute.")
    );
    assert!(
        refused.text.contains("value=\"1000\""),
        "what was typed is still there"
    );

    send(&open, "/song/correct", &[("do", "forget-all")]).await;
    assert!(
        open.project()
            .song
            .as_ref()
            .is_some_and(|song| song.corrections.is_empty())
    );
}

#[tokio::test]
async fn taps_of_one_go_are_one_revision() {
    let open = with_song(24).await;
    let before = newest(&open);
    let done = open
        .post_json("/song/taps", &json!({ "at": [1.0, 1.5, 2.0] }))
        .await;
    assert_eq!(done.status, StatusCode::OK);
    assert_eq!(newest(&open), before + 1);
    let song = open.project().song.clone().expect("a song");
    assert_eq!(song.corrections.taps.len(), 3);
    for wrong in [
        json!({ "at": [] }),
        json!({ "at": [-1.0] }),
        json!({ "at": [1e300] }),
    ] {
        let refused = open.post_json("/song/taps", &wrong).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{wrong}");
    }
}

#[tokio::test]
async fn sections_are_typed_and_moved() {
    let open = with_song(24).await;
    // One section was heard in clicks: a second is put in from bar 5 on.
    let typed = send(
        &open,
        "/song/sections",
        &[
            ("label.0", "A"),
            ("name.0", "intro"),
            ("label.new", "B"),
            ("from.new", "5"),
        ],
    )
    .await;
    assert_eq!(typed.status, StatusCode::SEE_OTHER, "{}", typed.text);
    let sections = || {
        open.project()
            .song
            .clone()
            .expect("a song")
            .corrections
            .sections
            .expect("sections")
    };
    let bounds = |at: usize| sections()[at].at.end().seconds();
    assert_eq!(sections()[0].name.as_deref(), Some("intro"));
    let five = bounds(0);

    let revision = newest(&open);
    let moved = open
        .post_json(
            "/song/bounds",
            &json!({ "revision": revision, "do": "move", "bound": 0, "to": 10.25 }),
        )
        .await;
    assert_eq!(moved.status, StatusCode::OK, "{}", moved.text);
    assert!((bounds(0) - 10.25).abs() < 1e-9 && five != bounds(0));

    // Somebody else's move meanwhile is not overwritten.
    let late = open
        .post_json(
            "/song/bounds",
            &json!({ "revision": revision, "do": "move", "bound": 0, "to": 4.0 }),
        )
        .await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.text.contains("changed meanwhile"), "{}", late.text);

    let revision = newest(&open);
    open.post_json(
        "/song/bounds",
        &json!({ "revision": revision, "do": "join", "bound": 0 }),
    )
    .await;
    assert_eq!(sections().len(), 1);
}

#[tokio::test]
async fn lyrics_are_typed_and_timed() {
    let open = with_song(24).await;
    send(
        &open,
        "/song/lyrics",
        &[("words", "first line\n\nsecond line\n")],
    )
    .await;
    let revision = newest(&open);
    let tapped = open
        .post_json(
            "/song/lyrics/tapped",
            &json!({ "revision": revision, "times": { "1": [2.0, 3.5] } }),
        )
        .await;
    assert_eq!(tapped.status, StatusCode::OK, "{}", tapped.text);
    let refused = send(&open, "/song/lyrics/times", &[("at.0", "soon")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    send(&open, "/song/lyrics/times", &[("at.0", "0:01–0:02")]).await;
    let lyrics = open.project().song.clone().expect("a song").lyrics;
    let starts: Vec<Option<f64>> = lyrics
        .iter()
        .map(|line| line.at.map(|at| at.start().seconds()))
        .collect();
    assert_eq!(starts, [Some(1.0), Some(2.0)]);
}

#[tokio::test]
async fn ideas_are_pinned_to_bars() {
    let open = with_song(24).await;
    let kept = send(&open, "/song/idea", &[("text", "Rain"), ("at", "3–4")]).await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER, "{}", kept.text);
    let refused = send(&open, "/song/idea", &[("text", "Sun"), ("at", "99")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.text.contains("There is no bar 99"),
        "{}",
        refused.text
    );
    assert!(
        refused.text.contains(">Sun</textarea>"),
        "what was typed is still there"
    );
    assert!(open.project().ideas[0].at.is_some());
    let page = open.get("/song").await.text;
    assert!(page.contains("href=\"/change/idea/rain\""));
}

#[tokio::test]
async fn hostile_names_stay_text() {
    let open = with_song(24).await;
    open.edit(&Edit::title("</script><b>"));
    send(
        &open,
        "/song/sections",
        &[("name.0", "</script><script>x</script>")],
    )
    .await;
    let page = open.get("/song").await.text;
    assert!(!page.contains("<script>x") && !page.contains("</script><b>"));
}
