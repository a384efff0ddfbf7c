"""Compares `barebulb sky` with skyfield (JPL DE421) on random places, dates and times.

    python checks/sky/check_sky.py BAREBULB_BINARY                  800 cases
    python checks/sky/check_sky.py BAREBULB_BINARY --cases 5000     the full count, some minutes

Cases are seeded: 1990 to 2053-10, where DE421 ends, and a tenth as many positions from there to the
end of 2060 against ephem (VSOP87; its own moon). Latitudes and longitudes are even in degrees, civil days
are those of several zones, all minutes come. Each is one call of the program with `--json`.

What is compared, with the tolerances of the project:
- sun altitude (airless and refracted) and place in the sky 0.01°, moon 0.03°. "Place in the sky" is
  the angle between the two directions: an azimuth alone means nothing near the zenith. Azimuths
  themselves are compared below 80° of altitude.
- illuminated fraction 0.002.
- every sunrise, sunset, dawn and dusk of the civil day: 5 s up to 65° of latitude, 60 s beyond.
- every moonrise and moonset: 30 s up to 65°, 60 s beyond.
- that none is missing and none too many.

How events are compared: skyfield's altitude is computed at the program's time and just beside it;
what is left to the threshold, over the rate, is the error in time. How many there are is told by
skyfield's altitude every ten minutes, and closely around each turning point near a threshold. Some days are compared
with skyfield's own search (`find_risings`, `find_settings`, `find_transits`) as well.

A body that only grazes a threshold, turning within 0.005° of it, has no sharp time: a second of arc
is worth minutes there. Such passages are counted and not timed, and there "both or none" is not asked;
they are few (the closing table says how many). Everything else is held to the tolerances above.

Definitions, the same on both sides: sun's centre at -50', -6, -12, -18 degrees; moon's centre at
-34' less its radius as seen from the place. Refraction by Bennett at 10 C and 1010 hPa, which
skyfield has too. Times are UTC on both sides; beyond the last leap second both take TT - 69.184 s.
"""
import argparse
import json
import math
import random
import subprocess
import sys
import warnings
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta, timezone

warnings.simplefilter("ignore")
import ephem  # noqa: E402
import numpy as np  # noqa: E402
import skyfield_data  # noqa: E402
from skyfield import almanac  # noqa: E402
from skyfield.api import Loader, wgs84  # noqa: E402
from skyfield.earthlib import refract  # noqa: E402

LOADER = Loader(skyfield_data.get_skyfield_data_path())
SCALE = LOADER.timescale(builtin=True)
PLANETS = LOADER("de421.bsp")
EARTH, SUN, MOON = PLANETS["earth"], PLANETS["sun"], PLANETS["moon"]
EPOCH = datetime(2000, 1, 1, 12, tzinfo=timezone.utc)
MOON_KM = 1737.4
GRAZE_DEG = 0.005
DE421_ENDS = date(2053, 10, 1)
ZONES = ["UTC", "Europe/Lisbon", "Asia/Kolkata", "Australia/Lord_Howe", "America/St_Johns", "Pacific/Auckland", "America/Los_Angeles"]
RISING = {"sunrise", "civil-dawn", "nautical-dawn", "astronomical-dawn", "moonrise"}
SUN_EVENTS = {
    -50 / 60: ("sunrise", "sunset"),
    -6.0: ("civil-dawn", "civil-dusk"),
    -12.0: ("nautical-dawn", "nautical-dusk"),
    -18.0: ("astronomical-dawn", "astronomical-dusk"),
}


def days(text):
    """Days from EPOCH of an RFC 3339 time."""
    return (datetime.fromisoformat(text) - EPOCH).total_seconds() / 86400


def times(utc_days):
    """Skyfield's times, for UTC days from EPOCH as POSIX counts them."""
    return SCALE.utc(2000, 1, 1.5 + np.asarray(utc_days))


def draw_one(chance, first, last):
    return {
        "lat": round(chance.uniform(-90, 90), 4),
        "lon": round(chance.uniform(-180, 180), 4),
        "date": str(first + timedelta(days=chance.randrange((last - first).days))),
        "tz": chance.choice(ZONES),
        "at": f"{chance.randrange(24):02}:{chance.randrange(60):02}",
    }


def ask(binary, case):
    """What the program says; negative numbers are options' values."""
    command = [binary, "sky", "--json", *(f"--{key}={value}" for key, value in case.items())]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if done.returncode != 0:
        raise SystemExit(f"{' '.join(command)}: {done.stderr}")
    return json.loads(done.stdout)


class Tally:
    """Errors by kind, each with its tolerance and whose case was worst."""

    def __init__(self):
        self.errors, self.limits, self.worst = {}, {}, {}

    def add(self, kind, error, limit, case):
        error = abs(float(error))
        self.errors.setdefault(kind, []).append(error)
        self.limits[kind] = limit
        # What is not a number is worse than any.
        if not error < self.worst.get(kind, (-1.0, None))[0]:
            self.worst[kind] = (error, case)

    def close(self):
        print(f"\n{'':44} {'count':>6} {'median':>9} {'99%':>9} {'max':>9} {'limit':>7}")
        failed = passed = 0
        for kind, errors in sorted(self.errors.items()):
            over = sum(not error <= self.limits[kind] for error in errors)
            failed, passed = failed + over, passed + len(errors) - over
            mid, high, top = np.percentile(errors, [50, 99, 100])
            print(f"{kind:44} {len(errors):6} {mid:9.4f} {high:9.4f} {top:9.4f} {self.limits[kind]:7}" + (f"   {over} over" if over else ""))
            if over:
                print(f"    worst: {self.worst[kind][1]}")
        print(f"\n{passed} passed, {failed} failed")
        return failed == 0 and passed > 0


def apart_deg(alt1, az1, alt2, az2):
    def direction(altitude, azimuth):
        up, round_ = math.radians(altitude), math.radians(azimuth)
        return np.array([math.cos(up) * math.cos(round_), math.cos(up) * math.sin(round_), math.sin(up)])

    a, b = direction(alt1, az1), direction(alt2, az2)
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def check_positions(tally, case, said, observer):
    t = times(days(said["at"]))
    for name, body, limit in (("sun", SUN, 0.01), ("moon", MOON, 0.03)):
        altitude, azimuth, _ = observer.at(t).observe(body).apparent().altaz()
        altitude, azimuth, ours = altitude.degrees, azimuth.degrees, said[name]
        tally.add(f"{name} altitude, °", ours["altitude_deg"] - altitude, limit, case)
        tally.add(f"{name} place in the sky, °", apart_deg(ours["altitude_deg"], ours["azimuth_deg"], altitude, azimuth), limit, case)
        if abs(altitude) < 80:
            tally.add(f"{name} azimuth (below 80°), °", (ours["azimuth_deg"] - azimuth + 180) % 360 - 180, limit, case)
        seen = float(refract(np.array([altitude]), 10.0, 1010.0)[0])
        # At -1 degree the formula is switched off; the two sides may switch a hair apart.
        if abs(seen + 1) > 0.01 and abs(altitude + 1) > 0.5:
            tally.add(f"{name} altitude refracted, °", ours["altitude_refracted_deg"] - seen, limit, case)
    fraction = almanac.fraction_illuminated(PLANETS, "moon", t)
    tally.add("illuminated fraction", said["moon"]["illuminated_fraction"] - fraction, 0.002, case)


def sun_altitude(observer, utc_days):
    return observer.at(times(utc_days)).observe(SUN).apparent().altaz()[0].degrees


def moon_clearance(observer, utc_days):
    """How far the moon's centre is above where it rises and sets."""
    altitude, _, distance = observer.at(times(utc_days)).observe(MOON).apparent().altaz()
    return altitude.degrees + 34 / 60 + np.degrees(MOON_KM / distance.km)


def passages(f, grid, values):
    """Passages through zero by skyfield over the grid, which reaches beyond the day: the sharp ones
    as (about when, rising), and around which times the body only grazes, as (middle, half width)."""
    sharp, grazing, turning = [], [], set()
    for i in range(1, len(grid) - 1):
        a, b, c = values[i - 1 : i + 2]
        if (b - a) * (c - b) > 0 or a - 2 * b + c == 0:
            continue
        # The parabola's vertex.
        if abs(b - (c - a) ** 2 / (8 * (a - 2 * b + c))) > 0.1:
            continue
        turning |= {i, i + 1}
        fine = np.linspace(grid[i - 1], grid[i + 1], 241)
        at = f(fine)
        turn = int(np.argmax(at) if b >= a else np.argmin(at))
        if abs(at[turn]) < GRAZE_DEG:
            grazing.append(((grid[i - 1] + grid[i + 1]) / 2, grid[i + 1] - grid[i]))
        else:
            sharp += [(fine[k], at[k] >= 0) for k in range(1, len(at)) if (at[k - 1] < 0) != (at[k] < 0)]
    for i in range(1, len(grid)):
        if i not in turning and (values[i - 1] < 0) != (values[i] < 0):
            share = values[i - 1] / (values[i - 1] - values[i])
            sharp.append((grid[i - 1] + share * (grid[i] - grid[i - 1]), values[i] >= 0))
    return sharp, grazing


def matched(one, others):
    """A straight line over ten minutes tells the time to a minute or so."""
    return any(abs(one[0] - other[0]) < 150 / 86400 and one[1] == other[1] for other in others)


def compare(tally, kind, limit, case, bounds, ours, theirs, grazing):
    """Times by what skyfield leaves to the threshold; counts by what it has itself."""

    def grazes(one):
        return any(abs(one[0] - middle) <= width for middle, width in grazing)

    edge = 150 / 86400
    inside = [one for one in theirs if bounds[0] + edge < one[0] < bounds[1] - edge and not grazes(one)]
    added = [one for one in ours if not grazes(one) and not matched(one, theirs)]
    missing = [one for one in inside if not matched(one, ours)]
    tally.add("events that skyfield does not have", len(added), 0, case)
    tally.add("events that only skyfield has", len(missing), 0, case)
    for one in ours:
        if grazes(one):
            tally.add("grazing events (counted, not timed)", 0, 1, case)
        else:
            tally.add(kind, one[2], limit, case)


def with_errors(f, events):
    """Events as (when, rising, error in seconds), from (when, rising, threshold)."""
    if not events:
        return []
    when = np.array([event[0] for event in events])
    level = np.array([event[2] for event in events])
    beside = 2 / 86400
    before, at, after = f(np.concatenate([when - beside, when, when + beside])).reshape(3, -1)
    errors = (at - level) / ((after - before) / 4)
    return [(event[0], event[1], error) for event, error in zip(events, errors)]


def check_events(tally, case, said, observer, search):
    from_day, to_day = days(said["day_starts"]), days(said["day_ends"])
    low = abs(case["lat"]) <= 65
    band = "to 65°" if low else "beyond"
    step = 10 / 1440
    grid = np.arange(from_day - 2 * step, to_day + 3 * step, step)
    events = [(days(event["at"]), event["what"]) for event in said["events"]]
    assert events == sorted(events, key=lambda one: one[0]), case
    levels = {name: level for level, names in SUN_EVENTS.items() for name in names}

    def sun(at):
        return sun_altitude(observer, at)

    def moon(at):
        return moon_clearance(observer, at)

    sun_events = [(when, what in RISING, levels[what]) for when, what in events if what in levels]
    found = with_errors(sun, sun_events)
    altitudes = sun(grid)
    for level, names in SUN_EVENTS.items():
        ours = [one for one, event in zip(found, sun_events) if event[2] == level]
        theirs, grazing = passages(lambda at, level=level: sun(at) - level, grid, altitudes - level)
        compare(tally, f"{', '.join(names)}, {band}, s", 5 if low else 60, case, (from_day, to_day), ours, theirs, grazing)
        first_named(tally, case, said["sun"], said["events"], names)
    moon_events = [(when, what in RISING, 0.0) for when, what in events if what in ("moonrise", "moonset")]
    theirs, grazing = passages(moon, grid, moon(grid))
    compare(tally, f"moonrise, moonset, {band}, s", 30 if low else 60, case, (from_day, to_day), with_errors(moon, moon_events), theirs, grazing)
    first_named(tally, case, said["moon"], said["events"], ("moonrise", "moonset"))
    first_named(tally, case, said["sun"], said["events"], ("solar-noon",))
    if search:
        check_search(tally, case, said, observer, from_day, to_day, low)


def first_named(tally, case, named, events, kinds):
    for kind in kinds:
        first = next((event["at"] for event in events if event["what"] == kind), None)
        tally.add("named times that are not the day's first", 0 if named[kind.replace("-", "_")] == first else 1, 0, case)


def check_search(tally, case, said, observer, from_day, to_day, low):
    """Against skyfield's own search; how many there are was compared before."""
    start, end = times(from_day), times(to_day)
    found = {}
    for level, (rise, fall) in SUN_EVENTS.items():
        found[rise] = almanac.find_risings(observer, SUN, start, end, horizon_degrees=level)
        found[fall] = almanac.find_settings(observer, SUN, start, end, horizon_degrees=level)
    found["moonrise"] = almanac.find_risings(observer, MOON, start, end)
    found["moonset"] = almanac.find_settings(observer, MOON, start, end)
    noon = almanac.find_transits(observer, SUN, start, end)
    found["solar-noon"] = noon, np.ones(len(noon), bool)
    for kind, (when, real) in found.items():
        theirs = [one.utc_datetime() for one, really in zip(when, real) if really]
        ours = [datetime.fromisoformat(event["at"]) for event in said["events"] if event["what"] == kind]
        if len(theirs) == len(ours):
            body, limit = ("moon", 30) if "moon" in kind else ("sun", 5)
            name = f"{body} by its own search, {'to 65°' if low else 'beyond'}, s"
            for one, other in zip(ours, theirs):
                tally.add(name, (one - other).total_seconds(), limit if low else 60, case)


def check_phases(tally, binary):
    case = {"lat": 0, "lon": 0, "date": "2026-01-01", "tz": "UTC", "at": "00:00"}
    when, which = almanac.find_discrete(SCALE.utc(2026, 1, 1), SCALE.utc(2026, 12, 31), almanac.moon_phases(PLANETS))
    names = ["new-moon", "first-quarter", "full-moon", "last-quarter"]
    for one, phase in zip(when, which):
        at = one.utc_datetime()
        said = ask(binary, case | {"date": str((at - timedelta(days=1)).date())})
        ours = next(e["at"] for e in said["moon"]["next_phases"] if e["phase"] == names[phase])
        tally.add("principal phases of 2026, s", (datetime.fromisoformat(ours) - at).total_seconds(), 60, names[phase])


def check_late(tally, binary, count, seed):
    """Beyond DE421: against ephem, which takes its time as UT1."""
    chance = random.Random(seed)
    first, last = DE421_ENDS, date(2060, 12, 31)
    for _ in range(count):
        case = draw_one(chance, first, last) | {"tz": "UTC"}
        said = ask(binary, case)
        t = times(days(said["at"]))
        place = ephem.Observer()
        place.lat, place.lon = math.radians(case["lat"]), math.radians(case["lon"])
        place.elevation, place.pressure = 0, 0
        # ephem counts days from 1899-12-31 12:00.
        place.date = float(t.ut1) - 2415020.0
        for name, body, limit in (("sun", ephem.Sun(), 0.01), ("moon", ephem.Moon(), 0.03)):
            body.compute(place)
            error = apart_deg(said[name]["altitude_deg"], said[name]["azimuth_deg"], math.degrees(body.alt), math.degrees(body.az))
            tally.add(f"{name} place, 2053 to 2060, by ephem, °", error, limit, case)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("binary")
    parser.add_argument("--cases", type=int, default=800)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    tally = Tally()
    chance = random.Random(options.seed)
    cases = [draw_one(chance, date(1990, 1, 1), DE421_ENDS) for _ in range(options.cases)]
    with ThreadPoolExecutor(2) as pool:
        for number, (case, said) in enumerate(zip(cases, pool.map(lambda one: ask(options.binary, one), cases))):
            observer = EARTH + wgs84.latlon(case["lat"], case["lon"])
            check_positions(tally, case, said, observer)
            check_events(tally, case, said, observer, search=number % 40 == 0)
    check_phases(tally, options.binary)
    check_late(tally, options.binary, max(100, options.cases // 10), options.seed)
    print(f"{len(cases)} random cases, seed {options.seed}, against skyfield with DE421")
    sys.exit(0 if tally.close() else 1)


if __name__ == "__main__":
    main()
