//! Takes with known truth, noise-free and degraded. Errors are in seconds of song.

mod common;

use common::{RATE, noisy, pitch_kept, played_in_a_room, power, read, song};
use proptest::prelude::*;
use sync::{Error, Placed, PreparedSong, Settings, Sound, place, prepare};

const HALF_FRAME_S: f64 = 0.5 / 24.0;

fn sound(samples: &[f32]) -> Sound<'_> {
    Sound {
        rate_hz: RATE,
        samples,
    }
}

fn prepared(samples: &[f32]) -> PreparedSong {
    prepare(&sound(samples)).unwrap()
}

fn placed(song: &PreparedSong, take: &[f32]) -> Placed {
    place(song, &[sound(take)], &Settings::default(), &|| true).unwrap()
}

fn at(seconds: f64) -> usize {
    (seconds * f64::from(RATE)) as usize
}

/// `lead_s` of silence, the song from `from_s` to `to_s`, a second of silence, in the room with noise.
fn take(samples: &[f32], lead_s: f64, from_s: f64, to_s: f64, speed: f64, snr_db: f32) -> Vec<f32> {
    let count = ((to_s - from_s) / speed * f64::from(RATE)) as usize;
    let mut out = vec![0.0; at(lead_s)];
    out.extend(read(samples, from_s * f64::from(RATE), speed, count));
    out.resize(out.len() + at(1.0), 0.0);
    let mut out = played_in_a_room(&out);
    let level = power(&out[at(lead_s)..]);
    noisy(&mut out, level, snr_db, 17);
    out
}

fn has(placed: &Placed, kind: &str) -> bool {
    placed.notes.iter().any(|note| note.kind == kind)
}

#[test]
fn a_noisy_take_with_a_drifting_clock() {
    let music = song(1, 20, 0, true);
    let song = prepared(&music);
    for (ppm, snr_db) in [(80.0, -3.0), (-100.0, 0.0), (0.0, 10.0)] {
        let speed = 1.0 + ppm * 1e-6;
        let placed = placed(&song, &take(&music, 2.5, 6.0, 30.0, speed, snr_db));
        let run = placed.placement.runs[0];
        assert_eq!(placed.placement.runs.len(), 1);
        assert_eq!(run.speed, 1.0);
        for (take_s, song_s) in [(2.5, 6.0), (2.5 + 24.0 / speed, 30.0)] {
            assert!((run.song_s_at(take_s) - song_s).abs() < 0.002, "{run:?}");
        }
        assert!((run.drift_ppm - ppm).abs() < 15.0, "{run:?}");
        // At -3 dB a frame of 32 ms says little.
        let ends = if snr_db < 0.0 { 0.16 } else { 0.1 };
        assert!((run.take_start.seconds() - 2.5).abs() < ends, "{run:?}");
        assert!(
            (run.take_end.seconds() - 2.5 - 24.0 / speed).abs() < ends,
            "{run:?}"
        );
        assert!(run.confidence > 0.9 && placed.placement.alternatives.is_empty());
    }
}

#[test]
fn other_sounds_do_not_match() {
    let music = song(1, 20, 0, true);
    let song1 = prepared(&music);
    let mut noise = vec![0.0; at(20.0)];
    noisy(&mut noise, 0.1, 0.0, 3);
    let hum: Vec<f32> = (0..at(20.0))
        .map(|i| {
            (1..30)
                .map(|k| (i as f32 * 0.019_635 * k as f32).sin() / k as f32)
                .sum()
        })
        .collect();
    let clicks: Vec<f32> = (0..at(20.0))
        .map(|i| if i % 8000 == 0 { 1.0 } else { 0.0 })
        .collect();
    let constant = vec![0.5; at(20.0)];
    let mut sweep = vec![0.0; at(20.0)];
    for (i, v) in sweep.iter_mut().enumerate() {
        *v = (i as f32 * i as f32 * 7e-6).sin();
    }
    // The same drums at the same tempo, other chords and melody.
    let other = song(2, 12, 0, true);
    let other_in_the_room = take(&song(3, 12, 4, true), 1.0, 0.0, 20.0, 1.0, 10.0);
    for (name, take, off_speed) in [
        ("noise", noise, true),
        ("hum", hum, false),
        ("clicks", clicks, false),
        ("constant", constant, false),
        ("sweep", sweep, false),
        ("another song", other, true),
        ("another song in the room", other_in_the_room, false),
    ] {
        let settings = Settings {
            off_speed,
            ..Settings::default()
        };
        let placed = place(&song1, &[sound(&take)], &settings, &|| true).unwrap();
        assert!(
            !placed.placement.matched(),
            "{name}: {:?}",
            placed.placement
        );
        assert!(has(&placed, "not-heard") && placed.channel.is_none());
    }
}

#[test]
fn a_false_start_and_a_full_pass() {
    let music = song(4, 16, 0, true);
    let mut two = take(&music, 2.0, 0.0, 5.0, 1.0, 3.0);
    two.extend(take(&music, 2.0, 0.0, 32.0, 1.0, 3.0));
    let placed = placed(&prepared(&music), &two);
    let runs = &placed.placement.runs;
    assert_eq!(runs.len(), 2, "{runs:?}");
    assert!((runs[0].song_s_at(2.0)).abs() < 0.002);
    // 2 + 5 + 1 s of the false start's piece, then 2 s.
    assert!((runs[1].song_s_at(10.0)).abs() < 0.002, "{runs:?}");
    assert!((runs[0].take_end.seconds() - 7.0).abs() < 0.1);
    assert!((runs[1].take_end.seconds() - 42.0).abs() < 0.1);
    assert_eq!(placed.placement.main_run(), Some(&runs[1]));
}

#[test]
fn a_loop_says_where_else_it_fits() {
    // Four bars (8 s) five times over, nothing else.
    let music = song(6, 20, 4, false);
    let song = prepared(&music);
    let part = placed(&song, &take(&music, 1.0, 18.0, 25.0, 1.0, 5.0));
    let run = part.placement.runs[0];
    assert!(run.confidence <= 0.5, "{run:?}");
    let offsets: Vec<f64> = std::iter::once(run.song_s_at(0.0))
        .chain(part.placement.alternatives.iter().map(|a| a.song_offset_s))
        .collect();
    for truth in [1.0, 9.0, 17.0, 25.0] {
        assert!(
            offsets.iter().any(|o| (o - truth).abs() < 0.01),
            "{truth}: {offsets:?}"
        );
    }
    let total: f64 = run.confidence
        + part
            .placement
            .alternatives
            .iter()
            .map(|a| a.confidence)
            .sum::<f64>();
    assert!(total <= 1.0 + 1e-9);
    assert!(has(&part, "several-places") && part.placement.alternatives.len() >= 3);

    // All of it fits but once.
    let whole = placed(&song, &take(&music, 1.0, 0.0, 40.0, 1.0, 5.0));
    assert_eq!(whole.placement.runs.len(), 1);
    assert!(
        whole.placement.alternatives.is_empty(),
        "{:?}",
        whole.placement
    );
    assert!((whole.placement.runs[0].song_s_at(1.0)).abs() < 0.002);

    // A melody over the same loop decides.
    let sung = song_with_melody_over(&music);
    let part = placed(&prepared(&sung), &take(&sung, 1.0, 18.0, 25.0, 1.0, 5.0));
    let run = part.placement.runs[0];
    assert!(
        (run.song_s_at(1.0) - 18.0).abs() < 0.002 && run.confidence > 0.8,
        "{:?}",
        part.placement
    );
}

fn song_with_melody_over(backing: &[f32]) -> Vec<f32> {
    let sung = song(7, 20, 4, true);
    let bare = song(7, 20, 4, false);
    backing
        .iter()
        .zip(sung.iter().zip(&bare))
        .map(|(b, (s, n))| b + s - n)
        .collect()
}

#[test]
fn other_speeds_with_the_pitch_gone_along() {
    let music = song(8, 30, 0, true);
    let song = prepared(&music);
    // 1.25: 30 against 24 frames per second; 1000/1001: 24 against 23.976; 0.83: no usual one.
    for (speed, usual) in [(1.25, true), (1000.0 / 1001.0, true), (0.83, false)] {
        let real = speed * (1.0 + if usual { 40e-6 } else { 0.0 });
        let placed = placed(&song, &take(&music, 2.0, 10.0, 45.0, real, 6.0));
        let run = placed.placement.runs[0];
        if usual {
            assert_eq!(run.speed, speed);
            assert!((run.drift_ppm - 40.0).abs() < 15.0, "{run:?}");
        } else {
            assert!(
                (run.speed / speed - 1.0).abs() < 30e-6 && run.drift_ppm.abs() < 30.0,
                "{run:?}"
            );
        }
        for (take_s, song_s) in [(2.0, 10.0), (2.0 + 35.0 / real, 45.0)] {
            assert!(
                (run.song_s_at(take_s) - song_s).abs() < 0.003,
                "{speed}: {run:?}"
            );
        }
    }
}

#[test]
fn other_speeds_with_the_pitch_kept() {
    let music = song(9, 30, 0, true);
    let mut played = vec![0.0; at(2.0)];
    played.extend(pitch_kept(&music[at(8.0)..at(50.0)], 1.5));
    played.resize(played.len() + at(1.0), 0.0);
    let mut heard = played_in_a_room(&played);
    let level = power(&heard);
    noisy(&mut heard, level, 10.0, 4);
    let placed = placed(&prepared(&music), &heard);
    assert!(has(&placed, "pitch-kept"), "{placed:?}");
    let run = placed.placement.runs[0];
    assert_eq!(run.speed, 1.5);
    for (take_s, song_s) in [(2.0, 8.0), (30.0, 50.0)] {
        assert!(
            (run.song_s_at(take_s) - song_s).abs() < HALF_FRAME_S,
            "{run:?}"
        );
    }
}

#[test]
fn the_channel_with_the_playback_is_found() {
    let music = song(1, 16, 0, true);
    let heard = take(&music, 1.0, 4.0, 20.0, 1.0, 5.0);
    let silence = vec![0.0; heard.len()];
    let mut noise = silence.clone();
    noisy(&mut noise, 0.1, 0.0, 8);
    let channels = [sound(&silence), sound(&noise), sound(&heard), sound(&heard)];
    let placed = place(&prepared(&music), &channels, &Settings::default(), &|| true).unwrap();
    assert_eq!(placed.channel, Some(2));
    let says: Vec<&str> = placed.notes.iter().map(|note| note.says.as_str()).collect();
    assert!(says.contains(&"sound channel 1 is silent"));
    assert!(says.contains(&"sound channel 4 holds the same as channel 3"));
    assert!((placed.placement.runs[0].song_s_at(1.0) - 4.0).abs() < 0.002);
}

#[test]
fn bad_input_is_refused_with_a_cause() {
    let music = song(1, 4, 0, true);
    let settings = Settings::default();
    let silent = vec![0.0; at(10.0)];
    assert_eq!(prepare(&sound(&silent)).err(), Some(Error::SongSilent));
    assert!(matches!(
        prepare(&sound(&[])),
        Err(Error::SongTooShort { .. })
    ));
    assert!(matches!(
        prepare(&sound(&music[..100])),
        Err(Error::SongTooShort { .. })
    ));
    let slow = Sound {
        rate_hz: 0,
        samples: &music,
    };
    assert_eq!(prepare(&slow).err(), Some(Error::Rate { rate_hz: 0 }));
    let song = prepared(&music);
    assert_eq!(place(&song, &[], &settings, &|| true), Err(Error::NoSound));
    assert_eq!(
        place(&song, &[sound(&music)], &settings, &|| false),
        Err(Error::Stopped)
    );
    for samples in [&[][..], &[0.3][..], &music[..at(0.5)]] {
        let placed = placed(&song, samples);
        assert_eq!(placed.notes[0].kind, "too-short");
        assert!(!placed.placement.matched());
    }
    let mut broken = music.clone();
    broken[5] = f32::NAN;
    broken[6] = f32::INFINITY;
    let placed = placed(&song, &broken);
    assert!(
        placed.notes[0]
            .says
            .starts_with("sound channel 1 holds 2 samples")
    );
    assert!(placed.placement.matched());
}

#[test]
fn the_report_extends_the_main_run_to_the_takes_start() {
    let music = song(1, 16, 0, true);
    let song = prepared(&music);
    let placed = placed(&song, &take(&music, 3.0, 0.0, 20.0, 1.0, 10.0));
    let report = sync::report("a.wav", &placed);
    assert!((report.song_offset_s.unwrap() + 3.0).abs() < 0.002);
    let json = serde_json::to_value(&report).unwrap();
    assert_eq!(json["matched"], true);
    assert_eq!(json["runs"][0]["speed"], 1.0);
    let none = sync::report("b.wav", &self::placed(&song, &vec![0.0; at(5.0)]));
    let json = serde_json::to_value(&none).unwrap();
    assert_eq!(json["matched"], false);
    for key in ["song_offset_s", "speed", "drift_ppm", "confidence"] {
        assert!(json[key].is_null(), "{key}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5, ..ProptestConfig::default() })]

    #[test]
    fn a_clean_piece_lies_exactly(start in 0usize..300_000, length in 96_000usize..200_000, gain in -3.0f32..3.0) {
        let music = song(1, 16, 0, true);
        let end = (start + length).min(music.len());
        let piece = &music[start..end];
        let song = prepared(&music);
        let one = placed(&song, piece);
        let run = one.placement.runs[0];
        let truth = start as f64 / f64::from(RATE);
        // A tenth of a sample at the working rate of 8 kHz.
        prop_assert!((run.song_s_at(0.0) - truth).abs() < 12.5e-6, "{:?} {}", run, truth);
        prop_assert!((run.song_s_at(length as f64 / 16e3) - truth - length as f64 / 16e3).abs() < 12.5e-6);
        prop_assert_eq!(run.take_start.ticks(), 0);
        let louder: Vec<f32> = piece.iter().map(|v| v * 10f32.powf(gain)).collect();
        let two = placed(&song, &louder).placement.runs[0];
        prop_assert!((two.song_s_at(0.0) - run.song_s_at(0.0)).abs() < 1e-6);
        prop_assert_eq!(two.speed, run.speed);
    }

    #[test]
    fn nothing_panics(values in proptest::collection::vec(prop_oneof![
        Just(f32::NAN), Just(f32::INFINITY), Just(-1e38f32), Just(0.0f32), -1.0f32..1.0
    ], 0..40), repeats in 1usize..3000, rate_hz in prop_oneof![Just(0u32), Just(8000), Just(44_100), 1000u32..200_000]) {
        let music = song(1, 3, 0, false);
        let odd: Vec<f32> = std::iter::repeat_n(values, repeats).flatten().collect();
        let take = Sound { rate_hz, samples: &odd };
        let settings = Settings { off_speed: false, ..Settings::default() };
        let _ = place(&prepared(&music), &[take], &settings, &|| true);
        if let Ok(song) = prepare(&take) {
            let _ = place(&song, &[sound(&music), take], &settings, &|| true);
        }
    }
}
