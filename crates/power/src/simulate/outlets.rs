//! Who hangs on which outlet in a setup, and what each outlet draws.

use super::outcome::{BATTERY_GIVES, CIRCUIT_BEARS, INVERTER_GIVES};
use super::{Over, Phase, Run, Why};
use crate::battery::positive;
use crate::draw::light_w;
use crate::feed::{Route, Src};
use crate::scene::{Consumer, Load, at_source_w, gives_nothing};
use crate::times::Timed;
use model::kit::MAINS;
use model::{Inverter, KitItem};

/// A sort of battery, the connector taken and whether it is shared.
pub(super) type Tap = (usize, Option<u32>, bool);

#[derive(Default)]
pub(super) struct Outlet {
    /// Indices into the slot's consumers.
    pub(super) consumers: Vec<usize>,
    /// What it is known by from slot to slot, on batteries: inverter or item, and which of several alike.
    pub(super) key: (usize, u32),
    pub(super) inverter: Option<usize>,
    /// What may feed it; empty on mains.
    pub(super) from: Vec<Tap>,
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
    /// Whether it is on `piece`, or about to be.
    pub(super) fn holds(&self, piece: usize) -> bool {
        self.on == Some(piece) || self.pending.is_some_and(|(_, pending)| pending == piece)
    }
}

/// Why a consumer stays dark, and what is asked for where it is too much.
type Dark = (Why, Option<Over>);

/// More than `by` can bear.
fn over(by: &str, limit: &'static str, load_w: f64, most_w: f64) -> Dark {
    let over = Over {
        by: by.into(),
        limit,
        load_w,
        most_w,
    };
    (Why::Overload, Some(over))
}

/// Refuses what is more than `by` can bear.
fn bears(by: &str, limit: &'static str, load_w: f64, most_w: f64) -> Result<(), Dark> {
    match load_w > most_w + 1e-9 {
        true => Err(over(by, limit, load_w, most_w)),
        false => Ok(()),
    }
}

impl<'a> Run<'_, 'a> {
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
        for (at, consumer) in load.consumers.iter().enumerate() {
            let to_mains = consumer.to_mains.as_ref().filter(|_| self.tweak.mains);
            let Some(route) = to_mains.or(consumer.routes.first()) else {
                continue;
            };
            let watts = self.watts(consumer, route.source);
            let joined = match route.source {
                Src::Mains => self.onto_mains(at, watts, load.mains_w),
                Src::Battery(_) => self.onto_battery(at, consumer, route, watts),
            };
            if let Err((why, over)) = joined {
                let begins = slot.times.start_min;
                let short = self.short(begins, route.source, why, vec![consumer.item]);
                short.over = over;
            }
        }
    }

    fn onto_mains(&mut self, at: usize, watts: f64, most_w: Option<f64>) -> Result<(), Dark> {
        let most_w = most_w.ok_or((Why::NoMains, None))?;
        let others = self.outlets.iter().filter(|other| other.from.is_empty());
        let others_w: f64 = others.map(|other| other.peak_w).sum();
        bears(MAINS, CIRCUIT_BEARS, others_w + watts, most_w)?;
        self.outlets.push(Outlet {
            consumers: vec![at],
            peak_w: watts,
            ..Outlet::default()
        });
        Ok(())
    }

    /// Onto the batteries of its ways, or onto an inverter that hangs on one.
    fn onto_battery(
        &mut self,
        at: usize,
        consumer: &Consumer<'_>,
        route: &Route,
        watts: f64,
    ) -> Result<(), Dark> {
        let scene = self.scene;
        let ways = consumer.routes.iter();
        let from: Vec<_> = ways
            .filter(|way| way.inverter == route.inverter)
            .filter_map(|way| match way.source {
                Src::Battery(item) => {
                    let shared = way.split || way.socket.is_none();
                    Some((scene.cells_of(item)?, way.socket, shared))
                }
                Src::Mains => None,
            })
            .collect();
        let gives = from.iter().map(|(cells, ..)| scene.cells[*cells].most_w);
        let gives_w = gives.fold(0.0, f64::max);
        let source = route.source.described(&scene.project.kit).to_string();
        let inverter = route.inverter.and_then(|item| scene.inverter(item));
        let outlet = Outlet {
            consumers: vec![at],
            key: (route.inverter.unwrap_or(consumer.item), consumer.unit),
            inverter: route.inverter,
            from,
            used_w: watts,
            peak_w: at_source_w(inverter, watts),
            ..Outlet::default()
        };
        match (route.inverter, inverter) {
            (Some(item), Some(inverter)) => {
                let item = &scene.project.kit[item];
                self.onto_inverter(outlet, item, inverter, (&source, gives_w))
            }
            _ => {
                bears(&source, BATTERY_GIVES, watts, gives_w)?;
                self.outlets.push(outlet);
                Ok(())
            }
        }
    }

    /// Onto one of these inverters that has room, else onto another of them, as far as the source gives.
    fn onto_inverter(
        &mut self,
        new: Outlet,
        item: &KitItem,
        inverter: &Inverter,
        (source, gives_w): (&str, f64),
    ) -> Result<(), Dark> {
        let (by, most_w) = (item.id.as_str(), positive(inverter.most_w));
        let bounds = |out_w: f64, in_w: f64| {
            bears(by, INVERTER_GIVES, out_w, most_w)?;
            bears(source, BATTERY_GIVES, in_w, gives_w)
        };
        let mut met = None;
        let mut taken = 0;
        for outlet in &mut self.outlets {
            if outlet.inverter != new.inverter {
                continue;
            }
            taken += 1;
            if outlet.from.first().map(|f| f.0) != new.from.first().map(|f| f.0) {
                continue;
            }
            let out_w = outlet.used_w + new.used_w;
            let in_w = at_source_w(Some(inverter), out_w);
            match bounds(out_w, in_w) {
                Err(dark) => met = Some(dark),
                Ok(()) => {
                    outlet.consumers.extend(new.consumers);
                    outlet.used_w = out_w;
                    outlet.peak_w = in_w;
                    return Ok(());
                }
            }
        }
        if taken >= item.count.max(1) as usize {
            return Err(met.unwrap_or_else(|| over(by, INVERTER_GIVES, new.used_w, most_w)));
        }
        if !new.peak_w.is_finite() {
            let why = format!("its efficiency is {}", inverter.efficiency);
            gives_nothing(item, &why).once(&mut self.out.findings);
            return Err((Why::Overload, None));
        }
        bounds(new.used_w, new.peak_w)?;
        self.outlets.push(new);
        Ok(())
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
