package book

import (
	"bytes"
	"io"
	"math"
	"runtime"
	"testing"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// TestNumbersAndLooks: a row of numbers with a look, and over them what was written by
// itself: another number, or a look alone.
func TestNumbersAndLooks(t *testing.T) {
	w := NewWriter()
	p := w.Page("a")
	p.Numbers(2, 2, []float64{1, math.NaN(), 3}, Style{Bold: true})
	p.Numbers(3, 2, []float64{4, 5, 6}, Style{Bold: true})
	p.Style(3, 3, 4, Style{Format: "0.00%"})
	p.Number(3, 3, 7, Style{})
	p.Number(2, 4, 9, Style{Format: "yyyy"})
	p.Style(2, 1, 2, Style{Format: "0%"})
	p.Text(5, 1, "end", Style{})
	p.Height(7, 2)
	got := cells(t, opened(t, written(t, w)).Sheets[0])
	want := map[[2]int]sheet.Cell{
		{2, 2}: {Text: "1", Kind: sheet.Percent}, {2, 4}: {Text: "9", Kind: sheet.Date}, {3, 2}: {Text: "4", Kind: sheet.Number},
		{3, 3}: {Text: "7", Kind: sheet.Percent}, {3, 4}: {Text: "6", Kind: sheet.Percent}, {5, 1}: {Text: "end", Kind: sheet.Text},
	}
	for at, c := range want {
		if g := got[at]; g.Text != c.Text || g.Kind != c.Kind {
			t.Errorf("row %d, column %d holds %s %q, want %s %q", at[0], at[1], g.Kind, g.Text, c.Kind, c.Text)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d cells came back, want %d: %v", len(got), len(want), got)
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
	for row := range rows {
		p.Numbers(row+1, 1, values[row*columns:(row+1)*columns], Style{})
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if err := w.Write(io.Discard); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if each := float64(after.TotalAlloc-before.TotalAlloc) / rows / columns; each > 40 {
		t.Errorf("writing took %.0f bytes for each cell", each)
	}
	var raw bytes.Buffer
	if err := w.Write(&raw); err != nil {
		t.Fatal(err)
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
