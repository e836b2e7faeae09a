#!/usr/bin/env python3
"""Compares castwright with the peer pipeline and with the first edition of castwright, in turn, on the same invented cruises.

    bench.py CASTWRIGHT BENCH_FOLDER [--part PART ...] [--pairs 5] [--preset standard] [--accept]

BENCH_FOLDER holds make_cruise.py and peer_pipeline.py. The parts, all of them unless some are named:

    stages     each stage that both programs do, without mapping; sections are gridded linearly on the peer's grid
    direct     optimal interpolation at the peer's setting, against the peer that solves every system
    dedup      the same against the peer that solves each pattern of neighbours once
    edition    build and verify with all defaults against the first edition: processor time, peak memory, size
    figures    figures of the preset four-sections on one processor, those of the first edition and the newer ones
    memory     peak memory of 50 to 1000 casts of 5500 dbar with 2 dbar between bins

The peer runs in one process, with the allocator setting that its page asks for (without it a fresh page costs it dearly and the
comparison would flatter us); castwright runs with the same setting. A ratio is the other program over castwright: more than 1
means that castwright is faster or smaller. Ratios count, seconds depend on the machine. They are compared with bench.json: a row
that fell by more than a fifth is named, and the exit code is 1. --accept writes bench.json anew.
"""
import argparse
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

SETTING = ("glibc.malloc.hugetlb=1:glibc.malloc.trim_threshold=8589934592:"
           "glibc.malloc.mmap_threshold=4294967296:glibc.malloc.top_pad=67108864")
ENV = dict(os.environ, GLIBC_TUNABLES=SETTING)
FIRST = "7083724"  # the commit of the first edition
PARTS = ("stages", "direct", "dedup", "edition", "figures", "memory")
OLD_KINDS = "[section, velocity, temperature_salinity, map, profiles]"
NEW_KINDS = "[overview, error, skill]"

# stage, the peer's name for it, ours
STAGES = [
    ("start", ["0_imports"], ["start"]),
    ("parse", ["1_parse"], ["parse"]),
    ("TEOS-10", ["2_teos10"], ["TEOS-10"]),
    ("dynamic height", ["3_dynamic"], ["dynamic"]),
    ("linear grid", ["4a_linear"], ["grid"]),
    ("cast file", ["write_profiles"], ["write casts.nc"]),
    ("grid files", ["write_grids"], ["write grids"]),
    ("section files", ["write_sections"], ["write sections"]),
    ("exchange text", ["write_csv"], ["exchange text"]),
]
ONLY_OURS = ["transports and errors", "exchange zip", "inputs.zip", "tables", "bag", "commit"]


def run(cmd, env=ENV):
    """Returns the output of a command, wall seconds, peak memory in MiB and processor seconds."""
    began = time.perf_counter()
    r = subprocess.run(["/usr/bin/time", "-f", "%M %U %S", "-o", "/dev/stderr"] + cmd, env=env, capture_output=True, text=True)
    wall = time.perf_counter() - began
    if r.returncode:
        sys.exit("%s failed:\n%s" % (cmd, r.stderr))
    peak, user, system = re.findall(r"^(\d+) ([\d.]+) ([\d.]+)$", r.stderr, re.M)[-1]
    return r.stdout, wall, int(peak) / 1024, float(user) + float(system)


class Bench:
    def __init__(self, a, work):
        self.a, self.work = a, work
        self.rows = {}

    def row(self, name, other, ours, ratios, unit=""):
        ratio = statistics.median(ratios)
        self.rows[name] = round(ratio, 3)
        print("%-52s %10.3f %10.3f %8.2f  %s" % (name, statistics.median(other), statistics.median(ours), ratio, unit), flush=True)

    def head(self, title, other="peer"):
        print("\n%-52s %10s %10s %8s" % (title, other, "castwright", "ratio"))

    def casts(self, *options):
        """Returns a folder of casts made with these options, and the stations of each section."""
        out = os.path.join(self.work, "casts" + "_".join(options).replace("--", ""))
        if not os.path.isdir(out):
            subprocess.run(["/usr/bin/python3", os.path.join(self.a.bench, "make_cruise.py"), *options, "--out", out],
                           check=True, stdout=subprocess.DEVNULL)
        found = {}
        for name in sorted(os.listdir(out)):
            with open(os.path.join(out, name), encoding="utf-8") as f:
                head = f.read(2000)
            sect = re.search(r"SECT_ID = (\S+)", head).group(1)
            found.setdefault(sect, []).append(re.search(r"STNNBR = (\S+)", head).group(1))
        return out, found

    def cruise(self, casts, sections, figures="none", reference="deepest", grid=""):
        """Writes a cruise file for casts and returns its name."""
        name = os.path.join(self.work, "cruise.yaml")
        with open(name, "w") as f:
            f.write("cruise: {id: bench}\ncasts: {sources: [%s]}\nfigures: %s\n" % (os.path.relpath(casts, self.work), figures))
            if sections:
                f.write("sections:\n")
            for section, stations in sections.items():
                f.write("  - {name: %s, stations: %s-%s, reference: %s%s}\n" % (section, stations[0], stations[-1], reference, grid))
        return name

    def build(self, program, cruise, *options):
        out = os.path.join(self.work, "archives")
        shutil.rmtree(out, ignore_errors=True)
        os.mkdir(out)
        text, wall, peak, cpu = run([program, "build", "--json", "--timing", *options, "--out", out, cruise])
        return os.path.join(out, "bench"), json.loads(text)["seconds"], wall, peak, cpu

    def stages(self):
        casts, sections = self.casts("--preset", self.a.preset)
        cruise = self.cruise(casts, sections, reference="2000",
                             grid=", grid: {method: linear, step_km: 5, step_dbar: 10, variables: [temp, psal, oxy]}")
        theirs, own = [], []
        for i in range(self.a.pairs + 1):
            out = os.path.join(self.work, "peer")
            text, wall, peak, _ = run(["/usr/bin/python3", os.path.join(self.a.bench, "peer_pipeline.py"), "--in", casts, "--out", out,
                                       "--oi", "none"])
            d = json.loads(text)
            t = {k: v["wall"] for k, v in list(d["stages"].items()) + list(d["parts"].items())}
            shutil.rmtree(out)
            _, o, own_wall, own_peak, _ = self.build(self.a.castwright, cruise, "--workers", "2")
            o["start"] = run([self.a.castwright, "version"])[1]
            if i:  # the first pair warms the caches
                theirs.append((t, wall, peak))
                own.append((o, own_wall, own_peak))
        self.head("stages, %s, wall seconds, %d pairs" % (self.a.preset, self.a.pairs))
        sums = [[0.0] * self.a.pairs, [0.0] * self.a.pairs]
        for label, ts, os_ in STAGES:
            x = [sum(t[0][k] for k in ts) for t in theirs]
            y = [sum(o[0].get(k, 0.0) for k in os_) for o in own]
            sums = [[p + q for p, q in zip(s, z)] for s, z in zip(sums, (x, y))]
            self.row(label, x, y, [p / max(q, 1e-9) for p, q in zip(x, y)])
        self.row("sum without mapping", *sums, [p / q for p, q in zip(*sums)])
        peaks = [t[2] for t in theirs], [o[2] for o in own]
        self.row("peak memory without mapping", *peaks, [x / y for x, y in zip(*peaks)], "MiB")
        for k in ONLY_OURS + ["total"]:
            print("%-52s %10s %10.3f" % ("only castwright: " + k, "", statistics.median(o[0].get(k, 0.0) for o in own)))

    def mapping(self, how):
        """Optimal interpolation of both on the same data, neighbourhood and covariance, and how far the fields are apart."""
        casts, _ = self.casts("--preset", self.a.preset)
        tool, out, products = (os.path.join(self.work, x) for x in ("gridding.test", "fields", "peer"))
        subprocess.run(["go", "test", "-c", "-o", tool, "./gridding"], check=True)
        os.makedirs(out, exist_ok=True)
        pairs = []
        for _ in range(min(3, self.a.pairs)):
            text = run(["/usr/bin/python3", os.path.join(self.a.bench, "peer_pipeline.py"), "--in", casts, "--out", products, "--oi", how])[0]
            d = json.loads(text)
            mine = run([tool, "-test.run", "^$", "-test.bench", "^BenchmarkPeer$", "-test.benchtime", "1x"],
                       dict(ENV, CASTWRIGHT_PEER_CASTS=casts, CASTWRIGHT_PEER_FIELDS=out))[0]
            mine = {m: float(ns) / 1e9 for m, ns in re.findall(r"^BenchmarkPeer/(\w+)\S*\s+\d+\s+([\d.]+) ns/op", mine, re.M)}
            pairs.append((d["stages"]["4b_optimal"]["wall"], mine["optimal"]))
        self.head("mapping, %s, wall seconds, %d pairs" % (self.a.preset, len(pairs)))
        self.row("optimal interpolation, peer " + how, [x for x, _ in pairs], [y for _, y in pairs], [x / y for x, y in pairs])
        differences(products, out)

    def edition(self):
        first = self.first()
        if first is None:
            return
        casts, sections = self.casts("--preset", self.a.preset)
        cruise = self.cruise(casts, sections, OLD_KINDS)
        found = {first: [], self.a.castwright: []}
        for i in range(self.a.pairs):
            for program, rows in found.items():
                archive, _, wall, peak, cpu = self.build(program, cruise)
                _, _, vpeak, vcpu = run([program, "verify", archive])
                size = sum(os.path.getsize(os.path.join(d, f)) for d, _, fs in os.walk(archive) for f in fs) / 1e6
                rows.append((cpu, peak, vcpu, vpeak, size))
        self.head("first edition, %s, all defaults, %d pairs" % (self.a.preset, self.a.pairs), "first")
        for k, (name, unit) in enumerate((("build", "s CPU"), ("peak memory of build", "MiB"), ("verify", "s CPU"),
                                          ("peak memory of verify", "MiB"), ("size of the archive", "MB"))):
            x, y = ([r[k] for r in rows] for rows in found.values())
            self.row(name, x, y, [p / q for p, q in zip(x, y)], unit)

    def figures(self):
        casts, sections = self.casts("--preset", "four-sections")
        first, rows = self.first(), []
        for _ in range(min(3, self.a.pairs)):
            r = []
            for program, kinds in ((first, OLD_KINDS), (self.a.castwright, OLD_KINDS), (self.a.castwright, NEW_KINDS)):
                r.append(self.build(program, self.cruise(casts, sections, kinds), "--workers", "1")[1]["figures"] if program else 0.0)
            rows.append(r)
        self.head("figures, four-sections, three formats, one processor", "first")
        x, y, z = zip(*rows)
        self.row("figures", x, y, [p / q for p, q in zip(x, y)], "s")
        print("%-52s %10s %10.3f" % ("overview, error and skill, apart", "", statistics.median(z)))

    def memory(self):
        print("\npeak memory, MiB; casts of 5500 dbar, 2 dbar between bins")
        print("%8s %12s %12s %12s %12s" % ("casts", "build", "one section", "verify", "rebuild"))
        table = []
        for n in (50, 150, 500, 1000):
            casts, sections = self.casts("--stations", str(n), "--max-pressure", "5500", "--bin", "2")
            r = [self.build(self.a.castwright, self.cruise(casts, {}))[3]]
            name, stations = next(iter(sections.items()))
            archive, _, _, peak, _ = self.build(self.a.castwright, self.cruise(casts, {name: stations}))
            r += [peak, run([self.a.castwright, "verify", archive])[2]]
            again = os.path.join(self.work, "again")
            r.append(run([self.a.castwright, "rebuild", "--out", again, archive])[2])
            shutil.rmtree(again)
            shutil.rmtree(casts)
            table.append(r)
            print("%8d %12.0f %12.0f %12.0f %12.0f" % (n, *r), flush=True)
        growth = [(y - x) / 850 for x, y in zip(table[1], table[3])]
        print("%8s %12.2f %12.2f %12.2f %12.2f" % ("a cast", *growth))
        for name, r in zip(("build", "build with a section", "verify", "rebuild"), table[3]):
            self.rows["MiB of 1000 casts, " + name] = round(1000 / r, 3)  # more is better, as for the other rows

    def first(self):
        """Returns the first edition, built from its commit; None where the history does not go back to it."""
        program, source = os.path.join(self.work, "first"), os.path.join(self.work, "source")
        if os.path.exists(program):
            return program
        os.mkdir(source)
        packed = subprocess.run(["git", "archive", FIRST], capture_output=True)
        if packed.returncode:
            print("the first edition (commit %s) is not in this clone: not compared" % FIRST)
            return None
        subprocess.run(["tar", "x", "-C", source], input=packed.stdout, check=True)
        subprocess.run(["go", "build", "-trimpath", "-o", program, "./cmd/castwright"], cwd=source, check=True)
        return program


def differences(products, out):
    import netCDF4
    import numpy as np
    largest = {}
    ds = netCDF4.Dataset(os.path.join(products, "grids.nc"))
    names = {"temp": ("temperature", "temperature_salinity"), "psal": ("salinity", "temperature_salinity"), "oxy": ("oxygen", "oxygen")}
    for leg, g in ds.groups.items():
        for ours_name, (long, _) in names.items():
            for how, method in (("lin", "linear"), ("oi", "optimal")):
                raw = np.fromfile(os.path.join(out, "%s_%s_%s.bin" % (leg, method, ours_name)), "<f8")
                f = raw[2:].reshape(raw[:2].view("<i8"))
                t = g["%s_%s" % (long, how)][:].filled(np.nan).T
                rows, cols = min(f.shape[0], t.shape[0]), min(f.shape[1], t.shape[1])
                diff = np.abs(f[:rows, :cols] - t[:rows, :cols])
                both = np.isfinite(diff)
                only = (np.isfinite(f[:rows, :cols]) != np.isfinite(t[:rows, :cols])).sum()
                old = largest.get((ours_name, method), (0.0, 0, 0))
                largest[ours_name, method] = (max(old[0], float(diff[both].max())), old[1] + int(both.sum()), old[2] + int(only))
    for key, (d, n, only) in sorted(largest.items()):
        print("  %-20s largest difference %.2g over %d points; filled by one alone: %d" % (" ".join(key), d, n, only))


def compare(rows, accept):
    """Compares ratios with those of bench.json; returns how many rows fell by more than a fifth."""
    name = os.path.join(os.path.dirname(os.path.abspath(__file__)), "bench.json")
    with open(name) as f:
        known = json.load(f)
    worse = [(k, known[k], v) for k, v in rows.items() if k in known and v < 0.8 * known[k]]
    for k, old, new in worse:
        print("\n%s fell by more than a fifth: ratio %.2f, bench.json has %.2f" % (k, new, old))
    if not worse:
        print("\nno ratio fell by more than a fifth (%d compared with bench.json)" % len(set(rows) & set(known)))
    if accept:
        with open(name, "w") as f:
            json.dump(dict(known, **rows), f, indent=1, sort_keys=True)
            f.write("\n")
    return 0 if accept else len(worse)


def main():
    p = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    p.add_argument("castwright")
    p.add_argument("bench")
    p.add_argument("--part", action="append", choices=PARTS)
    p.add_argument("--preset", default="standard")
    p.add_argument("--pairs", type=int, default=5)
    p.add_argument("--accept", action="store_true")
    a = p.parse_args()
    a.castwright = os.path.abspath(a.castwright)
    work = tempfile.mkdtemp(prefix="castwright-bench-")
    try:
        b = Bench(a, work)
        for part in a.part or PARTS:
            b.mapping(part) if part in ("direct", "dedup") else getattr(b, part)()
        sys.exit(1 if compare(b.rows, a.accept) else 0)
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
