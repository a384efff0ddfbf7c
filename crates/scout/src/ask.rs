//! What nobody has said of a place yet.

use model::{Leave, Place};

/// What is still to ask of `place`, in the order one would ask it there. Each is a word or two for
/// the field that is missing; an empty list means that all of them have been said.
pub fn to_ask(place: &Place) -> Vec<&'static str> {
    let mut ask = Vec::new();
    let mut unless = |said: bool, what: &'static str| {
        if !said {
            ask.push(what);
        }
    };
    unless(place.position_deg.is_some(), "position");
    unless(place.interior.is_some(), "interior or exterior");
    unless(place.public.is_some(), "public or private");
    match place.permission.as_ref().map(|given| given.leave) {
        None | Some(Leave::Unasked) => unless(false, "permission"),
        Some(Leave::Asked) => unless(false, "permission: no answer yet"),
        Some(Leave::Promised) => unless(false, "permission in writing"),
        Some(Leave::Refused) => unless(false, "permission: refused; ask again or leave it"),
        Some(Leave::Granted | Leave::NotNeeded) => {}
    }
    // A public place is open at any time until somebody says otherwise.
    unless(
        !place.access.is_empty() || place.public == Some(true),
        "access hours",
    );
    unless(place.mains.is_some(), "power");
    unless(place.mains_hz.is_some(), "mains frequency of the lamps");
    unless(!place.noise.is_empty(), "noise");
    unless(!place.hazards.is_empty(), "hazards");
    unless(!place.hospital.is_empty(), "nearest hospital");
    // Indoors no sky is seen.
    unless(
        !place.horizon_deg.is_empty() || place.interior == Some(true),
        "horizon",
    );
    ask
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::PlaceId;

    #[test]
    fn what_is_said_is_not_asked() {
        let mut place = Place::new(PlaceId::new("a").unwrap(), "a");
        assert_eq!(
            to_ask(&place),
            [
                "position",
                "interior or exterior",
                "public or private",
                "permission",
                "access hours",
                "power",
                "mains frequency of the lamps",
                "noise",
                "hazards",
                "nearest hospital",
                "horizon",
            ]
        );
        place.interior = Some(true);
        place.public = Some(true);
        place.position_deg = Some([0.0, 1.0]);
        place.hospital = "there".into();
        place.noise = "none".into();
        place.mains_hz = Some(50);
        place.permission = Some(
            serde_json::from_str(r#"{"leave":"promised","who":"the friend who lends it"}"#)
                .unwrap(),
        );
        place.hazards = serde_json::from_str(r#"[{"danger":"water"}]"#).unwrap();
        place.mains = serde_json::from_str(r#"{"volts":230,"amperes":16}"#).unwrap();
        assert_eq!(to_ask(&place), ["permission in writing"]);
    }
}
