package knock

import (
	"cmp"
	"iter"
	"math"
	"slices"
)

// rect is a rectangle of a table's cells: first and last row, first and last column.
type rect [4]int

// regional is a need in one rectangle of the table's cells.
type regional struct {
	model
	rect  rect
	share float64
	// height is by how many degrees the table itself steps up over its border.
	height float64
}

func (r *regional) found() bool { return r != nil && len(r.value) > 0 }

// best finds the rectangle whose raised advance explains the need best. One that
// holds most of where the engine was loaded is no region.
//
// There are thousands of rectangles, and a fit of each takes a second on a long drive.
// But only their cells in which the engine was loaded tell them apart in a fit: each
// box around such cells is fitted once, for the one among the rectangles with no
// others that the table shows best. And what a box cannot explain whatever its
// parameters is known before the fit: once that alone is worse than the best so far,
// no box is left that could win.
func (d *Drive) best(obs []observation, sound terms) *regional {
	s := d.newSearch(obs, sound)
	known := map[rect]*candidate{}
	var boxes []*candidate
	for r := range d.rectangles() {
		box := s.around(r)
		c := known[box]
		if c == nil {
			c = &candidate{box: box, least: math.Inf(1), height: math.Inf(-1)}
			if m := s.raised(box); m != nil {
				c.least = m.least()
				boxes = append(boxes, c)
			}
			known[box] = c
		}
		if math.IsInf(c.least, 1) {
			continue
		}
		if height := d.bump(r); math.IsInf(c.height, -1) || worth(height) < worth(c.height) {
			c.rect, c.height = r, height
		}
	}
	slices.SortStableFunc(boxes, func(a, b *candidate) int { return cmp.Compare(a.least*worth(a.height), b.least*worth(b.height)) })
	found := &regional{model: model{loss: math.Inf(1)}}
	for _, c := range boxes {
		if c.least*worth(c.height) > found.loss {
			break
		}
		m := s.raised(c.box)
		m.rect, m.height = c.rect, c.height
		m.fit()
		if m.loss *= worth(m.height); m.loss < found.loss {
			found = m
		}
	}
	return found
}

// candidate is a box before its fit: the rectangle around it whose step is the highest,
// and a loss that no fit goes below.
type candidate struct {
	box, rect     rect
	height, least float64
}

// rectangles are those of the table's cells, from its first cell on.
func (d *Drive) rectangles() iter.Seq[rect] {
	return func(yield func(rect) bool) {
		rows, columns := d.Table.Rows(), d.Table.Columns()
		for r0 := range rows {
			for r1 := r0; r1 < rows; r1++ {
				for c0 := range columns {
					for c1 := c0; c1 < columns; c1++ {
						if !yield(rect{r0, r1, c0, c1}) {
							return
						}
					}
				}
			}
		}
	}
}

// search is what fits of rectangles share.
type search struct {
	base         model
	bins         []int       // by observation, which of the sums is its bin's
	sums         [][]float64 // of a bin's weights, from the first cell on
	total        float64     // weight of the observations
	seen, knocks []bool      // by cell: it has a share in the spark of an observation, much of one with knock
	columns      int
}

func (d *Drive) newSearch(obs []observation, sound terms) *search {
	cells := len(d.Table.Values())
	s := &search{base: newModel(obs, sound), seen: make([]bool, cells), knocks: make([]bool, cells), columns: d.Table.Columns()}
	s.base.rounds = 40
	number := map[int]int{}
	for i := range obs {
		w := d.bins[obs[i].bin].Weight
		if _, known := number[obs[i].bin]; !known {
			number[obs[i].bin] = len(s.sums)
			s.sums = append(s.sums, cumulate(w, s.columns))
		}
		s.bins = append(s.bins, number[obs[i].bin])
		s.total += obs[i].weight
		for c := range w {
			s.seen[c] = s.seen[c] || w[c] > 0
			s.knocks[c] = s.knocks[c] || obs[i].heard && w[c] > 0.3
		}
	}
	return s
}

// around is the smallest box around those cells of a rectangle that were seen.
func (s *search) around(r rect) rect {
	box := rect{r[1] + 1, r[0] - 1, r[3] + 1, r[2] - 1}
	for row := r[0]; row <= r[1]; row++ {
		for column := r[2]; column <= r[3]; column++ {
			if s.seen[row*s.columns+column] {
				box = rect{min(box[0], row), row, min(box[2], column), max(box[3], column)}
			}
		}
	}
	if box[0] > box[1] {
		return rect{0, -1, 0, -1}
	}
	return box
}

// raised is the model of a raised box before its fit; nil where the box is no region.
func (s *search) raised(box rect) *regional {
	if !s.touches(box) {
		return nil
	}
	n := s.columns + 1
	of := make([]float64, len(s.sums))
	for k, p := range s.sums {
		of[k] = p[(box[1]+1)*n+box[3]+1] - p[box[0]*n+box[3]+1] - p[(box[1]+1)*n+box[2]] + p[box[0]*n+box[2]]
	}
	inside, share := make([]float64, len(s.bins)), 0.0
	for i, k := range s.bins {
		inside[i] = of[k]
		share += s.base.goals[i].weight * inside[i]
	}
	if share > 0.7*s.total {
		return nil
	}
	return &regional{model: s.base.with(term{low: 0, high: 12, prior: 4}, inside), share: share / s.total}
}

// touches reports whether knock was heard in a box.
func (s *search) touches(box rect) bool {
	for row := box[0]; row <= box[1]; row++ {
		if slices.Contains(s.knocks[row*s.columns:][box[2]:box[3]+1], true) {
			return true
		}
	}
	return false
}

// cumulate is, with a row and a column of zeros before them, the sums of a table's
// cells from the first one on.
func cumulate(w []float64, columns int) []float64 {
	n := columns + 1
	p := make([]float64, (len(w)/columns+1)*n)
	for i, v := range w {
		r, c := i/columns, i%columns
		p[(r+1)*n+c+1] = v + p[r*n+c+1] + p[(r+1)*n+c] - p[r*n+c]
	}
	return p
}

// A region that a hand raised shows in the table too, as a step at its border:
// each degree of it past what a table's own bends make is worth a tenth of the
// fit, and a smooth table speaks against a region (chosen on simulated engines).
const (
	bumpFrom  = 2.0
	bumpWorth = 0.1
	bumpMost  = 4.0
	handMade  = 3.0 // from which a step is rather a hand's than the table's own
)

// worth is what a fit's loss is multiplied by for the height of its step.
func worth(height float64) float64 {
	return 1 - float64(bumpWorth*min(bumpMost, max(-bumpFrom, height-bumpFrom)))
}

// bump is by how many degrees the table steps up, over a rectangle's border,
// more than it does beside the border.
func (d *Drive) bump(at rect) float64 {
	rows, columns := d.Table.Rows(), d.Table.Columns()
	inside := func(r, c int) bool { return r >= at[0] && r <= at[1] && c >= at[2] && c <= at[3] }
	var sum, n float64
	for r := max(at[0]-1, 0); r <= at[1]; r++ {
		for c := max(at[2]-1, 0); c <= at[3]; c++ {
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
