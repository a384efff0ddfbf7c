//! `barebulb kit --item` and `--drop`: one thing of the kit made, changed or taken out.

use crate::End;
use crate::arguments::Item;
use crate::screen::Screen;
use anyhow::{Context as _, bail};
use model::{Edit, KitId, KitItem, Project};
use serde::Serialize;
use serde_json::{Map, Value, json};
use steps::Job;

/// What was changed, as printed.
#[derive(Serialize)]
struct Changed {
    item: KitItem,
    changed: Vec<Field>,
    says: String,
}

/// A field that is not as it was.
#[derive(Serialize)]
struct Field {
    field: String,
    was: Value,
    now: Value,
}

/// A table of figures; the fields it needs before it can be reckoned with, with the flags that say
/// them; and the sort an item with it is.
type Table = (
    &'static str,
    &'static [(&'static str, &'static str)],
    &'static str,
);

const TABLES: &[Table] = &[
    (
        "camera",
        &[("sensor_mm", "--sensor"), ("frame", "--frame")],
        "camera",
    ),
    (
        "lens",
        &[("focal_mm", "--focal"), ("t_stop", "--t-stop")],
        "lens",
    ),
    ("filter", &[("stops", "--stops")], "filter"),
    (
        "light",
        &[("candela", "--candela or --lux"), ("full_w", "--watts")],
        "light",
    ),
    ("battery", &[("wh", "--wh")], "power"),
    (
        "inverter",
        &[("efficiency", "--efficiency"), ("most_w", "--output")],
        "power",
    ),
    ("charger", &[("into_w", "--into")], "power"),
    ("card", &[("gigabytes", "--gb")], "card"),
];

/// Makes or changes the thing called `id`.
pub fn put(job: &mut Job, id: &str, told: &Item, screen: &Screen) -> anyhow::Result<End> {
    let was = job.project().kit.iter().find(|item| item.id.as_str() == id);
    let was = match (was, &told.name) {
        (Some(was), _) => Some(was.clone()),
        (None, Some(_)) => None,
        (None, None) => bail!(
            "{}; give --name too to make a new one",
            unknown(job.project(), id)
        ),
    };
    let item = match &was {
        Some(was) => filled(was, told, false)?,
        None => {
            let id = KitId::new(id).map_err(anyhow::Error::msg)?;
            filled(&KitItem::new(id), told, true)?
        }
    };
    let changed = differences(was.as_ref(), &item)?;
    let called = match item.called() {
        name if name == id => format!("`{id}`"),
        name => format!("{name} (`{id}`)"),
    };
    let fields: Vec<String> = changed.iter().map(Field::to_string).collect();
    let says = match (&was, fields.is_empty()) {
        (None, _) => format!("{called} is new in the kit: {}", fields.join(", ")),
        (Some(_), true) => format!("{called} is as it was; nothing was said that is not known"),
        (Some(_), false) => format!("{called} is changed: {}", fields.join(", ")),
    };
    if !changed.is_empty() {
        job.edit(&Edit::PutKit {
            item: item.clone(),
            was,
        })?;
    }
    tell(
        Changed {
            item,
            changed,
            says,
        },
        screen,
    )
}

/// Takes the thing called `id` out of the kit.
pub fn drop(job: &mut Job, id: &str, screen: &Screen) -> anyhow::Result<End> {
    let item = job.project().kit.iter().find(|item| item.id.as_str() == id);
    let Some(item) = item.cloned() else {
        bail!(unknown(job.project(), id));
    };
    job.edit(&Edit::RemoveKit {
        id: item.id.clone(),
    })?;
    let says = format!("{} (`{id}`) is no longer in the kit", item.called());
    tell(
        Changed {
            item,
            changed: Vec::new(),
            says,
        },
        screen,
    )
}

fn tell(result: Changed, screen: &Screen) -> anyhow::Result<End> {
    screen.result(&result, || result.says.clone());
    Ok(End::Done)
}

fn unknown(project: &Project, id: &str) -> String {
    let known: Vec<&str> = project.kit.iter().map(|item| item.id.as_str()).collect();
    let there = match known.len() {
        0 => "there is nothing in it yet".to_owned(),
        1..=12 => format!("there are {}", known.join(", ")),
        _ => format!("there are {}, …", known[..12].join(", ")),
    };
    format!("there is no `{id}` in the kit; {there}")
}

/// `was` with what was told of it.
fn filled(was: &KitItem, told: &Item, new: bool) -> anyhow::Result<KitItem> {
    let Value::Object(mut item) = serde_json::to_value(was)? else {
        bail!("`{}` can't be read", was.id)
    };
    let is = |table: &str| -> bool {
        let said = match table {
            "camera" => {
                told.sensor.is_some()
                    || told.frame.is_some()
                    || !told.base_iso.is_empty()
                    || !told.records.is_empty()
            }
            "light" => {
                told.candela.or(told.lux).is_some()
                    || told.kelvin.is_some()
                    || told.pulses.is_some()
            }
            "battery" => {
                told.wh.is_some()
                    || told.chemistry.is_some()
                    || told.usable.or(told.charged).is_some()
                    || told.charge_watts.is_some()
            }
            "charger" => told.into.is_some() || told.bays.is_some(),
            _ => false,
        };
        said || item.contains_key(table)
    };
    // Watts, output and efficiency are said of several things; which, the rest tells.
    let draws = match (is("light"), is("camera")) {
        (true, _) => ("light", "full_w"),
        (_, true) => ("camera", "draws_w"),
        _ => ("", "draws_w"),
    };
    let gives = if is("battery") { "battery" } else { "inverter" };
    let turns = if is("charger") { "charger" } else { "inverter" };
    let yes = |flag: bool| flag.then_some(true);
    let some = |list: &[String]| (!list.is_empty()).then(|| list.to_vec());
    let records: Vec<Value> = told
        .records
        .iter()
        .map(|(rate, mbit_s)| json!({ "rate": rate, "mbit_s": mbit_s }))
        .collect();
    let said = [
        ("", "name", json!(told.name)),
        ("", "sort", json!(told.sort)),
        ("", "count", json!(told.count)),
        ("", "holding", json!(told.holding)),
        ("", "from", json!(told.from)),
        ("", "cost_minor", json!(told.cost)),
        ("", "back_by", json!(told.back_by)),
        ("", "weight_kg", json!(told.weight)),
        ("", "always", json!(yes(told.always))),
        ("", "fed_by", json!(some(&told.fed_by))),
        ("", "feeds", json!(some(&told.feeds))),
        ("", "remark", json!(told.remark)),
        (draws.0, draws.1, json!(told.watts)),
        ("light", "candela", json!(told.candela.or(told.lux))),
        ("light", "kelvin", json!(told.kelvin)),
        ("light", "pulses_hz", json!(told.pulses)),
        ("battery", "wh", json!(told.wh)),
        ("battery", "chemistry", json!(told.chemistry)),
        ("battery", "usable", json!(told.usable)),
        ("battery", "charged", json!(told.charged)),
        ("battery", "charge_w", json!(told.charge_watts)),
        (gives, "most_w", json!(told.output)),
        (turns, "efficiency", json!(told.efficiency)),
        ("inverter", "idle_w", json!(told.idle)),
        ("charger", "into_w", json!(told.into)),
        ("charger", "bays", json!(told.bays)),
        ("card", "gigabytes", json!(told.gb)),
        ("card", "for_copies", json!(yes(told.for_copies))),
        ("lens", "focal_mm", json!(told.focal)),
        ("lens", "t_stop", json!(told.t_stop)),
        ("lens", "close_focus_m", json!(told.close_focus)),
        ("filter", "stops", json!(told.stops)),
        ("filter", "diffusion", json!(yes(told.diffusion))),
        ("camera", "sensor_mm", json!(told.sensor)),
        ("camera", "frame", json!(told.frame)),
        (
            "camera",
            "base_iso",
            match &told.base_iso[..] {
                [] => Value::Null,
                iso => json!(iso),
            },
        ),
        (
            "camera",
            "recordings",
            match &records[..] {
                [] => Value::Null,
                records => json!(records),
            },
        ),
    ];
    for (table, field, value) in said {
        if value.is_null() {
            continue;
        }
        let into = match table {
            "" => &mut item,
            table => item
                .entry(table)
                .or_insert_with(|| Value::Object(Map::new()))
                .as_object_mut()
                .context("a table of figures is none")?,
        };
        into.insert(field.to_owned(), value);
    }
    for (table, needed, sort) in TABLES {
        let Some(figures) = item.get(*table) else {
            continue;
        };
        let lacks: Vec<&str> = needed
            .iter()
            .filter(|(field, _)| figures.get(field).is_none())
            .map(|(_, flag)| *flag)
            .collect();
        if !lacks.is_empty() {
            let article = if *table == "inverter" { "an" } else { "a" };
            bail!(
                "`{}` is {article} {table} by these figures, and that needs {} too",
                was.id,
                lacks.join(" and ")
            );
        }
        if new && told.sort.is_none() {
            item.insert("sort".into(), json!(sort));
        }
    }
    serde_json::from_value(Value::Object(item))
        .with_context(|| format!("these figures can't be used for `{}`", was.id))
}

/// The fields that differ, those of a table under its name.
fn differences(was: Option<&KitItem>, now: &KitItem) -> anyhow::Result<Vec<Field>> {
    let flat = |item: &KitItem| -> anyhow::Result<Map<String, Value>> {
        let mut out = Map::new();
        if let Value::Object(fields) = serde_json::to_value(item)? {
            for (name, value) in fields {
                match value {
                    Value::Object(table) => {
                        let inner = table.into_iter();
                        out.extend(inner.map(|(key, value)| (format!("{name}.{key}"), value)));
                    }
                    value => {
                        out.insert(name, value);
                    }
                }
            }
        }
        Ok(out)
    };
    let before = was.map(flat).transpose()?.unwrap_or_default();
    let after = flat(now)?;
    let of = |map: &Map<String, Value>, field: &str| map.get(field).cloned().unwrap_or_default();
    // Nothing of the command line takes a field away.
    Ok(after
        .iter()
        .filter(|(field, now)| {
            let known = field.as_str() == "id" || field.as_str() == "name" && was.is_none();
            !known && before.get(*field) != Some(now)
        })
        .map(|(field, now)| Field {
            field: field.clone(),
            was: of(&before, field),
            now: now.clone(),
        })
        .collect())
}

impl std::fmt::Display for Field {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { field, was, now } = self;
        match was {
            Value::Null => write!(f, "{field} {}", plain(now)),
            was => write!(f, "{field} {} instead of {}", plain(now), plain(was)),
        }
    }
}

/// A value as a person writes it.
fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(plain).collect::<Vec<_>>().join(" and "),
        Value::Object(fields) => fields.values().map(plain).collect::<Vec<_>>().join(" at "),
        // As short as it can be written: 35, not 35.0.
        other => other
            .as_f64()
            .map_or_else(|| other.to_string(), |number| number.to_string()),
    }
}
