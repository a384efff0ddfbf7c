//! The day as a calendar file: iCalendar, RFC 5545.
//!
//! Every time is in UTC, so that a phone in any zone shows the right hour; lines end in CRLF and are folded at
//! 75 octets (3.1), text is escaped (3.3.11).

use crate::plan::DayPlan;
use model::ClockTime;
use std::fmt::Write as _;

/// A day for the calendar.
pub struct CalendarDay<'a> {
    /// The day.
    pub plan: &'a DayPlan,
    /// The seconds since 1970-01-01 00:00 UTC of what a clock of the day shows.
    pub utc: &'a dyn Fn(ClockTime) -> i64,
}

/// `days` as one calendar. `title` is what the video is called; `stamp_s` is when the file is written, seconds
/// since 1970-01-01 00:00 UTC.
pub fn calendar(days: &[CalendarDay], title: &str, stamp_s: i64) -> String {
    let mut out = String::new();
    for line in [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Barebulb//day//EN",
        "CALSCALE:GREGORIAN",
    ] {
        fold(&mut out, line);
    }
    for day in days {
        of_day(&mut out, day, title, stamp_s);
    }
    fold(&mut out, "END:VCALENDAR");
    out
}

fn of_day(out: &mut String, day: &CalendarDay, title: &str, stamp_s: i64) {
    let CalendarDay { plan, utc } = day;
    let stamp = date_time(stamp_s);
    let mut event = |uid: &str, at: [ClockTime; 2], what: &str, place: &str, more: &str| {
        let mut lines = vec![
            "BEGIN:VEVENT".to_owned(),
            format!("UID:{}-{}-{uid}@barebulb.invalid", plan.date, plan.day),
            format!("DTSTAMP:{stamp}"),
            format!("DTSTART:{}", date_time(utc(at[0]))),
            format!("DTEND:{}", date_time(utc(at[1]))),
            format!("SUMMARY:{}", escaped(what)),
        ];
        if !place.is_empty() {
            lines.push(format!("LOCATION:{}", escaped(place)));
        }
        if !more.is_empty() {
            lines.push(format!("DESCRIPTION:{}", escaped(more)));
        }
        lines.push("END:VEVENT".to_owned());
        lines.iter().for_each(|line| fold(out, line));
    };
    let called = match title {
        "" => "Shoot",
        title => title,
    };
    let whole = format!("{called}: call to wrap");
    event("whole", [plan.from, plan.wrap], &whole, "", "");
    if let Some(at) = plan.meal {
        event("meal", at, "Meal", "", "");
    }
    for strip in &plan.order {
        let mut more = format!("Shoots from {} to {}.", strip.shoot, strip.end);
        if let Some([_, to]) = strip.light {
            let _ = write!(more, "\nIts light lasts until {to}.");
        }
        if strip.travel_minutes > 0 {
            let _ = write!(more, "\n{} min on the way before.", strip.travel_minutes);
        }
        let at = [strip.start, strip.end];
        let place = match strip.address.as_str() {
            "" => strip.place_name.clone(),
            address => format!("{}, {address}", strip.place_name),
        };
        event(strip.setup.as_str(), at, &strip.name, &place, &more);
    }
}

/// `20261120T171500Z`.
fn date_time(unix_s: i64) -> String {
    let at = jiff::Timestamp::from_second(unix_s).unwrap_or_default();
    at.strftime("%Y%m%dT%H%M%SZ").to_string()
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Appends a content line, folded so that no line is longer than 75 octets and no character is cut.
fn fold(out: &mut String, text: &str) {
    let mut left = 75;
    for c in text.chars() {
        if c.len_utf8() > left {
            out.push_str("\r\n ");
            left = 74;
        }
        left -= c.len_utf8();
        out.push(c);
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_counted_by_the_calendar() {
        assert_eq!(date_time(0), "19700101T000000Z");
        // Source: `date -u -d @N` of GNU coreutils.
        assert_eq!(date_time(1_795_564_800), "20261125T000000Z");
        assert_eq!(date_time(951_782_399), "20000228T235959Z");
        assert_eq!(date_time(951_782_400), "20000229T000000Z");
    }

    #[test]
    fn long_lines_are_folded_between_characters() {
        let mut out = String::new();
        fold(&mut out, &format!("SUMMARY:{}", "é".repeat(80)));
        assert!(out.lines().count() > 1 && out.ends_with("\r\n"));
        assert!(out.split("\r\n").all(|line| line.len() <= 75));
        assert_eq!(
            out.replace("\r\n ", ""),
            format!("SUMMARY:{}\r\n", "é".repeat(80))
        );
    }

    #[test]
    fn marks_of_the_format_are_escaped() {
        assert_eq!(escaped("a;b,c\\d\ne"), "a\\;b\\,c\\\\d\\ne");
    }
}
