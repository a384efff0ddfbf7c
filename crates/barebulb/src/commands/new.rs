//! `barebulb new`: begin a video.

use crate::arguments::New;
use crate::screen::Screen;
use crate::{End, commands};
use anyhow::Context as _;
use model::{Edit, Project};
use serde::Serialize;
use steps::Job;

#[derive(Serialize)]
struct Made {
    dir: String,
    title: String,
    song: Option<String>,
}

pub fn run(args: &New, screen: &Screen) -> anyhow::Result<End> {
    let existed = args.dir.exists();
    let plan = match &args.plan {
        Some(file) => Some(commands::plan::read(file, &Project::default())?),
        None => None,
    };
    let another = store::Folder::new(&args.dir).database().exists();
    let made = Job::create(&args.dir, &Project::default())
        .map_err(Into::into)
        .and_then(|mut job| fill(args, plan, &mut job, screen).map(|()| job));
    let job = match made {
        Ok(job) => job,
        Err(error) => {
            // A video that could not be begun leaves nothing that stands in the way of the next try.
            if !another {
                commands::plan::withdraw(&args.dir, existed);
            }
            return Err(error);
        }
    };
    let project = job.project();
    let result = Made {
        dir: args.dir.display().to_string(),
        title: project.title.clone(),
        song: project.song.as_ref().map(|song| song.file.path.clone()),
    };
    screen.result(&result, || {
        let mut text = format!("{} is ready.\n", result.dir);
        text.push_str(match result.song {
            Some(_) => "next: shoot, then `barebulb assemble DIR --takes FOLDER --preview`; or plan first with `barebulb plan export DIR --out plan.toml`\n",
            None => "next: add the song with `barebulb listen DIR --song FILE`\n",
        });
        text
    });
    Ok(End::Done)
}

fn fill(
    args: &New,
    plan: Option<model::plan_file::Plan>,
    job: &mut Job,
    screen: &Screen,
) -> anyhow::Result<()> {
    if let Some(plan) = plan {
        job.edit(&plan.edit())
            .context("the plan could not be taken in")?;
    }
    if let Some(title) = &args.title {
        job.edit(&Edit::title(title))?;
    }
    if let Some(song) = &args.song {
        let heard = job.set_song(song, screen)?;
        heard.notes.iter().for_each(|note| screen.finding(note));
    }
    Ok(())
}
