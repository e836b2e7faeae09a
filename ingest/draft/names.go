package draft

import (
	"regexp"
	"strings"
	"unicode"
)

// word makes a name comparable: small letters and digits only, letters without their accents.
func word(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case unicode.IsLetter(r):
			b.WriteString(plainLetter[r])
		}
	}
	return b.String()
}

var plainLetter = map[rune]string{'ä': "a", 'á': "a", 'à': "a", 'â': "a", 'ã': "a", 'å': "a", 'é': "e", 'è': "e",
	'ê': "e", 'ë': "e", 'í': "i",
	'ì': "i", 'î': "i", 'ï': "i", 'ö': "o", 'ó': "o", 'ò': "o", 'ô': "o", 'õ': "o", 'ø': "o", 'ü': "u", 'ú': "u",
	'ù': "u", 'û': "u", 'ñ': "n",
	'ç': "c", 'ß': "ss", 'æ': "ae", 'µ': "u", 'μ': "u", 'σ': "sigma", 'θ': "theta"}

// columnWords are names of columns in several languages and what they mean; a name is looked up as a whole, without the
// unit at its end. Common practice, no source.
var columnWords = map[string]string{}

func init() {
	for means, names := range map[string]string{
		"pres": `p pr prs pre pres press pressure ctdprs pressuredbar seapressure druck presion pression pressao trykk
			tryk paine dbar db decibar pdbar pressdb waterpressure presdb`,
		"depth": `depth dep z deph depthm tiefe prof profondeur profundidad profundidade dyp dybde djup syvyys waterlayer
			depthbelowsurface`,
		"temp": `t te tmp temp temperature t90 t68 temp90 temp68 tempc ctdtmp ctdtemp insitutemperature watertemp
			watertemperature wassertemperatur temperatur temperatura temperaturec wtemp temp1 t1 t901 temperature1
			primarytemperature temps90 lampotila temps901 ts seatemp`,
		"temp2": "t2 temp2 temperature2 ctdtmp2 t902 secondarytemperature temps902 temperatur2 temp902",
		"psal": `s sa sal salt salt1 salin salinity psal ctdsal pss pss78 practicalsalinity sp salz salzgehalt salinidad
			salinidade salinite saltholdighet saltholdighed salthalt suolaisuus sal1 s1 salinity1 salinitypsu
			psalst01 salinityps78`,
		"psal2": "s2 sal2 salt2 salinity2 ctdsal2 psal2 secondarysalinity salzgehalt2 psalst02",
		"cond": `c co cnd cond conductivity con ctdcond leitfahigkeit conductividad conductivite condutividade
			ledningsevne konduktivitet c1 cond1 conductivity1 condms cndc specificconductivity
			electricalconductivity`,
		"cond2": "c2 cond2 conductivity2",
		"oxy": `o ox oxy oxy1 oxygen o2 do doxy dox ctdoxy dissolvedoxygen oxygenconcentration sauerstoff oxigeno
			oxygene oksygen ilt syre happi oxi oxyc o2conc oxygen1 sauerstoffgehalt oxigenodisuelto doxyconc`,
		"oxy2":   "oxy2 oxygen2 ctdoxy2 do2 doxy2",
		"oxysat": "o2sat oxsat oxysat oxygensaturation sauerstoffsattigung saturation oxygensat osat",
		"chl": `chl chla chlorophyll chlorophylla chlorofyll klorofyll clorofila
			chlorophylle fluoresceina cphl chlfluor`,
		"fluor": "fl flu fluo fluor fluorescence fluorescenz fluoreszenz fluorometer fluorescencia ctdfluor fluo1",
		"xmiss": `xmiss trans transm transmission beamtransmission transmissometer ctdxmiss tran transmittance
			lighttransmission`,
		"beamc":  "beamc beamattenuation attenuation batt",
		"turb":   "turb turbidity trubung turbidite turbidez ntu obs ftu turbiditet backscatter",
		"par":    "par irradiance light quanta photosyntheticallyactiveradiation",
		"sigma0": "sigma0 sigmatheta sigmat sigma sigt sigth sigtheta potentialdensityanomaly sig0 sigmath",
		"dens":   "density dens rho dichte densidad densite insitudensity",
		"ptemp":  "theta ptemp potentialtemperature pottemp potemp pt ptmp thta",
		"sound_speed": `sv soundvelocity soundspeed speedofsound schallgeschwindigkeit sspeed sound soundvel
			velocidaddelsonido`,
		"nobs":  "nobs n nscan nscans scans count samples nvals numberofscans nval obsperbin nobservations",
		"etime": "etime elapsedtime elapsed seconds timeelapsed sec",
		"hab":   "hab altitude alt altimeter heightabovebottom distancetobottom altim",
		"station": `station stn sta stat stationno stationnumber stationid stnnbr stationsnummer estacion stasjon station_no
			stationname stnno statno asema`,
		"cast":     "cast castno castnumber castnbr profile profileno haul profil castid",
		"expocode": "expocode expo",
		"date": `date datum fecha data dato datetime dateutc yyyymmdd yyyymmddhhmm yyyymmddthhmm yyyymmddthhmmss
			yyyymmddhhmmss utcdate timestamp datetimeutc isotime isodatetime ddmmyyyy mmddyyyy timeutciso
			yyyymmddthhmmsssss yyyymonddhhmm`,
		"time": "time utc gmt timeutc zeit uhrzeit hora heure tid hhmm hhmmss klokkeslett timegmt utctime",
		"latitude": `lat latitude latdeg latitudedegn breite breitengrad latitud latituden bredde latn latdd decimallatitude
			latdegreesnorth latitudedegreesnorth latitudine`,
		"longitude": `lon long longitude londeg longitudedege lange laenge langengrad longitud longitudee lengde lone londd
			decimallongitude londegreeseast longitudedegreeseast`,
		"bottom_depth": `bottomdepth botdepth waterdepth bottom sounding wassertiefe bodentiefe botdep seafloordepth echodepth
			bottomdepthm bottomm sonde ekkodyp bathydepth zbot waterdepthm`,
		"year": "year jahr ano annee yr yyyy", "month": "month monat mes mois mo mm mon",
		"day":     "day tag dia jour dd",
		"yearday": "yearday julianday jday yday dayofyear doy julday jday1 decimalday decday yeardayutc",
		"hour":    "hour hr hh stunde hours", "minute": "minute min mi minuten minutes",
	} {
		for _, n := range strings.Fields(names) {
			columnWords[n] = means
		}
	}
}

// unitEndings are units that names of columns end in, after a sign that divides words, longest first.
var unitEndings = []struct{ ending, unit string }{
	{"umolperkg", "umol/kg"}, {"umol_kg", "umol/kg"}, {"umolkg", "umol/kg"}, {"umol_l", "umol/l"}, {"umoll", "umol/l"},
	{"mmol_m3", "umol/l"}, {"ml_l", "ml/l"}, {"mll", "ml/l"},
	{"mg_l", "mg/l"}, {"mgl", "mg/l"}, {"ms_cm", "mS/cm"}, {"mscm", "mS/cm"}, {"s_m", "S/m"}, {"sm", "S/m"},
	{"deg_c", "degC"}, {"degc", "degC"}, {"its90", "ITS-90"}, {"its_90", "ITS-90"},
	{"ipts68", "IPTS-68"}, {"t68", "IPTS-68"}, {"degf", "degF"}, {"dbar", "dbar"}, {"db", "dbar"}, {"kpa", "kPa"},
	{"mpa", "MPa"}, {"bar", "bar"}, {"psu", "PSU"}, {"pss78", "PSS-78"},
	{"metres", "m"}, {"meters", "m"}, {"mg_m3", "mg/m^3"}, {"mgm3", "mg/m^3"}, {"ug_l", "mg/m^3"}, {"ugl", "mg/m^3"},
	{"percent", "percent"}, {"pct", "percent"}, {"utc", ""}, {"c", "degC"}, {"m", "m"}, {"v", "V"},
}

// stems are beginnings of names that are not in the list.
var stems = []struct{ begins, means string }{{"pres", "pres"}, {"temp", "temp"}, {"sal", "psal"}, {"cond", "cond"},
	{"oxyg", "oxy"}, {"fluo", "fluor"}, {"chlor", "chl"},
	{"turb", "turb"}, {"latit", "latitude"}, {"longit", "longitude"}}

// meaningOf returns what a column of a name means, and the unit that the name says; "" when the name is not known.
func meaningOf(name string) (means, unit string) {
	if m, ok := columnWords[word(name)]; ok {
		return m, ""
	}
	low := strings.ToLower(strings.NewReplacer("µ", "u", "μ", "u", "°", "deg", "/", "_", "-", "_", " ", "_", ".",
		"_").Replace(name))
	for _, u := range unitEndings {
		if base, ok := strings.CutSuffix(low, u.ending); ok && strings.HasSuffix(base, "_") {
			if m, ok := columnWords[word(base)]; ok {
				return m, u.unit
			}
		}
	}
	for _, number := range []string{"1", "01", "00", "0"} { // the first of several sensors
		if base, ok := strings.CutSuffix(word(name), number); ok && len(base) > 1 {
			if m, ok := columnWords[base]; ok {
				return m, ""
			}
		}
	}
	for _, stem := range stems {
		if w := word(name); strings.HasPrefix(w, stem.begins) && len(w) <= 14 {
			return stem.means, ""
		}
	}
	parts := strings.FieldsFunc(low, func(r rune) bool { return r == '_' })
	for _, p := range parts { // a known word among others, such as CTD_pressure_raw
		if m, ok := columnWords[word(p)]; ok && len(p) > 2 {
			return m, ""
		}
	}
	return "", ""
}

var flagName = regexp.MustCompile(
	`(?i)(^|[^a-z])(q|qf|qc|qv|qual|quality|qualt|flag|flags|flg|fl|quality_flag|woce)([^a-z]|$)|flag$|^qf|^qc|_qc$|_qf$|^q[_.]|[_.]q$|^qual`)

// isFlagName reports whether a name is one of flags.
func isFlagName(name string) bool {
	return flagName.MatchString(strings.ReplaceAll(name, "_", " ")) || flagName.MatchString(name)
}

var flagParts = regexp.MustCompile(
	`(?i)quality|flags?|flg|qualt?\d?|woce|qf|qc|qv|[_. :\-]+q$|^q[_. :\-]+|_w$|[_. :\-]+`)

// flagOf returns the name of the column that a name of flags belongs to, without what says that they are flags.
func flagOf(name string) string { return word(flagParts.ReplaceAllString(name, " ")) }
