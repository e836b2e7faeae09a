package metadata

import "slices"

// listedUnits holds the units of each parameter in the published parameter list of the exchange format: the list that
// the format description (CC-BY-4.0, DOI 10.5281/zenodo.10858845) carried until it moved elsewhere in 2020; parameters
// and units that were listed later are not in it. "" is a parameter without a unit. Identification and position of a
// profile or bottle are among them.
var listedUnits = map[string][]string{
	"EXPOCODE": {""}, "SECT_ID": {""}, "LINE": {""}, "STNNBR": {""}, "CASTNO": {""}, "SAMPNO": {""}, "BTLNBR": {""},
	"BIONBR": {""}, "INSTRUMENT_ID": {""},
	"DATE": {""}, "TIME": {""}, "LATITUDE": {""}, "LONGITUDE": {""}, "BTL_DATE": {""}, "BTL_TIME": {""},
	"BTL_LAT": {""}, "BTL_LON": {""}, "DEPTH": {"METERS"},
	"QUALT1": {""}, "QUALT2": {""},

	"CTDPRS": {"DBAR"}, "CTDRAW": {"DBAR"}, "CTDTMP": {"ITS-90", "IPTS-68", "DEG C"}, "CTDSAL": {"PSS-78"},
	"CTDSVLSAL": {"G/KG"}, "CTDOXY": {"UMOL/KG", "ML/L"},
	"CTDFLUOR": {"MG/M^3", "0-5VDC", ""}, "CTDXMISS": {"%TRANS", "0-5VDC"}, "CTDBEAMCP": {"/METER"},
	"PAR": {"UMOL/M^2/SEC", ""}, "CTDNOBS": {""}, "CTDETIME": {"SECONDS"},
	"THETA": {"ITS-90", "IPTS-68", "DEG C"},

	"SALNTY": {"PSS-78"}, "DNSSAL": {"G/KG"}, "OXYGEN": {"UMOL/KG"}, "SILCAT": {"UMOL/KG"}, "NITRAT": {"UMOL/KG"},
	"NITRIT": {"UMOL/KG"}, "NO2+NO3": {"UMOL/KG"},
	"PHSPHT": {"UMOL/KG"}, "NH4": {"UMOL/KG"}, "UREA": {"UMOL/KG"}, "REFTMP": {"ITS-90", "DEG C"}, "REVPRS": {"DBAR"},
	"REVTMP": {"ITS-90", "IPTS-68", "DEG C"},

	"CFC-11": {"PMOL/KG"}, "CF11ER": {"PMOL/KG"}, "CFC-12": {"PMOL/KG"}, "CF12ER": {"PMOL/KG"}, "CFC113": {"PMOL/KG"},
	"CCL4": {"PMOL/KG"}, "CCL4ER": {"PMOL/KG", ""},
	"MCHFRM": {"PMOL/KG"}, "CH3CL": {"PMOL/KG"}, "SF6": {"FMOL/KG"}, "N2O": {"NMOL/KG"}, "CH4": {"NMOL/KG"},
	"DMS": {""}, "AZOTE": {""}, "ARGON": {"UMOL/KG"},

	"TCARBN": {"UMOL/KG"}, "ALKALI": {"UMOL/KG"}, "FCO2": {"UATM"}, "FCO2TMP": {"DEG C"}, "PCO2": {"UATM"},
	"PCO2TMP": {"DEG C"}, "PH_TOT": {""}, "PH_SWS": {""},
	"PH_TMP": {"DEG C"}, "DOC": {"UMOL/KG"}, "DON": {"UMOL/KG"}, "TDN": {"UMOL/KG"}, "TOC": {""}, "TON": {""},
	"POC": {"UG/KG"}, "PON": {"UG/KG"},

	"TRITUM": {"TU"}, "TRITER": {"TU"}, "HELIUM": {"NMOL/KG"}, "HELIER": {"NMOL/KG"}, "DELHE3": {"PERCNT"},
	"NEON": {"NMOL/KG"}, "NEONER": {"NMOL/KG"},
	"DELC13": {"/MILLE"}, "C13ERR": {"/MILLE"}, "DELC14": {"/MILLE"}, "C14ERR": {"/MILLE"}, "DELO18": {"/MILLE"},
	"14C-DOC": {"/MILLE"}, "D15N_NO3": {""},
	"KR-85": {"DM/MG"}, "AR-39": {"PCTMOD"}, "RA-226": {"DM/.1MG"}, "RA-226E": {"DM/.1MG"}, "RA-228": {"DM/.1MG"},
	"RA-8/6": {"DM/.1MG"}, "RA-8/6E": {"DM/.1MG"},
	"SR-90": {"DM/.1MG"}, "CS-137": {"DM/.1MG"}, "I-129": {""}, "I129ER": {""},

	"ALUMIN": {"NMOL/L"}, "BARIUM": {"NMOL/KG"}, "CALCIUM": {""}, "CU": {""}, "FE": {"NMOL/L"}, "IODATE": {"NMOL/KG"},
	"IODIDE": {"NMOL/KG"}, "MN": {"NMOL/L"}, "NI": {""},

	"CHLORA": {"UG/KG", "UG/L"}, "PPHYTN": {"UG/KG"}, "TOT_CHL_A": {"MG/M^3"}, "TOT_CHL_B": {"MG/M^3"},
	"TOT_CHL_C": {"MG/M^3"}, "ALPHA-BETA-CAR": {"MG/M^3"},
	"BUT-FUCO": {"MG/M^3"}, "HEX-FUCO": {"MG/M^3"}, "ALLO": {"MG/M^3"}, "DIADINO": {"MG/M^3"}, "DIATO": {"MG/M^3"},
	"HFUCO": {"MG/M^3"}, "PERID": {"MG/M^3"},
	"ZEA": {"MG/M^3"}, "MV_CHL_A": {"MG/M^3"}, "DV_CHL_A": {"MG/M^3"}, "CHLIDE_A": {"MG/M^3"}, "MV_CHL_B": {"MG/M^3"},
	"DV_CHL_B": {"MG/M^3"}, "CHL_C1C2": {"MG/M^3"},
	"CHL_C3": {"MG/M^3"}, "LUT": {"MG/M^3"}, "NEO": {"MG/M^3"}, "VIOLA": {"MG/M^3"}, "PHYTIN_A": {"MG/M^3"},
	"PHIDE_A": {"MG/M^3"}, "PRAS": {"MG/M^3"}, "GYRO": {"MG/M^3"},
}

// ListedPair reports whether the published parameter list of the exchange format has the pair of parameter and unit,
// written as there.
func ListedPair(name, unit string) bool { return slices.Contains(listedUnits[name], unit) }
