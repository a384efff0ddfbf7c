//! Listens to a WAV file and prints what was heard as JSON.
use std::error::Error;
fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args()
        .nth(1)
        .ok_or("usage: listen_wav FILE.wav")?;
    let mut reader = hound::WavReader::open(path)?;
    let spec = reader.spec();
    let n = usize::from(spec.channels);
    let mut channels = vec![Vec::with_capacity(reader.duration() as usize); n];
    match spec.sample_format {
        hound::SampleFormat::Float => {
            for (i, s) in reader.samples::<f32>().enumerate() {
                channels[i % n].push(s?);
            }
        }
        hound::SampleFormat::Int => {
            let scale = 1.0 / (1u64 << (spec.bits_per_sample - 1)) as f32;
            for (i, s) in reader.samples::<i32>().enumerate() {
                channels[i % n].push(s? as f32 * scale);
            }
        }
    }
    let sound = listen::Sound {
        rate_hz: spec.sample_rate,
        channels: &channels,
    };
    let listening = listen::listen(&sound, &|_| true)?;
    let (map, notes) = listen::song_map(&listening, &model::Corrections::default());
    for note in listening.notes.iter().chain(&notes) {
        eprintln!("note: {note}");
    }
    println!(
        "{}",
        serde_json::to_string(&listen::report(&listening, &map))?
    );
    Ok(())
}
