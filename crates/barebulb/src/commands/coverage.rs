//! `barebulb coverage`: what there is to cut to, bar by bar, and what would help most.

pub mod text;

use crate::arguments::Coverage;
use crate::screen::Screen;
use crate::text::{Lines, width};
use crate::{End, commands};
use steps::Job;

pub fn run(args: &Coverage, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let (covered, trouble) = job.coverage(args.wanted, screen)?;
    screen.result(&covered, || {
        let mut out = Lines::new(width());
        text::table(&mut out, &covered.coverage);
        text::advice(&mut out, &covered.advice);
        out.text
    });
    Ok(commands::tell(&trouble, screen))
}
