package view_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/tables"
)

func must[T any](t *testing.T) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// sample is an invented calibration and a corrected copy of it.
func sample(t *testing.T, title string) (before, after *tables.Calibration, set *merge.ChangeSet) {
	x := must[*tables.Axis](t)(tables.NewAxis("engine speed", "r/min", []float64{600, 800, 1200, 2000, 3200, 4800}))
	y := must[*tables.Axis](t)(tables.NewAxis("air charge", "mg", []float64{120, 240, 360, 480}))
	p := must[*tables.Axis](t)(tables.NewAxis("differential pressure", "kPa", []float64{250, 300, 350, 400}))
	spark := make([]float64, 24)
	for i := range spark {
		spark[i] = 30 - float64(i/6)*4 + float64(i%6)*1.5
	}
	doc := func(flow []float64, spark []float64) *tables.Calibration {
		return must[*tables.Calibration](t)(tables.NewCalibration(tables.Contents{Name: title, Tables: []*tables.Table{
			must[*tables.Table](t)(tables.NewTable(tables.Fields{ID: "injector.flow", Title: title, Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001, X: p, Values: flow})),
			must[*tables.Table](t)(tables.NewTable(tables.Fields{ID: "spark.advance", Role: tables.SparkAdvance, Unit: "deg", Resolution: 0.5, X: x, Y: y, Values: spark})),
		}}))
	}
	changed := append([]float64(nil), spark...)
	changed[8], changed[9] = changed[8]-2, changed[9]-1.5
	before = doc([]float64{2.214, 2.425, 2.62, 2.8}, spark)
	after = doc([]float64{2.14, 2.344, 2.531, 2.705}, changed)
	set = &merge.ChangeSet{Edits: []merge.Edit{
		&merge.CellEdit{Table: "injector.flow", Row: 0, Column: 2, From: 2.62, To: 2.531, Why: &merge.Evidence{Count: 812, Visits: 41, Mean: 3.52, SE: 0.18, Unit: "%"}},
		&merge.CellEdit{Table: "spark.advance", Row: 1, Column: 2, From: 29, To: 27, Why: &merge.Evidence{Note: title}},
	}}
	return before, after, set
}

func difference(before, after *tables.Calibration, set *merge.ChangeSet) *view.View {
	t := merge.Tolerance{}
	return view.Difference(before, after, merge.Compare(before, after, t, merge.Selection{}), t, set)
}

// TestHostileNames keeps what a user wrote from becoming markup or script.
func TestHostileNames(t *testing.T) {
	const evil = "<script>alert(1)</script> \"onmouseover='x' javascript:alert(2) \u202e\x1b[2J\a\u009b\u2028</td>"
	before, after, set := sample(t, evil)
	v := difference(before, after, set)
	v.Parts = append(v.Parts, view.Show(before, before.Tables()).Parts...)
	v.Title, v.Lead, v.Cautions = evil, []string{evil}, []string{evil}
	var b bytes.Buffer
	if err := page.Write(&b, v); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	for _, bad := range []string{"<script>alert", "'x'", "\u202e", "\x1b", "\a", "\u009b", "\u2028"} {
		if strings.Contains(html, bad) {
			t.Errorf("the page holds %q as it was written", bad) // promise: hostile names are only text
		}
	}
	if n := strings.Count(html, "<script>"); n != 1 {
		t.Errorf("the page has %d scripts, want its own alone", n)
	}
}

// TestCleaned: every text is cleaned but what goes to a file as it is, and what it
// was made from stays as it was.
func TestCleaned(t *testing.T) {
	const evil, clean = "a\x1bb", `a\x1bb`
	choice := view.Choice{Raw: evil, Words: evil, Sides: []view.Side{{Text: evil}}}
	v := &view.View{Title: evil, Lead: []string{evil}, Decide: &view.Decide{Head: evil, Tail: [2]string{evil}, Choices: []view.Choice{choice},
		Tables: []*view.Decided{{Name: evil}}}, Parts: []view.Part{{Charts: []view.Chart{{Surface: &view.Surface{X: []string{evil}}}},
		Grids: []view.Grid{{Table: view.Table{Lines: [][]view.Cell{{{}, {Note: evil}}}}}}, Rows: &view.Rows{Table: view.Table{Lines: [][]view.Cell{{{Text: evil}}}}}}}}
	c := view.Cleaned(v)
	p, d := c.Parts[0], c.Decide
	for i, got := range []string{c.Title, c.Lead[0], d.Choices[0].Words, d.Choices[0].Sides[0].Text, d.Tables[0].Name, p.Charts[0].Surface.X[0], p.Grids[0].Lines[0][1].Note, p.Rows.Lines[0][0].Text} {
		if got != clean {
			t.Errorf("text %d is %q, want %q", i, got, clean)
		}
	}
	for i, got := range []string{d.Head, d.Tail[0], d.Choices[0].Raw, v.Title, v.Lead[0], choice.Sides[0].Text, v.Decide.Tables[0].Name, v.Parts[0].Rows.Lines[0][0].Text} {
		if got != evil {
			t.Errorf("text %d became %q", i, got)
		}
	}
}

// TestSameBytes: the same result is the same page.
func TestSameBytes(t *testing.T) {
	before, after, set := sample(t, "Quay pump boat")
	var first []byte
	for range 3 {
		var b bytes.Buffer
		if err := page.Write(&b, difference(before, after, set)); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b.Bytes()
		} else if !bytes.Equal(first, b.Bytes()) {
			t.Fatal("two writings of one page differ")
		}
	}
	for _, want := range []string{"default-src 'none'", "<caption>", `scope="col"`, `scope="row"`, "812 samples in 41 visits", "−0.089"} {
		if !bytes.Contains(first, []byte(want)) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if path := os.Getenv("CALSPLICE_PAGE"); path != "" {
		os.WriteFile(path, first, 0o644)
	}
}

// TestLargeMaps: a page has every value of the largest map that it prints, and
// is small enough to open; beyond that it says so.
func TestLargeMaps(t *testing.T) {
	for _, c := range []struct {
		rows, columns int
		fits          bool
	}{{100, 100, true}, {200, 200, true}, {200, 201, false}} {
		points := func(n int) []float64 {
			list := make([]float64, n)
			for i := range list {
				list[i] = float64(400 + 25*i)
			}
			return list
		}
		values := make([]float64, c.rows*c.columns)
		for i := range values {
			values[i] = -1106.11 - float64(i)
		}
		x := must[*tables.Axis](t)(tables.NewAxis("engine speed", "r/min", points(c.columns)))
		y := must[*tables.Axis](t)(tables.NewAxis("air charge", "mg", points(c.rows)))
		table := must[*tables.Table](t)(tables.NewTable(tables.Fields{ID: "spark", Unit: "deg", X: x, Y: y, Values: values}))
		doc := must[*tables.Calibration](t)(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}}))
		var b bytes.Buffer
		if err := page.Write(&b, view.Show(doc, doc.Tables())); err != nil {
			t.Fatal(err)
		}
		if b.Len() > 4<<20 {
			t.Errorf("%d × %d: the page has %d bytes", c.rows, c.columns, b.Len())
		}
		shown := map[string]bool{}
		for cell := range strings.SplitSeq(b.String(), "<td") {
			_, text, _ := strings.Cut(cell, ">")
			text, _, _ = strings.Cut(text, "<")
			shown[text] = true
		}
		missing := 0
		for _, v := range values {
			if !shown[tables.Shown(v)] {
				missing++
			}
		}
		if c.fits && missing > 0 {
			t.Errorf("%d × %d: %d values are missing", c.rows, c.columns, missing)
		}
		if !c.fits && !strings.Contains(b.String(), "too many to print") {
			t.Errorf("%d × %d: the page does not say that it leaves the values out", c.rows, c.columns)
		}
	}
}
