"""What a cut should come out as: worked out here with exact fractions, from what went into it.

`from_truth` takes the plain truth beside a sample cut; `from_listing` takes the listing of a real
project (then OpenTimelineIO, edit list and listing are compared with each other, not with the
input). Both give the same `Cut`.
"""
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor

from opentimelineio.opentime import from_timecode


@dataclass
class Source:
    take: str
    name: str
    place: str  # what the URL must say once decoded, without `file://`
    rate: Fraction
    file_start: str  # timecode of the file's first frame
    available: int
    start: int  # in the take's frames, from its first
    scalar: Fraction

    @property
    def first(self):
        """The day's frame that `file_start` labels."""
        return label_to_frame(self.file_start, self.rate)


@dataclass
class Shot:
    begin: int
    end: int
    source: Source | None
    in_sync: bool
    locked: bool

    @property
    def frames(self):
        return self.end - self.begin


@dataclass
class Cut:
    title: str
    rate: Fraction
    song_place: str
    song_samples: int
    song_hz: int
    song_frames: int
    shots: list[Shot] = field(default_factory=list)
    markers: list[tuple[str, int, int]] = field(default_factory=list)
    captions: list[tuple[float, float, str]] | None = None

    @property
    def total(self):
        return self.shots[-1].end if self.shots else 0

    @property
    def drop(self):
        return self.rate in (Fraction(30000, 1001), Fraction(60000, 1001))


def half_up(value):
    return floor(value + Fraction(1, 2))


def counted(rate):
    return ceil(rate)


def dropped(rate):
    """Labels left out a minute (SMPTE ST 12-1): 2 at 29.97, in proportion above."""
    return counted(rate) // 15 if rate.denominator == 1001 and counted(rate) % 30 == 0 else 0


def label_to_frame(label, rate):
    """By OpenTimelineIO where it knows the rate; by hand for 120, which it does not."""
    if counted(rate) <= 60:
        return round(from_timecode(label, float(rate)).value)
    h, m, s, f = (int(part) for part in label.split(":"))
    return ((h * 60 + m) * 60 + s) * counted(rate) + f


def clock_to_frame(h, m, s, rate):
    """The first label at or after h:m:s:00, drop-frame where the rate has it."""
    minute = h * 60 + m
    left_out = dropped(rate) * (minute - minute // 10)
    if s == 0 and minute % 10:
        left_out -= dropped(rate)
    return (minute * 60 + s) * counted(rate) - left_out


def edit_list_start(cut, source):
    """Where the source side of an event starts, as a frame of the day in the cut's count."""
    mine, theirs = counted(cut.rate), counted(source.rate)
    if mine == theirs and (";" not in source.file_start or cut.drop):
        return source.first + source.start
    h, m, s, f = (int(part) for part in source.file_start.replace(";", ":").split(":"))
    way = Fraction(source.start) / source.rate * cut.rate
    return clock_to_frame(h, m, s, cut.rate) + half_up(Fraction(f * mine, theirs)) + half_up(way)


def edit_list_pace(cut, source):
    """Source labels per record label."""
    if counted(cut.rate) == counted(source.rate) and (";" not in source.file_start or cut.drop):
        return source.scalar * source.rate / cut.rate
    return source.scalar


def frames_of(begin, end, rate, song_s, total):
    """The frames of a stretch given in seconds: nearest at both ends, the song's end included."""
    last = ceil(song_s * rate) if end >= song_s else half_up(end * rate)
    begin, last = (min(max(at, 0), total) for at in (half_up(begin * rate), last))
    return begin, last


def from_truth(truth):
    second = truth["ticks_per_second"]
    rate = Fraction(*truth["rate"])
    song_s = Fraction(truth["song"]["length_ticks"], second)
    cut = Cut(
        title=truth["title"],
        rate=rate,
        song_place=place_of(truth["to_project"], truth["song"]["path"]),
        song_samples=half_up(song_s * truth["song"]["rate_hz"]),
        song_hz=truth["song"]["rate_hz"],
        song_frames=ceil(song_s * rate),
    )
    takes = {take["id"]: take for take in truth["takes"]}
    for shot in truth["shots"]:
        source = None
        if shot["take"] is not None:
            take = takes[shot["take"]]
            take_rate = Fraction(*take["rate"])
            into = Fraction(shot["take_start_ticks"], second) - Fraction(take["first_shown_s"])
            source = Source(
                take=take["id"],
                name=take["name"],
                place=place_of(truth["to_project"], take["path"]),
                rate=take_rate,
                file_start=take["start_timecode"] or "00:00:00:00",
                available=take["frames"],
                start=max(0, half_up(into * take_rate)),
                scalar=Fraction(*shot["time_scalar"]),
            )
        in_sync = shot["in_sync"] and source is not None
        cut.shots.append(Shot(shot["from_frame"], shot["to_frame"], source, in_sync, shot["locked"]))
    named = [(section["call"], section["at"]) for section in truth["sections"]]
    named += [(f"bar {bar['number']}", bar["at"]) for bar in truth["bars"]]
    for name, (begin, end) in named:
        begin, end = frames_of(Fraction(begin, second), Fraction(end, second), rate, song_s, cut.total)
        if begin < end:
            cut.markers.append((name, begin, end))
    cut.captions = captions(truth["lyrics"], second, song_s)
    return cut


def captions(lyrics, second, song_s):
    """Cues in whole milliseconds, one at a time, from the timed lines that lie in the song."""
    end_ms = floor(song_s * 1000)
    cues = {}
    for line in lyrics:
        words = [part.strip() for part in line["text"].splitlines() if part.strip()]
        if line["at"] is None or not words or line["at"][1] <= 0:
            continue
        begin, end = (half_up(Fraction(at * 1000, second)) for at in line["at"])
        begin = max(begin, 0)
        end = max(min(end, end_ms), begin + 1)
        if end > end_ms:
            continue
        known_end, known_words = cues.get(begin, (0, []))
        cues[begin] = (max(known_end, end), known_words + words)
    starts = sorted(cues)
    following = starts[1:] + [float("inf")]
    return [
        (begin / 1000, min(cues[begin][0], after) / 1000, "\n".join(cues[begin][1]))
        for begin, after in zip(starts, following)
    ]


def from_listing(listing):
    cut = Cut(
        title=listing["title"],
        rate=Fraction(listing["rate"]),
        song_place=None,
        song_samples=listing["song_samples"],
        song_hz=listing["song_rate_hz"],
        song_frames=listing["song_frames"],
        markers=[(s["call"], s["from_frame"], s["to_frame"]) for s in listing["sections"]],
    )
    for shot in listing["shots"]:
        source = None
        if shot["source"] is not None:
            take = shot["source"]
            source = Source(
                take=take["take"],
                name=take["name"],
                place=None,
                rate=Fraction(take["rate"]),
                file_start=take["file_start"],
                available=take["available"],
                start=take["start_frame"],
                scalar=Fraction(take["time_scalar"]),
            )
        cut.shots.append(Shot(shot["from_frame"], shot["to_frame"], source, shot["in_sync"], shot["locked"]))
    return cut


def place_of(to_project, path):
    return path if path.startswith("/") else to_project + path
