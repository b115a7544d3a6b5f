package propose

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// leastFull is the manifold pressure, against the barometer, from which a
// naturally aspirated engine is at full load: the rest is lost in its intake.
const leastFull = 0.9

// fullLoad is the change of delivered fuel at the highest manifold pressure of
// the drive, against what is delivered today with whatever was learned there;
// nil where the drive never came near full load.
func (d *settled) fullLoad(target *tables.Table, list []Cell, s correctionRule) *FullLoad {
	if !(d.most.Manifold >= leastFull*d.most.Barometer) {
		return nil
	}
	f := &FullLoad{Place: fmt.Sprintf("%.0f kPa manifold pressure and %.0f r/min", d.most.Manifold, d.most.Speed), At: d.most,
		Learned: tables.Number(d.long), Against: "today's learned trim there"}
	return f.compute(target, list, s, d.inj)
}

// nominalFullLoad stands in for it where only cells are given: the manifold at
// standard atmosphere, and the mean of the trims as what was learned.
func nominalFullLoad(cal *tables.Calibration, target *tables.Table, list []Cell, s correctionRule) *FullLoad {
	var learned drive.Mean
	for i := range list {
		learned.Add(float64(list[i].Mean), float64(list[i].Count))
	}
	at, place := NominalFullLoad(cal.Engine())
	f := &FullLoad{Place: place, At: at, Learned: tables.Number(learned.Value()), Against: "the drive's mean trim, if that is learned and applied there,"}
	return f.compute(target, list, s, nil)
}

// NominalFullLoad is the point that stands for full load where no drive says
// more: the manifold at standard atmosphere. Of the rest only the pressure over
// the injectors is known, where the engine gives its rail's.
func NominalFullLoad(e *tables.Engine) (at lookup.Point, place string) {
	nothing := drive.Nothing()
	at = nothing.Point()
	at.Manifold = unit.Atmosphere
	if e != nil && e.RailPressure != nil {
		if rail, err := lookup.NewRail(e.RailPressure); err == nil {
			at.Delta = rail.Delta(at.Manifold, at.Barometer)
		}
	}
	return at, "manifold at 101.3 kPa"
}

// compute fills in the change of delivered fuel by the edits at the operating point, those of the
// target and those of the injector's offset, and sets it against what is delivered today:
// with the learned trim applied, as many controllers do at full load too. Once that is
// cleared, only the table remains. It is nil where the point does not lie on the tables'
// axes. The injector is nil where no edit is of its offset.
func (f *FullLoad) compute(target *tables.Table, list []Cell, s correctionRule, j *engine.Injector) *FullLoad {
	before, err := lookup.Bind(target)
	if err != nil {
		return nil
	}
	now, err := edited(target, list)
	if err != nil {
		return nil
	}
	// Table for table at one point: whatever else a controller does there, it does to both.
	change := s.fuel(before.At(&f.At), now.At(&f.At))
	if j != nil && j.OffsetTable != nil && j.OffsetTable.Table().ID() != target.ID() {
		now, err := edited(j.OffsetTable.Table(), list)
		if err != nil {
			return nil
		}
		change += longer(j, now, &f.At, f.At.Pulse)
	}
	if math.IsNaN(change) {
		return nil // a guess at full load would be worse than none
	}
	f.Table = 100 * change
	if f.Change = tables.Number(100 * ((1+f.Table/100)/(1+float64(f.Learned)/100) - 1)); !f.Learned.Known() {
		f.Against = ""
	}
	return f
}

// edited is a table with those cells of a list that are its own.
func edited(t *tables.Table, list []Cell) (*lookup.Table, error) {
	values := slices.Clone(t.Values())
	for _, c := range list {
		if c.Table == t.ID() {
			values[c.At[0]*t.Columns()+c.At[1]] = c.To
		}
	}
	after, err := t.WithValues(values)
	if err != nil {
		return nil, err
	}
	return lookup.Bind(after)
}

// longer is the share of fuel that another offset table adds: what it adds to
// the pulse, over the effective pulse in ms. NaN where that is not known.
func longer(j *engine.Injector, offset *lookup.Table, at *lookup.Point, effective float64) float64 {
	if offset.Table().Equal(j.OffsetTable.Table()) {
		return 0
	}
	return (j.OffsetUnit.Apply(offset.At(at)) - j.Offset(at)) / effective
}
