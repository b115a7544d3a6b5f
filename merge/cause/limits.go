package cause

// leastLimit is the least size of a trim that may be a limit, %: smaller ones
// are peaks of a limit cycle (8 % is common practice, no source; in steps of
// 0.78 % it reads 7.8).
const leastLimit = 7.6

// limits reports whether a trim stands at a limit from how its readings pile up:
// a trim that is held back stands at its extreme more often than anywhere near
// it, one that is not has few readings at its ends.
type limits struct {
	count map[float64]int
}

// most is how many different readings are told apart; a logged trim has some
// hundred.
const most = 4096

func (l *limits) add(v float64) {
	if v != v {
		return
	}
	if l.count == nil {
		l.count = map[float64]int{}
	}
	if l.count[v]++; len(l.count) > most {
		delete(l.count, v)
	}
}

// stands reports whether v is a limit on one side (sign).
func (l *limits) stands(v, sign float64) bool {
	if !(v*sign >= leastLimit) {
		return false
	}
	const near = 2.5 // %
	beside := 0
	for u, n := range l.count {
		switch d := (v - u) * sign; {
		case d < 0:
			return false // others went further
		case d > 0 && d < near:
			beside += n
		}
	}
	return l.count[v] >= 10 && l.count[v] > beside
}

// end is the furthest reading of a point on one side, and how often it was read.
type end struct {
	v float64
	n int
}

func (e *end) add(v, sign float64) {
	if v == v {
		e.join(end{v, 1}, sign)
	}
}

func (e *end) join(o end, sign float64) {
	switch {
	case o.n == 0:
	case e.n == 0 || o.v*sign > e.v*sign:
		*e = o
	case o.v == e.v:
		e.n += o.n
	}
}
