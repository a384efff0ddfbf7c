"""Stretching with the pitch kept, beside two filters of ffmpeg on the same song in the same run.

    python checks/playback/compare.py BAREBULB_BINARY
    python checks/playback/compare.py --make PROGRAM

What is measured is the example `make` of the crate `playback`, which stretches without a project. It
lies beside the binary where all targets were built; `PROGRAM` names another.
The song is made here (seeded): 40 s of drum hits (noise and falling low tones) at uneven places over a
chord, so that every true place is known. A hit's place is where it first reaches half of its greatest level
within 30 ms of where it belongs, less the same in the song. Crisp is the energy of the 5 ms after the
place over that of the 5 ms before it, in dB, as median; the song's own stands beside it.
A hit not found there counts as far off as the search reached. Sines: pitch, level, and what is not within
20 Hz of them, from spectra of 4 to 8 s of what came out.
Cost is CPU seconds for 4 minutes of stereo at 2.5 times.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import soundfile

RATE = 48_000
FROM_S, TO_S = 4.0, 38.0


def drums(seconds, rng):
    t = np.arange(seconds * RATE) / RATE
    x = sum(0.03 * np.sin(2 * np.pi * f * t) for f in (110, 220, 277.2, 329.6, 440))
    places, at = [], 0.5
    while at < seconds - 1:
        n = int(at * RATE)
        u = np.arange(int(0.15 * RATE)) / RATE
        if len(places) % 2:
            hit = 0.4 * rng.normal(0, 0.5, len(u)) * 10 ** (-3 * u / 0.08)
        else:
            hit = 0.6 * np.sin(2 * np.pi * (50 * u - 4 * np.exp(-u / 0.02))) * 10 ** (-3 * u / 0.15)
            hit[:96] += 0.2 * rng.normal(0, 1, 96)
        x[n:n + len(hit)] += hit
        places.append(n)
        at += rng.uniform(0.18, 0.45)
    return np.clip(x, -0.99, 0.99), np.array(places)


def place_of(x, at):
    reach = int(0.03 * RATE)
    part = np.abs(x[max(0, int(at) - reach):int(at) + reach])
    return max(0, int(at) - reach) + int(np.argmax(part >= 0.5 * part.max()))


def crisp(x, n):
    after, before = (x[n:n + 240] ** 2).sum(), (x[n - 288:n - 48] ** 2).sum()
    return 10 * np.log10((after + 1e-9) / (before + 1e-9))


def cpu(command, **kw):
    before = os.times()
    began = time.perf_counter()
    run = subprocess.run(command, check=True, capture_output=True, text=True, **kw)
    after = os.times()
    return run, after.children_user + after.children_system - before.children_user - before.children_system, time.perf_counter() - began


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("binary", nargs="?", type=Path)
    parser.add_argument("--make", type=Path)
    args = parser.parse_args()
    if not args.make:
        if not args.binary:
            parser.error("say where the built program lies, or --make and where the built example lies")
        args.make = args.binary.resolve().parent / "examples" / "make"
        if not args.make.exists():
            parser.error(f"{args.make} is not there; build it with the rest: cargo build --workspace --all-targets")
    make = [args.make]
    rng = np.random.default_rng(5)
    song, places = drums(40, rng)
    inside = places[(places > (FROM_S + 0.2) * RATE) & (places < (TO_S - 0.5) * RATE)]
    with tempfile.TemporaryDirectory() as folder:
        a, b = Path(folder) / "song.wav", Path(folder) / "out.wav"
        soundfile.write(a, np.stack([song, song], 1), RATE, subtype="PCM_24")
        own = np.median([crisp(song, place_of(song, n)) for n in inside])
        print(f"{len(inside)} hits; crisp in the song {own:.1f} dB")
        for text in ("5/4", "2", "5/2", "3/4"):
            speed, sizes = float(Fraction(text)), {}
            for name in ("ours", "rubberband", "atempo"):
                if name == "ours":
                    run, *_ = cpu([*make, a, b, "--speed", text, "--keep-pitch", "--from", str(FROM_S), "--to", str(TO_S), "--as-mastered"])
                    told = json.loads(run.stdout)["files"][0]
                    zero = told["stretch_start_s"] * RATE - FROM_S * RATE / speed
                else:
                    chain = f"rubberband=tempo={speed}:transients=crisp" if name == "rubberband" else f"atempo={speed}"
                    cpu(["ffmpeg", "-v", "error", "-y", "-i", a, "-af", chain, "-c:a", "pcm_f32le", b])
                    zero = 0
                out = soundfile.read(b)[0][:, 0]
                off, sharp = [], []
                for n in inside:
                    wanted = zero + n / speed
                    got = place_of(out, wanted)
                    off.append((got - wanted - (place_of(song, n) - n)) / RATE * 1e3)
                    sharp.append(crisp(out, got))
                off = np.array(off)
                sizes[name] = float(np.abs(off).mean())
                print(f"  {text:>4} {name:<10} hits off by mean {off.mean():+.2f} ms, mean size {np.abs(off).mean():.2f}, worst {np.abs(off).max():.2f}; crisp {np.median(sharp):.1f} dB")
            if text == "5/2":
                print(json.dumps({"bench": "stretching 2.5x, mean error of a hit", "unit": "ms", "figure": round(sizes["ours"], 3),
                                  "reference": round(sizes["rubberband"], 3), "against": "ffmpeg rubberband"}))
        t = np.arange(20 * RATE) / RATE
        for hz in (110, 440, 3000):
            soundfile.write(a, 0.3 * np.sin(2 * np.pi * hz * t), RATE, subtype="PCM_24")
            for text in ("5/4", "2", "5/2", "3/4"):
                run, *_ = cpu([*make, a, b, "--speed", text, "--keep-pitch", "--from", "6", "--to", "18", "--as-mastered"])
                told = json.loads(run.stdout)["files"][0]
                start, end = (int(told[f"stretch_{k}_s"] * RATE) for k in ("start", "end"))
                x = soundfile.read(b)[0][start + 4800:end - 4800, 0]
                size = 1 << 22
                spectrum = np.abs(np.fft.rfft(x * np.hanning(len(x)), size)) ** 2
                top = int(np.argmax(spectrum))
                near = spectrum[max(0, top - 20 * size // RATE):top + 20 * size // RATE].sum()
                print(f"  {hz} Hz at {text}: {1200 * np.log2(top * RATE / size / hz):+.3f} cents, level {20 * np.log10(np.sqrt(2 * (x ** 2).mean()) / 0.3):+.3f} dB, "
                      f"rest {10 * np.log10((spectrum.sum() - near) / spectrum.sum() + 1e-12):.1f} dB")
        long = np.tile(np.stack([song, song], 1), (6, 1))
        soundfile.write(a, long, RATE, subtype="PCM_16")
        costs = {}
        run, costs["ours"], wall = cpu([*make, a, b, "--speed", "5/2", "--keep-pitch", "--timecode"])
        print(f"  4 minutes at 2.5x: whole pipeline {run.stderr.split()[0]} s, program {wall:.2f} s, CPU {costs['ours']:.2f} s")
        for name, chain in (("rubberband", "rubberband=tempo=2.5"), ("atempo", "atempo=2.5")):
            _, costs[name], wall = cpu(["ffmpeg", "-v", "error", "-y", "-i", a, "-af", chain, b])
            print(f"  {name}: program {wall:.2f} s, CPU {costs[name]:.2f} s")
        print(json.dumps({"bench": "playback, 4 minutes at 2.5x, CPU", "unit": "s", "figure": round(costs["ours"], 2),
                          "reference": round(costs["rubberband"], 2), "against": "ffmpeg rubberband (stretching alone)"}))


if __name__ == "__main__":
    sys.exit(main())
