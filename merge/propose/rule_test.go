package propose

import (
	"math"
	"testing"

	"calsplice/tables"
)

// TestInterval: a mean counts that lies past t(0.975, visits − 1) · se, by Student's table
// as textbooks print it.
func TestInterval(t *testing.T) {
	for visits, want := range map[int]float64{2: 12.706, 3: 4.303, 4: 3.182, 10: 2.262, 31: 2.042, 121: 1.980} {
		for off, verdict := range map[float64]string{-0.0012: Uncertain, 0.0012: Proposed} {
			if _, got := (&Options{MinVisits: 1}).judge(&Evidence{Count: 1, Visits: visits, Mean: tables.Number(2*want + off), SE: 2}); got != verdict {
				t.Errorf("%d visits, a mean of %.4f: %s, want %s", visits, 2*want+off, got, verdict)
			}
		}
	}
	for _, e := range []Evidence{{Count: 1, Visits: 1, Mean: 1e9, SE: 2}, {Count: 1, Visits: 9, Mean: 1e9, SE: unknown}} {
		if _, got := (&Options{MinVisits: 1}).judge(&e); got != Uncertain {
			t.Errorf("%+v: %s, and has no interval", e, got)
		}
	}
}

// TestBounded: a pass corrects the share times the gain, and no more than the
// bound; where more than 5 % of fuel would go, half of it.
func TestBounded(t *testing.T) {
	for _, c := range []struct{ gain, bound, share, want, most float64 }{
		{1, 15, 0.04, 0.04, 0.15},
		{1, 15, 0, 0, 0.15},
		{0.5, 15, 0.04, 0.02, 0.15},
		{1, 15, 0.4, 0.15, 0.15},
		{0.5, 15, 0.2, 0.1, 0.15},
		{1, 15, -0.04, -0.04, 0.075},
		{1, 15, -0.06, -0.06, 0.075},
		{1, 15, -0.3, -0.075, 0.075},
		{1, 2, -0.05, -0.02, 0.02},
		{1, 2, -0.051, -0.01, 0.01},
	} {
		o := Options{Gain: c.gain, Bound: c.bound}
		if want, most := o.bounded(c.share); math.Abs(want-c.want) > 1e-15 || math.Abs(most-c.most) > 1e-15 {
			t.Errorf("gain %v, bound %v: %v is brought to %v within %v, want %v within %v", c.gain, c.bound, c.share, want, most, c.want, c.most)
		}
	}
}

// TestApplyHoldsTheBound: what a pass may change is decided by the evidence and
// holds for the rounded value, of the table and of the fuel.
func TestApplyHoldsTheBound(t *testing.T) {
	for _, c := range []struct {
		from, share, bound float64
		sense              correctionRule
		want               float64
		why                string
	}{
		{2.8, -0.12, 4, divide, 2.856, "half the bound is 2 %: 2.857 would be over it"},
		{2.97, -0.12, 4, divide, 3.029, "rounded towards the old value"},
		{2.8, -0.12, 15, divide, 3.01, "7.5 % of the table's value, 7.0 % of fuel"},
		{70, -0.12, 15, multiply, 64.75, "7.5 % of both"},
		{80, 0.3, 15, multiply, 92, "adding fuel has the whole bound"},
		{2.214, 0.05, 15, divide, 2.109, "inside the bound"},
	} {
		table, err := tables.NewTable(tables.Fields{ID: "t", Unit: "1", Resolution: 0.001, Values: []float64{2}})
		if err != nil {
			t.Fatal(err)
		}
		o := Options{Gain: 1, Bound: c.bound}
		want, most := o.bounded(c.share)
		if got, verdict, _ := apply(table, c.from, want, most, c.sense); got != c.want || verdict != Proposed {
			t.Errorf("%v by %v: %v (%s), want %v: %s", c.from, c.share, got, verdict, c.want, c.why)
		}
	}
}
