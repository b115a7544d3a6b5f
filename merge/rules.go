package merge

import (
	"math"
	"slices"

	"calsplice/tables"
)

// Levels say how simple a number has to be. A factor of level 0 is in whole
// per cents; a sum of level 0 has no more decimals than the cells. Each level
// has a decimal more, and the last has any.
const anyLevel = 3

func (s *blockSearch) places(k kind, level int) int {
	if k == byFactor {
		return 2 + level
	}
	return s.decimals + level
}

// slack is how far a cell may be from what a rule gives: half a step, or what
// arithmetic on doubles leaves.
func (s *blockSearch) slack(k kind, old, new float64) float64 {
	if k == byAdd {
		return float64(s.half*(1+1e-9)) + float64(1e-9*math.Abs(new-old)) + float64(1e-15*max(math.Abs(old), math.Abs(new)))
	}
	return float64(s.half*(1+1e-9)) + float64(1e-9*math.Abs(new))
}

// interval is the numbers with which a rule explains a cell. For rules that
// bring cells to one value, that of the seed, it is that value or nothing.
func (s *blockSearch) interval(k kind, i, seed int) (lo, hi float64, ok bool) {
	old, new := s.old[i], s.new[i]
	switch k {
	case byAdd:
		d, w := new-old, s.slack(k, old, new)
		lo, hi = d-w, d+w
		if new >= s.high {
			hi = math.Inf(1)
		}
		if new <= s.low {
			lo = math.Inf(-1)
		}
		return lo, hi, !math.IsInf(d, 0)
	case byFactor:
		w := s.slack(k, old, new)
		if old == 0 {
			return math.Inf(-1), math.Inf(1), math.Abs(new) <= w
		}
		lo, hi = (new-w)/old, (new+w)/old
		if new >= s.high {
			hi = math.Copysign(math.Inf(1), old)
		}
		if new <= s.low {
			lo = math.Copysign(math.Inf(1), -old)
		}
		if old < 0 {
			lo, hi = hi, lo
		}
		return lo, hi, !math.IsInf(lo, 1) && !math.IsInf(hi, -1)
	}
	v := s.new[seed]
	return v, v, s.explains(k, v, i)
}

// allows reports whether an interval holds a number simple enough.
func (s *blockSearch) allows(k kind, level int, lo, hi float64) bool {
	if !(lo <= hi) {
		return false
	}
	if k > byFactor || level >= anyLevel || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return true
	}
	p := math.Pow10(s.places(k, level))
	return math.Ceil(lo*p) <= math.Floor(hi*p)
}

// rule is what a rule makes of a cell, before rounding and limits.
func (s *blockSearch) rule(k kind, number float64, i int) float64 {
	old := s.old[i]
	switch k {
	case byAdd:
		return old + number
	case byFactor:
		return old * number
	case byClampHigh:
		return min(old, number)
	case byClampLow:
		return max(old, number)
	}
	return number
}

// explains reports whether a rule gives a cell's new value.
func (s *blockSearch) explains(k kind, number float64, i int) bool {
	v := s.rule(k, number, i)
	if k > byFactor {
		return v == s.new[i]
	}
	v = min(max(v, s.low), s.high)
	return math.Abs(v-s.new[i]) <= s.slack(k, s.old[i], s.new[i])
}

// choose is the number to tell for a rectangle: the one that fits best, at the
// fewest decimals that rounding leaves open.
func (s *blockSearch) choose(q rectangle, k kind, level, seed int) (number float64, digits, at int, ok bool) {
	if k > byFactor {
		return s.new[seed], 0, level, true
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	scale := 0.0
	for i := range s.each(q) {
		l, h, _ := s.interval(k, i, seed)
		lo, hi = max(lo, l), min(hi, h)
		scale = max(scale, math.Abs(s.old[i]))
	}
	if !(lo <= hi) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return 0, 0, 0, false
	}
	fit, spread := s.fit(q, k, scale)
	if !(lo <= fit && fit <= hi) {
		fit = lo/2 + hi/2
	}
	neutral := 0.0
	if k == byFactor {
		neutral = 1
	}
	reach := max(2.5*spread, 2e-9*max(math.Abs(fit), 1e-300))
	most := 15
	if level < anyLevel {
		most = s.places(k, level)
	}
	fits := func(v float64) bool { return lo <= v && v <= hi && math.Abs(v-fit) <= reach && v != neutral }
	for d := 0; d <= most; d++ {
		if v := roundTo(fit*20, 0) / 20; d == 2 && k == byFactor && fits(v) {
			return v, 0, 0, true // steps of 5 % before steps of 1 %
		}
		if v := roundTo(fit, d); fits(v) {
			return v, s.digits(k, d), s.level(k, d), true
		}
	}
	v := nearestWithin(fit, lo, hi, most)
	return v, s.digits(k, most), level, lo <= v && v <= hi && v != neutral
}

// fit is the least-squares factor or the mean sum of a rectangle's changed
// cells that no limit stopped, and its standard error from rounding.
func (s *blockSearch) fit(q rectangle, k kind, scale float64) (fit, spread float64) {
	var xy, xx float64
	for i := range s.each(q) {
		if s.state[i] != changed || s.new[i] >= s.high || s.new[i] <= s.low {
			continue
		}
		x, y := 1.0, s.new[i]-s.old[i]
		if k == byFactor {
			x, y = s.old[i]/scale, s.new[i]/scale
		}
		xy += float64(x * y)
		xx += float64(x * x)
	}
	if k == byAdd {
		scale = 1
	}
	return xy / xx, s.half / scale / math.Sqrt(3*xx)
}

func (s *blockSearch) each(q rectangle) func(yield func(int) bool) {
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

// digits is what a number costs to say: decimals of a sum, decimals of a
// factor's per cents.
func (s *blockSearch) digits(k kind, d int) int {
	if k == byFactor {
		return max(0, d-2)
	}
	return d
}

func (s *blockSearch) level(k kind, d int) int {
	return min(max(0, d-s.places(k, 0)), anyLevel)
}

// roundTo rounds to decimals, to the double that prints so.
func roundTo(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	if r := math.Round(v*p) / p; !math.IsInf(r, 0) && !math.IsNaN(r) {
		return r
	}
	return v
}

// nearestWithin is the number of so many decimals inside an interval that is
// nearest to v, or v.
func nearestWithin(v, lo, hi float64, decimals int) float64 {
	p := math.Pow10(decimals)
	low, high := math.Ceil(lo*p)/p, math.Floor(hi*p)/p
	if r := min(max(roundTo(v, decimals), low), high); lo <= r && r <= hi {
		return r
	}
	return v
}

// newSearch prepares the search of two tables of one shape. Cells that a
// tolerance hides count as unchanged; limits are those of the new table. Cells
// that are empty on one side are listed in loose: no rule explains them.
func newSearch(old, new []float64, columns int, b bounds, t *tables.Table) (s *blockSearch, loose []int) {
	s = &blockSearch{old: old, new: new, columns: columns, rows: len(old) / columns, half: t.Tolerance(),
		low: math.Inf(-1), high: math.Inf(1), was: make([]uint8, len(old))}
	if l := t.Limits(); l != nil {
		s.low, s.high = l.Low, l.High
	}
	for i := range old {
		switch {
		case math.IsNaN(old[i]) || math.IsNaN(new[i]):
			s.was[i] = barrier
			if !tables.SameBit(old[i], new[i]) {
				loose = append(loose, i)
			}
		case !b.hides(old[i], new[i]):
			s.was[i] = changed
			if s.half == 0 && s.shown < 99 {
				s.shown = max(s.shown, tables.Decimals(old[i]), tables.Decimals(new[i]))
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

// findBlocks explains the changed cells of two tables of one shape.
func findBlocks(old, new []float64, columns int, b bounds, t *tables.Table) (list []found, rest []int) {
	s, rest := newSearch(old, new, columns, b, t)
	list, left := s.blocks()
	odd := slices.ContainsFunc(list, func(f found) bool { return f.level > 1 })
	if s.half == 0 && s.shown <= 4 && (odd || len(left) > 1) {
		list, left = s.guess(list, left)
	}
	return s.doubt(list, append(rest, left...))
}

// oneCell is the rule for a single cell: the simpler of a factor and a sum.
func oneCell(old, new []float64, columns, i int, b bounds, t *tables.Table) (found, bool) {
	s, _ := newSearch(old, new, columns, b, t)
	r, c := i/columns, i%columns
	var best found
	ok := false
	for _, k := range []kind{byAdd, byFactor} {
		f := found{rectangle: rectangle{r, r, c, c}, kind: k}
		var good bool
		if f.number, f.digits, f.level, good = s.choose(f.rectangle, k, anyLevel, i); !good {
			continue
		}
		s.weigh(&f)
		if !ok || f.level < best.level || f.level == best.level && f.digits < best.digits {
			best, ok = f, true
		}
	}
	return best, ok
}

// doubt takes back the small blocks of a table in which most changes follow no
// rule: there two or three that seem to are chance.
func (s *blockSearch) doubt(list []found, rest []int) ([]found, []int) {
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

// guess looks again at what is left of a table that gives no resolution, as if
// its cells had been rounded to the decimals that they show.
func (s *blockSearch) guess(list []found, left []int) ([]found, []int) {
	g := *s
	g.half, g.guessed = math.Pow10(-s.shown)/2, true
	g.state = slices.Clone(s.was)
	again, rest := g.blocks()
	if 2*(len(again)+len(rest)) > len(list)+len(left) {
		return list, left
	}
	return again, rest
}
