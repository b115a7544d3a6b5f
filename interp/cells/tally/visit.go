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

// many is how many visits of a cell wait.
const many = 31

// visitLog is the visits of one cell, for one channel of one log, while it is
// read. They come in one order; so the sums need not be exact, only what is
// added to the cell when the log ends. They are over what values are above the
// cell's first, its base: a mean far from zero takes no digits from a small
// variance. Visits that are over wait until there are some, so that each span's
// clusters are made of many at a time.
type visitLog struct {
	base    float64
	stay    int32 // that the open visit belongs to, −1 before the first
	open    visit
	n       int
	waiting [many + 1]visit // and room for the cluster that was open
	span    [len(spans)]spanLog
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
			l.open = open
			l.end()
			stay, open = p.stay, visit{start: microseconds(p.time)}
		}
		open.n += p.weight
		open.s += float64(p.weight * (p.value - base))
	}
	l.stay, l.open = stay, open
}

// end puts the open visit among those that wait.
func (l *visitLog) end() {
	if l.open.n == 0 {
		return
	}
	l.waiting[l.n] = l.open
	if l.n++; l.n == many {
		l.join(false)
	}
}

// join takes the visits that wait into the clusters of each span; end closes
// the open ones.
func (l *visitLog) join(end bool) {
	list := l.waiting[:l.n]
	l.n = 0
	for i := range l.span {
		next := uint64(math.MaxUint64)
		if i+1 < len(spans) {
			next = spans[i+1]
		}
		list = l.span[i].join(list, next)
		if end && l.span[i].open.n > 0 {
			list = append(list, l.span[i].open)
			l.span[i].open = none
		}
	}
}

// join adds clusters, and puts each into the open one of the next span or, where
// it is not within that, in its place. It returns those that were closed, in the
// list's own memory. Where a
// cluster ends can't be foreseen, so that there is no branch for it.
func (l *spanLog) join(list []visit, next uint64) []visit {
	goOn := [2]float64{0, 1}
	nn, ns, ss, open, closed := l.nn, l.ns, l.ss, l.open, 0
	for _, v := range list {
		nn += float64(v.n * v.n)
		ns += float64(v.n * v.s)
		ss += float64(v.s * v.s)
		list[closed] = open
		within := 0
		if uint64(v.start-open.start) < next {
			within = 1
			v.start = open.start
		}
		closed += 1 - within
		v.n += float64(open.n * goOn[within&1])
		v.s += float64(open.s * goOn[within&1])
		open = v
	}
	begun := 0
	if l.open.n == 0 && closed > 0 {
		begun = 1 // the first that was closed was none
	}
	l.k += int64(len(list))
	l.nn, l.ns, l.ss, l.open = nn, ns, ss, open
	return list[begun:closed]
}

// into gives everything to a cell that has no samples yet.
func (l *visitLog) into(to *Cell) {
	l.end()
	l.join(true)
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
