#!/usr/bin/env python3
"""Writes the MATLAB test files beside it, with SciPy: a writer, and for the
file written byte by byte a reader, that shares nothing with ours.

    apt-get install python3-scipy
    /usr/bin/python3 testdata/mat/generate.py

circuit.mat     a circuit of an invented aircraft at the invented aerodrome
                Ostrey (elevation 340 ft), 500 seconds, thirty parameters in the
                layout, at the rates and in the units of NASA's public sample
                flight data; compressed
classes.mat     every numeric class; not compressed
big-endian.mat  the other byte order, numbers stored in smaller types than their
                class, a compressed variable; written byte by byte here, from the
                published description of the format, and read back by SciPy

sample-*.mat are not made here: "go test ./ingest/simulator -update" flies them,
and SciPy reads them below. truth.json holds what really happens in them.
"""
import os
import struct
import zlib

import numpy as np
from scipy.io import loadmat, savemat

HERE = os.path.dirname(os.path.abspath(__file__))


def write(name, parameters, compressed):
    """One struct a parameter: (values, rate, units, description)."""
    path = os.path.join(HERE, name)
    variables = {
        key: {"data": values, "Rate": float(rate), "Units": units, "Description": text, "Alpha": key}
        for key, (values, rate, units, text) in parameters.items()
    }
    savemat(path, variables, format="5", do_compression=compressed, oned_as="column")
    with open(path, "r+b") as f:  # SciPy writes the time of day into the header; the same bytes every time are better
        f.write(b"MATLAB 5.0 MAT-file, test data written with SciPy".ljust(116))


SECONDS = 500


def line(points, rate, digits):
    """Straight lines between (time, value) points."""
    t = np.arange(SECONDS * rate) / rate
    xs, ys = zip(*points)
    return np.round(np.interp(t, xs, ys), digits)


def held(changes, rate, kind=np.uint8):
    """The value of the last (time, value) change."""
    t = np.arange(SECONDS * rate) / rate
    xs, ys = zip(*changes)
    return np.array(ys, kind)[np.searchsorted(xs, t, side="right") - 1]


def circuit():
    lift_off, touchdown = 80, 415
    height = [(0, 0), (lift_off, 0), (180, 3600), (240, 3600), (340, 1200), (410, 30), (touchdown, 0), (500, 0)]
    p = {}
    p["ALT"] = (line([(t, h + 340) for t, h in height], 4, 0).astype(np.int16), 4, "FEET", "PRESSURE ALTITUDE")
    p["RALT"] = (np.minimum(line([(t, h - 2) for t, h in height], 8, 0), 2500).astype(np.int16), 8, "FEET", "RADIO ALTITUDE")
    speed = [(0, 8), (50, 8), (80, 132), (144, 190), (240, 190), (360, 128), (415, 122), (440, 25), (450, 9), (500, 9)]
    p["CAS"] = (line(speed, 4, 2).astype(np.float32), 4, "KNOTS", "COMPUTED AIRSPEED")
    flap = [(0, 10), (112, 10), (118, 0), (264, 0), (270, 10), (340, 10), (350, 30), (460, 30), (472, 0)]
    # Counts of a transducer: 2438 at flap up, 3660 at the landing flap of 33 deg.
    counts = [(t, 2438 + (3660 - 2438) * a / 33) for t, a in flap]
    p["FLAP"] = (line(counts, 1, 0).astype(np.int16), 1, "COUNTS", "T.E. FLAP POSITION")
    lever = [(0, 4), (48, 4), (52, 42), (176, 42), (181, 25), (238, 25), (242, 14), (406, 14), (411, 2), (500, 2)]
    speed_n1 = [(0, 24), (49, 24), (56, 91), (177, 91), (185, 64), (239, 64), (247, 47), (407, 47), (415, 25), (500, 24)]
    for i in range(1, 5):
        p[f"PLA_{i}"] = (line([(t, a + 0.2 * i) for t, a in lever], 4, 1), 4, "DEG", f"POWER LEVER ANGLE {i}")
        p[f"N1_{i}"] = (line([(t + 0.3 * i, n) for t, n in speed_n1], 4, 1), 4, "%RPM", f"FAN SPEED {i}")
    # Circuits, not things: 0 is down and locked, 1 is airborne.
    p["LGDN"] = (held([(0, 0), (86, 1), (306, 0)], 1), 1, "", "GEARS L&R DOWN LOCKED")
    p["LGUP"] = (held([(0, 1), (95, 0), (296, 1)], 1), 1, "", "GEARS L&R UP LOCKED")
    p["MSQT_1"] = (held([(0, 0), (lift_off, 1), (touchdown, 0)], 2), 2, "", "SQUAT SWITCH MAIN GEAR 1")
    p["MSQT_2"] = (held([(0, 0), (lift_off + 0.5, 1), (touchdown + 0.25, 0)], 2), 2, "", "SQUAT SWITCH MAIN GEAR 2")
    p["NSQT"] = (held([(0, 0), (76, 1), (420, 0)], 4), 4, "", "SQUAT SWITCH NOSE GEAR")
    p["WOW"] = (held([(0, 0), (lift_off, 1), (touchdown, 0)], 1), 1, "", "WEIGHT ON WHEELS")
    for key, rate, text in (("GPWS", 1, "GROUND PROXIMITY WARNING"), ("MW", 1, "MASTER WARNING"), ("TOCW", 2, "TAKEOFF CONF WARNING")):
        p[key] = (held([(0, 0)], rate), rate, "", text)
    p["ABRK"] = (line([(0, 0), (416, 0), (418, 48), (440, 48), (443, 0), (500, 0)], 1, 1), 1, "DEG", "AIRBRAKE POSITION")
    p["HYDG"] = (held([(0, 0)], 1), 1, "", "LOW HYDRAULIC PRESSURE GREEN")
    p["HYDY"] = (held([(0, 0)], 1), 1, "", "LOW HYDRAULIC PRESSURE YELLOW")
    phases = [(0, 2), (55, 3), (84, 4), (180, 5), (264, 6), (touchdown, 7), (438, 2)]
    p["PH"] = (held(phases, 1), 1, "", "FLIGHT PHASE")
    # Whole seconds, twice each; the file begins at 10:57:30.2 UTC.
    clock = np.floor(10 * 3600 + 57 * 60 + 30.2 + np.arange(SECONDS * 2) / 2)
    p["GMT_HOUR"] = ((clock // 3600).astype(np.uint8), 2, "HOUR", "UTC HOUR")
    p["GMT_MINUTE"] = ((clock // 60 % 60).astype(np.uint8), 2, "MINUTE", "UTC MINUTE")
    p["GMT_SEC"] = ((clock % 60).astype(np.uint8), 2, "SEC", "UTC SECOND")
    p["LATP"] = (line([(0, 39.75), (80, 39.752), (180, 39.83), (300, 39.79), (350, 39.70), (415, 39.749), (500, 39.751)], 1, 4), 1, "DEG", "LATITUDE POSITION")
    p["LONP"] = (line([(0, -31.2), (160, -31.2), (190, -31.26), (320, -31.26), (355, -31.2), (500, -31.2)], 1, 4), 1, "DEG", "LONGITUDE POSITION")
    assert len(p) == 30
    write("circuit.mat", p, compressed=True)


def classes():
    p = {}
    for kind in (np.int8, np.uint8, np.int16, np.uint16, np.int32, np.uint32, np.int64, np.uint64):
        limits = np.iinfo(kind)
        p[np.dtype(kind).name.upper()] = (np.array([[limits.min], [1], [limits.max]], kind), 1, "", "")
    p["SINGLE"] = (np.array([[-1.5, 0.1, 3.25]], np.float32), 2, "", "a row")
    p["DOUBLE"] = (np.array([[-1.5], [0.1], [np.nan]]), 0.25, "°", "a column")
    p["DATE_YEAR"] = (np.full(70, 2031, np.int16), 1, "", "")
    p["DATE_MONTH"] = (np.full(70, 12, np.int8), 1, "", "")
    p["DATE_DAY"] = (np.array([30] * 5 + [31] * 65, np.int8), 1, "", "")
    clock = 86400 - 5 + np.arange(70)
    p["GMT_HOUR"] = (np.uint8(clock // 3600 % 24), 1, "", "")
    p["GMT_MINUTE"] = (np.uint8(clock // 60 % 60), 1, "", "")
    p["GMT_SEC"] = (np.uint8(clock % 60), 1, "", "")
    write("classes.mat", p, compressed=False)


def element(kind, data):
    if 0 < len(data) <= 4:
        return struct.pack(">HH", len(data), kind) + data.ljust(4, b"\0")
    return struct.pack(">II", kind, len(data)) + data.ljust(-(-len(data) // 8) * 8, b"\0")


def array(name, cls, dims, body):
    return element(14, element(6, struct.pack(">II", cls, 0)) + element(5, struct.pack(f">{len(dims)}i", *dims)) + element(1, name) + body)


def parameter(name, stored, data, count, rate, units):
    """A struct whose data is of class double, stored as another type."""
    fields = [(b"data", array(b"", 6, (count, 1), element(stored, data))),
              (b"Rate", array(b"", 6, (1, 1), element(2, bytes([rate])))),
              (b"Units", array(b"", 4, (1, len(units)), element(4, units.encode("utf-16-be"))))]
    names = b"".join(f.ljust(32, b"\0") for f, _ in fields)
    return array(name, 2, (1, 1), element(5, struct.pack(">i", 32)) + element(1, names) + b"".join(body for _, body in fields))


def big_endian():
    plain = parameter(b"ALT", 3, struct.pack(">3h", -2, 340, 12000), 3, 4, "FEET")
    packed = parameter(b"CAS", 2, bytes([0, 140, 255, 7, 8]), 5, 2, "KNOTS")
    packed = zlib.compress(packed, 9)
    small = parameter(b"WOW", 1, bytes([0, 1]), 2, 1, "-")
    header = b"MATLAB 5.0 MAT-file, test data".ljust(116) + bytes(8) + struct.pack(">HH", 0x0100, 0x4D49)
    path = os.path.join(HERE, "big-endian.mat")
    with open(path, "wb") as f:
        f.write(header + plain + struct.pack(">II", 15, len(packed)) + packed + small)
    read = loadmat(path)
    assert read["ALT"]["data"][0, 0].T.tolist() == [[-2, 340, 12000]] and read["ALT"]["Units"][0, 0][0] == "FEET"
    assert read["CAS"]["data"][0, 0].T.tolist() == [[0, 140, 255, 7, 8]] and read["CAS"]["Rate"][0, 0] == 2
    assert read["WOW"]["data"][0, 0].T.tolist() == [[0, 1]]


def samples_are_read():
    """What our writer writes, SciPy reads."""
    for name in ("sample-1.mat", "sample-2.mat"):
        read = loadmat(os.path.join(HERE, name))
        flap, ralt = read["FLAP"][0, 0], read["RALT"][0, 0]
        assert flap["data"][0, 0] == 2438 and flap["Rate"] == 1 and flap["Units"][0] == "COUNTS"
        assert ralt["Rate"] == 8 and abs(len(ralt["data"]) - 8 * len(flap["data"])) < 8


circuit()
classes()
big_endian()
samples_are_read()
