package metadata

import "strings"

// L20Flag is a SeaDataNet measurand qualifier flag (NVS vocabulary L20). The numbers are the characters' values for
// digits 0 to 9, and the characters themselves for the letters.
type L20Flag uint8

// Meanings of L20.
const (
	L20NoQualityControl    L20Flag = 0
	L20Good                L20Flag = 1
	L20ProbablyGood        L20Flag = 2
	L20ProbablyBad         L20Flag = 3
	L20Bad                 L20Flag = 4
	L20Changed             L20Flag = 5
	L20BelowDetection      L20Flag = 6
	L20InExcess            L20Flag = 7
	L20Interpolated        L20Flag = 8
	L20Missing             L20Flag = 9
	L20Uncertain           L20Flag = 'A' // value phenomenon uncertain
	L20BelowQuantification L20Flag = 'Q'
	L20Nominal             L20Flag = 'B' // unverified
)

// L34Flag is an IODE primary flag (NVS vocabulary L34; UNESCO Manuals and Guides 54, volume 3, 2013). It has no 0.
type L34Flag uint8

// Meanings of L34.
const (
	L34Good         L34Flag = 1
	L34NotEvaluated L34Flag = 2 // not evaluated, not available or unknown
	L34Questionable L34Flag = 3
	L34Bad          L34Flag = 4
	L34Missing      L34Flag = 9
)

// A FlagCode is one flag of a scheme.
type FlagCode[F ~uint8] struct {
	Flag    F
	Symbol  byte   // as files write it: a digit or a letter
	Word    string // for flag_meanings; our own short form
	Meaning string // in words, as the scheme's description says
	// false: read, never written (historic, undefined for the kind of data, or a letter, which no byte variable holds)
	Written bool
}

// A FlagScheme is one published set of flags. Each has flags of its own type, so that one set's digits cannot be taken
// for another's.
type FlagScheme[F ~uint8] struct {
	Name   string
	Source string
	Codes  []FlagCode[F] // in the order of their symbols
}

// The schemes. Meanings are facts taken from the exchange-format description (WOCE sets) and the flag vocabularies
// (L20, L34).
var (
	// WOCECTD is the set of CTD* parameters, also in bottle files (exchange CTD*_FLAG_W).
	WOCECTD = FlagScheme[Flag]{"WOCE CTD", "exchange-format description, WOCE CTD quality codes", []FlagCode[Flag]{
		{NotCalibrated, '1', NotCalibrated.String(), "not calibrated", true},
		{Acceptable, '2', Acceptable.String(), "acceptable measurement", true},
		{Questionable, '3', Questionable.String(), "questionable measurement", true},
		{Bad, '4', Bad.String(), "bad measurement", true},
		{NotReported, '5', NotReported.String(), "not reported", true},
		{Interpolated, '6', Interpolated.String(), "interpolated over a pressure interval larger than 2 dbar", true},
		{Despiked, '7', Despiked.String(), "despiked", true},
		{NotUsed, '8', NotUsed.String(), "not used for CTD data", false},
		{NotSampled, '9', NotSampled.String(), "not sampled", true},
	}}
	// WOCESample is the set of discrete parameters in bottle files.
	WOCESample = FlagScheme[SampleFlag]{"WOCE water sample",
		"exchange-format description, WOCE water sample quality codes", []FlagCode[SampleFlag]{
			{SampleDrawn, '1', SampleDrawn.String(), "drawn, analysis not received", true},
			{SampleAcceptable, '2', SampleAcceptable.String(), "acceptable measurement", true},
			{SampleQuestionable, '3', SampleQuestionable.String(), "questionable measurement", true},
			{SampleBad, '4', SampleBad.String(), "bad measurement", true},
			{SampleNotReported, '5', SampleNotReported.String(), "not reported", true},
			{SampleMean, '6', SampleMean.String(), "mean of replicates", true},
			{SampleManualPeak, '7', SampleManualPeak.String(), "manual chromatographic peak measurement", true},
			{SampleIrregular, '8', SampleIrregular.String(), "irregular digital chromatographic peak integration",
				true},
			{SampleNotDrawn, '9', SampleNotDrawn.String(), "sample not drawn for this measurement from this bottle",
				true},
		}}
	// WOCEBottle is the set of the bottle itself (BTLNBR_FLAG_W).
	WOCEBottle = FlagScheme[BottleFlag]{"WOCE bottle", "exchange-format description, WOCE bottle quality codes",
		[]FlagCode[BottleFlag]{
			{BottleNoInformation, '1', BottleNoInformation.String(), "bottle information unavailable", true},
			{BottleNoProblem, '2', BottleNoProblem.String(), "no problems noted", true},
			{BottleLeaking, '3', BottleLeaking.String(), "leaking", true},
			{BottleDidNotTrip, '4', BottleDidNotTrip.String(), "did not trip correctly", true},
			{BottleNotReported, '5', BottleNotReported.String(), "not reported", true},
			{BottleDiscrepancy, '6', BottleDiscrepancy.String(),
				"Gerard and Niskin values differ significantly (historic)",
				true},
			{BottleUnknownProblem, '7', BottleUnknownProblem.String(), "unknown problem (historic)", true},
			{BottlePair, '8', BottlePair.String(),
				"pair did not trip correctly, one may have tripped at another depth (historic)", true},
			{BottleNoSamples, '9', BottleNoSamples.String(), "no samples drawn from this bottle", true},
		}}
	// SeaDataNet is L20. Its letters are read and never written: no byte variable holds them.
	SeaDataNet = FlagScheme[L20Flag]{"SeaDataNet L20", "NVS vocabulary L20, SeaDataNet measurand qualifier flags",
		[]FlagCode[L20Flag]{
			{L20NoQualityControl, '0', "no_quality_control", "no quality control", true},
			{L20Good, '1', "good_value", "good value", true},
			{L20ProbablyGood, '2', "probably_good_value", "probably good value", true},
			{L20ProbablyBad, '3', "probably_bad_value", "probably bad value", true},
			{L20Bad, '4', "bad_value", "bad value", true},
			{L20Changed, '5', "changed_value", "changed value", true},
			{L20BelowDetection, '6', "value_below_detection", "value below detection", true},
			{L20InExcess, '7', "value_in_excess", "value in excess", true},
			{L20Interpolated, '8', "interpolated_value", "interpolated value", true},
			{L20Missing, '9', "missing_value", "missing value", true},
			{L20Uncertain, 'A', "value_phenomenon_uncertain", "value phenomenon uncertain", false},
			{L20Nominal, 'B', "nominal_value", "nominal value (unverified)", false},
			{L20BelowQuantification, 'Q', "value_below_limit_of_quantification", "value below limit of quantification",
				false},
		}}
	// IODE is the primary set L34.
	IODE = FlagScheme[L34Flag]{"IODE L34", "UNESCO Manuals and Guides 54, volume 3 (2013), primary level flags",
		[]FlagCode[L34Flag]{
			{L34Good, '1', "good", "good", true},
			{L34NotEvaluated, '2', "not_evaluated_not_available_or_unknown", "not evaluated, not available or unknown",
				true},
			{L34Questionable, '3', "questionable_or_suspect", "questionable or suspect", true},
			{L34Bad, '4', "bad", "bad", true},
			{L34Missing, '9', "missing_data", "missing data", true},
		}}
)

// Code finds a flag by the character that files write for it.
func (s *FlagScheme[F]) Code(symbol byte) (FlagCode[F], bool) {
	for _, c := range s.Codes {
		if c.Symbol == symbol {
			return c, true
		}
	}
	return FlagCode[F]{}, false
}

// Flag gives the flag that files write as symbol; false when the scheme has none.
func (s *FlagScheme[F]) Flag(symbol byte) (F, bool) {
	c, ok := s.Code(symbol)
	return c.Flag, ok
}

// Symbol gives the character that files write for a flag; false when the scheme has none (not evaluated, in the WOCE
// sets).
func (s *FlagScheme[F]) Symbol(f F) (byte, bool) {
	for _, c := range s.Codes {
		if c.Flag == f {
			return c.Symbol, true
		}
	}
	return 0, false
}

// CF gives the attributes flag_values (for a variable of type byte) and flag_meanings (words with blanks between) of
// the flags that may be written. notEvaluated puts our 0, not_evaluated, in front, for a WOCE variable in which some
// values were not evaluated (flags.md); a scheme with a 0 of its own keeps it.
func (s *FlagScheme[F]) CF(notEvaluated bool) (values []int8, meanings string) {
	var words []string
	if notEvaluated && (len(s.Codes) == 0 || s.Codes[0].Symbol != '0') {
		values, words = append(values, 0), append(words, NotEvaluated.String())
	}
	for _, c := range s.Codes {
		if c.Written {
			values, words = append(values, int8(c.Flag)), append(words, c.Word)
		}
	}
	return values, strings.Join(words, " ")
}
