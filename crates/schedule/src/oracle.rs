//! The same problem by trying every order of every choice: slow, short, and written from the rules alone.

use crate::instance::{Candidate, Instance};

/// Value, wrap and moves of the best day; `None` where no day holds every must.
pub(crate) fn best(instance: &Instance) -> Option<(i64, i64, u32)> {
    let mut best = None;
    let mut order = Vec::new();
    try_all(instance, &mut order, &mut best);
    best.map(|(value, wrap, moves): (i64, i64, i64)| (value, -wrap, (-moves) as u32))
}

fn try_all<'a>(
    instance: &'a Instance,
    order: &mut Vec<&'a Candidate>,
    best: &mut Option<(i64, i64, i64)>,
) {
    if instance
        .setups
        .iter()
        .all(|s| !s.must || order.iter().any(|o| o.id == s.id))
    {
        // Without a meal, and with it before each setup.
        for meal in std::iter::once(None).chain((0..order.len()).map(Some)) {
            if let Some((wrap, moves)) = run(instance, order, meal) {
                *best = (*best).max(Some((value(instance, order), -wrap, -moves)));
            }
        }
    }
    for setup in &instance.setups {
        if !order.iter().any(|o| o.id == setup.id) {
            order.push(setup);
            try_all(instance, order, best);
            order.pop();
        }
    }
}

/// Wrap and moves of this order with the meal before the setup at `meal`, if it breaks no rule.
fn run(instance: &Instance, order: &[&Candidate], meal: Option<usize>) -> Option<(i64, i64)> {
    let mut now = instance.call;
    let mut here = instance.start_place.clone();
    let mut moves = 0;
    for (nth, setup) in order.iter().enumerate() {
        if meal == Some(nth) {
            let meal = instance.meal?;
            if now > instance.call + meal.latest_start_after_call {
                return None;
            }
            now += meal.minutes;
        }
        let before = nth.checked_sub(1).map(|nth| order[nth]);
        if order[..nth].iter().any(|other| other.state > setup.state) {
            return None;
        }
        let ended = |id: &String| order[..nth].iter().any(|other| other.id == *id);
        if !setup.after.iter().all(ended) {
            return None;
        }
        if let Some(from) = &here
            && *from != setup.place
        {
            now += instance.travel_minutes[from][&setup.place];
            moves += i64::from(before.is_some());
        }
        let same_rig = before.is_some_and(|before| {
            before.place == setup.place
                && before.rig_group.is_some()
                && before.rig_group == setup.rig_group
        });
        let first = if same_rig {
            setup.relight_minutes
        } else {
            setup.rig_minutes
        };
        let any = vec![[0, instance.latest_wrap]];
        let mut earliest: Option<i64> = None;
        for [open, close] in setup.access.as_ref().unwrap_or(&any) {
            for [lit, dark] in setup.light.as_ref().unwrap_or(&any) {
                let start = now.max(*open);
                let shoot = (start + first).max(*lit);
                let end = shoot + setup.shoot_minutes;
                if end <= *close && end <= *dark && end <= instance.latest_wrap {
                    earliest = Some(earliest.map_or(end, |known| known.min(end)));
                }
            }
        }
        now = earliest?;
        here = Some(setup.place.clone());
    }
    if let Some(rule) = instance.meal {
        let long = now > instance.call + rule.latest_start_after_call;
        if long != meal.is_some() {
            return None;
        }
    }
    Some((now, moves))
}

fn value(instance: &Instance, order: &[&Candidate]) -> i64 {
    let bars = instance.bar_values.iter().enumerate();
    bars.map(|(bar, value)| {
        let k = order
            .iter()
            .filter(|s| s.bars.contains(&(bar as i64)))
            .count();
        value * instance.option_values.iter().take(k).sum::<i64>()
    })
    .sum()
}
