package metadata

// Mapping of WOCE flags to the flags of other schemes: our own choice, no official table was found. It loses meanings:
// each function says which, in a note for history ("" when the meaning is kept). valuePresent says whether there is a
// value beside the flag.

// Notes of the mappings.
const (
	noteLostOne    = "not calibrated (1) cannot be said; the WOCE flag stands beside it"
	noteNoThree    = "questionable (3) became probably bad: L20 has no questionable"
	noteFive       = "not reported (5) cannot be told from not sampled (9)"
	noteFiveValue  = "flagged not reported (5) although there is a value: taken as not evaluated"
	noteSix        = "interpolated over more than 2 dbar (6) became interpolated, whatever the interval"
	noteSixGood    = "interpolated (6) cannot be said; it became good"
	noteSixCareful = "interpolated (6) cannot be said; it became questionable"
	noteSeven      = "despiked (7) became changed"
	noteSevenGood  = "despiked (7) cannot be said; it became good"
	noteEight      = "8 is not used for CTD data: taken as not evaluated"
)

// L20 gives the SeaDataNet flag.
func (f Flag) L20(valuePresent bool) (flag L20Flag, note string) {
	switch f {
	case NotEvaluated:
		return L20NoQualityControl, ""
	case NotCalibrated:
		return L20NoQualityControl, noteLostOne
	case Acceptable:
		return L20Good, ""
	case Questionable:
		return L20ProbablyBad, noteNoThree
	case Bad:
		return L20Bad, ""
	case NotReported:
		if valuePresent {
			return L20NoQualityControl, noteFiveValue
		}
		return L20Missing, noteFive
	case Interpolated:
		return L20Interpolated, noteSix
	case Despiked:
		return L20Changed, noteSeven
	case NotSampled:
		return L20Missing, ""
	}
	return L20NoQualityControl, noteEight
}

// L34 gives the IODE flag. careful makes interpolated values questionable instead of good, as a strict user may prefer.
func (f Flag) L34(valuePresent, careful bool) (flag L34Flag, note string) {
	switch f {
	case NotEvaluated:
		return L34NotEvaluated, ""
	case NotCalibrated:
		return L34NotEvaluated, noteLostOne
	case Acceptable:
		return L34Good, ""
	case Questionable:
		return L34Questionable, ""
	case Bad:
		return L34Bad, ""
	case NotReported:
		if valuePresent {
			return L34NotEvaluated, noteFiveValue
		}
		return L34Missing, noteFive
	case Interpolated:
		if careful {
			return L34Questionable, noteSixCareful
		}
		return L34Good, noteSixGood
	case Despiked:
		return L34Good, noteSevenGood
	case NotSampled:
		return L34Missing, ""
	}
	return L34NotEvaluated, noteEight
}

// CTD gives the WOCE CTD flag of an L20 flag, for reading other centres' files when WOCE flags are asked. outOfRange is
// the flag for values below detection and in excess: Questionable (the usual choice) or Bad.
func (f L20Flag) CTD(outOfRange Flag) (flag Flag, note string) {
	switch f {
	case L20NoQualityControl:
		return NotEvaluated, ""
	case L20Good:
		return Acceptable, ""
	case L20ProbablyGood:
		return Acceptable, "probably good became acceptable"
	case L20ProbablyBad:
		return Questionable, "probably bad became questionable"
	case L20Bad:
		return Bad, ""
	case L20Changed:
		return Despiked, "changed became despiked, whatever the change was"
	case L20BelowDetection, L20InExcess:
		return outOfRange, "below detection or in excess became " + outOfRange.String()
	case L20Interpolated:
		return Interpolated, "interpolated became interpolated over more than 2 dbar, whatever the interval"
	case L20Missing:
		return NotSampled, "missing became not sampled; it may have been not reported"
	}
	return NotEvaluated, "a letter flag was taken as not evaluated"
}

// CTD gives the WOCE CTD flag of an L34 flag.
func (f L34Flag) CTD() (flag Flag, note string) {
	switch f {
	case L34Good:
		return Acceptable, ""
	case L34Questionable:
		return Questionable, ""
	case L34Bad:
		return Bad, ""
	case L34Missing:
		return NotSampled, "missing became not sampled; it may have been not reported"
	}
	return NotEvaluated, ""
}

// L20 gives the SeaDataNet flag of a water sample.
func (f SampleFlag) L20() (flag L20Flag, note string) {
	switch f {
	case SampleAcceptable:
		return L20Good, ""
	case SampleQuestionable:
		return L20ProbablyBad, noteNoThree
	case SampleBad:
		return L20Bad, ""
	case SampleNotReported:
		return L20Missing, "not reported (5) cannot be told from not drawn (9)"
	case SampleMean:
		return L20Good, "mean of replicates (6) cannot be said; it became good"
	case SampleManualPeak:
		return L20Good, "manual peak (7) cannot be said; it became good"
	case SampleIrregular:
		return L20ProbablyBad, "irregular peak integration (8) cannot be said; it became probably bad"
	case SampleNotDrawn:
		return L20Missing, ""
	case SampleDrawn:
		return L20NoQualityControl, "drawn, analysis not received (1) cannot be said"
	}
	return L20NoQualityControl, ""
}

// L34 gives the IODE flag of a water sample.
func (f SampleFlag) L34() (flag L34Flag, note string) {
	switch f {
	case SampleAcceptable:
		return L34Good, ""
	case SampleQuestionable:
		return L34Questionable, ""
	case SampleBad:
		return L34Bad, ""
	case SampleNotReported:
		return L34Missing, "not reported (5) cannot be told from not drawn (9)"
	case SampleMean:
		return L34Good, "mean of replicates (6) cannot be said; it became good"
	case SampleManualPeak:
		return L34Good, "manual peak (7) cannot be said; it became good"
	case SampleIrregular:
		return L34Questionable, "irregular peak integration (8) cannot be said; it became questionable"
	case SampleNotDrawn:
		return L34Missing, ""
	case SampleDrawn:
		return L34NotEvaluated, "drawn, analysis not received (1) cannot be said"
	}
	return L34NotEvaluated, ""
}
