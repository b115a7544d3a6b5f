package tally

import (
	"math"
	"slices"

	"calsplice/interp/cells/exact"
)

// whole is the weight of one whole sample in a cell's counts of values.
const whole = 1 << 20

// Log is what one log's samples of one channel add to the cells. Samples wait until
// there are many; then they are dealt out to their cells, each of which takes its own
// in the log's order: in one tight loop, and on any processor.
type Log struct {
	cells          []*cellLog // nil without samples
	waiting, dealt []sample
	next           []int // by cell, how many wait for the one before
	shared         bool  // samples may weigh on several cells
}

// together are the samples that wait at least, but for a grid of more cells: enough that
// dealing them out costs nothing beside adding them, and few enough for a processor's
// second cache.
const together = 1 << 12

// sample is the share of a reading that weighs on one cell.
type sample struct {
	time, value, weight float64
	cell, stay          int32
}

// cellLog is what one log's samples add to one cell.
type cellLog struct {
	visits  visitLog
	counts  counts
	moments moments
}

// moments are sums over the samples of a cell. A log's samples come in one order; so
// they need not be exact, only what is added to the cell when the log ends.
type moments struct {
	n, w2, x, q exact.Double // Σ weight, Σ weight², Σ weight·value, Σ weight·value²
	min, max    float64      // +Inf and −Inf without samples
}

// add takes a sample. Its square is not rounded: one sample has no deviation, to the bit.
func (m *moments) add(v, w float64) {
	m.n.Add(w)
	m.w2.AddProduct(w, w)
	m.value(v, w)
}

// value is the part of add that depends on the value.
func (m *moments) value(v, w float64) {
	m.min, m.max = min(m.min, v), max(m.max, v)
	square := float64(v * v)
	low := math.FMA(v, v, -square)
	if w == 1 { // the products change nothing
		m.x.Add(v)
		m.q.Add(square)
		m.q.AddLow(low)
		return
	}
	m.x.AddProduct(w, v)
	m.q.AddProduct(w, square)
	m.q.AddLow(float64(w * low))
}

// take takes whole samples of values: their weights tell how many of each.
func (m *moments) take(list []slot) {
	if m == nil {
		return
	}
	count := uint64(0)
	for _, s := range list {
		m.value(math.Float64frombits(s.bits), float64(s.weight/whole))
		count += s.weight / whole
	}
	m.n.Add(float64(count))
	m.w2.Add(float64(count))
}

// takeWhole takes whole samples, by their bits: [moments.add] of weight 1, without the
// products that change nothing.
func (m *moments) takeWhole(samples []uint64) {
	if m == nil {
		return
	}
	x, q, low, high := m.x, m.q, m.min, m.max
	for _, bits := range samples {
		v := math.Float64frombits(bits)
		low, high = min(low, v), max(high, v)
		x.Add(v)
		square := float64(v * v)
		q.Add(square)
		q.AddLow(math.FMA(v, v, -square))
	}
	m.x, m.q, m.min, m.max = x, q, low, high
	m.n.Add(float64(len(samples)))
	m.w2.Add(float64(len(samples)))
}

// into adds them to a cell that has no samples yet.
func (m *moments) into(to *Cell) {
	to.min, to.max = m.min, m.max
	for i, sum := range [...]*exact.Double{sumN: &m.n, sumW2: &m.w2, sumX: &m.x, sumXX: &m.q} {
		to.sum[i] = sum.Num()
	}
}

// New is a log without samples yet, for a grid of so many cells.
func New(size int) *Log { return &Log{cells: make([]*cellLog, size), next: make([]int, size+1)} }

// Add takes those of many readings that are samples.
func (s *Log) Add(at *Shares, time, value []float64, take []bool) {
	s.shared = at.Weight != nil
	list := slices.Grow(s.waiting, len(at.Cell))
	for i, t := range take {
		if !t {
			continue
		}
		for k, end := i*at.Places, (i+1)*at.Places; k < end && at.Cell[k] >= 0; k++ {
			list = list[:len(list)+1]
			p := &list[len(list)-1]                                                                               // field by field: one literal would be made elsewhere and copied
			p.time, p.value, p.weight, p.cell, p.stay = time[i], value[i]+0, at.Weighs(k), at.Cell[k], at.Stay[k] // −0 is 0
			s.next[p.cell+1]++
		}
	}
	s.waiting = list
	if len(s.waiting) >= max(together, len(s.cells)) {
		s.deal()
	}
}

// deal deals the samples out that wait: a counting sort by cell.
func (s *Log) deal() {
	s.dealt = slices.Grow(s.dealt[:0], len(s.waiting))[:len(s.waiting)]
	for cell, n := range s.next[1:] {
		s.next[cell+1] = s.next[cell] + n
	}
	for i := range s.waiting {
		p := &s.waiting[i]
		s.dealt[s.next[p.cell]] = *p
		s.next[p.cell]++
	}
	// Now each stands behind its cell's samples, where the next cell's begin.
	Each(len(s.cells), func(cell int) {
		from := 0
		if cell > 0 {
			from = s.next[cell-1]
		}
		if list := s.dealt[from:s.next[cell]]; len(list) > 0 {
			if s.cells[cell] == nil {
				s.cells[cell] = newCellLog(list[0].value, s.shared)
			}
			s.cells[cell].add(list, s.shared)
		}
	})
	s.waiting = s.waiting[:0]
	clear(s.next)
}

// newCellLog is a cell without samples, the first of which has this value. Where
// every sample is a whole one, the moments follow from the counts.
func newCellLog(first float64, shared bool) *cellLog {
	l := &cellLog{visits: newVisitLog(first), moments: moments{min: math.Inf(1), max: math.Inf(-1)}}
	if !shared {
		l.counts.moments = &l.moments
	}
	return l
}

func (l *cellLog) add(list []sample, shared bool) {
	l.visits.add(list)
	l.counts.addSamples(list)
	if shared {
		for _, p := range list {
			l.moments.add(p.value, p.weight)
		}
	}
}

// Into gives everything to the cells of a channel, which have no samples yet.
func (s *Log) Into(to func(at int) *Cell) {
	s.deal()
	Each(len(s.cells), func(at int) {
		if l := s.cells[at]; l != nil {
			if l.counts.flush(); l.counts.level == 0 {
				l.counts.moments.take(l.counts.list)
			}
		}
	})
	for at, l := range s.cells {
		if l == nil {
			continue
		}
		c := to(at)
		l.visits.into(c)
		l.moments.into(c)
		c.counts.level, c.counts.list = l.counts.level, l.counts.list
	}
}
