"""What a camera makes of a song: loudspeaker, room, noise, gain control, clipping, another clock.

Every take comes with its truth: for each run, take time at its start and end, song time at its start,
nominal speed and drift.
"""
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from songs import RATE, midi, sung


def stretch(song, start_s, speed, count, spare=64):
    """Reads `count` samples of `song` from `start_s`, `speed` song samples per sample."""
    first = max(0, int(start_s * RATE) - spare)
    last = min(len(song), int(start_s * RATE + count * speed) + spare)
    x = song[first:last].astype(np.float64)
    if speed > 1.01:
        x = sosfilt(butter(8, min(0.49, 0.45 / speed) * RATE, fs=RATE, output="sos"), x[::-1])[::-1]
        x = sosfilt(butter(8, min(0.49, 0.45 / speed) * RATE, fs=RATE, output="sos"), x)
    up = 4
    fine = resample_poly(x, up, 1)
    at = ((start_s * RATE - first) + np.arange(count) * speed) * up
    return np.interp(at, np.arange(len(fine)), fine, left=0, right=0)


def pitch_kept(song, start_s, end_s, speed, how):
    """The stretch of song at another speed with its pitch kept, by ffmpeg's `how` filter."""
    with tempfile.TemporaryDirectory() as folder:
        a, b = Path(folder) / "a.wav", Path(folder) / "b.wav"
        soundfile.write(a, song[int(start_s * RATE): int(end_s * RATE)], RATE, subtype="FLOAT")
        chain = f"rubberband=tempo={speed}" if how == "rubberband" else f"atempo={speed}"
        subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", a, "-af", chain, "-c:a", "pcm_f32le", b], check=True)
        return soundfile.read(b)[0]


def loudspeaker(x, rng):
    low, high = rng.uniform(180, 400), rng.uniform(5000, 9000)
    x = sosfilt(butter(2, [low, high], "band", fs=RATE, output="sos"), x)
    for _ in range(2):
        f = rng.uniform(500, 4000)
        x = x + rng.uniform(0.2, 0.8) * sosfilt(butter(1, [f * 0.9, f * 1.1], "band", fs=RATE, output="sos"), x)
    drive = rng.uniform(0.3, 3)
    level = np.std(x) + 1e-9
    return np.tanh(drive * x / (3 * level)) * 3 * level / drive


def room(x, rng, drr_db=None, rt_s=None):
    """A direct sound and an exponentially falling noise tail (Moorer 1979)."""
    rt = rt_s or rng.uniform(0.2, 0.9)
    drr = drr_db if drr_db is not None else rng.uniform(-4, 12)
    n = int(rt * RATE)
    tail = rng.normal(0, 1, n) * 10 ** (-3 * np.arange(n) / n)
    tail[: int(0.002 * RATE)] = 0
    tail *= 10 ** (-drr / 20) / np.sqrt((tail ** 2).sum())
    tail[0] = 1
    return fftconvolve(x, tail)[: len(x)]


def pink(count, rng):
    spectrum = np.fft.rfft(rng.normal(0, 1, count))
    f = np.arange(len(spectrum))
    f[0] = 1
    return np.fft.irfft(spectrum / np.sqrt(f), count)


def wind(count, rng):
    low = sosfilt(butter(2, 150, fs=RATE, output="sos"), rng.normal(0, 1, count)) * 6
    gust = np.interp(np.arange(count), np.arange(0, count + RATE, RATE), rng.random(count // RATE + 2) ** 3)
    return low * gust + 0.05 * rng.normal(0, 1, count)


def talk(count, rng):
    """Speech-like noise: syllables of vowels and hiss with pauses."""
    out = np.zeros(count)
    at = 0
    while at < count:
        n = int(rng.uniform(0.08, 0.3) * RATE)
        voice = sung(rng.uniform(90, 220), n, rng) if rng.random() < 0.75 else rng.normal(0, 0.3, n) * np.hanning(n)
        end = min(count, at + n)
        out[at:end] += voice[: end - at]
        at += n + (int(rng.uniform(0.2, 0.8) * RATE) if rng.random() < 0.15 else 0)
    return out


def singer(count, rng, root):
    out = np.zeros(count)
    at = int(rng.uniform(0, 2) * RATE)
    while at < count:
        n = int(rng.uniform(0.3, 1.5) * RATE)
        end = min(count, at + n)
        out[at:end] += sung(midi(root + 12 + int(rng.integers(0, 12))), n, rng)[: end - at]
        at += n + int(rng.uniform(0, 0.6) * RATE)
    return out


NOISES = {"white": lambda n, r: r.normal(0, 1, n), "pink": pink, "wind": wind, "talk": talk}


def gain_control(x, rng):
    """A slow gain that pulls the level to one value (a camera's automatic gain)."""
    hop = RATE // 20
    level = np.sqrt(np.convolve(x ** 2, np.ones(hop) / hop, "same")[::hop] + 1e-12)
    gain, state = [], level[0]
    for v in level:
        state += (v - state) * (0.4 if v > state else 0.02)
        gain.append(1 / (state + 0.02 * level.max()))
    return x * np.interp(np.arange(len(x)), np.arange(len(gain)) * hop, gain)


def finish(x, rng, rate, agc, clip):
    if agc:
        x = gain_control(x, rng)
    x = x / (np.abs(x).max() + 1e-9)
    if clip:
        x = np.clip(x * clip, -1, 1)
    x = x * rng.uniform(0.1, 0.95)
    if rate != RATE:
        g = np.gcd(rate, RATE)
        x = resample_poly(x, rate // g, RATE // g)
    return np.clip(x, -1, 1)


def take(song, rng, runs, length_s, snr_db, noise="white", drift_ppm=0.0, sing_db=None, root=48,
         talk_db=0.0, agc=False, clip=0.0, rate=48000, rt_s=None, drr_db=None, kept=None):
    """A take of `length_s` with `runs` [(take_start_s, song_start_s, song_end_s, speed)], and its truth."""
    count = int(length_s * RATE)
    played = np.zeros(count)
    truth = []
    for start, song_start, song_end, speed in runs:
        real = speed * (1 + drift_ppm * 1e-6)
        n = min(count - int(start * RATE), int((song_end - song_start) / real * RATE))
        if kept:
            sound = pitch_kept(song, song_start, song_end, speed, kept)[:n]
            real, drift = speed, 0.0
        else:
            sound, drift = stretch(song, song_start, real, n), drift_ppm
        at = int(start * RATE)
        played[at:at + len(sound)] += sound
        truth.append(dict(take_start_s=at / RATE, take_end_s=(at + n) / RATE, song_start_s=song_start,
                          speed=speed, drift_ppm=drift))
    x = room(loudspeaker(played, rng), rng, drr_db, rt_s)
    on = np.zeros(count, bool)
    for t in truth:
        on[int(t["take_start_s"] * RATE): int(t["take_end_s"] * RATE)] = True
    level = np.sqrt((x[on] ** 2).mean()) if on.any() else 1.0
    hiss = NOISES[noise](count, rng)
    hiss *= level * 10 ** (-snr_db / 20) / (hiss[on].std() if on.any() and hiss[on].std() > 0 else hiss.std())
    x = x + hiss
    if sing_db is not None:
        voice = singer(count, rng, root)
        voice[~on] = 0
        x = x + voice * level * 10 ** (sing_db / 20) / (voice[on].std() + 1e-9)
    if talk_db is not None and not on.all():
        words = talk(count, rng)
        words[on] = 0
        x = x + words * level * 10 ** (talk_db / 20) / (words.std() + 1e-9) * 0.7
    return finish(x, rng, rate, agc, clip), truth


def empty_take(kind, rng, length_s, song=None, other=None):
    """A take without the song."""
    count = int(length_s * RATE)
    t = np.arange(count) / RATE
    if kind == "music":
        start = rng.uniform(0, max(0.1, len(other) / RATE - length_s))
        x = room(loudspeaker(stretch(other, start, 1.0, count), rng), rng) + 0.02 * rng.normal(0, 1, count)
    elif kind == "clean music":
        start = rng.uniform(0, max(0.1, len(other) / RATE - length_s))
        x = stretch(other, start, 1.0, count)
    elif kind == "sweep":
        x = np.sin(2 * np.pi * (50 * t + (8000 - 50) * t ** 2 / (2 * length_s))) + 0.001 * rng.normal(0, 1, count)
    elif kind == "clicks":
        x = np.zeros(count)
        x[(np.arange(0, length_s, 60 / rng.uniform(84, 138)) * RATE).astype(int)] = 1
        x += 1e-4 * rng.normal(0, 1, count)
    elif kind == "hum":
        x = sum(np.sin(2 * np.pi * 50 * k * t) / k for k in range(1, 40)) + 0.01 * rng.normal(0, 1, count)
    elif kind == "silence":
        x = np.zeros(count)
    elif kind == "room tone":
        x = pink(count, rng)
    elif kind == "singer":
        x = singer(count, rng, 48) + 0.02 * rng.normal(0, 1, count)
    else:
        x = NOISES[kind](count, rng)
    rate = int(rng.choice([44100, 48000, 32000]))
    return finish(x, rng, rate, rng.random() < 0.3, 0) if kind != "silence" else x
