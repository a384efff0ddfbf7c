//! The waveform as it is drawn: lowest and highest sample per column, at three zooms.

use crate::sound::{Sound, clean};
use serde::{Deserialize, Serialize};

/// Lowest and highest sample of all channels per column, at several zooms, coarse to fine.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Peaks {
    /// The zooms.
    pub zooms: Vec<Zoom>,
}

/// One zoom: column `i` holds the samples from `i / columns_per_s` seconds on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Zoom {
    /// Columns a second.
    pub columns_per_s: u32,
    /// Lowest sample per column, −127 (full scale) to 127.
    pub low: Vec<i8>,
    /// Highest sample per column.
    pub high: Vec<i8>,
}

/// Columns a second of each zoom. The finest shows a beat of 120 a minute in 50 columns.
const COLUMNS_PER_S: [u32; 3] = [4, 20, 100];

/// The peaks of a sound.
pub(crate) fn peaks(sound: &Sound) -> Peaks {
    let len = sound.channels.first().map_or(0, Vec::len);
    let finest = COLUMNS_PER_S[COLUMNS_PER_S.len() - 1];
    let per_column = f64::from(sound.rate_hz) / f64::from(finest);
    let columns = (len as f64 / per_column).ceil() as usize;
    let fine: Vec<(f32, f32)> = (0..columns)
        .map(|i| {
            let a = ((i as f64 * per_column) as usize).min(len);
            let b = (((i + 1) as f64 * per_column) as usize).clamp(a, len);
            sound
                .channels
                .iter()
                .flat_map(|c| &c[a..b])
                .fold((0.0, 0.0), |(low, high), x| {
                    let x = clean(*x);
                    (x.min(low), x.max(high))
                })
        })
        .collect();
    let byte = |x: f32| (x * 127.0).round().clamp(-127.0, 127.0) as i8;
    let zooms = COLUMNS_PER_S
        .iter()
        .map(|&columns_per_s| {
            let group = (finest / columns_per_s) as usize;
            let (low, high) = fine
                .chunks(group)
                .map(|c| {
                    let low = c.iter().map(|x| x.0).fold(0.0, f32::min);
                    let high = c.iter().map(|x| x.1).fold(0.0, f32::max);
                    (byte(low), byte(high))
                })
                .unzip();
            Zoom {
                columns_per_s,
                low,
                high,
            }
        })
        .collect();
    Peaks { zooms }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_zoom_keeps_the_extremes() {
        let mut channel = vec![0.1f32; 44_100 * 3];
        channel[50_000] = 0.8;
        channel[90_000] = -0.6;
        channel[91_000] = f32::NAN;
        let peaks = peaks(&Sound {
            rate_hz: 44_100,
            channels: &[channel],
        });
        assert_eq!(
            peaks.zooms.iter().map(|z| z.low.len()).collect::<Vec<_>>(),
            [12, 60, 300]
        );
        for zoom in &peaks.zooms {
            assert_eq!(zoom.high.iter().max(), Some(&102));
            assert_eq!(zoom.low.iter().min(), Some(&-76));
            let column = (50_000.0 / 44_100.0 * f64::from(zoom.columns_per_s)) as usize;
            assert_eq!(zoom.high[column], 102);
        }
    }
}
