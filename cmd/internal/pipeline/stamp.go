package pipeline

import (
	"fmt"
	"strconv"
	"time"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/section"
)

// EpochFromEnvironment reads SOURCE_DATE_EPOCH (seconds since 1970, https://reproducible-builds.org). The empty string
// gives the zero time.
func EpochFromEnvironment(value string) (time.Time, error) {
	if value == "" {
		return time.Time{}, nil
	}
	n, err := strconv.ParseInt(value, 10, 64)
	if err != nil || n < 0 {
		return time.Time{}, fmt.Errorf("SOURCE_DATE_EPOCH is %q: want whole seconds since 1970", value)
	}
	return time.Unix(n, 0).UTC(), nil
}

// archiveStamp returns the time stamp of the archive: epoch when it is set, else the newest date written inside the
// inputs (time of a cast, creation stamp of a cast file, release date of the cruise file). A date without a time counts
// as its first second.
func archiveStamp(epoch time.Time, c *cruisefile.Cruise, casts []*section.Cast, others []time.Time) time.Time {
	if !epoch.IsZero() {
		return epoch
	}
	var newest time.Time
	later := func(t time.Time) {
		if t.After(newest) {
			newest = t
		}
	}
	for _, k := range casts {
		later(k.Time)
		later(stampDate(k.Stamp))
	}
	if t, err := time.Parse("2006-01-02", c.Release.Date); err == nil {
		later(t)
	}
	for _, t := range others {
		later(t)
	}
	if newest.IsZero() {
		newest = time.Unix(0, 0)
	}
	return newest.UTC()
}

// stampDate returns the date in front of a creation stamp such as 20260517SKRSMTOWL; the zero time when there is none.
func stampDate(stamp string) time.Time {
	if len(stamp) < 8 {
		return time.Time{}
	}
	t, err := time.Parse("20060102", stamp[:8])
	if err != nil {
		return time.Time{}
	}
	return t
}
