//! What closes the gap between an exposure and its target, each change alone.
//!
//! A gap is in stops, positive when there is more light than wanted. The change given closes it
//! exactly; where the kit's limits or a camera's steps do not allow it, the nearest that they do
//! allow stands beside it with what it leaves.

use crate::error::{Error, ISO, LOSS_STOPS, RATE_FPS, SHUTTER_DEG, T_STOP};
use crate::exposure::Taking;
use crate::flicker;
use crate::light::{Beam, stops_density};
use model::KitId;
use serde::Serialize;

/// One thing set to another value.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum Change {
    /// Exposure index.
    Iso {
        /// ISO.
        iso: f64,
    },
    /// T-stop; depth of field goes with it.
    TStop {
        /// T-stop.
        t_stop: f64,
    },
    /// Shutter angle; blur goes with it.
    Shutter {
        /// Degrees of 360.
        deg: f64,
    },
    /// The camera's rate; speed on screen and playback go with it.
    Rate {
        /// Frames a second.
        fps: f64,
    },
    /// All filters together.
    Filters {
        /// Stops that they take.
        stops: f64,
        /// The same as optical density.
        density: f64,
    },
    /// A light moved.
    Distance {
        /// Which light of the kit.
        light: KitId,
        /// Which of the setup's lights, counted from 0.
        nth: usize,
        /// How far from the subject, metres.
        distance_m: f64,
    },
    /// A light dimmed or turned up.
    Level {
        /// Which light of the kit.
        light: KitId,
        /// Which of the setup's lights, counted from 0.
        nth: usize,
        /// Share of full.
        level: f64,
    },
}

/// A change that closes a gap by itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Closing {
    /// The change that closes it exactly.
    #[serde(flatten)]
    pub change: Change,
    /// Whether camera, lens and lights allow it.
    pub within: bool,
    /// For a shutter under lamps on mains: whether that angle sees whole pulses.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flicker_safe: Option<bool>,
    /// The nearest that the limits and usual steps allow, where that is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nearest: Option<Nearest>,
}

/// The nearest allowed change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nearest {
    /// The change.
    #[serde(flatten)]
    pub change: Change,
    /// The gap it leaves, stops; positive is over.
    pub leaves_stops: f64,
}

/// What camera and lens can do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reach {
    /// Sensitivities that the camera is cleanest at.
    pub base_iso: Vec<u32>,
    /// The least sensitivity it has.
    pub least_iso: Option<f64>,
    /// The greatest sensitivity the maker will use.
    pub most_iso: Option<u32>,
    /// Widest T-stop.
    pub widest_t: Option<f64>,
    /// Narrowest T-stop.
    pub narrowest_t: Option<f64>,
    /// The narrowest shutter angle worth proposing, degrees.
    pub least_shutter_deg: Option<f64>,
    /// The rates it has, frames a second; any when empty.
    pub rates_fps: Vec<f64>,
    /// Mains of the lamps in the picture, hertz.
    pub mains_hz: Option<u32>,
}

/// A light among those on a subject.
#[derive(Clone, Debug, PartialEq)]
pub struct Lamp {
    /// Which light of the kit.
    pub light: KitId,
    /// Which of the setup's lights, counted from 0.
    pub nth: usize,
    /// How it is set.
    pub beam: Beam,
    /// Lowest level it dims to.
    pub least_level: f64,
    /// The nearest it may stand, metres, unless it stands nearer already.
    pub least_distance_m: f64,
}

/// What camera, lens and filters can do about a gap of `gap_stops`, each alone.
///
/// # Errors
/// [`Error::OutOfRange`] when `taking` holds a figure outside its limits.
pub fn by_camera(taking: &Taking, gap_stops: f64, reach: &Reach) -> Result<Vec<Closing>, Error> {
    taking.correct_lux()?;
    let mut closings = vec![
        iso(taking.iso * (-gap_stops).exp2(), reach),
        t_stop(taking.t_stop * (gap_stops / 2.0).exp2(), reach),
        shutter(taking, gap_stops, reach)?,
        rate(taking.rate.fps() * gap_stops.exp2(), &reach.rates_fps),
    ];
    if gap_stops > 0.0 || taking.filter_stops > 0.0 {
        closings.push(filters(taking.filter_stops + gap_stops));
    }
    Ok(closings)
}

/// What `lamp` can do about a gap of `gap_stops` where `total_lux` fall on the subject, of which
/// it gives its part. Nothing when the others alone are too much.
///
/// # Errors
/// [`Error::OutOfRange`] when the lamp holds a figure outside its limits.
pub fn by_lamp(lamp: &Lamp, total_lux: f64, gap_stops: f64) -> Result<Vec<Closing>, Error> {
    let own = lamp.beam.lux()?;
    let wanted_total = total_lux * (-gap_stops).exp2();
    let wanted = wanted_total - (total_lux - own);
    // A lamp may not have to give less than a thousandth of what is wanted: then it is off.
    if wanted <= wanted_total * 1e-3 {
        return Ok(Vec::new());
    }
    // The gap that is left when it gives this many times what is wanted of it.
    let leaves = |times: f64| ((wanted_total - wanted + wanted * times) / wanted_total).log2();
    let mut closings = Vec::new();
    let (light, nth) = (&lamp.light, lamp.nth);
    if lamp.beam.level > 0.0 {
        let distance = lamp.beam.distance_for(wanted)?;
        let least = lamp.least_distance_m.clamp(0.01, 10_000.0);
        let held = distance.clamp(least.min(lamp.beam.distance_m), 10_000.0);
        let left = leaves((distance / held).powi(2));
        closings.push(held_at(distance, held, left, |distance_m| {
            Change::Distance {
                light: light.clone(),
                nth,
                distance_m,
            }
        }));
    }
    let level = lamp.beam.level_for(wanted)?;
    let held = level.clamp(lamp.least_level.clamp(0.0, 1.0), 1.0);
    closings.push(held_at(level, held, leaves(held / level), |level| {
        Change::Level {
            light: light.clone(),
            nth,
            level,
        }
    }));
    Ok(closings)
}

/// A change to `value`, and the nearest that is allowed, which leaves so many stops, where that is another.
fn held_at(value: f64, held: f64, leaves_stops: f64, change: impl Fn(f64) -> Change) -> Closing {
    Closing {
        change: change(value),
        within: value == held,
        flicker_safe: None,
        nearest: (value != held).then(|| Nearest {
            change: change(held),
            leaves_stops,
        }),
    }
}

fn iso(iso: f64, reach: &Reach) -> Closing {
    let least = reach.least_iso.unwrap_or(0.0);
    let most = reach.most_iso.map_or(f64::INFINITY, f64::from);
    let within = (least..=most).contains(&iso) && ISO.check(iso).is_ok();
    let limit = match iso > most {
        true => Some(most),
        false => (iso < least).then_some(least),
    };
    let steps = reach.base_iso.iter().map(|base| f64::from(*base));
    let steps = steps.filter(|base| *base > 0.0 && *base <= most);
    Closing {
        change: Change::Iso { iso },
        within,
        flicker_safe: None,
        nearest: nearest(iso, steps.chain(limit), 1.0, |iso| Change::Iso { iso }),
    }
}

fn t_stop(t_stop: f64, reach: &Reach) -> Closing {
    let (least, most) = (reach.widest_t, reach.narrowest_t);
    let within = T_STOP.check(t_stop).is_ok()
        && least.is_none_or(|least| t_stop >= least * (1.0 - 1e-9))
        && most.is_none_or(|most| t_stop <= most * (1.0 + 1e-9));
    let limits = least.into_iter().chain(most).filter(|t| *t > 0.0);
    Closing {
        change: Change::TStop { t_stop },
        within,
        flicker_safe: None,
        nearest: if within {
            None
        } else {
            nearest(t_stop, limits, -2.0, |t_stop| Change::TStop { t_stop })
        },
    }
}

fn shutter(taking: &Taking, gap_stops: f64, reach: &Reach) -> Result<Closing, Error> {
    let deg = taking.shutter_deg * (-gap_stops).exp2();
    // An angle that is narrower already is left to its maker.
    let least = reach
        .least_shutter_deg
        .map_or(0.1, |least| least.clamp(0.1, 360.0).min(taking.shutter_deg));
    let within = SHUTTER_DEG.check(deg).is_ok() && deg >= least;
    let held = deg.clamp(least, 360.0);
    let pulses = reach.mains_hz.map(flicker::mains_pulses);
    let flicker_safe = match pulses {
        Some(hz) if within => Some(flicker::is_safe(flicker::pulses_seen(
            deg,
            taking.rate,
            f64::from(hz),
        )?)),
        _ => None,
    };
    let safe = match pulses {
        Some(hz) if flicker_safe != Some(true) => flicker::nearest_safe(held, taking.rate, hz)?,
        _ => None,
    };
    // At some rates no angle is safe; what the shutter can do is told all the same.
    let other = safe
        .map(|angle| angle.deg.value())
        .or_else(|| (!within).then_some(held));
    Ok(Closing {
        change: Change::Shutter { deg },
        within,
        flicker_safe,
        nearest: nearest(deg, other.into_iter(), 1.0, |deg| Change::Shutter { deg }),
    })
}

fn rate(fps: f64, rates: &[f64]) -> Closing {
    let is_good = |fps: &f64| RATE_FPS.check(*fps).is_ok();
    let good = || rates.iter().copied().filter(is_good);
    let [slowest, fastest] = [good().fold(1000.0, f64::min), good().fold(1.0, f64::max)];
    Closing {
        change: Change::Rate { fps },
        within: RATE_FPS.check(fps).is_ok()
            && (rates.is_empty() || (slowest..=fastest).contains(&fps)),
        flicker_safe: None,
        nearest: nearest(fps, good(), -1.0, |fps| Change::Rate { fps }),
    }
}

fn filters(stops: f64) -> Closing {
    let change = |stops| Change::Filters {
        stops,
        density: stops_density(stops),
    };
    let whole = stops.round().clamp(0.0, 30.0);
    Closing {
        change: change(stops),
        within: LOSS_STOPS.check(stops).is_ok(),
        flicker_safe: None,
        nearest: (whole != stops).then(|| Nearest {
            change: change(whole),
            leaves_stops: stops - whole,
        }),
    }
}

/// The one of `others` that lies nearest to `value` in stops, when none of them is it; a value twice
/// as large gives `stops` more light.
fn nearest(
    value: f64,
    others: impl Iterator<Item = f64>,
    stops: f64,
    change: impl Fn(f64) -> Change,
) -> Option<Nearest> {
    let leaves = |other: f64| stops * (other / value).log2();
    let best = others.min_by(|a, b| leaves(*a).abs().total_cmp(&leaves(*b).abs()))?;
    ((best / value - 1.0).abs() > 1e-9).then(|| Nearest {
        change: change(best),
        leaves_stops: leaves(best),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::FrameRate;
    use proptest::prelude::*;

    fn taking() -> Taking {
        Taking {
            iso: 800.0,
            t_stop: 2.8,
            shutter_deg: 172.8,
            rate: FrameRate::FPS_24,
            filter_stops: 0.5,
            constant_c: 250.0,
        }
    }

    /// `taking` with a camera's change made, rates to the millionth.
    fn with(taking: &Taking, change: &Change) -> Taking {
        let mut taking = *taking;
        match change {
            Change::Iso { iso } => taking.iso = *iso,
            Change::TStop { t_stop } => taking.t_stop = *t_stop,
            Change::Shutter { deg } => taking.shutter_deg = *deg,
            Change::Rate { fps } => {
                taking.rate = FrameRate::new((fps * 1e6).round() as u32, 1_000_000).unwrap();
            }
            Change::Filters { stops, .. } => taking.filter_stops = *stops,
            Change::Distance { .. } | Change::Level { .. } => unreachable!("no camera's"),
        }
        taking
    }

    fn find(closings: &[Closing], like: fn(&Change) -> bool) -> Closing {
        closings.iter().find(|c| like(&c.change)).unwrap().clone()
    }

    #[test]
    fn where_no_angle_is_safe_the_widest_is_told() {
        // At 120 frames a second a pulse of 50 Hz mains outlasts the frame.
        let reach = Reach {
            mains_hz: Some(50),
            ..Reach::default()
        };
        let fast = Taking {
            rate: FrameRate::new(120, 1).unwrap(),
            ..taking()
        };
        let closings = by_camera(&fast, -4.0, &reach).unwrap();
        let shutter = find(&closings, |c| matches!(c, Change::Shutter { .. }));
        let near = shutter.nearest.unwrap();
        assert_eq!(near.change, Change::Shutter { deg: 360.0 });
        // Formula: 4 − log₂(360/172.8) stops are left.
        assert!((near.leaves_stops + 4.0 - 1.0589).abs() < 1e-4);
    }

    #[test]
    fn limits_are_kept_and_told() {
        let reach = Reach {
            base_iso: vec![800, 4000],
            most_iso: Some(6400),
            widest_t: Some(1.5),
            narrowest_t: Some(16.0),
            mains_hz: Some(50),
            rates_fps: vec![12.0, 24.0, 25.0],
            ..Reach::default()
        };
        let closings = by_camera(&taking(), -4.0, &reach).unwrap();
        let iso = find(&closings, |c| matches!(c, Change::Iso { .. }));
        assert!(!iso.within);
        let near = iso.nearest.unwrap();
        assert_eq!(near.change, Change::Iso { iso: 6400.0 });
        assert!((near.leaves_stops + 1.0).abs() < 1e-9);
        let t = find(&closings, |c| matches!(c, Change::TStop { .. }));
        assert!(!t.within);
        // Formula: 2 log₂(2.8/1.5) = 1.8009 stops of the four.
        assert!((t.nearest.unwrap().leaves_stops + 4.0 - 1.8009).abs() < 1e-4);
        let shutter = find(&closings, |c| matches!(c, Change::Shutter { .. }));
        assert!(!shutter.within);
        assert_eq!(
            shutter.nearest.unwrap().change,
            Change::Shutter { deg: 345.6 }
        );
        // 1.5 frames a second would do it; the slowest is 12.
        let rate = find(&closings, |c| matches!(c, Change::Rate { .. }));
        assert!(!rate.within);
        let near = rate.nearest.unwrap();
        assert_eq!(near.change, Change::Rate { fps: 12.0 });
        assert!((near.leaves_stops + 3.0).abs() < 1e-9);
        // Half a stop of filters can't give four stops.
        let filters = find(&closings, |c| matches!(c, Change::Filters { .. }));
        assert!(!filters.within);
        assert!((filters.nearest.unwrap().leaves_stops + 3.5).abs() < 1e-9);
    }

    #[test]
    fn a_stop_at_50_hz_by_shutter() {
        let reach = Reach {
            mains_hz: Some(50),
            ..Reach::default()
        };
        let closings = by_camera(&taking(), -1.0, &reach).unwrap();
        let shutter = find(&closings, |c| matches!(c, Change::Shutter { .. }));
        assert_eq!(shutter.change, Change::Shutter { deg: 345.6 });
        assert_eq!(
            (shutter.within, shutter.flicker_safe, shutter.nearest),
            (true, Some(true), None)
        );
        let closings = by_camera(&taking(), -0.5, &reach).unwrap();
        let shutter = find(&closings, |c| matches!(c, Change::Shutter { .. }));
        assert_eq!(shutter.flicker_safe, Some(false));
        assert_eq!(
            shutter.nearest.unwrap().change,
            Change::Shutter { deg: 259.2 }
        );
    }

    #[test]
    fn a_lamp_that_is_not_enough_or_not_needed() {
        let lamp = Lamp {
            light: KitId::new("key").unwrap(),
            nth: 0,
            beam: Beam {
                candela: 400.0,
                distance_m: 2.0,
                level: 0.5,
                loss_stops: 0.0,
            },
            least_level: 0.1,
            least_distance_m: 1.0,
        };
        // 50 lux of its own, 50 others; two stops under: 400 wanted, 350 from it; full gives 100.
        let got = by_lamp(&lamp, 100.0, -2.0).unwrap();
        // 350 lux of 200 cd are had from 0.756 m; at a metre it gives 200, with the others 250.
        assert!(!got[0].within && !got[1].within);
        let near = got[0].nearest.clone().unwrap();
        assert!((near.leaves_stops - (250.0f64 / 400.0).log2()).abs() < 1e-9);
        let near_already = Lamp {
            beam: Beam {
                distance_m: 0.9,
                ..lamp.beam
            },
            ..lamp.clone()
        };
        // One that stands nearer already may stay near: 0.2 stops less are had from just under a metre.
        let got_near = by_lamp(&near_already, 296.9, 0.2).unwrap();
        assert!(got_near[0].within);
        let near = got[1].nearest.clone().unwrap();
        assert!((near.leaves_stops - (150.0f64 / 400.0).log2()).abs() < 1e-9);
        // Two stops over: the others alone give too much.
        assert_eq!(by_lamp(&lamp, 100.0, 2.0).unwrap(), []);
        let broken = Lamp {
            beam: Beam {
                candela: 0.0,
                ..lamp.beam
            },
            ..lamp
        };
        assert!(by_lamp(&broken, 100.0, -2.0).is_err());
    }

    proptest! {
        #[test]
        fn every_camera_change_closes_the_gap(gap in -4.0f64..4.0, filter in 0.0f64..8.0) {
            let taking = Taking { filter_stops: filter, shutter_deg: 20.0, ..taking() };
            // The light at which the gap is what it is said to be.
            let lux = taking.correct_lux().unwrap() * gap.exp2();
            let reach = Reach { base_iso: vec![100, 800], rates_fps: vec![18.0, 24.0, 60.0], ..Reach::default() };
            for closing in by_camera(&taking, gap, &reach).unwrap() {
                if closing.within {
                    prop_assert!(with(&taking, &closing.change).stops(lux).unwrap().abs() < 1e-5, "{:?}", closing);
                }
                if let Some(near) = closing.nearest {
                    let left = with(&taking, &near.change).stops(lux).unwrap();
                    prop_assert!((left - near.leaves_stops).abs() < 1e-5, "{:?} {}", near, left);
                }
            }
        }

        #[test]
        fn every_lamp_change_closes_the_gap(candela in 10.0f64..1e5, distance in 0.3f64..20.0, level in 0.05f64..=1.0, other in 0.0f64..500.0, gap in -4.0f64..4.0) {
            let beam = Beam { candela, distance_m: distance, level, loss_stops: 0.5 };
            let lamp = Lamp { light: KitId::new("key").unwrap(), nth: 0, beam, least_level: 0.0, least_distance_m: 0.01 };
            let total = beam.lux().unwrap() + other;
            for closing in by_lamp(&lamp, total, gap).unwrap() {
                let changed = match closing.change {
                    Change::Distance { distance_m, .. } => Beam { distance_m, ..beam },
                    Change::Level { level, .. } => Beam { level, ..beam },
                    _ => unreachable!("no lamp's"),
                };
                if closing.within {
                    let after = (changed.lux().unwrap() + other) / total;
                    prop_assert!((after.log2() + gap).abs() < 1e-6);
                }
            }
        }
    }
}
