package merge_test

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// curve is a document with one curve, so changed.
func curve(how func(f *tables.Fields)) *tables.Calibration {
	f := tables.Fields{ID: "t", Unit: "ms", X: load(10, 20, 30, 40), Values: []float64{1, 2, 3, 4}}
	how(&f)
	return tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van", Tables: []*tables.Table{tabletest.Must(tables.NewTable(f))}}))
}

func load(points ...float64) *tables.Axis { return tabletest.Must(tables.NewAxis("load", "%", points)) }

func in(unit string, points ...float64) *tables.Axis {
	return tabletest.Must(tables.NewAxis("load", unit, points))
}

// TestMergeGuards: what a merge does not do, each beside a merge that does it.
func TestMergeGuards(t *testing.T) {
	same := func(*tables.Fields) {}
	values := func(v ...float64) func(*tables.Fields) { return func(f *tables.Fields) { f.Values = v } }
	more := func(f *tables.Fields) { f.X, f.Values = load(10, 20, 25, 30, 40), []float64{1, 2, 2.5, 3, 4} }
	axisIn := func(unit string) func(*tables.Fields) {
		return func(f *tables.Fields) { f.X = in(unit, 10, 20, 30, 40) }
	}
	for _, c := range []struct {
		why          string
		ours, theirs func(*tables.Fields)
		tolerance    float64
		conflicts    string // names, "cell" for a cell
		said         string // in what is said; "" for nothing
		values       []float64
	}{
		{"a breakpoint more, and an edit elsewhere", more, values(1, 2, 3, 9), 0, "", "", []float64{1, 2, 2.5, 3, 9}},
		{"breakpoints of one unit and of another are not one set", more, axisIn("kPa"), 0, "x", "t: one side changed the unit of axis x and left its breakpoints", []float64{1, 2, 2.5, 3, 4}},
		{"another unit of the axis alone merges", same, axisIn("kPa"), 0, "", "", []float64{1, 2, 3, 4}},
		{"values in another unit and an edit in the old one", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} }, values(1, 2, 3, 9), 0, "unit", "", []float64{1000, 2000, 3000, 4000}},
		{"values in another unit alone", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} }, same, 0, "", "", []float64{1000, 2000, 3000, 4000}},
		{"the unit's name on one side, an edit on the other", func(f *tables.Fields) { f.Unit = "us" }, values(1, 2, 3, 9), 0, "", "t: one side changed the unit, the other values: check which unit they are in", []float64{1, 2, 3, 9}},
		{"another spelling of the unit is no other unit", func(f *tables.Fields) { f.Unit = "msec" }, values(1, 2, 3, 9), 0, "", "", []float64{1, 2, 3, 9}},
		{"the axis's unit on one side, an edit on the other", axisIn("kPa"), values(1, 2, 3, 9), 0, "", "t: one side changed the unit of axis x and left its breakpoints, the other changed values: check which unit the breakpoints are in", []float64{1, 2, 3, 9}},
		{"two edits within the tolerance are one", values(1, 2, 3, 9), values(1, 2, 3, 9.04), 0.05, "", "", []float64{1, 2, 3, 9}},
		{"ours within it of the base is no edit", values(1, 2, 3, 4.04), values(1, 2, 3, 9), 0.05, "", "", []float64{1, 2, 3, 9}},
		{"nor is theirs", values(1, 2, 3, 9), values(1, 2, 3, 4.04), 0.05, "", "", []float64{1, 2, 3, 9}},
		{"both converted, and one edit", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} },
			func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 9000} }, 0, "", "", []float64{1000, 2000, 3000, 9000}},
		{"both converted, and two edits", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 7000} },
			func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 9000} }, 0, "cell", "", []float64{1000, 2000, 3000, 7000}},
		{"both in a unit that the base does not convert to", func(f *tables.Fields) { f.Unit, f.Values = "counts", []float64{1, 2, 3, 7} },
			func(f *tables.Fields) { f.Unit, f.Values = "counts", []float64{1, 2, 3, 9} }, 0, "unit",
			"t: both sides changed the unit to counts, but not certainly both the values with it: check which side converted them", []float64{1, 2, 3, 7}},
		{"named on one side, with a breakpoint less, and converted on the other", func(f *tables.Fields) { f.Unit, f.X, f.Values = "us", load(10, 20, 30), []float64{1, 2, 3} },
			func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} }, 0, "unit", "t: both sides changed the unit to us", []float64{1, 2, 3}},
		{"converted on both, with a breakpoint less", func(f *tables.Fields) { f.Unit, f.X, f.Values = "us", load(10, 20, 30), []float64{1000, 2000, 3000} },
			func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 9000, 3000, 4000} }, 0, "", "", []float64{1000, 9000, 3000}},
		{"converted to two units", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} },
			func(f *tables.Fields) { f.Unit, f.Values = "s", []float64{0.001, 0.002, 0.003, 0.004} }, 0, "unit", "", []float64{1000, 2000, 3000, 4000}},
		{"where nothing is carried nothing is rounded", func(f *tables.Fields) { more(f); f.Resolution, f.Values = 0.5, []float64{1, 2, 2.3, 3, 4} },
			func(f *tables.Fields) { f.Resolution, f.Values = 0.5, []float64{5, 2, 3, 4} }, 0, "", "", []float64{5, 2, 2.3, 3, 4}},
		{"values in another unit, and a title", func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, 4000} }, func(f *tables.Fields) { f.Title = "Pulse" }, 0, "", "", []float64{1000, 2000, 3000, 4000}},
		{"the axis in another unit, converted, and an edit", func(f *tables.Fields) { f.X = in("1", 0.1, 0.2, 0.3, 0.4) }, values(1, 2, 3, 9), 0, "", "", []float64{1, 2, 3, 9}},
		{"breakpoints that are not those converted", func(f *tables.Fields) { f.X = in("1", 0.1, 0.2, 0.3, 0.45) }, values(1, 2, 3, 9), 0, "x", "", []float64{1, 2, 3, 4}},
		{"a breakpoint moved on both sides to one place, and one more", func(f *tables.Fields) { f.X, f.Values = load(10, 22, 30, 40), []float64{1, 2.2, 3, 4} },
			func(f *tables.Fields) { f.X, f.Values = load(10, 22, 30, 35, 40), []float64{1, 2.2, 3, 3.5, 4} }, 0, "", "", []float64{1, 2.2, 3, 3.5, 4}},
		{"a breakpoint moved to two places", func(f *tables.Fields) { f.X, f.Values = load(10, 22, 30, 40), []float64{1, 2.2, 3, 4} },
			func(f *tables.Fields) { f.X, f.Values = load(10, 18, 30, 40), []float64{1, 1.8, 3, 4} }, 0, "x", "", []float64{1, 2.2, 3, 4}},
		{"a breakpoint moved on one side and gone on the other", func(f *tables.Fields) { f.X, f.Values = load(10, 22, 30, 40), []float64{1, 2.2, 3, 4} },
			func(f *tables.Fields) { f.X, f.Values = load(10, 30, 40), []float64{1, 3, 4} }, 0, "x", "", []float64{1, 2.2, 3, 4}},
		{"so they are beside a breakpoint more", func(f *tables.Fields) { more(f); f.Values[4] = 9 }, values(1, 2, 3, 9.04), 0.05, "", "", []float64{1, 2, 2.5, 3, 9}},
		{"two edits past it are a conflict", values(1, 2, 3, 9), values(1, 2, 3, 9.06), 0.05, "cell", "", []float64{1, 2, 3, 9}},
		{"a change too small to see is carried", more, values(1, 2, 3.0004, 4), 0, "", "one side's value plus the other side's change", []float64{1, 2, 2.5002, 3.0004, 4}},
		{"so is a small change at a breakpoint that the base lacks", func(f *tables.Fields) { f.X, f.Values = load(10, 20, 25, 30, 40), []float64{1, 2, 2.5005, 3, 4} },
			func(f *tables.Fields) { f.X, f.Values = load(10, 20, 27, 30, 40), []float64{1, 2, 2.75, 3, 4} }, 0, "", "one side's value plus the other side's change", []float64{1, 2, 2.5005 + 0.05*5/7, 2.75 + 0.0005*3/5, 3, 4}},
		{"a carried value is rounded", func(f *tables.Fields) { more(f); f.Resolution = 0.5 }, func(f *tables.Fields) { f.Resolution, f.Values = 0.5, []float64{1, 2, 4, 4} }, 0, "", "one side's value plus the other side's change", []float64{1, 2, 3, 4, 4}},
		{"what is carried under half a step changes nothing", func(f *tables.Fields) { more(f); f.Resolution = 1 }, func(f *tables.Fields) { f.Resolution, f.Values = 1, []float64{1, 2, 3.8, 4} }, 0, "", "", []float64{1, 2, 2.5, 3.8, 4}},
	} {
		opt := merge.MergeOptions{}
		if c.tolerance > 0 {
			opt.Tolerance = &merge.Tolerance{Abs: []merge.Bound{{Value: c.tolerance}}}
		}
		m, err := merge.Merge(curve(same), curve(c.ours), curve(c.theirs), opt)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		var names []string
		for _, x := range m.Conflicts {
			name := x.Name
			if x.Cell() {
				name = "cell"
			}
			names = append(names, name)
		}
		if got := strings.Join(names, " "); got != c.conflicts {
			t.Errorf("%s: conflicts %q, want %q", c.why, got, c.conflicts)
		}
		said := strings.Join(m.Notes, "\n")
		if (said == "") != (c.said == "") || !strings.Contains(said, c.said) {
			t.Errorf("%s: said %q, want %q", c.why, said, c.said)
		}
		if got := m.Merged.Table("t").Values(); fmt.Sprintf("%.9g", got) != fmt.Sprintf("%.9g", c.values) {
			t.Errorf("%s: values %v, want %v", c.why, got, c.values)
		}
		if want := c.tolerance > 0 && c.conflicts == ""; (m.Hidden == 1) != want {
			t.Errorf("%s: %d hidden", c.why, m.Hidden)
		}
	}
}

// TestRelativeTolerance: what lies within a tolerance is hidden, to the bound, and
// nothing past it.
func TestRelativeTolerance(t *testing.T) {
	for to, hidden := range map[float64]bool{125: true, 125.5: false, 80: true, 79.5: false} {
		a, b := curve(func(f *tables.Fields) { f.Values = []float64{100, 2, 3, 4} }), curve(func(f *tables.Fields) { f.Values = []float64{to, 2, 3, 4} })
		if r := merge.Compare(a, b, merge.Tolerance{Rel: []merge.Bound{{Value: 0.2}}}, merge.Selection{}); r.Same != hidden {
			t.Errorf("100 to %v at 20 %% of the larger: %d hidden", to, r.Hidden)
		}
	}
	for to, hidden := range map[float64]bool{100: false, 100.9: true, 101: true, 101.1: false, 99.1: true, 98.9: false} {
		a := curve(func(f *tables.Fields) { f.Values = []float64{100, 2, 3, 4} })
		b := curve(func(f *tables.Fields) { f.Values = []float64{to, 2, 3, 4} })
		r := merge.Compare(a, b, merge.Tolerance{Rel: []merge.Bound{{Value: 0.01}}}, merge.Selection{})
		if got := r.Hidden == 1 && r.Same; got != hidden && to != 100 {
			t.Errorf("100 to %v at 1 %%: %d hidden, %v", to, r.Hidden, r.Cells)
		}
		if listed := len(r.Cells)+len(r.Blocks) > 0; listed == (hidden || to == 100) {
			t.Errorf("100 to %v at 1 %%: listed %v", to, listed)
		}
	}
}

// TestRestoredTablesKeepTheirPlace: a table that one side removed and the other
// edited comes back where the base had it.
func TestRestoredTablesKeepTheirPlace(t *testing.T) {
	doc := func(edit float64, ids ...string) *tables.Calibration {
		var list []*tables.Table
		for _, id := range ids {
			v := 1.
			if id == "b" {
				v = edit
			}
			list = append(list, tabletest.Must(tables.NewTable(tables.Fields{ID: id, Unit: "V", Values: []float64{v}})))
		}
		return tabletest.Must(tables.NewCalibration(tables.Contents{Tables: list}))
	}
	for _, ours := range []bool{true, false} {
		a, b, take := doc(1, "a", "c", "d"), doc(2, "a", "b", "c", "d"), merge.Theirs
		if !ours {
			a, b, take = b, a, merge.Ours
		}
		m, err := merge.Merge(doc(1, "a", "b", "c", "d"), a, b, merge.MergeOptions{})
		if err != nil || len(m.Conflicts) != 1 {
			t.Fatalf("%v %v", m.Conflicts, err)
		}
		got, left, _, err := merge.Resolve(m.Merged, m.Conflicts, take, merge.Selection{})
		if err != nil || len(left) > 0 || strings.Join(got.IDs(), " ") != "a b c d" {
			t.Errorf("removed by ours: %v: %v, %v left, %v", ours, got.IDs(), left, err)
		}
	}
}

// TestMergeCauses: a merge says what neither side had: a value past the limits,
// a row that no longer rises, a step larger than on either side. What one side
// had already is that side's.
func TestMergeCauses(t *testing.T) {
	values := func(low, high float64, v ...float64) func(*tables.Fields) {
		return func(f *tables.Fields) {
			if f.Values = v; high > low {
				f.Limits = &tables.Limits{Low: low, High: high}
			}
		}
	}
	stepped := func(v ...float64) func(*tables.Fields) {
		return func(f *tables.Fields) { f.Values, f.Resolution = v, 1 }
	}
	for _, c := range []struct {
		why                string
		base, ours, theirs func(*tables.Fields)
		want               string // "" for nothing
	}{
		{"one side's value past the other's limit", values(0, 9, 1, 2, 3, 4), values(0, 5, 1, 2, 3, 4), values(0, 9, 1, 2, 3, 6),
			"t: [0, 3] is 6, past the limits 0 to 5; neither side passed its own there"},
		{"two of them", values(0, 9, 1, 2, 3, 4), values(0, 5, 1, 2, 3, 4), values(0, 9, 1, 2, 6, 6),
			"t: [0, 2] is 6, past the limits 0 to 5; neither side passed its own there; and at one more place"},
		{"under the other's lower limit", values(0, 9, 3, 4, 5, 6), values(2, 9, 3, 4, 5, 6), values(0, 9, 1, 4, 5, 6),
			"t: [0, 0] is 1, past the limits 2 to 9; neither side passed its own there"},
		{"at the limit", values(0, 9, 1, 2, 3, 4), values(0, 5, 1, 2, 3, 4), values(0, 9, 1, 2, 3, 5), ""},
		{"past it on ours already", values(0, 9, 1, 2, 3, 8), values(0, 5, 1, 2, 3, 8), values(0, 9, 1, 2.5, 3, 8), ""},
		{"past its own on theirs already", values(0, 9, 1, 2, 3, 4), values(0, 8, 1, 2, 3, 4), values(0, 9, 1, 2, 3, 10), ""},
		{"a row that rose", values(0, 0, 1, 2, 3, 4), values(0, 0, 1, 2.8, 3, 4), values(0, 0, 1, 2, 2.4, 4),
			"t: row 0 rose from end to end on both sides and no longer does"},
		{"two steps back in a row are one row", values(0, 0, 1, 3, 4, 6), values(0, 0, 1, 3.8, 4, 5.8), values(0, 0, 1, 3, 3.4, 6), "t: row 0 rose from end to end on both sides and no longer does"},
		{"a row that fell", values(0, 0, 4, 3, 2, 1), values(0, 0, 4, 2.2, 2, 1), values(0, 0, 4, 3, 2.6, 1),
			"t: row 0 fell from end to end on both sides and no longer does"},
		{"level is no fall", values(0, 0, 1, 2, 3, 4), values(0, 0, 1, 2.5, 3, 4), values(0, 0, 1, 2, 2.5, 4), ""},
		{"a row that rose on one side only", values(0, 0, 1, 2, 3, 4), values(0, 0, 1, 2.8, 3, 2.9), values(0, 0, 1, 2, 2.4, 4), ""},
		{"a row that rises on ours and not on theirs", values(0, 0, 1, 2, 3, 4), values(0, 0, 1, 2.8, 3, 4), values(0, 0, 1, 2, 2.4, 2.2), ""},
		{"two steps in one", values(0, 0, 1, 2, 3, 4), values(0, 0, 1, 1.5, 3, 4), values(0, 0, 1, 2, 3.5, 4),
			"t: the step from [0, 1] to [0, 2] is 2, larger than on either side (1.5 and 1.5)"},
		{"an edit whose breakpoint moved", values(0, 0, 1, 2, 3, 4), func(f *tables.Fields) { f.X, f.Values = load(10, 22, 30, 40), []float64{1, 2.2, 3, 4} }, values(0, 0, 1, 12, 3, 4),
			"t: the change of + 10 at load 20 % is reduced to at most 8, because its breakpoint was removed"},
		{"an edit beside a breakpoint that is gone", stepped(1, 2, 3, 4), func(f *tables.Fields) { f.X, f.Values, f.Resolution = load(10, 20, 40), []float64{1, 2, 4}, 1 }, stepped(1, 2, 3, 6),
			"t: a change reaches further than its edit did, since a breakpoint beside it is gone: load 20–40 %, + 1 at most, at load 30 %"},
		{"one of which half a step is seen there", stepped(1, 2, 3, 4), func(f *tables.Fields) { f.X, f.Values, f.Resolution = load(10, 20, 40), []float64{1, 2, 4}, 1 }, stepped(1, 2, 3, 5), ""},
		{"edits far apart", values(0, 0, 1, 2, 3, 4), values(0, 0, 0.5, 2, 3, 4), values(0, 0, 1, 2, 3, 4.5), ""},
	} {
		m, err := merge.Merge(curve(c.base), curve(c.ours), curve(c.theirs), merge.MergeOptions{})
		if err != nil || len(m.Conflicts) > 0 {
			t.Errorf("%s: %v, %v", c.why, err, m.Conflicts)
			continue
		}
		got := strings.Join(m.SideEffects, "\n")
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

// TestOtherFieldsOfAUnitConflict: where the values' unit is disputed, their unit,
// resolution and limits stay with them, and all else merges.
func TestOtherFieldsOfAUnitConflict(t *testing.T) {
	ours := func(f *tables.Fields) {
		f.Unit, f.Values, f.Resolution = "us", []float64{1000, 2000, 3000, 4000}, 10
	}
	theirs := func(f *tables.Fields) { f.Title, f.Values, f.Resolution = "Pulse", []float64{1, 2, 3, 9}, 0.1 }
	for _, swap := range []bool{false, true} {
		a, b, unit, resolution := curve(ours), curve(theirs), "us", 10.
		if swap {
			a, b, unit, resolution = b, a, "ms", 0.1
		}
		m, err := merge.Merge(curve(func(*tables.Fields) {}), a, b, merge.MergeOptions{})
		if err != nil || len(m.Conflicts) != 1 || m.Conflicts[0].Name != "unit" {
			t.Fatalf("%v, %v", m.Conflicts, err)
		}
		if got := m.Merged.Table("t"); got.Title() != "Pulse" || got.Unit() != unit || got.Resolution() != resolution {
			t.Errorf("swapped %v: %q in %s by %v", swap, got.Title(), got.Unit(), got.Resolution())
		}
	}
}

// TestMergeForOneSide: conflicts are settled for the side that is preferred, and
// nothing else is; without a preference they stay.
func TestMergeForOneSide(t *testing.T) {
	base, ours, theirs := curve(func(*tables.Fields) {}), curve(func(f *tables.Fields) { f.Values = []float64{5, 2, 3, 6} }), curve(func(f *tables.Fields) { f.Values = []float64{1, 2, 8, 7} })
	for prefer, want := range map[merge.Side]string{"": "[5 2 8 6] 1", merge.Ours: "[5 2 8 6] 0", merge.Theirs: "[5 2 8 7] 0"} {
		m, err := merge.Merge(base, ours, theirs, merge.MergeOptions{Prefer: prefer})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(m.Merged.Table("t").Values(), len(m.Conflicts)); got != want {
			t.Errorf("for %q: %s, want %s", prefer, got, want)
		}
	}
}

// TestApplyGuards: what a change set does not do to a document, each beside one
// that it does; what is near enough is listed, and what is noted.
func TestApplyGuards(t *testing.T) {
	x, y := load(10, 20), tabletest.Must(tables.NewAxis("speed", "r/min", []float64{1, 2}))
	grid := func(values ...float64) tables.Fields {
		return tables.Fields{ID: "t", Unit: "ms", Resolution: 0.01, X: x, Y: y, Values: values}
	}
	doc := func(f tables.Fields) *tables.Calibration {
		return tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van", Tables: []*tables.Table{tabletest.Must(tables.NewTable(f))}}))
	}
	moved := func(values ...float64) tables.Fields {
		f := grid(values...)
		f.X = load(10, 25)
		return f
	}
	refined := func(values ...float64) tables.Fields {
		f := grid(values...)
		f.X = load(10, 15, 20)
		return f
	}
	base := grid(1, 2, 3, 4)
	for _, c := range []struct {
		why      string
		from, to tables.Fields
		found    tables.Fields
		lines    string // of the refusal; "" where it applies
		near     string // places and values
	}{
		{"a cell that is as expected", base, grid(1, 2, 5, 4), base, "", ""},
		{"a cell near it is listed", base, grid(1, 2, 5, 4), grid(1, 2, 3.004, 4), "", "t [1, 0] 3 3.004"},
		{"one further off is refused", base, grid(1, 2, 5, 4), grid(1, 2, 3.01, 4), "t [1, 0]: found 3.01, expected 3", ""},
		{"one that is there already", base, grid(1, 2, 5, 4), grid(1, 2, 5, 7), "already applied: the document holds what every edit would make", ""},
		{"values with their axis", base, moved(1, 2, 5, 4), base, "", ""},
		{"a near one among them is listed", base, moved(1, 2, 5, 4), grid(1, 2.004, 3, 4), "", "t [0, 1] 2 2.004"},
		{"and one in the second row by its own place", base, moved(1, 2, 5, 4), grid(1, 2, 3, 4.004), "", "t [1, 1] 4 4.004"},
		{"one of them moved on", base, moved(1, 2, 5, 4), grid(1, 2, 3, 7), "t [1, 1]: found 7, expected 4", ""},
		{"one of them edited already", base, moved(1, 2, 5, 4), grid(1, 2, 5, 4), "t [1, 0]: found 5, expected 3: this edit is already applied", ""},
		{"a small edit among them is guarded exactly", base, moved(1, 2, 3.003, 4), grid(1, 2, 3.001, 4), "t [1, 0]: found 3.001, expected 3", ""},
		{"more values after it: nothing is there already", base, refined(1, 1.5, 2, 3, 3.5, 4), grid(1, 2, 3.5, 4), "t [1, 0]: found 3.5, expected 3", ""},
		{"more values than were expected", base, moved(1, 2, 5, 4), refined(1, 1.5, 2, 3, 3.5, 4), "t x: found load [%] 10, 15, 20, expected load [%] 10, 20; t values: found 6 values, expected 4 values", ""},
	} {
		cs := merge.Diff(doc(c.from), doc(c.to))
		a, err := merge.ApplyWith(doc(c.found), cs, merge.ApplyOptions{})
		lines, near := "", ""
		if err != nil {
			lines = strings.ReplaceAll(strings.TrimPrefix(err.Error(), ": "), "\n: ", "; ")
		} else {
			var list []string
			for _, m := range a.Near {
				list = append(list, m.Place()+" "+m.Wanted+" "+m.Found)
			}
			near = strings.Join(list, "; ")
		}
		if lines != c.lines || near != c.near {
			t.Errorf("%s: refused %q, want %q; near %q, want %q", c.why, lines, c.lines, near, c.near)
		}
	}
}

// TestApplyNotes: what is noted of a change set that applies, and what is not.
func TestApplyNotes(t *testing.T) {
	limits := func(f *tables.Fields) { f.Limits = &tables.Limits{Low: 0, High: 10} }
	within, beyond := curve(limits), curve(func(f *tables.Fields) { limits(f); f.Values = []float64{1, 2, 3, 40} })
	titled := curve(func(f *tables.Fields) { limits(f); f.Title = "Pulse" })
	other := curve(func(f *tables.Fields) { limits(f); f.Values = []float64{7, 2, 3, 4} })
	bare := func(cs *merge.ChangeSet) *merge.ChangeSet { cs.Frames = nil; return cs }
	for _, c := range []struct {
		why   string
		doc   *tables.Calibration
		cs    *merge.ChangeSet
		notes string
	}{
		{"to where it was made for", within, merge.Diff(within, titled), ""},
		{"beyond the limits, as asked", within, merge.Diff(within, beyond), "1 edit goes beyond the limits: t [0, 3]: found 40, expected a value within the limits 0 to 10"},
		{"two beyond them", within, merge.Diff(within, curve(func(f *tables.Fields) { limits(f); f.Values = []float64{1, 2, 30, 40} })), "2 edits go beyond the limits: first t [0, 2]: found 30, expected a value within the limits 0 to 10"},
		{"back to where it stood before, beyond them", within, merge.Diff(beyond, within).Reverse(), ""},
		{"to another document", other, merge.Diff(within, titled), "the change set was made for another document (van): its edits go by breakpoints and by the values found there"},
		{"without frames a field goes by no place", other, bare(merge.Diff(within, titled)), "the change set was made for another document (van): its edits go by breakpoints and by the values found there"},
		{"a cell does", other, bare(merge.Diff(within, curve(func(f *tables.Fields) { limits(f); f.Values = []float64{1, 5, 3, 4} }))), "the change set was made for another document (van) and has no frames: its edits go by row and column"},
	} {
		a, err := merge.ApplyWith(c.doc, c.cs, merge.ApplyOptions{BeyondLimits: true})
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
		} else if got := strings.Join(a.Notes(), "\n"); got != c.notes {
			t.Errorf("%s: %q, want %q", c.why, got, c.notes)
		}
	}
}

// TestEditsInARow: later edits of a change set find what the earlier ones made,
// and none of them writes into the change set.
func TestEditsInARow(t *testing.T) {
	doc := curve(func(*tables.Fields) {})
	from, to := doc.Table("t").Fields(), doc.Table("t").Fields()
	to.X, to.Values = load(10, 20, 30, 50), []float64{1, 2, 3, 5}
	whole := &merge.FieldEdit{Table: "t", Names: []string{"x", "values"}, From: merge.State{Fields: &from}, To: merge.State{Fields: &to}}
	first := &merge.CellEdit{Table: "t", From: 1, To: 1.5}
	from.Values = []float64{1.5, 2, 3, 4}
	last := &merge.CellEdit{Table: "t", Column: 3, From: 5, To: 6}
	got, err := merge.Apply(doc, &merge.ChangeSet{Edits: []merge.Edit{first, whole, last}})
	if err != nil || fmt.Sprint(got.Table("t").Values()) != "[1 2 3 6]" || fmt.Sprint(to.Values) != "[1 2 3 5]" || doc.Table("t").At(0, 0) != 1 {
		t.Errorf("%v, %v; the change set now has %v", got, err, to.Values)
	}
	table := doc.Table("t")
	again, err := merge.Apply(doc, &merge.ChangeSet{Edits: []merge.Edit{merge.RemoveTable(table, ""), merge.AddTable(table, "")}})
	if err != nil || !again.Equal(doc) {
		t.Errorf("removed and added: %v", err)
	}
}

// TestBaseOfConvertedSides: the base of a conflict is in the unit that both sides
// converted to, so that taking it puts back what stood there.
func TestBaseOfConvertedSides(t *testing.T) {
	side := func(last float64) *tables.Calibration {
		return curve(func(f *tables.Fields) { f.Unit, f.Values = "us", []float64{1000, 2000, 3000, last} })
	}
	m, err := merge.Merge(curve(func(*tables.Fields) {}), side(7000), side(9000), merge.MergeOptions{})
	if err != nil || len(m.Conflicts) != 1 {
		t.Fatalf("%v %+v", err, m)
	}
	doc, _, _, err := merge.Resolve(m.Merged, m.Conflicts, merge.Original, merge.Selection{})
	if err != nil || fmt.Sprintf("%v %s", doc.Table("t").Values(), doc.Table("t").Unit()) != "[1000 2000 3000 4000] us" {
		t.Errorf("%v %v", doc.Table("t").Values(), err)
	}
}

// TestUndoNowhere: what is no longer there cannot be undone, and is named.
func TestUndoNowhere(t *testing.T) {
	was, is := curve(func(*tables.Fields) {}), curve(func(f *tables.Fields) { f.Values = []float64{1, 2, 3, 9} })
	undo := merge.Diff(was, is).Reverse()
	if r, stale, err := merge.Undo(is, undo); err != nil || stale != 0 || !r.Merged.Equal(was) {
		t.Errorf("%v, %d stale", err, stale)
	}
	other := curve(func(f *tables.Fields) { f.ID = "u" })
	if _, _, err := merge.Undo(other, undo); err == nil || !strings.Contains(err.Error(), "t [0, 3]: found no such table, expected 9") {
		t.Errorf("the table is gone: %v", err)
	}
}

// TestSurfaceBounds: a bound that was asked for is what unchanged means for a
// surface between breakpoints.
func TestSurfaceBounds(t *testing.T) {
	was := curve(func(*tables.Fields) {})
	is := curve(func(f *tables.Fields) { f.X, f.Values = load(10, 20, 25, 30, 40), []float64{1, 2, 2.52, 3, 4} })
	for _, c := range []struct {
		why       string
		tolerance merge.Tolerance
		unchanged bool
	}{
		{"without a bound", merge.Tolerance{}, false},
		{"within one", merge.Tolerance{Abs: []merge.Bound{{Value: 0.03}}}, true},
		{"past one", merge.Tolerance{Abs: []merge.Bound{{Value: 0.01}}}, false},
		{"within a share of the largest value", merge.Tolerance{Rel: []merge.Bound{{Value: 0.01}}}, true},
		{"past that", merge.Tolerance{Rel: []merge.Bound{{Value: 0.001}}}, false},
	} {
		if r := merge.Compare(was, is, c.tolerance, merge.Selection{}).Tables[0]; r.Surface == nil || r.Surface.Unchanged != c.unchanged {
			t.Errorf("%s: %+v", c.why, r.Surface)
		}
	}
}

// TestRangesOfBlocks: both ends of a range are numbers, the first not the larger.
func TestRangesOfBlocks(t *testing.T) {
	for text, ok := range map[string]bool{"t:1,2": true, "t:1-2,0-3": true, "t:1-x,2": false, "t:x-1,2": false, "t:2-1,2": false, "t:1,2-": false, "t:-1,2": false} {
		if _, err := merge.ParseBlock(text); (err == nil) != ok {
			t.Errorf("%s: %v", text, err)
		}
	}
}
