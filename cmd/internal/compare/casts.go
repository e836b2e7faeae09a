package compare

import (
	"strconv"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

const stationsTable = "tables/stations.csv"

// Casts is what differs in the list of casts.
type Casts struct {
	Added      []CastRef    `json:"added,omitempty"`
	Removed    []CastRef    `json:"removed,omitempty"`
	Renumbered []Renumbered `json:"renumbered,omitempty"`
	// casts in one archive that the other left out, or left out for another reason
	LeftOut []LeftOut `json:"left_out,omitempty"`
}

// CastRef names a cast and the file that it was read from.
type CastRef struct {
	Cast string `json:"cast"`
	File string `json:"file"`
}

// Renumbered is a cast that has another identity in the new archive.
type Renumbered struct {
	Old string `json:"old"`
	New string `json:"new"`
	By  string `json:"recognised_by"` // file and checksum, or time and position
}

// LeftOut is a file or cast whose reason to be left out is not the same; "" where it is not left out.
type LeftOut struct {
	Name string `json:"name"`
	Old  string `json:"old_reason"`
	New  string `json:"new_reason"`
}

// Moved is a cast whose position differs.
type Moved struct {
	Cast string     `json:"cast"`
	Old  [2]float64 `json:"old_lat_lon"`
	New  [2]float64 `json:"new_lat_lon"`
	Km   float64    `json:"km"`
}

// Entry is a cell of the list of casts that differs.
type Entry struct {
	Cast string `json:"cast"`
	What string `json:"what"`
	Old  string `json:"old"`
	New  string `json:"new"`
}

// casts compares the lists of casts. A cast is recognised by file and checksum where no other cast has these, then by
// its identity, then by time and position.
func (r *Report) casts(a, b *archive.Archive) error {
	x, err := ledgerOf(a)
	if err != nil {
		return err
	}
	y, err := ledgerOf(b)
	if err != nil {
		return err
	}
	r.Old.Casts, r.Old.LeftOut, r.New.Casts, r.New.LeftOut = len(x.kept), len(x.out), len(y.kept), len(y.out)
	mate := map[int]int{} // row of x to row of y
	taken := map[int]bool{}
	how := map[int]string{}
	match := func(by string, key func(t *archive.Table, row []string) string) {
		count, place := map[string]int{}, map[string]int{}
		for j, row := range y.kept {
			if k := key(y.table, row); k != "" && !taken[j] {
				count[k]++
				place[k] = j
			}
		}
		mine := map[string]int{}
		for i, row := range x.kept {
			if _, ok := mate[i]; !ok {
				mine[key(x.table, row)]++
			}
		}
		for i, row := range x.kept {
			k := key(x.table, row)
			if _, ok := mate[i]; ok || k == "" || count[k] != 1 || mine[k] != 1 {
				continue
			}
			mate[i], taken[place[k]], how[i] = place[k], true, by
		}
	}
	match("file and checksum", func(t *archive.Table, row []string) string {
		if t.Get(row, "sha256") == "" {
			return ""
		}
		return t.Get(row, "sha256") + " " + t.Get(row, "file")
	})
	match("checksum", func(t *archive.Table, row []string) string { return t.Get(row, "sha256") })
	match("identity", func(t *archive.Table, row []string) string { return t.Get(row, "cast_id") })
	match("time and position", func(t *archive.Table, row []string) string {
		if t.Get(row, "time_utc") == "" {
			return ""
		}
		return t.Get(row, "time_utc") + " " + t.Get(row, "latitude_deg") + " " + t.Get(row, "longitude_deg")
	})
	for i, row := range x.kept {
		j, ok := mate[i]
		id := x.table.Get(row, "cast_id")
		if !ok {
			r.Casts.Removed = append(r.Casts.Removed, CastRef{id, x.table.Get(row, "file")})
			continue
		}
		other := y.kept[j]
		if now := y.table.Get(other, "cast_id"); now != id {
			r.Casts.Renumbered = append(r.Casts.Renumbered, Renumbered{Old: id, New: now, By: how[i]})
			r.renumbering[id] = now
		}
		r.entries(x.table, y.table, row, other)
	}
	for j, row := range y.kept {
		if !taken[j] {
			r.Casts.Added = append(r.Casts.Added, CastRef{y.table.Get(row, "cast_id"), y.table.Get(row, "file")})
		}
	}
	r.leftOut(x, y)
	return nil
}

// ledger is the list of casts of an archive.
type ledger struct {
	table     *archive.Table
	kept, out [][]string
}

func ledgerOf(a *archive.Archive) (*ledger, error) {
	t, err := a.Table(stationsTable)
	if err != nil {
		return nil, err
	}
	l := &ledger{table: t}
	for _, row := range t.Rows {
		if t.Get(row, "left_out") != "" {
			l.out = append(l.out, row)
		} else {
			l.kept = append(l.kept, row)
		}
	}
	return l, nil
}

// entries compares what the two lists say of one cast.
func (r *Report) entries(x, y *archive.Table, old, now []string) {
	id := y.Get(now, "cast_id")
	at := func(t *archive.Table, row []string) (p orb.Point, ok bool) {
		lat, err := strconv.ParseFloat(t.Get(row, "latitude_deg"), 64)
		lon, err2 := strconv.ParseFloat(t.Get(row, "longitude_deg"), 64)
		return orb.Point{lon, lat}, err == nil && err2 == nil
	}
	p, ok := at(x, old)
	q, ok2 := at(y, now)
	if ok && ok2 && p != q {
		m, _, _ := section.Geodesic(p, q)
		r.Positions = append(r.Positions, Moved{id, [2]float64{p[1], p[0]}, [2]float64{q[1], q[0]}, m / 1000})
	}
	for _, column := range x.Head {
		switch column {
		case "cast_id", "expocode", "station", "cast":
			continue // said as renumbered
		case "latitude_deg", "longitude_deg":
			if ok && ok2 {
				continue
			}
		}
		if a, b := x.Get(old, column), y.Get(now, column); a != b {
			r.Ledger = append(r.Ledger, Entry{id, column, a, b})
		}
	}
}

func (r *Report) leftOut(x, y *ledger) {
	reasons := func(l *ledger) (m map[string]string, names []string) {
		m = map[string]string{}
		for _, row := range l.out {
			n := l.table.Get(row, "file")
			if id := l.table.Get(row, "cast_id"); id != "" {
				n += " (cast " + id + ")"
			}
			m[n] = l.table.Get(row, "left_out")
			names = append(names, n)
		}
		return m, names
	}
	old, names := reasons(x)
	now, more := reasons(y)
	for _, n := range names {
		if old[n] != now[n] {
			r.Casts.LeftOut = append(r.Casts.LeftOut, LeftOut{n, old[n], now[n]})
		}
	}
	for _, n := range more {
		if _, ok := old[n]; !ok {
			r.Casts.LeftOut = append(r.Casts.LeftOut, LeftOut{n, "", now[n]})
		}
	}
}
