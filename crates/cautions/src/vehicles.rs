//! Cameras on vehicles with the forces that their mounts bear, driving in the picture, traffic.

use crate::scene::{Scene, Stay, Words, distance, number, setups_called};
use crate::{Caution, Kind};
use model::text::listed;
use model::{Danger, KitId, Mount, Practice, Setup, Sort};
use serde::Serialize;

/// Standard gravity, m/s² (CGPM 1901).
const G: f64 = 9.80665;

/// What a mount on a vehicle bears, newtons.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Forces {
    /// When the vehicle brakes.
    pub forward_n: f64,
    /// When it starts, or backs into something.
    pub rearward_n: f64,
    /// In a bend, to either side.
    pub sideways_n: f64,
    /// How hard it is held down, beside its own weight.
    pub down_n: f64,
}

/// What a mount for `kg` bears under the load case of `practice`: by default the breaking strength
/// of 49 CFR 393.102 (a)(1) and the downward force of (b).
pub fn forces(kg: f64, practice: &Practice) -> Forces {
    let weight_n = kg * G;
    Forces {
        forward_n: weight_n * practice.mount_forward_g,
        rearward_n: weight_n * practice.mount_rearward_g,
        sideways_n: weight_n * practice.mount_sideways_g,
        down_n: weight_n * practice.mount_down_share,
    }
}

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    mounts(scene, stay, cautions);
    let vehicle = |id: &&KitId| {
        let item = scene.project.item(id);
        item.is_some_and(|item| item.sort == Sort::Vehicle)
    };
    let mut items: Vec<&KitId> = Vec::new();
    let mut driving: Vec<&Setup> = Vec::new();
    for setup in stay.setups.iter().copied() {
        for id in setup.kit.iter().map(|used| &used.item).filter(vehicle) {
            if !items.contains(&id) {
                items.push(id);
            }
            if !driving.iter().any(|known| known.id == setup.id) {
                driving.push(setup);
            }
        }
    }
    if !driving.is_empty() {
        let says = format!(
            "{} {} part of {} at {}.",
            listed(items.iter().map(|id| scene.project.item_name(id))),
            if items.len() == 1 { "is" } else { "are" },
            setups_called(&driving),
            stay.name()
        );
        let items = items.into_iter().cloned().collect();
        cautions.push(scene.caution(Kind::Driving, stay, &driving, items, says, &DRIVING));
    }
    let traffic = stay.near(Danger::Traffic, scene.practice.traffic_m);
    if !traffic.is_empty() {
        let says = format!(
            "Traffic passes the work at {} in {}, {}.",
            stay.name(),
            setups_called(&stay.setups),
            distance(&traffic)
        );
        cautions.push(scene.caution(
            Kind::Traffic,
            stay,
            &stay.setups,
            Vec::new(),
            says,
            &TRAFFIC,
        ));
    }
}

fn mounts<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let on = |setup: &&&Setup| setup.mount == Some(Mount::Vehicle);
    let setups: Vec<&Setup> = stay.setups.iter().filter(on).copied().collect();
    if setups.is_empty() {
        return;
    }
    // The heaviest rig stands for all.
    let mut heaviest = 0.0f64;
    let mut unknown: Vec<&KitId> = Vec::new();
    let mut items: Vec<&KitId> = Vec::new();
    for setup in setups.iter().copied() {
        let mut kg = 0.0;
        for id in rig(scene, setup) {
            if !items.contains(&id) {
                items.push(id);
            }
            match scene.project.item(id).and_then(|item| item.weight_kg) {
                Some(weight) if weight.is_finite() && weight >= 0.0 => kg += weight,
                _ if !unknown.contains(&id) => unknown.push(id),
                _ => {}
            }
        }
        heaviest = heaviest.max(kg);
    }
    let known = heaviest > 0.0;
    let per = forces(if known { heaviest } else { 1.0 }, scene.practice);
    let mut says = format!(
        "The camera rides on or in a vehicle in {} at {}; its mount bears {}{:.1} N forward, {:.1} N rearward, {:.1} N sideways and is held down with {:.1} N{}.",
        setups_called(&setups),
        stay.name(),
        if known { "at least " } else { "" },
        per.forward_n,
        per.rearward_n,
        per.sideways_n,
        per.down_n,
        if known {
            format!(", for {} kg", number(heaviest))
        } else {
            " for each kilogram of the rig".into()
        }
    );
    if !unknown.is_empty() {
        let names = listed(unknown.iter().map(|id| scene.project.item_name(id)));
        says += &format!(" No weight is written for {names}.");
    }
    let items = items.into_iter().cloned().collect();
    cautions.push(scene.caution(Kind::VehicleMount, stay, &setups, items, says, &MOUNT));
}

/// What hangs on the mount: camera, lens, filters, and supports the setup lists.
fn rig<'a>(scene: &Scene<'a>, setup: &'a Setup) -> Vec<&'a KitId> {
    let optics = setup
        .optics
        .iter()
        .flat_map(|optics| std::iter::once(&optics.camera).chain(&optics.lens));
    let supports = setup.kit.iter().map(|used| &used.item).filter(|id| {
        let item = scene.project.item(id);
        item.is_some_and(|item| item.sort == Sort::Support)
    });
    optics.chain(&setup.filters).chain(supports).collect()
}

const MOUNT: Words = Words {
    done: &[
        "Whoever drives drives: no monitor, no camera, no performing on an open road.",
        "A safety cable besides suction cups and clamps; glass and paint clean and dry under each cup.",
        "Lights, plates, mirrors and the driver's view stay free; nothing stands out beyond the vehicle.",
        "Slowly first; stop and look at every fixing after the first kilometre, then at each stop.",
        "Acting at the wheel belongs on a closed road or a low loader.",
    ],
    ask: "Police or the city's film office for a permit; the vehicle's insurer; a grip for the mount.",
    source: Practice::NOUN.source("mount_forward_g"),
    bring: &["safety cable", "spare suction cup"],
};

const DRIVING: Words = Words {
    done: &[
        "Whoever drives does nothing else, is rested and sober, and knows the move; belts on.",
        "A vehicle that stands has its engine off, brake on and key out; in a closed room no engine runs.",
        "On a public road the road's rules hold, whatever the picture wants.",
    ],
    ask: "The owner and the insurer; police or the city's film office for anything but ordinary driving.",
    source: crate::COMMON,
    bring: &[],
};

const TRAFFIC: Words = Words {
    done: &[
        "Nobody stands in the way of vehicles, and nobody looks through a camera beside them without a second person who watches.",
        "High-visibility vests for all but the performer; lights do not dazzle drivers; cables don't cross a carriageway.",
        "Rails and tram lanes are left alone without the operator's leave.",
    ],
    ask: "Police or the city's film office; the operator of trams or trains.",
    source: crate::COMMON,
    bring: &["high-visibility vests", "torch"],
};
