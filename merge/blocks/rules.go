package blocks

import "math"

// kind is a rule that may explain a block.
type kind int

const (
	byAdd kind = iota
	byFactor
	bySet // from here on every cell has its value, or none
	byClampHigh
	byClampLow
)

// Levels say how simple a number has to be. A factor of level 0 is in whole
// per cents; a sum of level 0 has no more decimals than the cells. Each level
// has a decimal more, and the last has any.
const anyLevel = 3

// places is how many decimals a number of a level may have.
func (s *search) places(k kind, level int) int {
	switch {
	case level == anyLevel:
		return 15
	case k == byFactor:
		return 2 + level
	}
	return s.decimals + level
}

// slack is how far a cell may be from what a rule gives: half a step, or what
// arithmetic on doubles leaves. A sum is held to the size of the change as well:
// small sums of large values are told apart. On a cell that stands on a step it
// is exact, since rounding makes a whole step of it in every such cell alike: of
// + 2 and + 3 nobody would say + 2.5.
func (s *search) slack(k kind, old, new float64) float64 {
	half := float64(s.half * (1 + 1e-9))
	if k == byAdd {
		noise := float64(1e-9*math.Abs(new-old)) + float64(1e-15*max(math.Abs(old), math.Abs(new)))
		if n := old / (2 * s.half); math.Abs(n-math.Round(n)) < 1e-6 {
			return noise
		}
		return half + noise
	}
	return half + float64(1e-9*math.Abs(new))
}

// interval is the numbers with which a rule explains a cell; none where lo is
// above hi. For rules that bring cells to one value, it is that of the seed.
func (s *search) interval(k kind, i, seed int) (lo, hi float64) {
	old, new := s.old[i], s.new[i]
	w := s.slack(k, old, new)
	switch {
	case k > byFactor:
		if v := s.new[seed]; s.explains(k, v, i) {
			return v, v
		}
		return math.Inf(1), math.Inf(-1)
	case k == byFactor && old == 0:
		if math.Abs(new) <= w {
			return math.Inf(-1), math.Inf(1)
		}
		return math.Inf(1), math.Inf(-1)
	case k == byAdd:
		lo, hi = (new-old)-w, (new-old)+w
		old = 1 // a limit stops all larger sums, whatever they are added to
	default:
		lo, hi = (new-w)/old, (new+w)/old
	}
	// At a limit the cell says only that the rule leads at least there.
	if new >= s.high {
		hi = math.Copysign(math.Inf(1), old)
	}
	if new <= s.low {
		lo = math.Copysign(math.Inf(1), -old)
	}
	if old < 0 {
		lo, hi = hi, lo
	}
	return lo, hi
}

// allows reports whether an interval holds a number simple enough.
func (s *search) allows(k kind, level int, lo, hi float64) bool {
	p := math.Pow10(s.places(k, level))
	return lo <= hi && (k > byFactor || math.Ceil(lo*p) <= math.Floor(hi*p))
}

// rule is what a rule makes of a cell, before rounding and limits.
func (s *search) rule(k kind, number float64, i int) float64 {
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
func (s *search) explains(k kind, number float64, i int) bool {
	v := s.rule(k, number, i)
	if k <= byFactor {
		v = min(max(v, s.low), s.high)
	}
	return math.Abs(v-s.new[i]) <= s.slack(k, s.old[i], s.new[i])
}

// choose is the number to tell for a rectangle: the one that fits best, at the
// fewest decimals that rounding leaves open.
func (s *search) choose(q rectangle, k kind, level, seed int) (number float64, p plainness, ok bool) {
	if k > byFactor {
		return s.new[seed], plainness{level: level}, true
	}
	lo, hi, scale := math.Inf(-1), math.Inf(1), 0.0
	for i := range s.each(q) {
		l, h := s.interval(k, i, seed)
		lo, hi = max(lo, l), min(hi, h)
		scale = max(scale, math.Abs(s.old[i]))
	}
	if !(lo <= hi) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return 0, p, false
	}
	if k == byAdd {
		scale = 1
	}
	// Rounding leaves an interval of numbers. A person wrote one of the plain ones in
	// it, most likely near to what fits best.
	fit, spread := s.fit(q, k, scale)
	if !(lo <= fit && fit <= hi) {
		fit = lo/2 + hi/2
	}
	// Within two and a half standard errors of what fits best a plainer number is
	// as likely: common practice, no source.
	reach := max(2.5*spread, 2e-9*math.Abs(fit))
	says := func(v float64) bool { return v != 0 && (k == byAdd || v != 1) } // something, and more than "set to 0"
	good := func(v float64) bool { return lo <= v && v <= hi && math.Abs(v-fit) <= reach && says(v) }
	most := s.places(k, level)
	for d := range most + 1 {
		if v := Round(fit*20, 0) / 20; d == 2 && k == byFactor && good(v) {
			return v, plainness{}, true // steps of 5 % before steps of 1 %
		}
		if v := Round(fit, d); good(v) {
			return v, s.plainness(k, d), true
		}
	}
	v := nearestWithin(fit, lo, hi, most)
	return v, plainness{level, s.plainness(k, most).digits}, says(v)
}

// fit is the least-squares factor or the mean sum of a rectangle's changed
// cells that no limit stopped, in shares of scale, and its standard error from
// rounding.
func (s *search) fit(q rectangle, k kind, scale float64) (fit, spread float64) {
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
	return xy / xx, s.half / scale / math.Sqrt(3*xx)
}

// plainness of a number of d decimals: of a factor they are those of its per
// cents.
func (s *search) plainness(k kind, d int) plainness {
	p := plainness{min(max(0, d-s.places(k, 0)), anyLevel), d}
	if k == byFactor {
		p.digits = max(0, d-2)
	}
	return p
}

// Round rounds to decimals, to the double that prints so.
func Round(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	if r := math.Round(v*p) / p; !math.IsInf(r, 0) {
		return r
	}
	return v
}

// nearestWithin is the number of so many decimals inside an interval that is
// nearest to v, or v.
func nearestWithin(v, lo, hi float64, decimals int) float64 {
	p := math.Pow10(decimals)
	low, high := math.Ceil(lo*p)/p, math.Floor(hi*p)/p
	if r := min(max(Round(v, decimals), low), high); lo <= r && r <= hi {
		return r
	}
	return v
}
