package compare

import (
	"maps"
	"slices"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
)

// Setting is a setting of a processing step that differs; "" where a step does not have it.
type Setting struct {
	Step string `json:"step"`
	Name string `json:"name"`
	Old  string `json:"old"`
	New  string `json:"new"`
}

// StepChange is a processing step that only one archive has.
type StepChange struct {
	Step string `json:"step"`
	Text string `json:"text"`
	What What   `json:"what"`
}

// settings compares the processing steps that the provenance records and the settings of each.
func (r *Report) settings(a, b *archive.Archive) error {
	x, err := a.Steps()
	if err != nil {
		return err
	}
	y, err := b.Steps()
	if err != nil {
		return err
	}
	used := make([]bool, len(y))
	mate := make([]int, len(x))
	for i := range x {
		mate[i] = -1
	}
	// a step is the same when name and text agree, else when name and files made agree, else when it is the only
	// one of its name that is left in both
	for _, same := range []func(s, t *archive.Step) bool{
		func(s, t *archive.Step) bool { return s.Text == t.Text },
		func(s, t *archive.Step) bool { return len(s.Outputs) > 0 && slices.Equal(s.Outputs, t.Outputs) },
		func(s, t *archive.Step) bool { return only(x, mate, s.Name) && onlyLeft(y, used, t.Name) },
	} {
		for i := range x {
			for j := range y {
				if mate[i] < 0 && !used[j] && x[i].Name == y[j].Name && same(&x[i], &y[j]) {
					mate[i], used[j] = j, true
				}
			}
		}
	}
	for i := range x {
		if mate[i] < 0 {
			r.Steps = append(r.Steps, StepChange{x[i].Name, x[i].Text, Removed})
			continue
		}
		t := &y[mate[i]]
		names := slices.Sorted(maps.Keys(x[i].Settings))
		for n := range t.Settings {
			if _, ok := x[i].Settings[n]; !ok {
				names = append(names, n)
			}
		}
		slices.Sort(names)
		title := x[i].Name
		if t.Text != "" {
			title += ": " + t.Text
		}
		for _, n := range names {
			if x[i].Settings[n] != t.Settings[n] {
				r.Settings = append(r.Settings, Setting{title, n, x[i].Settings[n], t.Settings[n]})
			}
		}
	}
	for j := range y {
		if !used[j] {
			r.Steps = append(r.Steps, StepChange{y[j].Name, y[j].Text, Added})
		}
	}
	if r.Old.Program != r.New.Program {
		r.Settings = append(r.Settings, Setting{"all", "program", r.Old.Program, r.New.Program})
	}
	return nil
}

func only(steps []archive.Step, mate []int, name string) bool {
	n := 0
	for i := range steps {
		if mate[i] < 0 && steps[i].Name == name {
			n++
		}
	}
	return n == 1
}

func onlyLeft(steps []archive.Step, used []bool, name string) bool {
	n := 0
	for i := range steps {
		if !used[i] && steps[i].Name == name {
			n++
		}
	}
	return n == 1
}

// inputs compares the inputs by name and checksum.
func (r *Report) inputs(a, b *archive.Archive) error {
	const rel = "inputs/inputs.csv"
	if !a.Has(rel) || !b.Has(rel) {
		return nil
	}
	x, err := a.Table(rel)
	if err != nil {
		return err
	}
	y, err := b.Table(rel)
	if err != nil {
		return err
	}
	sums := func(t *archive.Table) map[string]string {
		m := map[string]string{}
		for _, row := range t.Rows {
			m[t.Get(row, "name")] = t.Get(row, "sha256")
		}
		return m
	}
	old, now := sums(x), sums(y)
	for n, sum := range old {
		if other, ok := now[n]; !ok {
			r.Inputs = append(r.Inputs, FileChange{n, Removed})
		} else if sum != other {
			r.Inputs = append(r.Inputs, FileChange{n, Differs})
		}
	}
	for n := range now {
		if _, ok := old[n]; !ok {
			r.Inputs = append(r.Inputs, FileChange{n, Added})
		}
	}
	slices.SortFunc(r.Inputs, func(x, y FileChange) int { return strings.Compare(x.File, y.File) })
	return nil
}
