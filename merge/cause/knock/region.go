package knock

import "math"

// regional is a need in one rectangle of the table's cells.
type regional struct {
	model
	rect  [4]int // first and last row, first and last column
	share float64
	// height is by how many degrees the table itself steps up over its border.
	height float64
}

func (r *regional) found() bool { return r != nil && len(r.value) > 0 }

// best finds the rectangle whose raised advance explains the need best. One that
// holds most of where the engine was loaded is no region.
func (d *Drive) best(obs []observation, sound terms) *regional {
	rows, columns := d.Table.Rows(), d.Table.Columns()
	inf := math.Inf(1)
	base := newModel(obs, sound)
	base.rounds = 40 // for each of thousands of rectangles
	knocks := make([]bool, rows*columns)
	total := 0.0
	sums := map[int][]float64{} // by bin: weights summed from the first cell on
	for i := range obs {
		w := d.bins[obs[i].bin].Weight
		total += obs[i].weight
		if obs[i].heard {
			for c := range w {
				knocks[c] = knocks[c] || w[c] > 0.3
			}
		}
		if sums[obs[i].bin] == nil {
			sums[obs[i].bin] = cumulate(w, columns)
		}
	}
	found := &regional{model: model{loss: inf}}
	for r0 := range rows {
		for r1 := r0; r1 < rows; r1++ {
			for c0 := range columns {
				for c1 := c0; c1 < columns; c1++ {
					if !touches(knocks, columns, r0, r1, c0, c1) {
						continue
					}
					inside, share := make([]float64, len(obs)), 0.0
					for i := range obs {
						p := sums[obs[i].bin]
						n := columns + 1
						inside[i] = p[(r1+1)*n+c1+1] - p[r0*n+c1+1] - p[(r1+1)*n+c0] + p[r0*n+c0]
						share += obs[i].weight * inside[i]
					}
					if share > 0.7*total {
						continue
					}
					m := &regional{model: base.with(inside, 0, 12, 4, 0), rect: [4]int{r0, r1, c0, c1}, share: share / total}
					m.fit(obs)
					m.height = d.bump(m.rect)
					m.loss *= 1 - float64(bumpWorth*min(4, max(-bumpFrom, m.height-bumpFrom)))
					if m.loss < found.loss {
						found = m
					}
				}
			}
		}
	}
	return found
}

func cumulate(w []float64, columns int) []float64 {
	n := columns + 1
	p := make([]float64, (len(w)/columns+1)*n)
	for i, v := range w {
		r, c := i/columns, i%columns
		p[(r+1)*n+c+1] = v + p[r*n+c+1] + p[(r+1)*n+c] - p[r*n+c]
	}
	return p
}

func touches(knocks []bool, columns, r0, r1, c0, c1 int) bool {
	for r := r0; r <= r1; r++ {
		for c := c0; c <= c1; c++ {
			if knocks[r*columns+c] {
				return true
			}
		}
	}
	return false
}

// A region that a hand raised shows in the table too, as a step at its border:
// each degree of it past what a table's own bends make is worth a tenth of the
// fit, and a smooth table speaks against a region (chosen on simulated engines).
const (
	bumpFrom  = 2.0
	bumpWorth = 0.1
	handMade  = 3.0 // from which a step is rather a hand's than the table's own
)

// bump is by how many degrees the table steps up, over a rectangle's border,
// more than it does beside the border.
func (d *Drive) bump(rect [4]int) float64 {
	rows, columns := d.Table.Rows(), d.Table.Columns()
	inside := func(r, c int) bool { return r >= rect[0] && r <= rect[1] && c >= rect[2] && c <= rect[3] }
	var sum, n float64
	for r := range rows {
		for c := range columns {
			for _, step := range [2][2]int{{0, 1}, {1, 0}} {
				r2, c2 := r+step[0], c+step[1]
				if r2 >= rows || c2 >= columns || inside(r, c) == inside(r2, c2) {
					continue
				}
				if jump, ok := d.jump(r, c, step); ok {
					if inside(r, c) {
						jump = -jump
					}
					sum, n = sum+jump, n+1
				}
			}
		}
	}
	return sum / max(n, 1)
}

// jump is the table's step from a cell to the next, less the mean of the steps
// before and behind it; false where there is neither.
func (d *Drive) jump(r, c int, step [2]int) (float64, bool) {
	at := func(k int) (float64, bool) {
		r, c := r+k*step[0], c+k*step[1]
		if r < 0 || c < 0 || r >= d.Table.Rows() || c >= d.Table.Columns() {
			return 0, false
		}
		return d.Table.At(r, c), true
	}
	from, _ := at(0)
	to, _ := at(1)
	beside, n := 0.0, 0.0
	if before, ok := at(-1); ok {
		beside, n = beside+from-before, n+1
	}
	if behind, ok := at(2); ok {
		beside, n = beside+behind-to, n+1
	}
	return to - from - beside/max(n, 1), n > 0
}
