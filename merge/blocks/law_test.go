package blocks

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// Every changed cell stands in one block or is told by itself, and what a block
// says of its cells is so.
func lawBlocks(f tabletest.Failer, s tabletest.Source) {
	n := 1 + s.N(6)
	t := tables.Fields{ID: "t", Resolution: tabletest.Pick(s, tabletest.Resolutions), X: count(n), Y: count(1 + s.N(6))}
	if s.N(3) == 0 {
		t.Limits = &tables.Limits{Low: 0, High: 40}
	}
	t.Values = make([]float64, n*t.Y.Len())
	u := t
	u.Values = make([]float64, len(t.Values))
	k := tabletest.Pick(s, []float64{1.05, 2, 0.9, -1})
	for i := range t.Values {
		t.Values[i] = tabletest.Pick(s, tabletest.Near)
		u.Values[i] = t.Values[i]
		switch s.N(4) {
		case 0:
			u.Values[i] *= k
		case 1:
			u.Values[i] += k
		case 2:
			u.Values[i] = tabletest.Pick(s, []float64{40, 1.05, 7})
		}
		if math.IsInf(u.Values[i], 0) {
			u.Values[i] = 1
		}
	}
	a, b := tabletest.Must(tables.NewTable(t)), tabletest.Must(tables.NewTable(u))
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
			at := map[string]float64{"add": t.Values[i] + number, "factor": t.Values[i] * number}[name]
			if d := math.Abs(at - u.Values[i]); kinds[0] <= byFactor && b.Clamp(at) == at && d > 1.01*g.Residual+1e-9*math.Abs(at) {
				f.Fatalf("block %v is %v away from %v, %v → %v", told([]Block{g}), d, b.Place(i), t.Values[i], u.Values[i])
			}
		}
	}
	for i := range times {
		if !hidden(t.Values[i], u.Values[i]) && times[i] != 1 {
			f.Fatalf("%s %v → %v is told %d times: %s rest %v", b.Place(i), t.Values[i], u.Values[i], times[i], told(list), rest)
		}
	}
}

func TestBlocksLaw(t *testing.T) { tabletest.Always(t, 5_000, lawBlocks) }

func FuzzBlocks(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { lawBlocks(t, tabletest.Rapid(t)) }))
}
