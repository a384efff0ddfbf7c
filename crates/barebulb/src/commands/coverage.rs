//! `barebulb coverage`: what there is to cut to, bar by bar.

use crate::arguments::Coverage;
use crate::screen::Screen;
use crate::{End, commands};
use steps::Job;

pub fn run(args: &Coverage, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let (coverage, trouble) = job.coverage(args.wanted, screen)?;
    screen.result(&coverage, || coverage.to_text(width()));
    Ok(commands::tell(&trouble, screen))
}

/// The width of the terminal, or 100 where there is none.
pub fn width() -> usize {
    console::Term::stdout()
        .size_checked()
        .map_or(100, |(_, columns)| usize::from(columns).clamp(40, 400))
}
