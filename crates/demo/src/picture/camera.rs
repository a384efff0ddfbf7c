//! What the camera of one take sees, frame by frame.

use super::counter::{Counter, draw};
use super::figure::{Figure, Lighting, Pose, figure};
use super::frame::{Picture, Plane, Sprite, blur, expose, grain, pan, ripple, set_in};
use super::places::{Scene, bulb_close, drums, laundry, shade, water};
use super::powder::{Throw, throw};
use super::shade::{Light, TUNGSTEN, View, coded_bytes, plate, rgb, sprite};
use crate::compose::Composed;
use crate::dice::Dice;
use crate::takes::{Look, TakePlan};
use crate::truth::{SongTruth, TakeTruth};
use std::f32::consts::TAU;

/// Frame of every take, lying; a take shot upright is drawn upright and stored lying.
pub const FRAME: (usize, usize) = (640, 360);

/// Room around the frame for the camera to move in, pixels to each side.
const MARGIN: usize = 24;

/// How a setup looks.
struct Setup {
    scene: Scene,
    /// Scene point in the middle of the frame, and scene height the frame's height shows.
    middle: (f32, f32),
    tall: f32,
    /// Where the face is, scene units; and the size of a figure unit.
    face: Option<((f32, f32), f32)>,
    key: [f32; 3],
    key_gain: f32,
    ambient: Light,
    /// How far the camera moves, pixels.
    travel: f32,
}

#[rustfmt::skip]
fn setup(id: &str, upright: bool) -> Setup {
    let night = rgb(0.03, 0.036, 0.055);
    let whole = (0.889, 0.5);
    let base = |scene, middle, tall| Setup {
        scene, middle, tall, face: None, key: [0.76, -0.38, 0.53], key_gain: 1.5, ambient: night, travel: 10.0,
    };
    let sung = |scene, face, key, key_gain| Setup { face: Some(face), key, key_gain, ..base(scene, whole, 1.0) };
    match id {
        "launderette-wide" => sung(Scene::Launderette, ((0.80, 0.345), 0.046), [0.68, -0.52, 0.52], 1.5),
        "launderette-close" => Setup {
            travel: 14.0,
            ..sung(Scene::Door, ((0.86, 0.44), 0.225), [0.83, -0.3, 0.47], 1.35)
        },
        "stairs-medium" => {
            let (size, middle, tall) = if upright { (0.115, (0.889, 0.56), 1.45) } else { (0.108, whole, 1.0) };
            Setup {
                middle, tall, ambient: rgb(0.075, 0.105, 0.19),
                ..sung(Scene::Stairs, ((0.87, 0.40), size), [0.78, -0.36, 0.51], 1.25)
            }
        }
        "quay-full" => sung(Scene::Quay, ((0.86, 0.27), 0.05), [0.78, -0.4, 0.48], 1.5),
        "quay-powder" => Setup {
            middle: (0.95, 0.44), tall: 0.72,
            ..sung(Scene::Quay, ((0.93, 0.335), 0.082), [0.76, -0.4, 0.51], 1.7)
        },
        "drum" => base(Scene::Drum, whole, 0.92),
        "water" => base(Scene::Water, whole, 1.0),
        "lamps" => base(Scene::Lamps, whole, 0.95),
        "bulb" => base(Scene::Bulb, whole, 0.9),
        _ => base(Scene::Dark, whole, 1.0),
    }
}

/// One window that turns: which pixels of the plate, and what they show.
struct Drum {
    /// Per plane: position in the plate, ring, turn.
    pixels: [Vec<(u32, u16, u16)>; 3],
    /// The plate under it, at those positions.
    under: [Vec<u8>; 3],
    gain: i32,
    /// Turns a second, and where it starts.
    pace: f32,
    phase: f32,
}

const RINGS: usize = 64;
const TURNS: usize = 1024;

/// The camera of one take, set up.
pub struct Camera<'a> {
    song: &'a SongTruth,
    take: &'a TakeTruth,
    look: Look,
    upright: bool,
    stored: Picture,
    plate: Picture,
    drums: Vec<Drum>,
    laundry: [Vec<u8>; 3],
    water_rows: Option<(f32, f32)>,
    figure: Option<(Figure, (f32, f32))>,
    throws: Vec<Throw>,
    bulb: Option<Sprite>,
    grain: Plane,
    unit_px: f32,
    corner: (f32, f32),
    travel: f32,
    phases: [f32; 4],
}

impl<'a> Camera<'a> {
    /// Sets the camera up for `take`.
    pub fn new(composed: &'a Composed, take: &'a TakePlan) -> Self {
        let truth = &take.truth;
        let mut dice = Dice::new(composed.seed ^ u64::from(truth.number), "camera");
        let seen = setup(&truth.setup, take.upright);
        let (width, height) = if take.upright {
            (FRAME.1, FRAME.0)
        } else {
            FRAME
        };
        // Passes differ a little in size and place, as they do when a person stands there.
        let unit_px = height as f32 / seen.tall * dice.between(0.985, 1.03);
        let middle = (
            seen.middle.0 + dice.between(-0.012, 0.012) * seen.tall,
            seen.middle.1 + dice.between(-0.008, 0.008) * seen.tall,
        );
        let corner = (
            middle.0 - (width / 2 + MARGIN) as f32 / unit_px,
            middle.1 - (height / 2 + MARGIN) as f32 / unit_px,
        );
        let view = View {
            corner,
            unit_px,
            size: (width + 2 * MARGIN, height + 2 * MARGIN),
        };
        let plate = plate(view, |x, y| shade(seen.scene, x, y));
        let drums = drums(seen.scene)
            .iter()
            .map(|drum| Drum::new(*drum, view, &plate, seen.scene, &mut dice))
            .collect();
        let figure = seen.face.map(|((x, y), unit)| {
            let at = ((x - corner.0) * unit_px, (y - corner.1) * unit_px);
            let lighting = Lighting {
                key: seen.key,
                key_light: TUNGSTEN * (seen.key_gain * 1.35),
                ambient: seen.ambient,
            };
            let rows = (height + 2 * MARGIN) as f32 - at.1;
            (figure(unit * unit_px, rows, lighting, truth.state > 0), at)
        });
        let throws = throws(truth, &mut dice);
        let bulb = (seen.scene == Scene::Bulb).then(|| {
            let radius_px = 0.13 * unit_px;
            let side = (radius_px * 4.0) as usize * 2;
            let view = View {
                corner: (-4.0, -4.0),
                unit_px: radius_px,
                size: (side, side),
            };
            sprite(view, bulb_close)
        });
        let mut grain = Plane::filled(width + 64, height + 64, 128);
        for value in &mut grain.data {
            *value = (128.0 + dice.normal() * 1.25).round() as u8;
        }
        Self {
            song: &composed.truth,
            take: truth,
            look: take.look,
            upright: take.upright,
            stored: Picture::black(width, height),
            plate,
            drums,
            laundry: laundry_texture(),
            water_rows: water(seen.scene)
                .map(|(from, to)| ((from - corner.1) * unit_px, (to - corner.1) * unit_px)),
            figure,
            throws,
            bulb,
            grain,
            unit_px,
            corner,
            travel: seen.travel,
            phases: [(); 4].map(|()| dice.unit() * TAU),
        }
    }

    /// Draws frame `index` and appends its planes to `out`, which is emptied first.
    pub fn frame(&mut self, index: u32, out: &mut Vec<u8>) {
        let t = (f64::from(index) / self.take.rate.fps()) as f32;
        for drum in &self.drums {
            drum.turn(t, &self.laundry, &mut self.plate);
        }
        // A slow move of the slider, and the breath of the hands.
        let slide = (t * 0.11 + self.phases[0]).sin();
        let x = MARGIN as f32 + self.travel * slide + 1.3 * (t * 0.83 + self.phases[1]).sin();
        let y = MARGIN as f32
            + 0.3 * self.travel * (t * 0.07 + self.phases[2]).sin()
            + 1.0 * (t * 1.07 + self.phases[3]).sin();
        let mut picture = std::mem::replace(&mut self.stored, Picture::black(2, 2));
        pan(&mut picture, &self.plate, x, y);
        if let Some((from, to)) = self.water_rows {
            self.ripples(&mut picture, (x, y), from - y, to - y, t);
        }
        if let Some((figure, at)) = &self.figure {
            // Nearer things move more: the figure passes over the background.
            let parallax = 1.0 + 0.35 * (figure.unit_px() / 80.0).min(1.0);
            let margin = MARGIN as f32;
            let beside = |at: f32, moved: f32| at - margin - (moved - margin) * parallax;
            let here = (beside(at.0, x), beside(at.1, y));
            let pose = self.pose(here, f64::from(index) / self.take.rate.fps());
            figure.draw(&mut picture, &pose);
        }
        let place = |px: f32, py: f32| {
            let seen = |at: f32, corner: f32, moved: f32| (at - corner) * self.unit_px - moved;
            (seen(px, self.corner.0, x), seen(py, self.corner.1, y))
        };
        for throw in &self.throws {
            throw.draw(&mut picture, t, self.unit_px, place);
        }
        self.hang_bulb(&mut picture, t);
        match self.look {
            Look::Good => {}
            Look::Soft => blur(&mut picture, 5),
            Look::Under => expose(&mut picture, 0.34),
        }
        let salt = index.wrapping_mul(2_654_435_761);
        let from = ((salt >> 8) as usize % 64, (salt >> 20) as usize % 64);
        grain(&mut picture.planes[0], &self.grain, from.0, from.1);
        let counter = Counter {
            take: self.take.number,
            frame: index,
        };
        draw(&mut picture.planes[0], counter);
        if self.upright {
            picture.turned().write_to(out);
        } else {
            picture.write_to(out);
        }
        self.stored = picture;
    }

    /// The bulb of a take of it, swinging.
    fn hang_bulb(&self, picture: &mut Picture, t: f32) {
        let Some(bulb) = &self.bulb else { return };
        let swing = 0.30 * (t * 2.1 + self.phases[0]).sin() * (0.75 + 0.25 * (t * 0.3).cos());
        let (frame, own) = (&picture.planes[0], &bulb.colours[0]);
        let (width, height) = (own.width as f32, own.height as f32);
        let x = frame.width as f32 / 2.0 + swing * self.unit_px - width / 2.0;
        let rise = swing * swing * 0.35 * self.unit_px;
        let y = frame.height as f32 * 0.5 - rise - height / 2.0;
        set_in(picture, bulb, x, y, -swing * 0.5, height / 2.0);
    }

    fn ripples(&self, picture: &mut Picture, corner: (f32, f32), from: f32, to: f32, t: f32) {
        let rows = from.max(0.0) as usize..(to.max(0.0) as usize).min(picture.planes[0].height);
        let close = to - from > picture.planes[0].height as f32;
        ripple(picture, &self.plate, corner, rows, |row| {
            // Waves seem larger and slower towards the camera.
            let near = if close {
                0.35 + 0.65 * (row - from) / (to - from)
            } else {
                ((row - from) / (to - from)).clamp(0.0, 1.0)
            };
            let edge = ((row - from) / 6.0).min((to - row) / 10.0).clamp(0.0, 1.0);
            let wave = (row * (0.62 - 0.3 * near) + t * 2.3).sin()
                + 0.6 * (row * 0.21 - t * 1.4).sin()
                + 0.4 * (row * 1.3 + t * 3.7).sin();
            let heave = (row * 0.33 - t * 1.9).sin() + 0.7 * (row * 0.12 + t * 1.1).sin();
            let size = (0.5 + 2.6 * near) * edge;
            (wave * size, heave * size * 0.7)
        });
    }

    /// How she stands at `take_s`: mouthing the song where it sounds, waiting where it does not.
    fn pose(&self, at: (f32, f32), take_s: f64) -> Pose {
        let t = take_s as f32;
        let [a, b, c, _] = self.phases;
        let idle = ((t * 0.5 + a).sin(), (t * 0.37 + b).sin());
        let blink = {
            // Every three seconds or so, for a tenth.
            let beat = (t + c) / 2.9;
            let late = super::shade::lattice(beat.floor() as i32, self.take.number as i32, 5) * 0.6;
            (0.3 + late..0.3 + late + 0.045).contains(&beat.fract())
        };
        let Some(run) = self.take.runs.iter().find(|run| run.sounds_at(take_s)) else {
            return Pose {
                at,
                head: (0.04 * idle.0, 0.02 * idle.1),
                tilt: 0.02 * idle.0,
                lean: 0.004 * idle.1,
                blink,
                open: 0.0,
                wide: 0.5,
            };
        };
        let song_s = run.song_s_at(take_s);
        let (open, wide) = self.song.mouth_at(song_s);
        // She moves with the beat: a small nod on it, a sway over two bars.
        let beats = &self.song.beats_s;
        let next = beats.partition_point(|beat| *beat <= song_s);
        let phase = match (
            next.checked_sub(1).and_then(|n| beats.get(n)),
            beats.get(next),
        ) {
            (Some(from), Some(to)) => next as f64 - 1.0 + (song_s - from) / (to - from),
            _ => 0.0,
        } as f32;
        let nod = (phase * TAU).cos();
        let sway = (phase * TAU / 8.0 + a).sin();
        let loud = self.loudness(song_s);
        Pose {
            at,
            head: (
                0.07 * loud * sway + 0.03 * idle.0,
                0.024 * loud * nod - 0.035 * open,
            ),
            tilt: 0.055 * loud * sway + 0.02 * idle.1,
            lean: (0.010 * loud * sway + 0.003 * idle.0),
            blink: blink || open > 0.6 && loud > 0.9 && sway > 0.75,
            open,
            wide,
        }
    }

    /// How much the section moves her, 0 to 1.
    fn loudness(&self, song_s: f64) -> f32 {
        self.song
            .sections
            .iter()
            .find(|section| song_s < section.end_s)
            .map_or(0.4, |section| match section.label.as_str() {
                "D" => 1.0,
                "C" => 0.75,
                "B" => 0.6,
                _ => 0.4,
            })
    }
}

/// When powder is thrown: a handful every couple of seconds.
fn throws(truth: &TakeTruth, dice: &mut Dice) -> Vec<Throw> {
    // Alone it is seen from near, and lit for itself.
    let ((x, y), size, strength) = match truth.setup.as_str() {
        "quay-powder" => ((0.93, 0.75), 1.0, 1.7),
        "powder-burst" => ((0.889, 0.86), 1.8, 4.5),
        _ => return Vec::new(),
    };
    let grey = 0.14 * strength;
    let light = TUNGSTEN * strength + rgb(grey, grey, grey);
    let mut at_s = 1.2f32;
    let mut all = Vec::new();
    while f64::from(at_s) < truth.duration_s {
        let side = dice.between(-0.26, 0.26);
        let from = (x + side, y + dice.between(-0.03, 0.08));
        all.push(throw(at_s, from, size, all.len(), light, dice));
        at_s += dice.between(1.1, 2.4) / size;
    }
    all
}

fn laundry_texture() -> [Vec<u8>; 3] {
    let mut planes = [(); 3].map(|()| vec![0; RINGS * TURNS]);
    for n in 0..RINGS * TURNS {
        let (ring, turn) = ((n / TURNS) as f32, (n % TURNS) as f32);
        let light = laundry((ring + 0.5) / RINGS as f32, turn / TURNS as f32);
        for (plane, value) in planes.iter_mut().zip(coded_bytes(light)) {
            plane[n] = value;
        }
    }
    planes
}

impl Drum {
    fn new(
        (x, y, r): (f32, f32, f32),
        view: View,
        plate: &Picture,
        scene: Scene,
        dice: &mut Dice,
    ) -> Self {
        let (mut pixels, mut under) = ([const { Vec::new() }; 3], [const { Vec::new() }; 3]);
        for (index, plane) in plate.planes.iter().enumerate() {
            let unit = view.unit_px * if index == 0 { 1.0 } else { 0.5 };
            let (cx, cy) = ((x - view.corner.0) * unit, (y - view.corner.1) * unit);
            let reach = r * unit * 0.985;
            let span = |middle: f32, most: usize| {
                (middle - reach).max(0.0) as usize
                    ..((middle + reach + 1.0).max(0.0) as usize).min(most)
            };
            for row in span(cy, plane.height) {
                for column in span(cx, plane.width) {
                    let (dx, dy) = (column as f32 + 0.5 - cx, row as f32 + 0.5 - cy);
                    let d = dx.hypot(dy);
                    if d >= reach {
                        continue;
                    }
                    let ring = (((d / reach) * RINGS as f32) as u16).min(RINGS as u16 - 1);
                    let turn = (dy.atan2(dx) / TAU).rem_euclid(1.0) * TURNS as f32;
                    let position = row * plane.width + column;
                    pixels[index].push((position as u32, ring, turn as u16 % TURNS as u16));
                    under[index].push(plane.data[position]);
                }
            }
        }
        let gain = match scene {
            // Drums nearer the bulb are brighter inside.
            Scene::Launderette => 150.0 / (1.0 + 2.2 * (x - 1.06).abs()),
            Scene::Door => 95.0,
            _ => 190.0,
        };
        Self {
            pixels,
            under,
            gain: gain as i32,
            pace: if scene == Scene::Door {
                0.32
            } else {
                dice.between(0.42, 0.6)
            },
            phase: dice.unit(),
        }
    }

    fn turn(&self, t: f32, laundry: &[Vec<u8>; 3], plate: &mut Picture) {
        // Cloth near the rim is carried round; nearer the middle it falls back.
        let shifts: Vec<u32> = (0..RINGS)
            .map(|ring| {
                let r = ring as f32 / RINGS as f32;
                let turns = self.phase
                    + self.pace * t
                    + 0.07 * (1.0 - r) * (t * 2.6 + self.phase * 9.0).sin();
                (-(turns * TURNS as f32)).rem_euclid(TURNS as f32) as u32
            })
            .collect();
        for (index, texture) in laundry.iter().enumerate() {
            let middle = if index == 0 { 16 } else { 128 };
            let plane = &mut plate.planes[index];
            for ((position, ring, turn), under) in self.pixels[index].iter().zip(&self.under[index])
            {
                let at = usize::from(*ring) * TURNS
                    + ((u32::from(*turn) + shifts[usize::from(*ring)]) as usize & (TURNS - 1));
                let value =
                    i32::from(*under) + (((i32::from(texture[at]) - middle) * self.gain) >> 8);
                plane.data[*position as usize] = value.clamp(16, 240) as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;
    use crate::picture::counter::read_counter;
    use crate::{plan, takes};

    #[test]
    fn every_take_shows_its_number_and_frame() {
        let project = plan(sample());
        let mut bytes = Vec::new();
        for take in &takes(sample(), &project) {
            let mut camera = Camera::new(sample(), take);
            for frame in [0, 37, 299] {
                camera.frame(frame, &mut bytes);
                assert_eq!(bytes.len(), FRAME.0 * FRAME.1 * 3 / 2);
                let (width, height) = FRAME;
                let read = if take.upright {
                    // Stored lying; turned clockwise it stands up.
                    let upright: Vec<u8> = (0..width)
                        .flat_map(|y| (0..height).map(move |x| (x, y)))
                        .map(|(x, y)| bytes[(height - 1 - x) * width + y])
                        .collect();
                    read_counter(&upright, height, width)
                } else {
                    read_counter(&bytes[..width * height], width, height)
                };
                assert_eq!(
                    read,
                    Some(Counter {
                        take: take.truth.number,
                        frame
                    }),
                    "{}",
                    take.truth.file
                );
            }
        }
    }

    #[test]
    fn the_same_frame_is_drawn_twice_the_same() {
        let project = plan(sample());
        let all = takes(sample(), &project);
        let (mut one, mut two) = (Vec::new(), Vec::new());
        let mut camera = Camera::new(sample(), &all[19]);
        camera.frame(400, &mut one);
        camera.frame(7, &mut two);
        camera.frame(400, &mut two);
        assert!(one == two);
        Camera::new(sample(), &all[19]).frame(400, &mut two);
        assert!(one == two);
    }

    #[test]
    fn she_mouths_what_is_heard_and_nothing_else() {
        let project = plan(sample());
        let all = takes(sample(), &project);
        let take = &all[13];
        let camera = Camera::new(sample(), take);
        let run = take.truth.runs[0];
        for n in 0..280 {
            let take_s = run.take_start_s + f64::from(n) * 0.17;
            let song_s =
                run.song_start_s + (take_s - run.take_start_s) * 2.0 * (1.0 + run.drift_ppm * 1e-6);
            let pose = camera.pose((0.0, 0.0), take_s);
            assert_eq!((pose.open, pose.wide), sample().truth.mouth_at(song_s));
        }
        assert_eq!(camera.pose((0.0, 0.0), run.take_start_s - 0.2).open, 0.0);
        assert_eq!(camera.pose((0.0, 0.0), run.take_end_s + 0.2).open, 0.0);
    }
}
