//! A setup from its rig to its end, from one event to the next.

use super::{EPS_MIN, EPS_WH, Flow, Run};
use crate::scene::Load;
use crate::times::Timed;

#[derive(Clone, Copy)]
pub(super) struct Phase {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) lights: bool,
    pub(super) pass: bool,
}

impl<'a> Run<'_, 'a> {
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
        let through = self.scene.project.practice.lights_between_passes;
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

    pub(super) fn shoot(&mut self, slot: &Timed, load: &Load<'a>) {
        self.assign(slot, load);
        let phases = self.phases(slot);
        for n in 0..phases.len() {
            self.phase(&phases, n, load);
        }
        for outlet in std::mem::take(&mut self.outlets) {
            if let Some(piece) = outlet.pending.map(|(_, piece)| piece).or(outlet.on) {
                self.last_on.insert(outlet.key, piece);
            }
        }
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
            } else if load_w > 0.0 && self.outlets[o].pending.is_none() {
                self.prepare(o, phases, n, load);
            }
        }
        while t < phase.to - EPS_MIN {
            for outlet in &mut self.outlets {
                if let Some((_, piece)) = outlet.pending.take_if(|(until, _)| *until <= t + EPS_MIN)
                {
                    outlet.on = Some(piece);
                }
            }
            // What came to its reserve as a phase or a change ended is looked after now that it is used on.
            for (piece, _) in self.drains() {
                self.drained(piece, t, &phase, load);
            }
            let charging = self.bays(load.mains_w.map(|most| most - on_mains));
            let drains = self.drains();
            let changed = self.outlets.iter().filter_map(|outlet| outlet.pending);
            let until = changed.map(|(until, _)| until).fold(phase.to, f64::min);
            let spent = drains.iter().map(|(piece, watts)| {
                let p = &self.out.pieces[*piece];
                let mark = if p.stored_wh > p.line_wh + EPS_WH {
                    p.line_wh
                } else {
                    p.floor_wh
                };
                t + ((p.stored_wh - mark).max(0.0) / watts) * 60.0
            });
            let until = self.full_at(&charging, t, spent.fold(until, f64::min));
            for o in 0..self.outlets.len() {
                if let Some(on) = self.outlets[o].on
                    && self.outlets[o].load_w > 0.0
                {
                    self.flow(o, Some(on), t, until, load);
                }
            }
            for (piece, watts) in &drains {
                self.drain(*piece, *watts, until - t);
            }
            self.charge(&charging, t, until);
            t = until;
        }
    }

    /// Puts outlet `o` on a piece as phase `n` begins; at a rig or reset on another, where one lasts longer.
    fn prepare(&mut self, o: usize, phases: &[Phase], n: usize, load: &Load<'a>) {
        let Some(on) = self.outlets[o].on else {
            return self.attach(o, phases, n, load);
        };
        let need = self.need_wh(o, phases, n, load);
        if phases[n].pass || self.above_line(on) >= need {
            return;
        }
        let mut other = self.seek(o, need, false);
        // What has come above its reserve in a bay goes before a reserve.
        if other.is_none() && self.above_line(on) <= EPS_WH {
            other = self.seek(o, self.outlets[o].load_w / 60.0, false);
        }
        if let Some(other) = other {
            self.change(o, other, phases[n].from, false, load);
        }
    }

    /// Takes `watts` out of `piece` for `minutes`.
    fn drain(&mut self, piece: usize, watts: f64, minutes: f64) {
        let mut wh = watts * minutes / 60.0;
        let p = &mut self.out.pieces[piece];
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
            let other = self.seek(o, minute, false);
            let other = match other {
                None if empty => self.seek(o, minute, true),
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
