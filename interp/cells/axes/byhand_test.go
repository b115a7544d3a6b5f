package axes

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/tables"
)

// TestParseByHand: an axis as people write one: a channel, its unit if it is another,
// and breakpoints between commas, blanks or semicolons.
func TestParseByHand(t *testing.T) {
	for _, c := range []struct{ text, channel, quantity, unit, points string }{
		{"engine_speed: 600,800,1200", "engine_speed", "engine speed", "r/min", "[600 800 1200]"},
		{" engine speed [rpm] : 600 800;1200", "engine_speed", "engine speed", "rpm", "[600 800 1200]"},
		{"manifold_pressure[bar]:0.3", "manifold_pressure", "manifold pressure", "bar", "[0.3]"},
		{"mood: 1", "mood", "mood", "", "[1]"},
		{"my [odd: 1,2", "my [odd", "my [odd", "", "[1 2]"},
		{"odd]: 1,2", "odd]", "odd]", "", "[1 2]"},
	} {
		a, err := Parse(c.text)
		if err != nil || a.Channel != c.channel || a.Quantity() != c.quantity || a.Unit() != c.unit || fmt.Sprint(a.Points()) != c.points {
			t.Errorf("%q: %+v, %v", c.text, a, err)
		}
	}
	for text, want := range map[string]string{
		"engine_speed 600": `"engine_speed 600" has no ':', expected 'CHANNEL: V,V,…'`,
		" : 600":           `" : 600" names no channel, expected 'CHANNEL: V,V,…'`,
		"[rpm]: 600":       `"[rpm]: 600" names no channel, expected 'CHANNEL: V,V,…'`,
		"load: six":        "six",
		"load: 2,1":        "1",
		"load:":            "",
	} {
		if a, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v", text, a, err)
		}
	}
}

// TestAxesOfTables: the channels along a table's axes; a table that is not there, has
// none, or one of another kind is refused.
func TestAxesOfTables(t *testing.T) {
	axis := func(q, u string) *tables.Axis { return must(tables.NewAxis(q, u, []float64{1, 2})) }
	var c tables.Contents
	for _, f := range []tables.Fields{
		{ID: "curve", X: axis("engine speed", "r/min"), Values: []float64{1, 2}},
		{ID: "map", X: axis("engine speed", "r/min"), Y: axis("air charge", "mg"), Values: []float64{1, 2, 3, 4}},
		{ID: "dot", Values: []float64{1}},
		{ID: "mood", X: axis("mood", ""), Values: []float64{1, 2}},
		{ID: "moody", X: axis("load", "%"), Y: axis("mood", ""), Values: []float64{1, 2, 3, 4}},
	} {
		f.Unit = "ms"
		c.Tables = append(c.Tables, must(tables.NewTable(f)))
	}
	doc := must(tables.NewCalibration(c))
	for id, want := range map[string]string{"curve": "engine_speed <nil>", "map": "engine_speed air_charge", "dot": "table dot is a scalar: it has no axes to gather samples along",
		"mood": `table mood: no channel of a drive log goes along an axis of "mood": give --x and --y`, "moody": `table moody: no channel of a drive log goes along an axis of "mood": give --x and --y`,
		"none": tables.Unknown("table", "none", doc.IDs())} {
		x, y, err := OfTable(doc, id)
		got := fmt.Sprint(err)
		if err == nil {
			got = x.Channel + " <nil>"
			if y != nil {
				got = x.Channel + " " + y.Channel
			}
		}
		if got != want {
			t.Errorf("%s: %s, want %s", id, got, want)
		}
	}
}

// TestRulerByHand: readings go to the nearest breakpoint times the stride, in the
// channel's unit; no reading goes far below any; of one breakpoint all go there.
func TestRulerByHand(t *testing.T) {
	r := must(NewRuler(&Axis{"manifold_pressure", must(tables.NewAxis("manifold pressure", "bar", []float64{0.2, 0.4, 1}))}, 3))
	at := []int32{10, 10, 10, 10, 10, 10, 10}
	r.AddIndices(at, []float64{-900, 29.9, 30, 69.9, 70, 900, math.NaN()})
	if fmt.Sprint(at[:6]) != "[10 10 13 13 16 16]" || at[6] > -1000 || r.Len() != 3 {
		t.Errorf("%v", at)
	}
	if r.parts == nil {
		t.Error("readings are looked for among all breakpoints, though few of them lie close")
	}
	for v, want := range map[float64]string{20: "0 0", 30: "0 0.5", 55: "1 0.25", 900: "1 1", -900: "0 0"} {
		if i, u := r.Spread(v); fmt.Sprintf("%d %.4g", i, u) != want {
			t.Errorf("%v kPa: %d %v, want %s", v, i, u, want)
		}
	}
	one := must(NewRuler(&Axis{"load", must(tables.NewAxis("load", "%", []float64{7}))}, 5))
	if i, u := one.Spread(99); i != 0 || u != 0 || one.Index(99) != 0 || one.Index(-1) != 0 {
		t.Errorf("of one breakpoint: %d %v", i, u)
	}
	none := must(NewRuler(nil, 5))
	if none.Len() != 1 || none.Index(3) != 0 {
		t.Error("no axis has not one place")
	}
	for unit, want := range map[string]string{"kg": `axis "engine speed" of channel engine_speed: `, "blob": `axis "engine speed" of channel engine_speed: `} {
		if _, err := NewRuler(&Axis{"engine_speed", must(tables.NewAxis("engine speed", unit, []float64{1, 2}))}, 1); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("in %s: %v", unit, err)
		}
	}
	if _, err := NewRuler(&Axis{"mood", must(tables.NewAxis("mood", "kPa", []float64{1, 2}))}, 1); err == nil || err.Error() != "channel mood has no unit, and the axis is in kPa" {
		t.Errorf("%v", err)
	}
	if r := must(NewRuler(&Axis{"mood", must(tables.NewAxis("mood", "", []float64{1, 2}))}, 1)); r.Index(1.6) != 1 {
		t.Error("an axis without a unit of a channel without one")
	}
}

// TestManyBreakpoints: the quick way to a breakpoint is the slow one, also where several
// halves lie in one part, at any stride, in a whole sweep.
func TestManyBreakpoints(t *testing.T) {
	for _, points := range [][]float64{{0, 1, 2, 3}, {0, 0.001, 0.002, 5}, {-7, -6.5, 0, 100, 101, 900}, {1e-300, 2e-300}, {-1e308, 1e308}, {5, math.Nextafter(5, 6)}} {
		for _, stride := range []int{1, 7} {
			r := must(NewRuler(&Axis{"engine_speed", must(tables.NewAxis("engine speed", "", points))}, stride))
			for i, half := range r.half { // halfway belongs to the higher one
				if at, below := r.Index(half), r.Index(math.Nextafter(half, math.Inf(-1))); int(at) != stride*(i+1) || int(below) != stride*i {
					t.Errorf("%v among %v: %d, and %d just below", half, points, at, below)
				}
			}
			first, last := points[0], points[len(points)-1]
			for k := -3000; k <= 6000; k++ {
				v := first*(1-float64(k)/3000) + last*float64(k)/3000
				if got, want := r.Index(v), r.nearest(v); got != want {
					t.Fatalf("%v among %v: %d, want %d", v, points, got, want)
				}
			}
		}
	}
}
