//! A document declared here and nowhere else, with one field of every kind: it is asked for, read, set, filed,
//! described and taken back without another line.

use super::{Faults, draw, values};
use model::describe::{Asked, Field};
use model::{
    ClockTime, Date, Document as _, Edit, FrameRate, KitId, Length, SongTime, Stretch, path,
    plan_file, schema,
};
use serde_json::{Value, json};

model::words! {
    /// How it is washed.
    pub enum Wash = Hand {
        /// In a basin.
        Hand = "hand", "by hand";
        /// In a machine.
        Machine = "machine", "by machine";
    }
}

model::noun! {
    /// A label sewn in.
    pub struct Label {
        /// What stands on it.
        pub text: String => "Text",
        /// How many.
        pub count: u32 = 1 => "How many".range(1.0, 9.0),
    }
}

model::noun! {
    /// A costume.
    pub struct Costume(list: "kit", called: "costume") {
        /// Short and unique.
        pub id: KitId => "Id".never(),
        /// What it is called.
        pub name: String => "Name".range(1.0, 40.0),
        /// A number.
        pub weight_kg: Option<f64> => "Weight".unit("kg").range(0.1, 20.0),
        /// A whole number.
        pub count: u32 = 1 => "How many".range(1.0, 99.0),
        /// A part of a whole.
        pub worn_out: Option<f64> => "Worn out".share(0.0, 1.0),
        /// Yes or no.
        pub wet: bool => "Gets wet",
        /// Yes, no or not known.
        pub dry: Option<bool> => "Dry by noon".later(),
        /// A word.
        pub wash: Wash = Wash::Hand => "Washed",
        /// Several words.
        pub washes: Vec<Wash> => "May be washed",
        /// What it is worn over.
        pub over: Option<KitId> => "Worn over",
        /// A clock time.
        pub fitting: Option<ClockTime> => "Fitting",
        /// A date.
        pub back_by: Option<Date> => "Back by".date(),
        /// Money.
        pub price_minor: Option<i64> => "Price".money(),
        /// A picture rate.
        pub rate: Option<FrameRate> => "Rate",
        /// A time of the song.
        pub at: Option<SongTime> => "From",
        /// A length of it.
        pub length: Option<Length> => "For",
        /// A stretch of it.
        pub worn: Option<Stretch> => "Worn",
        /// A pair.
        pub size_cm: Option<[f64; 2]> => "Size".unit("cm").range(1.0, 300.0),
        /// Lines.
        pub notes: String => "Notes".lines(),
        /// A list.
        pub marks: Vec<String> => "Marks".lines(),
        /// A noun inside.
        pub label: Option<Label> => "Label",
        /// Several.
        pub spares: Vec<Label> => "Spare labels",
    }
}

model::document! {
    /// What is worn.
    pub struct Wardrobe {
        /// Costumes.
        pub kit: Vec<Costume> => "Costumes",
    }
}

/// Of each field: its way below the costume, as it is typed, as it is written, and what can't be typed.
fn said() -> Vec<(&'static str, &'static str, Value, &'static str)> {
    vec![
        ("name", "Red coat", json!("Red coat"), ""),
        ("weight_kg", "1.5", json!(1.5), "21"),
        ("count", "12", json!(12), "100"),
        ("worn_out", "25 %", json!(0.25), "110 %"),
        ("wet", "yes", json!(true), "perhaps"),
        ("dry", "no", json!(false), "perhaps"),
        ("wash", "machine", json!("machine"), "by air"),
        ("washes", "machine", json!(["machine"]), "by air"),
        ("over", "shirt", json!("shirt"), "skirt"),
        ("fitting", "17:30", json!("17:30"), "77:30"),
        ("back_by", "2026-10-04", json!("2026-10-04"), "2026-13-04"),
        ("price_minor", "1,900", json!(190_000), "many"),
        ("rate", "25", json!("25"), "none"),
        ("at", "0:01", json!("0:01.000"), "then"),
        ("length", "0:05", json!("0:05.000"), "long"),
        (
            "worn",
            "0:01 to 0:05",
            json!(["0:01.000", "0:05.000"]),
            "0:01 to then",
        ),
        ("size_cm", "60, 120", json!([60.0, 120.0]), "0, 120"),
        ("notes", "Wash cold.", json!("Wash cold."), ""),
        ("marks", "left sleeve", json!(["left sleeve"]), ""),
        ("label.text", "Alma", json!("Alma"), ""),
        ("label.count", "2", json!(2), "10"),
    ]
}

fn wardrobe() -> Wardrobe {
    plan_file::document(
        "[[kit]]\nid = \"shirt\"\nname = \"Shirt\"\n\n[[kit]]\nid = \"coat\"\nname = \"Coat\"\n",
    )
    .unwrap_or_else(|fault| panic!("{fault}"))
}

fn coat(of: &Wardrobe) -> Value {
    of.part("kit").unwrap_or_default()[1].clone()
}

/// What the edit puts, in what it puts it, and back as `was` has it.
fn applied(to: &Wardrobe, edit: &Edit) -> (Wardrobe, Wardrobe) {
    let Edit::Put { part, new, was } = edit else {
        panic!("{edit:?}");
    };
    let mut next = to.clone();
    next.put(part, new, was.as_ref()).expect("it can be put");
    let mut back = next.clone();
    let was = was.as_ref().expect("it was there");
    back.put(part, was, Some(new))
        .expect("it can be taken back");
    (next, back)
}

/// `/label/count` of `label.count`, as what was written has it.
fn written<'a>(costume: &'a Value, way: &str) -> &'a Value {
    let pointer = format!("/{}", way.replace('.', "/"));
    costume.pointer(&pointer).unwrap_or(&Value::Null)
}

/// Whether they say the same: 60 is 60.0.
fn same(ours: &Value, wanted: &Value) -> bool {
    match (ours, wanted) {
        (Value::Array(ours), Value::Array(wanted)) => {
            ours.len() == wanted.len() && ours.iter().zip(wanted).all(|(a, b)| same(a, b))
        }
        _ => ours == wanted || (ours.is_number() && ours.as_f64() == wanted.as_f64()),
    }
}

fn asked() -> impl Iterator<Item = &'static Field> {
    let fields = Costume::NOUN.fields.iter();
    fields.filter(|field| field.asked != Asked::Never)
}

#[test]
fn each_field_is_in_its_form_and_read_from_it() {
    let of = wardrobe();
    let form =
        |value: &Value| draw("coat", &Costume::NOUN, value, &of, &Faults::default()).into_string();
    let empty = form(&coat(&of));
    for field in asked() {
        assert!(
            empty.contains(field.label),
            "{} is not asked for",
            field.name
        );
    }
    let posted = said()
        .into_iter()
        .map(|(way, typed, ..)| (way.to_owned(), vec![typed.to_owned()]))
        .chain([("spares.0.text".to_owned(), vec!["Ida".to_owned()])])
        .collect();
    let read = values(&Costume::NOUN, &posted, &coat(&of))
        .unwrap_or_else(|faults| panic!("{}", faults.sentence()));
    for (way, _, wanted, _) in said() {
        let ours = written(&read, way);
        assert!(same(ours, &wanted), "{way}: {ours}, not {wanted}");
    }
    assert_eq!(read["spares"][0]["text"], "Ida");
    // Drawn again, it is all there, and posted again it is no change.
    let filled = form(&read);
    for text in [
        "Red coat",
        "1.5",
        "1900.00",
        "17:30",
        "left sleeve",
        "Alma",
        "Ida",
    ] {
        assert!(filled.contains(text), "{text}: {filled}");
    }
    assert_eq!(
        values(&Costume::NOUN, &posted, &read).expect("as before"),
        read
    );
    for (way, _, _, wrong) in said().into_iter().filter(|one| !one.3.is_empty()) {
        // What is to be chosen from, no form can get wrong.
        if ["wet", "wash", "washes", "over", "dry"].contains(&way) {
            continue;
        }
        let posted = [(way.to_owned(), vec![wrong.to_owned()])].into();
        let read = super::read::<Costume>(&Costume::NOUN, &posted, &coat(&of));
        let told = read.is_err_and(|faults| faults.under(way));
        let ranged = ["weight_kg", "count", "worn_out", "size_cm", "label.count"].contains(&way);
        assert!(told || ranged, "{way} of {wrong} is taken");
    }
}

#[test]
fn each_field_is_set_got_and_taken_back() {
    let of = wardrobe();
    for (way, typed, wanted, _) in said() {
        let path = format!("kit.coat.{way}");
        let edit = path::set(&of, &[(path.clone(), typed.to_owned())])
            .unwrap_or_else(|error| panic!("{error}"));
        let (next, back) = applied(&of, &edit);
        let ours = path::get(&next, &path).unwrap_or_else(|error| panic!("{error}"));
        assert!(same(&ours, &wanted), "{way}: {ours}, not {wanted}");
        assert_eq!(back, of, "{way} is taken back");
    }
    let added = path::add(&of, "kit.hat", &[("name".into(), "Hat".into())]).expect("a hat");
    let Edit::Put { part, new, .. } = &added else {
        panic!("{added:?}");
    };
    let mut next = of.clone();
    next.put(part, new, None).expect("it can be put");
    assert_eq!(next.ids_in("kit"), ["shirt", "coat", "hat"]);
    let Edit::Remove { part, id } = path::remove(&next, "kit.hat").expect("it is there") else {
        panic!("no removal");
    };
    next.remove(&part, &id).expect("it is there");
    assert_eq!(next, of);
    let wrong = path::set(&of, &[("kit.coat.wieght_kg".into(), "1".into())]);
    assert!(wrong.is_err_and(|error| error.to_string().contains("did you mean `weight_kg`?")));
}

#[test]
fn each_field_is_in_the_file_with_its_faults_in_the_schema_and_in_the_table() {
    let of = wardrobe();
    let sets: Vec<(String, String)> = said()
        .into_iter()
        .map(|(way, typed, ..)| (format!("kit.coat.{way}"), typed.to_owned()))
        .collect();
    let full = applied(&of, &path::set(&of, &sets).expect("all of it")).0;
    let file = |costume: &Value| {
        let other = &of.part("kit").unwrap_or_default()[0];
        toml::to_string(&json!({ "kit": [other, costume] })).expect("a file")
    };
    let good = file(&coat(&full));
    let read: Wardrobe = plan_file::document(&good).unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(read, full);
    for (way, _, wanted, wrong) in said().into_iter().filter(|one| !one.3.is_empty()) {
        let mut costume = coat(&full);
        let bad = match (&wanted, way) {
            (Value::Number(_), "weight_kg" | "count" | "label.count") => json!(1000),
            (Value::Number(_), "worn_out") => json!(1.1),
            (_, "size_cm") => json!([0.0, 120.0]),
            (_, "worn") => json!(["0:01", wrong]),
            (Value::Array(_), _) => json!([wrong]),
            _ => json!(wrong),
        };
        let pointer = format!("/{}", way.replace('.', "/"));
        *costume.pointer_mut(&pointer).expect("it is there") = bad;
        let text = file(&costume);
        let fault = plan_file::document::<Wardrobe>(&text).expect_err(way);
        let name = way.rsplit('.').next().unwrap_or(way);
        assert!(fault.field.contains(name), "{way}: {fault}");
        let line = text
            .lines()
            .nth(fault.line.saturating_sub(1))
            .unwrap_or_default();
        assert!(line.contains(name), "{way}: {fault}, at `{line}`");
    }
    let schema = schema::schema(&Wardrobe::NOUN);
    let table = schema::table(&Wardrobe::NOUN);
    for field in Costume::NOUN.fields {
        let inside = &schema["properties"]["kit"]["items"]["properties"][field.name];
        assert!(inside.is_object(), "{} is not in the schema", field.name);
        let row = format!("| `{}` |", field.name);
        assert!(table.contains(&row), "{} is not in the table", field.name);
    }
}
