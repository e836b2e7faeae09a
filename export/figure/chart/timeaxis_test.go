package chart

import (
	"testing"
	"time"
)

// Ticks of a time axis are round, within the range, and no more than asked for.
func TestTimeTicks(t *testing.T) {
	at := func(text string) time.Time {
		v, err := time.Parse("2006-01-02 15:04", text)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, x := range []struct {
		first, last string
		most        int
		step        time.Duration
		from        string
		n           int
	}{
		{"2026-03-11 02:00", "2026-03-11 15:45", 8, 2 * time.Hour, "2026-03-11 02:00", 7},
		{"2026-03-11 23:50", "2026-03-13 01:10", 8, 6 * time.Hour, "2026-03-12 00:00", 5},
		{"2026-03-11 02:07", "2026-03-11 02:29", 6, 5 * time.Minute, "2026-03-11 02:10", 4},
		{"2026-03-11 02:00", "2026-03-30 15:45", 8, 5 * day, "2026-03-16 00:00", 3},
		{"2025-11-02 02:00", "2026-10-30 15:45", 8, 50 * day, "2025-12-22 00:00", 7},
	} {
		got, step := timeTicks(at(x.first), at(x.last), x.most)
		if step != x.step || len(got) != x.n || len(got) > x.most || !got[0].Equal(at(x.from)) {
			t.Errorf("%s to %s: %d ticks every %v from %v, want %d every %v from %s", x.first, x.last, len(got), step,
				got[0], x.n, x.step, x.from)
		}
	}
}
