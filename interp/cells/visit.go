package cells

import (
	"math"
	"slices"
)

// visit is one unbroken stay in one cell, for one channel; or a cluster of them.
type visit struct {
	start int64   // microseconds, of its first sample
	n     float64 // Σ weight
	s     float64 // Σ weight·(value − base), see [visits]
}

// microseconds of a time in seconds; 0 where there is no such number.
func microseconds(t float64) int64 {
	if us := float64(t*1e6) + 0.5; us > -1e18 && us < 1e18 {
		return int64(us)
	}
	return 0
}

// add takes one sample of a weight above 0, its value above the cell's base.
func (v *visit) add(now, above, weight float64) {
	if v.n == 0 {
		v.start = microseconds(now)
	}
	v.n += weight
	v.s += float64(weight * above)
}

// spans are the microseconds for which a cluster of visits stays open: visits of
// one cell that begin within that time of the cluster's first are one cluster.
// With the first, every visit is a cluster of its own. See [channel.errors].
var spans = [...]uint64{0, 2e6, 8e6, 32e6, 128e6, 512e6}

// visits are those of one channel in one log, while it is read. They come in
// one order; so the sums need not be exact, only what is added to the cells when
// the log ends. They are over what values are above the cell's first, its base:
// a mean far from zero takes no digits from a small variance.
type visits struct {
	base []float64   // by cell; NaN without samples
	logs []*visitLog // by cell; nil without visits

	open   visit // the stay that the last sample belongs to
	stay   int32
	cell   int32
	begins []int32   // room for [visits.add]: which sample each visit begins with
	sums   []float64 // and what s is after each sample
}

func newVisits(size int) *visits {
	return &visits{base: slices.Repeat([]float64{math.NaN()}, size), logs: make([]*visitLog, size), stay: -1}
}

// above is a value above the base of its cell.
func (v *visits) above(cell int, value float64) float64 {
	if v.base[cell] != v.base[cell] {
		v.base[cell] = value
	}
	return value - v.base[cell]
}

// add takes samples, each weighing whole on one cell.
func (v *visits) add(s samples) {
	n := len(s.value)
	if n == 0 {
		return
	}
	if len(v.sums) < n {
		v.begins, v.sums = make([]int32, n+1), make([]float64, n)
	}
	begun := v.sum(s)
	if begun == 0 {
		v.open.n, v.open.s = v.open.n+float64(n), v.sums[n-1]
		return
	}
	begins, sums := v.begins[:begun+1], v.sums[:n]
	if first := begins[0]; first > 0 {
		v.open.n, v.open.s = v.open.n+float64(first), sums[first-1]
	}
	v.over(v.cell, v.open)
	for i, at := range begins[:begun-1] {
		next := begins[i+1]
		v.over(s.cell[at], visit{microseconds(s.time[at]), float64(next - at), sums[next-1]})
	}
	last := begins[begun-1]
	v.stay, v.cell = s.stay[last], s.cell[last]
	v.open = visit{microseconds(s.time[last]), float64(n - int(last)), sums[n-1]}
}

// sum is how many visits begin among samples. It fills begins and sums.
func (v *visits) sum(s samples) (begun int) {
	n := len(s.value)
	cells, stays, begins, sums, base := s.cell[:n], s.stay[:n], v.begins[:n+1], v.sums[:n], v.base
	// Where a visit ends can't be foreseen, so that there is no branch for it: s
	// goes on times 1 or begins anew times 0.
	goOn := [2]float64{1, 0}
	stay, sum := v.stay, v.open.s
	for i, x := range s.value {
		begins[begun] = int32(i)
		other := 0
		if stays[i] != stay {
			other = 1
		}
		begun += other
		stay = stays[i]
		b := base[cells[i]]
		if b != b {
			b = x
			base[cells[i]] = x
		}
		sum = float64(sum*goOn[other&1]) + (x - b)
		sums[i] = sum
	}
	return begun
}

// over puts a visit that is over into its cell.
func (v *visits) over(cell int32, visit visit) {
	if visit.n == 0 {
		return
	}
	l := v.logs[cell]
	if l == nil {
		l = newVisitLog()
		v.logs[cell] = l
	}
	l.waiting[l.n] = visit
	if l.n++; l.n == many {
		l.join(false)
	}
}

// finish ends what is open when the log ends, and adds everything to the cells.
func (v *visits) finish(at func(cell int) *cell) {
	v.over(v.cell, v.open)
	v.open = visit{}
	for i, l := range v.logs {
		if l != nil {
			l.join(true)
			l.into(v.base[i], at(i))
		}
	}
}

// many is how many visits of a cell wait.
const many = 31

// visitLog is the visits of one cell. Those that are over wait until there are
// some, so that each span's clusters are made of many at a time.
type visitLog struct {
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

func newVisitLog() *visitLog {
	l := new(visitLog)
	for i := range l.span {
		l.span[i].open = none
	}
	return l
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
// list's own memory. As in [visits.sum] there is no branch.
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

// into adds everything to a cell, whose values were above a base.
func (l *visitLog) into(base float64, to *cell) {
	to.visits += l.span[0].k
	for i := range l.span {
		from, k := &l.span[i], &to.cluster[i]
		k.k += from.k
		// With s above base·n: Σ n·(s + base·n), Σ (s + base·n)².
		nn, ns, ss := double{high: from.nn}, double{high: from.ns}, double{high: from.ss}
		ns.addProduct(base, from.nn)
		ss.addProduct(2*base, from.ns)
		square := float64(base * base)
		ss.addProduct(square, from.nn)
		ss.addProduct(math.FMA(base, base, -square), from.nn)
		nn.into(&k.nn)
		ns.into(&k.ns)
		ss.into(&k.ss)
	}
}
