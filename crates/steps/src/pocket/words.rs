//! What the page says, in words.

use crate::PlaceSky;
use cautions::Caution;
use exposure::setup::CameraSet;
use model::{
    ClockTime, FallsOn, Leave, LightUse, Mount, Place, PlaceId, Project, Setup, SetupId, SongMap,
    SongTime,
};
use pocket::{Care, Clock, Contact, LateLine, LeftOut, Moment, PlaceView, Sound};
use schedule::{DayPlan, LateCell};
use std::collections::BTreeSet;

/// A number with at most two decimals, no zeros behind.
fn plain(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Where a setup stands.
pub(super) fn place_of(project: &Project, setup: &Setup) -> String {
    let place = setup.place.as_ref().and_then(|id| project.place(id));
    place.map(|place| place.name.clone()).unwrap_or_default()
}

/// What part of the song a setup is planned over, as the plan says it.
pub(super) fn part(setup: &Setup) -> String {
    if setup.is_over_all() {
        return "the whole song".into();
    }
    let bars = setup
        .bars
        .iter()
        .map(|[first, last]| bars_of(*first, *last));
    let stretches = setup
        .stretches
        .iter()
        .map(|at| format!("{} to {}", at.start(), at.end()));
    let all: Vec<String> = setup
        .sections
        .iter()
        .cloned()
        .chain(bars)
        .chain(stretches)
        .collect();
    all.join(", ")
}

fn bars_of(first: u32, last: u32) -> String {
    match first == last {
        true => format!("bar {first}"),
        false => format!("bars {first}–{last}"),
    }
}

/// What a sound plays, in bars of the song.
pub(super) fn stretch(map: &SongMap, sound: &Sound) -> String {
    let from = sound.song_at_stretch_s;
    let to = from + (sound.stretch_end_s - sound.stretch_start_s) * sound.speed;
    // A hundredth inside, so that a boundary counts to the bar it opens and the one it closes.
    let bar = |seconds: f64| map.address(SongTime::nearest_to_seconds(seconds)).0;
    let whole = from < 0.01 && to > map.length.seconds() - 0.05;
    match whole {
        true => "the whole song".into(),
        false => bars_of(bar(from + 0.01), bar(to - 0.01)),
    }
}

/// The number of the first bar, where each starts, and where the last one ends, seconds.
pub(super) fn bars(map: &SongMap) -> (u32, Vec<f64>) {
    let starts = map.bars.iter().map(|bar| bar.at.start().seconds());
    let first = map.bars.first().map_or(1, |bar| bar.number);
    (first, starts.chain([map.length.seconds()]).collect())
}

/// Camera, lens and how they are set.
pub(super) fn settings(
    project: &Project,
    setup: &Setup,
    set: Option<&CameraSet>,
) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| {
        if !value.is_empty() {
            out.push((name.to_owned(), value));
        }
    };
    if let Some(optics) = &setup.optics {
        say("camera", project.item_name(&optics.camera).to_owned());
        let lens = optics
            .lens
            .as_ref()
            .map(|lens| project.item_name(lens).to_owned());
        let focal = set
            .and_then(|set| set.focal_mm)
            .map(|mm| format!("{} mm", plain(mm)));
        let both: Vec<String> = lens.into_iter().chain(focal).collect();
        say("lens", both.join(", "));
    }
    if let Some(set) = set.filter(|_| setup.optics.is_some()) {
        say(
            "stop",
            set.t_stop
                .map(|stop| format!("T{}", plain(stop)))
                .unwrap_or_default(),
        );
        say("ISO", set.iso.map(plain).unwrap_or_default());
        let time = set
            .exposure_s
            .filter(|s| *s > 0.0)
            .map(|s| format!(", 1/{} s", plain(1.0 / s)));
        say(
            "shutter",
            format!("{}°{}", plain(set.shutter_deg), time.unwrap_or_default()),
        );
        let rate = match set.rate == set.shown_rate {
            true => format!("{} a second", plain(set.rate.fps())),
            false => format!(
                "{} a second, shown at {}",
                plain(set.rate.fps()),
                plain(set.shown_rate.fps())
            ),
        };
        say("frames", rate);
    }
    let filters: Vec<&str> = setup
        .filters
        .iter()
        .map(|id| project.item_name(id))
        .collect();
    say("filters", filters.join(", "));
    let subject = setup.optics.as_ref().and_then(|optics| optics.subject_m);
    say(
        "subject",
        subject
            .map(|m| format!("{} m away", plain(m)))
            .unwrap_or_default(),
    );
    say("held", setup.mount.map(held).unwrap_or_default().to_owned());
    let others: Vec<String> = setup
        .kit
        .iter()
        .map(|used| match used.count {
            1 => project.item_name(&used.item).to_owned(),
            count => format!("{count} × {}", project.item_name(&used.item)),
        })
        .collect();
    say("also", others.join(", "));
    out
}

fn held(mount: Mount) -> &'static str {
    match mount {
        Mount::Hand => "in the hand",
        Mount::Tripod => "on a tripod",
        Mount::Stabiliser => "on a stabiliser",
        Mount::Rigged => "fixed where no person stands",
        Mount::Vehicle => "on a vehicle",
        Mount::Overhead => "out over a drop",
    }
}

/// Each light as it is set.
pub(super) fn lights(project: &Project, setup: &Setup) -> Vec<String> {
    let light = |used: &LightUse| {
        let mut out = format!(
            "{}: {}, {} m",
            project.item_name(&used.light),
            match used.falls_on {
                FallsOn::Face => "on the face",
                FallsOn::Background => "on the background",
                FallsOn::Both => "on face and background",
                FallsOn::Edge => "from behind",
            },
            plain(used.distance_m)
        );
        if let Some(level) = used.level {
            out.push_str(&format!(", at {} %", plain(level * 100.0)));
        }
        if let Some(loss) = used.loss_stops {
            out.push_str(&format!(", {} stops lost in diffusion", plain(loss)));
        }
        if let Some(gel) = used.gel_mired {
            out.push_str(&format!(", gel {gel:+.0} mired"));
        }
        if let Some(feed) = &used.fed_from {
            out.push_str(&format!(", fed from {}", project.item_name(feed)));
        }
        out
    };
    setup.lights.iter().map(light).collect()
}

/// What is not in the day.
pub(super) fn left_out(plan: &DayPlan) -> Vec<LeftOut> {
    let one = |out: &schedule::LeftOut| LeftOut {
        id: out.setup.clone(),
        name: out.name.clone(),
        why: out
            .why
            .first()
            .cloned()
            .unwrap_or_default()
            .replace('`', ""),
    };
    plan.left_out.iter().map(one).collect()
}

/// What to drop at each point of the day. Points at which no delay changes anything are left out.
pub(super) fn late(
    project: &Project,
    plan: &DayPlan,
    clock: &dyn Fn(ClockTime) -> Clock,
) -> Vec<LateLine> {
    let names = |ids: &[SetupId]| -> String {
        let all: Vec<&str> = ids.iter().map(|id| project.setup_name(id)).collect();
        all.join(", ")
    };
    let says = |cell: &LateCell| {
        let mut out = match cell.drop.is_empty() {
            true => "nothing falls out".to_owned(),
            false => format!("drop {}", names(&cell.drop)),
        };
        if !cell.musts_lost.is_empty() {
            out.push_str(&format!(" (a must is lost: {})", names(&cell.musts_lost)));
        }
        if !cell.add.is_empty() {
            out.push_str(&format!(", take in {}", names(&cell.add)));
        }
        out.push_str(&format!("; wrap {}", cell.wrap));
        out
    };
    let rows = plan.late.iter().flat_map(|late| &late.rows);
    rows.filter(|row| {
        row.cells
            .iter()
            .any(|cell| !cell.drop.is_empty() || !cell.add.is_empty())
    })
    .map(|row| LateLine {
        at: clock(row.at),
        next: project.setup_name(&row.next).to_owned(),
        cells: row
            .cells
            .iter()
            .map(|cell| (cell.late_minutes, says(cell)))
            .collect(),
    })
    .collect()
}

/// The places of the day, in its order.
pub(super) fn places(project: &Project, ids: &[PlaceId]) -> Vec<PlaceView> {
    let mut seen = BTreeSet::new();
    let used = ids.iter().filter(|id| seen.insert((*id).clone()));
    used.filter_map(|id| project.place(id))
        .map(|place| PlaceView {
            name: place.name.clone(),
            address: place.address.clone(),
            hospital: place.hospital.clone(),
            leave: leave(place),
            cautions: place.cautions.clone(),
        })
        .collect()
}

fn leave(place: &Place) -> String {
    let Some(permission) = &place.permission else {
        return String::new();
    };
    let far = match permission.leave {
        Leave::Unasked => "not asked",
        Leave::Asked => "asked, no answer yet",
        Leave::Promised => "promised",
        Leave::Granted => "granted in writing",
        Leave::Refused => "refused",
        Leave::NotNeeded => "not needed",
    };
    match permission.who.as_str() {
        "" => far.to_owned(),
        who => format!("{far} ({who})"),
    }
}

/// Whom to reach.
pub(super) fn contacts(project: &Project) -> Vec<Contact> {
    let hours = |hours: &[[ClockTime; 2]]| -> String {
        let all: Vec<String> = hours
            .iter()
            .map(|[from, to]| format!("{from} to {to}"))
            .collect();
        all.join(", ")
    };
    let one = |person: &model::Person| Contact {
        name: person.name.clone(),
        role: match person.minor {
            true if person.role.is_empty() => "a minor".into(),
            true => format!("{}, a minor", person.role),
            false => person.role.clone(),
        },
        contact: person.contact.clone(),
        hours: hours(&person.hours),
    };
    project.people.iter().map(one).collect()
}

/// What calls for care.
pub(super) fn care(project: &Project, cautions: &[Caution]) -> Vec<Care> {
    let one = |caution: &Caution| {
        let place = caution.finding.places().find_map(|id| project.place(id));
        Care {
            name: caution.kind.words(),
            place: place.map(|place| place.name.clone()).unwrap_or_default(),
            finding: caution.finding.clone(),
            ask: caution.ask.clone(),
        }
    };
    cautions.iter().map(one).collect()
}

/// What happens in the sky from `from_s` to `to_s`, what falls on one instant in one line. The clock counts
/// on past the midnight of `date`.
pub(super) fn moments(days: &[PlaceSky], date: sky::Date, from_s: i64, to_s: i64) -> Vec<Moment> {
    let mut all: Vec<(i64, String, &'static str)> = Vec::new();
    let mut say = |when: sky::When, what| {
        let at: ClockTime = when.clock().parse().unwrap_or_default();
        let at = at.later(24 * 60 * u32::from(when.date() != date));
        all.push((when.unix_s(), at.to_string(), what));
    };
    for day in days {
        for event in &day.sky.events {
            if let Some(what) = event_called(event.what) {
                say(event.at, what);
            }
        }
        let (starts, ends) = (day.sky.day_starts, day.sky.day_ends);
        for (hours, begins, over) in [
            (
                &day.sky.golden_hour,
                "golden hour begins",
                "golden hour ends",
            ),
            (&day.sky.blue_hour, "blue hour begins", "blue hour ends"),
        ] {
            for hour in hours {
                // One cut by midnight neither begins nor ends there.
                if hour.from > starts {
                    say(hour.from, begins);
                }
                if hour.to < ends {
                    say(hour.to, over);
                }
            }
        }
    }
    all.retain(|(at_s, ..)| (from_s..=to_s).contains(at_s));
    all.sort_by_key(|(at_s, ..)| *at_s);
    let mut out: Vec<Moment> = Vec::new();
    for (at_s, text, what) in all {
        match out.last_mut() {
            Some(last) if last.at.at_s.is_some_and(|before| at_s - before <= 30) => {
                last.what = format!("{}, {what}", last.what);
            }
            _ => out.push(Moment {
                at: Clock {
                    text,
                    at_s: Some(at_s),
                },
                what: what.to_owned(),
            }),
        }
    }
    out
}

fn event_called(what: sky::What) -> Option<&'static str> {
    Some(match what {
        sky::What::Sunset => "sunset",
        sky::What::Sunrise => "sunrise",
        sky::What::CivilDusk => "night begins",
        sky::What::CivilDawn => "night ends",
        sky::What::AstronomicalDusk => "full dark begins",
        sky::What::AstronomicalDawn => "full dark ends",
        sky::What::Moonrise => "moonrise",
        sky::What::Moonset => "moonset",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_clocks_are_plain() {
        assert_eq!(plain(2.80), "2.8");
        assert_eq!(plain(50.0), "50");
    }
}
