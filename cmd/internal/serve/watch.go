package serve

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
)

// retry is after how long a build is tried again that this machine and not the inputs made fail.
const retry = time.Minute

// watch builds a cruise into a folder for temporary files, and again when the inputs changed. While a cruise cannot be
// built the last archive that could is shown, and the findings say why.
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
	w := &watcher{plan: plan, site: s, temp: temp, kept: &pipeline.Watched{}}
	s.say("The inputs are read for the first time.", nil)
	var last [32]byte
	var again time.Time
	for {
		now := fingerprint(append(w.kept.Places, filepath.Dir(plan.Path)))
		if now != last || !again.IsZero() && time.Now().After(again) {
			last, again = now, time.Time{}
			failed, err := w.build(ctx)
			if err != nil {
				return err
			}
			if failed {
				again = time.Now().Add(retry)
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(every):
		}
	}
}

// A watcher builds one cruise again and again.
type watcher struct {
	plan  *Plan
	site  *site
	temp  string
	kept  *pipeline.Watched
	count int // of builds

	// of the archive that is shown: the state of its inputs, its folder, and what was found
	state, shown, text string
	findings           []metadata.Finding
}

// build builds the cruise if its inputs changed, and shows it. It reports whether the machine made the build fail.
func (w *watcher) build(ctx context.Context) (failed bool, err error) {
	w.count++
	b := w.plan.Build
	b.CruiseFile, b.Out, b.Watched = w.plan.Path, filepath.Join(w.temp, fmt.Sprint(w.count)), w.kept
	state := ""
	w.kept.Read = func(p pipeline.Product, now string) bool {
		if now == w.state {
			return false
		}
		state = now
		w.say(fmt.Sprintf("%s read, the page is being made: %s", plural(p.Casts, "cast"), count(p.Findings)),
			p.Findings)
		return true
	}
	p, err := pipeline.Build(ctx, b)
	switch {
	case ctx.Err() != nil:
		return false, ctx.Err()
	case errors.Is(err, pipeline.ErrNotNeeded):
		w.site.say(w.text, w.findings)
		return false, nil
	}
	text := told(&p, err)
	if err == nil && p.Path != "" {
		if err := w.site.show(filepath.Join(p.Path, "data"), state); err != nil {
			return false, err
		}
		if w.shown != "" {
			os.RemoveAll(w.shown) //nolint:errcheck // goes with the folder above
		}
		w.state, w.shown, w.text, w.findings = state, b.Out, text, p.Findings
	}
	w.say(text, p.Findings)
	var input *metadata.InputError
	return err != nil && !errors.As(err, &input), nil
}

// say shows how far a build is and what was found.
func (w *watcher) say(text string, found []metadata.Finding) {
	w.site.say(text, found)
	if w.plan.Note != nil {
		w.plan.Note(text)
	}
}

// told says how a build ended.
func told(p *pipeline.Product, err error) string {
	var in *metadata.InputError
	switch {
	case errors.As(err, &in) && in.Remedy != "":
		return "not built: " + err.Error() + "; " + in.Remedy
	case err != nil:
		return "not built: " + err.Error()
	case p.Path == "":
		return "not built: " + count(p.Findings)
	}
	return fmt.Sprintf("built with %s: %s", plural(p.Casts, "cast"), count(p.Findings))
}

// count says how many findings there are of each severity.
func count(found []metadata.Finding) string {
	n := map[metadata.Severity]int{}
	for i := range found {
		n[found[i].Severity]++
	}
	return plural(n[metadata.Failure], "error") + ", " + plural(n[metadata.Warning], "warning") + ", " +
		plural(n[metadata.Note], "note")
}

func plural(n int, word string) string {
	if n != 1 {
		word += "s"
	}
	return fmt.Sprintf("%d %s", n, word)
}

// fingerprint changes when one of some files, or a file of one of some folders or of one below, comes, goes or is
// written.
func fingerprint(places []string) [32]byte {
	h := sha256.New()
	for _, place := range places {
		filepath.WalkDir(place, func(p string, d fs.DirEntry, err error) error {
			//nolint:errcheck // what cannot be read is left
			if err != nil || p != place && strings.HasPrefix(d.Name(), ".") {
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
	}
	return [32]byte(h.Sum(nil))
}
