// Package pipeline knows the order of the steps: read the cruise file, read the casts, put each in its place, derive, assemble sections,
// write the archive. It is the only room that meets every other, opens inputs, and runs work side by side: workers fill slots that belong
// to their input, so the order of everything that follows is that of the inputs, whatever ran first.
package pipeline
