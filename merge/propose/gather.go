package propose

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// placer finds the cell of the target that a block belongs to.
type placer struct {
	target *tables.Table
	bound  *lookup.Table // nil where the axis is inverted from the air flow
	x, y   []float64     // breakpoints
}

// newPlacer binds the target's axes. An air meter's own signal is no channel
// that every logger writes: there the cell follows from the air flow that the
// table made of it, as long as its values rise.
func newPlacer(t *tables.Table) (*placer, error) {
	p := &placer{target: t}
	var err error
	if p.bound, err = lookup.Bind(t); err == nil {
		if t.X() != nil {
			p.x = pointsOf(t.X())
		}
		if t.Y() != nil {
			p.y = pointsOf(t.Y())
		}
		return p, nil
	}
	if t.Role() != tables.AirMeter || t.X() == nil || t.Y() != nil || !rising(t.Values()) {
		return nil, err
	}
	c, err2 := lookup.Base(t.Unit())
	if err2 != nil {
		return nil, err
	}
	p.bound = nil
	for _, v := range t.Values() {
		p.x = append(p.x, c.Apply(v))
	}
	return p, nil
}

func rising(v []float64) bool {
	for i := 1; i < len(v); i++ {
		if !(v[i-1] < v[i]) {
			return false
		}
	}
	return true
}

// cell is the index of the nearest cell, halfway the higher one; −1 where the
// point does not say.
func (p *placer) cell(at *lookup.Point) int {
	x, y := at.AirFlow, 0.0
	if p.bound != nil {
		x, y = p.bound.XY(at)
	}
	if math.IsNaN(x) || math.IsNaN(y) {
		return -1
	}
	return nearestOf(p.y, y)*p.target.Columns() + nearestOf(p.x, x)
}

func nearestOf(points []float64, v float64) int {
	i := 0
	for i+1 < len(points) && v >= points[i]+(points[i+1]-points[i])/2 {
		i++
	}
	return i
}

// tally gathers means by cell, with the error that visits show.
type tally struct {
	count []float64
	sum   []float64
	limit []float64             // samples at which a trim stood at its limit
	runs  []map[int]*[2]float64 // by cell and visit: samples, sum
	order [][]int               // visits of a cell in order, so that sums come out the same each time
}

func newTally(cells int) *tally {
	return &tally{make([]float64, cells), make([]float64, cells), make([]float64, cells), make([]map[int]*[2]float64, cells), make([][]int, cells)}
}

func (t *tally) add(cell, run int, n, value float64) {
	t.count[cell] += n
	t.sum[cell] += float64(n * value)
	if t.runs[cell] == nil {
		t.runs[cell] = map[int]*[2]float64{}
	}
	r := t.runs[cell][run]
	if r == nil {
		r = new([2]float64)
		t.runs[cell][run] = r
		t.order[cell] = append(t.order[cell], run)
	}
	r[0] += n
	r[1] += float64(n * value)
}

// evidence is a cell's mean and its standard error from visits: the linearised
// variance of a ratio of sums over clusters (Cochran, Sampling Techniques, 3rd
// edition, 1977, §6.4), as interp/cells has it.
func (t *tally) evidence(cell int) evidence {
	e := evidence{mean: math.NaN(), se: math.NaN(), p95: math.NaN(), max: math.NaN()}
	n := t.count[cell]
	if n == 0 {
		return e
	}
	e.count, e.visits, e.mean, e.atLimit = int(n), len(t.order[cell]), t.sum[cell]/n, t.limit[cell]/n
	if e.visits < 2 {
		return e
	}
	square := 0.0
	for _, run := range t.order[cell] {
		r := t.runs[cell][run]
		d := r[1] - float64(e.mean*r[0])
		square += float64(d * d)
	}
	k := float64(e.visits)
	e.se = math.Sqrt(square*k/(k-1)) / n
	return e
}

// onto gathers a drive's trims onto the target's cells.
func (d *drive) onto(p *placer) *grid {
	t := newTally(len(p.target.Values()))
	// A visit is one unbroken stay in the cell.
	visit, was, run := 0, -1, -1
	for i := range d.blocks {
		b := &d.blocks[i]
		cell := p.cell(&b.at)
		if cell != was || b.run != run {
			visit, was, run = visit+1, cell, b.run
		}
		if !b.out && cell >= 0 {
			t.add(cell, visit, b.n, 100*b.trim)
			t.limit[cell] += b.limited
		}
	}
	g := &grid{channel: "trim", unit: "%"}
	for i := range t.count {
		g.cells = append(g.cells, t.evidence(i))
	}
	return g
}
