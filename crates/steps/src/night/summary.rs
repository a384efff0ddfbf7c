//! The night in a few sentences: what is short, what is missing, what is gravest. One that calms is said only
//! where all that it rests on is known.

use super::DayReport;
use cautions::Caution;
use exposure::Judgement;
use exposure::setup::On;
use kit::Packing;
use model::clock::shown;
use model::{Date, DayId, Finding, Holding, Project, SetupId, Severity};
use power::Tightest;
use serde::Serialize;

/// How many kinds of caution are told of.
const GRAVEST: usize = 3;
/// What of packing stands in the way of the day.
const SHORT: [&str; 7] = [
    "missing",
    "unknown",
    "too-few",
    "not-fed",
    "no-adapter",
    "connector-unknown",
    "no-spare",
];

/// The night in a few sentences, taken from everything below it.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// How the setups are exposed.
    pub light: Finding,
    /// The setup with the least light for what it is exposed for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub darkest: Option<Darkest>,
    /// Batteries and cards of each day.
    pub days: Vec<DaySummary>,
    /// What the plan uses and nobody has yet, and what there is too little of.
    pub missing: Vec<Finding>,
    /// The gravest kinds of caution, the gravest first, with their places.
    pub gravest: Vec<Finding>,
    /// How many cautions there are in all.
    pub cautions: usize,
}

/// The darkest setup.
#[derive(Clone, Debug, Serialize)]
pub struct Darkest {
    /// Which.
    pub setup: SetupId,
    /// Its face where it has one, otherwise its background.
    pub on: On,
    /// Stops over (positive) or under its target.
    pub stops_in_hand: f64,
}

/// A day's batteries and cards.
#[derive(Clone, Debug, Serialize)]
pub struct DaySummary {
    /// Which day.
    pub day: DayId,
    /// Its date.
    pub date: Date,
    /// Whether the batteries last.
    pub batteries: Finding,
    /// When batteries are nearest to their end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tightest: Option<Tightest>,
    /// Whether the recording goes on the cards.
    pub cards: Finding,
}

impl Summary {
    /// All of it, each with what it is of.
    pub fn findings(&self) -> Vec<(String, &Finding)> {
        let mut out = vec![("light".to_owned(), &self.light)];
        for day in &self.days {
            out.push((format!("batteries, {}", day.date), &day.batteries));
            out.push((format!("cards, {}", day.date), &day.cards));
        }
        out.extend(self.missing.iter().map(|one| ("to get".to_owned(), one)));
        out.extend(self.gravest.iter().map(|one| ("to mind".to_owned(), one)));
        out
    }
}

/// A day's batteries and cards, of all its setups.
pub(super) fn of_day(project: &Project, day: &DayReport) -> DaySummary {
    let tightest = day.power.tightest();
    DaySummary {
        day: day.day.clone(),
        date: day.date,
        batteries: batteries(project, day, tightest.as_ref()).about(&day.day),
        tightest,
        cards: cards(day).about(&day.day),
    }
}

/// The summary of a report's parts.
pub(super) fn summary(
    project: &Project,
    setups: &[Judgement],
    days: Vec<DaySummary>,
    packing: &Packing,
    cautions: &[Caution],
) -> Summary {
    let darkest = setups
        .iter()
        .filter_map(in_hand)
        .min_by(|a, b| a.stops_in_hand.total_cmp(&b.stops_in_hand));
    Summary {
        light: light(project, setups, darkest.as_ref()),
        darkest,
        days,
        missing: missing(packing),
        gravest: gravest(project, cautions),
        cautions: cautions.len(),
    }
}

/// What a setup is exposed for, against where it is wanted.
fn in_hand(one: &Judgement) -> Option<Darkest> {
    let sides = [(On::Face, &one.face), (On::Background, &one.background)];
    sides.into_iter().find_map(|(on, side)| {
        Some(Darkest {
            setup: one.setup.clone(),
            on,
            stops_in_hand: side.gap_stops?,
        })
    })
}

/// `0.4 stops under its target`.
pub fn from_target(stops: f64) -> String {
    let side = if stops < 0.0 { "under" } else { "over" };
    match model::text::number(stops.abs(), 1).as_str() {
        "0" => "on its target".to_owned(),
        "1" => format!("1 stop {side} its target"),
        number => format!("{number} stops {side} its target"),
    }
}

fn light(project: &Project, setups: &[Judgement], darkest: Option<&Darkest>) -> Finding {
    let off = setups
        .iter()
        .filter(|one| one.off_target().next().is_some())
        .count();
    let unknown: Vec<&Finding> = setups.iter().filter_map(Judgement::unknown).collect();
    let mut parts: Vec<String> = Vec::new();
    if let Some(darkest) = darkest {
        let name = project.setup_name(&darkest.setup);
        let on = darkest.on.word();
        parts.push(format!(
            "darkest is “{name}”, its {on} {}",
            from_target(darkest.stops_in_hand)
        ));
    }
    match off {
        0 => {}
        1 => parts.push("1 setup has a face or background off its target".into()),
        off => parts.push(format!(
            "{off} setups have a face or background off their target"
        )),
    }
    if let Some(first) = unknown.first() {
        let of = setups.len();
        parts.push(format!(
            "not all is known of {} of {of} setups: {}",
            unknown.len(),
            first.says
        ));
    } else if setups.is_empty() {
        parts.push("there is no setup to be judged".into());
    } else if off == 0 {
        parts.push("every setup is on its target".into());
    }
    let severity = match (off, unknown.is_empty() && !setups.is_empty()) {
        (1.., _) => Severity::Problem,
        (0, false) => Severity::Unknown,
        (0, true) => Severity::Note,
    };
    Finding::new(severity, "light", parts.join("; ")).about_all(darkest.map(|one| &one.setup))
}

/// Findings on which it rests whether something lasts: what is not known, and what does not work out.
fn doubts<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Vec<&'a Finding> {
    let doubtful = |one: &&Finding| matches!(one.severity, Severity::Unknown | Severity::Problem);
    findings.into_iter().filter(doubtful).collect()
}

/// `says` what is not known, the first of `doubts` and how many more.
fn not_known(kind: &'static str, says: &str, doubts: &[&Finding]) -> Option<Finding> {
    let first = doubts.first()?;
    let more = match doubts.len() - 1 {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    let mut found = Finding::unknown(kind, format!("{says}: {}{more}", first.says));
    found.about = first.about.clone();
    found.mends = first.mends.clone();
    Some(found)
}

fn no_setups(kind: &'static str) -> Finding {
    Finding::unknown(
        kind,
        "no setup is planned for the day, so nothing is known of it",
    )
}

fn batteries(project: &Project, day: &DayReport, tightest: Option<&Tightest>) -> Finding {
    let (kind, power) = ("batteries", &day.power);
    if power.slots.is_empty() && power.shortages.is_empty() {
        return no_setups(kind);
    }
    // A camera nobody named draws what nobody counted.
    let unnamed = day
        .cards
        .findings
        .iter()
        .filter(|one| one.kind == "no-camera");
    let doubts = doubts(power.findings.iter().chain(unnamed));
    let dark = power.shortages.iter().find(|short| !short.dark.is_empty());
    if let Some(short) = dark.or(power.shortages.first()) {
        let (severity, says) = match (dark, doubts.first()) {
            (Some(_), _) => (Severity::Problem, "they do not last: "),
            (None, None) => (Severity::Warning, "they last on their reserve only: "),
            (None, Some(_)) => (
                Severity::Warning,
                "they go into their reserve, and not all that they feed is known: ",
            ),
        };
        return Finding {
            severity,
            kind: kind.into(),
            says: format!("{says}{}", short.finding.says),
            ..short.finding.clone()
        };
    }
    not_known(kind, "whether they last is not known", &doubts).unwrap_or_else(|| {
        let Some(lowest) = tightest else {
            return Finding::note(kind, "nothing runs on batteries");
        };
        let name = project.item_name(&lowest.battery);
        Finding::note(
            kind,
            format!(
                "they last; lowest at {}: “{name}” with {:.0} % left",
                shown(lowest.at_min),
                lowest.left_share * 100.0
            ),
        )
        .about(&lowest.battery)
        .at(lowest.at_min)
    })
}

fn cards(day: &DayReport) -> Finding {
    let (kind, plan) = ("cards", &day.cards);
    let (needed, there) = (plan.needed_gb, plan.there_gb);
    // How long it takes to copy says nothing of what the cards hold.
    let doubts = doubts(plan.findings.iter().filter(|one| one.kind != "copy-full"));
    if plan.short_gb > 0.0 {
        let says = format!(
            "they do not hold the day: {:.1} GB of {needed:.1} GB go on none",
            plan.short_gb
        );
        return Finding::problem(kind, says)
            .mended_by("get one more")
            .mended_by("copy and check one between setups");
    }
    if day.power.slots.is_empty() && plan.setups.is_empty() && doubts.is_empty() {
        return no_setups(kind);
    }
    not_known(kind, "whether they hold the day is not known", &doubts).unwrap_or_else(|| {
        let severity = if there < plan.wanted_gb {
            Severity::Warning
        } else {
            Severity::Note
        };
        let says = format!("they hold the day: {needed:.1} GB to record, {there:.1} GB there");
        Finding::new(severity, kind, says)
    })
}

fn missing(packing: &Packing) -> Vec<Finding> {
    let short = packing
        .findings
        .iter()
        .filter(|found| SHORT.contains(&found.kind.as_ref()));
    let mut out: Vec<Finding> = short.cloned().collect();
    for row in packing
        .getting
        .iter()
        .filter(|row| row.holding == Holding::Missing)
    {
        if !out
            .iter()
            .any(|found| found.kind == "missing" && found.items().any(|id| *id == row.item))
        {
            let says = format!("`{}` is missing", row.name);
            out.push(Finding::problem("missing", says).about(&row.item));
        }
    }
    out
}

fn gravest(project: &Project, cautions: &[Caution]) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    for together in cautions.chunk_by(|a, b| a.kind == b.kind).take(GRAVEST) {
        let (kind, mut says) = (together[0].finding.kind.clone(), together[0].kind.words());
        let mut found = Finding::new(Severity::Warning, kind, "");
        for place in together
            .iter()
            .filter_map(|one| one.finding.places().next())
        {
            if !found.places().any(|known| known == place) {
                says += if found.about.is_empty() {
                    " at "
                } else {
                    " and "
                };
                says += project
                    .place(place)
                    .map_or(place.as_str(), |known| known.name.as_str());
                found = found.about(place);
            }
        }
        out.push(Finding { says, ..found });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Setup;
    use serde_json::{Value, json};

    /// A camera and a lamp on a battery each, a card that holds it all: everything said.
    fn known() -> Value {
        json!({
            "format": 2,
            "brief": {"rate": "24", "frame": [1920, 1080]},
            "kit": [
                {"id": "cam", "sort": "camera", "fed_by": ["np"], "camera": {
                    "sensor_mm": [36.0, 20.25], "frame": [1920, 1080], "draws_w": 10.0, "base_iso": [800],
                    "recordings": [{"name": "fine", "rate": "24", "mbit_s": 100.0}]
                }},
                {"id": "lamp", "sort": "light", "fed_by": ["dc"], "light": {"candela": 9000.0, "full_w": 10.0}},
                {"id": "small", "sort": "power", "feeds": ["np"], "battery": {"wh": 90.0}},
                {"id": "block", "name": "Block", "sort": "power", "feeds": ["dc"], "battery": {"wh": 90.0}},
                {"id": "card", "sort": "card", "card": {"gigabytes": 512.0, "reads_mb_s": 200.0}},
                {"id": "drive", "sort": "card", "count": 2, "card": {"gigabytes": 4000.0, "for_copies": true}}
            ],
            "setups": [{
                "id": "stair", "passes": 3, "rig_minutes": 15, "optics": {"camera": "cam"},
                "lights": [{"light": "lamp", "distance_m": 2.0}]
            }],
            "days": [{"id": "night", "date": "2026-10-03", "call": "18:00", "air_c": 15.0}]
        })
    }

    fn summed(plan: &Value, length_s: Option<f64>) -> DaySummary {
        let project: Project = serde_json::from_value(plan.clone()).unwrap();
        let lengths = |_: &Setup| length_s;
        let day = &project.days[0];
        let power = power::day_power(&project, day, &lengths);
        let order: Vec<SetupId> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
        let cards = power::card_plan(&project, &order, &lengths);
        let (id, date) = (day.id.clone(), day.date);
        of_day(
            &project,
            &DayReport {
                day: id,
                date,
                power,
                cards,
            },
        )
    }

    #[test]
    fn what_is_known_may_calm() {
        let day = summed(&known(), Some(180.0));
        assert_eq!(day.batteries.severity, Severity::Note, "{}", day.batteries);
        assert!(day.batteries.says.starts_with("they last; lowest at "));
        assert_eq!(day.cards.severity, Severity::Note, "{}", day.cards);
        assert!(day.cards.says.starts_with("they hold the day: "));
    }

    /// Whatever is left out, neither batteries nor cards are said to be enough, and what is missing is named.
    #[test]
    fn nothing_unknown_is_good_news() {
        let both = ["batteries", "cards"];
        for (path, value, of, named) in [
            (
                "/kit/0/camera/draws_w",
                Value::Null,
                &both[..1],
                "what `cam` draws",
            ),
            ("/kit/1/fed_by", json!([]), &both[..1], "what feeds `lamp`"),
            (
                "/kit/3/feeds",
                json!(["other"]),
                &both[..1],
                "nothing in the kit feeds `lamp`",
            ),
            (
                "/kit/3/holding",
                json!("missing"),
                &both[..1],
                "`block`, which is still missing",
            ),
            (
                "/setups/0/optics",
                Value::Null,
                &both[..],
                "which camera shoots it",
            ),
            (
                "/setups/0/rig_minutes",
                Value::Null,
                &both[..1],
                "how long it takes to rig `stair`",
            ),
            ("/days/0/air_c", Value::Null, &both[..1], "how cold it gets"),
            (
                "/kit/0/camera/recordings",
                json!([]),
                &both[1..],
                "what `cam` records",
            ),
            (
                "/kit/4/card/writes_mb_s",
                json!(1.0),
                &both[1..],
                "`card` writes 1 MB/s",
            ),
            ("/setups", json!([]), &both[..], "no setup is planned"),
        ] {
            let mut plan = known();
            match plan.pointer_mut(path) {
                Some(there) => *there = value,
                None => {
                    let (of, field) = path.rsplit_once('/').unwrap();
                    plan.pointer_mut(of).unwrap()[field] = value;
                }
            }
            let day = summed(&plan, Some(180.0));
            for (what, found) in [("batteries", &day.batteries), ("cards", &day.cards)] {
                if of.contains(&what) {
                    assert!(found.severity >= Severity::Unknown, "{path}: {found}");
                    assert!(!found.says.starts_with("they "), "{path}: {found}");
                    assert!(found.says.contains(named), "{path}: {found}");
                }
            }
        }
        let day = summed(&known(), None);
        for found in [&day.batteries, &day.cards] {
            assert!(found.says.contains("how long the song sounds"), "{found}");
        }
    }

    #[test]
    fn a_setup_of_which_something_is_unknown_is_not_on_its_target() {
        let project: Project = serde_json::from_value(known()).unwrap();
        let judged: Vec<Judgement> = project
            .setups
            .iter()
            .map(|setup| exposure::judge(&project, setup))
            .collect();
        let said = light(&project, &judged, None);
        assert!(
            said.severity >= Severity::Unknown && !said.says.contains("every setup"),
            "{said}"
        );
        assert!(
            said.says.contains("not all is known of 1 of 1 setups"),
            "{said}"
        );
        assert_eq!(light(&project, &[], None).severity, Severity::Unknown);
    }

    #[test]
    fn stops_from_the_target_in_words() {
        assert_eq!(from_target(-0.04), "on its target");
        assert_eq!(from_target(-1.0), "1 stop under its target");
        assert_eq!(from_target(0.44), "0.4 stops over its target");
    }
}
