//! What each bar of the song is worth to a day of shooting.

use crate::{Options, coverage};
use model::{BarWorth, Purpose, Setup, SetupId, SongMap, Wish};

/// What each bar is worth: its length in tenths of a second, more where a wish asks for more setups than is
/// usual, less where for fewer; as far as there is a voice, the same again for setups in which somebody performs;
/// and half of it again for the setups that a wish names. Some bars come up to three times, with the setups that
/// they count for.
///
/// Without a song each setup stands for a bar of its own, and all count alike.
pub fn worth(map: Option<&SongMap>, setups: &[Setup], wishes: &[Wish]) -> Vec<BarWorth> {
    let Some(map) = map else {
        let one = |(nth, setup): (usize, &Setup)| BarWorth {
            number: nth as u32 + 1,
            value: 10,
            setups: vec![setup.id.clone()],
        };
        return setups.iter().enumerate().map(one).collect();
    };
    let usual = Options::default();
    let covered = coverage(map, setups, wishes, &[], &usual);
    let performs = |id: &SetupId| {
        let setup = setups.iter().find(|setup| setup.id == *id);
        setup.is_some_and(|setup| setup.purpose == Purpose::Performance)
    };
    let mut out = Vec::new();
    for (bar, known) in covered.bars.iter().zip(&map.bars) {
        let wanted = f64::from(bar.wanted) / f64::from(usual.wanted);
        let length = (bar.end_s - bar.start_s) * 10.0 * wanted;
        let mut count = |share: f64, setups: Vec<SetupId>| {
            let value = (length * share).round().clamp(0.0, 10_000.0) as u32;
            if value > 0 && !setups.is_empty() {
                out.push(BarWorth {
                    number: bar.number,
                    value,
                    setups,
                });
            }
        };
        let planned = || bar.planned.iter().cloned();
        count(1.0, planned().collect());
        count(
            f64::from(known.voice),
            planned().filter(|id| performs(id)).collect(),
        );
        let wished = |id: &SetupId| {
            let here = |wish: &Wish| {
                let stretches = map.sections_called(&wish.section);
                stretches.iter().any(|at| at.overlap(known.at).is_some())
            };
            wishes
                .iter()
                .any(|wish| wish.setups.contains(id) && here(wish))
        };
        count(0.5, planned().filter(|id| wished(id)).collect());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Bar, Length, Section, Stretch};

    // By hand: bars of 2 s are worth 20; six setups wanted where three are usual doubles that; a voice of a half
    // gives half of it again to who performs, a wish half of it to whom it names.
    #[test]
    fn bars_are_worth_their_length_their_voice_and_their_wishes() {
        let at = |from: f64, to: f64| Stretch::between_seconds(from, to).unwrap();
        let section = |label: &str, at| Section {
            label: label.into(),
            name: None,
            at,
            energy: 0.0,
            voiced: 0.0,
        };
        let bar = |number, at, voice| Bar {
            number,
            at,
            energy: 0.0,
            voice,
        };
        let map = SongMap {
            length: Length::nearest_to_seconds(4.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: Vec::new(),
            downbeats: Vec::new(),
            bars: vec![bar(1, at(0.0, 2.0), 0.0), bar(2, at(2.0, 4.0), 0.5)],
            sections: vec![section("A", at(0.0, 2.0)), section("B", at(2.0, 4.0))],
        };
        let setups: Vec<Setup> =
            serde_json::from_str(r#"[{"id": "wide"}, {"id": "lamps", "purpose": "b-roll"}]"#)
                .unwrap();
        let wishes: Vec<Wish> = serde_json::from_str(
            r#"[{"id": "b", "section": "B", "options": 6, "setups": ["lamps"]}]"#,
        )
        .unwrap();
        let told: Vec<(u32, u32, String)> = worth(Some(&map), &setups, &wishes)
            .into_iter()
            .map(|bar| {
                let names: Vec<&str> = bar.setups.iter().map(SetupId::as_str).collect();
                (bar.number, bar.value, names.join(" "))
            })
            .collect();
        assert_eq!(
            told,
            [
                (1, 20, "wide lamps".into()),
                (2, 40, "wide lamps".into()),
                (2, 20, "wide".into()),
                (2, 20, "lamps".into()),
            ]
        );
    }
}
