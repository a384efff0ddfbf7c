//! What must hold of a document before it is saved.
//!
//! Each problem names the field it lies in, so that a form or a plan file can show it in its
//! place. Limits are generous: they catch mistakes and attacks, not work.

mod days;
mod kit;
mod log;
mod places;

use crate::practice;
use crate::project::Project;
use crate::song::{MarkedSection, MediaFile};
use std::collections::HashSet;

/// The most passes of one setup.
pub const MAX_PASSES: u32 = 200;
/// The most entries in any list of the document.
pub const MAX_ENTRIES: usize = 20_000;
/// The longest text in one field, in bytes.
pub const MAX_TEXT: usize = 100_000;
/// The tempi accepted by hand, beats a minute.
pub const TEMPO_BPM: std::ops::RangeInclusive<f64> = 20.0..=400.0;
/// The beats in a bar accepted by hand.
pub const BEATS_PER_BAR: std::ops::RangeInclusive<u32> = 1..=16;
/// The playback speeds a pass can have been shot to.
pub const SPEED: std::ops::RangeInclusive<f64> = 0.1..=10.0;

/// One thing that is wrong with a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where: `setups[2].passes`.
    pub field: String,
    /// What is wrong and what would be right; lower case, no full stop.
    pub says: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ({})", self.says, self.field)
    }
}

/// Everything wrong with `project`; empty when it may be saved.
pub fn problems(project: &Project) -> Vec<Problem> {
    let mut check = Check::default();
    check.text("title", &project.title);
    check.brief(project);
    check.song(project);
    check.notes(project);
    check.places(project);
    check.people(project);
    check.kit(project);
    check.setups(project);
    check.days(project);
    check.practice(project);
    check.log(project);
    check.takes(project);
    check.cuts(project);
    check.found
}

#[derive(Default)]
struct Check {
    found: Vec<Problem>,
}

impl Check {
    fn say(&mut self, field: impl Into<String>, says: impl Into<String>) {
        let problem = Problem {
            field: field.into(),
            says: says.into(),
        };
        // One bad file must not make a million sentences, nor the same one twice.
        if self.found.len() < 100 && !self.found.contains(&problem) {
            self.found.push(problem);
        }
    }

    fn text(&mut self, field: &str, text: &str) {
        if text.len() > MAX_TEXT {
            self.say(
                field,
                format!(
                    "a text of {} bytes is too long; at most {MAX_TEXT}",
                    text.len()
                ),
            );
        }
        if text.contains('\0') {
            self.say(field, "a text can't hold a null character; take it out");
        }
    }

    fn count(&mut self, field: &str, count: usize) {
        if count > MAX_ENTRIES {
            self.say(
                field,
                format!("{count} entries are too many; at most {MAX_ENTRIES}"),
            );
        }
    }

    /// Complains about the second of two equal ids.
    fn unique<'a>(&mut self, field: &str, ids: impl Iterator<Item = &'a str>) {
        let mut seen = HashSet::new();
        for (index, id) in ids.enumerate() {
            if !seen.insert(id) {
                self.say(
                    format!("{field}[{index}].id"),
                    format!("the id `{id}` is used twice in {field}; give one of them another"),
                );
            }
        }
    }

    fn file(&mut self, field: &str, file: &MediaFile) {
        if file.path.is_empty() || file.path.contains('\0') || file.path.len() > 4096 {
            self.say(
                format!("{field}.path"),
                "a file needs a path of 1 to 4096 bytes",
            );
        }
        if file.hash.len() != 32
            || !file
                .hash
                .bytes()
                .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
        {
            self.say(
                format!("{field}.hash"),
                "a hash is 32 lower-case hexadecimal digits",
            );
        }
    }

    fn brief(&mut self, project: &Project) {
        let brief = &project.brief;
        self.text("brief.artist", &brief.artist);
        self.text("brief.agreed", &brief.agreed);
        if let Some(fee) = brief.fee_minor
            && !(0..=1_000_000_000_000).contains(&fee)
        {
            self.say(
                "brief.fee_minor",
                format!("a fee of {fee} is out of range; write it in cents, 0 or more"),
            );
        }
        if let Some(currency) = &brief.currency
            && (currency.len() != 3 || !currency.bytes().all(|b| b.is_ascii_uppercase()))
        {
            self.say(
                "brief.currency",
                format!("`{currency}` is not a currency; write its three letters, such as EUR"),
            );
        }
        if let Some(due) = &brief.due
            && !is_date(due)
        {
            self.say(
                "brief.due",
                format!("`{due}` is not a date; write year-month-day, such as 2026-10-15"),
            );
        }
        for side in brief.frame {
            if !(16..=16_384).contains(&side) || side % 2 == 1 {
                self.say("brief.frame", format!("a frame side of {side} pixels can't be made; use an even number from 16 to 16384"));
            }
        }
        if let Some([width, height]) = brief.active
            && (width == 0
                || height == 0
                || width > 10_000
                || height > 10_000
                || width > height * 10
                || height > width * 10)
        {
            self.say("brief.active", format!("{width}:{height} is no shape for a picture; write width and height, such as [4, 3]"));
        }
        if brief.rate.fps() > 240.0 {
            self.say(
                "brief.rate",
                format!(
                    "{} frames a second is beyond what is handed over; at most 240",
                    brief.rate
                ),
            );
        }
    }

    fn song(&mut self, project: &Project) {
        let Some(song) = &project.song else { return };
        self.file("song.file", &song.file);
        self.count("song.lyrics", song.lyrics.len());
        for (index, line) in song.lyrics.iter().enumerate() {
            self.text(&format!("song.lyrics[{index}].text"), &line.text);
            if let Some(at) = line.at
                && at.start().ticks() < 0
            {
                self.say(
                    format!("song.lyrics[{index}].at"),
                    "a lyric line can't be sung before the song starts",
                );
            }
        }
        let corrections = &song.corrections;
        if let Some(tempo) = corrections.tempo_bpm
            && !TEMPO_BPM.contains(&tempo)
        {
            self.say(
                "song.corrections.tempo_bpm",
                format!(
                    "a tempo of {tempo} is out of range; {} to {} beats a minute",
                    TEMPO_BPM.start(),
                    TEMPO_BPM.end()
                ),
            );
        }
        if !(-3..=3).contains(&corrections.doublings) {
            self.say(
                "song.corrections.doublings",
                "beats can be halved or doubled at most three times",
            );
        }
        if let Some(beats) = corrections.beats_per_bar
            && !BEATS_PER_BAR.contains(&beats)
        {
            self.say(
                "song.corrections.beats_per_bar",
                format!("{beats} beats in a bar is out of range; 1 to 16"),
            );
        }
        if corrections.taps.windows(2).any(|pair| pair[0] >= pair[1]) {
            self.say("song.corrections.taps", "tapped beats must rise");
        }
        self.count("song.corrections.taps", corrections.taps.len());
        if let Some(sections) = &corrections.sections {
            self.sections(sections);
        }
    }

    fn sections(&mut self, sections: &[MarkedSection]) {
        let field = "song.corrections.sections";
        self.count(field, sections.len());
        if sections.is_empty() {
            self.say(
                field,
                "a song has at least one section; leave the list out to use what was heard",
            );
        }
        for (index, section) in sections.iter().enumerate() {
            if section.label.is_empty() || section.label.len() > 32 {
                self.say(
                    format!("{field}[{index}].label"),
                    "a section's letter has 1 to 32 bytes",
                );
            }
            if section.at.start().ticks() < 0 {
                self.say(
                    format!("{field}[{index}].at"),
                    "a section can't start before the song",
                );
            }
        }
        for (index, pair) in sections.windows(2).enumerate() {
            if pair[1].at.start() < pair[0].at.end() {
                self.say(
                    format!("{field}[{}].at", index + 1),
                    format!("section {} starts at {} before section {} ends at {}; sections can't overlap", pair[1].label, pair[1].at.start(), pair[0].label, pair[0].at.end()),
                );
            }
        }
    }

    fn notes(&mut self, project: &Project) {
        self.count("ideas", project.ideas.len());
        self.unique("ideas", project.ideas.iter().map(|idea| idea.id.as_str()));
        for (index, idea) in project.ideas.iter().enumerate() {
            self.text(&format!("ideas[{index}].text"), &idea.text);
        }
        self.count("references", project.references.len());
        self.unique(
            "references",
            project
                .references
                .iter()
                .map(|reference| reference.id.as_str()),
        );
        for (index, reference) in project.references.iter().enumerate() {
            self.text(&format!("references[{index}].text"), &reference.text);
            self.text(&format!("references[{index}].source"), &reference.source);
        }
    }

    fn people(&mut self, project: &Project) {
        self.count("people", project.people.len());
        for (index, person) in project.people.iter().enumerate() {
            self.text(&format!("people[{index}].name"), &person.name);
            self.hours(&format!("people[{index}].hours"), &person.hours);
        }
    }

    fn setups(&mut self, project: &Project) {
        self.count("states", project.states.len());
        self.count("setups", project.setups.len());
        self.unique(
            "setups",
            project.setups.iter().map(|setup| setup.id.as_str()),
        );
        for (index, setup) in project.setups.iter().enumerate() {
            let field = |name: &str| format!("setups[{index}].{name}");
            self.text(&field("name"), &setup.name);
            self.text(&field("action"), &setup.action);
            if !(1..=MAX_PASSES).contains(&setup.passes) {
                self.say(
                    field("passes"),
                    format!(
                        "setup `{}` plans {} passes; 1 to {MAX_PASSES} can be planned",
                        setup.id, setup.passes
                    ),
                );
            }
            if let Some(place) = &setup.place
                && !project.places.iter().any(|known| known.id == *place)
            {
                self.say(
                    field("place"),
                    format!(
                        "setup `{}` stands at the place `{place}`, which is not among the places",
                        setup.id
                    ),
                );
            }
            self.state(&field("state"), setup.state, project);
            self.night(&format!("setups[{index}]"), setup, project);
            self.when_shot(&format!("setups[{index}]"), setup, project);
            for (nth, [first, last]) in setup.bars.iter().enumerate() {
                if first > last || *last > 1_000_000 {
                    self.say(format!("{}[{nth}]", field("bars")), format!("bars {first} to {last} run backwards or too far; write first and last bar"));
                }
            }
            for (nth, stretch) in setup.stretches.iter().enumerate() {
                if stretch.start().ticks() < 0 {
                    self.say(
                        format!("{}[{nth}]", field("stretches")),
                        "a stretch can't start before the song",
                    );
                }
            }
        }
        self.count("wishes", project.wishes.len());
        for (index, wish) in project.wishes.iter().enumerate() {
            let field = |name: &str| format!("wishes[{index}].{name}");
            for id in &wish.setups {
                if project.setup(id).is_none() {
                    self.say(
                        field("setups"),
                        format!(
                            "section {} wishes for the setup `{id}`, which is not among the setups",
                            wish.section
                        ),
                    );
                }
            }
            if let Some(beats) = wish.shot_beats
                && !(0.25..=256.0).contains(&beats)
            {
                self.say(
                    field("shot_beats"),
                    format!("shots of {beats} beats are out of range; 0.25 to 256"),
                );
            }
            if let Some(options) = wish.options
                && options > 100
            {
                self.say(field("options"), format!("{options} different setups to cut to are more than anybody shoots; at most 100"));
            }
        }
    }

    fn state(&mut self, field: &str, state: u32, project: &Project) {
        let known = project.states.len().max(1);
        if state as usize >= known {
            self.say(field, format!("state {state} is not among the {known} performer states; count from 0 in `states`"));
        }
    }

    fn practice(&mut self, project: &Project) {
        let held = &project.practice;
        for figure in practice::FIGURES {
            if let Some(says) = held.get(figure.name).and_then(|v| figure.problem(v)) {
                self.say(format!("practice.{}", figure.name), says);
            }
        }
        // What is usual is the crafts' to know; whoever puts the two together looks again.
        if let Some((lower, says)) = practice::out_of_order(|name| held.get(name)) {
            self.say(format!("practice.{lower}"), says);
        }
    }

    fn takes(&mut self, project: &Project) {
        self.count("takes", project.takes.len());
        self.unique("takes", project.takes.iter().map(|take| take.id.as_str()));
        for (index, take) in project.takes.iter().enumerate() {
            let field = |name: &str| format!("takes[{index}].{name}");
            self.file(&field("file"), &take.file);
            self.text(&field("remark"), &take.remark);
            if let Some(setup) = &take.setup
                && project.setup(setup).is_none()
            {
                self.say(
                    field("setup"),
                    format!(
                        "take `{}` is from the setup `{setup}`, which is not among the setups",
                        take.id
                    ),
                );
            }
            if let Some(state) = take.state {
                self.state(&field("state"), state, project);
            }
            if let Some(hand) = &take.placed_by_hand
                && !SPEED.contains(&hand.speed)
            {
                self.say(
                    field("placed_by_hand.speed"),
                    format!(
                        "a playback speed of {} is out of range; 0.1 to 10",
                        hand.speed
                    ),
                );
            }
        }
    }

    fn cuts(&mut self, project: &Project) {
        for (name, weight) in project.weights.list() {
            if !(0.0..=1000.0).contains(&weight) {
                self.say(
                    format!("weights.{name}"),
                    format!(
                        "a weight of {weight} is out of range; 0 switches a term off, 1 is ordinary, 1000 is the most"
                    ),
                );
            }
        }
        self.count("locks", project.locks.len());
        for (index, lock) in project.locks.iter().enumerate() {
            if project.take(&lock.take).is_none() {
                self.say(
                    format!("locks[{index}].take"),
                    format!(
                        "the take `{}` is locked at {} but is not among the takes",
                        lock.take,
                        lock.at.start()
                    ),
                );
            }
            if let Some(other) = project.locks[..index]
                .iter()
                .find(|other| other.at.overlap(lock.at).is_some())
            {
                self.say(
                    format!("locks[{index}].at"),
                    format!(
                        "locks {} and {} overlap; free one of them first",
                        other.at, lock.at
                    ),
                );
            }
        }
        self.count("bans", project.bans.len());
        for (index, ban) in project.bans.iter().enumerate() {
            if project.take(&ban.take).is_none() {
                self.say(
                    format!("bans[{index}].take"),
                    format!(
                        "the take `{}` is not wanted at {} but is not among the takes",
                        ban.take,
                        ban.at.start()
                    ),
                );
            }
        }
        self.count("cuts", project.cuts.len());
        for (index, cut) in project.cuts.iter().enumerate() {
            self.count(&format!("cuts[{index}].shots"), cut.shots.len());
            if index > 0 && cut.version <= project.cuts[index - 1].version {
                self.say(
                    format!("cuts[{index}].version"),
                    "versions of the cut must rise",
                );
            }
            let mut expected = 0;
            for (nth, shot) in cut.shots.iter().enumerate() {
                let field = format!("cuts[{index}].shots[{nth}]");
                if shot.from_frame != expected || shot.to_frame <= shot.from_frame {
                    self.say(&field, format!("shots must follow each other without gap or overlap; this one runs from frame {} to {} and should start at {expected}", shot.from_frame, shot.to_frame));
                    break;
                }
                if !SPEED.contains(&shot.speed) {
                    self.say(
                        &field,
                        format!(
                            "a shot's speed of {} is out of range; 0.1 to 10",
                            shot.speed
                        ),
                    );
                }
                expected = shot.to_frame;
            }
        }
    }
}

/// Whether `text` is a calendar date written year-month-day (ISO 8601).
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else {
        return false;
    };
    let number = |text: &str, digits: usize| {
        (text.len() == digits && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.parse::<u32>().ok())
            .flatten()
    };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2))
    else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        _ => return false,
    };
    (1..=days).contains(&day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_checked_against_the_calendar() {
        for (text, good) in [
            ("2026-02-28", true),
            ("2026-02-29", false),
            ("2024-02-29", true),
            ("1900-02-29", false),
            ("2026-13-01", false),
            ("26-1-1", false),
            ("2026-10-15", true),
            ("", false),
        ] {
            assert_eq!(is_date(text), good, "{text}");
        }
    }

    #[test]
    fn an_empty_project_may_be_saved() {
        assert_eq!(problems(&Project::default()), []);
    }

    #[test]
    fn each_problem_names_its_field() {
        let mut project = Project::default();
        project.brief.frame = [1919, 1080];
        project.brief.due = Some("tomorrow".into());
        project.setups = serde_json::from_str(
            r#"[{"id":"a","passes":1000000000},{"id":"a","place":"nowhere","state":4}]"#,
        )
        .unwrap();
        let fields: Vec<String> = problems(&project).into_iter().map(|p| p.field).collect();
        assert_eq!(
            fields,
            [
                "brief.due",
                "brief.frame",
                "setups[1].id",
                "setups[0].passes",
                "setups[1].place",
                "setups[1].state"
            ]
        );
    }
}
