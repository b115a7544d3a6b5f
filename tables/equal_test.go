package tables

import (
	"math"
	"testing"
)

// TestEqualSeesEachField changes one thing of a document at a time: it is another
// document then, both ways round, and was itself before.
func TestEqualSeesEachField(t *testing.T) {
	axis := func(quantity, unit string, points ...float64) *Axis {
		a, err := NewAxis(quantity, unit, points)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	extra := func(value string) Extra { return Extra{"x-a": value} }
	make := func(change func(c *Contents, e *Engine, f *Fields)) *Calibration {
		e := &Engine{Cylinders: 4, Strokes: 4, Injectors: 4, PulsesPerCycle: 1, Displacement: &Measure{2, "L"},
			RailPressure: &RailPressure{300, "kPa", Atmosphere}, StoichAFR: 14.7, FuelDensity: &Measure{0.745, "kg/L"}, Extra: extra("1")}
		f := Fields{ID: "t", Title: "T", Role: SparkAdvance, Unit: "deg", Resolution: 0.5, Limits: &Limits{-10, 50}, Notes: "n",
			X: axis("load", "%", 1, 2), Y: axis("engine speed", "r/min", 3, 4), Values: []float64{1, 2, 3, 4}, Extra: extra("2")}
		c := Contents{Name: "van", Notes: "notes", Engine: e, Extra: extra("3")}
		change(&c, e, &f)
		table, err := NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		if c.Tables == nil {
			c.Tables = []*Table{table}
		}
		doc, err := NewCalibration(c)
		if err != nil {
			t.Fatal(err)
		}
		return doc
	}
	as := func(*Contents, *Engine, *Fields) {}
	if !make(as).Equal(make(as)) {
		t.Fatal("a document is not itself")
	}
	one, err := NewTable(Fields{ID: "z", Values: []float64{1}})
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(c *Contents, e *Engine, f *Fields){
		"name":                 func(c *Contents, _ *Engine, _ *Fields) { c.Name = "other" },
		"notes":                func(c *Contents, _ *Engine, _ *Fields) { c.Notes = "other" },
		"no engine":            func(c *Contents, _ *Engine, _ *Fields) { c.Engine = nil },
		"kept key":             func(c *Contents, _ *Engine, _ *Fields) { c.Extra = extra("4") },
		"no kept key":          func(c *Contents, _ *Engine, _ *Fields) { c.Extra = nil },
		"other tables":         func(c *Contents, _ *Engine, _ *Fields) { c.Tables = []*Table{one} },
		"no tables":            func(c *Contents, _ *Engine, _ *Fields) { c.Tables = []*Table{} },
		"cylinders":            func(_ *Contents, e *Engine, _ *Fields) { e.Cylinders = 6 },
		"strokes":              func(_ *Contents, e *Engine, _ *Fields) { e.Strokes = 2 },
		"injectors":            func(_ *Contents, e *Engine, _ *Fields) { e.Injectors = 8 },
		"pulses":               func(_ *Contents, e *Engine, _ *Fields) { e.PulsesPerCycle = 2 },
		"displacement":         func(_ *Contents, e *Engine, _ *Fields) { e.Displacement = &Measure{2.5, "L"} },
		"displacement's unit":  func(_ *Contents, e *Engine, _ *Fields) { e.Displacement = &Measure{2, "gal"} },
		"no displacement":      func(_ *Contents, e *Engine, _ *Fields) { e.Displacement = nil },
		"rail":                 func(_ *Contents, e *Engine, _ *Fields) { e.RailPressure = &RailPressure{301, "kPa", Atmosphere} },
		"rail's unit":          func(_ *Contents, e *Engine, _ *Fields) { e.RailPressure = &RailPressure{300, "hPa", Atmosphere} },
		"rail's reference":     func(_ *Contents, e *Engine, _ *Fields) { e.RailPressure = &RailPressure{300, "kPa", Absolute} },
		"no rail":              func(_ *Contents, e *Engine, _ *Fields) { e.RailPressure = nil },
		"stoichiometric ratio": func(_ *Contents, e *Engine, _ *Fields) { e.StoichAFR = 14.6 },
		"density":              func(_ *Contents, e *Engine, _ *Fields) { e.FuelDensity = &Measure{0.75, "kg/L"} },
		"density's unit":       func(_ *Contents, e *Engine, _ *Fields) { e.FuelDensity = &Measure{0.745, "g/mL"} },
		"no density":           func(_ *Contents, e *Engine, _ *Fields) { e.FuelDensity = nil },
		"engine's kept key":    func(_ *Contents, e *Engine, _ *Fields) { e.Extra = extra("5") },
		"id":                   func(_ *Contents, _ *Engine, f *Fields) { f.ID = "u" },
		"title":                func(_ *Contents, _ *Engine, f *Fields) { f.Title = "U" },
		"role":                 func(_ *Contents, _ *Engine, f *Fields) { f.Role = SparkFallback },
		"unit":                 func(_ *Contents, _ *Engine, f *Fields) { f.Unit = "ms" },
		"resolution":           func(_ *Contents, _ *Engine, f *Fields) { f.Resolution = 0.25 },
		"limit low":            func(_ *Contents, _ *Engine, f *Fields) { f.Limits = &Limits{-11, 50} },
		"limit high":           func(_ *Contents, _ *Engine, f *Fields) { f.Limits = &Limits{-10, 51} },
		"no limits":            func(_ *Contents, _ *Engine, f *Fields) { f.Limits = nil },
		"table's notes":        func(_ *Contents, _ *Engine, f *Fields) { f.Notes = "m" },
		"table's kept key":     func(_ *Contents, _ *Engine, f *Fields) { f.Extra = extra("6") },
		"quantity":             func(_ *Contents, _ *Engine, f *Fields) { f.X = axis("air charge", "%", 1, 2) },
		"axis's unit":          func(_ *Contents, _ *Engine, f *Fields) { f.X = axis("load", "kPa", 1, 2) },
		"breakpoint":           func(_ *Contents, _ *Engine, f *Fields) { f.X = axis("load", "%", 1, math.Nextafter(2, 3)) },
		"y":                    func(_ *Contents, _ *Engine, f *Fields) { f.Y = axis("engine speed", "r/min", 3, 5) },
		"a curve":              func(_ *Contents, _ *Engine, f *Fields) { f.Y, f.Values = nil, []float64{1, 2} },
		"value":                func(_ *Contents, _ *Engine, f *Fields) { f.Values = []float64{1, 2, 3, math.Nextafter(4, 5)} },
		"sign of zero":         func(_ *Contents, _ *Engine, f *Fields) { f.Values = []float64{1, 2, 3, math.Copysign(0, -1)} },
	} {
		a, b := make(as), make(change)
		if a.Equal(b) || b.Equal(a) {
			t.Errorf("another %s is not seen", name)
		}
		if !b.Equal(make(change)) {
			t.Errorf("with another %s a document is not itself", name)
		}
	}
}
