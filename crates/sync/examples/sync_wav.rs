//! Places WAV takes on a WAV song and prints what `barebulb sync --json` prints:
//! `sync_wav SONG TAKE...`. For the checks; the program itself reads far more than WAV.

use std::path::Path;

fn read(path: &Path) -> Result<(u32, Vec<Vec<f32>>), hound::Error> {
    let mut wav = hound::WavReader::open(path)?;
    let spec = wav.spec();
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => wav.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let scale = 1.0 / (1i64 << (spec.bits_per_sample - 1)) as f32;
            wav.samples::<i32>()
                .map(|s| s.map(|s| s as f32 * scale))
                .collect::<Result<_, _>>()?
        }
    };
    let count = usize::from(spec.channels);
    let channels = (0..count)
        .map(|c| samples.iter().skip(c).step_by(count).copied().collect())
        .collect();
    Ok((spec.sample_rate, channels))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<std::ffi::OsString> = std::env::args_os()
        .skip(1)
        .filter(|a| !["sync", "--song", "--json"].iter().any(|word| a == word))
        .collect();
    let Some((song, takes)) = arguments.split_first() else {
        return Err("usage: sync_wav SONG TAKE...".into());
    };
    let settings = sync::Settings::default();
    let (rate_hz, channels) = read(song.as_ref())?;
    let length = channels.first().map_or(0, Vec::len);
    let mono: Vec<f32> = (0..length)
        .map(|i| channels.iter().map(|c| c[i]).sum::<f32>() / channels.len() as f32)
        .collect();
    let song = sync::prepare(&sync::Sound {
        rate_hz,
        samples: &mono,
    })?;
    let mut reports = Vec::new();
    for take in takes {
        let (rate_hz, channels) = read(take.as_ref())?;
        let sounds: Vec<sync::Sound> = channels
            .iter()
            .map(|samples| sync::Sound { rate_hz, samples })
            .collect();
        let started = std::time::Instant::now();
        let placed = sync::place(&song, &sounds, &settings, &|| true)?;
        eprintln!(
            "{}: {:.2} s, channel {:?}, {:?}",
            take.to_string_lossy(),
            started.elapsed().as_secs_f64(),
            placed.channel,
            placed.notes
        );
        reports.push(sync::report(&take.to_string_lossy(), &placed));
    }
    println!("{}", serde_json::json!({ "takes": reports }));
    Ok(())
}
