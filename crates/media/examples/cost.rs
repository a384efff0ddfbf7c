//! What the picture work costs: writes takes, measures their frames, renders a preview of them,
//! and prints the seconds each took.
//!
//! `cargo run -p media --example cost -- FOLDER` writes into FOLDER and leaves the files there.

use media::{
    PreviewJob, PreviewShot, SinkSpec, Tools, VideoSink, WavFormat, gray_frames, probe,
    render_preview, write_wav,
};
use model::{Fit, FrameRate, Length};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Processor seconds used by this process and its ended children, where the system tells (Linux,
/// in hundredths).
fn used_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let fields = after_name.split_whitespace().skip(11).take(4);
    fields
        .filter_map(|field| field.parse::<f64>().ok())
        .sum::<f64>()
        / 100.0
}

struct Clock {
    began: Instant,
    used_s: f64,
}

impl Clock {
    fn start() -> Self {
        Self {
            began: Instant::now(),
            used_s: used_s(),
        }
    }

    fn tell(&self, what: &str) {
        println!(
            "{what}: {:.1} s, {:.1} processor seconds",
            self.began.elapsed().as_secs_f64(),
            used_s() - self.used_s
        );
    }
}

const TAKES: usize = 24;
const FRAMES_EACH: usize = 1750;
const SIZE: [u32; 2] = [640, 360];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(
        std::env::args()
            .nth(1)
            .ok_or("name a folder to write into")?,
    );
    let tools = Tools::find()?;
    println!("ffmpeg {}", tools.version());
    let paths: Vec<PathBuf> = (0..TAKES)
        .map(|n| folder.join(format!("take{n:02}.mp4")))
        .collect();

    let clock = Clock::start();
    two_at_a_time(&paths, &|path| write_take(path, &tools))?;
    clock.tell(&format!(
        "write {TAKES} takes of {FRAMES_EACH} frames, {SIZE:?}"
    ));

    let clock = Clock::start();
    two_at_a_time(&paths, &|path| {
        let probed = probe(path, Some(&tools))?;
        gray_frames(
            path,
            &probed,
            &tools,
            160,
            90,
            5.0,
            &|| true,
            &mut |_, _| {},
        )
    })?;
    clock.tell("measure them at 5 frames a second, 160x90");

    let song = folder.join("song.wav");
    let tone: Vec<f32> = (0..48_000 * 150)
        .map(|n| (n as f32 * 0.05).sin() * 0.3)
        .collect();
    write_wav(&song, 48_000, &[&tone, &tone], WavFormat::Int16)?;
    let job = PreviewJob {
        shots: (0..60)
            .map(|n| PreviewShot {
                frames: 62 + n % 2,
                take: Some(paths[n as usize % TAKES].clone()),
                take_start_s: n as f64,
                speed: 1.0,
                label: Some(format!("SHOT {n}")),
            })
            .collect(),
        rate: FrameRate::FPS_25,
        frame: [960, 540],
        active: None,
        fit: Fit::Crop,
        song,
        song_length: Length::nearest_to_seconds(150.0),
        out: folder.join("preview.mp4"),
        probes: BTreeMap::new(),
    };
    let clock = Clock::start();
    let rendered = render_preview(&job, &tools, &|_| true)?;
    let bytes = std::fs::metadata(&job.out)?.len();
    clock.tell(&format!(
        "render {} frames of 960x540 in 60 shots, {bytes} bytes",
        rendered.frames
    ));
    Ok(())
}

fn write_take(path: &Path, tools: &Tools) -> Result<(), media::Error> {
    let spec = SinkSpec {
        width: SIZE[0],
        height: SIZE[1],
        rate: FrameRate::FPS_25,
        gray: false,
        codec: "libx264".into(),
        codec_options: ["-preset", "ultrafast", "-crf", "23", "-threads", "1"]
            .map(String::from)
            .to_vec(),
        rotation_deg: 0,
        timecode: None,
        audio: Vec::new(),
    };
    let (width, height) = (SIZE[0] as usize, SIZE[1] as usize);
    let mut sink = VideoSink::create(path, &spec, tools)?;
    let mut frame = vec![128u8; width * height * 3 / 2];
    for n in 0..FRAMES_EACH {
        // A slope that drifts, with a bright patch crossing it.
        for y in 0..height {
            for x in 0..width {
                let slope = 40 + (x + y + n) % 160;
                let near = x.abs_diff(n * 3 % width) < 60 && y.abs_diff(height / 2) < 90;
                frame[y * width + x] = if near { 210 } else { slope as u8 };
            }
        }
        sink.push_frame(&frame)?;
    }
    sink.finish()
}

fn two_at_a_time(
    paths: &[PathBuf],
    work: &(dyn Fn(&PathBuf) -> Result<(), media::Error> + Sync),
) -> Result<(), media::Error> {
    std::thread::scope(|scope| {
        let halves = [0, 1]
            .map(|half| scope.spawn(move || paths.iter().skip(half).step_by(2).try_for_each(work)));
        halves
            .into_iter()
            .try_for_each(|half| half.join().unwrap_or(Err(media::Error::Cancelled)))
    })
}
