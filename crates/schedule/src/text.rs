//! A day in words, for a terminal.

use crate::late::{Late, LateCell, LateRow};
use crate::plan::{DayPlan, SkyBand, Strip};
use crate::prepare::NOWHERE;
use crate::solve::{Answer, Status};
use model::text::counted;
use model::{ClockTime, SetupId, SkyLight};
use std::fmt::Write as _;

/// A time of a bare instance.
fn clock(minutes: i64) -> String {
    model::clock::shown(minutes as f64)
}

/// The answer to a bare instance.
pub fn bare(answer: &Answer) -> String {
    let mut text = String::new();
    let standing = match answer.status {
        Status::Best => "best possible".to_owned(),
        Status::Feasible if answer.bound == answer.value => {
            "worth as much as any; whether it ends earliest is not proven".to_owned()
        }
        Status::Feasible => format!("not proven; no day is worth more than {}", answer.bound),
        Status::Impossible => "impossible".to_owned(),
        Status::Unknown => "nothing found".to_owned(),
    };
    if matches!(answer.status, Status::Impossible | Status::Unknown) {
        let _ = writeln!(text, "{standing}");
        for reason in &answer.reasons {
            let _ = writeln!(text, "  {reason}");
        }
        return text;
    }
    let _ = writeln!(
        text,
        "value {}, wrap {}, {} ({standing})\n",
        answer.value,
        clock(answer.wrap),
        counted(answer.moves, "move")
    );
    let mut meal = answer.meal_start;
    for one in &answer.order {
        if let Some(at) = meal.take_if(|at| *at <= one.start) {
            let _ = writeln!(text, "{}          meal", clock(at));
        }
        let _ = writeln!(
            text,
            "{}–{}  {} (shoots from {})",
            clock(one.start),
            clock(one.end),
            one.id,
            clock(one.shoot_start)
        );
    }
    text
}

/// A project's day: in short, its strips in time under the sky, each setup's times and room, what is left out,
/// and the late table, no wider than `width` characters (40 at the least).
pub fn day(plan: &DayPlan, sky: &[SkyBand], width: usize) -> String {
    let width = width.max(40);
    let mut text = String::new();
    let standing = match plan.status {
        Status::Best => "best possible, proven",
        Status::Feasible => "good, not proven best",
        Status::Impossible => "impossible",
        Status::Unknown => "no day found",
    };
    let head = format!("{} (`{}`): {standing}", plan.date, plan.day);
    wrap(&mut text, "", &head, width);
    if matches!(plan.status, Status::Impossible | Status::Unknown) {
        for reason in &plan.reasons {
            wrap(&mut text, "  ", reason, width);
        }
        return text;
    }
    let share = plan.share() * 100.0;
    let short = format!(
        "from {} to {} (latest wrap {}), {}, {}, {share:.0} % of what all setups together would give the song",
        plan.from,
        plan.wrap,
        plan.latest_wrap,
        counted(plan.order.len(), "setup"),
        counted(plan.moves, "move"),
    );
    wrap(&mut text, "", &short, width);
    if width >= 64 && !plan.order.is_empty() {
        text.push('\n');
        chart(&mut text, plan, sky, width);
    }
    text.push('\n');
    for band in sky {
        let name = light(band.light);
        let _ = writeln!(text, "{}–{}  {name}", band.at[0], band.at[1]);
    }
    if !sky.is_empty() {
        text.push('\n');
    }
    course(&mut text, plan, width);
    if !plan.left_out.is_empty() {
        text.push_str("\nLeft out\n");
        for one in &plan.left_out {
            let why = match &one.why[..] {
                [] => String::new(),
                why => format!(": {}", why.join("; ")),
            };
            wrap(&mut text, "  ", &format!("{}{why}", one.name), width);
        }
    }
    if let Some(late) = &plan.late {
        text.push('\n');
        late_table(&mut text, late, width);
    }
    text
}

/// What is done when, in the order of the day.
fn course(text: &mut String, plan: &DayPlan, width: usize) {
    let indent = if width < 64 { "    " } else { "             " };
    let mut meal = plan.meal;
    for strip in &plan.order {
        if let Some([from, to]) = meal.take_if(|[from, _]| *from <= strip.there) {
            let _ = writeln!(text, "{from}–{to}  meal");
        }
        if strip.travel_minutes > 0 {
            let way = format!("{} min to {}", strip.travel_minutes, strip.place_name);
            *text += &model::text::wrapped(&way, "       …     ", "             ", width);
        }
        let hours = format!("{}–{}  ", strip.start, strip.end);
        *text += &model::text::wrapped(&strip.name, &hours, "             ", width);
        wrap(text, indent, &says(strip).join("; "), width);
    }
    if let Some([from, to]) = meal {
        let _ = writeln!(text, "{from}–{to}  meal");
    }
    let _ = writeln!(text, "{:<11}  wrap", plan.wrap.to_string());
}

/// What there is to say of a strip under its name.
fn says(strip: &Strip) -> Vec<String> {
    let prepared = if strip.relit { "relit" } else { "rigged" };
    let at = match strip.place_name.as_str() {
        NOWHERE => prepared.to_owned(),
        place => format!("{prepared} at {place}"),
    };
    let mut says = vec![format!("{at}, shoots from {}", strip.shoot)];
    if strip.waits_minutes > 0 {
        says.push(format!("waits {} min for its light", strip.waits_minutes));
    }
    if let Some([from, to]) = strip.light {
        let what = if strip.asks_for_light {
            "light"
        } else {
            "hours"
        };
        says.push(format!("{what} {from}–{to}"));
    }
    if let Some(slack) = strip.light_ends_in() {
        says.push(format!("{slack} min left of it"));
    }
    if let Some(slack) = strip.closes_in() {
        says.push(format!("the place closes {slack} min after"));
    }
    says.push(format!("may be {} min late", strip.room_minutes));
    if strip.pinned {
        says.push("pinned".into());
    }
    says
}

/// A stretch of a row of the chart, and what it is drawn with.
type Mark = (ClockTime, ClockTime, char);

/// A band of the sky as it is drawn; none for plain day.
fn marked(band: &SkyBand) -> Option<Mark> {
    let mark = match band.light {
        SkyLight::GoldenHour => '~',
        SkyLight::BlueHour => '≈',
        SkyLight::Night => '-',
        _ => return None,
    };
    Some((band.at[0], band.at[1], mark))
}

/// How `strip` is drawn: on the way, rig, shoot.
fn marks(strip: &Strip) -> Vec<Mark> {
    let there = strip.there;
    let leaves = ClockTime::from_minutes(
        there
            .minutes()
            .saturating_sub(u32::try_from(strip.travel_minutes).unwrap_or(0)),
    );
    let mut marks = Vec::new();
    if strip.travel_minutes > 0 {
        marks.push((leaves.unwrap_or(there), there, '·'));
    }
    if strip.start < strip.shoot {
        marks.push((strip.start, strip.shoot, '▒'));
    }
    marks.push((strip.shoot, strip.end, '█'));
    marks
}

/// What becomes of a day when it is planned anew, clause by clause: what it loses, what comes in, what is left of
/// its worth, when it ends. Empty where nothing changes.
pub fn change(before: &DayPlan, after: &DayPlan) -> Vec<String> {
    if matches!(after.status, Status::Impossible | Status::Unknown) {
        let none = match after.status {
            Status::Impossible => "no day holds every must any more",
            _ => "no day was found in the time given",
        };
        let reasons = after.reasons.iter().cloned();
        return std::iter::once(none.to_owned()).chain(reasons).collect();
    }
    let missing = |a: &DayPlan, b: &DayPlan| -> Vec<String> {
        let gone = a
            .order
            .iter()
            .filter(|strip| b.order.iter().all(|one| one.setup != strip.setup));
        gone.map(|strip| strip.name.clone()).collect()
    };
    let (lost, won) = (missing(before, after), missing(after, before));
    let mut says = Vec::new();
    if !lost.is_empty() {
        says.push(format!("the day loses {}", lost.join(", ")));
    }
    match &won[..] {
        [] => {}
        [one] => says.push(format!("{one} comes in")),
        several => says.push(format!("{} come in", several.join(", "))),
    }
    if after.value < before.value {
        let left = after.value as f64 / before.value as f64 * 100.0;
        says.push(format!("{left:.0} % of the day's worth is left"));
    }
    if after.wrap != before.wrap {
        says.push(format!("wrap {} instead of {}", after.wrap, before.wrap));
    }
    says
}

/// One line per strip over the hours: ▒ rig, █ shoot, · on the way, ≡ meal.
fn chart(text: &mut String, plan: &DayPlan, sky: &[SkyBand], width: usize) {
    let labels = plan
        .order
        .iter()
        .map(|strip| strip.setup.as_str().chars().count());
    let label = labels.max().unwrap_or(0).clamp(4, 20);
    let columns = width - label - 2;
    let from = plan.from.minutes() / 60 * 60;
    let to = plan.wrap.minutes().div_ceil(60) * 60;
    let minutes = (to - from).max(60);
    let column = |at: ClockTime| {
        let at = at.minutes().clamp(from, to) - from;
        (at as usize * columns / minutes as usize).min(columns - 1)
    };
    let row = |text: &mut String, name: &str, marks: &[Mark]| {
        let mut cells = vec![' '; columns];
        for (start, end, mark) in marks {
            let (start, end) = (column(*start), column(*end));
            for cell in &mut cells[start..end.max(start + 1)] {
                *cell = *mark;
            }
        }
        let name: String = name.chars().take(label).collect();
        let line: String = cells.into_iter().collect();
        let _ = writeln!(text, "{}", format!("{name:<label$}  {line}").trim_end());
    };
    // Every hour, or every second or third where there is no room for the figures.
    let every = (1..=12)
        .find(|every| columns * every * 60 / minutes as usize >= 3)
        .unwrap_or(12);
    let mut hours = vec![' '; columns + 2];
    for hour in (from / 60..to / 60).step_by(every) {
        let Some(at) = ClockTime::from_minutes(hour * 60) else {
            continue;
        };
        for (nth, digit) in format!("{:02}", hour % 24).chars().enumerate() {
            hours[column(at) + nth] = digit;
        }
    }
    let hours: String = hours.into_iter().collect();
    let _ = writeln!(text, "{}", format!("{:label$}  {hours}", "").trim_end());
    let mut bands: Vec<Mark> = sky.iter().filter_map(marked).collect();
    bands.retain(|(start, end, _)| end.minutes() > from && start.minutes() < to);
    if !bands.is_empty() {
        row(text, "sky", &bands);
    }
    let mut meal = plan.meal;
    for strip in &plan.order {
        if let Some([start, end]) = meal.take_if(|[start, _]| *start <= strip.there) {
            row(text, "meal", &[(start, end, '≡')]);
        }
        row(text, strip.setup.as_str(), &marks(strip));
    }
    let key = match bands.is_empty() {
        true => "· on the way  ▒ rig or wait  █ shoot  ≡ meal",
        false => {
            "~ golden hour  ≈ blue hour  - night  · on the way  ▒ rig or wait  █ shoot  ≡ meal"
        }
    };
    wrap(text, "", key, width);
}

fn late_table(text: &mut String, late: &Late, width: usize) {
    let _ = writeln!(text, "When it gets late: what falls out");
    for row in &late.rows {
        let point = match &row.after {
            None => format!("at the call, {}", row.at),
            Some(setup) => format!("after {setup}, {}", row.at),
        };
        // Equal answers stand together: `+15, +30`.
        let mut said: Vec<(Vec<u32>, String, Option<ClockTime>)> = Vec::new();
        for cell in &row.cells {
            let says = falls_out(row, cell);
            // Where nothing is left there is nothing to end.
            let over = (!cell.order.is_empty()).then_some(cell.wrap);
            match said.last_mut().filter(|(_, known, _)| *known == says) {
                Some((delays, _, wrap)) => {
                    delays.push(cell.late_minutes);
                    *wrap = over;
                }
                None => said.push((vec![cell.late_minutes], says, over)),
            }
        }
        let delays = |delays: &[u32]| match delays {
            [first, .., last] => format!("+{first} to +{last} min"),
            [one] => format!("+{one} min"),
            [] => String::new(),
        };
        let line = |(late, says, wrap): &(Vec<u32>, String, Option<ClockTime>)| {
            let up_to = if late.len() > 1 { "at most " } else { "" };
            match wrap {
                Some(wrap) => format!("{}: {says}; wrap {up_to}{wrap}", delays(late)),
                None => format!("{}: {says}", delays(late)),
            }
        };
        match &said[..] {
            [only] => wrap(text, "  ", &format!("{point}, {}", line(only)), width),
            several => {
                let _ = writeln!(text, "  {point}");
                several
                    .iter()
                    .for_each(|one| wrap(text, "    ", &line(one), width));
            }
        }
    }
    if !late.complete {
        let _ = writeln!(text, "  (the rest was not worked out in the time given)");
    }
}

/// `quay-full, powder (must); drum comes in`.
fn falls_out(row: &LateRow, cell: &LateCell) -> String {
    let names = |ids: &[SetupId]| {
        let name = |id: &SetupId| match cell.musts_lost.contains(id) {
            true => format!("{id} (must)"),
            false => id.to_string(),
        };
        ids.iter().map(name).collect::<Vec<_>>().join(", ")
    };
    let mut says = match (cell.drop.is_empty(), cell.order.is_empty()) {
        (true, _) => "nothing".to_owned(),
        (false, true) => format!("all that is left: {}", names(&cell.drop)),
        (false, false) => names(&cell.drop),
    };
    match &cell.add[..] {
        [] => {}
        [one] => {
            let _ = write!(says, "; {one} comes in");
        }
        several => {
            let _ = write!(says, "; {} come in", names(several));
        }
    }
    if let Some(first) = cell.order.first()
        && *first != row.next
        && !cell.drop.contains(&row.next)
        && !cell.add.contains(first)
    {
        let _ = write!(says, "; {first} first");
    }
    says
}

/// A light of the sky in words.
pub fn light(light: SkyLight) -> &'static str {
    match light {
        SkyLight::Day => "day",
        SkyLight::DirectSun => "direct sun",
        SkyLight::Shade => "shade",
        SkyLight::GoldenHour => "golden hour",
        SkyLight::BlueHour => "blue hour",
        SkyLight::Night => "night",
        SkyLight::FullDark => "full dark",
    }
}

/// `says` in lines of at most `width`, each behind `indent`, later ones two farther in.
pub fn wrap(text: &mut String, indent: &str, says: &str, width: usize) {
    *text += &model::text::wrapped(says, indent, &format!("{indent}  "), width);
}
