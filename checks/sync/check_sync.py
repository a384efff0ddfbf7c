"""Measures `barebulb sync` on degraded takes with known truth, beside scipy's plain correlation.

    python checks/sync/check_sync.py BAREBULB_BINARY [--folder F] [--only normal,empty,loop,speed] [--seed N]

Prints shares and fails (status 1) where one is below the reach that stands with it (REACH). Takes are made
anew from the seed (numpy), written as 16-bit WAV into a temporary folder, and read by the program from there.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import correlate, resample_poly

sys.path.insert(0, str(Path(__file__).parent))
from degrade import NOISES, empty_take, take  # noqa: E402
from songs import RATE, song  # noqa: E402

HALF_FRAME_S = 0.5 / 24
RIGHT_S = 0.1
# What each set must reach, as shares of its takes. A reach of 1 or 0 is what a maker relies on: a placement that is
# sure is right, and what does not hold the song is left alone. The others hold what the method reached when they were
# set, less about two takes of the set, so that it cannot get worse unnoticed.
REACH = {
    "normal: right within 100 ms at both ends": 0.97,
    "normal: of the right ones, within half a frame": 1,
    "empty: left alone": 1,
    "loop: not sure of a wrong place": 1,
    "loop: placed right, or left open with the truth listed": 0.8,
    "speed: resampled, right within 100 ms at both ends": 0.9,
    "speed: pitch kept, right within 100 ms at both ends": 0.8,
    "speed: of the right ones, within half a frame": 0.9,
}
EXACT = [1000 / 1001, 1001 / 1000, 24 / 25, 25 / 24, 1.25, 1.5, 2.0, 2.5, 0.5, 0.75, 2.5 * 1000 / 1001, 2 * 1000 / 1001]


def song_arguments(seed):
    """Tempo and root that `song(seed)` draws for itself, for another song of the same."""
    rng = np.random.default_rng(seed)
    return dict(tempo=rng.uniform(84, 138), root=int(rng.integers(43, 54)))


SONGS = {"s1": dict(seed=1), "s2": dict(seed=22), "s3": dict(seed=33, seconds=120),
         "loop": dict(seed=2, loop=True, seconds=120), "plain": dict(seed=5, loop=True, voice=False, seconds=120)}


def make_song(folder, name):
    samples, loop = song(**SONGS[name])
    soundfile.write(folder / f"{name}.wav", samples, RATE)
    return name, len(samples) / RATE, loop / RATE


def plan_normal(rng, lengths, count):
    """Specs of takes at normal speed."""
    specs = []
    for i in range(count):
        name = ["s1", "s2", "s3", "loop"][i % 4]
        length = lengths[name]
        kind = rng.choice(["part", "part", "short", "full", "false", "early", "late", "stop"])
        lead = rng.uniform(0.5, 8)
        if name == "loop" and kind in ("short", "part", "stop"):
            kind = "full"  # parts of it may fit two places: they have their own table
        if kind == "short":
            a = rng.uniform(0, length - 12)
            runs = [(lead, a, a + rng.uniform(4, 8), 1)]
        elif kind == "part":
            a = rng.uniform(0, length - 45)
            runs = [(lead, a, a + rng.uniform(12, 45), 1)]
        elif kind == "false":
            stop = rng.uniform(4.5, 9)
            runs = [(lead, 0, stop, 1), (lead + stop + rng.uniform(3, 8), 0, length - rng.uniform(0, 30), 1)]
        elif kind == "early":  # the camera was late: the take starts within the song
            a = rng.uniform(1, 20)
            runs = [(0, a, a + rng.uniform(50, 70), 1)]
        elif kind == "stop":  # stopped, then cued elsewhere
            a, b = rng.uniform(0, length / 2 - 12), rng.uniform(length / 2, length - 25)
            runs = [(lead, a, a + 10, 1), (lead + 10 + rng.uniform(2, 6), b, b + rng.uniform(12, 22), 1)]
        else:
            runs = [(lead, 0, length, 1)]
        tail = rng.uniform(0, 6) if kind != "early" else 0
        total = runs[-1][0] + runs[-1][2] - runs[-1][1] + tail
        if kind == "late":  # the camera stopped before the song did
            total = lead + rng.uniform(20, 60)
        specs.append(dict(song=name, kind=kind, runs=runs, length_s=total,
                          snr_db=float(rng.choice([-3, 0, 3, 10, 20])), noise=str(rng.choice(list(NOISES))),
                          drift_ppm=float(rng.uniform(-100, 100)),
                          sing_db=float(rng.uniform(-6, 3)) if rng.random() < 0.4 else None,
                          talk_db=float(rng.uniform(-6, 6)), agc=bool(rng.random() < 0.4),
                          clip=float(rng.choice([0, 0, 0, 3, 8])),
                          rate=int(rng.choice([8000, 16000, 22050, 32000, 44100, 48000, 48000, 96000]))))
    return specs


def plan_loop(rng, lengths, loops):
    specs = []
    for i in range(16):
        name = ["plain", "loop"][i % 2]
        loop = loops[name]
        a = rng.uniform(loop, lengths[name] - 2 * loop)
        runs = [(rng.uniform(1, 5), a, a + rng.uniform(0.6, 1.3) * loop, 1)]
        specs.append(dict(song=name, kind="loop part", runs=runs, length_s=runs[0][0] + runs[0][2] - a + 3,
                          snr_db=float(rng.choice([0, 10])), noise=str(rng.choice(list(NOISES))),
                          drift_ppm=float(rng.uniform(-100, 100)), rate=48000))
    return specs


def plan_speed(rng, lengths, count):
    specs = []
    for i in range(count):
        name = ["s1", "s2", "s3"][i % 3]
        speed = EXACT[i // 3 % len(EXACT)] if i % 2 else float(np.round(rng.uniform(0.5, 2.5), 4))
        kept = [None, "rubberband", None, "atempo"][i // 2 % 4]
        heard = rng.uniform(20, 60)
        a = rng.uniform(0, max(1, lengths[name] - heard * speed))
        b = min(lengths[name], a + heard * speed)
        lead = rng.uniform(1, 5)
        specs.append(dict(song=name, kind=kept or "resampled", exact=bool(i % 2), runs=[(lead, a, b, speed)],
                          length_s=lead + (b - a) / speed + 3, snr_db=float(rng.choice([0, 6, 20])),
                          noise=str(rng.choice(list(NOISES))), kept=kept,
                          drift_ppm=0.0 if kept else float(rng.uniform(-80, 80)), agc=bool(rng.random() < 0.3),
                          rate=int(rng.choice([44100, 48000]))))
    return specs


def plan_empty(rng, count):
    kinds = ["music"] * 5 + ["clean music"] * 3 + ["talk", "talk", "wind", "room tone", "silence", "sweep", "clicks",
                                                   "hum", "singer", "white"]
    return [dict(song=["s1", "s2", "s3", "loop"][i % 4], kind=kinds[i % len(kinds)], runs=[], other=i % 3,
                 length_s=float(rng.uniform(15, 90))) for i in range(count)]


def make(job):
    folder, index, seed, spec = job
    rng = np.random.default_rng([seed, index])
    path = folder / f"t{index:04}.wav"
    mine = soundfile.read(folder / f"{spec['song']}.wav", dtype="float32")[0]
    if not spec["runs"]:
        other = None
        if "music" in spec["kind"]:
            base = SONGS[spec["song"]]
            same = song_arguments(base["seed"]) if spec["other"] else {}
            other = song(1000 + index, seconds=100, loop=spec["other"] == 2, **same)[0]
        x = empty_take(spec["kind"], rng, spec["length_s"], song=mine, other=other)
        soundfile.write(path, x, 48000)
        return str(path), []
    keys = ("snr_db", "noise", "drift_ppm", "sing_db", "talk_db", "agc", "clip", "rate", "kept")
    x, truth = take(mine, rng, spec["runs"], spec["length_s"], **{k: spec[k] for k in keys if k in spec})
    soundfile.write(path, x, spec.get("rate", 48000))
    return str(path), truth


def plain(song_8k, path):
    """scipy's correlation of the whole take with the whole song: song time at the take's first sample."""
    x, rate = soundfile.read(path, dtype="float32")
    g = np.gcd(rate, 8000)
    x = resample_poly(x, 8000 // g, rate // g)
    c = correlate(song_8k, x, "full", method="fft")
    return (int(c.argmax()) - (len(x) - 1)) / 8000


def position(run, at):
    return run["song_start_s"] + (at - run["take_start_s"]) * run["speed"] * (1 + run["drift_ppm"] * 1e-6)


def errors(truth, runs):
    """Worst error over both ends of every true run, in song seconds over speed; None where unmatched.
    And the worst error of the detected ends themselves."""
    worst = ends = 0.0
    for t in truth:
        t = dict(t)
        overlap = lambda r: min(r["take_end_s"], t["take_end_s"]) - max(r["take_start_s"], t["take_start_s"])
        best = max(runs, key=overlap, default=None)
        if best is None or overlap(best) <= 0:
            return None, None
        for at in (t["take_start_s"], t["take_end_s"]):
            worst = max(worst, abs(position(best, at) - position(t, at)) / t["speed"])
        ends = max(ends, abs(best["take_start_s"] - t["take_start_s"]), abs(best["take_end_s"] - t["take_end_s"]))
    return worst, ends


def run_program(binary, folder, names, paths_of):
    """All takes of each song through the program."""
    results, cpu = {}, 0.0
    for name in names:
        paths = paths_of(name)
        if not paths:
            continue
        before = os.times()
        out = subprocess.run([binary, "sync", "--song", folder / f"{name}.wav", *paths, "--json"],
                             capture_output=True, text=True)
        after = os.times()
        cpu += after.children_user - before.children_user
        if out.returncode or not out.stdout:
            sys.exit(f"the program failed on {name}: {out.stderr[-600:]}")
        for report in json.loads(out.stdout)["takes"]:
            results[report["file"]] = report
    return results, cpu


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("binary")
    parser.add_argument("--folder")
    parser.add_argument("--only", default="normal,empty,loop,speed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--normal", type=int, default=104)
    parser.add_argument("--empty", type=int, default=60)
    parser.add_argument("--speed", type=int, default=72)
    parser.add_argument("-v", action="store_true")
    args = parser.parse_args()
    keep = tempfile.TemporaryDirectory() if not args.folder else None
    folder = Path(args.folder or keep.name)
    folder.mkdir(parents=True, exist_ok=True)
    only = args.only.split(",")
    started = time.time()
    cache = folder / f"made-{args.seed}-{args.normal}-{args.empty}-{args.speed}.json"
    if cache.exists():
        made = json.loads(cache.read_text())
    else:
        with ProcessPoolExecutor(2) as pool:
            about = list(pool.map(make_song, [folder] * len(SONGS), SONGS))
            lengths = {n: s for n, s, _ in about}
            loops = {n: l for n, _, l in about}
            rng = np.random.default_rng(args.seed)
            sets = {"normal": plan_normal(rng, lengths, args.normal), "empty": plan_empty(rng, args.empty),
                    "loop": plan_loop(rng, lengths, loops), "speed": plan_speed(rng, lengths, args.speed)}
            specs = [dict(s, set=k) for k, v in sets.items() for s in v]
            done = pool.map(make, [(folder, i, args.seed, s) for i, s in enumerate(specs)])
            made = [dict(s, file=f, truth=t) for s, (f, t) in zip(specs, done)]
        cache.write_text(json.dumps(made))
        print(f"made {len(made)} takes in {time.time() - started:.0f} s", file=sys.stderr)
    made = [m for m in made if m["set"] in only]
    heard_s = sum(soundfile.info(m["file"]).duration for m in made)
    results, cpu = run_program(args.binary, folder, SONGS, lambda n: [m["file"] for m in made if m["song"] == n])
    print(f"{len(made)} takes, {heard_s / 60:.0f} min, {cpu:.0f} CPU-s ({cpu / heard_s * 60:.2f} per minute of take)")
    passed = failed = 0

    def reach(what, good, of):
        """Counts one reach; a set without a take reaches nothing."""
        nonlocal passed, failed
        met = of > 0 and good >= REACH[what] * of
        passed, failed = passed + met, failed + (not met)
        print(f"  {'reached' if met else '!! BELOW'}: {what}: {good} of {of}, wanted {REACH[what]:.0%}")

    for m in made:
        report = results[m["file"]]
        m["got"] = report
        m["error"], m["ends"] = errors(m["truth"], report["runs"]) if m["truth"] else (None, None)
        if m["truth"] and len(report["runs"]) != len(m["truth"]):
            m["ends"] = None

    if "normal" in only:
        rows = [m for m in made if m["set"] == "normal"]
        right = [m for m in rows if m["error"] is not None and m["error"] <= RIGHT_S]
        close = [m for m in right if m["error"] <= HALF_FRAME_S]
        songs = {n: resample_poly(soundfile.read(folder / f"{n}.wav")[0], 80, 441) for n in SONGS}
        theirs = 0
        for m in rows:
            lag = plain(songs[m["song"]], m["file"])
            at = [dict(take_start_s=0, take_end_s=1e9, song_start_s=lag, speed=1, drift_ppm=0)]
            theirs += errors(m["truth"], at)[0] <= RIGHT_S
        ends = [m for m in rows if m["ends"] is not None and m["ends"] <= RIGHT_S]
        worst = max((m["error"] for m in right), default=0)
        print(f"normal speed, SNR >= -3 dB: {len(right)}/{len(rows)} right within 100 ms at both ends, {len(close)} of "
              f"those within half a frame (worst {1000 * worst:.2f} ms, median "
              f"{1000 * np.median([m['error'] for m in right]):.3f} ms)")
        print(f"  scipy.signal.correlate on the same takes: {theirs}/{len(rows)} right within 100 ms at both ends")
        print(json.dumps({"bench": "sync, share right within 100 ms", "unit": "", "figure": len(right) / len(rows),
                          "reference": theirs / len(rows), "against": "scipy.signal.correlate"}))
        print(f"  run begins and ends told within 100 ms, no run too many: {len(ends)}/{len(rows)}")
        reach("normal: right within 100 ms at both ends", len(right), len(rows))
        reach("normal: of the right ones, within half a frame", len(close), len(right))
        for m in rows:
            if args.v and (m not in close or m not in ends):
                show(m)
    if "empty" in only:
        rows = [m for m in made if m["set"] == "empty"]
        false = [m for m in rows if m["got"]["matched"]]
        print(f"without the song: {len(false)} matches on {len(rows)} takes")
        reach("empty: left alone", len(rows) - len(false), len(rows))
        for m in false:
            show(m)
    if "loop" in only:
        rows = [m for m in made if m["set"] == "loop"]
        not_wrong = owned = 0
        for name in ("plain", "loop"):
            some = [m for m in rows if m["song"] == name]
            sure = [m for m in some if m["got"]["matched"] and m["got"]["confidence"] > 0.6]
            wrong = [m for m in sure if m["error"] is None or m["error"] > RIGHT_S]
            listed = [m for m in some if m not in sure and m["got"]["matched"] and listed_right(m)]
            print(f"parts of a loop-based song ({'backing alone' if name == 'plain' else 'with a voice'}): {len(some)} takes, "
                  f"{len(sure) - len(wrong)} placed surely and right, {len(wrong)} surely and wrong, "
                  f"{len(listed)} left open with the truth among the places listed")
            not_wrong += len(some) - len(wrong)
            owned += len(sure) - len(wrong) + len(listed)
            for m in some:
                if args.v and (m in wrong or (m not in sure and m not in listed)):
                    show(m)
        reach("loop: not sure of a wrong place", not_wrong, len(rows))
        reach("loop: placed right, or left open with the truth listed", owned, len(rows))
    if "speed" in only:
        rows = [m for m in made if m["set"] == "speed"]
        right = [m for m in rows if m["error"] is not None and m["error"] <= RIGHT_S]
        print("other speeds: right = within 100 ms at both ends; and the median and worst error of those")
        for kind in ("resampled", "rubberband", "atempo"):
            for exact in (True, False):
                some = [m for m in rows if m["kind"] == kind and m["exact"] == exact]
                ok = [m for m in some if m["error"] is not None and m["error"] <= RIGHT_S]
                e = [1000 * m["error"] for m in ok] or [0]
                half = [v for v in e if v <= 1000 * HALF_FRAME_S]
                print(f"  {kind:10} {'usual ratios' if exact else 'any speed':12} {len(ok):2}/{len(some):2} right, "
                      f"{len(half)} within half a frame, median {np.median(e):.2f} ms, worst {max(e):.2f} ms")
                for m in some:
                    if args.v and m not in ok:
                        show(m)
        for what, kinds in (("resampled", ("resampled",)), ("pitch kept", ("rubberband", "atempo"))):
            of = [m for m in rows if m["kind"] in kinds]
            reach(f"speed: {what}, right within 100 ms at both ends", sum(m in right for m in of), len(of))
        close = [m for m in right if m["error"] <= HALF_FRAME_S]
        reach("speed: of the right ones, within half a frame", len(close), len(right))
    print(f"{passed} passed, {failed} failed")
    return 0 if passed and not failed else 1


def listed_right(m):
    at = [m["got"]["song_offset_s"]] + [a["song_offset_s"] for a in m["got"]["alternatives"]]
    t = m["truth"][0]
    return any(abs(a + t["take_start_s"] - t["song_start_s"]) < RIGHT_S for a in at)


def show(m):
    spec = {k: (round(m[k], 2) if isinstance(m[k], float) else m[k]) for k in
            ("song", "kind", "snr_db", "noise", "drift_ppm", "sing_db", "rate", "agc", "clip") if k in m}
    line = lambda r: f"[{r['take_start_s']:.2f}-{r['take_end_s']:.2f} song {r['song_start_s']:.3f} x{r['speed']:.5f} {r['drift_ppm']:.0f}ppm" + (
        f" c{r['confidence']:.2f}]" if "confidence" in r else "]")
    print("   ", Path(m["file"]).name, json.dumps(spec), "error", m.get("error"), "ends", m.get("ends"))
    print("      truth", *map(line, m["truth"]))
    print("      got  ", *map(line, m["got"]["runs"]), "alternatives", [round(a["song_offset_s"], 2) for a in m["got"]["alternatives"]])


if __name__ == "__main__":
    sys.exit(main())
