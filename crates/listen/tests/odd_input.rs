//! Whatever comes in: a result with notes or one clear error, never a panic.

use listen::{Error, Note, Sound, listen, song_map};
use model::Corrections;

/// The generator of `ANSI C`-like constants, so that noise is the same everywhere: −1 to 1.
fn noise(seed: u32, len: usize) -> Vec<f32> {
    let mut u = seed;
    (0..len)
        .map(|_| {
            u = u.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (f64::from(u) / f64::from(1u32 << 31) - 1.0) as f32
        })
        .collect()
}

/// Decaying bursts of noise every `gap_s` and softer ones between: thumps on 1 (loud) and 3, cracks on 2 and 4.
fn clicks(rate: u32, seconds: f64, gap_s: f64) -> Vec<f32> {
    let fs = f64::from(rate);
    let hiss = noise(7, rate as usize);
    let mut out = vec![0f32; (seconds * fs) as usize];
    let mut tick = 0;
    loop {
        let at = ((0.2 + tick as f64 * gap_s / 2.0) * fs).round() as usize;
        if at >= out.len() {
            return out;
        }
        let loud = [0.1, 0.0, 0.4, 0.0][tick % 4];
        let thump = [0.8, 0.0, 0.0, 0.0, 0.3, 0.0, 0.0, 0.0][tick % 8];
        for (i, x) in out[at..].iter_mut().take(rate as usize / 10).enumerate() {
            let t = i as f64 / fs;
            *x += (loud * (-t / 0.02).exp()) as f32 * hiss[i];
            *x += (thump * (-t / 0.05).exp() * (std::f64::consts::TAU * 60.0 * t).sin()) as f32;
        }
        tick += 1;
    }
}

fn hear(rate_hz: u32, channels: &[Vec<f32>]) -> Result<listen::Listening, Error> {
    let heard = listen(&Sound { rate_hz, channels }, &|_| true)?;
    let (map, notes) = song_map(&heard, &Corrections::default());
    assert!(notes.is_empty(), "{notes:?}");
    assert!(!map.bars.is_empty() && !map.sections.is_empty());
    assert!(
        map.bars
            .iter()
            .all(|b| (0.0..=1.0).contains(&b.energy) && (0.0..=1.0).contains(&b.voice))
    );
    let report = serde_json::to_string(&listen::report(&heard, &map)).unwrap();
    assert!(!report.contains("NaN"), "{report}");
    Ok(heard)
}

/// Beats stand on the attacks (bars are scored on songs; bare clicks can be counted several ways), at every usual rate and channel count.
#[test]
fn clicks_are_heard_where_they_are() {
    for (rate, copies) in [
        (44_100, 2),
        (48_000, 1),
        (8_000, 1),
        (22_050, 2),
        (96_000, 2),
        (192_000, 1),
        (48_000, 6),
    ] {
        let one = clicks(rate, 24.0, 0.55);
        let heard = hear(rate, &vec![one; copies]).unwrap();
        let inner: Vec<f64> = heard
            .beats_s
            .iter()
            .copied()
            .filter(|t| (2.0..22.0).contains(t))
            .collect();
        assert!(inner.len() > 30, "{rate} × {copies}: {} beats", inner.len());
        for t in inner {
            let place = (t - 0.2) / 0.55;
            let off_s = (place - place.round()).abs() * 0.55;
            assert!(
                off_s < 0.012,
                "{rate} × {copies}: a beat at {t} is {off_s} s off"
            );
        }
    }
}

#[test]
fn silence_gets_a_grid_and_says_so() {
    let heard = hear(44_100, &[vec![0.0; 441_000], vec![0.0; 441_000]]).unwrap();
    assert_eq!(heard.notes, [Note::Silent]);
    assert_eq!(heard.loudness, listen::Loudness::default());
    assert_eq!(heard.beats_s.len(), 20);
    assert_eq!(heard.sections.len(), 1);
}

#[test]
fn noise_has_no_pulse() {
    for seed in [1, 2, 3] {
        let heard = hear(44_100, &[noise(seed, 44_100 * 30)]).unwrap();
        assert_eq!(heard.notes, [Note::NoPulse], "pulse {}", heard.pulse);
    }
}

#[test]
fn bad_samples_count_as_silence() {
    let mut channel = clicks(44_100, 20.0, 0.5);
    for i in (0..channel.len()).step_by(1000) {
        channel[i] = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY][i / 1000 % 3];
    }
    channel[77] = 1e30;
    let heard = hear(44_100, &[channel]).unwrap();
    assert_eq!(heard.notes, [Note::NotNumbers(882), Note::Held(1)]);
    assert!(heard.loudness.integrated_lufs.is_some_and(f64::is_finite));
    let all_bad = hear(44_100, &[vec![f32::NAN; 100_000]]).unwrap();
    assert_eq!(all_bad.notes, [Note::NotNumbers(100_000), Note::Silent]);
}

#[test]
fn an_offset_does_not_move_beats() {
    let plain = clicks(44_100, 20.0, 0.5);
    let shifted: Vec<f32> = plain.iter().map(|x| x + 0.3).collect();
    let (a, b) = (
        hear(44_100, &[plain]).unwrap(),
        hear(44_100, &[shifted]).unwrap(),
    );
    assert!(
        matches!(b.notes[..], [Note::Offset(x)] if (x - 0.3).abs() < 0.01),
        "{:?}",
        b.notes
    );
    let apart = a
        .beats_s
        .iter()
        .zip(&b.beats_s)
        .map(|(x, y)| (x - y).abs())
        .fold(0.0, f64::max);
    assert!(apart < 0.005, "{apart}");
}

#[test]
fn three_seconds_are_enough() {
    let heard = hear(44_100, &[clicks(44_100, 3.0, 0.5)]).unwrap();
    assert!(heard.beats_s.len() >= 4, "{:?}", heard.beats_s);
    hear(44_100, &[noise(1, 44_100)]).unwrap();
}

/// Odd but legal: the shortest at the lowest and the highest rate, one loud sample, full-scale noise.
#[test]
fn corners_of_the_range() {
    hear(4_000, &[noise(1, 4_000)]).unwrap();
    hear(384_000, &[noise(1, 384_000)]).unwrap();
    let mut one = vec![0.0; 100_000];
    one[50_000] = 1.0;
    hear(44_100, &[one]).unwrap();
    hear(44_100, &vec![noise(1, 44_100); 16]).unwrap();
}

#[test]
fn what_cannot_be_heard_is_refused_in_a_sentence() {
    let refused = |rate_hz: u32, channels: &[Vec<f32>]| {
        listen(&Sound { rate_hz, channels }, &|_| true).unwrap_err()
    };
    for (error, words) in [
        (refused(44_100, &[]), "no audio channel"),
        (refused(44_100, &vec![vec![0.0; 44_100]; 17]), "17 channels"),
        (
            refused(44_100, &[vec![0.0; 44_100], vec![0.0; 44_000]]),
            "differ in length",
        ),
        (refused(0, &[vec![0.0; 44_100]]), "0 Hz"),
        (refused(1_000_000, &[vec![0.0; 44_100]]), "1000000 Hz"),
        (refused(44_100, &[vec![]]), "0.00 s"),
        (refused(44_100, &[vec![0.0; 4_410]]), "0.10 s"),
        // Three hours, at a low rate to spare memory.
        (refused(4_000, &[vec![0.0; 4_000 * 10_800]]), "180 min"),
    ] {
        let text = error.to_string();
        assert!(text.contains(words), "{text}");
        assert!(!text.ends_with('.') && !text.contains('\n'), "{text}");
    }
}

#[test]
fn listening_can_be_stopped_anywhere() {
    let channels = [clicks(44_100, 20.0, 0.5)];
    let sound = Sound {
        rate_hz: 44_100,
        channels: &channels,
    };
    let calls = std::cell::Cell::new(0);
    let last = std::cell::Cell::new(0f32);
    listen(&sound, &|x| {
        calls.set(calls.get() + 1);
        assert!(
            (0.0..=1.0).contains(&x) && x >= last.get(),
            "{x} after {}",
            last.get()
        );
        last.set(x);
        true
    })
    .unwrap();
    assert_eq!(last.get(), 1.0);
    for stop in 0..calls.get() - 1 {
        let count = std::cell::Cell::new(0);
        let heard = listen(&sound, &|_| {
            count.set(count.get() + 1);
            count.get() <= stop
        });
        assert_eq!(heard.unwrap_err(), Error::Stopped, "at call {stop}");
    }
}

#[test]
fn a_listening_comes_back_from_the_cache() {
    let heard = hear(44_100, &[clicks(44_100, 12.0, 0.5)]).unwrap();
    let text = serde_json::to_string(&heard).unwrap();
    let back: listen::Listening = serde_json::from_str(&text).unwrap();
    assert_eq!(
        song_map(&back, &Corrections::default()),
        song_map(&heard, &Corrections::default())
    );
}
