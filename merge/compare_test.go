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
		{"a factor for the last alone", []float64{10, 20, 30}, []float64{12, 21, 33}, "replaced", "[]", "[]", "[[10 12] [20 21] [30 33]]", 0},
		{"no zero is scaled to another number", []float64{-10, 0}, []float64{-5, 5}, "replaced", "[]", "[]", "[[-10 -5] [0 5]]", 0},
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
		{"rounded to what is shown", ms(1.5004, 2.5), us(pressure("kPa", 50, 100), 1500, 2500), "same data, other unit: ms → us", "", 0},
		{"further than what is shown rounds", ms(1.5006, 2.5), us(pressure("kPa", 50, 100), 1500, 2500), "", "old values read as us", 1},
		{"one spelling for another", ms(1.5, 2.5), sheet(pressure("kPa", 50, 100), nil, []float64{1.5, 2.5}, func(f *tables.Fields) { f.Unit = "msec" }), "", "", 0},
	} {
		r := merge.Compare(c.a, c.b, merge.Tolerance{}, merge.Selection{}).Tables[0]
		if r.Finding != c.finding || !strings.Contains(strings.Join(r.Said, "\n"), c.said) || c.said == "" && len(r.Said) > 0 || r.Changed != c.changed {
			t.Errorf("%s: %q, %q, %d changed", c.why, r.Finding, r.Said, r.Changed)
		}
	}
}

// TestOneCellInWords: the rule of a single cell is the shorter of a sum and a
// factor; from 0 no factor leads anywhere.
func TestOneCellInWords(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		rule     string
	}{{10, 12, "+ 2 deg"}, {40, 42.8, "× 1.07"}, {0, 3, "+ 3 deg"}, {8, 4, "− 4 deg"}, {12.34, 6.17, "× 0.5"}} {
		a, b := sheet(load(10, 20), nil, []float64{c.from, 7}), sheet(load(10, 20), nil, []float64{c.to, 7})
		r := merge.Compare(a, b, merge.Tolerance{}, merge.Selection{})
		if len(r.Blocks) != 1 || r.Blocks[0].Rule("deg") != c.rule {
			t.Errorf("%v to %v: %v", c.from, c.to, said(r))
		}
	}
}

func said(r *merge.Report) (list []string) {
	for _, b := range r.Blocks {
		list = append(list, fmt.Sprintf("%s %s (%d)", b.Place(), b.Rule("deg"), b.Changed))
	}
	return list
}

// TestRulesAtLimits: a rule that ends at a limit says so where a cell would have
// gone past it, and not where a cell arrives just there; cells of one value
// brought to another are set or moved, not clamped.
func TestRulesAtLimits(t *testing.T) {
	limits := func(f *tables.Fields) { f.Limits = &tables.Limits{Low: 10, High: 60} }
	for _, c := range []struct {
		why      string
		from, to []float64
		rule     string
	}{
		{"down to the limit", []float64{20, 20, 21, 25, 33, 40}, []float64{10, 10, 11, 15, 23, 30}, "row 0, columns 0–5 − 10 deg (6)"},
		{"past it", []float64{18, 20, 21, 25, 33, 40}, []float64{10, 10, 11, 15, 23, 30}, "row 0, columns 0–5 − 10 deg, clamped at 10 deg (6)"},
		{"up to the limit", []float64{20, 22, 25, 50, 50, 41}, []float64{30, 32, 35, 60, 60, 51}, "row 0, columns 0–5 + 10 deg (6)"},
		{"past that", []float64{20, 22, 25, 50, 56, 41}, []float64{30, 32, 35, 60, 60, 51}, "row 0, columns 0–5 + 10 deg, clamped at 60 deg (6)"},
		{"brought down to one value", []float64{50, 44, 47, 20, 30, 13}, []float64{40, 40, 40, 20, 30, 13}, "row 0, columns 0–2 clamped at 40 deg (3)"},
		{"brought up to one value", []float64{11, 14, 17, 20, 30, 53}, []float64{20, 20, 20, 20, 30, 53}, "row 0, columns 0–2 clamped at 20 deg (3)"},
		{"one value before as after", []float64{50, 50, 50, 20, 30, 13}, []float64{40, 40, 40, 20, 30, 13}, "row 0, columns 0–2 − 10 deg (3)"},
		{"brought to a value that others pass", []float64{50, 44, 47, 20, 30, 53}, []float64{40, 40, 40, 20, 30, 53}, "row 0, columns 0–2 set to 40 deg (3)"},
	} {
		x := load(10, 20, 30, 40, 50, 60)
		r := merge.Compare(sheet(x, nil, c.from, limits), sheet(x, nil, c.to, limits), merge.Tolerance{}, merge.Selection{})
		if got := strings.Join(said(r), "; "); got != c.rule {
			t.Errorf("%s: %s, want %s", c.why, got, c.rule)
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
		{"a cell further away", func(f *tables.Fields) { f.Values = []float64{1, 2.06} }, "t [0, 1]: wanted 2, found 2.06"},
		{"another title", func(f *tables.Fields) { f.Title = "Fuel" }, `t title: wanted "Spark", found "Fuel"`},
		{"another unit", func(f *tables.Fields) { f.Unit = "ms" }, `t unit: wanted "deg", found "ms"`},
		{"other breakpoints", func(f *tables.Fields) { f.X = load(10, 30) }, "t x: wanted load [%] 10, 20, found load [%] 10, 30"},
		{"a breakpoint more", func(f *tables.Fields) { f.X, f.Values = load(10, 20, 30), []float64{1, 2, 3} }, "t values: wanted 2 values, found 3 values"},
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
		{[]string{"flow", "gone", "last"}, []string{"last", "flow"}, "order: wanted the same tables in from and in to, found flow, gone, last in from and last, flow in to"},
		{[]string{"gone", "flow", "last"}, []string{"last", "flow", "gone"}, "order: wanted gone, flow, last, found flow, gone, last"},
	} {
		got, err := merge.Apply(doc, &merge.ChangeSet{Edits: []merge.Edit{&merge.OrderEdit{From: c.from, To: c.to}}})
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
