package book

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

var hostile = []string{"=1+1", "@SUM(A1)", "+1", "-1", "\t=cmd", "_x0041_", "_x0041_x0042_", "_x005F_", "_x0041\x01", "__x0001_",
	" leading", "trailing ", "\n", "a\r\nb\rc", "1.5", "0x1p-2", "inf", "NaN", "1_0", "\ufffe", "\U0001f697", "<b>&amp;</b>",
	"]]>", "'quoted", "true", "2024-05-01", "_x", "_", "é\u00a0", "\u202e", "{=1}", "_xD83D_"}

func text() *rapid.Generator[string] {
	return rapid.OneOf(rapid.SampledFrom(hostile), rapid.StringN(0, 40, -1),
		rapid.StringOfN(rapid.SampledFrom([]rune("_x0041F \r\n\x01\x1f=")), 0, 20, -1)).
		Filter(func(s string) bool { return !strings.ContainsRune(s, 0) })
}

func number() *rapid.Generator[float64] {
	return rapid.OneOf(rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-300, 5e-324, math.MaxFloat64, -math.MaxFloat64,
		0.1, 1.0 / 3, 123456789.123456789, 1e21, 2.5e-7}),
		rapid.Custom(func(t *rapid.T) float64 { return math.Float64frombits(rapid.Uint64().Draw(t, "bits")) }).
			Filter(func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }))
}

func written(t interface{ Fatal(...any) }, w *Writer) []byte {
	var out bytes.Buffer
	if err := w.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// cells are those of a sheet, by row and column.
func cells(t interface{ Fatal(...any) }, s *Sheet) map[[2]int]sheet.Cell {
	all := map[[2]int]sheet.Cell{}
	if err := s.Rows(func(row sheet.Row) bool {
		for _, c := range row {
			all[[2]int{int(c.Row), int(c.At)}] = c
		}
		return true
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

func opened(t interface{ Fatal(...any) }, raw []byte) *Book {
	b, err := Open(raw)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestCellsComeBack writes random text and numbers and reads the same to the
// bit, twice to the same bytes.
func TestCellsComeBack(t *testing.T) { rapid.Check(t, cellsComeBack) }

func FuzzCells(f *testing.F) { f.Fuzz(rapid.MakeFuzz(cellsComeBack)) }

func cellsComeBack(t *rapid.T) {
	texts := rapid.SliceOfN(text(), 1, 6).Draw(t, "texts")
	numbers := rapid.SliceOfN(number(), 1, 6).Draw(t, "numbers")
	build := func() []byte {
		w := NewWriter()
		p := w.Page("a")
		for i := range max(len(texts), len(numbers)) {
			p.Next()
			if p.To(2); i < len(texts) {
				p.Styled(texts[i], Style{Bold: true})
			}
			if p.To(4); i < len(numbers) {
				p.Value(numbers[i], Style{Format: "0.00"})
			}
		}
		return written(t, w)
	}
	raw := build()
	if !bytes.Equal(raw, build()) {
		t.Fatal("the same cells gave other bytes")
	}
	s := cells(t, opened(t, raw).Sheets[0])
	for i, want := range texts {
		c := s[[2]int{i + 1, 2}]
		if c.Text != want || (c.Kind == sheet.Text) != (want != "") {
			t.Fatalf("text %q came back as %v %q", want, c.Kind, c.Text)
		}
	}
	for i, want := range numbers {
		c := s[[2]int{i + 1, 4}]
		got, err := tables.ParseValue(c.Text)
		if err != nil || c.Kind != sheet.Number || !tables.SameBit(got, want) {
			t.Fatalf("number %v came back as %v %q (%v)", want, c.Kind, c.Text, err)
		}
	}
}

// TestNothingIsAFormula looks into the parts themselves.
func TestNothingIsAFormula(t *testing.T) {
	w := NewWriter()
	p := w.Page("=1+1")
	for _, s := range hostile {
		p.Next()
		p.Styled(s, Style{})
		p.Comment(s)
	}
	raw := written(t, w)
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		r, _ := f.Open()
		part, _ := io.ReadAll(r)
		if bytes.Contains(part, []byte("<f>")) || bytes.Contains(part, []byte("<f ")) {
			t.Errorf("%s holds a formula", f.Name) // promise: hostile names are only text
		}
	}
	for i, s := range hostile {
		if c := cells(t, opened(t, raw).Sheets[0])[[2]int{i + 1, 1}]; c.Kind != sheet.Text || c.Text != s {
			t.Errorf("%q came back as %v %q", s, c.Kind, c.Text)
		}
	}
}

func TestLongTextIsSplit(t *testing.T) {
	for _, s := range []string{strings.Repeat("a_x0041_\r\U0001f697", 40000), strings.Repeat("z", sheet.MostText), strings.Repeat("z", sheet.MostText+1)} {
		w := NewWriter()
		p := w.Page("a")
		p.Next()
		p.Next()
		p.Next()
		p.To(2)
		p.Long(s, Style{})
		row3 := cells(t, opened(t, written(t, w)).Sheets[0])
		var got strings.Builder
		for c := 2; row3[[2]int{3, c}].Text != ""; c++ {
			piece := row3[[2]int{3, c}].Text
			if n := len([]rune(piece)); n > sheet.MostText {
				t.Errorf("a cell holds %d characters", n)
			}
			got.WriteString(piece)
		}
		if got.String() != s {
			t.Errorf("text of %d bytes came back as %d", len(s), got.Len())
		}
	}
	w := NewWriter()
	w.Page("a").Styled(strings.Repeat("z", sheet.MostText+1), Style{})
	var out bytes.Buffer
	if err := w.Write(&out); err == nil || out.Len() > 0 {
		t.Errorf("a label of 32,001 characters was cut in silence: %v, %d bytes", err, out.Len())
	}
}

func TestSheetNames(t *testing.T) {
	w := NewWriter()
	var got []string
	for _, label := range []string{"Contents", "contents", "a/b:c", "", "history", strings.Repeat("x", 40), strings.Repeat("X", 41), "'q'", "\U0001f697" + strings.Repeat("y", 40)} {
		got = append(got, w.Page(label).Tab)
	}
	b := opened(t, written(t, w))
	seen := map[string]bool{}
	for i, s := range b.Sheets {
		if s.Name != got[i] || len([]rune(s.Name)) > 31 || seen[strings.ToLower(s.Name)] {
			t.Errorf("sheet %d is named %q, was to be %q", i, s.Name, got[i])
		}
		seen[strings.ToLower(s.Name)] = true
	}
}
