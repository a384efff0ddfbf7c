//! Making, changing and removing any noun of the document by its form: `/make/{noun}`, `/change/{noun}/{id}`.

use crate::app::{App, Head};
use crate::door::Session;
use crate::form::{self, Faults};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use model::{Document as _, Edit, Project, Refusal, upgrade};
use serde_json::{Value, json};
use std::sync::Arc;
use store::RevisionId;

/// A kind of noun that a form makes and changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Noun {
    /// Its name in addresses.
    pub word: &'static str,
    /// The document's field it stands in.
    part: &'static str,
    /// The page it stands on.
    page: Here,
}

impl Noun {
    /// The brief: there is one.
    pub const BRIEF: Self = Self::new("brief", "brief", Here::Brief);
    /// How one works: there is one.
    pub const PRACTICE: Self = Self::new("practice", "practice", Here::Kit);

    /// Every kind.
    pub const ALL: [Self; 11] = [
        Self::BRIEF,
        Self::PRACTICE,
        Self::new("idea", "ideas", Here::Song),
        Self::new("reference", "references", Here::Brief),
        Self::new("person", "people", Here::Brief),
        Self::new("wish", "wishes", Here::Setups),
        Self::new("place", "places", Here::Places),
        Self::new("kit", "kit", Here::Kit),
        Self::new("setup", "setups", Here::Setups),
        Self::new("day", "days", Here::Day),
        Self::new("take", "takes", Here::Takes),
    ];

    const fn new(word: &'static str, part: &'static str, page: Here) -> Self {
        Self { word, part, page }
    }

    fn named(word: &str) -> Result<Self, Refused> {
        Self::ALL
            .into_iter()
            .find(|noun| noun.word == word)
            .ok_or_else(|| Refused::Gone(format!("such thing as `{word}`")))
    }

    /// What it says of itself.
    pub fn described(self) -> &'static model::describe::Noun {
        model::project::noun_in(&Project::NOUN, self.part).unwrap_or(&Project::NOUN)
    }

    /// What a person calls one.
    pub fn called(self) -> &'static str {
        self.described().called
    }

    /// Whether there is always one of it, and no more.
    fn is_one(self) -> bool {
        !self.described().has_id()
    }

    /// The one called `id`, as written in the document.
    pub fn find(self, project: &Project, id: &str) -> Option<Value> {
        let part = project.part(self.part)?;
        if self.is_one() {
            return Some(part);
        }
        let mut all = part.as_array()?.iter();
        all.find(|one| one["id"].as_str() == Some(id)).cloned()
    }

    /// What a new one holds before anything is typed, called `id`.
    fn blank(self, project: &Project, id: &str) -> Value {
        let mut blank = json!({ "id": id });
        if self.described().field("zone").is_some() {
            // Places of one video lie in one zone as a rule.
            let zone = project.places.iter().find_map(|place| place.zone.clone());
            blank["zone"] = json!(zone);
        }
        blank
    }

    /// A free id made of what it is called.
    fn fresh_id(self, project: &Project, posted: &Posted) -> String {
        let said = ["name", "text", "section", "date"].map(|name| posted.text(name));
        let said = said
            .into_iter()
            .find(|text| !text.is_empty())
            .unwrap_or_default();
        upgrade::free(&upgrade::slug(said, self.word), |id| {
            self.find(project, id).is_some()
        })
    }
}

/// What the maker of a form saw.
struct Seen {
    was: Option<Value>,
    blank: Value,
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
    let word = noun.word;
    let action = match id {
        Some(id) => format!("/change/{word}/{id}"),
        None => format!("/make/{word}"),
    };
    let form_id = format!("{word}-{}", id.unwrap_or("new"));
    html! {
        form.noun method="post" action=(action) data-guarded="" {
            input type="hidden" name="token" value=(session.token);
            input type="hidden" name="-revision" value=(head.revision);
            (form::draw(&form_id, noun.described(), value, &*head.project, faults))
            div.actions {
                button { @if id.is_some() { "Save" } @else { "Add" } }
                // What there is one of stands on its page; there is nothing to go back to.
                @if !noun.is_one() { a href=(noun.page.path()) { "Leave it" } }
            }
        }
        @if let Some(id) = id.filter(|_| !noun.is_one()) {
            form.removal method="post" action=(format!("/remove/{word}/{id}")) {
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
    if noun.is_one() {
        return format!("the {}", noun.called());
    }
    text("name")
        .or_else(|| text("section").map(|section| format!("section {section}")))
        .or_else(|| text("date"))
        .unwrap_or_else(|| id.to_owned())
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
    let page = shell::page_at(app, head, session, noun.page, Layer::default(), &body).await?;
    Ok((status, page).into_response())
}

async fn make(
    State(app): State<Arc<App>>,
    Path(word): Path<String>,
    posted: Posted,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    let project = seen_at(&app, &posted)?;
    let id = noun.fresh_id(&app.head()?.project, &posted);
    let seen = Seen {
        blank: noun.blank(&project, &id),
        was: None,
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
    let base = seen.was.as_ref().unwrap_or(&seen.blank);
    let edit = form::values(noun.described(), &posted.fields, base).map(|new| Edit::Put {
        part: noun.part.to_owned(),
        new,
        was: seen.was.clone(),
    });
    let faults = match edit {
        Err(faults) => faults,
        Ok(edit) => match app.edit(&edit) {
            Ok(_) => {
                let to = posted.text("-to");
                let to = if to.starts_with('/') && !to.starts_with("//") {
                    to
                } else {
                    noun.page.path()
                };
                return Ok(Redirect::to(to).into_response());
            }
            Err(error) => refused(error)?,
        },
    };
    // What was typed comes back with what is wrong beside it.
    let head = app.head()?;
    let value = form::typed(noun.described(), &posted.fields, base);
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
        Refusal::Unreadable { field, says, .. } => Faults::unreadable(field, says),
        Refusal::ChangedMeanwhile { field, .. } => Faults::one(field.clone(), refusal.to_string()),
        other => Faults::one("", other.to_string()),
    })
}

async fn remove(
    State(app): State<Arc<App>>,
    Path((word, id)): Path<(String, String)>,
    _posted: Posted,
) -> Result<Response, Refused> {
    let noun = Noun::named(&word)?;
    if noun.is_one() {
        return Err(Refused::NotHere(format!(
            "there is always a {}; empty its fields instead",
            noun.called()
        )));
    }
    app.edit(&Edit::Remove {
        part: noun.part.to_owned(),
        id,
    })?;
    Ok(Redirect::to(noun.page.path()).into_response())
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
            assert_eq!(upgrade::slug(name, "setup"), id);
            assert!(model::ids::is_id(&upgrade::slug(name, "setup")));
        }
    }
}
