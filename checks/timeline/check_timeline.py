"""Reads the timelines Barebulb writes with the OpenTimelineIO library, its CMX 3600 adapter and
webvtt-py, and compares them clip by clip.

    python checks/timeline/check_timeline.py BAREBULB_BINARY   sample cuts, made beside that binary
    python checks/timeline/check_timeline.py FOLDER            a folder of sample cuts, or a project

Sample cuts (`cargo run -p timeline --example sample_timelines -- FOLDER`) lie beside the plain truth
they were made from; everything is worked out anew from that, in fractions. In a project, each
`assembly/NAME.otio` and `.edl` is compared with the listing `NAME.json` beside it, and every file
named must be there.

Exact: record and source starts and durations, names, places, black, markers and totals. Tolerances:
a speed in the edit list is told in tenths of a frame per second (0.05 / counted rate); a speed in
OpenTimelineIO is a double (1e-12 relative).

Where the libraries themselves are off, and what is done about it here:
- the adapter takes no `;` in a speed line, so it is handed speed lines with `:`;
- it reads a speed line only where source and record last differently long, so speeds are read from
  the text as well;
- it divides a speed by 29.97 where the form counts 30, so its factor is multiplied back;
- it gives a track a start of minus the record start, so record starts are taken from the text;
- it drops the source out where there is a speed, so that is checked in the text, against
  record length x speed (SMPTE 258M), not against what the adapter would write;
- OpenTimelineIO has no timecode at 120 frames a second, so such labels are left out.
"""
import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote

import opentimelineio as otio
import webvtt
from opentimelineio.opentime import RationalTime, from_timecode
from timecode import Timecode

sys.path.insert(0, str(Path(__file__).parent))
import expected  # noqa: E402


class Tally:
    """Counts comparisons by kind and prints each difference."""

    def __init__(self):
        self.passed, self.failed, self.where = Counter(), Counter(), ""

    def same(self, kind, ours, wanted):
        self.true(kind, ours == wanted, f"{ours!r} instead of {wanted!r}")

    def near(self, kind, ours, wanted, slack):
        self.true(kind, abs(ours - wanted) <= slack, f"{ours!r} instead of {wanted!r} ± {slack}")

    def true(self, kind, holds, says):
        if holds:
            self.passed[kind] += 1
        else:
            self.failed[kind] += 1
            if self.failed[kind] <= 5:
                print(f"{self.where}: {kind}: {says}")


def check_otio(tally, cut, path, folder):
    timeline = otio.adapters.read_from_file(str(path))
    rate = float(cut.rate)
    tally.same("title", timeline.name, cut.title)
    start = timeline.global_start_time
    label = start.to_timecode(rate, cut.drop)
    tally.same("timeline start", (start.rate, label), (rate, "01:00:00;00" if cut.drop else "01:00:00:00"))
    picture, = (track for track in timeline.tracks if track.kind == "Video")
    tally.same("shots", len(picture), len(cut.shots))
    for item, shot in zip(picture, cut.shots):
        whole = item.range_in_parent()
        tally.same("record start", (whole.start_time.value, whole.start_time.rate), (shot.begin, rate))
        tally.same("record duration", (whole.duration.value, whole.duration.rate), (shot.frames, rate))
        if shot.source is None:
            tally.same("black", type(item), otio.schema.Gap)
            continue
        source = shot.source
        tally.same("black", type(item), otio.schema.Clip)
        tally.same("clip name", item.name, source.name)
        begin = item.source_range.start_time
        tally.same("source start", (begin.value, begin.rate), (source.first + source.start, float(source.rate)))
        media = item.media_reference
        has = media.available_range
        tally.same("available start", (has.start_time.value, has.start_time.rate), (source.first, float(source.rate)))
        tally.same("available duration", (has.duration.value, has.duration.rate), (source.available, float(source.rate)))
        compare_place(tally, media.target_url, source.place, folder)
        warps = [effect for effect in item.effects if isinstance(effect, otio.schema.LinearTimeWarp)]
        tally.same("retimes", (len(warps), len(item.effects)), (int(source.scalar != 1),) * 2)
        scalar = warps[0].time_scalar if warps else 1.0
        tally.near("speed", scalar, float(source.scalar), 1e-12 * float(source.scalar))
        ours = item.metadata["barebulb"]
        passed = shot.frames / cut.rate * source.scalar * source.rate
        tally.same("source duration", Fraction(ours["source_frames"]), passed)
        told = item.source_range.duration.to_seconds() * scalar * begin.rate
        tally.near("source duration as told", told, float(passed), 1e-9 * float(passed))
        tally.same("in sync", (ours["in_sync"], ours["locked"]), (shot.in_sync, shot.locked))
    for before, after in zip(picture, picture[1:]):
        gap = before.range_in_parent().end_time_exclusive(), after.range_in_parent().start_time
        tally.same("no gap, no overlap", gap[0].value, gap[1].value)
    duration = picture.duration() if len(picture) else RationalTime(0, rate)
    tally.same("total of the picture", (duration.value, duration.rate), (cut.total, rate))
    duration = timeline.duration()
    tally.same("total of the timeline", (duration.value, duration.rate), (cut.total, rate))
    tally.same("total is the song's", cut.total, cut.song_frames)
    check_song(tally, cut, timeline, folder)
    check_markers(tally, cut, timeline, rate)
    again = otio.adapters.write_to_string(timeline, "otio_json")
    back = otio.adapters.read_from_string(again, "otio_json")
    tally.true("survives the library's own writing", back.is_equivalent_to(timeline), "it changed")


def check_song(tally, cut, timeline, folder):
    sound, = (track for track in timeline.tracks if track.kind == "Audio")
    tally.same("one song clip", len(sound), 1)
    clip, rate = sound[0], float(cut.song_hz)
    has, used = clip.media_reference.available_range, clip.source_range
    tally.same("song samples", (has.duration.value, has.duration.rate), (cut.song_samples, rate))
    tally.same("song start", (used.start_time.value, has.start_time.value), (0, 0))
    filled = cut.total / cut.rate * cut.song_hz
    shown = cut.song_samples if cut.song_samples < filled.__floor__() else filled
    tally.near("song duration", used.duration.to_seconds() * rate, float(shown), 1e-6)
    compare_place(tally, clip.media_reference.target_url, cut.song_place, folder)


def check_markers(tally, cut, timeline, rate):
    markers = []
    for marker in timeline.tracks.markers:
        begin, lasts = marker.marked_range.start_time, marker.marked_range.duration
        tally.same("marker rate", (begin.rate, lasts.rate), (rate, rate))
        markers.append((marker.name, begin.value, begin.value + lasts.value))
    wanted = cut.markers
    if cut.captions is None:  # from a listing, which has no bars
        markers = [marker for marker in markers if not re.fullmatch(r"bar \d+", marker[0])]
    tally.same("marker count", len(markers), len(wanted))
    for marker, want in zip(markers, wanted):
        tally.same("marker", marker, want)


def compare_place(tally, url, place, folder):
    tally.true("URL is plain ASCII", re.fullmatch(r"[A-Za-z0-9._~/%:-]*", url) is not None, url)
    decoded = unquote(url.removeprefix("file://"))
    if place is None:
        where = (folder / decoded).resolve()
        tally.true("the file named is there", where.is_file(), f"{where} is missing")
    else:
        tally.same("place", decoded, place)


EVENT = re.compile(
    r"(?P<number>\d{3,})  (?P<reel>[A-Z0-9_]{1,8} *) V     C        "
    r"(?P<source_in>\d\d:\d\d:\d\d[:;]\d\d) (?P<source_out>\d\d:\d\d:\d\d[:;]\d\d) "
    r"(?P<record_in>\d\d:\d\d:\d\d[:;]\d\d) (?P<record_out>\d\d:\d\d:\d\d[:;]\d\d)"
)
SPEED = re.compile(r"M2   (?P<reel>[A-Z0-9_]{1,8} *)       (?P<speed>\d{3}\.\d) {16}(?P<at>\S{11})")


def read_events(tally, text):
    """The events as the form writes them, strictly."""
    tally.true("edit list is 7-bit", re.fullmatch(r"[\x20-\x7e\n]*", text) is not None, "other bytes")
    events = []
    for line in text.splitlines()[2:]:
        if match := EVENT.fullmatch(line):
            events.append(match.groupdict() | {"speed": None, "comments": []})
        elif match := SPEED.fullmatch(line):
            events[-1]["speed"] = match.groupdict()
        elif line.startswith("* ") and events:
            events[-1]["comments"].append(line)
        else:
            tally.true("lines of the form", False, line)
    return events


def check_edl(tally, cut, path, folder):
    text = path.read_text(encoding="utf-8")
    rate, whole = float(cut.rate), expected.counted(cut.rate)
    head = text.splitlines()[:2]
    title = re.sub(r"[^ -~]", "_", cut.title)[:70].strip()
    tally.same("edit list head", head, [f"TITLE: {title}", f"FCM: {'' if cut.drop else 'NON-'}DROP FRAME"])
    events = read_events(tally, text)
    tally.same("events", len(events), len(cut.shots))
    plain = re.sub(r"(?m)^(M2 .*);(\d\d)$", r"\1:\2", text)
    tracks = otio.adapters.read_from_string(plain, "cmx_3600", rate=rate).tracks if events else [[]]
    tally.same("picture tracks", len(tracks), 1)
    clips = list(tracks[0])
    tally.same("clips the adapter reads", len(clips), len(cut.shots))
    zero = from_timecode("01:00:00;00" if cut.drop else "01:00:00:00", rate).value
    reels = {}
    at = zero
    for number, (event, clip, shot) in enumerate(zip(events, clips, cut.shots), 1):
        tally.same("event number", int(event["number"]), number)
        frame = {key: round(from_timecode(event[key], rate).value) for key in ("source_in", "source_out", "record_in", "record_out")}
        tally.same("record in", (frame["record_in"], frame["record_in"] - zero), (at, shot.begin))
        at = frame["record_out"]
        tally.same("record out", at - zero, shot.end)
        tally.same("adapter: record duration", clip.range_in_parent().duration.value, shot.frames)
        tally.same("adapter: record start", clip.range_in_parent().start_time.value, shot.begin)
        compare_labels(tally, cut, event, shot)
        begin = clip.source_range.start_time.value
        lasts = frame["source_out"] - frame["source_in"]
        if shot.source is None:
            tally.same("black", (event["reel"].strip(), getattr(clip.media_reference, "generator_kind", None)), ("BL", "black"))
            tally.same("black starts at nought", (begin, lasts), (0, shot.frames))
            continue
        source = shot.source
        reels.setdefault(source.take, set()).add(event["reel"].strip())
        tally.same("source in", (frame["source_in"], begin), (expected.edit_list_start(cut, source),) * 2)
        pace = expected.edit_list_pace(cut, source)
        if abs(pace - 1) <= Fraction(2, 1000) or expected.half_up(pace * whole * 10) == whole * 10:
            tally.same("normal speed", (event["speed"], lasts, list(clip.effects)), (None, shot.frames, []))
        else:
            said = event["speed"] and float(event["speed"]["speed"]) / whole
            tally.near("edit list speed", said or 1.0, float(pace), 0.05 / whole + 1e-9)
            tally.same("speed line", event["speed"] and (event["speed"]["reel"], event["speed"]["at"]), (event["reel"], event["source_in"]))
            tally.same("source length is record length x speed", lasts, max(1, expected.half_up(pace * shot.frames)))
            if lasts != shot.frames:
                read = clip.effects[0].time_scalar * rate / whole
                tally.near("adapter: speed", read, float(pace), 0.05 / whole + 1e-9)
        name = re.sub(r"[^ -~]", "_", source.name).strip() or source.take
        tally.same("adapter: clip name", clip.name, name)
        compare_place(tally, clip.media_reference.target_url, source.place, folder)
    tally.same("edit list total", at - zero, cut.total)
    tally.true("each take has one reel", all(len(names) == 1 for names in reels.values()), str(reels))
    named = [reel for names in reels.values() for reel in names]
    tally.same("each reel has one take", len(set(named)), len(reels))


def compare_labels(tally, cut, event, shot):
    """Record labels against another library."""
    names = {Fraction(24000, 1001): "23.976", Fraction(30000, 1001): "29.97", Fraction(60000, 1001): "59.94"}
    name = names.get(cut.rate, str(cut.rate))
    hour = Timecode(name, "01:00:00;00" if cut.drop else "01:00:00:00")
    label = str(Timecode(name, frames=hour.frames + shot.begin))
    tally.same("record label by the timecode library", event["record_in"], label)


def check_captions(tally, cut, path):
    cues = list(webvtt.from_string(path.read_text(encoding="utf-8")))
    seen = [(cue.start_in_seconds, cue.end_in_seconds) for cue in cues]
    end = 0.0
    for cue in cues:
        begin, finish = seconds(cue.start), seconds(cue.end)
        tally.true("captions rise, one at a time", end <= begin < finish, f"{cue.start} --> {cue.end}")
        end = finish
    tally.true("captions lie in the song", end <= cut.song_samples / cut.song_hz + 0.0005, str(seen[-1:]))
    if cut.captions is not None:
        tally.same("captions", len(cues), len(cut.captions))
        for cue, (begin, finish, words) in zip(cues, cut.captions):
            tally.same("caption times", (seconds(cue.start), seconds(cue.end)), (begin, finish))
            tally.true("caption escaped", not re.search("[<>]|&(?!lt;|gt;|amp;)", cue.raw_text), cue.raw_text)
            plain = cue.raw_text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
            tally.same("caption words", plain, words)


def seconds(clock):
    h, m, s = clock.split(":")
    return round((int(h) * 60 + int(m)) * 60 + float(s), 3)


def check_listing(tally, cut, listing):
    """The listing against the truth, where there is one."""
    tally.same("listing", (listing["frames"], listing["song_frames"], len(listing["shots"])), (cut.total, cut.song_frames, len(cut.shots)))
    sections = [(s["call"], s["from_frame"], s["to_frame"]) for s in listing["sections"]]
    tally.same("listed sections", sections, [m for m in cut.markers if not m[0].startswith("bar ")])
    zero = from_timecode(listing["record_start"], float(cut.rate)).value
    for shot, row in zip(cut.shots, listing["shots"]):
        tally.same("listed frames", (row["from_frame"], row["to_frame"]), (shot.begin, shot.end))
        labels = [RationalTime(zero + f, float(cut.rate)).to_timecode(float(cut.rate), cut.drop) for f in (shot.begin, shot.end)]
        tally.same("listed record labels", [row["record_in"], row["record_out"]], labels)
        source, told = shot.source, row["source"]
        if source is None or told is None:
            tally.same("listed black", told, source)
            continue
        tally.same("listed source", (told["take"], told["name"], told["start_frame"], Fraction(told["rate"]), told["available"]),
                   (source.take, source.name, source.start, source.rate, source.available))
        tally.same("listed speed", Fraction(told["time_scalar"]), source.scalar)
        tally.same("listed source frames", Fraction(told["frames"]), shot.frames / cut.rate * source.scalar * source.rate)
        if expected.counted(source.rate) <= 60:
            rate = float(source.rate)
            label = RationalTime(source.first + source.start, rate).to_timecode(rate, ";" in source.file_start)
            tally.same("listed source label", told["timecode"], label)


def read_back(tally, check, *what):
    """A file that a library refuses is a difference like any other."""
    try:
        check(tally, *what)
        tally.passed["read without complaint"] += 1
    except Exception as complaint:  # each library has its own
        tally.true("read without complaint", False, f"{check.__name__}: {type(complaint).__name__}: {complaint}")


def check_folder(tally, folder):
    """Every cut in `folder`; how many there were."""
    if (folder / "assembly").is_dir():
        folder = folder / "assembly"
    count = 0
    for path in sorted(folder.glob("*.otio")):
        count += 1
        tally.where = path.stem
        listing = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        truth = folder / f"{path.stem}.truth.json"
        if truth.exists():
            cut = expected.from_truth(json.loads(truth.read_text(encoding="utf-8")))
            check_listing(tally, cut, listing)
            captions = path.with_suffix(".vtt")
        else:
            cut = expected.from_listing(listing)
            captions = folder / "captions.vtt"
        read_back(tally, check_otio, cut, path, folder)
        read_back(tally, check_edl, cut, path.with_suffix(".edl"), folder)
        if captions.exists():
            read_back(tally, check_captions, cut, captions)
    return count


def make_samples(binary, folder):
    """Sample cuts by the example built beside `binary`, or built now."""
    example = binary.parent / "examples" / ("sample_timelines" + binary.suffix)
    command = [example] if example.exists() else ["cargo", "run", "-q", "-p", "timeline", "--example", "sample_timelines", "--"]
    subprocess.run([*command, folder], check=True)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    tally, cuts = Tally(), 0
    for given in map(Path, sys.argv[1:]):
        if given.is_dir():
            cuts += check_folder(tally, given)
        else:
            with tempfile.TemporaryDirectory() as folder:
                make_samples(given, folder)
                cuts += check_folder(tally, Path(folder))
    for kind in sorted(tally.passed | tally.failed):
        print(f"{tally.passed[kind]:7} same, {tally.failed[kind]} different  {kind}")
    if cuts == 0:
        print("there is no .otio file to read")
        sys.exit(1)
    print(f"{cuts} cuts read back with OpenTimelineIO {otio.__version__}")
    print(f"{tally.passed.total()} passed, {tally.failed.total()} failed")
    sys.exit(1 if tally.failed.total() else 0)


main()
