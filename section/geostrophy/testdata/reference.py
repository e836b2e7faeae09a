"""Dynamic height and velocity from Debian's python3-gsw, for the test of this package.
    reference.py IN OUT
IN: int64 casts; for each int64 n, then float64 p_ref, lat, lon, p[n], SA[n], CT[n].  OUT: for each cast linear[n], pchip[n] (float64,
NaN where there is no value); then for each two neighbouring casts on equal levels the velocity between them, pchip heights, on its sphere."""
import sys
import numpy as np
import gsw

raw = open(sys.argv[1], "rb").read()
at = 0


def take(dtype, n):
    global at
    x = np.frombuffer(raw, dtype, n, at)
    at += 8 * n
    return x


casts = []
for _ in range(int(take("<i8", 1)[0])):
    n = int(take("<i8", 1)[0])
    ref, lat, lon = take("<f8", 3)
    casts.append((ref, lat, lon, take("<f8", n), take("<f8", n), take("<f8", n)))
with open(sys.argv[2], "wb") as f:
    heights = []
    for ref, lat, lon, p, sa, ct in casts:
        for how in ("linear", "pchip"):
            dh = np.asarray(gsw.geo_strf_dyn_height(sa, ct, p, p_ref=ref, axis=0, interp_method=how), "<f8")
            f.write(dh.tobytes())
        heights.append(dh)
    for (_, lat1, lon1, p1, _, _), (_, lat2, lon2, p2, _, _), a, b in zip(casts, casts[1:], heights, heights[1:]):
        if len(p1) == len(p2) and np.array_equal(p1, p2):
            v, _, _ = gsw.geostrophic_velocity(np.array([a, b]).T, [lon1, lon2], [lat1, lat2], axis=0)
            f.write(np.asarray(v[:, 0], "<f8").tobytes())
