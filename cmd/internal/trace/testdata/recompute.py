"""Recomputes traced values from the inputs that the traces name.

Usage: recompute.py FOLDER-OF-INPUTS < traces.json

Reads exchange CTD files with the standard library, computes with the TEOS-10 toolbox, scipy and numpy, and prints a line
for each value that does not come out. The last line counts the values of each kind that were compared.
"""
import collections
import json
import re
import sys

import gsw
import numpy as np
from geographiclib.geodesic import Geodesic
from scipy.interpolate import PchipInterpolator

from flows import ERROR_TOLERANCE, REFERENCE, Budget, Pair, cast, load, transport_error

traces = json.load(sys.stdin)
counts = collections.Counter()
NAMES = {"pres": "CTDPRS", "temp": "CTDTMP", "psal": "CTDSAL", "oxy": "CTDOXY", "temp2": "CTDTMP2", "psal2": "CTDSAL2",
         "xmiss": "CTDXMISS", "chl": "CTDFLUOR"}


def rounded(trace, want, tol):
    """Compares a derived value, which the file has with 23 bits of the mantissa, an error with 15."""
    bits = 15 if "err" in trace["variable"] else 23
    return compare(trace, want, tol + abs(want) * 2.0 ** -(bits + 1))


def compare(trace, want, tol):
    counts[trace["item"].split(":")[0] + ":" + trace["variable"]] += 1
    if not abs(trace["value"] - want) <= tol:
        print(trace["item"], trace["value"], "recomputed", want)


def derived(trace):
    """A value of a cast, from the very lines of the parts."""
    part = {}
    k = cast(trace["made_of"][0]["input"])
    v = trace["variable"]
    if v in ("lat", "lon", "bottom_depth"):
        return compare(trace, {"lat": k.lat, "lon": k.lon, "bottom_depth": k.depth}[v], 1e-9)
    at = float(trace["item"].split(":")[-1])
    if v == "n2":
        near = abs(k.p - at) <= 20
        x = k.p[near]
        s, t = np.polyfit(x - x.mean(), k.sa[near], 1), np.polyfit(x - x.mean(), k.ct[near], 1)
        want = gsw.Nsquared(s[1] + s[0] * np.array([-0.5, 0.5]), t[1] + t[0] * np.array([-0.5, 0.5]),
                            x.mean() + np.array([-0.5, 0.5]), k.lat)[0][0]
        return compare(trace, want, 1e-6 * abs(want))
    for m in trace["made_of"]:
        if load(m["input"])[m["line"] - 1] != m["text"]:
            print(trace["item"], "line", m["line"], "of", m["input"], "is not", m["text"])
        names = [w.strip() for w in next(x for x in load(m["input"]) if x.startswith("CTDPRS")).split(",")]
        cells = m["text"].split(",")
        part[m["variable"]] = float(cells[names.index(NAMES[m["variable"]])])
        if float(cells[0]) != m["first_dbar"]:
            print(trace["item"], "line", m["line"], "has another pressure")
    if v in part:
        return compare(trace, part[v], 0)
    p, t, s = part["pres"], part["temp"], part["psal"]
    sa = gsw.SA_from_SP(s, p, k.lon, k.lat)
    ct = gsw.CT_from_t(sa, t, p)
    saturated = gsw.O2sol(sa, ct, p, k.lon, k.lat)
    oxy = part.get("oxy", np.nan)
    want, tol = {"asal": (sa, 1e-8), "ctemp": (ct, 1e-8), "ptemp": (gsw.pt0_from_t(sa, t, p), 1e-8),
                 "sigma0": (gsw.sigma0(sa, ct), 1e-8), "spice0": (gsw.spiciness0(sa, ct), 1e-8),
                 "sound_speed": (gsw.sound_speed_t_exact(sa, t, p), 1e-7), "depth": (-gsw.z_from_p(p, k.lat), 1e-7),
                 "oxysat": (100 * oxy / saturated, 1e-6), "aou": (saturated - oxy, 1e-6)}[v]
    return rounded(trace, want, tol)


def pair(trace):
    names = list(dict.fromkeys(m["input"] for m in trace["made_of"]))
    words = trace["item"].split(":")
    k = Pair(names, REFERENCE[words[1]])
    v = trace["variable"]
    if v.startswith("dynamic_height"):
        c = k.a if v.endswith("a") else k.b
        return rounded(trace, k.every_height(c)[np.searchsorted(c.p, float(words[4]))], 1e-8)
    if v.startswith("velocity_err"):
        want = k.velocity_errors()[v == "velocity_err"][np.searchsorted(k.p, float(words[4]))]
        return compare(trace, want, ERROR_TOLERANCE * want + 1e-5)
    if v == "transport_err":
        want = transport_error([k])
        return compare(trace, want, ERROR_TOLERANCE * want)
    if v.startswith("velocity"):
        i = np.searchsorted(k.p, float(words[4]))
        lo, hi, z = max(i - 1, 0), min(i + 1, len(k.p) - 1), gsw.z_from_p(k.p, k.lat)
        return rounded(trace, k.v[i] if v == "velocity" else (k.v[lo] - k.v[hi]) / (z[lo] - z[hi]), 1e-9)
    want = {"transport": k.transport, "transport_mass": lambda: k.transport(mass=True),
            "transport_above_triangle": lambda: k.transport(triangle=False),
            "transport_triangle": lambda: k.triangle(k.v), "pair_length": lambda: k.length / 1000,
            "coriolis": lambda: k.f, "deepest_common_level": lambda: k.deepest}[v]()
    return compare(trace, want, 1e-7 * abs(want))


def total(trace):
    names = list(dict.fromkeys(m["input"] for m in trace["made_of"]))
    if "closed line" in " ".join(trace["notes"]):
        kind = trace["variable"].removeprefix("transport").strip("_") or "volume"
        want = Budget(names).column("net", kind)
        return compare(trace, want, 1e-6 * abs(want))
    want = sum(Pair(ab, REFERENCE[trace["item"].split(":")[1]]).transport() for ab in zip(names, names[1:]))
    compare(trace, want, 1e-7 * abs(want))


def budget(trace, row, names):
    unit = re.search(r"(1e\d+)", row["unit"])
    column, kind = trace["variable"], row["kind"]
    want = Budget(names).column(column, kind)
    if column in ("net", "net_at_one_coriolis_parameter", "beta_term", "sum_of_absolute_transports", "stated_error",
                  "change_per_unit"):
        want /= float(unit[1])
    compare(trace, want, BUDGET_TOLERANCE[column] * abs(want) + half_digit(trace["value"]))


BUDGET_TOLERANCE = collections.defaultdict(lambda: 1e-5, stated_error=ERROR_TOLERANCE)


def half_digit(value):
    """Half of the last decimal that a number has."""
    return 0.51 * 10.0 ** -len(repr(value).partition(".")[2]) if "e" not in repr(value) else 0.51e-6


def data_of(trace, mapping):
    """The data of a mapped value, each held against its bins."""
    variable = mapping["variable"]
    parts = [m for m in trace["made_of"] if m["variable"] == variable and m.get("node_dbar") == mapping.get("at_dbar")]
    for x in parts:
        p, y = cast(x["input"]).values(variable)
        bins = np.isin(p, x["bins_dbar"])
        if bins.sum() != len(x["bins_dbar"]):
            print(trace["item"], "bins", x)
        lines = [load(x["input"])[n - 1].split(",")[0] for n in x["bin_lines"]]
        if [float(n) for n in lines] != x["bins_dbar"]:
            print(trace["item"], "lines of the bins", x)
        if mapping["method"] == "linear":
            want = y[bins].mean()  # of the bins of the cell
        else:
            want = PchipInterpolator(p, y)(max(x["first_dbar"], p[0]))  # carried above the first bin
        if not abs(want - x["value"]) < 1e-7 + abs(y[bins]).sum() * HALF_STEP:
            print(trace["item"], "datum", x, "is", want)
    return parts


def compare_weights(trace, method, parts, want):
    worst = np.abs(np.array(want) - [d["weight"] for d in parts]).max()
    counts["weights:" + method] += 1
    if not worst < 1e-7:
        print(trace["item"], "weights differ by", worst)


def optimal(trace, parts, m, place):
    length = m["length_km"]
    x = np.array([[d["distance_km"] / length, d["first_dbar"] / LENGTH_DBAR] for d in parts])
    target = np.array([place[0] / length, place[1] / LENGTH_DBAR])
    cov = np.exp(-((x[:, None, :] - x[None, :, :]) ** 2).sum(-1)) + m["noise"] * np.eye(len(parts))
    c = np.exp(-((x - target) ** 2).sum(-1))
    alpha, nu = np.linalg.solve(cov, c), np.linalg.solve(cov, np.ones(len(parts)))
    compare_weights(trace, "optimal", parts, alpha + nu * (1 - alpha.sum()) / nu.sum())
    rel = 1 - c @ alpha + (1 - c @ nu) ** 2 / nu.sum()
    if abs(rel - m["error_variance_over_signal_variance"]) > 1e-8:
        print(trace["item"], "error variance", rel)
    return rel


def successive(trace, x, place):
    """The weights of the three passes: each maps what the passes before it leave at the data."""
    casts = sorted((cast(i["file"]) for i in trace["inputs"]), key=lambda c: int(c.head["STNNBR"]))
    apart = [Geodesic.WGS84.Inverse(a.lat, a.lon, b.lat, b.lon)["s12"] / 1000 for a, b in zip(casts, casts[1:])]
    spacing = np.median([apart[0]] + [(a + b) / 2 for a, b in zip(apart, apart[1:])] + [apart[-1]])
    kx = 5.052 * (2 * spacing / np.pi) ** 2
    # vertical lengths: 60 dbar down to 200 dbar, below it a sixth of the deepest bin of the section, at most 200 dbar
    low = min(200, max(c.p[-1] for c in casts) / 6)

    def scaled(p):
        return np.where(p <= 200, p / 60, 200 / 60 + (p - 200) / low)

    def smooth(at, shrink):
        w = np.exp(-((at[:, None, 0] - x[None, :, 0]) ** 2 / kx
                     + (scaled(at[:, None, 1]) - scaled(x[None, :, 1])) ** 2) / shrink)
        return w / w.sum(axis=1, keepdims=True)

    node, left = np.array([place], dtype=float), np.eye(len(x))
    total = np.zeros((1, len(x)))
    for n in range(3):
        total += smooth(node, 0.3 ** n) @ left
        left = left - smooth(x, 0.3 ** n) @ left
    return total[0]


def weights(trace, parts, m, place):
    """The weights of the other methods, from where the data lie."""
    method = m["method"]
    x = np.array([[d.get("distance_km", 0), d["first_dbar"]] for d in parts])
    w = np.array([d["weight"] for d in parts])
    if method == "linear":
        t = 0 if len(parts) == 1 else (place[0] - x[0, 0]) / (x[1, 0] - x[0, 0])
        return compare_weights(trace, method, parts, [1] if len(parts) == 1 else [1 - t, t])
    if method == "successive":
        return compare_weights(trace, method, parts, successive(trace, x, place))
    counts["weights:" + method] += 1
    if abs(w.sum() - 1) > 1e-9:
        print(trace["item"], "weights sum to", w.sum())
    if method in ("triangles", "natural") and "distance_km" in parts[0]:
        # both give a plane back (barycentric coordinates; Sibson 1981)
        if np.abs(w @ x - place).max() > 1e-5:
            print(trace["item"], "weighted place", w @ x)
        if method == "triangles" and len(parts) > 3:
            print(trace["item"], "has", len(parts), "corners")
    if method == "density":
        stations = len(set(d["input"] for d in parts))
        if stations > 2 or (w < -1e-12).any():
            print(trace["item"], "weights", w)
    return None


LENGTH_DBAR = 100.0
HALF_STEP = 2.0 ** -24  # of a value of the file of casts, over the value
DENSITY_STEP = 2.5e-6  # the change of density, kg m-3, with those of salinity (2e-6 g/kg) and temperature


def mapped(trace, place):
    """A node: the data from the bins, the weights from their places, the value from both."""
    values, margin = {}, 1e-8
    for m in trace["mapping"]:
        v = m["variable"]
        parts = data_of(trace, m)
        node = (v, m["at_dbar"]) if "at_dbar" in m else v
        values[node] = m["background"] + sum(x["weight"] * (x["value"] - x.get("background", 0)) for x in parts)
        margin += HALF_STEP * (abs(m["background"]) + sum(abs(x["weight"]) * (abs(x["value"]) + abs(x.get("background", 0)))
                                                          for x in parts))
        if m["method"] == "density":  # its weights follow the densities of the data, which are changed too
            margin += DENSITY_STEP * 2  # where a value changes by 2 units with 1 kg m-3
        at = np.array([m["from_km"], place[1]]) if "from_km" in m else place  # another column's
        if "held_to" in m:  # the end of the range of the data nearby
            values[node] = m["held_to"]
        if m["method"] == "optimal":
            rel = optimal(trace, parts, m, at)
        else:
            weights(trace, parts, m, at)
    v = trace["variable"]
    if v.endswith("_relerr"):
        return rounded(trace, rel, 1e-8)
    if v.endswith("_err"):
        return rounded(trace, np.sqrt(rel * trace["mapping"][0]["signal_variance"]), 1e-8)
    if "at_dbar" in trace["mapping"][0]:
        return surface(trace, values)
    want = values[v] if v in values else gsw.sigma0(values["asal"], values["ctemp"])
    return rounded(trace, want, margin)


def surface(trace, values):
    """A value on a surface of sigma0: straight in pressure between two nodes, where their densities reach its value."""
    levels = sorted(set(p for _, p in values))
    sigma = [gsw.sigma0(values["asal", p], values["ctemp", p]) for p in levels]
    share = (float(trace["item"].split(":")[-1]) - sigma[0]) / (sigma[1] - sigma[0])
    v = trace["variable"]
    ends = levels if v == "pres" else [values[v, p] for p in levels]
    slope = (ends[1] - ends[0]) / (sigma[1] - sigma[0])
    compare(trace, ends[0] + share * (ends[1] - ends[0]), 1e-6 + DENSITY_STEP * abs(slope))


def node(trace):
    mapped(trace, [float(w) for w in trace["item"].split(":")[3:]])


def field(trace):
    mapped(trace, None)


def section(trace):
    """Dynamic height in a section file, relative to a pressure; the first bin is carried to the surface."""
    k = cast(trace["made_of"][0]["input"])
    sa, ct, p = (np.insert(x, 0, y) for x, y in ((k.sa, k.sa[0]), (k.ct, k.ct[0]), (k.p, 0)))
    d = gsw.geo_strf_dyn_height(sa, ct, p, p_ref=0, interp_method="pchip")
    at, ref = float(trace["item"].split(":")[-1]), float(re.search(r"relative to (\S+) dbar", trace["method"])[1])
    rounded(trace, d[np.searchsorted(p, at)] - d[np.searchsorted(p, ref)], 1e-8)


def table(trace):
    """A cell of a table, as exact as it is written."""
    row = dict(n[len("the row: "):].split(" ", 1) for n in trace["notes"] if n.startswith("the row: "))
    column = trace["variable"]
    _, name, _, _ = trace["item"].split(":")
    names = list(dict.fromkeys(m["input"] for m in trace["made_of"]))
    if name == "stations":
        k = cast(names[0])
        p = [b["CTDPRS"] for b in k.every]
        want = {"latitude_deg": k.lat, "longitude_deg": k.lon, "first_pressure_dbar": p[0], "last_pressure_dbar": p[-1],
                "levels": len(p)}[column]
        return compare(trace, want, 5e-5)
    if name == "sensor_pairs":
        k = cast(names[0])
        a, b = NAMES[row["variable"]], NAMES[row["variable"] + "2"]
        first, last = trace["made_of"][0]["first_dbar"], trace["made_of"][0]["last_dbar"]
        d = [x[b] - x[a] for x in k.every if first <= x["CTDPRS"] <= last]
        return compare(trace, len(d) if column == "deep_levels" else np.median(d), 5e-5)
    if name == "cast_numbers":
        k = cast(names[0])
        y, step = (gsw.sigma0(k.sa, k.ct), 0.03) if row["name"] == "mld_d" else (k.ct, 0.2)
        d = y - np.interp(10, k.p, y)
        if row["name"] == "mld_t":
            d = abs(d)
        i = next(i for i in range(len(k.p)) if k.p[i] > 10 and d[i] >= step)
        p = k.p[i - 1] + (step - d[i - 1]) / (d[i] - d[i - 1]) * (k.p[i] - k.p[i - 1])
        return compare(trace, -gsw.z_from_p(p, k.lat), 2e-3)
    if name == "budgets":
        return budget(trace, row, names)
    pairs = [Pair(ab, REFERENCE.get(row["section"], 1e9)) for ab in zip(names, names[1:])]
    mass = row["kind"] == "mass"
    want = sum(q.transport(mass=mass) for q in pairs) / (1e9 if mass else 1e6)
    return compare(trace, want, 5.1e-5)


for trace in traces:
    globals()[{"cast": "derived"}.get(trace["item"].split(":")[0], trace["item"].split(":")[0])](trace)
print("compared", sum(n for k, n in counts.items() if not k.startswith("weights")),
      " ".join(f"{k}={n}" for k, n in sorted(counts.items())))
