package report

import (
	"encoding/json"
	"math"
	"strconv"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// How much of a cast is shown around a proposal, and of how many proposals.
const (
	levelsAround   = 12  // levels above and below
	mostWindow     = 60  // points of a cast in the picture
	mostNeighbours = 2   // casts beside it
	mostPictured   = 400 // proposals with a picture
)

// proposalView is a proposal as the template writes it.
type proposalView struct {
	ID, Cast, Variable, Range, Check, Message string
	Flag                                      int
	Meaning                                   string
	Levels                                    int
}

// proposalData is a proposal as the script reads it: what a line of flag edits says, and the profile around it.
type proposalData struct {
	Expocode string        `json:"expocode"`
	Station  string        `json:"station"`
	Cast     string        `json:"cast"`
	Variable string        `json:"variable"`
	Title    string        `json:"title"`
	From     string        `json:"from"`
	To       string        `json:"to"`
	Flag     int           `json:"flag"`
	Check    string        `json:"check"`
	Keep     []flagRange   `json:"keep"`               // flags in force, for the lines that reject the proposal
	Profiles []profileData `json:"profiles,omitempty"` // of the cast, then of its neighbours
}

// A flagRange is consecutive levels with one flag.
type flagRange struct {
	From string `json:"from"`
	To   string `json:"to"`
	Flag int    `json:"flag"`
}

type profileData struct {
	Name   string        `json:"name"`
	P      []json.Number `json:"p"`
	V      []numeral     `json:"v"` // null where there is no value
	Inside []int         `json:"inside,omitempty"`
}

// addProposals adds the proposals and returns what the template writes of them.
func (d *data) addProposals(m *Material) []proposalView {
	var out []proposalView
	for i := range m.Proposals {
		p := &m.Proposals[i]
		col := p.Cast.Column(p.Variable)
		if col == nil {
			continue
		}
		x := proposalData{Expocode: p.Cast.Expocode, Station: p.Cast.Station, Cast: p.Cast.Number, Variable: p.Variable,
			Title: figure.NameText(&col.Variable), From: dbar(p.FromDbar), To: dbar(p.ToDbar), Flag: int(p.Flag),
			Check: p.Check, Keep: keep(p, col)}
		if u := figure.UnitText(&col.Variable); u != "1" {
			x.Title += " (" + u + ")"
		}
		if len(d.Proposals) < mostPictured {
			x.Profiles = d.around(m, p, col)
		}
		n := 0
		for _, v := range p.Cast.PressureDbar {
			if v >= p.FromDbar && v <= p.ToDbar {
				n++
			}
		}
		id := "proposal-" + strconv.Itoa(len(d.Proposals)+1)
		d.Proposals = append(d.Proposals, x)
		out = append(out, proposalView{ID: id, Cast: p.Cast.Station + "/" + p.Cast.Number,
			Variable: figure.NameText(&col.Variable), Range: rangeText(p), Check: p.Check, Message: p.Message,
			Flag: int(p.Flag), Meaning: d.Flags[p.Flag], Levels: n})
	}
	return out
}

// dbar writes a bound of pressure so that it reads back equal; "" for none.
func dbar(v float64) string {
	if math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func rangeText(p *Proposal) string {
	a, b := dbar(p.FromDbar), dbar(p.ToDbar)
	switch {
	case a == "" && b == "":
		return "all levels"
	case a == "":
		return "down to " + b + " dbar"
	case b == "":
		return "from " + a + " dbar down"
	case a == b:
		return a + " dbar"
	}
	return a + " to " + b + " dbar"
}

// keep lists the flags in force at the levels of a proposal that have a value, as ranges. A value that nobody evaluated
// is acceptable to the person who rejects the proposal.
func keep(p *Proposal, col *section.Column) []flagRange {
	out := []flagRange{}
	for i, v := range p.Cast.PressureDbar {
		if !(v >= p.FromDbar && v <= p.ToDbar) || i >= len(col.Values) || math.IsNaN(col.Values[i]) {
			continue
		}
		f := int(metadata.Acceptable)
		if i < len(col.Flags) && col.Flags[i] != metadata.NotEvaluated {
			f = int(col.Flags[i])
		}
		if n := len(out); n > 0 && out[n-1].Flag == f {
			out[n-1].To = dbar(v)
			continue
		}
		out = append(out, flagRange{dbar(v), dbar(v), f})
	}
	return out
}

// around returns the profile of a cast about the levels of a proposal, and those of its neighbours at these pressures.
func (d *data) around(m *Material, p *Proposal, col *section.Column) []profileData {
	k := p.Cast
	first, last := -1, -1
	for i, v := range k.PressureDbar {
		if v >= p.FromDbar && v <= p.ToDbar {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return nil
	}
	from, to := max(0, first-levelsAround), min(k.Levels()-1, last+levelsAround)
	own := profileOf(k, col, from, to)
	step := every(to-from+1, mostWindow)
	for n, i := 0, from; i <= to; n, i = n+1, i+step {
		if i >= first && i <= last {
			own.Inside = append(own.Inside, n)
		}
	}
	out := []profileData{own}
	top, bottom := k.PressureDbar[from], k.PressureDbar[to]
	for _, o := range neighbours(m, k, p.Variable) {
		a, b := -1, -1
		for i, v := range o.PressureDbar {
			if v >= top && v <= bottom {
				if a < 0 {
					a = i
				}
				b = i
			}
		}
		if a >= 0 {
			out = append(out, profileOf(o, o.Column(p.Variable), a, b))
		}
	}
	return out
}

// profileOf returns the levels from and to of a column, and some between.
func profileOf(k *section.Cast, col *section.Column, from, to int) profileData {
	out := profileData{Name: k.Station + "/" + k.Number}
	step := every(to-from+1, mostWindow)
	for i := from; i <= to; i += step {
		out.P = append(out.P, number(k.PressureDbar[i], 3))
		if v := col.Values[i]; math.IsNaN(v) {
			out.V = append(out.V, nothing)
		} else {
			out.V = append(out.V, numeral(number(v, 6)))
		}
	}
	return out
}

// neighbours returns the casts beside a cast in the ledger that have the variable: the one before and the one after.
func neighbours(m *Material, k *section.Cast, variable string) []*section.Cast {
	var casts []*section.Cast
	at := -1
	for i := range m.Stations {
		c := m.Stations[i].Cast
		if c == nil || m.Stations[i].LeftOut != "" || c.Column(variable) == nil || c.Column(variable).Values == nil {
			continue
		}
		if c == k {
			at = len(casts)
		}
		casts = append(casts, c)
	}
	var out []*section.Cast
	if at > 0 {
		out = append(out, casts[at-1])
	}
	if at >= 0 && at+1 < len(casts) {
		out = append(out, casts[at+1])
	}
	return out[:min(len(out), mostNeighbours)]
}
