package lookup

import (
	"cmp"
	"math"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// Blend is the spark that a controller makes of its two tables: the more knock
// it has learned, the nearer to the fallback.
type Blend struct {
	fallback *Table
	share    float64 // of the fallback in one unit of the channel
	sameAxes bool    // as the advance table
}

// NewBlend binds both tables, or is nil where there are not two.
func NewBlend(cal *tables.Calibration) *Blend {
	advance, fallback := Only(cal, tables.SparkAdvance), Only(cal, tables.SparkFallback)
	if advance == nil || fallback == nil {
		return nil
	}
	b := &Blend{fallback, 1, advance.sameAxes(fallback)}
	if c, err := unit.Find(drivelog.ChannelUnit("spark_blend"), "1"); err == nil {
		b.share = c.Apply(1)
	}
	return b
}

// Quantities lists what the fallback table is read by; nothing where there is none.
func (b *Blend) Quantities() []string {
	if b == nil {
		return nil
	}
	return b.fallback.Quantities()
}

// At is the blended spark at a point, which lies there on the axes of the advance
// table, where that has so much advance, for a reading of the blend's channel.
func (b *Blend) At(p *Point, at interp.Position, advance, reading float64) float64 {
	var fallback float64
	if b.sameAxes {
		fallback = b.fallback.ReadAt(at)
	} else {
		fallback = b.fallback.At(p)
	}
	w := min(max(reading*b.share, 0), 1)
	return advance + float64(w*(min(fallback, advance)-advance))
}

// Slack is how far the table's value moves within 2 % of each coordinate: what
// a log's rounding and timing may cost.
func (b *Table) Slack(at *Point) float64 {
	x, y := b.XY(at)
	if x != x || y != y {
		return math.NaN()
	}
	here, most := b.surface.Find(x, y), 0.0
	v := b.surface.Read(here)
	for _, f := range [...]float64{0.98, 1.02} {
		off := b.surface.Find(x*f, y*f)
		along, up := interp.Position{I: off.I, U: off.U, J: here.J, W: here.W}, interp.Position{I: here.I, U: here.U, J: off.J, W: off.W}
		most = max(most, math.Abs(b.surface.Read(along)-v), math.Abs(b.surface.Read(up)-v))
	}
	return most
}

// MostSlack is by cell, as the values lie, at least what [Table.Slack] is anywhere between the
// cell and the next along both axes, and past the axes beside it: within 2 % of each coordinate
// the value moves no more than the steepest interval there lets it.
func (b *Table) MostSlack() []float64 {
	columns, rows := b.t.Columns(), b.t.Rows()
	most := make([]float64, 0, columns*rows)
	up := make([][]float64, columns)
	for j := range rows {
		for i, v := range b.t.Row(j) {
			up[i] = append(up[i], v)
		}
	}
	for j := range rows {
		for i := range columns {
			most = append(most, max(
				steepest(b.x.points, b.t.Row(j), i), steepest(b.x.points, b.t.Row(min(j+1, rows-1)), i),
				steepest(b.y.points, up[i], j), steepest(b.y.points, up[min(i+1, columns-1)], j)))
		}
	}
	return most
}

// steepest is at least how far a line through some values moves within 2 % of a place between
// a breakpoint and the next. One past the ends comes within them by 2 % of the end at most.
func steepest(points, values []float64, from int) (most float64) {
	low, high := points[from], points[min(from+1, len(points)-1)]
	by := 0.02 * (1 + 1e-9) * max(math.Abs(low), math.Abs(high))
	for k, v := range values[1:] {
		if points[k+1] >= low-by && points[k] <= high+by {
			most = max(most, by*math.Abs(v-values[k])/(points[k+1]-points[k]))
		}
	}
	return most
}

// Fill fills in air charge and air flow from each other, by the engine's facts.
func (p *Point) Fill(e *tables.Engine) {
	if e == nil || e.Cylinders == 0 || !(p.Speed > 0) {
		return
	}
	if p.Charge == p.Charge && p.AirFlow == p.AirFlow {
		return
	}
	each := 30000 * float64(cmp.Or(e.Strokes, 4)) / (p.Speed * float64(e.Cylinders)) // mg for each g/s
	switch {
	case math.IsNaN(p.Charge):
		p.Charge = p.AirFlow * each
	case math.IsNaN(p.AirFlow):
		p.AirFlow = p.Charge / each
	}
}
