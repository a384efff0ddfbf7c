//! How what stands in a field is typed by a person, and shown to one: in forms and on the command line alike.

use crate::describe::{Field, Look, Noun, Shape};
use crate::{ClockTime, FrameRate, SongTime, Stretch};
use serde_json::{Value, json};

/// `value` as a person types it into `field`. What was typed and could not be read (a string where none
/// belongs) comes back as it was.
pub fn shown(field: &Field, value: &Value) -> String {
    let look = field.look;
    match (field.shape, value) {
        (_, Value::Null) => String::new(),
        (Shape::List(_) | Shape::Pair(_), Value::String(typed)) => typed.clone(),
        (Shape::List(one), Value::Array(items)) => {
            let between = if look == Look::Lines { "\n" } else { ", " };
            let item = |item: &Value| match one {
                Shape::Pair(of) => pair(of, item, look),
                _ => one_shown(one, item, look),
            };
            items.iter().map(item).collect::<Vec<_>>().join(between)
        }
        (Shape::Pair(_), value) => match (value.as_array().map(Vec::as_slice), look) {
            (Some([a, b]), Look::Span) if a == b => one_shown(&Shape::Number, a, look),
            (Some([a, b]), Look::Span) => format!("{}–{}", scalar(a), scalar(b)),
            (Some([a, b]), _) => format!("{}, {}", scalar(a), scalar(b)),
            _ => scalar(value),
        },
        (shape, value) => one_shown(&shape, value, look),
    }
}

/// One of a list of pairs: `9–16`, `18:00–26:00`, `90 12`.
fn pair(of: &Shape, value: &Value, look: Look) -> String {
    match value.as_array().map(Vec::as_slice) {
        Some([a, b]) if matches!(of, Shape::Number) => format!("{} {}", scalar(a), scalar(b)),
        Some([a, b]) if a == b && matches!(of, Shape::Whole) => scalar(a),
        Some([a, b]) => format!("{}–{}", one_shown(of, a, look), one_shown(of, b, look)),
        _ => scalar(value),
    }
}

fn one_shown(shape: &Shape, value: &Value, look: Look) -> String {
    let read = match (shape, look) {
        (Shape::Stretch, _) => serde_json::from_value::<Stretch>(value.clone())
            .map(|at| format!("{}–{}", short(at.start()), short(at.end())))
            .ok(),
        (Shape::Time, _) => serde_json::from_value::<SongTime>(value.clone())
            .map(short)
            .ok(),
        (Shape::Truth, _) => value
            .as_bool()
            .map(|yes| if yes { "yes" } else { "no" }.to_owned()),
        (_, Look::Money) => value.as_i64().map(money),
        _ => None,
    };
    read.unwrap_or_else(|| scalar(value))
}

/// A time without a fraction that says nothing.
fn short(at: SongTime) -> String {
    let exact = at.to_string();
    let plain = exact.trim_end_matches('0').trim_end_matches('.');
    let is_exact = plain.parse::<SongTime>().is_ok_and(|read| read == at);
    // Finer than a thousandth: the tick itself, so that what is not touched stays.
    if is_exact {
        plain.to_owned()
    } else {
        format!("{:.12}", at.seconds())
            .trim_end_matches('0')
            .to_owned()
    }
}

fn scalar(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Number(number) if number.is_f64() => plain(number.as_f64().unwrap_or(f64::NAN)),
        other => other.to_string(),
    }
}

/// A number without what says nothing: at most seven decimals, which are a hand's breadth of a position.
fn plain(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-3 {
        return value.to_string();
    }
    let text = format!("{value:.7}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Smallest units as an amount with two decimals.
pub fn money(minor: i64) -> String {
    let sign = if minor < 0 { "-" } else { "" };
    format!(
        "{sign}{}.{:02}",
        minor.unsigned_abs() / 100,
        minor.unsigned_abs() % 100
    )
}

/// What a person typed into `field`, as it is written in the document; null for nothing.
///
/// # Errors
/// One sentence: what can't be read and how to write it.
pub fn typed(field: &Field, text: &str) -> Result<Value, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(Value::Null);
    }
    match field.shape {
        Shape::List(_) | Shape::Pair(_) | Shape::Inside(_) | Shape::Other
            if text.starts_with(['[', '{']) =>
        {
            from_toml(text)
        }
        Shape::List(one) => list(field, one, text),
        Shape::Pair(of) => two(field, of, text),
        Shape::Inside(noun) => Err(format!(
            "`{}` holds several things; write them one by one, such as `{}.{}=…`, or in braces as in a plan file",
            field.name,
            field.name,
            first_field(noun)
        )),
        Shape::Other => Err(format!("`{}` can't be typed", field.name)),
        shape => one(field, &shape, text),
    }
}

fn first_field(noun: &Noun) -> &'static str {
    noun.fields.first().map_or("", |field| field.name)
}

fn from_toml(text: &str) -> Result<Value, String> {
    let table: toml::Table = toml::from_str(&format!("value = {}", text.replace('\n', " ")))
        .map_err(|error| format!("`{}` can't be read: {}", clipped(text), error.message()))?;
    let value = table.get("value").cloned();
    if value.as_ref().is_some_and(has_no_number) {
        return Err(format!(
            "`{}` holds something that is no number",
            clipped(text)
        ));
    }
    serde_json::to_value(value)
        .map_err(|error| format!("`{}` can't be read: {error}", clipped(text)))
}

/// Whether a number in it is `nan` or `inf`.
fn has_no_number(value: &toml::Value) -> bool {
    match value {
        toml::Value::Float(number) => !number.is_finite(),
        toml::Value::Array(items) => items.iter().any(has_no_number),
        toml::Value::Table(table) => table.values().any(has_no_number),
        _ => false,
    }
}

/// At most so much of what was typed that a sentence stays one.
pub(crate) fn clipped(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    format!("{}…", text.chars().take(MOST).collect::<String>())
}

/// The parts of a list: at line ends and semicolons where there are some, otherwise at commas.
fn parts(text: &str) -> impl Iterator<Item = &str> {
    let between: &[char] = if text.contains([';', '\n']) {
        &[';', '\n']
    } else {
        &[',']
    };
    text.split(between)
        .map(str::trim)
        .filter(|part| !part.is_empty())
}

fn list(field: &Field, of: &Shape, text: &str) -> Result<Value, String> {
    let collect = |all: &mut dyn Iterator<Item = Result<Value, String>>| {
        all.collect::<Result<Vec<_>, _>>().map(Value::Array)
    };
    match of {
        Shape::Pair(of) if matches!(of, Shape::Number) => {
            collect(&mut parts(text).map(|part| two(field, of, part)))
        }
        Shape::Pair(of) => collect(&mut parts(text).map(|part| from_to(field, of, part))),
        _ if field.look == Look::Lines => Ok(text
            .lines()
            .map(str::trim)
            .filter(|line| !line.is_empty())
            .map(|line| json!(line))
            .collect()),
        _ => collect(&mut parts(text).map(|part| one(field, of, part))),
    }
}

/// Splits `a–b` at any dash, or at `to`; one thing alone is both.
fn ends(text: &str) -> (&str, &str) {
    ["–", "—", " to ", "-"]
        .iter()
        .find_map(|dash| {
            let (a, b) = text.split_once(dash)?;
            // A sign before a number is no dash.
            (!a.trim().is_empty()).then(|| (a.trim(), b.trim()))
        })
        .unwrap_or((text.trim(), text.trim()))
}

/// From and to: bars, hours. Hours that end before they begin end on the following morning.
fn from_to(field: &Field, of: &Shape, text: &str) -> Result<Value, String> {
    let (from, to) = ends(text);
    let (a, mut b) = (one(field, of, from)?, one(field, of, to)?);
    if let (Ok(from), Ok(to)) = (from.parse::<ClockTime>(), to.parse::<ClockTime>())
        && matches!(of, Shape::Clock)
        && to < from
    {
        b = json!(to.later(24 * 60));
    }
    Ok(json!([a, b]))
}

/// Two numbers, however they are set apart.
fn two(field: &Field, of: &Shape, text: &str) -> Result<Value, String> {
    if field.look == Look::Span {
        return from_to(field, of, text.strip_suffix(field.unit).unwrap_or(text));
    }
    let commas = text.matches(',').count();
    let apart: Vec<&str> =
        if commas == 1 && (text.contains(", ") || !text.contains([' ', 'x', '×', ';'])) {
            text.split(',').collect()
        } else {
            text.split([' ', ';', '×', 'x', '\t'])
                .flat_map(|part| {
                    // A comma between digits is a decimal one here.
                    if part.matches(',').count() == 1 && !part.ends_with(',') {
                        vec![part]
                    } else {
                        part.split(',').collect()
                    }
                })
                .collect()
        };
    let found: Vec<&str> = apart
        .into_iter()
        .map(str::trim)
        .filter(|part| !part.is_empty() && *part != field.unit)
        .collect();
    match found[..] {
        [a, b] => Ok(json!([one(field, of, a)?, one(field, of, b)?])),
        _ => Err(no(
            text,
            "is not two numbers; write them with a comma and a space between",
        )),
    }
}

fn one(field: &Field, shape: &Shape, text: &str) -> Result<Value, String> {
    match shape {
        Shape::Number => with_unit(field, text).map(tidy),
        Shape::Whole if field.look == Look::Money => {
            let minor = grouped(text, Grouped::Money).map(|amount| (amount * 100.0).round());
            let minor = minor.filter(|minor| minor.abs() < 9e15);
            let minor = minor.map(|minor| json!(minor as i64));
            minor.ok_or_else(|| no(text, "is no amount; write it such as 45, 45.50 or 1,900.00"))
        }
        Shape::Whole => {
            let number = with_unit(field, text)?;
            if number.fract() == 0.0 && number.abs() < 9e15 {
                Ok(json!(number as i64))
            } else {
                Err(no(text, "is not a whole number"))
            }
        }
        Shape::Truth => match text.to_lowercase().as_str() {
            "yes" | "true" => Ok(json!(true)),
            "no" | "false" => Ok(json!(false)),
            _ => Err(no(text, "is neither yes nor no")),
        },
        Shape::Word(words) => {
            let said = text.to_lowercase();
            let found = words
                .iter()
                .find(|word| word.word == said || word.label.to_lowercase() == said);
            found.map(|word| json!(word.word)).ok_or_else(|| {
                let known: Vec<&str> = words.iter().map(|word| word.word).collect();
                format!(
                    "there is no `{}` here; {}",
                    clipped(text),
                    crate::plan_file::meant(&said, &known)
                )
            })
        }
        Shape::Clock => text.parse::<ClockTime>().map(|at| json!(at)),
        Shape::Rate => text.parse::<FrameRate>().map(|rate| json!(rate)),
        Shape::Time => text.parse::<SongTime>().map(|at| json!(at)),
        Shape::Stretch => {
            let (from, to) = ends(text);
            if from == to {
                let says = "is no stretch of the song; write from and to, such as 0:12.5–0:20";
                return Err(no(text, says));
            }
            let (from, to): (SongTime, SongTime) = (from.parse()?, to.parse()?);
            Stretch::new(from, to).map(|at| json!(at)).ok_or_else(|| {
                format!("a stretch ends after it starts, and {to} is not after {from}")
            })
        }
        _ => Ok(json!(text)),
    }
}

/// What was typed, and what is wrong with it.
fn no(text: &str, says: &str) -> String {
    format!("`{}` {says}", clipped(text))
}

/// A number in its unit, which may be written behind it; a share also in per cent, and the strength of a
/// light also as what a meter read and from how far (`575 lx @ 2 m`, ISO 80000-7: E = I / r²).
fn with_unit(field: &Field, text: &str) -> Result<f64, String> {
    if field.unit == "cd"
        && let Some((lux, metres)) = text.split_once('@')
    {
        let strip = |text: &str, units: &[&str]| {
            let text = text.trim();
            let bare = units.iter().find_map(|unit| text.strip_suffix(unit));
            number(bare.unwrap_or(text).trim())
        };
        let (lux, metres) = (strip(lux, &["lux", "lx"])?, strip(metres, &["m"])?);
        return if metres > 0.0 {
            Ok(lux * metres * metres)
        } else {
            Err("a light is measured from more than 0 metres".into())
        };
    }
    let end = text
        .rfind(|c: char| c.is_ascii_digit())
        .map_or(text.len(), |at| at + 1);
    let (figure, unit) = (&text[..end], text[end..].trim());
    let read = |figure: &str| {
        if matches!(
            field.shape,
            Shape::Whole | Shape::List(Shape::Whole) | Shape::Pair(Shape::Whole)
        ) {
            grouped(figure, Grouped::Whole).ok_or_else(|| no(text, "is not a whole number"))
        } else {
            number(figure)
        }
    };
    match unit {
        "" => read(figure),
        "%" if field.unit == "share" => Ok(read(figure)? / 100.0),
        unit if unit == field.unit => read(figure),
        _ if figure.trim().is_empty() => number(text),
        unit => Err(match field.unit {
            "" => no(text, "carries a unit, and a plain number is wanted here"),
            "share" => no(
                text,
                &format!(
                    "is in {}, and a share is wanted here, such as 0.8 or 80%",
                    clipped(unit)
                ),
            ),
            wanted => no(
                text,
                &format!("is in {}, and {wanted} are wanted here", clipped(unit)),
            ),
        }),
    }
}

/// A number as people write it: decimal point or comma, thousands set apart or not. `1,900` could be
/// either, and is asked about.
fn number(text: &str) -> Result<f64, String> {
    let value = grouped(text, Grouped::Number)
        .ok_or_else(|| no(text, "is not a number; write it as 12 or 12.5"))?;
    if let Some((before, after)) = text.trim().split_once(',')
        && after.len() == 3
        && !before.contains('.')
        && !before.trim_start_matches('-').starts_with('0')
        && !before.is_empty()
        && !after.contains([',', '.'])
    {
        let plain = format!("{before}{after}");
        let says = format!("can be read as {plain} or as {value}; write it one of these ways");
        return Err(no(text, &says));
    }
    Ok(value)
}

/// What a single point or comma before three digits is.
#[derive(Clone, Copy, PartialEq)]
enum Grouped {
    /// A decimal one.
    Number,
    /// It sets thousands apart: an amount has two decimals.
    Money,
    /// It sets thousands apart: there are no decimals.
    Whole,
}

/// Reads `1900`, `1,900`, `1.900,00`, `1 900`, `1'900.5`; `None` when it is no number.
fn grouped(text: &str, form: Grouped) -> Option<f64> {
    let text = text.trim().replace('\u{2212}', "-");
    let (sign, figure) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest),
        None => (1.0, text.strip_prefix('+').unwrap_or(&text)),
    };
    // Scientific notation is the document's own for very small and large numbers.
    if figure.contains(['e', 'E']) {
        let plain = figure
            .bytes()
            .all(|b| b.is_ascii_digit() || b"eE.+-".contains(&b));
        return figure
            .parse::<f64>()
            .ok()
            .filter(|value| plain && value.is_finite())
            .map(|value| sign * value);
    }
    let last = figure.rfind([',', '.']);
    let decimal = last.filter(|at| {
        let mark = &figure[*at..=*at];
        let after = figure.len() - at - 1;
        let alone = figure.matches(mark).count() == 1;
        let other = figure[..*at].contains([',', '.']);
        match form {
            _ if !alone => false,
            _ if other => true,
            Grouped::Number => true,
            Grouped::Money => after != 3,
            Grouped::Whole => after != 3,
        }
    });
    let (whole, part) = match decimal {
        Some(at) => (&figure[..at], &figure[at + 1..]),
        None => (figure, ""),
    };
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let marks = [' ', '\u{a0}', '\u{202f}', '\'', '\u{2019}', ',', '.'];
    let groups: Vec<&str> = whole.split(marks).collect();
    let apart = groups.len() == 1
        || (matches!(groups[0].len(), 1..=3) && groups[1..].iter().all(|group| group.len() == 3));
    let good = apart
        && groups.iter().all(|group| digits(group))
        && digits(part)
        && !(whole.is_empty() && part.is_empty())
        && !(decimal.is_some() && part.is_empty() && form != Grouped::Number)
        && (form != Grouped::Money || part.len() <= 2);
    let value: f64 = good.then(|| format!("0{}.{part}0", groups.concat()).parse().ok())??;
    value.is_finite().then_some(sign * value)
}

/// A number without a needless fraction, as whole fields want it.
fn tidy(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 9e15 {
        json!(value as i64)
    } else {
        json!(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Day, Idea, KitItem, Place, Setup};

    fn of(noun: &Noun, path: &str) -> Field {
        let (first, rest) = path
            .split_once('.')
            .map_or((path, None), |(a, b)| (a, Some(b)));
        let field = *noun.field(first).unwrap();
        match (rest, field.shape) {
            (Some(rest), Shape::Inside(noun)) => of(noun, rest),
            _ => field,
        }
    }

    #[test]
    fn amounts_are_read_as_people_write_them() {
        let cost = of(&KitItem::NOUN, "cost_minor");
        for (text, minor) in [
            ("1900", 190_000),
            ("1,900", 190_000),
            ("1.900", 190_000),
            ("1 900", 190_000),
            ("1\u{a0}900", 190_000),
            ("1'900", 190_000),
            ("1.900,00", 190_000),
            ("1,900.50", 190_050),
            ("1,900,000", 190_000_000),
            ("45.5", 4550),
            ("45,50", 4550),
            ("0.05", 5),
        ] {
            assert_eq!(typed(&cost, text), Ok(json!(minor)), "{text}");
        }
        for text in [
            "x",
            "1,9000",
            "12.345.6",
            "1 9",
            ".",
            "1e400",
            "99999999999999999999",
            "1.9.0",
        ] {
            assert!(typed(&cost, text).is_err(), "{text}");
        }
        assert_eq!(shown(&cost, &json!(190_050)), "1900.50");
    }

    #[test]
    fn numbers_are_read_with_their_units_or_asked_about() {
        let field = |path| of(&KitItem::NOUN, path);
        let read = |path, text| typed(&field(path), text);
        assert_eq!(read("light.kelvin", "5600"), Ok(json!(5600)));
        assert_eq!(read("light.kelvin", "5600 K"), Ok(json!(5600)));
        assert_eq!(read("light.full_w", "12,5W"), Ok(json!(12.5)));
        assert_eq!(read("battery.usable", "88 %"), Ok(json!(0.88)));
        // 575 lux at 2 m are 2300 cd.
        assert_eq!(read("light.candela", "575 lx @ 2 m"), Ok(json!(2300)));
        assert_eq!(read("light.candela", "575@2"), Ok(json!(2300)));
        assert_eq!(read("battery.usable", "0,125"), Ok(json!(0.125)));
        assert_eq!(
            read("light.full_w", "60 kg"),
            Err("`60 kg` is in kg, and W are wanted here".into())
        );
        assert_eq!(
            read("light.candela", "1,900"),
            Err("`1,900` can be read as 1900 or as 1.9; write it one of these ways".into())
        );
        assert_eq!(read("camera.most_iso", "12,800"), Ok(json!(12_800)));
        assert_eq!(read("camera.base_iso", "800, 3200"), Ok(json!([800, 3200])));
        assert!(read("camera.most_iso", "2.5").is_err());
        assert!(read("light.kelvin", "nan").is_err() && read("light.kelvin", "inf").is_err());
        assert_eq!(read("lens.focal_mm", "24-70"), Ok(json!([24, 70])));
        assert_eq!(read("lens.focal_mm", "35 mm"), Ok(json!([35, 35])));
        assert_eq!(shown(&field("lens.focal_mm"), &json!([35.0, 35.0])), "35");
        assert_eq!(read("camera.frame", "3840x2160"), Ok(json!([3840, 2160])));
    }

    #[test]
    fn two_numbers_are_read_however_they_are_typed() {
        let position = of(&Place::NOUN, "position_deg");
        for text in ["41.14, -8.61", "41.14 -8.61", "41.14,-8.61", "41,14 -8,61"] {
            assert_eq!(typed(&position, text), Ok(json!([41.14, -8.61])), "{text}");
        }
        assert!(typed(&position, "41").is_err());
        let horizon = of(&Place::NOUN, "horizon_deg");
        assert_eq!(
            typed(&horizon, "90 12, 180 5"),
            Ok(json!([[90, 12], [180, 5]]))
        );
        assert_eq!(shown(&horizon, &json!([[90.0, 12.5]])), "90 12.5");
    }

    #[test]
    fn times_come_back_as_they_were() {
        let at = of(&Idea::NOUN, "at");
        let idea: Idea =
            serde_json::from_value(json!({"id": "i", "text": "x", "at": ["0:01", "0:05"]}))
                .unwrap();
        let written = serde_json::to_value(&idea).unwrap();
        assert_eq!(shown(&at, &written["at"]), "0:01–0:05");
        assert_eq!(typed(&at, "0:01–0:05"), Ok(written["at"].clone()));
        let hours = of(&Setup::NOUN, "hours");
        assert_eq!(
            typed(&hours, "22:00-02:00"),
            Ok(json!([["22:00", "26:00"]]))
        );
        let call = of(&Day::NOUN, "call");
        assert_eq!(typed(&call, "26:30"), Ok(json!("26:30")));
        let bars = of(&Setup::NOUN, "bars");
        assert_eq!(typed(&bars, "1–8, 12"), Ok(json!([[1, 8], [12, 12]])));
        assert_eq!(shown(&bars, &json!([[1, 8], [12, 12]])), "1–8, 12");
    }

    #[test]
    fn words_are_known_by_both_their_forms() {
        let mount = of(&Setup::NOUN, "mount");
        assert_eq!(typed(&mount, "Overhead"), Ok(json!("overhead")));
        assert_eq!(typed(&mount, "in the hand"), Ok(json!("hand")));
        assert_eq!(
            typed(&mount, "tripot"),
            Err("there is no `tripot` here; did you mean `tripod`?".into())
        );
    }
}
