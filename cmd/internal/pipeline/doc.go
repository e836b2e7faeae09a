// Package pipeline holds the order of the steps. Each step takes the value that the step before it returned, so that
// none can be called too early:
//
//	run      the plan, and what is found on the way
//	inputs   the cruise file and everything that it names, as read: readInputs
//	survey   the casts in their place, edited, with sections and fields: inputs.survey, then derive, flows and grids
//	archive  the archive while it is written: survey.write
//
// It is the only package that opens inputs and runs work side by side. Workers fill slots that belong to their input,
// so the order of everything that follows is that of the inputs, whatever ran first.
package pipeline
