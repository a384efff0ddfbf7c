//! The question made ready: for each slot who draws what and by which ways it can be fed, and for each
//! battery what charges it. It is made once a day and then simulated many times.

use crate::battery::{full_wh, positive};
use crate::draw::{inverter_input_w, item_w, light_w, mains_w};
use crate::feed::{Route, Src, Wiring};
use crate::times::Timed;
use model::kit::MAINS;
use model::{Battery, Finding, Inverter, KitId, KitItem, Light, Project, Setup};

/// One thing that draws power in a slot.
pub(crate) struct Consumer<'a> {
    pub item: usize,
    /// Which of several alike in this slot, from 0.
    pub unit: u32,
    pub light: Option<&'a Light>,
    pub level: f64,
    pub watts: f64,
    /// The ways it can be fed, best first; the first decides, later ones are fallen back on.
    pub routes: Vec<Route>,
    /// The way to a socket of the place, for whom typed otherwise.
    pub to_mains: Option<Route>,
}

/// What the simulation needs of one slot.
pub(crate) struct Load<'a> {
    pub consumers: Vec<Consumer<'a>>,
    /// What the place's circuit bears for long, watts; `None` without mains.
    pub mains_w: Option<f64>,
    pub air_c: f64,
    /// When the place lets one in, minutes.
    pub access: Vec<[f64; 2]>,
}

/// One sort of battery.
pub(crate) struct Cells<'a> {
    pub item: usize,
    pub battery: &'a Battery,
    pub count: u32,
    pub full_wh: f64,
    pub most_w: f64,
    pub charge_w: f64,
    pub lithium: bool,
    /// Its connectors that others may not share, each as often as it has it; empty where unsaid.
    pub sockets: Vec<u32>,
    /// Chargers that take it, indices into [`Scene::chargers`].
    pub chargers: Vec<usize>,
    /// Whether it charges from a socket by itself.
    pub by_itself: bool,
}

pub(crate) struct Charger {
    pub into_w: f64,
    pub bays: u32,
    pub efficiency: f64,
    pub on_mains: bool,
}

pub(crate) struct Scene<'a> {
    pub project: &'a Project,
    pub slots: Vec<Timed>,
    pub loads: Vec<Load<'a>>,
    pub cells: Vec<Cells<'a>>,
    pub chargers: Vec<Charger>,
}

impl<'a> Scene<'a> {
    pub fn new(
        project: &'a Project,
        air_c: Option<f64>,
        slots: Vec<Timed>,
        findings: &mut Vec<Finding>,
    ) -> Self {
        let (wiring, practice) = (Wiring::new(&project.kit), &project.practice);
        let air_c = air_c.filter(|air| air.is_finite());
        if air_c.is_none() && project.kit.iter().any(|item| item.battery.is_some()) {
            findings.push(Finding::unknown("air-unknown", format!(
                "the day does not say how cold it gets, and cold takes a quarter or more; batteries are counted at {:.0} degrees", practice.indoor_c
            )).mended_by("write `air_c`"));
        }
        let loads = slots
            .iter()
            .map(|slot| {
                let place = slot.place.map(|at| &project.places[at]);
                let mains = place.and_then(|place| place.mains.as_ref());
                let mains_w = mains.map(|mains| mains_w(mains, practice.mains_share));
                Load {
                    consumers: Reader {
                        project,
                        wiring: &wiring,
                        setup: &project.setups[slot.setup],
                        has_mains: mains_w.is_some_and(|watts| watts > 0.0),
                        mains_first: practice.mains_first,
                        findings,
                    }
                    .consumers(),
                    mains_w,
                    air_c: match place.and_then(|place| place.interior) {
                        Some(true) => practice.indoor_c,
                        _ => air_c.unwrap_or(practice.indoor_c),
                    },
                    access: place.map_or_else(Vec::new, |place| {
                        let windows = place.access.iter();
                        windows.map(|w| w.map(|t| f64::from(t.minutes()))).collect()
                    }),
                }
            })
            .collect();
        let mut scene = Self {
            project,
            slots,
            loads,
            cells: Vec::new(),
            chargers: Vec::new(),
        };
        scene.charging(&wiring, findings);
        scene
    }

    fn charging(&mut self, wiring: &Wiring, findings: &mut Vec<Finding>) {
        let kit = &self.project.kit;
        let mut items = Vec::new();
        for (at, item) in kit.iter().enumerate() {
            let Some(charger) = &item.charger else {
                continue;
            };
            items.push(at);
            self.chargers.push(Charger {
                into_w: positive(charger.into_w),
                bays: item.count.saturating_mul(charger.bays).min(1000),
                efficiency: charger
                    .efficiency
                    .filter(|e| e.is_finite() && *e > 0.0)
                    .unwrap_or(self.project.practice.charger_efficiency)
                    .min(1.0),
                on_mains: item.fed_by.is_empty() || wiring.reaches_mains(at),
            });
        }
        let anywhere = self.loads.iter().any(|load| load.mains_w.is_some());
        for (at, item) in kit.iter().enumerate() {
            let Some(battery) = &item.battery else {
                continue;
            };
            let full = full_wh(battery);
            if full <= 0.0 {
                findings.push(gives_nothing(
                    item,
                    &format!("it is said to hold {} Wh", battery.wh),
                ));
            }
            let meets = |a: &[u32], b: &[u32]| a.iter().any(|c| b.contains(c));
            let unsaid = |charger: usize| {
                wiring.feeds(charger).is_empty()
                    || (wiring.fed_by(at).is_empty() && wiring.feeds(at).is_empty())
            };
            let fits: Vec<usize> = (0..items.len())
                .filter(|n| {
                    let gives = wiring.feeds(items[*n]);
                    // A battery's own plate is often also what its charger holds it by.
                    let plate: &[u32] = if wiring.fed_by(at).is_empty() {
                        wiring.feeds(at)
                    } else {
                        &[]
                    };
                    meets(wiring.fed_by(at), gives) || meets(plate, gives) || unsaid(items[*n])
                })
                .collect();
            let reaches = wiring.reaches_mains(at);
            let charge_w = battery.charge_w.map(positive);
            if anywhere && fits.iter().any(|n| unsaid(items[*n])) {
                findings.push(Finding::unknown("charger-unsaid", format!(
                    "which charger takes `{}` is not said; the first that may is counted with", item.id
                )).about(&item.id).mended_by("write the connectors of both"));
            }
            if anywhere && reaches && charge_w.is_none() && fits.is_empty() {
                // Nothing rests on it that calms: it is counted as not charged.
                findings.push(Finding::note("charging-power-unsaid", format!(
                    "`{}` charges from a socket by itself, and how fast is not said, so it is not counted", item.id
                )).about(&item.id).mended_by("write `charge_w`"));
            }
            self.cells.push(Cells {
                item: at,
                battery,
                // A plan of more pieces than anybody carries is cut short rather than followed.
                count: item.count.min(1000),
                full_wh: full,
                most_w: battery.most_w.map_or(f64::INFINITY, positive),
                charge_w: charge_w.unwrap_or(f64::INFINITY),
                lithium: battery.chemistry.is_lithium(),
                sockets: wiring.feeds(at).to_vec(),
                chargers: fits,
                by_itself: reaches && charge_w.is_some(),
            });
        }
    }

    pub fn inverter(&self, item: usize) -> Option<&'a Inverter> {
        self.project.kit[item].inverter.as_ref()
    }

    /// The sort of battery that the item at `item` is.
    pub fn cells_of(&self, item: usize) -> Option<usize> {
        self.cells.iter().position(|cells| cells.item == item)
    }
}

/// Reads one setup.
struct Reader<'a, 'f> {
    project: &'a Project,
    wiring: &'f Wiring,
    setup: &'a Setup,
    has_mains: bool,
    mains_first: bool,
    findings: &'f mut Vec<Finding>,
}

impl<'a> Reader<'a, '_> {
    fn at(&self, id: &KitId) -> Option<usize> {
        self.project.kit.iter().position(|item| item.id == *id)
    }

    fn consumers(mut self) -> Vec<Consumer<'a>> {
        let setup = self.setup;
        let mut wanted: Vec<(usize, Option<&'a KitId>, Option<f64>)> = Vec::new();
        if let Some(optics) = &setup.optics
            && let Some(at) = self.at(&optics.camera)
        {
            let listed = || setup.kit.iter().find(|used| used.item == optics.camera);
            let from = optics.fed_from.as_ref();
            let from = from.or_else(|| listed().and_then(|used| used.fed_from.as_ref()));
            wanted.push((at, from, None));
        }
        for light in &setup.lights {
            if let Some(at) = self.at(&light.light) {
                let level = light.level.unwrap_or(1.0);
                wanted.push((at, light.fed_from.as_ref(), Some(level)));
            }
        }
        for used in &setup.kit {
            let Some(at) = self.at(&used.item) else {
                continue;
            };
            let item = &self.project.kit[at];
            let loose = item.battery.as_ref().is_some_and(|one| !one.built_in);
            let feeds_others = loose || item.inverter.is_some() || item.charger.is_some();
            // Camera and lights that are set already only have their feeding typed here.
            let counted = wanted.iter().any(|(other, ..)| *other == at);
            let draws = item_w(item).is_some() || item.camera.is_some();
            if draws && !feeds_others && !counted {
                for _ in 0..used.count.min(100) {
                    wanted.push((at, used.fed_from.as_ref(), None));
                }
            }
        }
        let mut consumers: Vec<Consumer<'a>> = Vec::with_capacity(wanted.len());
        for (at, fed_from, level) in wanted {
            let item = &self.project.kit[at];
            let level = level.unwrap_or(1.0);
            let watts = match &item.light {
                Some(light) => light_w(light, level),
                None => match item_w(item) {
                    Some(watts) => watts,
                    None => {
                        let (id, setup) = (&item.id, &setup.id);
                        let says = format!(
                            "what `{id}` draws in `{setup}` is not said and counts as nothing"
                        );
                        Finding::unknown("draw-unknown", says)
                            .about(setup)
                            .about(id)
                            .mended_by("write its watts")
                            .once(self.findings);
                        continue;
                    }
                },
            };
            if watts <= 0.0 {
                continue;
            }
            let unit = consumers.iter().filter(|other| other.item == at).count() as u32;
            let all = self.wiring.routes(self.wiring.fed_by(at), None);
            let to_mains = all
                .iter()
                .find(|route| self.has_mains && route.source == Src::Mains)
                .cloned();
            consumers.push(Consumer {
                item: at,
                unit,
                light: item.light.as_ref(),
                level,
                watts,
                routes: self.routes(at, item, fed_from, all),
                to_mains,
            });
        }
        self.inverters(&mut consumers);
        self.adapters(&consumers);
        consumers
    }

    /// An inverter hangs on one battery at a time: with as many batteries asked for as there are of it, who
    /// comes later joins the first.
    fn inverters(&mut self, consumers: &mut [Consumer<'a>]) {
        let mut hung: Vec<(usize, Vec<Route>)> = Vec::new();
        for consumer in consumers {
            let Some(first) = consumer.routes.first().cloned() else {
                continue;
            };
            let Some(inverter) = first.inverter else {
                continue;
            };
            let ways = those(&consumer.routes, |route| route.inverter == Some(inverter));
            let same = |other: &&(usize, Vec<Route>)| {
                other.0 == inverter && other.1[0].source == first.source
            };
            if hung.iter().find(same).is_some() {
                continue;
            }
            let item = &self.project.kit[inverter];
            let taken = hung.iter().filter(|other| other.0 == inverter).count();
            if taken < item.count.max(1) as usize {
                hung.push((inverter, ways));
                continue;
            }
            let Some((_, joined)) = hung.iter().find(|other| other.0 == inverter) else {
                continue;
            };
            let kit = &self.project.kit;
            let (fed, used) = (&kit[consumer.item].id, joined[0].source.described(kit));
            Finding::warning("inverter-taken", format!(
                "`{fed}` is to be fed from `{}` through `{}` in `{}`, which hangs on `{used}` there; it is counted on `{used}`",
                first.source.described(kit), item.id, self.setup.id
            ))
            .about(&self.setup.id)
            .about_all([fed, &item.id])
            .mended_by("bring another inverter if that is not meant")
            .once(self.findings);
            // Its own adapters before the inverter, the other's behind it.
            let near = &first.adapters[..first.near.min(first.adapters.len())];
            consumer.routes = joined
                .iter()
                .map(|route| {
                    let mut route = route.clone();
                    let behind = route
                        .adapters
                        .split_off(route.near.min(route.adapters.len()));
                    route.adapters = [near, behind.as_slice()].concat();
                    route.near = near.len();
                    route
                })
                .collect();
        }
    }

    fn is_built_in(&self, route: &Route) -> bool {
        match route.source {
            Src::Battery(at) => {
                let battery = self.project.kit[at].battery.as_ref();
                battery.is_some_and(|battery| battery.built_in)
            }
            Src::Mains => false,
        }
    }

    fn routes(
        &mut self,
        at: usize,
        item: &KitItem,
        fed_from: Option<&KitId>,
        all: Vec<Route>,
    ) -> Vec<Route> {
        let mut all = self.as_inverters_are_fed(all);
        // A battery that is built in feeds what it is built into.
        let own = Wiring::as_typed(Src::Battery(at), None);
        if self.is_built_in(&own) && all.iter().all(|route| route.source != own.source) {
            all.push(own);
        }
        if let Some(source) = fed_from
            && let Some(mut typed) = self.typed(at, source, &all)
        {
            // What is built in bridges and stands in, whatever was typed.
            typed.extend(those(&all, |route| {
                self.is_built_in(route) && !typed.contains(route)
            }));
            return typed;
        }
        if item.fed_by.is_empty() && all.is_empty() {
            self.feed_unknown(&item.id);
            return Vec::new();
        }
        let mut routes = those(&all, |route| self.has_mains || route.source != Src::Mains);
        routes.sort_by_key(|route| match route.source {
            Src::Mains if self.mains_first => 0,
            Src::Mains => 3,
            Src::Battery(_) => 1 + u8::from(self.is_built_in(route)),
        });
        if routes.is_empty() {
            let (id, setup) = (&item.id, &self.setup.id);
            let takes = item.fed_by.join(" or ");
            let says = format!("nothing in the kit feeds `{id}` in `{setup}`, which takes {takes}");
            Finding::problem("nothing-feeds", says)
                .about(setup)
                .about(id)
                .mended_by("add a battery, an adapter or mains with that connector")
                .once(self.findings);
        }
        routes
    }

    /// Ways through an inverter whose own feeding is typed in this setup go from there.
    fn as_inverters_are_fed(&self, all: Vec<Route>) -> Vec<Route> {
        let mut out: Vec<Route> = Vec::with_capacity(all.len());
        for route in all {
            let typed = route
                .inverter
                .and_then(|inverter| self.typed_battery(&self.project.kit[inverter].id));
            match typed {
                Some(battery) if route.source != Src::Battery(battery) => {
                    let instead = Wiring::as_typed(Src::Battery(battery), route.inverter);
                    let there = |other: &Route| {
                        other.source == instead.source && other.inverter == instead.inverter
                    };
                    if !out.iter().any(there) {
                        out.push(instead);
                    }
                }
                _ => {
                    // The way that connectors bear out goes before the one that was only typed.
                    out.retain(|other| {
                        other.source != route.source || other.inverter != route.inverter
                    });
                    out.push(route);
                }
            }
        }
        out
    }

    /// The ways from a typed source to the item at `at`; `None` where it can feed nothing.
    fn typed(&mut self, at: usize, source: &KitId, all: &[Route]) -> Option<Vec<Route>> {
        let kit = &self.project.kit;
        let src = match self.at(source) {
            // Without mains there the simulation says what stays dark.
            None if source.as_str() == MAINS => Src::Mains,
            None => return None,
            Some(from) if kit[from].battery.is_some() => Src::Battery(from),
            Some(from) if kit[from].inverter.is_some() => {
                return Some(self.through_inverter(at, from, all));
            }
            Some(from) if self.wiring.is_adapter(from) => {
                return Some(self.through_adapter(at, from, all));
            }
            Some(_) => {
                let (id, setup) = (&kit[at].id, &self.setup.id);
                Finding::warning("cannot-feed", format!(
                    "`{id}` is to be fed from `{source}` in `{setup}`, which is no battery, inverter or adapter; it is fed as if that were not said"
                ))
                .about(setup)
                .about_all([id, source])
                .once(self.findings);
                return None;
            }
        };
        let mut routes = those(all, |route| route.source == src);
        if routes.is_empty() {
            self.unjoined(at, source);
            routes.push(Wiring::as_typed(src, None));
        }
        Some(routes)
    }

    /// The ways to the item at `at` through the inverter at `from`.
    fn through_inverter(&mut self, at: usize, from: usize, all: &[Route]) -> Vec<Route> {
        let id = &self.project.kit[from].id;
        let mut routes = those(all, |route| route.inverter == Some(from));
        if routes.is_empty() {
            let feeds = self.wiring.feeds(from);
            if !self.wiring.fed_by(at).iter().any(|c| feeds.contains(c)) {
                self.unjoined(at, id);
            }
            let inlet = self.wiring.routes(self.wiring.fed_by(from), Some(from));
            routes = self.as_inverters_are_fed(inlet);
        }
        if routes.is_empty() {
            // No connectors of it are known: what is typed for it in this setup, or nothing.
            match self.typed_battery(id) {
                Some(battery) => {
                    routes.push(Wiring::as_typed(Src::Battery(battery), Some(from)));
                }
                None => self.feed_unknown(id),
            }
        }
        routes
    }

    /// The ways to the item at `at` through the adapter at `from`.
    fn through_adapter(&mut self, at: usize, from: usize, all: &[Route]) -> Vec<Route> {
        let mut routes = those(all, |route| route.adapters.contains(&from));
        if routes.is_empty() {
            self.unjoined(at, &self.project.kit[from].id);
            routes = self.wiring.routes(self.wiring.fed_by(from), None);
            for route in &mut routes {
                route.adapters.insert(0, from);
            }
        }
        routes.retain(|route| self.has_mains || route.source != Src::Mains);
        routes
    }

    /// The battery that this setup says `item` is fed from.
    fn typed_battery(&self, item: &KitId) -> Option<usize> {
        let used = self.setup.kit.iter().find(|used| used.item == *item)?;
        let battery = self.at(used.fed_from.as_ref()?)?;
        let is_one = self.project.kit[battery].battery.is_some();
        is_one.then_some(battery)
    }

    /// Says that the item at `at` is typed to be fed from `source` and nothing joins the two, where the
    /// connectors of both are known.
    fn unjoined(&mut self, at: usize, source: &KitId) {
        let wired = |from| !self.wiring.feeds(from).is_empty();
        if self.wiring.fed_by(at).is_empty() || !self.at(source).is_none_or(wired) {
            return;
        }
        let (id, setup) = (&self.project.kit[at].id, &self.setup.id);
        Finding::problem("no-connector", format!(
            "`{id}` is to be fed from `{source}` in `{setup}`, and no connectors or adapters of the kit join the two; it is counted as if they did"
        ))
        .about(setup)
        .about(id)
        .mended_by("pack the adapter")
        .once(self.findings);
    }

    fn feed_unknown(&mut self, item: &KitId) {
        let setup = &self.setup.id;
        let says = format!("what feeds `{item}` in `{setup}` is not said, so it is not counted");
        Finding::unknown("feed-unknown", says)
            .about(setup)
            .about(item)
            .mended_by("write its connectors or what it is fed from")
            .once(self.findings);
    }

    /// Whether the kit has as many adapters as the first ways take.
    fn adapters(&mut self, consumers: &[Consumer<'_>]) {
        let mut needed: Vec<(usize, u32)> = Vec::new();
        let mut inlets: Vec<usize> = Vec::new();
        for consumer in consumers {
            let Some(route) = consumer.routes.first() else {
                continue;
            };
            // What stands between battery and inverter is needed once, not for each lamp behind it.
            let mut parts = route.adapters.as_slice();
            if let Some(inverter) = route.inverter {
                if inlets.contains(&inverter) {
                    parts = &parts[..route.near.min(parts.len())];
                }
                inlets.push(inverter);
            }
            for adapter in parts {
                match needed.iter_mut().find(|(at, _)| at == adapter) {
                    Some((_, count)) => *count += 1,
                    None => needed.push((*adapter, 1)),
                }
            }
        }
        for (at, needed) in needed {
            let item = &self.project.kit[at];
            // A splitter serves as many as it has ends.
            let there = item.count.saturating_mul(item.feeds.len().max(1) as u32);
            if needed > there {
                let (id, setup) = (&item.id, &self.setup.id);
                let says = format!(
                    "`{setup}` needs {needed} of the adapter `{id}` and the kit has {there}"
                );
                Finding::problem("adapter-short", says)
                    .about(setup)
                    .about(id)
                    .mended_by("get more or feed otherwise")
                    .once(self.findings);
            }
        }
    }
}

/// The ways that are to be kept.
fn those(all: &[Route], keep: impl Fn(&Route) -> bool) -> Vec<Route> {
    all.iter().filter(|route| keep(route)).cloned().collect()
}

/// Something whose figures leave it nothing to give.
pub(crate) fn gives_nothing(item: &KitItem, why: &str) -> Finding {
    let says = format!("`{}` gives nothing, as {why}", item.id);
    Finding::problem("gives-nothing", says)
        .about(&item.id)
        .mended_by("correct the figure")
}

/// What `load_w` behind `inverter` takes from the source, watts; infinite where it gives nothing.
pub(crate) fn at_source_w(inverter: Option<&Inverter>, load_w: f64) -> f64 {
    match inverter {
        Some(inverter) => inverter_input_w(inverter, load_w).unwrap_or(f64::INFINITY),
        None => load_w,
    }
}
