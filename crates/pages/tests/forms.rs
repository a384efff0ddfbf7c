//! Forms become edits: made, changed, refused with the fault beside the field, undone; two people at once.

mod common;

use axum::http::StatusCode;
use common::Served;
use model::Project;

#[tokio::test]
async fn a_place_is_made_changed_and_removed() {
    let served = Served::new(&Project::default()).await;
    let made = served
        .post(
            "/make/place",
            &[
                ("name", "Tiled stairway"),
                ("position_deg", "41.1432, -8.6151"),
            ],
        )
        .await;
    assert_eq!(
        (made.status, made.location.as_deref()),
        (StatusCode::SEE_OTHER, Some("/places"))
    );
    let project = served.project();
    assert_eq!(project.places[0].id.as_str(), "tiled-stairway");
    assert_eq!(project.places[0].position_deg, Some([41.1432, -8.6151]));

    let revision = served.revision().to_string();
    let fields = [
        ("-revision", revision.as_str()),
        ("name", "Stairway"),
        ("access", "22:00–02:00"),
    ];
    let changed = served.post("/change/place/tiled-stairway", &fields).await;
    assert_eq!(changed.status, StatusCode::SEE_OTHER);
    let place = served.project().places[0].clone();
    assert_eq!(place.name, "Stairway");
    assert_eq!(
        place.position_deg,
        Some([41.1432, -8.6151]),
        "what the form did not send stays"
    );
    assert_eq!(
        place.access[0].map(|at| at.to_string()),
        ["22:00", "02:00 (+1)"]
    );

    assert_eq!(
        served.post("/undo", &[]).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(served.project().places[0].name, "Tiled stairway");
    assert_eq!(
        served.post("/redo", &[]).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(served.project().places[0].name, "Stairway");

    assert_eq!(
        served
            .post("/remove/place/tiled-stairway", &[])
            .await
            .status,
        StatusCode::SEE_OTHER
    );
    assert!(served.project().places.is_empty());
}

#[tokio::test]
async fn a_fault_comes_back_beside_its_field_with_what_was_typed() {
    let served = Served::new(&Project::default()).await;
    for (fields, field, says) in [
        (
            &[("name", "A"), ("position_deg", "north")][..],
            "place-new--position_deg-fault",
            "not two numbers",
        ),
        (
            &[("name", "A"), ("position_deg", "95, 3")],
            "place-new--position_deg-fault",
            "latitude",
        ),
        (
            &[("name", "A"), ("access", "late")],
            "place-new--access-fault",
            "clock time",
        ),
    ] {
        let refused = served.post("/make/place", fields).await;
        assert_eq!(
            refused.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{fields:?}"
        );
        let fault = refused.text.split(&format!("id=\"{field}\"")).nth(1);
        let fault = fault.unwrap_or_else(|| panic!("no fault at {field}: {}", refused.text));
        let fault = &fault[..fault.find("</small>").expect("an end")];
        assert!(fault.contains(says), "{fault}");
        let typed = fields
            .last()
            .map(|(_, value)| format!("value=\"{value}\""))
            .unwrap_or_default();
        assert!(
            refused.text.contains(&typed),
            "what was typed is still there: {typed}"
        );
        assert!(served.project().places.is_empty(), "nothing is half made");
    }
}

#[tokio::test]
async fn two_people_at_once_both_win_or_are_told() {
    let served = Served::new(&Project::default()).await;
    served.post("/make/place", &[("name", "Quay")]).await;
    let seen = served.revision().to_string();
    let first = [
        ("-revision", seen.as_str()),
        ("name", "Quay"),
        ("noise", "trams"),
    ];
    let second = [("-revision", seen.as_str()), ("name", "River quay")];
    assert_eq!(
        served.post("/change/place/quay", &first).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        served.post("/change/place/quay", &second).await.status,
        StatusCode::SEE_OTHER
    );
    let place = served.project().places[0].clone();
    assert_eq!(
        (place.name.as_str(), place.noise.as_str()),
        ("River quay", "trams")
    );
    // Both changed the same field: the later is told and nothing is overwritten.
    let clash = [("-revision", seen.as_str()), ("name", "Harbour")];
    let refused = served.post("/change/place/quay", &clash).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.text.contains("changed meanwhile by somebody else"),
        "{}",
        refused.text
    );
    assert!(refused.text.contains("value=\"Harbour\""));
    assert_eq!(served.project().places[0].name, "River quay");
}

#[tokio::test]
async fn every_kind_of_noun_has_a_form() {
    let served = Served::new(&Project::default()).await;
    for noun in [
        "idea",
        "reference",
        "person",
        "wish",
        "place",
        "kit",
        "setup",
        "day",
    ] {
        let page = served.get(&format!("/make/{noun}")).await;
        assert_eq!(page.status, StatusCode::OK, "{noun}");
        assert!(page.text.contains("<form"), "{noun}");
    }
    assert_eq!(
        served.get("/make/nonsense").await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        served.get("/change/setup/none").await.status,
        StatusCode::NOT_FOUND
    );
    for (noun, fields) in [
        (
            "idea",
            &[("text", "Begin on the bulb"), ("at", "0:01–0:05")][..],
        ),
        ("reference", &[("text", "A street by night")]),
        (
            "person",
            &[("name", "Ilse"), ("hours", "18:00-02:00"), ("minor", "")],
        ),
        ("wish", &[("section", "A"), ("options", "4")]),
        (
            "kit",
            &[
                ("name", "Block"),
                ("count", "2"),
                ("battery.wh", "98"),
                ("battery.chemistry", "lithium-ion"),
            ],
        ),
        (
            "setup",
            &[
                ("name", "Wide"),
                ("framing", "wide"),
                ("bars", "1–8"),
                ("passes", "2"),
            ],
        ),
        (
            "day",
            &[
                ("date", "2026-11-20"),
                ("call", "16:15"),
                ("latest_wrap", "23:00"),
            ],
        ),
    ] {
        let made = served.post(&format!("/make/{noun}"), fields).await;
        assert_eq!(made.status, StatusCode::SEE_OTHER, "{noun}: {}", made.text);
    }
    // A song is needed for ideas and wishes to point into; without one they stand as they are.
    let project = served.project();
    assert_eq!(
        project.kit[0].battery.as_ref().map(|battery| battery.wh),
        Some(98.0)
    );
    assert_eq!(project.people[0].hours[0][1].to_string(), "02:00 (+1)");
    for path in [
        "/", "/brief", "/places", "/kit", "/setups", "/day", "/history", "/devices",
    ] {
        let page = served.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
    }
}

/// A project with one take and a cut that shows it for two seconds.
fn with_a_cut() -> Project {
    serde_json::from_value(serde_json::json!({
        "format": 2,
        "takes": [{"id": "a1", "file": {"path": "takes/a1.mov", "hash": "00000000000000000000000000000000", "bytes": 1}}],
        "cuts": [{"version": 1, "rate": "25", "shots": [
            {"from_frame": 0, "to_frame": 50, "take": "a1", "take_start": 0, "in_sync": true},
            {"from_frame": 50, "to_frame": 75},
        ]}],
    }))
    .expect("a project")
}

#[tokio::test]
async fn a_take_is_kept_out_locked_and_allowed_again_in_single_steps() {
    let served = Served::new(&with_a_cut()).await;
    let shot = |nth| [("version", "1"), ("shot", nth)];
    assert_eq!(
        served.post("/assembly/not-here", &shot("1")).await.status,
        StatusCode::SEE_OTHER
    );
    let project = served.project();
    assert_eq!(project.bans.len(), 1);
    assert_eq!(project.bans[0].at.end().seconds(), 2.0);
    // Locking it there is the later word; one step back takes exactly that away.
    assert_eq!(
        served.post("/assembly/lock", &shot("1")).await.status,
        StatusCode::SEE_OTHER
    );
    let project = served.project();
    assert_eq!((project.bans.len(), project.locks.len()), (0, 1));
    served.post("/undo", &[]).await;
    let project = served.project();
    assert_eq!((project.bans.len(), project.locks.len()), (1, 0));
    let again = served
        .post("/assembly/here-again", &[("take", "a1"), ("at", "0")])
        .await;
    assert_eq!(again.status, StatusCode::SEE_OTHER);
    assert!(served.project().bans.is_empty());
    // What is not there is said, and nothing changes.
    for (path, fields) in [
        ("/assembly/not-here", &shot("2")[..]),
        ("/assembly/not-here", &shot("9")[..]),
        ("/assembly/here-again", &[("take", "a1"), ("at", "0")][..]),
    ] {
        let answer = served.post(path, fields).await;
        assert!(
            answer.status.is_client_error(),
            "{path} {fields:?}: {}",
            answer.status
        );
    }
    assert!(served.project().bans.is_empty());
}
