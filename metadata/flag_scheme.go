package metadata

// A translation is the WOCE CTD flag of a flag of another set, and what the change loses; "" when nothing. No official
// table was found: the translations are ours. Sources of the sets: NVS vocabulary L20 (SeaDataNet measurand qualifier
// flags); NVS vocabulary L34, the primary flags of UNESCO Manuals and Guides 54, volume 3 (2013).
type translation struct {
	flag Flag
	note string
}

const missing = "missing became not sampled; it may have been not reported"

var fromL20 = map[byte]translation{
	'0': {NotEvaluated, ""},
	'1': {Acceptable, ""},
	'2': {Acceptable, "probably good became acceptable"},
	'3': {Questionable, "probably bad became questionable"},
	'4': {Bad, ""},
	'5': {Despiked, "changed became despiked, whatever the change was"},
	'6': {Questionable, "below detection or in excess became questionable"},
	'7': {Questionable, "below detection or in excess became questionable"},
	'8': {Interpolated, "interpolated became interpolated over more than 2 dbar, whatever the interval"},
	'9': {NotSampled, missing},
	'A': {NotEvaluated, "a letter flag was taken as not evaluated"}, // value phenomenon uncertain
	'B': {NotEvaluated, "a letter flag was taken as not evaluated"}, // nominal value
	'Q': {NotEvaluated, "a letter flag was taken as not evaluated"}, // value below limit of quantification
}

var fromL34 = map[byte]translation{
	'1': {Acceptable, ""},
	'2': {NotEvaluated, ""}, // not evaluated, not available or unknown
	'3': {Questionable, ""},
	'4': {Bad, ""},
	'9': {NotSampled, missing},
}

// FlagOfL20 returns the WOCE CTD flag of a flag of vocabulary L20 and a note of what its meaning lost; false when the
// vocabulary has no such flag.
func FlagOfL20(symbol byte) (Flag, string, bool) {
	t, ok := fromL20[symbol]
	return t.flag, t.note, ok
}

// FlagOfL34 returns the WOCE CTD flag of a flag of vocabulary L34, as FlagOfL20.
func FlagOfL34(symbol byte) (Flag, string, bool) {
	t, ok := fromL34[symbol]
	return t.flag, t.note, ok
}
