package cells

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// frequencies is how often each value of one channel occurred in each cell,
// while a log is read. A logger writes a channel in steps, so that its values
// are few: each gets a number when it is first seen, and a cell counts by that
// number. Where a channel has more than [distinct] values after all, the cells'
// own counts take over.
type frequencies struct {
	cells  []counts
	values []uint64 // their bits, by number
	table  []uint16 // hash table of the numbers, plus 1; nil once the values are too many
	// Most channels have few decimals: then thousandths are as good a hash as any,
	// and neighbours have places of their own.
	byThousandths bool
	samples       [][]uint32 // by cell and number
	// Numbers wait in their cell until there are some, since the places where
	// they are counted are far apart in memory, and the processor fetches several
	// at once when nothing stands between.
	waiting []waiting
	flushed int
}

type waiting struct {
	n      int
	number [60]uint16
}

func newFrequencies(size int) *frequencies {
	return &frequencies{byThousandths: true, cells: make([]counts, size), table: make([]uint16, 256),
		samples: make([][]uint32, size), waiting: make([]waiting, size)}
}

// add counts those of some samples that are to be taken, each in its cell.
func (f *frequencies) add(cells []int, values []float64, take []bool) {
	for i, v := range values {
		if !take[i] {
			continue
		}
		value := math.Float64bits(v + 0) // −0 + 0 is 0
		k := -1
		if f.byThousandths {
			k = int(f.table[thousandths(v)&uint64(len(f.table)-1)]) - 1
		}
		if k < 0 || f.values[k] != value {
			if k = f.number(value); k < 0 {
				f.cells[cells[i]].addLater(value, whole)
				continue
			}
		}
		w := &f.waiting[cells[i]]
		w.number[w.n] = uint16(k)
		if w.n++; w.n == len(w.number) {
			f.flush(cells[i])
		}
	}
}

// addWeighted counts a sample of a weight in units of [whole].
func (f *frequencies) addWeighted(cell int, v float64, weight uint64) {
	if weight == whole {
		f.add([]int{cell}, []float64{v}, []bool{true})
	} else {
		f.cells[cell].add(v, weight)
	}
}

// flush counts what waits in a cell.
func (f *frequencies) flush(cell int) {
	w := &f.waiting[cell]
	if w.n == 0 {
		return
	}
	count := f.samples[cell]
	if len(count) < len(f.values) {
		count = append(count, make([]uint32, 1<<bits.Len(uint(len(f.values)))-len(count))...)
		f.samples[cell] = count
	}
	for _, k := range w.number[:w.n] {
		count[k]++
	}
	w.n = 0
	if f.flushed++; f.flushed == math.MaxUint32/len(w.number) {
		f.settle() // before a count can run over
	}
}

// number is that of a value; −1 where there are too many.
func (f *frequencies) number(value uint64) int {
	if f.table == nil {
		return -1
	}
	i := f.find(value)
	if f.table[i] > 0 {
		return int(f.table[i]) - 1
	}
	if len(f.values) == distinct {
		f.settle()
		f.table, f.samples, f.byThousandths = nil, nil, false
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
func (f *frequencies) find(value uint64) uint64 {
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

func (f *frequencies) tabulate(size int) {
	f.table = make([]uint16, size)
	for k, v := range f.values {
		f.table[f.find(v)] = uint16(k + 1)
	}
}

// settle brings what was counted by number into the cells' own counts.
func (f *frequencies) settle() {
	f.flushed = 0
	order := make([]int, len(f.values))
	for k := range order {
		order[k] = k
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(f.values[a], f.values[b]) })
	for cell := range f.samples {
		f.flush(cell)
	}
	each(len(f.samples), func(cell int) {
		count, n := f.samples[cell], 0
		for _, c := range count {
			if c > 0 {
				n++
			}
		}
		list := make([]slot, 0, n)
		for _, k := range order {
			if k < len(count) && count[k] > 0 {
				list = append(list, slot{f.values[k], uint64(count[k]) * whole})
			}
		}
		clear(count)
		f.cells[cell].merge(&counts{list: list})
	})
}

// into adds what was counted to the cells of a channel.
func (f *frequencies) into(cells []*cell) {
	if f.table != nil {
		f.settle()
	}
	for at := range f.cells {
		if list := f.cells[at].sorted(); len(list) > 0 {
			cells[at].counts.merge(&f.cells[at])
		}
	}
}
