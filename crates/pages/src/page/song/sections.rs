//! Sections: typed in a table, and moved, joined and split by hand on the strip. Bounds stay exact to the tick.

use super::address::{self, End, read as read_at};
use super::view::{Called, Meant, View, listened, song_of};
use crate::app::App;
use crate::form::Faults;
use crate::page::noun::seen_at;
use crate::posted::{Posted, PostedJson};
use crate::refusal::Refused;
use axum::Json;
use axum::extract::State;
use listen::correct::{self, Snap};
use maud::{Markup, html};
use model::section::letter;
use model::{Correction, Corrections, Edit, MarkedSection, SongMap, SongTime, Stretch};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use store::RevisionId;

const FORM: &str = "sections";

/// The table.
pub fn draw(view: &View<'_>) -> Markup {
    let map = &view.heard.map;
    let back = view.back;
    let last = map.sections.len() - 1;
    let cell = |name: String, value: String, label: String| {
        html! { div.field { (back.input(FORM, &name, value, &Called::unseen(&label))) } }
    };
    html! {
        section aria-labelledby="sections-title" {
            h2 #sections-title { "Sections" }
            p.faint { "The same letter is the same music. Drag a boundary on the strip above, or type: a bar (12), a beat of it (12.3) or a time (0:41.25). To a bar means to its end." }
            form method="post" action="/song/sections" data-guarded="" {
                (view.carried())
                (back.summary(FORM, |name| name.contains('.')))
                table.typed-sections {
                    thead { tr { th scope="col" { "Letter" } th scope="col" { "Name" } th scope="col" { "From" } th scope="col" { "To" } th scope="col" { "Out" } } }
                    tbody {
                        @for (index, section) in map.sections.iter().enumerate() {
                            @let shown = shown(map, index);
                            @let call = map.section_call(index);
                            tr class=(charts::song::section_class(&section.label)) {
                                td.letter { (cell(format!("label.{index}"), shown.label, format!("Letter of {call}"))) }
                                td.name { (cell(format!("name.{index}"), shown.name, format!("Name of {call}"))) }
                                td.place { @if index == 0 { span.fixed { "the start" } } @else { (cell(format!("from.{index}"), shown.from, format!("{call} from"))) } }
                                td.place { @if index == last { span.fixed { "the end" } } @else { (cell(format!("to.{index}"), shown.to, format!("{call} to"))) } }
                                td { @if last > 0 { label { input type="checkbox" name=(format!("drop.{index}")) value="true" aria-label=(format!("Take {call} out; what is before it takes its place")); } } }
                            }
                        }
                        tr {
                            td.letter { (cell("label.new".into(), String::new(), "Letter of a new section".into())) }
                            td.name { (cell("name.new".into(), String::new(), "Name of a new section".into())) }
                            td.place { (cell("from.new".into(), String::new(), "A new section from".into())) }
                            td colspan="2" { span.faint { "a new one" } }
                        }
                    }
                }
                div.actions { button { "Save the sections" } }
            }
            @if view.song.corrections.sections.is_some() {
                form method="post" action="/song/sections/as-heard" { (view.carried()) button.quiet { "Sections as heard" } }
            }
        }
    }
}

/// A section as it is typed.
struct Shown {
    label: String,
    name: String,
    from: String,
    to: String,
}

fn shown(map: &SongMap, index: usize) -> Shown {
    let section = &map.sections[index];
    Shown {
        label: section.label.clone(),
        name: section.name.clone().unwrap_or_default(),
        from: address::shown(map, section.at.start(), End::First),
        to: address::shown(map, section.at.end(), End::Last),
    }
}

/// The sections of the map, as a person's.
fn marked(map: &SongMap) -> Vec<MarkedSection> {
    let mark = |section: &model::Section| MarkedSection {
        extra: Default::default(),
        label: section.label.clone(),
        name: section.name.clone(),
        at: section.at,
    };
    map.sections.iter().map(mark).collect()
}

type Fields = BTreeMap<String, Vec<String>>;

fn text<'a>(fields: &'a Fields, name: &str) -> Option<&'a str> {
    fields
        .get(name)
        .and_then(|values| values.last())
        .map(|text| text.trim())
}

/// The sections that were typed over those of `map`. What was not touched stays exactly where it is; of
/// the two places a bound is written at, the one that was changed counts.
///
/// # Errors
/// What is wrong, by field.
fn read(map: &SongMap, fields: &Fields) -> Result<Vec<MarkedSection>, Faults> {
    let mut faults = Faults::default();
    let mut sections = marked(map);
    let count = sections.len();
    // Bounds between one section and the next.
    let mut bounds: Vec<SongTime> = sections.iter().map(|section| section.at.end()).collect();
    let mut names: Vec<Option<String>> = vec![None; count];
    for index in 0..count {
        let seen = shown(map, index);
        let changed = |name: &str, was: &str| {
            text(fields, name)
                .filter(|text| *text != was.trim())
                .map(str::to_owned)
        };
        if let Some(typed) = changed(&format!("label.{index}"), &seen.label) {
            match letter(&typed) {
                Ok(label) => sections[index].label = label,
                Err(says) => faults.merge(Faults::one(format!("label.{index}"), says)),
            }
        }
        if let Some(typed) = changed(&format!("name.{index}"), &seen.name) {
            sections[index].name = (!typed.is_empty()).then_some(typed);
        }
        if index + 1 == count {
            continue;
        }
        let next = format!("from.{}", index + 1);
        let own = format!("to.{index}");
        let read_changed = |name: &str, was: &str, end: End| {
            changed(name, was)
                .map(|typed| read_at(map, &typed, end).map_err(|says| (name.to_owned(), says)))
        };
        let from = read_changed(&next, &shown(map, index + 1).from, End::First);
        let to = read_changed(&own, &seen.to, End::Last);
        // Where a fault of this bound is said: where it was changed.
        names[index] = match (&from, &to) {
            (Some(_), _) => Some(next.clone()),
            (None, Some(_)) => Some(own.clone()),
            (None, None) => None,
        };
        match (from, to) {
            (None, None) => {}
            (Some(Ok(at)), None) | (None, Some(Ok(at))) => bounds[index] = at,
            (Some(Ok(from)), Some(Ok(to))) if from == to => bounds[index] = from,
            (Some(Ok(_)), Some(Ok(_))) => faults.merge(Faults::one(
                next,
                "this does not follow on the end of the section before; change one of the two",
            )),
            (from, to) => {
                for (name, says) in [from, to].into_iter().flatten().filter_map(Result::err) {
                    faults.merge(Faults::one(name, says));
                }
            }
        }
    }
    if faults.has_any() {
        return Err(faults);
    }
    let mut start = SongTime::ZERO;
    for (index, section) in sections.iter_mut().enumerate() {
        match Stretch::new(start, bounds[index]) {
            Some(at) => section.at = at,
            None => {
                let before = index
                    .checked_sub(1)
                    .and_then(|before| names[before].clone());
                let name = names[index].clone().or(before).unwrap_or_default();
                return Err(Faults::one(
                    name,
                    "a section would have nothing left; each must start before it ends",
                ));
            }
        }
        start = bounds[index];
    }
    take_out(&mut sections, fields)?;
    put_in(map, &mut sections, fields)?;
    Ok(sections)
}

/// Takes out what is ticked: the section before, or else the one after, takes its place.
fn take_out(sections: &mut Vec<MarkedSection>, fields: &Fields) -> Result<(), Faults> {
    let ticked = |index: usize| fields.contains_key(&format!("drop.{index}"));
    let mut kept: Vec<MarkedSection> = Vec::new();
    let mut from: Option<SongTime> = None;
    for (index, section) in sections.iter().enumerate() {
        let at = section.at;
        if !ticked(index) {
            let start = from.take().unwrap_or_else(|| at.start());
            let at = Stretch::new(start, at.end()).unwrap_or(at);
            kept.push(MarkedSection {
                at,
                ..section.clone()
            });
        } else if let Some(last) = kept.last_mut() {
            last.at = Stretch::new(last.at.start(), at.end()).unwrap_or(last.at);
        } else {
            from.get_or_insert(at.start());
        }
    }
    if kept.is_empty() {
        return Err(Faults::one(
            "",
            "a song has at least one section; leave one in",
        ));
    }
    *sections = kept;
    Ok(())
}

/// Puts the new section in: it reaches to the end of the one it is put into.
fn put_in(map: &SongMap, sections: &mut Vec<MarkedSection>, fields: &Fields) -> Result<(), Faults> {
    let typed = |name: &str| text(fields, name).unwrap_or_default();
    let (label, name, from) = (typed("label.new"), typed("name.new"), typed("from.new"));
    if label.is_empty() && name.is_empty() && from.is_empty() {
        return Ok(());
    }
    let label = letter(label).map_err(|says| Faults::one("label.new", says))?;
    let at = read_at(map, from, End::First).map_err(|says| Faults::one("from.new", says))?;
    let index = sections
        .iter()
        .position(|section| section.at.holds(at))
        .ok_or_else(|| Faults::one("from.new", "this lies outside the song"))?;
    let old = sections[index].at;
    let parts = Stretch::new(old.start(), at).zip(Stretch::new(at, old.end()));
    let (first, second) = parts.ok_or_else(|| {
        Faults::one(
            "from.new",
            "a section starts there already; change its letter and name instead",
        )
    })?;
    sections[index].at = first;
    let new = MarkedSection {
        extra: Default::default(),
        label,
        name: (!name.is_empty()).then(|| name.to_owned()),
        at: second,
    };
    sections.insert(index + 1, new);
    Ok(())
}

/// What was seen: the sections as they were held, and the song they lay on.
struct Seen {
    held: Corrections,
    map: SongMap,
}

async fn seen(app: &Arc<App>, project: &model::Project) -> Result<Seen, Refused> {
    let head = app.head()?;
    let heard = listened(app, &head).await?;
    let held = song_of(project)?.corrections.clone();
    if song_of(project)?.file.hash != song_of(&head.project)?.file.hash {
        return Err(Refused::Unreadable(
            "another song file was taken in meanwhile; load the page again and repeat the change"
                .into(),
        ));
    }
    let map = listen::song_map(&heard.listening, &held).0;
    Ok(Seen { held, map })
}

/// The edit that leaves these sections; none when that is how they are.
fn edit(seen: &Seen, sections: Vec<MarkedSection>) -> Option<Edit> {
    if sections == marked(&seen.map) {
        return None;
    }
    Some(Edit::Correct {
        correction: Correction::Sections {
            sections: Some(sections),
            was: seen.held.sections.clone(),
        },
    })
}

/// The sections as a form has them.
///
/// # Errors
/// When the song is not known, or another one than was looked at.
pub async fn save(app: &Arc<App>, posted: &Posted) -> Result<Meant, Refused> {
    let seen = seen(app, &seen_at(app, posted)?).await?;
    let meant = read(&seen.map, &posted.fields).map(|sections| edit(&seen, sections));
    Ok((FORM, meant))
}

/// The sections as they were heard.
///
/// # Errors
/// When there is no song.
pub fn as_heard(app: &App, posted: &Posted) -> Result<Meant, Refused> {
    let was = song_of(&seen_at(app, posted)?)?
        .corrections
        .sections
        .clone();
    let correction = Correction::Sections {
        sections: None,
        was,
    };
    Ok((FORM, Ok(Some(Edit::Correct { correction }))))
}

/// One change by hand on the strip. Bounds are counted from 0: the one after the first section.
#[derive(Clone, Debug, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
enum Change {
    /// Moves a bound to a time, seconds, exactly.
    Move { bound: usize, to: f64 },
    /// Joins the sections on both sides.
    Join { bound: usize },
    /// Splits the section at a time, seconds, at the nearest bar.
    Split { at: f64 },
}

/// A change by hand of what was looked at.
#[derive(Clone, Debug, Deserialize)]
pub struct ByHand {
    /// The revision that was looked at.
    revision: i64,
    #[serde(flatten)]
    change: Change,
}

fn changed(seen: &Seen, change: &Change) -> Result<Corrections, listen::Error> {
    let at = |seconds: f64| SongTime::nearest_to_seconds(seconds);
    match change {
        Change::Move { bound, to } => {
            correct::drag_boundary(&seen.map, &seen.held, *bound, at(*to), Snap::Free)
        }
        Change::Join { bound } => correct::merge(&seen.map, &seen.held, *bound),
        Change::Split { at: seconds } => {
            correct::split(&seen.map, &seen.held, at(*seconds), Snap::ToBar)
        }
    }
}

/// Changes the sections by hand on the strip.
///
/// # Errors
/// When the song is not known, or the change does not fit it.
pub async fn by_hand(
    State(app): State<Arc<App>>,
    posted: PostedJson<ByHand>,
) -> Result<Json<Value>, Refused> {
    let ByHand { revision, change } = posted.value;
    let seen = seen(&app, &app.at(RevisionId::new(revision))?).await?;
    let corrections =
        changed(&seen, &change).map_err(|error| Refused::Unreadable(error.to_string()))?;
    let revision = match edit(&seen, corrections.sections.unwrap_or_default()) {
        Some(edit) => app.edit(&edit)?,
        None => app.revision()?,
    };
    Ok(Json(json!({ "revision": revision.number() })))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song_strip::tests::map;
    use proptest::prelude::*;

    /// The table as it is sent when nothing was touched.
    fn untouched(map: &SongMap) -> Fields {
        let mut out = Fields::new();
        let last = map.sections.len() - 1;
        for index in 0..=last {
            let shown = shown(map, index);
            let mut put = |name: &str, value: String| {
                out.insert(format!("{name}.{index}"), vec![value]);
            };
            put("label", shown.label);
            put("name", shown.name);
            if index > 0 {
                put("from", shown.from);
            }
            if index < last {
                put("to", shown.to);
            }
        }
        for name in ["label.new", "name.new", "from.new"] {
            out.insert(name.into(), vec![String::new()]);
        }
        out
    }

    fn set(fields: &mut Fields, name: &str, value: &str) {
        fields.insert(name.into(), vec![value.into()]);
    }

    fn starts(sections: &[MarkedSection]) -> Vec<f64> {
        sections
            .iter()
            .map(|section| section.at.start().seconds())
            .collect()
    }

    #[test]
    fn one_of_the_two_places_of_a_bound_is_enough() {
        let map = map(32);
        for (name, value) in [("from.1", "7"), ("to.0", "6"), ("from.1", "0:12")] {
            let mut fields = untouched(&map);
            set(&mut fields, name, value);
            let read = read(&map, &fields).expect("read");
            assert_eq!(starts(&read), [0.0, 12.0, 32.0, 48.0], "{name}");
            assert_eq!(read[0].at.end(), read[1].at.start());
        }
    }

    #[test]
    fn two_places_that_differ_are_refused_beside_the_second() {
        let map = map(32);
        let mut fields = untouched(&map);
        set(&mut fields, "to.0", "6");
        set(&mut fields, "from.1", "8");
        assert!(
            read(&map, &fields)
                .expect_err("refused")
                .at("from.1")
                .is_some()
        );
    }

    #[test]
    fn nothing_left_and_nonsense_are_refused_beside_the_field() {
        let map = map(32);
        for (name, value) in [
            ("from.1", "30"),
            ("to.1", "3"),
            ("from.1", "1"),
            ("to.2", "99"),
            ("label.1", " "),
            ("from.2", "late"),
        ] {
            let mut fields = untouched(&map);
            set(&mut fields, name, value);
            let faults = read(&map, &fields).expect_err("refused");
            assert!(faults.at(name).is_some(), "{name} {value}: {faults:?}");
        }
    }

    #[test]
    fn sections_are_taken_out_and_put_in() {
        let map = map(32);
        let mut fields = untouched(&map);
        set(&mut fields, "drop.0", "true");
        set(&mut fields, "drop.2", "true");
        set(&mut fields, "label.new", "C");
        set(&mut fields, "name.new", "bridge");
        set(&mut fields, "from.new", "29.3");
        let read = read(&map, &fields).expect("read");
        let labels: Vec<&str> = read.iter().map(|section| section.label.as_str()).collect();
        assert_eq!(labels, ["B", "B", "C"]);
        assert_eq!(starts(&read), [0.0, 48.0, 57.0]);
        for index in 0..4 {
            set(&mut fields, &format!("drop.{index}"), "true");
        }
        assert!(super::read(&map, &fields).is_err());
    }

    #[test]
    fn changes_by_hand_are_read() {
        let read: ByHand =
            serde_json::from_str(r#"{"revision": 3, "do": "move", "bound": 1, "to": 12.5}"#)
                .expect("read");
        assert!(matches!(read.change, Change::Move { bound: 1, .. }));
    }

    proptest! {
        /// A table that is sent back untouched changes nothing, wherever the bounds lie.
        #[test]
        fn typed_untouched_is_the_same(mut cuts in proptest::collection::btree_set(1i64..63_999, 0..8), names in proptest::collection::vec(proptest::option::of("[a-z]{1,8}"), 9), fine in any::<bool>()) {
            let mut map = map(32);
            let unit = model::TICKS_PER_SECOND / 1000;
            // Some on beats, some wherever.
            if !fine { cuts = cuts.into_iter().map(|ms| (ms / 500).max(1) * 500).collect(); }
            let mut all: Vec<SongTime> = vec![SongTime::ZERO];
            all.extend(cuts.iter().map(|ms| SongTime::from_ticks(ms * unit + if fine { 7 } else { 0 })));
            all.push(SongTime::ZERO + map.length);
            map.sections = all.windows(2).enumerate().map(|(nth, ends)| model::Section {
                label: ["A", "B", "C"][nth % 3].into(),
                name: names[nth % names.len()].clone(),
                at: Stretch::new(ends[0], ends[1]).expect("rising"),
                energy: 0.5,
                voiced: 0.5,
            }).collect();
            let read = read(&map, &untouched(&map)).expect("read");
            prop_assert_eq!(read, marked(&map));
        }

        #[test]
        fn whatever_is_typed_tiles_the_song_or_is_refused(from in "[0-9.:]{0,6}", to in "[0-9.:]{0,6}", new in "[0-9.:]{0,6}", drop in 0usize..6) {
            let map = map(32);
            let mut fields = untouched(&map);
            set(&mut fields, "from.1", &from);
            set(&mut fields, "to.1", &to);
            set(&mut fields, "from.new", &new);
            set(&mut fields, "label.new", "Z");
            set(&mut fields, &format!("drop.{drop}"), "true");
            if let Ok(sections) = read(&map, &fields) {
                prop_assert_eq!(sections[0].at.start(), SongTime::ZERO);
                prop_assert_eq!(sections[sections.len() - 1].at.end(), SongTime::ZERO + map.length);
                for pair in sections.windows(2) {
                    prop_assert_eq!(pair[0].at.end(), pair[1].at.start());
                }
            }
        }
    }
}
