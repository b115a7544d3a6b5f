package cells

import (
	"math"
	"math/rand/v2"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/tally"
)

// drive is a made-up drive of true value 0 everywhere: an operating point that
// wanders through seven cells or jumps among them, and autocorrelated noise.
type drive struct {
	why  string
	rho  float64 // correlation of neighbouring samples, ten a second
	step float64 // of the random walk, in cells each sample; 0 jumps
	stay float64 // samples between jumps, on average
	n    int
}

func (d drive) log(seed uint64) []sample {
	r := rand.New(rand.NewPCG(seed, 77))
	p, e := r.Float64()*6, r.NormFloat64()/math.Sqrt(1-d.rho*d.rho)
	log := make([]sample, d.n)
	for i := range log {
		p += r.NormFloat64() * d.step
		switch {
		case d.step == 0 && r.Float64() < 1/d.stay:
			p = r.Float64()*7 - .5
		case p < -.5:
			p = -1 - p
		case p > 6.5:
			p = 13 - p
		}
		e = d.rho*e + r.NormFloat64()
		log[i] = sample{0, p, 0, []float64{e}}
	}
	return log
}

// The 95 % interval mean ± t(0.975, visits − 1)·se covers the true mean in 93 to
// 97 of 100 cells, whatever the autocorrelation, and however the operating
// point wanders: also where it wavers at the border of two cells, so that its
// visits are many, short and far from independent.
func TestCoverage(t *testing.T) {
	trials := 100
	if testing.Short() {
		trials = 40
	}
	x := logtest.Axis(t, "engine_speed", 0, 1, 2, 3, 4, 5, 6)
	for _, d := range []drive{
		{"slow wandering, a second's memory", .9, .05, 0, 9000},

		{"slow wandering, five seconds' memory", .98, .05, 0, 18000},
		{"long stays, few", .5, 0, 100, 6000},
		{"fast wandering, five seconds' memory", .98, .3, 0, 9000},
		{"a visit a sample", .9, 1, 0, 4000},
		{"jumps every two seconds", .9, 0, 20, 6000},
		{"jumps every five seconds, five seconds' memory", .98, 0, 50, 6000},
		{"no memory", 0, .3, 0, 6000},
	} {
		cells, covered := 0, 0
		for seed := range trials {
			doc := document(t, fill(t, x, nil, Nearest, []string{"trim"}, d.log(uint64(seed))))
			for c := range 7 {
				visits := doc.Table("trim.visits").At(0, c)
				if !(visits >= 2) {
					continue
				}
				cells++
				if math.Abs(doc.Table("trim.mean").At(0, c)) <= tally.HalfInterval(doc.Table("trim.se").At(0, c), visits) {
					covered++
				}
			}
		}
		share := float64(covered) / float64(cells)
		t.Logf("%-48s %.1f %% of %d", d.why, 100*share, cells)
		if low, high := .93, .97; !testing.Short() && (share < low || share > high) {
			t.Errorf("%s: the interval covers the truth in %.1f %% of %d cells, want 93 to 97", d.why, 100*share, cells)
		}
	}
}
