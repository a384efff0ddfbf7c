//! The places at night: a launderette, a tiled stairway at blue hour, a river quay, and the small
//! things seen close: a turning drum, water, lamps, a bulb, darkness for powder.
//!
//! Each is a function from a scene point to light. Nothing here moves.

use super::shade::{DUSK, INK, Light, PAPER, TUNGSTEN, ease, inside, lattice, mix, noise, rgb};

/// A scene to stand in or look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scene {
    /// The launderette, whole.
    Launderette,
    /// A machine's door, close, as a halo behind a head.
    Door,
    /// The stairway.
    Stairs,
    /// The quay.
    Quay,
    /// Inside a drum.
    Drum,
    /// Lamplight on water.
    Water,
    /// Street lamps.
    Lamps,
    /// Darkness.
    Dark,
    /// A bulb on its cord before tiles.
    Bulb,
}

/// Round windows with something turning behind them: middle and radius.
pub fn drums(scene: Scene) -> &'static [(f32, f32, f32)] {
    match scene {
        Scene::Launderette => &[
            (0.34, 0.655, 0.105),
            (0.64, 0.655, 0.105),
            (0.94, 0.655, 0.105),
            (1.24, 0.655, 0.105),
            (1.54, 0.655, 0.105),
            (0.04, 0.655, 0.105),
            (1.84, 0.655, 0.105),
        ],
        Scene::Door => &[(0.889, 0.44, 0.4)],
        Scene::Drum => &[(0.889, 0.5, 0.43)],
        _ => &[],
    }
}

/// Where water begins and ends, downwards.
pub fn water(scene: Scene) -> Option<(f32, f32)> {
    match scene {
        Scene::Quay => Some((BANK, STONES)),
        Scene::Water => Some((-0.2, 1.2)),
        _ => None,
    }
}

/// The light at a scene point.
pub fn shade(scene: Scene, x: f32, y: f32) -> Light {
    match scene {
        Scene::Launderette => launderette(x, y),
        Scene::Door => door(x, y),
        Scene::Stairs => stairs(x, y),
        Scene::Quay => quay(x, y),
        Scene::Drum => drum(x, y),
        Scene::Water => water_close(x, y),
        Scene::Lamps => lamps(x, y),
        Scene::Dark => dark(x, y),
        Scene::Bulb => bulb_wall(x, y),
    }
}

/// Light of a bulb `(dx, dy)` away in the plane and `depth` off it.
fn pool(dx: f32, dy: f32, depth: f32, strength: f32) -> Light {
    TUNGSTEN * (strength * depth * depth / (dx * dx + dy * dy + depth * depth))
}

/// The bulb itself, its cord from above, and its glow.
fn bulb(x: f32, y: f32, (bx, by): (f32, f32), size: f32) -> Light {
    let d = (x - bx).hypot(y - by);
    let core = inside(d - size, size * 0.3);
    let glow = TUNGSTEN
        * (0.10 * size / (d * d / size + size * 0.6) * 0.02 + 0.35 * (-d / (size * 3.2)).exp());
    rgb(1.0, 0.78, 0.45) * (core * 6.0) + glow
}

/// How dark the cord of a bulb makes a point.
fn cord(x: f32, y: f32, (bx, by): (f32, f32), size: f32) -> f32 {
    let socket = inside((x - bx).abs() - size * 0.55, 0.004)
        * ease(by - size * 2.6, by - size * 2.5, y)
        * ease(by - size * 0.7, by - size * 0.8, y);
    let line = inside((x - bx).abs() - 0.0022, 0.002) * ease(by - size, by - size * 1.2, y);
    1.0 - 0.92 * socket.max(line)
}

/// Plain square tiles: albedo factor with grout and bevel.
fn tiles(x: f32, y: f32, size: f32, salt: u32) -> f32 {
    let (u, v) = (x / size, y / size);
    let (iu, iv) = (u.floor(), v.floor());
    let (fu, fv) = (u - iu - 0.5, v - iv - 0.5);
    let edge = fu.abs().max(fv.abs());
    let tone = 0.9 + 0.16 * (lattice(iu as i32, iv as i32, salt) - 0.5);
    let grout = 1.0 - 0.55 * ease(0.455, 0.485, edge);
    let bevel = 1.0 + 0.12 * ease(0.38, 0.46, -fv) - 0.1 * ease(0.38, 0.46, fv);
    tone * grout * bevel
}

/// Painted tiles, blue on white: a quarter rose in every tile.
fn painted(x: f32, y: f32, size: f32) -> Light {
    let (u, v) = (x / size, y / size);
    let (iu, iv) = (u.floor(), v.floor());
    let (mut fu, mut fv) = (u - iu, v - iv);
    // Neighbours mirror each other, so that four make one rose.
    if iu as i32 & 1 == 1 {
        fu = 1.0 - fu;
    }
    if iv as i32 & 1 == 1 {
        fv = 1.0 - fv;
    }
    let d = fu.hypot(fv);
    let angle = fv.atan2(fu);
    let petal =
        inside(d - 0.34 - 0.2 * (angle * 4.0).cos().abs(), 0.05) * (1.0 - inside(d - 0.2, 0.05));
    let ring = inside((d - 0.72).abs() - 0.035, 0.03);
    let corner = inside((1.0 - fu).hypot(1.0 - fv) - 0.22, 0.04);
    let blue = petal.max(ring * 0.8).max(corner * 0.9);
    let wash = 0.85 + 0.3 * noise(u * 1.7, v * 1.7, 21);
    let edge = (u - iu - 0.5).abs().max((v - iv - 0.5).abs());
    let grout = 1.0 - 0.5 * ease(0.465, 0.49, edge);
    mix(
        rgb(0.72, 0.72, 0.68),
        rgb(0.07, 0.14, 0.42),
        blue * wash.min(1.0),
    ) * grout
}

fn launderette(x: f32, y: f32) -> Light {
    let lamp = (1.06, 0.165);
    let light = pool(x - lamp.0, y - lamp.1, 0.42, 1.5) + rgb(0.012, 0.016, 0.026);
    let mut out = if y < 0.385 {
        // Wall: paper-coloured tiles over a band of blue ones.
        let band = ease(0.335, 0.337, y);
        let albedo = mix(PAPER * 0.85, rgb(0.1, 0.2, 0.34), band);
        albedo * tiles(x, y + 0.01, 0.058, 1) * light
    } else if y < 0.86 {
        let slot = ((x + 0.11) / 0.3).floor();
        let u = x + 0.11 - slot * 0.3 - 0.15;
        let panel_edge = u.abs() - 0.142;
        let gap = inside(-panel_edge, 0.006);
        let d = u.hypot(y - 0.655);
        let mut albedo = rgb(0.74, 0.72, 0.66) * (1.0 - 0.12 * noise(x * 9.0, y * 9.0, 4));
        // Sheet metal is rounded at its edges.
        let mut gain = 1.0 - 0.35 * ease(-0.03, 0.0, panel_edge);
        if y < 0.468 {
            albedo = rgb(0.16, 0.19, 0.24);
            let knob = inside(u.hypot(y - 0.43) - 0.021, 0.004);
            albedo = mix(albedo, rgb(0.66, 0.62, 0.55), knob);
            let slit =
                inside((u - 0.08).abs() - 0.02, 0.003) * inside((y - 0.43).abs() - 0.004, 0.003);
            albedo = mix(albedo, INK, slit);
        }
        gain *= 1.0 - 0.6 * inside((y - 0.47).abs() - 0.0025, 0.003);
        // Chrome ring: bright where it faces the bulb.
        let ring = inside((d - 0.122).abs() - 0.017, 0.004);
        let facing = ((u * (lamp.0 - x) + (y - 0.655) * (lamp.1 - y))
            / (d * (lamp.0 - x).hypot(lamp.1 - y)).max(1e-3))
        .max(0.0);
        let chrome = rgb(0.1, 0.1, 0.11) * 1.0 + rgb(0.95, 0.85, 0.7) * (facing.powi(4) * 1.8);
        albedo = mix(albedo, chrome, ring);
        gain *= 1.0 - 0.4 * inside((d - 0.143).abs() - 0.004, 0.006);
        let glass = inside(d - 0.105, 0.004);
        albedo = mix(albedo, rgb(0.03, 0.035, 0.05), glass);
        let mut lit = albedo * (gain * (1.0 - 0.9 * gap)) * light;
        // A pilot lamp on machines that run.
        let pilot = (u + 0.1).hypot(y - 0.43);
        lit = lit
            + rgb(1.0, 0.16, 0.06)
                * (1.4 * inside(pilot - 0.006, 0.004) + 0.12 * (-pilot / 0.012).exp());
        lit
    } else if y < 0.885 {
        light * 0.03
    } else {
        // Floor in perspective, paper and ink, worn.
        let depth = 0.16 / (y - 0.79);
        let (u, v) = ((x - 0.889) * depth * 3.4, depth * 5.0);
        let dark_tile = (u.floor() as i32 + v.floor() as i32) & 1 == 0;
        let albedo = if dark_tile {
            rgb(0.07, 0.08, 0.1)
        } else {
            PAPER * 0.55
        };
        let worn = 0.75 + 0.4 * noise(u * 3.0, v * 3.0, 8);
        let sheen = TUNGSTEN * (0.22 * (-((x - lamp.0) / 0.16).powi(2)).exp() * ease(0.86, 1.0, y));
        albedo * worn * light + sheen
    };
    out = out * cord(x, y, lamp, 0.018);
    out + bulb(x, y, lamp, 0.018)
}

fn door(x: f32, y: f32) -> Light {
    let (cx, cy, r) = (0.889, 0.44, 0.4);
    let lamp = (1.62, 0.1);
    let light = pool(x - lamp.0, y - lamp.1, 0.6, 1.15) + rgb(0.014, 0.018, 0.03);
    let d = (x - cx).hypot(y - cy);
    // Everything is a little out of focus behind her.
    let mut albedo = rgb(0.7, 0.67, 0.6) * (0.9 + 0.2 * noise(x * 2.0, y * 2.0, 6));
    albedo = mix(albedo, rgb(0.14, 0.17, 0.22), ease(0.05, 0.0, y));
    let ring = ease(0.085, 0.045, (d - r - 0.045).abs());
    let (nx, ny) = ((x - cx) / d.max(1e-3), (y - cy) / d.max(1e-3));
    let facing = (nx * 0.85 - ny * 0.52).max(0.0);
    let chrome = rgb(0.07, 0.07, 0.08)
        + rgb(1.0, 0.88, 0.7)
            * (1.5 * facing.powi(3) + 0.35 * (-(nx * 0.85) + ny * 0.52).max(0.0).powi(6));
    albedo = mix(albedo, chrome, ring);
    albedo = albedo * (1.0 - 0.5 * ease(0.06, 0.0, (d - r - 0.11).abs()));
    let glass = ease(r + 0.01, r - 0.02, d);
    albedo = mix(albedo, rgb(0.03, 0.034, 0.05), glass);
    let vignette = 1.0 - 0.35 * ease(0.5, 1.1, (x - cx).hypot(y - 0.5));
    albedo * light * vignette
}

fn stairs(x: f32, y: f32) -> Light {
    let lamp = (1.3, 0.2);
    let dusk = |up: f32| DUSK * (0.16 + 0.34 * up);
    // The stairway climbs away between two walls to a strip of sky.
    let rise = (1.0 - y).clamp(-0.4, 1.4);
    let (left, right) = (0.30 + 0.26 * rise, 1.48 - 0.26 * rise);
    let top = 0.30;
    let mut out = if x > left && x < right && y < top {
        // Sky, and roofs against it.
        let house = (x * 9.0 + 0.3).floor() as i32;
        let roof = top - 0.035 - 0.07 * lattice(house, 0, 31);
        let sky = mix(DUSK * 0.7, rgb(0.42, 0.28, 0.3), ease(-0.15, 0.34, y) * 0.5);
        let window =
            inside((x - 0.94).abs() - 0.012, 0.004) * inside((y - 0.275).abs() - 0.012, 0.004);
        let seen = if y > roof {
            rgb(0.012, 0.016, 0.03)
        } else {
            sky
        };
        seen + TUNGSTEN * (window * 0.9)
    } else if x > left && x < right {
        // Steps: each farther one is lower and narrower.
        let depth = 1.0 / (y - top + 0.16);
        let step = depth * 2.3;
        let within = step.fract();
        let tread = ease(0.44, 0.48, within);
        let across = (x - 0.889) * depth;
        let worn = 0.8 + 0.35 * noise(across * 7.0, step.floor() * 3.0, 17);
        let riser = painted(across, within * 0.16 + 0.0, 0.17) * 0.8;
        let albedo = mix(riser, PAPER * (0.6 * worn), tread);
        let shade = (0.55 + 0.45 * tread) * (1.0 - 0.55 * ease(0.06, 0.0, within));
        let far = ease(0.0, 0.5, y - top);
        let light = dusk(0.5 + 0.5 * tread)
            + pool(
                x - lamp.0,
                (y - lamp.1) * 0.8,
                0.42,
                1.5 * (0.4 + 0.6 * far),
            );
        albedo * shade * light
    } else {
        // Walls, tiled to a dado, plaster above.
        let from_edge = if x <= left { left - x } else { x - right };
        let stretch = 1.0 + 1.5 * from_edge;
        let wall_y = (y - 0.3) / stretch;
        let u = from_edge / (0.55 + from_edge * 0.55);
        let dado = 0.16 - 0.12 * from_edge;
        let side_light = if x <= left { 0.9 } else { 1.3 };
        let light = dusk(0.45) + pool(x - lamp.0, y - lamp.1, 0.34, side_light);
        let albedo = if wall_y > dado - 0.1 {
            let rim = inside((wall_y - dado + 0.1).abs() - 0.008, 0.006);
            mix(painted(u, wall_y, 0.085), rgb(0.08, 0.14, 0.34), rim)
        } else {
            PAPER * (0.55 + 0.3 * noise(x * 5.0, y * 5.0, 19))
        };
        let edge = 1.0 - 0.5 * ease(0.03, 0.0, from_edge);
        albedo * edge * light
    };
    // A bare bulb on a bracket from the right wall.
    let arm = inside((y - lamp.1 + 0.045).abs() - 0.003, 0.003)
        * ease(lamp.0 - 0.002, lamp.0, x)
        * ease(1.42, 1.41, x);
    let drop = inside((x - lamp.0).abs() - 0.006, 0.003)
        * inside((y - lamp.1 + 0.032).abs() - 0.015, 0.003);
    out = out * (1.0 - 0.9 * arm.max(drop));
    out + bulb(x, y, lamp, 0.017)
}

const BANK: f32 = 0.5;
const STONES: f32 = 0.86;

/// What stands on the far bank and above it, `y` up to [`BANK`].
fn far_bank(x: f32, y: f32) -> Light {
    let sky = mix(
        rgb(0.02, 0.03, 0.065),
        rgb(0.05, 0.06, 0.1),
        ease(0.0, BANK, y),
    ) * 1.2
        + TUNGSTEN * (0.03 * ease(0.2, BANK, y));
    let mut out = sky;
    // Two rows of houses climbing from the bank; windows lit here and there.
    for row in 0..2 {
        let width = 0.105 - 0.02 * row as f32;
        let shift = 0.037 * row as f32;
        let house = ((x + shift) / width).floor();
        let salt = 50 + row as u32;
        let height = 0.1 + 0.13 * lattice(house as i32, 1, salt) + 0.09 * (1 - row) as f32;
        let u = (x + shift) / width - house;
        let gable = 0.022
            * (1.0 - (u - 0.5).abs() * 2.0)
            * f32::from(u8::from(lattice(house as i32, 2, salt) > 0.45));
        if y > BANK - height - gable {
            let tone = lattice(house as i32, 3, salt);
            let wall = mix(rgb(0.03, 0.03, 0.042), rgb(0.085, 0.06, 0.055), tone);
            let glow = TUNGSTEN * (0.07 * ease(BANK - 0.16, BANK, y) * (0.4 + tone));
            out = wall * (0.55 + 0.35 * row as f32) + glow;
            let (wu, wv) = (u * 3.0, (BANK - y) * 26.0);
            let lit = lattice(
                (house * 3.0 + wu.floor()) as i32,
                wv.floor() as i32,
                salt + 7,
            );
            let pane = inside((wu.fract() - 0.5).abs() - 0.2, 0.12)
                * inside((wv.fract() - 0.5).abs() - 0.28, 0.12);
            if lit > 0.74 {
                out = out
                    + mix(TUNGSTEN, rgb(1.0, 0.8, 0.55), lit * 2.0 - 1.4)
                        * (pane * (0.25 + 1.6 * (lit - 0.74) * 3.0));
            }
        }
    }
    // Lamps along the far quay.
    let lamp = ((x + 0.06) / 0.19).round() * 0.19 - 0.06;
    let d = (x - lamp).hypot(y - (BANK - 0.045));
    out + (rgb(1.0, 0.72, 0.36) * (3.0 * inside(d - 0.006, 0.004))
        + TUNGSTEN * (0.5 * (-d / 0.022).exp() + 0.1 * (-d / 0.08).exp()))
}

fn quay(x: f32, y: f32) -> Light {
    let lamp = (1.2, 0.13);
    let mut out = if y < BANK {
        far_bank(x, y)
    } else if y < STONES {
        // Water: the far bank upside down, drawn out and darker.
        let down = y - BANK;
        let smear = (0..5).fold(Light::default(), |sum, n| {
            let at = BANK - down * (0.62 + 0.16 * n as f32) - 0.004;
            sum + far_bank(x + 0.004 * (n as f32 - 2.0), at) * 0.2
        });
        let streak = 0.7 + 0.6 * noise(x * 3.0, y * 60.0, 61);
        smear * (0.72 * streak) + rgb(0.006, 0.009, 0.016)
    } else {
        // Quay stones, lit by the bulb on its post.
        let depth = 0.1 / (y - STONES + 0.07);
        let (u, v) = ((x - 0.889) * depth * 5.0, depth * 6.0);
        let row = v.floor();
        let stone = u + 0.5 * (row as i32 & 1) as f32;
        let joint = (stone.fract() - 0.5).abs().max((v.fract() - 0.5).abs());
        let tone = 0.6
            + 0.4 * lattice(stone.floor() as i32, row as i32, 71)
            + 0.2 * noise(u * 9.0, v * 9.0, 72);
        let wet = TUNGSTEN
            * (0.3 * (-((x - lamp.0) / 0.12).powi(2)).exp() * noise(u * 5.0, v * 14.0, 73));
        let albedo = rgb(0.3, 0.28, 0.26) * (tone * (1.0 - 0.7 * ease(0.42, 0.48, joint)));
        let light = pool(x - lamp.0, (y - 0.9) * 0.7, 0.42, 0.9) + rgb(0.016, 0.02, 0.034);
        albedo * light + wet
    };
    // The edge of the quay catches the bulb that hangs over it.
    let edge = inside((y - STONES).abs() - 0.006, 0.004);
    out = mix(
        out,
        rgb(0.34, 0.31, 0.28) * pool(x - lamp.0, 0.0, 0.4, 1.0),
        edge,
    );
    out = out * cord(x, y, lamp, 0.017);
    out + bulb(x, y, lamp, 0.017)
}

fn drum(x: f32, y: f32) -> Light {
    let (cx, cy, r) = (0.889, 0.5, 0.43);
    let d = (x - cx).hypot(y - cy);
    let (nx, ny) = ((x - cx) / d.max(1e-3), (y - cy) / d.max(1e-3));
    let facing = (-nx * 0.6 - ny * 0.8).max(0.0);
    let light = pool(x - 0.3, y + 0.1, 0.7, 1.1) + rgb(0.012, 0.015, 0.025);
    let ring = inside((d - r - 0.04).abs() - 0.04, 0.006);
    let chrome = rgb(0.06, 0.06, 0.07)
        + rgb(1.0, 0.85, 0.64)
            * (1.6 * facing.powi(5) + 0.5 * (nx * 0.6 + ny * 0.8).max(0.0).powi(9));
    let groove = 1.0 - 0.5 * inside((d - r - 0.045).abs() - 0.004, 0.006);
    let mut albedo = rgb(0.7, 0.67, 0.6) * (1.0 - 0.1 * noise(x * 12.0, y * 12.0, 5));
    albedo = albedo * (1.0 - 0.6 * ease(0.09, 0.0, (d - r - 0.08).max(0.0)));
    albedo = mix(albedo, chrome * groove, ring);
    albedo = mix(albedo, rgb(0.03, 0.035, 0.05), inside(d - r, 0.006));
    albedo * light
}

fn water_close(x: f32, y: f32) -> Light {
    let mut out = mix(
        rgb(0.008, 0.014, 0.028),
        rgb(0.02, 0.03, 0.055),
        ease(0.0, 1.0, 1.0 - y),
    );
    for lamp in 0..7 {
        let middle = -0.05 + 0.31 * lamp as f32 + 0.1 * lattice(lamp, 0, 81);
        let bright = 0.4 + lattice(lamp, 1, 81);
        let wander = 0.035 * (noise(y * 7.0, lamp as f32 * 9.0, 82) - 0.5);
        let width = 0.02 + 0.045 * y.max(0.0) * lattice(lamp, 2, 81).max(0.3);
        let column = (-((x - middle - wander) / width).powi(2)).exp();
        let broken = ease(0.38, 0.72, noise(x * 9.0, y * 46.0, 83 + lamp as u32));
        let colour = mix(
            TUNGSTEN,
            rgb(0.5, 0.62, 1.0),
            f32::from(u8::from(lamp % 4 == 3)),
        );
        out = out + colour * (column * bright * (0.18 + 1.25 * broken));
    }
    let ripple = noise(x * 5.0, y * 70.0, 90);
    out + rgb(0.035, 0.05, 0.085) * ease(0.55, 0.95, ripple)
}

fn lamps(x: f32, y: f32) -> Light {
    let mut out = mix(DUSK * 0.34, rgb(0.1, 0.075, 0.08), ease(0.0, 0.95, y));
    // A wall of houses to the left, falling away.
    let wall = 0.12 + 0.42 * x;
    if y > wall && x < 1.0 {
        out = PAPER * (0.025 + 0.02 * noise(x * 6.0, y * 6.0, 95));
    }
    // Lamps in a row, nearer ones larger, all softly out of focus.
    for n in 0..8 {
        let z = 1.0 + 0.62 * n as f32;
        let (lx, ly) = (1.06 + 0.62 / z - 0.18, 0.56 - 0.40 / z);
        let r = 0.115 / z;
        let d = (x - lx).hypot(y - ly);
        let disc = inside(d - r, r * 0.12);
        let rim = 1.0 + 0.45 * inside((d - r * 0.93).abs() - r * 0.05, r * 0.1);
        let post = inside((x - lx).abs() - 0.012 / z, 0.006)
            * ease(ly + r * 0.6, ly + r * 0.9, y)
            * ease(0.58 + 0.5 / z, 0.57 + 0.5 / z, y);
        out = mix(out, rgb(0.02, 0.02, 0.026) * 1.0, post * 0.9);
        out = out + TUNGSTEN * (disc * rim * 0.85 + 0.16 * (-d / (r * 2.4)).exp());
    }
    // Wet street.
    if y > 0.72 {
        let streak = noise(x * 26.0, y * 5.0, 96);
        out = out * 0.7
            + TUNGSTEN
                * (0.18
                    * ease(0.45, 0.9, streak)
                    * ease(0.72, 1.0, y)
                    * (-((x - 1.0) / 0.4).powi(2)).exp());
    }
    out
}

fn dark(x: f32, y: f32) -> Light {
    let glow = (-((x - 0.889) / 0.55).powi(2) - ((y - 0.62) / 0.5).powi(2)).exp();
    rgb(0.006, 0.007, 0.011) + TUNGSTEN * (0.028 * glow * (0.7 + 0.6 * noise(x * 3.0, y * 3.0, 97)))
}

fn bulb_wall(x: f32, y: f32) -> Light {
    let light = pool(x - 0.889, y - 0.48, 0.34, 0.62) + rgb(0.01, 0.014, 0.026);
    painted(x + 0.02, y + 0.07, 0.16) * 0.9 * light
}

/// A bulb close to, with its filament: light and coverage around (`x`, `y`) in bulb radii.
pub fn bulb_close(x: f32, y: f32) -> (Light, f32) {
    let d = x.hypot(y);
    let glass = inside(d - 1.0, 0.04);
    let throat = inside(x.abs() - 0.42, 0.04) * ease(-1.9, -1.88, y) * ease(-0.7, -0.8, y);
    let socket = inside(x.abs() - 0.5, 0.04) * ease(-3.0, -2.98, y) * ease(-1.6, -1.62, y);
    let line = inside(x.abs() - 0.06, 0.04) * ease(-2.9, -2.95, y);
    let coil = {
        let wave = 0.14 * (x * 26.0).sin();
        inside((y - 0.08 - wave * 0.5).abs() - 0.05, 0.05) * inside(x.abs() - 0.42, 0.04)
    };
    let stems = inside((x.abs() - 0.42 + 0.1 * (y + 0.9)).abs() - 0.02, 0.03)
        * ease(-1.3, -1.2, y)
        * ease(0.1, 0.08, y);
    let halo = 0.55 * (-(d - 0.6).max(0.0) / 0.9).exp();
    let body = TUNGSTEN * (0.55 + 0.75 * (-d * 1.4).exp()) + rgb(1.0, 0.85, 0.6) * (coil * 7.0);
    let edge = 1.0 + 0.8 * ease(0.85, 0.99, d);
    let mut light = body * edge;
    light = mix(light, rgb(0.15, 0.09, 0.05), stems * (1.0 - coil) * 0.7);
    let solid = glass.max(throat);
    if socket.max(line) > 0.0 && solid < 0.5 {
        return (
            rgb(0.05, 0.045, 0.04) * rgb(1.0, 0.7, 0.45),
            socket.max(line),
        );
    }
    if solid > 0.0 {
        return (light, 0.35 * solid + 0.65 * solid * (coil + 0.55).min(1.0));
    }
    (TUNGSTEN * 1.1, halo * 0.55)
}

/// What turns in a drum, in polar coordinates: `r` 0 (middle) to 1 (rim), `turn` 0 to 1 around.
pub fn laundry(r: f32, turn: f32) -> Light {
    // Noise read on the disc, so that it closes after a whole turn.
    let (sin, cos) = (turn * std::f32::consts::TAU).sin_cos();
    let around =
        |scale: f32, salt: u32| noise(cos * r * scale + 17.0, sin * r * scale + 17.0, salt);
    let mut out: Light = rgb(0.02, 0.024, 0.034);
    let cloths: [(Light, u32); 5] = [
        (rgb(0.42, 0.33, 0.22), 101),
        (rgb(0.4, 0.07, 0.07), 102),
        (rgb(0.07, 0.11, 0.2), 103),
        (rgb(0.45, 0.27, 0.08), 104),
        (rgb(0.5, 0.4, 0.27), 105),
    ];
    for (colour, salt) in cloths {
        let there = ease(0.56, 0.64, around(2.6, salt)) * ease(0.12, 0.4, r);
        let fold = 0.45 + 0.8 * around(7.0, salt + 20);
        out = mix(out, colour * fold, there);
    }
    // Suds gather at the rim, and the drum's holes show where there is no cloth.
    let holes = ((turn * 36.0).fract() - 0.5).hypot((r * 9.0).fract() - 0.5);
    out = out * (1.0 - 0.35 * inside(holes - 0.2, 0.1));
    let suds = ease(0.7, 1.0, r) * ease(0.4, 0.7, around(9.0, 140));
    mix(out, rgb(0.42, 0.37, 0.3), suds * 0.7)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_is_finite_and_lit_somewhere() {
        for scene in [
            Scene::Launderette,
            Scene::Door,
            Scene::Stairs,
            Scene::Quay,
            Scene::Drum,
            Scene::Water,
            Scene::Lamps,
            Scene::Dark,
            Scene::Bulb,
        ] {
            let mut brightest = 0.0f32;
            for n in 0..4000 {
                let (x, y) = (
                    (n % 80) as f32 * 0.024 - 0.05,
                    (n / 80) as f32 * 0.024 - 0.1,
                );
                let light = shade(scene, x, y);
                assert!(
                    light
                        .0
                        .iter()
                        .all(|value| value.is_finite() && *value >= 0.0),
                    "{scene:?} {x} {y} {light:?}"
                );
                brightest = brightest.max(light.0[0]);
            }
            assert!(
                brightest > if scene == Scene::Dark { 0.02 } else { 0.3 },
                "{scene:?} {brightest}"
            );
        }
    }

    #[test]
    fn laundry_closes_after_a_turn() {
        for n in 0..20 {
            let r = n as f32 / 20.0;
            let (a, b) = (laundry(r, 0.0), laundry(r, 0.9999));
            assert!((a.0[0] - b.0[0]).abs() < 0.05, "{a:?} {b:?}");
        }
    }
}
