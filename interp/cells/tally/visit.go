package tally

import (
	"math"

	"calsplice/interp/cells/exact"
)

// visit is one unbroken stay in one cell, for one channel; or a cluster of them.
type visit struct {
	start int64   // microseconds, of its first sample
	n     float64 // Σ weight
	s     float64 // Σ weight·(value − base), see [visitLog]
}

// microseconds of a time in seconds; 0 where there is no such number.
func microseconds(t float64) int64 {
	if us := float64(t*1e6) + 0.5; us > -1e18 && us < 1e18 {
		return int64(us)
	}
	return 0
}

// spans are the microseconds for which a cluster of visits stays open: visits of
// one cell that begin within that time of the cluster's first are one cluster.
// With the first, every visit is a cluster of its own. See [Errors].
var spans = [...]uint64{0, 2e6, 8e6, 32e6, 128e6, 512e6}

// visitLog is the visits of one cell, for one channel of one log, while it is
// read. They come in one order; so the sums need not be exact, only what is
// added to the cell when the log ends. They are over what values are above the
// cell's first, its base: a mean far from zero takes no digits from a small
// variance.
type visitLog struct {
	base float64
	stay int32 // that the open visit belongs to, −1 before the first
	open visit
	span [len(spans)]spanLog
}

type spanLog struct {
	k          int64   // clusters that are closed
	nn, ns, ss float64 // as in [clusters]
	open       visit   // the cluster of the next span; n is 0 without one
}

// none is before everything, so that no visit is within its span.
var none = visit{start: math.MinInt64 / 2}

func newVisitLog(base float64) visitLog {
	l := visitLog{base: base, stay: -1}
	for i := range l.span {
		l.span[i].open = none
	}
	return l
}

// add takes samples of the cell.
func (l *visitLog) add(list []sample) {
	stay, open, base := l.stay, l.open, l.base
	for i := range list {
		p := &list[i]
		if p.stay != stay {
			l.pass(open, 0)
			stay, open = p.stay, visit{start: microseconds(p.time)}
		}
		open.n += p.weight
		open.s += float64(p.weight * (p.value - base))
	}
	l.stay, l.open = stay, open
}

// pass takes a visit that is over, or a cluster, into a span, and what that closes into the next.
func (l *visitLog) pass(v visit, span int) {
	for ; span < len(spans) && v.n > 0; span++ {
		v = l.span[span].add(v, span)
	}
}

// add adds a cluster of a span, which the open one of the next span takes in or makes room
// for; it returns the one that it closes so, without n where there is none.
func (l *spanLog) add(v visit, span int) (closed visit) {
	l.k++
	l.nn += float64(v.n * v.n)
	l.ns += float64(v.n * v.s)
	l.ss += float64(v.s * v.s)
	if span+1 < len(spans) && uint64(v.start-l.open.start) >= spans[span+1] {
		closed, l.open = l.open, v
		return closed
	}
	l.open.n += v.n
	l.open.s += v.s
	return visit{}
}

// into gives everything to a cell that has no samples yet.
func (l *visitLog) into(to *Cell) {
	l.pass(l.open, 0)
	for i := range l.span { // nothing stays open
		l.pass(l.span[i].open, i+1)
	}
	base := l.base
	to.visits = l.span[0].k
	for i := range l.span {
		from, k := &l.span[i], &to.cluster[i]
		k.k = from.k
		// With s above base·n: Σ n·(s + base·n), Σ (s + base·n)².
		nn, ns, ss := exact.Double{High: from.nn}, exact.Double{High: from.ns}, exact.Double{High: from.ss}
		ns.AddProduct(base, from.nn)
		ss.AddProduct(2*base, from.ns)
		square := float64(base * base)
		ss.AddProduct(square, from.nn)
		ss.AddProduct(math.FMA(base, base, -square), from.nn)
		k.nn, k.ns, k.ss = nn.Num(), ns.Num(), ss.Num()
	}
}
