//! Whole files: where everything lies, what is exact, and what is refused.

use model::{FrameRate, SongTime, Stretch};
use playback::{
    CountIn, Error, Level, Made, Note, Pitch, Request, Spacing, Speed, Timecode, ltc, make,
};
use proptest::prelude::*;

const RATE: u32 = 48_000;

/// Noise with a pulse every half second, quiet enough to need no limiting.
fn song(seconds: usize) -> Vec<Vec<f32>> {
    let mut state = 99_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..2)
        .map(|_| {
            (0..seconds * RATE as usize)
                .map(|n| noise() * if n % 24_000 < 2_400 { 0.3 } else { 0.02 })
                .collect()
        })
        .collect()
}

fn beats(count: usize) -> (Vec<SongTime>, Vec<usize>) {
    let beats = (0..count)
        .map(|k| SongTime::nearest_to_seconds(0.5 * k as f64))
        .collect();
    (beats, (0..count).step_by(4).collect())
}

fn request<'a>(song: &'a [Vec<f32>], from_s: f64, to_s: f64) -> Request<'a> {
    Request {
        rate_hz: RATE,
        song,
        stretch: Stretch::between_seconds(from_s, to_s).unwrap(),
        speed: Speed::ONE,
        pitch: Pitch::Follows,
        count_in: CountIn::Tempo {
            bpm: 120.0,
            beats_per_bar: 4,
        },
        shown: FrameRate::FPS_24,
        level: Level::AsMastered,
        timecode: None,
        spacing: Spacing::default(),
    }
}

fn made(request: &Request) -> Made {
    make(request, &|| true).unwrap()
}

#[test]
fn at_speed_one_the_song_is_copied_sample_for_sample() {
    let song = song(20);
    let made = made(&request(&song, 8.0, 15.0));
    let layout = &made.layout;
    let (start, end) = (layout.stretch_start as usize, layout.stretch_end as usize);
    assert_eq!(end - start, 7 * RATE as usize);
    for (channel, song) in made.channels.iter().zip(&song) {
        assert_eq!(
            channel[start..end],
            song[8 * RATE as usize..15 * RATE as usize]
        );
    }
    // Two seconds after half a second of silence, then two bars of four half seconds.
    assert_eq!(layout.head_beep, 24_000);
    assert_eq!(layout.clicks[0].sample, 120_000);
    assert_eq!(layout.stretch_start, 120_000 + 4 * 48_000);
    assert_eq!(layout.music_start, 120_000);
    assert_eq!(layout.tail_beep, layout.stretch_end + 96_000);
    assert!(made.channels[0][..24_000].iter().all(|x| *x == 0.0));
    assert_eq!(layout.clicks.iter().filter(|c| c.accent).count(), 2);
    assert!(made.notes.is_empty(), "{:?}", made.notes);
}

#[test]
fn before_the_song_there_are_clicks_over_silence() {
    let song = song(10);
    let (beats, downbeats) = beats(20);
    let mut request = request(&song, 0.0, 5.0);
    request.count_in = CountIn::Beats {
        beats: &beats,
        downbeats: &downbeats,
        beats_per_bar: 4,
    };
    let made = made(&request);
    assert_eq!(made.layout.clicks.len(), 8);
    assert_eq!(made.layout.music_start, made.layout.stretch_start);
    assert_eq!(made.notes, [Note::BeforeTheSong { clicks: 8 }]);
    // Not even the first sample of the song is faded.
    let start = made.layout.stretch_start as usize;
    assert_eq!(made.channels[0][start], song[0][0]);
}

#[test]
fn timecode_is_song_time_near_speed_one_and_real_time_elsewhere() {
    let song = song(30);
    for (num, den, per_label) in [
        (1, 1, 1.0),
        (1000, 1001, 1.0),
        (2, 1, 2.0),
        (25, 24, 25.0 / 24.0),
    ] {
        let mut request = request(&song, 12.0, 24.0);
        request.speed = Speed::new(num, den).unwrap();
        request.timecode = Some(Timecode::of_show(FrameRate::FPS_24).unwrap());
        let made = made(&request);
        let course = made.layout.timecode.unwrap();
        assert_eq!(course.song_per_label, per_label);
        let read = ltc::decode(&made.channels[1]);
        assert_eq!(read.len() as i64, course.frames);
        for (k, frame) in read.iter().enumerate() {
            let at = course.first_start + k as f64 * course.spacing;
            assert_eq!(frame.label, course.label(k as i64));
            assert!((frame.start - at).abs() < 1.0, "{k}: {} {at}", frame.start);
            // What the relation says is where the song is.
            let song_s = 12.0
                + (at - made.layout.stretch_start as f64) / f64::from(RATE) * request.speed.value();
            let told = course.song_s_of(course.first_frame + k as i64);
            assert!((told - song_s).abs() < 1e-6, "{told} {song_s}");
        }
        let peak = made.channels[1].iter().fold(0_f32, |m, x| m.max(x.abs()));
        assert!((peak - 0.2512).abs() < 1e-3);
    }
}

#[test]
fn a_shot_at_23_976_shown_at_24_carries_true_23_976() {
    let song = song(10);
    let mut request = request(&song, 4.0, 8.0);
    request.speed = Speed::from(FrameRate::FPS_23_976.over(FrameRate::FPS_24));
    request.timecode = Some(Timecode::of_show(FrameRate::FPS_24).unwrap());
    // 2002 samples a frame at 48 kHz is the rate of 24000/1001.
    assert!((made(&request).layout.timecode.unwrap().spacing - 2002.0).abs() < 1e-9);
}

#[test]
fn bad_requests_are_refused_in_a_sentence() {
    let song = song(10);
    let good = request(&song, 2.0, 6.0);
    let (empty, unequal) = ([vec![]], [vec![0.0; 10], vec![0.0; 11]]);
    let after = Stretch::between_seconds(20.0, 30.0).unwrap();
    let hundred = Speed::new(100, 1).unwrap();
    let bar = |bpm| CountIn::Tempo {
        bpm,
        beats_per_bar: 4,
    };
    let long = Spacing {
        after_s: f64::INFINITY,
        ..Spacing::default()
    };
    let cases = [
        Request { rate_hz: 0, ..good },
        Request { song: &[], ..good },
        Request {
            song: &empty,
            ..good
        },
        Request {
            song: &unequal,
            ..good
        },
        Request {
            stretch: after,
            ..good
        },
        Request {
            speed: hundred,
            ..good
        },
        Request {
            speed: hundred,
            pitch: Pitch::Kept,
            ..good
        },
        Request {
            count_in: bar(0.0),
            ..good
        },
        Request {
            spacing: long,
            ..good
        },
        Request {
            spacing: Spacing {
                lead_s: f64::NAN,
                ..Spacing::default()
            },
            ..good
        },
        Request {
            spacing: Spacing {
                beep_s: -1.0,
                ..Spacing::default()
            },
            ..good
        },
    ];
    for (n, case) in cases.iter().enumerate() {
        let error = make(case, &|| true).expect_err(&n.to_string()).to_string();
        assert!(error.len() > 30 && !error.ends_with('.'), "{error}");
    }
    for pitch in [Pitch::Kept, Pitch::Follows] {
        let request = Request {
            speed: Speed::new(2, 1).unwrap(),
            pitch,
            ..good
        };
        assert_eq!(make(&request, &|| false), Err(Error::Stopped));
    }
}

#[test]
fn what_can_be_done_is_done_with_notes() {
    let mut song = song(10);
    song[0][300_000] = f32::NAN;
    song[1][300_001] = f32::INFINITY;
    let mut request = request(&song, 5.0, 90.0);
    request.count_in = CountIn::Beats {
        beats: &[],
        downbeats: &[],
        beats_per_bar: 4,
    };
    request.speed = Speed::new(1001, 1000).unwrap();
    request.pitch = Pitch::Kept;
    let made = made(&request);
    assert!(made.channels.iter().flatten().all(|x| x.is_finite()));
    assert!(!made.pitch_kept);
    let cut = Stretch::between_seconds(5.0, 10.0).unwrap();
    assert!(
        matches!(made.notes[..], [Note::NotANumber { samples: 2 }, Note::StretchCut { to }, Note::NoBeats, Note::PitchLeft { .. }] if to == cut),
        "{:?}",
        made.notes
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20))]
    #[test]
    fn every_file_is_in_order_and_clean(
        from in -3.0..9.9_f64, length in 0.001..4.0_f64, num in 1_u32..120, den in 1_u32..60,
        kept in any::<bool>(), gain in 0.1_f32..8.0, mono in any::<bool>(), timecode in any::<bool>(), bpm in 40.0..300.0_f64,
    ) {
        let mut song = song(10);
        song.truncate(if mono { 1 } else { 2 });
        song.iter_mut().flatten().for_each(|x| *x *= gain);
        let mut request = request(&song, from, from + length);
        request.speed = Speed::new(i64::from(num), i64::from(den)).unwrap();
        request.pitch = if kept { Pitch::Kept } else { Pitch::Follows };
        request.level = Level::default();
        request.count_in = CountIn::Tempo { bpm, beats_per_bar: 3 };
        request.timecode = timecode.then(|| Timecode::of_show(FrameRate::FPS_29_97).unwrap());
        match make(&request, &|| true) {
            Err(error) => {
                let out = matches!(error, Error::Speed(_) | Error::StretchOutside { .. });
                prop_assert!(out, "{error}");
            }
            Ok(made) => {
                let l = &made.layout;
                prop_assert_eq!(made.channels.len(), 2);
                prop_assert!(made.channels.iter().all(|c| c.len() as u64 == l.samples));
                prop_assert!(l.head_beep + l.beep_samples <= l.clicks[0].sample);
                prop_assert!(l.clicks.windows(2).all(|w| w[0].sample <= w[1].sample));
                prop_assert!(l.clicks.last().unwrap().sample < l.stretch_start);
                prop_assert!(l.clicks[0].sample <= l.music_start && l.music_start <= l.stretch_start);
                prop_assert!(l.stretch_start < l.stretch_end && l.stretch_end <= l.music_end);
                prop_assert!(l.music_end < l.tail_beep && l.tail_beep + l.beep_samples <= l.samples);
                prop_assert!(l.song_at(l.music_start) >= SongTime::ZERO);
                prop_assert!(made.reading.true_peak_dbtp <= -1.0);
                prop_assert!(made.channels.iter().flatten().all(|x| x.abs() <= 0.892));
            }
        }
    }
}
