package statement_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/statement"
)

// Texts of a cruise file come out as they are, whatever characters they hold; nothing of them becomes markup.
func TestTextsStayTexts(t *testing.T) {
	d := &statement.Document{Title: "A <b> & *c*"}
	d.Heading("# one")
	d.Text("%s", "1. of_a|b `x` [y](z) <script>alert(1)</script>\n# not a heading")
	d.List([]string{"- a", "b"})
	d.Table([]string{"x", "empty", "y"}, [][]string{{"a|b", "", "c\nd"}, {"e", "", ""}})
	d.Table([]string{"none"}, nil)
	d.Text("")
	var md, page bytes.Buffer
	if err := statement.WriteMarkdown(&md, d); err != nil {
		t.Fatal(err)
	}
	if err := statement.WriteHTML(&page, d); err != nil {
		t.Fatal(err)
	}
	want := "# A &lt;b> &amp; \\*c\\*\n\n## \\# one\n\n" +
		"1\\. of\\_a\\|b \\`x\\` \\[y](z) &lt;script>alert(1)&lt;/script> # not a heading\n\n- \\- a\n- b\n\n" +
		"| x | y |\n| --- | --- |\n| a\\|b | c d |\n| e |  |\n"
	if md.String() != want {
		t.Errorf("%s\nwant\n%s", md.String(), want)
	}
	for _, no := range []string{"<script", "<b>", "empty", "none"} {
		if strings.Contains(page.String(), no) {
			t.Errorf("%q is in\n%s", no, page.String())
		}
	}
	if !strings.Contains(page.String(), "<td>c\nd</td>") || !strings.Contains(page.String(), "<th>y</th>") {
		t.Error(page.String())
	}
}
