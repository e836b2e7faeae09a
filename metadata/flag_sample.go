package metadata

// SampleFlag is the meaning of a quality flag of a discrete parameter in a bottle file: the WOCE water sample set and
// one more. Its digits mean other things than those of Flag: hence a type of its own. Source: exchange-format
// description, WOCE water sample quality codes.
type SampleFlag uint8

// Meanings of the WOCE water sample set; 0 is our "not evaluated".
const (
	SampleNotEvaluated SampleFlag = 0
	SampleDrawn        SampleFlag = 1 // drawn, analysis not received
	SampleAcceptable   SampleFlag = 2
	SampleQuestionable SampleFlag = 3
	SampleBad          SampleFlag = 4
	SampleNotReported  SampleFlag = 5
	SampleMean         SampleFlag = 6 // mean of replicates
	SampleManualPeak   SampleFlag = 7 // manual chromatographic peak measurement
	SampleIrregular    SampleFlag = 8 // irregular digital chromatographic peak integration
	SampleNotDrawn     SampleFlag = 9 // not drawn for this measurement from this bottle
)

var sampleWords = [...]string{
	"not_evaluated", "drawn_analysis_not_received", "acceptable", "questionable", "bad", "not_reported",
	"mean_of_replicates",
	"manual_chromatographic_peak", "irregular_digital_peak_integration", "not_drawn",
}

// String returns the flag_meanings word.
func (f SampleFlag) String() string {
	if int(f) < len(sampleWords) {
		return sampleWords[f]
	}
	return "unknown"
}

// BottleFlag is the meaning of the quality flag of a bottle itself (BTLNBR_FLAG_W): the WOCE bottle set and one more.
// Source: exchange-format description, WOCE bottle quality codes.
type BottleFlag uint8

// Meanings of the WOCE bottle set; 0 is our "not evaluated".
const (
	BottleNotEvaluated   BottleFlag = 0
	BottleNoInformation  BottleFlag = 1
	BottleNoProblem      BottleFlag = 2
	BottleLeaking        BottleFlag = 3
	BottleDidNotTrip     BottleFlag = 4 // did not trip correctly
	BottleNotReported    BottleFlag = 5
	BottleDiscrepancy    BottleFlag = 6 // Gerard and Niskin values differ significantly (historic)
	BottleUnknownProblem BottleFlag = 7 // historic
	BottlePair           BottleFlag = 8 // pair did not trip correctly, one may have tripped at another depth (historic)
	BottleNoSamples      BottleFlag = 9 // no samples drawn from this bottle
)
