//! Photographs with EXIF written byte by byte: every field comes back exactly, and what is missing,
//! broken or contradicts itself is left out and said.

mod exif_bytes;

use exif_bytes::{Exif, Value, heif, jpeg, png, ratio, text, webp};
use media::{Error, PhotoNote, PhotoRead, read_photo};
use proptest::prelude::*;

/// Reads these bytes from a file.
fn read_bytes(bytes: &[u8]) -> Result<PhotoRead, Error> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("photo");
    std::fs::write(&path, bytes).unwrap();
    read_photo(&path)
}

fn read(exif: &Exif) -> PhotoRead {
    read_bytes(&exif.jpeg()).unwrap()
}

/// The notes as sentences.
fn notes(read: &PhotoRead) -> Vec<String> {
    read.notes.iter().map(ToString::to_string).collect()
}

fn full(little: bool) -> Exif {
    let mut exif = Exif::new(little)
        .taken("2026:10:03 18:41:07")
        .zone("+01:00")
        .exposed((1, 30), (18, 10), 800)
        // 41° 8′ 26.125″ N, 8° 36′ 42.875″ W.
        .at(148_106_125, -31_002_875)
        .towards(24_750, "T")
        .satellites("2026:10:03", 17, 41, 5);
    exif.exif.extend([
        (0x9291, text("25")),
        (0x9204, Value::SRational(vec![(-2, 3)])),
        (0x9209, Value::Short(vec![0x10])),
        (0xA402, Value::Short(vec![0])),
        (0x920A, ratio(565, 100)),
        (0xA405, Value::Short(vec![26])),
    ]);
    exif.gps.extend([
        (5, Value::Byte(vec![0])),
        (6, ratio(7375, 100)),
        (9, text("A")),
        (0x1F, ratio(48, 10)),
    ]);
    exif
}

#[test]
fn every_field_is_exact_in_both_byte_orders() {
    for little in [false, true] {
        let read = read(&full(little));
        let wanted = PhotoRead {
            taken: Some("2026-10-03T18:41:07.25".into()),
            utc_offset_minutes: Some(60),
            gps_utc: Some("2026-10-03T17:41:05".into()),
            position_deg: Some([148_106_125.0 / 3.6e6, -31_002_875.0 / 3.6e6]),
            altitude_m: Some(73.75),
            bearing_deg: Some(247.5),
            bearing_is_magnetic: false,
            exposure_s: Some(1.0 / 30.0),
            f_number: Some(1.8),
            iso: Some(800.0),
            bias_stops: Some(-2.0 / 3.0),
            flash: Some(false),
            exposed_by_hand: false,
            focal_mm: Some(5.65),
            focal_35_mm: Some(26.0),
            notes: Vec::new(),
        };
        // The photograph of the tests says 2026; the file is of today. Only that may be said.
        let clock = |note: &PhotoNote| matches!(note, PhotoNote::ClockLate { .. });
        let mut read = read;
        read.notes.retain(|note| !clock(note));
        assert_eq!(read, wanted, "little endian: {little}");
    }
}

#[test]
fn every_kind_of_file_is_read() {
    let exif = full(true);
    let tiff = exif.tiff();
    let wanted = read(&exif);
    for (kind, bytes) in [
        ("PNG", png(&tiff)),
        ("WebP", webp(&tiff)),
        ("HEIF", heif(&tiff)),
        ("TIFF", tiff),
    ] {
        let read = read_bytes(&bytes).unwrap();
        assert_eq!(read.position_deg, wanted.position_deg, "{kind}");
        assert_eq!(read.taken, wanted.taken, "{kind}");
        assert_eq!(read.exposure_s, wanted.exposure_s, "{kind}");
    }
}

#[test]
fn hemispheres_have_their_signs() {
    for (latitude, longitude) in [(1, 1), (1, -1), (-1, 1), (-1, -1)] {
        let read =
            read(&Exif::new(latitude > 0).at(latitude * 122_400_000, longitude * 64_800_000));
        assert_eq!(
            read.position_deg,
            Some([
                f64::from(latitude as i32) * 34.0,
                f64::from(longitude as i32) * 18.0
            ])
        );
        assert!(read.notes.is_empty(), "{:?}", read.notes);
    }
    // The ends of the earth, and the equator without a negative zero.
    let ends = read(&Exif::new(false).at(-324_000_000, 648_000_000));
    assert_eq!(ends.position_deg, Some([-90.0, 180.0]));
    let mut equator = Exif::new(false).at(0, -3_600_000);
    equator.gps[0].1 = text("S");
    let [latitude, longitude] = read(&equator).position_deg.unwrap();
    assert!(latitude.to_bits() == 0 && longitude == -1.0);
    // Degrees and decimal minutes alone.
    let mut two = Exif::new(true).at(0, 3_600_000);
    two.gps[1].1 = Value::Rational(vec![(41, 1), (84_354, 10_000)]);
    assert_eq!(read(&two).position_deg, Some([41.140_59, 1.0]));
}

#[test]
fn positions_that_are_none_are_left_out() {
    let thirds = |a, b, c| Value::Rational(vec![a, b, c]);
    let with = |change: &dyn Fn(&mut Exif)| {
        let mut exif = Exif::new(false).at(148_106_125, -31_002_875);
        change(&mut exif);
        read(&exif)
    };
    let cases: Vec<(&str, PhotoRead)> = vec![
        (
            "its latitude (41 8/0 26) is no latitude, so it is left out",
            with(&|exif| exif.gps[1].1 = thirds((41, 1), (8, 0), (26, 1))),
        ),
        (
            "its latitude (0/0 0/0 0/0) is no latitude, so it is left out",
            with(&|exif| exif.gps[1].1 = thirds((0, 0), (0, 0), (0, 0))),
        ),
        (
            "its longitude (8 61 0) is no longitude, so it is left out",
            with(&|exif| exif.gps[3].1 = thirds((8, 1), (61, 1), (0, 1))),
        ),
        (
            "its position (91.00000, -8.61191) is nowhere on earth, so it is left out",
            with(&|exif| exif.gps[1].1 = thirds((91, 1), (0, 1), (0, 1))),
        ),
        (
            "its position (41.14059, -4294967295.00000) is nowhere on earth, so it is left out",
            with(&|exif| exif.gps[3].1 = thirds((u32::MAX, 1), (0, 1), (0, 1))),
        ),
        (
            "its position is 0, 0, which is what a camera writes that has none; it is left out",
            with(&|exif| {
                exif.gps[1].1 = thirds((0, 1), (0, 1), (0, 1));
                exif.gps[3].1 = thirds((0, 1), (0, 1), (0, 1));
            }),
        ),
        (
            "its position lacks whether it is north or south, so it is left out",
            with(&|exif| {
                exif.gps.remove(0);
            }),
        ),
        (
            "its position lacks whether it is east or west, so it is left out",
            with(&|exif| exif.gps[2].1 = text("X")),
        ),
        (
            "its position lacks its longitude, so it is left out",
            with(&|exif| {
                exif.gps.remove(3);
            }),
        ),
        (
            "its latitude (of another kind) is no latitude, so it is left out",
            with(&|exif| exif.gps[1].1 = text("41.14")),
        ),
    ];
    for (said, read) in cases {
        assert_eq!(read.position_deg, None, "{said}");
        assert_eq!(notes(&read), [said]);
    }
    // A fix that was lost, and one good to a street only, are kept and told.
    let old = with(&|exif| {
        exif.gps.push((9, text("V")));
        exif.gps.push((0x1F, ratio(65, 1)));
    });
    assert!(old.position_deg.is_some());
    assert_eq!(
        notes(&old),
        [
            "its camera had lost the satellites, so its position may be old",
            "its position is good to 65 m only"
        ]
    );
}

#[test]
fn bearings_say_their_north() {
    let magnetic = read(&Exif::new(true).towards(9_025, "M"));
    assert_eq!(
        (magnetic.bearing_deg, magnetic.bearing_is_magnetic),
        (Some(90.25), true)
    );
    assert_eq!(notes(&magnetic), ["its bearing counts from magnetic north"]);
    let full_turn = read(&Exif::new(true).towards(36_000, "T"));
    assert_eq!(full_turn.bearing_deg, Some(0.0));
    let beyond = read(&Exif::new(true).towards(36_001, "T"));
    assert_eq!(beyond.bearing_deg, None);
    assert_eq!(
        notes(&beyond),
        ["its bearing (36001/100) is no bearing, so it is left out"]
    );
    let mut silent = Exif::new(true);
    silent.gps.push((0x11, ratio(45, 1)));
    assert_eq!(
        notes(&read(&silent)),
        ["its bearing does not say from which north; true north is assumed"]
    );
    let mut below = Exif::new(false);
    below.gps.push((5, Value::Byte(vec![1])));
    below.gps.push((6, ratio(25, 2)));
    assert_eq!(read(&below).altitude_m, Some(-12.5));
}

#[test]
fn exposures_that_are_none_are_left_out() {
    let read_with = |fields: Vec<(u16, Value)>| {
        let mut exif = Exif::new(true);
        exif.exif = fields;
        read(&exif)
    };
    let zero = read_with(vec![
        (0x829A, ratio(1, 0)),
        (0x829D, ratio(0, 0)),
        (0x9204, Value::SRational(vec![(1, 0)])),
        (0x920A, ratio(0, 1)),
        (0xA405, Value::Short(vec![0])),
        (0x8827, Value::Short(vec![0])),
    ]);
    assert_eq!(
        (zero.exposure_s, zero.f_number, zero.iso, zero.bias_stops),
        (None, None, None, None)
    );
    assert_eq!((zero.focal_mm, zero.focal_35_mm), (None, None));
    assert_eq!(
        notes(&zero),
        [
            "its exposure time (1/0) is no exposure time, so it is left out",
            "its f-number (0/0) is no f-number, so it is left out",
            "its exposure bias (1/0) is no exposure bias, so it is left out",
        ]
    );
    // A sensitivity that its field can't hold, and one in a list.
    let high = read_with(vec![
        (0x8827, Value::Short(vec![u16::MAX])),
        (0x8832, Value::Long(vec![102_400])),
    ]);
    assert_eq!(high.iso, Some(102_400.0));
    let list = read_with(vec![(0x8827, Value::Short(vec![64, 0]))]);
    assert_eq!(list.iso, Some(64.0));
    // A flash that fired, an exposure by hand, the least and the largest bias.
    let flash = read_with(vec![
        (0x9209, Value::Short(vec![0x19])),
        (0xA402, Value::Short(vec![1])),
        (0x9204, Value::SRational(vec![(-20, 1)])),
    ]);
    assert_eq!(
        (flash.flash, flash.exposed_by_hand, flash.bias_stops),
        (Some(true), true, Some(-20.0))
    );
    let wild = read_with(vec![(0x9204, Value::SRational(vec![(i32::MIN, -1)]))]);
    assert_eq!(wild.bias_stops, None);
}

#[test]
fn times_are_checked_against_the_calendar() {
    let at = |at: &str, zone: &str| read(&Exif::new(true).taken(at).zone(zone));
    for (written, taken) in [
        ("2024:02:29 00:00:00", Some("2024-02-29T00:00:00")),
        ("2025:02:29 00:00:00", None),
        ("2024:13:01 00:00:00", None),
        ("2024:01:01 24:00:00", None),
        ("0000:00:00 00:00:00", None),
        ("2024-01-01 10:00:00", None),
        ("2024:01:01", None),
        ("yesterday", None),
        ("2024:01:01 1０:00:00", None),
    ] {
        let read = at(written, "+00:00");
        assert_eq!(read.taken.as_deref(), taken, "{written}");
        if taken.is_none() {
            assert_eq!(
                notes(&read),
                [format!(
                    "its time (`{written}`) is no time, so it is left out"
                )]
            );
        }
    }
    // Blank is not broken.
    assert_eq!(notes(&at("    :  :     :  :  ", "   :  ")), [""; 0]);
    for (zone, minutes) in [
        ("+14:00", Some(840)),
        ("-03:30", Some(-210)),
        ("+05:45", Some(345)),
        ("+14:01", None),
        ("+25:00", None),
        ("+01:75", None),
        ("01:00", None),
        ("Lisbon", None),
        ("+1:00", None),
    ] {
        let read = at("2024:06:01 10:00:00", zone);
        assert_eq!(read.utc_offset_minutes, minutes, "{zone}");
        if minutes.is_none() {
            assert_eq!(
                notes(&read),
                [format!(
                    "the zone of its clock (`{zone}`) is no zone, so it is left out"
                )]
            );
        }
    }
    // Only when it was last changed.
    let mut changed = Exif::new(false);
    changed.main.push((0x0132, text("2024:06:01 10:00:00")));
    let changed = read(&changed);
    assert_eq!(changed.taken.as_deref(), Some("2024-06-01T10:00:00"));
    assert_eq!(
        notes(&changed),
        ["when it was taken is not written; its time is when it was last changed"]
    );
    // A broken original gives way to the scan's time; what a terminal acts on is not repeated.
    let mut scanned = Exif::new(false).taken("20\x1b[2J");
    scanned.exif.push((0x9004, text("2024:06:01 10:00:00")));
    let scanned = read(&scanned);
    assert_eq!(scanned.taken.as_deref(), Some("2024-06-01T10:00:00"));
    assert_eq!(
        notes(&scanned),
        ["its time (`20[2J`) is no time, so it is left out"]
    );
}

#[test]
fn lying_clocks_are_told() {
    let noon = |taken: &str, zone: Option<&str>| {
        let exif = Exif::new(true)
            .taken(taken)
            .satellites("2024:06:01", 12, 0, 0);
        notes(&read(&match zone {
            Some(zone) => exif.zone(zone),
            None => exif,
        }))
    };
    let none: [&str; 0] = [];
    // A whole quarter hour apart, within 14 hours and a fix's lag: any zone on earth.
    for taken in [
        "2024:06:01 12:00:00",
        "2024:06:01 13:00:45",
        "2024:06:01 17:44:30",
        "2024:06:02 02:00:00",
        "2024:05:31 22:00:00",
    ] {
        assert_eq!(noon(taken, None), none, "{taken}");
    }
    for taken in [
        "2024:06:01 13:07:00",
        "2024:06:02 02:15:00",
        "2024:05:31 21:45:00",
        "2023:06:01 12:00:00",
    ] {
        let said = taken.replacen(':', "-", 2).replace(' ', "T");
        assert_eq!(
            noon(taken, None),
            [format!(
                "its clock looks wrong: it says {said}, which is the satellites' time, 2024-06-01T12:00:00 UTC, in no zone"
            )]
        );
    }
    // With its zone stated, an hour too many is seen too: a clock not put back after the summer.
    assert_eq!(noon("2024:06:01 13:04:00", Some("+01:00")), none);
    assert_eq!(
        noon("2024:06:01 14:00:00", Some("+01:00")),
        [
            "its clock looks wrong: it says 2024-06-01T14:00:00 at +01:00 from UTC, but the satellites said 2024-06-01T12:00:00 UTC"
        ]
    );
    // Never set, and ahead of its own file.
    assert_eq!(
        notes(&read(&Exif::new(true).taken("1980:01:01 00:00:12"))),
        ["its clock looks wrong: it says 1980-01-01T00:00:12, before photographs had such notes"]
    );
    let late = notes(&read(&Exif::new(true).taken("9999:12:31 23:59:59")));
    assert!(
        late.len() == 1
            && late[0].starts_with(
                "its clock looks wrong: it says 9999-12-31T23:59:59, but the file was last changed at "
            ),
        "{late:?}"
    );
    // A zone that nobody keeps at that longitude: a position that lost its minus, or a clock from home.
    let porto = |longitude: i64| {
        notes(&read(
            &Exif::new(true)
                .taken("2024:06:01 12:00:00")
                .zone("+01:00")
                .at(148_106_125, longitude),
        ))
    };
    assert_eq!(porto(-31_002_875), none);
    assert_eq!(
        porto(4 * 148_106_125),
        [
            "its clock's zone (+01:00 from UTC) is not used at longitude 164.6; one of the two is wrong"
        ]
    );
    // The satellites' stamp broken: nothing to hold the clock against.
    let mut stamp = Exif::new(true).taken("2024:06:01 12:07:00");
    stamp
        .gps
        .push((7, Value::Rational(vec![(12, 0), (0, 1), (0, 1)])));
    stamp.gps.push((0x1D, text("2024:06:01")));
    assert_eq!(notes(&read(&stamp)), none);
}

#[test]
fn without_exif_or_with_a_broken_one_a_photograph_is_still_one() {
    let bare = read_bytes(&jpeg(None)).unwrap();
    assert_eq!(bare.notes, [PhotoNote::NoExif]);
    for (tiff, said) in [
        (&b""[..], "Truncated TIFF header"),
        (b"XX\0\x2a\0\0\0\x08", "Invalid TIFF byte order"),
        (b"MM\0\x2b\0\0\0\x08", "Invalid forty two"),
    ] {
        let read = read_bytes(&jpeg(Some(tiff))).unwrap();
        assert_eq!(
            notes(&read),
            [format!("what its camera wrote can't be read ({said})")]
        );
    }
    // The satellites' part points at the exposure's, which leads back to itself: no loop, and the
    // exposure is read.
    let exif = Exif::new(false)
        .taken("2024:06:01 10:00:00")
        .at(3_600_000, 3_600_000);
    let mut tiff = exif.tiff();
    let pointer = |tiff: &[u8], tag: [u8; 2]| {
        (10..)
            .step_by(12)
            .find(|at| tiff[*at..*at + 2] == tag)
            .unwrap()
            + 8
    };
    let exif_at = pointer(&tiff, [0x87, 0x69]);
    let gps_at = pointer(&tiff, [0x88, 0x25]);
    let target: [u8; 4] = tiff[exif_at..exif_at + 4].try_into().unwrap();
    tiff[gps_at..gps_at + 4].copy_from_slice(&target);
    let looped = read_bytes(&jpeg(Some(&tiff))).unwrap();
    assert_eq!(looped.taken.as_deref(), Some("2024-06-01T10:00:00"));
    assert_eq!(
        notes(&looped),
        ["what its camera wrote is damaged (Already visited IFD detected); the rest of it is used"]
    );
    // No closing zeros behind the exposure's part: nothing is lost, so nothing is said.
    let mut open = Exif::new(true).taken("2024:06:01 10:00:00").tiff();
    let closing = 8 + 2 + 12 + 4 + 2 + 12;
    assert_eq!(open[closing..closing + 4], [0; 4]);
    open[closing] = 0x55;
    let open = read_bytes(&jpeg(Some(&open))).unwrap();
    assert_eq!(open.taken.as_deref(), Some("2024-06-01T10:00:00"));
    assert_eq!(open.notes, []);
    // The first part leads to itself.
    let mut again = Exif::new(true).tiff();
    let next = 10 + 12;
    again[next..next + 4].copy_from_slice(&8u32.to_le_bytes());
    let again = read_bytes(&jpeg(Some(&again))).unwrap();
    assert!(
        matches!(again.notes[..], [PhotoNote::Damaged { .. }]),
        "{:?}",
        again.notes
    );
}

#[test]
fn what_is_no_photograph_is_said() {
    let sentence = |bytes: &[u8]| {
        let said = read_bytes(bytes).unwrap_err().to_string();
        let from = said.find("photo`").unwrap();
        said[from..].to_owned()
    };
    assert_eq!(
        sentence(b""),
        "photo` is empty; copy it again from the card"
    );
    assert_eq!(
        sentence(b"once upon a time\n"),
        "photo` is not a photograph that can be read; JPEG, HEIF, AVIF, PNG, WebP and TIFF files can"
    );
    let whole = full(true).jpeg();
    assert_eq!(
        sentence(&whole[..100]),
        "photo` breaks off or is damaged (Broken JPEG file); copy it again from the camera"
    );
    let folder = tempfile::tempdir().unwrap();
    assert!(matches!(
        read_photo(folder.path()),
        Err(Error::Folder { .. })
    ));
    assert!(matches!(
        read_photo(&folder.path().join("gone.jpg")),
        Err(Error::NoFile { .. })
    ));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever is broken in it, reading ends, and what it gives is finite and in range.
    #[test]
    fn any_damage_is_read_or_refused(
        little: bool,
        kind in 0..5usize,
        cut in 0..2000usize,
        hits in prop::collection::vec((0..2000usize, any::<u8>()), 0..12),
    ) {
        let tiff = full(little).tiff();
        let mut bytes = match kind {
            0 => jpeg(Some(&tiff)),
            1 => png(&tiff),
            2 => webp(&tiff),
            3 => heif(&tiff),
            _ => tiff,
        };
        for (at, byte) in hits {
            let at = at % bytes.len();
            bytes[at] = byte;
        }
        bytes.truncate(bytes.len().min(cut.max(1)));
        if let Ok(read) = read_bytes(&bytes) {
            if let Some([latitude, longitude]) = read.position_deg {
                prop_assert!((-90.0..=90.0).contains(&latitude));
                prop_assert!((-180.0..=180.0).contains(&longitude));
            }
            for value in [read.exposure_s, read.f_number, read.iso, read.focal_mm].into_iter().flatten() {
                prop_assert!(value.is_finite() && value > 0.0);
            }
            for value in [read.altitude_m, read.bearing_deg, read.bias_stops].into_iter().flatten() {
                prop_assert!(value.is_finite());
            }
            for note in notes(&read) {
                prop_assert!(!note.chars().any(char::is_control), "{note:?}");
            }
        }
    }

    /// A position is the float nearest to what is written.
    #[test]
    fn a_position_is_the_nearest_float(mas in -324_000_000i64..=324_000_000, other in -648_000_000i64..=648_000_000) {
        prop_assume!(mas != 0 || other != 0);
        let read = read(&Exif::new(false).at(mas, other));
        prop_assert_eq!(read.position_deg, Some([mas as f64 / 3.6e6, other as f64 / 3.6e6]));
    }
}
