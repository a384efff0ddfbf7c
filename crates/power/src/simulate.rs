//! The day run through once: from event to event, exactly, as every load is steady between two of them.
//!
//! # The rules
//! - Each consumer is fed directly, or all that hang on one inverter together; this is an *outlet*.
//! - A piece (one of several alike) feeds one outlet, unless its connector can be shared; a free piece goes
//!   before one to be shared, and the fullest before others. An outlet keeps its piece from setup to setup
//!   where that lasts through all of the next.
//! - At rigging and at every reset, a piece that won't last through the next pass is changed for one that
//!   will, if there is one. Otherwise it is used down to its reserve and changed then.
//! - When no piece above its reserve is left, the outlet goes on below it, and that is said; when that is used
//!   up too it goes dark, and is looked after again at the next rig, pass or reset.
//! - A change takes its time, and the consumer is off meanwhile, unless a built-in battery bridges it. What
//!   holds less than a minute is not worth a change.
//! - Pieces that feed nothing are charged wherever there are mains, emptiest first, in as many bays as the
//!   circuit bears beside what else is on it.

use crate::draw::light_w;
use crate::feed::Src;
use crate::finding::{Finding, Limit};
use crate::scene::{Consumer, Load, Scene, at_source_w};
use crate::times::Timed;

const EPS_WH: f64 = 1e-7;
const EPS_MIN: f64 = 1e-9;

/// What is changed against the plan, to find a fix.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tweak {
    /// More pieces of a sort of battery (index into the scene's cells).
    pub more: Option<(usize, u32)>,
    /// Lights on a source dimmed to a level at most, in one slot (by the day's own order) or all.
    pub dim: Option<(Src, f64, Option<usize>)>,
    /// Whether everything that can goes on mains where there are any.
    pub mains: bool,
}

/// Power that flowed from a piece, or the mains, into an outlet.
#[derive(Clone, Debug)]
pub(crate) struct Flow {
    pub slot: usize,
    pub items: Vec<usize>,
    /// `None` for the mains.
    pub piece: Option<usize>,
    pub from_min: f64,
    pub to_min: f64,
    /// At the source.
    pub watts: f64,
}

#[derive(Clone, Debug)]
pub(crate) struct Charged {
    pub piece: usize,
    pub from_min: f64,
    pub to_min: f64,
    pub wh: f64,
}

#[derive(Clone, Debug)]
pub(crate) struct Change {
    pub slot: usize,
    pub items: Vec<usize>,
    pub at_min: f64,
    pub from: Option<usize>,
    pub to: usize,
    pub in_pass: bool,
    pub bridged: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Why {
    Dark,
    Taken,
    Overload,
    NoMains,
    BelowReserve,
}

/// A time at which power falls short.
#[derive(Clone, Debug)]
pub(crate) struct Short {
    pub at_min: f64,
    pub slot: usize,
    pub source: Src,
    pub why: Why,
    pub items: Vec<usize>,
}

#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// Index into the scene's cells.
    pub cells: usize,
    /// From 1.
    pub nth: u32,
    pub start_wh: f64,
    pub stored_wh: f64,
    pub drawn_wh: f64,
    pub charged_wh: f64,
    floor_wh: f64,
    line_wh: f64,
    below: bool,
    charging: bool,
    last_charge: Option<usize>,
}

#[derive(Default)]
pub(crate) struct Outcome {
    pub pieces: Vec<Piece>,
    pub flows: Vec<Flow>,
    pub charges: Vec<Charged>,
    pub changes: Vec<Change>,
    pub shorts: Vec<Short>,
    pub findings: Vec<Finding>,
    /// Taken by the consumers themselves.
    pub used_wh: f64,
    /// Lost in inverters.
    pub lost_wh: f64,
    /// From the mains to consumers, and to chargers.
    pub mains_wh: f64,
    pub mains_to_chargers_wh: f64,
}

struct Outlet {
    /// Indices into the slot's consumers.
    consumers: Vec<usize>,
    inverter: Option<usize>,
    /// Sorts of battery, the connector taken and whether it is shared; empty on mains.
    from: Vec<(usize, Option<u32>, bool)>,
    peak_w: f64,
    on: Option<usize>,
    pending: Option<(f64, usize)>,
    /// Whether it has once been attached in this slot.
    begun: bool,
    dark: bool,
    load_w: f64,
    used_w: f64,
    last_flow: Option<usize>,
}

#[derive(Clone, Copy)]
struct Phase {
    from: f64,
    to: f64,
    lights: bool,
    pass: bool,
}

struct Run<'s, 'a> {
    scene: &'s Scene<'a>,
    tweak: &'s Tweak,
    record: bool,
    out: Outcome,
    /// The pieces of each sort: from and to.
    ranges: Vec<(usize, usize)>,
    /// What each outlet was on last: its first item, which of several, and the piece.
    last_on: Vec<(usize, u32, usize)>,
    outlets: Vec<Outlet>,
    slot: usize,
    air_c: f64,
}

/// Runs `slots` (the scene's, perhaps in another order) through. `record` keeps what a person reads.
pub(crate) fn simulate(scene: &Scene<'_>, slots: &[Timed], tweak: &Tweak, record: bool) -> Outcome {
    let mut run = Run {
        scene,
        tweak,
        record,
        out: Outcome::default(),
        ranges: Vec::with_capacity(scene.cells.len()),
        last_on: Vec::new(),
        outlets: Vec::new(),
        slot: 0,
        air_c: f64::NAN,
    };
    for (at, cells) in scene.cells.iter().enumerate() {
        let more = tweak
            .more
            .filter(|(which, _)| *which == at)
            .map_or(0, |(_, n)| n);
        let first = run.out.pieces.len();
        let start = crate::battery::at_call_wh(cells.battery, &scene.habits);
        for nth in 0..cells.count.saturating_add(more) {
            run.out.pieces.push(Piece {
                cells: at,
                nth: nth + 1,
                start_wh: start,
                stored_wh: start,
                drawn_wh: 0.0,
                charged_wh: 0.0,
                floor_wh: 0.0,
                line_wh: 0.0,
                below: false,
                charging: false,
                last_charge: None,
            });
        }
        run.ranges.push((first, run.out.pieces.len()));
    }
    for (n, slot) in slots.iter().enumerate() {
        run.slot = slot.nth;
        let load = &scene.loads[slot.nth];
        run.feel(load.air_c);
        let opens = |at: f64| {
            let next = load.access.iter().filter(|window| window[1] > at);
            next.map(|window| window[0].max(at))
                .fold(f64::INFINITY, f64::min)
        };
        let there = slot.times.there_min;
        let from = if load.access.is_empty() {
            there
        } else {
            opens(there)
        };
        run.charge_idly(from, slot.times.start_min, load.mains_w, false);
        run.shoot(slot, load);
        let mut leave = slot.times.leave_min;
        if let Some(close) = load
            .access
            .iter()
            .map(|window| window[1])
            .filter(|close| *close >= slot.times.end_min)
            .reduce(f64::min)
        {
            leave = leave.min(close);
        }
        run.charge_idly(slot.times.end_min, leave, load.mains_w, false);
        if let (Some(vehicle), Some(next)) = (&scene.habits.vehicle, slots.get(n + 1))
            && next.place != slot.place
        {
            let arrives = next.times.there_min.max(slot.times.leave_min);
            run.charge_idly(slot.times.leave_min, arrives, Some(vehicle.most_w), true);
        }
    }
    run.out
}

impl<'a> Run<'_, 'a> {
    /// Sets floor and reserve by the temperature.
    fn feel(&mut self, air_c: f64) {
        if self.air_c == air_c {
            return;
        }
        let earlier = !self.air_c.is_nan();
        self.air_c = air_c;
        for (at, cells) in self.scene.cells.iter().enumerate() {
            let habits = &self.scene.habits;
            let floor = crate::battery::floor_wh(cells.battery, air_c, habits);
            let line = crate::battery::reserve_line_wh(cells.battery, air_c, habits);
            let (first, end) = self.ranges[at];
            for piece in &mut self.out.pieces[first..end] {
                // A piece that was nearly spent in the warm is no news.
                let was_above = piece.stored_wh - piece.line_wh > 0.1 * cells.full_wh;
                piece.floor_wh = floor;
                piece.line_wh = line;
                if earlier && was_above && piece.stored_wh < line - EPS_WH && self.record {
                    self.out.findings.push(Finding::ColdBelowReserve {
                        battery: self.scene.project.kit[cells.item].id.clone(),
                        piece: piece.nth,
                        air_c,
                    });
                }
            }
        }
    }

    fn phases(&self, slot: &Timed) -> Vec<Phase> {
        let times = &slot.times;
        let mut phases = Vec::with_capacity(3 + 2 * times.passes_min.len());
        let mut push = |from: f64, to: f64, lights: bool, pass: bool| {
            if to > from + EPS_MIN {
                phases.push(Phase {
                    from,
                    to,
                    lights,
                    pass,
                });
            }
        };
        let through = self.scene.habits.lights_through_resets;
        push(times.start_min, times.lights_min, false, false);
        push(times.lights_min, times.shoot_min, true, false);
        let mut at = times.shoot_min;
        for [from, to] in &times.passes_min {
            push(at, *from, through, false);
            push(*from, *to, true, true);
            at = *to;
        }
        push(at, times.end_min, through, false);
        phases
    }

    fn shoot(&mut self, slot: &Timed, load: &Load<'a>) {
        self.assign(slot, load);
        let phases = self.phases(slot);
        for n in 0..phases.len() {
            self.phase(&phases, n, load);
        }
        for outlet in std::mem::take(&mut self.outlets) {
            let Some(piece) = outlet.pending.map(|(_, piece)| piece).or(outlet.on) else {
                continue;
            };
            let (item, unit) = self.key(&outlet, load);
            match self
                .last_on
                .iter_mut()
                .find(|(i, u, _)| (*i, *u) == (item, unit))
            {
                Some(entry) => entry.2 = piece,
                None => self.last_on.push((item, unit, piece)),
            }
        }
    }

    fn key(&self, outlet: &Outlet, load: &Load<'a>) -> (usize, u32) {
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
    fn assign(&mut self, slot: &Timed, load: &Load<'a>) {
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
                        Limit::MainsCircuit,
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
                let mut met: Option<(f64, Limit, f64)> = None;
                let mut put = false;
                for outlet in ours {
                    let out_w = outlet.used_w + watts;
                    let in_w = at_source_w(Some(inverter), out_w);
                    if out_w > most + 1e-9 {
                        met = Some((out_w, Limit::InverterOutput, most));
                    } else if in_w > gives + 1e-9 {
                        met = Some((in_w, Limit::BatteryOutput, gives));
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
                        self.out.findings.push(Finding::GivesNothing {
                            item: scene.project.kit[item].id.clone(),
                            what: format!("its efficiency is {}", inverter.efficiency),
                        });
                        self.short(begins, route.source, Why::Overload, vec![consumer.item]);
                        continue;
                    }
                    met = if watts > most + 1e-9 {
                        Some((watts, Limit::InverterOutput, most))
                    } else if in_w > gives + 1e-9 {
                        Some((in_w, Limit::BatteryOutput, gives))
                    } else {
                        let mut outlet = Outlet::new(vec![at], Some(item), from, in_w);
                        outlet.used_w = watts;
                        outlets.push(outlet);
                        continue;
                    };
                }
                let (load_w, limit, most_w) = met.unwrap_or((watts, Limit::InverterOutput, most));
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
                    Limit::BatteryOutput,
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
        limit: Limit,
        load_w: f64,
        most_w: f64,
        dark: usize,
        inverter: Option<usize>,
    ) {
        if self.record {
            let kit = &self.scene.project.kit;
            let by = match (limit, inverter) {
                (Limit::InverterOutput, Some(at)) => kit[at].id.to_string(),
                _ => source.described(kit).to_string(),
            };
            self.out.findings.push(Finding::Overload {
                setup: self.setup(),
                source: by,
                limit,
                load_w,
                most_w,
                dark: kit[dark].id.clone(),
            });
        }
        self.short(at_min, source, Why::Overload, vec![dark]);
    }

    fn setup(&self) -> model::SetupId {
        self.scene.slots[self.slot].times.setup.clone()
    }

    fn short(&mut self, at_min: f64, source: Src, why: Why, items: Vec<usize>) {
        let slot = self.slot;
        self.out.shorts.push(Short {
            at_min,
            slot,
            source,
            why,
            items,
        });
    }

    fn items(&self, outlet: usize, load: &Load<'a>) -> Vec<usize> {
        let consumers = self.outlets[outlet].consumers.iter();
        consumers.map(|at| load.consumers[*at].item).collect()
    }

    /// What outlet `o` draws in `phase`: at its source, and by its consumers.
    fn draw(&self, o: usize, phase: &Phase, load: &Load<'a>) -> (f64, f64) {
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
    fn need_wh(&self, o: usize, phases: &[Phase], n: usize, load: &Load<'a>) -> f64 {
        let mut need = 0.0;
        for phase in &phases[n..] {
            need += self.draw(o, phase, load).0 * (phase.to - phase.from) / 60.0;
            if phase.pass {
                break;
            }
        }
        need
    }

    fn above_line(&self, piece: usize) -> f64 {
        let piece = &self.out.pieces[piece];
        piece.stored_wh - piece.line_wh
    }

    fn above_floor(&self, piece: usize) -> f64 {
        let piece = &self.out.pieces[piece];
        piece.stored_wh - piece.floor_wh
    }

    /// Whether outlet `o` may be put on `piece`; whether it would have it alone.
    fn fits(
        &self,
        o: usize,
        piece: usize,
        socket: Option<u32>,
        shared: bool,
        unit: u32,
    ) -> Option<bool> {
        let cells = &self.scene.cells[self.out.pieces[piece].cells];
        if cells.battery.built_in && self.out.pieces[piece].nth != unit + 1 {
            return None;
        }
        let mut peak = self.outlets[o].peak_w;
        let mut taken = 0;
        let mut alone = true;
        for (other, outlet) in self.outlets.iter().enumerate() {
            let holds = outlet.on == Some(piece)
                || outlet.pending.is_some_and(|(_, pending)| pending == piece);
            if other == o || !holds {
                continue;
            }
            alone = false;
            peak += outlet.peak_w;
            let same = outlet.from.iter().any(|(at, used, split)| {
                *at == self.out.pieces[piece].cells && *used == socket && !split
            });
            taken += usize::from(same);
        }
        let sockets = cells.sockets.iter().filter(|c| Some(**c) == socket).count();
        let room = shared || cells.sockets.is_empty() || taken < sockets;
        (room && peak <= cells.most_w + 1e-9).then_some(alone)
    }

    /// The best piece for outlet `o` with at least `least_wh` above its reserve, or above its floor.
    fn seek(&self, o: usize, load: &Load<'a>, least_wh: f64, into_reserve: bool) -> Option<usize> {
        let outlet = &self.outlets[o];
        let unit = load.consumers[outlet.consumers[0]].unit;
        for (cells, socket, shared) in &outlet.from {
            let (first, end) = self.ranges[*cells];
            let mut best: Option<(bool, f64, usize)> = None;
            for piece in first..end {
                if outlet.on == Some(piece) {
                    continue;
                }
                let left = if into_reserve {
                    self.above_floor(piece)
                } else {
                    self.above_line(piece)
                };
                if left <= EPS_WH || left + EPS_WH < least_wh {
                    continue;
                }
                let Some(alone) = self.fits(o, piece, *socket, *shared, unit) else {
                    continue;
                };
                if best.is_none_or(|(a, l, _)| (alone, left) > (a, l)) {
                    best = Some((alone, left, piece));
                }
            }
            if let Some((.., piece)) = best {
                return Some(piece);
            }
        }
        None
    }

    /// Puts outlet `o` on its first piece of the slot, or on one again after the dark.
    fn attach(&mut self, o: usize, phases: &[Phase], n: usize, load: &Load<'a>) {
        let at_min = phases[n].from;
        let minute = self.outlets[o].load_w / 60.0;
        let next_wh = self.need_wh(o, phases, n, load);
        let all_wh: f64 = phases[n..]
            .iter()
            .map(|phase| self.draw(o, phase, load).0 * (phase.to - phase.from) / 60.0)
            .sum();
        let key = self.key(&self.outlets[o], load);
        let unit = load.consumers[self.outlets[o].consumers[0]].unit;
        let last = self
            .last_on
            .iter()
            .find(|(item, unit, _)| (*item, *unit) == key)
            .map(|(.., piece)| *piece)
            .filter(|piece| {
                let cells = self.out.pieces[*piece].cells;
                let from = self.outlets[o].from.iter().find(|(at, ..)| *at == cells);
                // What is built in stands in, it does not go first.
                !self.scene.cells[cells].battery.built_in
                    && from.is_some_and(|(_, socket, shared)| {
                        self.fits(o, *piece, *socket, *shared, unit).is_some()
                    })
            });
        let piece = last
            .filter(|piece| self.above_line(*piece) >= all_wh.max(EPS_WH))
            .or_else(|| self.seek(o, load, all_wh, false))
            .or_else(|| self.seek(o, load, next_wh, false))
            .or_else(|| self.seek(o, load, minute, false))
            .or_else(|| self.seek(o, load, minute, true));
        match piece {
            Some(piece) => {
                let again = self.outlets[o].begun;
                self.outlets[o].begun = true;
                if again {
                    self.change(o, piece, at_min, false, load);
                } else {
                    self.outlets[o].on = Some(piece);
                    self.mind(piece, at_min);
                }
            }
            None => self.go_dark(o, at_min, load),
        }
    }

    /// Begins a change of outlet `o` to `piece`.
    fn change(&mut self, o: usize, piece: usize, at_min: f64, in_pass: bool, load: &Load<'a>) {
        let minutes = self.scene.habits.swap_minutes;
        let from = self.outlets[o].on.take();
        let mut bridge = None;
        if minutes > 0.0 {
            let unit = load.consumers[self.outlets[o].consumers[0]].unit;
            let needs = self.outlets[o].load_w * minutes / 60.0;
            bridge = self.outlets[o]
                .from
                .iter()
                .find_map(|(cells, socket, shared)| {
                    if !self.scene.cells[*cells].battery.built_in {
                        return None;
                    }
                    let own = self.ranges[*cells].0 + unit as usize;
                    let there = own < self.ranges[*cells].1 && own != piece && Some(own) != from;
                    (there
                        && self.above_line(own) > needs
                        && self.fits(o, own, *socket, *shared, unit).is_some())
                    .then_some(own)
                });
            self.outlets[o].pending = Some((at_min + minutes, piece));
            self.outlets[o].on = bridge;
        } else {
            self.outlets[o].on = Some(piece);
        }
        self.outlets[o].dark = false;
        self.mind(piece, at_min);
        let items = self.items(o, load);
        if self.record {
            let in_pass = in_pass && bridge.is_none() && minutes > 0.0;
            if in_pass {
                let kit = &self.scene.project.kit;
                self.out.findings.push(Finding::SwapInPass {
                    setup: self.setup(),
                    items: items.iter().map(|at| kit[*at].id.clone()).collect(),
                    at_min,
                });
            }
            self.out.changes.push(Change {
                slot: self.slot,
                items,
                at_min,
                from,
                to: piece,
                in_pass,
                bridged: bridge.is_some(),
            });
        }
    }

    /// Says that `piece` is used below its reserve, once each time it goes there.
    fn mind(&mut self, piece: usize, at_min: f64) {
        let p = &mut self.out.pieces[piece];
        if p.stored_wh > p.line_wh + EPS_WH {
            p.below = false;
            return;
        }
        if p.below {
            return;
        }
        p.below = true;
        let (nth, item) = (p.nth, self.scene.cells[p.cells].item);
        if self.record {
            self.out.findings.push(Finding::BelowReserve {
                setup: self.setup(),
                battery: self.scene.project.kit[item].id.clone(),
                piece: nth,
                at_min,
            });
        }
        self.short(at_min, Src::Battery(item), Why::BelowReserve, Vec::new());
    }

    fn go_dark(&mut self, o: usize, at_min: f64, load: &Load<'a>) {
        self.outlets[o].on = None;
        self.outlets[o].begun = true;
        if self.outlets[o].dark {
            return;
        }
        self.outlets[o].dark = true;
        let Some((cells, ..)) = self.outlets[o].from.first() else {
            return;
        };
        let source = Src::Battery(self.scene.cells[*cells].item);
        let items = self.items(o, load);
        // What is left elsewhere hangs on something else, or it would have been found.
        let minute = self.outlets[o].load_w / 60.0;
        let taken = self.outlets[o].from.iter().any(|(cells, ..)| {
            let (first, end) = self.ranges[*cells];
            (first..end).any(|piece| self.above_floor(piece) >= minute.max(EPS_WH))
        });
        if self.record {
            let kit = &self.scene.project.kit;
            self.out.findings.push(Finding::Dark {
                setup: self.setup(),
                items: items.iter().map(|at| kit[*at].id.clone()).collect(),
                source: source.described(kit).to_string(),
                taken,
                at_min,
            });
        }
        let why = if taken { Why::Taken } else { Why::Dark };
        self.short(at_min, source, why, items);
    }

    fn phase(&mut self, phases: &[Phase], n: usize, load: &Load<'a>) {
        let phase = phases[n];
        let mut t = phase.from;
        let mut on_mains = 0.0;
        for o in 0..self.outlets.len() {
            let (load_w, used_w) = self.draw(o, &phase, load);
            self.outlets[o].load_w = load_w;
            self.outlets[o].used_w = used_w;
            if self.outlets[o].from.is_empty() {
                on_mains += load_w;
                self.flow(o, None, phase.from, phase.to, load);
                continue;
            }
            if load_w <= 0.0 || self.outlets[o].pending.is_some() {
                continue;
            }
            let need = self.need_wh(o, phases, n, load);
            match self.outlets[o].on {
                None => self.attach(o, phases, n, load),
                Some(on) if !phase.pass && self.above_line(on) < need => {
                    let other = self.seek(o, load, need, false);
                    // What has come above its reserve in a bay goes before a reserve.
                    let spent = self.above_line(on) <= EPS_WH;
                    let other = match other {
                        None if spent => self.seek(o, load, load_w / 60.0, false),
                        other => other,
                    };
                    if let Some(other) = other {
                        self.change(o, other, t, false, load);
                    }
                }
                Some(_) => {}
            }
        }
        while t < phase.to - EPS_MIN {
            for o in 0..self.outlets.len() {
                if let Some((until, piece)) = self.outlets[o].pending
                    && until <= t + EPS_MIN
                {
                    self.outlets[o].pending = None;
                    self.outlets[o].on = Some(piece);
                }
            }
            // What came to its reserve as a phase or a change ended is looked after now that it is used on.
            for (piece, _) in self.drains() {
                self.drained(piece, t, &phase, load);
            }
            let mut until = phase.to;
            for outlet in &self.outlets {
                if let Some((pending, _)) = outlet.pending {
                    until = until.min(pending);
                }
            }
            let charging = self.bays(load.mains_w.map(|most| most - on_mains), false);
            let drains = self.drains();
            for (piece, watts) in &drains {
                let p = &self.out.pieces[*piece];
                let mark = if p.stored_wh > p.line_wh + EPS_WH {
                    p.line_wh
                } else {
                    p.floor_wh
                };
                until = until.min(t + ((p.stored_wh - mark).max(0.0) / watts) * 60.0);
            }
            until = self.full_at(&charging, t, until);
            for o in 0..self.outlets.len() {
                if let Some(on) = self.outlets[o].on
                    && self.outlets[o].load_w > 0.0
                {
                    self.flow(o, Some(on), t, until, load);
                }
            }
            for (piece, watts) in &drains {
                let mut wh = watts * (until - t) / 60.0;
                let p = &mut self.out.pieces[*piece];
                // A step too short for the clock's last digit still comes to its mark.
                let crumb = EPS_WH.max(watts * EPS_MIN / 60.0);
                for mark in [p.line_wh, p.floor_wh] {
                    if (p.stored_wh - wh - mark).abs() <= crumb && p.stored_wh >= mark {
                        wh = p.stored_wh - mark;
                    }
                }
                p.stored_wh -= wh;
                p.drawn_wh += wh;
            }
            self.charge(&charging, t, until);
            t = until;
        }
    }

    /// What each piece in use gives.
    fn drains(&self) -> Vec<(usize, f64)> {
        let mut drains: Vec<(usize, f64)> = Vec::with_capacity(self.outlets.len());
        for outlet in &self.outlets {
            let Some(on) = outlet.on.filter(|_| outlet.load_w > 0.0) else {
                continue;
            };
            match drains.iter_mut().find(|(piece, _)| *piece == on) {
                Some((_, watts)) => *watts += outlet.load_w,
                None => drains.push((on, outlet.load_w)),
            }
        }
        drains
    }

    /// Looks after the outlets of a piece that has come to its reserve or its floor.
    fn drained(&mut self, piece: usize, t: f64, phase: &Phase, load: &Load<'a>) {
        let empty = self.above_floor(piece) <= EPS_WH;
        if !empty && (self.above_line(piece) > EPS_WH || self.out.pieces[piece].below) {
            return;
        }
        for o in 0..self.outlets.len() {
            if self.outlets[o].on != Some(piece) || self.outlets[o].load_w <= 0.0 {
                continue;
            }
            if self.outlets[o].pending.is_some() {
                // It only bridged a change that is under way.
                if empty {
                    self.outlets[o].on = None;
                }
                continue;
            }
            let minute = self.outlets[o].load_w / 60.0;
            let other = self.seek(o, load, minute, false);
            let other = match other {
                None if empty => self.seek(o, load, minute, true),
                other => other,
            };
            match other {
                Some(other) => self.change(o, other, t, phase.pass, load),
                None if empty => self.go_dark(o, t, load),
                None => {}
            }
        }
        let in_use = self
            .outlets
            .iter()
            .any(|o| o.on == Some(piece) && o.load_w > 0.0);
        if in_use {
            self.mind(piece, t);
        }
    }

    /// Counts what outlet `o` takes from `piece` or the mains.
    fn flow(&mut self, o: usize, piece: Option<usize>, from: f64, to: f64, load: &Load<'a>) {
        let outlet = &self.outlets[o];
        let (watts, used) = (outlet.load_w, outlet.used_w);
        if watts <= 0.0 || to <= from {
            return;
        }
        let hours = (to - from) / 60.0;
        self.out.used_wh += used * hours;
        self.out.lost_wh += (watts - used) * hours;
        if piece.is_none() {
            self.out.mains_wh += watts * hours;
        }
        if !self.record {
            return;
        }
        if let Some(last) = outlet.last_flow {
            let flow = &mut self.out.flows[last];
            if flow.piece == piece && flow.watts == watts && (flow.to_min - from).abs() < EPS_MIN {
                flow.to_min = to;
                return;
            }
        }
        let items = self.items(o, load);
        self.outlets[o].last_flow = Some(self.out.flows.len());
        self.out.flows.push(Flow {
            slot: self.slot,
            items,
            piece,
            from_min: from,
            to_min: to,
            watts,
        });
    }
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

/// A piece in a bay: what goes into it and what that takes from the socket, watts.
struct InBay {
    piece: usize,
    into_w: f64,
    taken_w: f64,
}

impl Run<'_, '_> {
    /// What is charged now, with `left_w` watts to take.
    fn bays(&mut self, left_w: Option<f64>, in_vehicle: bool) -> Vec<InBay> {
        let Some(mut left_w) = left_w.filter(|left| *left > 0.0) else {
            return Vec::new();
        };
        let scene = self.scene;
        let mut waiting: Vec<usize> = Vec::new();
        for piece in 0..self.out.pieces.len() {
            let p = &self.out.pieces[piece];
            let cells = &scene.cells[p.cells];
            let held = |outlet: &Outlet| {
                outlet.on == Some(piece)
                    || outlet.pending.is_some_and(|(_, pending)| pending == piece)
            };
            if p.stored_wh >= cells.full_wh - EPS_WH
                || (cells.chargers.is_empty() && !cells.by_itself)
                || self.outlets.iter().any(held)
            {
                continue;
            }
            if cells.lithium && self.air_c < scene.habits.charge_above_c {
                if self.record {
                    let finding = Finding::TooColdToCharge {
                        battery: scene.project.kit[cells.item].id.clone(),
                        air_c: self.air_c,
                        least_c: scene.habits.charge_above_c,
                    };
                    if !self.out.findings.contains(&finding) {
                        self.out.findings.push(finding);
                    }
                }
                continue;
            }
            waiting.push(piece);
        }
        if waiting.is_empty() {
            return Vec::new();
        }
        // What is in a bay stays there; then the emptiest.
        let share = |piece: usize| {
            let p = &self.out.pieces[piece];
            p.stored_wh / scene.cells[p.cells].full_wh
        };
        waiting.sort_by(|a, b| {
            let first = |p: usize| !self.out.pieces[p].charging;
            (first(*a), share(*a), *a)
                .partial_cmp(&(first(*b), share(*b), *b))
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        let mut free: Vec<u32> = scene.chargers.iter().map(|charger| charger.bays).collect();
        let mut charging = Vec::new();
        for piece in &waiting {
            let cells = &scene.cells[self.out.pieces[*piece].cells];
            let mut best: Option<(f64, f64, Option<usize>)> = None;
            let mut offer = |into: f64, efficiency: f64, charger: Option<usize>| {
                let into = into.min(cells.charge_w);
                let taken = into / efficiency;
                let good = into > 0.0 && taken <= left_w + 1e-9;
                if good && best.is_none_or(|(most, ..)| into > most) {
                    best = Some((into, taken, charger));
                }
            };
            if cells.by_itself && !in_vehicle {
                offer(cells.charge_w, scene.habits.charger_efficiency, None);
            }
            for at in &cells.chargers {
                let charger = &scene.chargers[*at];
                let works = if in_vehicle {
                    charger.in_vehicle
                } else {
                    charger.on_mains
                };
                if works && free[*at] > 0 {
                    offer(charger.into_w, charger.efficiency, Some(*at));
                }
            }
            if let Some((into_w, taken_w, charger)) = best {
                left_w -= taken_w;
                if let Some(at) = charger {
                    free[at] -= 1;
                }
                charging.push(InBay {
                    piece: *piece,
                    into_w,
                    taken_w,
                });
            }
        }
        for piece in &mut self.out.pieces {
            piece.charging = false;
        }
        for bay in &charging {
            self.out.pieces[bay.piece].charging = true;
        }
        charging
    }

    /// When the first of `charging` is full, if that is before `until`.
    fn full_at(&self, charging: &[InBay], t: f64, mut until: f64) -> f64 {
        for bay in charging {
            let p = &self.out.pieces[bay.piece];
            let missing = self.scene.cells[p.cells].full_wh - p.stored_wh;
            until = until.min(t + missing.max(0.0) / bay.into_w * 60.0);
        }
        until
    }

    fn charge(&mut self, charging: &[InBay], from: f64, to: f64) {
        let hours = (to - from) / 60.0;
        for bay in charging {
            let mut wh = bay.into_w * hours;
            let p = &mut self.out.pieces[bay.piece];
            let missing = self.scene.cells[p.cells].full_wh - p.stored_wh;
            if (missing - wh).abs() <= EPS_WH.max(bay.into_w * EPS_MIN / 60.0) {
                wh = missing;
            }
            p.stored_wh += wh;
            p.charged_wh += wh;
            self.out.mains_to_chargers_wh += wh * bay.taken_w / bay.into_w;
            if !self.record || wh <= 0.0 {
                continue;
            }
            if let Some(last) = p.last_charge {
                let charged = &mut self.out.charges[last];
                if (charged.to_min - from).abs() < EPS_MIN {
                    charged.to_min = to;
                    charged.wh += wh;
                    continue;
                }
            }
            p.last_charge = Some(self.out.charges.len());
            self.out.charges.push(Charged {
                piece: bay.piece,
                from_min: from,
                to_min: to,
                wh,
            });
        }
    }

    /// Charges while nothing is shot.
    fn charge_idly(&mut self, from: f64, to: f64, left_w: Option<f64>, in_vehicle: bool) {
        let mut t = from;
        while t < to - EPS_MIN {
            let charging = self.bays(left_w, in_vehicle);
            if charging.is_empty() {
                return;
            }
            let until = self.full_at(&charging, t, to);
            self.charge(&charging, t, until);
            t = until;
        }
    }
}
