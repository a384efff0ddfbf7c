//! Distances and middles on the globe.
//!
//! Worked out with unit vectors, so that the poles and the antimeridian are places like any other.

/// The earth's mean radius, metres (IUGG).
pub const EARTH_RADIUS_M: f64 = 6_371_008.8;

/// A point on the unit sphere.
pub(crate) type Point = [f64; 3];

/// The point at latitude and longitude, degrees.
pub(crate) fn point([latitude, longitude]: [f64; 2]) -> Point {
    let (latitude, longitude) = (latitude.to_radians(), longitude.to_radians());
    [
        latitude.cos() * longitude.cos(),
        latitude.cos() * longitude.sin(),
        latitude.sin(),
    ]
}

/// Great-circle distance, metres: the arc over the chord, which is the haversine formula in vectors.
pub(crate) fn between(a: &Point, b: &Point) -> f64 {
    let chord = (0..3).map(|n| (a[n] - b[n]).powi(2)).sum::<f64>().sqrt();
    2.0 * EARTH_RADIUS_M * (chord / 2.0).min(1.0).asin()
}

/// Great-circle distance between two positions (latitude and longitude, degrees), metres. On a
/// sphere: within 0.6 % of the ellipsoid's.
pub fn distance_m(a: [f64; 2], b: [f64; 2]) -> f64 {
    between(&point(a), &point(b))
}

/// The middle of some positions: where the mean of their vectors comes out of the globe. `None` for
/// none, and for positions that balance around the earth's centre. One position is its own middle,
/// to the bit; others are rounded to 1e-7 degrees, a centimetre.
pub fn middle(positions: &[[f64; 2]]) -> Option<[f64; 2]> {
    if let [only] = positions {
        return Some(*only);
    }
    let mut sum = [0.0; 3];
    for position in positions {
        let at = point(*position);
        (0..3).for_each(|n| sum[n] += at[n]);
    }
    let length = sum.iter().map(|n| n * n).sum::<f64>().sqrt();
    if length < 1e-9 * positions.len().max(1) as f64 {
        return None;
    }
    let round = |degrees: f64| (degrees * 1e7).round() / 1e7 + 0.0;
    Some([
        round(sum[2].atan2(sum[0].hypot(sum[1])).to_degrees()),
        round(sum[1].atan2(sum[0]).to_degrees()),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    // Geodesics on WGS 84 by geographiclib, and the haversine with this radius, computed by it.
    #[test]
    fn distances_are_the_references() {
        for (a, b, haversine, geodesic) in [
            (
                [51.5074, -0.1278],
                [48.8566, 2.3522],
                343_556.5,
                343_923.120_1,
            ),
            (
                [40.7128, -74.0060],
                [34.0522, -118.2437],
                3_935_751.7,
                3_944_422.231_5,
            ),
            ([51.5, -0.12], [51.501, -0.121], 131.0, 131.1495),
            ([0.0, 0.0], [0.0, 1.0], 111_195.1, 111_319.490_8),
            ([0.0, 0.0], [1.0, 0.0], 111_195.1, 110_574.388_6),
            ([90.0, 0.0], [-90.0, 0.0], 20_015_114.4, 20_003_931.458_6),
        ] {
            let ours = distance_m(a, b);
            assert!((ours - haversine).abs() < 0.06, "{ours} {haversine}");
            assert!((ours / geodesic - 1.0).abs() < 0.006, "{ours} {geodesic}");
        }
    }

    #[test]
    fn the_antimeridian_and_the_poles_are_places() {
        // 0.0002° of longitude at the equator: 22.24 m, across the line too.
        assert!((distance_m([0.0, 179.9999], [0.0, -179.9999]) - 22.239).abs() < 0.001);
        assert!((distance_m([89.9999, 0.0], [89.9999, 180.0]) - 22.239).abs() < 0.001);
        assert_eq!(distance_m([90.0, 12.0], [90.0, 12.0]), 0.0);
        assert_eq!(
            middle(&[[10.0, 179.9], [10.0, -179.9]]).unwrap()[1].abs(),
            180.0
        );
        assert_eq!(middle(&[[89.0, 0.0], [89.0, 180.0]]).unwrap()[0], 90.0);
        assert_eq!(middle(&[[41.1405, -8.6115]]), Some([41.1405, -8.6115]));
        assert_eq!(middle(&[[0.0, 0.0], [0.0, 180.0]]), None);
        assert_eq!(middle(&[]), None);
    }
}
