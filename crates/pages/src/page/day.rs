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
use model::{ClockTime, Day, DayId, Edit, Minutes, PlaceId, Project, SetupId, Slot, Usual};
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
    fn options(&self, project: &Project) -> Result<DayOptions, String> {
        let now = match &self.now {
            None => None,
            Some(text) => {
                let at: ClockTime = text.parse()?;
                let day = project
                    .days
                    .iter()
                    .find(|day| self.day.as_deref().is_none_or(|id| day.id.as_str() == id));
                Some(Now {
                    at: after_midnight(at, day),
                    done: self
                        .done
                        .iter()
                        .map(|id| SetupId::new(id.as_str()))
                        .collect::<Result<_, _>>()?,
                    place: self
                        .at
                        .as_ref()
                        .map(|id| PlaceId::new(id.as_str()))
                        .transpose()?,
                    eaten: self.eaten,
                })
            }
        };
        // A day that has begun is one day.
        let first = || {
            project
                .days
                .iter()
                .min_by_key(|day| (day.date, day.call))
                .map(|day| day.id.to_string())
        };
        Ok(DayOptions {
            day: self
                .day
                .clone()
                .or_else(|| now.as_ref().and_then(|_| first())),
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

/// A small hour after an evening's call is past midnight.
fn after_midnight(at: ClockTime, day: Option<&Day>) -> ClockTime {
    let call = day.map(|day| day.call).unwrap_or_default();
    match ClockTime::from_minutes(at.minutes() + 24 * 60) {
        Some(next) if at < call && next.minutes() - call.minutes() <= 18 * 60 => next,
        _ => at,
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
        match asked.options(project) {
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
                        (finding::list(&head.project, &report.notes))
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

fn name(project: &Project, id: &SetupId) -> String {
    project
        .setup(id)
        .map_or_else(|| id.to_string(), |setup| setup.called().to_owned())
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
    let share = plan.value as f64 / plan.whole_value.max(1) as f64 * 100.0;
    html! {
        section.day aria-labelledby=(format!("day-{}", plan.day)) data-day=(plan.day) {
            h2 #(format!("day-{}", plan.day)) { time datetime=(plan.date) { (plan.date) } }
            p {
                strong { (standing(plan.status)) } ". "
                @if matches!(plan.status, Status::Best | Status::Feasible) {
                    (plan.from) " to " (plan.wrap) ", " (plan.order.len()) " setups, " (plan.moves) @if plan.moves == 1 { " company move, " } @else { " company moves, " }
                    (format!("{share:.0}")) " % of what all setups together would give the song."
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
            @if matches!(plan.status, Status::Best | Status::Feasible) && asked.now.is_none() {
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

/// Minutes to the end of a window beyond which it is not told of.
const MINDED: i64 = 120;

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
    if let Some(slack) = strip
        .light_slack_minutes
        .filter(|slack| strip.asks_for_light && *slack <= MINDED)
    {
        says.push(format!("{slack} min to the end of its light"));
    }
    if let Some(slack) = strip.access_slack_minutes.filter(|slack| *slack <= MINDED) {
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
                        th scope="row" { (row.after.as_ref().map_or_else(|| "the call".into(), |id| name(project, id))) }
                        td.num { (row.at) }
                        @for delay in &late.delays {
                            td {
                                @match row.cells.iter().find(|cell| cell.late_minutes == *delay) {
                                    None => { "–" }
                                    Some(cell) if cell.drop.is_empty() => { span.good { "all fits" } br; span.faint { "wrap " (cell.wrap) } }
                                    Some(cell) => {
                                        "drop " (cell.drop.iter().map(|id| name(project, id)).collect::<Vec<_>>().join(", "))
                                        @if !cell.musts_lost.is_empty() { br; strong.bad { "a must is lost" } }
                                        @if !cell.add.is_empty() { br; "add " (cell.add.iter().map(|id| name(project, id)).collect::<Vec<_>>().join(", ")) }
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
    let mut mine = (*report).clone();
    mine.days
        .retain(|one| one.plan.day.as_str() == posted.text("day"));
    app.with_job(|job| job.keep_days(&mine))?;
    Ok(posted.back())
}

/// A strip held at a time.
#[derive(Clone, Debug, Deserialize)]
struct Pin {
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

async fn pin(State(app): State<Arc<App>>, posted: PostedJson<Pin>) -> Result<Response, Refused> {
    let says = pin_down(&app, &posted.value).await?;
    Ok(axum::Json(Pinned { says }).into_response())
}

/// Pins a strip and says what that loses, breaks or moves.
async fn pin_down(app: &Arc<App>, pin: &Pin) -> Result<String, Refused> {
    let head = app.head()?;
    let before = computed::days(app, &head).await.value().cloned();
    let was = head
        .project
        .days
        .iter()
        .find(|day| day.id == pin.day)
        .cloned();
    let was = was.ok_or_else(|| Refused::Gone(format!("day `{}`", pin.day)))?;
    let clock = |minutes: i64| {
        u32::try_from(minutes)
            .ok()
            .and_then(ClockTime::from_minutes)
            .ok_or_else(|| {
                Refused::Unreadable(
                    "a strip can't begin before the day or after the following one".into(),
                )
            })
    };
    let strip = before.as_ref().and_then(|report| {
        let day = report.days.iter().find(|one| one.plan.day == pin.day)?;
        day.plan.order.iter().find(|strip| strip.setup == pin.setup)
    });
    let shoot = clock(i64::from(pin.minutes))?;
    // A strip that is moved keeps its lengths; one that stands nowhere yet gets usual ones.
    let moved = |at: ClockTime, from: ClockTime| {
        clock(i64::from(at.minutes()) + i64::from(shoot.minutes()) - i64::from(from.minutes()))
    };
    let song = song_strip::heard(app, &head).await.value().cloned();
    let [start, end] = match strip {
        Some(strip) => [
            moved(strip.start, strip.shoot)?,
            moved(strip.end, strip.shoot)?,
        ],
        None => {
            let project = &head.project;
            let setup = project.setup(&pin.setup);
            let setup = setup.ok_or_else(|| Refused::Gone(format!("setup `{}`", pin.setup)))?;
            let heard_s = project.heard_s(song.as_ref().map(|heard| &heard.map))(setup);
            let usual = Usual::of(&project.practice);
            Minutes::of(setup, project.brief.rate, heard_s, &usual).around(shoot)
        }
    };
    let slot = Slot {
        shoot: Some(shoot),
        pinned: true,
        ..Slot::new(pin.setup.clone(), start, end)
    };
    let mut day = was.clone();
    match day.order.iter_mut().find(|slot| slot.setup == pin.setup) {
        Some(known) => *known = slot,
        None => day.order.push(slot),
    }
    app.edit(&Edit::change_of(&was, &day))?;
    let head = app.head()?;
    let after = computed::days(app, &head).await;
    Ok(match (&before, &after) {
        (Some(before), Answer::Ready(after)) => difference(&head.project, before, after, &pin.day),
        (_, Answer::Failed(why)) => shell::sentence(why),
        _ => "Pinned. The day is being worked out.".into(),
    })
}

/// What changed between two plans of a day, in words.
fn difference(project: &Project, before: &DaysReport, after: &DaysReport, day: &DayId) -> String {
    let of = |report: &DaysReport| {
        report
            .days
            .iter()
            .find(|one| one.plan.day == *day)
            .map(|one| one.plan.clone())
    };
    let (Some(before), Some(after)) = (of(before), of(after)) else {
        return "Pinned.".into();
    };
    if matches!(after.status, Status::Impossible | Status::Unknown) {
        return format!(
            "{}: {} Undo takes the pin back.",
            standing(after.status),
            after
                .reasons
                .iter()
                .map(|one| shell::sentence(one))
                .collect::<Vec<_>>()
                .join(" ")
        );
    }
    let missing = |a: &DayPlan, b: &DayPlan| -> Vec<String> {
        a.order
            .iter()
            .filter(|strip| b.order.iter().all(|one| one.setup != strip.setup))
            .map(|strip| name(project, &strip.setup))
            .collect()
    };
    let mut says = Vec::new();
    let lost = missing(&before, &after);
    if !lost.is_empty() {
        says.push(format!("this loses {}", lost.join(", ")));
    }
    let won = missing(&after, &before);
    if !won.is_empty() {
        says.push(format!("{} comes in", won.join(", ")));
    }
    let left = after.value as f64 / before.value.max(1) as f64 * 100.0;
    if after.value < before.value {
        says.push(format!("{left:.0} % of the day's worth is left"));
    }
    if after.wrap != before.wrap {
        says.push(format!("wrap {} instead of {}", after.wrap, before.wrap));
    }
    if says.is_empty() {
        "Pinned: nothing is lost.".into()
    } else {
        format!("Pinned: {}.", says.join("; "))
    }
}

/// Takes a pin away, or, with a time, sets one: the same form for both.
async fn unpin(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let day = DayId::new(posted.text("day")).map_err(Refused::Unreadable)?;
    let setup = SetupId::new(posted.text("setup")).map_err(Refused::Unreadable)?;
    let head = app.head()?;
    let was = head
        .project
        .days
        .iter()
        .find(|known| known.id == day)
        .cloned();
    let was = was.ok_or_else(|| Refused::Gone(format!("day `{day}`")))?;
    if !posted.text("at").is_empty() {
        let at: ClockTime = posted.text("at").parse().map_err(Refused::Unreadable)?;
        let at = after_midnight(at, Some(&was));
        pin_down(
            &app,
            &Pin {
                day,
                setup,
                minutes: at.minutes(),
            },
        )
        .await?;
        return Ok(posted.back());
    }
    let mut next = was.clone();
    for slot in next.order.iter_mut().filter(|slot| slot.setup == setup) {
        slot.pinned = false;
    }
    app.edit(&Edit::change_of(&was, &next))?;
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
    let stamp_s = steps::now().0 / 1000;
    let text = app.with_job(|job| {
        let mut clocks = Vec::new();
        for one in &report.days {
            clocks.push((&one.plan, job.instants(&one.plan.day)?));
        }
        let days: Vec<schedule::CalendarDay> = clocks
            .iter()
            .map(|(plan, utc)| schedule::CalendarDay { plan, utc })
            .collect();
        Ok(schedule::calendar(&days, &shell::called(&head), stamp_s))
    })?;
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
        let mut project = Project::default();
        let call = "16:00".parse().expect("a clock");
        project.days.push(Day::new(
            DayId::new("d").expect("an id"),
            "2026-11-13".parse().expect("a date"),
            call,
        ));
        let options = asked.options(&project).expect("options");
        assert_eq!(
            options.now.map(|now| now.at.to_string()).as_deref(),
            Some("01:20 (+1)")
        );
        assert_eq!(options.day.as_deref(), Some("d"));
        let wrong = Asked {
            now: Some("soon".into()),
            ..Asked::default()
        };
        assert!(
            wrong
                .options(&project)
                .is_err_and(|says| says.contains("clock time"))
        );
    }
}
