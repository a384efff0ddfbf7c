"""Composes songs with known beats, bars, sections and voice that are hard to listen to. Needs only numpy.

    python gen_hard.py OUT                     the twenty-four named songs
    python gen_hard.py OUT h03 h07             some of them
    python gen_hard.py OUT --random 40 --seed 9   songs with everything drawn at random

Each song is NAME.wav (44.1 kHz, 16 bit) and NAME.json: beats, downbeats, beats_per_bar, tempo_bpm, meter, sections,
voice (stretches that are sung), and half: "tuned" (odd numbers: looked at while the listening was built) or "held"
(even numbers: only scored). Everything is seeded. A lossy round trip needs ffmpeg and is left out without it.
"""
import argparse
import json
import os
import shutil
import subprocess
import tempfile
import wave

import numpy as np

SR = 44100

# bpm, meter, form "label x bars", options. Meter: beats per bar and subdivision ("4/4", "3/4", "6/8", "12/8").
SONGS = {
    "h01": (96, "4/4", "I4 V8 C8 V8 C8 B4 C8", dict(voice="VC", kit="rock", push=1, master=1)),
    "h02": (112, "4/4", "I4 V8 C8 V8 C8 B8 C8", dict(voice="VCB", kit="rock", drift=.02, lossy="mp3", master=1)),
    "h03": (74, "4/4", "V8 C8 V8 C8 O4", dict(voice="VC", kit="none", band="guitar", drift=.03, rit=1)),
    "h04": (68, "4/4", "I4 V8 C8 V8 C8", dict(voice="VC", kit="none", band="piano", drift=.03, rit=1, reverb=.4)),
    "h05": (168, "3/4", "I8 V16 C16 V16 C16 B8 C16", dict(voice="VC", kit="waltz", band="guitar")),
    "h06": (132, "3/4", "V16 C16 V16 C16 B8 C16", dict(voice="VC", kit="none", band="piano", drift=.02)),
    "h07": (58, "6/8", "I4 V8 C8 V8 C8", dict(voice="VC", kit="rock68", push=0, lossy="ogg")),
    "h08": (64, "6/8", "V8 C8 V8 C8 B4 C8", dict(voice="VC", kit="soft68", band="guitar", drift=.02)),
    "h09": (148, "4/4", "I8 V16 C16 V16 C16", dict(voice="VC", kit="rock", half="C", push=1, master=1)),
    "h10": (140, "4/4", "I8 V16 C16 B8 V16 C16", dict(voice="VC", kit="trap", half="VCB", band="synth", master=1)),
    "h11": (120, "4/4", "I8 V16 C16 V16 C16", dict(kit="four", band="synth", push=1, voice="C", master=1, lossy="mp3")),
    "h12": (126, "4/4", "I8 V16 B8 C16 V16 B8 C16", dict(kit="four", band="synth", voice="V", master=1)),
    "h13": (118, "4/4", "I4 V8 C8 V8 C8 B8 C8", dict(voice="VC", kit="swing", swing=.64, walk=1, band="piano", sevenths=1)),
    "h14": (88, "4/4", "I4 V8 C8 V8 B4 C8", dict(voice="VC", kit="rock", swing=.62, pickup=1, drift=.01)),
    "h15": (100, "4/4", "I4 V8 C8 V8 C8", dict(voice="VC", kit="rock", change={3: 1.2}, master=1)),
    "h16": (92, "4/4", "V8 C8 V8 C8 B8 C8", dict(voice="VC", kit="rock", change={4: .8}, pickup=1, lossy="mp3")),
    "h17": (84, "4/4", "I2 V8 C8 V8 C8 O2", dict(voice="VCI", kit="brushes", band="guitar", pickup=1, jitter=.012)),
    "h18": (104, "4/4", "V12 C8 V12 C8 B6 C8", dict(voice="VC", kit="brushes", band="piano", push=1, jitter=.012)),
    "h19": (172, "4/4", "I8 V16 C16 V16 C16", dict(kit="break", band="synth", voice="C", master=1)),
    "h20": (160, "4/4", "I8 V16 C16 V16 C16 O8", dict(kit="rock", band="guitar", voice="VC", push=1, master=1, mono=1)),
    "h21": (50, "12/8", "I2 V8 C4 V8 C4", dict(kit="rock", band="piano", voice="VC", drift=.01)),
    "h22": (62, "12/8", "V8 C8 V8 C8", dict(kit="soft68", band="guitar", voice="VC", drift=.02, reverb=.3)),
    "h23": (78, "4/4", "I4 V8 C8 V8 C8", dict(kit="rock", half="V", band="piano", voice="VC", ramp=.15, rit=1)),
    "h24": (108, "4/4", "I4 V8 C8 V8 C8 B4 C8 O4", dict(kit="latin", band="guitar", push=1, voice="VC", ramp=-.08, lossy="mp3", noise=-42)),
}

PROGRESSIONS = [
    [(0, "M"), (7, "M"), (9, "m"), (5, "M")], [(9, "m"), (5, "M"), (0, "M"), (7, "M")], [(0, "M"), (5, "M"), (0, "M"), (7, "M")],
    [(5, "M"), (7, "M"), (9, "m"), (9, "m")], [(2, "m"), (7, "M"), (0, "M"), (9, "m")], [(9, "m"), (7, "M"), (5, "M"), (4, "m")],
    [(0, "M"), (0, "M"), (5, "M"), (5, "M")], [(0, "M"), (4, "m"), (5, "M"), (7, "M")], [(0, "M"), (10, "M"), (5, "M"), (0, "M")],
]
TRIADS = {"M": [0, 4, 7], "m": [0, 3, 7]}
SCALE = [0, 2, 4, 5, 7, 9, 11]
VOWELS = [(800, 1150, 2900), (400, 1700, 2600), (350, 2200, 3000), (450, 800, 2830), (325, 700, 2700), (600, 1000, 2500)]
# What an instrument does in each kind of section: level of chords, arpeggio, bass, drums (0 none, 1 hats, 2 full), pad.
ARRANGEMENT = {
    "I": dict(chord=.6, arp=1, bass=0, drums=0, pad=.4), "V": dict(chord=.7, arp=.4, bass=1, drums=1.6, pad=0),
    "C": dict(chord=1, arp=.5, bass=1.2, drums=2, pad=1), "B": dict(chord=.3, arp=0, bass=.8, drums=1, pad=1),
    "O": dict(chord=.8, arp=1, bass=.6, drums=0, pad=.3),
}


def hz(pitch):
    return 440 * 2 ** ((pitch - 69) / 12)


def ramped(y, attack=.003, release=.01):
    a, r = min(len(y), int(attack * SR) + 1), min(len(y), int(release * SR) + 1)
    y[:a] *= np.linspace(0, 1, a)
    y[-r:] *= np.linspace(1, 0, r)
    return y


class Band:
    """Sounds, each made once per pitch and length."""

    def __init__(self, rng, kind):
        self.rng, self.kind, self.kept = rng, kind, {}
        self.bright = rng.uniform(.8, 1.2)

    def note(self, name, pitch, seconds):
        n = max(int(round(seconds * 20)), 1)
        key = (name, pitch, n)
        if key not in self.kept:
            self.kept[key] = getattr(self, name)(hz(pitch), n / 20)
        return self.kept[key]

    def partials(self, f, t, levels):
        return sum(g * np.sin(2 * np.pi * f * k * t + 1.7 * k * k) for k, g in levels if f * k < 15000)

    def guitar(self, f, s):
        t = np.arange(int(s * SR)) / SR
        y = sum(np.exp(-t * (1.2 + .5 * k) * (f / 200) ** .3) / k ** .9 * np.sin(2 * np.pi * f * k * (1 + 2e-5 * k * k) * t + k) * abs(np.sin(np.pi * k * .18))
                for k in range(1, 14) if f * k < 14000)
        return ramped(y * .5, .001)

    def piano(self, f, s):
        t = np.arange(int(s * SR)) / SR
        y = sum(np.exp(-t * (.9 + .35 * k)) / k ** 1.25 * np.sin(2 * np.pi * f * k * np.sqrt(1 + 4e-4 * k * k) * t + k * k) for k in range(1, 12) if f * k < 14000)
        return ramped(y * .5, .002)

    def synth(self, f, s):
        t = np.arange(int(s * SR)) / SR
        y = sum(self.partials(f * d, t, [(k, 1 / k * np.exp(-k * .08 / self.bright)) for k in range(1, 24)]) for d in (.996, 1.004))
        return ramped(y * .25 * (np.exp(-t * 3) * .7 + .3), .004)

    def pad(self, f, s):
        t = np.arange(int(s * SR)) / SR
        y = sum(self.partials(f * d, t, [(k, k ** -1.4) for k in range(1, 10)]) for d in (.997, 1, 1.0035))
        return ramped(y * .2, min(.25, s / 3), min(.2, s / 4))

    def bass(self, f, s):
        t = np.arange(int(s * SR)) / SR
        y = self.partials(f, t, [(k, k ** -1.3) for k in range(1, 9)]) * np.exp(-t * 1.5)
        return ramped(y * .6, .006, .02)


def drum_kit(rng, kit):
    n = int(.5 * SR)
    t = np.arange(n) / SR
    noise = lambda: rng.normal(0, 1, n)
    low = lambda x, k: np.convolve(x, np.hanning(k) / np.hanning(k).sum(), "same")
    base = rng.uniform(45, 60)
    kick = np.sin(2 * np.pi * (base * t + rng.uniform(3, 6) * (1 - np.exp(-t / .025)))) * np.exp(-t / rng.uniform(.08, .2)) + .1 * low(noise(), 8) * np.exp(-t / .004)
    snare = .45 * noise() * np.exp(-t / rng.uniform(.05, .12)) + .5 * np.sin(2 * np.pi * rng.uniform(170, 230) * t) * np.exp(-t / .05)
    hat = np.diff(noise(), prepend=[0, 0], n=2) * .22 * np.exp(-t / rng.uniform(.02, .05))
    openhat = np.diff(noise(), prepend=[0, 0], n=2) * .18 * np.exp(-t / .18)
    crash = np.diff(noise(), prepend=0) * .3 * np.exp(-t / .25)
    clap = sum(low(noise(), 5) * np.exp(-np.maximum(t - d, 0) / .03) * (t >= d) for d in (0, .011, .023)) * .5
    rim = np.sin(2 * np.pi * 1700 * t) * np.exp(-t / .012) * .6 + .2 * noise() * np.exp(-t / .006)
    brush = low(noise() - low(noise(), 40), 3) * np.minimum(1, t / .03) * np.exp(-t / .09) * .35
    tom = np.sin(2 * np.pi * (110 * t + 2 * (1 - np.exp(-t / .04)))) * np.exp(-t / .14)
    if kit == "trap":
        kick = np.tanh(2.5 * np.sin(2 * np.pi * (42 * t + 4 * (1 - np.exp(-t / .03))))) * np.exp(-t / .25) * .8
        snare = clap * 1.2
    return dict(k=kick, s=snare, h=hat, o=openhat, x=crash, c=clap, r=rim, b=brush, t=tom)


def drum_bar(kit, bpb, sub, level, half, bar, last, rng, swing):
    """(quarter position, drum, gain) of one bar. level: 1 hats and light, 2 full. last: before a new section."""
    ev = []
    off = swing if sub == 2 else None
    eighths = [(j, j + off) for j in range(bpb)] if sub == 2 else [(j, j + 1 / 3, j + 2 / 3) for j in range(bpb)]
    if kit in ("rock", "four", "trap", "break", "latin", "swing", "rock68", "soft68", "waltz", "brushes"):
        for j, group in enumerate(eighths):
            for s, q in enumerate(group):
                g = .3 if s == 0 else .2
                if kit == "swing":
                    if s == 0 or j % 2 == 1:
                        ev.append((q, "o", .3))
                elif kit == "trap":
                    ev.append((q, "h", g))
                    if rng.random() < .3:
                        ev.append((q + .25, "h", .2))
                elif kit == "four":
                    ev.append((q, "o" if s else "h", .32 if s else .15))
                elif kit == "waltz":
                    if s == 0:
                        ev.append((q, "h", .2))
                elif kit == "brushes":
                    ev.append((q, "b", .5 if s == 0 and j % 2 else .3))
                else:
                    ev.append((q, "h", g))
    if level >= 1.5 or kit in ("four", "brushes"):
        if kit == "four":
            ev += [(j, "k", .9) for j in range(bpb)] + [(j, "c", .45) for j in range(1, bpb, 2)]
        elif kit == "rock":
            if bpb == 4 and not half:
                ev += [(0, "k", .9), (2, "k", .8), (1, "s", .6), (3, "s", .6)]
                ev += [(q, "k", .6) for q in ([1.5], [2.5], [], [1.5, 3.5])[bar % 4] if sub == 2]
            elif half:
                ev += [(0, "k", .9), (2, "s", .7)] + [(q, "k", .6) for q in ([1.5], [3.5], [2.5], [1])[bar % 4]]
            else:
                ev += [(0, "k", .9)] + [(j, "s", .5) for j in range(1, bpb)]
        elif kit == "trap":
            ev += [(0, "k", .9), (2, "s", .7)] + [(q, "k", .8) for q in ([1.5], [.75, 2.5], [1.5, 3.25], [3])[bar % 4]]
        elif kit == "break":
            ev += [(0, "k", .9), (1, "s", .6), (2.5, "k", .8), (3, "s", .6)] + [(q, "s", .2) for q in ([1.75], [2.25], [1.75, 3.75], [2.25])[bar % 4]]
        elif kit == "latin":
            ev += [(0, "k", .7), (1.5, "k", .6), (2, "k", .7), (3.5, "k", .6)] + [(q, "r", .4) for q in ((0, 1.5, 3) if bar % 2 == 0 else (1, 2))]
        elif kit == "swing":
            ev += [(j, "k", .25) for j in range(bpb)] + [(1, "h", .4), (3, "h", .4)] + [(q, "s", .25) for q in ([1 + swing], [], [3 + swing], [2 + swing])[bar % 4]]
        elif kit == "rock68":
            ev += [(0, "k", .9), (1, "s", .6)] + ([(1 + 2 / 3, "k", .5)] if bar % 2 else [])
        elif kit == "soft68":
            ev += [(0, "k", .6)] + [(j, "r", .4) for j in range(1, bpb, 2)]
        elif kit == "waltz":
            ev += [(0, "k", .8)] + [(j, "s", .25) for j in range(1, bpb)]
        elif kit == "brushes":
            ev += [(0, "k", .4)] + [(j, "s", .2) for j in range(1, bpb, 2)]
    if last and level >= 1.5 and kit not in ("none", "four"):
        ev = [e for e in ev if e[0] < bpb - 1] + [(bpb - 1 + k / (2 * sub), "t" if k % 2 else "s", .4 + .08 * k) for k in range(2 * sub)]
    if bar == 0 and level >= 1.5 and kit not in ("none", "soft68"):
        ev.append((0, "x", .5))
    return ev


def sing(rng, notes, brightness):
    """notes: (start s, length s, pitch). One voice, glottal pulses through three formants, vibrato and glides."""
    if not notes:
        return 0, np.zeros(0)
    start, end = notes[0][0], notes[-1][0] + notes[-1][1] + .1
    n = int((end - start) * SR)
    hop = 64
    m = n // hop + 1
    t = np.arange(m) * hop / SR + start
    pitch, level, form, breath = np.zeros(m), np.zeros(m), np.zeros((m, 3)), np.zeros(m)
    for s, d, p in notes:
        i, j = int((s - start) * SR / hop), min(int((s + d - start) * SR / hop), m)
        vow = VOWELS[rng.integers(len(VOWELS))]
        x = t[i:j] - s
        pitch[i:j] = p - rng.uniform(.3, 1.2) * np.exp(-x / .04) + .45 * np.sin(2 * np.pi * 5.6 * x + rng.uniform(0, 6)) * np.clip((x - .15) / .25, 0, 1) + .08 * rng.normal()
        level[i:j] = np.minimum(1, x / .035) * np.minimum(1, (d - x).clip(0) / .05) * rng.uniform(.75, 1)
        form[i:j] = vow
        c = min(i + int(.05 * SR / hop), m)
        if rng.random() < .6:
            breath[max(i - int(.03 * SR / hop), 0):c] = rng.uniform(.05, .25)
    on = pitch > 0
    if not on.any():
        return 0, np.zeros(0)
    pitch = np.interp(np.arange(m), np.nonzero(on)[0], pitch[on])
    for c in range(3):
        form[:, c] = np.interp(np.arange(m), np.nonzero(on)[0], form[on, c])
    k = max(int(.03 * SR / hop), 1)
    smooth = lambda v: np.convolve(v, np.ones(k) / k, "same")
    form = np.stack([smooth(form[:, c]) for c in range(3)], 1)
    grid = np.arange(n) / hop
    up = lambda v: np.interp(grid, np.arange(m), v)
    f0 = 440 * 2 ** ((pitch - 69) / 12)
    phase = 2 * np.pi * np.cumsum(up(f0)) / SR
    y = np.zeros(n)
    for h in range(1, 40):
        f = h * f0
        if f.min() > 7000:
            break
        gain = h ** (-1.1 / brightness) * sum(a / (1 + ((f - form[:, c]) / w) ** 2) for c, (a, w) in enumerate(((1, 90), (.6, 110), (.35, 160))))
        y += up(gain * level * (f < 9000)) * np.sin(h * phase)
    y += up(smooth(breath)) * np.diff(rng.normal(0, 1, n + 1)) * .35
    return start, y


def reverbed(y, rng, amount, seconds=1.2):
    n = int(seconds * SR)
    ir = rng.normal(0, 1, (n, 2)) * np.exp(-np.arange(n) / SR * 6.9 / seconds)[:, None]
    ir[: int(.012 * SR)] = 0
    ir /= np.sqrt((ir ** 2).sum(0))
    size = 1 << int(np.ceil(np.log2(len(y) + n)))
    wet = np.fft.irfft(np.fft.rfft(y, size, axis=0) * np.fft.rfft(ir, size, axis=0), size, axis=0)[: len(y)]
    return y + amount * wet


def mastered(y, rng):
    """A slow compressor, then a soft limiter driven hard."""
    power = np.mean(y ** 2, axis=1)
    k = int(.02 * SR)
    env = np.sqrt(np.convolve(power, np.ones(k) / k, "same") + 1e-9)
    gain = (env / np.median(env) + .3) ** -.45
    y = y * gain[:, None]
    return np.tanh(2.2 * y / np.percentile(np.abs(y), 99.5))


def lossy(path, codec):
    """Through a lossy codec and back, cut to the same alignment (decoders drop the encoder's delay)."""
    if not shutil.which("ffmpeg"):
        return False
    with tempfile.TemporaryDirectory() as d:
        mid = f"{d}/x.{codec}"
        enc = dict(mp3=["-c:a", "libmp3lame", "-b:a", "96k"], ogg=["-c:a", "libvorbis", "-q:a", "1"])[codec]
        quiet = ["ffmpeg", "-v", "error", "-nostdin", "-y"]
        if subprocess.run(quiet + ["-i", path] + enc + [mid]).returncode:
            return False
        return subprocess.run(quiet + ["-i", mid, "-c:a", "pcm_s16le", path]).returncode == 0


def tempo_curve(rng, bpm, nb, bpb, starts, o):
    """Length of every beat in seconds."""
    k = np.arange(nb)
    f = np.ones(nb)
    if o.get("drift"):
        walk = np.cumsum(rng.normal(0, 1, nb))
        walk = np.convolve(np.pad(walk, 8, "edge"), np.hanning(17) / np.hanning(17).sum(), "valid")
        f *= 1 + o["drift"] * (walk - walk.mean()) / (np.abs(walk - walk.mean()).max() + 1e-9)
    if o.get("ramp"):
        f *= 1 + o["ramp"] * k / nb
    for section, ratio in (o.get("change") or {}).items():
        f[k >= starts[section]] *= ratio
    if o.get("rit"):
        m = k >= nb - 2 * bpb
        f[m] *= np.linspace(1, .65, m.sum())
    return 60 / (bpm * f)


def make(name, spec, seed, out):
    bpm, meter, form, o = spec
    rng = np.random.default_rng(seed)
    top = int(meter.split("/")[0])
    bpb, sub = (top // 3, 3) if meter in ("6/8", "12/8") else (top, 2)
    parts = [(p[0], int(p[1:])) for p in form.split()]
    pickup = 0 if not o.get("pickup") else max(bpb - 1, 1) if rng.random() < .5 else 1
    nb = sum(b for _, b in parts) * bpb
    starts = np.concatenate([[0], np.cumsum([b * bpb for _, b in parts])])
    gaps = tempo_curve(rng, bpm, nb, bpb, starts, o)
    lead = rng.uniform(.15, .8)
    beats = lead + pickup * gaps[0] + np.concatenate([[0], np.cumsum(gaps)])
    at = lambda q: float(np.interp(q, np.arange(nb + 1), beats)) if q >= 0 else float(beats[0] + q * gaps[0])
    total = int((beats[-1] + 2.5) * SR)
    mix = np.zeros((total, 2))
    vocal = np.zeros(total)

    def put(t, y, gain, pan=.5):
        i = int(round(t * SR))
        if i < 0:
            y, i = y[-i:], 0
        m = min(len(y), total - i)
        if m > 0:
            mix[i:i + m, 0] += gain * (1 - pan) * y[:m]
            mix[i:i + m, 1] += gain * pan * y[:m]

    band = Band(rng, o.get("band") or ["guitar", "piano", "synth"][rng.integers(3)])
    lead_kind = band.kind
    kit = o.get("kit", "rock")
    drums = drum_kit(rng, kit)
    key = 40 + int(rng.integers(0, 10))
    swing = o.get("swing", .5)
    jitter = o.get("jitter", .004)
    jit = lambda: rng.normal(0, jitter)
    fracs = [0, swing] if sub == 2 else [0, 1 / 3, 2 / 3]
    labels = sorted({p for p, _ in parts})
    pool = rng.permutation(len(PROGRESSIONS))
    chords = {lab: PROGRESSIONS[pool[i % len(pool)]] for i, lab in enumerate(labels)}
    # Some sections change chord twice a bar.
    fast = {lab: bpb == 4 and rng.random() < .2 for lab in labels}
    strum = {lab: rng.random(bpb * len(fracs)) < .55 for lab in labels}
    riff = {lab: rng.random(bpb * len(fracs)) < .5 for lab in labels}
    melody = {}
    times_seen, sections, sung, lines = {}, [], [], []
    range_low = key + 12 + int(rng.integers(2, 10))
    for si, (lab, bars) in enumerate(parts):
        a = ARRANGEMENT[lab]
        seen = times_seen[lab] = times_seen.get(lab, 0) + 1
        more = 1 + .15 * (seen - 1)
        sections.append(dict(start=at(starts[si]), end=at(starts[si + 1]), label=lab))
        half = lab in o.get("half", "")
        for b in range(bars):
            q0 = int(starts[si]) + b * bpb
            prog = chords[lab]
            slots = [(0, prog[b % 4])] if not fast[lab] else [(0, prog[2 * b % 4]), (2, prog[(2 * b + 1) % 4])]
            for si2, (slot, (root, quality)) in enumerate(slots):
                width = bpb if len(slots) == 1 else 2
                tri = TRIADS[quality] + ([10] if o.get("sevenths") else [])
                pushed = o.get("push") and q0 + slot > 0 and rng.random() < .6
                shift = -(1 - swing) if pushed and sub == 2 else -1 / 3 if pushed else 0
                begin, finish = at(q0 + slot + shift), at(q0 + slot + width)
                if a["pad"] and (lead_kind == "synth" or lab in "CB"):
                    for d in tri:
                        put(begin, band.note("pad", key + 12 + (root + d) % 12, finish - begin), .10 * a["pad"], .3 + .12 * (d % 4))
                steps = [(j, s) for j in range(slot, slot + width) for s in range(len(fracs))]
                for j, s in steps:
                    t = at(q0 + j + fracs[s])
                    idx = j * len(fracs) + s
                    first = (j, s) == steps[0]
                    t = begin if first else t
                    hit = (first or strum[lab][idx]) if kit != "waltz" or lead_kind == "synth" else (j > 0 and s == 0) or first
                    if a["chord"] and hit and not (pushed and False):
                        for v, d in enumerate(tri):
                            put(t + .006 * v + jit(), band.note(lead_kind, key + 12 + (root + d) % 12, min(.7, 1.2 * (finish - begin) / width)), .13 * a["chord"] * (1.15 if first else .8), .68)
                    if a["arp"] and sub * bpb <= 12:
                        d = tri[(idx * 2 + b) % len(tri)]
                        put(t + jit(), band.note(lead_kind, key + 24 + (root + d) % 12, .4), .10 * a["arp"], .3)
                    if a["bass"]:
                        if o.get("walk"):
                            play, step = s == 0, [0, 4, 7, 9][(j + b) % 4]
                        elif kit == "four":
                            play, step = s == 1, 0
                        else:
                            play, step = first or (riff[lab][idx] and (s == 0 or lab == "C")), 0
                        if play:
                            put(t + jit(), band.note("bass", key - 12 + (root + step) % 12, .45), .55 * a["bass"] * more)
            level = a["drums"] if si or a["drums"] > 1 else a["drums"]
            if kit != "none" and level:
                last = b == bars - 1 and si + 1 < len(parts)
                for q, d, g in drum_bar(kit, bpb, sub, level, half, b, last, rng, swing):
                    put(at(q0 + q) + jit(), drums[d], g * rng.uniform(.8, 1.1) * .55, .5 if d in "ks" else .6)
        # The tune: two-bar phrases, the same for every section of a letter, some notes off the beat.
        if lab in o.get("voice", ""):
            if lab not in melody:
                grid = [(j, s) for j in range(2 * bpb) for s in range(len(fracs))]
                phrases = []
                for _ in range(2):
                    picks = sorted(rng.choice(len(grid), size=int(len(grid) * rng.uniform(.4, .65)), replace=False))
                    tones = np.cumsum(rng.integers(-2, 3, len(picks)))
                    phrases.append([(grid[i], int(x)) for i, x in zip(picks, tones)])
                melody[lab] = phrases
            for ph in range(bars // 2):
                if rng.random() < .08 and ph:
                    continue
                phrase = melody[lab][ph % 2]
                notes = []
                for i, ((j, s), x) in enumerate(phrase):
                    q = starts[si] + ph * 2 * bpb + j + fracs[s]
                    nxt = phrase[i + 1][0] if i + 1 < len(phrase) else (min(j + 2, 2 * bpb - .5), 0)
                    qn = starts[si] + ph * 2 * bpb + nxt[0] + (fracs[nxt[1]] if i + 1 < len(phrase) else 0)
                    degree = int(np.clip(x, -5, 7))
                    p = range_low + 12 * (degree // 7) + SCALE[degree % 7] + (4 if lab == "C" else 0)
                    s0 = at(q) + rng.normal(.01, .015)
                    notes.append((s0, max(min(at(qn) - at(q), 1.6) * .92, .08), p))
                if pickup and ph == 0 and si == 0:
                    notes = [(at(-pickup + i), .3, notes[0][2]) for i in range(pickup)] + notes
                lines.append(notes)
                sung.append([notes[0][0], notes[-1][0] + notes[-1][1]])
    if pickup and kit != "none":
        for i in range(pickup):
            put(at(-pickup + i), drums["s"], .3)
    if pickup and not (lines and lines[0][0][0] < beats[0]):
        for i in range(pickup):
            put(at(-pickup + i), band.note(lead_kind, key + 19, .3), .3)
    brightness = rng.uniform(.85, 1.2)
    for notes in lines:
        s, y = sing(rng, notes, brightness)
        i = int(s * SR)
        m = min(len(y), total - i)
        vocal[i:i + m] += y[:m]
    if np.any(vocal):
        back = np.sqrt(np.mean(mix ** 2))
        vocal *= rng.uniform(.9, 1.5) * back / np.sqrt(np.mean(vocal[vocal != 0] ** 2))
        mix += vocal[:, None]
    mix = reverbed(mix, rng, o.get("reverb", .12))
    mix /= np.percentile(np.abs(mix), 99.9)
    mix += rng.normal(0, 10 ** (o.get("noise", -62) / 20), mix.shape)
    mix = mastered(mix, rng) if o.get("master") else np.tanh(mix)
    mix *= .93 / np.abs(mix).max()
    if o.get("mono"):
        mix = mix.mean(1, keepdims=True)
    os.makedirs(out, exist_ok=True)
    path = f"{out}/{name}.wav"
    with wave.open(path, "wb") as w:
        w.setnchannels(mix.shape[1])
        w.setsampwidth(2)
        w.setframerate(SR)
        w.writeframes((mix * 32767).astype("<i2").tobytes())
    if o.get("lossy"):
        lossy(path, o["lossy"])
    r = lambda v: round(float(v), 5)
    before = [beats[0] - (pickup - i) * gaps[0] for i in range(pickup)]
    bt = [r(x) for x in before] + [r(x) for x in beats[:-1]]
    number = int(name[1:]) if name[1:].isdigit() else 0
    truth = dict(id=name, split="open", source="hard", half="tuned" if number % 2 else "held", duration=r(total / SR), beats=bt, downbeats=bt[pickup::bpb], beats_per_bar=bpb,
                 tempo_bpm=r(60 / np.median(np.diff(bt))), meter=meter, sections=[dict(start=r(s["start"]), end=r(s["end"]), label=s["label"]) for s in sections],
                 voice=[[r(a), r(b)] for a, b in sung])
    with open(f"{out}/{name}.json", "w") as f:
        json.dump(truth, f)


def random_spec(rng):
    meter = ["4/4", "4/4", "4/4", "4/4", "3/4", "6/8", "12/8"][rng.integers(7)]
    lo, hi = {"4/4": (66, 175), "3/4": (84, 180), "6/8": (44, 84), "12/8": (50, 84)}[meter]
    bpm = float(np.exp(rng.uniform(np.log(lo), np.log(hi))))
    bar_s = {"4/4": 4, "3/4": 3, "6/8": 2, "12/8": 4}[meter] * 60 / bpm
    unit = 4 if bar_s > 2.8 else 16 if bar_s < 1.3 else 8
    form = ["I{h} V{u} C{u} V{u} C{u}", "V{u} C{u} V{u} C{u} O{h}", "I{h} V{u} C{u} B{h} C{u}", "V{u} C{u} B{u} C{u}"][rng.integers(4)].format(u=unit, h=max(unit // 2, 2))
    kits = {"4/4": ["rock", "rock", "four", "trap", "break", "latin", "swing", "brushes", "none", "none"], "3/4": ["waltz", "waltz", "none"],
            "6/8": ["rock68", "soft68", "none"], "12/8": ["rock", "soft68"]}[meter]
    kit = kits[rng.integers(len(kits))]
    o = dict(kit=kit, band=["guitar", "piano", "synth"][rng.integers(3)])
    chance = lambda p: rng.random() < p
    if chance(.8):
        o["voice"] = ["VC", "C", "VCB"][rng.integers(3)]
    if chance(.35):
        o["push"] = 1
    if chance(.4):
        o["drift"] = float(rng.uniform(.005, .03))
    if chance(.2):
        o["ramp"] = float(rng.uniform(-.12, .15))
    if chance(.2):
        o["rit"] = 1
    if chance(.5):
        o["master"] = 1
    if chance(.25) and kit == "rock" and meter == "4/4":
        o["half"] = ["C", "V", "VC"][rng.integers(3)] if bpm > 110 else "V"
    if kit == "trap":
        o["half"] = "VCB"
    if kit == "swing" or (chance(.15) and meter == "4/4"):
        o["swing"] = float(rng.uniform(.56, .67))
    if kit == "swing":
        o["walk"] = 1
    if chance(.2):
        o["pickup"] = 1
    if chance(.3):
        o["jitter"] = float(rng.uniform(.006, .014))
    return (bpm, meter, form, o)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("names", nargs="*")
    ap.add_argument("--random", type=int, default=0)
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    if a.random:
        for i in range(a.random):
            rng = np.random.default_rng([a.seed, i])
            make(f"r{i:03d}", random_spec(rng), [a.seed, i, 7], a.out)
        return
    for name in a.names or SONGS:
        make(name, SONGS[name], 4000 + int(name[1:]), a.out)


if __name__ == "__main__":
    main()
