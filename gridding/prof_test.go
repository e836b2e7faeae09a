package gridding
import "testing"
func BenchmarkDefault(b *testing.B) {
	o := newOcean(1, false)
	sec := o.sample(1, 20, false)
	for b.Loop() {
		if _, _, err := Map(sec, Options{}); err != nil { b.Fatal(err) }
	}
}
