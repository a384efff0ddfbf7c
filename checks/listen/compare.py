"""The same songs heard by the program, librosa and essentia, in one run: beat F and processor time beside each other.

    python compare.py BAREBULB [--work FOLDER] [--songs h01 h02 ...]

librosa: beat.beat_track with its defaults; essentia: RhythmExtractor2013, multifeature.
One thread each. Their time is that of the work in this process after import, decoding included; the program's is
that of its whole process. Neither library gives downbeats or sections by these calls.
"""
import os

for _k in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[_k] = "1"

import argparse
import json
import time

import numpy as np

import gen_hard
import score_songs


def by_librosa():
    import librosa

    def hear(wav):
        y, sr = librosa.load(wav)
        return librosa.beat.beat_track(y=y, sr=sr, units="time")[1]

    return hear


def by_essentia():
    import essentia
    import essentia.standard as es

    essentia.log.infoActive = essentia.log.warningActive = False

    def hear(wav):
        return es.RhythmExtractor2013(method="multifeature")(es.MonoLoader(filename=wav)())[1]

    return hear


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("command")
    ap.add_argument("--work", default=score_songs.WORK)
    ap.add_argument("--songs", nargs="*", default=list(gen_hard.SONGS))
    a = ap.parse_args()
    others = {}
    for name, make in (("librosa", by_librosa), ("essentia", by_essentia)):
        try:
            others[name] = make()
        except ImportError as e:
            print(f"{name} is left out: {e}")
    sets = score_songs.compose(a.work, a.songs)
    for hear in others.values():
        hear(next(iter(sets.values()))[0][:-5] + ".wav")  # compiling and caches are not counted
    for name, files in sets.items():
        got = {}
        for f in files:
            truth = json.load(open(f))
            minutes = truth["duration"] / 60
            song, cpu = score_songs.run(a.command, f[:-5] + ".wav")
            got.setdefault("barebulb", []).append((score_songs.f_beats(truth["beats"], song["beats_s"]), cpu / minutes))
            for other, hear in others.items():
                start = time.process_time()
                beats = hear(f[:-5] + ".wav")
                cpu = time.process_time() - start
                got.setdefault(other, []).append((score_songs.f_beats(truth["beats"], beats), cpu / minutes))
        for who, rows in got.items():
            f, cpu = np.mean(rows, axis=0)
            print(f"{name:6s} ({len(files):2d})  {who:10s} beat F {f:.3f}   {cpu:6.2f} processor s per minute", flush=True)
        ours = np.mean(got["barebulb"], axis=0)
        for other in others:
            theirs = np.mean(got[other], axis=0)
            for what, unit, at in (("beat F", "", 0), ("CPU per minute of sound", "s", 1)):
                line = {"bench": f"listening, {name} songs, {what}", "unit": unit, "figure": ours[at], "reference": theirs[at], "against": other}
                print(json.dumps(line), flush=True)


if __name__ == "__main__":
    main()
