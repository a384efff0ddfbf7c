"""Scores the program's listening on songs with known beats, bars and sections. Exit status 1 below the reach.

    python score_songs.py BAREBULB [--work FOLDER] [--songs h01 h02 ...]

BAREBULB is the command, run as `BAREBULB listen FILE --json`; with {wav} in it, it is run as it stands.
The songs are composed here by gen_hard.py and kept in --work for the next run; the usual folder is named by what
gen_hard.py is, so that songs of another version of it are never taken for these.
Measures are mir_eval's: beats and downbeats F at 70 ms from 5 s on, boundaries F at 3 s with the ends trimmed; voice is
how well `voiced` orders the sections of a song by how much of them is sung. Processor time is printed and judges
nothing: `compare.py` is the measurement.
"""
import argparse
import hashlib
import json
import os
import resource
import shlex
import subprocess
import sys
import warnings

import mir_eval
import numpy as np

import gen_hard

HERE = os.path.dirname(os.path.abspath(__file__))
WORK = os.path.join(HERE, "../../out/listen-songs", hashlib.sha256(open(os.path.join(HERE, "gen_hard.py"), "rb").read()).hexdigest()[:12])
# Means each set of songs must reach. That of voice holds what was reached when it was set (0.92 and more), less what a
# song or two can make of it.
REACH = dict(beat=.85, downbeat=.65, boundary=.70, voice=.85)
ONE_THREAD = {k: "1" for k in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS", "RAYON_NUM_THREADS")}
warnings.filterwarnings("ignore")


def run(command, wav):
    """What the command says of one song, and the processor seconds it took."""
    words = [w.replace("{wav}", wav) for w in shlex.split(command)]
    if "{wav}" not in command:
        words += ["listen", wav, "--json"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(words, capture_output=True, text=True, timeout=600, env=dict(os.environ, **ONE_THREAD))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise RuntimeError(f"{shlex.join(words)} ended with {done.returncode}: {done.stderr.strip()[-300:]}")
    return json.loads(done.stdout), after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def f_beats(truth, found):
    trim = mir_eval.beat.trim_beats
    return mir_eval.beat.f_measure(trim(np.array(truth)), trim(np.array(found))) if len(found) > 1 else 0.0


def f_bounds(truth, found):
    """Sections as lists of (start, end)."""
    return mir_eval.segment.detection(np.array(truth), np.array(found), window=3.0, trim=True)[2] if len(found) > 1 else 0.0


def voice_auc(truth, song):
    """How well `voiced` orders the sections of a song by how much of them is sung: agreeing pairs, 0.5 is chance."""
    parts = [(s["start_s"], s["end_s"], s["voiced"]) for s in song["sections"]]
    sung = [sum(max(0, min(b, z) - max(a, y)) for y, z in truth["voice"]) / (b - a) for a, b, _ in parts]
    pairs = [(sung[i] - sung[j], parts[i][2] - parts[j][2]) for i in range(len(parts)) for j in range(i) if abs(sung[i] - sung[j]) > .3]
    return np.mean([.5 if d == 0 else float((t > 0) == (d > 0)) for t, d in pairs]) if pairs else np.nan


def scores(truth, song):
    return dict(beat=f_beats(truth["beats"], song["beats_s"]), downbeat=f_beats(truth["downbeats"], song["downbeats_s"]),
                boundary=f_bounds([(s["start"], s["end"]) for s in truth["sections"]], [(s["start_s"], s["end_s"]) for s in song["sections"]]),
                voice=voice_auc(truth, song) if truth.get("voice") else np.nan)


def compose(work, names):
    """Makes what is not there yet; the sets by name."""
    for name in names:
        if not os.path.exists(f"{work}/{name}.json"):
            gen_hard.make(name, gen_hard.SONGS[name], 4000 + int(name[1:]), work)
    songs = [f"{work}/{n}.json" for n in names]
    sets = {half: [f for f in songs if json.load(open(f))["half"] == half] for half in ("tuned", "held")}
    return {k: v for k, v in sets.items() if v}


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("command")
    ap.add_argument("--work", default=WORK)
    ap.add_argument("--songs", nargs="*", default=list(gen_hard.SONGS))
    a = ap.parse_args()
    passed = failed = 0
    print(f"{'song':8s}{'beat':>8s}{'down':>8s}{'bound':>8s}{'voice':>8s}{'cpu/min':>9s}")
    row = lambda n, r: print(f"{n:8s}" + "".join(f"{r[k]:8.2f}" for k in ("beat", "downbeat", "boundary", "voice")) + f"{r['cpu']:9.2f}", flush=True)
    for name, files in compose(a.work, a.songs).items():
        rows = []
        for f in files:
            truth = json.load(open(f))
            song, cpu = run(a.command, f[:-5] + ".wav")
            rows.append(dict(scores(truth, song), cpu=cpu / truth["duration"] * 60))
            row(truth["id"], rows[-1])
        mean = {k: float(np.nanmean([r[k] for r in rows])) for k in rows[0]}
        row(f"= {name}", mean)
        for k, least in REACH.items():
            good = mean[k] >= least
            passed, failed = passed + good, failed + (not good)
            if not good:
                print(f"!! {name}: {k} {mean[k]:.3f} is below {least}")
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed or not passed else 0)


if __name__ == "__main__":
    main()
