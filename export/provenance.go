package export

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// An Agent is a person or organisation that answers for the data.
type Agent struct {
	Name, ID, Role string // ID: ORCID or ROR URL, "" when unknown
	Organisation   bool
}

// Provenance is all that WriteProvenance and WriteHistory tell.
type Provenance struct {
	Cruise  string
	Tool    string // program and version
	Plan    metadata.Digest
	Records []metadata.Record
	Outputs map[string][32]byte // archive path -> SHA-256; may be nil: then no checksums are written
	Agents  []Agent
	At      time.Time
}

// WriteHistory writes one line a step, oldest first, in the form of a CF history attribute.
func WriteHistory(w io.Writer, p *Provenance) error {
	for i := range p.Records {
		if _, err := io.WriteString(w, p.Records[i].HistoryLine()+"\n"); err != nil {
			return err
		}
	}
	return nil
}

// WriteProvenance writes W3C PROV-JSON (Member Submission, 24 April 2013): inputs and outputs as entities, steps as activities with
// their settings, program and people as agents. Keys are sorted, so the bytes follow from the values alone.
func WriteProvenance(w io.Writer, p *Provenance) error {
	type m = map[string]any
	typed := func(v, t string) m { return m{"$": v, "type": t} }
	when := p.At.UTC().Format(time.RFC3339) // a plain string everywhere: readers of PROV-JSON refuse typed times (section 2.2 of the submission)
	entity, activity, agent := m{}, m{}, m{}
	used, generated, derived, associated, attributed, behalf, informed := m{}, m{}, m{}, m{}, m{}, m{}, m{}
	n := 0
	blank := func() string { n++; return fmt.Sprintf("_:%d", n) }
	id := func(kind, name string) string { return "ex:" + kind + "-" + localPart(name) }

	program := "ex:program"
	agent[program] = m{"prov:type": typed("prov:SoftwareAgent", "prov:QUALIFIED_NAME"), "prov:label": p.Tool}
	person := ""
	for i, a := range p.Agents {
		k := fmt.Sprintf("ex:agent-%d", i+1)
		kind := "prov:Person"
		if a.Organisation {
			kind = "prov:Organization"
		} else if person == "" {
			person = k
		}
		v := m{"prov:type": typed(kind, "prov:QUALIFIED_NAME"), "prov:label": a.Name}
		if a.ID != "" {
			v["ex:identifier"] = typed(a.ID, "xsd:anyURI")
		}
		if a.Role != "" {
			v["ex:role"] = a.Role
		}
		agent[k] = v
	}
	if person != "" {
		behalf[blank()] = m{"prov:delegate": program, "prov:responsible": person}
	}
	plan := id("in", p.Plan.Name)
	addInput := func(d metadata.Digest) string {
		k := id("in", d.Name)
		if _, seen := entity[k]; !seen {
			entity[k] = m{"prov:label": d.Name, "prov:location": d.Name, "ex:sha256": d.Hex(), "ex:bytes": d.Bytes}
		}
		return k
	}
	if p.Plan.Name != "" {
		addInput(p.Plan)
		entity[plan].(m)["prov:type"] = typed("prov:Plan", "prov:QUALIFIED_NAME")
	}
	madeBy := map[string]string{} // output path -> step that wrote it
	previous := ""
	for i := range p.Records {
		r := &p.Records[i]
		k := fmt.Sprintf("ex:step-%d-%s", i+1, localPart(r.Step))
		a := m{"prov:label": r.Step, "prov:startTime": when, "prov:endTime": when}
		if r.Text != "" {
			a["ex:text"] = r.Text
		}
		for _, q := range r.Params {
			a["ex:"+localPart(q.Label())] = q.Value
		}
		activity[k] = a
		assoc := m{"prov:activity": k, "prov:agent": program}
		if p.Plan.Name != "" {
			assoc["prov:plan"] = plan
			used[blank()] = m{"prov:activity": k, "prov:entity": plan, "prov:role": "plan"}
		}
		associated[blank()] = assoc
		var ins []string
		for _, d := range r.Inputs {
			in := addInput(d)
			ins = append(ins, in)
			u := m{"prov:activity": k, "prov:entity": in}
			if d.First > 0 {
				u["ex:lines"] = fmt.Sprintf("%d-%d", d.First, d.Last)
			}
			used[blank()] = u
		}
		for _, out := range r.Outputs {
			o := id("out", out)
			if _, seen := entity[o]; !seen {
				e := m{"prov:label": out, "prov:location": out}
				if sum, ok := p.Outputs[out]; ok {
					e["ex:sha256"] = hex.EncodeToString(sum[:])
				}
				entity[o] = e
			}
			if madeBy[out] == "" {
				madeBy[out] = k
				generated[blank()] = m{"prov:entity": o, "prov:activity": k, "prov:time": when}
			}
			for _, in := range ins {
				derived[blank()] = m{"prov:generatedEntity": o, "prov:usedEntity": in}
			}
			if person != "" {
				attributed[blank()] = m{"prov:entity": o, "prov:agent": person}
			}
		}
		if previous != "" {
			informed[blank()] = m{"prov:informed": k, "prov:informant": previous}
		}
		previous = k
	}
	doc := m{"prefix": m{"ex": "https://example.org/" + localPart(p.Cruise) + "/", "prov": "http://www.w3.org/ns/prov#",
		"xsd": "http://www.w3.org/2001/XMLSchema#"}}
	for name, part := range map[string]m{"entity": entity, "activity": activity, "agent": agent, "used": used, "wasGeneratedBy": generated,
		"wasDerivedFrom": derived, "wasAssociatedWith": associated, "wasAttributedTo": attributed, "actedOnBehalfOf": behalf,
		"wasInformedBy": informed} {
		if len(part) > 0 {
			doc[name] = part
		}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(doc) // encoding/json sorts the keys of maps
}

// localPart makes a PROV local name of any text: letters, digits, '.', '_' and '-' stay; whatever else there is turns to '_' and a short
// hash of the whole follows, so that two texts never meet.
func localPart(s string) string {
	var b strings.Builder
	clean := true
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			b.WriteRune(r)
		default:
			b.WriteByte('_')
			clean = false
		}
	}
	if clean {
		return b.String()
	}
	sum := sha256.Sum256([]byte(s))
	return b.String() + "-" + hex.EncodeToString(sum[:4])
}
