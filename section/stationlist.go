package section

// A StationList is a parsed list of stations in the notation of the cruise file, in the order written.
type StationList struct {
	Items []StationRange
	Text  string // as written
}

// A StationRange is one station (To == "") or a run of stations in natural order, from From to To inclusive (descending when From
// comes after To). Cast chooses one cast of the station ("" any).
type StationRange struct {
	From, To string
	Cast     string
}
