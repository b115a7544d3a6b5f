package transfer

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/merge"
	"calsplice/tables"
)

// drawPoints makes 1 to 8 breakpoints between low and high, a thousandth apart
// at least: nearer ones may stand at one differential pressure.
func drawPoints(t *rapid.T, label string, low, high int) []float64 {
	thousandths := rapid.SliceOfNDistinct(rapid.IntRange(1000*low, 1000*high), 1, 8, rapid.ID).Draw(t, label)
	slices.Sort(thousandths)
	var points []float64
	for _, p := range thousandths {
		points = append(points, float64(p)/1000)
	}
	return points
}

func drawPressure(t *rapid.T, label string) *tables.Axis {
	var a *tables.Axis
	var err error
	switch rapid.IntRange(0, 3).Draw(t, label+" kind") {
	case 0:
		a, err = tables.NewAxis(tables.DifferentialPressure, "kPa", drawPoints(t, label, 100, 600))
	case 1:
		a, err = tables.NewAxis(tables.DifferentialPressure, "psi", drawPoints(t, label, 20, 90))
	case 2:
		a, err = tables.NewAxis(tables.ManifoldVacuum, "kPa", drawPoints(t, label, -100, 90))
	default:
		a, err = tables.NewAxis(tables.ManifoldPressure, "kPa", drawPoints(t, label, 10, 250))
	}
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// drawSide makes a calibration with an injector and tables that are none of its
// business.
func drawSide(t *rapid.T, label string) *tables.Calibration {
	e := &tables.Engine{Cylinders: 4, Displacement: &tables.Measure{Value: 2, Unit: "L"},
		FuelDensity:  &tables.Measure{Value: rapid.SampledFrom([]float64{0.74, 0.745, 0.789}).Draw(t, label+" density"), Unit: "kg/L"},
		RailPressure: &tables.RailPressure{Value: 420, Unit: "kPa", RelativeTo: rapid.SampledFrom([]tables.Reference{tables.Atmosphere, tables.Absolute}).Draw(t, label+" rail")}}
	var list []*tables.Table
	add := func(role tables.Role, id, unit string, low, high float64, x, y *tables.Axis) {
		n := 1
		for _, a := range []*tables.Axis{x, y} {
			if a != nil {
				n *= a.Len()
			}
		}
		f := tables.Fields{ID: id, Role: role, Unit: unit, X: x, Y: y, Values: rapid.SliceOfN(rapid.Float64Range(low, high), n, n).Draw(t, label+id),
			Resolution: rapid.SampledFrom([]float64{0, 0.001, 0.05}).Draw(t, label+id+" resolution")}
		tab, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, tab)
	}
	volts := func() *tables.Axis {
		a, err := tables.NewAxis(tables.BatteryVoltage, "V", drawPoints(t, label+" volts", 6, 17))
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	add(tables.InjectorFlow, "flow", rapid.SampledFrom([]string{"g/s", "lb/h", "cc/min"}).Draw(t, label+" unit"), 1, 50, drawPressure(t, label+" flow"), nil)
	add("", "before", "ms", 0, 9, volts(), nil)
	add(tables.InjectorOffset, "offset", rapid.SampledFrom([]string{"ms", "us"}).Draw(t, label+" time"), 0.1, 3, volts(), drawPressure(t, label+" offset"))
	add(tables.SparkAdvance, "spark", "deg", -5, 40, nil, nil)
	add(tables.InjectorMinPulse, "min", "ms", 0.1, 2, nil, nil)
	c, err := tables.NewCalibration(tables.Contents{Name: label, Engine: e, Tables: list})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Every edit is in the group and guarded; the change set makes the changed
// calibration and can be reversed; a calibration transferred into itself stays.
func lawOnlyTheGroup(t *rapid.T) {
	donor, recipient := drawSide(t, "donor"), drawSide(t, "recipient")
	r, err := Run(donor, recipient, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range r.Changes.Edits {
		if _, ok := e.(*merge.CellEdit); !ok || !slices.Contains(moved, recipient.Table(e.On()).Role()) {
			t.Fatalf("an edit outside the group: %+v", e)
		}
	}
	got, err := merge.Apply(recipient, r.Changes)
	if err != nil || !got.Equal(r.Changed) {
		t.Fatalf("applied: %v", err)
	}
	if back, err := merge.Apply(r.Changed, r.Changes.Reverse()); err != nil || !back.Equal(recipient) {
		t.Fatalf("reversed: %v", err)
	}
	for _, m := range r.Members {
		for i, v := range m.After.Values() {
			if math.Abs(v-m.Exact[i]) > m.Before.Tolerance()*(1+1e-9)+1e-12*math.Abs(v) {
				t.Fatalf("%s value %d is %v, exactly %v, resolution %v", m.Table, i, v, m.Exact[i], m.Before.Resolution())
			}
		}
	}
	self, err := Run(donor, donor, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !self.Changed.Equal(donor) {
		t.Fatal("a calibration transferred into itself changed")
	}
}

func TestOnlyTheGroup(t *testing.T) { rapid.Check(t, lawOnlyTheGroup) }

func FuzzOnlyTheGroup(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawOnlyTheGroup)) }
