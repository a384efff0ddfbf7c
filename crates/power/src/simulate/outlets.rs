//! Who hangs on which outlet in a setup, and what each outlet draws.

use super::outcome::{BATTERY_GIVES, CIRCUIT_BEARS, INVERTER_GIVES};
use super::{Over, Phase, Run, Why};
use crate::draw::light_w;
use crate::feed::Src;
use crate::scene::{Consumer, Load, at_source_w, gives_nothing};
use crate::times::Timed;

pub(super) struct Outlet {
    /// Indices into the slot's consumers.
    pub(super) consumers: Vec<usize>,
    pub(super) inverter: Option<usize>,
    /// Sorts of battery, the connector taken and whether it is shared; empty on mains.
    pub(super) from: Vec<(usize, Option<u32>, bool)>,
    pub(super) peak_w: f64,
    pub(super) on: Option<usize>,
    pub(super) pending: Option<(f64, usize)>,
    /// Whether it has once been attached in this slot.
    pub(super) begun: bool,
    pub(super) dark: bool,
    pub(super) load_w: f64,
    pub(super) used_w: f64,
    pub(super) last_flow: Option<usize>,
}

impl Outlet {
    fn new(
        consumers: Vec<usize>,
        inverter: Option<usize>,
        from: Vec<(usize, Option<u32>, bool)>,
        peak_w: f64,
    ) -> Self {
        Self {
            consumers,
            inverter,
            from,
            peak_w,
            on: None,
            pending: None,
            begun: false,
            dark: false,
            load_w: 0.0,
            used_w: 0.0,
            last_flow: None,
        }
    }
}

impl<'a> Run<'_, 'a> {
    pub(super) fn key(&self, outlet: &Outlet, load: &Load<'a>) -> (usize, u32) {
        let first = &load.consumers[outlet.consumers[0]];
        outlet
            .inverter
            .map_or((first.item, first.unit), |at| (at, first.unit))
    }

    fn watts(&self, consumer: &Consumer<'_>, source: Src) -> f64 {
        match (self.tweak.dim, consumer.light) {
            (Some((on, most, only)), Some(light))
                if on == source && only.is_none_or(|slot| slot == self.slot) =>
            {
                light_w(light, consumer.level.min(most))
            }
            _ => consumer.watts,
        }
    }

    /// Joins the slot's consumers to outlets; whom no source bears stays dark.
    pub(super) fn assign(&mut self, slot: &Timed, load: &Load<'a>) {
        let scene = self.scene;
        let mut mains_left = load.mains_w.unwrap_or(0.0);
        let mut outlets: Vec<Outlet> = Vec::new();
        let begins = slot.times.start_min;
        for (at, consumer) in load.consumers.iter().enumerate() {
            let to_mains = consumer.to_mains.as_ref().filter(|_| self.tweak.mains);
            let Some(route) = to_mains.or(consumer.routes.first()) else {
                continue;
            };
            let watts = self.watts(consumer, route.source);
            if route.source == Src::Mains {
                let Some(most) = load.mains_w else {
                    self.short(begins, Src::Mains, Why::NoMains, vec![consumer.item]);
                    continue;
                };
                if watts > mains_left + 1e-9 {
                    let before = most - mains_left;
                    self.overload(
                        begins,
                        Src::Mains,
                        CIRCUIT_BEARS,
                        before + watts,
                        most,
                        consumer.item,
                        None,
                    );
                    continue;
                }
                mains_left -= watts;
                outlets.push(Outlet::new(vec![at], None, Vec::new(), watts));
                continue;
            }
            let inverter = route.inverter.and_then(|at| scene.inverter(at));
            let from: Vec<(usize, Option<u32>, bool)> = consumer
                .routes
                .iter()
                .filter(|other| other.inverter == route.inverter)
                .filter_map(|other| match other.source {
                    Src::Battery(item) => {
                        let shared = other.split || other.socket.is_none();
                        Some((scene.cells_of(item)?, other.socket, shared))
                    }
                    Src::Mains => None,
                })
                .collect();
            let gives = from
                .iter()
                .map(|(cells, ..)| scene.cells[*cells].most_w)
                .fold(0.0, f64::max);
            if let (Some(item), Some(inverter)) = (route.inverter, inverter) {
                // Onto one of these inverters that has room, else onto another of them.
                let most = crate::battery::positive(inverter.most_w);
                let used = outlets.iter().filter(|o| o.inverter == Some(item)).count();
                let ours = outlets.iter_mut().filter(|o| {
                    let same = o.from.first().map(|f| f.0) == from.first().map(|f| f.0);
                    o.inverter == Some(item) && same
                });
                let mut met: Option<(f64, &'static str, f64)> = None;
                let mut put = false;
                for outlet in ours {
                    let out_w = outlet.used_w + watts;
                    let in_w = at_source_w(Some(inverter), out_w);
                    if out_w > most + 1e-9 {
                        met = Some((out_w, INVERTER_GIVES, most));
                    } else if in_w > gives + 1e-9 {
                        met = Some((in_w, BATTERY_GIVES, gives));
                    } else {
                        outlet.consumers.push(at);
                        outlet.used_w = out_w;
                        outlet.peak_w = in_w;
                        put = true;
                        break;
                    }
                }
                if put {
                    continue;
                }
                if used < scene.project.kit[item].count.max(1) as usize {
                    let in_w = at_source_w(Some(inverter), watts);
                    if !in_w.is_finite() {
                        let why = format!("its efficiency is {}", inverter.efficiency);
                        gives_nothing(&scene.project.kit[item], &why).once(&mut self.out.findings);
                        self.short(begins, route.source, Why::Overload, vec![consumer.item]);
                        continue;
                    }
                    met = if watts > most + 1e-9 {
                        Some((watts, INVERTER_GIVES, most))
                    } else if in_w > gives + 1e-9 {
                        Some((in_w, BATTERY_GIVES, gives))
                    } else {
                        let mut outlet = Outlet::new(vec![at], Some(item), from, in_w);
                        outlet.used_w = watts;
                        outlets.push(outlet);
                        continue;
                    };
                }
                let (load_w, limit, most_w) = met.unwrap_or((watts, INVERTER_GIVES, most));
                self.overload(
                    begins,
                    route.source,
                    limit,
                    load_w,
                    most_w,
                    consumer.item,
                    Some(item),
                );
                continue;
            }
            if watts > gives + 1e-9 {
                self.overload(
                    begins,
                    route.source,
                    BATTERY_GIVES,
                    watts,
                    gives,
                    consumer.item,
                    None,
                );
                continue;
            }
            outlets.push(Outlet::new(vec![at], None, from, watts));
        }
        self.outlets = outlets;
    }

    #[allow(clippy::too_many_arguments, reason = "one finding's fields")]
    fn overload(
        &mut self,
        at_min: f64,
        source: Src,
        limit: &'static str,
        load_w: f64,
        most_w: f64,
        dark: usize,
        inverter: Option<usize>,
    ) {
        let kit = &self.scene.project.kit;
        let by = match inverter.filter(|_| limit == INVERTER_GIVES) {
            Some(at) => kit[at].id.to_string(),
            None => source.described(kit).to_string(),
        };
        let over = Over {
            by,
            limit,
            load_w,
            most_w,
        };
        self.short(at_min, source, Why::Overload, vec![dark]).over = Some(over);
    }

    pub(super) fn items(&self, outlet: usize, load: &Load<'a>) -> Vec<usize> {
        let consumers = self.outlets[outlet].consumers.iter();
        consumers.map(|at| load.consumers[*at].item).collect()
    }

    /// What outlet `o` draws in `phase`: at its source, and by its consumers.
    pub(super) fn draw(&self, o: usize, phase: &Phase, load: &Load<'a>) -> (f64, f64) {
        let outlet = &self.outlets[o];
        let source = match outlet.from.first() {
            Some((cells, ..)) => Src::Battery(self.scene.cells[*cells].item),
            None => Src::Mains,
        };
        let used: f64 = outlet
            .consumers
            .iter()
            .map(|at| &load.consumers[*at])
            .filter(|consumer| phase.lights || consumer.light.is_none())
            .map(|consumer| self.watts(consumer, source))
            .sum();
        if used <= 0.0 {
            return (0.0, 0.0);
        }
        let inverter = outlet.inverter.and_then(|at| self.scene.inverter(at));
        (at_source_w(inverter, used), used)
    }

    /// What outlet `o` takes from the beginning of phase `n` to the end of the next pass.
    pub(super) fn need_wh(&self, o: usize, phases: &[Phase], n: usize, load: &Load<'a>) -> f64 {
        let mut need = 0.0;
        for phase in &phases[n..] {
            need += self.draw(o, phase, load).0 * (phase.to - phase.from) / 60.0;
            if phase.pass {
                break;
            }
        }
        need
    }
}
