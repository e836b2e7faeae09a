"""Test reference: python3 reference.py IN OUT with little-endian float64. IN: the columns named below, one after the other,
N numbers each. OUT: the columns of OUT_NAMES. Run with Debian's /usr/bin/python3 and python3-gsw."""
import sys

import gsw
import numpy as np

IN_NAMES = "cond t p sp lon lat sa ct pt tany o2 dp dsa dct cond_low".split()
x = np.fromfile(sys.argv[1], "<f8").reshape(len(IN_NAMES), -1)
v = dict(zip(IN_NAMES, x))
c, t, p, sp, lon, lat, sa, ct = (v[k] for k in ("cond", "t", "p", "sp", "lon", "lat", "sa", "ct"))
sa2, ct2, p2 = sa + v["dsa"], ct + v["dct"], p + v["dp"]


def pairs(f, i, **kw):
    one = lambda a, b: np.stack([a, b])
    return f(one(sa, sa2), one(ct, ct2), one(p, p2), **kw)[i][0]


out = {
    "PracticalSalinity": gsw.SP_from_C(c, t, p),
    "PracticalSalinity, dilute": gsw.SP_from_C(v["cond_low"], t, p),
    "Conductivity": gsw.C_from_SP(sp, t, p),
    "AbsoluteSalinity": gsw.SA_from_SP(sp, p, lon, lat),
    "Place.PracticalSalinity": gsw.SP_from_SA(sa, p, lon, lat),
    "Place.AnomalyRatio": gsw.SAAR(p, lon, lat),
    "ReferenceSalinity": gsw.SR_from_SP(sp),
    "PotentialTemperature": gsw.pt0_from_t(sa, t, p),
    "ConservativeTemperature": gsw.CT_from_t(sa, t, p),
    "ConservativeFromPotential": gsw.CT_from_pt(sa, v["pt"]),
    "PotentialFromConservative": gsw.pt_from_CT(sa, ct),
    "InSituTemperature": gsw.t_from_CT(sa, ct, p),
    "SpecificVolume": gsw.specvol(sa, ct, p),
    "SpecificVolumeAnomaly": gsw.specvol_anom_standard(sa, ct, p),
    "Density": gsw.rho(sa, ct, p),
    "Sigma0": gsw.sigma0(sa, ct),
    "Sigma(1)": gsw.sigma1(sa, ct),
    "Sigma(2)": gsw.sigma2(sa, ct),
    "Sigma(3)": gsw.sigma3(sa, ct),
    "Sigma(4)": gsw.sigma4(sa, ct),
    "ThermalExpansion": gsw.alpha(sa, ct, p),
    "HalineContraction": gsw.beta(sa, ct, p),
    "SpecificVolumeSlopes, by SA": gsw.specvol_first_derivatives(sa, ct, p)[0],
    "SpecificVolumeSlopes, by CT": gsw.specvol_first_derivatives(sa, ct, p)[1],
    "SoundSpeed": gsw.sound_speed_t_exact(sa, t, p),
    "Spiciness0": gsw.spiciness0(sa, ct),
    "Height": gsw.z_from_p(p, lat),
    "Pressure": gsw.p_from_z(-p, lat),
    "Gravity": gsw.grav(lat, p),
    "Coriolis": gsw.f(lat),
    "OxygenSolubility": gsw.O2sol_SP_pt(sp, v["pt"]),
    "FreezingConservative, air-free": gsw.CT_freezing_poly(sa, p, 0.0),
    "FreezingConservative, air-saturated": gsw.CT_freezing_poly(sa, p, 1.0),
    "FreezingInSitu, air-saturated": gsw.t_freezing_poly(sa, p, 1.0) if hasattr(gsw, "t_freezing_poly")
    else gsw.t_from_CT(sa, gsw.CT_freezing_poly(sa, p, 1.0), p),
    "IPTS68ToITS90": gsw.t90_from_t68(t),
    "BuoyancyFrequencySquared": pairs(gsw.Nsquared, 0, lat=np.stack([lat, lat])),
}
print("\n".join(out))
np.stack([np.asarray(a, "<f8") for a in out.values()]).tofile(sys.argv[2])
