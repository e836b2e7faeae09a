// Package statement writes the documents that go with an archive: a document of headings, paragraphs, lists and tables
// as Markdown and as HTML, with the same words in both.
package statement

import (
	"fmt"
	"html"
	"io"
	"strings"
)

// A Document is a title and what is below it, in order.
type Document struct {
	Title  string
	Blocks []Block
}

// A Block is a heading, a paragraph, a list or a table: whichever of its fields is set.
type Block struct {
	Heading string
	Text    string
	List    []string
	Table   *Table
}

// A Table has rows as long as its head.
type Table struct {
	Head []string
	Rows [][]string
}

// Heading adds a heading.
func (d *Document) Heading(text string) { d.Blocks = append(d.Blocks, Block{Heading: text}) }

// Text adds a paragraph; nothing when it is empty.
func (d *Document) Text(format string, a ...any) {
	if text := fmt.Sprintf(format, a...); text != "" {
		d.Blocks = append(d.Blocks, Block{Text: text})
	}
}

// List adds a list; nothing when it is empty.
func (d *Document) List(items []string) {
	if len(items) > 0 {
		d.Blocks = append(d.Blocks, Block{List: items})
	}
}

// Table adds a table; nothing when it has no rows. Columns in which no row has a text are left out.
func (d *Document) Table(head []string, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	t := &Table{Rows: make([][]string, len(rows))}
	for c, name := range head {
		used := false
		for _, r := range rows {
			used = used || r[c] != ""
		}
		if !used {
			continue
		}
		t.Head = append(t.Head, name)
		for i, r := range rows {
			t.Rows[i] = append(t.Rows[i], r[c])
		}
	}
	d.Blocks = append(d.Blocks, Block{Table: t})
}

// WriteMarkdown writes the document as Markdown (CommonMark with tables).
func WriteMarkdown(w io.Writer, d *Document) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n", markdown(d.Title))
	for i := range d.Blocks {
		b.WriteByte('\n')
		switch x := &d.Blocks[i]; {
		case x.Heading != "":
			fmt.Fprintf(&b, "## %s\n", markdown(x.Heading))
		case x.Table != nil:
			line := func(cells []string) {
				for _, c := range cells {
					b.WriteString("| " + inline(c) + " ")
				}
				b.WriteString("|\n")
			}
			line(x.Table.Head)
			b.WriteString(strings.Repeat("| --- ", len(x.Table.Head)) + "|\n")
			for _, r := range x.Table.Rows {
				line(r)
			}
		case x.List != nil:
			for _, item := range x.List {
				fmt.Fprintf(&b, "- %s\n", markdown(item))
			}
		default:
			fmt.Fprintf(&b, "%s\n", markdown(x.Text))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// special are the characters that Markdown may take for markup wherever they occur in a line.
var special = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "`", "\\`", "<", "&lt;", "[", `\[`,
	"~", `\~`, "&", "&amp;")

// inline returns a text on one line, as Markdown that reads as the text inside a table or a heading.
func inline(s string) string { return special.Replace(strings.Join(strings.Fields(s), " ")) }

// markdown returns a text on one line, as Markdown that reads as the text where a line begins with it.
func markdown(s string) string {
	s = inline(s)
	if s != "" && (strings.ContainsRune("#=>", rune(s[0])) || strings.HasPrefix(s, "+ ") || strings.HasPrefix(s, "-")) {
		return `\` + s
	}
	// a number and a full stop or bracket at the beginning would begin a list
	if n := strings.TrimLeft(s, "0123456789"); len(n) < len(s) && (strings.HasPrefix(n, ". ") ||
		strings.HasPrefix(n, ") ")) {
		return s[:len(s)-len(n)] + `\` + n
	}
	return s
}

const style = `body{font:16px/1.5 sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#222;background:#fff}
table{border-collapse:collapse;margin:1em 0;font-size:14px}th,td{border:1px solid #bbb;padding:.2em .6em;text-align:left;
vertical-align:top}th{background:#eee}h2{margin-top:2em}`

// WriteHTML writes the document as a page of its own, without scripts and links.
func WriteHTML(w io.Writer, d *Document) error {
	var b strings.Builder
	e := html.EscapeString
	fmt.Fprintf(&b,
		"<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>%s</title>\n<style>%s</style>\n"+
			"</head>\n<body>\n<h1>%s</h1>\n", e(d.Title), style, e(d.Title))
	row := func(tag string, cells []string) {
		b.WriteString("<tr>")
		for _, c := range cells {
			fmt.Fprintf(&b, "<%s>%s</%s>", tag, e(c), tag)
		}
		b.WriteString("</tr>\n")
	}
	for i := range d.Blocks {
		switch x := &d.Blocks[i]; {
		case x.Heading != "":
			fmt.Fprintf(&b, "<h2>%s</h2>\n", e(x.Heading))
		case x.Table != nil:
			b.WriteString("<table>\n")
			row("th", x.Table.Head)
			for _, r := range x.Table.Rows {
				row("td", r)
			}
			b.WriteString("</table>\n")
		case x.List != nil:
			b.WriteString("<ul>\n")
			for _, item := range x.List {
				fmt.Fprintf(&b, "<li>%s</li>\n", e(item))
			}
			b.WriteString("</ul>\n")
		default:
			fmt.Fprintf(&b, "<p>%s</p>\n", e(x.Text))
		}
	}
	b.WriteString("</body>\n</html>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
