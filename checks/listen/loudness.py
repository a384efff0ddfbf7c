"""Integrated loudness beside pyloudnorm's on a few composed songs: at most 0.1 LU apart, or exit status 1.

    python loudness.py BAREBULB [--work FOLDER]

pyloudnorm with filter_class="DeMan": its default filter reads about 0.04 LU low against the standard's coefficients.
"""
import argparse
import os
import sys

import pyloudnorm
import soundfile

import score_songs

SONGS = ["h01", "h07", "h20"]  # mastered stereo, soft stereo, mono
MOST_LU = .1


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("command")
    ap.add_argument("--work", default=score_songs.WORK)
    a = ap.parse_args()
    passed = failed = 0
    for files in score_songs.compose(a.work, SONGS).values():
        for f in files:
            wav = f[:-5] + ".wav"
            samples, rate = soundfile.read(wav)
            theirs = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(samples)
            ours = score_songs.run(a.command, wav)[0]["loudness"]["integrated_lufs"]
            close = abs(ours - theirs) <= MOST_LU
            passed, failed = passed + close, failed + (not close)
            print(f"{os.path.basename(wav)}  ours {ours:.3f}  pyloudnorm {theirs:.3f} LUFS{'' if close else '  FAILED'}")
    print(f"{passed} passed, {failed} failed")
    sys.exit(int(failed > 0 or passed == 0))


if __name__ == "__main__":
    main()
