package browser

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// Limits of the page of a cruise of 150 casts and 4 sections.
const (
	mostBytes     = 5_000_000
	mostPictureMs = 2000 // to the first picture
	mostReadyMs   = 6000 // to all figures, while other tests have the machine too
	mostReadoutMs = 50
)

// largeCruise writes a cruise of 150 casts to 5500 dbar on four lines, with structure at all scales, so that its
// figures are not simpler than those of real sections.
func largeCruise(t *testing.T) (cruiseFile string) {
	t.Helper()
	dir := t.TempDir()
	var sections strings.Builder
	n := 0
	for leg, count := range []int{38, 38, 37, 37} {
		first := n + 1
		for i := range count {
			n++
			lat, lon := -26.5, -46+0.47*float64(i)
			if leg%2 == 1 {
				lat, lon = -26.5+0.43*float64(i), -46+0.47*38*float64(leg)/2
			} else if leg == 2 {
				lat = -10
			}
			writeLargeCast(t, dir, n, lat, lon, float64(i)/float64(count-1), leg)
		}
		fmt.Fprintf(&sections, "  - {name: leg%d, stations: %d-%d, reference: 2000}\n", leg+1, first, n)
	}
	cruiseFile = filepath.Join(dir, "cruise.yaml")
	text := "cruise: {id: large}\ncasts: {sources: [casts]}\nsections:\n" + sections.String()
	if err := os.WriteFile(cruiseFile, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return cruiseFile
}

// writeLargeCast writes one cast in bins of 5 dbar; at is its place along the line, 0 to 1.
func writeLargeCast(t *testing.T, dir string, n int, lat, lon, at float64, leg int) {
	t.Helper()
	depth := 400 + 5000*math.Sin(math.Pi*math.Min(1, at*1.1+0.05))
	var b strings.Builder
	fmt.Fprintf(&b, "CTD,20260420INVENTED\nNUMBER_HEADERS = 10\nEXPOCODE = ZZLG20260301\nSECT_ID = L%d\nSTNNBR = %d\n"+
		"CASTNO = 1\nDATE = 202603%02d\nTIME = %02d30\nLATITUDE = %.4f\nLONGITUDE = %.4f\nDEPTH = %.0f\n", leg+1, n,
		1+n/6, n%6*4, lat, lon, depth)
	b.WriteString("CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W\n" +
		"DBAR,,ITS-90,,PSS-78,,UMOL/KG,\n")
	for p := 5.0; p < depth; p += 5 {
		lift := 120*math.Sin(9*at+float64(leg)) + 60*math.Sin(31*at)
		z := math.Max(0, p+lift*math.Exp(-p/1500))
		temp := 1.5 + 17*math.Exp(-z/600) + 0.4*math.Sin(z/170+14*at)*math.Exp(-z/1400)
		salt := 34.7 + 1.2*math.Exp(-z/350) - 0.35*math.Exp(-math.Pow((z-900)/350, 2)) + 0.02*math.Sin(z/120+20*at)
		oxy := 230 - 70*math.Exp(-math.Pow((z-700)/400, 2)) + 8*math.Sin(z/260+17*at)
		fmt.Fprintf(&b, "%.1f,2,%.4f,2,%.4f,2,%.2f,2\n", p, temp, salt, oxy)
	}
	b.WriteString("END_DATA\n")
	name := filepath.Join(dir, "casts", fmt.Sprintf("ZZLG20260301_%05d_00001_ct1.csv", n))
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The page of 150 casts and 4 sections is small, is seen soon, and reads out at once.
func TestSizeAndSpeed(t *testing.T) {
	within(t, filepath.Join(build(t, largeCruise(t), t.TempDir()), "index.html"))
}

// within fails when a page is larger or slower than the limits.
func within(t *testing.T, file string) {
	t.Helper()
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	x := open(t, file, 1200, 900)
	// The page is painted as it arrives; when its script has run, all figures are there and can be read. The least of
	// three times, as below.
	paint, ready := math.Inf(1), math.Inf(1)
	for range 3 {
		times := eval[[]float64](x, `new Promise((done) => { const look = () => {
			const p = performance.getEntriesByName("first-contentful-paint")[0],
				n = performance.getEntriesByType("navigation")[0];
			if (p && n.loadEventEnd) done([p.startTime, n.domContentLoadedEventEnd]); else setTimeout(look, 20);
		}; look(); })`)
		paint, ready = min(paint, times[0]), min(ready, times[1])
		x.do(chromedp.Reload())
	}
	// From the move of the pointer to the sentence, laid out: every figure, 20 places each, the least of three times
	// since other programs run too, and the slowest of all places.
	slowest := eval[[]float64](x, `(() => { let worst = 0, sum = 0, n = 0;
		for (const f of document.querySelectorAll(".field")) {
			f.closest(".part").querySelector('input[value="' + f.id + '"]').click();
			const svg = f.querySelector(".plot > svg"), out = f.querySelector("output"), r = svg.getBoundingClientRect();
			for (let i = 0; i < 20; i++) {
				let took = Infinity;
				for (const shift of [0, 0.011, 0.022]) {
					const before = performance.now();
					svg.dispatchEvent(new PointerEvent("pointermove", {bubbles: true,
						clientX: r.left + (0.1 + shift + 0.035 * i) * r.width, clientY: r.top + (0.12 + 0.02 * i) * r.height}));
					const height = out.offsetHeight;
					took = Math.min(took, performance.now() - before);
				}
				worst = Math.max(worst, took); sum += took; n++;
			}
		}
		return [worst, sum / n, n]; })()`)
	t.Logf("%d bytes; first picture after %.0f ms, figures ready after %.0f ms; readout after %.1f ms on average, "+
		"%.1f ms at worst of %.0f", info.Size(), paint, ready, slowest[1], slowest[0], slowest[2])
	if info.Size() > mostBytes {
		t.Errorf("%d bytes; the limit is %d", info.Size(), mostBytes)
	}
	if paint > mostPictureMs || ready > mostReadyMs {
		t.Errorf("the first picture is seen after %.0f ms, figures are ready after %.0f ms; limits %d and %d", paint,
			ready, mostPictureMs, mostReadyMs)
	}
	if slowest[2] < 300 || slowest[0] > mostReadoutMs {
		t.Errorf("%.0f readouts, %.1f ms at worst; the limit is %d", slowest[2], slowest[0], mostReadoutMs)
	}
	x.quiet()
}
