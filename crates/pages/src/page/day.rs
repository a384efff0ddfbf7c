//! The day: its strips in time, what is left out and why, what to drop when it gets late, and the day from now on.

use crate::app::{App, Head};
use crate::computed;
use crate::door::Session;
use crate::finding;
use crate::memo::Answer;
use crate::page::setups::to_cut_to;
use crate::page::{cautions, pocket};
use crate::posted::{Posted, PostedJson};
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use axum::Router;
use axum::extract::{RawQuery, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::{ClockTime, DayId, PlaceId, Project, SetupId};
use schedule::{DayPlan, Late, Now, Status, Strip};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use steps::{DayOptions, DaysReport, OneDay, SkyCurve};

/// `/day` with what is done to it.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/day", get(show))
        .route("/day/keep", post(keep))
        .route("/day/pin", post(pin))
        .route("/day/unpin", post(unpin))
        .route("/day/calendar.ics", get(calendar))
}

/// What a person asks of the day: a day that has begun, a setup to be explained.
#[derive(Clone, Debug, Default, PartialEq)]
struct Asked {
    day: Option<String>,
    now: Option<String>,
    done: Vec<String>,
    at: Option<String>,
    eaten: bool,
    why: Option<String>,
}

impl Asked {
    fn read(query: Option<&str>) -> Self {
        let mut out = Self::default();
        for (name, value) in form_urlencoded::parse(query.unwrap_or_default().as_bytes()) {
            let value = value.trim().to_owned();
            if value.is_empty() {
                continue;
            }
            match &*name {
                "day" => out.day = Some(value),
                "now" => out.now = Some(value),
                "done" => out.done.push(value),
                "at" => out.at = Some(value),
                "eaten" => out.eaten = true,
                "why" => out.why = Some(value),
                _ => {}
            }
        }
        out
    }

    /// The options of the step, or what is wrong with what was typed.
    fn options(&self) -> Result<DayOptions, String> {
        let now = match &self.now {
            None => None,
            Some(text) => Some(Now {
                at: text.parse()?,
                done: self
                    .done
                    .iter()
                    .map(SetupId::new)
                    .collect::<Result<_, _>>()?,
                place: self.at.as_ref().map(PlaceId::new).transpose()?,
                eaten: self.eaten,
            }),
        };
        Ok(DayOptions {
            day: self.day.clone(),
            now,
            why: self.why.clone(),
            seconds: None,
        })
    }
}

/// What was asked, and, before anything was, what the phone's log says is done.
fn with_log(head: &Head, asked: Asked) -> Asked {
    if asked.now.is_some() || !asked.done.is_empty() {
        return asked;
    }
    let (done, eaten) = pocket::begun(head);
    Asked {
        done,
        eaten,
        ..asked
    }
}

/// The days as asked for, from the memo.
async fn ask(app: &Arc<App>, head: &Head, options: DayOptions) -> Answer<DaysReport> {
    if options == DayOptions::default() {
        return computed::days(app, head).await;
    }
    computed::ask_days(app, head, "days-asked", options).await
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    RawQuery(query): RawQuery,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let asked = Asked::read(query.as_deref());
    let body = if project.days.is_empty() || project.setups.is_empty() {
        nothing_yet(project)
    } else {
        match asked.options() {
            Ok(options) => {
                let answer = ask(&app, &head, options).await;
                let curves = computed::sky_curves(&app, &head, None).await;
                html! {
                    (computed::waiting(&answer, "the day", &session.token))
                    @if let Some(report) = answer.value() {
                        @if let Some(why) = &report.why { section.sheet aria-labelledby="why" { h2 #why { "Why" } ul { @for line in why { li { (shell::said(line)) } } } } }
                        @for one in &report.days {
                            @let curve = curves.value().and_then(|all| over(project, &one.plan.day, all));
                            (draw(project, one, curve, &asked, &session))
                        }
                        (finding::list(project, &report.notes))
                    }
                    (from_now(project, &with_log(&head, asked), None))
                }
            }
            Err(says) => from_now(project, &with_log(&head, asked), Some(&says)),
        }
    };
    let layer = planned(&app, &head).await;
    let body = html! {
        h1 { "Day" }
        (body)
        @if !project.setups.is_empty() { (pocket::section(&head, &session)) }
        section aria-labelledby="days" {
            h2 #days { "Days of the plan" }
            ul.plain {
                @for day in &project.days {
                    li { a href=(format!("/change/day/{}", day.id)) { time datetime=(day.date) { (day.date) } } ", call " (day.call) @if let Some(wrap) = day.latest_wrap { ", wrap at the latest " (wrap) } }
                }
            }
            p { a.button.quiet href="/make/day" { "Add a day" } }
        }
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Day, layer, &body)
            .await?
            .into_response(),
    )
}

/// What there is to cut to along the song, once that is known.
async fn planned(app: &Arc<App>, head: &Head) -> Layer {
    if head.project.song.is_none() || head.project.setups.is_empty() {
        return Layer::None;
    }
    let covered = computed::coverage(app, head).await;
    covered
        .value()
        .map_or(Layer::None, |covered| to_cut_to(&covered.coverage))
}

fn nothing_yet(project: &Project) -> Markup {
    html! {
        @if project.days.is_empty() { p { "No day yet. With its date and call, sun and twilight, hours and batteries are worked out, and the order that covers the song best." } }
        @if project.setups.is_empty() { p { "There is nothing to put into a day: " a href="/make/setup" { "plan a setup first" } "." } }
    }
}

fn standing(status: Status) -> &'static str {
    match status {
        Status::Best => "No day is better: proven",
        Status::Feasible => "A good day; not proven best",
        Status::Impossible => "No day holds every must",
        Status::Unknown => "No day was found in the time given",
    }
}

/// The sky over the first place of the day that has setups and whose sky is known.
fn over<'a>(project: &Project, day: &DayId, all: &'a [SkyCurve]) -> Option<&'a SkyCurve> {
    let used = |curve: &&SkyCurve| {
        let mut setups = project.setups.iter();
        setups.any(|setup| setup.place.as_ref() == Some(&curve.place))
    };
    all.iter()
        .filter(|curve| curve.day.as_ref() == Some(day))
        .find(used)
}

fn draw(
    project: &Project,
    one: &OneDay,
    curve: Option<&SkyCurve>,
    asked: &Asked,
    session: &Session,
) -> Markup {
    let plan = &one.plan;
    let line = charts::DayLine {
        project,
        date: &plan.date.in_words(),
        plan,
        curve: curve.map(|over| &over.curve),
        sky: &one.sky,
        typed: &one.typed,
        conflicts: &one.conflicts,
        begun: asked.now.is_some(),
    };
    let drawn = line.strips();
    html! {
        section.day aria-labelledby=(format!("day-{}", plan.day)) data-day=(plan.day) {
            h2 #(format!("day-{}", plan.day)) { time datetime=(plan.date) { (plan.date) } }
            p {
                strong { (standing(plan.status)) } ". "
                @if plan.is_found() {
                    (plan.from) " to " (plan.wrap) ", " (plan.order.len()) " setups, " (plan.moves) @if plan.moves == 1 { " company move, " } @else { " company moves, " }
                    (format!("{:.0}", plan.share() * 100.0)) " % of what all setups together would give the song."
                }
            }
            @if !plan.reasons.is_empty() { ul.bad { @for reason in &plan.reasons { li { (shell::said(reason)) } } } }
            @if !one.typed.is_empty() {
                h3.warn { "What breaks in the order that was kept" }
                (finding::list(project, &one.typed))
            }
            @if !drawn.is_empty() {
                (charts::figure(&line, &format!("line-{}", plan.day)))
                p.pin-says role="status" data-keep {}
                @for one in drawn.iter().filter(|one| !one.breaks.is_empty()) {
                    p.warn { "▲ " strong { (one.strip.name) } ": " @for found in &one.breaks { (finding::said(project, found, &found.to_string())) " " } }
                }
            }
            (strips(plan, asked, session))
            @if plan.is_found() && asked.now.is_none() {
                div.actions {
                    form method="post" action="/day/keep" {
                        input type="hidden" name="token" value=(session.token);
                        input type="hidden" name="day" value=(plan.day);
                        button { "Keep this order in the plan" }
                    }
                    a.button.quiet href="/day/calendar.ics" hx-boost="false" { "As a calendar file" }
                }
            }
            @if !plan.left_out.is_empty() {
                h3 { "Left out" }
                ul {
                    @for out in &plan.left_out {
                        li { strong { (out.name) } ". " @for why in &out.why { (shell::said(why)) " " } }
                    }
                }
            }
            @if !one.conflicts.is_empty() {
                h3.bad { "What runs short" }
                (finding::list(project, &one.conflicts))
            }
            @if let Some(late) = &plan.late { (late_table(project, late)) }
            (cautions::list(one.cautions.iter()))
            (finding::list(project, &plan.notes))
        }
    }
}

fn strips(plan: &DayPlan, asked: &Asked, session: &Session) -> Markup {
    html! {
        @if !plan.order.is_empty() {
            table.strips {
                caption.unseen { "The day, setup by setup" }
                thead { tr { th scope="col" { "There" } th scope="col" { "Shoots" } th scope="col" { "Ends" } th scope="col" { "Setup" } th scope="col" { "Where" } th scope="col" { "Room" } th scope="col" { "To know" } } }
                tbody {
                    @for strip in &plan.order {
                        @if let Some([from, to]) = plan.meal.filter(|[from, _]| is_before(plan, strip, *from)) {
                            tr.meal { td.num { (from) } td {} td.num { (to) } td colspan="4" { "Meal" } }
                        }
                        tr {
                            td.num { (strip.start) }
                            td.num { (strip.shoot) }
                            td.num { (strip.end) }
                            th scope="row" { a href=(format!("/change/setup/{}", strip.setup)) { (strip.name) } }
                            td { (strip.place_name) @if strip.travel_minutes > 0 { br; span.faint { (strip.travel_minutes) " min on the way" } } }
                            td { (strip.room_minutes) " min" }
                            td {
                                (minded(strip)) " "
                                @if strip.pinned {
                                    span.warn { "pinned" } " "
                                    form.inline method="post" action="/day/unpin" {
                                        input type="hidden" name="token" value=(session.token);
                                        input type="hidden" name="day" value=(plan.day);
                                        input type="hidden" name="setup" value=(strip.setup);
                                        button.quiet { "Unpin" span.unseen { ": " (strip.name) } }
                                    }
                                } @else if asked.now.is_none() {
                                    details data-fold=(format!("pin-{}", strip.setup)) {
                                        summary { "Pin" span.unseen { ": " (strip.name) } }
                                        form.row method="post" action="/day/unpin" {
                                            input type="hidden" name="token" value=(session.token);
                                            input type="hidden" name="day" value=(plan.day);
                                            input type="hidden" name="setup" value=(strip.setup);
                                            div.field {
                                                label for=(format!("pin-{}", strip.setup)) { "Shoots from" }
                                                input id=(format!("pin-{}", strip.setup)) name="at" value=(strip.shoot) data-size="number";
                                            }
                                            button.quiet { "Pin it there" }
                                        }
                                    }
                                }
                                @if asked.why.as_deref() != Some(strip.setup.as_str()) {
                                    a href=(format!("/day?why={}", strip.setup)) { "why here?" span.unseen { " " (strip.name) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What is worth knowing of a strip, in a few words.
fn minded(strip: &Strip) -> String {
    let mut says = Vec::new();
    if strip.must {
        says.push("must".to_owned());
    }
    if strip.relit {
        says.push("relit".into());
    }
    if strip.waits_minutes > 0 {
        says.push(format!("waits {} min for its light", strip.waits_minutes));
    }
    if let Some(slack) = strip.light_ends_in().filter(|_| strip.asks_for_light) {
        says.push(format!("{slack} min to the end of its light"));
    }
    if let Some(slack) = strip.closes_in() {
        says.push(format!("{slack} min to the end of the place's hours"));
    }
    says.join(", ")
}

/// Whether the meal, which begins at `from`, comes right before `strip`.
fn is_before(plan: &DayPlan, strip: &Strip, from: ClockTime) -> bool {
    plan.order
        .iter()
        .find(|one| one.start >= from)
        .is_some_and(|first| first.setup == strip.setup)
}

fn late_table(project: &Project, late: &Late) -> Markup {
    html! {
        h3 { "When it gets late" }
        p.faint { "What to drop so that the rest still fits, by how late one is after each setup." }
        table.late {
            thead { tr { th scope="col" { "After" } th.num scope="col" { "Free at" } @for delay in &late.delays { th scope="col" { (delay) " min late" } } } }
            tbody {
                @for row in &late.rows {
                    tr {
                        th scope="row" { (row.after.as_ref().map_or("the call", |id| project.setup_name(id))) }
                        td.num { (row.at) }
                        @for delay in &late.delays {
                            td {
                                @match row.cells.iter().find(|cell| cell.late_minutes == *delay) {
                                    None => { "–" }
                                    Some(cell) if cell.drop.is_empty() => { span.good { "all fits" } br; span.faint { "wrap " (cell.wrap) } }
                                    Some(cell) => {
                                        "drop " (cell.drop.iter().map(|id| project.setup_name(id)).collect::<Vec<_>>().join(", "))
                                        @if !cell.musts_lost.is_empty() { br; strong.bad { "a must is lost" } }
                                        @if !cell.add.is_empty() { br; "add " (cell.add.iter().map(|id| project.setup_name(id)).collect::<Vec<_>>().join(", ")) }
                                        br; span.faint { (format!("{:.0}", cell.worth_left * 100.0)) " % left, wrap " (cell.wrap) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
        @if !late.complete { p.faint { "The table was stopped before it was whole." } }
    }
}

/// The form that plans the rest of a day that has begun.
fn from_now(project: &Project, asked: &Asked, fault: Option<&str>) -> Markup {
    html! {
        section aria-labelledby="now" {
            h2 #now { "From now on" }
            p { "When the day has begun: what the clock shows, and what is done. The rest is planned anew." }
            form method="get" action="/day" {
                div.fields {
                    @if project.days.len() > 1 {
                        div.field {
                            label for="which-day" { "Day" }
                            select #which-day name="day" { @for day in &project.days { option value=(day.id) selected[asked.day.as_deref() == Some(day.id.as_str())] { (day.date) } } }
                        }
                    }
                    div.field data-wrong[fault.is_some()] {
                        label for="clock" { "It is" }
                        input #clock name="now" value=[asked.now.as_deref()] data-size="number" aria-describedby=[fault.map(|_| "clock-fault")] aria-invalid=[fault.map(|_| "true")];
                        @if let Some(says) = fault { small.bad #clock-fault { (shell::said(says)) } }
                    }
                    div.field {
                        label for="at-place" { "We are at" }
                        select #at-place name="at" {
                            option value="" { "where the last setup was" }
                            @for place in &project.places { option value=(place.id) selected[asked.at.as_deref() == Some(place.id.as_str())] { (place.name) } }
                        }
                    }
                    fieldset.several {
                        legend { "Done, in this order" }
                        @for setup in in_order(project) {
                            label { input type="checkbox" name="done" value=(setup.0) checked[asked.done.contains(&setup.0)]; " " (setup.1) }
                        }
                    }
                    div.field.tick { label { input type="checkbox" name="eaten" value="yes" checked[asked.eaten]; " The meal was had" } }
                }
                div.actions { button { "Plan the rest" } @if asked.now.is_some() { a href="/day" { "Back to the whole day" } } }
            }
        }
    }
}

/// Every setup with its name, those of the first day's order first, as they stand in it.
fn in_order(project: &Project) -> Vec<(String, String)> {
    let ordered: Vec<&SetupId> = project
        .days
        .iter()
        .flat_map(|day| &day.order)
        .map(|slot| &slot.setup)
        .collect();
    let mut all: Vec<&model::Setup> = ordered.iter().filter_map(|id| project.setup(id)).collect();
    all.extend(
        project
            .setups
            .iter()
            .filter(|setup| !ordered.contains(&&setup.id)),
    );
    all.iter()
        .map(|setup| (setup.id.to_string(), setup.called().to_owned()))
        .collect()
}

async fn keep(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let answer = computed::days(&app, &head).await;
    let Some(report) = answer.value().cloned().filter(|_| !answer.is_working()) else {
        return Err(Refused::Unreadable(
            "the day is still being worked out; wait for it and keep it then".into(),
        ));
    };
    let mut days = report.days.iter();
    let found = days
        .find(|one| one.plan.day.as_str() == posted.text("day") && one.plan.is_found())
        .ok_or_else(|| Refused::Gone("day to keep".into()))?;
    app.with_job(|job| job.keep_day(&found.plan))?;
    Ok(posted.back())
}

/// A strip held at a time.
#[derive(Clone, Debug, Deserialize)]
struct Dragged {
    day: DayId,
    setup: SetupId,
    /// Minutes after the day's midnight at which its shoot begins.
    minutes: u32,
}

/// What a pin does to the day, for a person.
#[derive(Clone, Debug, Serialize)]
struct Pinned {
    says: String,
}

async fn pin(
    State(app): State<Arc<App>>,
    posted: PostedJson<Dragged>,
) -> Result<Response, Refused> {
    let dragged = posted.value;
    let shoot = ClockTime::from_minutes(dragged.minutes)
        .ok_or_else(|| Refused::Unreadable("a strip can't begin after the following day".into()))?;
    let head = app.head()?;
    let before = computed::days(&app, &head).await.value().cloned();
    put(&app, &head, &dragged.day, &dragged.setup, Some(shoot)).await?;
    let after = computed::days(&app, &app.head()?).await;
    let says = match (&before, &after) {
        (Some(before), Answer::Ready(after)) => after.pinned(before, &dragged.day),
        (_, Answer::Failed(why)) => Some(why.clone()),
        _ => None,
    };
    let says = says.map_or_else(
        || "Pinned. The day is being worked out.".into(),
        |says| shell::sentence(&says),
    );
    Ok(axum::Json(Pinned { says }).into_response())
}

/// Pins a setup, or, without a time, lets it go.
async fn put(
    app: &Arc<App>,
    head: &Head,
    day: &DayId,
    setup: &SetupId,
    shoot: Option<ClockTime>,
) -> Result<(), Refused> {
    let heard = match &head.project.song {
        Some(_) => song_strip::heard(app, head).await.value().cloned(),
        None => None,
    };
    let pin = steps::Pin {
        setup: setup.to_string(),
        shoot,
        end: None,
    };
    let map = heard.as_ref().map(|heard| &heard.map);
    let (edit, _) = steps::pin(&head.project, map, Some(day.as_str()), &[pin])?;
    app.edit(&edit)?;
    Ok(())
}

/// Takes a pin away, or, with a time, sets one: the same form for both.
async fn unpin(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let day = DayId::new(posted.text("day")).map_err(Refused::Unreadable)?;
    let setup = SetupId::new(posted.text("setup")).map_err(Refused::Unreadable)?;
    let shoot = match posted.text("at") {
        "" => None,
        at => Some(at.parse().map_err(Refused::Unreadable)?),
    };
    put(&app, &app.head()?, &day, &setup, shoot).await?;
    Ok(posted.back())
}

async fn calendar(State(app): State<Arc<App>>, _: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    let answer = computed::days(&app, &head).await;
    let Some(report) = answer.value().cloned() else {
        return Err(Refused::Unreadable(
            "the day is still being worked out; ask again in a moment".into(),
        ));
    };
    let text = app.with_job(|job| job.calendar(&report, &shell::called(&head)))?;
    Ok((
        [
            (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
            (
                header::CONTENT_DISPOSITION,
                "attachment; filename=\"day.ics\"",
            ),
        ],
        text,
    )
        .into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_asked_is_read() {
        let asked = Asked::read(Some("now=01%3A20&done=a&done=b&at=&eaten=yes&other=x"));
        assert_eq!(asked.done, vec!["a", "b"]);
        assert!(asked.eaten && asked.at.is_none());
        let options = asked.options().expect("options");
        let now = options.now.expect("a day that has begun");
        assert_eq!((now.at.to_string().as_str(), now.done.len()), ("01:20", 2));
        let wrong = Asked {
            now: Some("soon".into()),
            ..Asked::default()
        };
        assert!(
            wrong
                .options()
                .is_err_and(|says| says.contains("clock time"))
        );
    }
}
