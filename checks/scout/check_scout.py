"""Writes photographs with piexif and with Pillow, brings them in with `barebulb scout`, and compares
every field, the light and the places with what they were made from.

    python checks/scout/check_scout.py BAREBULB_BINARY

The two libraries write EXIF independently of each other and of Barebulb: piexif in big endian, Pillow
in little endian, into JPEG, PNG, WebP, TIFF and, where this Pillow can, AVIF (an HEIF container).

Exact: file, time, zone, position, bearing and its north, exposure time, f-number, sensitivity, bias
and focal lengths, as the floats nearest to the fractions written (worked out here in fractions).
Tolerances: luminance K N^2 / (t S) 2^bias with K = 12.5 cd/m2 (ISO 2720), illuminance at 18 % and EV
1e-12 relative (rounding). Places: scipy's single-linkage clusters at 40 m by haversine, exactly.
Clocks: told as wrong exactly where they were made wrong.
"""
import datetime
import json
import math
import random
import subprocess
import sys
import tempfile
from collections import Counter
from fractions import Fraction
from pathlib import Path

import numpy as np
import piexif
from PIL import Image, TiffImagePlugin, features
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import pdist

PHOTOS = 160
RADIUS_M = 6371008.8
KINDS = ["jpg", "png", "webp", "tif"] + (["avif"] if features.check("avif") else [])


class Tally:
    """Counts comparisons by kind and prints each difference."""

    def __init__(self):
        self.passed, self.failed = Counter(), Counter()

    def same(self, kind, where, ours, wanted):
        self.true(kind, where, ours == wanted, f"{ours!r} instead of {wanted!r}")

    def near(self, kind, where, ours, wanted, relative):
        good = ours is not None and abs(ours - wanted) <= relative * abs(wanted)
        self.true(kind, where, good, f"{ours!r} instead of {wanted!r} within {relative}")

    def true(self, kind, where, holds, says):
        if holds:
            self.passed[kind] += 1
        else:
            self.failed[kind] += 1
            print(f"  {where}, {kind}: {says}")


def drawn(dice, number, centres):
    """What one photograph says, as fractions and plain values."""
    latitude, longitude = dice.choice(centres)
    north, east = dice.uniform(-70, 70), dice.uniform(-70, 70)
    latitude += north / 111195
    longitude += east / 111195 / math.cos(math.radians(latitude))
    longitude = (longitude + 180) % 360 - 180
    # Seconds in ten-thousandths: 3 mm.
    angle = [int(abs(degrees) * 3600 * 10000) for degrees in (latitude, longitude)]
    parts = [((n // 36000000, 1), (n // 600000 % 60, 1), (n % 600000, 10000)) for n in angle]
    zone = max(-48, min(56, round(longitude / 15 * 4) + dice.randint(-6, 6))) * 15
    utc = datetime.datetime(2005, 1, 1) + datetime.timedelta(seconds=dice.randrange(20 * 365 * 86400))
    lies = number % 8 == 3
    stated = number % 3 != 0
    taken = utc + datetime.timedelta(minutes=zone)
    if lies:
        # Off by what no zone explains, or, where a zone is stated, by an hour.
        taken += datetime.timedelta(minutes=60 if stated else 37)
    return {
        "latitude": (parts[0], latitude < 0),
        "longitude": (parts[1], longitude < 0),
        "taken": taken,
        "fraction": dice.choice([None, "5", "123", "040"]),
        "zone": zone if stated else None,
        "utc": utc - datetime.timedelta(seconds=dice.randint(0, 4)),
        "lies": lies,
        "bearing": (dice.randrange(36000), 100),
        "north": dice.choice("TM"),
        "time": (1, dice.randint(16, 9000)) if number % 5 else (dice.randint(1, 30), 10),
        "number": (dice.randint(10, 220), 10),
        "iso": dice.choice([25, 50, 64, 100, 320, 800, 1250, 1600, 6400, 25600]),
        "bias": (dice.randint(-9, 9), 3),
        "flash": dice.choice([0x00, 0x10, 0x18, 0x01, 0x19]),
        "focal": (dice.randint(130, 20000), 100),
        "focal35": dice.randint(13, 300),
    }


def zone_text(minutes):
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"


def fields(photo):
    """EXIF and GPS fields by number, values as (kind, value) independent of the library."""
    exif = {
        0x9003: photo["taken"].strftime("%Y:%m:%d %H:%M:%S"),
        0x829A: photo["time"],
        0x829D: photo["number"],
        0x8827: photo["iso"],
        0x9204: photo["bias"],
        0x9209: photo["flash"],
        0x920A: photo["focal"],
        0xA405: photo["focal35"],
    }
    if photo["zone"] is not None:
        exif[0x9011] = zone_text(photo["zone"])
    if photo["fraction"] is not None:
        exif[0x9291] = photo["fraction"]
    utc = photo["utc"]
    gps = {
        1: "S" if photo["latitude"][1] else "N",
        2: photo["latitude"][0],
        3: "W" if photo["longitude"][1] else "E",
        4: photo["longitude"][0],
        7: ((utc.hour, 1), (utc.minute, 1), (utc.second, 1)),
        0x10: photo["north"],
        0x11: photo["bearing"],
        0x1D: utc.strftime("%Y:%m:%d"),
    }
    return exif, gps


def write(folder, number, photo):
    """One file, by either library; gives its name."""
    kind = KINDS[number % len(KINDS)]
    name = f"{number:03}.{kind}"
    picture = Image.new("RGB", (16, 12), (number, 255 - number, 90))
    exif, gps = fields(photo)
    if number // len(KINDS) % 2:
        encoded = {k: v.encode() if isinstance(v, str) else v for k, v in exif.items()}
        gps = {k: v.encode() if isinstance(v, str) else v for k, v in gps.items()}
        data = piexif.dump({"Exif": encoded, "GPS": gps})
    else:
        ratio = TiffImagePlugin.IFDRational

        def own(value):
            if isinstance(value, tuple) and isinstance(value[0], tuple):
                return tuple(ratio(*part) for part in value)
            return ratio(*value) if isinstance(value, tuple) else value

        data = Image.Exif()
        # Pillow writes nothing where the picture itself is said nothing of.
        data[0x010E] = "a walk"
        data.get_ifd(0x8769).update({k: own(v) for k, v in exif.items()})
        data.get_ifd(0x8825).update({k: own(v) for k, v in gps.items()})
    picture.save(folder / name, exif=data if isinstance(data, bytes) else data.tobytes())
    return name


def degrees(parts, negative):
    value = sum(Fraction(*part) / places for part, places in zip(parts, (1, 60, 3600)))
    return float(-value if negative else value)


def check_photo(tally, name, photo, ours):
    same = lambda kind, key, wanted: tally.same(kind, name, ours[key], wanted)
    taken = photo["taken"].strftime("%Y-%m-%dT%H:%M:%S")
    if photo["fraction"]:
        taken += "." + photo["fraction"].rstrip("0")
    same("time", "taken", taken)
    same("zone", "utc_offset_minutes", photo["zone"])
    position = [degrees(*photo["latitude"]), degrees(*photo["longitude"])]
    same("position", "position_deg", position)
    same("bearing", "bearing_deg", float(Fraction(*photo["bearing"])))
    same("north", "bearing_is_magnetic", photo["north"] == "M")
    time, number, bias = (Fraction(*photo[key]) for key in ("time", "number", "bias"))
    same("exposure time", "exposure_s", float(time))
    same("f-number", "f_number", float(number))
    same("sensitivity", "iso", float(photo["iso"]))
    same("bias", "bias_stops", float(bias))
    same("focal length", "focal_mm", float(Fraction(*photo["focal"])))
    same("focal length", "focal_35_mm", float(photo["focal35"]))
    ratio = number * number / time / photo["iso"]
    tally.near("EV", name, ours["ev100"], math.log2(float(ratio * 100)), 1e-12)
    if photo["flash"] & 1:
        for key in ("luminance_cd_m2", "illuminance_lux", "uncertainty_stops"):
            same("no light from a flash", key, None)
    else:
        luminance = float(Fraction("12.5") * ratio) * 2 ** float(bias)
        tally.near("luminance", name, ours["luminance_cd_m2"], luminance, 1e-12)
        tally.near("illuminance", name, ours["illuminance_lux"], math.pi * luminance / 0.18, 1e-12)
        extreme = photo["iso"] >= 1600 or time > Fraction(1, 15) or time < Fraction(1, 10000)
        same("uncertainty", "uncertainty_stops", 2.0 if extreme else 1.0)
    told = [note["says"] for note in ours["notes"] if note["says"].startswith("its clock")]
    tally.same("clock", name, len(told), 1 if photo["lies"] else 0)
    damaged = [note["says"] for note in ours["notes"] if "damaged" in note["says"]]
    tally.same("nothing damaged", name, damaged, [])


def haversine(a, b):
    (lat1, lon1), (lat2, lon2) = np.radians(a), np.radians(b)
    h = math.sin((lat2 - lat1) / 2) ** 2
    h += math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    return 2 * RADIUS_M * math.asin(math.sqrt(h))


def main():
    binary = Path(sys.argv[1]).absolute()
    tally = Tally()
    dice = random.Random(20261003)
    centres = [(dice.uniform(-85, 85), dice.uniform(-180, 180)) for _ in range(8)]
    centres += [(-16.8, 179.9999), (64.1, -179.9999), (0.0003, -0.0003), (41.14051, -8.61153)]
    photos = {}
    with tempfile.TemporaryDirectory() as temporary:
        root = Path(temporary)
        (root / "walk").mkdir()
        for number in range(PHOTOS):
            photo = drawn(dice, number, centres)
            photos[write(root / "walk", number, photo)] = photo

        def barebulb(*arguments):
            done = subprocess.run([binary, *map(str, arguments)], capture_output=True, text=True)
            if done.returncode:
                sys.exit(f"barebulb {arguments} ended with {done.returncode}: {done.stderr}")
            return done.stdout

        barebulb("new", root / "video")
        made = json.loads(barebulb("scout", root / "video", root / "walk", "--json"))

    ours, places = {}, {}
    for place in made["places"]:
        for photo in place["photos"]:
            name = Path(photo["file"]).name
            ours[name] = photo
            places[name] = place["id"]
    tally.same("all brought in", "walk", sorted(ours), sorted(photos))
    for name in sorted(set(photos) & set(ours)):
        check_photo(tally, name, photos[name], ours[name])

    names = sorted(set(photos) & set(ours))
    positions = np.array(
        [[degrees(*photos[name][key]) for key in ("latitude", "longitude")] for name in names]
    )
    clusters = fcluster(linkage(pdist(positions, haversine), "single"), 40.0, "distance")
    wanted, found = {}, {}
    for name, cluster in zip(names, clusters):
        wanted.setdefault(cluster, set()).add(name)
        found.setdefault(places[name], set()).add(name)
    tally.same(
        "places by single linkage",
        "walk",
        sorted(map(sorted, found.values())),
        sorted(map(sorted, wanted.values())),
    )

    print(f"{len(photos)} photographs ({', '.join(KINDS)}), {len(wanted)} places")
    for kind in sorted(set(tally.passed) | set(tally.failed)):
        print(f"  {kind:26} {tally.passed[kind]:5} same, {tally.failed[kind]:3} not")
    passed, failed = sum(tally.passed.values()), sum(tally.failed.values())
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
