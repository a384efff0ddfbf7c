//! Beside water, in it, and what cold water does.

use crate::scene::{Scene, Stay, Words, distance, number, setups_called};
use crate::{Caution, Kind};
use model::{Danger, Effect, Practice};

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let near = stay.near(Danger::Water, scene.practice.edge_m);
    if !near.is_empty() {
        let says = format!(
            "{} {} shot at {} with water {} (cautions begin at {} m).",
            setups_called(&stay.setups),
            if stay.setups.len() == 1 { "is" } else { "are" },
            stay.name(),
            distance(&near),
            number(scene.practice.edge_m)
        );
        cautions.push(scene.caution(Kind::Water, stay, &stay.setups, Vec::new(), says, &BESIDE));
    }
    let swimming = stay.with(Effect::InWater);
    if !swimming.is_empty() {
        let says = format!(
            "In {} the performer stands or swims in water at {}.",
            setups_called(&swimming),
            stay.name()
        );
        cautions.push(scene.caution(Kind::InWater, stay, &swimming, Vec::new(), says, &IN_WATER));
    }
    cold_water(scene, stay, cautions);
    let wet = stay.with(Effect::Wet);
    if !wet.is_empty() {
        let says = format!(
            "In {} water is poured on the performer at {}.",
            setups_called(&wet),
            stay.name()
        );
        cautions.push(scene.caution(Kind::Wet, stay, &wet, Vec::new(), says, &WET));
    }
}

fn cold_water<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let swimming = stay.with(Effect::InWater);
    // Somebody in the water is in the water of the place, however far it is from the camera.
    let reach = if swimming.is_empty() {
        scene.practice.edge_m
    } else {
        f64::INFINITY
    };
    let water = stay.near(Danger::Water, reach);
    let coldest = water
        .iter()
        .filter_map(|hazard| hazard.water_c)
        .reduce(f64::min);
    let limit = number(scene.practice.cold_water_c);
    let says = match coldest {
        Some(celsius) if celsius < scene.practice.cold_water_c => format!(
            "The water at {} is {} °C, colder than {limit} °C: about 1 minute until breathing is in hand again, 10 minutes of useful movement, 1 hour until a person faints; the times vary.",
            stay.name(),
            number(celsius)
        ),
        None if !swimming.is_empty() => format!(
            "How cold the water at {} is is not written, and the performer is in it; below {limit} °C it takes the breath.",
            stay.name()
        ),
        _ => return,
    };
    let setups = if swimming.is_empty() {
        stay.setups.clone()
    } else {
        swimming
    };
    cautions.push(scene.caution(Kind::ColdWater, stay, &setups, Vec::new(), says, &COLD));
}

const BESIDE: Words = Words {
    done: &[
        "Stay two metres from the edge unless somebody holds on; mark that line with tape or light.",
        "One person watches the edge and does nothing else; nobody works there alone.",
        "Whoever must be nearer wears a life jacket; a throw line lies at hand, and a way out of the water is known.",
        "On a wet floor, shoes that grip, and cables off the ground.",
        "If somebody falls in: call for help first, throw, don't jump after.",
    ],
    ask: "The harbour authority or whoever keeps the shore; the local code for work beside water.",
    source: Practice::NOUN.source("edge_m"),
    bring: &["throw line", "life jacket", "torch"],
};

const IN_WATER: Words = Words {
    done: &[
        "Nobody is in the water alone: one person who can rescue watches and does nothing else.",
        "Try depth, ground, current and the way out before the light goes.",
        "Short passes, last of the day; dry clothes, something warm and a heated car stand ready.",
        "No mains voltage near; a signal to stop is agreed.",
    ],
    ask: "A lifeguard; the harbour authority or the pool; a doctor where there is a heart or lung complaint.",
    source: crate::COMMON,
    bring: &[
        "throw line",
        "life jacket",
        "towels and dry clothes",
        "hot drink",
    ],
};

const COLD: Words = Words {
    done: &[
        "Whoever falls in floats on the back first; shock passes within 60 to 90 seconds.",
        "A life jacket holds the mouth above the water while the arms give out.",
        "Out of the water: out of the wind, wet clothes off, dry ones on, warmed slowly; shivering that stops is an emergency.",
    ],
    ask: "A lifeguard or the harbour authority; a doctor where there is a heart or lung complaint.",
    source: "RNLI: below 15 °C is cold water, float first; US Coast Guard: 1 minute, 10 minutes, 1 hour (reprinted)",
    bring: &["life jacket", "throw line", "blanket", "dry clothes"],
};

const WET: Words = Words {
    done: &[
        "Wet passes last; warm water where there is any; dry clothes and a warm room or car between passes.",
        "Dry the floor before anybody walks on it; keep lights and cables out of reach of the splash.",
    ],
    ask: "The performer, before the day; the venue about its floor and drains.",
    source: crate::COMMON,
    bring: &["towels and dry clothes", "hot drink"],
};
