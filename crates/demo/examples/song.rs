//! Writes the composed song as `song.wav` into the folder given, with its truth beside it.

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).ok_or("give a folder")?);
    let started = std::time::Instant::now();
    let composed = demo::compose(1);
    println!("composed in {:.2} s", started.elapsed().as_secs_f64());
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: demo::SONG_RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(folder.join("song.wav"), spec)?;
    for sample in &composed.sound {
        file.write_sample((sample * 32_767.0).round() as i16)?;
    }
    file.finalize()?;
    std::fs::write(
        folder.join("song-truth.json"),
        serde_json::to_string(&composed.truth)?,
    )?;
    Ok(())
}
