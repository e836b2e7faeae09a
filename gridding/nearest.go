package gridding

import (
	"math"
	"slices"
)

// gather finds the nearest data in scaled distance, in order of site and pressure. Equally near ones are taken by site
// and pressure.
func (m *optimalMap) gather(w *oiWork, q float64) {
	c := m.c
	most := m.set.cut * m.set.cut
	bound := math.Min(w.bound, most)
	for {
		w.cand = w.cand[:0]
		for _, i := range w.bySite {
			s := &w.near[i]
			if s.r2 > bound {
				continue
			}
			reach := math.Sqrt(bound - s.r2)
			own := c.level[c.first[s.n]:c.first[s.n+1]]
			from := int32(lowerBound(c.levels, m.c.down.above(q, reach)))
			i, _ := slices.BinarySearch(own, max(from-1, 0)) // one more: above is good to rounding
			for ; i < len(own); i++ {
				r := m.c.down.apart(c.levels[own[i]], q)
				if r > reach {
					break
				}
				if r2 := s.r2 + float64(r*r); r2 <= bound {
					w.cand = append(w.cand, candidate{r2: r2, n: c.first[s.n] + int32(i)})
				}
			}
		}
		if len(w.cand) >= m.set.neighbours || bound >= most {
			break
		}
		bound = math.Min(bound*1.6, most)
	}
	w.chosen = w.chosen[:0]
	if len(w.cand) <= m.set.neighbours {
		w.bound = bound
		for _, d := range w.cand {
			w.chosen = append(w.chosen, d.n)
		}
		return
	}
	w.keys = w.keys[:0]
	for _, d := range w.cand {
		w.keys = append(w.keys, d.r2)
	}
	farthest := nthSmallest(w.keys, m.set.neighbours-1)
	w.bound = farthest * 1.15
	equal := m.set.neighbours // how many of those as far as the farthest are taken
	for _, d := range w.cand {
		if d.r2 < farthest {
			equal--
		}
	}
	for _, d := range w.cand {
		if d.r2 < farthest {
			w.chosen = append(w.chosen, d.n)
		} else if d.r2 == farthest && equal > 0 {
			equal--
			w.chosen = append(w.chosen, d.n)
		}
	}
}

// nthSmallest returns the value that would be at place n if v were in increasing order, and changes the order of v
// (Hoare 1961, Commun. ACM 4, 321, FIND).
func nthSmallest(v []float64, n int) float64 {
	for lo, hi := 0, len(v)-1; lo < hi; {
		x := v[n]
		i, j := lo, hi
		for i <= j {
			for v[i] < x {
				i++
			}
			for x < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		if j < n {
			lo = i
		}
		if n < i {
			hi = j
		}
	}
	return v[n]
}
