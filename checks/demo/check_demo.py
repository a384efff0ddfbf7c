"""Holds a finished demo against what it was composed of, from its files alone.

    python checks/demo/check_demo.py BAREBULB_BINARY DEMO_FOLDER

The demo writes what is true of it (`demo-truth.json`) beside what the program found. Here the found
is read by others' libraries and compared with the true:

- the song's beats, bars and sections as `listen --json` tells them, scored by mir_eval, at the reach
  set for listening (beats 0.85, downbeats 0.65, sections 0.70 at 3 s), and against the scores that
  the program gave itself in `demo-report.json` (0.005, half of the last digit it prints);
- the newest timeline, read by OpenTimelineIO: one unbroken picture as long as the song to the
  frame; every shot in sync within half a frame (of the cut or of its take, whichever frame is longer) at its
  first and last frame; no take
  without the song shown as in sync; performer states never running backwards; every file there;
- the preview, decoded by ffmpeg: as many frames as the cut, and in every frame of a shot in sync
  the frame counter that the demo burns into its takes, read off the picture: the right take, each
  shot within half a frame in the median, each frame within one frame of the cut (a take of another
  rate has no nearer frame to show); its sound against the song by scipy's correlation, 1 ms.

- the photographs of the scouting walk, each read by Pillow: position, time with its zone, bearing, exposure and
  bias as they are true; as the plan holds them: every one at the place it shows (the one without a position too, by
  its time), and the light worked back from its exposure (ISO 2720, K 12.5, 18 % grey) within the stated doubt of
  the light there was, and the program's to 1 %; a meter's reading above all of it;
- what the closing table tells of the night, against `kit --json` and `day --json`: the day that is kept is the best
  there is, breaks nothing, and leaves out one setup that it could do without.

Where there is no ffmpeg, or the demo says that it left the preview out, that part is left out and
said so.
"""
import json
import math
import shutil
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote

import mir_eval
import numpy as np
import opentimelineio as otio
import soundfile
from PIL import Image
from scipy.signal import correlate

REACH = {"beats": 0.85, "downbeats": 0.65, "sections": 0.70}
CELLS = 28  # of the frame counter: bright, dark, 24 bits, dark, bright
passed = failed = 0


def check(what, good, found):
    global passed, failed
    passed, failed = passed + bool(good), failed + (not good)
    print(f"{'ok  ' if good else 'NOT '} {what}: {found}")


def song_at(runs, take_s):
    """Song moments heard at `take_s`, one for each run that sounds there (a tenth of a second more)."""
    return [run["song_start_s"] + (take_s - run["take_start_s"]) * run["speed"] * (1 + run["drift_ppm"] * 1e-6)
            for run in runs if run["take_start_s"] - 0.1 <= take_s <= run["take_end_s"] + 0.1]


def off(runs, take_s, song_s):
    """Seconds between `song_s` and the nearest song moment at `take_s`; infinite without one."""
    return min((at - song_s for at in song_at(runs, take_s)), key=abs, default=math.inf)


def listening(binary, song, truth, report):
    told = json.loads(subprocess.run([binary, "listen", song, "--json"], check=True, capture_output=True).stdout)
    true = truth["song"]
    trim = mir_eval.beat.trim_beats
    beats = {name: mir_eval.beat.f_measure(trim(np.array(true[f"{name}_s"])), trim(np.array(told[f"{name}_s"])))
             for name in ("beats", "downbeats")}
    spans = lambda sections: np.array([[s["start_s"], s["end_s"]] for s in sections])
    sections = mir_eval.segment.detection(spans(true["sections"]), spans(told["sections"]), window=3.0, trim=True)[2]
    for name, score, own in (("beats", beats["beats"], report["listening"]["beat_f"]),
                             ("downbeats", beats["downbeats"], report["listening"]["downbeat_f"]),
                             ("sections", sections, report["listening"]["boundary_f"])):
        check(f"{name}, F by mir_eval at least {REACH[name]}", score >= REACH[name], f"{score:.3f}")
        check(f"{name}, the program's own F is mir_eval's", abs(score - own) <= 0.005, f"{own:.3f} and {score:.3f}")


def number_of_version(path):
    return int("".join(c for c in path.stem if c.isdigit()) or 0)


def timeline(folder, truth, song):
    """The shots of the newest timeline as (first frame, last frame + 1, take truth or None, in sync), and the rate."""
    path = max(folder.glob("assembly/v*.otio"), key=number_of_version)
    read = otio.adapters.read_from_file(str(path))
    rate = Fraction(read.metadata["barebulb"]["cut_rate"])
    takes = {Path(take["file"]).stem: take for take in truth["takes"]}  # without ffmpeg they are sound alone
    at, shots, states, worst = 0, [], [], 0.0
    for item in read.video_tracks()[0]:
        frames = round(item.source_range.duration.value_rescaled_to(float(rate)))
        shot = (at, at + frames, None, False)
        if isinstance(item, otio.schema.Clip):
            file = path.parent / unquote(item.media_reference.target_url)
            if not file.is_file():
                check(f"{path.name}: the file of each shot is there", False, file)
            take = takes[file.stem]
            in_sync = bool(item.metadata["barebulb"]["in_sync"])
            shot = (at, at + frames, take, in_sync)
            scalar = next((e.time_scalar for e in item.effects if isinstance(e, otio.schema.LinearTimeWarp)), 1.0)
            start = item.source_range.start_time - item.media_reference.available_range.start_time
            if in_sync:
                states.append(take["state"])
                for frame in (at, at + frames - 1):
                    take_s = start.to_seconds() + float((frame - at) / rate) * scalar
                    # A frame of a take shown slower than it was made lasts that much longer on the song.
                    longer_s = max(float(1 / rate), 1 / (item.source_range.start_time.rate * scalar))
                    worst = max(worst, abs(off(take["runs"], take_s, float(frame / rate))) / longer_s)
        shots.append(shot)
        at += frames
    about = soundfile.info(str(song))
    wanted = Fraction(about.frames, about.samplerate) * rate
    check(f"{path.name}: as long as the song to the frame", abs(at - wanted) < 1, f"{at} frames, song {float(wanted):.2f}")
    # A take of a slower rate than the cut's has no nearer frame than half of its own to show.
    check(f"{path.name}: worst shot in sync within half a frame", worst <= 0.5, f"{worst:.3f} of the longer frame")
    check(f"{path.name}: states never run backwards", states == sorted(states), states)
    check(f"{path.name}: there are shots in sync", len(states) >= 10, f"{len(states)} of {len(shots)}")
    return shots, rate


def read_counter(row, width, height):
    """Take and frame from a grey picture's rows around the counter; None where it cannot be trusted.

    The layout is the one at the head of the demo's counter: in the largest centred 4:3 area, cells of
    1/60 by 1/60 of it, centred, ending 1/60 above its bottom.
    """
    area = (height * 4 / 3, height) if width * 3 > height * 4 else (width, width * 0.75)
    cell = area[0] / 60
    left = width / 2 - cell * CELLS / 2
    middles = left + cell * (np.arange(CELLS) + 0.5)
    reach = max(cell * 0.25, 0.5)
    values = np.array([row[:, int(x - reach):int(x + reach) + 1].mean() for x in middles])
    bright, dark = (values[0] + values[-1]) / 2, (values[1] + values[-2]) / 2
    if bright - dark < 24:
        return None
    bits = "".join("1" if value > (bright + dark) / 2 else "0" for value in values)
    groups = [int(bits[2 + 4 * i:6 + 4 * i], 2) for i in range(6)]
    if bits[:2] != "10" or bits[-2:] != "01" or groups[5] != (sum(groups[:5]) & 15) ^ 5:
        return None
    return int(bits[2:8], 2), int(bits[8:22], 2)


def counters(path):
    """What each frame's counter says."""
    probe = subprocess.run(["ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "stream=width,height",
                            "-of", "csv=p=0", path], check=True, capture_output=True, text=True)
    width, height = map(int, probe.stdout.strip().rstrip(",").split(","))
    area_height = min(height, width * 0.75)
    cell = area_height / 60
    top, rows = int(height / 2 + area_height / 2 - 1.7 * cell), max(int(0.4 * cell), 1)
    ffmpeg = subprocess.Popen(["ffmpeg", "-v", "error", "-nostdin", "-i", path, "-map", "0:v:0", "-fps_mode", "passthrough",
                               "-vf", f"format=gray,crop={width}:{rows}:0:{top}:exact=1", "-f", "rawvideo", "-"],
                              stdout=subprocess.PIPE)
    found = []
    while len(piece := ffmpeg.stdout.read(width * rows)) == width * rows:
        found.append(read_counter(np.frombuffer(piece, np.uint8).reshape(rows, width), width, height))
    if ffmpeg.wait() != 0:
        check(f"{path.name}: can be decoded", False, f"ffmpeg ended with {ffmpeg.returncode}")
    return found


def preview(path, shots, rate, song):
    seen = counters(path)
    check(f"{path.name}: as many frames as the cut", len(seen) == shots[-1][1], f"{len(seen)} and {shots[-1][1]}")
    frame_s = float(1 / rate)
    wrong, unread, medians, worst, in_sync = [], 0, [], 0.0, 0
    for first, end, take, sync in shots:
        errors = []
        for frame in range(first, min(end, len(seen))):
            if take is None or seen[frame] is None:
                unread += take is not None
                continue
            number, index = seen[frame]
            if number != take["number"]:
                wrong.append(frame)
            elif sync:
                errors.append(off(take["runs"], float(index / Fraction(take["rate"])), frame * frame_s))
        if errors:
            in_sync += 1
            medians.append(abs(float(np.median(errors))))
            worst = max(worst, max(map(abs, errors)))
    filmed = sum(end - first for first, end, take, _ in shots if take is not None)
    check(f"{path.name}: counters that can be read", unread <= filmed // 100, f"{filmed - unread} of {filmed}")
    check(f"{path.name}: every frame is of its shot's take", not wrong, f"{len(wrong)} are not, {wrong[:5]}")
    check(f"{path.name}: each of {in_sync} shots within half a frame in the median",
          in_sync and max(medians) <= frame_s / 2, f"{1000 * max(medians, default=math.nan):.1f} ms")
    check(f"{path.name}: each frame in sync within one frame", worst <= frame_s, f"{1000 * worst:.1f} ms")
    sound, hz = soundfile.read(str(song), dtype="float32", always_2d=True)
    decoded = subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-i", path, "-map", "0:a:0", "-ac", "1", "-ar", str(hz),
                              "-f", "f32le", "-"], check=True, capture_output=True).stdout
    heard, mono = np.frombuffer(decoded, np.float32), sound.mean(1)
    check(f"{path.name}: sound as long as the picture", abs(len(heard) / hz - shots[-1][1] * frame_s) <= frame_s,
          f"{len(heard) / hz:.3f} s")
    length, start = 20 * hz, 30 * hz  # twenty seconds in, where the song is under way
    lags = correlate(heard[start:start + length], mono[start:start + length], method="fft")
    lag = (int(np.argmax(lags)) - (length - 1)) / hz
    check(f"{path.name}: sound on the song within 1 ms", abs(lag) <= 0.001, f"{1000 * lag:.2f} ms")


def degrees(parts, side):
    whole, minutes, seconds = (float(part) for part in parts)
    return (whole + minutes / 60 + seconds / 3600) * (-1 if side in "SW" else 1)


def walk(binary, folder, truth):
    scouted = json.loads(subprocess.run([binary, "scout", folder, "--json"], check=True, capture_output=True).stdout)
    places = {place["id"]: place for place in scouted["places"]}
    at = {photo["file"]: (place, photo) for place in places.values() for photo in place["photos"]}
    wrong, lost, dim, apart = [], [], 0.0, 0.0
    for true in truth["photos"]:
        name = f"walk/{true['file']}"
        with Image.open(folder / name) as image:
            image.load()
            read = image.getexif()
        exif, gps = read.get_ifd(0x8769), read.get_ifd(0x8825)
        offset = f"{true['utc_offset_minutes'] // 60:+03d}:{true['utc_offset_minutes'] % 60:02d}"
        good = (exif[0x9003] == true["taken"].replace("-", ":").replace("T", " ") and exif[0x9011] == offset
                and math.isclose(float(exif[0x829A]), true["exposure_s"], rel_tol=1e-6)
                and math.isclose(float(exif[0x829D]), true["f_number"], rel_tol=1e-6) and exif[0x8827] == true["iso"]
                and math.isclose(float(exif[0x9204]), true["bias_stops"], abs_tol=1e-6))
        if true["position_deg"] is None:
            good = good and not gps
        else:
            found = degrees(gps[2], gps[1]), degrees(gps[4], gps[3])
            # A thousandth of a second of arc is 3e-7 degrees.
            good = good and max(abs(a - b) for a, b in zip(found, true["position_deg"])) < 3e-7
            good = good and gps[0x10] == "T" and math.isclose(float(gps[0x11]), true["bearing_deg"], abs_tol=0.005)
        if not good:
            wrong.append(name)
        place, photo = at.get(name, (None, None))
        if place is None or place["id"] != true["place"]:
            lost.append(name)
            continue
        lux = math.pi / 0.18 * 12.5 * true["f_number"] ** 2 / (true["exposure_s"] * true["iso"]) * 2 ** true["bias_stops"]
        apart = max(apart, abs(photo["illuminance_lux"] / lux - 1))
        dim = max(dim, abs(math.log2(photo["illuminance_lux"] / true["lux"])) / photo["uncertainty_stops"])
    count = len(truth["photos"])
    check("photographs: about a dozen", count >= 10, count)
    check("photographs: read by Pillow as they are true", not wrong, wrong or f"{count} of {count}")
    check("photographs: each at the place that it shows", not lost, lost or sorted(places))
    check("photographs: one without a position", sum(p["position_deg"] is None for p in truth["photos"]) == 1,
          [p["file"] for p in truth["photos"] if p["position_deg"] is None])
    check("photographs: light as by ISO 2720 to 1 %", apart <= 0.01, f"{100 * apart:.3f} %")
    check("photographs: light within its stated doubt", dim <= 1, f"{dim:.2f} of it at most")
    sources = {id: place["light"]["source"] for id, place in places.items()}
    check("places: a meter's reading stands above the photographs",
          sources["stairway"] == sources["quay"] == "meter" and sources["launderette"] == "photographs", sources)


def day(binary, folder, report):
    told = report["night"]["day"]
    found = json.loads(subprocess.run([binary, "day", folder, "--json"], capture_output=True, text=True, check=True).stdout)
    best = found["days"][0]
    order = [strip["setup"] for strip in best["order"]]
    check("day: proven best", told["status"] == best["status"] == "best" and best["value"] == best["bound"], f"wrap {best['wrap']}")
    check("day: kept as it was found", told["order"] == order, f"{len(order)} setups")
    check("day: what is kept breaks nothing", best["typed"] == [], f"{best['typed']}")
    left = [one["setup"] for one in best["left_out"]]
    check("day: one setup does not fit, with its reason", left == told["left_out"] and len(left) == 1 and bool(best["left_out"][0]["why"]),
          f"{left}")
    states = [strip["state"] for strip in best["order"]]
    check("day: clean before powdered", states == sorted(states), f"{states}")
    cells = [cell for row in best["late"]["rows"] for cell in row["cells"]]
    check("day: a late table for each point and delay", best["late"]["complete"] and len(cells) == 5 * len(order), f"{len(cells)} cells")


def night(binary, folder, report):
    kit = json.loads(subprocess.run([binary, "kit", folder, "--json"], check=True, capture_output=True).stdout)
    told = report["night"]
    check("night: told as `kit --json` has it", told["kit"] == kit["summary"], f"{told['kit']['cautions']} cautions")
    sides = [(s["setup"], s["face"]["gap_stops"] if s["face"]["gap_stops"] is not None else s["background"]["gap_stops"])
             for s in kit["setups"]]
    darkest = min((side for side in sides if side[1] is not None), key=lambda side: side[1])
    check("night: the darkest setup", darkest == (told["kit"]["darkest"]["setup"], told["kit"]["darkest"]["stops_in_hand"]),
          f"{darkest[0]}, {darkest[1]:+.2f} stops")
    for day, short in zip(kit["days"], told["kit"]["days"]):
        check(f"night: {day['date']} lasts as its shortages say", short["batteries"]["says"].startswith("they last; ") == (not day["power"]["shortages"]),
              short["batteries"]["says"])
        # What each sort of battery holds above its floor, minute by minute, from what was given and taken.
        lowest = []
        for battery in {one["piece"]["battery"] for one in day["power"]["ledger"] if one["drawn_wh"] > 0}:
            ledger = [one for one in day["power"]["ledger"] if one["piece"]["battery"] == battery]
            full = sum(one["start_wh"] - one["floor_wh"] for one in ledger)
            flows = [(s["from_min"], s["to_min"], -s["watts"] / 60) for s in day["power"]["spans"]
                     if s["piece"] and s["piece"]["battery"] == battery]
            flows += [(c["from_min"], c["to_min"], c["wh"] / (c["to_min"] - c["from_min"])) for c in day["power"]["charges"]
                      if c["piece"]["battery"] == battery and c["to_min"] > c["from_min"]]
            moments = np.array(sorted({flow[1] for flow in flows}))
            held = full + sum(rate * np.clip(np.minimum(moments, to) - since, 0, None) for since, to, rate in flows)
            lowest.append((float(held.min() / full), battery))
        share, battery = min(lowest)
        tightest = short["tightest"]
        check(f"night: {day['date']} the tightest moment", battery == tightest["battery"]
              and abs(share - tightest["left_share"]) < 1e-6, f"{battery} {100 * share:.1f} %")


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    binary, folder = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    truth = json.loads((folder / "demo-truth.json").read_text(encoding="utf-8"))
    report = json.loads((folder / "demo-report.json").read_text(encoding="utf-8"))
    song = next((folder / "song").glob("*.wav"))
    listening(binary, song, truth, report)
    shots, rate = timeline(folder, truth, song)
    night(binary, folder, report)
    day(binary, folder, report)
    walk(binary, folder, truth)
    made = sorted(folder.glob("assembly/v*-preview.mp4"), key=number_of_version)
    if not shutil.which("ffmpeg"):
        print("left out: the preview, as there is no ffmpeg to decode it with")
    elif not made and report["left_out"]:
        print(f"left out: the preview, as the demo left out {'; '.join(report['left_out'])}")
    elif not made:
        check("there is a preview", False, "none")
    else:
        preview(made[-1], shots, rate, song)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
