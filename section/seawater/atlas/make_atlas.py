#!/usr/bin/env python3
"""Make anomaly.z, the Absolute Salinity Anomaly Ratio atlas that section/seawater embeds.

    /usr/bin/python3 make_atlas.py          writes anomaly.z beside this file (about one second)
    /usr/bin/python3 make_atlas.py --check  compares it with a new sampling, exit code 1 when they differ

The values are published data: McDougall, Jackett, Millero, Pawlowicz and Barker 2012, Ocean Sci. 8, 1123. They are
sampled through one public function of Debian's python3-gsw (a test dependency, see NOTICE).

The function interpolates in cells of 4 by 4 degrees. A corner of a cell that holds no value is filled with the mean of
the corners that do, cell by cell; so a point just inside a corner shows either the node's own value (every wet cell
around the node then shows the same number) or a fill (the cells disagree). Below the deepest level that a cell
supports its values stop changing with pressure.

File, one zlib stream:
  45 x 91 x 45 int32, little endian, byte planes apart: ratio in units of 1e-10 as the difference from the level above,
      longitude slowest, level fastest; where nothing is stored the difference is 0
  the same number of bits, most significant first: 1 where a value is stored
  90 x 44 int8: index of the deepest level used in the cell, -1 for a cell without water
"""
import pathlib
import sys
import zlib

import numpy as np

LEVELS = np.array([
    0, 10, 20, 30, 40, 50, 76, 101, 126, 151, 176, 202, 252, 303, 353, 404, 505, 606, 707, 808, 909, 1010, 1111, 1213, 1314,
    1416, 1517, 1771, 2025, 2279, 2534, 2789, 3045, 3300, 3556, 3812, 4069, 4325, 4583, 4840, 5098, 5355, 5614, 5872, 6131,
], float)
LON = 4.0 * np.arange(91)        # the columns 0 E and 360 E differ at about 100 nodes, so both are kept
LAT = 4.0 * np.arange(45) - 86
UNIT = 1e-10
INSIDE = 1e-10                   # degrees from the corner
SAME = 1e-12                     # two samples of one node


def sample(ratio):
    """Corner samples [corner, cell lon, cell lat, level]; corner order SW, SE, NE, NW."""
    west, south = np.meshgrid(LON[:-1], LAT[:-1], indexing="ij")
    west, south = west[..., None], south[..., None]
    shape = (90, 44, len(LEVELS))
    corners = []
    for east_side, north_side in ((0, 0), (1, 0), (1, 1), (0, 1)):
        lon = west + (4 - INSIDE if east_side else INSIDE)
        lat = south + (4 - INSIDE if north_side else INSIDE)
        corners.append(ratio(np.broadcast_to(LEVELS, shape), np.broadcast_to(lon, shape), np.broadcast_to(lat, shape)))
    return np.stack(corners)


def deepest_levels(corners):
    """The last level at which any corner of a cell still changes; -1 where all is zero (land)."""
    changes = (np.abs(np.diff(corners, axis=-1)) > 1e-13).any(axis=0)
    last = np.zeros(changes.shape[:2], int)
    for k in range(changes.shape[2]):
        last[changes[:, :, k]] = k + 1
    last[~(corners != 0).any(axis=(0, 3))] = -1
    return last


def stored_values(corners, last):
    """Node values, NaN where the atlas stores none."""
    lowest = np.full((91, 45, 45), np.inf)
    highest = np.full((91, 45, 45), -np.inf)
    first = np.full((91, 45, 45), np.nan)
    level = np.arange(45)
    for corner, (di, dj) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
        seen = np.where(level <= last[..., None], corners[corner], np.nan)
        block = (slice(di, di + 90), slice(dj, dj + 44))
        lowest[block] = np.fmin(lowest[block], seen)
        highest[block] = np.fmax(highest[block], seen)
        first[block] = np.where(np.isnan(first[block]), seen, first[block])
    value = np.where(highest - lowest < SAME, first, np.nan)
    # A zero beside the line along Central America is the fill of a cell whose wet corners all lie on its other side.
    beside = ((LON >= 260) & (LON <= 291.999))[:, None] & ((LAT >= 3.4) & (LAT <= 19.55))[None, :]
    value[beside[..., None] & (np.abs(value) < 1e-14)] = np.nan
    # Cell 260-264 E, 18-22 N has one wet Pacific corner, south-west; its three others show only copies of that one.
    for i, j in ((65, 27), (66, 27), (66, 26)):
        value[i, j, np.abs(value[i, j] - value[65, 26]) < 1e-15] = np.nan
    return value


def exact_nodes(ratio, value):
    """A sample beside a node is off by 1e-10 degree of slope: take the function's value on the node where it confirms it."""
    on = ratio(np.broadcast_to(LEVELS, value.shape), np.broadcast_to(LON[:, None, None], value.shape), np.broadcast_to(LAT[None, :, None], value.shape))
    return np.where(np.abs(on - value) < SAME, on, value)


def encode(value, last):
    stored = ~np.isnan(value)
    whole = np.zeros(value.shape, np.int64)
    above = np.zeros(value.shape[:2], np.int64)
    for k in range(value.shape[2]):
        here = stored[:, :, k]
        above = np.where(here, np.rint(np.where(here, value[:, :, k], 0) / UNIT).astype(np.int64), above)
        whole[:, :, k] = above
    steps = np.diff(whole, axis=2, prepend=0).astype("<i4")
    planes = steps.reshape(-1, 1).view(np.uint8).T
    return zlib.compress(planes.tobytes() + np.packbits(stored.ravel()).tobytes() + last.astype(np.int8).tobytes(), 9)


def main():
    import gsw
    corners = sample(gsw.SAAR)
    last = deepest_levels(corners)
    value = exact_nodes(gsw.SAAR, stored_values(corners, last))
    packed = encode(value, last)
    target = pathlib.Path(__file__).with_name("anomaly.z")
    print("%d of %d nodes hold a value, %d of %d cells are wet, %d bytes" % (
        np.count_nonzero(~np.isnan(value)), value.size, np.count_nonzero(last >= 0), last.size, len(packed)))
    if sys.argv[1:] == ["--check"]:
        same = zlib.decompress(target.read_bytes()) == zlib.decompress(packed)
        print("anomaly.z holds the same values" if same else "anomaly.z differs")
        return 0 if same else 1
    target.write_bytes(packed)
    return 0


if __name__ == "__main__":
    sys.exit(main())
