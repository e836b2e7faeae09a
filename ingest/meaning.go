package ingest

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// meanings finds what each column is: flags of another column, a variable of the table, or a column carried through as
// it is.
func (b *builder) meanings(line, unitLine int, at []int) {
	taken := map[string]bool{}
	byName := map[string]int{}
	// Exact names come first, so that a column under an old name beside the right one does not push it out.
	for pass := range 2 {
		for i := range b.field {
			f := &b.field[i]
			if isFlagName(f.raw) || f.variable.Name != "" {
				continue
			}
			if name := metadata.ExchangeName(f.raw, b.bottle); b.bottle && identification(name) {
				if (pass == 1 || name == f.raw) && !taken[name] {
					taken[name] = true
					f.ident, f.kind, f.known, f.variable.Name = name, texts, true, name
					if pass == 1 {
						b.warn(metadata.Note, "exchange.column_alias", name, line, at[i]+1, "", "column %s read as %s",
							f.raw, name)
					}
				}
				continue
			}
			v, ok := b.alias(f, unitLine)
			listed := metadata.ExchangeName(f.raw, b.bottle)
			if !ok && (pass == 1 || listed == f.raw) {
				v, ok = b.listed(f, listed, line, unitLine, at[i]+1, taken)
			}
			if !ok || taken[v.Name] {
				continue
			}
			if v.Exchange != f.raw && b.has(v.Exchange, i) {
				// another column has that name: in a file of ours they could not be told apart
				continue
			}
			f.variable, f.known = v, true
			taken[v.Name] = true
			if sensor := strings.TrimSuffix(v.Name, "_bottle"); !b.bottle && sensor != v.Name && f.alias == nil {
				w := b.warn(metadata.Warning, "exchange.bottle_column", v.Name, line, at[i]+1, "",
					"column %s is that of water samples, in a CTD file; kept as %s", f.raw, v.Name)
				w.Options = []metadata.Option{{Text: "if it is of the sensor, say so",
					Paste: metadata.Alias(f.raw, "", map[string]string{"salt": "psal", "oxy": "oxy"}[sensor])}}
			}
			if pass == 1 {
				b.warn(metadata.Note, "exchange.column_alias", v.Name, line, at[i]+1, "", "column %s read as %s", f.raw,
					v.Exchange)
			}
		}
	}
	b.aliasConflicts()
	for i := range b.field {
		f := &b.field[i]
		if f.alias != nil && f.known && b.o.Used != nil {
			b.o.Used(f.aliasNo)
		}
		if isFlagName(f.raw) {
			continue
		}
		byName[f.raw] = i
		if !f.known {
			b.unlisted(f, line, at[i]+1, taken)
		}
	}
	for i := range b.field {
		if f := &b.field[i]; f.ident != "" {
			byName[f.ident] = i
		} else if f.known && f.variable.Exchange != "" {
			if _, there := byName[f.variable.Exchange]; !there {
				byName[f.variable.Exchange] = i
			}
		}
	}
	b.flagColumns(line, at, byName, taken)
}

// aliasConflicts is an error for each column that the cruise file calls a variable which another column is.
func (b *builder) aliasConflicts() {
	for i := range b.field {
		f := &b.field[i]
		if f.alias == nil || f.known {
			continue
		}
		a := f.alias
		v, ok := metadata.ByName(a.Means)
		other := slices.IndexFunc(b.field, func(g field) bool {
			return g.known && g.variable.Name == v.Name || g.raw == v.Exchange && v.Exchange != ""
		})
		if !ok || other < 0 { // no variable of that name: an error already
			continue
		}
		err := &metadata.InputError{Position: a.At,
			Err: fmt.Errorf("column %s cannot be %s: column %s is that already; the file is not read", f.raw, v.Name,
				b.field[other].raw), Remedy: "say of one of the two columns what it is"}
		if w, there := metadata.ByName(v.Name + "2"); there {
			err.Remedy, err.Options = "",
				[]metadata.Option{{Text: "when " + f.raw + " is of the second sensor, replace the alias",
					Paste: metadata.Alias(f.raw, a.Unit, w.Name)}}
		}
		b.errs = append(b.errs, err)
	}
}

// flagColumns joins WOCE flags to their columns: those of the listed name first, then those of the name as read.
func (b *builder) flagColumns(line int, at []int, byName map[string]int, taken map[string]bool) {
	for pass := range 2 {
		for i := range b.field {
			f := &b.field[i]
			base, woce := strings.CutSuffix(f.raw, "_FLAG_W")
			if !woce || f.of >= 0 {
				continue
			}
			j, ok := byName[base]
			if pass == 0 && ok && b.field[j].known && b.field[j].ident == "" && b.field[j].variable.Exchange != base {
				continue
			}
			if !ok && pass == 1 {
				j, ok = byName[metadata.ExchangeName(base, b.bottle)]
			}
			if ok && b.field[j].flagged < 0 && (b.field[j].kind == numbers && !isFlagName(b.field[j].raw) ||
				b.field[j].ident == "BTLNBR") {
				f.kind, f.of = flags, j
				b.field[j].flagged = i
			}
		}
	}
	for i := range b.field {
		f := &b.field[i]
		if !isFlagName(f.raw) || f.of >= 0 {
			continue
		}
		f.kind = texts
		base, woce := strings.CutSuffix(f.raw, "_FLAG_W")
		if !woce {
			f.variable = b.carried(f, taken)
			b.warn(metadata.Note, "exchange.flag_scheme", f.raw, line, at[i]+1, "",
				"column %s holds flags of another scheme; kept as text, not read as WOCE flags", f.raw)
			continue
		}
		b.warn(metadata.Warning, "exchange.flag_column", f.raw, line, at[i]+1, "",
			"column %s belongs to no column of numbers, or to one that has flags already; kept as text", f.raw)
		f.raw = b.flagsAsRead(base, i)
		f.variable = b.carried(f, taken)
	}
}

// flagsAsRead returns a name for the column i of flags that belong to no column of numbers: none that ends in _FLAG_W,
// since in the format such a column must belong to another.
func (b *builder) flagsAsRead(base string, i int) string {
	name := base + "_FLAG_AS_READ"
	for b.has(name, i) {
		base += "_2"
		name = base + "_FLAG_AS_READ"
	}
	return name
}

func (b *builder) has(raw string, but int) bool {
	for i := range b.field {
		if i != but && b.field[i].raw == raw {
			return true
		}
	}
	return false
}

// isFlagName reports whether a name is that of a column of flags, WOCE ones or of another scheme.
func isFlagName(s string) bool {
	return strings.HasSuffix(s, "_FLAG_W") || strings.HasSuffix(s, "_FLAG_I") || strings.HasSuffix(s, "_FLAG_U") ||
		strings.HasSuffix(s, "_FLAG_AS_READ") || s == "QUALT1" || s == "QUALT2"
}
