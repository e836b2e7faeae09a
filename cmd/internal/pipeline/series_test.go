//go:build cgo

package pipeline_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// committed returns the files of a committed cruise, with lines added to its cruise file.
func committed(t *testing.T, name, more string) map[string]string {
	t.Helper()
	dir := filepath.Join("../../../testdata/cruises", name)
	files := map[string]string{}
	names, err := filepath.Glob(dir + "/*/*")
	if err != nil {
		t.Fatal(err)
	}
	tables, err := filepath.Glob(dir + "/*.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(append(names, tables...), dir+"/cruise.yaml") {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.ToSlash(rel)] = string(b)
	}
	files["cruise.yaml"] += more
	return files
}

// A time series is made as asked, unasked of a station with casts of role yoyo, or not at all; and its file is an input
// like other profile files, with the values, times and positions of its casts.
func TestTimeSeriesOfAnArchive(t *testing.T) {
	files := committed(t, "yoyo", "figures: none\n")
	asked := build(t, files)
	statement, err := os.ReadFile(filepath.Join(asked, "data/documents/processing_statement.md"))
	if err != nil || !strings.Contains(string(statement), "Tide at station 7") {
		t.Errorf("the statement does not have the series: %v", err)
	}
	page, err := os.ReadFile(filepath.Join(asked, "data/index.html"))
	_, after, _ := strings.Cut(string(page), `id="series-1"`)
	of, _, _ := strings.Cut(after, "</article>")
	if n := strings.Count(of, "<figure "); err != nil || n != 5 {
		t.Errorf("%d figures of the series on the page, want four variables and the differences: %v", n, err)
	}
	file := filepath.Join(asked, "data", pipeline.SeriesFile("tide"))
	temp, shape := read(t, file, "temp")
	if len(shape) != 2 || shape[0] != 12 {
		t.Fatalf("temp has the shape %v", shape)
	}
	key := "time_series: [{name: tide, title: Tide at station 7, stations: 7}]\n"
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], key, "", 1)
	unasked := filepath.Join(build(t, files), "data", pipeline.SeriesFile("station_7"))
	if got, _ := read(t, unasked, "temp"); !slices.Equal(got, temp) {
		t.Error("the series that is made unasked has other values")
	}
	files["cruise.yaml"] += "time_series: none\n"
	if made, _ := filepath.Glob(filepath.Join(build(t, files), "data/sections/*")); len(made) != 0 {
		t.Errorf("none was asked for: %v", made)
	}

	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for name := range files {
		if strings.HasPrefix(name, "casts/") {
			delete(files, name)
		}
	}
	files["casts/tide_time_series.nc"] = string(b)
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "time_series: none\n", key, 1)
	again := filepath.Join(build(t, files), "data", pipeline.SeriesFile("tide"))
	for _, name := range []string{"temp", "psal", "time", "cast_lon", "lat", "sigma0"} {
		x, _ := read(t, file, name)
		y, _ := read(t, again, name)
		if !slices.Equal(x, y) {
			t.Errorf("%s read from the series and written again is not what it was", name)
		}
	}
}
