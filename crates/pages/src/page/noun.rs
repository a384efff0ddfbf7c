//! Making, changing and removing any noun of the document by its form: `/make/{noun}`, `/change/{noun}/{id}`.

use crate::app::{App, Head};
use crate::door::Session;
use crate::form::{self, Faults, Field};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use model::{Edit, Project, Refusal};
use serde::Serialize;
use serde_json::{Value, json};
use std::sync::Arc;
use store::RevisionId;

/// A kind of noun that a form makes and changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noun {
    /// The brief: there is one.
    Brief,
    /// An idea.
    Idea,
    /// A reference.
    Reference,
    /// A person.
    Person,
    /// A wish of a section.
    Wish,
    /// A place.
    Place,
    /// A thing of the kit.
    Kit,
    /// A setup.
    Setup,
    /// A day.
    Day,
    /// A take.
    Take,
}

impl Noun {
    /// Every kind.
    pub const ALL: [Self; 10] = [
        Self::Brief,
        Self::Idea,
        Self::Reference,
        Self::Person,
        Self::Wish,
        Self::Place,
        Self::Kit,
        Self::Setup,
        Self::Day,
        Self::Take,
    ];

    /// Its name in addresses.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Brief => "brief",
            Self::Idea => "idea",
            Self::Reference => "reference",
            Self::Person => "person",
            Self::Wish => "wish",
            Self::Place => "place",
            Self::Kit => "kit",
            Self::Setup => "setup",
            Self::Day => "day",
            Self::Take => "take",
        }
    }

    /// What a person calls one.
    pub const fn called(self) -> &'static str {
        match self {
            Self::Kit => "thing of the kit",
            other => other.word(),
        }
    }

    fn named(word: &str) -> Result<Self, Refused> {
        Self::ALL
            .into_iter()
            .find(|noun| noun.word() == word)
            .ok_or_else(|| Refused::Gone(format!("such thing as `{word}`")))
    }

    /// How it is asked for.
    pub const fn fields(self) -> &'static [Field] {
        match self {
            Self::Brief => form::BRIEF,
            Self::Idea => form::IDEA,
            Self::Reference => form::REFERENCE,
            Self::Person => form::PERSON,
            Self::Wish => form::WISH,
            Self::Place => form::PLACE,
            Self::Kit => form::KIT,
            Self::Setup => form::SETUP,
            Self::Day => form::DAY,
            Self::Take => form::TAKE,
        }
    }

    /// The page it stands on.
    pub const fn page(self) -> Here {
        match self {
            Self::Brief | Self::Reference | Self::Person => Here::Brief,
            Self::Idea => Here::Song,
            Self::Place => Here::Places,
            Self::Kit => Here::Kit,
            Self::Setup | Self::Wish => Here::Setups,
            Self::Day => Here::Day,
            Self::Take => Here::Takes,
        }
    }

    /// The one called `id`, as written in the document. People and wishes go by their place in the list.
    pub fn find(self, project: &Project, id: &str) -> Option<Value> {
        fn written<T: Serialize>(noun: Option<&T>) -> Option<Value> {
            noun.and_then(|noun| serde_json::to_value(noun).ok())
        }
        let nth = || id.parse::<usize>().ok();
        match self {
            Self::Brief => written(Some(&project.brief)),
            Self::Idea => written(project.ideas.iter().find(|one| one.id.as_str() == id)),
            Self::Reference => written(project.references.iter().find(|one| one.id.as_str() == id)),
            Self::Person => written(project.people.get(nth()?)),
            Self::Wish => written(project.wishes.get(nth()?)),
            Self::Place => written(project.places.iter().find(|one| one.id.as_str() == id)),
            Self::Kit => written(project.kit.iter().find(|one| one.id.as_str() == id)),
            Self::Setup => written(project.setups.iter().find(|one| one.id.as_str() == id)),
            Self::Day => written(project.days.iter().find(|one| one.id.as_str() == id)),
            Self::Take => written(project.takes.iter().find(|one| one.id.as_str() == id)),
        }
    }

    /// What a new one holds before anything is typed, called `id`.
    pub fn blank(self, project: &Project, id: &str) -> Value {
        let usual = |value: Result<Value, serde_json::Error>| value.unwrap_or_else(|_| json!({}));
        match self {
            Self::Setup => match model::SetupId::new(id) {
                Ok(id) => usual(serde_json::to_value(model::Setup::new(id))),
                Err(_) => json!({ "id": id }),
            },
            Self::Kit => match model::KitId::new(id) {
                Ok(id) => usual(serde_json::to_value(model::KitItem::new(id))),
                Err(_) => json!({ "id": id }),
            },
            Self::Place => {
                // Places of one video lie in one zone as a rule.
                let zone = project.places.iter().find_map(|place| place.zone.clone());
                json!({ "id": id, "name": "", "zone": zone })
            }
            Self::Day => {
                let zone = project.places.iter().find_map(|place| place.zone.clone());
                json!({ "id": id, "zone": zone })
            }
            Self::Person | Self::Wish | Self::Brief => json!({}),
            Self::Idea | Self::Reference | Self::Take => json!({ "id": id }),
        }
    }

    /// A free id made of what it is called.
    fn fresh_id(self, project: &Project, value: &Value) -> String {
        let said = match self {
            Self::Idea | Self::Reference => &value["text"],
            Self::Day => &value["date"],
            _ => &value["name"],
        };
        let stem = slug(said.as_str().unwrap_or_default(), self.word());
        let taken = |id: &str| self.find(project, id).is_some();
        if !taken(&stem) {
            return stem;
        }
        (2..)
            .map(|number| format!("{stem}-{number}"))
            .find(|id| !taken(id))
            .unwrap_or(stem)
    }

    /// The edit that puts `new` in the place of `was`.
    fn edit(self, fields: &[Field], posted: &Posted, seen: &Seen) -> Result<Edit, Faults> {
        let (all, was) = (&posted.fields, &seen.was);
        let base = was.as_ref().unwrap_or(&seen.blank);
        // What the maker saw, as the noun it was.
        fn before<T: serde::de::DeserializeOwned>(was: &Option<Value>) -> Option<T> {
            was.clone()
                .and_then(|value| serde_json::from_value(value).ok())
        }
        Ok(match self {
            Self::Brief => Edit::SetBrief {
                brief: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Idea => Edit::PutIdea {
                idea: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Reference => Edit::PutReference {
                reference: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Place => Edit::PutPlace {
                place: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Kit => Edit::PutKit {
                item: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Setup => Edit::PutSetup {
                setup: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Day => Edit::PutDay {
                day: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Take => Edit::PutTake {
                take: form::read(fields, all, base)?,
                was: before(was),
            },
            Self::Person => {
                let person = form::read(fields, all, base)?;
                let mut people = seen.project.people.clone();
                put_nth(&mut people, seen.nth, person);
                Edit::SetPeople {
                    people,
                    was: Some(seen.project.people.clone()),
                }
            }
            Self::Wish => {
                let wish = form::read(fields, all, base)?;
                let mut wishes = seen.project.wishes.clone();
                put_nth(&mut wishes, seen.nth, wish);
                Edit::SetWishes {
                    wishes,
                    was: Some(seen.project.wishes.clone()),
                }
            }
        })
    }

    fn removal(self, project: &Project, id: &str) -> Result<Edit, Refused> {
        let gone = || Refused::Gone(format!("{} `{id}`", self.called()));
        let wrong = |_| Refused::Gone(format!("{} `{id}`", self.called()));
        Ok(match self {
            Self::Brief => {
                return Err(Refused::NotHere(
                    "there is always a brief; empty its fields instead".into(),
                ));
            }
            Self::Idea => Edit::RemoveIdea {
                id: model::NoteId::new(id).map_err(wrong)?,
            },
            Self::Reference => Edit::RemoveReference {
                id: model::NoteId::new(id).map_err(wrong)?,
            },
            Self::Place => Edit::RemovePlace {
                id: model::PlaceId::new(id).map_err(wrong)?,
            },
            Self::Kit => Edit::RemoveKit {
                id: model::KitId::new(id).map_err(wrong)?,
            },
            Self::Setup => Edit::RemoveSetup {
                id: model::SetupId::new(id).map_err(wrong)?,
            },
            Self::Day => Edit::RemoveDay {
                id: model::DayId::new(id).map_err(wrong)?,
            },
            Self::Take => Edit::RemoveTake {
                id: model::TakeId::new(id).map_err(wrong)?,
            },
            Self::Person => {
                let was = project.people.clone();
                let mut people = was.clone();
                take_nth(&mut people, id).ok_or_else(gone)?;
                Edit::SetPeople {
                    people,
                    was: Some(was),
                }
            }
            Self::Wish => {
                let was = project.wishes.clone();
                let mut wishes = was.clone();
                take_nth(&mut wishes, id).ok_or_else(gone)?;
                Edit::SetWishes {
                    wishes,
                    was: Some(was),
                }
            }
        })
    }
}

fn put_nth<T>(list: &mut Vec<T>, nth: Option<usize>, one: T) {
    match nth.and_then(|nth| list.get_mut(nth)) {
        Some(place) => *place = one,
        None => list.push(one),
    }
}

fn take_nth<T>(list: &mut Vec<T>, nth: &str) -> Option<T> {
    let nth = nth.parse::<usize>().ok().filter(|nth| *nth < list.len())?;
    Some(list.remove(nth))
}

/// `text` as an id: small letters and digits with dashes; `word` when nothing is left.
pub fn slug(text: &str, word: &str) -> String {
    let mut out = String::new();
    for letter in text.to_lowercase().chars() {
        if letter.is_alphanumeric() {
            out.push(letter);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.chars().count() >= 32 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() {
        word.to_owned()
    } else {
        out.to_owned()
    }
}

/// What the maker of a form saw.
struct Seen {
    project: Project,
    was: Option<Value>,
    blank: Value,
    nth: Option<usize>,
}

/// `/make/{noun}`, `/change/{noun}/{id}`, `/remove/{noun}/{id}`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/make/{noun}", get(blank).post(make))
        .route("/change/{noun}/{id}", get(show).post(change))
        .route("/remove/{noun}/{id}", axum::routing::post(remove))
}

/// A form for one noun: `id` is none for a new one.
pub fn draw(
    noun: Noun,
    id: Option<&str>,
    value: &Value,
    head: &Head,
    session: &Session,
    faults: &Faults,
) -> Markup {
    let action = match id {
        Some(id) => format!("/change/{}/{id}", noun.word()),
        None => format!("/make/{}", noun.word()),
    };
    let form_id = format!("{}-{}", noun.word(), id.unwrap_or("new"));
    html! {
        form.noun method="post" action=(action) data-guarded="" {
            input type="hidden" name="token" value=(session.token);
            input type="hidden" name="-revision" value=(head.revision);
            (form::draw(&form_id, noun.fields(), value, &head.project, faults))
            div.actions {
                button { @if id.is_some() { "Save" } @else { "Add" } }
                // The brief stands on its page; there is nothing to go back to.
                @if noun != Noun::Brief { a href=(noun.page().path()) { "Leave it" } }
            }
        }
        @if let Some(id) = id.filter(|_| noun != Noun::Brief) {
            form.removal method="post" action=(format!("/remove/{}/{id}", noun.word())) {
                input type="hidden" name="token" value=(session.token);
                button.quiet { "Remove this " (noun.called()) }
            }
        }
    }
}

/// What the one called `id` is called, for headings and links.
pub fn called(noun: Noun, value: &Value, id: &str) -> String {
    let text = |name: &str| {
        value[name]
            .as_str()
            .filter(|text| !text.is_empty())
            .map(str::to_owned)
    };
    text("name")
        .or_else(|| text("section").map(|section| format!("section {section}")))
        .or_else(|| text("date"))
        .unwrap_or_else(|| {
            if noun == Noun::Brief {
                "the brief".into()
            } else {
                id.to_owned()
            }
        })
}

async fn blank(
    State(app): State<Arc<App>>,
    session: Session,
    Path(word): Path<String>,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let head = app.head()?;
    let value = noun.blank(&head.project, "new");
    respond(
        &app,
        &head,
        &session,
        noun,
        None,
        &value,
        &Faults::default(),
        StatusCode::OK,
    )
    .await
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Path((word, id)): Path<(String, String)>,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let head = app.head()?;
    let value = noun
        .find(&head.project, &id)
        .ok_or_else(|| Refused::Gone(format!("{} `{id}`", noun.called())))?;
    respond(
        &app,
        &head,
        &session,
        noun,
        Some(&id),
        &value,
        &Faults::default(),
        StatusCode::OK,
    )
    .await
}

#[allow(
    clippy::too_many_arguments,
    reason = "one page, drawn from all of them"
)]
async fn respond(
    app: &Arc<App>,
    head: &Head,
    session: &Session,
    noun: Noun,
    id: Option<&str>,
    value: &Value,
    faults: &Faults,
    status: StatusCode,
) -> Result<Response, Refused> {
    let title = match id {
        Some(id) => called(noun, value, id),
        None => format!("A new {}", noun.called()),
    };
    let body = html! {
        section.one-noun {
            h1 { (shell::sentence(&title).trim_end_matches('.')) }
            (draw(noun, id, value, head, session, faults))
        }
    };
    let page = shell::page_at(app, head, session, noun.page(), Layer::default(), &body).await?;
    Ok((status, page).into_response())
}

async fn make(
    State(app): State<Arc<App>>,
    Path(word): Path<String>,
    posted: Posted,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let project = seen_at(&app, &posted)?;
    // What it is called is read first, since its id is made of that.
    let mut blank = noun.blank(&project, "new");
    for name in ["name", "text", "date"] {
        if posted.fields.contains_key(name) {
            blank[name] = json!(posted.text(name));
        }
    }
    let id = noun.fresh_id(&app.head()?.project, &blank);
    let seen = Seen {
        blank: noun.blank(&project, &id),
        was: None,
        nth: None,
        project,
    };
    save(&app, noun, None, &posted, seen).await
}

async fn change(
    State(app): State<Arc<App>>,
    Path((word, id)): Path<(String, String)>,
    posted: Posted,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let project = seen_at(&app, &posted)?;
    let was = noun
        .find(&project, &id)
        .ok_or_else(|| Refused::Gone(format!("{} `{id}`", noun.called())))?;
    let seen = Seen {
        blank: json!({}),
        was: Some(was),
        nth: id.parse().ok(),
        project,
    };
    save(&app, noun, Some(&id), &posted, seen).await
}

/// The document as the maker of a form saw it.
pub fn seen_at(app: &App, posted: &Posted) -> Result<Project, Refused> {
    match posted.text("-revision").parse::<i64>() {
        Ok(number) => app.at(RevisionId::new(number)),
        Err(_) => Ok((*app.head()?.project).clone()),
    }
}

async fn save(
    app: &Arc<App>,
    noun: Noun,
    id: Option<&str>,
    posted: &Posted,
    seen: Seen,
) -> Result<Response, Refused> {
    let faults = match noun.edit(noun.fields(), posted, &seen) {
        Err(faults) => faults,
        Ok(edit) => match app.edit(&edit) {
            Ok(_) => {
                let to = posted.text("-to");
                let to = if to.starts_with('/') && !to.starts_with("//") {
                    to
                } else {
                    noun.page().path()
                };
                return Ok(Redirect::to(to).into_response());
            }
            Err(error) => refused(error)?,
        },
    };
    // What was typed comes back with what is wrong beside it.
    let head = app.head()?;
    let value = typed(
        noun.fields(),
        posted,
        seen.was.as_ref().unwrap_or(&seen.blank),
    );
    respond(
        app,
        &head,
        &posted.session,
        noun,
        id,
        &value,
        &faults,
        StatusCode::UNPROCESSABLE_ENTITY,
    )
    .await
}

/// What the document said against an edit, by field; other trouble is passed on.
pub fn refused(error: Refused) -> Result<Faults, Refused> {
    let refusal = match &error {
        Refused::Step(steps::Error::Store(store::Error::Refused(cause))) => {
            cause.downcast_ref::<Refusal>()
        }
        _ => None,
    };
    let Some(refusal) = refusal else {
        return Err(error);
    };
    Ok(match refusal {
        Refusal::Invalid(problems) => {
            let mut all = Faults::default();
            for problem in problems {
                // `setups[2].passes` stands beside `passes`.
                let inner = problem.field.split_once("].").map_or_else(
                    || {
                        problem
                            .field
                            .split_once('.')
                            .map_or(problem.field.as_str(), |(_, inner)| inner)
                    },
                    |(_, inner)| inner,
                );
                all.merge(Faults::one(inner, problem.says.clone()));
            }
            all
        }
        Refusal::ChangedMeanwhile { field, .. } => Faults::one(field.clone(), refusal.to_string()),
        other => Faults::one("", other.to_string()),
    })
}

/// The form's text put over the noun, as far as it is of its kind, so that nothing typed is lost.
fn typed(fields: &[Field], posted: &Posted, was: &Value) -> Value {
    form::typed(fields, &posted.fields, was)
}

async fn remove(
    State(app): State<Arc<App>>,
    Path((word, id)): Path<(String, String)>,
    _posted: Posted,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let edit = noun.removal(&app.head()?.project, &id)?;
    app.edit(&edit)?;
    Ok(Redirect::to(noun.page().path()).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_ids() {
        for (name, id) in [
            ("Wide, from the door", "wide-from-the-door"),
            ("  ", "setup"),
            ("Öl & Wasser!", "öl-wasser"),
            (
                "a very long name that goes on and on and on for ever",
                "a-very-long-name-that-goes-on-an",
            ),
        ] {
            assert_eq!(slug(name, "setup"), id);
            assert!(model::ids::is_id(&slug(name, "setup")));
        }
    }
}
