//! Check values of plain correlation and GCC-PHAT, computed with numpy and scipy 1.17.1
//! (`scipy.signal.correlate`, `numpy.fft`): the same seeded noise, lags and peaks.

mod common;

use common::Lcg;
use sync::correlation::{Weighting, correlate};

fn noise(seed: u32) -> Vec<f32> {
    let mut dice = Lcg(seed);
    (0..32_000).map(|_| dice.value()).collect()
}

fn late() -> Vec<f32> {
    let (x, other) = (noise(1), noise(2));
    (0..32_000)
        .map(|i| 0.5 * other[i] + if i >= 1234 { 0.5 * x[i - 1234] } else { 0.0 })
        .collect()
}

#[test]
fn the_generator_gives_the_stated_values() {
    let expected = [-0.527_088_95, -0.261_458_65, 0.008_484_06, 0.409_766_53];
    for (got, want) in noise(1).iter().zip(expected) {
        assert!((got - want).abs() < 1e-7);
    }
}

#[test]
fn a_delay_in_noise() {
    let peak = correlate(&noise(1), &late(), Weighting::Plain).unwrap();
    assert_eq!(peak.lag.round(), 1234.0);
    assert!((peak.lag - 1234.0).abs() < 0.05, "{peak:?}");
    assert!((peak.value - 0.6871).abs() < 1e-3, "{peak:?}");
    assert!((peak.value / peak.next - 29.0).abs() < 0.5, "{peak:?}");
}

#[test]
fn a_delay_in_noise_by_phase_alone() {
    let peak = correlate(&noise(1), &late(), Weighting::Phase).unwrap();
    assert_eq!(peak.lag.round(), 1234.0);
    assert!((peak.value - 0.5813).abs() < 1e-3, "{peak:?}");
}

#[test]
fn a_start_cut_off() {
    let x = noise(1);
    let peak = correlate(&x, &x[777..], Weighting::Plain).unwrap();
    assert!((peak.lag + 777.0).abs() < 1e-3, "{peak:?}");
}

#[test]
fn a_quarter_of_a_sample() {
    // The shift is made in the spectrum, circularly, so the check's own wrap costs a little.
    let x = noise(1);
    let mut planner = realfft::RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(32_000);
    let inverse = planner.plan_fft_inverse(32_000);
    let mut wide: Vec<f64> = x.iter().map(|v| f64::from(*v)).collect();
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut wide, &mut spectrum).unwrap();
    for (k, c) in spectrum.iter_mut().enumerate() {
        let turn = -std::f64::consts::TAU * k as f64 * 10.25 / 32_000.0;
        *c *= realfft::num_complex::Complex::from_polar(1.0, turn);
    }
    spectrum[0].im = 0.0;
    spectrum[16_000].im = 0.0;
    inverse.process(&mut spectrum, &mut wide).unwrap();
    let y: Vec<f32> = wide.iter().map(|v| (v / 32_000.0) as f32).collect();
    let peak = correlate(&x, &y, Weighting::Plain).unwrap();
    assert!((peak.lag - 10.25).abs() < 0.01, "{peak:?}");
}

#[test]
fn unrelated_noise_has_no_peak() {
    let peak = correlate(&noise(1), &noise(3), Weighting::Plain).unwrap();
    assert!((peak.value - 0.0214).abs() < 2e-3, "{peak:?}");
    assert!(correlate(&noise(1), &[0.0; 100], Weighting::Plain).is_none());
    assert!(correlate(&[], &noise(1), Weighting::Phase).is_none());
}
