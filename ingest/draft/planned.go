package draft

import (
	"path"

	"github.com/castwright/castwright/ingest"
)

// Planned drafts the cruise file of a cruise that has no cast yet, from its planned stations in their order: sections
// where the plan neither jumps nor turns, and the folder where the casts will be.
func Planned(planned []ingest.StationEntry, folder string) *Draft {
	w := &writer{}
	var stops []*stop
	for i := range planned {
		stops = append(stops, &stop{station: planned[i].Station, at: planned[i].At})
	}
	w.line(0,
		"# A draft made from %d planned stations, before the first cast. Every line that ends in \"# fill in\" needs a value;",
		len(planned))
	w.line(0,
		"# castwright help cruise-file explains every key. Put the casts into the folder under sources, and build as often as you like.")
	w.line(0, "cruise:")
	w.ask(1, "id", "short name of the cruise for files, letters, digits and -, such as saltmarten-2026-05")
	w.line(1, "ships:")
	w.ask(2, "- name", "name of the ship, such as RV Saltmarten")
	w.line(1, "legs:")
	w.ask(2, "- expocode", "ship code and day of departure, such as ZZSM20260504")
	w.line(3, "chief_scientist:")
	w.ask(4, "name", "who led the leg, such as Ragna Holm")
	w.line(0, "release:")
	w.line(1,
		"status: underway  # stations that are still to come are notes; change it to final when the cruise is over")
	w.ask(1, "licence", "terms of use, such as CC-BY-4.0 or CC0-1.0")
	w.ask(1, "contact", "address for questions about the data, such as data@example.org")
	w.line(0, "systems:")
	w.line(1, "- label: main")
	w.line(2, "bin:")
	w.ask(3, "width", "width of the pressure bins in dbar, such as 2")
	w.ask(3, "label", "pressure that is written for a bin: centre, top or bottom")
	w.line(0, "casts:")
	w.line(1, "sources:")
	w.line(2, "- %s", quoted(path.Clean(folder)))
	w.ask(1, "time", "what the time of a cast is the time of: start, bottom or end")
	w.ask(1, "depth", "how the water depth was found, such as echo sounder")
	d := &drafter{}
	d.sectionsOf(w, stops, true)
	return &Draft{Text: []byte(w.String()), Questions: w.questions}
}
