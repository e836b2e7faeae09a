package metadata

// Flag is the meaning of a quality flag of a continuous (CTD) measurement: the WOCE CTD set and NotEvaluated. Digits
// are given to it only at the edges, by a scheme. The zero value makes no claim. Bottle and sample sets use the digits
// otherwise and have types of their own. Source: exchange-format description, WOCE CTD quality codes.
type Flag uint8

// Meanings of the WOCE CTD set. The numbers are those of the set; 0 is our NotEvaluated.
const (
	NotEvaluated  Flag = 0 // no one has evaluated the value
	NotCalibrated Flag = 1
	Acceptable    Flag = 2
	Questionable  Flag = 3
	Bad           Flag = 4
	NotReported   Flag = 5
	Interpolated  Flag = 6 // over a pressure interval larger than 2 dbar
	Despiked      Flag = 7
	NotUsed       Flag = 8 // "not used for CTD data": should not occur; kept apart when read
	NotSampled    Flag = 9
)

var flagWords = [...]string{
	"not_evaluated", "not_calibrated", "acceptable", "questionable", "bad", "not_reported",
	"interpolated_over_more_than_2_dbar", "despiked", "not_used", "not_sampled",
}

// String returns the flag_meanings word.
func (f Flag) String() string {
	if int(f) < len(flagWords) {
		return flagWords[f]
	}
	return "unknown"
}

// FlagMeanings returns the meanings of the flags 1 to 9 in the words of the set; the index is the flag, and 0 has none.
func FlagMeanings() []string {
	return []string{"", "not calibrated", "acceptable measurement", "questionable measurement", "bad measurement",
		"not reported", "interpolated over a pressure interval larger than 2 dbar", "despiked", "not used for CTD data",
		"not sampled"}
}

// Usable reports whether a value with this flag enters derived fields: 2, 6, 7 and not evaluated always, 1 only when
// the cruise file declares uncalibrated values usable (reference: castwright flag rules, README).
func (f Flag) Usable(notCalibrated bool) bool {
	switch f {
	case Acceptable, Interpolated, Despiked, NotEvaluated:
		return true
	case NotCalibrated:
		return notCalibrated
	}
	return false
}

// worstRank orders flags for derived values, from worst to best 9 5 4 3 1 0 6 7 2; NotUsed ranks as NotReported.
var worstRank = [...]uint8{
	NotSampled: 9, NotReported: 8, NotUsed: 8, Bad: 7, Questionable: 6, NotCalibrated: 5, NotEvaluated: 4,
	Interpolated: 3, Despiked: 2, Acceptable: 1,
}

// Worse returns the worse of two flags in the order 9 > 5 > 4 > 3 > 1 > 0 > 6 > 7 > 2.
func Worse(a, b Flag) Flag {
	if worstRank[a] >= worstRank[b] {
		return a
	}
	return b
}
