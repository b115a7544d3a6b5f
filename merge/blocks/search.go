package blocks

import (
	"iter"
	"math"
	"slices"

	"calsplice/tables"
)

// A cell's part in the search.
const (
	unchanged = iota
	changed
	barrier // explained by another block, or empty
)

// search looks for blocks in two tables of one shape.
//
// Every cell allows an interval of factors (and of sums): what the rule gives
// is rounded to the resolution, so the true number lies within half a step of
// the cell. A rectangle is explained where the intervals of all its cells, the
// unchanged ones too, have a number in common; and the simplest such number is
// told. From each changed cell that no block holds yet, in reading order, the
// largest such rectangle that has the cell in its corner is grown.
type search struct {
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
	budget   int // cells that may still be looked at, so that a large table without rules ends
	lo, hi   []float64
	count    []int
}

// rectangle is a block in the making, all ends included.
type rectangle struct{ r0, r1, c0, c1 int }

func (q rectangle) area() int { return (q.r1 - q.r0 + 1) * (q.c1 - q.c0 + 1) }

// with is the smallest rectangle that holds q and a cell too.
func (q rectangle) with(r, c int) rectangle {
	return rectangle{min(q.r0, r), max(q.r1, r), min(q.c0, c), max(q.c1, c)}
}

// nothing is the rectangle that [rectangle.with] begins from.
var nothing = rectangle{math.MaxInt, -1, math.MaxInt, -1}

// each gives the indices of a rectangle's cells.
func (s *search) each(q rectangle) iter.Seq[int] {
	return func(yield func(int) bool) {
		for r := q.r0; r <= q.r1; r++ {
			for c := q.c0; c <= q.c1; c++ {
				if !yield(r*s.columns + c) {
					return
				}
			}
		}
	}
}

// found is a rectangle with the rule that explains it.
type found struct {
	rectangle
	kind     kind
	number   float64
	changed  int
	stopped  int      // changed cells at a limit
	limit    *float64 // at which the rule comes to an end; nil for none
	residual float64
	plain    plainness
}

// plainness is what a rule's number costs to say.
type plainness struct {
	level  int // how far from simple the number is
	digits int
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
	return f.plain.digits < g.plain.digits
}

func (f found) score() float64 { return worth(f.changed, f.plain.level) }

func worth(changed, level int) float64 { return float64(changed) / math.Pow(1.5, float64(level)) }

func (f found) exact() bool { return f.residual <= 1e-9*math.Abs(f.number) }

// block is a found one as people and reports have it.
func (f found) block(table string) Block {
	b := Block{Table: table, Rows: [2]int{f.r0, f.r1}, Columns: [2]int{f.c0, f.c1}, Stopped: f.limit, Changed: f.changed, Residual: f.residual}
	*[]**float64{byAdd: &b.Add, byFactor: &b.Factor, bySet: &b.Set, byClampHigh: &b.Clamped, byClampLow: &b.Clamped}[f.kind] = &f.number
	return b
}

// Find explains what changed from old to the values of t, which has the same
// shape. Cells whose difference hides count as unchanged. It gives the blocks
// and the indices of the changed cells that none explains; a lone one of these
// has a block of its own all the same.
func Find(old []float64, t *tables.Table, hides func(v, w float64) bool) (list []Block, loose []int) {
	s, empty := newSearch(old, t, hides)
	all, left := s.explain()
	loose = append(empty, left...)
	if all, loose = s.doubt(all, loose); len(all) == 0 && len(loose) == 1 {
		if f, ok := s.oneCell(loose[0]); ok {
			all = []found{f}
		}
	}
	for _, f := range all {
		list = append(list, f.block(t.ID()))
	}
	return list, loose
}

// newSearch prepares the search. Cells that are empty on one side are listed in
// loose: no rule explains them.
func newSearch(old []float64, t *tables.Table, hides func(v, w float64) bool) (s *search, loose []int) {
	s = &search{old: old, new: t.Values(), columns: t.Columns(), rows: t.Rows(), half: t.Tolerance(),
		low: math.Inf(-1), high: math.Inf(1), was: make([]uint8, len(old))}
	if l := t.Limits(); l != nil {
		s.low, s.high = l.Low, l.High
	}
	for i, v := range s.new {
		switch {
		case math.IsNaN(old[i]) || math.IsNaN(v):
			s.was[i] = barrier
			if !tables.SameBit(old[i], v) {
				loose = append(loose, i)
			}
		case !hides(old[i], v):
			s.was[i] = changed
			if s.half == 0 {
				s.shown = max(s.shown, tables.Decimals(old[i]), tables.Decimals(v))
			}
		}
	}
	s.decimals = min(s.shown, 3)
	if s.half > 0 {
		s.decimals = min(tables.Decimals(t.Resolution()), 6)
	}
	s.state = slices.Clone(s.was)
	return s, loose
}

// explain finds all blocks. A table that gives no resolution is looked at a
// second time, as if its cells had been rounded to the decimals that they show,
// and that is believed where it halves what there is to say.
func (s *search) explain() (list []found, left []int) {
	list, left = s.blocks()
	if s.half > 0 || s.shown > 4 || len(left) < 2 {
		return list, left
	}
	g := *s
	g.half, g.guessed = math.Pow10(-s.shown)/2, true
	g.state = slices.Clone(s.was)
	again, rest := g.blocks()
	if 2*(len(again)+len(rest)) > len(list)+len(left) {
		return list, left
	}
	return again, rest
}

// blocks finds all blocks, and lists the cells that none explains.
func (s *search) blocks() (list []found, rest []int) {
	s.lo, s.hi, s.count = make([]float64, s.columns), make([]float64, s.columns), make([]int, s.columns)
	// In a table of noise every cell would be the corner of a long search for nothing.
	// So each cell may be looked at some forty times, and what is left is listed.
	s.budget = 40*len(s.old) + 10_000
	// Cells brought to one value stand wherever the old ones passed it, in no
	// rectangle; they are one clamp or, cell by cell, nothing that anybody would read.
	if f, ok := s.clamped(); ok {
		return []found{f}, nil
	}
	left := 0
	for _, st := range s.state {
		left += int(st & changed)
	}
	for i := 0; i < len(s.state); {
		if s.state[i] != changed {
			i++
			continue
		}
		f, ok := s.best(i, left)
		if !ok {
			rest = append(rest, i)
			s.state[i] = barrier
			left--
			continue
		}
		f = s.ahead(f, i, left) // which may leave i to be looked at again
		list = append(list, f)
		for k := range s.each(f.rectangle) {
			s.state[k] = barrier
		}
		left -= f.changed
	}
	return list, rest
}

// ahead is the block that f, from a cell, would cut a part from, where that one
// is worth more: a lone edit beside a block comes first in reading order, and
// often a number can be found that joins it to a line of the block.
func (s *search) ahead(f found, seed, left int) found {
	best := f
	defer func(budget int) { s.budget = budget }(s.budget) // a few looks for each block are no search
	for _, i := range []int{seed + 1, seed + s.columns} {
		if r, c := i/s.columns, i%s.columns; r > f.r1 || c < f.c0 || c > f.c1 || s.state[i] != changed || worth(left, 0) <= best.score() {
			continue
		}
		if g, ok := s.best(i, left); ok && g.score() > best.score() {
			best = g
		}
	}
	return best
}

// best is the best block with a cell in its corner. A level at which all cells
// that are left would be worth less than what is found is not looked at.
func (s *search) best(seed, left int) (best found, ok bool) {
	for level := range anyLevel + 1 {
		for _, k := range [][]kind{{byAdd, byFactor, bySet}, {byAdd, byFactor, byClampHigh, byClampLow}, {byAdd, byFactor}, {byAdd, byFactor}}[level] {
			if s.budget <= 0 || worth(left, level) < best.score() {
				continue
			}
			if f, good := s.grow(seed, k, level); good && f.better(best) {
				best, ok = f, true
			}
		}
	}
	return best, ok
}

// grow finds the rectangle with a cell in its upper left corner that holds most
// changed cells and that one rule explains; then it looks past its sides for
// lines that rounding hid.
func (s *search) grow(seed int, k kind, level int) (found, bool) {
	r0, c0 := seed/s.columns, seed%s.columns
	width := s.columns - c0
	var q rectangle
	// Row by row, each column keeps the interval that all its cells so far have in
	// common with those to their left. So a rectangle of any width costs one step for
	// each of its cells, and the largest falls out on the way.
	most := 0
	for r := r0; r < s.rows && width > 0; r++ {
		lo, hi := math.Inf(-1), math.Inf(1)
		n, w := 0, 0
		for ; w < width; w++ {
			i := r*s.columns + c0 + w
			if s.state[i] == barrier {
				break
			}
			l, h := s.interval(k, i, seed)
			lo, hi = max(lo, l), min(hi, h)
			if r == r0 {
				s.lo[w], s.hi[w], s.count[w] = lo, hi, 0
			}
			cl, ch := max(s.lo[w], lo), min(s.hi[w], hi)
			if !s.allows(k, level, cl, ch) {
				break
			}
			s.lo[w], s.hi[w] = cl, ch
			n += int(s.state[i])
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
func (s *search) trim(q rectangle) rectangle {
	t := nothing
	for i := range s.each(q) {
		if s.state[i] == changed {
			t = t.with(i/s.columns, i%s.columns)
		}
	}
	return t
}

// settle chooses the number for a rectangle and widens it by lines that the
// number explains too: as far as lines with changed cells go, and to the
// table's edge where rounding kept all that is left. What is left of it by
// chance alone is no block.
func (s *search) settle(q rectangle, k kind, level, seed int) (f found, ok bool) {
	f = found{rectangle: q, kind: k}
	if f.number, f.plain, ok = s.choose(q, k, level, seed); !ok {
		return f, false
	}
	if fit, _ := s.fits(q, k, f.number); !fit {
		return f, false
	}
	s.widen(&f)
	s.weigh(&f)
	// One or two changed cells among others that rounding is said to have kept fit
	// some number by chance. Only an exact one is believed.
	few := f.changed < 3 && f.changed < q.area() && (!f.exact() || s.guessed)
	return f, f.stopped*2 <= f.changed && 4*f.changed >= q.area() && !few
}

// fits reports whether a number explains all cells of a rectangle, and whether
// any of them changed.
func (s *search) fits(q rectangle, k kind, number float64) (fit, any bool) {
	s.budget -= q.area()
	for i := range s.each(q) {
		if s.state[i] == barrier || !s.explains(k, number, i) {
			return false, false
		}
		any = any || s.state[i] == changed
	}
	return true, any
}

func (s *search) widen(f *found) {
	side := func(line func(n int) rectangle, to func(n int)) {
		for n := 1; ; n++ {
			q := line(n)
			if q.r0 < 0 || q.c0 < 0 || q.r1 >= s.rows || q.c1 >= s.columns {
				if f.kind != bySet {
					to(n - 1)
				}
				return
			}
			fit, any := s.fits(q, f.kind, f.number)
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
func (s *search) weigh(f *found) {
	for i := range s.each(f.rectangle) {
		at := s.rule(f.kind, f.number, i)
		limit := min(max(at, s.low), s.high)
		stopped := f.kind <= byFactor && at != limit
		if stopped { // also a cell that stood there before
			f.limit = &limit
		} else if d := math.Abs(at - s.new[i]); d > 1e-12*math.Abs(at) { // also one that rounding kept
			f.residual = max(f.residual, tables.Brief(d))
		}
		if s.state[i] != changed {
			continue
		}
		f.changed++
		if stopped {
			f.stopped++
		}
	}
}

// clamped reports whether all that changed are cells brought down, or up, to
// one value that no cell passes any more. Where every cell of the table was, it
// is set to that value.
func (s *search) clamped() (found, bool) {
	f := found{rectangle: nothing}
	most, least := slices.Max(s.new), slices.Min(s.new)
	down, up, first, flat := true, true, math.NaN(), true
	for i, st := range s.state {
		if st != changed {
			continue
		}
		down = down && s.new[i] == most && s.old[i] > most
		up = up && s.new[i] == least && s.old[i] < least
		if f.changed == 0 {
			first = s.old[i]
		}
		flat = flat && s.old[i] == first
		f.rectangle = f.with(i/s.columns, i%s.columns)
		f.changed++
	}
	if f.kind, f.number = byClampHigh, most; up {
		f.kind, f.number = byClampLow, least
	}
	return f, !flat && (down || up) && f.changed < len(s.state)
}

// oneCell is the rule for a single cell: the simpler of a factor and a sum, to
// the digit, since what one cell was rounded from nobody knows.
func (s *search) oneCell(i int) (best found, ok bool) {
	s.state, s.half = s.was, 0
	for _, k := range []kind{byAdd, byFactor} {
		f, good := found{rectangle: nothing.with(i/s.columns, i%s.columns), kind: k}, false
		if f.number, f.plain, good = s.choose(f.rectangle, k, anyLevel, i); !good {
			continue
		}
		s.weigh(&f)
		if !ok || f.plain.level < best.plain.level || f.plain.level == best.plain.level && f.plain.digits < best.plain.digits {
			best, ok = f, true
		}
	}
	return best, ok
}

// doubt takes back the small blocks of a table in which most changes follow no
// rule: there two or three that seem to are chance.
func (s *search) doubt(list []found, rest []int) ([]found, []int) {
	explained := 0
	for _, f := range list {
		explained += f.changed
	}
	if explained >= len(rest) {
		return list, rest
	}
	kept := list[:0]
	for _, f := range list {
		if f.changed > 3 {
			kept = append(kept, f)
			continue
		}
		for i := range s.each(f.rectangle) {
			if s.was[i] == changed {
				rest = append(rest, i)
			}
		}
	}
	slices.Sort(rest)
	return kept, rest
}
