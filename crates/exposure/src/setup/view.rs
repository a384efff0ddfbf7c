//! What a setup's lens shows and holds sharp, and whether the camera can stand there.

use super::Notes;
use super::camera::Resolved;
use crate::error::METRES;
use crate::focus::{self, Depth};
use crate::framing;
use crate::lens::{self, Delivered};
use model::Practice;
use model::text::number as num;
use model::{Camera, Finding, Framing, KitId, Project, Setup};
use serde::Serialize;

/// How much nearer or farther than needed still counts as there.
const SLACK: f64 = 1.02;

/// What the lens shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct View {
    /// The part of the sensor that reaches the finished picture.
    pub delivered: Delivered,
    /// How many times that part is enlarged in the finished picture; below 1 it is reduced.
    pub enlargement: f64,
    /// Angle of view of that part, degrees: across, up, diagonal.
    pub angle_deg: [f64; 3],
    /// From the sensor to the subject, metres: as said, else from where the framing is had, held
    /// within the room.
    pub subject_m: f64,
    /// Whether the distance was assumed.
    pub subject_assumed: bool,
    /// From where the framing is had, metres.
    pub framing_m: f64,
    /// What the frame holds at the subject, metres: across and up.
    pub field_m: [f64; 2],
    /// What the trade calls that.
    pub framing: Framing,
    /// Circle of confusion, millimetres.
    pub circle_mm: f64,
    /// Hyperfocal distance, metres, when the f-number is known.
    pub hyperfocal_m: Option<f64>,
    /// Depth of field at the subject, when the f-number is known.
    pub depth: Option<Depth>,
}

/// A picture enlarged by more than this is told of (common practice).
const ENLARGED: f64 = 1.1;

pub(super) fn look(
    project: &Project,
    setup: &Setup,
    kit: &Resolved,
    notes: &mut Notes,
) -> Option<View> {
    let (camera, focal, optics) = (kit.camera?, kit.set.focal_mm?, setup.optics.as_ref()?);
    let (brief, practice) = (&project.brief, &project.practice);
    let aspect = brief.active.unwrap_or(brief.frame);
    let part = lens::delivered(camera.sensor_mm, camera.frame, aspect, brief.fit);
    let delivered = notes.kept(part)?;
    shape(camera, notes);
    let active = lens::active_px(brief.frame, brief.active);
    let enlargement = lens::enlargement(&delivered, active, brief.fit);
    if enlargement > ENLARGED {
        let [across, up] = delivered.even_px;
        notes.say(Finding::warning("enlarged", format!(
            "only {across} x {up} recorded pixels are delivered, so the picture is enlarged {} times", num(enlargement, 2)
        )));
    }
    let [across, up] = delivered.mm;
    let framing_m = notes.kept(framing::distance_m(setup.framing, up, focal, practice))?;
    let room = optics.room_m.filter(|room| METRES.check(*room).is_ok());
    let room_m = room.unwrap_or(f64::INFINITY);
    let subject_m = match optics.subject_m {
        Some(subject) => notes.kept(METRES.check(subject))?,
        None => framing_m.min(room_m),
    };
    let field = |side| lens::field_m(side, focal, subject_m);
    let field_m = [notes.kept(field(across))?, notes.kept(field(up))?];
    let angle = |side| lens::angle_deg(side, focal);
    let circle_mm = camera
        .circle_mm
        .unwrap_or(delivered.diagonal_mm() / focus::CIRCLES_PER_DIAGONAL);
    let mut view = View {
        angle_deg: [
            notes.kept(angle(across))?,
            notes.kept(angle(up))?,
            notes.kept(angle(delivered.diagonal_mm()))?,
        ],
        delivered,
        enlargement,
        subject_m,
        subject_assumed: optics.subject_m.is_none(),
        framing_m,
        field_m,
        framing: framing::called(field_m[1], practice),
        circle_mm,
        hyperfocal_m: None,
        depth: None,
    };
    in_room(project, setup, kit, &view, room_m, notes);
    too_near(practice, kit, &view, room_m, notes);
    if let Some(n) = kit.set.f_number {
        let hyperfocal = notes.kept(focus::hyperfocal_mm(focal, n, circle_mm));
        view.hyperfocal_m = hyperfocal.map(|mm| mm / 1000.0);
        view.depth = notes.kept(focus::depth(focal, n, circle_mm, subject_m * 1000.0));
    }
    Some(view)
}

/// Tells of another framing than is wanted, and of a camera that would stand beyond the room.
fn in_room(
    project: &Project,
    setup: &Setup,
    kit: &Resolved,
    view: &View,
    room_m: f64,
    notes: &mut Notes,
) {
    // From a distance that is said, what it would hold there is what is wanted.
    let (wanted, height) = if view.subject_assumed {
        let height = framing::height_m(setup.framing, &project.practice);
        (view.framing_m, height)
    } else {
        (view.subject_m, view.field_m[1])
    };
    if !view.subject_assumed && view.framing != setup.framing {
        let says = format!(
            "at {} m the frame holds {} m, which is {}; {} is had from {} m",
            num(view.subject_m, 2),
            num(view.field_m[1], 2),
            view.framing.word(),
            setup.framing.word(),
            num(view.framing_m, 2)
        );
        notes.say(Finding::problem("other-framing", says));
    }
    if wanted <= room_m * SLACK {
        return;
    }
    let Some(focal_mm) = notes.kept(lens::focal_mm(view.delivered.mm[1], room_m, height)) else {
        return;
    };
    let says = format!(
        "the camera would stand {} m away and has {} m; {} mm or shorter does it",
        num(wanted, 2),
        num(room_m, 2),
        num(focal_mm, 1)
    );
    notes.say(match lens_for(project, kit, focal_mm) {
        Some((lens, mm)) => Finding::problem("no-room", says)
            .mended_by(format!("use `{lens}` at {} mm", num(mm, 1)))
            .about(&lens),
        None => {
            let says = format!("{says}, and no lens of the kit is that short");
            Finding::problem("no-room", says)
        }
    });
}

/// Tells of a subject nearer than the lens focuses. The camera can't stand farther off than the room allows.
fn too_near(practice: &Practice, kit: &Resolved, view: &View, room_m: f64, notes: &mut Notes) {
    let stands = view.subject_m.min(room_m);
    let close = kit.lens.and_then(|lens| lens.close_focus_m);
    let (Some(close), Some(focal)) = (close.filter(|close| stands < *close), kit.set.focal_mm)
    else {
        return;
    };
    let height = notes.kept(lens::field_m(view.delivered.mm[1], focal, close));
    let there = height.map_or_else(String::new, |height| {
        let framing = framing::called(height, practice).word();
        format!("; from there the framing is {framing}")
    });
    let says = format!(
        "the subject is {} m away, nearer than the {} m the lens focuses from{there}",
        num(stands, 2),
        num(close, 2)
    );
    notes.say(Finding::problem("too-near", says));
}

/// Tells of a recorded part whose shape is not that of its picture (a lens that squeezes, or a slip).
fn shape(camera: &Camera, notes: &mut Notes) {
    let [w, h] = camera.sensor_mm;
    let [across, up] = camera.frame.map(f64::from);
    let stretch = (w / h) / (across / up);
    // Two per cent is more than makers round their sensor sizes by.
    if (stretch - 1.0).abs() > 0.02 {
        let says = format!(
            "{} x {} mm of sensor and {across} x {up} pixels have different shapes",
            num(w, 2),
            num(h, 2)
        );
        let found = Finding::warning("sensor-shape", says);
        notes.say(found.mended_by("check them, or expect a squeezed picture"));
    }
}

/// The lens that reaches down to `focal_mm` by the least change: the one that is on, else the kit's
/// longest that does; with the longest focal length of it that does, millimetres.
fn lens_for(project: &Project, kit: &Resolved, focal_mm: f64) -> Option<(KitId, f64)> {
    let lenses = project
        .kit
        .iter()
        .filter_map(|item| Some((item, item.lens.as_ref()?)));
    let longest = |lens: &model::Lens| lens.focal_mm[1].min(focal_mm);
    lenses
        .filter(|(_, lens)| lens.focal_mm[0] <= focal_mm)
        .max_by(|(_, a), (_, b)| {
            let on = |lens: &model::Lens| kit.lens.is_some_and(|on| std::ptr::eq(on, lens));
            on(a).cmp(&on(b)).then(longest(a).total_cmp(&longest(b)))
        })
        .map(|(item, lens)| (item.id.clone(), longest(lens)))
}
