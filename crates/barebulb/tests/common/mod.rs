//! What the whole-program tests share: a small song, small takes, and a way to run the program and
//! look at all of what it says.
#![allow(dead_code, reason = "each test file uses its own part")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Samples a second of everything made here.
pub const RATE: u32 = 24_000;

/// The program, ready for arguments.
pub fn barebulb() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_barebulb"));
    command.env_remove("COLUMNS");
    command
}

/// Runs the program with these arguments.
pub fn run<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Output {
    barebulb()
        .args(arguments)
        .output()
        .expect("the program starts")
}

/// Status, standard output and standard error as one text, with `folder` written `FOLDER`.
pub fn told(output: &Output, folder: &Path) -> String {
    let mut text = format!(
        "status {}\n",
        output
            .status
            .code()
            .map_or("none".into(), |code| code.to_string())
    );
    for (name, bytes) in [("out", &output.stdout), ("err", &output.stderr)] {
        for line in String::from_utf8_lossy(bytes).lines() {
            text.push_str(&format!("{name}: {line}\n"));
        }
    }
    let folder = folder.display().to_string();
    text.replace(&folder, "FOLDER")
}

/// The last line of standard error.
pub fn sentence(output: &Output, folder: &Path) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    text.lines()
        .last()
        .unwrap_or_default()
        .replace(&folder.display().to_string(), "FOLDER")
}

/// Whole numbers from a seed, evenly spread (Knuth's MMIX generator).
pub struct Dice(pub u64);

impl Dice {
    /// The next number, −1 to 1.
    pub fn next(&mut self) -> f32 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 40) as f32 / (1u64 << 23) as f32) - 1.0
    }
}

/// A small song of `bars` bars at 120 beats a minute: kick, hat, and a melody that never repeats.
pub fn song(bars: usize, seed: u64) -> Vec<f32> {
    let rate = RATE as f32;
    let beat = RATE as usize / 2;
    let mut out = vec![0.0f32; bars * 4 * beat + RATE as usize / 2];
    let mut dice = Dice(seed);
    let mut put = |at: usize, length: usize, wave: &mut dyn FnMut(f32) -> f32| {
        let end = (at + length).min(out.len());
        for (index, sample) in out[at..end].iter_mut().enumerate() {
            *sample += wave(index as f32 / rate);
        }
    };
    for n in 0..bars * 4 {
        let at = n * beat;
        if n % 2 == 0 {
            put(at, beat / 2, &mut |t| {
                0.5 * (-t * 18.0).exp()
                    * (2.0 * std::f32::consts::PI * (50.0 * t + 3.0 * (1.0 - (-t * 30.0).exp())))
                        .sin()
            });
        } else {
            put(at, beat / 3, &mut |t| {
                0.25 * (-t * 25.0).exp() * dice.next()
            });
        }
        let mut pick = Dice(seed ^ ((n as u64 + 1) * 7919));
        let note = ((pick.next() + 1.0) * 12.0).floor() + if n / 16 % 2 == 0 { 0.0 } else { 5.0 };
        let pitch = 196.0 * 2f32.powf(note / 12.0);
        put(at, beat, &mut |t| {
            let wave = |k: f32| (2.0 * std::f32::consts::PI * pitch * k * t).sin() / k;
            0.15 * (-t * 4.0).exp() * (wave(1.0) + wave(2.0) + wave(3.0) + wave(5.0))
        });
    }
    let peak = out.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
    out.iter_mut().for_each(|x| *x *= 0.8 / peak);
    out
}

/// What a camera hears of `song` from `from_s` on for `length_s`: filtered, a little noise.
pub fn heard(song: &[f32], from_s: f64, length_s: f64, seed: u64) -> Vec<f32> {
    let mut dice = Dice(seed);
    let from = (from_s * f64::from(RATE)) as i64;
    let count = (length_s * f64::from(RATE)) as i64;
    let mut low = 0.0f32;
    (from..from + count)
        .map(|index| {
            let sample = usize::try_from(index)
                .ok()
                .and_then(|index| song.get(index))
                .copied()
                .unwrap_or(0.0);
            low += 0.1 * (sample - low);
            0.4 * (sample - low) + 0.02 * dice.next()
        })
        .collect()
}

/// Writes one channel as a 16-bit WAV.
pub fn wav(path: &Path, samples: &[f32]) -> PathBuf {
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder can be made");
    media::write_wav(path, RATE, &[samples], media::WavFormat::Int16)
        .expect("a WAV can be written");
    path.to_path_buf()
}

/// Whether ffmpeg is there. Where it must be (`BAREBULB_REQUIRE_FFMPEG=1`), its absence fails.
pub fn ffmpeg() -> bool {
    let there = media::Tools::find().is_ok();
    if !there {
        assert!(
            std::env::var_os("BAREBULB_REQUIRE_FFMPEG").is_none(),
            "ffmpeg is required here and was not found"
        );
        eprintln!("skipped: this test needs ffmpeg");
    }
    there
}

/// A camera file: moving bars under the given sound. Returns whether it could be made.
pub fn clip(path: &Path, samples: &[f32], extra: &[&str]) -> bool {
    let sound = path.with_extension("sound.wav");
    wav(&sound, samples);
    let length = samples.len() as f64 / f64::from(RATE);
    let made = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-y", "-f", "lavfi", "-i"])
        .arg(format!("testsrc2=size=160x90:rate=25:duration={length}"))
        .arg("-i")
        .arg(&sound)
        .args([
            "-c:v",
            "mpeg4",
            "-q:v",
            "8",
            "-c:a",
            "aac",
            "-b:a",
            "128k",
            "-shortest",
        ])
        .args(extra)
        .arg(path)
        .status()
        .is_ok_and(|status| status.success());
    let _ = std::fs::remove_file(sound);
    made
}

/// The JSON a command printed.
pub fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
        panic!(
            "standard output is not JSON ({error}): {}\n{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        )
    })
}

/// A project in `folder` by the plan file `plan`, with a small song of `bars` bars; its folder.
pub fn project(folder: &Path, plan: &str, bars: usize) -> String {
    let typed = folder.join("plan.toml");
    std::fs::write(&typed, plan).unwrap();
    let song_path = wav(&folder.join("song.wav"), &song(bars, 3));
    let dir = folder.join("video").display().to_string();
    let made = run(&[
        "new",
        &dir,
        "--song",
        &song_path.display().to_string(),
        "--plan",
        &typed.display().to_string(),
    ]);
    assert!(made.status.success(), "{}", told(&made, folder));
    dir
}
