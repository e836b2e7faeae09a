package trace

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
)

// A place is a node of a field: the numbers of its level or surface, latitude and longitude, and its place in a
// variable.
type place struct{ level, lat, lon, at int }

// fieldNode traces a value of a field, on levels of pressure or on surfaces of density.
func (t *tracer) fieldNode(words []string) error {
	name, variable := words[0], words[1]
	var at [3]float64
	for i, w := range words[2:] {
		var err error
		if at[i], err = number(w); err != nil {
			return t.refuse("has no place: "+err.Error(),
				"write longitude, latitude and dbar, such as field:survey:ctemp:-30.5:66.25:100")
		}
	}
	var names []string
	for _, f := range t.a.Matching("fields/*.nc") {
		names = append(names, strings.TrimSuffix(strings.TrimPrefix(f, "fields/"), ".nc"))
	}
	if !slices.Contains(names, name) {
		return t.refuse("names no field of the archive: "+name, nearest(name, names))
	}
	f, v, err := t.openFile("fields/"+name+".nc", variable)
	if err != nil {
		return err
	}
	defer f.Close()
	if len(v.Dims) != 3 {
		return t.refuse("is no value of a node: "+variable+" has other dimensions", "name a mapped variable")
	}
	p, err := t.placeIn(f, v, at)
	if err != nil {
		return err
	}
	t.take(f, variable, p.at)
	c, err := t.a.Cruise()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(c.Fields, func(s cruisefile.MapField) bool {
		return s.Name == name || s.Surfaces.Density != "" && s.Name+"_"+s.Surfaces.Density == name
	})
	if i < 0 {
		return t.refuse("names a field that the cruise file does not: "+name, nearest(name, names))
	}
	all, err := t.fieldCasts(&c.Fields[i])
	if err != nil {
		return err
	}
	if c.Fields[i].Name != name {
		return t.surface(&c.Fields[i], all, f, variable, p)
	}
	t.fieldLevel(&c.Fields[i], all, t.mapped(f, variable), p, at[2])
	t.signal(f, at[2])
	t.held(f, func(string) int { return p.at })
	return nil
}

// placeIn finds longitude, latitude and the level or surface of a node.
func (t *tracer) placeIn(f *nc.File, v *nc.Var, at [3]float64) (p place, err error) {
	for i, to := range []*int{&p.lon, &p.lat, &p.level} {
		if *to, err = t.at(f, f.Dims[v.Dims[2-i]].Name, at[i]); err != nil {
			return p, err
		}
	}
	p.at = (p.level*f.Dims[v.Dims[1]].Len+p.lat)*f.Dims[v.Dims[2]].Len + p.lon
	return p, nil
}

// fieldLevel lists the data of a node at a pressure.
func (t *tracer) fieldLevel(s *cruisefile.MapField, all *ncprofile.Collection, mapped []string, p place,
	pDbar float64) {
	t.explain(&gridded{casts: all, mapped: mapped, of: func(variable string) (*gridding.Explanation, error) {
		return gridding.ExplainField(all.Casts, s.Area, s.Grid.Options, variable, p.lat, p.lon, pDbar)
	}})
}

// surface traces a value on a surface of density: the nodes of the field on the levels above and below it, with
// Absolute Salinity and Conservative Temperature, which say where the surface lies.
func (t *tracer) surface(s *cruisefile.MapField, all *ncprofile.Collection, f *nc.File, variable string,
	p place) error {
	depths := f.NumbersOf("pres")
	if p.at >= len(depths) || math.IsNaN(depths[p.at]) {
		t.out.Notes = append(t.out.Notes, "the surface is not in this column; pres_mask says why")
		return nil
	}
	q := depths[p.at]
	field, err := t.a.NetCDF("fields/" + s.Name + ".nc")
	if err != nil {
		return err
	}
	defer field.Close()
	mapped := []string{"asal", "ctemp"}
	if field.Var(variable+"_mask") >= 0 && !slices.Contains(mapped, variable) {
		mapped = append(mapped, variable)
	}
	levels, lons, lats := field.NumbersOf("pres"), len(field.NumbersOf("lon")), len(field.NumbersOf("lat"))
	above := 0
	for above+1 < len(levels) && levels[above+1] <= q {
		above++
	}
	for l := above; l < len(levels) && (l == above || l == above+1 && levels[above] < q); l++ {
		node, parts := len(t.out.Mapping), len(t.out.Parts)
		t.fieldLevel(s, all, mapped, p, levels[l])
		t.heldFrom(node, field, func(string) int { return (l*lats+p.lat)*lons + p.lon })
		for ; node < len(t.out.Mapping); node++ {
			t.out.Mapping[node].AtDbar = &levels[l]
		}
		for ; parts < len(t.out.Parts); parts++ {
			t.out.Parts[parts].NodeDbar = &levels[l]
		}
	}
	t.out.Notes = append(t.out.Notes,
		fmt.Sprintf("the surface lies at %g dbar, where the density of the mapped asal and "+
			"ctemp crosses its value; values are straight in pressure between the levels of field %s", q, s.Name))
	return nil
}

// fieldCasts returns the casts of a field: the primary ones of its stations.
func (t *tracer) fieldCasts(s *cruisefile.MapField) (*ncprofile.Collection, error) {
	files := t.a.Matching("casts/*_ctd.nc")
	if len(files) != 1 {
		return nil, t.refuse("cannot be traced: the archive has no file of casts",
			"castwright verify says what is wrong")
	}
	all, f, err := collection(t.a, files[0])
	if err != nil {
		return nil, err
	}
	f.Close()
	list := s.Stations
	if list.Empty() {
		list.All = true
	}
	chosen, err := section.Select(all.Casts, list)
	if err != nil {
		return nil, err
	}
	out := &ncprofile.Collection{}
	for i, k := range all.Casts {
		if k.Role == section.Primary && slices.Contains(chosen, k) {
			out.IDs, out.Casts = append(out.IDs, all.IDs[i]), append(out.Casts, k)
		}
	}
	return out, nil
}
