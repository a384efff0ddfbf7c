//! Mains voltage near water, unprotected sockets, batteries and how they travel.

use crate::scene::{Scene, Stay, Words, caution, distance, number, setups_called};
use crate::{Caution, Kind};
use model::kit::{AIR_MOST_WH, AIR_SPARES, Allowance, MAINS, allowance, connector};
use model::text::listed;
use model::{About, Danger, Effect, KitId, KitItem, Practice, Setup};

/// Mains voltage in a setup.
#[derive(Default)]
pub(crate) struct Voltage<'a> {
    /// What carries it: lamps, supplies, inverters.
    pub items: Vec<&'a KitId>,
    /// Whether any of it comes out of a wall.
    pub wall: bool,
}

fn is_mains(word: &str) -> bool {
    connector(word) == MAINS
}

/// What carries mains voltage in a setup: what is fed from the wall, from an inverter, or from a
/// battery with a mains outlet; and what has a mains plug and nothing in the kit to feed it
/// otherwise. Where the plan does not say and the place has a socket, the socket counts, with the
/// supply that makes of it what a thing takes.
pub(crate) fn voltage<'a>(scene: &Scene<'a>, stay: &Stay<'a>, setup: &'a Setup) -> Voltage<'a> {
    let mut found = Voltage::default();
    let socket = stay.place.is_some_and(|place| place.mains.is_some());
    for (id, from) in setup.fed() {
        let item = scene.project.item(id);
        if item.is_some_and(|item| item.inverter.is_some()) {
            found.add(id);
        }
        match from {
            Some(from) if is_mains(from.as_str()) => {
                found.add(id);
                found.wall = true;
            }
            Some(from) => {
                // A plug for mains and nothing else: an inverter stands somewhere between.
                if let Some(item) = item
                    && !item.fed_by.is_empty()
                    && item.fed_by.iter().all(|connector| is_mains(connector))
                {
                    found.add(id);
                }
                if let Some(source) = scene.project.item(from)
                    && (source.inverter.is_some() || outlet(source, item))
                {
                    found.add(id);
                    found.add(from);
                }
            }
            None => {
                let Some(item) = item else { continue };
                let plug = item.fed_by.iter().any(|connector| is_mains(connector));
                let waits = item.battery.is_some() || item.charger.is_some();
                if plug && !waits && (socket || !otherwise(scene, item)) {
                    found.add(id);
                    found.wall |= socket;
                } else if plug && item.charger.is_some() && socket {
                    found.add(id);
                    found.wall = true;
                }
                if socket
                    && !waits
                    && let Some(supply) = supply(scene, item)
                {
                    found.add(&supply.id);
                    found.wall = true;
                }
            }
        }
    }
    found
}

impl<'a> Voltage<'a> {
    fn add(&mut self, id: &'a KitId) {
        if !self.items.contains(&id) {
            self.items.push(id);
        }
    }
}

/// Whether a source gives mains to what takes mains.
fn outlet(source: &KitItem, item: Option<&KitItem>) -> bool {
    source.feeds.iter().any(|connector| is_mains(connector))
        && item.is_some_and(|item| item.fed_by.iter().any(|connector| is_mains(connector)))
}

/// What in the kit makes of a socket what an item takes.
fn supply<'a>(scene: &Scene<'a>, item: &KitItem) -> Option<&'a KitItem> {
    let alike = |given: &String| {
        let wanted = |wanted: &String| given.trim().eq_ignore_ascii_case(wanted.trim());
        !is_mains(given) && item.fed_by.iter().any(wanted)
    };
    scene.project.kit.iter().find(|supply| {
        supply.battery.is_none()
            && supply.charger.is_none()
            && supply.fed_by.iter().any(|connector| is_mains(connector))
            && supply.feeds.iter().any(alike)
    })
}

/// Whether anything in the kit feeds an item by another connector than mains.
fn otherwise(scene: &Scene, item: &KitItem) -> bool {
    let other = |connector: &&String| !is_mains(connector);
    item.fed_by.iter().filter(other).any(|wanted| {
        let gives = |given: &String| given.trim().eq_ignore_ascii_case(wanted.trim());
        let source = |source: &KitItem| source.id != item.id && source.feeds.iter().any(gives);
        scene.project.kit.iter().any(source)
    })
}

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let near = stay.near(Danger::Water, scene.practice.electric_water_m);
    let mut beside: Vec<&Setup> = Vec::new();
    let mut on_performer = false;
    let mut items: Vec<&KitId> = Vec::new();
    let mut walls: Vec<&Setup> = Vec::new();
    let mut plugged: Vec<&KitId> = Vec::new();
    for setup in stay.setups.iter().copied() {
        let voltage = voltage(scene, stay, setup);
        if voltage.items.is_empty() {
            continue;
        }
        let wet = setup
            .effects
            .iter()
            .any(|effect| matches!(effect, Effect::Wet | Effect::InWater));
        if wet || !near.is_empty() {
            on_performer |= wet;
            beside.push(setup);
            add(&mut items, &voltage.items);
        }
        if voltage.wall {
            walls.push(setup);
            add(&mut plugged, &voltage.items);
        }
    }
    if !beside.is_empty() {
        let mut water = Vec::new();
        if !near.is_empty() {
            water.push(format!(
                "water {} (cautions begin at {} m)",
                distance(&near),
                number(scene.practice.electric_water_m)
            ));
        }
        if on_performer {
            water.push("water on or around the performer".into());
        }
        let says = format!(
            "At {}, {} {} mains voltage in {}, with {}.",
            stay.name(),
            listed(items.iter().map(|id| scene.project.item_name(id))),
            if items.len() == 1 { "carries" } else { "carry" },
            setups_called(&beside),
            water.join(" and ")
        );
        let items = items.into_iter().cloned().collect();
        cautions.push(scene.caution(
            Kind::ElectricityAndWater,
            stay,
            &beside,
            items,
            says,
            &WATER,
        ));
    }
    let protected = stay
        .place
        .and_then(|place| place.mains.as_ref())
        .and_then(|mains| mains.residual_current_device);
    if !walls.is_empty() && protected != Some(true) {
        let known = match protected {
            Some(_) => "no residual-current device protects it, as written",
            None => "whether a residual-current device protects it is not written",
        };
        let says = format!(
            "A mains socket at {} feeds {} in {}, and {known}.",
            stay.name(),
            listed(plugged.iter().map(|id| scene.project.item_name(id))),
            setups_called(&walls)
        );
        let items = plugged.into_iter().cloned().collect();
        cautions.push(scene.caution(Kind::Mains, stay, &walls, items, says, &SOCKET));
    }
}

fn add<'a>(all: &mut Vec<&'a KitId>, more: &[&'a KitId]) {
    for id in more {
        if !all.contains(id) {
            all.push(id);
        }
    }
}

const WATER: Words = Words {
    done: &[
        "Use battery-fed lights at low voltage instead, where they are bright enough.",
        "Keep inverter, batteries, supplies and every connector off the ground, dry, and further from the water than anybody can reach.",
        "Run mains only through a residual-current device of at most 30 mA, and press its test button first.",
        "Keep hands and shoes dry; switch off at the source before anything is moved.",
        "An inverter that stands alone may not trip a residual-current device: its maker says what protects it.",
    ],
    ask: "A licensed electrician, the venue, and the local wiring code; the maker's sheet of the inverter.",
    source: Practice::NOUN.source("electric_water_m"),
    bring: &["residual-current device", "dry box for connectors"],
};

const SOCKET: Words = Words {
    done: &[
        "Plug in through a residual-current device of at most 30 mA and press its test button first.",
        "Look along every cable and plug for damage; unroll drums; lead cables along walls, taped or matted where people walk.",
        "Ask what the circuit bears and what else hangs on it.",
    ],
    ask: "The venue, and a licensed electrician where anything looks old, warm or mended.",
    source: "UK HSE advice on portable electrical equipment: a residual-current device of not more than 30 mA (reprinted)",
    bring: &["residual-current device", "cable mats or tape"],
};

/// Batteries of the kit, and how they travel.
pub(crate) fn of_kit(scene: &Scene, cautions: &mut Vec<Caution>) {
    let kit = &scene.project.kit;
    let batteries: Vec<&KitItem> = kit.iter().filter(|item| item.battery.is_some()).collect();
    if batteries.is_empty() {
        return;
    }
    let items: Vec<KitId> = batteries.iter().map(|item| item.id.clone()).collect();
    let mut says = format!("The kit holds {}", counted(&batteries));
    let chargers: Vec<&str> = kit
        .iter()
        .filter(|item| item.charger.is_some())
        .map(KitItem::called)
        .collect();
    if !chargers.is_empty() {
        says += &format!(", to be charged by {}", listed(chargers));
    }
    says.push('.');
    let freezing = scene
        .project
        .days
        .iter()
        .filter_map(|day| day.air_c)
        .any(|c| c <= 0.0);
    if freezing {
        says += " A day at or below 0 °C is planned.";
    }
    let at = items.into_iter().map(About::Item).collect();
    let mut batteries_caution = caution(Kind::Batteries, at, says, &BATTERIES);
    if freezing {
        batteries_caution.finding.mends.push(
            "Warm lithium-ion batteries before charging: most must not be charged below 0 °C."
                .into(),
        );
    }
    cautions.push(batteries_caution);
    by_air(scene, &batteries, cautions);
}

/// `2 × Brick (98 Wh), 1 × Tank (500 Wh)`.
fn counted(items: &[&KitItem]) -> String {
    let one = |item: &&KitItem| {
        let wh = item.battery.as_ref().map_or(0.0, |battery| battery.wh);
        format!("{} × `{}` ({} Wh)", item.count, item.called(), number(wh))
    };
    items.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn by_air(scene: &Scene, batteries: &[&KitItem], cautions: &mut Vec<Caution>) {
    let lithium: Vec<(&KitItem, Allowance)> = batteries
        .iter()
        .filter_map(|item| {
            let battery = item.battery.as_ref()?;
            battery
                .chemistry
                .is_lithium()
                .then(|| (*item, allowance(battery.wh)))
        })
        .collect();
    let beyond = lithium.iter().any(|(_, how)| *how > Allowance::Carried);
    let told = match scene.given.by_air {
        Some(flies) => flies && !lithium.is_empty(),
        None => beyond,
    };
    if !told {
        return;
    }
    let of = |how| -> Vec<&KitItem> {
        let fits = lithium.iter().filter(|(_, is)| *is == how);
        fits.map(|(item, _)| *item).collect()
    };
    let mut parts = Vec::new();
    let free = of(Allowance::Carried);
    if !free.is_empty() {
        parts.push(format!("{} in the cabin without approval", counted(&free)));
    }
    let approval = of(Allowance::WithApproval);
    if !approval.is_empty() {
        let spares: u64 = approval
            .iter()
            .filter(|item| item.battery.as_ref().is_some_and(|b| !b.built_in))
            .map(|item| u64::from(item.count))
            .sum();
        let most = u64::from(AIR_SPARES);
        let mut part = format!(
            "{} in the cabin with the airline's approval",
            counted(&approval)
        );
        if spares > most {
            part +=
                &format!(", of which one person may bring {most} spares, and there are {spares}");
        }
        parts.push(part);
    }
    // What is no number is not let through.
    let mut refused = of(Allowance::Refused);
    refused.extend(of(Allowance::Unknown));
    if !refused.is_empty() {
        parts.push(format!(
            "{} in no passenger baggage, being above {} Wh",
            counted(&refused),
            number(AIR_MOST_WH)
        ));
    }
    let lead = if scene.given.by_air == Some(true) {
        "By air"
    } else {
        "If the kit flies"
    };
    let at = lithium
        .iter()
        .map(|(item, _)| About::from(&item.id))
        .collect();
    let says = format!("{lead}: {}.", parts.join("; "));
    cautions.push(caution(Kind::BatteriesByAir, at, says, &FLYING));
}

const BATTERIES: Words = Words {
    done: &[
        "Charge in sight, on something that does not burn, with the charger that is meant for it; never while asleep or away.",
        "Leave at home what is swollen, dented, was wet or gets hot; take it to a collecting point.",
        "Cover terminals, keep keys and coins away, let nothing lie in a hot car.",
        "If one smokes: away from it, people first, and call the fire service.",
    ],
    ask: "The maker's sheet of battery and charger.",
    source: crate::COMMON,
    bring: &["terminal covers", "charging bag or box that does not burn"],
};

const FLYING: Words = Words {
    done: &[
        "Carry spares and power banks in the cabin, never in checked baggage, each with its terminals covered.",
        "Ask for approval before the day, and have the watt-hours legible on each.",
        "Send what may not fly by road, or hire it there.",
    ],
    ask: "The airline: rules are changed often, and airlines may be stricter.",
    source: "US TSA (100 Wh) and FAA PackSafe (160 Wh, two spares; reprinted)",
    bring: &["terminal covers"],
};
