package merge

import (
	"math"
)

// BlockChange is a rectangle of cells that one rule explains, as a person would
// say it. Exactly one of Factor, Add, Clamped and Set is given.
type BlockChange struct {
	Table    string   `json:"table"`
	Rows     [2]int   `json:"rows"`    // first and last, from 0
	Columns  [2]int   `json:"columns"` // first and last, from 0
	Factor   *float64 `json:"factor,omitempty"`
	Add      *float64 `json:"add,omitempty"`
	Clamped  *float64 `json:"clamped,omitempty"` // cells past it were brought to it
	Set      *float64 `json:"set,omitempty"`     // every cell became it
	Stopped  *float64 `json:"stopped,omitempty"` // the limit at which Factor or Add came to an end
	Changed  int      `json:"changed"`           // cells that changed; the rest are ones that rounding kept
	Residual float64  `json:"residual"`          // largest distance of a cell from what the rule gives
}

// kind is a rule that may explain a block.
type kind int

const (
	byAdd kind = iota
	byFactor
	bySet
	byClampHigh
	byClampLow
)

// A cell's part in the search.
const (
	unchanged = iota
	changed
	barrier // explained by another block, or empty
)

// blockSearch looks for blocks in two tables of one shape.
//
// Every cell allows an interval of factors (and of sums): what the rule gives
// is rounded to the resolution, so the true number lies within half a step of
// the cell. A rectangle is explained where the intervals of all its cells, the
// unchanged ones too, have a number in common; and the simplest such number is
// told. From each changed cell that no block holds yet, in reading order, the
// largest such rectangle that has the cell in its corner is grown.
type blockSearch struct {
	old, new []float64
	rows     int
	columns  int
	was      []uint8 // each cell's part at the outset
	state    []uint8
	half     float64 // half of what was rounded to; 0 for none
	guessed  bool    // half comes from the decimals of the cells, not from the table
	low      float64 // limits at which a rule stops; infinite for none
	high     float64
	shown    int // decimals of the changed cells, where the table gives no resolution
	decimals int // that a simple sum may have
	budget   int // cells that may still be looked at
	lo, hi   []float64
	count    []int
}

// rectangle is a block in the making.
type rectangle struct{ r0, r1, c0, c1 int }

func (q rectangle) area() int { return (q.r1 - q.r0 + 1) * (q.c1 - q.c0 + 1) }

// found is a rectangle with the rule that explains it.
type found struct {
	rectangle
	kind    kind
	number  float64
	changed int
	stopped int // changed cells at a limit
	// stoppedLow: the limit is the lower one.
	stoppedLow bool
	residual   float64
	level      int // how far from simple the number is
	digits     int
}

// better reports whether f explains more than g, or as much more simply. A
// number with one more decimal has to explain half as much again.
func (f found) better(g found) bool {
	if a, b := f.score(), g.score(); a != b {
		return a > b
	}
	if a, b := f.exact(), g.exact(); a != b {
		return a
	}
	return f.digits < g.digits
}

func (f found) score() float64 { return float64(f.changed) / math.Pow(1.5, float64(f.level)) }

func (f found) exact() bool { return f.residual <= 1e-9*math.Abs(f.number) }

// blocks finds all blocks, and lists the cells that none explains.
func (s *blockSearch) blocks() (list []found, rest []int) {
	s.lo, s.hi, s.count = make([]float64, s.columns), make([]float64, s.columns), make([]int, s.columns)
	s.budget = 40*len(s.old) + 10_000
	if f, ok := s.clamped(); ok {
		return []found{f}, nil
	}
	left := 0
	for _, st := range s.state {
		if st == changed {
			left++
		}
	}
	for i, st := range s.state {
		if st != changed || s.state[i] != changed {
			continue
		}
		f, ok := s.best(i, left)
		if !ok {
			rest = append(rest, i)
			s.state[i] = barrier
			left--
			continue
		}
		list = append(list, f)
		for r := f.r0; r <= f.r1; r++ {
			for c := f.c0; c <= f.c1; c++ {
				s.state[r*s.columns+c] = barrier
			}
		}
		left -= f.changed
	}
	return list, rest
}

// best is the best block with a cell in its corner.
func (s *blockSearch) best(seed, left int) (found, bool) {
	var best found
	ok := false
	try := func(k kind, level int) {
		if s.budget <= 0 || float64(left)/math.Pow(1.5, float64(level)) < best.score() {
			return
		}
		if f, good := s.grow(seed, k, level); good && (!ok || f.better(best)) {
			best, ok = f, true
		}
	}
	for level := range anyLevel + 1 {
		try(byAdd, level)
		try(byFactor, level)
		if level == 0 {
			try(bySet, level)
		}
		if level == 1 {
			try(byClampHigh, level)
			try(byClampLow, level)
		}
	}
	return best, ok
}

// grow finds the rectangle with a cell in its upper left corner that holds most
// changed cells and that one rule explains; then it looks past its sides for
// lines that rounding hid.
func (s *blockSearch) grow(seed int, k kind, level int) (found, bool) {
	r0, c0 := seed/s.columns, seed%s.columns
	width := s.columns - c0
	var q rectangle
	most := 0
	for r := r0; r < s.rows && width > 0; r++ {
		lo, hi := math.Inf(-1), math.Inf(1)
		n, w := 0, 0
		for ; w < width; w++ {
			i := r*s.columns + c0 + w
			l, h, fits := s.interval(k, i, seed)
			if !fits || s.state[i] == barrier {
				break
			}
			lo, hi = max(lo, l), min(hi, h)
			if r == r0 {
				s.lo[w], s.hi[w], s.count[w] = lo, hi, 0
			}
			cl, ch := max(s.lo[w], lo), min(s.hi[w], hi)
			if !s.allows(k, level, cl, ch) {
				break
			}
			s.lo[w], s.hi[w] = cl, ch
			if s.state[i] == changed {
				n++
			}
			s.count[w] += n
		}
		s.budget -= w + 1
		if width = w; w > 0 && s.count[w-1] > most {
			most, q = s.count[w-1], rectangle{r0, r, c0, c0 + w - 1}
		}
	}
	if most < 2 {
		return found{}, false
	}
	return s.settle(s.trim(q), k, level, seed)
}

// trim takes away the lines at a rectangle's ends in which nothing changed.
func (s *blockSearch) trim(q rectangle) rectangle {
	t := rectangle{q.r1, q.r0, q.c1, q.c0}
	for r := q.r0; r <= q.r1; r++ {
		for c := q.c0; c <= q.c1; c++ {
			if s.state[r*s.columns+c] == changed {
				t = rectangle{min(t.r0, r), max(t.r1, r), min(t.c0, c), max(t.c1, c)}
			}
		}
	}
	return t
}

// settle chooses the number for a rectangle and widens it by lines that the
// number explains too: as far as lines with changed cells go, and to the
// table's edge where rounding kept all that is left.
func (s *blockSearch) settle(q rectangle, k kind, level, seed int) (found, bool) {
	f := found{rectangle: q, kind: k, level: level}
	var ok bool
	if f.number, f.digits, f.level, ok = s.choose(q, k, level, seed); !ok {
		return f, false
	}
	fits := func(q rectangle) (fit, any bool) {
		s.budget -= q.area()
		for r := q.r0; r <= q.r1; r++ {
			for c := q.c0; c <= q.c1; c++ {
				i := r*s.columns + c
				if s.state[i] == barrier || !s.explains(k, f.number, i) {
					return false, false
				}
				any = any || s.state[i] == changed
			}
		}
		return true, any
	}
	if fit, _ := fits(q); !fit {
		return f, false
	}
	s.widen(&f, fits)
	s.weigh(&f)
	if f.changed < 2 || f.stopped*2 > f.changed || 4*f.changed < q.area() {
		return f, false
	}
	if (!f.exact() || s.guessed) && f.changed < 3 && f.changed < q.area() {
		return f, false
	}
	return f, true
}

func (s *blockSearch) widen(f *found, fits func(rectangle) (fit, any bool)) {
	side := func(line func(n int) rectangle, to func(n int)) {
		for n := 1; ; n++ {
			q := line(n)
			if q.r0 < 0 || q.c0 < 0 || q.r1 >= s.rows || q.c1 >= s.columns {
				if n > 1 && f.kind != bySet {
					to(n - 1)
				}
				return
			}
			fit, any := fits(q)
			if !fit {
				return
			}
			if any {
				to(n)
			}
		}
	}
	q := f.rectangle
	side(func(n int) rectangle { return rectangle{q.r0, q.r1, q.c0 - n, q.c0 - n} }, func(n int) { f.c0 = q.c0 - n })
	side(func(n int) rectangle { return rectangle{q.r0, q.r1, q.c1 + n, q.c1 + n} }, func(n int) { f.c1 = q.c1 + n })
	q = f.rectangle
	side(func(n int) rectangle { return rectangle{q.r0 - n, q.r0 - n, q.c0, q.c1} }, func(n int) { f.r0 = q.r0 - n })
	side(func(n int) rectangle { return rectangle{q.r1 + n, q.r1 + n, q.c0, q.c1} }, func(n int) { f.r1 = q.r1 + n })
}

// weigh counts what a block explains, and how closely.
func (s *blockSearch) weigh(f *found) {
	f.changed, f.stopped, f.residual = 0, 0, 0
	for r := f.r0; r <= f.r1; r++ {
		for c := f.c0; c <= f.c1; c++ {
			i := r*s.columns + c
			if s.state[i] != changed {
				continue
			}
			f.changed++
			at := s.rule(f.kind, f.number, i)
			if f.kind <= byFactor && (at > s.high || at < s.low) {
				f.stopped, f.stoppedLow = f.stopped+1, at < s.low
				continue
			}
			if d := math.Abs(at - s.new[i]); d > 1e-12*math.Abs(at) {
				f.residual = max(f.residual, brief(d))
			}
		}
	}
}

// clamped reports whether all that changed are cells brought down, or up, to
// one value that no cell passes any more.
func (s *blockSearch) clamped() (found, bool) {
	q := rectangle{s.rows, -1, s.columns, -1}
	most, least := math.Inf(-1), math.Inf(1)
	for _, v := range s.new {
		most, least = max(most, v), min(least, v)
	}
	n, down, up, flat := 0, true, true, true
	first := math.NaN()
	for i, st := range s.state {
		if st != changed {
			continue
		}
		down = down && s.new[i] == most && s.old[i] > most
		up = up && s.new[i] == least && s.old[i] < least
		if n == 0 {
			first = s.old[i]
		}
		flat = flat && s.old[i] == first
		r, c := i/s.columns, i%s.columns
		q = rectangle{min(q.r0, r), max(q.r1, r), min(q.c0, c), max(q.c1, c)}
		n++
	}
	if n < 2 || flat || !down && !up {
		return found{}, false
	}
	f := found{rectangle: q, kind: byClampHigh, number: most, changed: n}
	if up {
		f.kind, f.number = byClampLow, least
	}
	return f, true
}
