package propose

import (
	"math"
	"testing"

	"calsplice/interp/lookup"
)

// TestBlocksJoin: past the bound, blocks of one operating point within a stretch of the
// drive are one: by hand, 1 % over two samples and 4 % over one are 2 %, what is read
// in one of them alone stands as it is, and what stood at a limit is added.
func TestBlocksJoin(t *testing.T) {
	nan := math.NaN()
	at := func(speed, battery float64) lookup.Point {
		return lookup.Point{Speed: speed, Manifold: 50, Battery: battery}
	}
	d := &settled{samples: 2000, length: 512, blocks: []block{
		{time: 3, after: 0, n: 2, at: at(1000, 14), trim: 0.01, rail: nan, spark: nan},
		{time: 5, after: 2, n: 1, at: at(2000, 14), trim: 0.09, rail: nan},
		{time: 7, after: 3, n: 1, at: at(1010, nan), trim: 0.04, rail: nan, spark: 20, limited: 1},
		{time: 9, after: 600, n: 1, at: at(1000, 13), trim: 0.05, rail: nan},
	}}
	to := d.joinWithin(d.length)
	if len(d.blocks) != 3 || len(to) != 4 || to[0] != 0 || to[1] != 1 || to[2] != 0 || to[3] != 2 {
		t.Fatalf("%d blocks, went to %v, want three and 0, 1, 0, 2", len(d.blocks), to)
	}
	b := d.blocks[0]
	if b.n != 3 || math.Abs(b.trim-0.02) > 1e-12 || b.at.Battery != 14 || b.spark != 20 || b.rail == b.rail || b.limited != 1 || b.time != 3 || math.Abs(b.at.Speed-3010.0/3) > 1e-9 {
		t.Errorf("joined: %+v", b)
	}
	if d.blocks[1].time != 5 || d.blocks[2].time != 9 {
		t.Errorf("others: %+v", d.blocks[1:])
	}
	if step(nan, 4) != step(nan, 7) || step(nan, 4) == step(0, 4) {
		t.Error("what is not known is not of one kind")
	}
}

// TestBlocksKeepTheirSums: however often they are joined, no sample is lost, and each
// record finds its block.
func TestBlocksKeepTheirSums(t *testing.T) {
	d := &settled{}
	n, trim := 0.0, 0.0
	where := []int{} // of block i, where it went
	for i := range 3 * mostBlocks {
		b := block{after: n, n: float64(1 + i%3), at: lookup.Point{Speed: 1000 + 150*float64(i%5), Manifold: 40}, trim: float64(i % 5)}
		d.blocks, d.samples = append(d.blocks, b), d.samples+b.n
		where = append(where, len(d.blocks)-1)
		n, trim = n+b.n, trim+b.n*b.trim
		if len(d.blocks) >= mostBlocks {
			to := d.coarsen()
			for k, w := range where {
				where[k] = to[w]
			}
			if len(d.blocks) > mostBlocks/2 {
				t.Fatalf("%d blocks are left", len(d.blocks))
			}
		}
	}
	for i := range d.blocks {
		n, trim = n-d.blocks[i].n, trim-d.blocks[i].n*d.blocks[i].trim
	}
	if n != 0 || math.Abs(trim) > 1e-6 {
		t.Errorf("%v samples and %v of trim are missing", n, trim)
	}
	for i, w := range where {
		if got := d.blocks[w].trim; got != float64(i%5) {
			t.Fatalf("block %d is found in one of trim %v", i, got)
		}
	}
}
