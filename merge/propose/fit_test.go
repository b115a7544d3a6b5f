package propose

import (
	"context"
	"math"
	"slices"
	"testing"

	"calsplice/interp/lookup"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// TestFitKeepsLawSeven: however wrong the tables are, one pass of a fit stays
// inside its bound and the limits, never goes against the sign of the error,
// and an offset that falls with voltage goes on falling.
func TestFitKeepsLawSeven(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	truth := testdrive.Four()
	for _, row := range []struct{ flow, offset, bound float64 }{
		{1.18, -0.25, 15}, {0.85, 0.3, 15}, {1.15, -0.2, 3}, {0.9, 0.2, 1},
	} {
		cal := testdrive.Scaled(testdrive.Scaled(truth, "injector.flow", row.flow, 0), "injector.offset", 1, row.offset)
		opt := Defaults()
		opt.Bound, opt.DespiteCause = row.bound, true
		p, err := fuelFrom(context.Background(), cal, logged(t, cal, testdrive.Plant{Truth: truth}, testdrive.DriveOptions{Seed: 4, Minutes: 15}), "fit", opt)
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Report.Edits) == 0 {
			t.Errorf("%+v: nothing is proposed", row)
		}
		for _, e := range p.Report.Edits {
			table := cal.Table(e.Table)
			if table.Clamp(e.To) != e.To {
				t.Errorf("%+v: %v leaves the limits", row, e)
			}
			if e.Table == "injector.flow" {
				most := row.bound / 100 * (1 + 1e-9)
				if math.Abs(e.To/e.From-1) > most || math.Abs(e.From/e.To-1) > most {
					t.Errorf("%+v: %v passes the bound", row, e)
				}
				if fuel := e.From/e.To - 1; fuel < -0.05 && fuel < -row.bound/200 {
					t.Errorf("%+v: %v removes more than half the bound", row, e)
				}
				if (e.To-e.From)*(1-row.flow) < 0 {
					t.Errorf("%+v: %v goes the wrong way", row, e)
				}
				continue
			}
			if (e.To-e.From)*row.offset > 0 {
				t.Errorf("%+v: %v goes the wrong way", row, e)
			}
			// The shortest effective pulses of the drive are some 2 ms long.
			if most := row.bound/100*3 + 1e-9; math.Abs(e.To-e.From) > most {
				t.Errorf("%+v: %v moves the offset by more than %.3f ms", row, e, most)
			}
		}
		falls(t, applied(t, cal, p).Table("injector.offset"))
	}
}

func falls(t *testing.T, offset *tables.Table) {
	t.Helper()
	for r := range offset.Rows() {
		for c := 1; c < offset.Columns(); c++ {
			if offset.At(r, c) > offset.At(r, c-1) {
				t.Errorf("the offset rises with voltage at [%d, %d]", r, c)
			}
		}
	}
}

// TestOffsetOverVoltage: an error that belongs to one end of the voltages is
// found there; voltages that the drive did not see move with the nearest, and
// a battery that hardly moves moves the curve as a whole.
func TestOffsetOverVoltage(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	truth := testdrive.Four()
	cal := truth
	plant := testdrive.Plant{Truth: truth, Fault: testdrive.Fault{OffsetShape: func(volts float64) float64 { return 0.05 * (14.5 - volts) }}}
	opt := testdrive.DriveOptions{Seed: 12, Minutes: 40, Drift: 0.003}
	despite := Defaults()
	despite.DespiteCause = true
	p, err := fuelFrom(context.Background(), cal, logged(t, cal, plant, opt), "fit", despite)
	if err != nil {
		t.Fatal(err)
	}
	was, now := cal.Table("injector.offset"), applied(t, cal, p).Table("injector.offset")
	for c, volts := range was.X().Points() {
		if volts < 12 || volts > 14 {
			continue
		}
		if got, want := now.At(1, c)-was.At(1, c), 0.05*(14.5-volts); math.Abs(got-want) > 0.025 {
			t.Errorf("at %v V the offset moves by %+.3f ms, want about %+.3f", volts, got, want)
		}
	}
	if low, next := now.At(1, 0)-was.At(1, 0), now.At(1, 3)-was.At(1, 3); math.Abs(low-next) > 0.0015 {
		t.Errorf("8 V moves by %+.3f ms on its own, 12 V by %+.3f", low, next)
	}
	falls(t, now)

	opt.SteadyBattery, opt.Minutes = true, 15
	plant.Fault = testdrive.Fault{Offset: 0.1}
	p, err = fuelFrom(context.Background(), cal, logged(t, cal, plant, opt), "fit", despite)
	if err != nil {
		t.Fatal(err)
	}
	now = applied(t, cal, p).Table("injector.offset")
	for i, v := range now.Values() {
		if d := v - was.Values()[i]; math.Abs(d-0.1) > 0.03 || math.Abs(d-(now.Values()[0]-was.Values()[0])) > 0.0015 {
			t.Errorf("offset %s moves by %+.3f ms, want the whole curve by about 0.1", was.Place(i), d)
		}
	}
}

// TestHatsHalfway: a breakpoint halfway between two that were visited belongs
// to the higher one.
func TestHatsHalfway(t *testing.T) {
	var blocks []*block
	for _, v := range []float64{250, 350, 450} {
		blocks = append(blocks, &block{n: 100, at: lookup.Point{Delta: v}})
	}
	h := newLinearBasis([]float64{200, 250, 300, 350, 380, 450, 500}, 350, func(at *lookup.Point) float64 { return at.Delta }, blocks)
	if want := []int{0, 0, 1, 1, 1, 2, 2}; !slices.Equal(h.columns, want) {
		t.Errorf("columns %v, want %v", h.columns, want)
	}
}
