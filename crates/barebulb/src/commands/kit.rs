//! `barebulb kit`: light, power, cards, what to pack and what to mind.

use super::coverage::width;
use crate::End;
use crate::arguments::Kit;
use crate::screen::Screen;
use exposure::Judgement;
use exposure::setup::{On, Side};
use model::clock::shown;
use model::text::wrapped;
use model::{Framing, Project};
use steps::{Custom, DayReport, DaySummary, Gravest, Job, KitOptions, KitReport, Only, Summary};

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
    report.notes.iter().for_each(|note| screen.note(note));
    screen.result(&report, || text(&report, job.project()));
    Ok(End::Done)
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
    let mut out = Lines::new(width());
    out.heading("IN SHORT");
    summary(&mut out, &report.summary, project);
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
    out.text += &report.packing.to_text(out.width);
    if let Some(carriage) = &report.carriage {
        out.heading("BATTERIES BY AIR");
        for finding in &carriage.findings {
            out.point(&finding.to_string());
        }
    }
    out.heading("TO MIND");
    out.text += &cautions::to_text(&report.cautions, out.width);
    let changed = report.practice.iter().filter(|one| one.changed);
    let changed: Vec<String> = changed.map(custom).collect();
    if !changed.is_empty() {
        out.heading("NOT AS USUAL");
        changed.iter().for_each(|one| out.line(one));
    }
    out.text
}

/// Lines that keep to a width.
struct Lines {
    text: String,
    width: usize,
}

impl Lines {
    fn new(width: usize) -> Self {
        Self {
            text: String::new(),
            width,
        }
    }

    /// A heading, set off from what stands above it.
    fn heading(&mut self, words: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.text += words;
        self.text.push('\n');
    }

    /// `words` broken at blanks, the first line after `first`, the others after `rest`.
    fn wrapped(&mut self, words: &str, first: &str, rest: &str) {
        self.text += &wrapped(words, first, rest, self.width);
    }

    /// A sentence.
    fn line(&mut self, words: &str) {
        self.wrapped(words, "  ", "    ");
    }

    /// A sentence in a list.
    fn point(&mut self, words: &str) {
        self.wrapped(words, "  - ", "    ");
    }

    /// Columns as they are, where they fit; otherwise broken like a sentence.
    fn columns(&mut self, row: &str) {
        if row.chars().count() + 2 <= self.width {
            self.text += &format!("  {row}\n");
        } else {
            self.line(row);
        }
    }
}

fn summary(out: &mut Lines, summary: &Summary, project: &Project) {
    let judged = match summary.off_target {
        0 => "every setup is on its target".to_owned(),
        1 => "1 setup has a face or background off its target".to_owned(),
        off => format!("{off} setups have a face or background off its target"),
    };
    match darkest(summary, project) {
        Some(darkest) => out.point(&format!("light: {darkest}; {judged}")),
        None => out.point("light: no setup says enough to be judged"),
    }
    for day in &summary.days {
        out.point(&format!(
            "batteries, {}: {}",
            day.date,
            batteries(day, project)
        ));
        out.point(&format!("cards, {}: {}", day.date, cards(day)));
    }
    match &summary.missing[..] {
        [] => out.point("missing: nothing that the plan uses"),
        missing => out.point(&format!("missing: {}", missing.join("; "))),
    }
    let gravest: Vec<String> = summary
        .gravest
        .iter()
        .map(|one| grave(one, project))
        .collect();
    match summary.cautions {
        0 => out.point("to mind: nothing in the plan, as it is written"),
        1 => out.point(&format!("to mind: {}", gravest.join("; "))),
        count => out.point(&format!(
            "to mind, the gravest of {count}: {}",
            gravest.join("; ")
        )),
    }
}

/// The darkest setup in a few words, for whoever does not know the plan.
pub fn darkest(summary: &Summary, project: &Project) -> Option<String> {
    let darkest = summary.darkest.as_ref()?;
    let name = project
        .setup(&darkest.setup)
        .map_or(darkest.setup.as_str(), |setup| setup.called());
    let on = match darkest.on {
        On::Face => "face",
        On::Background => "background",
    };
    Some(format!(
        "darkest is \u{201c}{name}\u{201d}, its {on} {}",
        from_target(darkest.stops_in_hand)
    ))
}

/// `0.4 stops under its target`.
fn from_target(stops: f64) -> String {
    let side = if stops < 0.0 { "under" } else { "over" };
    let number = format!("{:.1}", stops.abs());
    match number.strip_suffix(".0").unwrap_or(&number) {
        "0" => "on its target".to_owned(),
        "1" => format!("1 stop {side} its target"),
        number => format!("{number} stops {side} its target"),
    }
}

/// Whether a day's batteries last, and when they are lowest.
pub fn batteries(day: &DaySummary, project: &Project) -> String {
    let tightest = day.tightest.as_ref().map(|tightest| {
        let name = project
            .item(&tightest.battery)
            .map_or(tightest.battery.as_str(), |item| item.called());
        format!(
            "lowest at {}: \u{201c}{name}\u{201d} with {:.0} % left",
            shown(tightest.at_min),
            tightest.left_share * 100.0
        )
    });
    match (&day.short, tightest) {
        (Some(short), _) if day.dark => format!("they do NOT last: {short}"),
        (Some(short), _) => format!("they last on their reserve only: {short}"),
        (None, Some(tightest)) => format!("they last; {tightest}"),
        (None, None) => "nothing runs on batteries".to_owned(),
    }
}

/// Whether a day's recording goes on the cards.
pub fn cards(day: &DaySummary) -> String {
    let (needed, there) = (day.needed_gb, day.there_gb);
    if day.short_gb > 0.0 {
        format!(
            "they do NOT hold the day: {:.1} GB of {needed:.1} GB go on none",
            day.short_gb
        )
    } else {
        format!("they hold the day: {needed:.1} GB to record, {there:.1} GB there")
    }
}

fn grave(one: &Gravest, project: &Project) -> String {
    let names: Vec<&str> = one
        .places
        .iter()
        .map(|id| {
            project
                .place(id)
                .map_or(id.as_str(), |place| place.name.as_str())
        })
        .collect();
    if names.is_empty() {
        one.name.clone()
    } else {
        format!("{} at {}", one.name, names.join(" and "))
    }
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
        let framing = match view.framing {
            Framing::Wide => "wide",
            Framing::Full => "full",
            Framing::Medium => "medium",
            Framing::Close => "close",
            Framing::Detail => "detail",
        };
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
    for found in &one.findings {
        out.point(&found.says);
    }
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
        out.columns(&format!(
            "{} rig, {} shoot, {} done   {:<20} {draws:>4.0} W",
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
    for shortage in &power.shortages {
        out.point(&shortage.to_string());
    }
    for fix in &power.fixes {
        out.wrapped(&format!("mended by: {fix}"), "    ", "      ");
    }
    for finding in &power.findings {
        out.point(&finding.to_string());
    }
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
    for finding in &cards.findings {
        out.point(&finding.to_string());
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width() {
        let mut out = Lines::new(40);
        out.point("the background is 0.7 stops under its target; nothing closes it alone");
        out.columns("21:20 rig, 21:45 shoot, 21:58 done   quay-full             148 W");
        out.columns("short   one");
        assert!(out.text.lines().all(|line| line.chars().count() <= 40));
        assert_eq!(
            out.text,
            "  - the background is 0.7 stops under\n    its target; nothing closes it alone\n  21:20 rig, 21:45 shoot, 21:58 done\n    quay-full 148 W\n  short   one\n"
        );
    }

    #[test]
    fn stops_from_the_target_in_words() {
        assert_eq!(from_target(-0.04), "on its target");
        assert_eq!(from_target(-1.0), "1 stop under its target");
        assert_eq!(from_target(0.44), "0.4 stops over its target");
    }
}
