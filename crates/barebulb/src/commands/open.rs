//! `barebulb open`: the whole job in a browser, until it is stopped.

use crate::End;
use crate::arguments::Open;
use crate::commands::plan::withdraw;
use crate::screen::Screen;
use anyhow::bail;
use model::Project;
use pages::{Address, Options};
use serde::Serialize;
use std::path::Path;
use std::process::{Command, Stdio};
use steps::{Job, Progress as _};
use store::Folder;

#[derive(Serialize)]
struct Opened<'a> {
    address: &'a str,
    shared: &'a [String],
}

pub fn run(args: &Open, screen: &Screen) -> anyhow::Result<End> {
    make_if_empty(&args.dir)?;
    let options = Options {
        dir: args.dir.clone(),
        port: args.port,
        share: args.share,
    };
    pages::serve(
        &options,
        || screen.keep_going(),
        |address| ready(address, args, screen),
    )?;
    Ok(End::Done)
}

/// A newcomer names a folder that is not there yet.
fn make_if_empty(dir: &Path) -> anyhow::Result<()> {
    if Folder::new(dir).database().exists() {
        return Ok(());
    }
    if dir.exists() && !dir.is_dir() {
        bail!(
            "`{}` is a file; name the folder of a project, or one to be made",
            dir.display()
        );
    }
    if dir.is_dir() && std::fs::read_dir(dir)?.next().is_some() {
        bail!(
            "`{}` holds files but no project; name another folder, or make a project in it with `barebulb new`",
            dir.display()
        );
    }
    let existed = dir.exists();
    if let Err(error) = Job::create(dir, &Project::default()) {
        withdraw(dir, existed);
        return Err(error.into());
    }
    Ok(())
}

fn ready(address: &Address, args: &Open, screen: &Screen) {
    let opened = Opened {
        address: &address.open,
        shared: &address.shared,
    };
    screen.result(&opened, || {
        let mut text = format!("{}\n", address.open);
        for at in &address.shared {
            text.push_str(&format!(
                "other devices: {at}/pair (the code stands on the page Devices)\n"
            ));
        }
        text.push_str("Ctrl-C ends it.\n");
        text
    });
    if args.share && address.shared.is_empty() {
        screen.note("no local network was found, so other devices can't come in");
    }
    if !args.no_browser {
        show(&address.start);
    }
}

/// Opens the address in the browser the system would choose; where there is none, it stands printed.
fn show(address: &str) {
    let (program, first): (&str, &[&str]) = if cfg!(target_os = "macos") {
        ("open", &[])
    } else if cfg!(windows) {
        ("cmd", &["/C", "start", ""])
    } else {
        ("xdg-open", &[])
    };
    let _ = Command::new(program)
        .args(first)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
}
