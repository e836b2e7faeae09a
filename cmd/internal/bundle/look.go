package bundle

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html"
	"image"
	"image/png"
	"net/url"
	"path"
	"regexp"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
)

// widths are the widths in pixels at which figures are tried, widest first.
var widths = []int{1200, 800, 500}

// A looker packs a parcel to look at.
type looker struct {
	a      *archive.Archive
	cruise *cruisefile.Cruise
	label  *Label
	// of an earlier archive that the receiver has seen, the checksum of each file; nil: none
	seen map[string]string
	// what changed since that archive, in words
	changes []byte
	own     bool // with the page of the archive itself, else one of links and figures
}

// look packs a page with documents, tables and figures within a budget. The page is that of the archive, where it fits;
// figures get the greatest width at which all of them fit beside it. Where none does, figures are left out, the last
// first, then the largest tables; where even that is too much, the page is a plain one of links and figures.
func (k *looker) look(ctx context.Context, most, part int64) ([]byte, error) {
	figures := k.fresh(k.a.Matching("figures/*.png"))
	tables := k.fresh(append(k.a.Matching("tables/*.csv"), k.a.Matching("tables/*.geojson")...))
	for _, k.own = range []bool{true, false} {
		if k.own && !k.a.Has(pageFile) {
			continue
		}
		data, err := k.within(ctx, figures, tables, most, part)
		if data != nil || err != nil {
			return data, err
		}
	}
	return nil, &metadata.InputError{Position: metadata.Position{File: k.a.Name},
		Err:    fmt.Errorf("no page of this archive fits into %d bytes; nothing was packed", most),
		Remedy: "give a larger --max"}
}

// fresh returns the files that the receiver has not seen as they are now.
func (k *looker) fresh(files []string) (out []string) {
	for _, f := range files {
		if k.seen[f] != k.a.File(f).SHA256 {
			out = append(out, f)
		}
	}
	return out
}

// within packs as much as a budget allows; nil when it allows nothing.
func (k *looker) within(ctx context.Context, figures, tables []string, most, part int64) ([]byte, error) {
	var pictures []picture
	for i := -1; i < len(widths); i++ {
		if i >= 0 && most == 0 {
			break
		}
		var err error
		if pictures, err = picturesOf(ctx, k.a, figures, i); err != nil {
			return nil, err
		}
		data, err := k.pack(pictures, tables)
		if err != nil || fits(data, most, part) {
			return data, err
		}
	}
	for len(pictures) > 0 || len(tables) > 0 {
		if n := len(pictures); n > 0 {
			pictures = pictures[:n-1]
		} else {
			tables = dropLargest(k.a, tables)
		}
		data, err := k.pack(pictures, tables)
		if err != nil || fits(data, most, part) {
			return data, err
		}
	}
	return nil, nil
}

// picture is a figure as a parcel holds it.
type picture struct {
	file    string
	data    []byte
	caption string
	width   int // it was made narrower to this; 0: as it is in the archive
}

// picturesOf reads figures, made no wider than a place in widths; -1: as they are.
func picturesOf(ctx context.Context, a *archive.Archive, figures []string, at int) ([]picture, error) {
	var out []picture
	for _, f := range figures {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		data, err := a.Read(f)
		if err != nil {
			return nil, err
		}
		x := picture{file: f, data: data}
		if at >= 0 {
			small, narrowed, err := narrow(data, widths[at])
			if err != nil {
				return nil, fmt.Errorf("%s: %w", f, err)
			}
			if x.data = small; narrowed {
				x.width = widths[at]
			}
		}
		if text := strings.TrimSuffix(f, ".png") + ".txt"; a.Has(text) {
			caption, err := a.Read(text)
			if err != nil {
				return nil, err
			}
			x.caption = string(caption)
		}
		out = append(out, x)
	}
	return out, nil
}

// fits reports whether a parcel with the heads of its parts is within the budget.
func fits(data []byte, most, part int64) bool {
	size := int64(len(data)) + headBytes
	if part > headBytes {
		size += int64(len(data)) / (part - headBytes) * headBytes
	}
	return most == 0 || size <= most
}

func dropLargest(a *archive.Archive, names []string) []string {
	largest := 0
	for i, n := range names {
		if a.File(n).Bytes > a.File(names[largest]).Bytes {
			largest = i
		}
	}
	out := append([]string{}, names[:largest]...)
	return append(out, names[largest+1:]...)
}

// pageFile is the page of an archive.
const pageFile = "index.html"

// pack packs some figures and some tables.
func (k *looker) pack(pictures []picture, tables []string) ([]byte, error) {
	l := k.label
	l.LeftOut = nil
	p := page{cruise: k.cruise, label: l}
	var members []member
	held := map[string]bool{pageFile: k.own}
	take := func(group string, names ...string) error {
		for _, name := range names {
			data, err := k.a.Read(name)
			if err != nil {
				return err
			}
			members = append(members, member{name, data})
			held[name] = true
			p.link(group, name)
		}
		return nil
	}
	if k.changes != nil {
		members = append(members, member{changesFile, k.changes})
		p.link("Documents", changesFile)
	}
	documents := append([]string{"README.txt"}, k.fresh(k.a.Matching("documents/*.html"))...)
	if err := errors.Join(take("Documents", documents...), take("Tables", tables...)); err != nil {
		return nil, err
	}
	for i := range pictures {
		x := &pictures[i]
		members = append(members, member{x.file, x.data})
		p.figure(x.file, x.caption)
		if held[x.file] = true; x.width > 0 {
			l.LeftOut = append(l.LeftOut, LeftOut{File: x.file, Width: x.width,
				Why: fmt.Sprintf("in the parcel %d pixels wide", x.width)})
		}
	}
	for _, f := range k.a.Files {
		if _, same := k.seen[f.Path]; !held[f.Path] && same && k.seen[f.Path] == f.SHA256 {
			l.LeftOut = append(l.LeftOut, LeftOut{File: f.Path, Why: "the same as in the earlier archive"})
		} else if !held[f.Path] {
			l.LeftOut = append(l.LeftOut, LeftOut{File: f.Path, Why: "not in the parcel"})
		}
	}
	text := p.bytes()
	if k.own {
		data, err := k.a.Read(pageFile)
		if err != nil {
			return nil, err
		}
		text = p.within(data, held)
	}
	return pack(l, append([]member{{pageFile, text}}, members...))
}

// narrow returns a picture no wider than width, and whether it was made smaller.
func narrow(data []byte, width int) ([]byte, bool, error) {
	in, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, false, err
	}
	b := in.Bounds()
	if b.Dx() <= width {
		return data, false, nil
	}
	out := image.NewRGBA(image.Rect(0, 0, width, max(1, b.Dy()*width/b.Dx())))
	average(out, in)
	var w bytes.Buffer
	err = png.Encode(&w, out)
	return w.Bytes(), true, err
}

// average fills each pixel of a picture with the mean of the pixels of a larger one that it covers.
func average(out *image.RGBA, in image.Image) {
	from, to := in.Bounds(), out.Bounds()
	for y := range to.Dy() {
		y0, y1 := from.Min.Y+y*from.Dy()/to.Dy(), from.Min.Y+(y+1)*from.Dy()/to.Dy()
		for x := range to.Dx() {
			x0, x1 := from.Min.X+x*from.Dx()/to.Dx(), from.Min.X+(x+1)*from.Dx()/to.Dx()
			var sum [4]uint64
			n := uint64(0)
			for v := y0; v < max(y1, y0+1); v++ {
				for u := x0; u < max(x1, x0+1); u++ {
					r, g, b, a := in.At(u, v).RGBA()
					for k, c := range [4]uint32{r, g, b, a} {
						sum[k] += uint64(c)
					}
					n++
				}
			}
			for k := range sum {
				out.Pix[out.PixOffset(x, y)+k] = uint8(sum[k] / n >> 8)
			}
		}
	}
}

// page is the page of a parcel: links to what the parcel holds, and its figures. It needs no script and no network.
type page struct {
	cruise  *cruisefile.Cruise
	label   *Label
	links   map[string][]string
	figures strings.Builder
}

func (p *page) link(group, file string) {
	if p.links == nil {
		p.links = map[string][]string{}
	}
	p.links[group] = append(p.links[group], file)
}

func (p *page) figure(file, caption string) {
	e := html.EscapeString
	fmt.Fprintf(&p.figures, "<figure><img src=\"%s\" alt=\"%s\"><figcaption>%s</figcaption></figure>\n",
		e(file), e(strings.TrimSuffix(path.Base(file), ".png")), e(strings.TrimSpace(caption)))
}

// links of the page of an archive to its files
var fileLink = regexp.MustCompile(`<a href="\./([^"]*)"( download)?>`)

// within returns the page of the archive for a parcel: with a part that says what the parcel holds, and without links
// to files that it does not.
func (p *page) within(data []byte, held map[string]bool) []byte {
	data = fileLink.ReplaceAllFunc(data, func(link []byte) []byte {
		name, err := url.PathUnescape(html.UnescapeString(string(fileLink.FindSubmatch(link)[1])))
		if err == nil && held[name] {
			return link
		}
		return []byte("<a>")
	})
	var b bytes.Buffer
	b.WriteString("<main>\n<section id=\"parcel\" aria-labelledby=\"parcel-head\">\n" +
		"<h2 id=\"parcel-head\">This parcel</h2>\n")
	p.writeHead(&b)
	p.writeLinks(&b)
	if n := len(p.label.LeftOut); n > 0 {
		b.WriteString("<details><summary>Left out</summary>\n")
		p.writeLeftOut(&b)
		b.WriteString("</details>\n")
	}
	b.WriteString("</section>\n")
	return bytes.Replace(data, []byte("<main>\n"), b.Bytes(), 1)
}

// writeHead says what the page is a part of and under which embargo.
func (p *page) writeHead(b *bytes.Buffer) {
	e := html.EscapeString
	fmt.Fprintf(b, "<p>Part of the archive %s (release status %s, time stamp %s, made by %s).</p>\n", e(p.label.Cruise),
		e(string(p.cruise.Release.Status)), e(p.label.Stamp), e(p.label.Program))
	if p.label.Embargo != "" {
		fmt.Fprintf(b, "<p>Embargo: not to be passed on before %s. Packed for %s.</p>\n", e(p.label.Embargo),
			e(p.label.To))
	}
	if p.label.Since != "" {
		fmt.Fprintf(b, "<p>Tables, documents and figures are here where they changed since the archive of %s; "+
			"<a href=\"./%s\">%s</a> lists every change.</p>\n", e(p.label.Since), changesFile, changesFile)
	}
}

// writeLinks lists the files of the parcel but the figures.
func (p *page) writeLinks(b *bytes.Buffer) {
	e := html.EscapeString
	for _, group := range []string{"Documents", "Tables"} {
		if len(p.links[group]) == 0 {
			continue
		}
		fmt.Fprintf(b, "<h3>%s</h3>\n<ul>\n", group)
		for _, f := range p.links[group] {
			fmt.Fprintf(b, "<li><a href=\"%s\">%s</a></li>\n", e(f), e(path.Base(f)))
		}
		b.WriteString("</ul>\n")
	}
}

// writeLeftOut lists what the parcel does not hold, or holds in another form.
func (p *page) writeLeftOut(b *bytes.Buffer) {
	e := html.EscapeString
	fmt.Fprintf(b, "<p>%d files of the archive are not here, or are here in a smaller form:</p>\n<ul>\n",
		len(p.label.LeftOut))
	for _, x := range p.label.LeftOut {
		fmt.Fprintf(b, "<li>%s: %s</li>\n", e(x.File), e(x.Why))
	}
	b.WriteString("</ul>\n")
}

// bytes returns a plain page of links and figures.
func (p *page) bytes() []byte {
	var b bytes.Buffer
	e := html.EscapeString
	title := p.cruise.Title
	if title == "" {
		title = p.label.Cruise
	}
	fmt.Fprintf(&b, `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>%s</title>
<style>body{font:16px/1.5 sans-serif;max-width:60em;margin:2em auto;padding:0 1em}
img{max-width:100%%}figcaption{white-space:pre-line}</style>
</head>
<body>
<h1>%s</h1>
<p>%s</p>
`, e(title), e(title), e(export.Cautions))
	p.writeHead(&b)
	p.writeLinks(&b)
	if p.figures.Len() > 0 {
		b.WriteString("<h2>Figures</h2>\n" + p.figures.String())
	}
	if len(p.label.LeftOut) > 0 {
		b.WriteString("<h2>Left out</h2>\n")
		p.writeLeftOut(&b)
	}
	b.WriteString("</body>\n</html>\n")
	return b.Bytes()
}
