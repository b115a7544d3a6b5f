package interp

import (
	"math/rand/v2"
	"testing"

	"calsplice/tables"
)

func benchTable(b *testing.B) *tables.Table {
	points := func(n int) []float64 {
		p := make([]float64, n)
		for i := range p {
			p[i] = float64(i*i) + 100*float64(i) // uneven
		}
		return p
	}
	values := make([]float64, 400)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range values {
		values[i] = r.Float64() * 100
	}
	return table(b, axis(b, "engine speed", "r/min", points(20)...), axis(b, "load", "%", points(20)...), 0, values...)
}

func spread(a *tables.Axis, n int) []float64 {
	p := make([]float64, n)
	for i := range p {
		p[i] = a.At(0) + (a.At(a.Len()-1)-a.At(0))*float64(i)/float64(n-1)
	}
	return p
}

// BenchmarkGrid reads a 20 × 20 table at 64 × 64 nodes.
func BenchmarkGrid(b *testing.B) {
	t := benchTable(b)
	x := brackets(t.X(), spread(t.X(), 64), Hold)
	y := brackets(t.Y(), spread(t.Y(), 64), Hold)
	var room []float64
	b.ReportAllocs()
	for b.Loop() {
		room = grid(room, t.Values(), t.Columns(), x, y)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(x)*len(y)), "ns/point")
}

// BenchmarkRandom reads a 20 × 20 table at random points.
func BenchmarkRandom(b *testing.B) {
	t := benchTable(b)
	s := NewSurface(t)
	r := rand.New(rand.NewPCG(3, 4))
	const n = 1 << 12
	var x, y [n]float64
	for i := range x {
		x[i] = t.X().At(19) * (1.1*r.Float64() - 0.05)
		y[i] = t.Y().At(19) * (1.1*r.Float64() - 0.05)
	}
	var sum float64
	b.ReportAllocs()
	for b.Loop() {
		for i := range x {
			sum += s.At(x[i], y[i])
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/point")
	_ = sum
}

// Reading a surface does not allocate.
func TestNoAllocation(t *testing.T) {
	x := axis(t, "x", "", 0, 1, 3)
	tab := table(t, x, x, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9)
	s := NewSurface(tab)
	var sum float64
	if n := testing.AllocsPerRun(100, func() { sum += s.At(1.5, 2.5) + s.At(-1, 9) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
