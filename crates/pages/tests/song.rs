//! The page Song as a browser sees it: the strip, forms that work by typing, changes by hand.

mod common;

use axum::http::StatusCode;
use common::Open;
use model::{Edit, SongTime};
use serde_json::json;

#[tokio::test]
async fn without_a_song_the_page_asks_for_one() {
    let open = Open::empty().await;
    let page = open.get("/song").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.body.contains("action=\"/take-in/song\""));
    assert!(!page.body.contains("<song-strip"));
}

#[tokio::test]
async fn every_page_carries_the_strip() {
    let open = Open::with_song(24).await;
    for path in ["/", "/brief", "/song", "/history"] {
        let page = open.get(path).await;
        assert!(page.body.contains("<song-strip"), "{path}");
        assert!(page.body.contains("id=\"song-map\""), "{path}");
        assert!(!page.body.contains("style=\""), "{path}");
    }
    let page = open.get("/song").await.body;
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
    let open = Open::with_song(24).await;
    let saved = open
        .send("/song/correct", &[("do", "tempo"), ("bpm", "119,5")])
        .await;
    assert_eq!(
        (saved.status, saved.location.as_str()),
        (StatusCode::SEE_OTHER, "/song")
    );
    open.send("/song/correct", &[("do", "beats"), ("beats", "3")])
        .await;
    open.send("/song/correct", &[("do", "downbeat"), ("at", "0:00.5")])
        .await;
    let held = open.project().song.clone().expect("a song").corrections;
    assert_eq!(held.tempo_bpm, Some(119.5));
    assert_eq!(held.beats_per_bar, Some(3));
    assert_eq!(held.first_downbeat, Some(SongTime::nearest_to_seconds(0.5)));

    let refused = open
        .send("/song/correct", &[("do", "tempo"), ("bpm", "1000")])
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused
            .body
            .contains("A tempo of 1000 is out of range; 20 to 400 beats a minute.")
    );
    assert!(
        refused.body.contains("value=\"1000\""),
        "what was typed is still there"
    );

    open.send("/song/correct", &[("do", "forget-all")]).await;
    assert!(
        open.project()
            .song
            .as_ref()
            .is_some_and(|song| song.corrections.is_empty())
    );
}

#[tokio::test]
async fn taps_of_one_go_are_one_revision() {
    let open = Open::with_song(24).await;
    let before = open.app.revision().expect("a revision").number();
    let done = open
        .post("/song/taps", &json!({ "at": [1.0, 1.5, 2.0] }))
        .await;
    assert_eq!(done.status, StatusCode::OK);
    assert_eq!(
        open.app.revision().expect("a revision").number(),
        before + 1
    );
    let song = open.project().song.clone().expect("a song");
    assert_eq!(song.corrections.taps.len(), 3);
    for wrong in [
        json!({ "at": [] }),
        json!({ "at": [-1.0] }),
        json!({ "at": [1e300] }),
    ] {
        let refused = open.post("/song/taps", &wrong).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{wrong}");
    }
}

#[tokio::test]
async fn sections_are_typed_and_moved() {
    let open = Open::with_song(24).await;
    // One section was heard in clicks: a second is put in from bar 5 on.
    let typed = open
        .send(
            "/song/sections",
            &[
                ("label.0", "A"),
                ("name.0", "intro"),
                ("label.new", "B"),
                ("from.new", "5"),
            ],
        )
        .await;
    assert_eq!(typed.status, StatusCode::SEE_OTHER, "{}", typed.body);
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

    let revision = open.app.revision().expect("a revision").number();
    let moved = open
        .post(
            "/song/bounds",
            &json!({ "revision": revision, "do": "move", "bound": 0, "to": 10.25 }),
        )
        .await;
    assert_eq!(moved.status, StatusCode::OK, "{}", moved.body);
    assert!((bounds(0) - 10.25).abs() < 1e-9 && five != bounds(0));

    // Somebody else's move meanwhile is not overwritten.
    let late = open
        .post(
            "/song/bounds",
            &json!({ "revision": revision, "do": "move", "bound": 0, "to": 4.0 }),
        )
        .await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.body.contains("changed meanwhile"), "{}", late.body);

    let revision = open.app.revision().expect("a revision").number();
    open.post(
        "/song/bounds",
        &json!({ "revision": revision, "do": "join", "bound": 0 }),
    )
    .await;
    assert_eq!(sections().len(), 1);
}

#[tokio::test]
async fn lyrics_are_typed_and_timed() {
    let open = Open::with_song(24).await;
    open.send("/song/lyrics", &[("words", "first line\n\nsecond line\n")])
        .await;
    let revision = open.app.revision().expect("a revision").number();
    let tapped = open
        .post(
            "/song/lyrics/tapped",
            &json!({ "revision": revision, "times": { "1": [2.0, 3.5] } }),
        )
        .await;
    assert_eq!(tapped.status, StatusCode::OK, "{}", tapped.body);
    let refused = open.send("/song/lyrics/times", &[("at.0", "soon")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    open.send("/song/lyrics/times", &[("at.0", "0:01–0:02")])
        .await;
    let lyrics = open.project().song.clone().expect("a song").lyrics;
    let starts: Vec<Option<f64>> = lyrics
        .iter()
        .map(|line| line.at.map(|at| at.start().seconds()))
        .collect();
    assert_eq!(starts, [Some(1.0), Some(2.0)]);
}

#[tokio::test]
async fn ideas_are_pinned_to_bars() {
    let open = Open::with_song(24).await;
    let kept = open
        .send("/song/idea", &[("text", "Rain"), ("at", "3–4")])
        .await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER, "{}", kept.body);
    let refused = open
        .send("/song/idea", &[("text", "Sun"), ("at", "99")])
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.body.contains("There is no bar 99"),
        "{}",
        refused.body
    );
    assert!(
        refused.body.contains(">Sun</textarea>"),
        "what was typed is still there"
    );
    assert!(open.project().ideas[0].at.is_some());
    let page = open.get("/song").await.body;
    assert!(page.contains("href=\"/change/idea/rain\""));
}

#[tokio::test]
async fn hostile_names_stay_text() {
    let open = Open::with_song(24).await;
    open.app
        .edit(&Edit::SetTitle {
            title: "</script><b>".into(),
        })
        .expect("saved");
    open.send(
        "/song/sections",
        &[("name.0", "</script><script>x</script>")],
    )
    .await;
    let page = open.get("/song").await.body;
    assert!(!page.contains("<script>x") && !page.contains("</script><b>"));
}
