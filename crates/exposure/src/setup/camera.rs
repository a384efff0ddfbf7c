//! Camera, lens and filters of a setup, with what is assumed where nothing is said.

use super::Notes;
use crate::closing::Reach;
use crate::exposure::Taking;
use crate::focus;
use model::text::number as num;
use model::{Camera, Finding, FrameRate, KitId, KitItem, Lens, Optics, Project, Setup};
use serde::Serialize;

/// The camera as it is set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CameraSet {
    /// Exposure index.
    pub iso: Option<f64>,
    /// T-stop.
    pub t_stop: Option<f64>,
    /// f-number, which depth of field goes by.
    pub f_number: Option<f64>,
    /// Focal length, millimetres.
    pub focal_mm: Option<f64>,
    /// Shutter angle, degrees of 360.
    pub shutter_deg: f64,
    /// The camera's rate.
    pub rate: FrameRate,
    /// The rate it is shown at.
    pub shown_rate: FrameRate,
    /// How long one exposure lasts, seconds.
    pub exposure_s: Option<f64>,
    /// Lost in filters, stops.
    pub filter_stops: f64,
    /// Shift of colour by filters, mired; positive warms.
    pub filter_mired: f64,
    /// The light that is correct at these settings, lux.
    pub correct_lux: Option<f64>,
    /// What of these the setup does not say and was assumed, by field name.
    pub assumed: Vec<&'static str>,
}

/// The kit of a setup, found in the document.
pub(super) struct Resolved<'a> {
    pub set: CameraSet,
    pub camera: Option<&'a Camera>,
    pub lens: Option<&'a Lens>,
    /// All that exposure needs, when all of it is known and good.
    pub taking: Option<Taking>,
    pub reach: Reach,
}

/// The item `id`, or a finding that it is not there.
pub(super) fn item<'a>(project: &'a Project, id: &KitId, notes: &mut Notes) -> Option<&'a KitItem> {
    let item = project.item(id);
    if item.is_none() {
        notes.say(Finding::problem("unknown-item", format!("`{id}` is not in the kit")).about(id));
    }
    item
}

/// What `table` says of the item `id`, or a finding that it says nothing.
fn figures<'a, T>(
    project: &'a Project,
    id: &KitId,
    what: &str,
    table: fn(&KitItem) -> &Option<T>,
    notes: &mut Notes,
) -> Option<&'a T> {
    let figures = table(item(project, id, notes)?).as_ref();
    if figures.is_none() {
        let says = format!("the kit item `{id}` has no {what} figures");
        notes.say(Finding::unknown("no-figures", says).about(id));
    }
    figures
}

/// The figures of the light `id`.
pub(super) fn light<'a>(
    project: &'a Project,
    id: &KitId,
    notes: &mut Notes,
) -> Option<&'a model::Light> {
    figures(project, id, "light", |item| &item.light, notes)
}

pub(super) fn resolve<'a>(project: &'a Project, setup: &Setup, notes: &mut Notes) -> Resolved<'a> {
    let practice = &project.practice;
    let optics = setup.optics.as_ref();
    if optics.is_none() {
        let says = "the setup names no camera, so only its light is computed";
        notes.say(Finding::unknown("no-camera", says));
    }
    let camera = optics.map(|optics| &optics.camera);
    let camera = camera.and_then(|id| figures(project, id, "camera", |item| &item.camera, notes));
    let lens = optics.and_then(|optics| optics.lens.as_ref());
    let lens = lens.and_then(|id| figures(project, id, "lens", |item| &item.lens, notes));
    let mut set = settings(project, setup, camera, lens);
    if optics.is_some() {
        unsaid(&set, notes);
    }
    (set.filter_stops, set.filter_mired) = filters(project, setup, notes);
    let taking = set.iso.zip(set.t_stop).map(|(iso, t_stop)| Taking {
        iso,
        t_stop,
        shutter_deg: set.shutter_deg,
        rate: set.rate,
        filter_stops: set.filter_stops,
        constant_c: practice.meter_c,
    });
    set.correct_lux = taking.and_then(|taking| notes.kept(taking.correct_lux()));
    if let Some(optics) = optics {
        within_limits(optics, camera, lens, set.rate, notes);
    }
    Resolved {
        taking: taking.filter(|_| set.correct_lux.is_some()),
        set,
        camera,
        lens,
        reach: Reach {
            base_iso: camera.map_or_else(Vec::new, |camera| camera.base_iso.clone()),
            least_iso: Some(f64::from(practice.least_iso)),
            most_iso: camera.and_then(|camera| camera.most_iso),
            widest_t: lens.map(|lens| lens.t_stop),
            narrowest_t: lens.and_then(|lens| lens.narrowest_t),
            least_shutter_deg: Some(practice.least_shutter_deg),
            rates_fps: rates(camera),
            mains_hz: None,
        },
    }
}

/// What is set, and what is assumed where nothing is said; filters not yet counted.
fn settings(
    project: &Project,
    setup: &Setup,
    camera: Option<&Camera>,
    lens: Option<&Lens>,
) -> CameraSet {
    let mut assumed = Vec::new();
    let optics = setup.optics.as_ref();
    let mut or = |field: &'static str, said: fn(&Optics) -> Option<f64>, otherwise: Option<f64>| {
        let said = optics.and_then(said);
        if said.is_none() && otherwise.is_some() {
            assumed.push(field);
        }
        said.or(otherwise)
    };
    let base_iso = camera.and_then(|camera| camera.base_iso.first());
    let iso = or(
        "iso",
        |optics| optics.iso.map(f64::from),
        base_iso.map(|iso| f64::from(*iso)),
    );
    let widest = lens.map(|lens| lens.t_stop);
    let t_stop = or("t_stop", |optics| optics.t_stop, widest);
    // Of a zoom whose focal length is not said, the shortest.
    let shortest = lens.map(|lens| lens.focal_mm[0]);
    let focal_mm = or("focal_mm", |optics| optics.focal_mm, shortest);
    let usual_deg = project.practice.shutter_deg;
    let shutter_deg = or("shutter_deg", |optics| optics.shutter_deg, Some(usual_deg));
    let shutter_deg = shutter_deg.unwrap_or(usual_deg);
    let rate = setup.camera_rate(project.brief.rate);
    if setup.shot_rate.is_none() {
        assumed.push("rate");
    }
    CameraSet {
        iso,
        t_stop,
        f_number: t_stop
            .map(|t| lens.map_or(t, |lens| focus::f_number(t, lens.t_stop, lens.f_number))),
        focal_mm,
        shutter_deg,
        rate,
        shown_rate: project.brief.rate,
        exposure_s: crate::exposure::exposure_s(shutter_deg, rate.fps()).ok(),
        filter_stops: 0.0,
        filter_mired: 0.0,
        correct_lux: None,
        assumed,
    }
}

/// Tells of what is neither set nor to be assumed.
fn unsaid(set: &CameraSet, notes: &mut Notes) {
    for (value, what, who, left_out) in [
        (set.iso, "ISO", "the camera states no base ISO", "exposure"),
        (set.t_stop, "T-stop", "no lens states one", "exposure"),
        (
            set.focal_mm,
            "focal length",
            "no lens states one",
            "the view",
        ),
    ] {
        if value.is_none() {
            let says = format!("no {what} is set, and {who}, so {left_out} is not computed");
            notes.say(Finding::unknown("unsaid", says));
        }
    }
}

/// Frames a second a camera is expected to have where it does not list its own (common practice).
const RATES_FPS: [f64; 17] = [
    12.0, 16.0, 18.0, 20.0, 24.0, 25.0, 30.0, 36.0, 40.0, 48.0, 50.0, 60.0, 72.0, 75.0, 96.0,
    100.0, 120.0,
];

/// The rates the camera lists, or the usual ones.
fn rates(camera: Option<&Camera>) -> Vec<f64> {
    let listed: Vec<f64> = camera
        .iter()
        .flat_map(|camera| &camera.recordings)
        .map(|recording| recording.rate.fps())
        .collect();
    if listed.is_empty() {
        RATES_FPS.to_vec()
    } else {
        listed
    }
}

/// What the filters take together, stops and mired.
fn filters(project: &Project, setup: &Setup, notes: &mut Notes) -> (f64, f64) {
    let (mut stops, mut mired) = (0.0, 0.0);
    for id in &setup.filters {
        let Some(filter) = figures(project, id, "filter", |item| &item.filter, notes) else {
            continue;
        };
        stops += filter.stops;
        mired += filter.mired.unwrap_or(0.0);
        if filter.diffusion {
            let says = format!(
                "`{id}` spreads light into the shadows, so the background reads lighter than computed"
            );
            notes.say(Finding::note("diffusion", says).about(id));
        }
    }
    (stops, mired)
}

/// Tells of settings that camera or lens do not have.
fn within_limits(
    optics: &Optics,
    camera: Option<&Camera>,
    lens: Option<&Lens>,
    rate: FrameRate,
    notes: &mut Notes,
) {
    if let Some(camera) = camera
        && !camera.recordings.is_empty()
        && camera.recordings.iter().all(|way| way.rate != rate)
    {
        let says = format!(
            "`{}` lists no recording at {} frames a second",
            optics.camera,
            num(rate.fps(), 3)
        );
        notes.say(Finding::problem("no-such-rate", says).about(&optics.camera));
    }
    if let (Some(iso), Some(most)) = (optics.iso, camera.and_then(|camera| camera.most_iso))
        && iso > most
    {
        let says = format!("ISO {iso} is more than the {most} wanted of the camera at most");
        notes.say(Finding::warning("beyond-camera", says));
    }
    let Some(lens) = lens else { return };
    if let Some(t) = optics.t_stop
        && (t < lens.t_stop || lens.narrowest_t.is_some_and(|narrowest| t > narrowest))
    {
        notes.say(beyond_lens("T-stop", t, lens.t_stop, lens.narrowest_t));
    }
    let [shortest, longest] = lens.focal_mm;
    if let Some(focal) = optics.focal_mm
        && !(shortest..=longest).contains(&focal)
    {
        notes.say(beyond_lens("focal length", focal, shortest, Some(longest)));
    }
}

/// A setting the lens does not have.
fn beyond_lens(what: &str, value: f64, least: f64, most: Option<f64>) -> Finding {
    let range = most.map_or_else(
        || format!("starts at {}", num(least, 2)),
        |most| format!("goes from {} to {}", num(least, 2), num(most, 2)),
    );
    let says = format!("a {what} of {} is set, and the lens {range}", num(value, 2));
    Finding::problem("beyond-lens", says)
}
