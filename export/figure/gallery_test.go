package figure

import (
	"context"
	"os"
	"testing"
)

// gallery gives one of every kind of figure, of the invented ocean.
func gallery() []Figure {
	s, g := invent(wideLayout)
	return []Figure{
		&Section{Name: "a_ctemp", Section: s, Grid: g, Field: "ctemp"},
		&Section{Name: "a_asal", Section: s, Grid: g, Field: "asal"},
		&Section{Name: "a_oxy_sigma", Section: s, Grid: g, Field: "oxy", Overlay: "sigma0"},
		&Section{Name: "a_ctemp_error", Section: s, Grid: g, Field: "ctemp_err"},
	}
}

var aboutTrial = About{Cruise: "INVENTED-2026", Ships: "RV Example", Release: "preliminary", Licence: "CC-BY-4.0"}

func TestGallery(t *testing.T) {
	dir := os.Getenv("FIGURE_OUT") // for a person to look at
	if dir == "" {
		dir = t.TempDir()
	}
	m, err := Write(context.Background(), dir, gallery(), Options{Widths: []Width{TwoColumns, OneColumn}, About: aboutTrial})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range m.Refused {
		t.Errorf("%s: %v", r.Stem, r.Err)
	}
	if want := len(gallery()) * 7; len(m.Files) != want {
		t.Errorf("%d files, not %d", len(m.Files), want)
	}
}
