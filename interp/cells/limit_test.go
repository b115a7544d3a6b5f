package cells

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables/drivelog"
)

// Looking only at the instants that come near a limit finds what looking at
// each instant does.
func checkNear(t *rapid.T) {
	runs := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) [3]int {
		return [3]int{rapid.SampledFrom([]int{-12, -9, -7, 0, 7, 9, 12}).Draw(t, "trim"), rapid.IntRange(1, 40).Draw(t, "instants"), rapid.IntRange(0, 5).Draw(t, "gap")}
	}), 1, 12).Draw(t, "runs")
	limit := rapid.SampledFrom([]float64{0, 0, 9}).Draw(t, "limit")
	var f drivelog.Frame
	var trim drivelog.Column
	stretch := 0
	for _, run := range runs {
		if run[2] == 0 {
			stretch++
		}
		for range run[1] {
			f.Time, f.Stretch = append(f.Time, float64(f.N)/5), append(f.Stretch, stretch)
			trim.Value, trim.Fresh = append(trim.Value, float64(run[0])), append(trim.Fresh, true)
			f.N++
		}
	}
	size := rapid.IntRange(1, f.N).Draw(t, "frame")
	at := func(watch func(p *placer, f *drivelog.Frame)) float64 {
		g := newGrid(settings{}, mustAxis(&testing.T{}, "engine_speed", 1000), nil, []string{"short_trim_1"})
		p := placer{here: &locator{}, limits: newLimiter(limit, []uint8{1}, [4]int{0, -1, -1, -1}), take: [][]bool{slices.Repeat([]bool{true}, size)}}
		p.here.places, p.here.cell = 1, make([]int32, size)
		for from := 0; from < f.N; from += size {
			end := min(from+size, f.N)
			part := drivelog.Frame{N: end - from, Time: f.Time[from:end], Stretch: f.Stretch[from:end],
				Columns: []drivelog.Column{{Value: trim.Value[from:end], Fresh: trim.Fresh[from:end]}}}
			watch(&p, &part)
			p.stretch = part.Stretch[part.N-1]
		}
		p.limits.finish(g)
		return g.at(0, 0).sum[sumLimit].Float64()
	}
	last := 0
	want := at(func(p *placer, f *drivelog.Frame) {
		for i := range f.N {
			p.limits.next(f, i, f.Stretch[i] != last)
			last = f.Stretch[i]
			if p.limits.standing != 0 {
				p.limits.sample(0, 0, 1)
			}
		}
	})
	got := at(func(p *placer, f *drivelog.Frame) {
		for i := p.limits.from(f, 0); i < f.N; i = p.limits.from(f, i+1) {
			p.watch(f, i)
		}
	})
	if got != want {
		t.Errorf("%v samples at a limit, want %v", got, want)
	}
}

func TestNear(t *testing.T) { rapid.Check(t, checkNear) }
func FuzzNear(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkNear)) }

// TestTrimsBehind: each definition is looked at once, so that a chain of 60 sums,
// which would be gone through 2^60 times, ends.
func TestTrimsBehind(t *testing.T) {
	chain := []drivelog.Definition{{Name: "d0", Expr: "short_trim_2"}}
	for i := range 60 {
		d := chain[i].Name
		chain = append(chain, drivelog.Definition{Name: fmt.Sprintf("d%d", i+1), Expr: d + " + " + d})
	}
	for _, c := range []struct {
		channel string
		let     []drivelog.Definition
		want    uint8
	}{
		{"d60", chain, 0b0100},
		{"trim_1", chain, 0b0011},
		{"short_trim_1 + long_trim_2", nil, 0b1001},
		{"long_trim_1", []drivelog.Definition{{Name: "long_trim_1", Expr: "long_trim_1 * trim_2"}}, 0b1110},
		{"short_trim_1", []drivelog.Definition{{Name: "short_trim_1", Expr: "long_trim_1"}, {Name: "long_trim_1", Expr: "short_trim_1"}}, 0b0010},
		{"battery", nil, 0},
	} {
		if got := trimsBehind(c.channel, c.let); got != c.want {
			t.Errorf("%s: %04b, want %04b", c.channel, got, c.want)
		}
	}
}
