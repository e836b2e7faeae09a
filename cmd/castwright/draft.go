package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/draft"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/urfave/cli/v2"
)

func draftCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "draft", Usage: "read unknown files of casts and write a cruise file to finish by hand",
		ArgsUsage: "[OPTIONS] FOLDER…",
		Description: `Reads every file in the folders: exchange files, text of any layout, CF NetCDF profiles, bottle files and a station
table. Writes cruise.yaml and inputs.sha256, the checksums of the files. cruise.yaml has the layouts that were
recognised (the meaning of each column, how certain it is and why), legs, roles, and sections where the track neither
jumps nor turns. Facts that only a person can state are marked: write a value after the colon of each line that ends
in "# fill in: QUESTION"; check and build refuse the file until every line has one. An existing cruise.yaml or
inputs.sha256 is left as it is, and nothing is written. With --planned the cruise file is for a cruise without casts:
its status is underway, and each station without a cast is a note until the status is changed. The files are written
into the folder, or with several folders into the working folder.

EXAMPLE
   castwright draft --out drafted testdata/cruise/casts`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Aliases: []string{"o"},
				Usage: "write cruise.yaml and inputs.sha256 into `FOLDER`, which is made if it does not exist"},
			&cli.StringFlag{Name: "planned",
				Usage: "write the cruise file of a cruise without casts: its planned stations are in `TABLE`, " +
					"CSV with the columns station, latitude and longitude; FOLDER is where the casts will be"},
			jsonFlag(u)},
		Action: func(c *cli.Context) error {
			if c.NArg() == 0 {
				return &usageError{msg: "draft takes the folders with the files of casts; got none",
					hint: "castwright help draft shows an example"}
			}
			return runDraft(c, u, c.Args().Slice())
		},
	}
}

func runDraft(c *cli.Context, u *ui, folders []string) error {
	for _, f := range folders {
		if info, err := os.Stat(f); err != nil || !info.IsDir() {
			return &metadata.InputError{Position: metadata.Position{File: f}, Err: errors.New("no such folder"),
				Remedy: "name a folder with files of casts"}
		}
	}
	out := c.String("out")
	switch {
	case out != "":
		if err := os.MkdirAll(out, 0o777); err != nil {
			return err
		}
	case len(folders) == 1:
		out = folders[0]
	default:
		out = "."
	}
	abs, err := filepath.Abs(out)
	if err != nil {
		return err
	}
	for _, name := range []string{cruiseName, pipeline.RecordName} {
		if _, err := os.Lstat(filepath.Join(abs, name)); err == nil {
			return &metadata.InputError{Position: metadata.Position{File: filepath.Join(out, name)},
				Err: errors.New("is there already; nothing is written"),
				Remedy: "rename it, or write into another folder: castwright draft --out FOLDER " +
					strings.Join(folders, " ")}
		}
	}
	var relative []string
	for _, f := range folders {
		from, err := filepath.Abs(f)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(abs, from)
		if err != nil {
			return err
		}
		relative = append(relative, filepath.ToSlash(rel))
	}
	if table := c.String("planned"); table != "" {
		d, err := draftPlanned(table, relative)
		if err != nil {
			return err
		}
		return writeDraft(c, u, d, out, abs)
	}
	d, err := draft.Folders(abs, relative, func(path string, o ncprofile.Options) ([]section.Cast, error) {
		casts, _, err := pipeline.ReadProfiles(c.Context, path, o)
		return casts, err
	})
	if errors.Is(err, draft.ErrNoCasts) {
		return &metadata.InputError{Position: metadata.Position{File: folders[0]}, Err: err,
			Remedy: "describe the files under casts: layouts in a cruise file (castwright help cruise-file)"}
	}
	if err != nil {
		return err
	}
	return writeDraft(c, u, d, out, abs)
}

// draftPlanned drafts a cruise that has no cast yet.
func draftPlanned(table string, folders []string) (*draft.Draft, error) {
	data, err := regular.ReadFile(table)
	if err != nil {
		return nil, &metadata.InputError{Position: metadata.Position{File: table}, Err: err,
			Remedy: "name a table (CSV) with the columns station, latitude and longitude"}
	}
	planned, err := ingest.ReadPlanned(data, table)
	if err != nil {
		return nil, err
	}
	if len(planned) == 0 {
		return nil, &metadata.InputError{Position: metadata.Position{File: table},
			Err:    errors.New("no planned station"),
			Remedy: "write a line for each station"}
	}
	return draft.Planned(planned, folders[0]), nil
}

// writeDraft writes the two files and says what is in them.
func writeDraft(c *cli.Context, u *ui, d *draft.Draft, out, abs string) error {
	if read := u.file(); read != nil {
		for _, f := range d.Inputs {
			read("read", f.Name)
		}
		read("write", filepath.Join(out, cruiseName))
	}
	if len(d.Inputs) > 0 {
		if err := pipeline.WriteRecord(c.Context, abs, d.Inputs); err != nil {
			return err
		}
	}
	name := filepath.Join(out, cruiseName)
	if err := place.WriteFile(c.Context, filepath.Join(abs, cruiseName), func(w io.Writer) error {
		_, err := w.Write(d.Text)
		return err
	}); err != nil {
		return err
	}
	if c.Bool("json") {
		return u.json(map[string]any{"cruise_file": name, "casts": d.Casts, "questions": d.Questions,
			"inputs": len(d.Inputs), "unread": d.Unread, "left_out": d.Failed})
	}
	for _, f := range d.Failed {
		u.note("%s cannot be read; the draft leaves it out", f)
	}
	if n := len(d.Unread); n > 0 {
		u.note("%s not taken for an input: %s", plural(n, "file"),
			strings.Join(d.Unread[:min(n, 8)], " ")+map[bool]string{true: " ..."}[n > 8])
	}
	fmt.Fprintln(u.lines(), name)
	if d.Casts == 0 {
		u.note("fill in %s that end in \"# fill in\", then: castwright build %s", plural(len(d.Questions), "line"),
			name)
		return nil
	}
	u.note("%s from %s; fill in %s that end in \"# fill in\", then: castwright check %s", plural(d.Casts, "cast"),
		plural(len(d.Inputs), "file"),
		plural(len(d.Questions), "line"), name)
	return nil
}
