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

mod charging;
mod outcome;
mod outlets;
mod pieces;
mod shooting;

use crate::feed::Src;
use crate::scene::Scene;
use crate::times::Timed;
use model::Finding;
pub(crate) use outcome::{Change, Charged, Flow, Outcome, Over, Piece, Short, Why};
use outlets::Outlet;
use shooting::Phase;
use std::collections::HashMap;

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

struct Run<'s, 'a> {
    scene: &'s Scene<'a>,
    tweak: &'s Tweak,
    record: bool,
    out: Outcome,
    /// The pieces of each sort: from and to.
    ranges: Vec<(usize, usize)>,
    /// The piece each outlet was on last, by its key.
    last_on: HashMap<(usize, u32), usize>,
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
        last_on: HashMap::new(),
        outlets: Vec::new(),
        slot: 0,
        air_c: f64::NAN,
    };
    for (at, cells) in scene.cells.iter().enumerate() {
        let more = tweak.more.filter(|(which, _)| *which == at);
        let count = cells.count.saturating_add(more.map_or(0, |(_, n)| n));
        let first = run.out.pieces.len();
        let start = crate::battery::at_call_wh(cells.battery, &scene.project.practice);
        run.out.pieces.extend((1..=count).map(|nth| Piece {
            cells: at,
            nth,
            start_wh: start,
            stored_wh: start,
            ..Piece::default()
        }));
        run.ranges.push((first, run.out.pieces.len()));
    }
    for slot in slots {
        run.slot = slot.nth;
        let load = &scene.loads[slot.nth];
        run.feel(load.air_c);
        let there = slot.times.there_min;
        let open = load.access.iter().filter(|window| window[1] > there);
        let open = open.map(|window| window[0].max(there)).reduce(f64::min);
        let closed = match load.access.is_empty() {
            true => there,
            false => f64::INFINITY,
        };
        run.charge_idly(open.unwrap_or(closed), slot.times.start_min, load.mains_w);
        run.shoot(slot, load);
        let closes = load.access.iter().map(|window| window[1]);
        let leave = closes
            .filter(|close| *close >= slot.times.end_min)
            .fold(slot.times.leave_min, f64::min);
        run.charge_idly(slot.times.end_min, leave, load.mains_w);
    }
    run.out
}

impl Run<'_, '_> {
    /// Sets floor and reserve by the temperature.
    fn feel(&mut self, air_c: f64) {
        if self.air_c == air_c {
            return;
        }
        let earlier = !self.air_c.is_nan();
        self.air_c = air_c;
        for (at, cells) in self.scene.cells.iter().enumerate() {
            let practice = &self.scene.project.practice;
            let floor = crate::battery::floor_wh(cells.battery, air_c);
            let line = crate::battery::reserve_line_wh(cells.battery, air_c, practice);
            let (first, end) = self.ranges[at];
            for piece in &mut self.out.pieces[first..end] {
                // A piece that was nearly spent in the warm is no news.
                let was_above = piece.stored_wh - piece.line_wh > 0.1 * cells.full_wh;
                piece.floor_wh = floor;
                piece.line_wh = line;
                if earlier && was_above && piece.stored_wh < line - EPS_WH && self.record {
                    let battery = &self.scene.project.kit[cells.item].id;
                    let says = format!(
                        "`{battery}` number {} counts as spent at {air_c:.0} degrees, as cold holds back what is left in it",
                        piece.nth
                    );
                    Finding::warning("cold-below-reserve", says)
                        .about(battery)
                        .mended_by("keep it warm or charge it before")
                        .once(&mut self.out.findings);
                }
            }
        }
    }

    fn short(&mut self, at_min: f64, source: Src, why: Why, items: Vec<usize>) -> &mut Short {
        let slot = self.slot;
        self.out.shorts.push(Short {
            at_min,
            slot,
            source,
            why,
            items,
            nth: None,
            over: None,
        });
        let last = self.out.shorts.len() - 1;
        &mut self.out.shorts[last]
    }
}
