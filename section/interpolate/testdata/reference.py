"""Test reference: python3 reference.py IN OUT, little-endian float64. IN: profiles, each n, m, then x, y and y2 (n numbers
each) and m points. OUT: for each profile linear, pchip and akima of y, then the rotated pair (y as salinity, y2 as
temperature) from its definition with scipy's pchip. Run with Debian's /usr/bin/python3 and python3-scipy."""
import sys

import numpy as np
from scipy.interpolate import Akima1DInterpolator, PchipInterpolator

data = np.fromfile(sys.argv[1], "<f8")
out, at = [], 0
while at < len(data):
    n, m = int(data[at]), int(data[at + 1])
    x, y, y2, q = np.split(data[at + 2:at + 2 + 3 * n + m], [n, 2 * n, 3 * n])
    at += 2 + 3 * n + m
    number = np.arange(n)
    u = PchipInterpolator(x, number)(q)
    total = np.zeros((2, m))
    for angle in np.pi / 16 * np.arange(8):
        turn = np.array([[np.sin(angle), np.cos(angle)], [np.cos(angle), -np.sin(angle)]])
        total += turn.T @ PchipInterpolator(number, turn @ np.stack([9 * y, y2]), axis=1)(u)
    out += [np.interp(q, x, y), PchipInterpolator(x, y)(q), Akima1DInterpolator(x, y)(q), total[0] / 72, total[1] / 8]
np.concatenate(out).tofile(sys.argv[2])
