//! Places in the song as they are typed: a bar (`12`), a beat of a bar (`12.3`), a time (`0:41.250`).

use model::{SongMap, SongTime, Stretch};

/// Which end of a stretch is meant: a whole bar begins with its start and ends with its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// From: the start of the bar.
    First,
    /// To: the end of the bar.
    Last,
}

/// `at` as it is typed: a bar where it is one, else a beat, else a time.
pub fn written(map: &SongMap, at: SongTime, end: End) -> String {
    let bar = map.bars.iter().find(|bar| match end {
        End::First => bar.at.start() == at,
        End::Last => bar.at.end() == at,
    });
    if let Some(bar) = bar {
        return bar.number.to_string();
    }
    if map.beats.binary_search(&at).is_ok() {
        let (bar, beat) = map.address(at);
        let text = format!("{bar}.{beat}");
        // The beats before the first bar may not lead back.
        if read(map, &text, end) == Ok(at) {
            return text;
        }
    }
    at.to_string()
}

/// A bound this close to a bar line is read as lying on it: one picture at 25 a second, which no cut can show.
const SAME_S: f64 = 0.04;

/// `at` as it is shown: as [`written`], but on the bar line when it is nearly there. Whoever reads it back
/// keeps what was not touched as it was.
pub fn shown(map: &SongMap, at: SongTime, end: End) -> String {
    let lines = map.bars.iter().map(|bar| match end {
        End::First => bar.at.start(),
        End::Last => bar.at.end(),
    });
    let near = lines.min_by_key(|line| at.since(*line).abs());
    match near.filter(|line| at.since(*line).abs().seconds() < SAME_S) {
        Some(line) => written(map, line, end),
        None => written(map, at, end),
    }
}

/// The instant that was typed.
///
/// # Errors
/// One sentence: what is wrong, and what can be written.
pub fn read(map: &SongMap, text: &str, end: End) -> Result<SongTime, String> {
    let text = text.trim();
    if text.contains(':') {
        return text.replace(',', ".").parse();
    }
    let how = "write a bar (12), a beat of a bar (12.3) or a time (0:41.25)";
    let (bar, beat) = match text.split_once(['.', ',']) {
        Some((bar, beat)) => (bar, Some(beat)),
        None => (text, None),
    };
    let bar: u32 = bar
        .trim()
        .parse()
        .map_err(|_| format!("`{text}` is no place in the song; {how}"))?;
    let known = map.bars.iter().find(|known| known.number == bar);
    let known = known.ok_or_else(|| {
        let number = |bar: Option<&model::Bar>| bar.map_or(0, |bar| bar.number);
        format!(
            "there is no bar {bar}; they are counted from {} to {}",
            number(map.bars.first()),
            number(map.bars.last())
        )
    })?;
    let Some(beat) = beat else {
        return Ok(match end {
            End::First => known.at.start(),
            End::Last => known.at.end(),
        });
    };
    let beat: usize = beat
        .trim()
        .parse()
        .map_err(|_| format!("`{text}` is no beat; {how}"))?;
    let first = map.beats.partition_point(|at| *at < known.at.start());
    let in_bar = map.beats[first..]
        .iter()
        .take_while(|at| **at < known.at.end());
    beat.checked_sub(1)
        .and_then(|nth| in_bar.clone().nth(nth))
        .copied()
        .ok_or_else(|| format!("bar {bar} has no beat {beat}; it has {}", in_bar.count()))
}

/// A stretch as it is shown: one bar, or from and to with a dash between.
pub fn shown_stretch(map: &SongMap, at: Stretch) -> String {
    let (from, to) = (
        shown(map, at.start(), End::First),
        shown(map, at.end(), End::Last),
    );
    if from == to {
        from
    } else {
        format!("{from}–{to}")
    }
}

/// The stretch that was typed: `12`, `12–15`, `12.3–14.1`, `0:41.2–0:44`.
///
/// # Errors
/// One sentence.
pub fn read_stretch(map: &SongMap, text: &str) -> Result<Stretch, String> {
    let (from, to) = ["–", "—", " to ", "-"]
        .iter()
        .find_map(|dash| text.split_once(dash))
        .unwrap_or((text, text));
    let from = read(map, from, End::First)?;
    let to = read(map, to, End::Last)?;
    Stretch::new(from, to).ok_or_else(|| {
        format!(
            "`{}` does not end after it starts; write from and to, such as 12–15 or 0:41.2–0:44",
            text.trim()
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song_strip::tests::map;
    use proptest::prelude::*;

    #[test]
    fn bars_beats_and_times_are_read() {
        let map = map(16);
        let at = |seconds: f64| Ok(SongTime::nearest_to_seconds(seconds));
        assert_eq!(read(&map, "3", End::First), at(4.0));
        assert_eq!(read(&map, "3", End::Last), at(6.0));
        assert_eq!(read(&map, " 3.2 ", End::First), at(4.5));
        assert_eq!(read(&map, "3,2", End::Last), at(4.5));
        assert_eq!(read(&map, "0:04.25", End::First), at(4.25));
        for wrong in ["", "x", "17", "3.5", "3.0", "3.x", "-1", "1:2:3:4"] {
            assert!(read(&map, wrong, End::First).is_err(), "{wrong}");
        }
    }

    #[test]
    fn stretches_are_read() {
        let map = map(16);
        let at = |from, to| Ok(Stretch::between_seconds(from, to).expect("a stretch"));
        assert_eq!(read_stretch(&map, "3"), at(4.0, 6.0));
        assert_eq!(read_stretch(&map, "3 – 4"), at(4.0, 8.0));
        assert_eq!(read_stretch(&map, "0:01-0:02.5"), at(1.0, 2.5));
        assert!(read_stretch(&map, "4–3").is_err());
        assert!(read_stretch(&map, "0:01").is_err());
    }

    #[test]
    fn nearly_on_a_bar_is_shown_on_it() {
        let map = map(16);
        let at = SongTime::nearest_to_seconds;
        assert_eq!(shown(&map, at(4.005), End::First), "3");
        assert_eq!(shown(&map, at(5.99), End::Last), "3");
        assert_eq!(shown(&map, at(4.06), End::First), "0:04.060");
        let stretch = Stretch::between_seconds(4.005, 8.01).expect("a stretch");
        assert_eq!(shown_stretch(&map, stretch), "3–4");
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_the_same(beat in 0usize..63, end in any::<bool>()) {
            let map = map(16);
            let end = if end { End::Last } else { End::First };
            let at = map.beats[beat];
            prop_assert_eq!(read(&map, &written(&map, at, end), end), Ok(at));
        }

        #[test]
        fn nothing_typed_is_too_much(text in "\\PC{0,30}") {
            let map = map(4);
            let _ = read(&map, &text, End::First);
            let _ = read_stretch(&map, &text);
        }
    }
}
