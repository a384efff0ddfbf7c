//! What goes into pieces that feed nothing: on mains at a place.

use super::{Charged, EPS_MIN, EPS_WH, Run};
use model::Finding;
use std::cmp::Ordering;

/// A piece in a bay: what goes into it and what that takes from the socket, watts.
pub(super) struct InBay {
    piece: usize,
    into_w: f64,
    taken_w: f64,
}

impl Run<'_, '_> {
    /// The pieces that could be charged now: what is in a bay stays there, then the emptiest.
    fn waiting(&mut self) -> Vec<usize> {
        let scene = self.scene;
        let above_c = scene.project.practice.charge_above_c;
        let mut waiting: Vec<usize> = Vec::new();
        for piece in 0..self.out.pieces.len() {
            let p = &self.out.pieces[piece];
            let cells = &scene.cells[p.cells];
            if p.stored_wh >= cells.full_wh - EPS_WH
                || (cells.chargers.is_empty() && !cells.by_itself)
                || self.outlets.iter().any(|outlet| outlet.holds(piece))
            {
                continue;
            }
            if !cells.lithium || self.air_c >= above_c {
                waiting.push(piece);
            } else if self.record {
                let battery = &scene.project.kit[cells.item].id;
                let says = format!(
                    "`{battery}` is not charged at {:.0} degrees, as lithium is not charged below {above_c:.0}",
                    self.air_c
                );
                Finding::warning("too-cold-to-charge", says)
                    .about(battery)
                    .mended_by("charge indoors")
                    .once(&mut self.out.findings);
            }
        }
        let turn = |piece: usize| {
            let p = &self.out.pieces[piece];
            (
                !p.charging,
                p.stored_wh / scene.cells[p.cells].full_wh,
                piece,
            )
        };
        waiting.sort_by(|a, b| turn(*a).partial_cmp(&turn(*b)).unwrap_or(Ordering::Equal));
        waiting
    }

    /// What is charged now, with `left_w` watts to take.
    pub(super) fn bays(&mut self, left_w: Option<f64>) -> Vec<InBay> {
        let Some(mut left_w) = left_w.filter(|left| *left > 0.0) else {
            return Vec::new();
        };
        let waiting = self.waiting();
        if waiting.is_empty() {
            return Vec::new();
        }
        let scene = self.scene;
        let mut free: Vec<u32> = scene.chargers.iter().map(|charger| charger.bays).collect();
        let mut charging = Vec::new();
        for piece in waiting {
            let cells = &scene.cells[self.out.pieces[piece].cells];
            let mut best: Option<(f64, f64, Option<usize>)> = None;
            let mut offer = |into: f64, efficiency: f64, charger: Option<usize>| {
                let into = into.min(cells.charge_w);
                let taken = into / efficiency;
                let good = into > 0.0 && taken <= left_w + 1e-9;
                if good && best.is_none_or(|(most, ..)| into > most) {
                    best = Some((into, taken, charger));
                }
            };
            if cells.by_itself {
                let efficiency = scene.project.practice.charger_efficiency;
                offer(cells.charge_w, efficiency, None);
            }
            for at in &cells.chargers {
                let charger = &scene.chargers[*at];
                if charger.on_mains && free[*at] > 0 {
                    offer(charger.into_w, charger.efficiency, Some(*at));
                }
            }
            if let Some((into_w, taken_w, charger)) = best {
                left_w -= taken_w;
                if let Some(at) = charger {
                    free[at] -= 1;
                }
                charging.push(InBay {
                    piece,
                    into_w,
                    taken_w,
                });
            }
        }
        for (at, piece) in self.out.pieces.iter_mut().enumerate() {
            piece.charging = charging.iter().any(|bay| bay.piece == at);
        }
        charging
    }

    /// When the first of `charging` is full, if that is before `until`.
    pub(super) fn full_at(&self, charging: &[InBay], t: f64, mut until: f64) -> f64 {
        for bay in charging {
            let p = &self.out.pieces[bay.piece];
            let missing = self.scene.cells[p.cells].full_wh - p.stored_wh;
            until = until.min(t + missing.max(0.0) / bay.into_w * 60.0);
        }
        until
    }

    pub(super) fn charge(&mut self, charging: &[InBay], from: f64, to: f64) {
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
    pub(super) fn charge_idly(&mut self, from: f64, to: f64, left_w: Option<f64>) {
        let mut t = from;
        while t < to - EPS_MIN {
            let charging = self.bays(left_w);
            if charging.is_empty() {
                return;
            }
            let until = self.full_at(&charging, t, to);
            self.charge(&charging, t, until);
            t = until;
        }
    }
}
