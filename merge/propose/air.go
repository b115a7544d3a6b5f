package propose

import (
	"fmt"
	"math"

	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// shifts tells for each visited cell of an air table how far its edit moves the
// load that the controller computes, and the spark that it then reads: a table
// of air is read by more than the fuel.
func shifts(cal *tables.Calibration, target *tables.Table, list []Cell, at func(cell int) (lookup.Point, bool)) []string {
	// Without one spark table that can be read at a point there is no shift of spark that
	// could be told; that of load is.
	spark := lookup.Only(cal, tables.SparkAdvance)
	known := 0
	for i := range list {
		c := &list[i]
		if c.Count == 0 || !(c.From > 0) {
			continue
		}
		// What a controller computes of the air goes with the table's value, and so does
		// every reading that it makes by load; what the engine breathes does not.
		ratio := c.To / c.From
		c.Load = tables.Number(100 * (ratio - 1))
		known++
		p, ok := at(i)
		if spark == nil || !ok {
			continue
		}
		moved := p
		moved.Charge, moved.AirFlow, moved.Load = p.Charge*ratio, p.AirFlow*ratio, p.Load*ratio
		c.Spark = tables.Number(spark.At(&moved) - spark.At(&p))
	}
	if known == 0 {
		return nil // nothing was visited, so nothing was moved
	}
	s := fmt.Sprintf("%s is read by more than the fuel: load moves with it", target.ID())
	if spark != nil {
		s += ", and with load the spark"
	}
	return []string{s + "; each visited cell tells by how much"}
}

// means is the mean operating point of each cell in a drive: where in the cell the
// engine was, which may be far from its breakpoint. False where it never was there.
func (d *settled) means(place *lookup.Table) func(cell int) (lookup.Point, bool) {
	of := map[int]*block{}
	for i := range d.blocks {
		b := d.blocks[i]
		switch cell := place.Cell(&b.at); {
		case b.out || cell < 0:
		case of[cell] == nil:
			of[cell] = &b
		default:
			of[cell].join(&b)
		}
	}
	return func(cell int) (lookup.Point, bool) {
		if of[cell] == nil {
			return lookup.Point{}, false
		}
		return of[cell].at, true
	}
}

// breakpoints is the operating point of each cell by its own place on the axes:
// what is known where only cell averages are given. Charge follows from a
// volumetric efficiency at 25 degC.
func breakpoints(cal *tables.Calibration, target *tables.Table) func(cell int) (lookup.Point, bool) {
	facts, _ := engine.NewFacts(cal.Engine()) // a displacement that cannot be read is not known
	return func(cell int) (lookup.Point, bool) {
		nothing := drive.Nothing()
		p := nothing.Point()
		known := map[string]*float64{drive.Speed.Name(): &p.Speed, drive.Manifold.Name(): &p.Manifold, drive.Charge.Name(): &p.Charge,
			drive.AirFlow.Name(): &p.AirFlow, drive.Load.Name(): &p.Load}
		for _, a := range axesOf(target, cell) {
			if v := known[along(a.Axis)]; v != nil {
				*v = lookup.PointsOf(a.Axis)[a.at]
			}
		}
		if target.Role() == tables.AirVolumetricEfficiency && math.IsNaN(p.Charge) {
			// The ideal gas law for the air of a full cylinder: R of air is 0.28705 kJ/(kg K).
			if share, err := unit.Convert(target.Values()[cell], target.Unit(), "1"); err == nil && facts.Volume > 0 && facts.Cylinders > 0 {
				p.Charge = 1000 * share * p.Manifold * (facts.Volume / facts.Cylinders) / (0.28705 * 298.15)
			}
		}
		p.Fill(cal.Engine())
		return p, true
	}
}
