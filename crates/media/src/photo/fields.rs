//! Single fields of EXIF as checked numbers and texts.

use super::note::PhotoNote;
use exif::{Exif, In, Tag, Value};
use std::ops::RangeInclusive;

/// A position known no better than this is told, metres: above the usual scatter of a phone under
/// open sky, about 5 to 20 m (common practice).
const COARSE_M: f64 = 30.0;

/// The fields of one photograph, and what was found wrong with them.
pub(super) struct Fields<'a> {
    exif: &'a Exif,
    pub(super) notes: Vec<PhotoNote>,
}

/// A fraction as written.
#[derive(Clone, Copy)]
struct Fraction {
    over: i64,
    under: i64,
}

impl Fraction {
    fn value(self) -> Option<f64> {
        (self.under != 0).then(|| self.over as f64 / self.under as f64)
    }
}

impl std::fmt::Display for Fraction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.under == 1 {
            write!(f, "{}", self.over)
        } else {
            write!(f, "{}/{}", self.over, self.under)
        }
    }
}

impl<'a> Fields<'a> {
    pub(super) fn new(exif: &'a Exif) -> Self {
        Self {
            exif,
            notes: Vec::new(),
        }
    }

    fn value(&self, tag: Tag) -> Option<&'a Value> {
        self.exif
            .get_field(tag, In::PRIMARY)
            .map(|field| &field.value)
    }

    /// A text without what surrounds it; `None` when it is missing or blank.
    pub(super) fn text(&self, tag: Tag) -> Option<String> {
        let Some(Value::Ascii(parts)) = self.value(tag) else {
            return None;
        };
        let text = String::from_utf8_lossy(parts.first()?).into_owned();
        (!text.trim_matches([' ', ':', '\0']).is_empty()).then_some(text)
    }

    /// The first letter of a text, upper-case.
    fn letter(&self, tag: Tag) -> Option<char> {
        let text = self.text(tag)?;
        text.trim().chars().next().map(|c| c.to_ascii_uppercase())
    }

    /// A whole number of flags or a code.
    pub(super) fn flag(&self, tag: Tag) -> Option<u32> {
        self.value(tag)?.get_uint(0)
    }

    /// Numbers as written; `None` when there are none of a kind that fits.
    fn fractions(&self, tag: Tag) -> Option<Vec<Fraction>> {
        let whole = |over: i64| Fraction { over, under: 1 };
        let list: Vec<Fraction> = match self.value(tag)? {
            Value::Rational(list) => list
                .iter()
                .map(|r| Fraction {
                    over: r.num.into(),
                    under: r.denom.into(),
                })
                .collect(),
            Value::SRational(list) => list
                .iter()
                .map(|r| Fraction {
                    over: r.num.into(),
                    under: r.denom.into(),
                })
                .collect(),
            Value::Byte(list) => list.iter().map(|n| whole((*n).into())).collect(),
            Value::Short(list) => list.iter().map(|n| whole((*n).into())).collect(),
            Value::Long(list) => list.iter().map(|n| whole((*n).into())).collect(),
            _ => return None,
        };
        (!list.is_empty()).then_some(list)
    }

    /// A number in `range`; what stands there otherwise is told, except a zero that `zero_is_none`.
    pub(super) fn number(
        &mut self,
        tag: Tag,
        name: &'static str,
        range: RangeInclusive<f64>,
        zero_is_none: bool,
    ) -> Option<f64> {
        self.value(tag)?;
        let Some(first) = self.fractions(tag).and_then(|list| list.first().copied()) else {
            self.notes.push(PhotoNote::Number {
                name,
                met: "of another kind".into(),
            });
            return None;
        };
        let value = first.value();
        if zero_is_none && value == Some(0.0) {
            return None;
        }
        let good = value.filter(|value| range.contains(value));
        if good.is_none() {
            let met = first.to_string();
            self.notes.push(PhotoNote::Number { name, met });
        }
        good
    }

    /// A number of which zero means that it is not known (EXIF 2.32, 4.6.5).
    pub(super) fn positive(
        &mut self,
        tag: Tag,
        name: &'static str,
        range: RangeInclusive<f64>,
    ) -> Option<f64> {
        self.number(tag, name, range, true)
    }

    /// The sensitivity. 65535 in its own field says that it stands in one that holds more
    /// (EXIF 2.32, PhotographicSensitivity).
    pub(super) fn iso(&mut self) -> Option<f64> {
        let full = self.flag(Tag::PhotographicSensitivity) == Some(u32::from(u16::MAX));
        let larger = [
            Tag::RecommendedExposureIndex,
            Tag::StandardOutputSensitivity,
            Tag::ISOSpeed,
        ];
        let larger = larger.into_iter().find(|tag| self.value(*tag).is_some());
        let tag = match larger {
            Some(tag) if full => tag,
            _ => Tag::PhotographicSensitivity,
        };
        self.positive(tag, "sensitivity", 0.1..=1e8)
    }

    /// Latitude and longitude, degrees.
    pub(super) fn position(&mut self) -> Option<[f64; 2]> {
        let latitude = self.value(Tag::GPSLatitude).is_some();
        let longitude = self.value(Tag::GPSLongitude).is_some();
        if !latitude && !longitude {
            return None;
        }
        if !latitude {
            return self.half("its latitude");
        }
        if !longitude {
            return self.half("its longitude");
        }
        let south = match self.letter(Tag::GPSLatitudeRef) {
            Some('N') => false,
            Some('S') => true,
            _ => return self.half("whether it is north or south"),
        };
        let west = match self.letter(Tag::GPSLongitudeRef) {
            Some('E') => false,
            Some('W') => true,
            _ => return self.half("whether it is east or west"),
        };
        let latitude = self.angle(Tag::GPSLatitude, "latitude", south)?;
        let longitude = self.angle(Tag::GPSLongitude, "longitude", west)?;
        if latitude.abs() > 90.0 || longitude.abs() > 180.0 {
            self.notes.push(PhotoNote::Nowhere {
                latitude,
                longitude,
            });
            return None;
        }
        if latitude == 0.0 && longitude == 0.0 {
            self.notes.push(PhotoNote::NoFix);
            return None;
        }
        if self.letter(Tag::GPSStatus) == Some('V') {
            self.notes.push(PhotoNote::OldFix);
        }
        let good_to = self.number(
            Tag::GPSHPositioningError,
            "error of its position",
            0.0..=1e9,
            false,
        );
        if let Some(metres) = good_to.filter(|metres| *metres > COARSE_M) {
            self.notes.push(PhotoNote::Coarse { metres });
        }
        Some([latitude, longitude])
    }

    fn half<T>(&mut self, lacks: &'static str) -> Option<T> {
        self.notes.push(PhotoNote::HalfPosition { lacks });
        None
    }

    /// Degrees, minutes and seconds as degrees, with the sign of its hemisphere.
    fn angle(&mut self, tag: Tag, name: &'static str, negative: bool) -> Option<f64> {
        let parts = self.fractions(tag).unwrap_or_default();
        let Some(degrees) = sexagesimal(&parts) else {
            let parts: Vec<String> = parts.iter().map(Fraction::to_string).collect();
            let met = if parts.is_empty() {
                "of another kind".to_owned()
            } else {
                parts.join(" ")
            };
            self.notes.push(PhotoNote::Number { name, met });
            return None;
        };
        Some(if negative && degrees != 0.0 {
            -degrees
        } else {
            degrees
        })
    }

    /// Hours, minutes and seconds of the satellites, each as a number; `None` when one is none.
    pub(super) fn three(&self, tag: Tag) -> Option<[f64; 3]> {
        let parts = self.fractions(tag)?;
        let [a, b, c] = parts[..] else { return None };
        Some([a.value()?, b.value()?, c.value()?])
    }

    /// Metres above the sea.
    pub(super) fn altitude(&mut self) -> Option<f64> {
        // 1 and 3 count below (EXIF 3.0 tells the sea from the ellipsoid; they differ by up to 100 m).
        let below = matches!(self.flag(Tag::GPSAltitudeRef), Some(1 | 3));
        let metres = self.number(Tag::GPSAltitude, "altitude", 0.0..=12_000.0, false)?;
        Some(if below && metres != 0.0 {
            -metres
        } else {
            metres
        })
    }

    /// Which way, 0 to below 360 degrees, and whether from magnetic north.
    pub(super) fn bearing(&mut self) -> (Option<f64>, bool) {
        let Some(degrees) = self.number(Tag::GPSImgDirection, "bearing", 0.0..=360.0, false) else {
            return (None, false);
        };
        let magnetic = match self.letter(Tag::GPSImgDirectionRef) {
            Some('T') => false,
            Some('M') => {
                self.notes.push(PhotoNote::Magnetic);
                true
            }
            _ => {
                self.notes.push(PhotoNote::WhichNorth);
                false
            }
        };
        (Some(if degrees == 360.0 { 0.0 } else { degrees }), magnetic)
    }
}

/// One to three fractions as degrees, worked out in whole numbers, so that the result is the nearest
/// float to what is written. `None` for a fraction over zero and for minutes or seconds above 60.
fn sexagesimal(parts: &[Fraction]) -> Option<f64> {
    if parts.is_empty() || parts.len() > 3 {
        return None;
    }
    let mut over: u128 = 0;
    let mut under: u128 = 1;
    for (part, places) in parts.iter().zip([1u128, 60, 3600]) {
        let top = u128::from(u32::try_from(part.over).ok()?);
        let bottom = u128::from(u32::try_from(part.under).ok()?);
        if bottom == 0 || (places > 1 && top > 60 * bottom) {
            return None;
        }
        let bottom = bottom * places;
        // At most 2^32 · 60 · 2^32 · 3600 · 2^32: below 2^114.
        over = over * bottom + top * under;
        under *= bottom;
        let common = divisor(over, under);
        over /= common;
        under /= common;
    }
    Some(over as f64 / under as f64)
}

fn divisor(mut a: u128, mut b: u128) -> u128 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}
