package knock

import (
	"math"
	"math/rand/v2"
	"testing"

	"calsplice/tables"
)

// TestRegionByBruteForce: the search for a region leaves most rectangles unfitted, and
// finds what a fit of each of them, without anything that saves time, finds.
func TestRegionByBruteForce(t *testing.T) {
	found := 0
	for seed := range uint64(60) {
		d, obs := randomNeeds(t, rand.New(rand.NewPCG(seed, 7)))
		sound := terms{{one, math.Inf(-1), -1, -2, 0}, {load, 0, 25, 3, .01}, {speed, -1, 1, 0, .1}, {heat, .1, .14, .12, 100}}
		got, want := d.best(obs, sound), bruteForce(d, obs, sound)
		if got.found() != want.found() || got.rect != want.rect || !(math.Abs(got.loss-want.loss) <= 1e-9*want.loss) && got.loss != want.loss ||
			math.Abs(got.share-want.share) > 1e-12 || got.height != want.height {
			t.Errorf("%d: %v loss %v share %v height %v, want %v %v %v %v", seed, got.rect, got.loss, got.share, got.height, want.rect, want.loss, want.share, want.height)
		}
		for k, v := range want.value {
			if math.Abs(v-got.value[k]) > 1e-9 {
				t.Errorf("%d: values %v, want %v", seed, got.value, want.value)
			}
		}
		if got.found() {
			found++
		}
	}
	if found < 40 {
		t.Errorf("a region in %d of 60 drives: too few to judge by", found)
	}
}

// TestNoNeedIsMore: the bounds of the needs by which rectangles are left out hold for
// whatever a fit finds.
func TestNoNeedIsMore(t *testing.T) {
	for seed := range uint64(20) {
		_, obs := randomNeeds(t, rand.New(rand.NewPCG(seed, 8)))
		m := newModel(obs, terms{{one, -4, -1, -2, 0}, {load, 0, 25, 3, .01}, {speed, -1, 1, 0, .1}, {heat, .1, .14, .12, 100}})
		least := 0.0
		for i := range m.goals {
			least += m.goals[i].past(m.most[i])
		}
		if m.fit(); least > m.loss*(1+rounding) || least == 0 {
			t.Errorf("%d: a loss of %v, said to be %v at least", seed, m.loss, least)
		}
		for i := range obs {
			if need := m.need(i); need > m.most[i]+1e-9 {
				t.Errorf("%d: a need of %v, said to be %v at most", seed, need, m.most[i])
			}
		}
	}
}

// randomNeeds is a table with a raised region, mostly, and what a drive heard on it.
func randomNeeds(t *testing.T, rng *rand.Rand) (*Drive, []observation) {
	t.Helper()
	rows, columns := 2+rng.IntN(4), 2+rng.IntN(5)
	axis := func(quantity, unit string, n int) *tables.Axis {
		var points []float64
		for i := range n {
			points = append(points, float64(100*(i+1)))
		}
		a, err := tables.NewAxis(quantity, unit, points)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	f := tables.Fields{ID: "spark.advance", Role: tables.SparkAdvance, Unit: "deg",
		X: axis(tables.EngineSpeed, "r/min", columns), Y: axis(tables.AirCharge, "mg", rows)}
	r0, c0 := rng.IntN(rows), rng.IntN(columns)
	raised := func(r, c int) bool { return r >= r0 && r <= r0+1 && c >= c0 && c <= c0+1 }
	for i := range rows * columns {
		v := 30 - 3*float64(i/columns) + 2*float64(i%columns)
		if raised(i/columns, i%columns) {
			v += 4 * rng.Float64()
		}
		f.Values = append(f.Values, v)
	}
	table, err := tables.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	d := &Drive{Table: table, bins: make([]Bin, 12)}
	var over []float64 // by bin: its share of the raised region
	for b := range d.bins {
		d.bins[b].Weight = make([]float64, rows*columns)
		r, c, fr, fc := rng.IntN(rows), rng.IntN(columns), rng.Float64(), rng.Float64()
		over = append(over, 0)
		for _, at := range [][3]float64{{0, 0, (1 - fr) * (1 - fc)}, {0, 1, (1 - fr) * fc}, {1, 0, fr * (1 - fc)}, {1, 1, fr * fc}} {
			row, column := min(r+int(at[0]), rows-1), min(c+int(at[1]), columns-1)
			d.bins[b].Weight[row*columns+column] += at[2]
			if raised(row, column) {
				over[b] += at[2]
			}
		}
	}
	var obs []observation
	for range 20 + rng.IntN(60) {
		o := observation{bin: rng.IntN(len(d.bins)), weight: 0.2 + rng.Float64(), load: 0.5 + rng.Float64()/2, speed: rng.Float64() - 0.5, heat: 30*rng.Float64() - 10}
		need := 6*over[o.bin] + 2*o.load - 2 + 0.1*o.heat + rng.NormFloat64()
		if o.heard = need > 1; o.heard {
			o.need = need
		} else {
			o.most = max(0, need+4*rng.Float64())
		}
		obs = append(obs, o)
	}
	return d, obs
}

// bruteForce fits every rectangle.
func bruteForce(d *Drive, obs []observation, sound terms) *regional {
	rows, columns := d.Table.Rows(), d.Table.Columns()
	total := 0.0
	for i := range obs {
		total += obs[i].weight
	}
	best := &regional{model: model{loss: math.Inf(1)}}
	for _, r := range d.rectangles() {
		heard := false
		c, share := make([]float64, len(obs)), 0.0
		for i := range obs {
			for row := range rows {
				for column := range columns {
					w := d.bins[obs[i].bin].Weight[row*columns+column]
					if row < r[0] || row > r[1] || column < r[2] || column > r[3] {
						continue
					}
					c[i] += w
					heard = heard || obs[i].heard && w > 0.3
				}
			}
			share += obs[i].weight * c[i]
		}
		if !heard || share > 0.7*total {
			continue
		}
		m := &regional{model: newModel(obs, sound).with(term{low: 0, high: 12, prior: 4}, c), rect: r, share: share / total, height: d.bump(r)}
		plainFit(&m.model)
		if m.loss *= worth(m.height); m.loss < best.loss {
			best = m
		}
	}
	return best
}

// plainFit is the fit's coordinate descent, written as it is said.
func plainFit(m *model) {
	m.value = nil
	for _, t := range m.terms {
		m.value = append(m.value, min(max(t.prior, t.low), t.high))
	}
	for range 40 {
		moved := 0.0
		for k, t := range m.terms {
			num, den := t.firm*(t.prior-m.value[k]), t.firm+1e-9
			for i := range m.goals {
				e, w := m.goals[i].miss(m.need(i))
				num += w * e * m.columns[k][i]
				den += w * m.columns[k][i] * m.columns[k][i]
			}
			next := min(max(m.value[k]+num/den, t.low), t.high)
			moved = max(moved, math.Abs(next-m.value[k]))
			m.value[k] = next
		}
		if moved < 1e-3 {
			break
		}
	}
	m.loss = 0
	for i := range m.goals {
		e, w := m.goals[i].miss(m.need(i))
		m.loss += w * e * e
	}
}
