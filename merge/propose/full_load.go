package propose

import (
	"fmt"
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// fullLoad is the change of delivered fuel at the highest manifold pressure of
// the drive, against what is delivered today with whatever was learned there.
func fullLoad(target *tables.Table, list []Cell, s sense, d *drive) *FullLoad {
	if math.IsNaN(d.most.Manifold) {
		return nil
	}
	f := loadAt(target, list, s, d.most)
	if f == nil {
		return nil
	}
	f.Place = fmt.Sprintf("%.0f kPa manifold pressure and %.0f r/min", d.most.Manifold, d.most.Speed)
	f.against(d.long, "today's learned trim there")
	return f
}

// nominalFullLoad stands in for it where only cells are given: the manifold at
// standard atmosphere, and the mean of the trims as what was learned.
func nominalFullLoad(cal *tables.Calibration, target *tables.Table, list []Cell, s sense) *FullLoad {
	nan := math.NaN()
	at := lookup.Point{Speed: nan, Manifold: 101.325, Barometer: 101.325, Delta: nan, Battery: nan, Charge: nan, AirFlow: nan, Load: nan}
	if e := cal.Engine(); e != nil && e.RailPressure != nil {
		if rail, err := lookup.NewRail(e.RailPressure); err == nil {
			at.Delta = rail.Delta(at.Manifold, at.Barometer)
		}
	}
	f := loadAt(target, list, s, at)
	if f == nil {
		return nil
	}
	f.Place = "manifold at 101.3 kPa"
	sum, n := 0.0, 0.0
	for i := range list {
		if c := &list[i]; c.Count > 0 && c.Mean != nil {
			sum, n = sum+float64(*c.Mean*float64(c.Count)), n+float64(c.Count)
		}
	}
	f.against(sum/n, "the drive's mean trim, if that is learned and applied there,")
	return f
}

func (f *FullLoad) against(learned float64, what string) {
	if math.IsNaN(learned) {
		return
	}
	f.Learned, f.Against = number(learned), what
	f.Change = number(100 * ((1+f.Table/100)/(1+learned/100) - 1))
}

// loadAt is the change of delivered fuel by the edits at one operating point;
// nil where the point does not lie on the target's axes.
func loadAt(target *tables.Table, list []Cell, s sense, at lookup.Point) *FullLoad {
	var own []Cell
	for _, c := range list {
		if c.Table == target.ID() {
			own = append(own, c)
		}
	}
	after, err := withCells(target, own)
	if err != nil {
		return nil
	}
	before, err := lookup.Bind(target)
	if err != nil {
		return nil
	}
	now, err := lookup.Bind(after)
	if err != nil {
		return nil
	}
	change := s.fuel(before.At(&at), now.At(&at))
	if math.IsNaN(change) {
		return nil
	}
	return &FullLoad{Table: 100 * change}
}
