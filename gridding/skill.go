package gridding

import (
	"maps"
	"math"
	"slices"
)

// A leftOut is one datum of a station that was left out, and how the others predict it.
type leftOut struct {
	p        float64
	residual float64 // prediction minus datum; NaN where the method gave none
	rel      float64 // error variance over signal variance with the station out
	inner    bool
	site     int
}

// leaveOut drops each station in turn, makes background and lengths anew, and predicts at its data: one list for each
// variable of the survey, in order of site and pressure, the same places for every method that starts from the same
// clouds.
func (e *engine) leaveOut() [][]leftOut {
	s := e.s
	parts := make([][][]leftOut, len(s.sites)) // site, variable
	parallel(len(s.sites), s.opt.Workers, func(w *work, g int) {
		if s.sites[g].group != g {
			return
		}
		without := make([]bool, len(s.sites))
		rest := 0
		for k := range s.sites {
			without[k] = s.sites[k].group == g
			if !without[k] {
				rest++
			}
		}
		var maps []mapper
		var spacing []float64
		if rest > 0 {
			maps = e.mappers(without)
			spacing = s.spacing(without)
		}
		for k := range s.sites {
			if !without[k] {
				continue
			}
			parts[k] = make([][]leftOut, len(s.vars))
			t := &s.sites[k]
			col := column{at: t.cast.At, xKm: t.xKm, plane: t.plane}
			if rest > 0 {
				e.place(&col, spacing, without)
			}
			w.oi.token = 2*k + 1
			for n, c := range e.clouds {
				from, to := c.first[k], c.first[k+1]
				p := make([]float64, to-from)
				for i := range p {
					p[i] = c.levels[c.level[int(from)+i]]
				}
				est, rel := newEstimates(len(c.vars), len(p)), make([]float64, len(p))
				if rest > 0 {
					maps[n].predict(w, &col, p, est, rel)
				}
				for v, u := range c.vars {
					out := make([]leftOut, len(p))
					for i := range p {
						out[i] = leftOut{p: p[i], residual: est[v][i] - c.values[v][int(from)+i], rel: rel[i],
							inner: t.inner[u], site: k}
						if rest == 0 {
							out[i].residual = math.NaN()
						}
					}
					parts[k][u] = out
				}
			}
			if e.method == Optimal && rest > 0 {
				e.wholeError(w, k, &col, maps, parts[k])
			}
		}
	})
	out := make([][]leftOut, len(s.vars))
	for k := range parts {
		for v := range parts[k] {
			out[v] = append(out[v], parts[k][v]...)
		}
	}
	return out
}

// wholeError gives what is predicted at site k the errors of the lengths of the whole survey: the signal variance
// belongs to the covariance that the map is made with. col is the column of the site without its station.
func (e *engine) wholeError(w *work, k int, col *column, maps []mapper, out [][]leftOut) {
	col.lengthKm, col.covarianceKm = e.s.lengthAt(k, e.factor, nil), e.s.lengthAt(k, e.cov.factor, nil)
	w.oi.token++
	for n, c := range e.clouds {
		p := make([]float64, c.first[k+1]-c.first[k])
		for i := range p {
			p[i] = out[c.vars[0]][i].p
		}
		rel := make([]float64, len(p))
		maps[n].predict(w, col, p, newEstimates(len(c.vars), len(p)), rel)
		for _, u := range c.vars {
			for i := range p {
				out[u][i].rel = rel[i]
			}
		}
	}
}

// place is survey.place with the engine's own factor of the length.
func (e *engine) place(c *column, spacing []float64, without []bool) {
	e.s.place(c, spacing, without)
	if !positive(e.s.opt.LengthKm) {
		c.covarianceKm *= e.cov.factor / e.s.opt.LengthFactor
		c.lengthKm *= e.factor / e.s.opt.LengthFactor
	}
}

func newEstimates(variables, n int) [][]float64 {
	all := make([]float64, variables*n)
	out := make([][]float64, variables)
	for v := range out {
		out[v] = all[v*n : (v+1)*n]
	}
	return out
}

// bandEdges are the pressure bands of the signal variance, and fewest the residuals that a band needs of its own
// (ours).
var bandEdges = [...]float64{0, 200, 1000, 2000, math.Inf(1)}

const fewest = 30

// signalBands returns the signal variance per band from the residuals of inner stations: the mean of r2/(err/var + E2),
// so that the squared residual over stated error and noise averages 1. A band with few residuals joins the one above;
// nil when there is none at all.
func signalBands(loo []leftOut, noise float64) []Band {
	var out []Band
	var sums, counts []float64
	for b := 0; b+1 < len(bandEdges); b++ {
		sum, n := 0.0, 0.0
		for _, d := range loo {
			if d.inner && d.p >= bandEdges[b] && d.p < bandEdges[b+1] && !math.IsNaN(d.residual) && !math.IsNaN(d.rel) {
				sum += d.residual * d.residual / (math.Max(d.rel, 0) + noise)
				n++
			}
		}
		if last := len(out) - 1; last >= 0 && (n < fewest || counts[last] < fewest) {
			out[last].BottomDbar = bandEdges[b+1]
			sums[last] += sum
			counts[last] += n
			continue
		}
		out = append(out, Band{TopDbar: bandEdges[b], BottomDbar: bandEdges[b+1]})
		sums, counts = append(sums, sum), append(counts, n)
	}
	for b := range out {
		if counts[b] == 0 {
			return nil
		}
		out[b].Variance = sums[b] / counts[b]
	}
	return out
}

// plainBands is the variance of the data about their level means, for sections without inner stations.
func plainBands(c *cloud, v int) []Band {
	sum, n := 0.0, 0
	for l := range c.levels {
		s, s2, m := 0.0, 0.0, 0
		for k := 0; k+1 < len(c.first); k++ {
			if d := c.where[k*len(c.levels)+l]; d >= 0 {
				s += c.values[v][d]
				m++
			}
		}
		if m < 2 {
			continue
		}
		for k := 0; k+1 < len(c.first); k++ {
			if d := c.where[k*len(c.levels)+l]; d >= 0 {
				r := c.values[v][d] - s/float64(m)
				s2 += float64(r * r)
			}
		}
		sum += s2 / float64(m-1)
		n++
	}
	if n == 0 {
		return nil
	}
	return []Band{{TopDbar: 0, BottomDbar: math.Inf(1), Variance: sum / float64(n)}}
}

func varianceAt(bands []Band, p float64) float64 {
	for _, b := range bands {
		if p < b.BottomDbar {
			return b.Variance
		}
	}
	return math.NaN()
}

// summarize makes the skill of one variable. linear is the same data predicted linearly in distance.
func summarize(name string, loo, linear []leftOut) Skill {
	k := Skill{Variable: name, RMS: math.NaN(), Bias: math.NaN(), SkillLinear: math.NaN(), EndRMS: math.NaN()}
	sum, sum2, end2 := 0.0, 0.0, 0.0
	both, bothLinear, n := 0.0, 0.0, 0
	for i, d := range loo {
		if math.IsNaN(d.residual) {
			continue
		}
		r2 := d.residual * d.residual
		if !d.inner {
			end2 += r2
			k.EndN++
			continue
		}
		sum += d.residual
		sum2 += r2
		k.N++
		if linear != nil && !math.IsNaN(linear[i].residual) {
			both += r2
			bothLinear += linear[i].residual * linear[i].residual
			n++
		}
	}
	if k.N > 0 {
		k.RMS, k.Bias = math.Sqrt(sum2/float64(k.N)), sum/float64(k.N)
	}
	if k.EndN > 0 {
		k.EndRMS = math.Sqrt(end2 / float64(k.EndN))
	}
	if n > 0 && bothLinear > 0 {
		k.SkillLinear = 1 - both/bothLinear
	}
	k.MoreThanLinear = moreThan(loo, linear)
	return k
}

// moreThan returns the rms of residuals less that of others at the same data, on those of inner stations that both
// predict. Its standard error is that of a ratio estimate with stations as clusters (Cochran 1977, Sampling Techniques,
// 3rd edition, chapter 6): of the difference of mean squares, divided by the sum of both rms.
func moreThan(loo, other []leftOut) Difference {
	type station struct{ squares, others, n float64 }
	var all station
	stations := map[int]*station{}
	for i, d := range loo {
		if other == nil || !d.inner || math.IsNaN(d.residual) || math.IsNaN(other[i].residual) {
			continue
		}
		s := stations[d.site]
		if s == nil {
			s = &station{}
			stations[d.site] = s
		}
		for _, t := range []*station{s, &all} {
			t.squares += d.residual * d.residual
			t.others += other[i].residual * other[i].residual
			t.n++
		}
	}
	m := float64(len(stations))
	d := Difference{Value: math.NaN(), Error: math.NaN(), Stations: len(stations)}
	rms, rmsOther := math.Sqrt(all.squares/all.n), math.Sqrt(all.others/all.n)
	if d.Value = rms - rmsOther; m < 2 || rms+rmsOther == 0 {
		return d
	}
	per := (all.squares - all.others) / all.n
	sum := 0.0
	for _, k := range slices.Sorted(maps.Keys(stations)) { // in one order: the same bits every time
		u := stations[k].squares - stations[k].others - per*stations[k].n
		sum += u * u
	}
	d.Error = math.Sqrt(m/(m-1)*sum) / all.n / (rms + rmsOther)
	return d
}
