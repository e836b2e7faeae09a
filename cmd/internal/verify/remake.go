package verify

import (
	"context"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// remakeArchive makes the archive again below out and gives its place.
func remakeArchive(ctx context.Context, program, archive, out string, workers int, c *pipeline.Compared) (string,
	error) {
	r, err := rebuild.Run(ctx, rebuild.Plan{Program: program, Archive: archive, Out: out, Workers: workers,
		Compared: c})
	if err != nil {
		return "", err
	}
	if r.Product.Path == "" {
		for _, f := range r.Product.Findings {
			if f.Severity == metadata.Failure {
				return "", &metadata.InputError{Position: f.Position, Err: fmt.Errorf("%s", f.Message)}
			}
		}
		return "", fmt.Errorf("the inputs are rejected")
	}
	return r.Product.Path, nil
}

// bagFiles gives the SHA-256 of each file of a folder, by its name with slashes. Special files are the bag's business.
func bagFiles(ctx context.Context, dir string) (map[string][32]byte, error) {
	out := map[string][32]byte{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		rel, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		sum, _, err := regular.Sum(ctx, p)
		out[filepath.ToSlash(rel)] = sum
		return err
	})
	return out, err
}
