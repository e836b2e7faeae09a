package export_test

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/metadata"
)

// askProv reads PROV-JSON with Debian's python3-prov, writes it out again, reads that, and prints what it found: the
// number of records of each kind and the times of activities and generations.
const askProv = `
import sys, collections, prov.model
d = prov.model.ProvDocument.deserialize(sys.stdin)
again = prov.model.ProvDocument.deserialize(content=d.serialize(format="json"), format="json")
assert d == again, "the library does not read back what it read"
for kind, n in sorted(collections.Counter(type(r).__name__ for r in d.records).items()):
    print(kind, n)
for r in d.records:
    for name, value in r.formal_attributes:
        if value is not None and str(name) in ("prov:time", "prov:startTime", "prov:endTime"):
            print(name, value.isoformat())
`

// The record is read whole by a standard PROV library, whatever the names of files, settings and people are.
func TestProvenanceLoadsInAStandardLibrary(t *testing.T) {
	at := time.Date(2026, 5, 17, 1, 2, 3, 0, time.UTC)
	in := metadata.Digest{Name: "casts/a b,c (é) %41: \"x\".csv", Bytes: 3, First: 2, Last: 9}
	other := metadata.Digest{Name: "casts/a_b_c", Bytes: 4}
	p := &export.Provenance{Cruise: "skerry 2026/05", Tool: "castwright 0.0.0",
		Plan: metadata.Digest{Name: "cruise.yaml"}, At: at,
		Agents: []export.Agent{{Name: "Holm, Ragna", ID: "https://orcid.org/0000-0000-0000-0001",
			Role: "chief scientist"}, {Name: "Skerry Institute", Organisation: true},
			{Name: "Owen Lark", Role: "CTD processing"}},
		Outputs: map[string][32]byte{"casts/x.nc": {1}},
		Records: []metadata.Record{
			{Step: "read", Text: "two casts: \"all\"\nof them", Inputs: []metadata.Digest{in, other},
				Params: []metadata.Param{{Name: "left out, of all", Value: "2 %"}, {Name: "_odd", Value: ""}}},
			{Step: "write", Inputs: []metadata.Digest{in, in}, Outputs: []string{"casts/x.nc", "tables/ä.csv"}},
			{Step: "leave out", Text: "-"},
		}}
	var b bytes.Buffer
	if err := export.WriteProvenance(&b, p); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-W", "ignore", "-c", askProv)
	cmd.Stdin = &b
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, complaint.String())
	}
	want := []string{"ProvActivity 3", "ProvAgent 4", "ProvAssociation 3", "ProvAttribution 2", "ProvCommunication 2",
		"ProvDelegation 1", "ProvDerivation 2",
		"ProvEntity 5", "ProvGeneration 2", "ProvUsage 7"}
	times := 0
	for line := range strings.Lines(string(out)) {
		line = strings.TrimSuffix(line, "\n")
		if strings.HasPrefix(line, "prov:") {
			times++
			if !strings.HasSuffix(line, "2026-05-17T01:02:03+00:00") {
				t.Errorf("time %q", line)
			}
			continue
		}
		if len(want) == 0 || line != want[0] {
			t.Fatalf("the library found %q, want %q", line, want)
		}
		want = want[1:]
	}
	if len(want) > 0 || times != 2*3+2 {
		t.Errorf("not found: %q; %d times, want 8", want, times)
	}
}
