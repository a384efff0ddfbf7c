//! Makes a playback file from a WAV song and prints where everything in it lies, as JSON.
//!
//! `cargo run -p playback --example make -- SONG.wav OUT.wav [--speed 5/2] [--keep-pitch]
//! [--from S --to S] [--bpm B --first S --bar N] [--shown 24] [--timecode] [--as-mastered]`
//!
//! Beats are a steady grid of `--bpm` whose first downbeat lies at `--first`. The time taken goes to
//! the error stream.

use model::{FrameRate, SongTime, Stretch};
use playback::{CountIn, Level, Pitch, Request, Spacing, Speed, Timecode, make, report};
use std::error::Error;
use std::time::Instant;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| {
        let at = arguments.iter().position(|a| a == name)?;
        arguments.get(at + 1)
    };
    let number = |name: &str, otherwise: f64| -> Result<f64, Box<dyn Error>> {
        Ok(value(name).map_or(Ok(otherwise), |text| text.parse())?)
    };
    let has = |name: &str| arguments.iter().any(|a| a == name);
    let [song_path, out_path] = [0, 1].map(|k| arguments.get(k).cloned().unwrap_or_default());

    let mut reader = hound::WavReader::open(&song_path)?;
    let spec = reader.spec();
    let count = usize::from(spec.channels);
    let mut song = vec![Vec::new(); count];
    let scale = 1.0 / (1_i64 << (spec.bits_per_sample - 1)) as f32;
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => reader
            .samples::<i32>()
            .map(|x| x.map(|x| x as f32 * scale))
            .collect::<Result<_, _>>()?,
    };
    for (n, x) in samples.into_iter().enumerate() {
        song[n % count].push(x);
    }
    let length_s = song[0].len() as f64 / f64::from(spec.sample_rate);
    let stretch = Stretch::between_seconds(number("--from", 0.0)?, number("--to", length_s)?)
        .ok_or("the stretch is empty")?;
    let bar = number("--bar", 4.0)? as usize;
    let step = 60.0 / number("--bpm", 120.0)?;
    let first = number("--first", 0.0)?;
    let beats: Vec<SongTime> = (0..)
        .map(|k| first + f64::from(k) * step)
        .take_while(|at| *at < length_s)
        .map(SongTime::nearest_to_seconds)
        .collect();
    let downbeats: Vec<usize> = (0..beats.len()).step_by(bar.max(1)).collect();
    let shown = FrameRate::from_decimal(number("--shown", 24.0)?).ok_or("no such rate")?;
    let request = Request {
        rate_hz: spec.sample_rate,
        song: &song,
        stretch,
        speed: Speed::parse(value("--speed").map_or("1", String::as_str))?,
        pitch: if has("--keep-pitch") {
            Pitch::Kept
        } else {
            Pitch::Follows
        },
        count_in: CountIn::Beats {
            beats: &beats,
            downbeats: &downbeats,
            beats_per_bar: bar as u32,
        },
        shown,
        level: if has("--as-mastered") {
            Level::AsMastered
        } else {
            Level::default()
        },
        timecode: has("--timecode")
            .then(|| Timecode::of_show(shown))
            .transpose()?,
        spacing: Spacing::default(),
    };
    let began = Instant::now();
    let made = make(&request, &|| true)?;
    eprintln!("{:.3} s", began.elapsed().as_secs_f64());
    for note in &made.notes {
        eprintln!("{note:?}");
    }
    let mut writer = hound::WavWriter::create(
        &out_path,
        hound::WavSpec {
            channels: made.channels.len() as u16,
            sample_rate: spec.sample_rate,
            bits_per_sample: 24,
            sample_format: hound::SampleFormat::Int,
        },
    )?;
    for n in 0..made.channels[0].len() {
        for channel in &made.channels {
            writer.write_sample((f64::from(channel[n]) * 8_388_607.0).round() as i32)?;
        }
    }
    writer.finalize()?;

    let mut file = serde_json::to_value(report(&made))?;
    file["setup"] = "example".into();
    file["file"] = out_path.into();
    file["song"] = song_path.into();
    println!("{}", serde_json::json!({ "files": [file] }));
    Ok(())
}
