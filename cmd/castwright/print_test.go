package main

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
)

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

// What cannot be printed is not done: findings lost on a full disk must not look like none.
func TestWhatCannotBePrinted(t *testing.T) {
	for _, args := range [][]string{{"version"}, {"help"}, {"help", "cruise-file"},
		{"check", "../../testdata/cruise/cruise.yaml"}, {"check", "--json", "../../testdata/cruise/cruise.yaml"}} {
		var said bytes.Buffer
		if code := run(context.Background(), append([]string{"castwright"}, args...), strings.NewReader(""), full{},
			&said); code != exitFailed ||
			strings.Count(said.String(), "no space left on device") != 1 {
			t.Errorf("%v: exit %d, said %q", args, code, said.String())
		}
	}
}
