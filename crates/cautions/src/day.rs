//! Hours: long days, no break, short nights, the way home.
//!
//! Clock times are subtracted as they are written. In a night in which the clocks change, rest is an
//! hour shorter or longer than stated here.

use crate::scene::{Scene, Words, caution};
use crate::{Caution, Kind};
use model::{About, ClockTime, Day, Practice, Project, Slot};

pub(crate) fn of_days(scene: &Scene, cautions: &mut Vec<Caution>) {
    let practice = scene.practice;
    let days = scene.project.days_in_order();
    for day in &days {
        if let Some(end) = end(day) {
            cautions.extend(long(practice, day, end));
            cautions.extend(tired(practice, day, end));
            cautions.extend(late(practice, day, end));
            cautions.extend(no_break(scene.project, day));
        }
    }
    let pairs = days.windows(2);
    cautions.extend(pairs.filter_map(|pair| short_rest(practice, [pair[0], pair[1]])));
}

fn of_day(kind: Kind, day: &Day, says: String, words: &Words) -> Caution {
    caution(kind, vec![About::from(&day.id)], says, words)
}

fn long(practice: &Practice, day: &Day, end: ClockTime) -> Option<Caution> {
    let length = end.minutes().saturating_sub(day.call.minutes());
    let says = format!(
        "The day of {} runs from {} to {end}: {}, longer than {}.",
        day.date,
        day.call,
        hours(length),
        hours(practice.day_min)
    );
    (length > practice.day_min).then(|| of_day(Kind::LongDay, day, says, &LONG))
}

/// The drive home, minutes; 0 where none is said.
fn drive_home(day: &Day) -> u32 {
    day.drive_home_minutes.unwrap_or(0)
}

fn way_home(day: &Day) -> String {
    match drive_home(day) {
        0 => "the way home still to come".into(),
        drive => format!("a drive home of {} still to come", hours(drive)),
    }
}

fn tired(practice: &Practice, day: &Day, end: ClockTime) -> Option<Caution> {
    let since = day.awake_since?;
    let awake = end.minutes().saturating_sub(since.minutes());
    let says = format!(
        "On {} the maker is awake since {since}: {} at the wrap ({end}), with {}.",
        day.date,
        hours(awake),
        way_home(day)
    );
    (awake + drive_home(day) > practice.awake_min).then(|| of_day(Kind::Awake, day, says, &TIRED))
}

fn late(practice: &Practice, day: &Day, end: ClockTime) -> Option<Caution> {
    let late = ClockTime::from_minutes(practice.late_min).unwrap_or_default();
    let says = format!(
        "The day of {} ends at {end}, after {late}, with {}.",
        day.date,
        way_home(day)
    );
    (end.minutes() > practice.late_min).then(|| of_day(Kind::LateEnd, day, says, &HOME))
}

fn no_break(project: &Project, day: &Day) -> Option<Caution> {
    let practice = &project.practice;
    let Work { from, to, unsaid } = longest_work(project, day, practice.break_min)?;
    let clock = |minutes| ClockTime::from_minutes(minutes).unwrap_or_default();
    let mut says = format!(
        "On {} work goes on from {} to {} ({}) without {} minutes free, the way between places not counted.",
        day.date,
        clock(from),
        clock(to),
        hours(to - from),
        practice.break_min
    );
    if !unsaid.is_empty() {
        says += &format!(
            " How long it takes from {} is not said; {} min are taken.",
            unsaid.join(" and from "),
            practice.travel_minutes
        );
    }
    (to - from > practice.work_min).then(|| of_day(Kind::NoBreak, day, says, &BREAK))
}

fn short_rest(practice: &Practice, days: [&Day; 2]) -> Option<Caution> {
    let [first, second] = days;
    let rest = rest_minutes(first, second)?;
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
    let at = days.map(|day| About::from(&day.id)).to_vec();
    (rest < i64::from(practice.rest_min)).then(|| caution(Kind::ShortRest, at, says, &REST))
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

/// A time from the call or a break to the next break, minutes of the day's clock.
struct Work {
    from: u32,
    to: u32,
    /// The ways in it of which nobody said how long they take, so that the usual minutes were taken.
    unsaid: Vec<String>,
}

/// The longest such time. A gap between two slots is a break when `break_min` of it remain after the way
/// between their places ([`model::Way`]); a setup that names no place is where the one before it is.
fn longest_work(project: &Project, day: &Day, break_min: u32) -> Option<Work> {
    let usual = project.practice.travel_minutes;
    let place = |slot: &Slot| project.setup(&slot.setup)?.place.as_ref();
    let mut slots: Vec<&Slot> = day.order.iter().collect();
    slots.sort_by_key(|slot| (slot.start, slot.end));
    let (first, rest) = slots.split_first()?;
    let from = day.call.minutes().min(first.start.minutes());
    let mut now = Work {
        from,
        to: first.end.minutes().max(from),
        unsaid: Vec::new(),
    };
    let mut here = place(first);
    let mut longest: Option<Work> = None;
    let mut done = |work: Work| {
        let more = |best: &Work| work.to - work.from > best.to - best.from;
        if longest.as_ref().is_none_or(more) {
            longest = Some(work);
        }
    };
    for slot in rest {
        let there = place(slot).or(here);
        let way = match (here, there) {
            (Some(here), Some(there)) => project.way(here.as_str(), there.as_str(), usual),
            _ => project.way("", "", usual),
        };
        let gap = f64::from(slot.start.minutes().saturating_sub(now.to));
        let end = slot.end.minutes();
        if gap - way.minutes >= f64::from(break_min) {
            let from = slot.start.minutes();
            let next = Work {
                from,
                to: now.to.max(end).max(from),
                unsaid: Vec::new(),
            };
            done(std::mem::replace(&mut now, next));
        } else {
            now.to = now.to.max(end);
            if let (false, Some(here), Some(there)) = (way.said, here, there) {
                now.unsaid.push(format!("`{here}` to `{there}`"));
            }
        }
        here = there;
    }
    done(now);
    longest
}

/// Minutes from the end of one day to the call of the next; negative when they overlap.
fn rest_minutes(first: &Day, second: &Day) -> Option<i64> {
    let days = first.date.days_until(second.date);
    let end = i64::from(end(first)?.minutes());
    Some(days * 1440 + i64::from(second.call.minutes()) - end)
}

const LONG: Words = Words {
    done: &[
        "Agree the end before the start, and drop setups rather than hours.",
        "Eat something warm within six hours of the call; a person who does not shoot watches the clock.",
        "The most dangerous things early, none in the last hour.",
    ],
    ask: "Everybody who works that day; the agreement or law that covers them.",
    source: crate::COMMON,
    bring: &["food and water"],
};

const BREAK: Words = Words {
    done: &[
        "Plan half an hour to sit and eat within six hours of the call.",
        "A company move is no break for whoever drives and carries.",
    ],
    ask: "The agreement or law that covers those who work.",
    source: Practice::NOUN.source("work_min"),
    bring: &["food and water"],
};

const REST: Words = Words {
    done: &[
        "Call the second day later, or end the first one earlier; ten hours is the least that is customary.",
        "Count the way home and back as work, not as rest.",
    ],
    ask: "The agreement or law that covers those who work.",
    source: Practice::NOUN.source("rest_min"),
    bring: &[],
};

const TIRED: Words = Words {
    done: &[
        "Sleep before the call, or begin later: nothing else makes up for hours awake.",
        "Somebody who slept drives, or one sleeps near the place; the kit waits until the morning.",
        "Heights, water, mains and vehicles go to the first half of the day.",
    ],
    ask: "Everybody who drives that night, since when they are awake; a doctor for whoever takes medicine that tires.",
    source: Practice::NOUN.source("awake_min"),
    bring: &[],
};

const HOME: Words = Words {
    done: &[
        "Nobody drives home tired: a bed near the place, a taxi, or somebody who slept before.",
        "Everybody says when they are home.",
    ],
    ask: "Everybody who works that night, how they get home.",
    source: crate::COMMON,
    bring: &[],
};
