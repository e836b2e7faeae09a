package serve

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
)

// watch builds a cruise into a folder for temporary files, and again whenever a file beside the cruise file or below
// changed. While a cruise cannot be built the last archive that could is shown, and the findings say why.
func watch(ctx context.Context, plan *Plan, s *site) error {
	temp, remove, err := place.Temp("castwright-serve-")
	if err != nil {
		return err
	}
	defer remove()
	every := plan.Every
	if every <= 0 {
		every = 2 * time.Second
	}
	s.say(messagePage("Building", "The cruise is being built for the first time.", nil))
	var last [32]byte
	shown := ""
	for n := 1; ; n++ {
		now := fingerprint(filepath.Dir(plan.Path))
		if now != last {
			last = now
			b := plan.Build
			b.CruiseFile, b.Out = plan.Path, filepath.Join(temp, fmt.Sprint(n))
			p, err := pipeline.Build(ctx, b)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			text := told(&p, err)
			s.say(messagePage(text, text, p.Findings))
			if err == nil && p.Path != "" {
				if err := s.show(filepath.Join(p.Path, "data")); err != nil {
					return err
				}
				if shown != "" {
					os.RemoveAll(shown) //nolint:errcheck // goes with the folder above
				}
				shown = b.Out
			}
			if plan.Note != nil {
				plan.Note(text)
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(every):
		}
	}
}

// told says how a build ended.
func told(p *pipeline.Product, err error) string {
	count := map[metadata.Severity]int{}
	for i := range p.Findings {
		count[p.Findings[i].Severity]++
	}
	findings := fmt.Sprintf("%d errors, %d warnings, %d notes", count[metadata.Failure], count[metadata.Warning],
		count[metadata.Note])
	var in *metadata.InputError
	switch {
	case errors.As(err, &in) && in.Remedy != "":
		return "not built: " + err.Error() + "; " + in.Remedy
	case err != nil:
		return "not built: " + err.Error()
	case p.Path == "":
		return "not built: " + findings
	}
	return fmt.Sprintf("built with %d casts: %s", p.Casts, findings)
}

// fingerprint changes when a file of a folder, or of one below it, comes, goes or is written.
func fingerprint(dir string) [32]byte {
	h := sha256.New()
	filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		//nolint:errcheck // what cannot be read is left
		if err != nil || p != dir && strings.HasPrefix(d.Name(), ".") {
			if d != nil && d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if _, err := os.Lstat(filepath.Join(p, "bagit.txt")); err == nil && d.IsDir() {
			return fs.SkipDir // an archive
		}
		if info, err := d.Info(); err == nil && !d.IsDir() {
			fmt.Fprintf(h, "%q %d %d\n", p, info.Size(), info.ModTime().UnixNano())
		}
		return nil
	})
	return [32]byte(h.Sum(nil))
}

// messagePage is a page of findings that asks for itself again, so that it stays as new as the files.
func messagePage(title, text string, findings []metadata.Finding) string {
	var b strings.Builder
	fmt.Fprintf(&b,
		`<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="5">`+
			`<title>%s</title><style>body{font:1rem/1.5 system-ui,sans-serif;max-width:56rem;margin:1rem auto;padding:0 1rem}`+
			`</style></head><body><h1>Findings</h1><p>%s</p><p><a href="./">The page of the cruise</a></p><ul>`,
		html.EscapeString(title), html.EscapeString(text))
	for i := range findings {
		f := &findings[i]
		fmt.Fprintf(&b, "<li><strong>%s</strong> %s: %s", f.Severity, html.EscapeString(f.Position.String()),
			html.EscapeString(f.Message))
		if a := f.Advice(); a != "" {
			fmt.Fprintf(&b, "<br>%s", html.EscapeString(a))
		}
		b.WriteString("</li>")
	}
	b.WriteString("</ul></body></html>\n")
	return b.String()
}
