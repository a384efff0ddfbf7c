//! What the pages ask the steps for, each kept in the memo by the parts of the document it comes from.

use crate::app::{App, Head};
use crate::memo::{Answer, Part};
use crate::text::said;
use crate::work::Lane;
use maud::{Markup, html};
use model::Date;
use std::sync::Arc;
use steps::{
    Covered, DayOptions, DaysReport, KitOptions, KitReport, PlaceSky, ScoutOptions, Scouted,
    SkyCurve,
};

/// Light, power, cards, packing and cautions; `by_air` people share the kit on a flight.
pub async fn kit(app: &Arc<App>, head: &Head, by_air: Option<u32>) -> Answer<KitReport> {
    let extra = by_air.map_or_else(String::new, |people| people.to_string());
    app.ask(
        head,
        "kit",
        &extra,
        ("Working out light, power and cards", Lane::Quick),
        &[Part::Song, Part::Night, Part::Setups, Part::Brief],
        move |job, progress| {
            let options = KitOptions {
                by_air,
                ..KitOptions::default()
            };
            job.kit(&options, progress)
        },
    )
    .await
}

/// The days, solved.
pub async fn days(app: &Arc<App>, head: &Head) -> Answer<DaysReport> {
    ask_days(app, head, "days", DayOptions::default()).await
}

/// The days as `options` ask, kept under `name`.
pub async fn ask_days(
    app: &Arc<App>,
    head: &Head,
    name: &'static str,
    options: DayOptions,
) -> Answer<DaysReport> {
    let extra = format!("{options:?}");
    app.ask(
        head,
        name,
        &extra,
        ("Planning the day", Lane::Quick),
        &[Part::Song, Part::Night, Part::Setups, Part::Wishes],
        move |job, progress| job.day(&options, progress),
    )
    .await
}

/// What there is to cut to, as planned and as shot.
pub async fn coverage(app: &Arc<App>, head: &Head) -> Answer<Covered> {
    app.ask(
        head,
        "coverage",
        "",
        ("Counting what there is to cut to", Lane::Long),
        &[
            Part::Song,
            Part::Setups,
            Part::Wishes,
            Part::Takes,
            Part::Brief,
        ],
        |job, progress| job.coverage(None, progress).map(|(covered, _)| covered),
    )
    .await
}

/// The sky over every place, on `date` or on the days of the plan.
pub async fn skies(
    app: &Arc<App>,
    head: &Head,
    date: Option<Date>,
) -> Answer<(Vec<PlaceSky>, Vec<model::Finding>)> {
    let extra = date.map(|date| date.to_string()).unwrap_or_default();
    app.ask(
        head,
        "skies",
        &extra,
        ("Looking up the sky", Lane::Quick),
        &[Part::Night],
        move |job, _| job.skies(None, date, None),
    )
    .await
}

/// The sky over every place as curves, on `date` or on the days of the plan.
pub async fn sky_curves(app: &Arc<App>, head: &Head, date: Option<Date>) -> Answer<Vec<SkyCurve>> {
    let extra = date.map(|date| date.to_string()).unwrap_or_default();
    app.ask(
        head,
        "sky-curves",
        &extra,
        ("Drawing the sky", Lane::Quick),
        &[Part::Night],
        move |job, _| job.sky_curves(date),
    )
    .await
}

/// What is known of the places by their photographs.
pub async fn scouted(app: &Arc<App>, head: &Head) -> Answer<Scouted> {
    app.ask(
        head,
        "scouted",
        "",
        ("Looking at the places", Lane::Quick),
        &[Part::Night],
        |job, progress| job.scout(&[], &ScoutOptions::default(), progress),
    )
    .await
}

/// What stands where a figure is still being worked out, was stopped, or can't be had.
pub fn waiting<T>(answer: &Answer<T>, what: &str, token: &str) -> Markup {
    html! {
        @match answer {
            Answer::Ready(_) => {}
            Answer::Working(_) => { p.faint role="status" { "Working out " (what) " …" } }
            Answer::Failed(why) => { p.warn { (said(why)) } }
            Answer::Stopped(_) => {
                form.row method="post" action="/works/go-on" {
                    input type="hidden" name="token" value=(token);
                    p { "Working out " (what) " was stopped." }
                    button.quiet { "Go on" }
                }
            }
        }
    }
}
