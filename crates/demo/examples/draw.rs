//! Draws every take into the folder given and says how long each took: FOLDER [TAKE...]
use rayon::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let folder = std::path::PathBuf::from(args.first().ok_or("give a folder")?);
    let wanted: Vec<u32> = args[1..]
        .iter()
        .filter_map(|arg| arg.parse().ok())
        .collect();
    let started = std::time::Instant::now();
    let composed = demo::compose(1);
    println!("composed in {:.2} s", started.elapsed().as_secs_f64());
    let project = demo::plan(&composed);
    let walk = demo::walk(1, &project);
    let takes = demo::takes(&composed, &project);
    let footage: f64 = takes.iter().map(|take| take.truth.duration_s).sum();
    let frames: u32 = takes.iter().map(demo::frames).sum();
    println!("{} takes, {footage:.0} s, {frames} frames", takes.len());
    let tools = media::Tools::find()?;
    std::fs::write(
        folder.join("demo-truth.json"),
        serde_json::to_string_pretty(&demo::truth(&composed, &walk, &takes))?,
    )?;
    let started = std::time::Instant::now();
    walk.par_iter().with_max_len(1).try_for_each(|photo| {
        demo::draw_photo(photo, &folder.join("walk"), &tools, &|| true).map(|_| ())
    })?;
    println!(
        "photographs drawn in {:.2} s",
        started.elapsed().as_secs_f64()
    );
    let started = std::time::Instant::now();
    // Longest first, one by one from a common queue, so that both cores end together.
    let mut order: Vec<_> = takes
        .iter()
        .filter(|take| wanted.is_empty() || wanted.contains(&take.truth.number))
        .collect();
    order.sort_by_key(|take| std::cmp::Reverse(demo::frames(take)));
    order.par_iter().with_max_len(1).try_for_each(|take| {
        let from = std::time::Instant::now();
        demo::draw_take(&composed, take, &folder, Some(&tools), &|| true)?;
        println!(
            "{} {} frames {:.2} s",
            take.truth.file,
            demo::frames(take),
            from.elapsed().as_secs_f64()
        );
        Ok::<(), demo::Error>(())
    })?;
    println!("drawn in {:.2} s", started.elapsed().as_secs_f64());
    Ok(())
}
