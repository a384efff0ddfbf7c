//! A singing voice by formant synthesis: a glottal pulse through moving resonances, with noise for
//! the consonants; and the mouth that goes with it.
//!
//! The cascade of resonators and the open-phase pulse follow Klatt (1980) and Klatt and Klatt
//! (1990); the vowels' formants are the averages for women of Peterson and Barney (1952).
//! It sings recognisable vowels and a hint of consonants; nobody will mistake it for a person.

use crate::compose::SONG_RATE_HZ;
use crate::dice::Dice;
use crate::score::Note;
use crate::truth::CURVE_STEP_S;

/// Control frames a second.
const CONTROL_HZ: f64 = 200.0;
/// Formants in the cascade.
const FORMANTS: usize = 5;

/// How this singer differs from the written line.
#[derive(Clone, Copy, Debug)]
pub struct Singer {
    /// Seed of her small irregularities.
    pub seed: u64,
    /// How much later than written she sings, seconds.
    pub late_s: f64,
    /// Deviation of her timing from note to note, seconds.
    pub loose_s: f32,
    /// How far off pitch she is, cents.
    pub cents: f32,
    /// Breath in the tone, 0 to 1.
    pub breath: f32,
    /// Formants against the average, 1.0 the same; a shorter throat is higher.
    pub throat: f32,
}

impl Singer {
    /// As written, without breath.
    pub const EXACT: Self = Self {
        seed: 0,
        late_s: 0.0,
        loose_s: 0.0,
        cents: 0.0,
        breath: 0.0,
        throat: 1.0,
    };
}

/// A phone as the synthesiser knows it.
struct Phone {
    name: &'static str,
    /// First three formants, Hz.
    formants: [f32; 3],
    /// Where a diphthong ends.
    to: Option<[f32; 3]>,
    /// Voicing, hiss and breath, 0 to 1.
    voiced: f32,
    hiss: f32,
    breath: f32,
    /// Centre and width of the hiss, Hz.
    hiss_hz: [f32; 2],
    /// How long it lasts when it is a consonant, seconds.
    length_s: f64,
    /// Jaw, 0 to 1, and lips, 0 rounded to 1 spread.
    open: f32,
    wide: f32,
    kind: Kind,
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Vowel,
    Stop,
    Other,
}

const IY: [f32; 3] = [310.0, 2790.0, 3310.0];
const IH: [f32; 3] = [430.0, 2480.0, 3070.0];
const EH: [f32; 3] = [610.0, 2330.0, 2990.0];
const AE: [f32; 3] = [860.0, 2050.0, 2850.0];
const AA: [f32; 3] = [850.0, 1220.0, 2810.0];
const AO: [f32; 3] = [590.0, 920.0, 2710.0];
const UH: [f32; 3] = [470.0, 1160.0, 2680.0];
const UW: [f32; 3] = [370.0, 950.0, 2670.0];
const AH: [f32; 3] = [760.0, 1400.0, 2780.0];
const ER: [f32; 3] = [500.0, 1640.0, 1960.0];

const fn vowel(
    name: &'static str,
    formants: [f32; 3],
    to: Option<[f32; 3]>,
    open: f32,
    wide: f32,
) -> Phone {
    Phone {
        name,
        formants,
        to,
        voiced: 1.0,
        hiss: 0.0,
        breath: 0.0,
        hiss_hz: [6000.0, 3000.0],
        length_s: 0.0,
        open,
        wide,
        kind: Kind::Vowel,
    }
}

/// A consonant: formants; voicing, hiss and breath; centre and width of the hiss; length; jaw and lips.
const fn sound(
    name: &'static str,
    formants: [f32; 3],
    [voiced, hiss, breath]: [f32; 3],
    hiss_hz: [f32; 2],
    length_s: f64,
    [open, wide]: [f32; 2],
    kind: Kind,
) -> Phone {
    Phone {
        voiced,
        hiss,
        breath,
        hiss_hz,
        length_s,
        kind,
        ..vowel(name, formants, None, open, wide)
    }
}

/// Vowels: formants published; jaw and lips, and everything about consonants, tuned by ear.
#[rustfmt::skip]
const PHONES: [Phone; 37] = [
    vowel("iy", IY, None, 0.34, 1.0),
    vowel("ih", IH, None, 0.44, 0.8),
    vowel("eh", EH, None, 0.66, 0.72),
    vowel("ae", AE, None, 0.85, 0.78),
    vowel("aa", AA, None, 0.95, 0.5),
    vowel("ao", AO, None, 0.78, 0.22),
    vowel("uh", UH, None, 0.45, 0.2),
    vowel("uw", UW, None, 0.34, 0.0),
    vowel("ah", AH, None, 0.74, 0.5),
    vowel("er", ER, None, 0.48, 0.3),
    vowel("ey", EH, Some(IY), 0.58, 0.85),
    vowel("ay", AA, Some(IH), 0.86, 0.62),
    vowel("ow", AO, Some(UW), 0.66, 0.12),
    vowel("aw", AA, Some(UH), 0.84, 0.4),
    vowel("oy", AO, Some(IH), 0.68, 0.3),
    sound("m", [280.0, 1100.0, 2200.0], [0.32, 0.0, 0.0], [3000.0, 3000.0], 0.07, [0.0, 0.45], Kind::Other),
    sound("n", [280.0, 1600.0, 2600.0], [0.34, 0.0, 0.0], [3000.0, 3000.0], 0.06, [0.2, 0.5], Kind::Other),
    sound("ng", [280.0, 2100.0, 2800.0], [0.32, 0.0, 0.0], [3000.0, 3000.0], 0.07, [0.24, 0.5], Kind::Other),
    sound("l", [380.0, 1200.0, 2800.0], [0.62, 0.0, 0.0], [3000.0, 3000.0], 0.06, [0.3, 0.5], Kind::Other),
    sound("r", [420.0, 1250.0, 1700.0], [0.6, 0.0, 0.0], [3000.0, 3000.0], 0.07, [0.28, 0.15], Kind::Other),
    sound("w", [320.0, 700.0, 2300.0], [0.55, 0.0, 0.0], [3000.0, 3000.0], 0.07, [0.16, 0.0], Kind::Other),
    sound("y", [290.0, 2600.0, 3200.0], [0.55, 0.0, 0.0], [3000.0, 3000.0], 0.06, [0.26, 0.9], Kind::Other),
    sound("h", [600.0, 1500.0, 2700.0], [0.0, 0.0, 0.8], [3000.0, 3000.0], 0.07, [0.4, 0.5], Kind::Other),
    sound("s", [400.0, 1700.0, 2700.0], [0.0, 0.55, 0.0], [7400.0, 3200.0], 0.1, [0.14, 0.62], Kind::Other),
    sound("z", [350.0, 1700.0, 2700.0], [0.3, 0.3, 0.0], [7200.0, 3200.0], 0.08, [0.14, 0.62], Kind::Other),
    sound("sh", [400.0, 1900.0, 2700.0], [0.0, 0.6, 0.0], [3600.0, 1800.0], 0.1, [0.2, 0.15], Kind::Other),
    sound("f", [400.0, 1200.0, 2400.0], [0.0, 0.2, 0.1], [6500.0, 6000.0], 0.09, [0.08, 0.5], Kind::Other),
    sound("v", [320.0, 1200.0, 2400.0], [0.38, 0.12, 0.0], [6500.0, 6000.0], 0.06, [0.08, 0.5], Kind::Other),
    sound("th", [400.0, 1500.0, 2600.0], [0.0, 0.17, 0.1], [6800.0, 5000.0], 0.08, [0.2, 0.5], Kind::Other),
    sound("dh", [350.0, 1500.0, 2600.0], [0.4, 0.08, 0.0], [6800.0, 5000.0], 0.05, [0.2, 0.5], Kind::Other),
    sound("p", [350.0, 1000.0, 2300.0], [0.0, 0.4, 0.3], [1200.0, 1600.0], 0.08, [0.0, 0.45], Kind::Stop),
    sound("t", [350.0, 1700.0, 2600.0], [0.0, 0.6, 0.3], [5200.0, 3600.0], 0.08, [0.16, 0.5], Kind::Stop),
    sound("k", [350.0, 2000.0, 2600.0], [0.0, 0.5, 0.3], [2300.0, 1400.0], 0.08, [0.28, 0.5], Kind::Stop),
    sound("b", [300.0, 1000.0, 2300.0], [0.12, 0.25, 0.0], [1000.0, 1400.0], 0.06, [0.0, 0.45], Kind::Stop),
    sound("d", [300.0, 1700.0, 2600.0], [0.12, 0.4, 0.0], [4600.0, 3000.0], 0.06, [0.16, 0.5], Kind::Stop),
    sound("g", [300.0, 2000.0, 2600.0], [0.12, 0.35, 0.0], [2000.0, 1400.0], 0.06, [0.26, 0.5], Kind::Stop),
    sound("-", [600.0, 1500.0, 2700.0], [0.0, 0.0, 0.0], [3000.0, 3000.0], 0.0, [0.0, 0.5], Kind::Other),
];

/// Whether `phone` is a vowel of the synthesiser.
pub fn is_vowel(phone: &str) -> bool {
    PHONES
        .iter()
        .any(|known| known.name == phone && known.kind == Kind::Vowel)
}

fn known(phone: &str) -> &'static Phone {
    PHONES
        .iter()
        .find(|known| known.name == phone)
        .unwrap_or(&PHONES[PHONES.len() - 1])
}

/// What the throat should do, one value per control frame.
struct Gestures {
    pitch_hz: Vec<f32>,
    formants: [Vec<f32>; 3],
    voiced: Vec<f32>,
    hiss: Vec<f32>,
    breath: Vec<f32>,
    hiss_hz: [Vec<f32>; 2],
    open: Vec<f32>,
    wide: Vec<f32>,
}

/// Sings `notes` for `duration_s` of song time: mono, at [`SONG_RATE_HZ`], peaks near 0.5.
pub fn sing(notes: &[Note], duration_s: f64, singer: Singer) -> Vec<f32> {
    let gestures = gestures(notes, duration_s, &singer);
    sound_of(&gestures, duration_s, &singer)
}

/// The mouth that sings `notes`: openness and width every [`CURVE_STEP_S`].
pub fn mouth(notes: &[Note], duration_s: f64) -> (Vec<f32>, Vec<f32>) {
    let gestures = gestures(notes, duration_s, &Singer::EXACT);
    let step = (CURVE_STEP_S * CONTROL_HZ).round() as usize;
    let thin = |curve: &[f32]| -> Vec<f32> { curve.iter().step_by(step).copied().collect() };
    (thin(&gestures.open), thin(&gestures.wide))
}

fn gestures(notes: &[Note], duration_s: f64, singer: &Singer) -> Gestures {
    let frames = (duration_s * CONTROL_HZ).ceil() as usize + 1;
    let rest = known("-");
    let mut all = Gestures {
        pitch_hz: vec![0.0; frames],
        formants: rest.formants.map(|hz| vec![hz; frames]),
        voiced: vec![0.0; frames],
        hiss: vec![0.0; frames],
        breath: vec![0.0; frames],
        hiss_hz: rest.hiss_hz.map(|hz| vec![hz; frames]),
        open: vec![0.0; frames],
        wide: vec![0.5; frames],
    };
    let mut dice = Dice::new(singer.seed, "timing");
    let mut free_from_s = 0.0f64;
    let mut pitches: Vec<(f64, f64, f32)> = Vec::new();
    for (index, note) in notes.iter().enumerate() {
        let shift = singer.late_s + f64::from(singer.loose_s * dice.normal());
        let vowel_at = note
            .phones
            .iter()
            .position(|phone| is_vowel(phone))
            .unwrap_or(0);
        let (onset, rest) = note.phones.split_at(vowel_at);
        let start_s = (note.start_s + shift).max(free_from_s + 0.02);
        let end_s = (note.end_s + shift).max(start_s + 0.06);
        // Consonants before the vowel take their time from what came before.
        let onset_s: f64 = onset.iter().map(|phone| known(phone).length_s).sum();
        let mut at_s = (start_s - onset_s).max(free_from_s - 0.05).max(0.0);
        let squeeze = ((start_s - at_s) / onset_s.max(1e-9)).min(1.0);
        for phone in onset {
            let until_s = at_s + known(phone).length_s * squeeze;
            all.place(known(phone), at_s, until_s, note.force);
            at_s = until_s;
        }
        // The vowel gives way to its own coda and to the next syllable's consonants.
        let coda = &rest[1..];
        let coda_s: f64 = coda.iter().map(|phone| known(phone).length_s).sum();
        let next_onset_s: f64 = notes
            .get(index + 1)
            .filter(|next| next.start_s + shift - end_s < 0.05)
            .map_or(0.0, |next| {
                next.phones
                    .iter()
                    .take_while(|phone| !is_vowel(phone))
                    .map(|phone| known(phone).length_s)
                    .sum()
            });
        let room_s = end_s - start_s;
        let giving = (coda_s + next_onset_s).min(room_s * 0.55);
        let shrink = giving / (coda_s + next_onset_s).max(1e-9);
        let mut at_s = end_s - giving;
        all.place(known(rest[0]), start_s, at_s, note.force);
        for phone in coda {
            let until_s = at_s + known(phone).length_s * shrink.min(1.0);
            all.place(known(phone), at_s, until_s, note.force);
            at_s = until_s;
        }
        free_from_s = at_s;
        pitches.push((start_s - onset_s, end_s, note.pitch as f32));
    }
    all.pitch(&pitches, singer);
    all.formants.iter_mut().for_each(|curve| smooth(curve, 7));
    all.hiss_hz.iter_mut().for_each(|curve| smooth(curve, 3));
    let Gestures {
        voiced,
        hiss,
        breath,
        open,
        wide,
        ..
    } = &mut all;
    for (curve, reach) in [(voiced, 4), (breath, 4), (hiss, 2), (open, 7), (wide, 7)] {
        smooth(curve, reach);
    }
    all
}

impl Gestures {
    fn place(&mut self, phone: &Phone, from_s: f64, to_s: f64, force: f32) {
        let frames = self.voiced.len();
        let from = ((from_s * CONTROL_HZ).round().max(0.0) as usize).min(frames);
        let to = ((to_s * CONTROL_HZ).round().max(0.0) as usize).clamp(from, frames);
        let length = (to - from).max(1) as f32;
        for frame in from..to {
            let gone = (frame - from) as f32 / length;
            for (index, curve) in self.formants.iter_mut().enumerate() {
                // A diphthong holds its first vowel for the better half, as singers do.
                let glide = ((gone - 0.55) / 0.4).clamp(0.0, 1.0);
                let end = phone.to.map_or(phone.formants[index], |to| to[index]);
                curve[frame] = phone.formants[index] + (end - phone.formants[index]) * glide;
            }
            // A stop is silence, then a burst.
            let burst = phone.kind != Kind::Stop || gone > 0.62;
            let swell = if phone.kind == Kind::Vowel {
                // Into the note and gently off it.
                (0.82 + 0.18 * (gone * 5.0).min(1.0)) * (1.0 - 0.25 * gone * gone)
            } else {
                1.0
            };
            self.voiced[frame] = phone.voiced * force * swell;
            if burst {
                self.hiss[frame] = phone.hiss * force.sqrt();
                self.breath[frame] = phone.breath * force;
            } else {
                (self.hiss[frame], self.breath[frame]) = (0.0, 0.0);
            }
            self.hiss_hz[0][frame] = phone.hiss_hz[0];
            self.hiss_hz[1][frame] = phone.hiss_hz[1];
            let jaw = if phone.kind == Kind::Vowel {
                0.62 + 0.42 * force
            } else {
                1.0
            };
            self.open[frame] = (phone.open * jaw).min(1.0);
            self.wide[frame] = phone.wide;
        }
    }

    fn pitch(&mut self, notes: &[(f64, f64, f32)], singer: &Singer) {
        let mut dice = Dice::new(singer.seed, "pitch");
        let frames = self.pitch_hz.len();
        let mut midi = vec![f32::NAN; frames];
        let mut vibrato = vec![0.0f32; frames];
        for &(from_s, to_s, pitch) in notes {
            let from = ((from_s * CONTROL_HZ).max(0.0) as usize).min(frames);
            let to = ((to_s * CONTROL_HZ).max(0.0) as usize).clamp(from, frames);
            let off = singer.cents / 100.0 + dice.normal() * 0.03;
            for frame in from..to {
                midi[frame] = pitch + off;
                let held_s = (frame - from) as f32 / CONTROL_HZ as f32;
                vibrato[frame] = ((held_s - 0.28) / 0.35).clamp(0.0, 1.0) * 0.3;
            }
        }
        // Rests take the pitch before them, so that a note starts from where the voice was.
        let mut last = notes.first().map_or(60.0, |note| note.2);
        for value in &mut midi {
            if value.is_nan() {
                *value = last;
            } else {
                last = *value;
            }
        }
        smooth(&mut midi, 9);
        let (mut phase, mut wander) = (0.0f32, 0.0f32);
        for frame in 0..frames {
            phase += (5.3 + wander * 0.6) / CONTROL_HZ as f32;
            wander += (dice.noise() - wander) * 0.02;
            let bend = vibrato[frame] * (phase * std::f32::consts::TAU).sin() + wander * 0.25;
            self.pitch_hz[frame] = 440.0 * 2f32.powf((midi[frame] + bend - 69.0) / 12.0);
        }
    }
}

/// A triangular average over `2 × reach + 1` frames, done as two box averages.
fn smooth(curve: &mut [f32], reach: usize) {
    for _ in 0..2 {
        let half = reach / 2 + 1;
        let source = curve.to_vec();
        let mut sum: f64 = source[..half.min(source.len())]
            .iter()
            .map(|v| f64::from(*v))
            .sum();
        let mut count = half.min(source.len());
        for at in 0..curve.len() {
            curve[at] = (sum / count.max(1) as f64) as f32;
            if at + half < source.len() {
                sum += f64::from(source[at + half]);
                count += 1;
            }
            if at + 1 >= half {
                sum -= f64::from(source[at + 1 - half]);
                count -= 1;
            }
        }
    }
}

/// A two-pole resonator of unit gain at zero frequency (Klatt 1980, eq. 1-2).
#[derive(Clone, Copy, Default)]
struct Resonator {
    gain: f32,
    b: f32,
    c: f32,
    y1: f32,
    y2: f32,
}

impl Resonator {
    fn tune(&mut self, hz: f32, width_hz: f32) {
        let step = std::f32::consts::PI / SONG_RATE_HZ as f32;
        let radius = (-step * width_hz).exp();
        self.c = -radius * radius;
        self.b = 2.0 * radius * (2.0 * step * hz).cos();
        self.gain = 1.0 - self.b - self.c;
    }
    fn run(&mut self, x: f32) -> f32 {
        let y = self.gain * x + self.b * self.y1 + self.c * self.y2;
        self.y2 = self.y1;
        self.y1 = y;
        y
    }
}

fn sound_of(gestures: &Gestures, duration_s: f64, singer: &Singer) -> Vec<f32> {
    let rate = SONG_RATE_HZ as f32;
    let samples = (duration_s * f64::from(SONG_RATE_HZ)).round() as usize;
    let per_frame = (f64::from(SONG_RATE_HZ) / CONTROL_HZ) as usize;
    let mut dice = Dice::new(singer.seed, "breath");
    let mut tract = [Resonator::default(); FORMANTS];
    let mut hiss = Resonator::default();
    let mut hiss_before = 0.0f32;
    let (mut phase, mut shimmer) = (0.0f32, 1.0f32);
    let mut tilt = 0.0f32;
    let mut out = vec![0.0f32; samples];
    for (frame, block) in out.chunks_mut(per_frame).enumerate() {
        let last = gestures.voiced.len() - 1;
        let (now, next) = (frame.min(last), (frame + 1).min(last));
        let quiet =
            |at: usize| gestures.voiced[at] + gestures.hiss[at] + gestures.breath[at] < 1e-5;
        if quiet(now) && quiet(next) && tract[0].y1.abs() < 1e-5 {
            continue;
        }
        // The first formant follows the pitch up, as trained singers let it (common practice).
        let f1 = (gestures.formants[0][now] * singer.throat).max(gestures.pitch_hz[now] * 1.08);
        let f2 = (gestures.formants[1][now] * singer.throat).max(f1 + 150.0);
        let f3 = (gestures.formants[2][now] * singer.throat).max(f2 + 150.0);
        for (resonator, (hz, width)) in tract.iter_mut().zip([
            (f1, 90.0),
            (f2, 110.0),
            (f3, 150.0),
            (4150.0 * singer.throat, 240.0),
            (5200.0 * singer.throat, 320.0),
        ]) {
            resonator.tune(hz, width);
        }
        hiss.tune(gestures.hiss_hz[0][now], gestures.hiss_hz[1][now]);
        let count = block.len() as f32;
        for (index, sample) in block.iter_mut().enumerate() {
            let part = index as f32 / count;
            let mix = |curve: &[f32]| curve[now] + (curve[next] - curve[now]) * part;
            let step = mix(&gestures.pitch_hz) / rate;
            phase += step;
            if phase >= 1.0 {
                phase -= 1.0;
                shimmer = 1.0 + dice.noise() * 0.02;
            }
            let white = dice.noise();
            let voiced = mix(&gestures.voiced);
            // Pulse tilted by effort: soft notes are duller.
            let pulse = glottis(phase, step, 0.62) * shimmer;
            let dull = 0.25 + 0.6 * voiced;
            tilt += (pulse - tilt) * dull.min(1.0);
            let open = if phase < 0.62 { 1.0 } else { 0.35 };
            let breath =
                white * (singer.breath * 0.1 * voiced + mix(&gestures.breath) * 0.25) * open;
            let mut x = tilt * voiced + breath;
            for resonator in &mut tract {
                x = resonator.run(x);
            }
            let noise = hiss.run(white);
            // High-passed by a difference, so that the hiss holds no rumble.
            let edge = noise - hiss_before;
            hiss_before = noise;
            *sample = x * 0.16 + edge * mix(&gestures.hiss) * 0.16;
        }
    }
    out
}

/// Derivative of the glottal flow over one period: a parabola while open, a sharp return at
/// closure smoothed over one sample (polynomial band-limited step) so that it does not alias.
fn glottis(phase: f32, step: f32, open: f32) -> f32 {
    // g(t) = t² (open − t), scaled so that its derivative is −1 at closure.
    let raw = if phase < open {
        (2.0 * open * phase - 3.0 * phase * phase) / (open * open)
    } else {
        0.0
    };
    let t = (phase - open) / step;
    // Just before closure the jump from −1 to 0 has half begun; just after, half ended.
    if (-1.0..0.0).contains(&t) {
        raw + 0.5 * (t + 1.0) * (t + 1.0)
    } else if (0.0..1.0).contains(&t) {
        raw - 0.5 * (1.0 - t) * (1.0 - t)
    } else {
        raw
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::Part;

    fn held(phones: Vec<&'static str>, pitch: i32) -> Note {
        Note {
            start_s: 0.3,
            end_s: 1.3,
            pitch,
            phones,
            force: 0.9,
            part: Part::Chorus,
        }
    }

    const PLAIN: Singer = Singer {
        seed: 1,
        breath: 0.3,
        ..Singer::EXACT
    };

    /// Energy of `sound` at `hz` (Goertzel).
    fn energy(sound: &[f32], hz: f32) -> f32 {
        let step = std::f32::consts::TAU * hz / SONG_RATE_HZ as f32;
        let (mut re, mut im) = (0.0f32, 0.0f32);
        for (index, sample) in sound.iter().enumerate() {
            let angle = step * index as f32;
            re += sample * angle.cos();
            im += sample * angle.sin();
        }
        re.hypot(im)
    }

    #[test]
    fn a_note_sounds_at_its_pitch() {
        let sound = sing(&[held(vec!["aa"], 69)], 1.6, PLAIN);
        let steady = &sound[(0.4 * 48_000.0) as usize..(0.55 * 48_000.0) as usize];
        let at = |hz: f32| {
            (-4..=4)
                .map(|cents| energy(steady, hz * (1.0 + cents as f32 * 0.004)))
                .fold(0.0, f32::max)
        };
        assert!(at(440.0) > 5.0 * energy(steady, 330.0));
        assert!(at(880.0) > 5.0 * energy(steady, 660.0));
        assert!(sound.iter().all(|sample| sample.is_finite()));
    }

    #[test]
    fn lips_close_on_a_b_and_open_on_its_vowel() {
        let (open, _) = mouth(&[held(vec!["b", "aa"], 60)], 1.6);
        assert!(open[26] < 0.2, "{}", open[26]);
        assert!(open[60] > 0.7, "{}", open[60]);
        assert!(open[150] < 0.01);
    }
}
