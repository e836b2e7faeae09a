package verify

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// largestSingle is the most bytes of a single exchange file or bundle.
const largestSingle = 2 << 30

// firstLine is how the first line of an exchange file may begin, so that a file of another kind is not checked as one.
var firstLine = regexp.MustCompile(`(?mi)^\s*["']?(CTD|BOTTLE)\b`)

// File checks one file by what its first bytes say it is. The error is for a path at which no regular file can be read,
// and for ctx.
func File(ctx context.Context, plan Plan) (*Report, error) {
	refuse := func(remedy, format string, args ...any) (*Report, error) {
		return nil, &metadata.InputError{Position: metadata.Position{File: plan.Path}, Err: fmt.Errorf(format, args...),
			Remedy: remedy}
	}
	abs, err := filepath.Abs(plan.Path)
	if err != nil {
		return nil, err
	}
	// A link is followed by us once, so that the library sees the name of a regular file.
	if abs, err = filepath.EvalSymlinks(abs); err != nil {
		return refuse("name an archive or a file", "there is no such file")
	}
	info, err := os.Stat(abs)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return refuse("name an archive or a file", "not a regular file")
	}
	head, err := firstBytes(abs)
	if err != nil {
		return nil, err
	}
	r := &Report{Path: plan.Path, Files: 1}
	defer r.sort()
	name := strings.ToLower(plan.Path)
	begins := func(with string) bool { return bytes.HasPrefix(head, []byte(with)) }
	switch {
	case begins("CDF"), begins("\x89HDF"), strings.HasSuffix(name, ".nc"):
		r.Kind = "netcdf"
		if !nc.Available() {
			return nil, nc.ErrNoCgo
		}
		found, err := checkInChild(ctx, plan.Self, childRequest{Files: []childFile{{Path: abs, Name: plan.Path}}})
		if err != nil {
			return nil, err
		}
		r.Findings = found[0]
		return r, nil
	case info.Size() > largestSingle:
		return refuse("name a single exchange file, a bundle or a NetCDF file",
			"%d bytes are more than is read of one file", info.Size())
	}
	data, err := regular.ReadFile(abs)
	if err != nil {
		return nil, err
	}
	switch {
	case begins("PK"), strings.HasSuffix(name, ".zip"):
		r.Kind = "exchange bundle"
		if !strings.HasSuffix(name, "_ct1.zip") {
			r.Findings = []metadata.Finding{{Position: metadata.Position{File: plan.Path}, Severity: metadata.Warning,
				Check: "exchange.3.1", Message: "the name of a bundle ends in _ct1.zip by custom"}}
		}
	case !strings.HasSuffix(name, ".csv") && !firstLine.Match(data[:min(len(data), 4096)]):
		return refuse("name an archive, or a file .nc, _ct1.csv, _ct1.zip or _hy1.csv",
			"neither NetCDF nor an exchange file")
	case begins("BOTTLE"), strings.HasSuffix(name, "_hy1.csv"):
		r.Kind = "exchange bottles"
	default:
		r.Kind = "exchange CTD"
	}
	r.Findings = append(r.Findings, checkText(data, plan.Path)...)
	return r, nil
}

// checkText checks a bundle or a single exchange file.
func checkText(data []byte, name string) (found []metadata.Finding) {
	if bytes.HasPrefix(data, []byte("PK")) || strings.HasSuffix(strings.ToLower(name), ".zip") {
		found = checkBundle(bytes.NewReader(data), int64(len(data)), name, nil)
	} else {
		found, _ = checkExchange(data, name)
	}
	return found
}

func firstBytes(name string) ([]byte, error) {
	f, err := regular.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, 8))
}
