//! What can feed what: connectors joined from a consumer back to a battery or the mains, through adapters and
//! at most one inverter, by the fewest parts.
//!
//! # Conventions
//! - Connectors are words, compared without regard to case; `mains` is what a socket in the wall is called.
//! - What an *adapter* is, and what an inverter gives, says [`KitItem::is_adapter`] and [`KitItem::gives`].
//!
//! Voltage and current of a connector are not known here; two of one name are taken to fit.

use model::kit::{MAINS, connector};
use model::{KitId, KitItem};
use serde::Serialize;

/// Where power comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// A socket in the wall.
    Mains,
    /// A battery, or several alike.
    Battery(KitId),
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Mains => f.write_str(MAINS),
            Self::Battery(id) => f.write_str(id.as_str()),
        }
    }
}

/// How a consumer is fed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Feed {
    /// From where.
    pub source: Source,
    /// Through which inverter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inverter: Option<KitId>,
    /// Through which adapters, from the consumer on: pack these.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub adapters: Vec<KitId>,
}

/// A source by its place in the kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Src {
    Mains,
    Battery(usize),
}

/// A way from a source to a consumer, by places in the kit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Route {
    pub source: Src,
    pub inverter: Option<usize>,
    pub adapters: Vec<usize>,
    /// How many of them stand between the consumer and the inverter, or all.
    pub near: usize,
    /// The source's connector it takes, where it is known.
    pub socket: Option<u32>,
    /// Whether others may take the same connector: a strip of mains sockets, a splitter.
    pub split: bool,
    cost: u32,
}

impl Route {
    pub fn described(&self, kit: &[KitItem]) -> Feed {
        let id = |at: &usize| kit[*at].id.clone();
        Feed {
            source: self.source.described(kit),
            inverter: self.inverter.as_ref().map(id),
            adapters: self.adapters.iter().map(id).collect(),
        }
    }
}

impl Src {
    pub fn described(self, kit: &[KitItem]) -> Source {
        match self {
            Self::Mains => Source::Mains,
            Self::Battery(at) => Source::Battery(kit[at].id.clone()),
        }
    }
}

/// What an inverter costs against adapters when the fewest parts are sought: it wastes power.
const INVERTER_COST: u32 = 100;

/// The number of the connector `mains`.
const MAINS_NO: u32 = 0;

/// The kit's connectors, numbered.
pub(crate) struct Wiring {
    fed_by: Vec<Vec<u32>>,
    feeds: Vec<Vec<u32>>,
    adapters: Vec<usize>,
    inverters: Vec<usize>,
    batteries: Vec<usize>,
}

/// A way found so far, from a consumer to a connector.
#[derive(Clone, Default)]
struct Partial {
    cost: u32,
    connector: u32,
    inverter: Option<usize>,
    adapters: Vec<usize>,
    near: usize,
    split: bool,
}

impl Partial {
    /// The same at each of `connectors`.
    fn at_each(&self, connectors: &[u32]) -> impl Iterator<Item = Self> {
        connectors.iter().map(|connector| Self {
            connector: *connector,
            ..self.clone()
        })
    }

    fn ends_at(&self, source: Src) -> Route {
        Route {
            source,
            inverter: self.inverter,
            adapters: self.adapters.clone(),
            near: self.inverter.map_or(self.adapters.len(), |_| self.near),
            socket: Some(self.connector),
            // A strip makes many sockets of one.
            split: self.split || self.connector == MAINS_NO,
            cost: self.cost,
        }
    }
}

impl Wiring {
    pub fn new(kit: &[KitItem]) -> Self {
        let mut names = vec![MAINS.to_string()];
        let mut numbers = |words: &[String]| -> Vec<u32> {
            words.iter().map(|word| number(&mut names, word)).collect()
        };
        let fed_by = kit.iter().map(|item| numbers(&item.fed_by)).collect();
        let feeds = kit.iter().map(|item| numbers(&item.gives())).collect();
        let those = |is: &dyn Fn(&KitItem) -> bool| -> Vec<usize> {
            (0..kit.len()).filter(|at| is(&kit[*at])).collect()
        };
        Self {
            fed_by,
            feeds,
            adapters: those(&KitItem::is_adapter),
            inverters: those(&|item| item.inverter.is_some()),
            batteries: those(&|item| item.battery.is_some()),
        }
    }

    pub fn fed_by(&self, item: usize) -> &[u32] {
        &self.fed_by[item]
    }

    pub fn feeds(&self, item: usize) -> &[u32] {
        &self.feeds[item]
    }

    pub fn is_adapter(&self, item: usize) -> bool {
        self.adapters.contains(&item)
    }

    /// Whether `item` can be fed from a socket in the wall, through adapters too.
    pub fn reaches_mains(&self, item: usize) -> bool {
        self.routes(&self.fed_by[item], None)
            .iter()
            .any(|route| route.source == Src::Mains)
    }

    /// The best way from each source to one of the connectors `from`, by the fewest parts, sources in
    /// the kit's order where they are equal. With `inverter` the search begins at that inverter's inlet.
    pub fn routes(&self, from: &[u32], inverter: Option<usize>) -> Vec<Route> {
        let begin = Partial {
            cost: inverter.map_or(0, |_| INVERTER_COST),
            inverter,
            ..Partial::default()
        };
        let mut open: Vec<Partial> = begin.at_each(from).collect();
        let mut seen: Vec<(u32, bool)> = Vec::new();
        let mut found: Vec<Route> = Vec::new();
        while let Some(at) = (0..open.len()).min_by_key(|at| open[*at].cost) {
            let now = open.remove(at);
            let key = (now.connector, now.inverter.is_some());
            if seen.contains(&key) {
                continue;
            }
            seen.push(key);
            let feeds = |item: &&usize| self.feeds[**item].contains(&now.connector);
            let in_wall = now.connector == MAINS_NO && now.inverter.is_none();
            let batteries = self.batteries.iter().filter(feeds);
            let sources = in_wall.then_some(Src::Mains).into_iter();
            for source in sources.chain(batteries.map(|at| Src::Battery(*at))) {
                if !found.iter().any(|route| route.source == source) {
                    found.push(now.ends_at(source));
                }
            }
            for adapter in self.adapters.iter().filter(feeds) {
                let beyond = Partial {
                    cost: now.cost + 1,
                    adapters: [&now.adapters[..], &[*adapter]].concat(),
                    split: now.split || self.feeds[*adapter].len() > 1,
                    ..now
                };
                open.extend(beyond.at_each(&self.fed_by[*adapter]));
            }
            for inverter in self.inverters.iter().filter(feeds) {
                if now.inverter.is_none() {
                    let beyond = Partial {
                        cost: now.cost + INVERTER_COST,
                        inverter: Some(*inverter),
                        adapters: now.adapters.clone(),
                        near: now.adapters.len(),
                        split: false,
                        ..now
                    };
                    open.extend(beyond.at_each(&self.fed_by[*inverter]));
                }
            }
        }
        found.sort_by_key(|route| (route.cost, route.source));
        found
    }

    /// A way that a person typed and no connectors bear out.
    pub fn as_typed(source: Src, inverter: Option<usize>) -> Route {
        Route {
            source,
            inverter,
            near: 0,
            adapters: Vec::new(),
            socket: None,
            split: true,
            cost: 0,
        }
    }
}

fn number(names: &mut Vec<String>, word: &str) -> u32 {
    let word = connector(word);
    let at = names.iter().position(|name| *name == word);
    let at = at.unwrap_or_else(|| {
        names.push(word);
        names.len() - 1
    });
    at as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kit() -> Vec<KitItem> {
        serde_json::from_str(
            r#"[
            {"id": "panel", "fed_by": ["dc-15v"], "light": {"candela": 9000, "full_w": 60}},
            {"id": "bulb", "fed_by": ["mains"], "light": {"candela": 900, "full_w": 40}},
            {"id": "supply", "fed_by": ["Mains"], "feeds": ["dc-15v"]},
            {"id": "lead", "sort": "adapter", "fed_by": ["d-tap"], "feeds": ["dc-15v"]},
            {"id": "block", "feeds": ["d-tap", "12v"], "battery": {"wh": 98}},
            {"id": "inverter", "fed_by": ["12v"], "inverter": {"efficiency": 0.9, "most_w": 300}},
            {"id": "loop", "sort": "adapter", "fed_by": ["dc-15v"], "feeds": ["d-tap"]}
            ]"#,
        )
        .unwrap()
    }

    #[test]
    fn the_fewest_parts_are_found() {
        let kit = kit();
        let wiring = Wiring::new(&kit);
        let feeds = |item: usize| -> Vec<String> {
            wiring
                .routes(wiring.fed_by(item), None)
                .iter()
                .map(|route| serde_json::to_string(&route.described(&kit)).unwrap())
                .collect()
        };
        assert_eq!(
            feeds(0),
            [
                r#"{"source":"mains","adapters":["supply"]}"#,
                r#"{"source":{"battery":"block"},"adapters":["lead"]}"#,
            ]
        );
        assert_eq!(
            feeds(1),
            [
                r#"{"source":"mains"}"#,
                r#"{"source":{"battery":"block"},"inverter":"inverter"}"#,
            ]
        );
        assert!(wiring.reaches_mains(0) && wiring.reaches_mains(1) && !wiring.reaches_mains(5));
    }

    #[test]
    fn adapters_in_a_ring_end() {
        let kit: Vec<KitItem> = serde_json::from_str(
            r#"[
            {"id": "a", "fed_by": ["x"], "feeds": ["y"]},
            {"id": "b", "fed_by": ["y"], "feeds": ["x"]},
            {"id": "lamp", "fed_by": ["x"], "draws_w": 5}
            ]"#,
        )
        .unwrap();
        let wiring = Wiring::new(&kit);
        assert!(wiring.routes(wiring.fed_by(2), None).is_empty());
    }
}
