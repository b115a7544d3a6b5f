package merge_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/merge/blocks"
	"calsplice/tables"
)

// spark is a document with one map; each argument replaces a part of it.
func spark(old ...string) *tables.Calibration {
	return parse(strings.NewReplacer(old...).Replace(`{"format": "calsplice/1", "name": "van", "tables": [
		{"id": "spark", "unit": "deg", "resolution": 0.5, "limits": [-10, 50],
		 "x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 2000, 4000]},
		 "y": {"quantity": "manifold pressure", "unit": "kPa", "points": [80, 160]},
		 "values": [[20, 28, 60], [16, 22, 27]]}]}`))
}

// apply applies edits of the cells of spark, with and without its frame.
func apply(doc *tables.Calibration, framed bool, o merge.ApplyOptions, edits ...merge.Edit) (*merge.Applied, error) {
	cs := merge.NewChangeSet(spark(), "test", edits)
	if !framed {
		cs.Frames = nil
	}
	return merge.ApplyWith(doc, cs, o)
}

func cell(row, column int, from, to float64) merge.Edit {
	return &merge.CellEdit{Table: "spark", Row: row, Column: column, From: from, To: to}
}

// What an edit's place is, and what is said of it. An edit of the cell [1, 1],
// 22° at 2000 r/min and 160 kPa, meets documents on other axes.
func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		why           string
		framed        bool
		replace       []string
		lands         []int // nil: refused
		says, refused string
	}{
		{"its own document", true, nil, []int{1, 1}, "", ""},
		{"another name", true, []string{"van", "boat"}, []int{1, 1}, "made for another document (van): its edits go by breakpoints", ""},
		{"no frame, its own document", false, nil, []int{1, 1}, "", ""},
		{"no frame, another document", false, []string{"van", "boat"}, []int{1, 1}, "has no frames: its edits go by row and column", ""},
		{"a row more", true, []string{"[80, 160]", "[40, 80, 160]", "[[20", "[[1, 2, 3], [20"}, []int{2, 1}, "", ""},
		{"a row more between", true, []string{"[80, 160]", "[80, 120, 160]", "], [16", "], [1, 2, 3], [16"}, []int{2, 1},
			"1 edit placed by breakpoints: the axes are not those of the change set; 1 between other neighbours", ""},
		{"no frame, a row more", false, []string{"[80, 160]", "[40, 80, 160]", "[[20", "[[1, 2, 3], [20"}, nil, "", "spark [1, 1]: found 28, expected 22"},
		{"another unit of an axis", true, []string{`"kPa", "points": [80, 160]`, `"bar", "points": [0.8, 1.6]`}, []int{1, 1}, "placed by breakpoints", ""},
		{"rounded in another unit", true, []string{`"kPa", "points": [80, 160]`, `"psi", "points": [11.6, 23.21]`}, []int{1, 1}, "placed by breakpoints", ""},
		{"rounded too far", true, []string{`"kPa", "points": [80, 160]`, `"psi", "points": [12, 23]`}, nil, "", "found y manifold pressure [psi] 12, 23, expected y manifold pressure [kPa] 160"},
		{"the breakpoint moved", true, []string{"[80, 160]", "[80, 150]"}, nil, "", "spark at 2000 r/min, 160 kPa: found y manifold pressure [kPa] 80, 150, expected y manifold pressure [kPa] 160"},
		{"another quantity", true, []string{"manifold pressure", "load"}, nil, "", "found y load [kPa]"},
		{"a unit that does not convert", true, []string{`"kPa"`, `"mg"`}, nil, "", "found y manifold pressure [mg]"},
		{"values in another unit", true, []string{`"deg"`, `"rad"`}, nil, "", `found one in "rad", expected a table in "deg"`},
		{"another spelling of the unit", true, []string{`"deg"`, `"°"`}, []int{1, 1}, "made for another document", ""},
	} {
		doc := spark(c.replace...)
		a, err := apply(doc, c.framed, merge.ApplyOptions{}, cell(1, 1, 22, 20))
		if c.lands == nil {
			if err == nil || !strings.Contains(err.Error(), c.refused) {
				t.Errorf("%s: got %v, want %q", c.why, err, c.refused)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		if got := a.Document.Table("spark").At(c.lands[0], c.lands[1]); got != 20 {
			t.Errorf("%s: the cell holds %v", c.why, got) // promise: an edit lands on its breakpoints or nowhere
		}
		if notes := strings.Join(a.Notes(), "\n"); !strings.Contains(notes, c.says) || len(c.replace) == 0 && notes != "" {
			t.Errorf("%s: says %q, want %q", c.why, notes, c.says)
		}
	}
}

// A column that the map does not have is not the next row's, though a list of
// the values goes on there.
func TestColumnsAreBounded(t *testing.T) {
	for _, framed := range []bool{true, false} {
		if _, err := apply(spark(), framed, merge.ApplyOptions{}, cell(0, 2, 60, 50)); err != nil {
			t.Errorf("the last column: %v", err)
		}
		_, err := apply(spark(), framed, merge.ApplyOptions{}, cell(0, 4, 22, 20))
		want := map[bool]string{true: "spark [0, 4]: found a frame of 2 × 3, expected 22", false: "spark [0, 4]: found a table of 2 × 3, expected 22"}[framed]
		if err == nil || strings.TrimPrefix(err.Error(), ": ") != want {
			t.Errorf("a column past the last, framed %v: %v", framed, err)
		}
	}
}

// Beyond the limits a value is refused where the one before was within them.
func TestLimits(t *testing.T) {
	all := func(from, to []float64) merge.Edit {
		x := spark().Table("spark").X()
		wide, err := tables.NewAxis("engine speed", "r/min", []float64{800, 2000, 4500})
		if err != nil {
			t.Fatal(err)
		}
		return &merge.FieldEdit{Table: "spark", Names: []string{"x", "values"},
			From: merge.State{Fields: &tables.Fields{X: x, Values: from}}, To: merge.State{Fields: &tables.Fields{X: wide, Values: to}}}
	}
	found := []float64{20, 28, 60, 16, 22, 27}
	raised := all(found, []float64{20, 28, 60, 16, 90, 27}).(*merge.FieldEdit)
	raised.Names = []string{"limits", "x", "values"}
	raised.From.Fields.Limits, raised.To.Fields.Limits = &tables.Limits{Low: -10, High: 50}, &tables.Limits{Low: -10, High: 95}
	for _, c := range []struct {
		why   string
		edit  merge.Edit
		place string // "": not refused
	}{
		{"at the limit", cell(1, 1, 22, 50), ""},
		{"above it", cell(1, 1, 22, 195), "[1, 1]"},
		{"below the lower one", cell(1, 1, 22, -10.5), "[1, 1]"},
		{"from beyond to beyond", cell(0, 2, 60, 70), ""},
		{"all values, one above", all(found, []float64{20, 28, 60, 16, 90, 27}), "[1, 1]"},
		{"all values, what was beyond", all(found, []float64{20, 28, 61, 16, 22, 27}), ""},
		{"with limits that rise too", raised, ""},
	} {
		a, err := apply(spark(), true, merge.ApplyOptions{}, c.edit)
		var bad *merge.MismatchError
		if c.place == "" {
			if err != nil || len(a.Notes()) > 0 {
				t.Errorf("%s: %v, %v", c.why, err, a) // promise: an edit lands on its breakpoints or nowhere
			}
			continue
		}
		if !errors.As(err, &bad) || !bad.Mismatches[0].Beyond || !strings.Contains(err.Error(), c.place+": found ") || !strings.Contains(err.Error(), ", expected a value within the limits -10 to 50") {
			t.Errorf("%s: %v", c.why, err)
		}
		a, err = apply(spark(), true, merge.ApplyOptions{BeyondLimits: true}, c.edit)
		if err != nil || len(a.Notes()) != 1 || !strings.Contains(a.Notes()[0], "1 edit goes beyond the limits") {
			t.Fatalf("%s, asked for: %v %v", c.why, err, a)
		}
		// Undoing puts back what stood there, whatever the limits are.
		back := merge.NewChangeSet(a.Document, "test", []merge.Edit{c.edit}).Reverse()
		if got, err := merge.Apply(a.Document, back); err != nil || !got.Equal(spark()) {
			t.Errorf("%s, undone: %v", c.why, err)
		}
	}
	reversed := merge.NewChangeSet(spark("22", "195"), "test", []merge.Edit{cell(1, 1, 195, 22)}).Reverse()
	if got, err := merge.Apply(spark(), reversed); err != nil || got.Table("spark").At(1, 1) != 195 {
		t.Errorf("what stood beyond the limits does not come back: %v", err)
	}
}

// On other axes a value has no one value before it: new values must be within
// the limits where all old ones were.
func TestLimitsOnOtherAxes(t *testing.T) {
	for high, refused := range map[string]bool{"60": false, "50": true} {
		a := spark("28, 60", "28, "+high)
		b := spark("28, 60", "28, "+high+", 70", ", 4000]", ", 4000, 6000]", "27]", "27, 30]")
		if _, err := merge.Apply(a, merge.Diff(a, b)); (err != nil) != refused {
			t.Errorf("70 at a new breakpoint, beside values up to %s: %v", high, err)
		}
	}
}

// What belongs together is one edit, and a part of it is none.
func TestHalves(t *testing.T) {
	a := spark()
	change := func(to *tables.Calibration) func(names ...string) merge.Edit {
		return func(names ...string) merge.Edit {
			half := *merge.Diff(a, to).Edits[0].(*merge.FieldEdit)
			half.Names = names
			return &half
		}
	}
	other := change(spark(`"deg"`, `"rad"`, "28, 60", "28, 1"))
	moved, movedDown, spelled := change(spark("4000]", "4500]")), change(spark("160]", "170]")), change(spark(`"r/min"`, `"rpm"`))
	for _, c := range []struct {
		why  string
		edit merge.Edit
		ok   bool
	}{
		{"unit and values", other("unit", "values"), true},
		{"the unit alone", other("unit"), false},
		{"the values alone", other("values"), false},
		{"a spelling of the unit", &merge.FieldEdit{Table: "spark", Names: []string{"unit"}, From: merge.State{Fields: &tables.Fields{Unit: "deg"}}, To: merge.State{Fields: &tables.Fields{Unit: "°"}}}, true},
		{"an axis with its values", moved("x", "values"), true},
		{"a moved axis alone", moved("x"), false},
		{"a moved y alone", movedDown("y"), false},
		{"a spelling of an axis's unit", spelled("x"), true},
	} {
		if _, err := apply(a, true, merge.ApplyOptions{}, c.edit); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.why, err) // promise: an edit lands on its breakpoints or nowhere
		} else if err != nil && !strings.Contains(err.Error(), "half of a change") {
			t.Errorf("%s: %v", c.why, err)
		}
	}
	at := blocks.Block{Table: "spark"}
	for _, c := range []struct {
		why  string
		to   *tables.Calibration
		only merge.Selection
		ok   bool
	}{
		{"a cell of a new unit", spark(`"deg"`, `"rad"`), merge.Selection{Cells: []blocks.Block{at}}, false},
		{"a cell of a moved axis", spark("160]", "170]"), merge.Selection{Cells: []blocks.Block{at}}, false},
		{"the whole table too", spark(`"deg"`, `"rad"`), merge.Selection{Tables: []string{"s*"}, Cells: []blocks.Block{at}}, true},
		{"a cell beside a title", spark(`"unit": "deg"`, `"title": "Spark", "unit": "deg"`, "[20", "[19"), merge.Selection{Cells: []blocks.Block{at}}, true},
	} {
		part, err := c.only.Of(merge.Diff(a, c.to))
		if (err == nil) != c.ok || err == nil && len(part.Edits) == 0 {
			t.Errorf("%s: %v", c.why, err)
		}
	}
}

// Undone by merge, edits are found at their breakpoints too.
func TestUndoOnOtherAxes(t *testing.T) {
	edited := spark("22", "20")
	wider := spark("22", "20", "[80, 160]", "[40, 80, 160]", "[[20", "[[1, 2, 3], [20", "16", "17")
	r, stale, err := merge.Undo(wider, merge.Diff(spark(), edited).Reverse())
	if err != nil || stale != 0 || len(r.Conflicts) > 0 {
		t.Fatal(r, stale, err)
	}
	if got := fmt.Sprint(r.Merged.Table("spark").Values()); got != "[1 2 3 20 28 60 17 22 27]" {
		t.Errorf("undone it holds %s", got)
	}
	later := spark("22", "21", "[80, 160]", "[40, 80, 160]", "[[20", "[[1, 2, 3], [20")
	if r, stale, err = merge.Undo(later, merge.Diff(spark(), edited).Reverse()); err != nil || stale != 1 || len(r.Conflicts) != 1 {
		t.Errorf("edited since at the breakpoint: %v, %d stale, %v", r, stale, err)
	}
	if _, _, err := merge.Undo(spark("22", "20", "[80, 160]", "[80, 150]"), merge.Diff(spark(), edited).Reverse()); err == nil {
		t.Errorf("undone at a breakpoint that is gone")
	}
}

// What is undone is held to the document that it makes: another edit since is
// said, and a part undone says nothing of the rest.
func TestUndoSaysWhoseItIs(t *testing.T) {
	undo := merge.Diff(spark(), spark("22", "20", "16,", "17,")).Reverse()
	part, err := merge.Selection{Cells: []blocks.Block{{Table: "spark", Rows: [2]int{1, 1}, Columns: [2]int{1, 1}}}}.Of(undo)
	if err != nil || len(part.Edits) != 1 {
		t.Fatal(part, err)
	}
	for _, c := range []struct {
		why  string
		doc  *tables.Calibration
		undo *merge.ChangeSet
		says bool
	}{
		{"nothing else edited", spark("22", "20", "16,", "17,"), undo, false},
		{"renamed since", spark("22", "20", "16,", "17,", "van", "boat"), undo, true},
		{"a part", spark("22", "20", "16,", "17,"), part, false},
	} {
		a, err := merge.ApplyWith(c.doc, c.undo, merge.ApplyOptions{})
		if err != nil || (len(a.Notes()) > 0) != c.says {
			t.Errorf("%s: %v %v", c.why, err, a)
		}
	}
}
