//! What feeds what: named by the plan, or found by connectors; with an adapter where one is needed.
//!
//! An *adapter* is an item that is fed and feeds and does nothing else. One adapter stands between
//! a source and what it feeds, never a chain of them. It counts no watts.

use crate::{Cause, Feed, Finding, MAINS};
use model::{KitId, KitItem, Place, Project, Setup};
use std::collections::BTreeSet;

/// Whether two connectors are the same.
fn same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

/// The first connector of `fed_by` that `feeds` has too.
pub(crate) fn fits<'a>(feeds: &[String], fed_by: &'a [String]) -> Option<&'a str> {
    fed_by
        .iter()
        .find(|into| feeds.iter().any(|from| same(from, into)))
        .map(String::as_str)
}

fn is_adapter(item: &KitItem) -> bool {
    let more = item.battery.is_some()
        || item.inverter.is_some()
        || item.charger.is_some()
        || item.light.is_some()
        || item.camera.is_some();
    !more && !item.fed_by.is_empty() && !item.feeds.is_empty()
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
            Source::Item(item) => item.feeds.clone(),
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

/// What is fed from what in `setup`, inverters included; and what is not.
pub(crate) fn feeds(
    project: &Project,
    place: Option<&Place>,
    setup: &Setup,
    findings: &mut Vec<Finding>,
) -> Vec<Feed> {
    let mut feeds = Vec::new();
    let mut queue = consumers(project, setup);
    let mut met: BTreeSet<(KitId, Option<KitId>)> = BTreeSet::new();
    while let Some(fed) = queue.pop() {
        if !met.insert((fed.item.id.clone(), fed.from.cloned())) {
            continue;
        }
        let found = match fed.from {
            Some(from) => named(project, place, setup, fed.item, from, findings),
            None => matched(project, place, setup, fed.item, findings),
        };
        for feed in found {
            // What feeds is itself fed, unless it is where the power begins.
            if let Some(source) = project.item(&feed.from)
                && source.battery.is_none()
                && !met.iter().any(|(known, _)| *known == source.id)
            {
                let from = setup
                    .kit
                    .iter()
                    .find(|used| used.item == source.id)
                    .and_then(|used| used.fed_from.as_ref());
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
    let lights = setup
        .lights
        .iter()
        .map(|light| (&light.light, light.fed_from.as_ref()));
    let others = setup
        .kit
        .iter()
        .map(|used| (&used.item, used.fed_from.as_ref()));
    let camera = setup.optics.iter().map(|optics| (&optics.camera, None));
    let all: Vec<_> = lights.chain(others).chain(camera).collect();
    all.iter()
        .filter(|(id, from)| {
            from.is_some()
                || !all
                    .iter()
                    .any(|(other, from)| other == id && from.is_some())
        })
        .filter_map(|(id, from)| {
            let item = project.item(id)?;
            // Batteries, adapters and chargers wait until something wants them.
            let waits = item.battery.is_some() || item.charger.is_some() || is_adapter(item);
            (from.is_some() || (!waits && !item.fed_by.is_empty()))
                .then_some(Fed { item, from: *from })
        })
        .collect()
}

/// The feed the plan names.
fn named(
    project: &Project,
    place: Option<&Place>,
    setup: &Setup,
    item: &KitItem,
    from: &KitId,
    findings: &mut Vec<Finding>,
) -> Vec<Feed> {
    let mut say = |cause, text| {
        findings.push(Finding {
            cause,
            items: vec![item.id.clone()],
            setups: vec![setup.id.clone()],
            text,
        });
    };
    let source = if from.as_str() == MAINS {
        if let Some(place) = place
            && place.mains.is_none()
        {
            say(
                Cause::NotFed,
                format!(
                    "`{}` is fed from the mains in `{}`, and no mains is written for {}",
                    item.called(),
                    setup.id,
                    place.name
                ),
            );
        }
        Source::Wall
    } else if let Some(source) = project.item(from) {
        Source::Item(source)
    } else {
        say(
            Cause::Unknown,
            format!(
                "`{}` is fed from `{from}` in `{}`, which the kit does not have",
                item.called(),
                setup.id
            ),
        );
        return Vec::new();
    };
    let plain = Feed {
        item: item.id.clone(),
        from: from.clone(),
        connector: None,
        adapter: None,
    };
    let gives = source.feeds();
    if gives.is_empty() || item.fed_by.is_empty() {
        let bare = if item.fed_by.is_empty() {
            item.called()
        } else {
            source.called()
        };
        say(
            Cause::ConnectorUnknown,
            format!(
                "whether `{}` fits `{}` is not known: the connectors of `{bare}` are not written",
                source.called(),
                item.called()
            ),
        );
        return vec![plain];
    }
    match link(project, setup, source, item) {
        Some(feed) => vec![feed],
        None => {
            say(
                Cause::NoAdapter,
                format!(
                    "`{}` gives {} and `{}` takes {}; no adapter in the kit fits between them",
                    source.called(),
                    gives.join(", "),
                    item.called(),
                    item.fed_by.join(", ")
                ),
            );
            vec![plain]
        }
    }
}

/// Feeds found by connectors: what the setup lists, the place's mains, batteries, then the rest;
/// first what fits as it is, then what fits through an adapter. Of batteries all that fit.
fn matched(
    project: &Project,
    place: Option<&Place>,
    setup: &Setup,
    item: &KitItem,
    findings: &mut Vec<Finding>,
) -> Vec<Feed> {
    if item.fed_by.is_empty() {
        return Vec::new();
    }
    let sources = sources(project, place, setup, item);
    let direct = |source: &Source| fits(&source.feeds(), &item.fed_by).is_some();
    let chosen: Vec<Source> = match sources.iter().find(|source| direct(source)) {
        Some(Source::Item(first)) if first.battery.is_some() => {
            // A setup that lists batteries means those.
            let listed = setup.uses(&first.id);
            let battery = |source: &&Source| match source {
                Source::Item(item) => {
                    item.battery.is_some() && (!listed || setup.uses(&item.id)) && direct(source)
                }
                Source::Wall => false,
            };
            sources.iter().filter(battery).copied().collect()
        }
        Some(first) => vec![*first],
        None => sources
            .iter()
            .find(|source| link(project, setup, **source, item).is_some())
            .copied()
            .into_iter()
            .collect(),
    };
    if chosen.is_empty() {
        findings.push(Finding {
            cause: Cause::NotFed,
            items: vec![item.id.clone()],
            setups: vec![setup.id.clone()],
            text: format!(
                "nothing feeds `{}` in `{}`: it takes {}, and no source there gives that, with or without an adapter",
                item.called(),
                setup.id,
                item.fed_by.join(", ")
            ),
        });
    }
    chosen
        .into_iter()
        .filter_map(|source| link(project, setup, source, item))
        .collect()
}

/// Where power could come from, likeliest first.
fn sources<'a>(
    project: &'a Project,
    place: Option<&Place>,
    setup: &Setup,
    item: &KitItem,
) -> Vec<Source<'a>> {
    let rank = |source: &KitItem| {
        let listed = setup.uses(&source.id);
        let missing = source.holding == model::Holding::Missing;
        let kind = match source {
            _ if source.battery.is_some() => 0,
            _ if source.inverter.is_some() => 1,
            _ => 2,
        };
        (!listed, missing, kind)
    };
    let mut items: Vec<&KitItem> = project
        .kit
        .iter()
        .filter(|source| {
            source.id != item.id
                && !source.feeds.is_empty()
                && source.charger.is_none()
                && !is_adapter(source)
        })
        .collect();
    items.sort_by_key(|source| rank(source));
    let listed = items.partition_point(|source| !rank(source).0);
    let mut sources: Vec<Source> = items.into_iter().map(Source::Item).collect();
    if place.is_some_and(|place| place.mains.is_some()) {
        sources.insert(listed, Source::Wall);
    }
    sources
}

/// `item` fed from `source`, through an adapter where they do not fit; `None` when nothing fits.
fn link(project: &Project, setup: &Setup, source: Source, item: &KitItem) -> Option<Feed> {
    let gives = source.feeds();
    let from = source.id()?;
    if let Some(connector) = fits(&gives, &item.fed_by) {
        return Some(Feed {
            item: item.id.clone(),
            from,
            connector: Some(connector.into()),
            adapter: None,
        });
    }
    let between = |adapter: &&KitItem| {
        is_adapter(adapter)
            && adapter.id != item.id
            && adapter.id != from
            && fits(&gives, &adapter.fed_by).is_some()
            && fits(&adapter.feeds, &item.fed_by).is_some()
    };
    let adapter = project.kit.iter().filter(between).min_by_key(|adapter| {
        let missing = adapter.holding == model::Holding::Missing;
        (missing, !setup.uses(&adapter.id))
    })?;
    Some(Feed {
        item: item.id.clone(),
        connector: fits(&adapter.feeds, &item.fed_by).map(Into::into),
        from,
        adapter: Some(adapter.id.clone()),
    })
}
