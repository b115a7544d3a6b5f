package cells

import "math"

// visit is one unbroken stay in one cell, for one channel, while it lasts.
type visit struct {
	start float64 // seconds, of its first sample
	first float64 // value of that
	n     float64 // Σ weight
	s     float64 // Σ weight·(value − first)
}

// add takes one sample of a weight above 0.
func (v *visit) add(now, x, weight float64) {
	if v.n == 0 {
		v.start, v.first = now, x
	}
	v.n += weight
	v.s += float64(weight * (x - v.first))
}

// spans are the seconds for which a cluster of visits stays open: visits of one
// cell that begin within that time of the cluster's first are one cluster. With
// the first, every visit is a cluster of its own. See [channel.errors].
var spans = [...]float64{0, 2, 8, 32, 128, 512}

// visitLog is what one log's visits add to a cell, while it is read. They come in
// one order; so the sums need not be exact, only what is added to the cell when
// the log ends. They are over what values are above the first: a mean far from
// zero takes no digits from a small variance.
type visitLog struct {
	first float64
	span  [len(spans)]spanLog
}

type spanLog struct {
	k          int64   // clusters that are closed
	nn, ns, ss float64 // as in [clusters]
	next       batch   // the cluster of the next span that is not closed yet; the last has none
}

// batch is a cluster of visits, which may be one.
type batch struct{ start, n, s float64 }

func (l *spanLog) add(b batch) {
	l.k++
	l.nn += float64(b.n * b.n)
	l.ns += float64(b.n * b.s)
	l.ss += float64(b.s * b.s)
}

// add adds a visit that is over.
func (l *visitLog) add(v visit) {
	if l.span[0].k == 0 {
		l.first = v.first
	}
	b := batch{v.start, v.n, v.s + float64(v.n*(v.first-l.first))}
	l.span[0].add(b)
	l.goOn(0, b)
}

// goOn puts a cluster of a span into the open one of the next span, or begins a
// new one. One that is over goes on from there.
func (l *visitLog) goOn(i int, b batch) {
	for ; i < len(spans)-1; i++ {
		o := &l.span[i].next
		if o.n > 0 && b.start >= o.start && b.start < o.start+spans[i+1] {
			o.n += b.n
			o.s += b.s
			return
		}
		b, *o = *o, b
		if b.n == 0 {
			return
		}
		l.span[i+1].add(b)
	}
}

// into ends the clusters that are open when the log ends, and adds everything
// to the cell.
func (l *visitLog) into(to *cell) {
	for i := range len(spans) - 1 {
		if b := l.span[i].next; b.n > 0 {
			l.span[i+1].add(b)
			l.goOn(i+1, b)
		}
	}
	to.visits += l.span[0].k
	for i := range l.span {
		from, k := &l.span[i], &to.cluster[i]
		k.k += from.k
		// With s above a·n: Σ n·(s + a·n), Σ (s + a·n)².
		a := l.first
		nn, ns, ss := double{high: from.nn}, double{high: from.ns}, double{high: from.ss}
		ns.addProduct(a, from.nn)
		ss.addProduct(2*a, from.ns)
		square := float64(a * a)
		ss.addProduct(square, from.nn)
		ss.addProduct(math.FMA(a, a, -square), from.nn)
		nn.into(&k.nn)
		ns.into(&k.ns)
		ss.into(&k.ss)
	}
}
