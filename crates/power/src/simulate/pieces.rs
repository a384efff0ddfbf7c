//! Which piece of battery an outlet is on: sought, put on, changed, used up.

use super::outlets::Tap;
use super::{Change, EPS_WH, Phase, Run, Why};
use crate::feed::Src;
use crate::scene::Load;
use model::Finding;
use model::clock::shown;
use model::text::listed;

impl<'a> Run<'_, 'a> {
    pub(super) fn above_line(&self, piece: usize) -> f64 {
        let piece = &self.out.pieces[piece];
        piece.stored_wh - piece.line_wh
    }

    pub(super) fn above_floor(&self, piece: usize) -> f64 {
        let piece = &self.out.pieces[piece];
        piece.stored_wh - piece.floor_wh
    }

    /// Whether outlet `o` may be put on `piece` at one of the taps it is fed from; whether it would have it alone.
    fn fits(&self, o: usize, piece: usize, (_, socket, shared): Tap) -> Option<bool> {
        let unit = self.outlets[o].key.1;
        let cells = &self.scene.cells[self.out.pieces[piece].cells];
        if cells.battery.built_in && self.out.pieces[piece].nth != unit + 1 {
            return None;
        }
        let mut peak = self.outlets[o].peak_w;
        let mut taken = 0;
        let mut alone = true;
        for (other, outlet) in self.outlets.iter().enumerate() {
            if other == o || !outlet.holds(piece) {
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
    pub(super) fn seek(&self, o: usize, least_wh: f64, into_reserve: bool) -> Option<usize> {
        let outlet = &self.outlets[o];
        for tap in &outlet.from {
            let (first, end) = self.ranges[tap.0];
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
                let Some(alone) = self.fits(o, piece, *tap) else {
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
    pub(super) fn attach(&mut self, o: usize, phases: &[Phase], n: usize, load: &Load<'a>) {
        let at_min = phases[n].from;
        let minute = self.outlets[o].load_w / 60.0;
        let next_wh = self.need_wh(o, phases, n, load);
        let all_wh: f64 = phases[n..]
            .iter()
            .map(|phase| self.draw(o, phase, load).0 * (phase.to - phase.from) / 60.0)
            .sum();
        let last = self.last_on.get(&self.outlets[o].key).copied();
        let last = last.filter(|piece| {
            let cells = self.out.pieces[*piece].cells;
            let mut from = self.outlets[o].from.iter();
            let tap = from.find(|(at, ..)| *at == cells);
            // What is built in stands in, it does not go first.
            !self.scene.cells[cells].battery.built_in
                && tap.is_some_and(|tap| self.fits(o, *piece, *tap).is_some())
        });
        let piece = last
            .filter(|piece| self.above_line(*piece) >= all_wh.max(EPS_WH))
            .or_else(|| self.seek(o, all_wh, false))
            .or_else(|| self.seek(o, next_wh, false))
            .or_else(|| self.seek(o, minute, false))
            .or_else(|| self.seek(o, minute, true));
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
    pub(super) fn change(
        &mut self,
        o: usize,
        piece: usize,
        at_min: f64,
        in_pass: bool,
        load: &Load<'a>,
    ) {
        let minutes = self.scene.project.practice.swap_minutes;
        let from = self.outlets[o].on.take();
        let mut bridge = None;
        if minutes > 0.0 {
            let needs = self.outlets[o].load_w * minutes / 60.0;
            bridge = self.outlets[o].from.iter().find_map(|tap| {
                let (first, end) = self.ranges[tap.0];
                let own = first + self.outlets[o].key.1 as usize;
                let there = own < end && own != piece && Some(own) != from;
                (self.scene.cells[tap.0].battery.built_in
                    && there
                    && self.above_line(own) > needs
                    && self.fits(o, own, *tap).is_some())
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
                let setup = &self.scene.slots[self.slot].times.setup;
                let ids = || items.iter().map(|at| &kit[*at].id);
                let says = format!(
                    "the battery of {} comes to its reserve at {} in the middle of a pass of `{setup}`",
                    listed(ids()),
                    shown(at_min)
                );
                Finding::warning("swap-in-pass", says)
                    .about(setup)
                    .about_all(ids())
                    .at(at_min)
                    .mended_by("shorten the pass")
                    .mended_by("feed it from a larger one")
                    .mended_by("count a pass more")
                    .once(&mut self.out.findings);
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
    pub(super) fn mind(&mut self, piece: usize, at_min: f64) {
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
        let short = self.short(at_min, Src::Battery(item), Why::BelowReserve, Vec::new());
        short.nth = Some(nth);
    }

    pub(super) fn go_dark(&mut self, o: usize, at_min: f64, load: &Load<'a>) {
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
        let why = if taken { Why::Taken } else { Why::Dark };
        self.short(at_min, source, why, items);
    }
}
