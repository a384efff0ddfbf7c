//! `barebulb next`: where the video stands, and the next things to do.

use crate::End;
use crate::arguments::Next;
use crate::screen::Screen;
use crate::text::{Lines, width};
use steps::{Job, Standing};

pub fn run(args: &Next, screen: &Screen) -> anyhow::Result<End> {
    let standing = Job::open(&args.dir)?.standing(screen)?;
    screen.result(&standing, || text(&standing));
    Ok(End::Done)
}

fn text(standing: &Standing) -> String {
    let mut out = Lines::new(width());
    out.heading("Where it stands");
    for one in &standing.stands {
        let name = format!("  {:<10}", one.step.name());
        out.wrapped(&one.says, &name, "            ");
    }
    out.heading("Next");
    for (nth, one) in standing.next.iter().enumerate() {
        let number = format!("  {}. ", nth + 1);
        out.wrapped(&format!("{}. {}", one.what, one.why), &number, "     ");
        out.text += &format!("     barebulb {}\n", one.command);
    }
    match (standing.next.is_empty(), standing.more) {
        (true, _) => out.line("Nothing is waiting."),
        (false, 0) => {}
        (false, more) => out.line(&format!("and {more} more after that")),
    }
    out.text
}
