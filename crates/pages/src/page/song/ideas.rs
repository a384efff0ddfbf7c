//! Ideas: pinned to the bar that plays when they come, listed in the order of the song.

use super::address::{read_stretch, shown_stretch};
use super::lyrics::play_from;
use super::view::{Called, Meant, View, listened};
use crate::app::App;
use crate::form::Faults;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::text::said;
use maud::{Markup, html};
use model::{Edit, Idea, NoteId, Project, SongMap, upgrade};
use std::sync::Arc;

const FORM: &str = "idea";

/// The form and the list.
pub fn draw(view: &View<'_>) -> Markup {
    let (map, back) = (&view.heard.map, view.back);
    let mut ideas: Vec<&Idea> = view.project().ideas.iter().collect();
    // Those that belong nowhere yet come last.
    ideas.sort_by_key(|idea| (idea.at.is_none(), idea.at.map(|at| at.start())));
    let text = back.value(FORM, "text", String::new());
    let faults = back.faults(FORM);
    html! {
        section aria-labelledby="ideas-title" {
            h2 #ideas-title { "Ideas" }
            note-here.note-here {
                p.needs-script { "Play the song. When something comes to you, press " kbd { "N" } ": the bar is noted, and the song plays on while you write." }
                form.idea method="post" action="/song/idea" data-guarded="" {
                    (view.carried())
                    (back.summary(FORM, |name| matches!(name, "text" | "at")))
                    div.field {
                        label for="idea--text" { "Idea" }
                        textarea #idea--text name="text" rows="2" aria-invalid=[faults.at("text").map(|_| "true")] aria-describedby=[faults.at("text").map(|_| "idea--text-fault")] { (text) }
                        @if let Some(says) = faults.at("text") { small.bad #idea--text-fault { (said(says)) } }
                    }
                    div.row {
                        div.field { (back.input(FORM, "at", String::new(), &Called::shown("Bars", "Such as 12, or 12–15, or times: 0:41–0:44. Empty: anywhere."))) }
                        button.quiet.needs-script type="button" data-note="" { "The bar that plays" }
                        button { "Keep it" }
                    }
                }
            }
            @if ideas.is_empty() { p.faint { "None yet." } }
            ul.plain.ideas {
                @for idea in ideas { (one(view, map, idea)) }
            }
        }
    }
}

fn one(view: &View<'_>, map: &SongMap, idea: &Idea) -> Markup {
    html! {
        li {
            p { (idea.text) }
            div.row {
                @match idea.at {
                    Some(at) => { span.faint { "Bars " (shown_stretch(map, at)) } (play_from(at.start(), &idea.text)) }
                    None => { span.faint { "Anywhere" } }
                }
                a href=(format!("/change/idea/{}", idea.id)) { "Change" span.unseen { ": " (idea.text) } }
                form method="post" action=(format!("/remove/idea/{}", idea.id)) {
                    input type="hidden" name="token" value=(view.session.token);
                    button.quiet.small { "Remove" span.unseen { ": " (idea.text) } }
                }
            }
        }
    }
}

/// A free id made of the idea's words.
fn fresh_id(project: &Project, text: &str) -> Result<NoteId, Faults> {
    let taken = |id: &str| project.ideas.iter().any(|idea| idea.id.as_str() == id);
    let id = upgrade::free(&upgrade::slug(text, "idea"), taken);
    NoteId::new(id).map_err(|says| Faults::one("text", says))
}

/// The idea that was typed.
fn read(project: &Project, map: &SongMap, text: &str, at: &str) -> Result<Idea, Faults> {
    let mut faults = Faults::default();
    if text.is_empty() {
        faults.merge(Faults::one("text", "write a word or two"));
    }
    let at = match at {
        "" => None,
        at => match read_stretch(map, at) {
            Ok(at) => Some(at),
            Err(says) => {
                faults.merge(Faults::one("at", says));
                None
            }
        },
    };
    if faults.has_any() {
        return Err(faults);
    }
    Ok(Idea {
        id: fresh_id(project, text)?,
        at,
        text: text.to_owned(),
        extra: Default::default(),
    })
}

/// An idea noted by a form.
///
/// # Errors
/// When the song is not known yet.
pub async fn note(app: &Arc<App>, posted: &Posted) -> Result<Meant, Refused> {
    let head = app.head()?;
    let heard = listened(app, &head).await?;
    let meant = read(
        &head.project,
        &heard.map,
        posted.text("text"),
        posted.text("at"),
    )
    .map(|idea| Some(Edit::put(&idea)));
    Ok((FORM, meant))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song_strip::tests::map;

    #[test]
    fn an_idea_is_pinned_to_its_bars() {
        let map = map(16);
        let mut project = Project::default();
        let idea = read(&project, &map, "Rain on the window", "3–4").expect("read");
        assert_eq!(idea.id.as_str(), "rain-on-the-window");
        assert_eq!(
            idea.at.map(|at| shown_stretch(&map, at)).as_deref(),
            Some("3–4")
        );
        project.ideas.push(idea);
        let again = read(&project, &map, "Rain on the window", "").expect("read");
        assert_eq!(again.id.as_str(), "rain-on-the-window-2");
        assert_eq!(again.at, None);
    }

    #[test]
    fn what_is_wrong_is_said_of_each_field() {
        let faults = read(&Project::default(), &map(4), "", "9").expect_err("refused");
        assert!(faults.at("text").is_some());
        assert!(
            faults
                .at("at")
                .is_some_and(|says| says.contains("no bar 9"))
        );
    }
}
