//! Powder, flame, hot lamps, smoke, breakage, and places that burn or choke.

use crate::power::voltage;
use crate::scene::{Scene, Stay, Words, lights, setups_called};
use crate::{Caution, Kind};
use model::text::listed;
use model::{Danger, Effect, KitId, Setup};

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    powder(scene, stay, cautions);
    hot_lights(scene, stay, cautions);
    for (effect, kind, what, words) in [
        (Effect::Flame, Kind::Flame, "An open flame burns", &FLAME),
        (Effect::Smoke, Kind::Smoke, "Smoke or haze is made", &SMOKE),
        (
            Effect::Breakage,
            Kind::Breakage,
            "Something is broken",
            &BREAKAGE,
        ),
    ] {
        let setups = stay.with(effect);
        if setups.is_empty() {
            continue;
        }
        let mut says = format!("{what} in {} at {}", setups_called(&setups), stay.name());
        if effect == Effect::Flame && !stay.all(Danger::Fire).is_empty() {
            says += ", where something burns easily";
        }
        if effect == Effect::Smoke && stay.place.is_some_and(|p| p.interior == Some(true)) {
            says += ", indoors";
        }
        says.push('.');
        cautions.push(scene.caution(kind, stay, &setups, Vec::new(), says, words));
    }
    for (danger, kind, at, what, words) in [
        (
            Danger::Fire,
            Kind::Fire,
            "Something burns easily at",
            "",
            &FIRE,
        ),
        (Danger::Air, Kind::Air, "The air at", " can be bad", &AIR),
    ] {
        let hazards = stay.all(danger);
        if hazards.is_empty() {
            continue;
        }
        let says = format!(
            "{at} {}{what}{}, and {} {} shot there.",
            stay.name(),
            remarks(hazards.iter().map(|hazard| hazard.remark.as_str())),
            setups_called(&stay.setups),
            if stay.setups.len() == 1 { "is" } else { "are" }
        );
        cautions.push(scene.caution(kind, stay, &stay.setups, Vec::new(), says, words));
    }
}

/// ` (oil on the floor)`, when somebody wrote more about it.
fn remarks<'a>(texts: impl Iterator<Item = &'a str>) -> String {
    let texts: Vec<&str> = texts.filter(|text| !text.is_empty()).collect();
    if texts.is_empty() {
        String::new()
    } else {
        format!(" ({})", texts.join("; "))
    }
}

/// Powder, and what could light it in the same setup.
fn powder<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let setups = stay.with(Effect::Powder);
    if setups.is_empty() {
        return;
    }
    let mut sparks: Vec<String> = Vec::new();
    let mut items: Vec<KitId> = Vec::new();
    let mut say = |text: String| {
        if !sparks.contains(&text) {
            sparks.push(text);
        }
    };
    for setup in setups.iter().copied() {
        if setup.effects.contains(&Effect::Flame) {
            say("an open flame".into());
        }
        for (_, light) in lights(scene.project, setup).filter(|(_, item)| is_hot(item)) {
            say(format!("the hot lamp `{}`", light.called()));
            items.push(light.id.clone());
        }
        let live = voltage(scene, stay, setup).items;
        for id in live {
            if !items.contains(id) {
                say(format!(
                    "mains voltage at `{}`",
                    scene.project.item_name(id)
                ));
                items.push(id.clone());
            }
        }
    }
    let mut says = format!(
        "Powder is thrown in {} at {}",
        setups_called(&setups),
        stay.name()
    );
    if stay.place.is_some_and(|place| place.interior == Some(true)) {
        says += ", indoors";
    }
    if !sparks.is_empty() {
        says += &format!(
            ", and the same setups have what can light it: {}",
            sparks.join(", ")
        );
    }
    says.push('.');
    cautions.push(scene.caution(Kind::Powder, stay, &setups, items, says, &POWDER));
}

fn is_hot(item: &model::KitItem) -> bool {
    item.light.as_ref().is_some_and(|light| light.hot)
}

fn hot_lights<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let mut setups: Vec<&Setup> = Vec::new();
    let mut items: Vec<&KitId> = Vec::new();
    for setup in stay.setups.iter().copied() {
        for (light, _) in lights(scene.project, setup).filter(|(_, item)| is_hot(item)) {
            if !setups.iter().any(|known| known.id == setup.id) {
                setups.push(setup);
            }
            if !items.contains(&&light.light) {
                items.push(&light.light);
            }
        }
    }
    if setups.is_empty() {
        return;
    }
    let names = listed(items.iter().map(|id| scene.project.item_name(id)));
    let says = format!(
        "{names} {} hot in {} at {}.",
        if items.len() == 1 { "burns" } else { "burn" },
        setups_called(&setups),
        stay.name()
    );
    let items = items.into_iter().cloned().collect();
    cautions.push(scene.caution(Kind::HotLight, stay, &setups, items, says, &HOT));
}

const POWDER: Words = Words {
    done: &[
        "Only powder that is sold for throwing at people, with its data sheet read.",
        "No flame, cigarette, hot lamp, open connector or spark in the same setup: fine powder in the air can catch fire at once. Throw by hand, not by compressed air.",
        "Goggles and masks for all but the performer, who is asked first about asthma, lenses and skin, and closes eyes and mouth.",
        "Little at a time; let it settle and air the room before the next pass; the floor is slippery afterwards.",
        "Cover the camera; sweep up dry, nothing into drains or water without leave.",
    ],
    ask: "The maker's data sheet; the venue or the city about cleaning and drains; the fire service for more than handfuls, or indoors; a doctor where there is asthma.",
    source: "NFPA Journal, September/October 2015: coloured starch in the air ignited among a crowd",
    bring: &[
        "eyewash",
        "masks",
        "goggles",
        "extinguisher",
        "broom and bags",
    ],
};

const FLAME: Words = Words {
    done: &[
        "One person has the extinguisher in hand and does nothing else.",
        "Hair tied, no loose or synthetic cloth near; a bucket of sand or water and a fire blanket within reach.",
        "Lit for the pass only; somebody stays half an hour after the last flame.",
        "Smoke alarms are not disabled without the venue's people present.",
    ],
    ask: "The venue and its fire rules; the fire service or the city's film office for a permit; an effects technician for anything larger than a candle.",
    source: crate::COMMON,
    bring: &["extinguisher", "fire blanket"],
};

const HOT: Words = Words {
    done: &[
        "Nothing that burns near it: cloth, paper, diffusion, hair; the lamp's own sheet says how far.",
        "Gloves to touch it, and time to cool before it is packed; cord and holder whole.",
        "Never left burning alone; no water near hot glass.",
    ],
    ask: "The maker's sheet of the lamp; the venue about its sprinklers and alarms.",
    source: crate::COMMON,
    bring: &["gloves", "extinguisher"],
};

const FIRE: Words = Words {
    done: &[
        "Know where the extinguisher and the way out are, and keep both free.",
        "No smoking, no flame; hot lamps and charging batteries elsewhere.",
    ],
    ask: "The venue about its fire rules.",
    source: crate::COMMON,
    bring: &["extinguisher"],
};

const SMOKE: Words = Words {
    done: &[
        "Fluid meant for the machine, with its data sheet read; as little as the picture needs.",
        "Tell everybody before the day, and ask about asthma; air the room between passes.",
        "Smoke alarms are the venue's: they are not covered without its people present. Neighbours are told.",
    ],
    ask: "The venue; the fire service where smoke can be seen from outside; a doctor where there is asthma.",
    source: crate::COMMON,
    bring: &["masks"],
};

const BREAKAGE: Words = Words {
    done: &[
        "Breakaway glass or resin instead of real glass.",
        "Goggles, gloves and closed shoes; nobody barefoot on that floor until it is swept, twice.",
        "Everybody but the performer stands back; the pass is walked through with something soft first.",
    ],
    ask: "The venue about its floor; an effects technician for real glass.",
    source: crate::COMMON,
    bring: &["goggles", "gloves", "broom and bags", "first aid"],
};

const AIR: Words = Words {
    done: &[
        "Air the place before and between passes; short stays, breaks outside.",
        "Masks that fit what is in the air; no engine runs in a closed room.",
        "Headache or dizziness: everybody out at once.",
    ],
    ask: "Whoever runs the place, about what is in the air; a doctor where there is asthma.",
    source: crate::COMMON,
    bring: &["masks"],
};
