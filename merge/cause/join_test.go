package cause

import (
	"math"
	"testing"

	"calsplice/interp/drive"
)

// TestLongDrivesKeepTheirSums: however often points were joined, a drive has the same
// samples, seconds and places, and each place the same means.
func TestLongDrivesKeepTheirSums(t *testing.T) {
	g := newGatherer()
	var samples, seconds float64
	trims := map[int]*drive.Mean{}
	for i := range 200_000 {
		trim := 2 + float64(i%7)
		s := &sample{clock: float64(5 * i), seconds: 1.5, speed: 1000 + 500*float64(i%4), manifold: 30 + 8*float64(i%3), trim: [2]float64{trim, none}, held: [2]float64{trim, none}}
		g.add(s)
		samples, seconds = samples+1, seconds+s.seconds
		cell := g.cell(s)
		if trims[cell] == nil {
			trims[cell] = &drive.Mean{}
		}
		trims[cell].Add(trim, 1)
	}
	points := g.finish()
	if len(points) > mostPoints || len(points) < mostPoints/4 {
		t.Errorf("%d points, want at most %d and not many less", len(points), mostPoints)
	}
	got := map[int]*[2]float64{}
	last := -1.0
	for _, p := range points {
		samples, seconds = samples-float64(p.Samples), seconds-p.Seconds
		if got[p.cell] == nil {
			got[p.cell] = new([2]float64)
		}
		got[p.cell][0] += float64(p.Samples) * p.Trim[0]
		got[p.cell][1] += float64(p.Samples)
		if p.clock < last {
			t.Fatalf("a point at %v s after one at %v", p.clock, last)
		}
		last = p.clock
	}
	if samples != 0 || math.Abs(seconds) > 1e-6 || len(got) != len(trims) {
		t.Errorf("%v samples and %v s are missing, %d places of %d", samples, seconds, len(got), len(trims))
	}
	for cell, want := range trims {
		if v := got[cell][0] / got[cell][1]; math.Abs(v-want.Value()) > 1e-9 {
			t.Errorf("place %d has a mean trim of %v, want %v", cell, v, want.Value())
		}
	}
}

// TestPointsJoin: two stretches at one place are as one of both, by hand: 2 % over two
// readings and 5 % over one are 3 %; a trim that moved by 4 % in one and not at all in
// the other moved by the mean square; the furthest reading counts as often as it was.
func TestPointsJoin(t *testing.T) {
	g := newGatherer()
	add := func(clock, trim, held float64) {
		g.add(&sample{clock: clock, seconds: 1, speed: 2000, manifold: 50, trim: [2]float64{trim, none}, held: [2]float64{held, none}})
	}
	add(0, 2, 8)
	add(1, 2, 9)
	add(11, 5, 9)
	a, b := g.points[0], g.points[1]
	var steep moving
	for i := range 5 {
		steep.add(float64(i), float64(i))
	}
	a.moving, b.moving = steep, moving{}
	for i := range 5 {
		b.moving.add(float64(i), 3)
	}
	own := a.moving.square()
	a.join(b)
	g.points = g.points[:1]
	if got := a.moving.square(); math.Abs(own-16) > 1e-9 || math.Abs(got-8) > 1e-9 {
		t.Errorf("a trim that moved by the root of %v is left with %v, want 16 and 8", own, got)
	}
	if p := g.finish()[0]; p.Samples != 3 || p.Seconds != 3 || math.Abs(p.Trim[0]-3) > 1e-12 || p.clock != 0 {
		t.Errorf("joined: %+v", p)
	}
	if high, low := a.ends[0][1], a.ends[0][0]; high != (end{9, 2}) || low != (end{8, 1}) {
		t.Errorf("ends %v and %v, want 8 once and 9 twice", low, high)
	}
}

// TestOtherLevelsWhileTheyServe: the less strict samples are let go when the strictest
// suffice, and not before.
func TestOtherLevelsWhileTheyServe(t *testing.T) {
	for _, row := range []struct {
		why     string
		seconds float64
		places  int
		alone   bool
	}{
		{"enough", enoughSeconds, enoughCells, true},
		{"too short", enoughSeconds - 1, enoughCells, false},
		{"too few places", enoughSeconds, enoughCells - 1, false},
	} {
		x := &Explainer{levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}}
		r := &reader{x: x}
		for i := range row.places {
			r.take(&sample{seconds: row.seconds / float64(row.places), speed: 2000, manifold: 20 + 8*float64(i), trim: [2]float64{1, none}, held: [2]float64{none, none}}, 0)
		}
		late := &sample{seconds: 0.1, speed: 2000, manifold: 20, trim: [2]float64{1, none}, held: [2]float64{none, none}}
		r.take(late, 0)
		r.take(late, 2)
		strict, loose := len(x.levels[0].points), len(x.levels[2].points)
		if want := row.places; strict != want || (loose == 0) != row.alone {
			t.Errorf("%s: %d settled points and %d of all, want %d, and others %v", row.why, strict, loose, want, !row.alone)
		}
	}
}
