//! Scouting, exposure and the pages state the same light of a place, with the same doubt.

mod common;

use common::Served;
use exposure::setup::AmbientFrom;
use model::Project;
use serde_json::{Value, json};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use steps::{Job, KitOptions, Quiet, ScoutOptions};

static TAKEN: AtomicUsize = AtomicUsize::new(1);

fn photo(time: f64, number: f64, iso: f64, more: Value) -> Value {
    let nth = TAKEN.fetch_add(1, Ordering::Relaxed);
    let mut photo = json!({
        "file": {"path": format!("{nth}.jpg"), "hash": format!("{nth:032x}"), "bytes": 1},
        "exposure_s": time, "f_number": number, "iso": iso,
    });
    for (field, value) in more.as_object().into_iter().flatten() {
        photo[field] = value.clone();
    }
    photo
}

#[tokio::test]
async fn one_light_is_stated_everywhere() {
    let day = || photo(1.0 / 60.0, 2.0, 100.0, json!({}));
    let night = || photo(1.0 / 30.0, 2.0, 800.0, json!({}));
    let flashed = || photo(1.0 / 60.0, 2.0, 100.0, json!({"flash": true}));
    // By hand: π 12.5 N² 2^bias / (0.18 t S): 523.60 lux by day, 32.725 by night; two that differ by four stops
    // lie around their middle, with a stop more to either side.
    let by_hand = photo(1.0 / 60.0, 2.0, 100.0, json!({"exposed_by_hand": true}));
    let pushed = photo(1.0 / 30.0, 1.8, 3200.0, json!({}));
    let biased = photo(1.0 / 30.0, 2.0, 100.0, json!({"bias_stops": 1.0}));
    type Case<'a> = (&'a str, Value, Value, Option<(f64, f64)>);
    let cases: [Case<'_>; 9] = [
        ("day", json!([day()]), json!([]), Some((523.599, 1.0))),
        (
            "set-by-hand",
            json!([by_hand]),
            json!([]),
            Some((523.599, 2.0)),
        ),
        ("pushed", json!([pushed]), json!([]), Some((6.627, 2.0))),
        ("biased", json!([biased]), json!([]), Some((523.599, 1.0))),
        (
            "both",
            json!([day(), night(), night()]),
            json!([]),
            Some((130.9, 3.0)),
        ),
        ("flash", json!([flashed()]), json!([]), None),
        (
            "flash-too",
            json!([flashed(), night()]),
            json!([]),
            Some((32.725, 1.0)),
        ),
        (
            "metered",
            json!([day()]),
            json!([{"lux": 40.0}]),
            Some((40.0, 0.2)),
        ),
        (
            "metered-twice",
            json!([]),
            json!([{"lux": 40.0}, {"lux": 10.0}]),
            Some((20.0, 1.2)),
        ),
    ];
    let places = cases.iter().map(|(id, photos, readings, _)| {
        json!({"id": id, "name": id, "photos": photos, "readings": readings})
    });
    let setups = cases.iter().map(|(id, ..)| json!({"id": id, "place": id}));
    let project: Project = serde_json::from_value(json!({
        "places": places.collect::<Vec<_>>(),
        "setups": setups.collect::<Vec<_>>(),
    }))
    .expect("a project");

    let served = Served::new(&project).await;
    let mut job = Job::open(served.dir.path()).expect("opened");
    let scouted = job
        .scout(&[], &ScoutOptions::default(), &Quiet)
        .expect("scouted");
    let kit = job.kit(&KitOptions::default(), &Quiet).expect("judged");
    let mut page = served.get("/places").await.text;
    for _ in 0..200 {
        if page.contains("give or take") {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
        page = served.get("/places").await.text;
    }
    for (id, _, _, wanted) in &cases {
        let report = scouted.places.iter().find(|place| place.id == *id);
        let light = report.expect("a place").light;
        let judged = kit.setups.iter().find(|one| one.setup.as_str() == *id);
        let there = judged.expect("a setup").background.ambient;
        let shown = page.split(&format!("id=\"place-{id}\"")).nth(1).expect(id);
        let shown = shown.split("id=\"place-").next().unwrap_or_default();
        match *wanted {
            None => {
                assert_eq!(
                    (light, there.from, there.lux),
                    (None, AmbientFrom::Unknown, None)
                );
                assert!(!shown.contains("give or take"), "{shown}");
            }
            Some((lux, stops)) => {
                let light = light.expect(id);
                assert!((light.lux / lux - 1.0).abs() < 1e-4, "{id} {light:?}");
                assert!(
                    (light.stops_uncertainty - stops).abs() < 1e-9,
                    "{id} {light:?}"
                );
                assert_eq!(there.lux, Some(light.lux), "{id}");
                assert_eq!(there.plus_minus_stops, light.stops_uncertainty, "{id}");
                let says = format!(" lux, give or take {stops:.1} stops");
                assert!(shown.contains(&says), "{id}: {says} is not in {shown}");
            }
        }
    }
}
