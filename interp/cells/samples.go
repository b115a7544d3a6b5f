package cells

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// whole is the weight of one whole sample in a cell's counts of values.
const whole = 1 << 20

// samples is what one log's samples of one channel add to the cells, whatever
// order they come in: how often each value occurred, and moments. A logger writes a
// channel in steps, so that its values are few: each gets a number when it is
// first seen, and a cell counts whole samples by that number; their moments
// follow from the counts. Where a channel has more than [distinct] values after
// all, the cells' own counts and moments take over.
type samples struct {
	counts  []counts  // by cell
	moments []moments // by cell
	values  []uint64  // their bits, by number
	table   []uint16  // hash table of the numbers, plus 1; nil once the values are too many
	// Most channels have few decimals: then thousandths are as good a hash as any,
	// and neighbours have places of their own.
	byThousandths bool
	numbered      [][]uint16 // by cell and number; what ran over is in the cell's counts and moments
	// Numbers wait in their cell until there are some, since the places where
	// they are counted are far apart in memory, and the processor fetches several
	// at once when nothing stands between.
	waiting []waiting
}

// moments are sums over the samples of a cell. A log's samples come in one order; so
// they need not be exact, only what is added to the cell when the log ends.
type moments struct {
	n, w2, x, q double  // Σ weight, Σ weight², Σ weight·value, Σ weight·value²
	min, max    float64 // +Inf and −Inf without samples
}

// add takes samples of one value, whose weights have the sum w and that of
// squares w2.
func (m *moments) add(v, w, w2 float64) {
	m.n.add(w)
	m.w2.add(w2)
	m.value(v, w)
}

// value is the part of add that depends on the value.
func (m *moments) value(v, w float64) {
	m.min, m.max = min(m.min, v), max(m.max, v)
	m.x.addProduct(w, v)
	square := float64(v * v)
	m.q.addProduct(w, square)
	m.q.low += float64(w * math.FMA(v, v, -square))
}

// into adds them to a cell that has no samples yet.
func (m *moments) into(to *cell) {
	to.min, to.max = m.min, m.max
	m.n.into(&to.sum[sumN])
	m.w2.into(&to.sum[sumW2])
	m.x.into(&to.sum[sumX])
	m.q.into(&to.sum[sumXX])
}

type waiting struct {
	n      int
	number [60]uint16
}

func newSamples(size int) *samples {
	s := &samples{counts: make([]counts, size), moments: make([]moments, size), byThousandths: true, table: make([]uint16, 256),
		numbered: make([][]uint16, size), waiting: make([]waiting, size)}
	for i := range s.moments {
		s.moments[i].min, s.moments[i].max = math.Inf(1), math.Inf(-1)
	}
	return s
}

// add takes those samples that are to be taken, each into its cell.
func (s *samples) add(cells []int, values []float64, take []bool) {
	cells, take = cells[:len(values)], take[:len(values)]
	table, known, waiting := s.table, s.values, s.waiting
	for i, v := range values {
		if !take[i] {
			continue
		}
		value := math.Float64bits(v + 0) // −0 + 0 is 0
		k := -1
		if s.byThousandths {
			k = int(table[thousandths(v)&uint64(len(table)-1)]) - 1
		}
		if k < 0 || known[k] != value {
			k = s.number(value)
			if table, known = s.table, s.values; k < 0 {
				s.count(cells[i], value, 1)
				continue
			}
		}
		w := &waiting[cells[i]]
		w.number[w.n] = uint16(k)
		if w.n++; w.n == len(w.number) {
			s.flush(cells[i])
		}
	}
}

// addWeighted takes a sample of a weight up to 1.
func (s *samples) addWeighted(cell int, v, weight float64) {
	if weight == 1 {
		s.add([]int{cell}, []float64{v}, []bool{true})
		return
	}
	s.counts[cell].add(v, uint64(weight*whole))
	s.moments[cell].add(v, weight, weight*weight)
}

// flush counts what waits in a cell.
func (s *samples) flush(cell int) {
	w := &s.waiting[cell]
	if w.n == 0 {
		return
	}
	count := s.numbered[cell]
	if len(count) < len(s.values) {
		count = append(count, make([]uint16, 1<<bits.Len(uint(len(s.values)))-len(count))...)
		s.numbered[cell] = count
	}
	for _, k := range w.number[:w.n] {
		if count[k]++; count[k] == 0 {
			s.count(cell, s.values[k], math.MaxUint16+1)
		}
	}
	w.n = 0
}

// count takes whole samples of one value.
func (s *samples) count(cell int, value uint64, times int) {
	s.counts[cell].addLater(value, uint64(times)*whole)
	s.moments[cell].add(math.Float64frombits(value), float64(times), float64(times))
}

// number is that of a value; −1 where there are too many.
func (s *samples) number(value uint64) int {
	if s.table == nil {
		return -1
	}
	i := s.find(value)
	if s.table[i] > 0 {
		return int(s.table[i]) - 1
	}
	if len(s.values) == distinct {
		s.settle()
		s.table, s.numbered, s.byThousandths = nil, nil, false
		return -1
	}
	s.values = append(s.values, value)
	s.table[i] = uint16(len(s.values))
	if 2*len(s.values) > len(s.table) {
		s.tabulate(2 * len(s.table))
	}
	return len(s.values) - 1
}

// find is the place of a value in the table, or the free one where it belongs.
func (s *samples) find(value uint64) uint64 {
	last := uint64(len(s.table) - 1)
	i := hash(value)
	if s.byThousandths {
		i = thousandths(math.Float64frombits(value))
	}
	i &= last
	for probes := 0; s.table[i] != 0 && s.values[s.table[i]-1] != value; probes++ {
		if probes == 16 && s.byThousandths {
			s.byThousandths = false
			s.tabulate(len(s.table))
			return s.find(value)
		}
		i = (i + 1) & last
	}
	return i
}

func thousandths(v float64) uint64 { return uint64(int64(v * 1000)) }

func (s *samples) tabulate(size int) {
	s.table = make([]uint16, size)
	for k, v := range s.values {
		s.table[s.find(v)] = uint16(k + 1)
	}
}

// settle brings what was counted by number into the cells' own counts.
func (s *samples) settle() {
	order := make([]int, len(s.values))
	for k := range order {
		order[k] = k
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(s.values[a], s.values[b]) })
	for cell := range s.numbered {
		s.flush(cell)
	}
	each(len(s.numbered), func(cell int) {
		count, different := s.numbered[cell], 0
		for _, c := range count {
			different += some(c)
		}
		if different == 0 {
			return
		}
		list, at := make([]slot, different+1), 0
		for _, k := range order {
			if k < len(count) {
				list[at] = slot{s.values[k], uint64(count[k]) * whole}
				at += some(count[k])
			}
		}
		list = list[:different]
		s.numbered[cell] = nil
		m, n := &s.moments[cell], uint64(0)
		for _, v := range list {
			m.value(math.Float64frombits(v.bits), float64(v.weight/whole))
			n += v.weight / whole
		}
		m.n.add(float64(n))
		m.w2.add(float64(n))
		s.counts[cell].merge(&counts{list: list})
	})
}

// some is 1 unless c is 0, without a branch: which values a cell has is not
// foreseeable.
func some(c uint16) int { return int((uint32(c) + math.MaxUint16) >> 16) }

// into adds what was counted to the cells of a channel.
func (s *samples) into(cells []*cell) {
	if s.table != nil {
		s.settle()
	}
	for at, c := range cells {
		if s.moments[at].n.high > 0 {
			s.moments[at].into(c)
			c.counts.merge(&s.counts[at])
		}
	}
}
