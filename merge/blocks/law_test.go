package blocks

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
)

// source is where a generator gets its choices: rapid for what shrinks and
// fuzzes, a plain random source where ten thousand documents are wanted.
type source interface{ n(k int) int } // 0 … k−1

type rapidSource struct{ t *rapid.T }

func (s rapidSource) n(k int) int { return rapid.IntRange(0, k-1).Draw(s.t, "n") }

type randSource struct{ r *rand.Rand }

func (s randSource) n(k int) int { return s.r.IntN(k) }

func newRand(seed uint64) source { return randSource{rand.New(rand.NewPCG(seed, 1))} }

// pool has neighbours nearer than half of each resolution beside far ones, both
// zeros, and numbers at the ends of what a double holds.
var pool = []float64{0, math.Copysign(0, -1), 1, 1.04, 1.05, 1.06, 1.5, 2, -1.5, 40, 40.4, 40.6, 1e-300, -1e-300, 1e15, 1e300, 0.1, 0.3, 7, 7.0000000001}

var resolutions = []float64{0, 0, 0.01, 0.1, 1, 0.5}

func pick[T any](s source, from []T) T { return from[s.n(len(from))] }

type failer interface {
	Fatalf(format string, args ...any)
	Helper()
}

// always runs a law on shrinking examples, and on many more fast ones.
func always(t *testing.T, many int, law func(f failer, s source)) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) { law(t, rapidSource{t}) })
	for seed := range uint64(many) {
		law(t, newRand(seed))
	}
}

// Every changed cell stands in one block or is told by itself, and what a block
// says of its cells is so.
func lawBlocks(f failer, s source) {
	n := 1 + s.n(6)
	t := tables.Fields{ID: "t", Resolution: pick(s, resolutions), X: count(n), Y: count(1 + s.n(6))}
	if s.n(3) == 0 {
		t.Limits = &tables.Limits{Low: 0, High: 40}
	}
	t.Values = make([]float64, n*t.Y.Len())
	u := t
	u.Values = make([]float64, len(t.Values))
	k := pick(s, []float64{1.05, 2, 0.9, -1})
	for i := range t.Values {
		t.Values[i] = pick(s, pool)
		u.Values[i] = t.Values[i]
		switch s.n(4) {
		case 0:
			u.Values[i] *= k
		case 1:
			u.Values[i] += k
		case 2:
			u.Values[i] = pick(s, []float64{40, 1.05, 7})
		}
		if math.IsInf(u.Values[i], 0) {
			u.Values[i] = 1
		}
	}
	a, b := must(tables.NewTable(t)), must(tables.NewTable(u))
	list, rest := find(a, b)
	hidden := hides(b)
	if len(list) == 1 && len(rest) == 1 && list[0].rectangle().area() == 1 {
		rest = nil // a lone cell is both
	}
	times := make([]int, len(t.Values))
	for _, i := range rest {
		times[i]++
	}
	for _, g := range list {
		search, _ := newSearch(t.Values, b, hidden)
		search.half = max(search.half, 0.5) // a guess may allow the decimals shown
		for i := range search.each(g.rectangle()) {
			times[i]++
			number, name := g.number()
			kinds := map[string][]kind{"add": {byAdd}, "factor": {byFactor}, "set": {bySet}, "clamp": {byClampHigh, byClampLow}}[name]
			if !slices.ContainsFunc(kinds, func(k kind) bool { return search.explains(k, number, i) }) {
				f.Fatalf("block %v does not explain %v, %v → %v", told([]Block{g}), b.Place(i), t.Values[i], u.Values[i])
			}
		}
	}
	for i := range times {
		if !hidden(t.Values[i], u.Values[i]) && times[i] != 1 {
			f.Fatalf("%s %v → %v is told %d times: %s rest %v", b.Place(i), t.Values[i], u.Values[i], times[i], told(list), rest)
		}
	}
}

func TestBlocksLaw(t *testing.T) { always(t, 5_000, lawBlocks) }

func FuzzBlocks(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { lawBlocks(t, rapidSource{t}) }))
}
