"""Casts of a folder of exchange CTD files, and what flows between two of them, for recompute.py."""
import collections
import functools
import sys

import gsw
import numpy as np
from geographiclib.geodesic import Geodesic

folder = sys.argv[1]


@functools.cache
def load(name):
    return open(f"{folder}/{name}", encoding="utf-8-sig").read().replace("\r\n", "\n").replace("\r", "\n").split("\n")


class Cast:
    """A cast: header, all bins, and those with usable pressure, temperature and salinity."""

    def __init__(self, name):
        lines = load(name)
        self.head, names = {}, None
        for i, line in enumerate(lines):
            if line.startswith("CTDPRS"):
                names = [w.strip() for w in line.split(",")]
                start = i + 2
                break
            if "=" in line:
                k, v = line.split("=", 1)
                self.head[k.strip()] = v.strip()
        at = {n: i for i, n in enumerate(names)}
        rows, every = [], []
        for line in lines[start:]:
            if line.startswith("END_DATA"):
                break
            cells = [c.strip() for c in line.split(",")]
            if line.startswith("#") or len(cells) < 3:
                continue
            every.append({n: float(cells[i]) for n, i in at.items() if cells[i]})
            if cells[at["CTDTMP_FLAG_W"]] in "26" and cells[at["CTDSAL_FLAG_W"]] in "26":
                rows.append([float(cells[at[n]]) for n in ("CTDPRS", "CTDTMP", "CTDSAL")])
        self.every = every
        self.p, self.t, self.s = np.array(rows).T
        self.lat, lon = float(self.head["LATITUDE"]), float(self.head["LONGITUDE"])
        self.lon = lon - 360 if lon > 180 else lon
        self.depth = float(self.head["DEPTH"])
        self.sa = gsw.SA_from_SP(self.s, self.p, self.lon, self.lat)
        self.ct = gsw.CT_from_t(self.sa, self.t, self.p)

    def values(self, variable):
        """Usable pressures and values of a mapped variable."""
        return self.p, {"asal": self.sa, "ctemp": self.ct}[variable]


cast = functools.cache(Cast)


class Pair:
    """Two casts: dynamic height by pchip, velocity to the left of the way from a to b, transports."""

    def __init__(self, names, reference):
        self.a, self.b = (cast(n) for n in names)
        a, b = self.a, self.b
        self.p = np.array(sorted(set(a.p) & set(b.p)))
        self.deepest = self.p[-1]
        self.ref = min(reference, self.deepest)
        self.length = Geodesic.WGS84.Inverse(a.lat, a.lon, b.lat, b.lon)["s12"]
        self.lat = (a.lat + b.lat) / 2
        self.f = 2 * 7.292115e-5 * np.sin(np.radians(self.lat))
        self.da, self.db = self.height(a), self.height(b)
        self.v = (self.db - self.da) / (self.f * self.length)

    def height(self, c):
        """At the common levels."""
        return self.every_height(c)[np.searchsorted(c.p, self.p)]

    def every_height(self, c):
        d = gsw.geo_strf_dyn_height(c.sa, c.ct, c.p, p_ref=c.p[0], interp_method="pchip")
        return d - d[np.searchsorted(c.p, self.ref)]

    def flow(self, v, factor=1, triangle=True):
        """What a velocity carries: its integral times a factor, the bottom triangle included."""
        y = v * factor * np.ones(len(self.p))
        return self.integral(y) + (self.triangle(y) if triangle else 0)

    def integral(self, y):
        """Of y over depth and length, the first value carried to the surface."""
        z = gsw.z_from_p(self.p, self.lat)
        return self.length * (np.trapz(y, -z) + y[0] * -z[0])

    def triangle(self, v):
        """Constant velocity below the deepest common level; no triangle where the casts did not reach."""
        z = gsw.z_from_p(self.deepest, self.lat)
        depth = [max(c.depth, -gsw.z_from_p(c.p[-1], c.lat)) for c in (self.a, self.b)]
        low, high = sorted(d + z for d in depth)
        if low > 50 and low > 0.03 * min(depth):
            return 0
        return self.length * v[-1] * (low + high) / 2

    def mean(self, values):
        """The mean of the two casts at the common levels."""
        return np.mean([values(c)[np.searchsorted(c.p, self.p)] for c in (self.a, self.b)], axis=0)

    def rho(self):
        return self.mean(lambda c: gsw.rho(c.sa, c.ct, c.p))

    def transport(self, mass=False, triangle=True):
        return self.flow(self.v, self.rho() if mass else 1, triangle)

    def height_errors(self, c):
        """Changes of a cast's dynamic height at the common levels with each of its stated errors, relative to the level of
        no motion."""
        out = []
        for step in steps(c):
            whole = np.concatenate([[0], np.cumsum(step)]) * 1e4
            out.append((np.interp(self.ref, c.p, whole) - whole)[np.searchsorted(c.p, self.p)])
        return out

    def moved(self, which, north, east):
        """The velocity with one of the casts that much elsewhere, in km."""
        ends = [[c.lat, c.lon] for c in (self.a, self.b)]
        g = Geodesic.WGS84.Direct(*ends[which], np.degrees(np.arctan2(east, north)), 1e3 * np.hypot(north, east))
        ends[which] = [g["lat2"], g["lon2"]]
        length = Geodesic.WGS84.Inverse(*ends[0], *ends[1])["s12"]
        f = 2 * 7.292115e-5 * np.sin(np.radians((ends[0][0] + ends[1][0]) / 2))
        return (self.db - self.da) / (f * length), length

    def velocity_errors(self):
        """The standard error of the velocity: of each cast and kind, and of positions, added as squares."""
        water = sum((e / (self.f * self.length)) ** 2 for c in (self.a, self.b) for e in self.height_errors(c))
        place = sum((self.moved(i, *way)[0] - self.v) ** 2 for i in (0, 1) for way in ((KM, 0), (0, KM)))
        return np.sqrt(water), np.sqrt(water + place)


CP0 = 3991.86795711963  # J/(kg K), TEOS-10 manual
SALINITY, TEMPERATURE, PRESSURE, KM = 0.002, 0.001, 3, 0.1  # g/kg, K, dbar, km: stated where the cruise file says nothing


@functools.cache
def by_conductivity(c):
    """Changes of salinity with the errors of temperature and pressure, when it is computed from conductivity with them."""
    k = gsw.C_from_SP(c.s, c.t, c.p)
    return [gsw.SA_from_SP(gsw.SP_from_C(k, c.t + t, c.p + p), c.p, c.lon, c.lat) - c.sa
            for t, p in ((TEMPERATURE, 0), (0, PRESSURE))]


@functools.cache
def steps(c):
    """Changes of the integral of specific volume over each step of a cast, dbar m3/kg, with the errors of salinity,
    temperature and pressure."""
    by_salt, by_heat, _ = gsw.specvol_first_derivatives(c.sa, c.ct, c.p)
    warmer, deeper = by_conductivity(c)

    def middle(x):
        return (x[1:] + x[:-1]) / 2

    dp = np.diff(c.p)
    shift = -PRESSURE * (middle(by_salt) * np.diff(c.sa) + middle(by_heat) * np.diff(c.ct))
    return [SALINITY * middle(by_salt) * dp, middle(TEMPERATURE * by_heat + warmer * by_salt) * dp,
            shift + middle(deeper * by_salt) * dp]


@functools.cache
def carried(c):
    """Changes of salinity and temperature of a cast with the same errors."""
    warmer, deeper = by_conductivity(c)
    return [(SALINITY, 0), (warmer, TEMPERATURE),
            (deeper - PRESSURE * np.gradient(c.sa, c.p), -PRESSURE * np.gradient(c.ct, c.p))]


def transport_error(pairs, factor=lambda k: 1, change=lambda k, salt, heat: 0):
    """Of the sum of the transports of pairs: each cast and kind is one error, and so is the place of each cast. An error
    changes the velocity and what it carries."""
    parts = collections.defaultdict(float)
    for k in pairs:
        for side, c, sign in ((0, k.a, -1), (1, k.b, 1)):
            at = np.searchsorted(c.p, k.p)
            for kind, e in enumerate(k.height_errors(c)):
                half = [(np.zeros(len(c.p)) + x)[at] / 2 for x in carried(c)[kind]]
                parts[c, kind] += k.flow(sign * e / (k.f * k.length), factor(k)) + k.flow(k.v, change(k, *half))
            for way in ((KM, 0), (0, KM)):
                v, length = k.moved(side, *way)
                parts[c, way] += k.flow(v, factor(k)) * length / k.length - k.flow(k.v, factor(k))
    return np.sqrt(sum(x * x for x in parts.values()))


REFERENCE = {"strait": 1e9, "slope": 400, "ring": 1e9}
# of stated errors: the program adds the changes of specific volume up over steps of 10 dbar, and is straight in between
ERROR_TOLERANCE = 5e-3


class Budget:
    """What the pairs of a closed line carry into the area that it encloses."""

    def __init__(self, names):
        self.pairs = [Pair(ab, 1e9) for ab in zip(names, names[1:] + names[:1])]
        around = Geodesic(6371e3, 0).Polygon()  # on the sphere
        for k in self.pairs:
            around.AddPoint(k.a.lat, k.a.lon)
        self.area = around.Compute(False, True)[2]
        self.sign = np.sign(self.area)  # of a line counterclockwise, left of the way is inside
        self.section = sum(k.flow(1) for k in self.pairs)
        # the means are of the water above the bottom triangles
        area = sum(k.flow(1, triangle=False) for k in self.pairs)
        self.salt, self.heat = (sum(k.flow(1, k.mean(x), triangle=False) for k in self.pairs) / area
                                for x in (lambda c: c.sa, lambda c: c.ct))

    def factor(self, kind, k):
        sa, ct = k.mean(lambda c: c.sa), k.mean(lambda c: c.ct)
        return {"volume": lambda: 1, "mass": k.rho, "salt": lambda: k.rho() * sa / 1000,
                "freshwater": lambda: -k.rho() * (sa - self.salt) / self.salt,
                "heat": lambda: k.rho() * CP0 * (ct - self.heat)}[kind]()

    def change(self, kind, k, salt, heat):
        """Of the factor with salinity and temperature."""
        return k.rho() * {"salt": salt / 1000, "freshwater": -salt / self.salt, "heat": CP0 * heat}.get(kind, 0)

    def column(self, column, kind):
        """A cell of the table of budgets, in SI units."""
        each = np.array([self.sign * k.flow(k.v, self.factor(kind, k)) for k in self.pairs])
        length, f = (np.array([getattr(k, n) for k in self.pairs]) for n in ("length", "f"))
        net, one = each.sum(), (each * f).sum() * (length / f).sum() / length.sum()
        if column == "change_per_unit":
            mass, salt = (self.column("net", n) for n in ("mass", "salt"))
            return -CP0 * mass if kind == "heat" else 1000 * salt / self.salt ** 2
        return {"net": net, "net_at_one_coriolis_parameter": one, "beta_term": net - one,
                "sum_of_absolute_transports": np.abs(each).sum(), "length_km": length.sum() / 1000,
                "enclosed_km2": abs(self.area) / 1e6, "pair_area_km2": self.section / 1e6,
                "closing_velocity_ms": -net / self.section,
                "stated_error": transport_error(self.pairs, functools.partial(self.factor, kind),
                                                functools.partial(self.change, kind))}[column]
