package merge

import (
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// TestInterleave: two lists become one that has the order of both where they
// agree, and the same one whichever comes first.
func TestInterleave(t *testing.T) {
	for _, c := range []struct{ a, b, want string }{
		{"", "", ""},
		{"a c", "", "a c"},
		{"a c", "b d", "a b c d"},
		{"z a", "m", "m z a"},
		{"a b", "a b", "a b"},
		{"z a", "z b", "z a b"},     // z stands before both, though it is the last by name
		{"b z", "a z", "a b z"},     //
		{"c a", "b a", "b c a"},     // a waits for both
		{"m z a", "z b", "m z a b"}, //
		{"b a", "a c", "b a c"},
		{"x b y", "b z", "x b y z"},
	} {
		a, b := strings.Fields(c.a), strings.Fields(c.b)
		one, two := strings.Join(interleave(a, b), " "), strings.Join(interleave(b, a), " ")
		if one != c.want || two != c.want {
			t.Errorf("%q and %q: %q, swapped %q, want %q", c.a, c.b, one, two, c.want)
		}
	}
}

// TestMergedOrder: a side that moved tables has its order; what a side adds
// stands behind what it follows there; two orders are a conflict.
func TestMergedOrder(t *testing.T) {
	doc := func(ids string) *tables.Calibration {
		var c tables.Contents
		for _, id := range strings.Fields(ids) {
			c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(tables.Fields{ID: id, Unit: "ms", Values: []float64{1}})))
		}
		return tabletest.Must(tables.NewCalibration(c))
	}
	for _, c := range []struct {
		why, base, ours, theirs, want string
		conflict                      bool
	}{
		{"one moved a table", "a b c", "a b c", "c a b", "c a b", false},
		{"both the same", "a b c", "c a b", "c a b", "c a b", false},
		{"both otherwise", "a b c", "b a c", "c a b", "b a c", true},
		{"one adds one", "a b", "a b", "a n b", "a n b", false},
		{"at the front", "a b", "a b", "n a b", "n a b", false},
		{"one moves, the other adds", "a b c", "c a b", "a n b c", "c a n b", false},
		{"both add at one place", "a b", "a m b", "a n b", "a m n b", false},
		{"both add the same at two places", "a b", "a n b", "a b n", "a b n", false},
		{"one adds, the other removes", "a b c", "a c", "a b n c", "a n c", false},
		{"one removes, the other moves", "a b c", "a c", "c b a", "c a", false},
	} {
		for _, swap := range []bool{false, true} {
			ours, theirs := c.ours, c.theirs
			if swap {
				ours, theirs = theirs, ours
			}
			r, err := Merge(doc(c.base), doc(ours), doc(theirs), MergeOptions{})
			if err != nil {
				t.Fatal(err)
			}
			conflict := slices.ContainsFunc(r.Conflicts, func(c Conflict) bool { return c.Name == TableOrder })
			if got := strings.Join(r.Merged.IDs(), " "); conflict != c.conflict || !conflict && got != c.want {
				t.Errorf("%s, swapped %v: %s, conflict %v, want %s", c.why, swap, got, conflict, c.want)
			}
		}
	}
}

// TestWhole: unit, resolution, limits, axes and values go together where the
// values do; a title goes alone.
func TestWhole(t *testing.T) {
	for names, want := range map[string]string{"title unit": "", "title unit values": "unit values", "x values notes": "x values", "resolution limits y values": "resolution limits y values"} {
		e := &FieldEdit{Names: strings.Fields(names)}
		if got := strings.Join(e.Whole(), " "); got != want {
			t.Errorf("%s: %s, want %s", names, got, want)
		}
	}
}

// TestWordsOfEvidence: what an edit rests on as a person reads it.
func TestWordsOfEvidence(t *testing.T) {
	nan := math.NaN()
	for want, w := range map[string]*Evidence{
		"": nil,
		"812 samples in 41 visits: mean +3.52 ± 0.18 %": {Count: 812, Visits: 41, Mean: 3.52, SE: 0.18, Unit: "%"},
		"12,000 samples in 1 visit: mean −2.00":         {Count: 12000, Visits: 1, Mean: -2, SE: nan},
		"8 samples in 2 visits":                         {Count: 8, Visits: 2, Mean: nan, SE: nan, Unit: "%"},
		"by hand":                                       {Note: "by hand", Mean: 5},
		"8 samples in 2 visits: mean +9.00 ± 1.00 %, 75 % of them at the limit; look": {Count: 8, Visits: 2, Mean: 9, SE: 1, AtLimit: 0.75, Unit: "%", Note: "look"},
		"8 samples in 2 visits: mean +9.00 ± 1.00":                                    {Count: 8, Visits: 2, Mean: 9, SE: 1, AtLimit: CensoredShare / 2},
	} {
		if got := w.Words(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
