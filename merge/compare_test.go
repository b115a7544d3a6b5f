package merge_test

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// sheet is a document with one map of two rows, or with one curve where y is
// nil, so changed.
func sheet(x, y *tables.Axis, values []float64, how ...func(f *tables.Fields)) *tables.Calibration {
	f := tables.Fields{ID: "t", Unit: "deg", X: x, Y: y, Values: values}
	for _, h := range how {
		h(&f)
	}
	return tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van", Tables: []*tables.Table{tabletest.Must(tables.NewTable(f))}}))
}

// ramp are so many values without a rule between them.
func ramp(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = float64(i*i + 1)
	}
	return v
}

// TestAxisChanges: what happened to an axis is said by its breakpoints: one in
// both is the same, one for one between the same neighbours is moved, and an
// axis without one breakpoint in common is another axis, or the old one scaled.
func TestAxisChanges(t *testing.T) {
	for _, c := range []struct {
		why                   string
		from, to              []float64
		change                string
		added, removed, moved string
		factor                float64
	}{
		{"one more", []float64{10, 20, 30}, []float64{10, 20, 25, 30}, "breakpoints", "[25]", "[]", "[]", 0},
		{"one less", []float64{10, 20, 30}, []float64{10, 30}, "breakpoints", "[]", "[20]", "[]", 0},
		{"one for one", []float64{10, 20, 30}, []float64{10, 22, 30}, "breakpoints", "[]", "[]", "[[20 22]]", 0},
		{"two for one are not moved", []float64{10, 20, 30}, []float64{10, 22, 25, 30}, "breakpoints", "[22 25]", "[20]", "[]", 0},
		{"the last one", []float64{10, 20, 30}, []float64{10, 20, 40}, "breakpoints", "[]", "[]", "[[30 40]]", 0},
		{"all by one factor", []float64{10, 20, 30}, []float64{15, 35, 45}, "replaced", "[]", "[]", "[[10 15] [20 35] [30 45]]", 0},
		{"all by just one factor", []float64{10, 20, 30}, []float64{11, 22, 33}, "rescaled", "[]", "[]", "[]", 1.1},
		{"by a factor that brings some of them back", []float64{10, 20, 30, 40}, []float64{20, 40, 60, 80}, "rescaled", "[]", "[]", "[]", 2},
		{"of two, one for another", []float64{10, 20}, []float64{20, 40}, "breakpoints", "[40]", "[10]", "[]", 0},
		{"a factor for the last alone", []float64{10, 20, 30}, []float64{12, 21, 33}, "replaced", "[]", "[]", "[[10 12] [20 21] [30 33]]", 0},
		{"no zero is scaled to another number", []float64{-10, 0}, []float64{-5, 5}, "replaced", "[]", "[]", "[[−10 −5] [0 5]]", 0},
		{"others, and fewer", []float64{10, 20, 30}, []float64{11, 21}, "replaced", "[11 21]", "[10 20 30]", "[]", 0},
		{"the only one", []float64{10}, []float64{20}, "breakpoints", "[]", "[]", "[[10 20]]", 0},
	} {
		a, b := sheet(load(c.from...), nil, ramp(len(c.from))), sheet(load(c.to...), nil, ramp(len(c.to)))
		changes := merge.Compare(a, b, merge.Tolerance{}, merge.Selection{}).Tables[0].Axes
		if len(changes) != 1 {
			t.Errorf("%s: %v", c.why, changes)
			continue
		}
		got, factor := changes[0], 0.
		if got.Factor != nil {
			factor = *got.Factor
		}
		if said, want := fmt.Sprintln(got.Change, got.Added, got.Removed, got.Moved, factor), fmt.Sprintln(c.change, c.added, c.removed, c.moved, c.factor); said != want {
			t.Errorf("%s: %s, want %s", c.why, said, want)
		}
	}
	two, one := sheet(load(10, 20), in("kPa", 1, 2), ramp(4)), sheet(load(10, 20), nil, ramp(2))
	named := sheet(tabletest.Must(tables.NewAxis("air charge", "mg", []float64{10, 20})), nil, ramp(2))
	for want, pair := range map[string][2]*tables.Calibration{"added": {one, two}, "removed": {two, one}, "renamed": {one, named}} {
		if got := merge.Compare(pair[0], pair[1], merge.Tolerance{}, merge.Selection{}).Tables[0].Axes; len(got) != 1 || got[0].Change != want {
			t.Errorf("want %s, got %+v", want, got)
		}
	}
}

// TestOtherUnit: a table given in another unit is the same data where every
// value is the old one converted, to the digits given; where one is not, the
// old values are read in the new unit.
func TestOtherUnit(t *testing.T) {
	pressure := func(unit string, points ...float64) *tables.Axis {
		return tabletest.Must(tables.NewAxis("manifold pressure", unit, points))
	}
	ms := func(values ...float64) *tables.Calibration {
		return sheet(pressure("kPa", 50, 100), nil, values, func(f *tables.Fields) { f.Unit = "ms" })
	}
	us := func(x *tables.Axis, values ...float64) *tables.Calibration {
		return sheet(x, nil, values, func(f *tables.Fields) { f.Unit = "us" })
	}
	for _, c := range []struct {
		why           string
		a, b          *tables.Calibration
		finding, said string
		changed       int
	}{
		{"values", ms(1.5, 2.5), us(pressure("kPa", 50, 100), 1500, 2500), "same data, other unit: ms → us", "", 0},
		{"values and axis", ms(1.5, 2.5), us(pressure("bar", 0.5, 1), 1500, 2500), "same data, other unit: ms → us, kPa → bar", "", 0},
		{"a value edited too", ms(1.5, 2.5), us(pressure("kPa", 50, 100), 1500, 2600), "", "old values read as us", 1},
		{"the axis converted to other breakpoints", ms(1.5, 2.5), us(pressure("bar", 0.5, 1.1), 1500, 2500), "", "old values read as us", 0},
		{"a breakpoint more", ms(1.5, 2.5), us(pressure("kPa", 50, 100, 150), 1500, 2500, 2500), "refined axis, surface unchanged", "old values read as us", 0},
		{"nothing at the end", ms(1.5, 0), us(pressure("kPa", 50, 100), 1500, 0), "same data, other unit: ms → us", "", 0},
		{"numbers no larger than their rounding", ms(0.0004, 0), us(pressure("kPa", 50, 100), 0.4, 0), "", "old values read as us", 0},
		{"rounded to what is shown", ms(1.5004, 2.5), us(pressure("kPa", 50, 100), 1500, 2500), "same data, other unit: ms → us", "", 0},
		{"further than what is shown rounds", ms(1.5006, 2.5), us(pressure("kPa", 50, 100), 1500, 2500), "", "old values read as us", 1},
		{"one spelling for another", ms(1.5, 2.5), sheet(pressure("kPa", 50, 100), nil, []float64{1.5, 2.5}, func(f *tables.Fields) { f.Unit = "msec" }), "", "", 0},
	} {
		r := merge.Compare(c.a, c.b, merge.Tolerance{}, merge.Selection{}).Tables[0]
		if r.Finding != c.finding || !strings.Contains(strings.Join(r.Notes, "\n"), c.said) || c.said == "" && len(r.Notes) > 0 || r.Changed != c.changed {
			t.Errorf("%s: %q, %q, %d changed", c.why, r.Finding, r.Notes, r.Changed)
		}
	}
}

// TestRemovalGuards: a table is removed where it is the one that was meant, its
// cells by their guard and all else exactly.
func TestRemovalGuards(t *testing.T) {
	was := func(how func(f *tables.Fields)) *tables.Calibration {
		return sheet(load(10, 20), nil, []float64{1, 2}, func(f *tables.Fields) { f.Title, f.Resolution = "Spark", 0.1 }, how)
	}
	same := func(*tables.Fields) {}
	empty := tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van"}))
	for _, c := range []struct {
		why  string
		how  func(f *tables.Fields)
		want string // in the refusal; "" where the table goes
	}{
		{"it", same, ""},
		{"a cell under half a step away", func(f *tables.Fields) { f.Values = []float64{1, 2.04} }, ""},
		{"a cell further away", func(f *tables.Fields) { f.Values = []float64{1, 2.06} }, "t [0, 1]: found 2.06, expected 2"},
		{"another title", func(f *tables.Fields) { f.Title = "Fuel" }, `t title: found "Fuel", expected "Spark"`},
		{"another unit", func(f *tables.Fields) { f.Unit = "ms" }, `t unit: found "ms", expected "deg"`},
		{"other breakpoints", func(f *tables.Fields) { f.X = load(10, 30) }, "t x: found load [%] 10, 30, expected load [%] 10, 20"},
		{"a breakpoint more", func(f *tables.Fields) { f.X, f.Values = load(10, 20, 30), []float64{1, 2, 3} }, "t values: found 3 values, expected 2 values"},
	} {
		got, err := merge.Apply(was(c.how), merge.Diff(was(same), empty))
		if c.want == "" {
			if err != nil || len(got.Tables()) > 0 {
				t.Errorf("%s: %v", c.why, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
}

// TestOrderGuards: an order names the same tables before and after.
func TestOrderGuards(t *testing.T) {
	doc := parse(found) // flow, gone, last
	for _, c := range []struct {
		from, to []string
		want     string // in the refusal, or the tables' order
	}{
		{[]string{"flow", "gone", "last"}, []string{"last", "flow", "gone"}, "last flow gone"},
		{[]string{"flow", "gone", "last"}, []string{"last", "flow"}, "order: found flow, gone, last in from and last, flow in to, expected the same tables in from and in to"},
		{[]string{"gone", "flow", "last"}, []string{"last", "flow", "gone"}, "order: found flow, gone, last, expected gone, flow, last"},
	} {
		got, err := merge.Apply(doc, &merge.ChangeSet{Edits: []merge.Edit{&merge.FieldEdit{Names: []string{merge.TableOrder}, From: merge.State{Order: c.from}, To: merge.State{Order: c.to}}}})
		switch {
		case err != nil && strings.Contains(err.Error(), c.want):
		case err == nil && strings.Join(got.IDs(), " ") == c.want:
		default:
			t.Errorf("%v to %v: %v, want %s", c.from, c.to, err, c.want)
		}
	}
}

// TestParseBlock: a place is a table with a row and a column, or ranges of them
// from low to high.
func TestParseBlock(t *testing.T) {
	for text, want := range map[string]string{
		"t:1,2": "t [1 1] [2 2]", "t:1-3,2–4": "t [1 3] [2 4]", "a:b:0,0": "a:b [0 0] [0 0]", "t: 1 - 3 , 2": "t [1 3] [2 2]",
		"t": "", ":1,2": "", "t:1": "", "t:x,1": "", "t:1,x": "", "t:3-1,2": "", "t:1,4-2": "", "t:-1,2": "", "t:1-,2": "", "t:1,-": "",
	} {
		b, err := merge.ParseBlock(text)
		if got := fmt.Sprint(b.Table, " ", b.Rows, " ", b.Columns); err == nil && got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %s, %v, want %q", text, got, err, want)
		}
	}
}

// TestWordByWord: titles are told apart by whole words, numbers, blanks and
// single marks.
func TestWordByWord(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"idle_air 12", "idle_fuel 12", "-idle_air +idle_fuel = 12"},
		{"van's pump", "vans pump", "-van's +vans = pump"},
		{"gain 12", "gain 13", "=gain  -12 +13"},
		{"a, b", "a; b", "=a -, +; = b"},
		{"a  b", "a b", "=a -   +  =b"},
	} {
		title := func(s string) *tables.Calibration {
			return sheet(load(10, 20), nil, []float64{1, 2}, func(f *tables.Fields) { f.Title = s })
		}
		var got []string
		for _, w := range merge.Compare(title(c.from), title(c.to), merge.Tolerance{}, merge.Selection{}).Tables[0].Fields[0].Words {
			got = append(got, map[string]string{"keep": "=", "remove": "-", "add": "+"}[w.Op]+w.Text)
		}
		if said := strings.Join(got, " "); said != c.want {
			t.Errorf("%q to %q: %q, want %q", c.from, c.to, said, c.want)
		}
	}
}

// TestRemovedMapsAreGuarded: a mismatch in a map stands at its row and column.
func TestRemovedMapsAreGuarded(t *testing.T) {
	y := tabletest.Must(tables.NewAxis("engine speed", "r/min", []float64{800, 1600, 2400}))
	was, is := sheet(load(10, 20), y, []float64{1, 2, 3, 4, 5, 6}), sheet(load(10, 20), y, []float64{1, 2, 3, 9, 5, 6})
	_, err := merge.Apply(is, merge.Diff(was, tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van"}))))
	if err == nil || !strings.Contains(err.Error(), "t [1, 1]: found 9, expected 4") {
		t.Errorf("%v", err)
	}
}

// TestFlowByDensity: mass and volume flow are the same data through a fuel
// density, which is said; without one they are different values.
func TestFlowByDensity(t *testing.T) {
	doc := func(engine, unit, values string) *tables.Calibration {
		return parse(`{"format": "calsplice/1", ` + engine + `"tables": [{"id": "flow", "unit": "` + unit + `", "x": {"quantity": "load", "unit": "%", "points": [10, 20]}, "values": ` + values + `}]}`)
	}
	const dense = `"engine": {"fuel_density": {"value": 0.75, "unit": "kg/L"}}, `
	for _, c := range []struct {
		why, old, new, finding, said string
	}{
		{"of both", dense, dense, "same data, other unit: g/s → mL/min", "g/s to mL/min through the fuel density of the document, 0.75 kg/L"},
		{"of the old one", dense, "", "same data, other unit: g/s → mL/min", "g/s to mL/min through the fuel density of the document, 0.75 kg/L"},
		{"of the new one", "", dense, "same data, other unit: g/s → mL/min", "g/s to mL/min through the fuel density of the document, 0.75 kg/L"},
		{"of none", "", "", "", ""},
	} {
		// 1 g/s is 60 g a minute, which are 80 mL at 0.75 kg/L.
		r := merge.Compare(doc(c.old, "g/s", "[1, 2]"), doc(c.new, "mL/min", "[80, 160]"), merge.Tolerance{}, merge.Selection{}).Tables[0]
		if r.Finding != c.finding || strings.Join(r.Notes, "\n") != c.said {
			t.Errorf("%s: %q, %q", c.why, r.Finding, r.Notes)
		}
	}
}

// TestSpreadsConvert: a mean of temperatures converts with the zero of its scale, a
// standard deviation without, so that cells in another unit are the same data; and
// axes that differ in more than the name of their unit are not taken for one.
func TestSpreadsConvert(t *testing.T) {
	doc := func(unit, axis, mean, sd string) *tables.Calibration {
		x := `"x": {"quantity": "load", "unit": "` + axis + `}`
		return parse(`{"format": "calsplice.cells/1", "tables": [{"id": "t.mean", "unit": "` + unit + `", ` + x + `, "values": ` + mean + `}, {"id": "t.sd", "unit": "` + unit + `", ` + x + `, "values": ` + sd + `}]}`)
	}
	const same = "same data, other unit: degC → degF"
	for _, c := range []struct{ why, axis, sd, want string }{
		{"converted", `%", "points": [10, 20]`, "[1.8, 3.6]", same + ", " + same},
		{"a deviation with the zero of the scale", `%", "points": [10, 20]`, "[33.8, 35.6]", same + ", "},
		{"an axis that was edited by less than the new one's decimals show", `%", "points": [10, 20.4]`, "[1.8, 3.6]", ", "},
	} {
		r := merge.Compare(doc("degC", c.axis, "[20, 30]", "[1, 2]"), doc("degF", `%", "points": [10, 20]`, "[68, 86]", c.sd), merge.Tolerance{}, merge.Selection{})
		if got := r.Tables[0].Finding + ", " + r.Tables[1].Finding; got != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

// TestSelectedTables: what is not selected is neither removed, added nor changed.
func TestSelectedTables(t *testing.T) {
	a := parse(`{"format": "calsplice/1", "name": "a", "tables": [{"id": "gone", "unit": "ms", "values": 1}, {"id": "kept", "unit": "ms", "values": 1}, {"id": "lost", "unit": "ms", "values": 1}]}`)
	b := parse(`{"format": "calsplice/1", "name": "b", "tables": [{"id": "kept", "unit": "ms", "values": 2}, {"id": "more", "unit": "ms", "values": 1}]}`)
	for _, c := range []struct {
		only []string
		want string
	}{{nil, "name gone removed lost removed kept changed more added"}, {[]string{"gone"}, "gone removed"}, {[]string{"kept"}, "kept changed"}, {[]string{"m*"}, "more added"}, {[]string{"none"}, ""}} {
		r := merge.Compare(a, b, merge.Tolerance{}, merge.Selection{Tables: c.only})
		var got []string
		for _, f := range r.Document {
			got = append(got, f.Field)
		}
		for _, t := range r.Tables {
			got = append(got, t.Table, t.Change)
		}
		if said := strings.Join(got, " "); said != c.want || r.Same != (c.want == "") {
			t.Errorf("%v: %s, want %s", c.only, said, c.want)
		}
	}
}

// TestAxesThatDoNotCompare: breakpoints of another quantity or unit are no
// breakpoints in common, whatever their numbers.
func TestAxesThatDoNotCompare(t *testing.T) {
	a := sheet(load(10, 20, 30), nil, []float64{1, 2, 3})
	for _, c := range []struct {
		why string
		x   *tables.Axis
		of  int
	}{
		{"of the same", load(10, 20), 2},
		{"of another quantity", tabletest.Must(tables.NewAxis("air charge", "%", []float64{10, 20})), 0},
		{"in a unit that does not convert", in("furlong", 10, 20), 0},
	} {
		if r := merge.Compare(a, sheet(c.x, nil, []float64{7, 8}), merge.Tolerance{}, merge.Selection{}).Tables[0]; r.Of != c.of || r.Changed != c.of {
			t.Errorf("%s: %d of %d cells changed", c.why, r.Changed, r.Of)
		}
	}
}

// TestSidesInWords: what each side of a conflict holds, in a few words.
func TestSidesInWords(t *testing.T) {
	y := tabletest.Must(tables.NewAxis("engine speed", "r/min", []float64{800, 1600, 2400}))
	of := func(doc *tables.Calibration) merge.State { return merge.State{Table: doc.Table("t")} }
	for _, c := range []struct {
		conflict merge.Conflict
		want     string
	}{
		{merge.Conflict{Name: merge.WholeTable, Table: "t", Ours: of(sheet(load(10, 20), y, ramp(6)))}, "a table of 3 × 2"},
		{merge.Conflict{Name: merge.WholeTable, Table: "t", Ours: of(sheet(nil, nil, []float64{1.5}))}, "1.5"},
		{merge.Conflict{Name: merge.WholeTable, Table: "t", Ours: merge.State{Absent: true}}, "nothing"},
		{merge.Conflict{Table: "t", Ours: merge.State{Value: 2.5}}, "2.5"},
		{merge.Conflict{Name: merge.TableOrder, Ours: merge.State{Order: []string{"b", "a"}}}, "b, a"},
		{merge.Conflict{Name: "name", Ours: merge.State{Contents: &tables.Contents{Name: "van"}}}, `"van"`},
		{merge.Conflict{Table: "t", Name: "title", Ours: merge.State{Fields: &tables.Fields{Title: "Spark"}}}, `"Spark"`},
	} {
		if got := c.conflict.SideText(merge.Ours); got != c.want {
			t.Errorf("%+v: %s, want %s", c.conflict, got, c.want)
		}
	}
}

// TestSurfaceNodes: nodes at breakpoints of both are measured, those of one are
// between or past the other's.
func TestSurfaceNodes(t *testing.T) {
	a, b := sheet(load(10, 20, 30), nil, []float64{1, 2, 3}), sheet(load(10, 25, 40), nil, []float64{1, 2.5, 7})
	s := merge.Compare(a, b, merge.Tolerance{}, merge.Selection{}).Tables[0].Surface
	// At 30 the new one has 4, one third of the way from 2.5 to 7; at 40 the old
	// one holds its 3.
	if s == nil || s.Measured != 1 || s.Interpolated != 3 || s.Extrapolated != 1 || s.Largest != 4 || fmt.Sprint(s.At) != "[40]" || s.Worst != "extrapolated" || s.Unchanged {
		t.Errorf("%+v", s)
	}
}

// TestLimitsInAnotherUnit: limits that are the old ones converted are no change
// beside the unit's; others are.
func TestLimitsInAnotherUnit(t *testing.T) {
	doc := func(unit string, high float64, values ...float64) *tables.Calibration {
		return sheet(load(10, 20), nil, values, func(f *tables.Fields) { f.Unit, f.Limits = unit, &tables.Limits{Low: 0, High: high} })
	}
	for high, want := range map[float64]string{5000: "", 6000: "limits"} {
		r := merge.Compare(doc("ms", 5, 1.5, 2.5), doc("us", high, 1500, 2500), merge.Tolerance{}, merge.Selection{}).Tables[0]
		var got []string
		for _, f := range r.Fields {
			got = append(got, f.Field)
		}
		if r.Finding == "" || strings.Join(got, " ") != want {
			t.Errorf("to %v: %q, fields %v, want %q", high, r.Finding, got, want)
		}
	}
}

// TestTolerancesInWords: each tolerance says what it is.
func TestTolerancesInWords(t *testing.T) {
	doc := sheet(load(10, 20), nil, []float64{1, 2}, func(f *tables.Fields) { f.Resolution = 0.5 })
	bound := func(text string) []merge.Bound {
		b, err := merge.ParseBound(text)
		if err != nil {
			t.Fatal(err)
		}
		return []merge.Bound{b}
	}
	for want, tolerance := range map[string]merge.Tolerance{
		"0.25, half the resolution": {}, "0.1": {Abs: bound("0.1")}, "2 %": {Rel: bound("t=0.02")}, "0.1 or 2 %, the larger": {Abs: bound("t*=0.1"), Rel: bound("0.02")},
	} {
		if got := merge.Compare(doc, doc, tolerance, merge.Selection{}).Tolerance; len(got) != 1 || got[0].Text != want {
			t.Errorf("%v, want %s", got, want)
		}
	}
	plain := sheet(load(10, 20), nil, []float64{1, 2})
	for want, tolerance := range map[string]merge.Tolerance{"": {}, "0.1": {Abs: bound("0.1")}} {
		got := merge.Compare(plain, plain, tolerance, merge.Selection{}).Tolerance
		if len(got) != min(1, len(want)) || want != "" && got[0].Text != want {
			t.Errorf("without a resolution: %v, want %q", got, want)
		}
	}
	for _, text := range []string{"", "x", "-1", "t=", "t=-1", "[=1"} {
		if b, err := merge.ParseBound(text); err == nil {
			t.Errorf("%q is %v", text, b)
		}
	}
	if _, err := merge.ParseBound("=1"); err == nil || !strings.Contains(err.Error(), "expected a table's id or a pattern before the =") {
		t.Errorf("no table: %v", err)
	}
}

// TestWhatOfADocument: facts of the engine are told one by one, and the tables'
// order where those of both stand otherwise.
func TestWhatOfADocument(t *testing.T) {
	doc := func(engine, tables string) *tables.Calibration {
		return parse(`{"format": "calsplice/1", "engine": {` + engine + `}, "tables": [` + tables + `]}`)
	}
	table := func(id string) string { return `{"id": "` + id + `", "unit": "ms", "values": 1}` }
	for _, c := range []struct {
		why, old, new string
		oldIDs        []string
		newIDs        []string
		fields, order string
	}{
		{"nothing", `"cylinders": 4`, `"cylinders": 4`, []string{"a", "b"}, []string{"a", "b"}, "", ""},
		{"a fact", `"cylinders": 4, "strokes": 4`, `"cylinders": 6, "strokes": 4`, []string{"a"}, []string{"a"}, "engine cylinders: 4 to 6", ""},
		{"one more", `"cylinders": 4`, `"cylinders": 4, "strokes": 2`, []string{"a"}, []string{"a"}, "engine strokes: not given to 2", ""},
		{"one less", `"cylinders": 4, "strokes": 2`, `"cylinders": 4`, []string{"a"}, []string{"a"}, "engine strokes: 2 to not given", ""},
		{"two tables changed places", ``, ``, []string{"a", "b", "c"}, []string{"b", "a", "c"}, "", "[a b c] to [b a c]"},
		{"one is new between them", ``, ``, []string{"a", "c"}, []string{"a", "b", "c"}, "", ""},
		{"one is gone, two changed places", ``, ``, []string{"a", "b", "c"}, []string{"c", "a"}, "", "[a c] to [c a]"},
	} {
		list := func(ids []string) string {
			var s []string
			for _, id := range ids {
				s = append(s, table(id))
			}
			return strings.Join(s, ", ")
		}
		r := merge.Compare(doc(c.old, list(c.oldIDs)), doc(c.new, list(c.newIDs)), merge.Tolerance{}, merge.Selection{})
		var fields []string
		for _, f := range r.Document {
			fields = append(fields, f.Field+": "+f.From+" to "+f.To)
		}
		order := ""
		if r.Order != nil {
			order = fmt.Sprint(r.Order.From, " to ", r.Order.To)
		}
		if got := strings.Join(fields, "; "); got != c.fields || order != c.order {
			t.Errorf("%s: %q, order %q", c.why, got, order)
		}
	}
}

// TestKeptBreakpoints: on other axes, cells at breakpoints of both are compared
// with the tolerance, and listed with the place where they stood.
func TestKeptBreakpoints(t *testing.T) {
	step := func(f *tables.Fields) { f.Resolution = 0.1 }
	a := sheet(load(10, 20, 30), nil, []float64{1, 2, 3}, step)
	for _, c := range []struct {
		value           float64
		hidden, changed int
	}{{3, 0, 0}, {3.04, 1, 0}, {3.06, 0, 1}} {
		r := merge.Compare(a, sheet(load(10, 15, 20, 30), nil, []float64{1, 1.5, 2, c.value}, step), merge.Tolerance{}, merge.Selection{})
		got := r.Tables[0]
		if got.Hidden != c.hidden || got.Changed != c.changed || got.Of != 3 || r.Hidden != c.hidden {
			t.Errorf("%v: %d of %d changed, %d hidden", c.value, got.Changed, got.Of, got.Hidden)
		}
		if c.changed == 1 && (len(r.Cells) != 1 || r.Cells[0].At != [2]int{0, 3} || r.Cells[0].OldAt == nil || *r.Cells[0].OldAt != [2]int{0, 2}) {
			t.Errorf("%+v", r.Cells)
		}
	}
}

// TestSurfaceUnchanged: what happened to axes that leave the surface as it was:
// refined where all were only added to, thinned where only taken from, else other
// axes.
func TestSurfaceUnchanged(t *testing.T) {
	doc := func(x, y []float64) *tables.Calibration {
		var values []float64
		for _, b := range y {
			for _, a := range x {
				values = append(values, 2*a+3*b)
			}
		}
		return sheet(load(x...), tabletest.Must(tables.NewAxis("engine speed", "r/min", y)), values)
	}
	old := doc([]float64{10, 20, 40}, []float64{1, 2, 4})
	for _, c := range []struct {
		why, want string
		x, y      []float64
	}{
		{"one column more", "refined axis, surface unchanged", []float64{10, 20, 30, 40}, []float64{1, 2, 4}},
		{"one row more", "refined axis, surface unchanged", []float64{10, 20, 40}, []float64{1, 2, 3, 4}},
		{"both", "refined axis, surface unchanged", []float64{10, 20, 30, 40}, []float64{1, 2, 3, 4}},
		{"one column less", "thinned axis, surface unchanged", []float64{10, 40}, []float64{1, 2, 4}},
		{"both less", "thinned axis, surface unchanged", []float64{10, 40}, []float64{1, 4}},
		{"one less, and a row more", "other axis, surface unchanged", []float64{10, 40}, []float64{1, 2, 3, 4}},
		{"a row less, and one more", "other axis, surface unchanged", []float64{10, 20, 30, 40}, []float64{1, 4}},
		{"one moved", "other axis, surface unchanged", []float64{10, 30, 40}, []float64{1, 2, 4}},
		{"one moved, and a row more", "other axis, surface unchanged", []float64{10, 30, 40}, []float64{1, 2, 3, 4}},
		{"an end moved in", "", []float64{10, 20, 35}, []float64{1, 2, 4}},
	} {
		r := merge.Compare(old, doc(c.x, c.y), merge.Tolerance{}, merge.Selection{}).Tables[0]
		if r.Finding != c.want || r.Surface.Unchanged != (c.want != "") {
			t.Errorf("%s: %q, %+v", c.why, r.Finding, r.Surface)
		}
	}
}
