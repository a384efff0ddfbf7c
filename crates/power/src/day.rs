//! The power of one day: which battery feeds what from when to when, when it is changed and charged, what falls
//! short first, and what mends it.

use crate::battery::{floor_wh, reserve_line_wh};
use crate::feed::{Feed, Source};
use crate::fix::{Fix, fixes, with_says};
use crate::scene::{Scene, at_source_w};
use crate::simulate::{self, Outcome, Over, Short, Tweak, Why, simulate};
use crate::times::{SlotTimes, slots};
use model::clock::shown;
use model::text::listed;
use model::{Day, DayId, Finding, Holding, KitId, Project, Setup, SetupId, Severity};
use serde::Serialize;

/// One of several batteries alike.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Piece {
    /// Which battery.
    pub battery: KitId,
    /// Which of them, from 1.
    pub piece: u32,
}

/// The power of one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DayPower {
    /// Which day.
    pub day: DayId,
    /// Whether its order was typed; otherwise the setups were taken one after the other.
    pub typed: bool,
    /// When each setup is rigged and shot, in order.
    pub slots: Vec<SlotTimes>,
    /// What draws power in each of them, and by which way.
    pub draws: Vec<SlotDraw>,
    /// Power given, by whom, from when to when.
    pub spans: Vec<Span>,
    /// Batteries changed.
    pub swaps: Vec<Swap>,
    /// Batteries charged.
    pub charges: Vec<Charge>,
    /// What went in and out of each battery.
    pub ledger: Vec<Ledger>,
    /// The day's sums.
    pub totals: Totals,
    /// Where power falls short, in time; the first is the one that fixes are for.
    pub shortages: Vec<Shortage>,
    /// What mends the first shortage, each by itself, the cheapest first.
    #[serde(serialize_with = "with_says")]
    pub fixes: Vec<Fix>,
    /// What to know.
    pub findings: Vec<Finding>,
}

/// What draws power in a slot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlotDraw {
    /// Which setup.
    pub setup: SetupId,
    /// Each thing that draws.
    pub consumers: Vec<ConsumerDraw>,
}

/// A thing that draws.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConsumerDraw {
    /// Which item.
    pub item: KitId,
    /// Which of several alike, from 1.
    pub unit: u32,
    /// Level it is dimmed to, for a light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<f64>,
    /// What it draws, watts.
    pub watts: f64,
    /// What that takes from its source, watts: more through an inverter, whose idle draw is counted to the
    /// first on it. `None` where the inverter gives nothing.
    pub source_w: Option<f64>,
    /// How it is fed, where that is known.
    pub feed: Option<Feed>,
}

/// Power given by one battery, or the mains, to what hangs on it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Span {
    /// In which setup.
    pub setup: SetupId,
    /// What is fed; several through one inverter. Lights among them may be off while rigging.
    pub items: Vec<KitId>,
    /// By which piece; `None` for the mains.
    pub piece: Option<Piece>,
    /// From, minutes after midnight.
    pub from_min: f64,
    /// To.
    pub to_min: f64,
    /// Given, watts at the source.
    pub watts: f64,
}

/// A battery changed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Swap {
    /// In which setup.
    pub setup: SetupId,
    /// Whose.
    pub items: Vec<KitId>,
    /// When it begins, minutes after midnight.
    pub at_min: f64,
    /// What comes off; `None` after dark.
    pub off: Option<Piece>,
    /// What goes on.
    pub on: Piece,
    /// Whether it falls into a pass, which is lost.
    pub in_pass: bool,
    /// Whether a built-in battery keeps it running.
    pub bridged: bool,
}

/// A battery charged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Charge {
    /// Which.
    pub piece: Piece,
    /// From, minutes after midnight.
    pub from_min: f64,
    /// To.
    pub to_min: f64,
    /// Into it, watt-hours.
    pub wh: f64,
}

/// What went in and out of one battery. start − drawn + charged = left.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ledger {
    /// Which.
    pub piece: Piece,
    /// Stored at the call, watt-hours.
    pub start_wh: f64,
    /// Given.
    pub drawn_wh: f64,
    /// Taken in.
    pub charged_wh: f64,
    /// Stored at the end.
    pub left_wh: f64,
    /// Where its reserve begins at the day's temperature.
    pub reserve_line_wh: f64,
    /// Where it stops at the day's temperature.
    pub floor_wh: f64,
}

/// Sums of a day, watt-hours.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Totals {
    /// Given by all batteries.
    pub drawn_wh: f64,
    /// Taken in by all batteries.
    pub charged_wh: f64,
    /// Taken from the mains by what hangs on them.
    pub mains_wh: f64,
    /// Taken from sockets by chargers; more than they pass on.
    pub into_chargers_wh: f64,
    /// Used by lights, cameras and the rest themselves.
    pub used_wh: f64,
    /// Lost in inverters. drawn + mains = used + lost.
    pub lost_wh: f64,
}

/// How power falls short.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// The battery is empty and no other is left.
    Empty,
    /// What is left of it feeds something else and can't bear this as well.
    Taken,
    /// The source can't give that much at once, or gives nothing.
    TooMuch,
    /// There are no mains at the place.
    NoMains,
    /// It goes on, below the reserve.
    BelowReserve,
}

/// A time at which power falls short.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shortage {
    /// When, minutes after midnight; in JSON it stands with the finding.
    #[serde(skip)]
    pub at_min: f64,
    /// In which setup.
    pub setup: SetupId,
    /// Of what.
    pub source: Source,
    /// How.
    pub reason: Reason,
    /// What goes dark; nothing while only a reserve is used.
    pub dark: Vec<KitId>,
    /// The same as a finding; the day's first says what mends it.
    #[serde(flatten)]
    pub finding: Finding,
}

/// A shortage as a person reads it.
fn shortage(scene: &Scene<'_>, short: &Short) -> Shortage {
    let kit = &scene.project.kit;
    let setup = &scene.slots[short.slot].times.setup;
    let source = short.source.described(kit);
    let dark: Vec<KitId> = short.items.iter().map(|at| kit[*at].id.clone()).collect();
    let (reason, kind, why) = match (short.why, &short.over) {
        (Why::Dark, _) => (Reason::Empty, "empty", format!("`{source}` is empty")),
        (Why::Taken, _) => {
            let why = format!("every `{source}` feeds something else");
            (Reason::Taken, "taken", why)
        }
        (Why::Overload, Some(over)) => {
            let Over {
                by,
                limit,
                load_w,
                most_w,
            } = over;
            let why = format!("`{by}` would have to give {load_w:.0} W and {limit} {most_w:.0} W");
            (Reason::TooMuch, "too-much", why)
        }
        (Why::Overload, None) => {
            let why = format!("`{source}` can't give as much as is asked");
            (Reason::TooMuch, "too-much", why)
        }
        (Why::NoMains, _) => (Reason::NoMains, "no-mains", "there are no mains".into()),
        (Why::BelowReserve, _) => {
            let nth = short.nth.unwrap_or(1);
            let why = format!("`{source}` number {nth} goes below its reserve");
            (Reason::BelowReserve, "below-reserve", why)
        }
    };
    let mut says = format!("at {} in `{setup}` {why}", shown(short.at_min));
    if !dark.is_empty() {
        says += &format!(": {} without power", listed(&dark));
    }
    let severity = match reason {
        Reason::BelowReserve => Severity::Warning,
        _ => Severity::Problem,
    };
    let mut finding = Finding::new(severity, kind, says)
        .about(setup)
        .about_all(&dark)
        .at(short.at_min);
    if let Source::Battery(id) = &source {
        finding = finding.about(id);
    }
    Shortage {
        at_min: short.at_min,
        setup: setup.clone(),
        source,
        reason,
        dark,
        finding,
    }
}

/// Simulates `day` of `project`.
///
/// The setups follow the day's typed order; without one they are taken in the project's order from the call
/// on (those that another day has in its order left out), timed by rig, passes, resets and ways. `lengths` says
/// how many seconds of song a setup is planned over ([`model::Setup::heard_s`]); where it doesn't know,
/// [`model::Practice::usual_stretch_s`] is taken and said.
///
/// Never fails: what is missing or can't be is a finding, and the rest is computed.
pub fn day_power(
    project: &Project,
    day: &Day,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
) -> DayPower {
    let mut findings = Vec::new();
    let timed = slots(project, day, lengths, &mut findings);
    let scene = Scene::new(project, day.air_c, timed, &mut findings);
    let mut outcome = simulate(&scene, &scene.slots, &Tweak::default(), true);
    // At one time the dark goes before a reserve.
    outcome
        .shorts
        .sort_by(|a, b| a.at_min.total_cmp(&b.at_min).then(a.why.cmp(&b.why)));
    let mut day_power = described(&scene, day, &outcome);
    missing(&scene, &outcome, &mut findings);
    findings.append(&mut outcome.findings);
    if let Some(first) = outcome.shorts.first() {
        day_power.fixes = fixes(&scene, day, &outcome, first);
        let mends = &mut day_power.shortages[0].finding.mends;
        mends.extend(day_power.fixes.iter().map(ToString::to_string));
        if mends.is_empty() {
            mends.push("join several changes, as no single one mends it".into());
            mends.push("move a setup to another day".into());
        }
    }
    day_power.findings = findings;
    day_power
}

/// Items the day counts on and nobody has yet.
fn missing(scene: &Scene<'_>, outcome: &Outcome, findings: &mut Vec<Finding>) {
    let kit = &scene.project.kit;
    let given = outcome.pieces.iter().filter(|piece| piece.drawn_wh > 0.0);
    let batteries = given.map(|piece| scene.cells[piece.cells].item);
    let consumers = scene.loads.iter().flat_map(|load| &load.consumers);
    let between = consumers
        .filter_map(|consumer| consumer.routes.first())
        .flat_map(|route| route.inverter.iter().chain(&route.adapters));
    for at in batteries.chain(between.copied()) {
        let id = &kit[at].id;
        if kit[at].holding == Holding::Missing {
            let says = format!("the day counts on `{id}`, which is still missing");
            Finding::problem("still-missing", says)
                .about(id)
                .mended_by("find it or take it out of the kit")
                .once(findings);
        }
    }
}

fn described(scene: &Scene<'_>, day: &Day, outcome: &Outcome) -> DayPower {
    let kit = &scene.project.kit;
    let id = |at: &usize| kit[*at].id.clone();
    let ids = |items: &[usize]| items.iter().map(id).collect::<Vec<_>>();
    let setup = |slot: usize| scene.slots[slot].times.setup.clone();
    let piece = |at: usize| Piece {
        battery: id(&scene.cells[outcome.pieces[at].cells].item),
        piece: outcome.pieces[at].nth,
    };
    let air_c = day
        .air_c
        .filter(|air| air.is_finite())
        .unwrap_or(scene.project.practice.indoor_c);
    let flows = outcome.flows.iter().map(|flow| Span {
        setup: setup(flow.slot),
        items: ids(&flow.items),
        piece: flow.piece.map(piece),
        from_min: flow.from_min,
        to_min: flow.to_min,
        watts: flow.watts,
    });
    let changes = outcome.changes.iter().map(|change| Swap {
        setup: setup(change.slot),
        items: ids(&change.items),
        at_min: change.at_min,
        off: change.from.map(piece),
        on: piece(change.to),
        in_pass: change.in_pass,
        bridged: change.bridged,
    });
    let charges = outcome.charges.iter().map(|charged| Charge {
        piece: piece(charged.piece),
        from_min: charged.from_min,
        to_min: charged.to_min,
        wh: charged.wh,
    });
    DayPower {
        day: day.id.clone(),
        typed: !day.order.is_empty(),
        slots: scene.slots.iter().map(|slot| slot.times.clone()).collect(),
        draws: (0..scene.slots.len())
            .map(|slot| slot_draw(scene, slot))
            .collect(),
        spans: flows.collect(),
        swaps: changes.collect(),
        charges: charges.collect(),
        ledger: (0..outcome.pieces.len())
            .map(|at| ledger(scene, piece(at), &outcome.pieces[at], air_c))
            .collect(),
        totals: totals(outcome),
        shortages: outcome
            .shorts
            .iter()
            .map(|short| shortage(scene, short))
            .collect(),
        fixes: Vec::new(),
        findings: Vec::new(),
    }
}

fn ledger(scene: &Scene<'_>, piece: Piece, ran: &simulate::Piece, air_c: f64) -> Ledger {
    let battery = scene.cells[ran.cells].battery;
    Ledger {
        piece,
        start_wh: ran.start_wh,
        drawn_wh: ran.drawn_wh,
        charged_wh: ran.charged_wh,
        left_wh: ran.stored_wh,
        reserve_line_wh: reserve_line_wh(battery, air_c, &scene.project.practice),
        floor_wh: floor_wh(battery, air_c),
    }
}

fn totals(outcome: &Outcome) -> Totals {
    let sum = |of: fn(&simulate::Piece) -> f64| model::total(outcome.pieces.iter().map(of));
    Totals {
        drawn_wh: sum(|piece| piece.drawn_wh),
        charged_wh: sum(|piece| piece.charged_wh),
        mains_wh: outcome.mains_wh,
        into_chargers_wh: outcome.mains_to_chargers_wh,
        used_wh: outcome.used_wh,
        lost_wh: outcome.lost_wh,
    }
}

fn slot_draw(scene: &Scene<'_>, slot: usize) -> SlotDraw {
    let kit = &scene.project.kit;
    let mut inverters: Vec<usize> = Vec::new();
    let consumers = scene.loads[slot].consumers.iter().map(|consumer| {
        let route = consumer.routes.first();
        let source_w = match route.and_then(|route| route.inverter) {
            Some(at) => {
                let idles = !inverters.contains(&at);
                inverters.push(at);
                let inverter = scene.inverter(at);
                let idle = inverter
                    .and_then(|i| i.idle_w)
                    .map_or(0.0, crate::battery::positive);
                at_source_w(inverter, consumer.watts) - if idles { 0.0 } else { idle }
            }
            None => consumer.watts,
        };
        ConsumerDraw {
            item: kit[consumer.item].id.clone(),
            unit: consumer.unit + 1,
            level: consumer.light.map(|_| consumer.level),
            watts: consumer.watts,
            source_w: Some(source_w).filter(|watts| watts.is_finite()),
            feed: route.map(|route| route.described(kit)),
        }
    });
    SlotDraw {
        setup: scene.slots[slot].times.setup.clone(),
        consumers: consumers.collect(),
    }
}
