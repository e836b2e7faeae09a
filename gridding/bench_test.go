package gridding

import "testing"

// The work of the peer in the bench folder, on an invented section: cell means on the levels of the grid, constant
// lengths, patterns solved once.
func BenchmarkComparison(b *testing.B) {
	o := newOcean(1, false)
	sec := o.sample(1, 40, false)
	opt := Options{Variables: []string{"ctemp", "asal"}, StepKm: 5, StepDbar: 10, LengthKm: 80, LengthDbar: 100,
		Noise: 0.05, Workers: 2, Comparison: &Comparison{}}
	for _, method := range []Method{Optimal, Linear} {
		b.Run(string(method), func(b *testing.B) {
			opt.Method = method
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Map(sec, opt); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkMethods(b *testing.B) {
	o := newOcean(1, false)
	sec := o.sample(1, 20, false)
	for _, method := range Methods() {
		b.Run(string(method), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Map(sec, Options{Method: method, Workers: 2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
