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
    practice: &Practice,
    notes: &mut Notes,
) -> Option<View> {
    let (camera, focal) = (kit.camera?, kit.set.focal_mm?);
    let brief = &project.brief;
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
    let optics = setup.optics.as_ref()?;
    let room = optics.room_m.filter(|room| METRES.check(*room).is_ok());
    let subject_m = match optics.subject_m {
        Some(subject) => notes.kept(METRES.check(subject))?,
        None => framing_m.min(room.unwrap_or(f64::INFINITY)),
    };
    let field = |side| lens::field_m(side, focal, subject_m);
    let field_m = [notes.kept(field(across))?, notes.kept(field(up))?];
    let framing = framing::called(field_m[1], practice);
    if optics.subject_m.is_some() && framing != setup.framing {
        notes.say(Finding::problem(
            "other-framing",
            format!(
                "at {} m the frame holds {} m, which is {}; {} is had from {} m",
                num(subject_m, 2),
                num(field_m[1], 2),
                framing.word(),
                setup.framing.word(),
                num(framing_m, 2)
            ),
        ));
    }
    let wanted = optics.subject_m.unwrap_or(framing_m);
    if let Some(room_m) = room
        && wanted > room_m * SLACK
    {
        let height = match optics.subject_m {
            // From a distance that is said, what it would hold there is what is wanted.
            Some(_) => field_m[1],
            None => framing::height_m(setup.framing, practice),
        };
        if let Some(focal_mm) = notes.kept(lens::focal_mm(up, room_m, height)) {
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
                None => Finding::problem(
                    "no-room",
                    format!("{says}, and no lens of the kit is that short"),
                ),
            });
        }
    }
    // The camera can't stand farther off than the room allows.
    let stands = subject_m.min(room.unwrap_or(f64::INFINITY));
    if let Some(close) = kit.lens.and_then(|lens| lens.close_focus_m)
        && stands < close
    {
        let height = notes.kept(lens::field_m(up, focal, close));
        let there = height.map_or_else(String::new, |height| {
            format!(
                "; from there the framing is {}",
                framing::called(height, practice).word()
            )
        });
        notes.say(Finding::problem(
            "too-near",
            format!(
                "the subject is {} m away, nearer than the {} m the lens focuses from{there}",
                num(stands, 2),
                num(close, 2)
            ),
        ));
    }
    let circle_mm = camera
        .circle_mm
        .unwrap_or(delivered.diagonal_mm() / focus::CIRCLES_PER_DIAGONAL);
    let hyperfocal_m = kit.set.f_number.and_then(|n| {
        notes
            .kept(focus::hyperfocal_mm(focal, n, circle_mm))
            .map(|mm| mm / 1000.0)
    });
    let depth = kit
        .set
        .f_number
        .and_then(|n| notes.kept(focus::depth(focal, n, circle_mm, subject_m * 1000.0)));
    Some(View {
        angle_deg: [
            notes.kept(lens::angle_deg(across, focal))?,
            notes.kept(lens::angle_deg(up, focal))?,
            notes.kept(lens::angle_deg(delivered.diagonal_mm(), focal))?,
        ],
        delivered,
        enlargement,
        subject_m,
        subject_assumed: optics.subject_m.is_none(),
        framing_m,
        field_m,
        framing,
        circle_mm,
        hyperfocal_m,
        depth,
    })
}

/// Tells of a recorded part whose shape is not that of its picture (a lens that squeezes, or a slip).
fn shape(camera: &Camera, notes: &mut Notes) {
    let [w, h] = camera.sensor_mm;
    let [across, up] = camera.frame.map(f64::from);
    let stretch = (w / h) / (across / up);
    // Two per cent is more than makers round their sensor sizes by.
    if (stretch - 1.0).abs() > 0.02 {
        notes.say(
            Finding::warning(
                "sensor-shape",
                format!(
                    "{} x {} mm of sensor and {across} x {up} pixels have different shapes",
                    num(w, 2),
                    num(h, 2)
                ),
            )
            .mended_by("check them, or expect a squeezed picture"),
        );
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
