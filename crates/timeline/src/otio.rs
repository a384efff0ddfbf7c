//! OpenTimelineIO JSON, in the schemas that version 0.18 of its reference library writes.
//!
//! # How a shot is written
//! - `source_range.start_time` counts in the take's own rate and includes the timecode of the
//!   file's first frame, as `available_range` does, so that a reader which knows the timecode and
//!   one which counts from the start of the range land on the same frame.
//! - `source_range.duration` counts whole frames of the cut. In this format a clip lasts its
//!   source duration on the track, whatever its effects (a `LinearTimeWarp` changes which frames
//!   are seen, not how long), and a track's ranges are running sums of those durations. Sums of
//!   whole numbers at one rate are exact; 24 frames at 25 beside 10.01 at 24000/1001 are not. The
//!   number of take frames that pass is `duration × take rate ÷ cut rate × time_scalar` and stands
//!   exactly in the clip's metadata.
//! - Black is a gap, sections (and bars on request) are markers of the stack, in its time from 0.
//! - The song is one audio clip, ranges in samples; where it fills the picture to the sample, or
//!   would run over it, its duration is the picture's own.

use crate::edit::{Edit, Written};
use crate::error::Error;
use crate::place::{PlacedShot, placed_shots};
use crate::ratio::Ratio;
use crate::url;
use model::{FrameRate, Stretch};
use serde_json::{Value, json};

/// Up to here whole numbers are exact in the format's floating-point values.
const MOST_FRAMES: i64 = 1 << 53;

/// The marker colours of the format, in an order that sets neighbours apart; a section's letter
/// takes the next one.
const COLOURS: [&str; 9] = [
    "CYAN", "ORANGE", "GREEN", "PINK", "BLUE", "YELLOW", "PURPLE", "RED", "MAGENTA",
];

/// The cut as an OpenTimelineIO file.
///
/// # Errors
/// [`Error::TooLong`] when frames could no longer be counted exactly.
pub fn otio(edit: &Edit<'_>) -> Result<Written, Error> {
    let (shots, notes) = placed_shots(edit);
    let rate = edit.cut.rate;
    let end = shots.last().map_or(0, |shot| shot.to_frame);
    let furthest = shots.iter().filter_map(|shot| {
        let source = shot.source?;
        let first = source.file_start.to_frame();
        Some(first.saturating_add(source.start_frame.max(source.available)))
    });
    let most = furthest.max().unwrap_or(0).max(end);
    if most > MOST_FRAMES {
        return Err(Error::TooLong {
            frames: most,
            most: MOST_FRAMES,
            rate,
        });
    }
    let picture: Vec<Value> = shots.iter().map(|shot| item(edit, shot)).collect();
    let timeline = json!({
        "OTIO_SCHEMA": "Timeline.1",
        "metadata": {"barebulb": {
            "cut_version": edit.cut.version,
            "cut_rate": rate.to_string(),
            "frames": end,
        }},
        "name": edit.title,
        "global_start_time": time(edit.record_start().to_frame(), rate),
        "tracks": {
            "OTIO_SCHEMA": "Stack.1",
            "metadata": {},
            "name": "tracks",
            "source_range": null,
            "effects": [],
            "markers": markers(edit, end),
            "enabled": true,
            "children": [
                track("Picture", "Video", picture),
                track("Song", "Audio", song(edit, end)),
            ],
        },
    });
    // Values made of strings, finite numbers and maps with string keys always serialise.
    let mut text = format!("{timeline:#}");
    text.push('\n');
    Ok(Written { text, notes })
}

fn track(name: &str, kind: &str, children: Vec<Value>) -> Value {
    json!({
        "OTIO_SCHEMA": "Track.1",
        "metadata": {},
        "name": name,
        "source_range": null,
        "effects": [],
        "markers": [],
        "enabled": true,
        "children": children,
        "kind": kind,
    })
}

/// A shot as a clip, or as a gap where it is black.
fn item(edit: &Edit<'_>, shot: &PlacedShot) -> Value {
    let cut_rate = edit.cut.rate;
    let Some(source) = shot.source else {
        return json!({
            "OTIO_SCHEMA": "Gap.1",
            "metadata": {},
            "name": "",
            "source_range": range(time(0, cut_rate), time(shot.frames(), cut_rate)),
            "effects": [],
            "markers": [],
            "enabled": true,
        });
    };
    let take = &edit.takes[source.take];
    let first = source.file_start.to_frame();
    let mut effects = Vec::new();
    if source.time_scalar != Ratio::ONE {
        effects.push(json!({
            "OTIO_SCHEMA": "LinearTimeWarp.1",
            "metadata": {"barebulb": {"time_scalar": source.time_scalar.to_string()}},
            "name": "",
            "effect_name": "LinearTimeWarp",
            "enabled": true,
            "time_scalar": source.time_scalar.value(),
        }));
    }
    json!({
        "OTIO_SCHEMA": "Clip.2",
        "metadata": {"barebulb": {
            "take": take.id.as_str(),
            "source_timecode": source.timecode().to_string(),
            "source_frame": source.start_frame,
            "source_frames": source.frames.to_string(),
            "in_sync": shot.in_sync,
            "locked": shot.locked,
        }},
        "name": take.name,
        "source_range": range(
            time(first + source.start_frame, source.rate),
            time(shot.frames(), cut_rate),
        ),
        "effects": effects,
        "markers": [],
        "enabled": true,
        "media_references": {"DEFAULT_MEDIA": media(
            &take.name,
            &url::reference(edit.to_project, &take.path),
            range(time(first, source.rate), time(source.available, source.rate)),
        )},
        "active_media_reference_key": "DEFAULT_MEDIA",
    })
}

/// The song under the picture: one clip, or nothing where there is no picture.
fn song(edit: &Edit<'_>, end: i64) -> Vec<Value> {
    if end == 0 {
        return Vec::new();
    }
    let rate = edit.cut.rate;
    let hz = edit.song.rate_hz.max(1);
    let samples = edit.song.samples();
    let filled = Ratio::new(i128::from(end), 1)
        .times(Ratio::new(i128::from(rate.den()), i128::from(rate.num())))
        .times(Ratio::new(i128::from(hz), 1));
    let duration = if samples < filled.floor() {
        time_at(samples, f64::from(hz))
    } else {
        time(end, rate)
    };
    let start = time_at(0, f64::from(hz));
    vec![json!({
        "OTIO_SCHEMA": "Clip.2",
        "metadata": {},
        "name": edit.song.name,
        "source_range": range(start.clone(), duration),
        "effects": [],
        "markers": [],
        "enabled": true,
        "media_references": {"DEFAULT_MEDIA": media(
            &edit.song.name,
            &url::reference(edit.to_project, &edit.song.path),
            range(start, time_at(samples, f64::from(hz))),
        )},
        "active_media_reference_key": "DEFAULT_MEDIA",
    })]
}

fn media(name: &str, target_url: &str, available: Value) -> Value {
    json!({
        "OTIO_SCHEMA": "ExternalReference.1",
        "metadata": {},
        "name": name,
        "available_range": available,
        "available_image_bounds": null,
        "target_url": target_url,
    })
}

/// Sections, and bars when asked for, as far as there is picture.
fn markers(edit: &Edit<'_>, end: i64) -> Vec<Value> {
    let mut markers = Vec::new();
    for (index, section) in edit.map.sections.iter().enumerate() {
        let call = edit.map.section_call(index);
        let (name, comment) = match &section.name {
            Some(name) => (name.clone(), format!("section {call}")),
            None => (call, String::new()),
        };
        let colour = COLOURS[edit.map.music(index) % COLOURS.len()];
        markers.extend(marker(edit, end, section.at, &name, &comment, colour));
    }
    if edit.bar_markers {
        for bar in &edit.map.bars {
            let name = format!("bar {}", bar.number);
            markers.extend(marker(edit, end, bar.at, &name, "", "WHITE"));
        }
    }
    markers
}

/// A marker over the frames nearest to `at`; `None` when no frame of the cut is in it.
fn marker(
    edit: &Edit<'_>,
    end: i64,
    at: Stretch,
    name: &str,
    comment: &str,
    colour: &str,
) -> Option<Value> {
    let rate = edit.cut.rate;
    let (from, to) = edit.frames_of(at, end)?;
    Some(json!({
        "OTIO_SCHEMA": "Marker.2",
        "metadata": {},
        "name": name,
        "color": colour,
        "marked_range": range(time(from, rate), time(to - from, rate)),
        "comment": comment,
    }))
}

fn range(start: Value, duration: Value) -> Value {
    json!({"OTIO_SCHEMA": "TimeRange.1", "duration": duration, "start_time": start})
}

fn time(frames: i64, rate: FrameRate) -> Value {
    time_at(frames, rate.fps())
}

fn time_at(value: i64, rate: f64) -> Value {
    json!({"OTIO_SCHEMA": "RationalTime.1", "rate": rate, "value": value as f64})
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::sample;

    fn read(edit: &Edit<'_>) -> Value {
        serde_json::from_str(&otio(edit).unwrap().text).unwrap()
    }

    #[test]
    fn a_retimed_clip_keeps_its_record_duration_and_its_own_start() {
        let mut world = sample::world(FrameRate::FPS_24, 48);
        world.takes[0] = sample::take("a", FrameRate::new(60, 1).unwrap(), Some("00:00:10:00"));
        world.cut.shots[0] = sample::shot(0, 48, "a", 1.5, 2.5);
        let file = read(&world.edit());
        assert_eq!(file["global_start_time"]["value"], 86_400.0);
        let clip = &file["tracks"]["children"][0]["children"][0];
        assert_eq!(
            clip["source_range"],
            range(
                time(690, FrameRate::new(60, 1).unwrap()),
                time(48, FrameRate::FPS_24)
            )
        );
        assert_eq!(clip["effects"][0]["OTIO_SCHEMA"], "LinearTimeWarp.1");
        assert_eq!(clip["effects"][0]["time_scalar"], 0.4);
        let media = &clip["media_references"]["DEFAULT_MEDIA"];
        assert_eq!(media["target_url"], "../takes/a.mov");
        assert_eq!(media["available_range"]["start_time"]["value"], 600.0);
        assert_eq!(media["available_range"]["duration"]["value"], 12_000.0);
    }

    #[test]
    fn schema_names_are_those_of_the_reference_library() {
        // What OpenTimelineIO 0.18.1 writes.
        let mut world = sample::world(FrameRate::FPS_24, 96);
        world.cut.shots = vec![
            sample::shot(0, 48, "a", 0.0, 2.0),
            sample::shot(48, 96, "a", 0.0, 1.0),
        ];
        world.cut.shots[1].take = None;
        let text = otio(&world.edit()).unwrap().text;
        let mut schemas: Vec<&str> = text
            .match_indices("\"OTIO_SCHEMA\": \"")
            .map(|(at, key)| text[at + key.len()..].split('"').next().unwrap())
            .collect();
        schemas.sort_unstable();
        schemas.dedup();
        assert_eq!(
            schemas,
            [
                "Clip.2",
                "ExternalReference.1",
                "Gap.1",
                "LinearTimeWarp.1",
                "Marker.2",
                "RationalTime.1",
                "Stack.1",
                "TimeRange.1",
                "Timeline.1",
                "Track.1"
            ]
        );
    }

    #[test]
    fn sections_and_bars_are_markers_that_touch() {
        let mut world = sample::world(FrameRate::FPS_29_97, 301);
        world.map.sections[1].name = Some("last chorus".into());
        let mut edit = world.edit();
        edit.bar_markers = true;
        let file = read(&edit);
        let markers = file["tracks"]["markers"].as_array().unwrap().clone();
        let ends = |m: &Value| {
            let start = m["marked_range"]["start_time"]["value"].as_f64().unwrap();
            (
                start,
                start + m["marked_range"]["duration"]["value"].as_f64().unwrap(),
            )
        };
        assert_eq!(markers[0]["name"], "A");
        assert_eq!(markers[1]["name"], "last chorus");
        assert_eq!(markers[1]["comment"], "section B");
        assert_eq!(ends(&markers[0]).1, ends(&markers[1]).0);
        assert_eq!((ends(&markers[0]).0, ends(&markers[1]).1), (0.0, 301.0));
        assert_eq!(markers.len(), 2 + world.map.bars.len());
        assert_eq!(markers[2]["name"], "bar 1");
        assert_eq!(ends(&markers[2]), (0.0, 60.0));
    }

    #[test]
    fn the_song_never_runs_over_the_picture() {
        let mut world = sample::world(FrameRate::FPS_24, 48);
        let duration = |world: &sample::World| {
            let file = read(&world.edit());
            let clip = &file["tracks"]["children"][1]["children"][0];
            clip["source_range"]["duration"].clone()
        };
        assert_eq!(duration(&world), time(48, FrameRate::FPS_24));
        world.song.length = model::Length::of_samples(95_999, 48_000);
        assert_eq!(duration(&world), time_at(95_999, 48_000.0));
        world.song.length = model::Length::nearest_to_seconds(9.0);
        assert_eq!(duration(&world), time(48, FrameRate::FPS_24));
    }

    #[test]
    fn the_same_cut_gives_the_same_text() {
        let world = sample::world(FrameRate::FPS_23_976, 480);
        assert_eq!(otio(&world.edit()), otio(&world.edit()));
    }

    #[test]
    fn more_frames_than_the_format_can_count_are_refused() {
        let mut world = sample::world(FrameRate::FPS_24, 48);
        world.cut.shots[0].to_frame = i64::MAX;
        let sentence = otio(&world.edit()).unwrap_err().to_string();
        assert!(sentence.contains("9007199254740992"), "{sentence}");
    }
}
