#!/usr/bin/env python3
"""Compares castwright with the peer pipeline on the same cruise, in turn, and prints the median ratio of each stage that both do.

    bench.py CASTWRIGHT BENCH_FOLDER [--preset standard] [--pairs 5]
    bench.py CASTWRIGHT BENCH_FOLDER --mapping dedup|direct [--pairs 3]     optimal interpolation alone, at the peer's setting

BENCH_FOLDER holds make_cruise.py and peer_pipeline.py. The peer runs in one process, with the allocator setting that its page asks for
(without it a fresh page costs it dearly and the comparison would flatter us). Mapping is left out on both sides: sections are gridded
linearly on the peer's grid. Wall seconds; ratio is peer over castwright, so more than 1 means castwright is faster.
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

# stage, the peer's name for it, ours
STAGES = [
    ("start", ["0_imports"], ["start"]),
    ("parse", ["1_parse"], ["parse"]),
    ("TEOS-10", ["2_teos10"], ["TEOS-10"]),
    ("dynamic", ["3_dynamic"], ["dynamic"]),
    ("linear", ["4a_linear"], ["grid"]),
    ("profiles.nc / casts.nc", ["write_profiles"], ["write casts.nc"]),
    ("grids.nc", ["write_grids"], ["write grids"]),
    ("sections.nc (ours: casts and pairs at full resolution)", ["write_sections"], ["write sections"]),
    ("exchange text", ["write_csv"], ["exchange text"]),
]
ONLY_OURS = ["transports and errors", "exchange zip", "inputs.zip", "tables", "bag", "commit"]


def run(cmd, env=None):
    began = time.perf_counter()
    r = subprocess.run(["/usr/bin/time", "-f", "%M", "-o", "/dev/stderr"] + cmd, env=env, capture_output=True, text=True)
    wall = time.perf_counter() - began
    if r.returncode:
        sys.exit("%s failed:\n%s" % (cmd, r.stderr))
    peak = int(re.findall(r"^(\d+)$", r.stderr, re.M)[-1]) / 1024
    return r.stdout, wall, peak


def peer(a, casts, out):
    env = dict(os.environ, GLIBC_TUNABLES=SETTING)
    text, wall, peak = run(["/usr/bin/python3", os.path.join(a.bench, "peer_pipeline.py"), "--in", casts, "--out", out, "--oi", "none"], env)
    d = json.loads(text)
    s = {k: v["wall"] for k, v in list(d["stages"].items()) + list(d["parts"].items())}
    return s, wall, peak, d


def ours(a, cruise, out):
    text, wall, peak = run([a.castwright, "build", "--json", "--timing", "--workers", "2", "--out", out, cruise])
    s = json.loads(text)["seconds"]
    text, start, _ = run([a.castwright, "version"])
    s["start"] = start
    return s, wall, peak


def legs(casts):
    found = {}
    for name in sorted(os.listdir(casts)):
        head = open(os.path.join(casts, name), encoding="utf-8").read(2000)
        sect = re.search(r"SECT_ID = (\S+)", head).group(1)
        found.setdefault(sect, []).append(re.search(r"STNNBR = (\S+)", head).group(1))
    return found


def mapping(a, work, casts):
    """Optimal interpolation of both on the same data, neighbourhood and covariance: seconds, and how far the fields are apart."""
    import netCDF4
    import numpy as np
    tool = os.path.join(work, "gridding.test")
    subprocess.run(["go", "test", "-c", "-o", tool, "./gridding"], check=True)
    out, products = os.path.join(work, "fields"), os.path.join(work, "peer")
    os.mkdir(out)
    env = dict(os.environ, GLIBC_TUNABLES=SETTING)
    pairs = []
    for _ in range(a.pairs):
        text, _, _ = run(["/usr/bin/python3", os.path.join(a.bench, "peer_pipeline.py"), "--in", casts, "--out", products, "--oi", a.mapping], env)
        d = json.loads(text)
        mine, _, peak = run([tool, "-test.run", "^$", "-test.bench", "^BenchmarkPeer$", "-test.benchtime", "1x"],
                            dict(os.environ, CASTWRIGHT_PEER_CASTS=casts, CASTWRIGHT_PEER_FIELDS=out))
        mine = {m: float(ns) / 1e9 for m, ns in re.findall(r"^BenchmarkPeer/(\w+)\S*\s+\d+\s+([\d.]+) ns/op", mine, re.M)}
        pairs.append((d["stages"]["4b_optimal"]["wall"], mine["optimal"], d["stages"]["4a_linear"]["wall"], mine["linear"], peak))
    print("mapping on %s, %d pairs in turn; peer: peer_pipeline.py, 1 process, --oi %s, %s; ours: 2 workers" % (a.preset, a.pairs, a.mapping, SETTING))
    for name, i in (("optimal interpolation", 0), ("linear", 2)):
        print("%-40s peer %8.3f  ours %8.3f  median ratio %6.2f" % (
            name, statistics.median(x[i] for x in pairs), statistics.median(x[i + 1] for x in pairs), statistics.median(x[i] / x[i + 1] for x in pairs)))
    print("peak memory of ours, MiB: %.0f" % statistics.median(x[4] for x in pairs))
    largest = {}
    ds = netCDF4.Dataset(os.path.join(products, "grids.nc"))
    names = {"temp": ("temperature", "temperature_salinity"), "psal": ("salinity", "temperature_salinity"), "oxy": ("oxygen", "oxygen")}
    for leg, g in ds.groups.items():
        for ours_name, (long, error) in names.items():
            for how, method in (("lin", "linear"), ("oi", "optimal")):
                raw = np.fromfile(os.path.join(out, "%s_%s_%s.bin" % (leg, method, ours_name)), "<f8")
                shape = raw[:2].view("<i8")
                f = raw[2:].reshape(shape)
                t = g["%s_%s" % (long, how)][:].filled(np.nan).T
                rows, cols = min(f.shape[0], t.shape[0]), min(f.shape[1], t.shape[1])
                diff = np.abs(f[:rows, :cols] - t[:rows, :cols])
                both = np.isfinite(diff)
                only = (np.isfinite(f[:rows, :cols]) != np.isfinite(t[:rows, :cols])).sum()
                key = "%s %s" % (ours_name, method)
                old = largest.get(key, (0.0, 0, 0))
                largest[key] = (max(old[0], float(diff[both].max())), old[1] + int(both.sum()), old[2] + int(only))
    for key, (d, n, only) in sorted(largest.items()):
        print("%-20s largest difference %.2g over %d points; filled by one alone: %d" % (key, d, n, only))


def main():
    p = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    p.add_argument("castwright")
    p.add_argument("bench")
    p.add_argument("--preset", default="standard")
    p.add_argument("--pairs", type=int, default=5)
    p.add_argument("--mapping", choices=("dedup", "direct"))
    a = p.parse_args()
    a.castwright = os.path.abspath(a.castwright)
    work = tempfile.mkdtemp(prefix="castwright-bench-")
    try:
        casts = os.path.join(work, "casts")
        subprocess.run(["/usr/bin/python3", os.path.join(a.bench, "make_cruise.py"), "--preset", a.preset, "--out", casts],
                       check=True, stdout=subprocess.DEVNULL)
        if a.mapping:
            mapping(a, work, casts)
            return
        sections = legs(casts)
        with open(os.path.join(work, "cruise.yaml"), "w") as f:
            f.write("cruise: {id: bench}\ncasts: {sources: [casts]}\nfigures: none\nsections:\n")
            for name, stations in sections.items():
                f.write("  - {name: %s, stations: %s-%s, reference: 2000, grid: {method: linear, step_km: 5, step_dbar: 10, "
                        "variables: [temp, psal, oxy]}}\n" % (name, stations[0], stations[-1]))
        theirs, own, walls, peaks, mine = [], [], [], [], []
        for i in range(a.pairs + 1):
            t = peer(a, casts, os.path.join(work, "peer"))
            o = ours(a, os.path.join(work, "cruise.yaml"), work)
            shutil.rmtree(os.path.join(work, "peer"))
            shutil.rmtree(os.path.join(work, "bench"))
            if i:                                    # the first pair warms the caches
                theirs.append(t)
                own.append(o)
        print("cruise %s, %d casts, %d pairs; peer: %s, 1 process, --oi none, %s" % (
            a.preset, theirs[0][3]["casts"], a.pairs, os.path.basename("peer_pipeline.py"), SETTING))
        print("%-58s %8s %8s %7s" % ("stage, wall seconds (median)", "peer", "ours", "ratio"))
        total_t, total_o = [0.0] * a.pairs, [0.0] * a.pairs
        for label, ts, os_ in STAGES:
            x = [sum(t[0][k] for k in ts) for t in theirs]
            y = [sum(o[0].get(k, 0.0) for k in os_) for o in own]
            total_t = [p + q for p, q in zip(total_t, x)]
            total_o = [p + q for p, q in zip(total_o, y)]
            ratio = statistics.median(p / max(q, 1e-9) for p, q in zip(x, y))
            print("%-58s %8.3f %8.3f %7.2f" % (label, statistics.median(x), statistics.median(y), ratio))
        ratio = statistics.median(p / q for p, q in zip(total_t, total_o))
        print("%-58s %8.3f %8.3f %7.2f" % ("sum without mapping", statistics.median(total_t), statistics.median(total_o), ratio))
        pk = [t[2] for t in theirs], [o[2] for o in own]
        print("%-58s %8.1f %8.1f %7.2f" % ("peak memory, MiB", statistics.median(pk[0]), statistics.median(pk[1]),
                                           statistics.median(x / y for x, y in zip(*pk))))
        print("only castwright does:")
        for k in ONLY_OURS:
            print("  %-56s %8s %8.3f" % (k, "", statistics.median(o[0].get(k, 0.0) for o in own)))
        print("whole process %48s %8.3f %8.3f" % ("", statistics.median(t[1] for t in theirs), statistics.median(o[1] for o in own)))
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
