package tableunit

import (
	"math"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

func axis(unit string, points ...float64) *tables.Axis {
	return tabletest.Must(tables.NewAxis("q", unit, points))
}

func doc(kind tables.Kind, e *tables.Engine, list ...tables.Fields) *tables.Calibration {
	c := tables.Contents{Kind: kind, Engine: e}
	for _, f := range list {
		c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(f)))
	}
	return tabletest.Must(tables.NewCalibration(c))
}

func near(a, b float64) bool { return math.Abs(a-b) <= 4e-16*math.Abs(b) }

// TestValuesLimitsAndResolution convert together; a resolution is a
// difference, which has no zero. (Factors: NIST SP 811, appendix B.)
func TestValuesLimitsAndResolution(t *testing.T) {
	c := doc("", nil, tables.Fields{ID: "t", Unit: "degC", Resolution: 0.5, Limits: &tables.Limits{Low: -40, High: 100}, Values: []float64{20}})
	c, said, err := Convert(c, "t", "degF")
	if err != nil || len(said) > 0 {
		t.Fatal(err, said)
	}
	f := c.Table("t").Fields()
	if f.Unit != "degF" || f.Values[0] != 68 || f.Resolution != 0.9 || *f.Limits != (tables.Limits{Low: -40, High: 212}) {
		t.Errorf("20 degC becomes %+v %v", f, f.Limits)
	}
}

func TestAxes(t *testing.T) {
	c := doc("", nil, tables.Fields{ID: "t.x", Unit: "V", X: axis("kPa", 0, 100), Y: axis("psi", 1, 2), Values: []float64{1, 2, 3, 4}},
		tables.Fields{ID: "u", Unit: "V", X: axis("kPa", 0, 100), Values: []float64{1, 2}})
	c, _, err := Convert(c, "t.x.x", "bar")
	if err != nil {
		t.Fatal(err)
	}
	if a := c.Table("t.x").X(); a.Unit() != "bar" || a.At(1) != 1 || c.Table("t.x").Values()[3] != 4 {
		t.Errorf("the axis is %v %s", a.Points(), a.Unit())
	}
	if c.Table("u").X().Unit() != "kPa" {
		t.Error("another table's axis moved too")
	}
	// A table whose id ends in .x is itself before it is an axis.
	if c, _, err = Convert(c, "t.x", "mV"); err != nil || c.Table("t.x").Values()[0] != 1000 {
		t.Errorf("table t.x: %v", err)
	}
}

// TestCells: spreads are differences, and axes are shared.
func TestCells(t *testing.T) {
	x := axis("kPa", 0, 100)
	c := doc(tables.Cells, nil,
		tables.Fields{ID: "coolant.mean", Unit: "degC", X: x, Values: []float64{0, math.NaN()}},
		tables.Fields{ID: "coolant.sd", Unit: "degC", X: x, Values: []float64{10, math.NaN()}},
		tables.Fields{ID: "coolant.count", Unit: "", X: x, Values: []float64{5, 0}})
	for _, id := range []string{"coolant.mean", "coolant.sd"} {
		var err error
		if c, _, err = Convert(c, id, "degF"); err != nil {
			t.Fatal(err)
		}
	}
	c, _, err := Convert(c, "coolant.mean.x", "bar")
	if err != nil {
		t.Fatal(err)
	}
	if c.Table("coolant.mean").Values()[0] != 32 || c.Table("coolant.sd").Values()[0] != 18 || !math.IsNaN(c.Table("coolant.sd").Values()[1]) {
		t.Errorf("mean %v, sd %v", c.Table("coolant.mean").Values(), c.Table("coolant.sd").Values())
	}
	for _, tb := range c.Tables() {
		if tb.X().Unit() != "bar" {
			t.Errorf("%s keeps its axis in %s", tb.ID(), tb.X().Unit())
		}
	}
}

// TestFlowThroughDensity: 1 g/s of 0.745 kg/L is 60/0.745 mL/min, and the
// conversion says by which density.
func TestFlowThroughDensity(t *testing.T) {
	e := &tables.Engine{FuelDensity: &tables.Measure{Value: 745, Unit: "kg/m3"}}
	flow := tables.Fields{ID: "flow", Unit: "g/s", Values: []float64{2}}
	c, said, err := Convert(doc("", e, flow), "flow", "cc/min")
	if err != nil {
		t.Fatal(err)
	}
	if v := c.Table("flow").Values()[0]; !near(v, 2*60/0.745) {
		t.Errorf("2 g/s is %v cc/min", v)
	}
	if len(said) != 1 || !strings.Contains(said[0], "745 kg/m3") {
		t.Errorf("said %q", said)
	}
	if _, _, err := Convert(doc("", nil, flow), "flow", "cc/min"); err == nil || !strings.Contains(err.Error(), "needs a fuel density") {
		t.Errorf("without a density: %v", err)
	}
}

func TestRefused(t *testing.T) {
	c := doc("", nil, tables.Fields{ID: "a", Unit: "furlongs", Values: []float64{2}}, tables.Fields{ID: "b", Unit: "ms", Values: []float64{2}})
	for _, x := range []struct{ target, to, want string }{
		{"a", "km", "not known, so nothing can be computed with it"},
		{"b", "furlongs", "not known, so nothing can be computed with it"},
		{"b", "kPa", "does not convert"},
		{"b.x", "kPa", "table b has no axis x"},
		{"c", "kPa", `there is no table "c", only a, b`},
	} {
		if _, _, err := Convert(c, x.target, x.to); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s to %s: %v", x.target, x.to, err)
		}
	}
	if n, _, err := Convert(c, "a", "furlongs"); err != nil || !n.Equal(c) {
		t.Errorf("a unit to itself: %v", err)
	}
}
