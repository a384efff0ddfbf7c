//! Reel names: eight characters at most, each take its own.
//!
//! An edit list knows a file by its reel alone. A reel is made of the letters and digits of the
//! take's given reel or, without one, of its file name: whole when they fit, otherwise the first
//! five and the last three, since names differ at their ends (`setup2_pass03` is `SETUPS03`). Takes that would
//! share a reel get a counter at its end. All takes are named, in the order given, whether the cut
//! uses them or not, so that a take keeps its reel from one version of the cut to the next.

use crate::edit::TakeRef;
use std::collections::HashSet;

/// The longest reel (SMPTE 258M).
const LONGEST: usize = 8;

/// Reels with a meaning of their own in the form: black, colour bars, and a source without a reel.
const TAKEN: [&str; 4] = ["BL", "BLACK", "BARS", "AX"];

/// One reel per take, in the same order, all different.
pub(crate) fn reels(takes: &[TakeRef]) -> Vec<String> {
    let mut used: HashSet<String> = TAKEN.iter().map(|&reel| reel.to_owned()).collect();
    takes
        .iter()
        .map(|take| {
            let wanted = match take.reel.as_deref().map(short).filter(|r| !r.is_empty()) {
                Some(reel) => reel,
                None => match short(stem(&take.name)) {
                    reel if reel.is_empty() => "TAKE".to_owned(),
                    reel => reel,
                },
            };
            let reel = (1_u64..)
                .map(|count| with_count(&wanted, count))
                .find(|reel| !used.contains(reel))
                .unwrap_or(wanted);
            used.insert(reel.clone());
            reel
        })
        .collect()
}

/// A file's name without its ending.
fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// The letters and digits of `text`, capitals, cut to length from the middle.
fn short(text: &str) -> String {
    let legal: String = text
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|c| c.to_ascii_uppercase())
        .collect();
    if legal.len() <= LONGEST {
        legal
    } else {
        format!("{}{}", &legal[..5], &legal[legal.len() - 3..])
    }
}

/// `reel` itself the first time, then with `_2`, `_3` in place of as much of its end as needed.
fn with_count(reel: &str, count: u64) -> String {
    if count == 1 {
        return reel.to_owned();
    }
    let tail = format!("_{count}");
    let keep = reel.len().min(LONGEST.saturating_sub(tail.len()));
    format!("{}{tail}", &reel[..keep])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::sample;
    use model::FrameRate;
    use proptest::prelude::*;

    fn named(names: &[&str]) -> Vec<String> {
        let takes: Vec<TakeRef> = names
            .iter()
            .map(|name| TakeRef {
                name: (*name).to_owned(),
                ..sample::take("a", FrameRate::FPS_24, None)
            })
            .collect();
        reels(&takes)
    }

    #[test]
    fn reels_are_short_legal_and_their_own() {
        assert_eq!(
            named(&[
                "a001.mov",
                "setup2_pass03.mov",
                "setup2_pass13.mov",
                "setup2_pass03.mp4",
                "🎬.mov",
                ".mov",
                "bl.mov",
                "",
                "A001",
                "a 00 1.mov"
            ]),
            [
                "A001", "SETUPS03", "SETUPS13", "SETUPS_2", "TAKE", "MOV", "BL_2", "TAKE_2",
                "A001_2", "A001_3"
            ]
        );
    }

    #[test]
    fn a_given_reel_is_kept() {
        let mut take = sample::take("a", FrameRate::FPS_24, None);
        take.reel = Some("card-07".into());
        assert_eq!(reels(&[take]), ["CARD07"]);
    }

    proptest! {
        #[test]
        fn any_names_get_legal_reels_of_their_own(names in prop::collection::vec("\\PC{0,12}|[ab1]{0,3}", 0..60)) {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let reels = named(&names);
            let all: HashSet<&String> = reels.iter().collect();
            prop_assert_eq!(all.len(), names.len());
            for reel in &reels {
                prop_assert!((1..=8).contains(&reel.len()));
                prop_assert!(reel.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'_'));
                prop_assert!(!TAKEN.contains(&reel.as_str()));
            }
        }
    }
}
