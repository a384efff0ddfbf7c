//! Cards: what each setup records, on which card it lies, when cards are changed, and how long copying takes.
//!
//! # Rules
//! - Gigabytes of a setup: passes × (seconds the song sounds on set + head + tail) × megabits a second ÷ 8000.
//! - The camera's recording is the one nearest in rate; of several equally near the one that writes most.
//! - Cards are filled in the kit's order, passes in the day's; a pass that does not fit on what is left of a
//!   card goes on the next, so that cards are changed at resets, never in a pass.
//! - A card is not used twice in a day: it is kept until its copies are checked.
//! - Copying reads a card once and writes all copies at the speed of the slowest of them, then reads every copy
//!   back, one after the other, against the sums taken while copying.

use crate::battery::positive;
use crate::times::{minutes, unknown_setup};
use model::{Finding, FrameRate, KitId, Project, Setup, SetupId};
use serde::Serialize;

/// Cards for a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CardPlan {
    /// What each setup records, in order.
    pub setups: Vec<SetupMedia>,
    /// What lies on each card, in order; empty ones left out.
    pub cards: Vec<CardLoad>,
    /// What the day records, gigabytes.
    pub needed_gb: f64,
    /// What cards should hold by common practice: that times [`model::Practice::card_reserve`].
    pub wanted_gb: f64,
    /// What all cards hold, [`model::Practice::card_filled`] of what is printed on them.
    pub there_gb: f64,
    /// What does not go on any card.
    pub short_gb: f64,
    /// Copying and checking all cards, minutes; `None` where a card's speed is not known.
    pub copying_min: Option<f64>,
    /// What to know.
    pub findings: Vec<Finding>,
}

/// What a setup records.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetupMedia {
    /// Which.
    pub setup: SetupId,
    /// Which of the camera's recordings, by its name; empty where it has none.
    pub recording: String,
    /// What it writes, megabits a second.
    pub mbit_s: f64,
    /// Passes.
    pub passes: u32,
    /// Recorded in a pass, head and tail too, seconds.
    pub pass_s: f64,
    /// All passes, gigabytes.
    pub gigabytes: f64,
}

/// What lies on a card.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CardLoad {
    /// Which card.
    pub card: KitId,
    /// Which of several alike, from 1.
    pub piece: u32,
    /// Setups on it, each with its first and last pass there, counted from 1.
    pub holds: Vec<(SetupId, u32, u32)>,
    /// Recorded, gigabytes.
    pub gigabytes: f64,
    /// Left free, gigabytes, what is kept free not counted.
    pub free_gb: f64,
    /// The setup and pass before which it is changed for the next; `None` for the last.
    pub changed_before: Option<(SetupId, u32)>,
    /// What copying takes.
    pub copying: Option<CopyTime>,
}

/// What copying a card takes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CopyTime {
    /// Reading it and writing all copies, minutes.
    pub copy_min: f64,
    /// Reading the copies back, minutes.
    pub check_min: f64,
}

struct Open {
    load: CardLoad,
    room_gb: f64,
    reads_mb_s: Option<f64>,
    writes_mb_s: Option<f64>,
}

/// Cards for the setups of `order` (a day's slots in their order, [`crate::SlotTimes::setup`]).
///
/// `lengths` is as in [`crate::day_power`]. Never fails.
pub fn card_plan(
    project: &Project,
    order: &[SetupId],
    lengths: &dyn Fn(&Setup) -> Option<f64>,
) -> CardPlan {
    let (practice, mut findings) = (&project.practice, Vec::new());
    let mut setups = Vec::new();
    for id in order {
        match project.setup(id) {
            Some(setup) => setups.extend(media(project, setup, lengths, &mut findings)),
            None => unknown_setup(id).once(&mut findings),
        }
    }
    let mut open = cards(project);
    let there_gb = model::total(open.iter().map(|card| card.room_gb));
    let needed_gb = model::total(setups.iter().map(|setup| setup.gigabytes));
    let wanted_gb = needed_gb * practice.card_reserve;
    if open.is_empty() && needed_gb > 0.0 {
        findings.push(
            Finding::problem("no-cards", "the kit holds no card to record to")
                .mended_by("write how many and how large"),
        );
    }
    let short_gb = fill(&setups, &mut open, &mut findings);
    if short_gb <= 0.0 && there_gb < wanted_gb && needed_gb > 0.0 {
        let times = practice.card_reserve;
        findings.push(Finding::warning("cards-tight", format!(
            "the cards hold {there_gb:.0} GB and the plan records {needed_gb:.0} GB; {times:.1} times that, {wanted_gb:.0} GB, is common practice"
        )));
    }
    open.retain(|card| !card.load.holds.is_empty());
    let copying_min = copying(project, &mut open, needed_gb, &mut findings);
    CardPlan {
        setups,
        cards: open.into_iter().map(|card| card.load).collect(),
        needed_gb,
        wanted_gb,
        there_gb,
        short_gb,
        copying_min,
        findings,
    }
}

/// What `setup` records; `None` where that isn't known.
fn media(
    project: &Project,
    setup: &Setup,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
    findings: &mut Vec<Finding>,
) -> Option<SetupMedia> {
    let optics = setup.optics.as_ref();
    let item = optics.and_then(|optics| project.item(&optics.camera));
    let Some((item, camera)) = item.and_then(|item| Some((item, item.camera.as_ref()?))) else {
        Finding::unknown("no-camera", format!("`{}` does not say which camera shoots it, so what that draws and records is not counted", setup.id))
            .about(&setup.id)
            .mended_by("write its optics")
            .once(findings);
        return None;
    };
    let rate = setup.camera_rate(project.brief.rate);
    let apart = |other: FrameRate| (other.fps() / rate.fps()).ln().abs();
    let nearest = camera.recordings.iter().min_by(|a, b| {
        apart(a.rate)
            .total_cmp(&apart(b.rate))
            .then(b.mbit_s.total_cmp(&a.mbit_s))
    });
    let Some(recording) = nearest else {
        let (id, setup) = (&item.id, &setup.id);
        let says =
            format!("what `{id}` records is not said, so the cards of `{setup}` are not counted");
        Finding::unknown("no-recording", says)
            .about(setup)
            .about(id)
            .mended_by("write its recordings")
            .once(findings);
        return None;
    };
    // 24 and 24000/1001 write the same to a thousandth.
    if apart(recording.rate) > 0.002 {
        Finding::unknown("recording-nearest", format!(
            "`{}` names no recording at {:.3} frames a second for `{}`; the one at {:.3} is counted with",
            item.id, rate.fps(), setup.id, recording.rate.fps()
        ))
        .about(&setup.id)
        .about(&item.id)
        .mended_by("write the right one")
        .once(findings);
    }
    let sounds_s = minutes(project, setup, lengths, findings).pass * 60.0;
    let pass_s = sounds_s + project.practice.head_s + project.practice.tail_s;
    let mbit_s = positive(recording.mbit_s);
    Some(SetupMedia {
        setup: setup.id.clone(),
        recording: recording.name.clone(),
        mbit_s,
        passes: setup.passes,
        pass_s,
        gigabytes: f64::from(setup.passes) * pass_gb(pass_s, mbit_s),
    })
}

/// Gigabytes of `seconds` at `mbit_s`: 8 bits a byte, 1000 megabytes a gigabyte.
fn pass_gb(seconds: f64, mbit_s: f64) -> f64 {
    seconds * mbit_s / 8.0 / 1000.0
}

/// The kit's cards for recording, each piece by itself.
fn cards(project: &Project) -> Vec<Open> {
    let mut open = Vec::new();
    for item in &project.kit {
        let Some(card) = item.card.as_ref().filter(|card| !card.for_copies) else {
            continue;
        };
        let room_gb = positive(card.gigabytes) * project.practice.card_filled;
        let speed = |mb_s: Option<f64>| mb_s.map(positive).filter(|mb_s| *mb_s > 0.0);
        for piece in 1..=item.count.min(1000) {
            open.push(Open {
                load: CardLoad {
                    card: item.id.clone(),
                    piece,
                    holds: Vec::new(),
                    gigabytes: 0.0,
                    free_gb: room_gb,
                    changed_before: None,
                    copying: None,
                },
                room_gb,
                reads_mb_s: speed(card.reads_mb_s),
                writes_mb_s: speed(card.writes_mb_s),
            });
        }
    }
    open
}

/// Lays the passes on the cards; gives what doesn't fit, gigabytes.
fn fill(setups: &[SetupMedia], open: &mut [Open], findings: &mut Vec<Finding>) -> f64 {
    let largest = open.iter().map(|card| card.room_gb).fold(0.0, f64::max);
    let mut now = 0;
    let mut short_gb = 0.0;
    let mut full: Option<(SetupId, u32)> = None;
    for setup in setups {
        let pass = pass_gb(setup.pass_s, setup.mbit_s);
        if pass <= 0.0 {
            continue;
        }
        if pass > largest && !open.is_empty() {
            Finding::problem("pass-over-card", format!(
                "one pass of `{}` takes {pass:.1} GB and the largest card holds {largest:.1} GB", setup.setup
            ))
            .about(&setup.setup)
            .mended_by("bring a larger card")
            .mended_by("record less a second")
            .once(findings);
        }
        for nth in 1..=setup.passes {
            let fits = |card: &Open| pass <= card.load.free_gb + 1e-9;
            let place = (now..open.len()).find(|at| fits(&open[*at]));
            let Some(at) = place.filter(|_| full.is_none()) else {
                // Later and smaller passes are not squeezed in: the cards are full.
                full.get_or_insert((setup.setup.clone(), nth));
                short_gb += pass * f64::from(setup.passes - nth + 1);
                break;
            };
            if at != now && !open[now].load.holds.is_empty() {
                open[now].load.changed_before = Some((setup.setup.clone(), nth));
            }
            now = at;
            let card = &mut open[at];
            if let Some(writes) = card.writes_mb_s
                && writes < setup.mbit_s / 8.0
            {
                let (card, id, needs) = (&card.load.card, &setup.setup, setup.mbit_s / 8.0);
                let says =
                    format!("`{card}` writes {writes:.0} MB/s and `{id}` needs {needs:.0} MB/s");
                Finding::problem("card-too-slow", says)
                    .about(id)
                    .about(card)
                    .mended_by("use a faster card there")
                    .once(findings);
            }
            card.load.gigabytes += pass;
            card.load.free_gb -= pass;
            match card.load.holds.last_mut() {
                Some((id, _, last)) if *id == setup.setup && *last + 1 == nth => *last = nth,
                _ => card.load.holds.push((setup.setup.clone(), nth, nth)),
            }
        }
    }
    if let Some((setup, pass)) = full.filter(|_| !open.is_empty()) {
        findings.push(Finding::problem("cards-full", format!(
            "the cards are full before pass {pass} of `{setup}`, and {short_gb:.0} GB are still to come; nothing is wiped before two checked copies exist"
        )).about(&setup).mended_by("bring more"));
    }
    short_gb
}

fn copying(
    project: &Project,
    open: &mut [Open],
    needed_gb: f64,
    findings: &mut Vec<Finding>,
) -> Option<f64> {
    if open.is_empty() {
        return Some(0.0);
    }
    // The drives, each piece by itself, in the kit's order; what a drive doesn't say is as fast as the card.
    let mut drives = Vec::new();
    for item in &project.kit {
        if let Some(card) = item.card.as_ref().filter(|card| card.for_copies) {
            for _ in 0..item.count.min(project.practice.copies) {
                drives.push((item, card));
            }
        }
    }
    drives.truncate(project.practice.copies as usize);
    if drives.len() < project.practice.copies as usize {
        findings.push(Finding::warning("copies-missing", format!(
            "{} copies are wanted and the kit has {} drives for copies; copies on one drive are lost together",
            project.practice.copies, drives.len()
        )).mended_by("bring another"));
    }
    for (item, card) in &drives {
        let there_gb = positive(card.gigabytes) * project.practice.card_filled;
        if there_gb < needed_gb {
            let id = &item.id;
            let says =
                format!("`{id}` holds {there_gb:.0} GB and the day brings {needed_gb:.0} GB");
            Finding::problem("copy-full", says)
                .about(id)
                .mended_by("bring a larger one")
                .once(findings);
        }
    }
    let speed = |mb_s: Option<f64>| mb_s.filter(|mb_s| mb_s.is_finite() && *mb_s > 0.0);
    let mut all_min = Some(0.0);
    for card in open {
        let Some(reads) = card.reads_mb_s else {
            let id = &card.load.card;
            let says = format!(
                "how fast `{id}` reads is not said, so how long it takes to copy is not known"
            );
            Finding::note("read-speed-unsaid", says)
                .about(id)
                .mended_by("write `reads_mb_s`")
                .once(findings);
            all_min = None;
            continue;
        };
        let megabytes = card.load.gigabytes * 1000.0;
        let writes = drives
            .iter()
            .filter_map(|(_, drive)| speed(drive.writes_mb_s));
        let slowest = writes.fold(reads, f64::min);
        // A copy whose drive is missing is checked as fast as the card reads.
        let check_s: f64 = (0..project.practice.copies as usize)
            .map(|n| {
                let drive = drives.get(n).and_then(|(_, drive)| speed(drive.reads_mb_s));
                megabytes / drive.unwrap_or(reads)
            })
            .sum();
        let time = CopyTime {
            copy_min: megabytes / slowest / 60.0,
            check_min: check_s / 60.0,
        };
        all_min = all_min.map(|sum: f64| sum + time.copy_min + time.check_min);
        card.load.copying = Some(time);
    }
    all_min
}

#[cfg(test)]
mod tests {
    use super::*;

    fn project() -> Project {
        serde_json::from_str(
            r#"{"format": 2,
            "brief": {"rate": "24", "frame": [1920, 1080]},
            "kit": [
              {"id": "cam", "camera": {"sensor_mm": [36, 20], "frame": [3840, 2160], "recordings": [
                 {"name": "slow", "rate": "24", "mbit_s": 100},
                 {"name": "normal", "rate": "24", "mbit_s": 400},
                 {"name": "fast", "rate": "48", "mbit_s": 800}]}},
              {"id": "card", "count": 3, "card": {"gigabytes": 40, "reads_mb_s": 250, "writes_mb_s": 90}},
              {"id": "drive", "count": 2, "card": {"gigabytes": 2000, "reads_mb_s": 500, "writes_mb_s": 400, "for_copies": true}}
            ],
            "setups": [
              {"id": "a", "passes": 3, "optics": {"camera": "cam"}},
              {"id": "b", "passes": 2, "shot_rate": "48", "optics": {"camera": "cam"}},
              {"id": "c", "passes": 1, "shot_rate": "30", "optics": {"camera": "cam"}},
              {"id": "d"}
            ]}"#,
        )
        .unwrap()
    }

    fn ids(names: &[&str]) -> Vec<SetupId> {
        names
            .iter()
            .map(|name| SetupId::new(*name).unwrap())
            .collect()
    }

    #[test]
    fn gigabytes_by_hand() {
        let plan = card_plan(&project(), &ids(&["a", "b"]), &|_| Some(180.0));
        // 200 s at 400 Mbit/s are 80,000 Mbit, 10 GB; at 48 a pass is 90 + 20 = 110 s at 800: 11 GB.
        assert_eq!(plan.setups[0].gigabytes, 30.0);
        assert_eq!(plan.setups[1].gigabytes, 22.0);
        assert_eq!((plan.needed_gb, plan.wanted_gb), (52.0, 78.0));
        // 40 × 0.95 = 38 GB: three passes of a, then both of b on the next.
        let a = &plan.cards[0];
        assert_eq!(a.holds, [(ids(&["a"])[0].clone(), 1, 3)]);
        assert_eq!(a.changed_before, Some((ids(&["b"])[0].clone(), 1)));
        assert_eq!(plan.cards[1].holds, [(ids(&["b"])[0].clone(), 1, 2)]);
        assert_eq!(plan.cards.len(), 2);
        // 30 GB at 250 MB/s are 120 s; read back from two drives at 500 MB/s, 60 s each.
        let copying = a.copying.unwrap();
        assert!((copying.copy_min - 2.0).abs() < 1e-12 && (copying.check_min - 2.0).abs() < 1e-12);
        assert!((plan.copying_min.unwrap() - 52.0 / 30.0 * 4.0).abs() < 1e-9);
        // 800 Mbit/s are 100 MB/s, more than 90.
        let slow: Vec<_> = plan.findings.iter().map(ToString::to_string).collect();
        assert_eq!(
            slow,
            ["`card` writes 90 MB/s and `b` needs 100 MB/s; use a faster card there"]
        );
    }

    #[test]
    fn what_does_not_fit_is_said() {
        let mut project = project();
        project.kit[1].count = 1;
        let plan = card_plan(&project, &ids(&["a", "b", "c", "d", "gone"]), &|_| {
            Some(180.0)
        });
        let has = |kind: &str| plan.findings.iter().any(|f| f.kind == kind);
        assert!(has("cards-full"));
        // Both passes of b, and c: 180 / 1.25 + 20 s at 400 Mbit/s (24 is nearer to 30 than 48 is).
        assert!(
            (plan.short_gb - 22.0 - 8.2).abs() < 1e-9,
            "{}",
            plan.short_gb
        );
        assert!(has("recording-nearest"));
        assert!(has("no-camera"));
        assert!(has("unknown-setup"));
        project.kit[1].card.as_mut().unwrap().gigabytes = f64::NAN;
        let plan = card_plan(&project, &ids(&["a"]), &|_| None);
        assert_eq!((plan.there_gb, plan.short_gb), (0.0, plan.needed_gb));
        project.kit.remove(1);
        let plan = card_plan(&project, &ids(&["a"]), &|_| None);
        assert!(plan.findings.iter().any(|f| f.kind == "no-cards"));
    }
}
