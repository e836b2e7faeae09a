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

// WriteProvenance writes W3C PROV-JSON (Member Submission, 24 April 2013): inputs and outputs as entities, steps as
// activities with their settings, program and people as agents. Keys are sorted, so the bytes follow from the values
// alone.
func WriteProvenance(w io.Writer, p *Provenance) error {
	d := &provDocument{p: p, parts: map[string]object{}, madeBy: map[string]bool{},
		when: p.At.UTC().Format(time.RFC3339)}
	d.agents()
	if p.Plan.Name != "" {
		d.input(p.Plan)["prov:type"] = typed("prov:Plan", "prov:QUALIFIED_NAME")
	}
	for i := range p.Records {
		d.step(i)
	}
	doc := object{"prefix": object{"ex": "https://example.org/" + localPart(p.Cruise) + "/",
		"prov": "http://www.w3.org/ns/prov#",
		"xsd":  "http://www.w3.org/2001/XMLSchema#"}}
	for name, part := range d.parts {
		doc[name] = part
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(doc) // encoding/json sorts the keys of maps
}

type object = map[string]any

func typed(value, kind string) object { return object{"$": value, "type": kind} }

// provDocument is a record in the making.
type provDocument struct {
	p         *Provenance
	parts     map[string]object // entity, activity, agent and the relations: those that have anything
	relations int
	madeBy    map[string]bool // outputs that a step before wrote
	// a plain string everywhere: readers of PROV-JSON refuse typed times (section 2.2 of the submission)
	when     string
	person   string // the agent that the program acted for; "" when nobody is named
	previous string // the step before
}

// programID is the agent that did every step.
const programID = "ex:program"

func provID(kind, name string) string { return "ex:" + kind + "-" + localPart(name) }

func (d *provDocument) put(part, id string, value object) {
	if d.parts[part] == nil {
		d.parts[part] = object{}
	}
	d.parts[part][id] = value
}

func (d *provDocument) relate(kind string, value object) {
	d.relations++
	d.put(kind, fmt.Sprintf("_:%d", d.relations), value)
}

func (d *provDocument) agents() {
	d.put("agent", programID, object{"prov:type": typed("prov:SoftwareAgent", "prov:QUALIFIED_NAME"),
		"prov:label": d.p.Tool})
	for i, a := range d.p.Agents {
		k := fmt.Sprintf("ex:agent-%d", i+1)
		kind := "prov:Person"
		if a.Organisation {
			kind = "prov:Organization"
		} else if d.person == "" {
			d.person = k
		}
		v := object{"prov:type": typed(kind, "prov:QUALIFIED_NAME"), "prov:label": a.Name}
		if a.ID != "" {
			v["ex:identifier"] = typed(a.ID, "xsd:anyURI")
		}
		if a.Role != "" {
			v["ex:role"] = a.Role
		}
		d.put("agent", k, v)
	}
	if d.person != "" {
		d.relate("actedOnBehalfOf", object{"prov:delegate": programID, "prov:responsible": d.person})
	}
}

// input returns the entity of an input, which it adds when it is new.
func (d *provDocument) input(in metadata.Digest) object {
	k := provID("in", in.Name)
	if e, seen := d.parts["entity"][k].(object); seen {
		return e
	}
	e := object{"prov:label": in.Name, "prov:location": in.Name, "ex:sha256": in.Hex(), "ex:bytes": in.Bytes}
	d.put("entity", k, e)
	return e
}

// step adds an activity with what it used and made.
func (d *provDocument) step(i int) {
	r := &d.p.Records[i]
	k := fmt.Sprintf("ex:step-%d-%s", i+1, localPart(r.Step))
	a := object{"prov:label": r.Step, "prov:startTime": d.when, "prov:endTime": d.when}
	if r.Text != "" {
		a["ex:text"] = r.Text
	}
	for _, q := range r.Params {
		a["ex:"+localPart(q.Label())] = q.Value
	}
	d.put("activity", k, a)
	association := object{"prov:activity": k, "prov:agent": programID}
	if d.p.Plan.Name != "" {
		plan := provID("in", d.p.Plan.Name)
		association["prov:plan"] = plan
		d.relate("used", object{"prov:activity": k, "prov:entity": plan, "prov:role": "plan"})
	}
	d.relate("wasAssociatedWith", association)
	for _, in := range r.Inputs {
		d.input(in)
		u := object{"prov:activity": k, "prov:entity": provID("in", in.Name)}
		if in.First > 0 {
			u["ex:lines"] = fmt.Sprintf("%d-%d", in.First, in.Last)
		}
		if in.Cast != "" {
			u["ex:cast"] = in.Cast
		}
		d.relate("used", u)
	}
	for _, out := range r.Outputs {
		d.output(k, out, r.Inputs)
	}
	if d.previous != "" {
		d.relate("wasInformedBy", object{"prov:informed": k, "prov:informant": d.previous})
	}
	d.previous = k
}

// output adds a file that a step made of inputs.
func (d *provDocument) output(step, out string, inputs []metadata.Digest) {
	o := provID("out", out)
	if !d.madeBy[out] {
		d.madeBy[out] = true
		e := object{"prov:label": out, "prov:location": out}
		if sum, ok := d.p.Outputs[out]; ok {
			e["ex:sha256"] = hex.EncodeToString(sum[:])
		}
		d.put("entity", o, e)
		d.relate("wasGeneratedBy", object{"prov:entity": o, "prov:activity": step, "prov:time": d.when})
	}
	derived := map[string]bool{}
	for _, in := range inputs {
		if derived[in.Name] {
			continue // another cast of the same file
		}
		derived[in.Name] = true
		d.relate("wasDerivedFrom", object{"prov:generatedEntity": o, "prov:usedEntity": provID("in", in.Name)})
	}
	if d.person != "" {
		d.relate("wasAttributedTo", object{"prov:entity": o, "prov:agent": d.person})
	}
}

// localPart makes a PROV local name of any text: letters, digits, '.', '_' and '-' stay; whatever else there is turns
// to '_' and a short hash of the whole follows, so that two texts never meet.
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
