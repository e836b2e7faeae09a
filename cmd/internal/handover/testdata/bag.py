"""Reads a bag as RFC 8493 (October 2018) says and reports every fault; nothing of the project is used.

Usage: bag.py FOLDER
"""
import hashlib
import pathlib
import re
import sys

bag = pathlib.Path(sys.argv[1])
faults = []


def text(name):
    data = (bag / name).read_bytes()
    if data.startswith(b"\xef\xbb\xbf"):
        faults.append(f"{name}: begins with a byte-order mark (section 2.1.1)")
    return data.decode("utf-8")


def tree(folder):
    return {p.relative_to(bag).as_posix() for p in folder.rglob("*") if p.is_file()}


def manifest(name):
    """Section 2.1.3: a checksum in hexadecimal, white space, a path relative to the bag."""
    out = {}
    for n, line in enumerate(re.split(r"\r\n|\r|\n", text(name).rstrip("\r\n")), 1):
        m = re.fullmatch(r"([0-9a-fA-F]+)[ \t]+\*?(.+)", line)
        if not m:
            faults.append(f"{name}:{n}: no checksum and path: {line!r}")
            continue
        path = re.sub(r"%(0[dD]|0[aA]|25)", lambda c: chr(int(c[1], 16)), m[2])
        if path.startswith(("/", "~")) or ".." in path.split("/"):
            faults.append(f"{name}:{n}: the path leads out of the bag: {path}")
        if path in out:
            faults.append(f"{name}:{n}: {path} is listed twice")
        out[path] = m[1].lower()
    return out


def check(name, listed, algorithm):
    for path, want in listed.items():
        try:
            got = hashlib.new(algorithm, (bag / path).read_bytes()).hexdigest()
        except OSError as e:
            faults.append(f"{name}: {path}: {e}")
            continue
        if got != want:
            faults.append(f"{name}: {path}: checksum differs")


# section 2.1.1
if not re.fullmatch(r"BagIt-Version: 1\.0\r?\nTag-File-Character-Encoding: UTF-8(\r?\n)?", text("bagit.txt")):
    faults.append("bagit.txt: not the two lines of version 1.0")
payload = tree(bag / "data")
manifests = sorted(p.name for p in bag.glob("manifest-*.txt"))
if not manifests:
    faults.append("no payload manifest (section 2.1.3)")
for name in manifests:
    algorithm = name[len("manifest-"):-len(".txt")]
    listed = manifest(name)
    for path in sorted(payload ^ set(listed)):
        faults.append(f"{name}: {path}: listed and not there, or there and not listed (section 3)")
    check(name, {p: s for p, s in listed.items() if p in payload}, algorithm)
tags = tree(bag) - payload
for name in sorted(p.name for p in bag.glob("tagmanifest-*.txt")):
    listed = manifest(name)
    if any(p.startswith("data/") or p.startswith("tagmanifest-") for p in listed):
        faults.append(f"{name}: lists the payload or a tag manifest (section 2.2.1)")
    for m in manifests:
        if m not in listed:
            faults.append(f"{name}: does not list {m} (section 2.2.1)")
    check(name, listed, name[len("tagmanifest-"):-len(".txt")])
oxum = re.search(r"(?im)^Payload-Oxum: *(\d+)\.(\d+)\s*$", text("bag-info.txt"))
if oxum and (int(oxum[1]), int(oxum[2])) != (sum((bag / p).stat().st_size for p in payload), len(payload)):
    faults.append("bag-info.txt: Payload-Oxum differs (section 2.2.2)")
for f in faults:
    print(f)
print("invalid" if faults else f"valid, {len(payload)} files, {len(manifests)} manifests, {len(tags)} tag files")
sys.exit(len(faults) > 0)
