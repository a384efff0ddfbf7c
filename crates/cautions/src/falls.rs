//! Edges, stairs, and cameras fixed or held where they could fall.

use crate::scene::{Scene, Stay, Words, distance, number, setups_called};
use crate::{Caution, Kind};
use model::{Danger, Mount, Practice, Setup};

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let edges = stay.near(Danger::Edge, scene.practice.edge_m);
    if !edges.is_empty() {
        let says = format!(
            "{} {} shot at {} with a drop {} (cautions begin at {} m).",
            setups_called(&stay.setups),
            if stay.setups.len() == 1 { "is" } else { "are" },
            stay.name(),
            distance(&edges),
            number(scene.practice.edge_m)
        );
        cautions.push(scene.caution(Kind::Edge, stay, &stay.setups, Vec::new(), says, &EDGE));
    }
    if !stay.near(Danger::Stairs, scene.practice.edge_m).is_empty() {
        let carried: Vec<&Setup> = stay
            .setups
            .iter()
            .copied()
            .filter(|setup| matches!(setup.mount, None | Some(Mount::Hand | Mount::Stabiliser)))
            .collect();
        let (setups, how) = if carried.is_empty() {
            (stay.setups.clone(), "its legs stand on steps")
        } else {
            (carried, "the camera may walk backwards on them")
        };
        let says = format!(
            "There are stairs at {} in {}, and {how}.",
            stay.name(),
            setups_called(&setups)
        );
        cautions.push(scene.caution(Kind::Stairs, stay, &setups, Vec::new(), says, &STAIRS));
    }
    for (mount, kind, how, words) in [
        (
            Mount::Overhead,
            Kind::Overhead,
            "is held out over a drop or water",
            &OVERHEAD,
        ),
        (
            Mount::Rigged,
            Kind::Rigged,
            "is fixed where no person stands",
            &RIGGED,
        ),
    ] {
        let held = |setup: &&&Setup| setup.mount == Some(mount);
        let setups: Vec<&Setup> = stay.setups.iter().filter(held).copied().collect();
        if setups.is_empty() {
            continue;
        }
        let items = setups
            .iter()
            .filter_map(|setup| Some(setup.optics.as_ref()?.camera.clone()))
            .collect();
        let says = format!(
            "The camera {how} in {} at {}.",
            setups_called(&setups),
            stay.name()
        );
        cautions.push(scene.caution(kind, stay, &setups, items, says, words));
    }
}

const EDGE: Words = Words {
    done: &[
        "Stay two metres from the edge; mark that line with tape or light, and nobody walks backwards beyond it.",
        "Whoever must be nearer is held by somebody, or by a harness and a point that qualified people chose.",
        "One person watches the edge and does nothing else.",
    ],
    ask: "Whoever owns the place; qualified people for work at height, under the local code.",
    source: Practice::NOUN.source("edge_m"),
    bring: &["marking tape", "torch"],
};

const STAIRS: Words = Words {
    done: &[
        "Nobody walks backwards on steps without a second person's hand at the back.",
        "Walk it once without the camera; dry and light the steps; nothing in the other hand.",
        "A way through stays free for those who live there.",
    ],
    ask: "The owner, or the city, about blocking a stairway.",
    source: crate::COMMON,
    bring: &["torch"],
};

const OVERHEAD: Words = Words {
    done: &[
        "Two fixings that do not depend on each other: the mount, and a safety cable to something that bears it.",
        "Nobody stands, floats or drives beneath; loose things come out of pockets.",
        "Whoever holds it is held too.",
    ],
    ask: "A rigger or somebody qualified for work at height; whoever owns what is beneath.",
    source: crate::COMMON,
    bring: &["safety cable", "second clamp"],
};

const RIGGED: Words = Words {
    done: &[
        "Two fixings that do not depend on each other: the mount, and a safety cable to something that bears it.",
        "A machine is switched off and its plug drawn while anybody reaches into it, and does not run with the camera inside unless its owner agrees.",
        "Nobody beneath while it is put up or taken down; the rig is looked at again before each pass.",
    ],
    ask: "The venue, about the ceiling or the machine; a rigger for anything above heads.",
    source: crate::COMMON,
    bring: &["safety cable"],
};
