//! Why no day holds every must: the smallest set of reasons that already rules it out.

use crate::instance::{Candidate, Instance, list};
use model::clock::shown;

/// What could be given up to make room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reason {
    /// That this setup's shoot needs its light.
    Light(usize),
    /// That one may be at this setup's place only then.
    Access(usize),
    /// That the day ends.
    Wrap,
    /// That there is a meal.
    Meal,
    /// That ways take time.
    Ways,
    /// That setups of a higher state come later.
    States,
    /// That this setup waits for others.
    After(usize),
}

/// Sentences for `instance`, for which no day holds every must. Whether any day does says `possible`; where it
/// can't (the time is up), less is said.
pub(crate) fn reasons(
    instance: &Instance,
    possible: &dyn Fn(&Instance) -> Option<bool>,
) -> Vec<String> {
    let mut out = Vec::new();
    let musts: Vec<usize> = (0..instance.setups.len())
        .filter(|at| instance.setups[*at].must && !is_done(instance, *at))
        .collect();
    // The fewest musts that can't be together.
    let with = |chosen: &[usize]| {
        let mut one = instance.clone();
        for (at, setup) in one.setups.iter_mut().enumerate() {
            setup.must &= chosen.contains(&at) || is_done(instance, at);
        }
        one
    };
    let Some(chosen) = fewest(&musts, &|chosen| possible(&with(chosen)) == Some(false)) else {
        out.push("the musts can't all be shot on this day; the time given was too short to say which reasons suffice".into());
        return out;
    };
    let involved = with_what_they_wait_for(instance, &chosen);
    let clash = with(&chosen);
    let candidates = could_be_given_up(instance, &involved);
    let all: Vec<usize> = (0..candidates.len()).collect();
    let kept = fewest(&all, &|kept| {
        let mut one = clash.clone();
        for (at, reason) in candidates.iter().enumerate() {
            if !kept.contains(&at) {
                give_up(&mut one, *reason);
            }
        }
        possible(&one) == Some(false)
    });
    let names: Vec<String> = chosen
        .iter()
        .map(|at| instance.setups[*at].id.clone())
        .collect();
    out.push(match &names[..] {
        [] => "the day can't begin as it stands".into(),
        [_] => format!("{} can't be shot on this day", list(&names)),
        _ => format!("{} can't all be shot on this day", list(&names)),
    });
    let mut said: Vec<String> = Vec::new();
    for reason in kept.into_iter().flatten().map(|at| candidates[at]) {
        for sentence in sentences(instance, reason, &involved) {
            if !said.contains(&sentence) {
                said.push(sentence);
            }
        }
    }
    said.extend(involved.iter().map(|at| takes(&instance.setups[*at])));
    let clock = |at: i64| shown(instance.clocks.shown(at) as f64);
    if let Some(begun) = &instance.begun {
        said.push(format!("it is {}", clock(begun.now)));
    } else {
        said.push(format!("the call is at {}", clock(instance.call)));
    }
    out.extend(said);
    out
}

/// The setups `chosen`, and what they wait for.
fn with_what_they_wait_for(instance: &Instance, chosen: &[usize]) -> Vec<usize> {
    let mut involved = chosen.to_vec();
    let mut nth = 0;
    while let Some(at) = involved.get(nth).copied() {
        nth += 1;
        for name in &instance.setups[at].after {
            let other = instance.setups.iter().position(|setup| setup.id == *name);
            if let Some(other) = other
                && !involved.contains(&other)
                && !is_done(instance, other)
            {
                involved.push(other);
            }
        }
    }
    involved
}

fn could_be_given_up(instance: &Instance, involved: &[usize]) -> Vec<Reason> {
    let mut candidates = Vec::new();
    for at in involved {
        let setup = &instance.setups[*at];
        if setup.light.is_some() {
            candidates.push(Reason::Light(*at));
        }
        if setup.access.is_some() {
            candidates.push(Reason::Access(*at));
        }
        if !setup.after.is_empty() {
            candidates.push(Reason::After(*at));
        }
    }
    candidates.extend([Reason::States, Reason::Meal, Reason::Ways, Reason::Wrap]);
    candidates
}

/// How long a setup takes, as a sentence.
fn takes(setup: &Candidate) -> String {
    let rig = match setup.rig_minutes {
        0 => String::new(),
        rig => format!("{rig} min to rig and "),
    };
    format!(
        "`{}` takes {rig}{} min to shoot",
        setup.id, setup.shoot_minutes
    )
}

fn is_done(instance: &Instance, at: usize) -> bool {
    let id = &instance.setups[at].id;
    let begun = instance.begun.as_ref();
    begun.is_some_and(|begun| begun.done.contains(id))
}

/// The fewest of `all` for which `holds`; it is known, or hoped, to hold for all of them, and to go on holding for
/// more when it holds for some. Up to four are sought by trying every choice; beyond that what can be left
/// out one by one is left out, which leaves a set of which none can be spared.
fn fewest(all: &[usize], holds: &dyn Fn(&[usize]) -> bool) -> Option<Vec<usize>> {
    const TRIED: usize = 3_000;
    let mut tries = 0;
    'sizes: for size in 0..=4.min(all.len()) {
        let mut picked: Vec<usize> = (0..size).collect();
        loop {
            let some: Vec<usize> = picked.iter().map(|at| all[*at]).collect();
            if holds(&some) {
                return Some(some);
            }
            tries += 1;
            if tries > TRIED {
                break 'sizes;
            }
            // The next choice in order.
            let Some(at) = (0..size)
                .rev()
                .find(|at| picked[*at] < all.len() - size + at)
            else {
                break;
            };
            picked[at] += 1;
            for next in at + 1..size {
                picked[next] = picked[next - 1] + 1;
            }
        }
    }
    let mut some = all.to_vec();
    if !holds(&some) {
        return None;
    }
    for one in all {
        let fewer: Vec<usize> = some.iter().copied().filter(|at| at != one).collect();
        if holds(&fewer) {
            some = fewer;
        }
    }
    Some(some)
}

fn give_up(instance: &mut Instance, reason: Reason) {
    match reason {
        Reason::Light(at) => instance.setups[at].light = None,
        Reason::Access(at) => instance.setups[at].access = None,
        Reason::After(at) => instance.setups[at].after.clear(),
        // As long as all of it could take with every wait.
        Reason::Wrap => instance.latest_wrap = crate::instance::MOST_MINUTES,
        Reason::Meal => instance.meal = None,
        Reason::Ways => {
            for ways in instance.travel_minutes.values_mut() {
                ways.values_mut().for_each(|minutes| *minutes = 0);
            }
        }
        Reason::States => instance.setups.iter_mut().for_each(|setup| setup.state = 0),
    }
}

fn sentences(instance: &Instance, reason: Reason, involved: &[usize]) -> Vec<String> {
    let clock = |at: i64| shown(instance.clocks.shown(at) as f64);
    let windows = |windows: &[[i64; 2]]| -> String {
        let each: Vec<String> = windows
            .iter()
            .map(|[open, close]| format!("{}–{}", clock(*open), clock(*close)))
            .collect();
        each.join(" or ")
    };
    match reason {
        Reason::Light(at) => {
            let setup = &instance.setups[at];
            let light = setup.light.as_deref().unwrap_or_default();
            let what = match setup.light_is.as_str() {
                "" => "its light",
                known => known,
            };
            vec![match light {
                [] => format!("`{}` needs {what}, which never comes on this day", setup.id),
                _ => format!("`{}` needs {what}, {}", setup.id, windows(light)),
            }]
        }
        Reason::Access(at) => {
            let setup = &instance.setups[at];
            let access = setup.access.as_deref().unwrap_or_default();
            vec![match access {
                [] => format!("`{}` is never open on this day", setup.place),
                _ => format!("`{}` is open {}", setup.place, windows(access)),
            }]
        }
        Reason::Wrap => vec![format!(
            "the latest wrap is {}",
            clock(instance.latest_wrap)
        )],
        Reason::Meal => instance
            .meal
            .iter()
            .map(|meal| {
                format!(
                    "a meal of {} min starts by {}",
                    meal.minutes,
                    clock(instance.call + meal.latest_start_after_call)
                )
            })
            .collect(),
        Reason::Ways => moves(instance, involved),
        Reason::States => {
            let mut by_state: Vec<(i64, &String)> = involved
                .iter()
                .map(|at| (instance.setups[*at].state, &instance.setups[*at].id))
                .collect();
            by_state.sort();
            by_state
                .windows(2)
                .filter(|pair| pair[0].0 < pair[1].0)
                .map(|pair| {
                    format!(
                        "`{}` comes before `{}`, whose state can't be undone",
                        pair[0].1, pair[1].1
                    )
                })
                .collect()
        }
        Reason::After(at) => {
            let setup = &instance.setups[at];
            vec![format!("`{}` comes after {}", setup.id, list(&setup.after))]
        }
    }
}

/// What the moves between the places of `involved` take.
fn moves(instance: &Instance, involved: &[usize]) -> Vec<String> {
    let mut places: Vec<&String> = instance.start_place.iter().collect();
    places.extend(involved.iter().map(|at| &instance.setups[*at].place));
    let mut out = Vec::new();
    for (nth, from) in places.iter().enumerate() {
        for to in &places[nth + 1..] {
            if let Some(minutes) = instance.way(from, to)
                && minutes > 0
            {
                out.push(format!(
                    "the move from `{from}` to `{to}` takes {minutes} min"
                ));
            }
        }
    }
    out
}
