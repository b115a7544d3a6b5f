package cells

import (
	"math"
	"math/rand/v2"
	"testing"

	"calsplice/interp/cells/tally"
)

// A surface is fitted to all samples: where the truth is a bilinear surface it
// comes back from noisy samples, nearer than cell means, whose samples lie all
// over the cell; nodes without samples are marked; the errors cover the truth.
func TestSurface(t *testing.T) {
	x, y := upTo(t, "engine_speed", 8), upTo(t, "load", 6)
	truth := func(x, y float64) float64 { return 3 + .8*x - .5*y + .25*x*y }
	var off, offMean, n, covered float64
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 1))
		var log []sample
		px, py, e := 2., 2., 0.
		for range 6000 {
			px, py = min(max(px+.15*r.NormFloat64(), 0), 5), min(max(py+.1*r.NormFloat64(), 0), 3)
			e = .9*e + .4*r.NormFloat64()
			log = append(log, sample{0, px, py, []float64{truth(px, py) + e}})
		}
		d := document(t, fillSurface(t, true, x, y, Nearest, []string{"trim"}, log))
		for row := range 6 {
			for c := range 8 {
				at := func(s string) float64 { return d.Table("trim."+s).At(row, c) }
				if empty := c > 5 || row > 3; empty != (at("filled") == 1) {
					t.Fatalf("[%d, %d]: filled is %v, evidence there is %v", row, c, at("filled"), !empty)
				}
				if at("filled") == 1 || !(at("count") > 50) {
					continue
				}
				n++
				off += math.Pow(at("surface")-truth(float64(c), float64(row)), 2)
				offMean += math.Pow(at("mean")-truth(float64(c), float64(row)), 2)
				if math.Abs(at("surface")-truth(float64(c), float64(row))) <= tally.HalfInterval(at("surface_se"), folds) {
					covered++
				}
			}
		}
	}
	off, offMean = math.Sqrt(off/n), math.Sqrt(offMean/n)
	t.Logf("surface off by %.3f, means by %.3f, intervals cover %.1f %% of %.0f", off, offMean, 100*covered/n, n)
	if off > .75*offMean || covered/n < .88 || covered/n > .99 {
		t.Errorf("surface off by %.3f, means by %.3f, intervals cover %.1f %%", off, offMean, 100*covered/n)
	}
}

// With little smoothing asked for by the data, the surface is the least-squares
// one: on samples without noise it is the truth at every node that they
// determine, and along a curve too.
func TestSurfaceExact(t *testing.T) {
	var log []sample
	for i := range 4000 {
		v := 4 * math.Mod(float64(i)*.6180339887, 1)
		log = append(log, sample{0, v, 0, []float64{math.Abs(v-2) + 1}})
	}
	d := document(t, fillSurface(t, true, upTo(t, "engine_speed", 5), nil, Nearest, []string{"trim"}, log))
	for c := range 5 {
		if got, want := d.Table("trim.surface").At(0, c), math.Abs(float64(c)-2)+1; math.Abs(got-want) > 1e-3 {
			t.Errorf("surface at %d is %v, want %v", c, got, want)
		}
	}
	if one := document(t, fillSurface(t, true, upTo(t, "engine_speed", 1), nil, Nearest, []string{"trim"}, log)); math.Abs(one.Table("trim.surface").At(0, 0)-one.Table("trim.mean").At(0, 0)) > 1e-9 {
		t.Error("the surface of one breakpoint is not the mean")
	}
}
