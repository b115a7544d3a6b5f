package knock

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"

	"calsplice/interp/drive"
)

// rect is a rectangle of a table's cells: first and last row, first and last column.
type rect [4]int

func (r rect) holds(c cell) bool {
	return c.row >= r[0] && c.row <= r[1] && c.column >= r[2] && c.column <= r[3]
}

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
	for _, r := range d.rectangles() {
		box := s.around(r)
		c := known[box]
		if c == nil {
			c = &candidate{box: box, height: math.NaN()}
			if least, ok := s.least(box); ok {
				c.least = least
				boxes = append(boxes, c)
			} else {
				c.height = math.Inf(1) // no region: no rectangle around it is looked at
			}
			known[box] = c
		}
		if !math.IsInf(c.height, 1) {
			if height := d.bump(r); !(worth(height) >= worth(c.height)) {
				c.rect, c.height = r, height
			}
		}
	}
	slices.SortStableFunc(boxes, func(a, b *candidate) int { return cmp.Compare(a.least*worth(a.height), b.least*worth(b.height)) })
	// As many as there are processors are fitted at once, and compared in their order.
	found := &regional{model: model{loss: math.Inf(1)}}
	for some := range slices.Chunk(boxes, runtime.GOMAXPROCS(0)) {
		fits := make([]*regional, len(some))
		var fitting sync.WaitGroup
		for i, c := range some {
			fitting.Go(func() { fits[i] = s.raised(c) })
		}
		fitting.Wait()
		for i, c := range some {
			if c.least*worth(c.height) > found.loss {
				return found
			}
			if fits[i].loss < found.loss {
				found = fits[i]
			}
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

// rectangles are those of the table's cells.
func (d *Drive) rectangles() (list []rect) {
	for _, rows := range spans(d.Table.Rows()) {
		for _, columns := range spans(d.Table.Columns()) {
			list = append(list, rect{rows[0], rows[1], columns[0], columns[1]})
		}
	}
	return list
}

// spans are the firsts and lasts among n.
func spans(n int) (list [][2]int) {
	for first := range n {
		for last := first; last < n; last++ {
			list = append(list, [2]int{first, last})
		}
	}
	return list
}

// search is what fits of rectangles share.
type search struct {
	base         model
	bins         []int     // by observation, which of the lists of cells is its bin's
	cells        [][]cell  // by bin, those with a share in the spark
	weight       []float64 // by bin, of its observations
	heard        []int     // observations with knock
	seen, knocks []cell    // of all observations; with much of the spark of one with knock
}

// cell is one of the table, with its share in the spark of a bin.
type cell struct {
	row, column int
	share       float64
}

// newSearch gathers what fits of rectangles share. Forty rounds of descent tell boxes apart;
// the three hundred of a single fit would only sharpen the last digit.
func (d *Drive) newSearch(obs []observation, sound terms) *search {
	s := &search{base: newModel(obs, sound)}
	s.base.rounds = 40
	number := drive.Numbers[int]{}
	for i := range obs {
		o := &obs[i]
		k := number.Of(o.bin)
		if k == len(s.cells) {
			s.cells, s.weight = append(s.cells, d.cells(o.bin)), append(s.weight, 0)
			s.seen = with(s.seen, s.cells[k], 0)
		}
		if o.heard {
			s.heard = append(s.heard, i)
			s.knocks = with(s.knocks, s.cells[k], 0.3)
		}
		s.bins = append(s.bins, k)
		s.weight[k] += o.weight
	}
	return s
}

// cells are those with a share in the spark of a bin.
func (d *Drive) cells(bin int) (list []cell) {
	for i, share := range d.bins[bin].Weight {
		if share > 0 {
			list = append(list, cell{i / d.Table.Columns(), i % d.Table.Columns(), share})
		}
	}
	return list
}

// with are cells with those of others that are not among them yet and have more than
// some share.
func with(list, others []cell, more float64) []cell {
	for _, c := range others {
		if c.share > more && !slices.ContainsFunc(list, func(l cell) bool { return l.row == c.row && l.column == c.column }) {
			list = append(list, c)
		}
	}
	return list
}

// around is the smallest box around those cells of a rectangle that were seen.
func (s *search) around(r rect) rect {
	box := rect{math.MaxInt, -1, math.MaxInt, -1}
	for _, c := range s.seen {
		if r.holds(c) {
			box = rect{min(box[0], c.row), max(box[1], c.row), min(box[2], c.column), max(box[3], c.column)}
		}
	}
	return box
}

// height is the term of a raised box: by how many degrees.
var height = term{low: 0, high: 12, prior: 4}

// inside is by bin the share that a box has in the spark, and that share of all.
func (s *search) inside(box rect) (of []float64, share float64) {
	of = make([]float64, len(s.cells))
	total := 0.0
	for k, cells := range s.cells {
		for _, c := range cells {
			if box.holds(c) {
				of[k] += c.share
			}
		}
		total += s.weight[k]
		share += float64(s.weight[k] * of[k])
	}
	return of, share / total
}

// least is a loss that no fit of a raised box goes below; false where the box is no region.
func (s *search) least(box rect) (loss float64, ok bool) {
	if !slices.ContainsFunc(s.knocks, box.holds) {
		return 0, false
	}
	of, share := s.inside(box)
	for _, i := range s.heard {
		loss += s.base.goals[i].past(s.base.most[i] + float64(height.high*of[s.bins[i]]))
	}
	return loss * (1 - rounding), share <= 0.7
}

// raised is the fitted model of a raised box.
func (s *search) raised(c *candidate) *regional {
	of, share := s.inside(c.box)
	column := make([]float64, len(s.bins))
	for i, k := range s.bins {
		column[i] = of[k]
	}
	r := &regional{model: s.base.with(height, column), share: share, rect: c.rect, height: c.height}
	r.fit()
	r.loss *= worth(r.height)
	return r
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
	inside := func(r, c int) bool { return at.holds(cell{row: r, column: c}) }
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
