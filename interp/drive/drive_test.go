package drive

import (
	"math"
	"slices"
	"testing"

	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// TestColumns: a log is asked for the channels that it has; an instant has those, and of
// the others nothing is known.
func TestColumns(t *testing.T) {
	c := Ask(func(name string) bool { return name != "load" }, Retard, Load, Speed)
	if !slices.Equal(c.Names, []string{"knock_retard", "engine_speed"}) || !slices.Equal(c.Asked, []Channel{Retard, Speed}) || !c.Has(Retard) || !c.Has(Speed) || c.Has(Load) || c.Has(Gear) {
		t.Fatalf("%+v", c)
	}
	// The second frame is shorter, and in the room of the first.
	f := &drivelog.Frame{Columns: make([]drivelog.Column, 2)}
	for _, n := range []int{2*ahead + 7, 3} {
		f.N = n
		for k := range f.Columns {
			f.Columns[k] = drivelog.Column{Value: make([]float64, n), Fresh: make([]bool, n)}
		}
		for i := range n {
			f.Columns[0].Value[i], f.Columns[1].Value[i] = float64(n+i), float64(900+n+50*i)
			f.Columns[i%2].Fresh[i] = true
		}
		c.Take(f)
		if unknown := c.Values(Load); len(unknown) != n || slices.ContainsFunc(unknown, func(v float64) bool { return v == v }) || &c.Values(Speed)[0] != &f.Columns[1].Value[0] {
			t.Errorf("of a channel that the log does not have, %v", unknown)
		}
		for i := range n {
			v := c.At(i)
			if v[Retard] != float64(n+i) || v[Speed] != float64(900+n+50*i) || v[Load] == v[Load] || v[Gear] == v[Gear] {
				t.Errorf("instant %d: %v", i, v)
			}
			if c.Fresh(Retard, i) != (i%2 == 0) || c.Fresh(Speed, i) != (i%2 == 1) || c.Fresh(Load, i) {
				t.Errorf("instant %d: read anew %v, %v, %v", i, c.Fresh(Retard, i), c.Fresh(Speed, i), c.Fresh(Load, i))
			}
		}
	}
}

// TestNames: each channel has a name of its own, which logs know.
func TestNames(t *testing.T) {
	logged, derived := drivelog.Channels()
	all := append(slices.Clone(logged), derived...)
	seen := map[string]bool{}
	for k := range Count {
		if name := k.Name(); seen[name] || !slices.Contains(all, name) {
			t.Errorf("channel %d is %q", k, name)
		}
		seen[k.Name()] = true
	}
}

// TestPointWithoutBarometer: an operating point without a barometer stands at sea level,
// unit.Atmosphere kPa.
func TestPointWithoutBarometer(t *testing.T) {
	for _, c := range [][2]float64{{math.NaN(), unit.Atmosphere}, {84, 84}} {
		v := Instant{Speed: 1, Manifold: 2, Barometer: c[0], Delta: 3, Battery: 4, Charge: 5, AirFlow: 6, Load: 7, Pulse: 8}
		at := v.Point()
		if at.Barometer != c[1] || at.Speed != 1 || at.Manifold != 2 || at.Delta != 3 || at.Battery != 4 || at.Charge != 5 || at.AirFlow != 6 || at.Load != 7 || at.Pulse == at.Pulse {
			t.Errorf("%v: %+v", c[0], at)
		}
	}
}

// TestMean: what is not known is in no mean, and the mean of nothing is not known.
func TestMean(t *testing.T) {
	var m Mean
	if v := m.Value(); v == v {
		t.Errorf("of nothing: %v", v)
	}
	m.Add(2, 3)
	m.Add(math.NaN(), 100)
	m.Add(6, 1)
	if m.Value() != 3 {
		t.Errorf("%v, want (2·3 + 6)/4", m.Value())
	}
	if m.AddAll([]float64{5, math.NaN(), 9, 1}, []int{0, 1, 3}); m.Value() != 3 || m.Weight != 6 {
		t.Errorf("%v of %v, want (12 + 5 + 1)/6", m.Value(), m.Weight)
	}
	m = Mean{Sum: 12, Weight: 4}
	if m.Join(Mean{Sum: 12, Weight: 2}); m.Value() != 4 || m.Weight != 6 {
		t.Errorf("%v of %v, want (12 + 12)/6", m.Value(), m.Weight)
	}
}

// TestNothing: of nothing nothing is known.
func TestNothing(t *testing.T) {
	for k, v := range Nothing() {
		if v == v {
			t.Errorf("channel %d is %v", k, v)
		}
	}
}

// TestJoin: items of one key become one, in the place of the first; the others keep
// their order, and each knows where it went.
func TestJoin(t *testing.T) {
	list := []string{"a1", "b1", "a2", "c1", "b2", "a3"}
	left, to := Join(list, func(s *string) byte { return (*s)[0] }, func(into, one *string) { *into += (*one)[1:] })
	if !slices.Equal(left, []string{"a123", "b12", "c1"}) || !slices.Equal(to, []int{0, 1, 0, 2, 1, 0}) {
		t.Errorf("%q, %v", left, to)
	}
}

func TestSums(t *testing.T) {
	to := []float64{1, 2}
	if AddScaled(to, 3, []float64{10, 20}); to[0] != 31 || to[1] != 62 {
		t.Errorf("a column added three times gives %v", to)
	}
	if got := Sum([]float64{1, 2, 4}); got != 7 {
		t.Errorf("the sum is %v, want 7", got)
	}
	if mean, deviation := Spread([]float64{1, 3, 5}); mean != 3 || deviation != 2 {
		t.Errorf("mean and deviation are %v and %v, want 3 and 2", mean, deviation)
	}
	if got := Log(math.E); got != 1 {
		t.Errorf("the logarithm of e is %v, want 1", got)
	}
}
