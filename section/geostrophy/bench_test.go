package geostrophy

import (
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/castwright/castwright/section"
)

// deepLine is an invented zonal or meridional line of 1-dbar casts.
func deepLine(casts, levels int, step float64) *section.Section {
	var list []*section.Cast
	for k := range casts {
		p, sa, ct := make([]float64, levels), make([]float64, levels), make([]float64, levels)
		for i := range p {
			x := step * float64(i+1)
			p[i] = x
			ct[i] = 2 + (18+2*math.Sin(float64(k)/7))*math.Exp(-x/(600+50*math.Cos(float64(k)/5))) + 0.01*math.Sin(
				x+float64(k))
			sa[i] = 35 + 1.1*math.Exp(-x/900)
		}
		list = append(list, castOf(fmt.Sprint(k+1), 30+0.1*float64(k), -40+0.4*float64(k), p, sa, ct))
	}
	return sectionOf("DEEP", list...)
}

// The peer's stage: dynamic height of each cast and velocity of each pair (150 casts of 5500 levels).
func BenchmarkCompute(b *testing.B) {
	sec := deepLine(150, 5500, 1)
	opts := DefaultOptions()
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
	b.ReportAllocs()
	for b.Loop() {
		mustCompute(b, sec, opts)
	}
}

// The same on two goroutines, and the time of each stage.
func BenchmarkComputeInParallel(b *testing.B) {
	sec := deepLine(150, 5500, 1)
	opts := DefaultOptions()
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
	opts.Each = onTwo
	spent := map[string]time.Duration{}
	var began time.Time
	now := ""
	opts.Stage = func(name string) {
		if now != "" {
			spent[now] += time.Since(began)
		}
		now, began = name, time.Now()
	}
	b.ReportAllocs()
	for b.Loop() {
		mustCompute(b, sec, opts)
		opts.Stage("")
	}
	for _, name := range []string{"velocity", "transport"} {
		b.ReportMetric(spent[name].Seconds()*1e3/float64(b.N), name+"-ms")
	}
}

// onTwo runs the work on two goroutines.
func onTwo(n int, do func(int)) error {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i)
			}
		})
	}
	wait.Wait()
	return nil
}
