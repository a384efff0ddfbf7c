//! What feeds what: named by the plan, or found by connectors; with adapters where they are needed.
//!
//! As few adapters ([`KitItem::is_adapter`]) as can be stand between a source and what it feeds; an inverter
//! does only where the plan names a battery that could not feed the thing otherwise. It counts no watts.

use crate::Feed;
use model::kit::{MAINS, connector as key};
use model::{Finding, Holding, KitId, KitItem, Place, Project, Setup, Severity};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// The first connector of `fed_by` that `feeds` has too.
pub(crate) fn fits<'a>(feeds: &[String], fed_by: &'a [String]) -> Option<&'a str> {
    fed_by
        .iter()
        .find(|into| feeds.iter().any(|from| key(from) == key(into)))
        .map(String::as_str)
}

/// The kit's adapters and inverters by the connectors they give.
pub(crate) struct Wiring<'a> {
    adapters: BTreeMap<String, Vec<&'a KitItem>>,
    inverters: BTreeMap<String, Vec<&'a KitItem>>,
}

impl<'a> Wiring<'a> {
    pub fn new(kit: &'a [KitItem]) -> Self {
        let by_connector = |is: &dyn Fn(&KitItem) -> bool| {
            let mut map: BTreeMap<String, Vec<&KitItem>> = BTreeMap::new();
            for item in kit.iter().filter(|item| is(item)) {
                let connectors: BTreeSet<String> = item.gives().iter().map(|c| key(c)).collect();
                for connector in connectors {
                    map.entry(connector).or_default().push(item);
                }
            }
            map
        };
        Self {
            adapters: by_connector(&KitItem::is_adapter),
            inverters: by_connector(&|item| item.inverter.is_some()),
        }
    }

    /// Every connector that leads to `item`, with the fewest parts between, from the connector on;
    /// an inverter among them only where nothing else leads there.
    fn ways(&self, setup: &Setup, item: &KitItem, inverters: bool) -> BTreeMap<String, Way<'a>> {
        let mut ways: BTreeMap<String, Way> = BTreeMap::new();
        let mut queue: VecDeque<String> = VecDeque::new();
        for connector in &item.fed_by {
            let way = Way {
                into: connector.clone(),
                parts: Vec::new(),
            };
            if ways.insert(key(connector), way).is_none() {
                queue.push_back(key(connector));
            }
        }
        self.spread(setup, item, &mut ways, queue);
        if inverters {
            let reached: Vec<String> = ways.keys().cloned().collect();
            let mut queue = VecDeque::new();
            for connector in reached {
                self.step(
                    &self.inverters,
                    setup,
                    item,
                    &connector,
                    &mut ways,
                    &mut queue,
                );
            }
            self.spread(setup, item, &mut ways, queue);
        }
        ways
    }

    /// Breadth first through adapters, so that the first way to a connector is the shortest.
    fn spread(
        &self,
        setup: &Setup,
        item: &KitItem,
        ways: &mut BTreeMap<String, Way<'a>>,
        mut queue: VecDeque<String>,
    ) {
        while let Some(connector) = queue.pop_front() {
            self.step(&self.adapters, setup, item, &connector, ways, &mut queue);
        }
    }

    fn step(
        &self,
        parts: &BTreeMap<String, Vec<&'a KitItem>>,
        setup: &Setup,
        item: &KitItem,
        connector: &str,
        ways: &mut BTreeMap<String, Way<'a>>,
        queue: &mut VecDeque<String>,
    ) {
        let Some(before) = ways.get(connector).cloned() else {
            return;
        };
        let mut parts: Vec<&KitItem> = parts.get(connector).cloned().unwrap_or_default();
        parts.sort_by_key(|part| (part.holding == Holding::Missing, !setup.uses(&part.id)));
        for part in parts {
            if part.id == item.id || before.parts.iter().any(|known| known.id == part.id) {
                continue;
            }
            for inlet in part.fed_by.iter().map(|inlet| key(inlet)) {
                if !ways.contains_key(&inlet) {
                    let mut way = before.clone();
                    way.parts.insert(0, part);
                    ways.insert(inlet.clone(), way);
                    queue.push_back(inlet);
                }
            }
        }
    }
}

/// How a connector leads to an item.
#[derive(Clone)]
struct Way<'a> {
    /// The connector at the item.
    into: String,
    /// What stands between.
    parts: Vec<&'a KitItem>,
}

/// Where power comes from.
#[derive(Clone, Copy)]
enum Source<'a> {
    Wall,
    Item(&'a KitItem),
}

impl Source<'_> {
    fn feeds(&self) -> Vec<String> {
        match self {
            Source::Wall => vec![MAINS.into()],
            Source::Item(item) => item.gives(),
        }
    }

    fn id(&self) -> Option<KitId> {
        match self {
            Source::Wall => KitId::new(MAINS).ok(),
            Source::Item(item) => Some(item.id.clone()),
        }
    }

    fn called(&self) -> &str {
        match self {
            Source::Wall => MAINS,
            Source::Item(item) => item.called(),
        }
    }
}

/// Something that wants power, and what the plan feeds it from.
struct Fed<'a> {
    item: &'a KitItem,
    from: Option<&'a KitId>,
}

/// A setup at its place, with what the kit has to feed it.
struct Scene<'a, 'w> {
    project: &'a Project,
    wiring: &'w Wiring<'a>,
    place: Option<&'a Place>,
    setup: &'a Setup,
}

/// What is fed from what in `setup`, inverters included; and what is not.
pub(crate) fn feeds<'a>(
    project: &'a Project,
    wiring: &Wiring<'a>,
    place: Option<&'a Place>,
    setup: &'a Setup,
    findings: &mut Vec<Finding>,
) -> Vec<Feed> {
    let scene = Scene {
        project,
        wiring,
        place,
        setup,
    };
    let mut feeds = Vec::new();
    let mut queue = consumers(project, setup);
    let mut met: BTreeSet<(KitId, Option<KitId>)> = BTreeSet::new();
    while let Some(fed) = queue.pop() {
        if !met.insert((fed.item.id.clone(), fed.from.cloned())) {
            continue;
        }
        let found = match fed.from {
            Some(from) => scene.named(fed.item, from, findings),
            None => scene.matched(fed.item, findings),
        };
        for feed in found {
            // What feeds is itself fed, unless it is where the power begins.
            if let Some(source) = project.item(&feed.from)
                && source.battery.is_none()
                && !met.iter().any(|(known, _)| *known == source.id)
            {
                let listed = setup.kit.iter().find(|used| used.item == source.id);
                let from = listed.and_then(|used| used.fed_from.as_ref());
                queue.push(Fed { item: source, from });
            }
            feeds.push(feed);
        }
    }
    feeds.sort();
    feeds.dedup();
    feeds
}

/// What wants power in a setup. What the plan says of a thing in two places counts where it says
/// what feeds it.
fn consumers<'a>(project: &'a Project, setup: &'a Setup) -> Vec<Fed<'a>> {
    let all: Vec<_> = setup.fed().collect();
    let told = |id: &KitId| {
        all.iter()
            .any(|(other, from)| *other == id && from.is_some())
    };
    all.iter()
        .filter(|(id, from)| from.is_some() || !told(id))
        .filter_map(|(id, from)| {
            let item = project.item(id)?;
            // Batteries, adapters and chargers wait until something wants them.
            let waits = item.battery.is_some() || item.charger.is_some() || item.is_adapter();
            (from.is_some() || (!waits && !item.fed_by.is_empty()))
                .then_some(Fed { item, from: *from })
        })
        .collect()
}

impl<'a> Scene<'a, '_> {
    /// The feed the plan names.
    fn named(&self, item: &KitItem, from: &KitId, findings: &mut Vec<Finding>) -> Vec<Feed> {
        let (called, setup) = (item.called(), &self.setup.id);
        let mut say = |severity, kind: &'static str, text: String| {
            let found = Finding::new(severity, kind, text);
            findings.push(found.about(&item.id).about(setup));
        };
        let source = match self.project.item(from) {
            _ if from.as_str() == MAINS => Source::Wall,
            Some(source) => Source::Item(source),
            None => {
                let says = format!(
                    "`{called}` is fed from `{from}` in `{setup}`, which the kit does not have"
                );
                say(Severity::Problem, "unknown", says);
                return Vec::new();
            }
        };
        if let (Source::Wall, Some(place)) = (source, self.place)
            && place.mains.is_none()
        {
            let name = &place.name;
            let says = format!(
                "`{called}` is fed from the mains in `{setup}`, and no mains is written for {name}"
            );
            say(Severity::Problem, "not-fed", says);
        }
        let (gives, feeds_it) = (source.feeds(), source.called());
        let known = !gives.is_empty() && !item.fed_by.is_empty();
        let battery = matches!(source, Source::Item(source) if source.battery.is_some());
        let found = match known {
            true => link(&self.wiring.ways(self.setup, item, battery), source, item),
            false => None,
        };
        if let Some(feed) = found {
            return vec![feed];
        }
        if known {
            let (gives, takes) = (gives.join(", "), item.fed_by.join(", "));
            let says = format!(
                "`{feeds_it}` gives {gives} and `{called}` takes {takes}; no adapter in the kit fits between them"
            );
            say(Severity::Problem, "no-adapter", says);
        } else {
            let bare = if item.fed_by.is_empty() {
                called
            } else {
                feeds_it
            };
            let says = format!(
                "whether `{feeds_it}` fits `{called}` is not known: the connectors of `{bare}` are not written"
            );
            say(Severity::Unknown, "connector-unknown", says);
        }
        vec![Feed {
            item: item.id.clone(),
            from: from.clone(),
            connector: None,
            through: Vec::new(),
        }]
    }

    /// Feeds found by connectors: what the setup lists, the place's mains, batteries, then the rest;
    /// first what fits as it is, then what fits through an adapter. Of batteries all that fit.
    fn matched(&self, item: &KitItem, findings: &mut Vec<Finding>) -> Vec<Feed> {
        if item.fed_by.is_empty() {
            return Vec::new();
        }
        let setup = self.setup;
        let sources = self.sources(item);
        let ways = self.wiring.ways(setup, item, false);
        let direct = |source: &&Source| fits(&source.feeds(), &item.fed_by).is_some();
        let chosen: Vec<Source> = match sources.iter().find(direct) {
            Some(Source::Item(first)) if first.battery.is_some() => {
                // A setup that lists batteries means those.
                let listed = setup.uses(&first.id);
                let battery = |source: &&Source| match source {
                    Source::Item(item) => {
                        item.battery.is_some()
                            && (!listed || setup.uses(&item.id))
                            && direct(source)
                    }
                    Source::Wall => false,
                };
                sources.iter().filter(battery).copied().collect()
            }
            Some(first) => vec![*first],
            None => {
                let mut through = sources.iter().copied();
                let first = through.find(|source| link(&ways, *source, item).is_some());
                first.into_iter().collect()
            }
        };
        if chosen.is_empty() {
            let takes = item.fed_by.join(", ");
            findings.push(Finding::problem("not-fed", format!(
                "nothing feeds `{}` in `{}`: it takes {takes}, and no source there gives that, with or without an adapter",
                item.called(), setup.id
            )).about(&item.id).about(&setup.id));
        }
        let linked = chosen.into_iter();
        linked
            .filter_map(|source| link(&ways, source, item))
            .collect()
    }

    /// Where power could come from, likeliest first.
    fn sources(&self, item: &KitItem) -> Vec<Source<'a>> {
        let rank = |source: &KitItem| {
            let listed = self.setup.uses(&source.id);
            let missing = source.holding == Holding::Missing;
            let kind = match source {
                _ if source.battery.is_some() => 0,
                _ if source.inverter.is_some() => 1,
                _ => 2,
            };
            (!listed, missing, kind)
        };
        let could = |source: &&KitItem| {
            source.id != item.id
                && !source.gives().is_empty()
                && source.charger.is_none()
                && !source.is_adapter()
        };
        let mut items: Vec<&KitItem> = self.project.kit.iter().filter(could).collect();
        items.sort_by_key(|source| rank(source));
        let listed = items.partition_point(|source| !rank(source).0);
        let mut sources: Vec<Source> = items.into_iter().map(Source::Item).collect();
        if self.place.is_some_and(|place| place.mains.is_some()) {
            sources.insert(listed, Source::Wall);
        }
        sources
    }
}

/// `item` fed from `source` by the way with the fewest parts; `None` when no way leads there.
fn link(ways: &BTreeMap<String, Way>, source: Source, item: &KitItem) -> Option<Feed> {
    let from = source.id()?;
    let outlets: Vec<String> = source.feeds().iter().map(|outlet| key(outlet)).collect();
    let way = outlets
        .iter()
        .filter_map(|outlet| ways.get(outlet))
        .filter(|way| !way.parts.iter().any(|part| part.id == from))
        .min_by_key(|way| {
            let inverters = way.parts.iter().filter(|part| part.inverter.is_some());
            (inverters.count(), way.parts.len())
        })?;
    Some(Feed {
        item: item.id.clone(),
        from,
        connector: Some(way.into.clone()),
        through: way.parts.iter().map(|part| part.id.clone()).collect(),
    })
}
