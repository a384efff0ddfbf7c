//! Corrections: the map keeps its invariants whatever is asked, and corrections outlive a listening.

use listen::correct::{self, Snap};
use listen::{Curves, HeardSection, Listening, Loudness, Note, Peaks, song_map};
use model::{Corrections, Length, MarkedSection, SongMap, SongTime, Stretch};
use proptest::prelude::*;

/// A listening of a song with clear onsets on the beat at `bpm` from `start_s` on, in bars of four.
fn listening(duration_s: f64, bpm: f64, start_s: f64) -> Listening {
    let rate = 44_100;
    let gap = 60.0 / bpm;
    let beats_s: Vec<f64> = (0..)
        .map(|i| start_s + f64::from(i) * gap)
        .take_while(|t| *t < duration_s)
        .collect();
    let fast = (duration_s * Curves::FAST_HZ as f64) as usize;
    let mut onset = vec![8u8; fast];
    let mut low = vec![8u8; fast];
    for (i, t) in beats_s.iter().enumerate() {
        let at = (t * Curves::FAST_HZ as f64).round() as usize;
        if at < fast {
            onset[at] = 200;
            low[at] = if i % 4 == 0 { 220 } else { 20 };
        }
    }
    let slow = (duration_s * Curves::SLOW_HZ as f64) as usize;
    let tenths = (duration_s * listen::CURVE_HZ as f64) as usize;
    Listening {
        version: listen::VERSION,
        samples: (duration_s * f64::from(rate)) as u64,
        sample_rate_hz: rate,
        channels: 2,
        duration_s,
        tempo_bpm: bpm,
        beats_per_bar: 4,
        downbeats: (0..beats_s.len()).step_by(4).collect(),
        beats_s,
        pulse: 0.8,
        rivals: Vec::new(),
        sections: vec![
            HeardSection {
                label: "A".into(),
                start_s: 0.0,
                end_s: duration_s / 2.0,
            },
            HeardSection {
                label: "B".into(),
                start_s: duration_s / 2.0,
                end_s: duration_s,
            },
        ],
        level_db: (0..tenths).map(|i| -20.0 + (i % 7) as f32).collect(),
        voice: (0..tenths)
            .map(|i| if i < tenths / 2 { 0.9 } else { 0.1 })
            .collect(),
        curves: Curves {
            middle: onset.clone(),
            high: onset.clone(),
            onset,
            low,
            chord_change: vec![0; slow],
            bass_change: vec![0; slow],
        },
        loudness: Loudness::default(),
        peaks: Peaks::default(),
        notes: Vec::new(),
    }
}

/// The invariants in the doc of `SongMap`, and figures within their ranges.
fn check(map: &SongMap) {
    let end = SongTime::ZERO + map.length;
    assert!(map.beats.windows(2).all(|w| w[0] < w[1]), "beats rise");
    assert!(
        map.beats.iter().all(|b| (SongTime::ZERO..end).contains(b)),
        "beats lie in the song"
    );
    assert!(
        map.downbeats.windows(2).all(|w| w[0] < w[1]),
        "downbeats rise"
    );
    assert!(
        map.downbeats.iter().all(|i| *i < map.beats.len()),
        "downbeats are beats"
    );
    for tiles in [
        map.bars.iter().map(|b| b.at).collect::<Vec<_>>(),
        map.sections.iter().map(|s| s.at).collect(),
    ] {
        assert!(!tiles.is_empty(), "at least one");
        assert_eq!(tiles[0].start(), SongTime::ZERO, "from zero");
        assert_eq!(tiles[tiles.len() - 1].end(), end, "to the end");
        assert!(
            tiles.windows(2).all(|w| w[0].end() == w[1].start()),
            "without gap"
        );
    }
    assert!(
        map.bars.windows(2).all(|w| w[0].number + 1 == w[1].number),
        "bars are numbered"
    );
    assert!(
        map.tempo_bpm.is_finite() && map.tempo_bpm > 0.0,
        "tempo {}",
        map.tempo_bpm
    );
    assert!((1..=16).contains(&map.beats_per_bar));
    for share in map
        .bars
        .iter()
        .flat_map(|b| [b.energy, b.voice])
        .chain(map.sections.iter().flat_map(|s| [s.energy, s.voiced]))
    {
        assert!((0.0..=1.0).contains(&share), "{share}");
    }
}

fn at(seconds: f64) -> SongTime {
    SongTime::nearest_to_seconds(seconds)
}

fn at_tempo(bpm: f64) -> Corrections {
    Corrections {
        tempo_bpm: Some(bpm),
        ..Corrections::default()
    }
}

/// Taps at `times`, of those within 0.12 s of each other the last, as an edit of the document leaves them.
fn tapped(times: &[f64]) -> Corrections {
    let mut taps: Vec<SongTime> = Vec::new();
    for time in times {
        taps.retain(|tap| tap.since(at(*time)).seconds().abs() > 0.12);
        taps.push(at(*time));
    }
    taps.sort();
    Corrections {
        taps,
        ..Corrections::default()
    }
}

fn seconds(map: &SongMap) -> Vec<f64> {
    map.beats.iter().map(|b| b.seconds()).collect()
}

fn downbeats(map: &SongMap) -> Vec<f64> {
    map.downbeats
        .iter()
        .map(|i| map.beats[*i].seconds())
        .collect()
}

#[track_caller]
fn near(got: &[f64], expected: &[f64], within: f64) {
    assert_eq!(got.len(), expected.len(), "{got:?}\n{expected:?}");
    for (g, e) in got.iter().zip(expected) {
        assert!((g - e).abs() <= within, "{g} is not {e}");
    }
}

#[test]
fn uncorrected_the_map_is_what_was_heard() {
    let heard = listening(30.0, 120.0, 0.5);
    let (map, notes) = song_map(&heard, &Corrections::default());
    check(&map);
    assert!(notes.is_empty());
    near(&seconds(&map), &heard.beats_s, 1e-6);
    assert_eq!(
        map.bars[0].number, 0,
        "half a second before the first downbeat"
    );
    assert_eq!((map.bars[1].number, map.bars[1].at.start()), (1, at(0.5)));
    assert!((map.tempo_bpm - 120.0).abs() < 0.01);
    // 15 s lies half-way; bars of 2 s from 0.5 s on: the nearest lines are 14.5 and 16.5.
    assert_eq!(map.sections[1].at.start(), at(14.5));
    assert!(map.sections[0].voiced > 0.95 && map.sections[1].voiced < 0.1);
}

#[test]
fn a_tempo_set_by_hand_tracks_again() {
    let heard = listening(30.0, 120.0, 0.5);
    let half = at_tempo(61.0);
    let (map, notes) = song_map(&heard, &half);
    check(&map);
    assert!(notes.is_empty());
    assert!(
        (map.tempo_bpm - 60.0).abs() < 0.5,
        "the beats there are, not the figure: {}",
        map.tempo_bpm
    );
    for beat in seconds(&map) {
        let place = (beat - 0.5) / 0.5;
        assert!((place - place.round()).abs() < 0.05, "{beat}");
    }
}

#[test]
fn an_unheard_song_gets_an_even_grid_at_the_tempo_set() {
    let mut silent = listening(30.0, 120.0, 0.0);
    silent.notes = vec![Note::Silent];
    let set = at_tempo(90.0);
    let (map, _) = song_map(&silent, &set);
    check(&map);
    let even: Vec<f64> = (0..45).map(|i| f64::from(i) * 60.0 / 90.0).collect();
    near(&seconds(&map), &even, 1e-6);
}

#[test]
fn beats_can_be_doubled_and_halved() {
    let heard = listening(30.0, 120.0, 0.5);
    let doubled = |doublings| Corrections {
        doublings,
        ..Corrections::default()
    };
    let twice = doubled(1);
    let (map, _) = song_map(&heard, &twice);
    check(&map);
    assert!((map.tempo_bpm - 240.0).abs() < 0.1);
    let (plain, _) = song_map(&heard, &Corrections::default());
    assert!(
        downbeats(&plain)
            .iter()
            .all(|d| downbeats(&map).contains(d)),
        "old bars stay bars"
    );
    let (map, _) = song_map(&heard, &doubled(-1));
    check(&map);
    assert!((map.tempo_bpm - 60.0).abs() < 0.1);
    near(&downbeats(&map)[..2], &[0.5, 4.5], 1e-6);
    let (map, notes) = song_map(&heard, &doubled(3));
    check(&map);
    assert_eq!(
        notes,
        [Note::DoublingsCut(3, 1)],
        "960 beats a minute is no tempo"
    );
}

#[test]
fn the_first_downbeat_can_be_moved() {
    let heard = listening(30.0, 120.0, 0.5);
    let from = |seconds| Corrections {
        first_downbeat: Some(at(seconds)),
        ..Corrections::default()
    };
    let mut moved = from(1.6);
    let (map, _) = song_map(&heard, &moved);
    check(&map);
    near(&downbeats(&map)[..3], &[1.5, 3.5, 5.5], 1e-6);
    assert_eq!(map.bars[0].number, 0);
    moved.beats_per_bar = Some(3);
    let (map, _) = song_map(&heard, &moved);
    check(&map);
    near(&downbeats(&map)[..3], &[1.5, 3.0, 4.5], 1e-6);
    let (map, notes) = song_map(&heard, &from(99.0));
    check(&map);
    assert_eq!(notes, [Note::DownbeatIgnored(99.0)]);
}

#[test]
fn the_grid_passes_through_every_tap() {
    let heard = listening(30.0, 120.0, 0.5);
    let tapped = tapped(&[10.05, 10.56, 11.1, 20.2]);
    let (map, notes) = song_map(&heard, &tapped);
    check(&map);
    assert!(notes.is_empty());
    for tap in &tapped.taps {
        assert!(map.beats.contains(tap), "{tap}");
    }
    // Far away nothing moved, and no beat was lost or made.
    near(&seconds(&map)[..8], &heard.beats_s[..8], 1e-6);
    assert_eq!(map.beats.len(), heard.beats_s.len());
    assert_eq!(map.downbeats.len(), heard.downbeats.len());
}

/// A later listening that heard half the tempo, another length and other sections.
#[test]
fn corrections_survive_another_listening() {
    let first = listening(30.0, 120.0, 0.5);
    let (map, _) = song_map(&first, &Corrections::default());
    let mut held = at_tempo(120.0);
    held.first_downbeat = Some(at(1.5));
    held = correct::drag_boundary(&map, &held, 0, at(12.4), Snap::ToBar).unwrap();
    held = correct::name(&map, &held, 0, None).unwrap();
    let (before, _) = song_map(&first, &held);
    let text = serde_json::to_string(&held).unwrap();
    let mut held: Corrections = serde_json::from_str(&text).unwrap();

    let mut second = listening(30.0, 120.0, 0.5);
    second.beats_s = second.beats_s.iter().copied().skip(1).step_by(2).collect();
    second.downbeats = (0..second.beats_s.len()).step_by(3).collect();
    second.beats_per_bar = 3;
    second.tempo_bpm = 60.0;
    second.sections.truncate(1);
    held.beats_per_bar = Some(4);
    let (after, notes) = song_map(&second, &held);
    check(&after);
    assert!(notes.is_empty());
    near(&seconds(&after), &seconds(&before), 0.01);
    near(&downbeats(&after), &downbeats(&before), 0.01);
    assert_eq!(after.sections.len(), before.sections.len());
    for (a, b) in after.sections.iter().zip(&before.sections) {
        assert_eq!((&a.label, a.at), (&b.label, b.at));
    }
}

#[test]
fn sections_can_be_split_merged_dragged_and_named() {
    let heard = listening(30.0, 120.0, 0.5);
    let none = Corrections::default();
    let (map, _) = song_map(&heard, &none);
    let split = correct::split(&map, &none, at(6.6), Snap::ToBar).unwrap();
    let (map, _) = song_map(&heard, &split);
    check(&map);
    let labels: Vec<_> = map.sections.iter().map(|s| s.label.as_str()).collect();
    assert_eq!(labels, ["A", "C", "B"]);
    assert_eq!(
        map.sections[1].at,
        Stretch::between_seconds(6.5, 14.5).unwrap()
    );
    let named = correct::name(&map, &split, 1, Some(" bridge ")).unwrap();
    let named = correct::relabel(&song_map(&heard, &named).0, &named, 1, "B").unwrap();
    let (map, _) = song_map(&heard, &named);
    assert_eq!(
        (
            map.sections[1].label.as_str(),
            map.sections[1].name.as_deref()
        ),
        ("B", Some("bridge"))
    );
    let dragged = correct::drag_boundary(&map, &named, 1, at(13.21), Snap::Free).unwrap();
    let (map, _) = song_map(&heard, &dragged);
    check(&map);
    assert_eq!(map.sections[2].at.start(), at(13.21));
    let merged = correct::merge(&map, &dragged, 0).unwrap();
    let (map, _) = song_map(&heard, &merged);
    check(&map);
    assert_eq!(map.sections.len(), 2);

    assert!(correct::drag_boundary(&map, &merged, 0, at(31.0), Snap::Free).is_err());
    assert!(correct::drag_boundary(&map, &merged, 1, at(10.0), Snap::Free).is_err());
    assert!(correct::merge(&map, &merged, 1).is_err());
    assert!(correct::relabel(&map, &merged, 0, "  ").is_err());
    assert!(correct::name(&map, &merged, 7, None).is_err());
    assert!(correct::split(&map, &merged, at(0.0), Snap::Free).is_err());
}

fn times() -> impl Strategy<Value = f64> {
    prop_oneof![4 => -5.0..70.0f64, 1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -1e9, 0.0, 1e9])]
}

prop_compose! {
    fn nonsense()(
        tempo in prop::option::of(prop_oneof![20.0..400.0f64, Just(f64::NAN), Just(0.0), Just(-3.0), Just(1e12)]),
        doublings in -5i8..5,
        beats in prop::option::of(prop_oneof![0u32..20, Just(u32::MAX)]),
        first in prop::option::of(times()),
        taps in prop::collection::vec(times(), 0..20),
        bounds in prop::option::of(prop::collection::vec((times(), 0.0..40.0f64), 0..8)),
    ) -> Corrections {
        let sections = bounds.map(|list| {
            list.iter()
                .filter_map(|(start, long)| Stretch::between_seconds(*start, start + long))
                .map(|at| MarkedSection { extra: Default::default(), label: "X".into(), name: None, at })
                .collect()
        });
        Corrections { extra: Default::default(),
            tempo_bpm: tempo,
            doublings,
            beats_per_bar: beats,
            first_downbeat: first.map(at),
            taps: taps.into_iter().map(at).collect(),
            sections,
        }
    }
}

prop_compose! {
    /// A listening as no song gives it: times and figures at random, some of them no numbers.
    fn broken()(
        samples in prop_oneof![Just(0u64), Just(1), 1000u64..3_000_000, Just(u64::MAX)],
        rate in prop_oneof![Just(0u32), Just(44_100), Just(u32::MAX)],
        beats in prop::collection::vec(times(), 0..60),
        downbeats in prop::collection::vec(0usize..80, 0..20),
        beats_per_bar in prop_oneof![0u32..6, Just(u32::MAX)],
        sections in prop::collection::vec((times(), times()), 0..6),
        levels in prop::collection::vec(prop_oneof![-120.0..0.0f32, Just(f32::NAN), Just(f32::INFINITY)], 0..100),
        curve in prop::collection::vec(any::<u8>(), 0..3000),
    ) -> Listening {
        let mut heard = listening(10.0, 120.0, 0.0);
        // A week of song at a real rate takes the tests too long; the clamp is tested by rate 0.
        heard.samples = if rate == 44_100 { samples.min(3_000_000) } else { samples.min(60) };
        heard.sample_rate_hz = rate;
        heard.beats_s = beats;
        heard.downbeats = downbeats;
        heard.beats_per_bar = beats_per_bar;
        heard.sections = sections.into_iter().map(|(start_s, end_s)| HeardSection { label: "A".into(), start_s, end_s }).collect();
        heard.voice = levels.clone();
        heard.level_db = levels;
        heard.curves.low = curve.iter().rev().copied().collect();
        heard.curves.onset = curve;
        heard
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn nonsense_asked_of_a_real_listening(corrections in nonsense(), bpm in 50.0..200.0f64, start in 0.0..2.0f64) {
        let (map, _) = song_map(&listening(40.0, bpm, start), &corrections);
        check(&map);
        prop_assert_eq!(map.length, Length::of_samples(40 * 44_100, 44_100));
    }

    #[test]
    fn nonsense_asked_of_a_broken_listening(heard in broken(), corrections in nonsense()) {
        let (map, _) = song_map(&heard, &corrections);
        check(&map);
    }

    #[test]
    fn every_good_tap_is_a_beat(taps in prop::collection::vec(0.0..39.9f64, 1..12), bpm in 60.0..180.0f64) {
        let tapped = tapped(&taps);
        let (map, notes) = song_map(&listening(40.0, bpm, 0.3), &tapped);
        check(&map);
        prop_assert!(notes.is_empty(), "{:?}", notes);
        for tap in &tapped.taps {
            let nearest = map.beats.iter().map(|b| b.since(*tap).seconds().abs()).fold(f64::INFINITY, f64::min);
            prop_assert!(nearest < 1e-6, "{}", tap);
        }
    }
}
