//! The brief: what was agreed, who is in it, what it should look like, the states of the performer.

use crate::app::App;
use crate::door::Session;
use crate::form::Faults;
use crate::page::noun::{self, Noun};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::html;
use model::Edit;
use std::sync::Arc;

/// `/brief`, `/states`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/brief", get(show))
        .route("/states", post(states))
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let value = Noun::BRIEF.find(project, "it").unwrap_or_default();
    let body = html! {
        h1 { "Brief" }
        (noun::draw(Noun::BRIEF, Some("it"), &value, &head, &session, &Faults::default()))
        div.columns {
            section aria-labelledby="people" {
                h2 #people { "People" }
                @if project.people.is_empty() { p.faint { "Nobody yet: the performer, whoever lends a hand or a place, whoever has to be asked." } }
                ul.plain {
                    @for person in &project.people {
                        li {
                            a href=(format!("/change/person/{}", person.id)) { (person.name) }
                            @if !person.role.is_empty() { ", " (person.role) }
                            @if !person.contact.is_empty() { br; span.faint { (person.contact) } }
                            @if person.minor { br; span.warn { "Under age: local law sets the hours and who must be there." } }
                        }
                    }
                }
                p { a.button.quiet href="/make/person" { "Add a person" } }
            }
            section aria-labelledby="references" {
                h2 #references { "References" }
                @if project.references.is_empty() { p.faint { "None yet: pictures, films, paintings, a street you walked by." } }
                ul.plain {
                    @for one in &project.references {
                        li {
                            (one.text)
                            @if !one.source.is_empty() { br; span.faint { (one.source) } }
                            br; a href=(format!("/change/reference/{}", one.id)) { "Change" span.unseen { ": " (one.text) } }
                        }
                    }
                }
                p { a.button.quiet href="/make/reference" { "Add a reference" } }
            }
            section aria-labelledby="states" {
                h2 #states { "States of the performer" }
                p.faint { "In the order they can be had, such as clean before powdered. They never run backwards in the cut, nor in the day." }
                form method="post" action="/states" data-guarded="" {
                    input type="hidden" name="token" value=(session.token);
                    div.field {
                        label for="states-text" { "One a line" }
                        textarea #states-text name="states" rows="4" { (project.states.join("\n")) }
                    }
                    div.actions { button { "Save" } }
                }
            }
        }
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Brief, Layer::default(), &body)
            .await?
            .into_response(),
    )
}

async fn states(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let states = posted
        .text("states")
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .map(str::to_owned)
        .collect();
    app.edit(&Edit::Put {
        part: "states".into(),
        new: states,
        was: None,
    })?;
    Ok(posted.back())
}
