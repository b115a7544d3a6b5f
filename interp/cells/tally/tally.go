package tally

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/cells/exact"
)

// whole is the weight of one whole sample in a cell's counts of values.
const whole = 1 << 20

// Log is what one log's samples of one channel add to the cells, whatever
// order they come in: how often each value occurred, and moments. A logger writes a
// channel in steps, so that its values are few: each gets a number when it is
// first seen, and a cell counts whole samples by that number; their moments
// follow from the counts. Where a channel has more than [distinct] values after
// all, the cells' own counts and moments take over.
type Log struct {
	visits  []*visitLog // by cell; nil without
	counts  []counts    // by cell
	moments []moments   // by cell
	values  []uint64    // an open hash table of the values' bits; nil once they are too many
	known   int         // values in it
	// Values times the scale are mostly whole numbers: then these are the best hash,
	// since a value and its neighbours are found, and counted, beside each other.
	scale float64 // 0 hashes the bits
	// By cell and number, the lower eight bits of the count and, where some count
	// has them, the higher ones: so the lower ones of many cells fit in a processor's
	// cache. What runs over is in the cell's counts and moments.
	low, high []*[places]uint8
}

const (
	places  = 2 * distinct
	noValue = 0x7ff8_dead_0000_0000 // NaN, where the table is free
)

// moments are sums over the samples of a cell. A log's samples come in one order; so
// they need not be exact, only what is added to the cell when the log ends.
type moments struct {
	n, w2, x, q exact.Double // Σ weight, Σ weight², Σ weight·value, Σ weight·value²
	min, max    float64      // +Inf and −Inf without samples
}

// add takes samples of one value, whose weights have the sum w and that of
// squares w2.
func (m *moments) add(v, w, w2 float64) {
	m.n.Add(w)
	m.w2.Add(w2)
	m.value(v, w)
}

// value is the part of add that depends on the value.
func (m *moments) value(v, w float64) {
	m.min, m.max = min(m.min, v), max(m.max, v)
	m.x.AddProduct(w, v)
	square := float64(v * v)
	m.q.AddProduct(w, square)
	m.q.AddLow(float64(w * math.FMA(v, v, -square)))
}

// into adds them to a cell that has no samples yet.
func (m *moments) into(to *Cell) {
	to.min, to.max = m.min, m.max
	m.n.Into(&to.sum[sumN])
	m.w2.Into(&to.sum[sumW2])
	m.x.Into(&to.sum[sumX])
	m.q.Into(&to.sum[sumXX])
}

// New is a log without samples yet, for a grid of so many cells.
func New(size int) *Log {
	s := &Log{visits: make([]*visitLog, size), counts: make([]counts, size), moments: make([]moments, size), low: make([]*[places]uint8, size), high: make([]*[places]uint8, size)}
	for i := range s.moments {
		s.moments[i].min, s.moments[i].max = math.Inf(1), math.Inf(-1)
	}
	s.rescale(1)
	return s
}

// Add takes those of many readings that are samples.
func (s *Log) Add(at *Shares, time, value []float64, take []bool) {
	s.visit(at, time, value, take)
	for i, t := range take {
		if !t {
			continue
		}
		v := value[i] + 0 // −0 is 0
		number := s.number(v)
		for k := i * at.Places; k < (i+1)*at.Places && at.Cell[k] >= 0; k++ {
			cell := at.Cell[k]
			if at.Weight != nil && at.Weight[k] != 1 {
				w := at.Weight[k]
				s.counts[cell].add(v, uint64(w*whole))
				s.moments[cell].add(v, w, w*w)
				continue
			}
			if number < 0 {
				s.countBits(int(cell), math.Float64bits(v), 1)
				continue
			}
			low := s.low[cell]
			if low == nil {
				low = new([places]uint8)
				s.low[cell] = low
			}
			if low[number%places]++; low[number%places] == 0 {
				s.carry(int(cell), number)
			}
		}
	}
}

// visit puts samples into the visits of their cells. Most often one follows the
// other in a cell.
func (s *Log) visit(at *Shares, time, value []float64, take []bool) {
	var l *visitLog
	last := int32(-1)
	for i, t := range take {
		if !t {
			continue
		}
		v := value[i] + 0 // −0 is 0
		for k := i * at.Places; k < (i+1)*at.Places && at.Cell[k] >= 0; k++ {
			if cell := at.Cell[k]; cell != last {
				last, l = cell, s.log(cell, v)
			}
			if l.stay != at.Stay[k] {
				l.begin(at.Stay[k], time[i])
			}
			w := at.Weighs(k)
			l.open.n += w
			l.open.s += float64(w * (v - l.base))
		}
	}
}

// log is the visits of a cell, made where there were none, with the value of the
// first sample.
func (s *Log) log(cell int32, v float64) *visitLog {
	l := s.visits[cell]
	if l == nil {
		l = newVisitLog(v)
		s.visits[cell] = l
	}
	return l
}

func (s *Log) carry(cell, number int) {
	high := s.high[cell]
	if high == nil {
		high = new([places]uint8)
		s.high[cell] = high
	}
	if high[number]++; high[number] == 0 {
		s.countBits(cell, s.values[number], math.MaxUint16+1)
	}
}

// number is the number of a value; −1 where there are too many.
func (s *Log) number(v float64) int {
	if s.values == nil {
		return -1
	}
	if s.scale > 0 {
		if k := scaled(v, s.scale); s.values[k] == math.Float64bits(v) {
			return k
		}
	}
	k := s.look(v)
	if k < 0 {
		s.settle()
		s.values = nil
	}
	return k
}

// scaled is the place for a value whose product with the scale is whole.
func scaled(v, scale float64) int {
	const above = 1 << 32 // rounds to the nearest instead of towards 0
	return int(uint64(int64(float64(v*scale)+(above+0.5))) % places)
}

// look is the number of a value that may be new; −1 where there are too many.
func (s *Log) look(v float64) int {
	value := math.Float64bits(v)
	k := s.find(value)
	if k >= 0 && s.values[k] == value {
		return k
	}
	if s.known == distinct {
		return -1
	}
	times := float64(v * s.scale)
	switch {
	case k < 0:
		s.rescale(0)
	case math.Abs(times-math.Round(times)) > 1e-6 && s.scale > 0 && s.scale < 1000:
		s.rescale(10 * s.scale)
	default:
		s.values[k] = value
		s.known++
		return k
	}
	return s.look(v)
}

// find is the place of a value in the table, or a free one where it belongs; −1
// where that is so far away that scaled values are a bad hash.
func (s *Log) find(value uint64) int {
	k := int(hash(value) % places)
	if s.scale > 0 {
		k = scaled(math.Float64frombits(value), s.scale)
	}
	for probes := 0; s.values[k] != noValue && s.values[k] != value; probes++ {
		if probes == 16 && s.scale > 0 {
			return -1
		}
		k = (k + 1) % places
	}
	return k
}

// rescale gives all values other numbers, and moves their counts.
func (s *Log) rescale(scale float64) {
	old := s.values
	s.values, s.scale = slices.Repeat([]uint64{noValue}, places), scale
	var moved [places]uint16 // by old number, the new one
	for k, v := range old {
		if v != noValue {
			to := s.find(v)
			if to < 0 {
				s.values = old
				s.rescale(0)
				return
			}
			s.values[to] = v
			moved[k] = uint16(to)
		}
	}
	for _, list := range [][]*[places]uint8{s.low, s.high} {
		for cell, from := range list {
			if from == nil {
				continue
			}
			to := new([places]uint8)
			for k, c := range from {
				if c > 0 {
					to[moved[k]] = c
				}
			}
			list[cell] = to
		}
	}
}

// countBits takes whole samples of one value.
func (s *Log) countBits(cell int, value uint64, times int) {
	s.counts[cell].addLater(value, uint64(times)*whole)
	s.moments[cell].add(math.Float64frombits(value), float64(times), float64(times))
}

// settle brings what was counted by number into the cells' own counts.
func (s *Log) settle() {
	var order []int
	for k, v := range s.values {
		if v != noValue {
			order = append(order, k)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(s.values[a], s.values[b]) })
	Each(len(s.low), func(cell int) {
		low, high := s.low[cell], s.high[cell]
		if low == nil {
			return
		}
		if high == nil {
			high = new([places]uint8)
		}
		different := 0
		for _, k := range order {
			different += some(low[k] | high[k])
		}
		list, at := make([]slot, different+1), 0 // and room for one that did not come
		for _, k := range order {
			list[at] = slot{s.values[k], (uint64(high[k])<<8 | uint64(low[k])) * whole}
			at += some(low[k] | high[k])
		}
		list = list[:different]
		m, n := &s.moments[cell], uint64(0)
		for _, v := range list {
			m.value(math.Float64frombits(v.bits), float64(v.weight/whole))
			n += v.weight / whole
		}
		m.n.Add(float64(n))
		m.w2.Add(float64(n))
		s.counts[cell].merge(&counts{list: list})
		s.low[cell], s.high[cell] = nil, nil
	})
}

// some is 1 unless c is 0, without a branch: which values a cell has is not
// foreseeable.
func some(c uint8) int { return int((uint32(c) + math.MaxUint8) >> 8) }

// Into adds everything to the cells of a channel.
func (s *Log) Into(to func(at int) *Cell) {
	s.settle()
	for at, l := range s.visits {
		if l != nil {
			c := to(at)
			l.into(c)
			s.moments[at].into(c)
			c.counts.merge(&s.counts[at])
		}
	}
}
