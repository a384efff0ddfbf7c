//! Alone at night, leave for public ways, and the nearest hospital.

use crate::scene::{Scene, Stay, Words, setups_called};
use crate::{Caution, Kind};
use model::{Danger, Leave, Setup};

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    alone(scene, stay, cautions);
    minors(scene, stay, cautions);
    let Some(place) = stay.place else { return };
    let leave = place.permission.as_ref().map(|permission| permission.leave);
    let settled = matches!(leave, Some(Leave::Granted | Leave::NotNeeded));
    if place.public == Some(true) && stay.outdoors() && !settled {
        let how = match leave {
            None => "no word of a permission is written",
            Some(Leave::Unasked) => "nobody has been asked for leave",
            Some(Leave::Asked) => "leave has been asked for and not been given",
            Some(Leave::Promised) => "leave has been promised, not written",
            Some(Leave::Refused) => "leave has been refused",
            Some(Leave::Granted | Leave::NotNeeded) => return,
        };
        let says = format!(
            "{} is open to anybody, and {how} ({}).",
            place.name,
            setups_called(&stay.setups)
        );
        let way = scene.caution(Kind::PublicWay, stay, &stay.setups, Vec::new(), says, &WAY);
        cautions.push(way);
    }
    if !place.hazards.is_empty() && place.hospital.trim().is_empty() {
        let says = format!(
            "{} dangers are written for {}, and no hospital.",
            place.hazards.len(),
            place.name
        );
        let says = says.replacen(
            "1 dangers are",
            "1 danger is",
            usize::from(place.hazards.len() == 1),
        );
        let none = scene.caution(
            Kind::NoHospital,
            stay,
            &stay.setups,
            Vec::new(),
            says,
            &HOSPITAL,
        );
        cautions.push(none);
    }
}

fn alone<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let in_the_dark = |setup: &&Setup| {
        let dark = |(day, slot)| scene.is_dark(day, slot);
        setup.people.is_empty() && scene.slots(setup).any(dark)
    };
    let setups: Vec<&Setup> = stay.setups.iter().copied().filter(in_the_dark).collect();
    let lonely = !stay.all(Danger::Lonely).is_empty();
    let says = match (setups.is_empty(), lonely) {
        (true, false) => return,
        (false, false) => format!(
            "{} at {} {} in the dark, and nobody is named besides the maker.",
            setups_called(&setups),
            stay.name(),
            if setups.len() == 1 { "lies" } else { "lie" }
        ),
        (false, true) => format!(
            "{} is a place to judge beforehand; {} {} in the dark there, and nobody is named besides the maker.",
            stay.name(),
            setups_called(&setups),
            if setups.len() == 1 { "lies" } else { "lie" }
        ),
        (true, true) => format!(
            "{} is a place to judge beforehand ({}).",
            stay.name(),
            setups_called(&stay.setups)
        ),
    };
    let setups = if setups.is_empty() {
        stay.setups.clone()
    } else {
        setups
    };
    cautions.push(scene.caution(Kind::Alone, stay, &setups, Vec::new(), says, &ALONE));
}

/// Minors by name; what they may do and when is for local law to say.
fn minors<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    for person in scene.project.people.iter().filter(|person| person.minor) {
        let with = |setup: &&Setup| setup.people.contains(&person.id);
        let setups: Vec<&Setup> = stay.setups.iter().copied().filter(with).collect();
        if setups.is_empty() {
            continue;
        }
        let slots = setups.iter().flat_map(|setup| scene.slots(setup));
        let last = slots.map(|(_, slot)| slot.end).max();
        let until = last.map_or(String::new(), |end| format!(" until {end}"));
        let says = format!(
            "{} is a minor and is there in {}{until}.",
            person.name,
            setups_called(&setups)
        );
        cautions.push(scene.caution(Kind::Minor, stay, &setups, Vec::new(), says, &MINOR));
    }
}

const MINOR: Words = Words {
    done: &[
        "Ask what the law of the place says on hours, night work, breaks, school and permits before anything is agreed; it decides, not the plan.",
        "A parent or guardian stays within sight and sound, has agreed in writing, and can end it at any time.",
        "Their setups first, short and warm; nothing thrown, burnt, high, wet or driven near them.",
    ],
    ask: "The authority for minors' work of the place; parents or guardians; their school.",
    source: crate::COMMON,
    bring: &["written consent"],
};

const ALONE: Words = Words {
    done: &[
        "Go there at that hour before the day: who is there, what light burns, which ways lead out, whether a phone has signal.",
        "Two people at least; where that can't be, somebody knows the place, the hours and the next call, and acts when it does not come.",
        "The car stands near and facing out; valuables out of sight; the kit is not worth an argument.",
        "Nobody walks back alone with the last case.",
    ],
    ask: "Those who live or work there; the local police about that place at that hour.",
    source: crate::COMMON,
    bring: &["torch", "charged phone"],
};

const WAY: Words = Words {
    done: &[
        "Ask early, by letter, with date, hours, number of people and what stands on the ground; carry the answer on paper.",
        "Leave a way through for people, prams and wheelchairs; nothing that trips.",
        "Liability insurance that names the place; neighbours told when it is night.",
    ],
    ask: "The city or its film office; police; whoever owns the ground.",
    source: crate::COMMON,
    bring: &["permission on paper"],
};

const HOSPITAL: Words = Words {
    done: &[
        "Write down the nearest hospital with an emergency department that is open at that hour, and how one gets there.",
        "Write down the number to call: 112 in the EU and elsewhere, the local one otherwise.",
        "Everybody present knows the address of the place, so that they can say it.",
    ],
    ask: "The local health service's directory.",
    source: crate::COMMON,
    bring: &["first aid"],
};
