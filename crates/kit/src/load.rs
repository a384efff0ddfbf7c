//! One load: what the setups of one stay use, what feeds it, what is recorded on, what sounds, and
//! what always goes along.

use crate::order::Visit;
use crate::{Feed, Given, Group, Load, Packed, Spare, carry, dressing, feeding, there_are};
use model::kit::MAINS;
use model::{Finding, KitId, KitItem, Project, Purpose, Setup, Sort};
use std::collections::BTreeMap;

/// How many of each thing, and what for.
#[derive(Default)]
struct Heap(BTreeMap<KitId, (u32, Vec<String>)>);

impl Heap {
    /// At least `count` of `id`.
    fn least(&mut self, id: &KitId, count: u32, why: Option<String>) {
        let entry = self.0.entry(id.clone()).or_default();
        entry.0 = entry.0.max(count);
        if let Some(why) = why
            && !entry.1.contains(&why)
        {
            entry.1.push(why);
        }
    }
}

pub(crate) fn load<'a>(
    project: &'a Project,
    wiring: &feeding::Wiring<'a>,
    visit: &Visit<'a>,
    given: &Given,
    spares: &[Spare],
    findings: &mut Vec<Finding>,
) -> Load {
    let mut heap = Heap::default();
    let mut feeds: Vec<Feed> = Vec::new();
    for setup in &visit.setups {
        let fed = feeding::feeds(project, wiring, visit.place, setup, findings);
        let used = at_once(project, setup, &fed, findings);
        for (id, (count, why)) in used.0 {
            heap.least(&id, count, None);
            for why in why {
                heap.least(&id, 0, Some(why));
            }
        }
        feeds.extend(fed);
    }
    feeds.sort();
    feeds.dedup();
    garments(&mut heap, project, spares);
    batteries(&mut heap, project, given, &feeds, findings);
    if visit.place.is_some_and(|place| place.mains.is_some()) {
        chargers(&mut heap, project);
    }
    cards(&mut heap, project, visit, given, findings);
    sound(&mut heap, project, visit, findings);
    for item in project.kit.iter().filter(|item| item.always) {
        let count = given.needed.get(&item.id).copied().unwrap_or(item.count);
        heap.least(&item.id, count, Some("always".into()));
    }
    for bring in &given.bring {
        let place = visit.place.map(|place| &place.id);
        let here = bring.place.is_none() || bring.place.as_ref() == place;
        if let Some(id) = given.held.get(&bring.name)
            && here
            && project.item(id).is_some()
        {
            heap.least(id, 1, Some(bring.name.clone()));
        }
    }
    heap.0.retain(|_, (count, _)| *count > 0);
    let name = visit.place.map(|place| place.name.clone());
    let mut load = Load {
        day: visit.day.map(|day| day.id.clone()),
        date: visit.day.map(|day| day.date),
        place: visit.place.map(|place| place.id.clone()),
        name: name.unwrap_or_else(|| "no place yet".into()),
        setups: visit.setups.iter().map(|setup| setup.id.clone()).collect(),
        groups: groups(project, heap),
        feeds,
        weight_kg: 0.0,
        unweighed: Vec::new(),
        heavy: Vec::new(),
        trips: 0,
    };
    carry::weigh(project, &mut load);
    load
}

/// What one setup uses at once, without batteries, cards and garments' spares.
fn at_once(project: &Project, setup: &Setup, feeds: &[Feed], findings: &mut Vec<Finding>) -> Heap {
    // The same thing in two lists of a setup (a camera that is also fed) is one thing.
    let mut optics: BTreeMap<&KitId, u32> = BTreeMap::new();
    let mut add = |id| *optics.entry(id).or_default() += 1;
    if let Some(set) = &setup.optics {
        add(&set.camera);
        set.lens.iter().for_each(&mut add);
    }
    setup.filters.iter().for_each(&mut add);
    setup.lights.iter().for_each(|light| add(&light.light));
    let mut others: BTreeMap<&KitId, u32> = BTreeMap::new();
    for used in &setup.kit {
        let count = others.entry(&used.item).or_default();
        *count = count.saturating_add(used.count);
    }
    let mut heap = Heap::default();
    for (id, count) in optics.iter().chain(&others) {
        if id.as_str() == MAINS || project.item(id).is_some() {
            heap.least(id, *count, None);
        } else {
            let says = format!("setup `{}` uses `{id}`, which is not in the kit", setup.id);
            let found = Finding::problem("unknown", says);
            findings.push(found.about(*id).about(&setup.id));
        }
    }
    let mut adapters: BTreeMap<&KitId, u32> = BTreeMap::new();
    for feed in feeds {
        let fed = heap.0.get(&feed.item).map_or(1, |(count, _)| *count);
        let feeds = Some(format!("feeds {}", project.item_name(&feed.item)));
        if project.item(&feed.from).is_some() {
            heap.least(&feed.from, 1, feeds);
        }
        for part in &feed.through {
            // An adapter for each thing fed; one inverter may feed several.
            let each = project
                .item(part)
                .is_none_or(|item| item.inverter.is_none());
            let count = adapters.entry(part).or_default();
            *count = if each { count.saturating_add(fed) } else { 1 };
            let why = format!(
                "between {} and {}",
                project.item_name(&feed.from),
                project.item_name(&feed.item)
            );
            heap.least(part, *count, Some(why));
        }
    }
    heap.0
        .retain(|id, _| id.as_str() != MAINS || project.item(id).is_some());
    for item in dressing::worn(project, setup) {
        heap.least(&item.id, 1, None);
    }
    for item in &project.kit {
        if let Some((count, _)) = heap.0.get(&item.id)
            && *count > item.count
        {
            let (id, called, there) = (&setup.id, item.called(), there_are(item.count));
            let says = format!("setup `{id}` uses {count} of `{called}` at once, and {there}");
            let found = Finding::problem("too-few", says);
            findings.push(found.about(&item.id).about(id));
        }
    }
    heap
}

/// As many garments as the order uses up, with their spares, where there are that many.
fn garments(heap: &mut Heap, project: &Project, spares: &[Spare]) {
    for spare in spares {
        let wanted = spare.used.saturating_add(spare.spare);
        if heap.0.contains_key(&spare.item)
            && let Some(item) = project.item(&spare.item)
        {
            let why = (wanted > 1).then(|| "with spares".to_owned());
            heap.least(&spare.item, wanted.min(item.count), why);
        }
    }
}

/// As many batteries as the day needs, or all of them.
fn batteries(
    heap: &mut Heap,
    project: &Project,
    given: &Given,
    feeds: &[Feed],
    findings: &mut Vec<Finding>,
) {
    for item in project.kit.iter().filter(|item| item.battery.is_some()) {
        let feeds_here = feeds.iter().any(|feed| feed.from == item.id);
        let listed = heap.0.get(&item.id).map(|(count, _)| *count);
        if listed.is_none() && !feeds_here {
            continue;
        }
        match given.needed.get(&item.id) {
            // It fits, and the day does not need it.
            Some(0) if feeds_here => drop(heap.0.remove(&item.id)),
            Some(count) => {
                heap.least(&item.id, *count, Some("for the hours planned".into()));
                too_few(item, *count, findings);
            }
            None => heap.least(&item.id, item.count, None),
        }
    }
}

/// Chargers for the batteries that go along, where there is a socket.
fn chargers(heap: &mut Heap, project: &Project) {
    let along: Vec<&KitItem> = project
        .kit
        .iter()
        .filter(|item| item.battery.is_some() && heap.0.contains_key(&item.id))
        .collect();
    for charger in project.kit.iter().filter(|item| item.charger.is_some()) {
        let charges = |battery: &&KitItem| {
            charger.feeds.is_empty()
                || battery.fed_by.is_empty()
                || feeding::fits(&charger.feeds, &battery.fed_by).is_some()
        };
        if let Some(battery) = along.iter().find(|battery| charges(battery)) {
            let why = format!("charges {} at the mains there", battery.called());
            heap.least(&charger.id, charger.count, Some(why));
        }
    }
}

/// Cards and drives wherever a camera goes.
fn cards(
    heap: &mut Heap,
    project: &Project,
    visit: &Visit,
    given: &Given,
    findings: &mut Vec<Finding>,
) {
    if !visit.setups.iter().any(|setup| setup.optics.is_some()) {
        return;
    }
    for item in project.kit.iter().filter(|item| item.card.is_some()) {
        let count = given.needed.get(&item.id).copied().unwrap_or(item.count);
        heap.least(&item.id, count, None);
        too_few(item, count, findings);
    }
}

/// What sounds, for performance to playback: what the setups name, or all there is of that sort.
fn sound(heap: &mut Heap, project: &Project, visit: &Visit, findings: &mut Vec<Finding>) {
    let mut playback = visit.setups.clone();
    playback.retain(|setup| setup.purpose == Purpose::Performance);
    let sounds = |item: &&KitItem| item.sort == Sort::Sound;
    let named = |setup: &Setup| project.kit.iter().filter(sounds).any(|i| setup.uses(&i.id));
    if playback.iter().all(|setup| named(setup)) {
        return;
    }
    let mut any = false;
    for item in project.kit.iter().filter(sounds) {
        any = true;
        heap.least(&item.id, item.count, Some("performance to playback".into()));
    }
    if !any {
        findings.push(Finding::problem("no-sound", format!(
                "there is performance to playback at {}, and nothing of the sort sound in the kit",
                visit.place.map_or("no place yet", |place| place.name.as_str())
            )).about_all(playback.iter().map(|setup| &setup.id)).mended_by("pack a loudspeaker, or a phone that is loud enough"));
    }
}

fn too_few(item: &KitItem, needed: u32, findings: &mut Vec<Finding>) {
    if needed > item.count {
        let (called, there) = (item.called(), there_are(item.count));
        let says = format!("the day needs {needed} of `{called}`, and {there}");
        findings.push(Finding::problem("too-few", says).about(&item.id));
    }
}

/// By sort, in the order of the sorts; within one as the kit lists them.
fn groups(project: &Project, heap: Heap) -> Vec<Group> {
    let mut groups: BTreeMap<Sort, Vec<Packed>> = BTreeMap::new();
    for item in &project.kit {
        if let Some((count, why)) = heap.0.get(&item.id) {
            let items = groups.entry(item.sort).or_default();
            if !items.iter().any(|known| known.item == item.id) {
                items.push(Packed {
                    item: item.id.clone(),
                    name: item.called().into(),
                    count: *count,
                    why: why.clone(),
                });
            }
        }
    }
    groups
        .into_iter()
        .map(|(sort, items)| Group { sort, items })
        .collect()
}
