"""Reads playback files and holds them against where the program says everything lies.

    python checks/playback/check_playback.py BAREBULB_BINARY PROJECT      runs `playback` on it
    python checks/playback/check_playback.py BAREBULB_BINARY MADE.json    files made before

`MADE.json` is what `cargo run -p playback --example make` prints (several may follow). Per file:

- beeps and clicks by their own waves (numpy): within 0.5 ms and 1 ms of the stated places;
- the song in the file by `barebulb sync`: <= 1 ms of file time with the pitch following, <= 5 ms with
  the pitch kept;
- the same without the program: the song played at that speed by scipy's resample_poly, correlated
  (pitch following, <= 0.1 ms); with the pitch kept the energy above 2 kHz in steps of 1 ms (<= 2 ms);
- true peak by resample_poly, 8 times: <= -1.0 dBTP, and within 0.15 dB of the stated one;
- loudness by pyloudnorm: within 0.2 LU of the stated one (its default filter reads low, DeMan's does not);
- timecode by libltc through ctypes: every label, its place within 0.1 ms, and song time at the start of
  the stretch. libltc finds edges at whole samples and filters the level, hence the slack. Where there
  is no libltc this column is left out.
"""
import ctypes
import ctypes.util
import json
import subprocess
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from scipy.signal import butter, correlate, resample_poly, sosfiltfilt

CLICKS_HZ = {True: 2500.0, False: 1600.0}


class Tally:
    """Counts comparisons and prints each that fails; keeps the worst of each kind."""

    def __init__(self):
        self.passed, self.failed, self.worst = Counter(), Counter(), {}

    def near(self, kind, got, wanted, slack, where):
        off = abs(got - wanted)
        self.worst[kind] = max(self.worst.get(kind, (0, slack)), (off, slack))
        self.true(kind, off <= slack, f"{where}: {got:.6g} instead of {wanted:.6g} ± {slack:g}")

    def true(self, kind, holds, says):
        (self.passed if holds else self.failed)[kind] += 1
        if not holds:
            print(f"FAILED {kind}: {says}")


# ------------------------------------------------------------------ libltc


class Frame(ctypes.Structure):
    """struct LTCFrameExt of libltc's ltc.h."""
    _fields_ = [("ltc", ctypes.c_ubyte * 10), ("off_start", ctypes.c_longlong), ("off_end", ctypes.c_longlong),
                ("reverse", ctypes.c_int), ("biphase_tics", ctypes.c_float * 80), ("sample_min", ctypes.c_ubyte),
                ("sample_max", ctypes.c_ubyte), ("volume", ctypes.c_double)]


def libltc():
    for name in (ctypes.util.find_library("ltc"), "libltc.so.11", "libltc.dylib", "libltc.11.dylib"):
        try:
            if name:
                library = ctypes.CDLL(name)
                library.ltc_decoder_create.restype = ctypes.c_void_p
                library.ltc_decoder_create.argtypes = [ctypes.c_int, ctypes.c_int]
                library.ltc_decoder_write_float.argtypes = [ctypes.c_void_p, ctypes.POINTER(ctypes.c_float),
                                                            ctypes.c_size_t, ctypes.c_longlong]
                library.ltc_decoder_read.argtypes = [ctypes.c_void_p, ctypes.POINTER(Frame)]
                library.ltc_decoder_free.argtypes = [ctypes.c_void_p]
                return library
        except OSError:
            continue
    return None


def read_timecode(library, wave, per_frame):
    """Every label libltc reads, as (hours, minutes, seconds, frames, drop, first sample)."""
    decoder = library.ltc_decoder_create(int(per_frame), 64)
    found, frame = [], Frame()
    wave = np.ascontiguousarray(wave, dtype=np.float32)
    for at in range(0, len(wave), 4096):
        part = wave[at:at + 4096]
        library.ltc_decoder_write_float(decoder, part.ctypes.data_as(ctypes.POINTER(ctypes.c_float)), len(part), at)
        while library.ltc_decoder_read(decoder, ctypes.byref(frame)):
            b = frame.ltc
            two = lambda k, mask: (b[k + 1] & mask) * 10 + (b[k] & 15)  # noqa: E731
            found.append((two(6, 3), two(4, 7), two(2, 7), two(0, 3), bool(b[1] & 4), frame.off_start))
    library.ltc_decoder_free(decoder)
    return found


def label(text):
    parts = text.replace(";", ":").split(":")
    return tuple(int(p) for p in parts) + (";" in text,)


def frame_number(parts, counted):
    h, m, s, f, drop = parts
    total = (h * 60 + m) * 60 * counted + s * counted + f
    minutes = h * 60 + m
    return total - (2 * (minutes - minutes // 10) if drop else 0)


def check_timecode(tally, library, told, wave, rate_hz, where):
    code = told["timecode"]
    rate = Fraction(code["rate"])
    counted = -(-rate.numerator // rate.denominator)
    per_frame = code["label_s"] * rate_hz
    found = read_timecode(library, wave, per_frame)
    tally.true("timecode: labels read", len(found) >= code["labels"] - 3, f"{where}: {len(found)} of {code['labels']}")
    first = frame_number(label(code["start"]), counted)
    for h, m, s, f, drop, at in found:
        number = frame_number((h, m, s, f, drop), counted)
        tally.true("timecode: counting", drop == code["drop"], f"{where}: drop {drop}")
        wanted = (code["start_s"] + (number - first) * code["label_s"]) * rate_hz
        # Before the first label libltc has seen no edge to set its level by.
        kind, slack = ("timecode: place of a label, ms", 0.1) if number > first else ("timecode: place of the first, ms", 0.5)
        tally.near(kind, at / rate_hz * 1e3, wanted / rate_hz * 1e3, slack, where)
    numbers = [frame_number(x[:5], counted) for x in found]
    tally.true("timecode: no label missing", all(np.diff(numbers) == 1), where)
    # At the start of the stretch the label is song time: interpolate between the labels around it.
    at = np.interp(told["stretch_start_s"] * rate_hz, [x[5] for x in found], numbers)
    zero = frame_number(label(code["song_zero"]), counted)
    tally.near("timecode: song at the stretch, ms", (at - zero) / float(rate) * 1e3, told["song_at_stretch_s"] * 1e3, 0.1, where)


# ------------------------------------------------------------------ sound


def band(x, rate_hz, low, high):
    return sosfiltfilt(butter(2, [low, high], "band", fs=rate_hz, output="sos"), x)


def check_tones(tally, told, x, rate_hz, where):
    for kind in ("head", "tail"):
        at = told[f"{kind}_beep_s"]
        from_ = max(0, int((at - 0.2) * rate_hz))
        part = x[from_:int((at + 0.1) * rate_hz)]
        start = np.argmax(np.abs(part) > 0.02 * np.abs(part).max()) + from_
        tally.near("beep: start, ms", start / rate_hz * 1e3, at * 1e3, 0.5, f"{where} {kind}")
        sound = x[start:start + int(told["beep_length_s"] * rate_hz)]
        spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), 1 << 18))
        tally.near("beep: frequency, Hz", np.argmax(spectrum) * rate_hz / (1 << 18), 1000.0, 5.0, f"{where} {kind}")
    t = np.arange(int(0.012 * rate_hz)) / rate_hz
    for at, accent in zip(told["clicks_s"], told["accents"]):
        wave = np.sin(2 * np.pi * CLICKS_HZ[accent] * t) * 10 ** (-60 * t)
        from_ = int((at - 0.02) * rate_hz)
        part = x[from_:from_ + int(0.04 * rate_hz) + len(wave)]
        place = np.argmax(correlate(part, wave, "valid")) + from_
        tally.near("click: place, ms", place / rate_hz * 1e3, at * 1e3, 1.0, where)
    speed = float(Fraction(told["speed"]))
    for at, song in zip(told["clicks_s"], told["clicks_song_s"]):
        wanted = told["stretch_start_s"] + (song - told["song_at_stretch_s"]) / speed
        tally.near("click: on its beat, ms", at * 1e3, wanted * 1e3, 1.1e3 / rate_hz, where)


def lag(a, b, most):
    """By how many steps `a` lies later than `b`, to a fraction by a parabola."""
    c = correlate(a, b, "full", method="fft")
    middle = len(b) - 1
    part = c[middle - most:middle + most + 1]
    k = int(np.argmax(part))
    if 0 < k < len(part) - 1:
        left, here, right = part[k - 1:k + 2]
        return k - most + 0.5 * (left - right) / (left - 2 * here + right)
    return k - most


def check_place(tally, told, x, song, rate_hz, where):
    speed = Fraction(told["speed"])
    start, end = (int(round(told[f"stretch_{k}_s"] * rate_hz)) for k in ("start", "end"))
    heard = x[start:end]
    first = int(round(told["song_at_stretch_s"] * rate_hz))
    played = song[first:first + int(round(len(heard) * float(speed))) + 1]
    if not told["pitch_kept"]:
        if speed.numerator * speed.denominator < 5_000_000 and max(speed.numerator, speed.denominator) <= 1001:
            truth = resample_poly(played, speed.denominator, speed.numerator)[:len(heard)]
            off = lag(heard[:len(truth)], truth, int(0.01 * rate_hz)) / rate_hz * 1e3
            tally.near("song by scipy, pitch following, ms", off, 0.0, 0.1, where)
        return
    step = rate_hz // 1000
    energy = lambda y: np.log1p(1e3 * np.add.reduceat(band(y, rate_hz, 2000, 12000) ** 2, np.arange(0, len(y) - step, step)) / step)  # noqa: E731
    # One step of the file is `speed` steps of the song: sum the song's fine energy over those.
    fine = band(played, rate_hz, 2000, 12000) ** 2
    edges = np.minimum((np.arange(len(heard) // step - 1) * step * float(speed)).astype(int), len(fine) - 1)
    truth = np.log1p(1e3 * np.add.reduceat(fine, edges) / (step * float(speed)))
    ours = energy(heard)[:len(truth)]
    truth = truth[:len(ours)]
    rise = lambda e: np.maximum(np.diff(e), 0)  # noqa: E731
    tally.near("song by energy, pitch kept, ms", lag(rise(ours), rise(truth), 30), 0.0, 2.0, where)


def check_level(tally, told, programme, rate_hz, where):
    peak = max(np.abs(resample_poly(c, 8, 1)).max() for c in programme)
    db = 20 * np.log10(peak)
    tally.true("true peak <= -1.0 dBTP", db <= -1.0 and told["true_peak_dbtp"] <= -1.0, f"{where}: {db:.3f}, stated {told['true_peak_dbtp']:.3f}")
    tally.near("true peak as stated, dB", db, told["true_peak_dbtp"], 0.15, where)
    both = np.stack([programme[0], programme[-1]], axis=1)
    loud = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(both)
    tally.near("loudness as stated, LU", loud, told["loudness_lufs"], 0.2, where)


def check_sync(tally, binary, song, files):
    """Each file placed on the song by the program itself."""
    run = subprocess.run([binary, "sync", "--song", song, *[f["path"] for f in files], "--json"], capture_output=True, text=True)
    if run.returncode not in (0, 1) or not run.stdout.strip():
        tally.true("song by our sync", False, run.stderr.strip()[-300:])
        return
    reports = {Path(r["file"]).name: r for r in json.loads(run.stdout)["takes"]}
    for told in files:
        report = reports[Path(told["path"]).name]
        runs = [r for r in report.get("runs", [])]
        kind, slack = ("song by our sync, pitch kept, ms", 5.0) if told["pitch_kept"] else ("song by our sync, ms", 1.0)
        length = told["stretch_end_s"] - told["stretch_start_s"]
        if not report["matched"] or not runs:
            # What is too short to be heard as a pass cannot be placed by anybody's ear.
            tally.true(kind, length < 4.0, f"{told['path']}: not heard in {length:.1f} s")
            continue
        run = max(runs, key=lambda r: r["take_end_s"] - r["take_start_s"])
        speed = float(Fraction(told["speed"]))
        tally.near("speed by our sync, ppm", run["speed"] * (1 + run["drift_ppm"] * 1e-6) / speed * 1e6, 1e6, 200.0, told["path"])
        middle = (told["stretch_start_s"] + told["stretch_end_s"]) / 2
        heard = run["song_start_s"] + (middle - run["take_start_s"]) * run["speed"] * (1 + run["drift_ppm"] * 1e-6)
        wanted = told["song_at_stretch_s"] + (middle - told["stretch_start_s"]) * speed
        off = (heard - wanted) / speed * 1e3
        print(f"  our sync, {Path(told['path']).name}: speed {told['speed']}{', pitch kept' if told['pitch_kept'] else ''}: {off:+.3f} ms of file time, {off * speed:+.3f} ms of song time")
        tally.near(kind, off, 0.0, slack, told["path"])


def main():
    binary = Path(sys.argv[1]).resolve()
    made = []
    for argument in map(Path, sys.argv[2:]):
        if argument.is_dir():
            run = subprocess.run([binary, "playback", argument, "--json"], capture_output=True, text=True, check=True)
            songs = [f for f in sorted((argument / "song").iterdir()) if f.suffix.lower() in (".wav", ".flac", ".aiff")]
            made += [dict(f, path=str(argument / f["file"]), song=f.get("song") or str(songs[0])) for f in json.loads(run.stdout)["files"]]
        else:
            made += [dict(f, path=f["file"]) for f in json.loads(argument.read_text(encoding="utf-8"))["files"]]
    tally = Tally()
    tally.true("there are files", bool(made), "none was made")
    library = libltc()
    if library is None:
        print("left out: timecode by libltc, which is not on this system")
    songs = {}
    for told in made:
        sound, rate_hz = soundfile.read(told["path"], always_2d=True, dtype="float64")
        where = Path(told["path"]).name
        tally.near("length, s", len(sound) / rate_hz, told["length_s"], 1e-6, where)
        if told["song"] not in songs:
            song, song_rate = soundfile.read(told["song"], always_2d=True, dtype="float64")
            songs[told["song"]] = (song.mean(axis=1), song_rate)
        song, song_rate = songs[told["song"]]
        tally.near("sample rate, Hz", rate_hz, song_rate, 0, where)
        programme = [sound[:, 0]] if told["timecode"] else [sound[:, 0], sound[:, 1]]
        x = sum(programme) / len(programme)
        check_tones(tally, told, x, rate_hz, where)
        check_place(tally, told, x, song, rate_hz, where)
        check_level(tally, told, programme, rate_hz, where)
        if told["timecode"] and library is not None:
            check_timecode(tally, library, told, sound[:, 1], rate_hz, where)
    for song in songs:
        check_sync(tally, binary, song, [f for f in made if f["song"] == song])
    for kind in sorted({*tally.passed, *tally.failed}):
        worst = tally.worst.get(kind)
        print(f"{kind}: {tally.passed[kind]} passed, {tally.failed[kind]} failed" + (f", worst {worst[0]:.4g} (allowed {worst[1]:g})" if worst else ""))
    passed, failed = sum(tally.passed.values()), sum(tally.failed.values())
    print(f"{passed} passed, {failed} failed")
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
