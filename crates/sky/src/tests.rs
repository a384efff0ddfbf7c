//! The sky against tables that others published, and what it is made of against each other.
//!
//! Tables of the US Naval Observatory are the data files that the library `ephem` ships with its
//! own tests; their minutes are rounded, so a minute either way is allowed. Values of skyfield are
//! version 1.55 with JPL's DE421, by the same definitions.

use crate::{
    Bands, Day, Event, Horizon, Place, Question, Side, Stays, What, When, Zone, bearing, clock,
    day, days, direct_sun, look, passings, report, shadow,
};
use jiff::Timestamp;

fn sky(latitude: f64, longitude: f64, zone: &str, on: &str) -> Day {
    let place = Place::new(latitude, longitude).unwrap();
    let zone = Zone::named(zone).unwrap();
    day(
        &place,
        &zone,
        on.parse::<crate::Date>().unwrap(),
        &Bands::default(),
    )
    .unwrap()
}

fn seconds(at: When) -> i64 {
    at.at.as_second()
}

/// Minutes after midnight on the clock of `0743`, or none for dashes.
fn minutes(hhmm: &str) -> Option<i64> {
    let number: i64 = hhmm.parse().ok()?;
    Some(number / 100 * 60 + number % 100)
}

#[track_caller]
fn check_minute(found: Option<When>, starts: When, hhmm: &str, about: &str) {
    match (found, minutes(hhmm)) {
        (Some(found), Some(wanted)) => {
            let minute = (seconds(found) - seconds(starts) + 30).div_euclid(60);
            assert!((minute - wanted).abs() <= 1, "{about}: {found} for {hhmm}");
        }
        (None, None) => {}
        (found, _) => panic!("{about}: {found:?} for {hhmm}"),
    }
}

#[track_caller]
fn check_second(found: Option<When>, wanted: &str, slack_s: i64) {
    let wanted: Timestamp = wanted.parse().unwrap();
    let found = found.unwrap_or_else(|| panic!("nothing for {wanted}"));
    let apart = seconds(found) - wanted.as_second();
    assert!(apart.abs() <= slack_s, "{found} for {wanted}");
}

#[test]
fn sun_over_atlanta_in_2007() {
    // USNO: N33 46, W084 25, zone 5 hours west; days 1, 11 and 21 of each month.
    let table = [
        "0743/1740 0743/1748 0741/1758",
        "0734/1808 0726/1818 0716/1827",
        "0707/1834 0654/1842 0640/1850",
        "0626/1858 0612/1906 0600/1913",
        "0549/1921 0540/1928 0533/1936",
        "0528/1943 0526/1948 0527/1951",
        "0531/1952 0536/1950 0542/1946",
        "0549/1938 0557/1929 0604/1917",
        "0611/1904 0618/1850 0625/1836",
        "0632/1822 0639/1809 0647/1757",
        "0657/1746 0706/1737 0715/1732",
        "0724/1729 0732/1729 0738/1733",
    ];
    for (month, row) in table.iter().enumerate() {
        for (pair, day) in row.split(' ').zip([1, 11, 21]) {
            let on = format!("2007-{:02}-{day:02}", month + 1);
            let (rise, set) = pair.split_once('/').unwrap();
            let found = sky(33.0 + 46.0 / 60.0, -(84.0 + 25.0 / 60.0), "Etc/GMT+5", &on);
            check_minute(found.sun.sunrise, found.starts, rise, &on);
            check_minute(found.sun.sunset, found.starts, set, &on);
        }
    }
}

#[test]
fn moon_over_boston_in_1984() {
    // USNO: N42 19, W071 05, zone 5 hours west.
    let table = [
        "0553/1501 1033/2147 1340/0413 2157/0959 ----/1052",
        "0710/1634 1003/2341 1533/0604 ----/0948 0139/1058",
        "0615/1630 0857/2342 1542/0518 ----/0854 0134/1025",
        "0551/1825 0944/0050 1829/0513 0109/1008 0223/1211",
        "0503/1926 1102/0116 1951/0440 0053/1101 0140/1303",
        "0532/2138 1350/0117 2139/0538 0025/1251 0107/1457",
        "0639/2154 1518/0040 2121/0634 2359/1346 0031/1600",
        "0929/2150 1728/0121 2052/0830 ----/1553 0151/1739",
        "1212/2148 1753/0318 2028/1028 0157/1649 0437/1748",
        "1321/2204 1704/0416 2023/1133 0327/1612 0605/1707",
        "1402/---- 1634/0612 2235/1247 0615/1606 0847/1736",
        "1315/---- 1616/0716 ----/1217 0733/1617 0921/1825",
    ];
    let (latitude, longitude) = (42.0 + 19.0 / 60.0, -(71.0 + 5.0 / 60.0));
    for (month, row) in table.iter().enumerate() {
        for (pair, day) in row.split(' ').zip([1, 8, 15, 22, 24]) {
            let on = format!("1984-{:02}-{day:02}", month + 1);
            let (rise, set) = pair.split_once('/').unwrap();
            let found = sky(latitude, longitude, "Etc/GMT+5", &on);
            check_minute(found.moon.moonrise, found.starts, rise, &on);
            check_minute(found.moon.moonset, found.starts, set, &on);
        }
    }
}

#[test]
fn days_without_moonrise_or_moonset() {
    // The same table: every such date of the year, and no other.
    let place = Place::new(42.0 + 19.0 / 60.0, -(71.0 + 5.0 / 60.0)).unwrap();
    let zone = Zone::named("Etc/GMT+5").unwrap();
    let year = days(
        &place,
        &zone,
        jiff::civil::date(1984, 1, 1),
        366,
        &Bands::default(),
    )
    .unwrap();
    let without = |what: fn(&Day) -> Option<When>| -> Vec<String> {
        year.iter()
            .filter(|day| what(day).is_none())
            .map(|day| day.date.strftime("%m-%d").to_string())
            .collect()
    };
    assert_eq!(
        without(|day| day.moon.moonrise).join(" "),
        "01-24 02-22 03-22 04-20 05-20 06-20 07-23 08-22 09-20 10-19 11-17 12-15"
    );
    assert_eq!(
        without(|day| day.moon.moonset).join(" "),
        "01-11 02-09 03-09 04-07 05-06 06-05 07-06 08-06 09-04 10-03 11-01 12-01 12-30"
    );
}

#[test]
fn the_moon_that_does_not_set_at_fairbanks() {
    // USNO: N64 48 36, W147 45, 2006, zone 8 hours west; times with azimuths.
    for (on, rise, set, azimuths) in [
        ("2006-06-15", "0256", "0817", (146.0, 218.0)),
        ("2006-06-20", "0146", "1805", (65.0, 306.0)),
        ("2006-06-22", "0111", "2304", (31.0, 351.0)),
        ("2006-06-23", "0013", "----", (6.0, 0.0)),
        ("2006-06-24", "----", "----", (0.0, 0.0)),
        ("2006-06-25", "----", "----", (0.0, 0.0)),
        ("2006-06-26", "----", "----", (0.0, 0.0)),
        ("2006-06-27", "0407", "0302", (8.0, 354.0)),
        ("2006-07-02", "1326", "0110", (93.0, 274.0)),
        ("2006-07-05", "1826", "0036", (138.0, 233.0)),
    ] {
        let found = sky(64.81, -147.75, "Etc/GMT+8", on);
        check_minute(found.moon.moonrise, found.starts, rise, on);
        check_minute(found.moon.moonset, found.starts, set, on);
        for (what, wanted) in [(What::Moonrise, azimuths.0), (What::Moonset, azimuths.1)] {
            for event in found.events.iter().filter(|event| event.what == what) {
                assert!((event.azimuth_deg - wanted).abs() < 0.8, "{on}: {event:?}");
            }
        }
        let up = rise == "----" && set == "----";
        assert_eq!(found.moon.stays == Stays::Up, up, "{on}");
    }
}

#[test]
fn a_moon_up_for_half_an_hour() {
    // 70 N 0 E, 2023-02-19: skyfield's own test has 11:28 and 12:05 UTC.
    let found = sky(70.0, 0.0, "UTC", "2023-02-19");
    check_second(found.moon.moonrise, "2023-02-19T11:28:00Z", 60);
    check_second(found.moon.moonset, "2023-02-19T12:05:00Z", 60);
}

#[test]
fn twilights_over_ohio() {
    // USNO for Defiance, as skyfield's tests quote it.
    let day = sky(41.281_944, -84.362_778, "UTC", "2019-11-08");
    for (what, hhmm) in [
        (What::AstronomicalDawn, "10:42"),
        (What::NauticalDawn, "11:15"),
        (What::CivilDawn, "11:48"),
        (What::Sunrise, "12:17"),
        (What::Sunset, "22:25"),
        (What::CivilDusk, "22:54"),
        (What::NauticalDusk, "23:27"),
        (What::AstronomicalDusk, "23:59"),
    ] {
        let found = day.events.iter().rfind(|event| event.what == what);
        let wanted = format!("2019-11-08T{hhmm}:00Z");
        check_second(found.map(|event| event.at), &wanted, 60);
    }
    // In UTC this date holds two astronomical dusks: the evening before ends at 00:00:17.
    let first = day.sun.astronomical_dusk;
    check_second(first, "2019-11-08T00:00:17Z", 2);
}

#[test]
fn sunrise_of_the_nrel_worked_example() {
    // NREL/TP-560-34302, appendix; transit and seconds' fractions by pvlib 0.16.1.
    let sun = sky(39.742_476, -105.178_6, "Etc/GMT+7", "2003-10-17").sun;
    check_second(sun.sunrise, "2003-10-17T06:12:43-07:00", 2);
    // It works in days of UT: its sunset at 17:20:19 is the one at 00:20:19 UT of that date, which
    // is the evening before.
    let before = sky(39.742_476, -105.178_6, "Etc/GMT+7", "2003-10-16").sun;
    check_second(before.sunset, "2003-10-17T00:20:19Z", 2);
    check_second(sun.solar_noon, "2003-10-17T11:46:05-07:00", 2);
}

#[test]
fn cities_of_2026() {
    // skyfield: dawns, rise, set, dusks and noon, UTC; `-` where there is none.
    type Row = (f64, f64, &'static str, &'static str, [&'static str; 9]);
    let rows: [Row; 9] = [
        (
            51.5074,
            -0.1278,
            "Europe/London",
            "2026-06-21",
            [
                "-",
                "21T01:40:40",
                "21T02:55:20",
                "21T03:43:06",
                "21T20:21:33",
                "21T21:09:19",
                "21T22:23:58",
                "-",
                "21T12:02:20",
            ],
        ),
        (
            51.5074,
            -0.1278,
            "Europe/London",
            "2026-12-21",
            [
                "21T05:59:23",
                "21T06:40:12",
                "21T07:23:24",
                "21T08:03:45",
                "21T15:53:24",
                "21T16:33:44",
                "21T17:16:56",
                "21T17:57:46",
                "21T11:58:34",
            ],
        ),
        (
            34.0522,
            -118.2437,
            "America/Los_Angeles",
            "2026-10-15",
            [
                "15T12:35:00",
                "15T13:04:00",
                "15T13:33:04",
                "15T13:58:17",
                "16T01:18:36",
                "16T01:43:48",
                "16T02:12:51",
                "16T02:41:48",
                "15T19:38:41",
            ],
        ),
        (
            -33.8688,
            151.2093,
            "Australia/Sydney",
            "2026-12-21",
            [
                "20T16:56:15",
                "20T17:35:35",
                "20T18:11:29",
                "20T18:40:39",
                "21T09:05:24",
                "21T09:34:34",
                "21T10:10:28",
                "21T10:49:48",
                "21T01:53:01",
            ],
        ),
        (
            59.9139,
            10.7522,
            "Europe/Oslo",
            "2026-09-23",
            [
                "23T02:37:40",
                "23T03:31:55",
                "23T04:21:50",
                "23T05:03:23",
                "23T17:14:00",
                "23T17:55:21",
                "23T18:44:58",
                "23T19:38:41",
                "23T11:09:22",
            ],
        ),
        (
            -0.1807,
            -78.4678,
            "America/Guayaquil",
            "2026-03-20",
            [
                "20T10:09:20",
                "20T10:33:20",
                "20T10:57:20",
                "20T11:17:59",
                "20T23:24:29",
                "20T23:45:09",
                "21T00:09:09",
                "21T00:33:08",
                "20T17:21:14",
            ],
        ),
        (
            52.52,
            13.405,
            "Europe/Berlin",
            "2026-07-15",
            [
                "-",
                "15T01:04:43",
                "15T02:14:52",
                "15T03:01:34",
                "15T19:22:25",
                "15T20:08:52",
                "15T21:18:11",
                "-",
                "15T11:12:23",
            ],
        ),
        (
            69.6492,
            18.9553,
            "Europe/Oslo",
            "2026-12-21",
            [
                "21T05:28:20",
                "21T06:46:43",
                "21T08:31:15",
                "-",
                "-",
                "21T12:53:10",
                "21T14:37:42",
                "21T15:56:05",
                "21T10:42:13",
            ],
        ),
        (
            69.6492,
            18.9553,
            "Europe/Oslo",
            "2026-06-21",
            ["-", "-", "-", "-", "-", "-", "-", "-", "21T10:45:59"],
        ),
    ];
    for (latitude, longitude, zone, on, wanted) in rows {
        let sun = sky(latitude, longitude, zone, on).sun;
        let found = [
            sun.astronomical_dawn,
            sun.nautical_dawn,
            sun.civil_dawn,
            sun.sunrise,
            sun.sunset,
            sun.civil_dusk,
            sun.nautical_dusk,
            sun.astronomical_dusk,
            sun.solar_noon,
        ];
        for (found, wanted) in found.into_iter().zip(wanted) {
            if wanted == "-" {
                assert_eq!(found, None, "{on} {zone}");
            } else {
                check_second(found, &format!("{}-{wanted}Z", &on[..7]), 2);
            }
        }
    }
}

#[test]
fn polar_day_and_polar_night_say_so() {
    let night = sky(69.6492, 18.9553, "Europe/Oslo", "2026-12-21");
    assert_eq!(night.sun.stays, Stays::Down);
    assert!((night.sun.noon_altitude_deg.unwrap() + 3.088).abs() < 0.002);
    assert_eq!(
        night.moon.stays,
        Stays::Up,
        "skyfield has neither rise nor set, and it is up"
    );
    let summer = sky(69.6492, 18.9553, "Europe/Oslo", "2026-06-21");
    assert_eq!(summer.sun.stays, Stays::Up);
    assert!((summer.sun.noon_altitude_deg.unwrap() - 43.787).abs() < 0.002);
    // At the poles too, where every direction is south or north.
    assert_eq!(sky(90.0, 0.0, "UTC", "2026-06-21").sun.stays, Stays::Up);
    assert_eq!(sky(-90.0, 0.0, "UTC", "2026-06-21").sun.stays, Stays::Down);
}

#[test]
fn moons_of_2026() {
    // skyfield, UTC.
    for (latitude, longitude, zone, on, rise, set) in [
        (
            51.5074,
            -0.1278,
            "Europe/London",
            "2026-12-21",
            "21T13:08:54",
            "21T05:07:05",
        ),
        (
            34.0522,
            -118.2437,
            "America/Los_Angeles",
            "2026-10-15",
            "15T18:59:40",
            "16T04:30:56",
        ),
        (
            -33.8688,
            151.2093,
            "Australia/Sydney",
            "2026-12-21",
            "21T06:05:50",
            "20T15:29:22",
        ),
        (
            52.52,
            13.405,
            "Europe/Berlin",
            "2026-07-15",
            "15T03:55:20",
            "15T20:17:21",
        ),
    ] {
        let moon = sky(latitude, longitude, zone, on).moon;
        check_second(moon.moonrise, &format!("{}-{rise}Z", &on[..7]), 5);
        check_second(moon.moonset, &format!("{}-{set}Z", &on[..7]), 5);
    }
}

#[test]
fn golden_light_over_london() {
    // skyfield: the sun at −4° at 03:14:50 and 20:49:49 UTC, at +6° at 04:37:21 and 19:27:18.
    let found = sky(51.5074, -0.1278, "Europe/London", "2026-06-21");
    let [morning, evening] = found.golden_hour[..] else {
        panic!("{:?}", found.golden_hour)
    };
    check_second(Some(morning.from), "2026-06-21T03:14:50Z", 2);
    check_second(Some(morning.to), "2026-06-21T04:37:21Z", 2);
    check_second(Some(evening.from), "2026-06-21T19:27:18Z", 2);
    check_second(Some(evening.to), "2026-06-21T20:49:49Z", 2);
    assert_eq!(found.blue_hour[0].to, morning.from);
    assert_eq!(found.blue_hour[0].from, found.sun.civil_dawn.unwrap());
    // All night at Reykjavik, over midnight on both sides.
    let north = sky(64.1466, -21.9426, "Atlantic/Reykjavik", "2026-06-21");
    assert_eq!(north.golden_hour[0].from, north.starts);
    assert_eq!(north.golden_hour.last().unwrap().to, north.ends);
}

#[test]
fn a_sunset_after_midnight_and_a_day_with_two() {
    // skyfield: rise 02:55:12, set 00:03:58 of the next day; the evening before belongs to this day.
    let midsummer = sky(64.1466, -21.9426, "Atlantic/Reykjavik", "2026-06-21");
    check_second(midsummer.sun.sunrise, "2026-06-21T02:55:12Z", 5);
    let set = midsummer.sun.sunset.unwrap();
    assert!(set < midsummer.sun.sunrise.unwrap(), "{set}");
    let next = sky(64.1466, -21.9426, "Atlantic/Reykjavik", "2026-06-22");
    check_second(next.sun.sunset, "2026-06-22T00:03:58Z", 5);
    let place = Place::new(64.1466, -21.9426).unwrap();
    let zone = Zone::named("Atlantic/Reykjavik").unwrap();
    let june = days(
        &place,
        &zone,
        jiff::civil::date(2026, 6, 1),
        61,
        &Bands::default(),
    )
    .unwrap();
    let sets = |day: &Day| {
        let set = |event: &&Event| event.what == What::Sunset;
        day.events.iter().filter(set).count()
    };
    // Sunset wanders over midnight in June and back in July: a date without, a date with two.
    assert!(june.iter().any(|day| sets(day) == 0));
    let two: Vec<&Day> = june.iter().filter(|day| sets(day) == 2).collect();
    assert_eq!(two.len(), 1, "as the sunset wanders back over midnight");
    assert!(two[0].sun.sunset.unwrap() < two[0].sun.sunrise.unwrap());
}

#[test]
fn clocks_that_change_change_no_instant() {
    // 23, 25, 24.5 and 23.5 hours; the same instants as in UTC.
    for (latitude, longitude, zone, on, hours) in [
        (41.15, -8.61, "Europe/Lisbon", "2026-03-29", 23.0),
        (41.15, -8.61, "Europe/Lisbon", "2026-10-25", 25.0),
        (-31.55, 159.08, "Australia/Lord_Howe", "2026-04-05", 24.5),
        (-31.55, 159.08, "Australia/Lord_Howe", "2026-10-04", 23.5),
        (22.57, 88.36, "Asia/Kolkata", "2026-10-04", 24.0),
        (47.56, -52.71, "America/St_Johns", "2026-03-08", 23.0),
    ] {
        let found = sky(latitude, longitude, zone, on);
        let lasts = (seconds(found.ends) - seconds(found.starts)) as f64 / 3600.0;
        assert_eq!(lasts, hours, "{zone} {on}");
        assert!(
            found
                .events
                .iter()
                .all(|event| event.at.date() == found.date)
        );
        let mut utc = Vec::new();
        let around = on
            .parse::<crate::Date>()
            .unwrap()
            .saturating_sub(jiff::Span::new().days(1));
        let place = Place::new(latitude, longitude).unwrap();
        let zone = Zone::named("UTC").unwrap();
        for day in days(&place, &zone, around, 3, &Bands::default()).unwrap() {
            utc.extend(day.events);
        }
        utc.retain(|event| (found.starts..found.ends).contains(&event.at));
        let plain = |events: &[Event]| -> Vec<(i64, What)> {
            events
                .iter()
                .map(|event| (seconds(event.at), event.what))
                .collect()
        };
        assert_eq!(plain(&found.events), plain(&utc), "{on}");
    }
    // Sunset in Porto by the clock: an hour later from one day to the next.
    let before = sky(41.15, -8.61, "Europe/Lisbon", "2026-03-28")
        .sun
        .sunset
        .unwrap();
    let after = sky(41.15, -8.61, "Europe/Lisbon", "2026-03-29")
        .sun
        .sunset
        .unwrap();
    assert!(before.to_string().ends_with("+00:00") && after.to_string().ends_with("+01:00"));
}

fn question(on: &str, at: &str) -> Question {
    Question {
        place: Place::new(41.15, -8.61).unwrap(),
        zone: Zone::named("Europe/Lisbon").unwrap(),
        date: on.parse::<crate::Date>().unwrap(),
        at: clock(at).unwrap(),
        horizon: Horizon::default(),
        bearing_deg: None,
        bands: Bands::default(),
    }
}

#[test]
fn times_that_come_twice_or_not_at_all_are_noted() {
    let twice = report(&question("2026-10-25", "01:30")).unwrap();
    assert!(twice.notes[0].says.contains("twice"), "{:?}", twice.notes);
    assert_eq!(twice.at.to_string(), "2026-10-25T01:30:00+01:00");
    let skipped = report(&question("2026-03-29", "01:30")).unwrap();
    assert!(
        skipped.notes[0].says.contains("02:30 is taken"),
        "{:?}",
        skipped.notes
    );
    assert_eq!(skipped.at.to_string(), "2026-03-29T02:30:00+01:00");
    assert!(
        report(&question("2026-06-21", "18:10"))
            .unwrap()
            .notes
            .is_empty()
    );
}

#[test]
fn the_report_has_the_agreed_keys() {
    let night = Question {
        place: Place::new(69.6492, 18.9553).unwrap(),
        zone: Zone::named("Europe/Oslo").unwrap(),
        ..question("2026-12-21", "18:10")
    };
    let value = serde_json::to_value(report(&night).unwrap()).unwrap();
    for key in [
        "sunrise",
        "sunset",
        "solar_noon",
        "civil_dawn",
        "civil_dusk",
        "nautical_dawn",
        "nautical_dusk",
        "astronomical_dawn",
        "astronomical_dusk",
        "altitude_deg",
        "azimuth_deg",
    ] {
        assert!(value["sun"].get(key).is_some(), "sun.{key}");
    }
    for key in [
        "moonrise",
        "moonset",
        "illuminated_fraction",
        "altitude_deg",
        "azimuth_deg",
    ] {
        assert!(value["moon"].get(key).is_some(), "moon.{key}");
    }
    assert!(value["sun"]["sunrise"].is_null() && value["moon"]["moonrise"].is_null());
    assert!(value["shadow"].is_null());
    assert_eq!(value["sun"]["civil_dawn"], "2026-12-21T09:31:15+01:00");
}

#[test]
fn direct_sun_ends_where_walls_stand() {
    let place = Place::new(41.15, -8.61).unwrap();
    let zone = Zone::named("Europe/Lisbon").unwrap();
    let on = jiff::civil::date(2026, 6, 21);
    let sun = sky(41.15, -8.61, "Europe/Lisbon", "2026-06-21").sun;
    let direct = |horizon: &str| direct_sun(&place, &zone, on, &horizon.parse().unwrap()).unwrap();
    // Level: from sunrise to sunset.
    let [level] = direct("")[..] else { panic!() };
    assert_eq!(
        (Some(level.from), Some(level.to)),
        (sun.sunrise, sun.sunset)
    );
    // A pit: never.
    assert!(direct("0:90").is_empty());
    // A wall of 20° all round: the disc's upper edge as seen stands at 20° then.
    let [walled] = direct("0:20")[..] else {
        panic!()
    };
    for at in [walled.from, walled.to] {
        let seen = look(&place, at.at).unwrap().sun.altitude_refracted_deg;
        assert!((seen + 16.0 / 60.0 - 20.0).abs() < 0.005, "{seen}");
    }
    // A tower to the south takes the middle of the day and nothing else.
    let [morning, evening] = direct("0:0,160:0,160:85,200:85,200:0")[..] else {
        panic!()
    };
    for (at, wanted) in [(morning.to, 160.0), (evening.from, 200.0)] {
        let azimuth = look(&place, at.at).unwrap().sun.azimuth_deg;
        assert!((azimuth - wanted).abs() < 0.05, "{azimuth}");
    }
    assert_eq!(Some(morning.from), sun.sunrise);
    // Polar night has none, polar day all of it.
    let north = Place::new(69.6492, 18.9553).unwrap();
    let oslo = Zone::named("Europe/Oslo").unwrap();
    let of = |on: &str| {
        direct_sun(
            &north,
            &oslo,
            on.parse::<crate::Date>().unwrap(),
            &Horizon::default(),
        )
        .unwrap()
    };
    assert!(of("2026-12-21").is_empty());
    let [all] = of("2026-06-21")[..] else {
        panic!()
    };
    assert_eq!(seconds(all.to) - seconds(all.from), 86_400);
}

#[test]
fn shadows_and_streets() {
    let place = Place::new(41.15, -8.61).unwrap();
    let sun = look(&place, "2026-06-21T19:10:00Z".parse().unwrap())
        .unwrap()
        .sun;
    let cast = shadow(&sun).unwrap();
    assert!((cast.azimuth_deg + 180.0 - sun.azimuth_deg).abs() < 1e-9);
    let length = 1.0 / sun.altitude_refracted_deg.to_radians().tan();
    assert!((cast.length_factor - length).abs() < 1e-9);
    let night = look(&place, "2026-06-21T23:30:00Z".parse().unwrap())
        .unwrap()
        .sun;
    assert_eq!(shadow(&night), None);

    // The sun stands near azimuth 293.
    for (street, side, from_line) in [
        (293.0, Side::Ahead, 0.1),
        (113.0, Side::Behind, 0.1),
        (203.0, Side::Right, 89.9),
        (23.0, Side::Left, 89.9),
        (263.0, Side::Ahead, 30.1),
    ] {
        let found = bearing(&sun, street).unwrap();
        assert_eq!(found.light_from, side, "{street}");
        assert!(
            (found.sun_from_line_deg - from_line).abs() < 0.3,
            "{found:?}"
        );
    }
    assert!(bearing(&sun, 361.0).is_err() && bearing(&sun, f64::NAN).is_err());

    let zone = Zone::named("Europe/Lisbon").unwrap();
    let on = jiff::civil::date(2026, 6, 21);
    let found = passings(&place, &zone, on, 180.0).unwrap();
    // A street that runs south: sun from the left in the morning, ahead at noon, right at evening.
    let sides: Vec<Side> = found.iter().map(|one| one.light_from).collect();
    assert_eq!(sides, [Side::Left, Side::Ahead, Side::Right]);
    let noon = sky(41.15, -8.61, "Europe/Lisbon", "2026-06-21")
        .sun
        .solar_noon
        .unwrap();
    assert!((seconds(found[1].at) - seconds(noon)).abs() <= 1);
}
