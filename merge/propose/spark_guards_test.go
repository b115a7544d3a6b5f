package propose

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"calsplice/tables"
)

// knockLog is a drive written row by row at 10 Hz, over the axes of sparkTables.
type knockLog struct {
	bytes.Buffer
	now float64
}

func newKnockLog(extra string) *knockLog {
	l := &knockLog{}
	l.WriteString("Time [s],Engine Speed [r/min],Air charge [mg],Throttle [%],Intake air temperature [degC],Knock Retard [deg]" + extra + "\n")
	return l
}

// hold stays at one place; retard and what follows it are by seconds.
func (l *knockLog) hold(seconds, speed, charge, throttle float64, retard func(s float64) float64, extra string) {
	for i := range int(seconds * 10) {
		fmt.Fprintf(l, "%.1f,%g,%g,%g,30,%.2f%s\n", l.now, speed, charge, throttle, retard(float64(i)/10), extra)
		l.now += 0.1
	}
}

func none(float64) float64 { return 0 }

// saw rises to most every two seconds, and is given back between.
func saw(low, most float64) func(s float64) float64 {
	return func(s float64) float64 {
		s -= float64(int(s/2)) * 2
		return most - (most-low)*s/2
	}
}

func (l *knockLog) propose(t *testing.T, cal *tables.Calibration, opt Options) *Proposal {
	t.Helper()
	p, err := sparkFromDrive(context.Background(), cal, asLog(cal, l.Bytes()), opt)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func despite() Options {
	o := SparkDefaults()
	o.DespiteCause = true
	return o
}

// TestRetardThatHuntsIsKnock: a controller that holds retard gives back some
// tenths and takes them again. Two stays of it are evidence; one is not.
func TestRetardThatHuntsIsKnock(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		stays int
		want  string
	}{{2, Proposed}, {1, FewVisits}} {
		l := newKnockLog("")
		for range row.stays {
			l.hold(20, 2000, 200, 30, none, "")
			l.hold(12, 2000, 500, 40, saw(2.75, 3), "")
			l.hold(15, 2000, 200, 30, none, "")
		}
		p := l.propose(t, cal, despite())
		if got := p.Report.Cells[4].Verdict; got != row.want {
			t.Errorf("%d stays: %s, want %s", row.stays, got, row.want)
		}
		if edits := len(p.Report.Edits) > 0; edits == (len(p.Report.First) == 0) {
			t.Errorf("%d stays: the verdict stands before edits, and elsewhere among the notes; first %q", row.stays, p.Report.First)
		}
	}
}

// TestSingleVisitIsNamed: one visit with 3 deg or more stands in the report with
// the cell that had most of the spark, and no other; one with less does not.
func TestSingleVisitIsNamed(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		retard float64
		want   bool
	}{{4, true}, {2, false}} {
		l := newKnockLog("")
		l.hold(30, 2000, 200, 30, none, "")
		l.hold(8, 2200, 450, 40, saw(row.retard-0.3, row.retard), "")
		l.hold(30, 2000, 200, 30, none, "")
		notes := strings.Join(l.propose(t, cal, despite()).Report.Notes, "\n")
		if got := strings.Contains(notes, "deg less at engine speed 2000 r/min, air charge 500 mg [1, 1]: too little for an edit; drive there again"); got != row.want || strings.Count(notes, "one visit") > 1 {
			t.Errorf("%.0f deg: notes %q, want it named: %v", row.retard, notes, row.want)
		}
	}
}

// TestBlendCounts: where knock is heard anew, what the learned blend takes off
// the table is evidence with the retard; where none is heard, it is none.
func TestBlendCounts(t *testing.T) {
	cal := calWith(t, sparkTables([]float64{12, 17, 22, 2, 6, 10})...)
	for _, row := range []struct {
		name   string
		blend  string
		retard func(s float64) float64
		least  float64 // degrees needed at [1, 1]; 0 for no edit
		most   float64
	}{
		{"knock alone", ",0", saw(1, 1.5), 1, 1.6},
		{"knock over a blend of a quarter, which is 2 deg", ",25", saw(1, 1.5), 3, 3.6},
		{"the blend alone", ",25", none, 0, 0},
	} {
		l := newKnockLog(",Spark blend [%]")
		for range 3 {
			l.hold(20, 2000, 200, 30, none, row.blend)
			l.hold(12, 2000, 500, 40, row.retard, row.blend)
		}
		c := l.propose(t, cal, despite()).Report.Cells[4]
		switch {
		case row.least == 0 && c.To != c.From:
			t.Errorf("%s: %v to %v", row.name, c.From, c.To)
		case row.least > 0 && (!c.P95.Known() || float64(c.P95) < row.least || float64(c.P95) > row.most):
			t.Errorf("%s: needs %v deg, want %v to %v", row.name, c.P95, row.least, row.most)
		}
	}
}

// TestAfterALiftIsNoEvidence: retard that rises within a second of a throttle
// lift is nothing; the same without the lift is knock.
func TestAfterALiftIsNoEvidence(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		before float64 // % of throttle
		want   string
	}{{55, AfterLift}, {30, Proposed}} {
		l := newKnockLog("")
		for range 8 {
			l.hold(20, 1000, 200, row.before, none, "")
			l.hold(2, 2000, 500, row.before, none, "")
			l.hold(0.9, 2000, 500, 30, saw(2, 3), "")
			l.hold(3, 2000, 200, 30, none, "")
		}
		if got := l.propose(t, cal, despite()).Report.Cells[4].Verdict; got != row.want {
			t.Errorf("throttle %.0f %% before: %s, want %s", row.before, got, row.want)
		}
	}
}

// TestInspect: one event of 5 deg or more at high load is always named.
func TestInspect(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		retard, charge float64
		want           bool
	}{{5, 500, true}, {4.9, 500, false}, {5, 200, false}} {
		l := newKnockLog("")
		l.hold(30, 2000, 500, 40, none, "")
		l.hold(30, 2000, 200, 30, none, "")
		l.hold(2, 2000, row.charge, 40, func(s float64) float64 { return row.retard - s }, "")
		l.hold(30, 2000, 200, 30, none, "")
		p := l.propose(t, cal, despite())
		first, carried := strings.Join(p.Report.First, "\n"), strings.Join(p.Changes.Cautions, "\n")
		if got := strings.Contains(first, "stop, inspect: knock took 5.0 deg away at high load"); got != row.want || !strings.HasPrefix(carried, first) {
			t.Errorf("%v deg at %v mg: first %q, want it named: %v", row.retard, row.charge, first, row.want)
		}
	}
}

// TestLeanIsNamed: where the mixture is lean fuel comes first, and the cells are
// named.
func TestLeanIsNamed(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		lambda string
		want   bool
	}{{",1.05,1", true}, {",1.02,1", false}} {
		l := newKnockLog(",Lambda,Commanded lambda")
		for range 3 {
			l.hold(20, 2000, 200, 30, none, ",1,1")
			l.hold(12, 2000, 500, 40, saw(2.5, 3), row.lambda)
		}
		p := l.propose(t, cal, despite())
		notes := strings.Join(p.Report.Notes, "\n")
		if got := strings.Contains(notes, "fix fuel first, the mixture is lean by more than 3 %, at engine speed 2000 r/min, air charge 500 mg [1, 1]"); got != row.want || got != (p.Report.Cells[4].Verdict == Lean) {
			t.Errorf("lambda %s: notes %q, verdict %s", row.lambda, notes, p.Report.Cells[4].Verdict)
		}
	}
}

// TestStepsAreNamed: an edit that leaves a cliff beside a neighbour says so.
func TestStepsAreNamed(t *testing.T) {
	tables := sparkTables(nil)
	tables[0].Values = []float64{20, 25, 30, 14, 14, 17}
	cal := calWith(t, tables...)
	for _, row := range []struct {
		retard float64
		want   bool
	}{{4, true}, {1.3, false}} {
		l := newKnockLog("")
		for range 3 {
			l.hold(20, 2000, 200, 30, none, "")
			l.hold(10, 3000, 500, 40, none, "")
			l.hold(12, 2000, 500, 40, saw(row.retard-0.3, row.retard), "")
		}
		notes := strings.Join(l.propose(t, cal, despite()).Report.Notes, "\n")
		if got := strings.Contains(notes, "5.0 deg (was 3.0) between engine speed 2000 r/min, air charge 500 mg and engine speed 3000 r/min, air charge 500 mg"); got != row.want {
			t.Errorf("%v deg: notes %q, want the step named: %v", row.retard, notes, row.want)
		}
	}
}
