//! `barebulb coverage`: what there is to cut to, bar by bar, and what would help most.

use crate::arguments::Coverage;
use crate::screen::Screen;
use crate::{End, commands};
use steps::Job;

pub fn run(args: &Coverage, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let (covered, trouble) = job.coverage(args.wanted, screen)?;
    screen.result(&covered, || {
        covered.coverage.to_text(width()) + &covered.advice.to_text(width())
    });
    Ok(commands::tell(&trouble, screen))
}

/// The width of the terminal; where there is none, what `COLUMNS` says (as POSIX has it), or 100.
pub fn width() -> usize {
    let told = || std::env::var("COLUMNS").ok()?.trim().parse().ok();
    console::Term::stdout()
        .size_checked()
        .map(|(_, columns)| usize::from(columns))
        .or_else(told)
        .map_or(100, |columns| columns.clamp(40, 400))
}
