"""Recomputes traced values from the inputs that the traces name.

Usage: recompute.py FOLDER-OF-INPUTS < traces.json

Reads exchange CTD files with the standard library, computes with the TEOS-10 toolbox, scipy and numpy, and prints a line
for each value that does not come out. The last line counts the values of each kind that were compared.
"""
import collections
import json
import sys

import gsw
import numpy as np
from geographiclib.geodesic import Geodesic
from scipy.interpolate import PchipInterpolator

folder = sys.argv[1]
traces = json.load(sys.stdin)
counts = collections.Counter()


def load(name):
    lines = open(f"{folder}/{name}", encoding="utf-8-sig").read().replace("\r\n", "\n").split("\n")
    return lines


def column(name):
    """Usable pressure, temperature, salinity, latitude, longitude of a cast."""
    head, rows, names = {}, [], None
    lines = load(name)
    for i, line in enumerate(lines):
        if "=" in line and names is None:
            k, v = line.split("=", 1)
            head[k.strip()] = v.strip()
        if line.startswith("CTDPRS"):
            names = [w.strip() for w in line.split(",")]
            start = i + 2
            break
    at = {n: i for i, n in enumerate(names)}
    for line in lines[start:]:
        cells = [c.strip() for c in line.split(",")]
        if len(cells) < 3:
            break
        if cells[at["CTDTMP_FLAG_W"]] in "26" and cells[at["CTDSAL_FLAG_W"]] in "26":
            rows.append([float(cells[at[n]]) for n in ("CTDPRS", "CTDTMP", "CTDSAL")])
    p, t, s = np.array(rows).T
    lon = float(head["LONGITUDE"])
    return p, t, s, float(head["LATITUDE"]), lon - 360 if lon > 180 else lon


def compare(trace, want, tol):
    kind = trace["item"].split(":")[0] + ":" + trace["variable"]
    counts[kind] += 1
    if not abs(trace["value"] - want) <= tol:
        print(trace["item"], trace["value"], "recomputed", want)


def derived(trace):
    """A value of a cast, from the very lines of the parts."""
    part = {}
    for m in trace["made_of"]:
        if load(m["input"])[m["line"] - 1] != m["text"]:
            print(trace["item"], "line", m["line"], "of", m["input"], "is not", m["text"])
        names = [w.strip() for w in next(x for x in load(m["input"]) if x.startswith("CTDPRS")).split(",")]
        cells = m["text"].split(",")
        name = {"pres": "CTDPRS", "temp": "CTDTMP", "psal": "CTDSAL", "oxy": "CTDOXY", "temp2": "CTDTMP2",
                "psal2": "CTDSAL2", "xmiss": "CTDXMISS", "chl": "CTDFLUOR"}[m["variable"]]
        part[m["variable"]] = float(cells[names.index(name)])
        if float(cells[0]) != m["first_dbar"]:
            print(trace["item"], "line", m["line"], "has another pressure")
    v = trace["variable"]
    if v in part:
        return compare(trace, part[v], 0)
    _, _, _, lat, lon = column(trace["made_of"][0]["input"])
    p, t, s = part["pres"], part["temp"], part["psal"]
    sa = gsw.SA_from_SP(s, p, lon, lat)
    ct = gsw.CT_from_t(sa, t, p)
    want, tol = {"asal": (sa, 1e-8), "ctemp": (ct, 1e-8), "ptemp": (gsw.pt0_from_t(sa, t, p), 1e-8),
                 "sigma0": (gsw.sigma0(sa, ct), 1e-8), "spice0": (gsw.spiciness0(sa, ct), 1e-8),
                 "sound_speed": (gsw.sound_speed_t_exact(sa, t, p), 1e-7), "depth": (-gsw.z_from_p(p, lat), 1e-7)}[v]
    compare(trace, want, tol)


def pair(trace):
    """A velocity: both casts, dynamic height by pchip, relative to the deepest common level."""
    names = list(dict.fromkeys(m["input"] for m in trace["made_of"]))
    casts = []
    for n in names:
        p, t, s, lat, lon = column(n)
        sa = gsw.SA_from_SP(s, p, lon, lat)
        casts.append((p, sa, gsw.CT_from_t(sa, t, p), lat, lon))
    a, b = casts
    at = float(trace["item"].split(":")[4])
    deepest = max(set(a[0]) & set(b[0]))

    def height(c):
        d = gsw.geo_strf_dyn_height(c[1], c[2], c[0], p_ref=c[0][0], interp_method="pchip")
        i, j = np.flatnonzero(c[0] == at)[0], np.flatnonzero(c[0] == deepest)[0]
        return d[i] - d[j]
    length = Geodesic.WGS84.Inverse(a[3], a[4], b[3], b[4])["s12"]
    f = 2 * 7.292115e-5 * np.sin(np.radians((a[3] + b[3]) / 2))
    # f v = dD/dx, v to the left of the way from a to b
    compare(trace, (height(b) - height(a)) / (f * length), 1e-9)


def node(trace):
    """A node of the grid: the data by pchip from the casts, the weights by solving the equations."""
    m, parts = trace["mapping"], trace["made_of"]
    compare(trace, m["background"] + sum(x["weight"] * (x["value"] - x["background"]) for x in parts), 1e-9)
    _, _, variable, km, dbar = trace["item"].split(":")
    for name in dict.fromkeys(x["input"] for x in parts):
        p, t, s, lat, lon = column(name)
        sa = gsw.SA_from_SP(s, p, lon, lat)
        y = {"asal": sa, "ctemp": gsw.CT_from_t(sa, t, p)}[variable]
        f = PchipInterpolator(p, y)
        for x in parts:
            at = max(x["first_dbar"], p[0])  # a level above the first bin has the value of the first bin
            if x["input"] == name and not abs(f(at) - x["value"]) < 1e-7:
                print(trace["item"], "datum", x, "by pchip", f(at))
    x = np.array([[d["distance_km"] / m["length_km"], d["first_dbar"] / LENGTH_DBAR] for d in parts])
    target = np.array([float(km) / m["length_km"], float(dbar) / LENGTH_DBAR])
    cov = np.exp(-((x[:, None, :] - x[None, :, :]) ** 2).sum(-1)) + m["noise"] * np.eye(len(parts))
    c = np.exp(-((x - target) ** 2).sum(-1))
    alpha, nu = np.linalg.solve(cov, c), np.linalg.solve(cov, np.ones(len(parts)))
    weights = alpha + nu * (1 - alpha.sum()) / nu.sum()
    worst = np.abs(weights - [d["weight"] for d in parts]).max()
    counts["weights"] += 1
    if not worst < 1e-8:
        print(trace["item"], "weights differ by", worst)


LENGTH_DBAR = 100.0
for trace in traces:
    {"cast": derived, "pair": pair, "node": node}[trace["item"].split(":")[0]](trace)
print("compared", " ".join(f"{k}={n}" for k, n in sorted(counts.items())))
