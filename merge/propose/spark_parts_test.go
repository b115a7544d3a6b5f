package propose

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/merge/cause/knock"
	"calsplice/tables"
)

// heardNothing is a drive without knock at 2000 r/min and 500 mg, where cell 4 alone sets
// the spark, and at 1500 r/min, where cells 3 and 4 do by halves.
func heardNothing(t *testing.T) *sparkDrive {
	t.Helper()
	cal := calWith(t, sparkTables(nil)...)
	l := newKnockLog("")
	l.hold(5, 2000, 500, 40, none, "")
	l.hold(5, 1500, 500, 40, none, "")
	d, err := knock.Read(context.Background(), cal, cal.Tables()[0], asLog(cal, l.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	opt := SparkDefaults()
	return &sparkDrive{d: d, target: cal.Tables()[0], opt: &opt, edit: true, corners: make([]corner, 6)}
}

// enoughKnock is what makes a cell free to be retarded.
func enoughKnock() corner {
	return corner{visits: 3, close: 3, readings: 9, seconds: 5, need: []float64{2, 2}}
}

// TestRetardThatPointsNeed: by hand, with a ridge of 0.02. Falling short counts in full,
// more than needed 0.15 of it, more than was there in quiet 0.1; less than that nothing.
func TestRetardThatPointsNeed(t *testing.T) {
	at := func(w3, w4 float64) []float64 { return []float64{0, 0, 0, w3, w4, 0} }
	for _, c := range []struct {
		why        string
		bound      float64
		free       []int
		points     []sparkPoint
		want3, to4 float64
	}{
		{"one", 5, []int{4}, []sparkPoint{{at(0, 1), 3, true, 1}}, 0, 3 / 1.02},
		{"two degrees a pass", 2, []int{4}, []sparkPoint{{at(0, 1), 3, true, 1}}, 0, 2},
		{"two visits", 5, []int{4}, []sparkPoint{{at(0, 1), 3, true, 2}}, 0, 6 / 2.02},
		{"half of the spark, its neighbour not free", 5, []int{4}, []sparkPoint{{at(0.5, 0.5), 1, true, 1}}, 0, 0.5 / 0.27},
		{"both free", 5, []int{3, 4}, []sparkPoint{{at(0.5, 0.5), 1, true, 1}}, 0.5 / 0.52, 0.5 / 0.52},
		{"none free", 5, nil, []sparkPoint{{at(0, 1), 3, true, 1}}, 0, 0},
		{"another needs less", 5, []int{4}, []sparkPoint{{at(0, 1), 3, true, 1}, {at(0, 1), 1, true, 1}}, 0, 3.15 / 1.17},
		{"quiet with less", 5, []int{4}, []sparkPoint{{at(0, 1), 3, true, 1}, {at(0, 1), 1, false, 1}}, 0, 3.1 / 1.12},
		{"quiet with more", 5, []int{4}, []sparkPoint{{at(0, 1), 3, true, 1}, {at(0, 1), 9, false, 1}}, 0, 3 / 1.02},
		{"elsewhere", 5, []int{4}, []sparkPoint{{at(1, 0), 3, true, 1}}, 0, 0},
	} {
		s := heardNothing(t)
		s.opt.Bound, s.points = c.bound, c.points
		for _, i := range c.free {
			s.corners[i] = enoughKnock()
		}
		if s.solve(); math.Abs(s.retard[3]-c.want3) > 0.01 || math.Abs(s.retard[4]-c.to4) > 0.01 || s.retard[0] != 0 {
			t.Errorf("%s: %.3f, want %.3f and %.3f at cells 3 and 4", c.why, s.retard, c.want3, c.to4)
		}
	}
}

// TestVerdictsOfKnock: each reason for which a cell keeps its advance of 14 deg, and just
// past it an edit. A correction goes to the nearest step of 0.25 deg where the bound lets it.
func TestVerdictsOfKnock(t *testing.T) {
	for _, c := range []struct {
		why  string
		how  func(s *sparkDrive, k *corner)
		want string
		to   float64
		free bool
	}{
		{"enough", func(*sparkDrive, *corner) {}, Proposed, 12, true},
		{"1.35 deg", func(s *sparkDrive, _ *corner) { s.retard[4] = 1.35 }, Proposed, 12.75, true},
		{"1.4 deg", func(s *sparkDrive, _ *corner) { s.retard[4] = 1.4 }, Proposed, 12.5, true},
		{"half of 2 deg", func(s *sparkDrive, _ *corner) { s.opt.Gain = 0.5 }, Proposed, 13, true},
		{"the smallest", func(s *sparkDrive, _ *corner) { s.retard[4] = 0.25 }, Proposed, 13.75, true},
		{"less", func(s *sparkDrive, _ *corner) { s.retard[4] = 0.24 }, Elsewhere, 14, true},
		{"not listened to", func(_ *sparkDrive, k *corner) { k.seconds = 0 }, NoSamples, 14, false},
		{"after lifts alone", func(_ *sparkDrive, k *corner) { k.visits, k.lifts, k.decays = 0, 1, true }, AfterLift, 14, false},
		{"a decay alone", func(_ *sparkDrive, k *corner) { k.visits, k.decays = 0, true }, Decaying, 14, false},
		{"nothing", func(_ *sparkDrive, k *corner) { k.visits = 0 }, NotPersistent, 14, false},
		{"no table's knock", func(s *sparkDrive, _ *corner) { s.edit = false }, NotPersistent, 14, false},
		{"4 % lean", func(_ *sparkDrive, k *corner) { k.lean, k.leanTime = 0.02, 0.5 }, Lean, 14, false},
		{"2 % lean", func(_ *sparkDrive, k *corner) { k.lean, k.leanTime = 0.01, 0.5 }, Proposed, 12, true},
		{"3 % lean", func(_ *sparkDrive, k *corner) { k.lean, k.leanTime = 0.03, 1 }, Proposed, 12, true},
		{"under a degree", func(_ *sparkDrive, k *corner) { k.need = []float64{0.9, 0.99} }, NotPersistent, 14, false},
		{"a degree", func(_ *sparkDrive, k *corner) { k.need = []float64{0.9, 1} }, Proposed, 12, true},
		{"one visit", func(_ *sparkDrive, k *corner) { k.visits = 1 }, FewVisits, 14, false},
		{"two", func(_ *sparkDrive, k *corner) { k.visits = 2 }, Proposed, 12, true},
		{"two where three are asked for", func(s *sparkDrive, k *corner) { k.visits, s.opt.MinVisits = 2, 3 }, FewVisits, 14, false},
		{"one where one is asked for", func(s *sparkDrive, k *corner) { k.visits, s.opt.MinVisits = 1, 1 }, FewVisits, 14, false},
		{"twice close", func(_ *sparkDrive, k *corner) { k.close = 2 }, Unplaced, 14, false},
	} {
		s := heardNothing(t)
		s.retard = []float64{0, 0, 0, 0, 2, 0}
		s.corners[4] = enoughKnock()
		c.how(s, &s.corners[4])
		if got := s.judge(4); got.Verdict != c.want || got.To != c.to || got.At != [2]int{1, 1} || got.From != 14 {
			t.Errorf("%s: %v to %v, %s; want %v, %s", c.why, got.From, got.To, got.Verdict, c.to, c.want)
		}
		if got := s.refuses(4) == ""; got != c.free {
			t.Errorf("%s: free %v", c.why, got)
		}
		if got, want := s.proposes(), s.retard[4] >= 0.25; got != want {
			t.Errorf("%s: proposes %v", c.why, got)
		}
	}
}

// TestVisitsOfACorner: knock is one visit until three seconds without; a visit is close
// where a quarter of the spark or more is the cell's and knock was heard, not only held.
func TestVisitsOfACorner(t *testing.T) {
	nan := math.NaN()
	stay := func(log int, start, need float64) knock.Stay {
		s := knock.Stay{Log: log, Start: start, Seconds: 2, Readings: 20, Lean: nan}
		s.Need = need
		return s
	}
	held := stay(0, 30, nan)
	held.Held, held.Mean = true, 2.5
	quietly := func(peak float64) knock.Stay {
		s := stay(0, 20, nan)
		s.Peak = peak
		return s
	}
	lean := stay(0, 0, 2)
	lean.Lean = 0.04
	for _, c := range []struct {
		why           string
		stays         []knock.Stay
		weight        float64
		visits, close int
		need          []float64
		decays        bool
		lean          float64
	}{
		{"one", []knock.Stay{stay(0, 0, 2)}, 0.25, 1, 1, []float64{2}, false, nan},
		{"with little of the spark", []knock.Stay{stay(0, 0, 2)}, 0.24, 1, 0, []float64{2}, false, nan},
		{"3 s later", []knock.Stay{stay(0, 0, 2), stay(0, 5, 3)}, 0.5, 1, 1, []float64{2, 3}, false, nan},
		{"3.1 s later", []knock.Stay{stay(0, 0, 2), stay(0, 5.1, 3)}, 0.5, 2, 2, []float64{2, 3}, false, nan},
		{"in another log", []knock.Stay{stay(0, 0, 2), stay(1, 1, 3)}, 0.5, 2, 2, []float64{2, 3}, false, nan},
		{"held", []knock.Stay{held}, 0.5, 1, 0, []float64{2.5}, false, nan},
		{"in quiet with 1.1 deg", []knock.Stay{quietly(1.1)}, 0.5, 0, 0, nil, true, nan},
		{"in quiet with 1 deg", []knock.Stay{quietly(1)}, 0.5, 0, 0, nil, false, nan},
		{"lean", []knock.Stay{lean, stay(0, 2, 2)}, 0.5, 1, 1, []float64{2, 2}, false, 0.04},
	} {
		var k corner
		for i := range c.stays {
			k.add(&c.stays[i], c.weight)
		}
		if k.visits != c.visits || k.close != c.close || !slices.Equal(k.need, c.need) || k.decays != c.decays || !agree(k.lean1(), c.lean) ||
			k.readings != 20*len(c.stays) || k.seconds != 2*float64(len(c.stays)) {
			t.Errorf("%s: %+v", c.why, k)
		}
	}
}

// TestPointsOfADrive: where knock was heard four of five visits must be held, and counted
// up to five times; in quiet the least at which it was, where half a second was listened.
func TestPointsOfADrive(t *testing.T) {
	s := heardNothing(t)
	bin := s.d.Stays[0].Bin
	stay := func(seconds, need, quiet float64) knock.Stay {
		st := knock.Stay{Bin: bin, Seconds: seconds, Lean: math.NaN()}
		st.Need, st.Quiet = need, quiet
		return st
	}
	nan := math.NaN()
	for _, c := range []struct {
		why   string
		stays []knock.Stay
		want  []sparkPoint // but for their weights
		most  float64
	}{
		{"heard", []knock.Stay{stay(1, 2, 9)}, []sparkPoint{{nil, 2, true, 1}}, 2},
		{"one of five over", []knock.Stay{stay(1, 1, 9), stay(1, 5, 9), stay(1, 2, 9), stay(1, 4, 9), stay(1, 3, 9)}, []sparkPoint{{nil, 4, true, 5}}, 5},
		{"six times", slices.Repeat([]knock.Stay{stay(1, 2, 9)}, 6), []sparkPoint{{nil, 2, true, 5}}, 2},
		{"quiet", []knock.Stay{stay(1, nan, 3), stay(0.5, nan, 1), stay(1, nan, 2)}, []sparkPoint{{nil, 1, false, 1}}, 0},
		{"quiet for too short", []knock.Stay{stay(1, nan, 3), stay(0.4, nan, 1)}, []sparkPoint{{nil, 3, false, 1}}, 0},
		{"only too short", []knock.Stay{stay(0.4, nan, 1)}, nil, 0},
		{"heard and quiet", []knock.Stay{stay(1, nan, 1), stay(1, 2, 9)}, []sparkPoint{{nil, 2, true, 1}}, 2},
	} {
		s.d.Stays, s.points = c.stays, nil
		s.gather()
		same := len(s.points) == len(c.want)
		for i := range c.want {
			same = same && s.points[i].need == c.want[i].need && s.points[i].heard == c.want[i].heard && s.points[i].counts == c.want[i].counts && s.points[i].weight[4] > 0.999
		}
		if !same || s.corners[4].most != c.most || s.corners[3].seconds != 0 {
			t.Errorf("%s: %+v, most %v; want %+v, %v", c.why, s.points, s.corners[4].most, c.want, c.most)
		}
	}
}

// TestQuantileIsAValueOfTheList: at a share of a list, rounded up.
func TestQuantileIsAValueOfTheList(t *testing.T) {
	for _, c := range []struct {
		list  []float64
		share float64
		want  float64
	}{{[]float64{3}, 0.8, 3}, {[]float64{3, 1}, 0.8, 3}, {[]float64{5, 3, 1, 2, 4}, 0.8, 4}, {[]float64{5, 3, 1, 2, 4}, 0.95, 5}} {
		if got := quantile(c.list, c.share); got != c.want {
			t.Errorf("%v at %v: %v, want %v", c.list, c.share, got, c.want)
		}
	}
}

// TestFallbackIsRoundedDown: what a controller blends towards has no more advance than the
// edited table, in steps of its own.
func TestFallbackIsRoundedDown(t *testing.T) {
	for _, c := range []struct{ resolution, was, want float64 }{{0.5, 13, 12.5}, {0.5, 12.5, 12.5}, {0.25, 12.75, 12.75}, {0.25, 13, 12.75}, {0, 13, 12.75}, {2, 14, 12}} {
		f := sparkTables([]float64{0, 0, 0, 0, c.was, 0})
		f[1].Resolution = c.resolution
		cal := calWith(t, f...)
		r := &Report{Cells: make([]Cell, 6)}
		for i, v := range cal.Tables()[0].Values() {
			r.Cells[i] = Cell{From: v, To: v}
		}
		r.Cells[4].To, r.Cells[4].Verdict = 12.75, Proposed
		if err := r.fallback(cal, cal.Tables()[0]); err != nil {
			t.Fatal(err)
		}
		got := c.was
		for _, cell := range r.Cells[6:] {
			if got = cell.To; cell.At != [2]int{1, 1} || cell.From != c.was || cell.Table != "spark.fallback" || cell.Verdict != Inferred || !strings.Contains(cell.Note, "nowhere has more advance than spark.advance") {
				t.Errorf("%+v: %+v", c, cell)
			}
		}
		if got != c.want || (len(r.Cells) == 7) != (c.want != c.was) {
			t.Errorf("%+v: %v in %d cells", c, got, len(r.Cells))
		}
	}
}

// TestFallbackOnOtherAxes: the fallback is held to the edited table at its own breakpoints,
// in its own units. Where there is no comparing, a caution says so and nothing is lowered.
func TestFallbackOnOtherAxes(t *testing.T) {
	speed, load := axis("engine speed", "r/min", 1000, 3000), axis("load", "%", 20, 80)
	advance := tables.Fields{ID: "spark.advance", Role: tables.SparkAdvance, Unit: "deg", X: speed, Y: load, Values: []float64{10, 20, 30, 41}}
	for _, c := range []struct {
		why     string
		t       tables.Fields
		want    string // of the cells that are lowered
		caution string
	}{
		{"between the breakpoints", tables.Fields{Unit: "deg", X: axis("engine speed", "krpm", 1, 2), Y: axis("load", "%", 20, 50, 80), Values: []float64{9, 16, 21, 24, 30, 36}}, "15 20 35", ""},
		{"a curve", tables.Fields{Unit: "deg", X: speed, Values: []float64{50, 50}}, "", "see that it nowhere has more advance (one has an axis that the other has not)"},
		{"along another axis", tables.Fields{Unit: "deg", X: speed, Y: axis("manifold pressure", "kPa", 20, 80), Values: []float64{50, 50, 50, 50}}, "", "see that it nowhere has more advance"},
		{"down to its limit", tables.Fields{Unit: "deg", X: speed, Y: load, Limits: &tables.Limits{Low: 12, High: 60}, Values: []float64{15, 20, 30, 40}}, "12", "spark.fallback [0, 0], engine speed 1000 r/min, load 20 %, keeps 12 deg, more advance than spark.advance there: the limits of spark.fallback allow no less"},
		{"below its limit already", tables.Fields{Unit: "deg", X: speed, Y: load, Limits: &tables.Limits{Low: 12, High: 60}, Values: []float64{11, 20, 30, 40}}, "", "keeps 11 deg"},
		{"in another unit", tables.Fields{Unit: "rad", X: speed, Y: load, Values: []float64{50, 50, 50, 50}}, "", `see that it nowhere has more advance (unit "rad" is not known`},
	} {
		c.t.ID, c.t.Role = "spark.fallback", tables.SparkFallback
		cal := calWith(t, advance, c.t)
		r := &Report{Cells: []Cell{{From: 10, To: 10}, {From: 20, To: 20}, {From: 30, To: 30}, {From: 41, To: 40}}}
		if err := r.fallback(cal, cal.Tables()[0]); err != nil {
			t.Fatal(err)
		}
		var lowered []string
		for _, cell := range r.Cells[4:] {
			lowered = append(lowered, fmt.Sprintf("%.4g", cell.To))
		}
		if got := strings.Join(lowered, " "); got != c.want || !strings.Contains(strings.Join(r.Cautions, "\n"), c.caution) || (len(r.Cautions) > 0) != (c.caution != "") {
			t.Errorf("%s: lowered to %s, want %s; %q", c.why, got, c.want, r.Cautions)
		}
	}
	curve := tables.Fields{ID: "spark.advance", Role: tables.SparkAdvance, Unit: "deg", X: speed, Values: []float64{10, 20}}
	cal := calWith(t, curve, tables.Fields{ID: "spark.fallback", Role: tables.SparkFallback, Unit: "deg", X: speed, Y: load, Values: []float64{50, 50, 50, 50}})
	r := &Report{Cells: []Cell{{From: 10, To: 9}, {From: 20, To: 20}}}
	if err := r.fallback(cal, cal.Tables()[0]); err != nil || len(r.Cells) != 2 || len(r.Cautions) != 1 {
		t.Errorf("a map beside a curve: %v, %+v", err, r)
	}
}

// TestRetardedTowardsWhatItWas: never more than asked for, within the limits.
func TestRetardedTowardsWhatItWas(t *testing.T) {
	f := sparkTables(nil)[:1]
	table := calWith(t, f...).Tables()[0]
	for _, c := range []struct {
		from, degrees, to float64
		verdict           string
	}{{14, 1.4, 12.75, Proposed}, {14, 1.25, 12.75, Proposed}, {14, 0.2, 14, NoAdvance}, {-9, 2, -10, Proposed}, {-10, 2, -10, NoAdvance}} {
		if to, verdict := retarded(table, c.from, c.degrees); to != c.to || verdict != c.verdict {
			t.Errorf("%v less %v: %v, %s", c.from, c.degrees, to, verdict)
		}
	}
}

// TestSparkSaysWhatToCheck: what makes an engine knock stands with edits, and not without; one
// document of cells needs no other.
func TestSparkSaysWhatToCheck(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, c := range []struct {
		p95  float64
		next int
	}{{3, 2}, {0.5, 0}} {
		cells := make([]Evidence, 6)
		cells[4] = retard(1.5, c.p95, 4)
		p, err := Spark(&Input{Cal: cal, Cells: []*tables.Calibration{cellsOn(t, cal.Tables()[0], "knock_retard", cells)}, Options: SparkDefaults()})
		if err != nil {
			t.Fatal(err)
		}
		if next := p.Report.Next; len(next) != c.next || len(next) > 0 && !strings.HasPrefix(next[0], "before applying, check what makes an engine knock") {
			t.Errorf("%v deg: next %q", c.p95, next)
		}
	}
	if _, err := Spark(&Input{Cal: cal, Options: SparkDefaults()}); err == nil {
		t.Error("no cells at all are taken")
	}
}

// TestWhatCountsHide: a single visit with 3 deg and a lean cell are named by their places, and
// a step of more than 3 deg between neighbours that the edits make larger by more than 1.5,
// along a row and down a column, but not from one row's end to the next row.
func TestWhatCountsHide(t *testing.T) {
	level := []float64{20, 20, 20, 20, 20, 20}
	for _, c := range []struct {
		why      string
		from, to []float64
		want     []string // of the steps
	}{
		{"none", level, level, nil},
		{"3 deg", level, []float64{17, 17, 17, 20, 20, 20}, nil},
		{"down a column", level, []float64{20, 20, 16.75, 20, 20, 16.5}, []string{
			"3.2 deg (was 0.0) between engine speed 2000 r/min, air charge 200 mg and engine speed 3000 r/min, air charge 200 mg",
			"3.5 deg (was 0.0) between engine speed 2000 r/min, air charge 500 mg and engine speed 3000 r/min, air charge 500 mg"}},
		{"one cell", level, []float64{16, 20, 20, 20, 20, 20}, []string{
			"4.0 deg (was 0.0) between engine speed 1000 r/min, air charge 200 mg and engine speed 2000 r/min, air charge 200 mg",
			"4.0 deg (was 0.0) between engine speed 1000 r/min, air charge 200 mg and engine speed 1000 r/min, air charge 500 mg"}},
		{"from a step of 8 to one of 9.5", []float64{28, 20, 20, 28, 20, 20}, []float64{28, 18.5, 18.5, 28, 18.5, 18.5}, nil},
		{"to one of 9.75", []float64{28, 20, 20, 28, 20, 20}, []float64{28, 18.25, 18.25, 28, 18.25, 18.25}, []string{
			"9.8 deg (was 8.0) between engine speed 1000 r/min, air charge 200 mg and engine speed 2000 r/min, air charge 200 mg",
			"9.8 deg (was 8.0) between engine speed 1000 r/min, air charge 500 mg and engine speed 2000 r/min, air charge 500 mg"}},
	} {
		s := heardNothing(t)
		r := &Report{Cells: make([]Cell, 6)}
		for i := range r.Cells {
			r.Cells[i] = Cell{From: c.from[i], To: c.to[i]}
		}
		s.name(r)
		got := strings.Join(r.Notes, "\n")
		if want := strings.Join(c.want, "; "); !strings.HasPrefix(got, "the edits make steps between neighbours: "+want+". Their") != (c.want == nil) || (got == "") != (c.want == nil) {
			t.Errorf("%s: %q", c.why, got)
		}
	}
	s := heardNothing(t)
	r := &Report{Cells: make([]Cell, 6)}
	r.Cells[0].Verdict, r.Cells[1].Verdict, r.Cells[2].Verdict, r.Cells[3].Verdict, r.Cells[4].Verdict = FewVisits, FewVisits, Lean, NotPersistent, Lean
	s.corners[0].most, s.corners[1].most, s.corners[3].most = 3, 2.9, 9
	s.name(r)
	if got, want := strings.Join(r.Notes, "\n"), "one visit needed 3.0 deg less at engine speed 1000 r/min, air charge 200 mg [0, 0]: too little for an edit; drive there again\n"+
		"fix fuel first, the mixture is lean by more than 3 %, at engine speed 3000 r/min, air charge 200 mg [0, 2]; engine speed 2000 r/min, air charge 500 mg [1, 1]"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestVerdictsOfRetard: each reason for which cell averages leave a cell of 14 deg alone, and
// just past it an edit; where no 95th percentile is given the mean serves.
func TestVerdictsOfRetard(t *testing.T) {
	target := calWith(t, sparkTables(nil)...).Tables()[0]
	for _, c := range []struct {
		why  string
		e    Evidence
		lean float64
		want string
		to   float64
	}{
		{"persistent", Evidence{Count: 20, Visits: 2, Mean: 1, P95: 1.5}, 0, Proposed, 12.5},
		{"by its mean", Evidence{Count: 20, Visits: 2, Mean: 1.5, P95: unknown}, 0, Proposed, 12.5},
		{"no sample", Evidence{Mean: unknown, P95: unknown}, 0, NoSamples, 14},
		{"one sample", Evidence{Count: 1, Visits: 1, Mean: 1, P95: 1.5}, 0, FewSamples, 14},
		{"19 samples", Evidence{Count: 19, Visits: 2, Mean: 1, P95: 1.5}, 0, FewSamples, 14},
		{"one visit", Evidence{Count: 20, Visits: 1, Mean: 1, P95: 1.5}, 0, FewVisits, 14},
		{"a degree", Evidence{Count: 20, Visits: 2, Mean: 0.9, P95: 1}, 0, NotPersistent, 14},
		{"0.2 deg on average", Evidence{Count: 20, Visits: 2, Mean: 0.2, P95: 1.5}, 0, NotPersistent, 14},
		{"3 % lean", Evidence{Count: 20, Visits: 2, Mean: 1, P95: 1.5}, 0.03, Proposed, 12.5},
		{"3 % lean by lambda", Evidence{Count: 20, Visits: 2, Mean: 1, P95: 1.5}, 0.030000000000000027, Proposed, 12.5},
		{"4 % lean", Evidence{Count: 20, Visits: 2, Mean: 1, P95: 1.5}, 0.04, Lean, 14},
	} {
		g := &grid{cells: make([]Evidence, 6), lean: []float64{0, 0, 0, 0, c.lean, 0}}
		g.cells[4] = c.e
		opt := SparkDefaults()
		if got := judgeSpark(target, 4, g, &opt); got.Verdict != c.want || got.To != c.to {
			t.Errorf("%s: %v, %s; want %v, %s", c.why, got.To, got.Verdict, c.to, c.want)
		}
	}
}

// TestWhichTableOfSpark: the one of its role, or the one that is named where it has that role.
func TestWhichTableOfSpark(t *testing.T) {
	f := sparkTables([]float64{0, 0, 0, 0, 0, 0})
	second := f[0]
	second.ID = "spark.second"
	for _, c := range []struct {
		tables    []tables.Fields
		id        string
		got, want string
	}{
		{f, "", "spark.advance", ""},
		{f, "spark.advance", "spark.advance", ""},
		{append(f, second), "spark.second", "spark.second", ""},
		{append(f, second), "", "", "the calibration has 2 tables with role spark.advance: give --target TABLE"},
		{f[1:], "", "", "the calibration has 0 tables with role spark.advance: give --target TABLE"},
		{f, "spark.fallback", "", "table spark.fallback has role spark.fallback: advance is taken away in spark.advance"},
		{f, "elsewhere", "", `there is no table "elsewhere", only spark.advance, spark.fallback`},
	} {
		got, err := sparkTarget(calWith(t, c.tables...), c.id)
		if (err == nil) != (c.want == "") || err != nil && err.Error() != c.want || err == nil && got.ID() != c.got {
			t.Errorf("%q: %v, %v; want %q", c.id, got, err, c.want)
		}
	}
}

// TestHighLoadOfATable: the upper half of its axis of load, whichever that is; all of a table
// without one.
func TestHighLoadOfATable(t *testing.T) {
	load, speed := axis(tables.AirCharge, "mg", 100, 300, 500), axis(tables.EngineSpeed, "r/min", 1000, 2000, 3000)
	for _, c := range []struct {
		x    *tables.Axis
		want [3]bool
	}{{load, [3]bool{false, true, true}}, {speed, [3]bool{true, true, true}}} {
		table := calWith(t, tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", X: c.x, Values: []float64{30, 25, 20}}).Tables()[0]
		if got := [3]bool{highLoad(table, 0), highLoad(table, 1), highLoad(table, 2)}; got != c.want {
			t.Errorf("over %s: %v, want %v", c.x.Quantity(), got, c.want)
		}
	}
}

// TestBeforeEdits: a test comes before edits where a repair may be what is needed,
// and none where the table is what knocks.
func TestBeforeEdits(t *testing.T) {
	for cause, test := range map[knock.Cause]string{
		knock.LowOctane:    "apply these edits only where the test rules low-octane out: a test",
		knock.HotCharge:    "apply these edits only where the test rules hot-charge out: a test",
		knock.LeanAtLoad:   "apply these edits only where the test rules lean-at-load out: a test",
		knock.OverAdvanced: "",
	} {
		want := []string{"an answer"}
		if test != "" {
			want = append(want, test)
		}
		if got := beforeEdits(&knock.Result{Verdict: "an answer", Causes: []knock.Finding{{Cause: cause, Test: "a test"}}}); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", cause, got, want)
		}
	}
}
