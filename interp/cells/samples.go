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
	f := &samples{counts: make([]counts, size), moments: make([]moments, size), byThousandths: true, table: make([]uint16, 256),
		numbered: make([][]uint16, size), waiting: make([]waiting, size)}
	for i := range f.moments {
		f.moments[i].min, f.moments[i].max = math.Inf(1), math.Inf(-1)
	}
	return f
}

// add counts those of some samples that are to be taken, each in its cell.
func (f *samples) add(cells []int, values []float64, take []bool) {
	cells, take = cells[:len(values)], take[:len(values)]
	table, known, waiting := f.table, f.values, f.waiting
	for i, v := range values {
		if !take[i] {
			continue
		}
		value := math.Float64bits(v + 0) // −0 + 0 is 0
		k := -1
		if f.byThousandths {
			k = int(table[thousandths(v)&uint64(len(table)-1)]) - 1
		}
		if k < 0 || known[k] != value {
			k = f.number(value)
			if table, known = f.table, f.values; k < 0 {
				f.count(cells[i], value, 1)
				continue
			}
		}
		w := &waiting[cells[i]]
		w.number[w.n] = uint16(k)
		if w.n++; w.n == len(w.number) {
			f.flush(cells[i])
		}
	}
}

// addWeighted takes a sample of a weight up to 1.
func (f *samples) addWeighted(cell int, v, weight float64) {
	if weight == 1 {
		f.add([]int{cell}, []float64{v}, []bool{true})
		return
	}
	f.counts[cell].add(v, uint64(weight*whole))
	f.moments[cell].add(v, weight, weight*weight)
}

// flush counts what waits in a cell.
func (f *samples) flush(cell int) {
	w := &f.waiting[cell]
	if w.n == 0 {
		return
	}
	count := f.numbered[cell]
	if len(count) < len(f.values) {
		count = append(count, make([]uint16, 1<<bits.Len(uint(len(f.values)))-len(count))...)
		f.numbered[cell] = count
	}
	for _, k := range w.number[:w.n] {
		if count[k]++; count[k] == 0 {
			f.count(cell, f.values[k], math.MaxUint16+1)
		}
	}
	w.n = 0
}

// count takes whole samples of one value.
func (f *samples) count(cell int, value uint64, times int) {
	f.counts[cell].addLater(value, uint64(times)*whole)
	f.moments[cell].add(math.Float64frombits(value), float64(times), float64(times))
}

// number is that of a value; −1 where there are too many.
func (f *samples) number(value uint64) int {
	if f.table == nil {
		return -1
	}
	i := f.find(value)
	if f.table[i] > 0 {
		return int(f.table[i]) - 1
	}
	if len(f.values) == distinct {
		f.settle()
		f.table, f.numbered, f.byThousandths = nil, nil, false
		return -1
	}
	f.values = append(f.values, value)
	f.table[i] = uint16(len(f.values))
	if 2*len(f.values) > len(f.table) {
		f.tabulate(2 * len(f.table))
	}
	return len(f.values) - 1
}

// find is the place of a value in the table, or the free one where it belongs.
func (f *samples) find(value uint64) uint64 {
	last := uint64(len(f.table) - 1)
	i := hash(value)
	if f.byThousandths {
		i = thousandths(math.Float64frombits(value))
	}
	i &= last
	for probes := 0; f.table[i] != 0 && f.values[f.table[i]-1] != value; probes++ {
		if probes == 16 && f.byThousandths {
			f.byThousandths = false
			f.tabulate(len(f.table))
			return f.find(value)
		}
		i = (i + 1) & last
	}
	return i
}

func thousandths(v float64) uint64 { return uint64(int64(v * 1000)) }

func (f *samples) tabulate(size int) {
	f.table = make([]uint16, size)
	for k, v := range f.values {
		f.table[f.find(v)] = uint16(k + 1)
	}
}

// settle brings what was counted by number into the cells' own counts.
func (f *samples) settle() {
	order := make([]int, len(f.values))
	for k := range order {
		order[k] = k
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(f.values[a], f.values[b]) })
	for cell := range f.numbered {
		f.flush(cell)
	}
	each(len(f.numbered), func(cell int) {
		count, different := f.numbered[cell], 0
		for _, c := range count {
			different += some(c)
		}
		if different == 0 {
			return
		}
		list, at := make([]slot, different+1), 0
		for _, k := range order {
			if k < len(count) {
				list[at] = slot{f.values[k], uint64(count[k]) * whole}
				at += some(count[k])
			}
		}
		list = list[:different]
		f.numbered[cell] = nil
		m, n := &f.moments[cell], uint64(0)
		for _, s := range list {
			m.value(math.Float64frombits(s.bits), float64(s.weight/whole))
			n += s.weight / whole
		}
		m.n.add(float64(n))
		m.w2.add(float64(n))
		f.counts[cell].merge(&counts{list: list})
	})
}

// some is 1 unless c is 0, without a branch: which values a cell has is not
// foreseeable.
func some(c uint16) int { return int((uint32(c) + math.MaxUint16) >> 16) }

// into adds what was counted to the cells of a channel.
func (f *samples) into(cells []*cell) {
	if f.table != nil {
		f.settle()
	}
	for at, c := range cells {
		if f.moments[at].n.high > 0 {
			f.moments[at].into(c)
			c.counts.merge(&f.counts[at])
		}
	}
}
