//! The singer: a figure in a paper-pale coat, lit from one side, whose mouth follows the voice.
//!
//! Figure units: half the height of the head is 1, zero at the middle of the face, u to the right, v down.

use super::frame::{Picture, Sprite};
use super::shade::{
    INK, Light, PAPER, TUNGSTEN, View, coded_bytes, ease, inside, lattice, mix, noise, rgb, sprite,
};

/// How the figure is lit.
#[derive(Clone, Copy, Debug)]
pub struct Lighting {
    /// Direction to the key, to the right, down, and towards the camera; length 1.
    pub key: [f32; 3],
    /// Colour and strength of the key.
    pub key_light: Light,
    /// What comes from everywhere.
    pub ambient: Light,
}

/// The figure made ready for one framing.
#[derive(Clone, Debug)]
pub struct Figure {
    body: Sprite,
    /// Eyes open, eyes shut.
    heads: [Sprite; 2],
    /// Pixels in one figure unit.
    unit_px: f32,
    /// Where zero lies in the sprites.
    head_zero: (f32, f32),
    body_zero: (f32, f32),
    lighting: Lighting,
}

/// How the figure stands in one frame.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pose {
    /// Where the middle of the face would be at rest, in pixels of the frame.
    pub at: (f32, f32),
    /// Head against body: right and down in figure units.
    pub head: (f32, f32),
    /// Tilt of the head, to the right, in units per unit.
    pub tilt: f32,
    /// Lean of the body, the same.
    pub lean: f32,
    /// Eyes shut.
    pub blink: bool,
    /// Mouth, as the song's truth has it.
    pub open: f32,
    /// Mouth width.
    pub wide: f32,
}

const SKIN: Light = rgb(0.78, 0.52, 0.39);
const LIP: Light = rgb(0.42, 0.11, 0.1);
const MOUTH_V: f32 = 0.54;

/// Prepares the figure at `unit_px` pixels a unit; `rows_px` is how far down the frame may see it,
/// counted from the face. `stained` is the coat after the powder.
pub fn figure(unit_px: f32, rows_px: f32, lighting: Lighting, stained: bool) -> Figure {
    let even = |value: f32| ((value / 2.0).ceil() as usize).max(2) * 2;
    let head_reach = (1.1, 1.32);
    let head_view = View {
        corner: (-head_reach.0, -head_reach.1),
        unit_px,
        size: (
            even(head_reach.0 * 2.0 * unit_px),
            even((head_reach.1 + 1.06) * unit_px),
        ),
    };
    let body_top = 0.5;
    let body_bottom = 13.4f32.min(rows_px / unit_px + 0.6);
    let body_view = View {
        corner: (-1.9, body_top),
        unit_px,
        size: (
            even(3.8 * unit_px),
            even((body_bottom - body_top) * unit_px),
        ),
    };
    let soft = 0.7 / unit_px;
    Figure {
        body: sprite(body_view, |u, v| body(u, v, soft, &lighting, stained)),
        heads: [false, true]
            .map(|shut| sprite(head_view, |u, v| head(u, v, soft, shut, &lighting, stained))),
        unit_px,
        head_zero: (head_reach.0 * unit_px, head_reach.1 * unit_px),
        body_zero: (1.9 * unit_px, -body_top * unit_px),
        lighting,
    }
}

impl Figure {
    /// Pixels in one figure unit.
    pub fn unit_px(&self) -> f32 {
        self.unit_px
    }

    /// Draws the figure into `to`.
    pub fn draw(&self, to: &mut Picture, pose: &Pose) {
        let (x, y) = pose.at;
        // The body leans about its lowest row, so its feet or the frame's edge stay put.
        let rows = self.body.colours[0].height as f32;
        super::frame::set_in(
            to,
            &self.body,
            x - self.body_zero.0,
            y - self.body_zero.1,
            -pose.lean,
            rows,
        );
        let carried = pose.lean * rows;
        let (hx, hy) = (
            x + carried + pose.head.0 * self.unit_px,
            y + pose.head.1 * self.unit_px,
        );
        let pivot = self.head_zero.1 + 1.1 * self.unit_px;
        super::frame::set_in(
            to,
            &self.heads[usize::from(pose.blink)],
            hx - self.head_zero.0,
            hy - self.head_zero.1,
            -pose.tilt,
            pivot,
        );
        let mouth_x = hx + pose.tilt * (1.1 - MOUTH_V) * self.unit_px;
        self.mouth(
            to,
            mouth_x,
            hy + MOUTH_V * self.unit_px,
            pose.open,
            pose.wide,
        );
    }

    fn mouth(&self, to: &mut Picture, x: f32, y: f32, open: f32, wide: f32) {
        let lit = |albedo: Light, share: f32| {
            albedo * (self.lighting.ambient + self.lighting.key_light * share)
        };
        let facing = self.lighting.key[2].max(0.15) * 0.8 + 0.15;
        let lip = coded_bytes(lit(LIP, facing));
        let lower_lip = coded_bytes(lit(LIP, facing * 1.2));
        let hollow = coded_bytes(lit(rgb(0.045, 0.012, 0.012), facing));
        let teeth = coded_bytes(lit(rgb(0.62, 0.56, 0.47), facing * 0.7));
        let half_w = 0.2 + 0.1 * wide - 0.05 * open;
        let (outer, inner) = (0.068 + 0.165 * open, 0.185 * open - 0.012);
        let soft = 0.9 / self.unit_px;
        let middle = 0.075 * open;
        for index in 0..3 {
            let scale = if index == 0 { 1.0 } else { 0.5 };
            let plane = &mut to.planes[index];
            let unit = self.unit_px * scale;
            let (cx, cy) = (x * scale, y * scale);
            let reach = 0.42 * unit + 1.0;
            let rows =
                (cy - reach).max(0.0) as usize..((cy + reach).max(0.0) as usize).min(plane.height);
            for row in rows {
                let columns = (cx - reach).max(0.0) as usize
                    ..((cx + reach).max(0.0) as usize).min(plane.width);
                for column in columns {
                    let u = (column as f32 + 0.5 - cx) / unit;
                    let v = (row as f32 + 0.5 - cy) / unit - middle;
                    let soft = soft / scale;
                    let lips = inside(oval(u, v, half_w, outer), soft);
                    if lips <= 0.0 {
                        continue;
                    }
                    let pixel = &mut plane.data[row * plane.width + column];
                    let over = |value: f32, colour: [u8; 3], alpha: f32| {
                        value + (f32::from(colour[index]) - value) * alpha
                    };
                    let mut value = over(
                        f32::from(*pixel),
                        if v > 0.02 { lower_lip } else { lip },
                        lips * 0.9,
                    );
                    if inner > 0.004 {
                        let gap = inside(oval(u, v, half_w * 0.78, inner), soft);
                        value = over(value, hollow, gap);
                        if inner > 0.07 {
                            let edge = inside(v + inner * 0.45, soft);
                            value = over(value, teeth, gap * edge * 0.85);
                        }
                    } else {
                        // The line between closed lips.
                        value = over(
                            value,
                            hollow,
                            inside(v.abs() - 0.008, soft)
                                * 0.7
                                * inside(u.abs() - half_w * 0.9, soft),
                        );
                    }
                    *pixel = value.round().clamp(16.0, 240.0) as u8;
                }
            }
        }
    }
}

/// About how far (`u`, `v`) lies outside an ellipse.
fn oval(u: f32, v: f32, half_w: f32, half_h: f32) -> f32 {
    let r = (u / half_w).hypot(v / half_h);
    (r - 1.0) * half_w.min(half_h)
}

fn lambert(normal: [f32; 3], lighting: &Lighting) -> f32 {
    let dot: f32 = normal.iter().zip(lighting.key).map(|(n, l)| n * l).sum();
    // Wrapped a little: skin and cloth scatter.
    ((dot + 0.18) / 1.18).max(0.0)
}

fn lit(albedo: Light, lambert: f32, lighting: &Lighting) -> Light {
    albedo * (lighting.ambient + lighting.key_light * lambert)
}

/// Colours of the powder: rose, ochre, blue, green.
pub const POWDERS: [Light; 4] = [
    rgb(0.86, 0.1, 0.3),
    rgb(0.95, 0.55, 0.05),
    rgb(0.1, 0.28, 0.85),
    rgb(0.12, 0.6, 0.35),
];

fn stain(albedo: Light, u: f32, v: f32) -> Light {
    let mut out = albedo;
    for (index, powder) in POWDERS.iter().enumerate() {
        let salt = 40 + index as u32;
        let cloud = noise(u * 0.9 + 3.1 * index as f32, v * 0.8, salt) * 0.7
            + noise(u * 4.0, v * 4.0, salt + 9) * 0.3;
        out = mix(out, *powder, ease(0.56, 0.74, cloud) * 0.85);
    }
    out
}

/// An eye, its brow and the cheek below it over skin and its light.
fn eye(
    (mut skin, mut shade): (Light, f32),
    (u, v): (f32, f32),
    eye_u: f32,
    side: f32,
    soft: f32,
    shut: bool,
) -> (Light, f32) {
    let (du, dv) = (u - eye_u, v + 0.06);
    let socket = (-(du * du) / 0.035 - (dv + 0.03).powi(2) / 0.014).exp();
    shade *= 1.0 - 0.34 * socket;
    let brow = inside(
        (v + 0.285 - 0.5 * du * du).abs() - 0.028 * (1.0 - (du / 0.26).powi(2)).max(0.0),
        soft,
    ) * inside(du.abs() - 0.23, soft);
    skin = mix(skin, rgb(0.07, 0.045, 0.035), brow * 0.85);
    let half = 0.165f32;
    let curve = (1.0 - (du / half).powi(2)).max(0.0);
    if shut {
        let lid = inside((dv - 0.045 * curve).abs() - 0.014, soft) * inside(du.abs() - half, soft);
        skin = mix(skin, rgb(0.03, 0.02, 0.02), lid);
    } else {
        let (upper, lower) = (-0.072 * curve, 0.052 * curve);
        let white = inside((upper - dv).max(dv - lower), soft) * inside(du.abs() - half, soft);
        let iris = inside(du.hypot(dv + 0.008) - 0.068, soft);
        let glint = inside((du - 0.025 * side).hypot(dv + 0.03) - 0.017, soft);
        let eye = mix(
            mix(rgb(0.6, 0.56, 0.52), rgb(0.035, 0.022, 0.02), iris),
            rgb(2.4, 2.0, 1.5),
            glint,
        );
        skin = mix(skin, eye, white);
        let lash = inside((dv - upper).abs() - 0.02, soft) * inside(du.abs() - half - 0.015, soft);
        skin = mix(skin, rgb(0.025, 0.018, 0.018), lash);
    }
    let blush = (-((u - eye_u * 1.25).powi(2)) / 0.03 - (v - 0.27).powi(2) / 0.03).exp();
    skin = mix(skin, rgb(0.75, 0.3, 0.26), blush * 0.28);
    (skin, shade)
}

fn head(u: f32, v: f32, soft: f32, shut: bool, lighting: &Lighting, stained: bool) -> (Light, f32) {
    let side = lighting.key[0].signum();
    // Skull and jaw.
    let width =
        0.75 * (1.0 - (v * 0.99).powi(2)).max(0.0).sqrt() * (1.0 - 0.2 * ease(0.15, 1.0, v));
    let face = inside(u.abs() - width, soft * 1.5) * f32::from(u8::from(v.abs() < 1.0));
    // Hair: a bob, parted on the right, longer behind than the jaw.
    let cap = oval(u, v + 0.14, 1.0, 1.1);
    let curtain = (u.abs() - (0.98 - 0.16 * ease(0.25, 0.86, v)))
        .max(v - 0.78 - 0.05 * (u * 9.0).sin())
        .max(-v - 0.1);
    let hair_shape = inside(cap.min(curtain), soft * 2.0);
    let opening = {
        // What the hair leaves free of the face.
        let fringe = -0.46 + 0.2 * (u + 0.35).abs() + 0.03 * (u * 14.0).sin();
        let cheek = 0.63 - 0.05 * ease(-0.2, 0.7, v) + 0.012 * (v * 17.0).sin();
        ease(fringe - 0.03, fringe + 0.03, v) * inside(u.abs() - cheek, soft * 2.5)
    };
    let normal = {
        let (nx, ny) = (u / 0.86, v / 1.25);
        [nx, ny, (1.0 - nx * nx - ny * ny).max(0.02).sqrt()]
    };
    let alpha = hair_shape.max(face);
    if alpha <= 0.0 {
        return (INK, 0.0);
    }
    // Hair, with a sheen where it faces the key.
    let strand = noise(u * 16.0 + v * 2.0, v * 2.5, 7);
    let sheen = lambert(normal, lighting).powi(3) * ease(0.25, 0.9, strand) * ease(0.5, -0.75, v);
    let rim = ease(0.78, 1.0, u * side / (1.0 - 0.1 * v.abs())) * ease(1.0, 0.2, v.abs());
    let mut hair = rgb(0.02, 0.015, 0.016) * (lighting.ambient + lighting.key_light)
        + rgb(0.6, 0.42, 0.3) * lighting.key_light * (0.06 * sheen + 0.1 * rim);
    if stained {
        hair = mix(
            hair,
            lit(stain(INK, u * 1.4, v * 1.4 + 5.0), 0.5, lighting),
            0.45,
        );
    }
    // Face.
    let mut shade = lambert(normal, lighting);
    let mut skin = SKIN;
    for eye_u in [-0.31f32, 0.31] {
        (skin, shade) = eye((skin, shade), (u, v), eye_u, side, soft, shut);
    }
    // Nose: a shadow on the side away from the key, and nostrils.
    let nose_w = 0.045 + 0.075 * ease(-0.15, 0.3, v);
    let nose = ease(-0.16, 0.0, v) * ease(0.4, 0.31, v);
    shade *= 1.0 - 0.42 * nose * inside((u + side * nose_w * 0.55).abs() - nose_w * 0.5, 0.05);
    shade *= 1.0 + 0.2 * nose * inside((u - side * 0.02).abs() - 0.02, 0.04);
    for nostril in [-0.062f32, 0.062] {
        skin = mix(
            skin,
            rgb(0.12, 0.05, 0.04),
            inside(oval(u - nostril, v - 0.335, 0.034, 0.016), soft) * 0.7,
        );
    }
    // Below the lower lip, and the hair's shadow on the brow.
    shade *= 1.0 - 0.22 * (-(u * u) / 0.03 - (v - 0.76).powi(2) / 0.004).exp();
    shade *= 1.0 - 0.35 * ease(-0.2, -0.48, v);
    if stained {
        skin = mix(skin, stain(skin, u * 1.6 + 9.0, v * 1.6), 0.55);
    }
    let face_light = lit(skin, shade, lighting);
    let skin_here = face * opening;
    (mix(hair, face_light, skin_here), alpha)
}

/// What of the body there is at a point, each 0 to 1, and how wide coat and arm are.
struct Shape {
    coat: f32,
    arm: f32,
    hand: f32,
    neck: f32,
    legs: f32,
    shoes: f32,
    coat_w: f32,
    arm_u: f32,
    arm_w: f32,
}

impl Shape {
    fn at(u: f32, v: f32, soft: f32) -> Self {
        // The coat: shoulders, waist, hem; and sleeves that hang free of it.
        let shoulder = 0.4 + 1.2 * (1.0 - (1.0 - ease(1.1, 1.85, v)).powi(2));
        let trunk = 1.2 - 0.12 * ease(2.6, 5.1, v) + 0.5 * ease(5.2, 9.6, v);
        let wobble = 0.03 * (noise(v * 1.7, 2.0, 5) - 0.5);
        let coat_w = if v < 2.2 {
            shoulder
        } else {
            shoulder + (trunk - shoulder) * ease(2.2, 2.9, v)
        } + wobble;
        let arm_u = 1.3 + 0.07 * (v - 2.0) - 0.05 * ease(4.2, 5.2, v);
        let arm_w = 0.36 - 0.016 * (v - 2.0);
        let arm_top = (2.3 - v).max(0.0);
        let arm =
            inside((u.abs() - arm_u).hypot(arm_top) - arm_w, soft * 1.5) * inside(v - 6.2, soft);
        let hand =
            inside(oval(u.abs() - arm_u - 0.01, v - 6.35, 0.2, 0.34), soft) * ease(6.19, 6.21, v);
        let trunk_alpha = inside(u.abs() - coat_w, soft * 1.5)
            * ease(1.08, 1.12, v)
            * inside(v - 9.6 - 0.04 * (u * 4.0).sin(), soft);
        let coat = trunk_alpha.max(arm);
        let neck =
            inside(u.abs() - 0.35 - 0.05 * ease(1.0, 1.5, v), soft * 1.5) * ease(2.3, 2.2, v);
        let leg = |middle: f32| {
            inside((u - middle).abs() - 0.3 + 0.04 * ease(9.6, 12.8, v), soft)
                * ease(9.4, 9.5, v)
                * ease(12.9, 12.8, v)
        };
        let shoe = |middle: f32| {
            inside(oval(u - middle, v - 12.85, 0.36, 0.24), soft) * inside(v - 13.0, soft)
        };
        let legs = leg(-0.5).max(leg(0.5));
        let shoes = shoe(-0.52).max(shoe(0.52));
        Self {
            coat,
            arm,
            hand,
            neck,
            legs,
            shoes,
            coat_w,
            arm_u,
            arm_w,
        }
    }
}

/// How much of the light `shade` is left at sleeves, belt, the edge where the coat closes, and buttons.
fn seams(mut shade: f32, (u, v): (f32, f32), soft: f32, side: f32, sleeve: f32) -> f32 {
    let seam = |d: f32, width: f32| inside(d.abs() - width, soft * 2.0);
    if (2.3..6.3).contains(&v) {
        // The sleeve shades the coat beside it.
        let between = u.abs() - sleeve;
        shade *= 1.0 - 0.6 * seam(between, 0.03);
        shade *= 1.0 - 0.3 * ease(-0.25, 0.0, between) * ease(0.02, 0.0, between);
    }
    shade *= 1.0 - 0.45 * seam(u - 0.06 * side, 0.016) * ease(2.3, 2.5, v);
    if u.abs() < sleeve || v > 6.4 {
        shade *= 1.0 - 0.3 * (seam(v - 5.05, 0.015) + seam(v - 5.4, 0.015));
    }
    for row in 0..4 {
        let button_v = 2.9 + row as f32 * 0.95 + f32::from(u8::from(row > 1)) * 0.35;
        shade *= 1.0 - 0.6 * inside(oval(u - 0.22 * side, v - button_v, 0.055, 0.055), soft);
    }
    // Towards the ground the bulb reaches less.
    shade *= 1.0 - 0.45 * ease(3.0, 12.0, v);
    shade
}

/// The open collar over `light`: lapels, what is worn under it, and the neck.
fn collared(
    mut light: Light,
    (u, v): (f32, f32),
    soft: f32,
    neck: f32,
    shade: f32,
    lighting: &Lighting,
) -> Light {
    let side = lighting.key[0].signum();
    let throat = (2.35 - v) * 0.42;
    let dark = lit(rgb(0.05, 0.055, 0.08), shade, lighting);
    let gap = inside(u.abs() - throat, soft * 1.5);
    light = mix(light, dark, gap);
    let lapel = inside((u.abs() - throat).abs() - 0.025, soft * 1.5);
    light = mix(light, light * 0.45, lapel);
    let collar = inside(
        (u.abs() - throat - 0.34 + 0.22 * (v - 1.3)).abs() - 0.018,
        soft * 2.0,
    ) * ease(2.1, 1.9, v);
    light = mix(light, light * 0.6, collar);
    // Neck, shaded under the chin.
    let round = [u / 0.42, 0.25, (1.0 - (u / 0.42).powi(2)).max(0.05).sqrt()];
    let chin = 0.35 + 0.65 * ease(0.9, 1.55, v + 0.25 * u * side);
    let skin = lit(SKIN, lambert(round, lighting) * chin, lighting);
    let neckline = inside(oval(u, v - 1.2, 0.42, 0.52), soft * 1.5);
    light = mix(light, skin, neck * neckline.max(ease(1.3, 1.2, v)));
    light
}

fn body(u: f32, v: f32, soft: f32, lighting: &Lighting, stained: bool) -> (Light, f32) {
    let side = lighting.key[0].signum();
    let shape = Shape::at(u, v, soft);
    let Shape {
        coat,
        arm,
        hand,
        neck,
        coat_w,
        arm_u,
        arm_w,
        ..
    } = shape;
    let alpha = coat.max(neck).max(shape.legs).max(shape.shoes).max(hand);
    if alpha <= 0.0 {
        return (INK, 0.0);
    }
    let on_arm = arm > 0.5 && u.abs() > coat_w.min(arm_u - arm_w * 0.55);
    let round_trunk = (u / coat_w.max(0.3)).clamp(-1.0, 1.0);
    let round_arm = ((u.abs() - arm_u) / arm_w * u.signum()).clamp(-1.0, 1.0);
    let nx = if hand > 0.5 {
        round_arm
    } else if on_arm {
        round_trunk + (round_arm - round_trunk) * ease(2.0, 3.4, v)
    } else {
        round_trunk
    };
    let normal = [
        nx * 0.92,
        -0.25 * ease(2.2, 1.2, v),
        (1.0 - nx * nx * 0.84).max(0.02).sqrt(),
    ];
    // Cloth hangs in folds from the shoulders and from the belt.
    let fold =
        noise(u * 2.6 + 0.35 * v, v * 0.35, 11) * 0.6 + noise(u * 6.0 - 0.3 * v, v * 0.7, 12) * 0.4;
    let mut shade = lambert(normal, lighting) * (0.72 + 0.5 * fold);
    let mut cloth = PAPER * 0.82;
    if stained {
        cloth = stain(cloth, u, v);
    }
    shade = seams(shade, (u, v), soft, side, arm_u - arm_w);
    let mut light = lit(cloth, shade, lighting);
    if v < 2.4 {
        light = collared(
            light,
            (u, v),
            soft,
            neck,
            lambert(normal, lighting),
            lighting,
        );
    }
    if v > 9.3 {
        let cloth_light = lit(rgb(0.05, 0.055, 0.075), shade, lighting);
        light = if shape.shoes > 0.5 {
            lit(rgb(0.03, 0.025, 0.025), shade, lighting)
        } else {
            mix(cloth_light, light, coat)
        };
    }
    if hand > coat {
        light = lit(SKIN, lambert(normal, lighting) * 0.8, lighting);
    }
    // A line of light along the edge that faces the key.
    let rim = ease(0.86, 1.0, nx * side) * ease(1.3, 2.0, v) * ease(9.6, 5.0, v);
    let light = light + cloth * (lighting.key_light * TUNGSTEN) * (0.22 * rim);
    let weave = 1.0 + 0.05 * (lattice((u * 60.0) as i32, (v * 60.0) as i32, 3) - 0.5);
    (light * weave, alpha)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ready() -> Figure {
        let lighting = Lighting {
            key: [0.6, -0.4, 0.69],
            key_light: rgb(2.0, 1.3, 0.6),
            ambient: rgb(0.05, 0.06, 0.09),
        };
        figure(70.0, 250.0, lighting, false)
    }

    /// Mean luma of the middle of the mouth.
    fn mouth_luma(figure: &Figure, open: f32) -> f32 {
        let mut picture = Picture::black(320, 240);
        figure.draw(
            &mut picture,
            &Pose {
                at: (160.0, 100.0),
                open,
                wide: 0.5,
                ..Pose::default()
            },
        );
        let y = (100.0 + (MOUTH_V + 0.075 * open + 0.03) * 70.0) as usize;
        let row = &picture.planes[0].data[y * 320 + 154..y * 320 + 166];
        row.iter().map(|value| f32::from(*value)).sum::<f32>() / 12.0
    }

    #[test]
    fn the_mouth_darkens_as_it_opens() {
        let figure = ready();
        let (shut, half, wide) = (
            mouth_luma(&figure, 0.0),
            mouth_luma(&figure, 0.4),
            mouth_luma(&figure, 0.95),
        );
        assert!(
            shut > half + 10.0 && shut > wide + 10.0,
            "{shut} {half} {wide}"
        );
        assert!(wide < 60.0, "{wide}");
    }
}
