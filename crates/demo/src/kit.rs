//! The kit of the demo's night, and what each setup does with it. All invented; the figures are of the
//! kind such things have (common practice).

use model::{
    AirAt, Ambient, Battery, Camera, Card, Charger, Chemistry, ClockTime, Day, DayId, Effect,
    FallsOn, Filter, FrameRate, Holding, Inverter, KitId, KitItem, KitUse, Lens, Light, LightUse,
    Mount, Optics, PlaceId, Readout, Recording, Setup, SetupId, Sort,
};

/// The kit.
pub(crate) fn kit() -> Vec<KitItem> {
    let mut out = camera();
    out.extend(lights_and_power());
    out.extend(carried());
    out.extend(worn_and_thrown());
    out
}

fn camera() -> Vec<KitItem> {
    vec![
        KitItem {
            weight_kg: Some(1.4),
            fed_by: words(&["camera-cell", "usb-c"]),
            camera: Some(Camera {
                sensor_mm: [23.6, 13.3],
                frame: [1920, 1080],
                readout: Readout::Rolling,
                base_iso: vec![800, 3200],
                most_iso: Some(12_800),
                draws_w: Some(9.0),
                recordings: vec![
                    recording("normal", FrameRate::FPS_25, 100.0),
                    recording("double", FrameRate::FPS_50, 200.0),
                ],
                circle_mm: None,
                extra: Default::default(),
            }),
            ..item("camera", "Camera", Sort::Camera)
        },
        KitItem {
            weight_kg: Some(0.5),
            lens: Some(lens(35.0, 1.5, 1.4, 0.3)),
            ..item("lens-35", "35 mm lens", Sort::Lens)
        },
        KitItem {
            weight_kg: Some(0.6),
            lens: Some(lens(50.0, 1.5, 1.4, 0.45)),
            ..item("lens-50", "50 mm lens", Sort::Lens)
        },
        KitItem {
            weight_kg: Some(0.4),
            holding: Holding::Borrowed,
            from: "Noor Abelin".into(),
            back_by: Some("2026-11-23".into()),
            lens: Some(lens(20.0, 2.0, 1.8, 0.25)),
            ..item("lens-20", "20 mm lens", Sort::Lens)
        },
        KitItem {
            weight_kg: Some(0.1),
            filter: Some(Filter {
                stops: 0.3,
                diffusion: true,
                mired: None,
                extra: Default::default(),
            }),
            ..item("mist", "Light diffusion filter", Sort::Filter)
        },
    ]
}

fn lights_and_power() -> Vec<KitItem> {
    vec![
        KitItem {
            weight_kg: Some(2.2),
            fed_by: words(&["barrel", "mains"]),
            light: Some(Light {
                candela: 1100.0,
                full_w: 60.0,
                least_w: Some(8.0),
                least_level: Some(0.01),
                kelvin: Some(3200.0),
                duv: Some(0.001),
                pulses_hz: Some(25_000.0),
                follows_mains: false,
                size_m: Some(0.35),
                hot: false,
                extra: Default::default(),
            }),
            ..item("panel", "Two-colour panel", Sort::Light)
        },
        KitItem {
            weight_kg: Some(0.4),
            fed_by: words(&["mains"]),
            light: Some(Light {
                candela: 110.0,
                full_w: 100.0,
                least_w: Some(100.0),
                least_level: Some(1.0),
                kelvin: Some(2700.0),
                duv: Some(0.0),
                pulses_hz: None,
                follows_mains: true,
                size_m: Some(0.06),
                hot: true,
                extra: Default::default(),
            }),
            ..item("bare-bulb", "Bare bulb on its cord", Sort::Light)
        },
        KitItem {
            count: 2,
            weight_kg: Some(0.8),
            fed_by: words(&["block-plate"]),
            feeds: words(&["d-tap"]),
            battery: Some(battery(98.0, Some(120.0), Some(60.0), false)),
            ..item("block", "Battery block", Sort::Power)
        },
        KitItem {
            count: 4,
            weight_kg: Some(0.1),
            fed_by: words(&["cell-plate"]),
            feeds: words(&["camera-cell"]),
            battery: Some(battery(16.0, Some(30.0), Some(12.0), false)),
            ..item("cell", "Camera battery", Sort::Power)
        },
        KitItem {
            weight_kg: Some(0.9),
            fed_by: words(&["d-tap"]),
            feeds: words(&["mains"]),
            inverter: Some(Inverter {
                efficiency: 0.88,
                idle_w: Some(5.0),
                most_w: 150.0,
                extra: Default::default(),
            }),
            ..item("inverter", "Inverter", Sort::Power)
        },
        KitItem {
            weight_kg: Some(0.5),
            fed_by: words(&["mains"]),
            feeds: words(&["block-plate", "cell-plate"]),
            charger: Some(Charger {
                into_w: 30.0,
                bays: 2,
                efficiency: Some(0.85),
                extra: Default::default(),
            }),
            ..item("charger", "Two-bay charger", Sort::Power)
        },
        KitItem {
            count: 2,
            weight_kg: Some(0.1),
            fed_by: words(&["d-tap"]),
            feeds: words(&["barrel"]),
            ..item("d-tap-lead", "Lead from block to panel", Sort::Adapter)
        },
    ]
}

fn carried() -> Vec<KitItem> {
    vec![
        KitItem {
            count: 2,
            weight_kg: Some(0.02),
            card: Some(Card {
                gigabytes: 128.0,
                reads_mb_s: Some(200.0),
                writes_mb_s: Some(90.0),
                for_copies: false,
                extra: Default::default(),
            }),
            ..item("card", "Card", Sort::Card)
        },
        KitItem {
            count: 2,
            weight_kg: Some(0.1),
            card: Some(Card {
                gigabytes: 1000.0,
                reads_mb_s: Some(400.0),
                writes_mb_s: Some(350.0),
                for_copies: true,
                extra: Default::default(),
            }),
            ..item("drive", "Drive for copies", Sort::Card)
        },
        KitItem {
            weight_kg: Some(1.6),
            holding: Holding::Borrowed,
            from: "Tomé Valadas".into(),
            back_by: Some("2026-11-22".into()),
            draws_w: Some(3.0),
            battery: Some(battery(22.0, Some(15.0), Some(10.0), true)),
            ..item("stabiliser", "Stabiliser", Sort::Support)
        },
        KitItem {
            weight_kg: Some(2.4),
            ..item("tripod", "Tripod", Sort::Support)
        },
        KitItem {
            count: 2,
            weight_kg: Some(1.9),
            ..item("stand", "Light stand", Sort::Support)
        },
        KitItem {
            count: 4,
            weight_kg: Some(4.0),
            holding: Holding::Rented,
            from: "the hire shop at the bridge (invented)".into(),
            cost_minor: Some(1_200),
            back_by: Some("2026-11-21".into()),
            ..item("sandbag", "Sandbag", Sort::Support)
        },
        KitItem {
            weight_kg: Some(1.8),
            draws_w: Some(6.0),
            battery: Some(battery(24.0, Some(20.0), Some(12.0), true)),
            ..item("loudspeaker", "Loudspeaker", Sort::Sound)
        },
        KitItem {
            holding: Holding::Missing,
            ..item("throw-line", "Throw line", Sort::Safety)
        },
        KitItem {
            always: true,
            weight_kg: Some(0.7),
            ..item("first-aid", "First aid, eyewash", Sort::Safety)
        },
        KitItem {
            always: true,
            weight_kg: Some(0.3),
            ..item("rcd", "Plug with residual-current device", Sort::Safety)
        },
        KitItem {
            count: 3,
            weight_kg: Some(0.1),
            holding: Holding::Bought,
            from: "a paint shop (invented)".into(),
            cost_minor: Some(1_050),
            ..item("mask", "Mask and goggles", Sort::Safety)
        },
    ]
}

fn worn_and_thrown() -> Vec<KitItem> {
    vec![
        KitItem {
            states: vec![0],
            weight_kg: Some(1.2),
            ..item("coat", "Newsprint-grey coat", Sort::Wardrobe)
        },
        KitItem {
            states: vec![1],
            weight_kg: Some(1.2),
            holding: Holding::Bought,
            from: "a second-hand shop (invented)".into(),
            cost_minor: Some(1_800),
            ..item("coat-twin", "The same coat, to be powdered", Sort::Wardrobe)
        },
        KitItem {
            count: 12,
            states: vec![1],
            weight_kg: Some(0.25),
            holding: Holding::Bought,
            from: "a shop for festivals (invented)".into(),
            cost_minor: Some(4_800),
            remark: "Sold for throwing at people; the data sheet lies in the bag.".into(),
            ..item("powder", "Bag of powder, four colours", Sort::Prop)
        },
        KitItem {
            holding: Holding::Borrowed,
            from: "Noor Abelin".into(),
            back_by: Some("2026-11-21".into()),
            ..item("car", "Small car", Sort::Vehicle)
        },
    ]
}

/// The day: one evening and night, in no order yet. It is tight: one setup of those that could be left out has
/// to be.
pub(crate) fn days() -> Vec<Day> {
    let (Ok(id), Ok(start)) = (DayId::new("night"), PlaceId::new("stairway")) else {
        return Vec::new();
    };
    let clock = |text: &str| text.parse::<ClockTime>().unwrap_or_default();
    let air = |from: &str, air_c: f64, wind_m_s: f64| AirAt {
        from: clock(from),
        air_c,
        humidity_percent: Some(75.0),
        wind_m_s: Some(wind_m_s),
        extra: Default::default(),
    };
    vec![Day {
        zone: Some("Europe/Lisbon".into()),
        latest_wrap: Some(clock("22:00")),
        start_place: Some(start),
        awake_since: Some(clock("08:30")),
        drive_home_minutes: Some(20),
        air: vec![
            air("16:00", 13.0, 2.0),
            air("19:00", 11.0, 3.0),
            air("21:00", 9.0, 6.0),
        ],
        air_c: Some(11.0),
        ..Day::new(id, "2026-11-20", clock("16:15"))
    }]
}

/// `setup` with when it can be shot, and what it stands on.
pub(crate) fn timed(setup: Setup) -> Setup {
    use model::SkyLight::{BlueHour, GoldenHour, Night};
    let (light_of, rig, relight): (&[_], _, _) = match setup.id.as_str() {
        "stairs-medium" => (&[GoldenHour, BlueHour], None, None),
        "lamps" => (&[BlueHour, Night], None, None),
        "launderette-wide" => (&[], Some("one bulb"), Some(15)),
        "launderette-close" => (&[], Some("one bulb"), Some(6)),
        "drum" | "bulb" => (&[], Some("one bulb"), Some(4)),
        "quay-full" => (&[Night], Some("lamp post"), Some(10)),
        "water" => (&[Night], Some("lamp post"), Some(4)),
        _ => (&[Night], None, None),
    };
    let clock = |text: &str| text.parse::<ClockTime>().unwrap_or_default();
    let stairs = setup.id.as_str() == "stairs-medium";
    let after = match setup.id.as_str() {
        "powder-burst" => SetupId::new("quay-powder").ok(),
        _ => None,
    };
    Setup {
        light_of: light_of.to_vec(),
        rig_group: rig.map(str::to_owned),
        relight_minutes: relight,
        // From dusk into the blue hour, until the tiles go grey.
        hours: if stairs {
            vec![[clock("17:25"), clock("18:00")]]
        } else {
            Vec::new()
        },
        after: after.into_iter().collect(),
        ..setup
    }
}

/// `setup` with its camera, lights and kit.
pub(crate) fn equipped(mut setup: Setup) -> Setup {
    let optics = |lens: &str, subject_m: f64, iso: u32, t_stop: f64| {
        Some(Optics {
            camera: id("camera"),
            lens: Some(id(lens)),
            focal_mm: None,
            t_stop: Some(t_stop),
            iso: Some(iso),
            shutter_deg: Some(180.0),
            subject_m: Some(subject_m),
            room_m: None,
            fed_from: None,
            extra: Default::default(),
        })
    };
    let ambient = |face: Option<f64>, background: f64, kelvin: f64| {
        Some(Ambient {
            face_lux: face,
            background_lux: Some(background),
            kelvin: Some(kelvin),
            duv: None,
            extra: Default::default(),
        })
    };
    let light = |what: &str, falls_on, distance_m, level, from: &str| LightUse {
        light: id(what),
        falls_on,
        distance_m,
        level: Some(level),
        loss_stops: None,
        gel_mired: None,
        fed_from: Some(id(from)),
        extra: Default::default(),
    };
    setup.filters = vec![id("mist")];
    setup.mount = Some(Mount::Tripod);
    setup.kit = vec![used("tripod", None), used("card", None)];
    if setup.purpose == model::Purpose::Performance {
        setup.people = crate::plan::cast();
        setup.kit.push(used("loudspeaker", None));
        setup.timecode = true;
    }
    match setup.id.as_str() {
        "stairs-medium" => {
            setup.optics = optics("lens-50", 2.6, 1600, 2.8);
            setup.ambient = ambient(Some(9.0), 12.0, 9000.0);
            setup.lights = vec![light("panel", FallsOn::Face, 2.6, 0.35, "block")];
            setup.kit = vec![
                used("stabiliser", None),
                used("card", None),
                used("loudspeaker", None),
                used("stand", None),
                used("sandbag", None),
            ];
            setup.mount = Some(Mount::Stabiliser);
            setup.rig_minutes = Some(20);
        }
        "launderette-wide" => {
            setup.optics = optics("lens-20", 4.0, 800, 2.8);
            setup.ambient = ambient(Some(90.0), 60.0, 4000.0);
            setup.lights = vec![
                light("bare-bulb", FallsOn::Face, 1.6, 1.0, "mains"),
                light("panel", FallsOn::Edge, 3.0, 0.5, "mains"),
            ];
            setup.rig_minutes = Some(30);
        }
        "launderette-close" => {
            setup.optics = optics("lens-50", 1.2, 800, 2.8);
            setup.ambient = ambient(Some(70.0), 40.0, 4000.0);
            setup.lights = vec![light("panel", FallsOn::Face, 1.8, 0.15, "mains")];
            setup.rig_minutes = Some(10);
        }
        "quay-full" => {
            setup.optics = optics("lens-35", 4.5, 3200, 2.0);
            setup.ambient = ambient(Some(3.0), 1.5, 2100.0);
            setup.lights = vec![
                light("bare-bulb", FallsOn::Face, 1.8, 1.0, "inverter"),
                light("panel", FallsOn::Edge, 3.5, 0.6, "block"),
            ];
            setup.kit.push(used("stand", None));
            setup.kit.push(used("sandbag", None));
            setup.pitch_kept = true;
            setup.rig_minutes = Some(25);
        }
        "quay-powder" | "powder-burst" => {
            setup.optics = optics("lens-35", 2.8, 1600, 2.8);
            setup.ambient = ambient(Some(3.0), 1.5, 2100.0);
            setup.lights = vec![LightUse {
                loss_stops: Some(1.0),
                ..light("panel", FallsOn::Face, 2.0, 0.9, "block")
            }];
            setup.kit.push(used("powder", Some(3)));
            setup.kit.push(used("mask", Some(3)));
            setup.kit.push(used("stand", None));
            setup.kit.push(used("sandbag", None));
            setup.effects = vec![Effect::Powder];
            setup.people = crate::plan::cast();
            setup.reset_minutes = Some(6);
            setup.rig_minutes = Some(10);
        }
        "drum" => {
            setup.optics = optics("lens-50", 0.8, 800, 2.8);
            setup.ambient = ambient(None, 80.0, 4000.0);
            setup.rig_minutes = Some(5);
        }
        "bulb" => {
            setup.optics = optics("lens-50", 1.0, 800, 2.8);
            setup.ambient = ambient(None, 40.0, 4000.0);
            setup.lights = vec![light("bare-bulb", FallsOn::Background, 1.0, 1.0, "mains")];
            setup.rig_minutes = Some(5);
        }
        "lamps" => {
            setup.optics = optics("lens-50", 12.0, 3200, 1.5);
            setup.ambient = ambient(None, 6.0, 2100.0);
            setup.mount = Some(Mount::Hand);
            setup.rig_minutes = Some(5);
        }
        _ => {
            setup.optics = optics("lens-35", 8.0, 3200, 1.5);
            setup.ambient = ambient(None, 2.0, 2100.0);
            setup.rig_minutes = Some(5);
        }
    }
    setup
}

fn item(name: &str, called: &str, sort: Sort) -> KitItem {
    KitItem {
        name: called.into(),
        sort,
        ..KitItem::new(id(name))
    }
}

fn recording(name: &str, rate: FrameRate, mbit_s: f64) -> Recording {
    Recording {
        name: name.into(),
        rate,
        mbit_s,
        extra: Default::default(),
    }
}

fn lens(focal_mm: f64, t_stop: f64, f_number: f64, close_focus_m: f64) -> Lens {
    Lens {
        focal_mm: [focal_mm; 2],
        t_stop,
        narrowest_t: Some(16.0),
        f_number: Some(f_number),
        close_focus_m: Some(close_focus_m),
        extra: Default::default(),
    }
}

fn battery(wh: f64, most_w: Option<f64>, charge_w: Option<f64>, built_in: bool) -> Battery {
    Battery {
        wh,
        chemistry: Chemistry::LithiumIon,
        usable: None,
        charged: None,
        most_w,
        charge_w,
        built_in,
        extra: Default::default(),
    }
}

fn used(item: &str, count: Option<u32>) -> KitUse {
    KitUse {
        item: id(item),
        count: count.unwrap_or(1),
        fed_from: None,
        extra: Default::default(),
    }
}

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_string()).collect()
}

// The ids are written in this file and tested: each is a fit id.
fn id(text: &str) -> KitId {
    KitId::new(text).unwrap_or_else(|why| unreachable!("{why}"))
}
