package pipeline

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// pack packs n members side by side, each in its slot.
func (w *run) pack(ctx context.Context, n int, one func(p *export.Packer, i int) (export.ZipMember, error)) (
	[]export.ZipMember, error) {
	members := make([]export.ZipMember, n)
	packers := sync.Pool{New: func() any { return &export.Packer{} }}
	err := each(ctx, w.plan.Workers, n, func(i int) error {
		p := packers.Get().(*export.Packer)
		defer packers.Put(p)
		m, err := one(p, i)
		members[i] = m
		return err
	})
	return members, err
}

func (w *archive) writeZip(rel, what string, members []export.ZipMember) error {
	path, err := w.place(rel, what)
	if err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := export.WriteZip(f, members); err != nil {
		f.Close()
		return fmt.Errorf("%s: %w", rel, err)
	}
	return f.Close()
}

// writeExchange writes one bundle for each expocode, casts in the order of the archive. The wall time is told in two
// parts, text and zip, shared out by the time that workers spent on each.
func (w *archive) writeExchange(ctx context.Context) error {
	began := time.Now()
	var text, zip atomic.Int64
	buffers := sync.Pool{New: func() any { return new([]byte) }}
	names := export.ExchangeNames(w.casts)
	for from := 0; from < len(w.casts); {
		to := from
		for to < len(w.casts) && w.casts[to].Expocode == w.casts[from].Expocode {
			to++
		}
		casts, first := w.casts[from:to], from
		members, err := w.pack(ctx, len(casts), func(p *export.Packer, i int) (export.ZipMember, error) {
			t0 := time.Now()
			buf := buffers.Get().(*[]byte)
			defer buffers.Put(buf)
			b, err := export.AppendExchange((*buf)[:0], w.explained(casts[i]))
			if err != nil {
				return export.ZipMember{}, fmt.Errorf("%s: %w", casts[i].Source.Name, err)
			}
			*buf = b
			t1 := time.Now()
			m, err := p.Bytes(b, names[first+i], casts[i].Time)
			text.Add(int64(t1.Sub(t0)))
			zip.Add(int64(time.Since(t1)))
			return m, err
		})
		if err != nil {
			return err
		}
		rel := "casts/" + casts[0].Expocode + "_ct1.zip"
		if err := w.writeZip(rel, "The casts as exchange files (CSV), one for each cast, each number with the "+
			"decimals that it was read with.",
			members); err != nil {
			return err
		}
		w.record(metadata.Record{Step: "write", Text: "casts as exchange files", Inputs: w.castDigests(casts),
			Outputs: []string{rel}})
		from = to
	}
	if w.plan.Stage != nil {
		wall := time.Since(began)
		share := time.Duration(float64(wall) * float64(text.Load()) / float64(max(text.Load()+zip.Load(), 1)))
		w.plan.Stage("exchange text", share)
		w.plan.Stage("exchange zip", wall-share)
	}
	return nil
}

// explained returns a cast with comments that say what its exchange file has no header for: what TIME is the time of,
// how DEPTH was found (both as the format asks, exchange.md section 5), that it is an upcast. Comments that are there
// already are not said twice.
func (w *inputs) explained(k *section.Cast) *section.Cast {
	var say []string
	if k.TimeIs != section.TimeUnstated && !k.DateOnly {
		say = append(say, "# TIME is that of the "+k.TimeIs.String()+" of the cast")
	}
	if d := strings.Join(strings.Fields(w.cruise.Casts.DepthFound), " "); d != "" && !math.IsNaN(k.BottomM) {
		say = append(say, "# DEPTH: "+d)
	}
	if k.Direction == section.Up {
		say = append(say, "# upcast")
	}
	out := *k
	out.Comments = nil
	for _, s := range say {
		if !slices.ContainsFunc(k.Comments, func(c section.Comment) bool { return c.Text == s }) {
			out.Comments = append(out.Comments, section.Comment{Text: s, Place: section.InHead})
		}
	}
	out.Comments = append(out.Comments, k.Comments...)
	return &out
}

const (
	inputsZip   = "inputs/inputs.zip"
	inputsTable = "inputs/inputs.csv"
	copiedPlan  = "provenance/cruise.yaml"
)

// writeInputs keeps every input as it was, and a table that leads from the name in the cruise file to the member.
func (w *archive) writeInputs(ctx context.Context) error {
	data, err := regular.ReadFile(w.onDisk[0])
	if err != nil {
		return err
	}
	if err := w.put(copiedPlan,
		"The cruise file: what a person said of the cruise and the data, and the settings (YAML).",
		func(o io.Writer) error { _, err := o.Write(data); return err }); err != nil {
		return err
	}
	if err := w.writeBottles(); err != nil {
		return err
	}
	if err := w.writeEdits(); err != nil {
		return err
	}
	kept := metadata.Record{Step: "write", Text: "inputs as they were", Inputs: w.sources,
		Outputs: []string{copiedPlan, inputsZip, inputsTable}}
	if w.cruise.OmitInputs {
		kept.Text, kept.Outputs = "table of the inputs, which are held back", []string{copiedPlan, inputsTable}
		w.record(kept)
		return w.put(inputsTable, "Name and SHA-256 of each input; the inputs themselves are held back.",
			func(o io.Writer) error { return w.inputsTable(o, nil) })
	}
	names := memberNames(w.sources)
	members, err := w.pack(ctx, len(w.sources), func(p *export.Packer, i int) (export.ZipMember, error) {
		b, err := regular.ReadFile(w.onDisk[i])
		if err != nil {
			return export.ZipMember{}, err
		}
		m, err := p.Bytes(b, names[i], w.stamp)
		if err != nil {
			return m, err
		}
		if sum := sumBytes(b); sum != w.sources[i].SHA256 {
			return m, &metadata.InputError{Position: metadata.Position{File: w.sources[i].Name},
				Err:    fmt.Errorf("the file changed while the archive was made"),
				Remedy: "build again when nothing else writes to the inputs"}
		}
		return m, nil
	})
	if err != nil {
		return err
	}
	if err := w.writeZip(inputsZip,
		"Every input file, unchanged: the archive can be made again from these alone (castwright rebuild).",
		members); err != nil {
		return err
	}
	w.record(kept)
	return w.put(inputsTable, "List of the inputs: name, member of inputs.zip, size and SHA-256 of each.",
		func(o io.Writer) error { return w.inputsTable(o, names) })
}

func (w *inputs) inputsTable(o io.Writer, names []string) error {
	c := csv.NewWriter(o)
	rows := [][]string{{"name", "member", "bytes", "sha256"}}
	for i, d := range w.sources {
		member := ""
		if names != nil {
			member = names[i]
		}
		rows = append(rows, []string{d.Name, member, strconv.FormatInt(d.Bytes, 10), d.Hex()})
	}
	if err := c.WriteAll(rows); err != nil {
		return err
	}
	return c.Error()
}

// memberNames returns for each input a name that is safe in a zip archive and leads out of no folder: the name itself
// where it is, else one under "outside" with a number.
func memberNames(inputs []metadata.Digest) []string {
	out := make([]string, len(inputs))
	for i, d := range inputs {
		n := d.Name
		safe := n != "" && !strings.HasPrefix(n, "../") && n != ".." && !path.IsAbs(n) &&
			!filepath.IsAbs(filepath.FromSlash(n)) &&
			!strings.ContainsAny(n, "\\\x00\r\n") && !strings.HasPrefix(n, "outside/") && path.Clean(n) == n
		if !safe {
			n = fmt.Sprintf("outside/%05d/%s", i, path.Base(strings.ReplaceAll(n, "\\", "_")))
		}
		out[i] = n
	}
	return out
}
