//! Writes frames of the takes as grey-and-colour planes for looking at: FOLDER TAKE SECOND...
use std::io::Write;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let folder = std::path::PathBuf::from(args.first().ok_or("give a folder")?);
    let composed = demo::compose(1);
    let project = demo::plan(&composed);
    let takes = demo::takes(&composed, &project);
    let number: usize = args.get(1).ok_or("give a take")?.parse()?;
    let take = &takes[number - 1];
    let started = std::time::Instant::now();
    let mut camera = demo::Camera::new(&composed, take);
    println!("set up in {:.3} s", started.elapsed().as_secs_f64());
    let mut bytes = Vec::new();
    let mut file = std::fs::File::create(folder.join(format!("take{number:02}.yuv")))?;
    for second in &args[2..] {
        let second: f64 = second.parse()?;
        camera.frame((second * take.truth.rate.fps()) as u32, &mut bytes);
        file.write_all(&bytes)?;
    }
    let started = std::time::Instant::now();
    for index in 0..250 {
        camera.frame(index, &mut bytes);
    }
    println!("{:.3} ms a frame", started.elapsed().as_secs_f64() * 4.0);
    Ok(())
}
