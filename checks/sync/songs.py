"""Seeded songs for the sync checks: drums, bass, chords and a formant voice, all invented.

Every song made here uses the same drum samples, so that "other music of the same tempo and key" is as
close to the song as a producer's own library makes it.
"""
import numpy as np
from scipy.signal import butter, lfilter, sosfilt

RATE = 44100


def kit(seed=7):
    """Kick, snare and hat, each one fixed sample."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(0.25 * RATE)) / RATE
    kick = np.sin(2 * np.pi * (45 * t + 30 * (1 - np.exp(-t * 30)) / 3)) * np.exp(-t * 14)
    kick[:60] += rng.normal(0, 0.5, 60) * np.linspace(1, 0, 60)
    snare = rng.normal(0, 0.5, len(t)) * np.exp(-t * 18) + 0.4 * np.sin(2 * np.pi * 190 * t) * np.exp(-t * 25)
    th = t[: int(0.06 * RATE)]
    hat = np.diff(rng.normal(0, 0.4, len(th) + 1)) * np.exp(-th * 70)
    return kick, snare, hat


def _add(out, at, sound, gain=1.0):
    at = int(at)
    end = min(len(out), at + len(sound))
    if at < len(out):
        out[at:end] += gain * sound[: end - at]


def _saw(freq, count, rng, voices=3, detune=0.004):
    t = np.arange(count) / RATE
    out = np.zeros(count)
    for _ in range(voices):
        f = freq * (1 + rng.uniform(-detune, detune))
        out += 2 * ((f * t + rng.random()) % 1.0) - 1
    return out / voices


def _adsr(count, attack=0.01, release=0.05):
    env = np.ones(count)
    a, r = min(count // 2, int(attack * RATE)), min(count // 2, int(release * RATE))
    env[:a] = np.linspace(0, 1, a)
    env[count - r:] *= np.linspace(1, 0, r)
    return env


FORMANTS = [(730, 1090, 2440), (270, 2290, 3010), (300, 870, 2240), (530, 1840, 2480), (570, 840, 2410)]


def sung(freq, count, rng):
    """One sung vowel: a vibrating pulse train through three formants (Peterson and Barney 1952)."""
    t = np.arange(count) / RATE
    glide = 1 + 0.012 * np.sin(2 * np.pi * rng.uniform(4.5, 6) * t + rng.random() * 6) + 0.03 * np.exp(-t * 20)
    phase = np.cumsum(freq * glide / RATE)
    source = 2 * (phase % 1.0) - 1 + rng.normal(0, 0.05, count)
    out = np.zeros(count)
    for i, f in enumerate(FORMANTS[rng.integers(len(FORMANTS))]):
        bw = 60 + 40 * i
        r = np.exp(-np.pi * bw / RATE)
        out += lfilter([1 - r], [1, -2 * r * np.cos(2 * np.pi * f / RATE), r * r], source) / (1 + i)
    out /= np.abs(out).max() + 1e-9
    return out * _adsr(count, 0.03, 0.08)


SCALE = [0, 2, 3, 5, 7, 8, 10]
PROGRESSIONS = [(0, 5, 2, 6), (0, 3, 5, 4), (5, 6, 0, 0), (3, 5, 0, 6), (0, 0, 3, 4)]


def midi(n):
    return 440.0 * 2 ** ((n - 69) / 12)


def bar(rng, tempo, root, degree, pattern, length):
    """One bar of backing: drums by pattern, bass and chord on a degree of the minor scale."""
    kick, snare, hat = kit()
    out = np.zeros(length + RATE // 2)
    step = length / 16
    for s in range(16):
        if pattern[0][s]:
            _add(out, s * step, kick, 0.9)
        if pattern[1][s]:
            _add(out, s * step, snare, 0.6)
        if pattern[2][s]:
            _add(out, s * step, hat, 0.35)
    note = root + SCALE[degree % 7]
    for s in range(0, 16, 4):
        n = int(step * 3.5)
        b = _saw(midi(note - 12), n, rng, 1) * _adsr(n)
        _add(out, s * step, sosfilt(butter(2, 500, fs=RATE, output="sos"), b), 0.5)
    chord = sum(_saw(midi(root + 12 + SCALE[(degree + k) % 7] + 12 * ((degree + k) // 7)), length, rng) for k in (0, 2, 4))
    chord = sosfilt(butter(2, rng.uniform(1500, 4000), fs=RATE, output="sos"), chord) * _adsr(length, 0.02, 0.1)
    _add(out, 0, chord, 0.13)
    return out


def pattern(rng):
    k = np.zeros(16, bool)
    k[[0, 8]] = True
    k[rng.integers(0, 16, 2)] = True
    s = np.zeros(16, bool)
    s[[4, 12]] = True
    h = np.zeros(16, bool)
    h[:: rng.choice([1, 2])] = True
    return k, s, h


def melody(rng, out, start, length, root, density=0.7):
    step = length / 8
    s = 0
    while s < 8:
        hold = int(rng.choice([1, 1, 2, 3]))
        if rng.random() < density:
            n = int(step * hold * 0.95)
            note = root + 12 + SCALE[rng.integers(7)]
            _add(out, start + s * step, sung(midi(note), n, rng), 0.45)
        s += hold


def song(seed, seconds=150, tempo=None, root=None, loop=False, voice=True):
    """A mono song of about `seconds`, and the length of its loop in samples (0 when it has none).

    `loop`: the backing repeats sample for sample every four bars; `voice` puts a voice, which never
    repeats, over two of every three loops (or nowhere when False).
    """
    rng = np.random.default_rng(seed)
    tempo = tempo or rng.uniform(84, 138)
    root = root or int(rng.integers(43, 54))
    length = int(round(4 * 60 / tempo * RATE))
    bars = max(4, int(seconds * RATE / length))
    if loop:
        bars -= bars % 4
    out = np.zeros(bars * length + RATE)
    pat = pattern(rng)
    prog = PROGRESSIONS[rng.integers(len(PROGRESSIONS))]
    made = [bar(rng, tempo, root, prog[i], pat, length) for i in range(4)]
    for b in range(bars):
        if loop:
            _add(out, b * length, made[b % 4])
        else:
            if b % 8 == 0:
                pat = pattern(rng)
                prog = PROGRESSIONS[rng.integers(len(PROGRESSIONS))]
            _add(out, b * length, bar(rng, tempo, root, prog[b % 4], pat, length))
        if voice and (b // 4) % 3 != 0:
            melody(rng, out, b * length, length, root)
    out = out[: bars * length + int(0.3 * RATE)]
    return (0.8 * out / np.abs(out).max()).astype(np.float32), 4 * length if loop else 0
