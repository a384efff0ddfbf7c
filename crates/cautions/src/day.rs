//! Hours: long days, no break, short nights, the way home.
//!
//! Clock times are subtracted as they are written. In a night in which the clocks change, rest is an
//! hour shorter or longer than stated here.

use crate::practice::{AWAKE, COMMON, DIRECTIVE_3, DIRECTIVE_4};
use crate::scene::{Scene, Words, caution};
use crate::{Caution, Kind, Where};
use model::{ClockTime, Day, Project, Slot};

pub(crate) fn of_days(scene: &Scene, cautions: &mut Vec<Caution>) {
    let practice = scene.practice;
    let mut days: Vec<&Day> = scene.project.days.iter().collect();
    days.sort_by(|a, b| (&a.date, a.call).cmp(&(&b.date, b.call)));
    for day in &days {
        let Some(end) = end(day) else { continue };
        let at = || Where {
            days: vec![day.id.clone()],
            ..Where::default()
        };
        let length = end.minutes().saturating_sub(day.call.minutes());
        if length > practice.day_min {
            let says = format!(
                "The day of {} runs from {} to {end}: {}, longer than {}.",
                day.date,
                day.call,
                hours(length),
                hours(practice.day_min)
            );
            cautions.push(caution(Kind::LongDay, at(), says, &LONG));
        }
        let drive = day.drive_home_minutes.filter(|drive| *drive > 0);
        let home = match drive {
            Some(drive) => format!("a drive home of {} still to come", hours(drive)),
            None => "the way home still to come".into(),
        };
        if let Some(since) = day.awake_since {
            let awake = end.minutes().saturating_sub(since.minutes());
            let at_home = awake + drive.unwrap_or(0);
            if at_home > practice.awake_min {
                let says = format!(
                    "On {} the maker is awake since {since}: {} at the wrap ({end}), with {home}.",
                    day.date,
                    hours(awake)
                );
                cautions.push(caution(Kind::Awake, at(), says, &TIRED));
            }
        }
        if end.minutes() > practice.late_min {
            let late = ClockTime::from_minutes(practice.late_min).unwrap_or_default();
            let says = format!(
                "The day of {} ends at {end}, after {late}, with {home}.",
                day.date
            );
            cautions.push(caution(Kind::LateEnd, at(), says, &HOME));
        }
        if let Some([from, to]) = longest_stretch(scene.project, day, practice.break_min)
            && to - from > practice.stretch_min
        {
            let clock = |minutes| ClockTime::from_minutes(minutes).unwrap_or_default();
            let says = format!(
                "On {} work goes on from {} to {} ({}) without {} minutes free, the way between places not counted.",
                day.date,
                clock(from),
                clock(to),
                hours(to - from),
                practice.break_min
            );
            cautions.push(caution(Kind::NoBreak, at(), says, &BREAK));
        }
    }
    for pair in days.windows(2) {
        let [first, second] = pair else { continue };
        let Some(rest) = rest_minutes(first, second) else {
            continue;
        };
        if rest < i64::from(practice.rest_min) {
            let between = match u32::try_from(rest) {
                Ok(rest) => format!("{} of rest lie", hours(rest)),
                Err(_) => "no rest lies".into(),
            };
            let says = format!(
                "Between the days of {} and {} {between}, less than {}.",
                first.date,
                second.date,
                hours(practice.rest_min)
            );
            let at = Where {
                days: vec![first.id.clone(), second.id.clone()],
                ..Where::default()
            };
            cautions.push(caution(Kind::ShortRest, at, says, &REST));
        }
    }
}

/// When a day is over: with its last slot, or at its latest wrap when nothing is ordered.
fn end(day: &Day) -> Option<ClockTime> {
    let last = day.order.iter().map(|slot| slot.end).max();
    last.or(day.latest_wrap)
}

/// `12 h`, `10 h 30 min`.
fn hours(minutes: u32) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes:02} min"),
    }
}

/// The longest time from the call or a break to the next break, minutes of the day's clock. A gap
/// between two slots is a break when `break_min` of it remain after the way between their places.
fn longest_stretch(project: &Project, day: &Day, break_min: u32) -> Option<[u32; 2]> {
    let mut slots: Vec<&Slot> = day.order.iter().collect();
    slots.sort_by_key(|slot| (slot.start, slot.end));
    let first = slots.first()?;
    let mut from = day.call.minutes().min(first.start.minutes());
    let mut to = first.end.minutes().max(from);
    let mut longest = [from, to];
    for pair in slots.windows(2) {
        let [before, after] = pair else { continue };
        let gap = after.start.minutes().saturating_sub(to);
        if gap.saturating_sub(travel(project, before, after)) >= break_min {
            from = after.start.minutes();
        }
        to = to.max(after.end.minutes());
        if to.saturating_sub(from) > longest[1] - longest[0] {
            longest = [from, to];
        }
    }
    Some(longest)
}

/// Minutes between the places of two slots, as far as they are written, either way round.
fn travel(project: &Project, before: &Slot, after: &Slot) -> u32 {
    let place = |slot: &Slot| {
        let setup = project.setup(&slot.setup)?;
        project.place(setup.place.as_ref()?)
    };
    let (Some(here), Some(there)) = (place(before), place(after)) else {
        return 0;
    };
    let to = |way: &model::Travel| way.to == there.id;
    let back = |way: &model::Travel| way.to == here.id;
    let way = here.travel.iter().find(|way| to(way));
    let way = way.or_else(|| there.travel.iter().find(|way| back(way)));
    way.map_or(0, |way| way.minutes)
}

/// Minutes from the end of one day to the call of the next; negative when they overlap.
fn rest_minutes(first: &Day, second: &Day) -> Option<i64> {
    let days = day_number(&second.date)? - day_number(&first.date)?;
    let end = i64::from(end(first)?.minutes());
    Some(days * 1440 + i64::from(second.call.minutes()) - end)
}

/// Days since 1 March of year 0 in the proleptic Gregorian calendar: a year that begins in March
/// has its leap day at its end, and the months from March on begin (153 m + 2) / 5 days into it.
fn day_number(date: &str) -> Option<i64> {
    let mut parts = date.split('-').map(str::parse::<i64>);
    let mut next = || parts.next()?.ok();
    let (year, month, day) = (next()?, next()?, next()?);
    if !(1..=9999).contains(&year) || !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return None;
    }
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    Some(year * 365 + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + day - 1)
}

const LONG: Words = Words {
    done: &[
        "Agree the end before the start, and drop setups rather than hours.",
        "Eat something warm within six hours of the call; a person who does not shoot watches the clock.",
        "The most dangerous things early, none in the last hour.",
    ],
    ask: "Everybody who works that day; the agreement or law that covers them.",
    source: COMMON,
    bring: &["food and water"],
};

const BREAK: Words = Words {
    done: &[
        "Plan half an hour to sit and eat within six hours of the call.",
        "A company move is no break for whoever drives and carries.",
    ],
    ask: "The agreement or law that covers those who work.",
    source: DIRECTIVE_4,
    bring: &["food and water"],
};

const REST: Words = Words {
    done: &[
        "Call the second day later, or end the first one earlier; ten hours is the least that is customary.",
        "Count the way home and back as work, not as rest.",
    ],
    ask: "The agreement or law that covers those who work.",
    source: DIRECTIVE_3,
    bring: &[],
};

const TIRED: Words = Words {
    done: &[
        "Sleep before the call, or begin later: nothing else makes up for hours awake.",
        "Somebody who slept drives, or one sleeps near the place; the kit waits until the morning.",
        "Heights, water, mains and vehicles go to the first half of the day.",
    ],
    ask: "Everybody who drives that night, since when they are awake; a doctor for whoever takes medicine that tires.",
    source: AWAKE,
    bring: &[],
};

const HOME: Words = Words {
    done: &[
        "Nobody drives home tired: a bed near the place, a taxi, or somebody who slept before.",
        "Everybody says when they are home.",
    ],
    ask: "Everybody who works that night, how they get home.",
    source: COMMON,
    bring: &[],
};

#[cfg(test)]
mod tests {
    use super::day_number;

    #[test]
    fn days_are_counted_across_leap_years() {
        let between = |a: &str, b: &str| day_number(b).unwrap() - day_number(a).unwrap();
        // By the calendar: 2026 and 2100 have no leap day, 2024 and 2000 have one.
        assert_eq!(between("2026-10-03", "2026-10-04"), 1);
        assert_eq!(between("2026-02-28", "2026-03-01"), 1);
        assert_eq!(between("2024-02-28", "2024-03-01"), 2);
        assert_eq!(between("2000-02-28", "2000-03-01"), 2);
        assert_eq!(between("2100-02-28", "2100-03-01"), 1);
        assert_eq!(between("2025-12-31", "2026-01-01"), 1);
        // 1970-01-01 to 2026-11-25 are 20,782 days (1,795,564,800 s of Unix time / 86,400).
        assert_eq!(between("1970-01-01", "2026-11-25"), 20_782);
        for bad in ["", "2026", "2026-13-01", "0-1-1", "2026-1-x", "99999-01-01"] {
            assert_eq!(day_number(bad), None, "{bad}");
        }
    }
}
