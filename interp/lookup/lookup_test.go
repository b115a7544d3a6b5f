package lookup

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
)

func axisOf(t *testing.T, quantity, unit string, points ...float64) *tables.Axis {
	t.Helper()
	a, err := tables.NewAxis(quantity, unit, points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAtFollowsQuantityAndUnitNotOrder(t *testing.T) {
	volts := axisOf(t, tables.BatteryVoltage, "V", 10, 14)
	delta := axisOf(t, tables.DifferentialPressure, "bar", 2.5, 4.5)
	p := &Point{Battery: 12, Delta: 350}
	for _, f := range []tables.Fields{
		{ID: "voltage-across", Unit: "ms", X: volts, Y: delta, Values: []float64{2, 1, 3, 2}},
		{ID: "pressure-across", Unit: "ms", X: delta, Y: volts, Values: []float64{2, 3, 1, 2}},
	} {
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Bind(table)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.At(p); got != 2 {
			t.Errorf("%s at the middle is %v, want 2", f.ID, got)
		}
		if got := b.At(&Point{Battery: 20, Delta: 1000}); got != 2 {
			t.Errorf("%s past its ends is %v, want the edge 2", f.ID, got)
		}
		if got := b.At(&Point{Battery: math.NaN(), Delta: 350}); !math.IsNaN(got) {
			t.Errorf("%s without a voltage is %v, want NaN", f.ID, got)
		}
	}
}

// TestFoundOnce: what is read where a point was found is what is read at the point, on
// whatever axes.
func TestFoundOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		axis := func(quantity, unit, name string) *tables.Axis {
			points := []float64{float64(rapid.IntRange(-3, 3).Draw(rt, name))}
			for range rapid.IntRange(0, 5).Draw(rt, name+" more") {
				points = append(points, points[len(points)-1]+rapid.Float64Range(0.1, 3).Draw(rt, name+" step"))
			}
			return axisOf(t, quantity, unit, points...)
		}
		x, y := axis(tables.EngineSpeed, "r/min", "x"), axis(tables.Load, "%", "y")
		values := rapid.SliceOfN(rapid.Float64Range(-50, 50), x.Len()*y.Len(), x.Len()*y.Len()).Draw(rt, "values")
		b := boundOn(t, x, y, values)
		place := func(a *tables.Axis, name string) float64 {
			if rapid.Bool().Draw(rt, name+" at a breakpoint") {
				return rapid.SampledFrom(a.Points()).Draw(rt, name) * rapid.SampledFrom([]float64{1, 0.981, 1.019}).Draw(rt, name+" beside")
			}
			return rapid.Float64Range(-5, 20).Draw(rt, name)
		}
		p := &Point{Speed: place(x, "speed"), Load: place(y, "load")}
		at, ok := b.Find(p)
		if !ok || b.ReadAt(at) != b.At(p) {
			rt.Fatalf("%+v: %v where it was found, %v at the point", p, b.ReadAt(at), b.At(p))
		}
		if slack, most := b.Slack(p), b.MostSlack()[at.J*x.Len()+at.I]; slack > most+1e-9 {
			rt.Fatalf("%+v: a slack of %v, at most %v in its cell", p, slack, most)
		}
		p.Load = math.NaN()
		if _, ok := b.Find(p); ok || !math.IsNaN(b.Slack(p)) {
			rt.Fatal("a place without a load")
		}
	})
}

// boundOn is a table over two axes, bound.
func boundOn(t *testing.T, x, y *tables.Axis, values []float64) *Table {
	t.Helper()
	table, err := tables.NewTable(tables.Fields{ID: "t", Unit: "deg", X: x, Y: y, Values: values})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Bind(table)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestMostSlack: what the bounds are by hand. At 200 r/min 2 % are 4, which a slope of 0.1
// makes 0.4; from 200 to 400 they are 8, and reach into the slope of 0.2 above that; it alone
// counts up to 1600, where only the other axis has a slope. The next row along that is twice as
// steep.
func TestMostSlack(t *testing.T) {
	steep, flat := axisOf(t, tables.EngineSpeed, "r/min", 100, 200, 400, 800, 1600), axisOf(t, tables.Load, "%", 0, 1, 2)
	for _, along := range []bool{true, false} {
		var values, want []float64
		at := func(i, j int) {
			values = append(values, []float64{1, 2, 4}[j]*[]float64{0, 10, 10, 90, 90}[i])
			want = append(want, []float64{2, 4, 4}[j]*[]float64{0.4, 1.6, 3.2, 6.4, 1.8}[i])
		}
		x, y := steep, flat
		if !along {
			x, y = flat, steep
		}
		for j := range y.Len() {
			for i := range x.Len() {
				if along {
					at(i, j)
				} else {
					at(j, i)
				}
			}
		}
		b := boundOn(t, x, y, values)
		for i, most := range b.MostSlack() {
			if math.Abs(most-want[i]) > 1e-6 {
				t.Errorf("steep along x %v, cell %d: at most %v, want %v", along, i, most, want[i])
			}
		}
	}
}

func TestBindRefuses(t *testing.T) {
	for _, row := range []struct {
		quantity, unit, want string
	}{
		{"gear", "1", `axis "gear" is not a quantity`},
		{tables.EngineSpeed, "kPa", "does not measure it"},
		{tables.EngineSpeed, "furlongs", "is not known"},
	} {
		table, err := tables.NewTable(tables.Fields{ID: "t", Unit: "ms", X: axisOf(t, row.quantity, row.unit, 1), Values: []float64{1}})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Bind(table); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("axis %q in %q: %v, want %q", row.quantity, row.unit, err, row.want)
		}
	}
}

// TestDelta checks the three references by the worked examples of
// testdata/reference/injector-facts.md, section 1.
func TestDelta(t *testing.T) {
	for _, row := range []struct {
		to       tables.Reference
		manifold float64
		want     float64
	}{
		{tables.Atmosphere, 30, 471.325}, {tables.Atmosphere, 101.325, 400}, {tables.Atmosphere, 200, 301.325},
		{tables.Manifold, 30, 400}, {tables.Absolute, 30, 370},
	} {
		r, err := NewRail(&tables.RailPressure{Value: 4, Unit: "bar", RelativeTo: row.to})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.Delta(row.manifold, 101.325); math.Abs(got-row.want) > 1e-9 {
			t.Errorf("4 bar relative to %s at %v kPa: %v, want %v", row.to, row.manifold, got, row.want)
		}
	}
}

func TestFlowUnitNamesTheDensity(t *testing.T) {
	e := &tables.Engine{FuelDensity: &tables.Measure{Value: 745, Unit: "kg/m3"}}
	c, used, err := FlowUnit("cc/min", e)
	if err != nil || math.Abs(used-0.745) > 1e-12 {
		t.Fatalf("density %v, %v", used, err)
	}
	if got := c.Apply(60); math.Abs(got-0.745) > 1e-12 {
		t.Errorf("60 mL/min is %v g/s, want 0.745", got)
	}
	if _, _, err := FlowUnit("cc/min", nil); err == nil || !strings.Contains(err.Error(), "fuel density") {
		t.Errorf("volume flow without a density: %v", err)
	}
}
