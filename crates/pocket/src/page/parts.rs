//! The four parts of the page, and what opens over them.

use super::{data, time};
use crate::sketch::{called, sketch};
use crate::view::{BatteryView, Care, Contact, Pocket, SetupView};
use maud::{Markup, html};
use model::Finding;

/// One setup at a time: how it is set, what it sounds like, its passes.
pub(super) fn shoot(pocket: &Pocket, aspect: f64) -> Markup {
    html! {
        section #shoot aria-labelledby="shoot-title" {
            @if pocket.setups.is_empty() {
                h2 #shoot-title tabindex="-1" { "Shoot" }
                p { "There is no setup in this day." }
            } @else {
                div .turn {
                    button #back type="button" aria-label="Setup before" { "←" }
                    div { h2 #shoot-title tabindex="-1" { "Shoot" } span #which {} }
                    button #on type="button" aria-label="Next setup" { "→" }
                }
            }
            @for setup in &pocket.setups { (setup_of(pocket, setup, aspect)) }
        }
    }
}

fn setup_of(pocket: &Pocket, setup: &SetupView, aspect: f64) -> Markup {
    let id = &setup.id;
    let care = pocket
        .care
        .iter()
        .filter(|care| care.finding.setups().any(|known| known == id));
    html! {
        article id=(format!("setup-{id}")) aria-labelledby=(format!("name-{id}")) {
            h2 id=(format!("name-{id}")) { (setup.name) }
            p { (setup.place) @if !setup.state.is_empty() { " · " (setup.state) } @if setup.must { " · must" } }
            @if let Some(shoot) = &setup.shoot {
                p .when {
                    "shoot " b { (time(shoot)) }
                    @if let Some(end) = &setup.end { " to " (time(end)) }
                    " " @if let Some(at_s) = shoot.at_s { small data-in=(at_s) {} }
                }
            }
            p .status id=(format!("status-{id}")) {}
            @if !setup.action.is_empty() { p { (setup.action) } }
            div .pictures {
                figure { (sketch(setup.framing, aspect)) figcaption { (called(setup.framing)) @if !setup.part.is_empty() { ", " (setup.part) } } }
                @if let Some(picture) = &setup.picture {
                    figure { img alt=(picture.says) src=(data("image/jpeg", &picture.jpeg)); figcaption { (picture.says) } }
                }
            }
            @for caution in &setup.cautions { p .mind { (caution) } }
            div .row {
                button type="button" data-slate=(id) { "Slate" @if !setup.sounds.is_empty() { " and play" } }
            }
            div id=(format!("work-{id}")) {}
            h3 { "How it is set" }
            dl .facts {
                @for (name, value) in &setup.settings { dt { (name) } dd { (value) } }
                @if !setup.people.is_empty() { dt { "with" } dd { (setup.people.join(", ")) } }
            }
            @if !setup.lights.is_empty() {
                h3 { "Lights" }
                ul .list { @for light in &setup.lights { li { (light) } } }
            }
            @if !setup.sounds.is_empty() {
                h3 { "Playback" }
                @for one in &setup.sounds {
                    @if let Some(sound) = pocket.sounds.get(one.sound) {
                        p { (one.name) ", " (length(sound.length_s)) @if sound.speed_text != "1" { ", at " (sound.speed_text) " times its speed, pitch " @if sound.pitch_kept { "kept" } @else { "following" } } }
                        div .row {
                            button type="button" data-sound=(one.sound) aria-pressed="false" { b aria-hidden="true" { "▶" } " " (one.name) }
                        }
                    }
                }
            }
            @let care: Vec<&Care> = care.collect();
            @if !care.is_empty() {
                h3 { "Calls for care" }
                ul .list { @for one in care { li { b { (one.name) } ". " (plain(&one.finding.says)) } } }
                p { small { "What is usually done about it stands under Care." } }
            }
        }
    }
}

/// A finding: its sentence, and what helps.
fn finding(finding: &Finding) -> Markup {
    html! {
        p { (plain(&finding.says)) }
        @if !finding.mends.is_empty() { ul { @for how in &finding.mends { li { (plain(how)) } } } }
    }
}

/// A sentence without the marks around ids.
fn plain(says: &str) -> String {
    says.replace('`', "")
}

/// Minutes and seconds.
fn length(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// The day: its lines, the sky, what to drop, batteries.
pub(super) fn day(pocket: &Pocket) -> Markup {
    html! {
        section #day aria-labelledby="day-title" {
            h2 #day-title tabindex="-1" { "Day" }
            @if let Some(date) = pocket.date { p { time datetime=(date) data-date=(date) { (date) } } }
            @if let Some(call) = &pocket.call {
                p .when { "call " b { (time(call)) } @if let Some(wrap) = &pocket.wrap { ", wrap " b { (time(wrap)) } } @if let Some(latest) = &pocket.latest_wrap { ", at the latest " (time(latest)) } }
            }
            @for note in &pocket.notes { div .mind { (finding(note)) } }
            ol .list.lines aria-label="Setups in order" {
                @for setup in &pocket.setups { (line(setup)) }
            }
            @if pocket.call.is_some() {
                button #meal .tick type="button" aria-pressed="false" {
                    b aria-hidden="true" {} "Meal had "
                    @if let Some([from, to]) = &pocket.meal { small { (time(from)) " to " (time(to)) } }
                }
            }
            @if !pocket.left_out.is_empty() {
                h3 { "Not in this day" }
                ul .list { @for one in &pocket.left_out { li { b { (one.name) } @if !one.why.is_empty() { ": " (one.why) } } } }
            }
            @if !pocket.sky.is_empty() {
                h3 { "Sky over " (pocket.sky_over) }
                ul .times {
                    @for moment in &pocket.sky {
                        li { (time(&moment.at)) " " span { (moment.what) } " " @match moment.at.at_s { Some(at_s) => small data-in=(at_s) {}, None => small {} } }
                    }
                }
            }
            @if !pocket.late.is_empty() {
                h3 { "When it gets late" }
                @for line in &pocket.late {
                    details {
                        summary { (time(&line.at)) ", before " (line.next) }
                        ul { @for (minutes, what) in &line.cells { li { b { (minutes) " min late: " } (what) } } }
                    }
                }
            }
            @if !pocket.batteries.is_empty() {
                h3 { "Batteries" }
                @for battery in &pocket.batteries { (battery_of(battery)) }
            }
        }
    }
}

fn line(setup: &SetupView) -> Markup {
    let id = &setup.id;
    html! {
        li {
            a href=(format!("#setup-{id}")) {
                @match setup.shoot.as_ref().or(setup.start.as_ref()) { Some(clock) => (time(clock)), None => span {} }
                " " b { (setup.name) } " "
                span { small { (setup.place)
                    @if setup.travel_minutes > 0 { ", " (setup.travel_minutes) " min on the way" }
                    @if let Some(start) = &setup.start { ", rig from " (time(start)) }
                    @if let Some(room) = setup.room_minutes { ", " (room) " min of room" } } }
                span .status id=(format!("line-{id}")) {}
            }
        }
    }
}

fn battery_of(battery: &BatteryView) -> Markup {
    html! {
        div .list {
            p { b { (battery.name) } @if battery.count > 1 { " × " (battery.count) } }
            @for (at, what) in &battery.changes { p { small { "planned " (time(at)) " " (what) } } }
            ul .notes id=(format!("swaps-{}", battery.id)) {}
            div .row { button type="button" data-swap=(battery.id) aria-label=(format!("{} changed", battery.name)) { "Changed" } }
        }
    }
}

/// What to mind, and whom to reach.
pub(super) fn care(pocket: &Pocket) -> Markup {
    html! {
        section #care aria-labelledby="care-title" {
            h2 #care-title tabindex="-1" { "Care" }
            p { small { "It warns, it does not rule: local codes, the venue and qualified people decide." } }
            h3 { "Whom to reach" }
            ul .list { @for person in &pocket.contacts { (person_of(person)) } }
            h3 { "Places" }
            ul .list {
                @for place in &pocket.places {
                    li {
                        p { b { (place.name) } }
                        @for (name, said) in [("", &place.address), ("hospital: ", &place.hospital), ("leave: ", &place.leave)] {
                            @if !said.is_empty() { p { (name) (said) } }
                        }
                        @for caution in &place.cautions { p .mind { (caution) } }
                    }
                }
            }
            @if !pocket.care.is_empty() {
                h3 { "What calls for care" }
                @for one in &pocket.care {
                    details {
                        summary { b { (one.name) } @if !one.place.is_empty() { " · " (one.place) } }
                        (finding(&one.finding))
                        @if !one.ask.is_empty() { p { small { (one.ask) } } }
                    }
                }
            }
        }
    }
}

fn person_of(person: &Contact) -> Markup {
    html! {
        li {
            b { (person.name) } @if !person.role.is_empty() { ", " (person.role) }
            @if !person.contact.is_empty() { p { (person.contact) } }
            @if !person.hours.is_empty() { p { small { (person.hours) } } }
        }
    }
}

/// The log, and how it leaves the phone.
pub(super) fn log(pocket: &Pocket) -> Markup {
    html! {
        section #log aria-labelledby="log-title" {
            h2 #log-title tabindex="-1" { "Log" }
            p { b #kept {} }
            p { small #linked {} }
            p { "Give it to the project as a file, or as QR codes that the project reads from pictures of this screen. Giving it twice changes nothing." }
            div .row {
                button #save type="button" { "Save the file" }
                button #share type="button" hidden { "Share" }
                button #show-codes type="button" { "Show QR codes" }
            }
            h3 { "Notes of the day" }
            div #day-notes {}
            div .row { button #day-note type="button" { "Note" } }
            h3 { "Entries, the newest first" }
            ol #entries .entries {}
            p { small { "This phone is " span #device {} @if let Some(day) = &pocket.day { ", day " (day) } ". A file saved on this phone opens without any network." } }
        }
    }
}

/// What opens over the page.
pub(super) fn dialogs() -> Markup {
    html! {
        dialog #note aria-labelledby="note-about" {
            label #note-about for="note-text" {}
            textarea #note-text maxlength="1000" {}
            div .row {
                button #note-leave type="button" { "Leave" }
                button #note-keep type="button" { "Keep" }
            }
        }
        dialog #codes aria-labelledby="code-which" {
            div .turn {
                button #code-back type="button" aria-label="QR code before" { "←" }
                b #code-which {}
                button #code-on type="button" aria-label="Next QR code" { "→" }
            }
            svg #code-picture role="img" { path fill="#000" {} }
            p { "Photograph each one straight on, or take a screenshot." }
            div .row { button #code-close type="button" { "Close" } }
        }
        dialog #slate aria-labelledby="slate-setup" {
            div .between { span #slate-setup {} span #slate-wall {} }
            div .between { span #slate-pass {} span #slate-bar {} }
            div #slate-time role="timer" {}
            div .row {
                button #slate-less type="button" aria-label="One pass less" { "−" }
                button #slate-tick type="button" {}
                button #slate-more type="button" aria-label="One pass more" { "+" }
            }
            div .row #slate-sounds {}
            div .row {
                button #slate-beep type="button" { "Beep" }
                button #slate-close type="button" { "Close" }
            }
        }
    }
}
