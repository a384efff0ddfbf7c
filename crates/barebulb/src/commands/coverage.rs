//! `barebulb coverage`: what there is to cut to, bar by bar, and what would help most.

pub mod text;

use crate::arguments::{Bars, Coverage};
use crate::screen::Screen;
use crate::text::{Lines, width};
use crate::{End, commands};
use steps::{BarsPlanned, Job};

pub fn run(args: &Coverage, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let told = |all: &[(String, Bars)], on: bool| -> Vec<BarsPlanned> {
        let one = |(setup, bars): &(String, Bars)| BarsPlanned {
            setup: setup.clone(),
            bars: bars.to_vec(),
            on,
        };
        all.iter().map(one).collect()
    };
    let changes = [told(&args.plan, true), told(&args.unplan, false)].concat();
    if !changes.is_empty() {
        job.plan_bars(&changes, screen)?;
    }
    if let Some(nth) = args.follow {
        let setup = job.take_advice(nth, screen)?;
        screen.note(&format!(
            "`{setup}` is planned so; `barebulb plan undo` takes it back"
        ));
    }
    let (covered, trouble) = job.coverage(args.wanted, screen)?;
    screen.result(&covered, || {
        let mut out = Lines::new(width());
        text::table(&mut out, &covered.coverage);
        text::advice(&mut out, &covered.advice);
        out.text
    });
    Ok(commands::tell(&trouble, screen))
}
