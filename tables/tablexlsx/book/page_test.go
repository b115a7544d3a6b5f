package book

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// TestRowsAndPages: cells stand where they were put, rows of nothing are left out, and
// pages are filled in any order, each at one go.
func TestRowsAndPages(t *testing.T) {
	w := NewWriter()
	p, q, empty := w.Page("a"), w.Page("b"), w.Page("c")
	q.Next()
	q.Styled("first", Style{})
	p.Next()
	p.Next()
	p.To(2)
	p.Value(1, Style{Format: "0%"})
	p.Value(math.NaN(), Style{Bold: true})
	p.Value(9, Style{Format: "yyyy"})
	p.Fill(2, Style{Bold: true})
	p.Value(3, Style{})
	p.Next()
	p.Next()
	p.Name("end")
	p.Number(4)
	b := opened(t, written(t, w))
	got := cells(t, b.Sheets[0])
	want := map[[2]int]sheet.Cell{
		{2, 2}: {Text: "1", Kind: sheet.Percent}, {2, 4}: {Text: "9", Kind: sheet.Date}, {2, 7}: {Text: "3", Kind: sheet.Number},
		{5, 1}: {Text: "end", Kind: sheet.Text}, {5, 2}: {Text: "4", Kind: sheet.Number},
	}
	for at, c := range want {
		if g := got[at]; g.Text != c.Text || g.Kind != c.Kind {
			t.Errorf("row %d, column %d holds %s %q, want %s %q", at[0], at[1], g.Kind, g.Text, c.Kind, c.Text)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d cells came back, want %d: %v", len(got), len(want), got)
	}
	if c := cells(t, b.Sheets[1]); c[[2]int{1, 1}].Text != "first" || len(cells(t, b.Sheets[2])) > 0 {
		t.Errorf("the second page holds %v, the third %v", c, empty)
	}
	w = NewWriter()
	p, q = w.Page("a"), w.Page("b")
	for _, p := range []*Page{p, q, p} {
		p.Name("one")
		p.Name("two")
	}
	if err := w.Write(io.Discard); err == nil || err.Error() != "the sheet a is filled after another one was begun" {
		t.Errorf("a page is filled again after another one: %v", err)
	}
}

// TestTextOfRows: a person's text is wrapped over several columns and as high as its
// lines, unless the row has a look of its own; JSON shows one line.
func TestTextOfRows(t *testing.T) {
	w := NewWriter()
	p := w.Page("a")
	p.Looks = map[string]Style{"name": Large}
	for _, row := range [][2]string{{"name", "two\nlines"}, {"notes", "two\nlines"}, {"more", " blanks round it "}, {"long", strings.Repeat("z", 5000)}} {
		p.Name(row[0])
		p.Text(row[1])
	}
	p.Name("x-a")
	p.JSON("[\n1\n]")
	p.Name("word")
	p.Word("plain")
	raw := written(t, w)
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := z.Open("xl/worksheets/sheet1.xml")
	if err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(r)
	for _, want := range []string{`<row r="1">`, `<row r="2" ht="30" customHeight="1">`, `<row r="3" ht="15" customHeight="1">`, `<row r="4">`, `<row r="5" ht="15" customHeight="1">`,
		`<row r="6">`, `<t xml:space="preserve"> blanks round it </t>`, `<t>plain</t>`, `<mergeCells><mergeCell ref="B2:I2"/><mergeCell ref="B3:I3"/></mergeCells>`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the sheet has no %s:\n%.2000s", want, text)
		}
	}
}

// TestNothingIsKeptOfACell: neither writing nor reading a large sheet takes memory
// for each of its cells.
func TestNothingIsKeptOfACell(t *testing.T) {
	const rows, columns = 1000, 200
	values := make([]float64, rows*columns)
	for i := range values {
		values[i] = math.Sqrt(float64(i))
	}
	w := NewWriter()
	p := w.Page("a")
	var raw bytes.Buffer
	raw.Grow(4 << 20) // what it takes to hold the workbook is the test's own
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for i, v := range values {
		if i%columns == 0 {
			p.Next()
		}
		p.Value(v, Style{})
	}
	if err := w.Write(&raw); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if each := float64(after.TotalAlloc-before.TotalAlloc) / rows / columns; each > 25 {
		t.Errorf("writing took %.0f bytes for each cell", each)
	}
	s := opened(t, raw.Bytes()).Sheets[0]
	seen := 0
	if err := s.Rows(func(row sheet.Row) bool {
		for i, c := range row {
			if v, err := tables.ParseValue(c.Text); err != nil || v != values[seen+i] {
				t.Fatalf("cell %d came back as %q", seen+i, c.Text)
			}
		}
		if seen == 0 {
			runtime.GC()
			runtime.ReadMemStats(&before)
		}
		if seen += len(row); seen == rows*columns {
			runtime.GC()
			runtime.ReadMemStats(&after)
		}
		return true
	}); err != nil {
		t.Fatal(err)
	}
	if each := (float64(after.HeapAlloc) - float64(before.HeapAlloc)) / rows / columns; seen != rows*columns || each > 2 {
		t.Errorf("reading %d cells kept %.1f bytes of each", seen, each)
	}
}
