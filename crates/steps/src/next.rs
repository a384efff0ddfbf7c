//! Where a video stands, and what to do next, in the order of the work: what everything else waits for first.

use crate::{DayOptions, DaysReport, Error, Job, KitOptions, KitReport, OneDay, Progress};
use model::text::{counted, minutes, sentence};
use model::{Finding, Leave, Project, Rating, Severity};
use serde::Serialize;

/// A step of the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Step {
    /// What was agreed, people, references.
    Brief,
    /// The song, and the ideas on it.
    Song,
    /// Places and leave to be there.
    Places,
    /// Kit, light, power.
    Kit,
    /// Setups and what they cover.
    Setups,
    /// The day.
    Day,
    /// Takes.
    Takes,
    /// The assembly.
    Assembly,
}

impl Step {
    /// Every step, in the order of the work.
    pub const ALL: [Self; 8] = [
        Self::Brief,
        Self::Song,
        Self::Places,
        Self::Kit,
        Self::Setups,
        Self::Day,
        Self::Takes,
        Self::Assembly,
    ];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Brief => "Brief",
            Self::Song => "Song",
            Self::Places => "Places",
            Self::Kit => "Kit",
            Self::Setups => "Setups",
            Self::Day => "Day",
            Self::Takes => "Takes",
            Self::Assembly => "Assembly",
        }
    }
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Next {
    /// What.
    pub what: &'static str,
    /// Why now, a sentence with figures.
    pub why: String,
    /// The step it is done in.
    pub step: Step,
    /// The command that does it, or shows what it is about.
    pub command: &'static str,
}

/// How a step stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stands {
    /// Which.
    pub step: Step,
    /// In a few words.
    pub says: String,
}

/// Where a video stands, and what to do next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Standing {
    /// Every step, in the order of the work.
    pub stands: Vec<Stands>,
    /// What to do next, the first thing first: as many as are read at once.
    pub next: Vec<Next>,
    /// How many more there are.
    pub more: usize,
}

/// What is told at once of what there is to do.
pub const AT_ONCE: usize = 3;

/// What is known beside the document. What is not known yet adds nothing to do.
#[derive(Clone, Copy, Debug, Default)]
pub struct Known<'a> {
    /// Figures of the kit.
    pub kit: Option<&'a KitReport>,
    /// The days, solved.
    pub days: Option<&'a DaysReport>,
    /// Why the kit's figures can't be had, where they can't.
    pub no_kit: Option<&'a str>,
    /// Why the days can't be planned, where they can't.
    pub no_days: Option<&'a str>,
}

/// Where `project` stands, and what to do next.
pub fn standing(project: &Project, known: Known) -> Standing {
    let mut next = to_do(project, known);
    let more = next.len().saturating_sub(AT_ONCE);
    next.truncate(AT_ONCE);
    Standing {
        stands: Step::ALL.map(|step| stands(project, step)).into(),
        next,
        more,
    }
}

fn stands(project: &Project, step: Step) -> Stands {
    let says = match step {
        Step::Brief if project.brief.artist.is_empty() => "not written".into(),
        Step::Brief => project.brief.artist.clone(),
        Step::Song => project.song.as_ref().map_or_else(
            || "none yet".into(),
            |song| {
                let ideas = counted(project.ideas.len(), "idea");
                format!("{} long, {ideas}", minutes(song.length))
            },
        ),
        Step::Places => counted(project.places.len(), "place"),
        Step::Kit => counted(project.kit.len(), "thing"),
        Step::Setups => counted(project.setups.len(), "setup"),
        Step::Day => counted(project.days.len(), "day"),
        Step::Takes => {
            let takes = counted(project.takes.len(), "take");
            format!("{takes}, {} circled", rated(project, Rating::Circled))
        }
        Step::Assembly => project.newest_cut().map_or_else(
            || "not made".into(),
            |cut| {
                let shots = counted(cut.shots.len(), "shot");
                format!("version {}, {shots}", cut.version)
            },
        ),
    };
    Stands { step, says }
}

fn rated(project: &Project, rating: Rating) -> usize {
    let takes = project.takes.iter();
    takes.filter(|take| take.rating == rating).count()
}

/// Things to do, as they are found.
struct List<'a> {
    project: &'a Project,
    all: Vec<Next>,
}

impl List<'_> {
    fn add(
        &mut self,
        step: Step,
        what: &'static str,
        why: impl Into<String>,
        command: &'static str,
    ) {
        self.all.push(Next {
            what,
            why: why.into(),
            step,
            command,
        });
    }
}

/// Everything there is to do, what all else waits for first.
fn to_do(project: &Project, known: Known) -> Vec<Next> {
    let mut list = List {
        project,
        all: Vec::new(),
    };
    let Some(song) = &project.song else {
        let why =
            "Everything hangs from the song: bars, setups, takes and cuts are all stretches of it.";
        list.add(
            Step::Song,
            "Drop the song in",
            why,
            "listen DIR --song FILE",
        );
        return list.all;
    };
    if song.corrections.is_empty() {
        let why = "Bars and sections were found by ear. Play it once, and put right what is wrong: setups are planned by them.";
        list.add(
            Step::Song,
            "Check what was heard in the song",
            why,
            "listen DIR",
        );
    }
    if project.brief.artist.is_empty() && project.brief.agreed.is_empty() {
        let why = "Whose video it is, the fee, when it is due, and the frame it is delivered in.";
        list.add(
            Step::Brief,
            "Write down what was agreed",
            why,
            "set DIR brief.artist=NAME",
        );
    }
    if project.ideas.is_empty() {
        let why = "Play the song and pin each idea to the moment it came at.";
        list.add(
            Step::Song,
            "Note your ideas where they belong",
            why,
            "add DIR ideas.ID",
        );
    }
    if project.takes.is_empty() {
        list.before_the_shoot(known);
    } else {
        list.after_the_shoot();
    }
    list.all
}

const DAY: &str = "day DIR";
const KIT: &str = "kit DIR";

impl List<'_> {
    fn before_the_shoot(&mut self, known: Known) {
        let project = self.project;
        if project.places.is_empty() {
            let why = "Photographs from a walk become places, with their position and the light that was there.";
            self.add(Step::Places, "Find a place", why, "scout DIR PHOTO...");
        }
        if project.kit.is_empty() {
            let why =
                "Camera, lens, lights, batteries and cards: what you own and what is borrowed.";
            self.add(Step::Kit, "List your kit", why, "add DIR kit.ID");
        }
        if project.setups.is_empty() {
            let why = "Each setup covers bars of the song; together they should leave nothing without enough to cut to.";
            self.add(Step::Setups, "Plan a first setup", why, "add DIR setups.ID");
        } else if project.days.is_empty() {
            let why = "A date and a call: then sun, twilight, batteries and hours are worked out.";
            self.add(Step::Day, "Set a day", why, "add DIR days.ID");
        }
        if let Some(why) = known.no_days {
            self.add(
                Step::Day,
                "Put right what keeps the day from being planned",
                why,
                DAY,
            );
        }
        for day in known.days.into_iter().flat_map(|days| &days.days) {
            self.of_the_day(day);
        }
        if let Some(why) = known.no_kit {
            self.add(
                Step::Kit,
                "Put right what keeps the kit from being worked out",
                why,
                KIT,
            );
        }
        if let Some(kit) = known.kit {
            self.of_the_kit(kit);
        }
        let asked = |leave: Option<Leave>| leave.is_some_and(|leave| leave != Leave::Unasked);
        let unasked: Vec<&str> = project
            .places
            .iter()
            .filter(|place| !asked(place.permission.as_ref().map(|one| one.leave)))
            .map(|place| place.name.as_str())
            .collect();
        if !unasked.is_empty() {
            let why = format!("Nobody has been asked yet: {}.", unasked.join(", "));
            self.add(
                Step::Places,
                "Ask for leave to be there",
                why,
                "set DIR places.PLACE.permission.leave=asked",
            );
        }
        if !project.setups.is_empty() {
            let why = "After the shoot: drop them in, and each is placed on the song by its sound.";
            self.add(
                Step::Takes,
                "Bring in the first takes",
                why,
                "sync DIR FOLDER",
            );
        }
    }

    fn of_the_day(&mut self, day: &OneDay) {
        let plan = &day.plan;
        let kept = self.project.days.iter().find(|one| one.id == plan.day);
        if !plan.reasons.is_empty() {
            self.add(
                Step::Day,
                "Make the day possible",
                plan.reasons.join(" "),
                DAY,
            );
        } else if !day.typed.is_empty() {
            let broken: Vec<String> = day.typed.iter().map(ToString::to_string).collect();
            let why = format!(
                "The order that was kept no longer holds: {}.",
                broken.join("; ")
            );
            self.add(Step::Day, "Plan the day anew", why, DAY);
        } else if !plan.is_found() {
            let why = "No day was found in the time given: leave a setup out, or give it longer.";
            self.add(
                Step::Day,
                "Look at the day again",
                why,
                "day DIR --seconds N",
            );
        } else if kept.is_some_and(|day| day.order.is_empty()) {
            let fit = counted(plan.order.len(), "setup");
            let mut why = match plan.left_out.len() {
                0 => format!("All {fit} fit."),
                1 => format!("{fit} fit, 1 does not."),
                left => format!("{fit} fit, {left} do not."),
            };
            let mut notes = plan.notes.iter();
            if let Some(doubt) = notes.find(|one| one.severity == Severity::Unknown) {
                why += &format!(" Not all is known: {}.", doubt.says);
            }
            self.add(
                Step::Day,
                "Look at the day and keep it",
                why,
                "day DIR --keep",
            );
        }
    }

    fn of_the_kit(&mut self, kit: &KitReport) {
        for day in &kit.summary.days {
            let mut mind = |what, found: &Finding| {
                self.add(Step::Kit, what, sentence(&found.to_string()), KIT);
            };
            match day.batteries.severity {
                Severity::Note => {}
                Severity::Unknown => mind("Say what the batteries feed", &day.batteries),
                Severity::Warning | Severity::Problem => mind("Mind the batteries", &day.batteries),
            }
            match day.cards.severity {
                Severity::Note | Severity::Warning => {}
                Severity::Unknown => mind("Say what is recorded", &day.cards),
                Severity::Problem => mind("Get another card", &day.cards),
            }
        }
        if let [first, rest @ ..] = &kit.summary.missing[..] {
            let mut why = sentence(&first.to_string());
            if !rest.is_empty() {
                why += &format!(" And {} more.", rest.len());
            }
            self.add(Step::Kit, "Get what is missing", why, KIT);
        }
    }

    fn after_the_shoot(&mut self) {
        let project = self.project;
        let all = project.takes.len();
        let loose = project.takes.iter().filter(|take| take.setup.is_none());
        let loose = loose.count();
        if loose > 0 {
            let why = format!(
                "{} of {all} belong to no setup yet.",
                counted(loose, "take")
            );
            self.add(
                Step::Takes,
                "Say which setup each take is of",
                why,
                "sync DIR --from TAKE=SETUP",
            );
        }
        if project.cuts.is_empty() {
            let why = match all {
                1 => "1 take is in.".into(),
                all => format!("{all} takes are in."),
            };
            self.add(
                Step::Assembly,
                "Make the first assembly",
                why,
                "assemble DIR",
            );
        }
        let unrated = rated(project, Rating::Unrated);
        if unrated > 0 {
            let are = if unrated == 1 { "is" } else { "are" };
            let takes = counted(unrated, "take");
            let why = format!("{takes} {are} not rated; circled ones are preferred in the cut.");
            self.add(
                Step::Takes,
                "Rate the takes",
                why,
                "sync DIR --rate TAKE=RATING",
            );
        }
        if let Some(cut) = project.newest_cut() {
            let shots = counted(cut.shots.len(), "shot");
            let why = format!("Version {} has {shots}.", cut.version);
            self.add(Step::Assembly, "Go through the assembly", why, "open DIR");
        }
    }
}

impl Job {
    /// Where the video stands, and what to do next: the day and the kit are worked out for it, as far as they can be.
    ///
    /// # Errors
    /// When it was stopped.
    pub fn standing(&mut self, progress: &dyn Progress) -> Result<Standing, Error> {
        let (mut kit, mut days) = (None, None);
        // After the shoot neither matters.
        let project = self.project();
        let begun = project.song.is_some() && project.takes.is_empty();
        let (setups, things) = (!project.setups.is_empty(), !project.kit.is_empty());
        if begun && setups && !project.days.is_empty() {
            days = Some(told(self.day(&DayOptions::default(), progress))?);
        }
        if begun && (setups || things) {
            kit = Some(told(self.kit(&KitOptions::default(), progress))?);
        }
        let (kit, no_kit) = apart(kit);
        let (days, no_days) = apart(days);
        let known = Known {
            kit: kit.as_ref(),
            days: days.as_ref(),
            no_kit: no_kit.as_deref(),
            no_days: no_days.as_deref(),
        };
        Ok(standing(self.project(), known))
    }
}

/// What came of it, or the sentence about why not; only a stop ends everything.
fn told<T>(out: Result<T, Error>) -> Result<Result<T, String>, Error> {
    match out {
        Err(error) if error.is_stop() => Err(error),
        out => Ok(out.map_err(|error| sentence(&error.to_string()))),
    }
}

fn apart<T>(known: Option<Result<T, String>>) -> (Option<T>, Option<String>) {
    match known {
        Some(Ok(value)) => (Some(value), None),
        Some(Err(why)) => (None, Some(why)),
        None => (None, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn without_a_song_there_is_one_thing_to_do() {
        let told = standing(&Project::default(), Known::default());
        assert_eq!((told.next.len(), told.more), (1, 0));
        assert_eq!(told.next[0].what, "Drop the song in");
        let says: Vec<&str> = told.stands.iter().map(|one| one.says.as_str()).collect();
        assert_eq!(
            says,
            [
                "not written",
                "none yet",
                "0 places",
                "0 things",
                "0 setups",
                "0 days",
                "0 takes, 0 circled",
                "not made"
            ]
        );
    }

    fn project(json: serde_json::Value) -> Project {
        let mut whole = json!({
            "format": 1,
            "brief": {"artist": "Ilse Quarry", "rate": "25", "frame": [1920, 1080]},
            "ideas": [{"id": "bulb", "text": "Begin on the bulb."}],
            "song": {
                "file": {"path": "s", "hash": "00000000000000000000000000000000", "bytes": 1},
                "length": "1:00",
                "corrections": {"beats_per_bar": 4},
            },
        });
        if let (Some(whole), serde_json::Value::Object(more)) = (whole.as_object_mut(), json) {
            whole.extend(more);
        }
        serde_json::from_value(whole).unwrap()
    }

    fn after(json: serde_json::Value) -> Vec<&'static str> {
        let todo = to_do(&project(json), Known::default());
        todo.iter().map(|next| next.what).collect()
    }

    #[test]
    fn what_everything_else_waits_for_comes_first() {
        assert_eq!(
            after(json!({}))[..3],
            ["Find a place", "List your kit", "Plan a first setup"]
        );
        assert_eq!(
            after(json!({"brief": {"rate": "25", "frame": [1920, 1080]}}))[0],
            "Write down what was agreed"
        );
        let planned = json!({
            "places": [{"id": "quay", "name": "Quay", "permission": {"leave": "granted"}}],
            "kit": [{"id": "camera"}],
            "setups": [{"id": "wide", "place": "quay"}],
        });
        assert_eq!(after(planned), ["Set a day", "Bring in the first takes"]);
        let take = json!({"takes": [{"id": "a1", "file": {"path": "a", "hash": "00000000000000000000000000000000", "bytes": 1}}]});
        assert_eq!(
            after(take),
            [
                "Say which setup each take is of",
                "Make the first assembly",
                "Rate the takes"
            ]
        );
    }

    #[test]
    fn what_cannot_be_worked_out_is_to_be_put_right_and_not_passed_over() {
        let project = project(json!({"setups": [{"id": "wide"}]}));
        let known = Known {
            no_days: Some("The days can't be planned."),
            no_kit: Some("A value is out of order."),
            ..Known::default()
        };
        let todo = to_do(&project, known);
        for why in ["The days can't be planned.", "A value is out of order."] {
            assert!(todo.iter().any(|one| one.why == why), "{why}");
        }
        let told = standing(&project, known);
        assert_eq!(told.next.len(), AT_ONCE);
        assert_eq!(told.next.len() + told.more, todo.len());
    }
}
