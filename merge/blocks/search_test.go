package blocks

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// blockTable is a map of rows × columns with a resolution, its values on it.
func blockTable(r *rand.Rand, rows, columns int, resolution, low, high float64) *tables.Table {
	f := tables.Fields{ID: "t", Unit: "deg", Resolution: resolution}
	f.X, f.Y = count(columns), count(rows)
	f.Values = make([]float64, rows*columns)
	for i := range f.Values {
		f.Values[i] = low + (high-low)*r.Float64()
	}
	return rounded(f)
}

func rounded(f tables.Fields) *tables.Table {
	t := tabletest.Must(tables.NewTable(f))
	for i, v := range f.Values {
		f.Values[i] = t.Round(v)
	}
	return tabletest.Must(tables.NewTable(f))
}

func count(n int) *tables.Axis {
	p := make([]float64, n)
	for i := range p {
		p[i] = float64(i)
	}
	return tabletest.Must(tables.NewAxis("load", "%", p))
}

func change(t *tables.Table, q rectangle, how func(float64) float64) *tables.Table {
	f := t.Fields()
	f.Values = append([]float64(nil), f.Values...)
	for r := q.r0; r <= q.r1; r++ {
		for c := q.c0; c <= q.c1; c++ {
			i := r*t.Columns() + c
			f.Values[i] = t.Clamp(t.Round(how(f.Values[i])))
		}
	}
	return tabletest.Must(tables.NewTable(f))
}

// hides is the tolerance of a table: half its resolution.
func hides(t *tables.Table) func(v, w float64) bool {
	return func(v, w float64) bool { return tables.SameBit(v, w) || math.Abs(v-w) < t.Tolerance() }
}

func find(a, b *tables.Table) ([]Block, []int) { return Find(a.Values(), b, hides(b)) }

// number of a block's rule, and its kind.
func (b Block) number() (float64, string) {
	switch {
	case b.Add != nil:
		return *b.Add, "add"
	case b.Factor != nil:
		return *b.Factor, "factor"
	case b.Set != nil:
		return *b.Set, "set"
	}
	return *b.Clamped, "clamp"
}

func (b Block) rectangle() rectangle {
	return rectangle{b.Rows[0], b.Rows[1], b.Columns[0], b.Columns[1]}
}

// TestBlocksFound: one rule on a rectangle is one block with just that number,
// wherever the rectangle stands and however the resolution rounds.
func TestBlocksFound(t *testing.T) {
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 2))
		rows, columns := 1+r.IntN(12), 1+r.IntN(12)
		q := rectangle{r.IntN(rows), 0, r.IntN(columns), 0}
		q.r1, q.c1 = q.r0+r.IntN(rows-q.r0), q.c0+r.IntN(columns-q.c0)
		if q.area() < 6 {
			continue
		}
		resolution := []float64{0, 0.01, 0.1}[r.IntN(3)]
		a := blockTable(r, rows, columns, resolution, 10, 60)
		kind, number := "factor", []float64{1.05, 0.93, 1.2, 0.5, 1.035}[r.IntN(5)]
		how := func(v float64) float64 { return v * number }
		if r.IntN(2) == 0 {
			kind, number = "add", []float64{2, -1.5, 0.3, -12}[r.IntN(4)]
			how = func(v float64) float64 { return v + number }
		}
		b := change(a, q, how)
		list, rest := find(a, b)
		ok := len(list) == 1 && len(rest) == 0 && list[0].rectangle() == q
		if ok {
			v, k := list[0].number()
			ok = k == kind && math.Abs(v-number) <= 1e-9
		}
		if !ok {
			t.Errorf("seed %d: %d × %d at %v, resolution %v, rule %v %v: found %s, rest %v", seed, rows, columns, q, resolution, kind, number, told(list), rest)
		}
	}
}

func told(list []Block) string {
	s := ""
	for _, b := range list {
		s += fmt.Sprintf("%s %s (%d changed, residual %v) ", b.Place(), b.Rule(""), b.Changed, b.Residual)
	}
	return s
}

func TestTwoBlocks(t *testing.T) {
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 3))
		a := blockTable(r, 10, 10, []float64{0, 0.1}[r.IntN(2)], 20, 60)
		p, q := rectangle{1, 4, 2, 5}, rectangle{5, 8, 4, 9}
		b := change(change(a, p, func(v float64) float64 { return v * 1.06 }), q, func(v float64) float64 { return v - 3 })
		list, rest := find(a, b)
		if len(list) != 2 || len(rest) != 0 || list[0].rectangle() != p || list[1].rectangle() != q {
			t.Errorf("seed %d: %s rest %v", seed, told(list), rest)
		}
	}
}

// TestNoBlocksInNoise: changes without a rule are told cell by cell.
func TestNoBlocksInNoise(t *testing.T) {
	cells := 0
	for seed := range uint64(100) {
		r := rand.New(rand.NewPCG(seed, 4))
		a := blockTable(r, 8, 8, 0.1, 10, 60)
		b := change(a, rectangle{0, 7, 0, 7}, func(v float64) float64 { return v * (0.8 + 0.4*r.Float64()) })
		list, _ := find(a, b)
		for _, f := range list {
			cells += f.Changed
		}
	}
	if cells > 100*64/50 {
		t.Errorf("%d of %d cells changed at random are told as blocks", cells, 100*64)
	}
}

// BenchmarkBlocks has one table whose every cell changed, by one rule and by
// none.
func BenchmarkBlocks(b *testing.B) {
	for _, n := range []int{250, 500, 1000} {
		r := rand.New(rand.NewPCG(1, 2))
		t := blockTable(r, n, n, 0.1, 10, 60)
		all := rectangle{0, n - 1, 0, n - 1}
		for name, u := range map[string]*tables.Table{
			"rule":  change(t, all, func(v float64) float64 { return v * 1.05 }),
			"noise": change(t, all, func(v float64) float64 { return v * (0.5 + r.Float64()) }),
		} {
			b.Run(fmt.Sprintf("%s/%d", name, n*n), func(b *testing.B) {
				for b.Loop() {
					find(t, u)
				}
			})
		}
	}
}

// TestManySmallBlocks: a table full of blocks of four cells, each with a sum of its
// own, is explained to its end: what looks for a larger block beside each takes
// nothing from what the search may cost.
func TestManySmallBlocks(t *testing.T) {
	const n = 100
	r := rand.New(rand.NewPCG(1, 2))
	f := tables.Fields{ID: "t", X: count(n), Y: count(n)}
	sums := make([]float64, n*n)
	for i := range sums {
		f.Values = append(f.Values, float64(r.IntN(4000))/8) // dyadic, so that sums are exact
		sums[i] = float64(1+r.IntN(700)) / 8
	}
	g := f
	g.Values = make([]float64, n*n)
	for i, v := range f.Values {
		g.Values[i] = v + sums[i/n/2*n+i%n/2]
	}
	list, loose := find(tabletest.Must(tables.NewTable(f)), tabletest.Must(tables.NewTable(g)))
	if len(list) < n*n/4-20 || len(list) > n*n/4 || len(loose) > 0 {
		t.Errorf("%d blocks, %d cells alone; want nearly %d, and none", len(list), len(loose), n*n/4)
	}
}

// TestBlockHas: a block holds its first and last row and column, in its table.
func TestBlockHas(t *testing.T) {
	b := Block{Table: "t", Rows: [2]int{1, 2}, Columns: [2]int{3, 5}}
	for _, c := range []struct {
		table       string
		row, column int
		has         bool
	}{{"t", 1, 3, true}, {"t", 2, 5, true}, {"t", 0, 3, false}, {"t", 3, 3, false}, {"t", 1, 2, false}, {"t", 1, 6, false}, {"u", 1, 3, false}} {
		if b.Has(c.table, c.row, c.column) != c.has {
			t.Errorf("%s [%d, %d]: %v", c.table, c.row, c.column, !c.has)
		}
	}
}
