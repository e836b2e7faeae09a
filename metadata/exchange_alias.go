package metadata

import "strings"

// The spellings below are those of exchange files of twenty years, as listed in the community's format description, a
// data centre's own template and public files and reader notes; a few are our own expectation of what turns up. Names
// with a reading of their own in bottle files (SALT, OXY: a sample there) count in CTD files only.

// exchangeNames gives the listed name for parameter names seen in CTD files.
var exchangeNames = map[string]string{
	"CTDP": "CTDPRS", "PRES": "CTDPRS", "PRESS": "CTDPRS", "PRESSURE": "CTDPRS", "CTDPRES": "CTDPRS",
	"CTDT": "CTDTMP", "TEMP": "CTDTMP", "CTDTEMP": "CTDTMP", "TEMPERATURE": "CTDTMP",
	"CTDS": "CTDSAL", "SALT": "CTDSAL", "SAL": "CTDSAL", "PSAL": "CTDSAL", "CTDSALT": "CTDSAL", "SALINITY": "CTDSAL",
	"CTDO": "CTDOXY", "CTDO2": "CTDOXY", "O2": "CTDOXY", "OXY": "CTDOXY", "CTDOXY1": "CTDOXY",
	"XMISS": "CTDXMISS", "TRANSM": "CTDXMISS", "CTDTRANSM": "CTDXMISS",
	"FLUOR": "CTDFLUOR", "CTDFLUORO": "CTDFLUOR", "NOBS": "CTDNOBS", "ETIME": "CTDETIME", "BEAMCP": "CTDBEAMCP",
	"CTDPAR": "PAR",
}

// exchangeBottleNames gives the listed name for parameter names seen in bottle files.
var exchangeBottleNames = map[string]string{
	"CTDP": "CTDPRS", "PRES": "CTDPRS", "CTDPRES": "CTDPRS", "CTDT": "CTDTMP", "CTDTEMP": "CTDTMP", "CTDS": "CTDSAL",
	"CTDSALT": "CTDSAL",
	"CTDO":    "CTDOXY", "CTDO2": "CTDOXY", "CTDOXY1": "CTDOXY", "SECT": "SECT_ID", "STATION": "STNNBR",
	"STA":  "STNNBR",
	"CAST": "CASTNO",
	"LAT":  "LATITUDE", "LON": "LONGITUDE", "SAMPLE": "SAMPNO", "BOTTLE": "BTLNBR", "EXPO": "EXPOCODE",
	"SALT": "SALNTY",
}

// exchangeUnits gives the listed unit for units seen.
var exchangeUnits = map[string]string{
	"DBARS": "DBAR", "DBR": "DBAR", "DB": "DBAR", "DECIBAR": "DBAR", "DECIBARS": "DBAR",
	"ITS90": "ITS-90", "IPTS-90": "ITS-90", "IPTS90": "ITS-90", "IT-90": "ITS-90", "ITS_90": "ITS-90",
	"ITST90": "ITS-90", "ITS 90": "ITS-90",
	"ITS-68": "IPTS-68", "ITS_68": "IPTS-68", "ITS68": "IPTS-68", "IPTS68": "IPTS-68", "IPTS_68": "IPTS-68",
	"IPTS 68": "IPTS-68",
	"DEG-C":   "DEG C", "DEGC": "DEG C", "DEG_C": "DEG C", "DEG.C": "DEG C", "C": "DEG C",
	"PSU": "PSS-78", "PSS78": "PSS-78", "PSS_78": "PSS-78", "PSS 78": "PSS-78", "PSS": "PSS-78",
	"UMOL/KG.": "UMOL/KG", "UMOL KG-1": "UMOL/KG", "MICROMOL/KG": "UMOL/KG", "ML/L.": "ML/L",
	"MG/CUM": "MG/M^3", "MG/M3": "MG/M^3", "MG/M**3": "MG/M^3", "UG/L": "MG/M^3",
	"0-5V": "0-5VDC", "%": "%TRANS", "PERCENT": "%TRANS", "1/M": "/METER", "/M": "/METER", "SEC": "SECONDS",
	"S": "SECONDS", "SECS": "SECONDS",
	"M": "METERS", "METRES": "METERS", "METER": "METERS",
}

// exchangeHeaders gives the listed name for header names seen.
var exchangeHeaders = map[string]string{
	"NUMBER_OF_HEADERS": "NUMBER_HEADERS", "NUMBER_HEADER": "NUMBER_HEADERS", "NUM_HEADERS": "NUMBER_HEADERS",
	"NUMBER HEADERS": "NUMBER_HEADERS",
	"SECT":           "SECT_ID", "SECTION": "SECT_ID", "STATION": "STNNBR", "STA": "STNNBR", "STN": "STNNBR",
	"STNNO": "STNNBR",
	"CAST":  "CASTNO", "CAST_NUMBER": "CASTNO", "CASTNBR": "CASTNO", "LAT": "LATITUDE", "LON": "LONGITUDE",
	"LONG": "LONGITUDE",
	"EXPO": "EXPOCODE", "EXPO_CODE": "EXPOCODE", "BOTTOM_DEPTH": "DEPTH", "BOTTOM": "DEPTH",
}

// ExchangeName gives the listed parameter name of a name seen in an exchange file (bottle: in a bottle file), upper
// case. A name it does not know comes back in upper case.
func ExchangeName(seen string, bottle bool) string {
	s := strings.ToUpper(seen)
	table := exchangeNames
	if bottle {
		table = exchangeBottleNames
	}
	if t, ok := table[s]; ok {
		return t
	}
	return s
}

// ExchangeUnit gives the listed spelling of a unit seen in an exchange file, upper case.
func ExchangeUnit(seen string) string {
	s := strings.ToUpper(seen)
	if t, ok := exchangeUnits[s]; ok {
		return t
	}
	return s
}

// ExchangeHeader gives the listed spelling of a header name seen in an exchange file, upper case.
func ExchangeHeader(seen string) string {
	s := strings.ToUpper(seen)
	if t, ok := exchangeHeaders[s]; ok {
		return t
	}
	return s
}
