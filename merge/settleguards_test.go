package merge_test

import (
	"strings"
	"testing"

	"calsplice/merge"
)

// TestResolveCells: a conflict's cell is found by its coordinates, or by row and column
// where somebody wrote it without them; on other axes it is refused. What is typed keeps
// to the table's limits, unless a side does not; what a side has is taken as it is.
func TestResolveCells(t *testing.T) {
	const curve = `{"format": "calsplice/1", "tables": [{"id": "a", "unit": "ms", "limits": [0, 5], "x": {"quantity": "load", "unit": "%", "points": [10, 20]}, "values": [1, 2]}]}`
	const scalar = `{"format": "calsplice/1", "tables": [{"id": "a", "unit": "ms", "limits": [0, 5], "values": 2}]}`
	at := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		why, doc string
		x, y     *float64
		column   int
		theirs   float64
		typed    *float64 // nil: theirs is taken
		want     float64  // of the cell
		refused  string
	}{
		{"by coordinates", curve, at(20), nil, 0, 3, nil, 3, ""},
		{"by row and column", curve, nil, nil, 1, 3, nil, 3, ""},
		{"with a y that the table has not", curve, at(20), at(7), 1, 3, nil, 0, "the merged table has other axes than the conflict"},
		{"without the x that it has", curve, nil, at(7), 1, 3, nil, 0, "the merged table has other axes than the conflict"},
		{"with an x that a scalar has not", scalar, at(20), nil, 0, 3, nil, 0, "the merged table has other axes than the conflict"},
		{"of a scalar", scalar, nil, nil, 0, 3, nil, 3, ""},
		{"typed", curve, at(20), nil, 0, 3, at(4.5), 4.5, ""},
		{"typed beyond the limits", curve, at(20), nil, 0, 3, at(9), 0, "9 is beyond the limits 0 to 5"},
		{"typed beyond them, as a side is", curve, at(20), nil, 0, 8, at(9), 9, ""},
		{"taken from a side that is beyond them", curve, at(20), nil, 0, 8, nil, 8, ""},
	} {
		side := func(v float64) merge.State { return merge.State{Value: v} }
		conflict := merge.Conflict{Table: "a", Column: c.column, X: c.x, Y: c.y, Base: side(1), Ours: side(2), Theirs: side(c.theirs)}
		if strings.Contains(c.refused, "other axes") {
			conflict.Ours = merge.State{Absent: true} // as it is: the breakpoint is gone
		}
		take := merge.Theirs
		if c.typed != nil {
			take, conflict.Typed = merge.Typed, &merge.State{Value: *c.typed}
		}
		doc, _, _, err := merge.Resolve(parse(c.doc), []merge.Conflict{conflict}, take, merge.Selection{})
		if c.refused != "" {
			if err == nil || !strings.Contains(err.Error(), c.refused) {
				t.Errorf("%s: %v, want %s", c.why, err, c.refused)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		values := doc.Table("a").Values()
		if got := values[len(values)-1]; got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestUnitNamedAndValuesEdited: the caution stands where one side named another unit and
// the other changed values, and not where either did nothing.
func TestUnitNamedAndValuesEdited(t *testing.T) {
	doc := func(unit, axis string, v float64) string {
		return strings.NewReplacer("UNIT", unit, "AXIS", axis, "VALUE", map[float64]string{1: "1", 2: "2"}[v]).Replace(
			`{"format": "calsplice/1", "tables": [{"id": "a", "unit": "UNIT", "x": {"quantity": "load", "unit": "AXIS", "points": [10, 20]}, "values": [VALUE, 5]}]}`)
	}
	for _, c := range []struct {
		why          string
		ours, theirs string
		want         string
	}{
		{"unit and values", doc("us", "%", 1), doc("ms", "%", 2), "one side changed the unit, the other values"},
		{"values and unit", doc("ms", "%", 2), doc("us", "%", 1), "one side changed the unit, the other values"},
		{"unit alone", doc("us", "%", 1), doc("ms", "%", 1), ""},
		{"values alone", doc("ms", "%", 2), doc("ms", "%", 1), ""},
		{"the axis's unit and values", doc("ms", "kPa", 1), doc("ms", "%", 2), "one side changed the unit of axis x"},
		{"values and the axis's unit", doc("ms", "%", 2), doc("ms", "kPa", 1), "one side changed the unit of axis x"},
		{"the axis's unit alone", doc("ms", "kPa", 1), doc("ms", "%", 1), ""},
	} {
		r, err := merge.Merge(parse(doc("ms", "%", 1)), parse(c.ours), parse(c.theirs), merge.MergeOptions{})
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(r.Notes, "\n")
		if (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}
