"""Compares `barebulb kit` with textbook formulas, colour-science and days worked by hand.

    python checks/exposure/check_exposure.py BAREBULB_BINARY                    300 setups, 40 days
    python checks/exposure/check_exposure.py BAREBULB_BINARY --setups 3000      more of them

Setups are seeded: cameras, lenses, filters, lamps (in candela, or in lux at a distance as makers print
it), dimming, diffusion, gels, ambient light said, unknown or from photographs, distances, rates, angles,
mains. They go into projects through plan files and come back as `kit --json`.

What is compared, and how close it must be:
- exposure, angles, fields, depth of field, hyperfocal, flicker, off-speed, mired, what closes a gap:
  1e-9 of the figure (1e-9 itself near zero). The formulas are recomputed here from what the plan
  says; nothing but rounding may differ. Of a closing the test is that the change, put into the
  formula, leaves no gap; of the nearest allowed one, that it leaves what is said.
- the colour of several sources together: 0.03 mired and 0.00001 Duv against colour-science (Ohno
  2013, which interpolates a table of the locus; the program searches the locus itself). Its part on
  the way there, from kelvin and Duv to a chromaticity, is colour-science's too. Without that library
  this column is left out, and that is said.
- rows of published tables: half a unit of their last printed digit, or what the source allows.
- power: times by hand 0.001 minutes, energy by hand 0.001 Wh; the balance of every battery, of the
  day, and of spans and charges summed 0.1 % (what the project asks; it comes out far closer), and a
  replay of every battery from its spans and charges stays within empty and full.

Sources: ISO 2720 (C = 250 for incident, K = 12.5 for reflected light), CIE 15 and Ohno, Leukos 10,
2014 (colour temperature and Duv), Greenleaf (depth of field), US Army subcourse SS0507 (hyperfocal),
US FAA and TSA (batteries by air). The rest is arithmetic whose formula stands beside it.
"""
import argparse
import json
import math
import random
import subprocess
import sys
import tempfile
import warnings
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

import numpy as np

warnings.simplefilter("ignore")
try:
    import colour
except ImportError:
    colour = None

EXACT = 1e-9
C, K, GREY = 250.0, 12.5, 0.18
HEIGHT_M = {"wide": 4.0, "full": 1.9, "medium": 0.9, "close": 0.5, "detail": 0.15}
SHEETS = {"full CTO": 160, "half CTO": 80, "quarter CTO": 40, "eighth CTO": 20, "full CTB": -137, "half CTB": -68, "quarter CTB": -35, "eighth CTB": -18}
USUAL_RATES = [12, 16, 18, 20, 24, 25, 30, 36, 40, 48, 50, 60, 72, 75, 96, 100, 120]
DAYLIGHT_LUX, MAINS_WANDER, SLACK_STOPS, METER_STOPS = 5000, 0.004, 1 / 3, 0.2


class Tally:
    """Errors by kind, each with its tolerance and whose case was worst."""

    def __init__(self):
        self.errors, self.limits, self.worst = {}, {}, {}

    def add(self, kind, error, limit, case):
        error = abs(float(error))
        error = math.inf if math.isnan(error) else error
        self.errors.setdefault(kind, []).append(error)
        self.limits[kind] = limit
        if error >= self.worst.get(kind, (-1.0, None))[0]:
            self.worst[kind] = (error, case)

    def near(self, kind, ours, theirs, case, limit=EXACT):
        """Of the figure, or itself where the figure is below 1."""
        if ours is None or theirs is None:
            self.same(f"{kind}: there or not", ours is None, theirs is None, case)
        else:
            self.add(kind, (ours - theirs) / max(1.0, abs(theirs)), limit, f"{case}: ours {ours}, theirs {theirs}")

    def same(self, kind, ours, theirs, case):
        self.add(kind, 0 if ours == theirs else 1, 0, f"{case}: ours {ours}, theirs {theirs}")

    def close(self):
        print(f"\n{'':58} {'count':>6} {'median':>9} {'max':>9} {'limit':>8}")
        failed = passed = 0
        for kind, errors in sorted(self.errors.items()):
            over = sum(error > self.limits[kind] for error in errors)
            failed, passed = failed + over, passed + len(errors) - over
            print(f"{kind:58} {len(errors):6} {np.median(errors):9.2g} {max(errors):9.2g} {self.limits[kind]:8.2g}" + (f"   {over} over" if over else ""))
            if over:
                print(f"    worst: {self.worst[kind][1]}")
        print(f"\n{passed} passed, {failed} failed")
        return failed == 0


def toml(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value)


def ask(binary, folder, plan, *options):
    """Puts `plan` into a new project and returns what `kit` says of it."""
    folder.mkdir()
    file = folder / "plan.toml"
    file.write_text("".join(f"{key} = {toml(value)}\n" for key, value in ({"format": 2} | plan).items()))
    for command in (["new", folder / "job"], ["plan", "import", folder / "job", file], ["kit", folder / "job", "--json", *options]):
        done = subprocess.run([binary, *command], capture_output=True, text=True, timeout=120)
        if done.returncode != 0:
            raise SystemExit(f"{' '.join(map(str, command))}: {done.stderr}")
    return json.loads(done.stdout)


def ask_all(binary, folder, plans):
    """The same for many at once, by name: most of the time goes into waiting for the disk."""
    with ThreadPoolExecutor(4) as pool:
        reports = pool.map(lambda name: ask(binary, folder / name, plans[name]), plans)
        return dict(zip(plans, reports))


# ---- what is drawn


def draw_brief(chance):
    return {
        "rate": chance.choice(["24", "25", "24000/1001", "30"]),
        "frame": chance.choice([[1920, 1080], [1080, 1920], [3840, 2160], [1280, 720]]),
        "active": chance.choice([[16, 9], [239, 100], [185, 100], [4, 3], [1, 1], [4, 5], [9, 16]]),
        "fit": chance.choice(["crop", "crop", "inside"]),
    }


def maybe(chance, share, value):
    return value if chance.random() < share else None


def without_none(table):
    return {key: value for key, value in table.items() if value is not None}


def draw_light(chance):
    # Half of them as printed: lux at a distance, which is candela by the square of it.
    candela = chance.uniform(20, 20_000) if chance.random() < 0.5 else chance.choice([1, 2, 3, 5]) ** 2 * chance.uniform(50, 4000)
    return without_none({
        "candela": candela,
        "full_w": chance.uniform(5, 300),
        "least_level": maybe(chance, 0.4, chance.choice([0.01, 0.1, 0.3])),
        "kelvin": maybe(chance, 0.85, round(chance.uniform(1900, 9000))),
        "duv": maybe(chance, 0.5, round(chance.uniform(-0.015, 0.015), 4)),
        "pulses_hz": maybe(chance, 0.3, chance.uniform(150, 30_000)),
        "follows_mains": chance.random() < 0.3,
        "size_m": maybe(chance, 0.5, chance.uniform(0.05, 1.5)),
    })


def draw_photo(chance, name):
    return without_none({
        "file": {"path": name, "hash": "0" * 32, "bytes": 1},
        "exposure_s": math.exp(chance.uniform(math.log(1e-4), math.log(0.5))),
        "f_number": chance.uniform(1.5, 8),
        "iso": chance.uniform(30, 8000),
        "bias_stops": maybe(chance, 0.5, chance.choice([-2, -1, -1 / 3, 2 / 3, 1])),
        "flash": maybe(chance, 0.4, chance.random() < 0.5),
        "exposed_by_hand": maybe(chance, 0.3, True),
    })


def draw_setup(chance, nth):
    """A setup, with the kit and the place that are its own."""
    kit, use = [], lambda sort: f"{sort}-{nth}"
    width = chance.uniform(5, 40)
    frame = chance.choice([[3840, 2160], [4096, 2160], [1920, 1080], [6000, 4000]])
    camera = without_none({
        "sensor_mm": [width, width * frame[1] / frame[0]],
        "frame": frame,
        "base_iso": chance.choice([[], [800], [400, 3200], [640]]),
        "most_iso": maybe(chance, 0.6, chance.choice([3200, 6400, 12_800])),
        "readout": chance.choice(["rolling", "global"]),
        "circle_mm": maybe(chance, 0.3, chance.uniform(0.005, 0.05)),
    })
    kit.append({"id": use("camera"), "camera": camera})
    short, widest = chance.uniform(10, 150), chance.uniform(1.2, 4)
    lens = without_none({
        "focal_mm": [short, short * chance.choice([1, 1, 3])],
        "t_stop": widest,
        "narrowest_t": maybe(chance, 0.5, 22.0),
        "f_number": maybe(chance, 0.6, widest * chance.uniform(0.8, 1)),
        "close_focus_m": 0.3,
    })
    kit.append({"id": use("lens"), "lens": lens})
    filters = [{"stops": chance.uniform(0, 4), "mired": chance.uniform(-30, 30)} for _ in range(chance.randrange(3))]
    kit += [{"id": f"{use('filter')}-{n}", "filter": one} for n, one in enumerate(filters)]
    lights = [draw_light(chance) for _ in range(chance.randrange(4))]
    kit += [{"id": f"{use('light')}-{n}", "light": one} for n, one in enumerate(lights)]
    place = without_none({"id": use("place"), "name": use("place"), "mains_hz": maybe(chance, 0.6, chance.choice([50, 60]))})
    ambient = None
    kind = chance.random()
    if kind < 0.6:
        lux = math.exp(chance.uniform(math.log(0.5), math.log(30_000)))
        ambient = without_none({"face_lux": maybe(chance, 0.9, lux), "background_lux": maybe(chance, 0.9, lux * chance.uniform(0.1, 3)),
                                "kelvin": maybe(chance, 0.8, round(chance.uniform(2200, 9000))), "duv": maybe(chance, 0.4, 0.006)})
    if kind > 0.5:
        place["photos"] = [draw_photo(chance, f"{nth}-{n}.jpg") for n in range(chance.randrange(4))]
    if 0.5 < kind < 0.75:
        place["readings"] = [{"lux": chance.uniform(1, 4000), "kelvin": 4300.0} for _ in range(chance.randrange(3))]

    def lit(n, light):
        gel = maybe(chance, 0.4, chance.choice([-137.0, -68.0, -20.0, 20.0, 80.0, 160.0]))
        return without_none({
            "light": f"{use('light')}-{n}",
            "distance_m": chance.uniform(0.3, 12),
            "falls_on": chance.choice(["face", "face", "background", "both", "edge"]),
            "level": maybe(chance, 0.6, chance.choice([0.05, 0.25, 0.5, 1.0])),
            "loss_stops": maybe(chance, 0.5, chance.uniform(0, 2)),
            "gel_mired": gel if gel and 1e6 / light.get("kelvin", 5000) + gel > 30 else None,
        })

    setup = without_none({
        "id": use("setup"),
        "place": place["id"],
        "framing": chance.choice(list(HEIGHT_M)),
        "shot_rate": maybe(chance, 0.5, chance.choice(["24", "25", "30", "48", "50", "60", "36", "60000/1001", "120"])),
        "filters": [f"{use('filter')}-{n}" for n in range(len(filters))],
        "lights": [lit(n, light) for n, light in enumerate(lights)],
        "ambient": ambient,
        "face_stops": maybe(chance, 0.3, chance.uniform(-1, 1)),
        "background_stops": maybe(chance, 0.3, chance.uniform(-4, 0)),
        "optics": without_none({
            "camera": use("camera"),
            "lens": use("lens"),
            "focal_mm": maybe(chance, 0.7, chance.uniform(*lens["focal_mm"])),
            "t_stop": maybe(chance, 0.8, chance.uniform(widest, 16)),
            "iso": maybe(chance, 0.8, chance.choice([200, 400, 800, 1600, 3200])),
            "shutter_deg": maybe(chance, 0.7, chance.choice([45.0, 90.0, 144.0, 172.8, 180.0, 216.0, 270.0, 359.0])),
            "subject_m": maybe(chance, 0.7, chance.uniform(0.6, 20)),
            "room_m": maybe(chance, 0.4, chance.uniform(1.0, 8)),
        }),
    })
    return setup, kit, place


# ---- exposure, from the plan alone


def mired(white):
    return 1e6 / white["kelvin"]


def through(white, gel):
    return white if gel is None else white | {"kelvin": 1e6 / (mired(white) + gel)}


def photo_light(photo):
    """Lux, and how many stops it may be off (ISO 2720; the stops are common practice)."""
    t, n, iso = photo["exposure_s"], photo["f_number"], photo["iso"]
    luminance = K * n * n / (t * iso) * 2 ** photo.get("bias_stops", 0)
    unsure = iso >= 1600 or t > 1 / 15 or t < 1 / 10_000 or photo.get("exposed_by_hand", False)
    return math.pi * luminance / GREY, 2.0 if unsure else 1.0


def covering(guesses):
    """The middle, in stops, of a range that holds every guess to the end of its doubt."""
    ends = [math.log2(lux) + sign * off for lux, off in guesses for sign in (-1, 1)]
    return 2 ** ((min(ends) + max(ends)) / 2), (max(ends) - min(ends)) / 2


def ambient_of(setup, place):
    """Lux, stops it may be off, and white, on face and background."""
    said = setup.get("ambient", {})
    own = {"kelvin": said["kelvin"], "duv": said.get("duv", 0.0)} if "kelvin" in said else None
    there = None, 0.0, None
    metered = [(reading["lux"], METER_STOPS) for reading in place.get("readings", [])]
    guesses = [photo_light(photo) for photo in place.get("photos", []) if not photo.get("flash")]
    if metered:
        there = *covering(metered), {"kelvin": place["readings"][-1]["kelvin"], "duv": 0.0}
    elif guesses:
        there = *covering(guesses), None
    both = []
    for side in ("face_lux", "background_lux"):
        lux, off, white = there
        both.append((said[side], 0.0, own) if side in said else (lux, off, own or white))
    return both


class Scene:
    """One setup, recomputed."""

    def __init__(self, brief, setup, kit, place):
        items = {item["id"]: item for item in kit}
        self.brief, self.setup, self.place = brief, setup, place
        optics = setup["optics"]
        self.camera, self.lens = items[optics["camera"]]["camera"], items[optics["lens"]]["lens"]
        self.rate, self.shown = Fraction(setup.get("shot_rate", brief["rate"])), Fraction(brief["rate"])
        self.deg = optics.get("shutter_deg", 180.0)
        self.iso = optics.get("iso", (self.camera["base_iso"] or [None])[0])
        self.t_stop = optics.get("t_stop", self.lens["t_stop"])
        self.focal = optics.get("focal_mm", self.lens["focal_mm"][0])
        self.f_number = self.t_stop * self.lens.get("f_number", self.lens["t_stop"]) / self.lens["t_stop"]
        self.loss = sum(items[one]["filter"]["stops"] for one in setup["filters"])
        self.filter_mired = sum(items[one]["filter"]["mired"] for one in setup["filters"])
        self.exposure_s = self.deg / (360 * float(self.rate))
        self.lamps = [(used, items[used["light"]]["light"]) for used in setup["lights"]]
        self.ambient = ambient_of(setup, place)

    def correct_lux(self, **other):
        at = {"iso": self.iso, "t_stop": self.t_stop, "deg": self.deg, "fps": float(self.rate), "loss": self.loss} | other
        return C * at["t_stop"] ** 2 / (at["deg"] / (360 * at["fps"]) * at["iso"]) * 2 ** at["loss"]

    def lamp_lux(self, nth, **other):
        used, light = self.lamps[nth]
        used = used | other
        return light["candela"] * used.get("level", 1) * 2 ** -used.get("loss_stops", 0) / used["distance_m"] ** 2

    def lamp_white(self, nth):
        used, light = self.lamps[nth]
        return through({"kelvin": light["kelvin"], "duv": light.get("duv", 0.0)}, used.get("gel_mired")) if "kelvin" in light else None

    def parts(self, side):
        """(which light or None, lux, white) on face (0) or background (1)."""
        on = ("face", "both") if side == 0 else ("background", "both")
        parts = [(n, self.lamp_lux(n), self.lamp_white(n)) for n, (used, _) in enumerate(self.lamps) if used.get("falls_on", "face") in on]
        lux, _, white = self.ambient[side]
        return parts + ([(None, lux, white)] if lux is not None else [])

    def target(self, side):
        return self.setup.get("face_stops", 0.0) if side == 0 else self.setup.get("background_stops", -2.0)

    def counts_as_lamps(self):
        return "mains_hz" in self.place and any(lux is None or lux < DAYLIGHT_LUX for lux, *_ in self.ambient)

    def mains(self):
        follow = any(light["follows_mains"] for _, light in self.lamps)
        return self.place.get("mains_hz") if self.counts_as_lamps() or follow else None


def safe(pulses):
    whole = round(pulses)
    return whole >= 1 and abs(pulses - whole) <= MAINS_WANDER * whole


def check_camera(tally, scene, said, case):
    ours = said["camera"]
    for field, theirs in (("iso", scene.iso), ("t_stop", scene.t_stop), ("f_number", scene.f_number), ("focal_mm", scene.focal),
                          ("shutter_deg", scene.deg), ("exposure_s", scene.exposure_s), ("filter_stops", scene.loss), ("filter_mired", scene.filter_mired)):
        tally.near(f"camera, {field}", ours[field], theirs, case)
    tally.near("correct light, lux", ours["correct_lux"], scene.correct_lux() if scene.iso else None, case)
    tally.same("rates", (Fraction(ours["rate"]), Fraction(ours["shown_rate"])), (scene.rate, scene.shown), case)


def check_side(tally, scene, said, side, case):
    name = ("face", "background")[side]
    ours, parts, target = said[name], scene.parts(side), scene.target(side)
    case = f"{case}, {name}"
    total = sum(lux for _, lux, _ in parts)
    tally.near("light on it, lux", ours["lux"], total if parts else None, case)
    tally.same("its parts", [part["nth"] for part in ours["parts"]], [part[0] for part in parts], case)
    for part, (_, lux, white) in zip(ours["parts"], parts):
        tally.near("a part's light, lux", part["lux"], lux, case)
        tally.near("a part's share", part["share"], lux / total if total else 0, case)
        tally.same("a part's colour: there or not", part["white"] is None, white is None, case)
        if white:
            tally.near("a part's mired, gel counted", mired(part["white"]), mired(white), case)
            tally.near("a part's Duv", part["white"]["duv"], white["duv"], case)
    tally.near("ambient light, stops it may be off", ours["ambient"]["plus_minus_stops"], scene.ambient[side][1], case)
    tally.near("target, stops", ours["target_stops"], target, case)
    check_mixture(tally, parts, ours["white"], case)
    if not total or not scene.iso:
        tally.same("stops without light or ISO", ours["stops"], None, case)
        return
    stops = math.log2(total / scene.correct_lux())
    tally.near("stops over or under", ours["stops"], stops, case)
    tally.near("stops from the target", ours["gap_stops"], stops - target, case)
    lux, off, _ = scene.ambient[side]
    for ends, sign in zip(ours["stops_range"], (-1, 1)):
        tally.near("stops at the ends of what ambient may be", ends, math.log2((total + (lux or 0) * (2 ** (sign * off) - 1)) / scene.correct_lux()), case)
    check_closings(tally, scene, ours, parts, total, stops - target, target, case)


def check_mixture(tally, parts, ours, case):
    lit = [(lux, white) for _, lux, white in parts if lux > 0]
    known = bool(lit) and all(white for _, white in lit)
    if not known:
        tally.same("together: no colour where one is not known", ours, None, case)
        return
    if colour is None:
        return
    whole = np.zeros(3)
    for lux, white in lit:
        uv = colour.temperature.CCT_to_uv_Ohno2013([white["kelvin"], white["duv"]])
        x, y = colour.UCS_uv_to_xy(uv)
        whole += np.array([x / y, 1, (1 - x - y) / y]) * lux
    kelvin, duv = colour.temperature.uv_to_CCT_Ohno2013(colour.xy_to_UCS_uv(whole[:2] / whole.sum()))
    if ours is None:
        tally.same("together: a colour", None, (kelvin, duv), case)
        return
    tally.add("together, mired (colour-science)", mired(ours) - 1e6 / kelvin, 0.03, f"{case}: ours {ours}, theirs {kelvin}, {duv}")
    tally.add("together, Duv (colour-science)", ours["duv"] - duv, 1e-5, f"{case}: ours {ours}, theirs {kelvin}, {duv}")


def check_closings(tally, scene, ours, parts, total, gap, target, case):
    if abs(abs(gap) - SLACK_STOPS) < 1e-9:
        return
    if abs(gap) <= SLACK_STOPS:
        tally.same("closings where there is no gap", ours["closings"], [], case)
        return
    reach = without_none({"most": scene.camera.get("most_iso"), "narrow": scene.lens.get("narrowest_t")})
    wanted = {"iso", "t-stop", "shutter", "rate"} | ({"filters"} if gap > 0 or scene.loss > 0 else set())
    tally.same("which of the camera's", {one["by"] for one in ours["closings"]} - {"distance", "level"}, wanted, case)
    correct = scene.correct_lux()
    for nth, lux, _ in parts:
        if nth is None:
            continue
        need = correct * 2**target - (total - lux)
        by = {one["by"] for one in ours["closings"] if one.get("nth") == nth}
        may = need > correct * 2**target * 1e-3
        tally.same("which of a lamp's", by, {"distance", "level"} if may else set(), case)

    def leaves(change):
        """The gap with that change alone."""
        by = change["by"]
        if by in ("distance", "level"):
            other = {"distance_m": change["distance_m"]} if by == "distance" else {"level": change["level"]}
            lux = total - scene.lamp_lux(change["nth"]) + scene.lamp_lux(change["nth"], **other)
            return math.log2(lux / correct) - target
        field, value = {"iso": ("iso", "iso"), "t-stop": ("t_stop", "t_stop"), "shutter": ("deg", "deg"), "rate": ("fps", "fps"), "filters": ("loss", "stops")}[by]
        return math.log2(total / scene.correct_lux(**{field: change[value]})) - target

    for one in ours["closings"]:
        by, says = one["by"], f"{case}: {one}"
        # By level a lamp may be asked for a millionth: what is lost in digits there is lost on both sides.
        tally.add(f"closing by {by}: the gap left", leaves(one), 1e-8, says)
        if by in ("distance", "level"):
            used, light = scene.lamps[one["nth"]]
        nearest = min(0.5 if by != "distance" else max(0.5, 5 * light.get("size_m", 0)), math.inf)
        within = {
            "iso": lambda: 100 <= one["iso"] <= reach.get("most", math.inf) and one["iso"] <= 1e7,
            "t-stop": lambda: scene.lens["t_stop"] * (1 - 1e-9) <= one["t_stop"] <= min(128, reach.get("narrow", 128)) * (1 + 1e-9),
            "shutter": lambda: min(45, scene.deg) <= one["deg"] <= 360,
            "rate": lambda: 12 <= one["fps"] <= 120,
            "filters": lambda: 0 <= one["stops"] <= 30,
            "distance": lambda: min(nearest, used["distance_m"]) <= one["distance_m"] <= 10_000,
            "level": lambda: light.get("least_level", 0) <= one["level"] <= 1,
        }[by]()
        tally.same(f"closing by {by}: within reach", one["within"], within, says)
        if by == "filters":
            tally.near("closing by filters: density", one["density"], one["stops"] * math.log10(2), says)
        if by == "shutter" and scene.mains() and within:
            tally.same("closing by shutter: flicker-safe", one["flicker_safe"], safe(2 * scene.mains() * one["deg"] / (360 * float(scene.rate))), says)
        if "nearest" in one:
            tally.add(f"nearest by {by}: the gap it leaves", one["nearest"]["leaves_stops"] - leaves(one["nearest"]), 1e-8, says)
        elif not within and by not in ("t-stop", "iso"):
            tally.same(f"nearest by {by}: there", False, True, says)


def check_mixed(tally, scene, said, case):
    """Which lamps are told of as mixed, and the gel that brings each there."""
    wanted = {}
    for side, name in enumerate(("face", "background")):
        parts = scene.parts(side)
        total = sum(lux for _, lux, _ in parts)
        counting = [part for part in parts if total and part[1] / total >= 0.1 and part[2]]
        base = next((part for part in counting if part[0] is None), None) or max(counting, key=lambda part: part[1], default=None)
        for part in counting:
            if part[0] is None or part[0] == base[0]:
                continue
            shift, green = mired(base[2]) - mired(part[2]), base[2]["duv"] - part[2]["duv"]
            if abs(shift) >= 20 or abs(green) >= 0.006:
                wanted[name, scene.setup["lights"][part[0]]["light"]] = shift, green
    found = {(on, part["light"]): part["gel"] for on in ("face", "background") for part in said[on]["parts"] if part.get("gel")}
    # Just at a threshold rounding decides.
    tally.same("mixed colours told of", sorted(found), sorted(wanted), case)
    for key in found.keys() & wanted.keys():
        gel, (shift, green) = found[key], wanted[key]
        tally.near("between two sources, mired", gel["mired"], shift, case)
        tally.near("between two sources, Duv", gel["duv"], green, case)
        best = min(SHEETS, key=lambda name: abs(shift - SHEETS[name]))
        sheet = best if abs(shift - SHEETS[best]) < abs(shift) else None
        tally.same("the sheet", gel["sheet"] and gel["sheet"]["name"], sheet, f"{case} {key}")
        tally.near("what the sheet leaves, mired", gel["leaves_mired"], shift - SHEETS.get(sheet, 0), case)
        tally.same("green", gel["green"], None if abs(green) < 0.006 else "plus" if green > 0 else "minus", case)


def check_view(tally, scene, said, case):
    ours, brief = said["view"], scene.brief
    (width, height), (across, up), (a, b) = scene.camera["sensor_mm"], scene.camera["frame"], brief["active"]
    px = [across, up]
    if brief["fit"] == "crop":
        px = [min(across, up * a / b), min(up, across * b / a)]
    mm = [width * px[0] / across, height * px[1] / up]
    out_w, out_h = brief["frame"]
    active = [min(out_w, out_h * a / b), min(out_h, out_w * b / a)]
    scale = [active[0] / px[0], active[1] / px[1]]
    for n in (0, 1):
        tally.near("delivered, mm", ours["delivered"]["mm"][n], mm[n], case)
        tally.near("delivered, pixels", ours["delivered"]["px"][n], px[n], case)
        tally.same("delivered, even pixels", ours["delivered"]["even_px"][n], 2 * int((px[n] + 1e-6) / 2), case)
    tally.near("delivered, share", ours["delivered"]["share"], px[0] * px[1] / (across * up), case)
    tally.near("enlargement", ours["enlargement"], max(scale) if brief["fit"] == "crop" else min(scale), case)
    for angle, side in zip(ours["angle_deg"], (*mm, math.hypot(*mm))):
        tally.near("angle of view, °", angle, math.degrees(2 * math.atan2(side, 2 * scene.focal)), case)
    optics, height_m = scene.setup["optics"], HEIGHT_M[scene.setup["framing"]]
    framing = height_m * scene.focal / mm[1]
    subject = optics.get("subject_m", min(framing, optics.get("room_m", math.inf)))
    tally.near("from where the framing is had, m", ours["framing_m"], framing, case)
    tally.near("subject, m", ours["subject_m"], subject, case)
    for field, side in zip(ours["field_m"], mm):
        tally.near("field at the subject, m", field, side * subject / scene.focal, case)
    held = mm[1] * subject / scene.focal
    tally.same("framing's name", ours["framing"], min(HEIGHT_M, key=lambda name: abs(math.log(held / HEIGHT_M[name]))), case)
    c = scene.camera.get("circle_mm", math.hypot(*mm) / 1500)
    f, s = scene.focal, subject * 1000
    hyperfocal = f * f / (scene.f_number * c) + f
    tally.near("circle of confusion, mm", ours["circle_mm"], c, case)
    tally.near("hyperfocal, m", ours["hyperfocal_m"], hyperfocal / 1000, case)
    if s > f:
        tally.near("depth of field, near, mm", ours["depth"]["near_mm"], s * (hyperfocal - f) / (hyperfocal + s - 2 * f), case)
        # Close to the hyperfocal distance the far limit has few true digits left: 1e-9 of its reciprocal.
        far = ours["depth"]["far_mm"]
        tally.add("depth of field, far, 1/m", (1000 / far if far else 0) - max(0, 1000 * (hyperfocal - s) / (s * (hyperfocal - f))), 1e-9, case)


def check_pulses(tally, scene, said, case):
    follow = [n for n, (_, light) in enumerate(scene.lamps) if light["follows_mains"]]
    ambient, hz = scene.counts_as_lamps(), scene.place.get("mains_hz")
    wanted = [(which * 2, follow, ambient, True) for which in ([hz] if hz else [50, 60] if follow else [])]
    wanted = [one for one in wanted if pulse_share(scene, one[1], one[2]) > 0]
    wanted += [(light["pulses_hz"], [n], False, False) for n, (used, light) in enumerate(scene.lamps) if "pulses_hz" in light and 0 < used.get("level", 1) < 1]
    tally.same("how many pulse", len(said["pulses"]), len(wanted), case)
    fps = float(scene.rate)
    for ours, (hertz, which, ambient, mains) in zip(said["pulses"], wanted):
        seen, share = hertz * scene.deg / (360 * fps), pulse_share(scene, which, ambient)
        bound = 0 if abs(seen - round(seen)) < 1e-9 * seen else 1 / seen
        contrast = share * (2 * abs(math.sin(math.pi * seen)) / (math.pi * seen) if mains else bound)
        half = min(contrast / 2, 0.999)
        # Each frame begins this many pulses after the last; what is left of whole ones wanders.
        wander = abs(hertz / fps - round(hertz / fps)) * fps
        for name, figure, theirs in (("pulses a second", ours["pulses_hz"], hertz), ("pulses an exposure sees", ours["seen"], seen), ("share of the light", ours["share"], share),
                                     ("contrast", ours["contrast"], contrast), ("contrast, stops", ours["contrast_stops"], math.log2((1 + half) / (1 - half))), ("wandering, Hz", ours["beat_hz"], wander)):
            tally.near(f"flicker: {name}", figure, theirs, case)
        tally.same("flicker: safe", ours["safe"], safe(seen), f"{case} {ours}")
        if not mains:
            continue
        angles = [Fraction(360) * scene.rate * n / int(hertz) for n in range(1, 121) if Fraction(360) * scene.rate * n / int(hertz) <= 360]
        tally.same("flicker: safe angles, exact", [Fraction(one["deg"]) for one in ours["safe_angles"]], angles, case)
        if angles:
            best = min(abs(float(angle) - scene.deg) for angle in angles)
            tally.near("flicker: how near the nearest safe angle is, °", abs(float(Fraction(ours["nearest_safe"]["deg"])) - scene.deg), best, case)
        for rate in ours["safe_rates"]:
            whole = hertz * round(scene.deg, 3) / (360 * float(Fraction(rate)))
            tally.near("flicker: a safe rate sees whole pulses", whole, round(whole), case)
        repeats = (Fraction(int(hertz)) / scene.rate).denominator == 1
        tally.same("flicker: frames repeat", ours["frames_repeat"], repeats, case)
        rolling = scene.camera["readout"] == "rolling"
        tally.same("flicker: seen", ours["visible"], not safe(seen) and contrast >= 0.02 and (rolling or not repeats), case)


def pulse_share(scene, which, ambient):
    if any(scene.setup["lights"][n]["falls_on"] == "edge" for n in which):
        return 1
    shares = []
    for side in (0, 1):
        parts = scene.parts(side)
        total = sum(lux for _, lux, _ in parts)
        unknown = ambient and scene.ambient[side][0] is None
        counts = sum(lux for n, lux, _ in parts if (ambient if n is None else n in which))
        shares.append(1 if unknown else counts / total if total else 0)
    return max(shares)


def check_off_speed(tally, scene, said, case):
    ours, ratio = said["off_speed"], scene.rate / scene.shown
    tally.same("off-speed: there", ours is not None, ratio != 1, case)
    if ours is None:
        return
    by = float(ratio)
    tally.same("off-speed: ratio, exact", Fraction(ours["ratio"]), ratio, case)
    tally.near("off-speed: loss, stops", ours["lost_stops"], math.log2(by), case)
    tally.near("off-speed: smear", ours["smear"], scene.deg / 360, case)
    tally.near("off-speed: blur kept", ours["blur_kept"], 1 / by, case)
    if abs(scene.deg * by - 360) > 1e-6:
        tally.near("off-speed: angle of the same blur, °", ours["same_blur_deg"], scene.deg * by if scene.deg * by <= 360 else None, case)
    tally.near("off-speed: angle of a real-time look, °", ours["real_time_deg"], scene.deg / by if by >= 1 else None, case)


def check_warnings(tally, scene, said, case):
    """Light too near for inverse square: an even disc gives log2(1 + (size / 2 distance)²) less."""
    wanted = {}
    for used, light in scene.lamps:
        size = light.get("size_m")
        if size and used["distance_m"] < 5 * size:
            wanted[used["light"]] = math.log2(1 + (size / (2 * used["distance_m"])) ** 2)
    found = {one["light"]: one["disc_stops"] for one in said["near_lights"]}
    tally.same("too near for inverse square", sorted(found), sorted(wanted), case)
    for item in found.keys() & wanted.keys():
        tally.near("too near: a disc's loss, stops", found[item], wanted[item], case)


def check_setups(tally, binary, folder, count, seed):
    chance, each = random.Random(seed), 25
    projects, plans = {}, {}
    for project in range(math.ceil(count / each)):
        brief = draw_brief(chance)
        drawn = [draw_setup(chance, nth) for nth in range(each)]
        projects[f"drawn-{project}"] = brief, drawn
        plans[f"drawn-{project}"] = {"brief": brief, "places": [one[2] for one in drawn], "kit": [item for one in drawn for item in one[1]], "setups": [one[0] for one in drawn]}
    for project, report in ask_all(binary, folder, plans).items():
        brief, drawn = projects[project]
        for (setup, kit, place), said in zip(drawn, report["setups"]):
            case = f"{project}, {setup['id']}"
            scene = Scene(brief, setup, kit, place)
            check_camera(tally, scene, said, case)
            for side in (0, 1):
                check_side(tally, scene, said, side, case)
            check_mixed(tally, scene, said, case)
            check_view(tally, scene, said, case)
            check_pulses(tally, scene, said, case)
            check_off_speed(tally, scene, said, case)
            check_warnings(tally, scene, said, case)


# ---- rows of tables


def rows(binary, folder, name, brief, each):
    """Asks for one setup a row; each row gives camera, lens, setup and place."""
    kit, setups, places = [], [], []
    for n, row in enumerate(each):
        kit.append({"id": f"c{n}", "camera": {"sensor_mm": [36.0, 24.0], "frame": [3600, 2400]} | row.get("camera", {})})
        kit.append({"id": f"l{n}", "lens": {"focal_mm": [50.0, 50.0], "t_stop": 2.8} | row.get("lens", {})})
        kit += row.get("kit", [])
        places.append({"id": f"p{n}", "name": "p"} | row.get("place", {}))
        optics = {"camera": f"c{n}", "lens": f"l{n}", "iso": 800} | row.get("optics", {})
        setups.append({"id": f"s{n}", "place": f"p{n}", "optics": optics, "ambient": {"face_lux": 100.0, "background_lux": 100.0}} | row.get("setup", {}))
    return ask(binary, folder / name, {"brief": brief, "places": places, "kit": kit, "setups": setups})["setups"]


def check_tables(tally, binary, folder):
    inside = {"rate": "24", "frame": [1920, 1080], "fit": "inside"}

    # E = C N²/(t S), C = 250 (ISO 2720): f-number, rate at 180°, ISO, lux. t = 1/(2 rate).
    table = [(2.8, "24", 800, 117.60), (2.8, "25", 400, 245.00), (2.8, "25", 100, 980.00), (4, "24", 800, 240.00), (1.4, "24", 3200, 7.35), (16, "50", 100, 64000.0)]
    said = rows(binary, folder, "light", inside, [{"lens": {"t_stop": 1.0}, "optics": {"t_stop": n, "iso": iso}, "setup": {"shot_rate": rate}} for n, rate, iso, _ in table])
    for one, (n, rate, iso, lux) in zip(said, table):
        tally.add("table: correct light, lux", one["camera"]["correct_lux"] - lux, 0.005, (n, rate, iso))
        # The trade's 25 N²/(t S) foot-candles lies between the two constants of ISO 2720: a third of a stop.
        rule = 25 * n * n / (one["camera"]["exposure_s"] * iso) * 10.7639104
        tally.add("table: against 25 T²/(ISO t) foot-candles, stops", math.log2(one["camera"]["correct_lux"] / rule), 1 / 3, (n, rate, iso))

    # Stops against T2.8, 180°, 24 frames, ISO 800.
    table = [({}, {}, 0), ({"iso": 3200}, {}, 2), ({}, {"shot_rate": "48"}, -1), ({}, {"shot_rate": "60"}, -1.3219), ({"shutter_deg": 90.0}, {}, -1), ({"shutter_deg": 172.8}, {}, -0.0589)]
    said = rows(binary, folder, "stops", inside, [{"optics": optics, "setup": setup} for optics, setup, _ in table])
    for one, (optics, setup, stops) in zip(said, table):
        tally.add("table: stops", one["face"]["stops"] - said[0]["face"]["stops"] - stops, 5e-5, (optics, setup))

    # Inverse square: 1000 cd at 5 m are 40 lux; 2 m to 3 m loses 1.1699 stops, 1 m to 1.4142 m 1, to 2.8 m 2.9709.
    def lamp(n, distance):
        return {"kit": [{"id": f"lamp{n}", "light": {"candela": 1000.0, "full_w": 10.0}}], "setup": {"lights": [{"light": f"lamp{n}", "distance_m": distance}]}}

    said = rows(binary, folder, "square", inside, [lamp(n, distance) for n, distance in enumerate([5.0, 2.0, 3.0, 1.0, 1.4142, 2.8])])
    lux = [one["face"]["parts"][0]["lux"] for one in said]
    tally.add("table: 1000 cd at 5 m, lux", lux[0] - 40, 1e-9, lux)
    for near, far, stops in ((1, 2, 1.1699), (3, 4, 1.0), (3, 5, 2.9709)):
        tally.add("table: inverse square, stops", math.log2(lux[near] / lux[far]) - stops, 5e-5, (near, far))

    # Flicker: rate, then safe angles at 50 and 60 Hz (360 × rate × n / 2f).
    table = [
        ("24000/1001", [86.314, 172.627, 258.941, 345.255], [71.928, 143.856, 215.784, 287.712, 359.640]),
        ("24", [86.4, 172.8, 259.2, 345.6], [72, 144, 216, 288, 360]),
        ("25", [90, 180, 270, 360], [75, 150, 225, 300]),
        ("30000/1001", [107.892, 215.784, 323.676], [89.910, 179.820, 269.730, 359.640]),
        ("30", [108, 216, 324], [90, 180, 270, 360]),
        ("48", [172.8, 345.6], [144, 288]),
        ("50", [180, 360], [150, 300]),
        ("60000/1001", [215.784], [179.820, 359.640]),
        ("60", [216], [180, 360]),
        ("120", [], [360]),
    ]
    asked = [(rate, hz, angles) for rate, at_50, at_60 in table for hz, angles in ((50, at_50), (60, at_60))]
    said = rows(binary, folder, "flicker", inside, [{"place": {"mains_hz": hz}, "setup": {"shot_rate": rate}} for rate, hz, _ in asked])
    for one, (rate, hz, angles) in zip(said, asked):
        ours = [float(Fraction(angle["deg"])) for angle in one["pulses"][0]["safe_angles"]]
        tally.same("table: how many safe angles", len(ours), len(angles), (rate, hz, ours))
        for own, angle in zip(ours, angles):
            tally.add("table: safe angles, °", own - angle, 6e-4, (rate, hz))

    # Depth of field (Greenleaf): focal, N, c, subject, hyperfocal, near, far, all mm.
    table = [
        (50, 8, 0.030, 5000, 10466.67, 3389.37, 9527.44),
        (50, 8, 0.030, 31400 / 3, 10466.67, 5233.33, None),
        (50, 2.8, 0.025, 3000, 35764.29, 2771.11, 3270.11),
        (50, 2.8, 0.0254, 3048, 35201.86, 2808.47, 3332.19),
        (35, 4, 0.029, 2000, 10595.34, 1686.24, 2457.22),
        (24, 5.6, 0.020, 1500, 5166.86, 1165.50, 2103.79),
        (85, 1.4, 0.029, 2000, 178040.67, 1978.71, 2021.76),
        # US Army subcourse SS0507: 2 in, f/8, c 0.002 in: 20.8 ft without "+ f"; asked at 10 ft.
        (50.8, 8, 0.0508, 3048, 20.8 * 304.8 + 50.8, None, None),
    ]
    said = rows(binary, folder, "depth", inside, [
        {"camera": {"circle_mm": c}, "lens": {"focal_mm": [float(f), float(f)], "t_stop": float(n)}, "optics": {"subject_m": s / 1000}} for f, n, c, s, *_ in table])
    for one, row in zip(said, table):
        view = one["view"]
        book = row[0] == 50.8
        tally.add("table: the handbook's hyperfocal, mm" if book else "table: hyperfocal, mm", view["hyperfocal_m"] * 1000 - row[4], 0.05 * 304.8 if book else 0.01, row)
        for figure, theirs in ((view["depth"]["near_mm"], row[5]), (view["depth"]["far_mm"], row[6])):
            if theirs:
                tally.add("table: depth of field, mm", figure - theirs, 0.01, row)

    # Angles: sensor, focal, across, up, diagonal (2 atan(side / 2f)); and 50 mm on 36 mm at 3 m holds 2.16 m.
    table = [
        (36.0, 24.0, 24, 73.7398, 53.1301, 84.0622), (36.0, 24.0, 35, 54.4322, 37.8493, 63.4400), (36.0, 24.0, 50, 39.5978, 26.9915, 46.7930),
        (24.89, 18.66, 35, 39.1479, 29.8526, 47.9207), (24.89, 18.66, 50, 27.9538, 21.1397, 34.5597), (23.60, 15.60, 35, 37.2623, 25.1269, 44.0114),
        (17.30, 13.00, 24, 39.6400, 30.3081, 48.5349),
    ]
    said = rows(binary, folder, "angles", inside, [
        {"camera": {"sensor_mm": [w, h]}, "lens": {"focal_mm": [float(f), float(f)]}, "optics": {"subject_m": 3.0}} for w, h, f, *_ in table])
    for one, row in zip(said, table):
        for ours, theirs in zip(one["view"]["angle_deg"], row[3:]):
            tally.add("table: angle of view, °", ours - theirs, 1e-4, row)
    tally.add("table: 50 mm on 36 mm at 3 m, m", said[2]["view"]["field_m"][0] - 2.16, 1e-9, said[2]["view"])

    # Cropping: frame, exact pixels, even pixels rounded down.
    crops = {
        (239, 100): [((3840, 2160), (3840, 1606.695), [3840, 1606]), ((4096, 2160), (4096, 1713.808), [4096, 1712]), ((1920, 1080), (1920, 803.347), [1920, 802])],
        (185, 100): [((3840, 2160), (3840, 2075.676), [3840, 2074]), ((4096, 2160), (3996, 2160), [3996, 2160])],
        (1, 1): [((3840, 2160), (2160, 2160), [2160, 2160])],
        (4, 5): [((3840, 2160), (1728, 2160), [1728, 2160])],
        (9, 16): [((3840, 2160), (1215, 2160), [1214, 2160]), ((1920, 1080), (607.5, 1080), [606, 1080])],
    }
    for shape, table in crops.items():
        brief = {"rate": "24", "frame": [1920, 1080], "active": list(shape), "fit": "crop"}
        said = rows(binary, folder, f"crop-{shape[0]}", brief, [{"camera": {"frame": list(frame)}} for frame, *_ in table])
        for one, (frame, exact, even) in zip(said, table):
            for ours, theirs in zip(one["view"]["delivered"]["px"], exact):
                tally.add("table: cropped, pixels", ours - theirs, 5e-4, (shape, frame))
            tally.same("table: cropped, even pixels", one["view"]["delivered"]["even_px"], even, (shape, frame))

    # Off-speed: shown, shot, ratio.
    table = {
        "24": [("48", 2), ("60", 2.5), ("36", 1.5), ("30", 1.25), ("120", 5), ("25", 1.041667), ("24000/1001", 0.999001), ("18", 0.75)],
        "25": [("50", 2), ("24", 0.96)],
        "24000/1001": [("60000/1001", 2.5), ("30000/1001", 1.25)],
    }
    for shown, each in table.items():
        said = rows(binary, folder, f"speed-{shown[:5]}".replace("/", "-"), inside | {"rate": shown}, [{"setup": {"shot_rate": shot}} for shot, _ in each])
        for one, (shot, ratio) in zip(said, each):
            tally.add("table: off-speed ratio", float(Fraction(one["off_speed"]["ratio"])) - ratio, 5e-7, (shot, shown))


# ---- power


USABLE = {"lithium-ion": 0.9, "lithium-iron-phosphate": 0.85, "nickel-metal-hydride": 0.9, "lead-acid": 0.5}
COLD = {
    "lithium-ion": ([-20, -10, 0, 20], [0.5, 0.65, 0.75, 1]),
    "lithium-iron-phosphate": ([-20, -10, 0, 20], [0.4, 0.55, 0.7, 1]),
    "nickel-metal-hydride": ([-20, 0, 20], [0.5, 0.8, 1]),
    "lead-acid": ([-20, 0, 20], [0.5, 0.8, 1]),
}


def floor_wh(battery, air_c):
    """Where it stops: usable by chemistry, less by cold (common practice, docs/power.md)."""
    chemistry = battery.get("chemistry", "lithium-ion")
    return battery["wh"] * (1 - USABLE[chemistry] * np.interp(air_c, *COLD[chemistry]))


def balances(tally, power, kit, air_c, case):
    """What must hold of any day; `air_c` says how cold it is in each setup."""
    batteries = {item["id"]: item["battery"] for item in kit if "battery" in item}

    def share(kind, ours, theirs):
        tally.add(kind, (ours - theirs) / max(abs(theirs), 1e-3), 1e-3, f"{case}: {ours} and {theirs}")

    total = power["totals"]
    share("balance: drawn + mains = used + lost", total["drawn_wh"] + total["mains_wh"], total["used_wh"] + total["lost_wh"])
    share("balance: batteries' sum drawn", sum(one["drawn_wh"] for one in power["ledger"]), total["drawn_wh"])
    share("balance: batteries' sum charged", sum(one["charged_wh"] for one in power["ledger"]), total["charged_wh"])
    mains = sum(span["watts"] * (span["to_min"] - span["from_min"]) / 60 for span in power["spans"] if span["piece"] is None)
    share("balance: spans on mains", mains, total["mains_wh"])
    for one in power["ledger"]:
        share("balance: start − drawn + charged = left", one["start_wh"] - one["drawn_wh"] + one["charged_wh"], one["left_wh"])
        spans = [span for span in power["spans"] if span["piece"] == one["piece"]]
        charges = [charge for charge in power["charges"] if charge["piece"] == one["piece"]]
        share("balance: a battery's spans", sum(span["watts"] * (span["to_min"] - span["from_min"]) / 60 for span in spans), one["drawn_wh"])
        share("balance: a battery's charges", sum(charge["wh"] for charge in charges), one["charged_wh"])
        # Replayed between all times at which anything of it begins or ends.
        times = sorted({t for part in spans + charges for t in (part["from_min"], part["to_min"])})
        battery, level = batteries[one["piece"]["battery"]], one["start_wh"]
        for start, end in zip(times, times[1:]):
            hours, middle = (end - start) / 60, (start + end) / 2
            now = [span for span in spans if span["from_min"] < middle < span["to_min"]]
            level -= sum(span["watts"] * hours for span in now)
            level += sum(charge["wh"] * (end - start) / (charge["to_min"] - charge["from_min"]) for charge in charges if charge["from_min"] < middle < charge["to_min"])
            under = max((floor_wh(battery, air_c[span["setup"]]) - level for span in now), default=0)
            tally.add("replay: drawn below empty, or charged above full, Wh", max(under, level - battery["wh"], 0), 0.001, f"{case}: {one} at {end}")


LAMP = {"id": "lamp", "fed_by": ["dc"], "light": {"candela": 9000.0, "full_w": 60.0}}
QUAY = {"id": "quay", "name": "Quay"}
WASH = {"id": "wash", "name": "Launderette", "interior": True, "mains": {"volts": 230.0, "amperes": 10.0}, "travel": [{"to": "quay", "minutes": 30}]}
BRIEF = {"rate": "24", "frame": [1920, 1080]}


def block(wh, count, **more):
    return {"id": "block", "count": count, "feeds": ["dc"], "battery": {"wh": wh} | more}


def lit(name, place="quay", **more):
    return {"id": name, "place": place, "lights": [{"light": "lamp", "distance_m": 2.0}]} | more


def night(*order, air_c=20.0):
    slots = [{"setup": setup, "start": start, "shoot": shoot, "end": end} for setup, start, shoot, end in order]
    return {"id": "night", "date": "2026-10-03", "call": "18:00", "air_c": air_c, "order": slots}


def in_the_air(setups, day):
    """Indoors it is 20 °C."""
    return {setup["id"]: 20.0 if setup["place"] == "wash" else day["air_c"] for setup in setups}


def check_days(tally, binary, folder):
    """Days worked by hand. Minutes count from midnight: 18:00 is 1080. Without a song a pass is 180 s."""

    def day(name, kit, setups, order, by_hand):
        report = ask(binary, folder / name, {"brief": BRIEF, "places": [QUAY, WASH], "kit": kit, "setups": setups, "days": [order]})
        power = report["days"][0]["power"]
        balances(tally, power, kit, in_the_air(setups, order), name)
        for what, (ours, theirs, unit) in by_hand(power).items():
            tally.add(f"by hand: {unit}", ours - theirs, 0.001, f"{name}, {what}: ours {ours}, by hand {theirs}")

    def short(power, reason):
        return next(one["at_min"] for one in power["shortages"] if one["reason"] == reason)

    # 100 Wh of lithium-ion give 90, 72 above the reserve of a fifth. Lit from the middle of the rig (18:10) at
    # 60 W: the reserve after 72 minutes, 19:22; empty after 90, 19:40.
    day("one-lamp", [LAMP, block(100.0, 1)], [lit("one")], night(("one", "18:00", "18:20", "20:00")), lambda power: {
        "reserve": (short(power, "below-reserve"), 1162, "minutes"),
        "empty": (short(power, "empty"), 1180, "minutes"),
        "drawn": (power["totals"]["drawn_wh"], 90, "Wh"),
        "left": (power["ledger"][0]["left_wh"], 10, "Wh"),
    })
    # At 0 °C three quarters of that: 67.5 Wh, 54 above the reserve, 54 minutes.
    day("cold", [LAMP, block(100.0, 1)], [lit("one")], night(("one", "18:00", "18:20", "19:30"), air_c=0.0), lambda power: {
        "reserve": (short(power, "below-reserve"), 1144, "minutes"),
        "floor": (power["ledger"][0]["floor_wh"], 32.5, "Wh"),
        "reserve line": (power["ledger"][0]["reserve_line_wh"], 46, "Wh"),
    })
    # Two of 30 Wh: 21.6 above the reserve each. Lit from 18:07:30; passes of 3 and resets of 2 minutes, 5 Wh a
    # round. By the reset at 18:28 20.5 are drawn, and 1.1 is no reset and pass: changed there, a minute dark.
    # 27.5 minutes lit until 18:35, less that one: 26.5 Wh.
    day("change", [LAMP, block(30.0, 2)], [lit("one", passes=4)], night(), lambda power: {
        "when": (power["swaps"][0]["at_min"], 1108, "minutes"),
        "how many": (len(power["swaps"]), 1, "changes"),
        "used": (power["totals"]["used_wh"], 26.5, "Wh"),
        "off": (power["ledger"][0]["drawn_wh"], 20.5, "Wh"),
        "on": (power["ledger"][1]["drawn_wh"], 6, "Wh"),
    })
    # Through an inverter of 0.9 with 5 W idle: 60 W take 60/0.9 + 5 = 71.667 W. Two hours lit: 143.333 Wh, of
    # which 23.333 are lost. 500 Wh of iron phosphate give 425, 340 above the reserve.
    inverter = {"id": "inverter", "fed_by": ["dc"], "feeds": ["plug"], "inverter": {"efficiency": 0.9, "idle_w": 5.0, "most_w": 300.0}}
    iron = block(500.0, 1, chemistry="lithium-iron-phosphate")
    day("inverter", [LAMP | {"fed_by": ["plug"]}, inverter, iron], [lit("one")], night(("one", "18:00", "18:20", "20:10")), lambda power: {
        "drawn": (power["totals"]["drawn_wh"], 2 * (60 / 0.9 + 5), "Wh"),
        "lost": (power["totals"]["lost_wh"], 2 * (60 / 0.9 + 5) - 120, "Wh"),
        "reserve line": (power["ledger"][0]["reserve_line_wh"], 500 - 340, "Wh"),
    })
    # A camera of 10 W, two cells of 20 Wh (14.4 above the reserve). An hour at the quay takes 10 from the first;
    # an hour more would not last, so the second goes on at the launderette, and the first is charged there
    # from 19:30 with 30 W: 10 Wh in 20 minutes, 11.765 from the socket at 0.85.
    camera = {"id": "camera", "fed_by": ["cell"], "camera": {"sensor_mm": [36.0, 20.25], "frame": [1920, 1080], "draws_w": 10.0}}
    cell = {"id": "cell", "count": 2, "feeds": ["cell"], "fed_by": ["bay"], "battery": {"wh": 20.0}}
    charger = {"id": "charger", "fed_by": ["mains"], "feeds": ["bay"], "charger": {"into_w": 30.0}}
    shot = [{"id": name, "place": place, "optics": {"camera": "camera"}} for name, place in (("out", "quay"), ("in", "wash"))]
    day("charge", [camera, cell, charger], shot, night(("out", "18:00", "18:20", "19:00"), ("in", "19:30", "19:50", "20:30")), lambda power: {
        "from": (power["charges"][0]["from_min"], 1170, "minutes"),
        "to": (power["charges"][0]["to_min"], 1190, "minutes"),
        "charged": (power["totals"]["charged_wh"], 10, "Wh"),
        "from the socket": (power["totals"]["into_chargers_wh"], 10 / 0.85, "Wh"),
        "first": (power["ledger"][0]["left_wh"], 20, "Wh"),
        "second": (power["ledger"][1]["left_wh"], 10, "Wh"),
    })


def check_drawn_days(tally, binary, folder, count, seed):
    """Days drawn: they must balance, whatever they are."""
    chance = random.Random(seed)
    plans = {}
    for n in range(count):
        kit = [
            {"id": "camera", "fed_by": ["cell"], "camera": {"sensor_mm": [36.0, 20.25], "frame": [1920, 1080], "draws_w": chance.uniform(5, 30)}},
            {"id": "cell", "count": chance.randint(1, 4), "feeds": ["cell"], "fed_by": ["bay"], "battery": {"wh": chance.uniform(10, 60)}},
            {"id": "charger", "fed_by": ["mains"], "feeds": ["bay"], "charger": {"into_w": chance.uniform(10, 60), "bays": chance.randint(1, 2)}},
            LAMP | {"fed_by": chance.choice([["dc"], ["plug"], ["dc", "plug"], ["plug", "mains"]])},
            block(chance.uniform(40, 400), chance.randint(1, 3), chemistry=chance.choice(["lithium-ion", "lithium-iron-phosphate", "lead-acid", "nickel-metal-hydride"])),
            {"id": "inverter", "fed_by": ["dc"], "feeds": ["plug"], "inverter": {"efficiency": chance.uniform(0.7, 0.95), "idle_w": chance.uniform(0, 10), "most_w": 300.0}},
        ]
        setups = [lit(f"s{k}", chance.choice(["quay", "wash"]), passes=chance.randint(1, 6), optics={"camera": "camera"}, rig_minutes=chance.randint(0, 60)) for k in range(chance.randint(1, 5))]
        day = night(air_c=chance.uniform(-15, 25))
        plans[f"day-{n}"] = {"brief": BRIEF, "places": [QUAY, WASH], "kit": kit, "setups": setups, "days": [day]}
    for name, report in ask_all(binary, folder, plans).items():
        plan = plans[name]
        balances(tally, report["days"][0]["power"], plan["kit"], in_the_air(plan["setups"], plan["days"][0]), name)


def check_air(tally, binary, folder):
    """US FAA and TSA: to 100 Wh without approval, to 160 Wh with it, two such spares a person."""
    table = [(100.0, "carried"), (100.01, "with-approval"), (160.0, "with-approval"), (160.01, "refused"), (97.92, "carried"), (148.0, "with-approval"), (159.84, "with-approval")]
    kit = [{"id": f"b{n}", "battery": {"wh": wh}} for n, (wh, _) in enumerate(table)]
    flies = ask(binary, folder / "air", {"brief": BRIEF, "kit": kit}, "--by-air", "1")["carriage"]
    for one, (wh, how) in zip(flies["batteries"], table):
        tally.same("by air", one["allowance"], how, wh)
    tally.same("by air: four spares over 100 Wh are too many for one", any(one["kind"] == "too-many-spares" for one in flies["findings"]), True, flies)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("binary", type=Path)
    parser.add_argument("--setups", type=int, default=300)
    parser.add_argument("--days", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    binary = options.binary.resolve()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        check_setups(tally, binary, folder, options.setups, options.seed)
        check_tables(tally, binary, folder)
        check_days(tally, binary, folder)
        check_drawn_days(tally, binary, folder, options.days, options.seed)
        check_air(tally, binary, folder)
    against = f"colour-science {colour.__version__}" if colour else "no colour-science here, so mixtures are not compared"
    print(f"{options.setups} setups and {options.days} days drawn, seed {options.seed}; {against}")
    sys.exit(0 if tally.close() else 1)


if __name__ == "__main__":
    main()
