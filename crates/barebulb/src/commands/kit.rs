//! `barebulb kit`: light, power, cards, what to pack and what to mind.

mod item;

use super::coverage::width;
use crate::End;
use crate::arguments::Kit;
use crate::screen::Screen;
use exposure::Judgement;
use model::{Framing, Project};
use std::fmt::Write as _;
use steps::{Custom, DayReport, Job, KitOptions, KitReport};

pub fn run(args: &Kit, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    if let Some(id) = &args.item {
        return item::put(&mut job, id, &args.told, screen);
    }
    if let Some(id) = &args.drop {
        return item::drop(&mut job, id, screen);
    }
    practice(&mut job, &args.practice, screen)?;
    if args.practices {
        let all = steps::customs(job.project());
        screen.result(&serde_json::json!({ "practice": all }), || customs(&all));
        return Ok(End::Done);
    }
    let options = KitOptions {
        by_air: args.by_air,
        trip_kg: args.trip_kg,
        trips: args.trips,
    };
    let report = job.kit(&options, screen)?;
    report.notes.iter().for_each(|note| screen.note(note));
    screen.result(&report, || text(&report, job.project()));
    Ok(End::Done)
}

/// Changes how one works, as typed.
fn practice(job: &mut Job, typed: &[(String, String)], screen: &Screen) -> anyhow::Result<()> {
    if typed.is_empty() {
        return Ok(());
    }
    let number = |text: &str| match text {
        "usual" => Some(None),
        "yes" => Some(Some(1.0)),
        "no" => Some(Some(0.0)),
        text => text.parse().ok().map(Some),
    };
    let mut changes = Vec::new();
    for (name, text) in typed {
        let Some(value) = number(text) else {
            anyhow::bail!("`{text}` is no number for `{name}`; write one, or `usual`");
        };
        changes.push((name.clone(), value));
    }
    for one in job.set_practice(&changes)? {
        screen.line(&format!("from now on {}", custom(&one)));
    }
    Ok(())
}

/// A value with its unit and what is usual.
fn custom(one: &Custom) -> String {
    let (now, usual) = (figure(one, one.value), figure(one, one.usual));
    let usual = if now == usual {
        "as usual".to_owned()
    } else {
        format!("{usual} is usual")
    };
    let unit = match unit(one) {
        "" => String::new(),
        unit => format!(" {unit}"),
    };
    format!("{} is {now}{unit} ({usual})", one.name)
}

/// Every value, one a line.
fn customs(all: &[Custom]) -> String {
    let mut out = String::new();
    for one in all {
        let usual = if one.changed {
            format!("usual {}", figure(one, one.usual))
        } else {
            String::new()
        };
        let now = figure(one, one.value);
        let _ = writeln!(
            out,
            "{:<22} {now:>8} {:<14} {usual:<12} {}",
            one.name,
            unit(one),
            one.means
        );
    }
    out
}

/// What is either so or not.
const YES_OR_NO: &str = "yes or no";

fn unit(one: &Custom) -> &str {
    match one.unit {
        YES_OR_NO => "",
        unit => unit,
    }
}

/// At most three decimals, none that say nothing.
fn figure(one: &Custom, value: f64) -> String {
    if one.unit == YES_OR_NO {
        return if value == 0.0 { "no" } else { "yes" }.to_owned();
    }
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn text(report: &KitReport, project: &Project) -> String {
    let mut out = String::new();
    heading(&mut out, "LIGHT");
    for one in &report.setups {
        light(&mut out, one, project);
    }
    for day in &report.days {
        out.push('\n');
        heading(&mut out, &format!("POWER, {} ({})", day.date, day.day));
        power_of(&mut out, day, project);
        out.push('\n');
        heading(&mut out, &format!("CARDS, {} ({})", day.date, day.day));
        cards_of(&mut out, day);
    }
    out.push('\n');
    heading(&mut out, "TO PACK");
    out += &report.packing.to_text(width());
    if let Some(carriage) = &report.carriage {
        out.push('\n');
        heading(&mut out, "BATTERIES BY AIR");
        for finding in &carriage.findings {
            line(&mut out, &finding.to_string());
        }
    }
    out.push('\n');
    heading(&mut out, "TO MIND");
    out += &cautions::to_text(&report.cautions, width());
    let changed = report.practice.iter().filter(|one| one.changed);
    let changed: Vec<String> = changed.map(custom).collect();
    if !changed.is_empty() {
        out.push('\n');
        heading(&mut out, "NOT AS USUAL");
        changed.iter().for_each(|one| line(&mut out, one));
    }
    out
}

fn heading(out: &mut String, words: &str) {
    let _ = writeln!(out, "{words}");
}

/// A sentence, indented, wrapped to the terminal.
fn line(out: &mut String, words: &str) {
    let most = width().max(40);
    let mut here = String::from(" ");
    for word in words.split_whitespace() {
        if here.chars().count() + 1 + word.chars().count() > most && here.len() > 4 {
            let _ = writeln!(out, "{here}");
            here = "   ".into();
        }
        here.push(' ');
        here += word;
    }
    let _ = writeln!(out, "{here}");
}

fn light(out: &mut String, one: &Judgement, project: &Project) {
    let name = project.setup(&one.setup).map_or("", |setup| setup.called());
    let _ = writeln!(out, "{name} (`{}`)", one.setup);
    let camera = &one.camera;
    let mut set = Vec::new();
    if let Some(focal) = camera.focal_mm {
        set.push(format!("{focal:.0} mm"));
    }
    if let Some(t) = camera.t_stop {
        set.push(format!("T{t:.1}"));
    }
    if let Some(iso) = camera.iso {
        set.push(format!("ISO {iso:.0}"));
    }
    set.push(format!("{:.1}° at {} fps", camera.shutter_deg, camera.rate));
    let mut row = format!("  {}", set.join(", "));
    for (what, side) in [("face", &one.face), ("background", &one.background)] {
        if let (Some(lux), Some(stops)) = (side.lux, side.stops) {
            let _ = write!(
                row,
                "   {what} {} lx, {stops:+.1} of {:+.1}",
                figures(lux),
                side.target_stops
            );
        }
    }
    let _ = writeln!(out, "{row}");
    if let Some(view) = &one.view {
        let framing = match view.framing {
            Framing::Wide => "wide",
            Framing::Full => "full",
            Framing::Medium => "medium",
            Framing::Close => "close",
            Framing::Detail => "detail",
        };
        let mut row = format!(
            "  {:.1}° across, {:.1} × {:.1} m at {:.1} m; {framing} at {:.1} m",
            view.angle_deg[0], view.field_m[0], view.field_m[1], view.subject_m, view.framing_m
        );
        if let Some(depth) = &view.depth {
            let far = depth.far_mm.map_or("beyond sight".to_owned(), |far| {
                format!("{:.2} m", far / 1000.0)
            });
            let _ = write!(row, "; sharp {:.2} m to {far}", depth.near_mm / 1000.0);
        }
        let _ = writeln!(out, "{row}");
    }
    for found in &one.findings {
        line(out, &format!("- {}", found.says));
    }
}

fn power_of(out: &mut String, day: &DayReport, project: &Project) {
    let power = &day.power;
    let name = |id: &model::KitId| {
        project
            .item(id)
            .map_or(id.as_str(), |item| item.called())
            .to_owned()
    };
    for slot in &power.slots {
        let draws: f64 = power
            .draws
            .iter()
            .filter(|draw| draw.setup == slot.setup)
            .flat_map(|draw| &draw.consumers)
            .map(|one| one.watts)
            .sum();
        let _ = writeln!(
            out,
            "  {}  rig, {}  shoot, {}  done   {:<20} {draws:>4.0} W",
            power::clock(slot.start_min),
            power::clock(slot.shoot_min),
            power::clock(slot.end_min),
            slot.setup.as_str(),
        );
    }
    for one in &power.ledger {
        let _ = writeln!(
            out,
            "  {:<22} {:>5.1} Wh at the start, {:>5.1} drawn, {:>5.1} charged, {:>5.1} left",
            format!("{} {}", name(&one.piece.battery), one.piece.piece),
            one.start_wh,
            one.drawn_wh,
            one.charged_wh,
            one.left_wh
        );
    }
    for swap in &power.swaps {
        let items: Vec<String> = swap.items.iter().map(name).collect();
        line(
            out,
            &format!(
                "{} swap to {} {} for {}",
                power::clock(swap.at_min),
                name(&swap.on.battery),
                swap.on.piece,
                items.join(", ")
            ),
        );
    }
    for shortage in &power.shortages {
        line(out, &format!("- {shortage}"));
    }
    for fix in &power.fixes {
        line(out, &format!("  mended by: {fix}"));
    }
    for finding in &power.findings {
        line(out, &format!("- {finding}"));
    }
}

fn cards_of(out: &mut String, day: &DayReport) {
    let cards = &day.cards;
    let _ = writeln!(
        out,
        "  {:.1} GB to record, {:.1} GB wanted with reserve, {:.1} GB there",
        cards.needed_gb, cards.wanted_gb, cards.there_gb
    );
    for card in &cards.cards {
        let mut row = format!(
            "  {} {}: {:.1} GB, {:.1} free",
            card.card, card.piece, card.gigabytes, card.free_gb
        );
        if let Some(copying) = &card.copying {
            let _ = write!(
                row,
                "; {:.0} min to copy, {:.0} to read back",
                copying.copy_min, copying.check_min
            );
        }
        let _ = writeln!(out, "{row}");
    }
    for finding in &cards.findings {
        line(out, &format!("- {finding}"));
    }
}

/// Three figures.
fn figures(value: f64) -> String {
    if value >= 100.0 {
        format!("{value:.0}")
    } else if value >= 10.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    }
}
