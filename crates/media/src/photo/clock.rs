//! When a photograph was taken, and whether its clock can be believed.
//!
//! A camera's clock is held against the satellites' time, the file's last change and the
//! longitude. Each can only raise a doubt; the time stays as written.

use super::fields::Fields;
use super::note::PhotoNote;
use exif::{DateTime as Written, Tag};
use jiff::civil::DateTime;

/// Zones lie at most this far from UTC, minutes.
const FARTHEST_ZONE_MIN: i32 = 14 * 60;
/// All zones in use are whole quarter hours from UTC.
const QUARTER_S: i64 = 15 * 60;
/// How far the satellites' time may lag where the zone is not stated, seconds: a fix is kept for
/// some moments (common practice). Twice this is the share of a quarter hour that can't be caught.
const FIX_LAG_S: i64 = 60;
/// The same where the zone is stated, so that nothing is lost by patience.
const FIX_LAG_IN_ZONE_S: i64 = 5 * 60;
/// The farthest a legal zone strays from its longitude's own time, hours, with half an hour to
/// spare: western China keeps 3.1 h, some places 3.5 h in summer.
const FARTHEST_FROM_SUN_H: f64 = 4.0;

/// The times written.
#[derive(Default)]
pub(super) struct Times {
    pub(super) taken: Option<DateTime>,
    pub(super) offset_minutes: Option<i32>,
    pub(super) gps_utc: Option<DateTime>,
}

/// Reads the times. The moment of the picture is preferred, then of its scan, then of its last
/// change, each with the zone and the fraction of a second that belong to it.
pub(super) fn times(fields: &mut Fields<'_>) -> Times {
    let sources = [
        (
            Tag::DateTimeOriginal,
            Tag::OffsetTimeOriginal,
            Tag::SubSecTimeOriginal,
        ),
        (
            Tag::DateTimeDigitized,
            Tag::OffsetTimeDigitized,
            Tag::SubSecTimeDigitized,
        ),
        (Tag::DateTime, Tag::OffsetTime, Tag::SubSecTime),
    ];
    let mut times = Times {
        gps_utc: satellites(fields),
        ..Times::default()
    };
    for (at, zone, fraction) in sources {
        let Some(text) = fields.text(at) else {
            continue;
        };
        let Some(taken) = instant(&text, fields.text(fraction).as_deref()) else {
            fields.notes.push(PhotoNote::Time {
                text: printable(&text),
            });
            continue;
        };
        times.taken = Some(taken);
        times.offset_minutes = fields.text(zone).and_then(|text| {
            let read = offset(&text);
            if read.is_none() {
                fields.notes.push(PhotoNote::Zone {
                    text: printable(&text),
                });
            }
            read
        });
        if at == Tag::DateTime {
            fields.notes.push(PhotoNote::ChangeTime);
        }
        break;
    }
    times
}

/// What speaks against the clock. `modified` is the file's last change, UTC.
pub(super) fn doubts(
    times: &Times,
    modified: Option<DateTime>,
    position_deg: Option<[f64; 2]>,
) -> Vec<PhotoNote> {
    let mut notes = Vec::new();
    let Some(taken) = times.taken else {
        return notes;
    };
    let said = taken.to_string();
    if taken.year() < 2000 {
        notes.push(PhotoNote::ClockEarly {
            taken: said.clone(),
        });
    }
    let ahead_s = i64::from(times.offset_minutes.unwrap_or(0)) * 60;
    if let Some(modified) = modified
        && taken.duration_since(modified).as_secs() - ahead_s > 24 * 3600
    {
        let modified = modified.round(jiff::Unit::Second).unwrap_or(modified);
        notes.push(PhotoNote::ClockLate {
            taken: said.clone(),
            modified: modified.to_string(),
        });
    }
    let mut zone_minutes = times.offset_minutes;
    if let Some(gps) = times.gps_utc {
        let apart_s = taken.duration_since(gps).as_secs();
        match times.offset_minutes {
            Some(minutes) => {
                if (apart_s - i64::from(minutes) * 60).abs() > FIX_LAG_IN_ZONE_S {
                    notes.push(PhotoNote::ClockAgainstSatellites {
                        taken: said,
                        offset: zone_text(minutes),
                        gps: gps.to_string(),
                    });
                    return notes;
                }
            }
            None => {
                let quarters = (apart_s as f64 / QUARTER_S as f64).round() as i64;
                let zone = quarters * QUARTER_S / 60;
                if (apart_s - quarters * QUARTER_S).abs() > FIX_LAG_S
                    || zone.abs() > i64::from(FARTHEST_ZONE_MIN)
                {
                    notes.push(PhotoNote::ClockInNoZone {
                        taken: said,
                        gps: gps.to_string(),
                    });
                    return notes;
                }
                zone_minutes = i32::try_from(zone).ok();
            }
        }
    }
    if let (Some(minutes), Some([latitude, longitude])) = (zone_minutes, position_deg)
        // Towards the poles zones follow the ships and stations, not the sun.
        && latitude.abs() < 75.0
    {
        let apart_h = (f64::from(minutes) / 60.0 - longitude / 15.0).rem_euclid(24.0);
        if apart_h.min(24.0 - apart_h) > FARTHEST_FROM_SUN_H {
            notes.push(PhotoNote::ZoneAgainstPosition {
                offset: zone_text(minutes),
                longitude,
            });
        }
    }
    notes
}

/// The satellites' date and time, UTC.
fn satellites(fields: &mut Fields<'_>) -> Option<DateTime> {
    let date = fields.text(Tag::GPSDateStamp)?;
    let [hour, minute, second] = fields.three(Tag::GPSTimeStamp)?;
    if !((0.0..24.0).contains(&hour) && (0.0..60.0).contains(&minute)) {
        return None;
    }
    let midnight = instant(&format!("{} 00:00:00", date.trim()), None)?;
    // A leap second (60) becomes the next minute's first.
    let seconds = (0.0..61.0).contains(&second).then_some(second)?;
    let whole = hour.floor() * 3600.0 + minute.floor() * 60.0;
    let millis = ((whole + seconds) * 1000.0).round();
    midnight
        .checked_add(jiff::SignedDuration::from_millis(millis as i64))
        .ok()
}

/// `2026:10:03 18:41:07` with its fraction of a second, checked against the calendar.
fn instant(text: &str, fraction: Option<&str>) -> Option<DateTime> {
    let mut read = Written::from_ascii(text.as_bytes()).ok()?;
    if let Some(fraction) = fraction {
        // A fraction that is none does not spoil the second.
        let _ = read.parse_subsec(fraction.trim().as_bytes());
    }
    let byte = |n: u8| i8::try_from(n).ok();
    // No camera wrote a year 0; it stands for a clock that was never set.
    let year = i16::try_from(read.year).ok().filter(|year| *year > 0)?;
    DateTime::new(
        year,
        byte(read.month)?,
        byte(read.day)?,
        byte(read.hour)?,
        byte(read.minute)?,
        byte(read.second)?,
        i32::try_from(read.nanosecond.unwrap_or(0)).ok()?,
    )
    .ok()
}

/// `+01:00` as minutes.
fn offset(text: &str) -> Option<i32> {
    let text = text.trim();
    let mut read = Written::from_ascii(b"2000:01:01 00:00:00").ok()?;
    if text.len() != 6 || text.get(4..).is_none_or(|minutes| minutes >= "60") {
        return None;
    }
    read.parse_offset(text.as_bytes()).ok()?;
    let minutes = i32::from(read.offset?);
    (minutes.abs() <= FARTHEST_ZONE_MIN).then_some(minutes)
}

fn zone_text(minutes: i32) -> String {
    let sign = if minutes < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

/// What stands there, short and without what a terminal would act on.
fn printable(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control())
        .take(40)
        .collect::<String>()
        .trim()
        .to_owned()
}
