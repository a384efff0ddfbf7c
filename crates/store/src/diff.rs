//! The patch (RFC 6902) that leads from one document to another.
//!
//! The `json-patch` crate applies patches; its own `diff` compares lists place by place, so that
//! taking out the first of sixty shots rewrites all that follow. Here the elements of a list are
//! matched first: by their `id` where they have one, otherwise by being equal.

use json_patch::jsonptr::PointerBuf;
use json_patch::{AddOperation, Patch, PatchOperation, RemoveOperation, ReplaceOperation};
use serde_json::{Map, Value};

/// Lists whose changed middles multiply to more than this are compared place by place: the
/// matching takes a table of that many cells.
const MOST_CELLS: usize = 1_000_000;

/// The patch that turns `from` into `to`; empty when they are equal.
pub(crate) fn diff(from: &Value, to: &Value) -> Patch {
    let mut operations = Vec::new();
    values(from, to, &mut PointerBuf::new(), &mut operations);
    Patch(operations)
}

fn values(from: &Value, to: &Value, path: &mut PointerBuf, out: &mut Vec<PatchOperation>) {
    match (from, to) {
        (Value::Object(from), Value::Object(to)) => objects(from, to, path, out),
        (Value::Array(from), Value::Array(to)) => arrays(from, to, path, out),
        _ if from == to => {}
        _ => out.push(PatchOperation::Replace(ReplaceOperation {
            path: path.clone(),
            value: to.clone(),
        })),
    }
}

fn objects(
    from: &Map<String, Value>,
    to: &Map<String, Value>,
    path: &mut PointerBuf,
    out: &mut Vec<PatchOperation>,
) {
    for key in from.keys().filter(|key| !to.contains_key(*key)) {
        path.push_back(key);
        out.push(remove(path));
        path.pop_back();
    }
    for (key, to) in to {
        path.push_back(key);
        match from.get(key) {
            Some(from) => values(from, to, path, out),
            None => out.push(add(path, to)),
        }
        path.pop_back();
    }
}

fn arrays(from: &[Value], to: &[Value], path: &mut PointerBuf, out: &mut Vec<PatchOperation>) {
    let head = from.iter().zip(to).take_while(|(a, b)| a == b).count();
    let (from, to) = (&from[head..], &to[head..]);
    let tail = from
        .iter()
        .rev()
        .zip(to.iter().rev())
        .take_while(|(a, b)| a == b)
        .count();
    let (from, to) = (&from[..from.len() - tail], &to[..to.len() - tail]);

    // Where in the list, as it is after the operations so far.
    let mut place = head;
    let (mut next_from, mut next_to) = (0, 0);
    let pairs = matched(from, to);
    for (at_from, at_to) in pairs.into_iter().chain([(from.len(), to.len())]) {
        // What lies between two pairs: changed in place as far as it goes, then taken out or put in.
        let (gone, come) = (&from[next_from..at_from], &to[next_to..at_to]);
        for (gone, come) in gone.iter().zip(come) {
            inside(gone, come, place, path, out);
            place += 1;
        }
        for _ in come.len()..gone.len() {
            path.push_back(place);
            out.push(remove(path));
            path.pop_back();
        }
        for come in come.iter().skip(gone.len()) {
            path.push_back(place);
            out.push(add(path, come));
            path.pop_back();
            place += 1;
        }
        if let (Some(from), Some(to)) = (from.get(at_from), to.get(at_to)) {
            inside(from, to, place, path, out);
            place += 1;
        }
        (next_from, next_to) = (at_from + 1, at_to + 1);
    }
}

fn inside(
    from: &Value,
    to: &Value,
    place: usize,
    path: &mut PointerBuf,
    out: &mut Vec<PatchOperation>,
) {
    path.push_back(place);
    values(from, to, path, out);
    path.pop_back();
}

/// The longest common subsequence of `from` and `to` as pairs of places, by the textbook table.
fn matched(from: &[Value], to: &[Value]) -> Vec<(usize, usize)> {
    let width = to.len() + 1;
    if from.is_empty() || to.is_empty() || from.len().saturating_mul(to.len()) > MOST_CELLS {
        return Vec::new();
    }
    let mut longest = vec![0u32; (from.len() + 1) * width];
    for (a, one) in from.iter().enumerate().rev() {
        for (b, other) in to.iter().enumerate().rev() {
            longest[a * width + b] = if same(one, other) {
                longest[(a + 1) * width + b + 1] + 1
            } else {
                longest[(a + 1) * width + b].max(longest[a * width + b + 1])
            };
        }
    }
    let (mut a, mut b) = (0, 0);
    let mut pairs = Vec::new();
    while a < from.len() && b < to.len() {
        if same(&from[a], &to[b]) {
            pairs.push((a, b));
            a += 1;
            b += 1;
        } else if longest[(a + 1) * width + b] >= longest[a * width + b + 1] {
            a += 1;
        } else {
            b += 1;
        }
    }
    pairs
}

fn same(one: &Value, other: &Value) -> bool {
    match (one.get("id"), other.get("id")) {
        (Some(one), Some(other)) => one == other,
        (None, None) => one == other,
        _ => false,
    }
}

fn add(path: &PointerBuf, value: &Value) -> PatchOperation {
    PatchOperation::Add(AddOperation {
        path: path.clone(),
        value: value.clone(),
    })
}

fn remove(path: &PointerBuf) -> PatchOperation {
    PatchOperation::Remove(RemoveOperation { path: path.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn check(from: &Value, to: &Value) -> Patch {
        let patch = diff(from, to);
        let mut after = from.clone();
        json_patch::patch(&mut after, &patch).unwrap();
        assert_eq!(after, *to, "{from} by {}", json!(patch));
        patch
    }

    #[test]
    fn taking_out_the_first_of_many_is_one_operation() {
        let shots = |from: i64| -> Value { (from..60).map(|n| json!({ "from": n })).collect() };
        assert_eq!(check(&shots(0), &shots(1)).0.len(), 1);
        assert_eq!(check(&shots(1), &shots(0)).0.len(), 1);
        let takes = |from: i64, rating: &str| -> Value {
            (from..24)
                .map(|n| json!({ "id": n, "rating": rating }))
                .collect()
        };
        assert_eq!(check(&takes(0, "usable"), &takes(1, "usable")).0.len(), 1);
        // One taken out and all others changed: one removal and one change each.
        assert_eq!(check(&takes(0, "usable"), &takes(1, "circled")).0.len(), 24);
    }

    #[test]
    fn numbers_and_odd_keys_are_told_apart() {
        for (from, to) in [
            (json!(1), json!(1.0)),
            (
                json!({ "": 1, "a/b": 2, "~": 3 }),
                json!({ "": 2, "a/b": 3, "~": 4 }),
            ),
            (json!({ "a": null }), json!({})),
            (json!([]), json!({})),
            (json!([null]), json!([])),
        ] {
            assert!(!check(&from, &to).0.is_empty());
        }
        assert!(
            check(
                &json!({ "a": [1, { "b": null }] }),
                &json!({ "a": [1, { "b": null }] })
            )
            .0
            .is_empty()
        );
    }

    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            (0i64..4).prop_map(Value::from),
            (-2.0f64..2.0).prop_map(Value::from),
            "[a-c~/]{0,2}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 8, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..8).prop_map(Value::from),
                prop::collection::hash_map("[a-d~/]{0,2}|id", inner, 0..6)
                    .prop_map(|fields| Value::Object(fields.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn a_patch_leads_from_one_to_the_other(from in any_json(), to in any_json()) {
            check(&from, &to);
            prop_assert!(diff(&from, &from).0.is_empty());
        }
    }
}
