"""Integrated loudness beside pyloudnorm's on a few composed songs: at most 0.1 LU apart, or exit status 1.

    python loudness.py BAREBULB [--work FOLDER]

pyloudnorm with filter_class="DeMan": its default filter reads about 0.04 LU low against the standard's coefficients.
"""
import argparse
import os
import sys
import tempfile

import pyloudnorm
import soundfile

import score_songs

SONGS = ["h01", "h07", "h20"]  # mastered stereo, soft stereo, mono
MOST_LU = .1


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("command")
    ap.add_argument("--work", default=os.path.join(tempfile.gettempdir(), "listen-songs"))
    a = ap.parse_args()
    worst = 0
    for files in score_songs.compose(a.work, SONGS, None).values():
        for f in files:
            wav = f[:-5] + ".wav"
            samples, rate = soundfile.read(wav)
            theirs = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(samples)
            ours = score_songs.run(a.command, wav)[0]["loudness"]["integrated_lufs"]
            worst = max(worst, abs(ours - theirs))
            print(f"{os.path.basename(wav)}  ours {ours:.3f}  pyloudnorm {theirs:.3f} LUFS")
    print(f"largest difference {worst:.3f} LU")
    sys.exit(int(worst > MOST_LU))


if __name__ == "__main__":
    main()
