//! An edit list in the form of SMPTE 258M-2004, of the CMX 3600 kind: cuts of one picture track.
//!
//! # What the form allows, and what was chosen
//! - One frame count for both sides: the cut's. `FCM: DROP FRAME` stands above a list at 29.97 or
//!   59.94; drop-frame labels carry a `;` wherever they stand. (Above 30 frames a second the form
//!   was never standardised; labels then count as ST 12-3 does, 00 to 59.)
//! - *Source points.* A take counted like the cut (23.976 and 24 are counted alike) keeps its own
//!   labels, so that each names the very frame. Any other take's labels are counted anew: hours,
//!   minutes and seconds of its start stay, frames are scaled to the cut's count, and the way into
//!   the take is measured on the clock to the nearest frame of the cut. A note names such takes.
//! - *Speed.* `M2` gives frames per second of record in tenths, where the cut's counted rate (30 at
//!   29.97) is normal speed. A source that passes within 0.2 % of normal speed (23.976 in 24) is
//!   written as normal speed. A note says where that is not exact.
//! - A source lasts record length × speed, and one frame at least.
//! - Reels: see `reel`. Black is reel `BL`. After each event, `* FROM CLIP NAME:` has the file's name with everything but printable
//!   ASCII as `_` (the form is 7-bit), and `* FROM FILE:` has its exact place as a URL.
//! - The song is not in the list.

use crate::edit::{Edit, Written};
use crate::error::{Error, Note};
use crate::place::{PlacedShot, Source, placed_shots};
use crate::ratio::Ratio;
use crate::reel::reels;
use crate::timecode::{Counting, Timecode};
use crate::url;
use std::fmt::Write as _;

/// The longest title (common practice).
const TITLE: usize = 70;

/// A source this near to normal speed is written without a speed line: the 1000/1001 ratios.
const NORMAL: f64 = 0.002;

/// The cut as an edit list.
///
/// # Errors
/// [`Error::TooLong`] when the record side would reach 24:00:00:00, [`Error::NoLabels`] above 100
/// frames a second.
pub fn edl(edit: &Edit<'_>) -> Result<Written, Error> {
    let (shots, mut notes) = placed_shots(edit);
    let rate = edit.cut.rate;
    if rate.counted() > 100 {
        return Err(Error::NoLabels { rate });
    }
    let start = edit.record_start();
    let end = shots.last().map_or(0, |shot| shot.to_frame);
    let most = Timecode::at_clock(23, 59, 59, rate, start.counting()).to_frame() - start.to_frame();
    if end > most {
        return Err(Error::TooLong {
            frames: end,
            most,
            rate,
        });
    }
    if shots.len() > 999 {
        notes.push(Note::ManyEvents {
            events: shots.len(),
        });
    }
    let mode = match start.counting() {
        Counting::NonDrop => "NON-DROP FRAME",
        Counting::Drop => "DROP FRAME",
    };
    let title: String = ascii(edit.title).chars().take(TITLE).collect();
    let mut text = format!("TITLE: {}\nFCM: {mode}\n", title.trim());
    let reels = reels(edit.takes);
    for (number, shot) in (1..).zip(&shots) {
        let event = event(edit, shot, &reels, &mut notes);
        let [record_in, record_out] = [shot.from_frame, shot.to_frame].map(|f| start.plus(f));
        let Event {
            reel,
            source_in,
            source_out,
            ..
        } = &event;
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "{number:03}  {reel:<8} V     C        {source_in} {source_out} {record_in} {record_out}"
        );
        if let Some(tenths) = event.speed {
            let speed = format!("{:03}.{}", tenths / 10, tenths % 10);
            let _ = writeln!(
                text,
                "M2   {reel:<8}       {speed}                {source_in}"
            );
        }
        if let Some(source) = shot.source {
            let take = &edit.takes[source.take];
            let name = match ascii(&take.name).trim() {
                "" => take.id.to_string(),
                name => name.to_owned(),
            };
            let _ = writeln!(text, "* FROM CLIP NAME: {}", ascii(&name));
            let place = url::reference(edit.to_project, &take.path);
            let _ = writeln!(text, "* FROM FILE: {place}");
        }
    }
    Ok(Written { text, notes })
}

/// The source side of an event.
struct Event<'a> {
    reel: &'a str,
    source_in: Timecode,
    source_out: Timecode,
    /// Frames per second in tenths, when not normal.
    speed: Option<i64>,
}

fn event<'a>(
    edit: &Edit<'_>,
    shot: &PlacedShot,
    reels: &'a [String],
    notes: &mut Vec<Note>,
) -> Event<'a> {
    let rate = edit.cut.rate;
    let Some(source) = shot.source else {
        let zero = Timecode::from_frame(0, rate, Counting::usual(rate));
        return Event {
            reel: "BL",
            source_in: zero,
            source_out: zero.plus(shot.frames()),
            speed: None,
        };
    };
    let mut note = |note: Note| {
        if !notes.contains(&note) {
            notes.push(note);
        }
    };
    let take = || edit.takes[source.take].id.to_string();
    let record = Ratio::new(i128::from(shot.frames()), 1);
    let (source_in, pace) = if keeps_labels(edit, &source) {
        // Labels of the take that pass per label of the record.
        (source.timecode(), source.frames.times(record.inverse()))
    } else {
        note(Note::RecountedSource {
            take: take(),
            rate: source.rate,
            cut: rate,
        });
        (recounted(edit, &source), source.time_scalar)
    };
    let counted = i64::from(rate.counted());
    let tenths = pace.times(Ratio::new(i128::from(counted) * 10, 1)).round();
    // Five columns; nought would be a still.
    let tenths = tenths.clamp(1, 9999);
    let normal = (pace.value() - 1.0).abs() <= NORMAL || tenths == counted * 10;
    let said = if normal {
        1.0
    } else {
        tenths as f64 / 10.0 / counted as f64
    };
    if (said - pace.value()).abs() > 1e-9 {
        note(Note::CoarseSpeed {
            take: take(),
            exact: pace.value(),
            said,
        });
    }
    let length = if normal {
        shot.frames()
    } else {
        pace.times(record).round().max(1)
    };
    Event {
        reel: &reels[source.take],
        source_in,
        source_out: source_in.plus(length),
        speed: (!normal).then_some(tenths),
    }
}

/// Whether the take's own labels can stand in this list: counted like the cut, and drop-frame only
/// where the cut's rate has it.
fn keeps_labels(edit: &Edit<'_>, source: &Source) -> bool {
    source.rate.counted() == edit.cut.rate.counted()
        && (source.file_start.counting() == Counting::NonDrop
            || Counting::usual(edit.cut.rate) == Counting::Drop)
}

/// The label of the source's first frame in the cut's count.
fn recounted(edit: &Edit<'_>, source: &Source) -> Timecode {
    let rate = edit.cut.rate;
    let [h, m, s, f] = source.file_start.parts();
    let start = Timecode::at_clock(h, m, s, rate, Counting::usual(rate));
    let part = Ratio::new(
        i128::from(f) * i128::from(rate.counted()),
        i128::from(source.rate.counted()),
    );
    let way = Ratio::new(i128::from(source.start_frame), 1)
        .times(Ratio::new(
            i128::from(source.rate.den()),
            i128::from(source.rate.num()),
        ))
        .times(Ratio::new(i128::from(rate.num()), i128::from(rate.den())));
    start.plus(part.round().saturating_add(way.round()))
}

/// `text` in printable 7-bit ASCII, everything else as `_`.
fn ascii(text: &str) -> String {
    text.chars()
        .map(|c| if matches!(c, ' '..='~') { c } else { '_' })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::sample;
    use model::FrameRate;

    fn rate(num: u32, den: u32) -> FrameRate {
        FrameRate::new(num, den).unwrap()
    }

    #[test]
    fn a_list_of_cuts() {
        let mut world = sample::world(FrameRate::FPS_24, 120);
        world.takes = vec![
            sample::take("a001", FrameRate::FPS_24, Some("01:00:00:00")),
            sample::take("setup2_pass03", rate(60, 1), Some("10:00:00:30")),
        ];
        world.takes[0].name = "a001 “été”.mov".into();
        world.takes[0].path = "takes/a001 “été”.mov".into();
        world.cut.shots = vec![
            sample::shot(0, 48, "a001", 4.0, 1.0),
            sample::shot(48, 60, "a001", 0.0, 1.0),
            sample::shot(60, 120, "setup2_pass03", 1.0, 2.5),
        ];
        world.cut.shots[1].take = None;
        let out = edl(&world.edit()).unwrap();
        assert_eq!(
            out.text,
            "\
TITLE: Paper Weather v001
FCM: NON-DROP FRAME
001  A001T    V     C        01:00:04:00 01:00:06:00 01:00:00:00 01:00:02:00
* FROM CLIP NAME: a001 __t__.mov
* FROM FILE: ../takes/a001%20%E2%80%9C%C3%A9t%C3%A9%E2%80%9D.mov
002  BL       V     C        00:00:00:00 00:00:00:12 01:00:02:00 01:00:02:12
003  SETUPS03 V     C        10:00:01:12 10:00:02:12 01:00:02:12 01:00:05:00
M2   SETUPS03       009.6                10:00:01:12
* FROM CLIP NAME: setup2_pass03.mov
* FROM FILE: ../takes/setup2_pass03.mov
"
        );
        assert_eq!(
            out.notes,
            [Note::RecountedSource {
                take: "setup2_pass03".into(),
                rate: rate(60, 1),
                cut: FrameRate::FPS_24
            }]
        );
    }

    #[test]
    fn twice_the_speed_takes_twice_the_source() {
        // By hand (SMPTE 258M): by the form's own logic a 24-frame clip at 2x runs from 01:00:01:00 to
        // 01:00:03:00 with M2 048.0.
        let mut world = sample::world(FrameRate::FPS_24, 24);
        world.takes[0] = sample::take("a", FrameRate::FPS_24, Some("01:00:00:00"));
        world.cut.shots[0] = sample::shot(0, 24, "a", 1.0, 0.5);
        let text = edl(&world.edit()).unwrap().text;
        assert!(
            text.contains("01:00:01:00 01:00:03:00 01:00:00:00 01:00:01:00\n"),
            "{text}"
        );
        assert!(
            text.contains("M2   A              048.0                01:00:01:00\n"),
            "{text}"
        );
    }

    #[test]
    fn drop_frame_on_both_sides_at_29_97() {
        let r = FrameRate::FPS_29_97;
        let mut world = sample::world(r, 3600);
        world.takes[0] = sample::take("a", r, Some("00:00:59;28"));
        world.takes.push(sample::take("b", r, Some("00:00:59:28")));
        world.cut.shots = vec![
            sample::shot(0, 1800, "a", 0.0, 1.0),
            sample::shot(1800, 3600, "b", 0.0, 1.0),
        ];
        let text = edl(&world.edit()).unwrap().text;
        assert!(text.contains("FCM: DROP FRAME\n"));
        assert!(
            text.contains("00:00:59;28 00:02:00;02 01:00:00;00 01:01:00;02\n"),
            "{text}"
        );
        assert!(
            text.contains("00:00:59:28 00:01:59:28 01:01:00;02 01:02:00;04\n"),
            "{text}"
        );
    }

    #[test]
    fn a_take_counted_like_the_cut_keeps_its_labels_and_normal_speed() {
        let mut world = sample::world(FrameRate::FPS_24, 2400);
        world.takes[0] = sample::take("a", FrameRate::FPS_23_976, Some("01:00:00:00"));
        world.cut.shots[0] = sample::shot(0, 2400, "a", 1.001, 1.0);
        let out = edl(&world.edit()).unwrap();
        assert!(
            out.text
                .contains("01:00:01:00 01:01:41:00 01:00:00:00 01:01:40:00\n")
        );
        assert!(!out.text.contains("M2"));
        assert!(
            matches!(&out.notes[..], [Note::CoarseSpeed { said: 1.0, .. }]),
            "{:?}",
            out.notes
        );
    }

    #[test]
    fn drop_frame_labels_are_counted_anew_where_the_cut_has_none() {
        let mut world = sample::world(rate(30, 1), 30);
        world.takes[0] = sample::take("a", FrameRate::FPS_29_97, Some("01:00:00;00"));
        world.cut.shots[0] = sample::shot(0, 30, "a", 2.0, 1.0);
        let text = edl(&world.edit()).unwrap().text;
        assert!(
            text.contains("01:00:02:00 01:00:03:00 01:00:00:00 01:00:01:00\n"),
            "{text}"
        );
    }

    #[test]
    fn more_than_a_thousand_events_are_numbered_on() {
        let mut world = sample::world(FrameRate::FPS_25, 1200);
        world.cut.shots = (0..1200)
            .map(|f| sample::shot(f, f + 1, "a", 0.0, 1.0))
            .collect();
        let out = edl(&world.edit()).unwrap();
        assert!(out.text.contains("\n999  A "));
        assert!(out.text.contains("\n1200  A "));
        assert_eq!(out.notes, [Note::ManyEvents { events: 1200 }]);
    }

    #[test]
    fn what_the_form_cannot_label_is_refused() {
        let mut world = sample::world(FrameRate::FPS_24, 48);
        world.cut.shots[0].to_frame = 24 * 3600 * 23;
        let sentence = edl(&world.edit()).unwrap_err().to_string();
        assert!(
            sentence.starts_with("the cut holds 1987200 frames"),
            "{sentence}"
        );
        let world = sample::world(rate(120, 1), 48);
        assert_eq!(
            edl(&world.edit()),
            Err(Error::NoLabels { rate: rate(120, 1) })
        );
    }
}
