//! `barebulb kit`: light, power, cards, what to pack and what to mind.

mod packing;

use crate::End;
use crate::arguments::Kit;
use crate::screen::Screen;
use crate::text::{Lines, width};
use exposure::Judgement;
use exposure::setup::Side;
use model::Project;
use model::clock::shown;
use model::text::number;
use steps::{DayReport, Job, KitOptions, KitReport, Only, PracticeValue, from_target};

pub fn run(args: &Kit, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let options = KitOptions {
        by_air: args.by_air,
        trip_kg: args.trip_kg,
        trips: args.trips,
        only: Only {
            setups: args.only.setup.clone(),
            places: args.only.place.clone(),
            days: args.only.day.clone(),
        },
    };
    let report = job.kit(&options, screen)?;
    report.notes.iter().for_each(|note| screen.finding(note));
    screen.result(&report, || text(&report, job.project()));
    Ok(End::Done)
}

/// A value with its unit and what is usual.
fn in_words(one: &PracticeValue) -> String {
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

/// What is either so or not.
const YES_OR_NO: &str = "yes or no";

fn unit(one: &PracticeValue) -> &str {
    match one.unit {
        YES_OR_NO => "",
        unit => unit,
    }
}

/// At most three decimals, none that say nothing.
fn figure(one: &PracticeValue, value: f64) -> String {
    if one.unit == YES_OR_NO {
        return if value == 0.0 { "no" } else { "yes" }.to_owned();
    }
    number(value, 3)
}

fn text(report: &KitReport, project: &Project) -> String {
    let mut out = Lines::new(width());
    out.heading("IN SHORT");
    for (what, finding) in report.summary.findings() {
        out.finding_of(&what, finding);
    }
    out.heading("LIGHT");
    for one in &report.setups {
        light(&mut out, one, project);
    }
    for day in &report.days {
        out.heading(&format!("POWER, {} ({})", day.date, day.day));
        power_of(&mut out, day, project);
        out.heading(&format!("CARDS, {} ({})", day.date, day.day));
        cards_of(&mut out, day);
    }
    out.heading("TO PACK");
    packing::told(&mut out, &report.packing);
    if let Some(carriage) = &report.carriage {
        out.findings("BATTERIES BY AIR", &carriage.findings);
    }
    out.heading("TO MIND");
    out.cautions(&report.cautions);
    let changed = report.practice.iter().filter(|one| one.changed);
    let changed: Vec<String> = changed.map(in_words).collect();
    if !changed.is_empty() {
        out.heading("NOT AS USUAL");
        changed.iter().for_each(|one| out.line(one));
    }
    out.text
}

fn light(out: &mut Lines, one: &Judgement, project: &Project) {
    let name = project.setup(&one.setup).map_or("", |setup| setup.called());
    out.wrapped(&format!("{name} (`{}`)", one.setup), "", "  ");
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
    out.line(&set.join(", "));
    let sides: Vec<String> = [("face", &one.face), ("background", &one.background)]
        .into_iter()
        .filter_map(|(what, side)| exposed(what, side))
        .collect();
    if !sides.is_empty() {
        out.line(&sides.join("; "));
    }
    if let Some(view) = &one.view {
        let framing = view.framing.word();
        let mut row = format!(
            "{:.1}° across, {:.1} × {:.1} m at {:.1} m; {framing} at {:.1} m",
            view.angle_deg[0], view.field_m[0], view.field_m[1], view.subject_m, view.framing_m
        );
        if let Some(depth) = &view.depth {
            let far = depth.far_mm.map_or("beyond sight".to_owned(), |far| {
                format!("{:.2} m", far / 1000.0)
            });
            row += &format!("; sharp {:.2} m to {far}", depth.near_mm / 1000.0);
        }
        out.line(&row);
    }
    out.findings("", &one.findings);
}

/// `face 66.0 lx, 0.2 stops under its target`, and the target where it is not a plain grey.
fn exposed(what: &str, side: &Side) -> Option<String> {
    let (lux, gap) = (side.lux?, side.gap_stops?);
    let target = if side.target_stops == 0.0 {
        String::new()
    } else {
        format!(" of {:+.1}", side.target_stops)
    };
    Some(format!(
        "{what} {} lx, {}{target}",
        figures(lux),
        from_target(gap)
    ))
}

fn power_of(out: &mut Lines, day: &DayReport, project: &Project) {
    let power = &day.power;
    let name = |id: &model::KitId| project.item_name(id).to_owned();
    for slot in &power.slots {
        let of_it = power.draws.iter().filter(|draw| draw.setup == slot.setup);
        let consumers: Vec<_> = of_it.flat_map(|draw| &draw.consumers).collect();
        let watts = model::total(consumers.iter().map(|one| one.watts));
        let draws = match consumers.is_empty() {
            true => "nothing is known to draw".to_owned(),
            false => format!("{watts:>4.0} W"),
        };
        out.columns(&format!(
            "{} rig, {} shoot, {} done   {:<20} {draws}",
            shown(slot.start_min),
            shown(slot.shoot_min),
            shown(slot.end_min),
            slot.setup.as_str(),
        ));
    }
    for one in &power.ledger {
        out.columns(&format!(
            "{:<20} {:>5.1} Wh at call, {:>5.1} drawn, {:>5.1} charged, {:>5.1} left",
            format!("{} {}:", name(&one.piece.battery), one.piece.piece),
            one.start_wh,
            one.drawn_wh,
            one.charged_wh,
            one.left_wh
        ));
    }
    for swap in &power.swaps {
        let items: Vec<String> = swap.items.iter().map(name).collect();
        out.line(&format!(
            "{} swap to {} {} for {}",
            shown(swap.at_min),
            name(&swap.on.battery),
            swap.on.piece,
            items.join(", ")
        ));
    }
    out.findings("", power.shortages.iter().map(|short| &short.finding));
    out.findings("", &power.findings);
}

fn cards_of(out: &mut Lines, day: &DayReport) {
    let cards = &day.cards;
    out.line(&format!(
        "{:.1} GB to record, {:.1} GB wanted with reserve, {:.1} GB there",
        cards.needed_gb, cards.wanted_gb, cards.there_gb
    ));
    for card in &cards.cards {
        let mut row = format!(
            "{} {}: {:.1} GB, {:.1} free",
            card.card, card.piece, card.gigabytes, card.free_gb
        );
        if let Some(copying) = &card.copying {
            row += &format!(
                "; {:.0} min to copy, {:.0} to read back",
                copying.copy_min, copying.check_min
            );
        }
        out.line(&row);
    }
    out.findings("", &cards.findings);
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
