package cells

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestStaleReadingsAreNotCounted: a trim that is polled every half second is held
// between its readings, and counted when it is read.
func TestStaleReadingsAreNotCounted(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 1000)
	for polled, want := range map[int]float64{1: 100, 5: 20} {
		path := logtest.CSV(t, "RPM,STFT (%)", 100, func(i int) string {
			if i%polled != 0 {
				return "1000,"
			}
			return fmt.Sprintf("1000,%.1f", float64(i%7)/2)
		})
		d := document(t, gatherFile(t, Spec{X: x, Values: []string{"short_trim_1"}}, path))
		if got := d.Table("short_trim_1.count").At(0, 0); got != want {
			t.Errorf("polled every %d rows: %v samples, want %v", polled, got, want)
		}
	}
}

// TestErrorFloor: visits that all have one mean, as a reading in steps gives, are
// not so certain that a hundredth of a step is a change.
func TestErrorFloor(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 1, 2)
	drive := func(still float64) *tables.Calibration {
		var l []sample
		for i := range 400 {
			v := still
			if at := i / 5 % 3; at > 0 { // 27 visits of a cell in which nothing moves, and of two that differ by one
				v = float64(i / 15 % 3)
			}
			l = append(l, sample{0, float64(i / 5 % 3), 0, []float64{v}})
		}
		return document(t, fill(t, x, nil, Nearest, []string{"trim"}, l))
	}
	for to, want := range map[float64]bool{4.01: false, 7: true} {
		c, err := Compare(drive(4), drive(to))
		if err != nil {
			t.Fatal(err)
		}
		cell := c.Channels[0].Cells[0]
		if cell.Changed != want || !(cell.SE > 0.02) || !cell.P.Known() {
			t.Errorf("from 4 to %v: %+v", to, cell)
		}
	}
}

// TestAxisInAnotherUnit: breakpoints stand in their own unit, readings go to the
// nearest of them in the channel's.
func TestAxisInAnotherUnit(t *testing.T) {
	for in, points := range map[string][]float64{"kPa": {30, 60, 100}, "bar": {0.3, 0.6, 1}, "psi": {30 / 6.894757, 60 / 6.894757, 100 / 6.894757}, "": {30, 60, 100}} {
		a, err := tables.NewAxis(tables.ManifoldPressure, in, points)
		if err != nil {
			t.Fatal(err)
		}
		x, err := axes.Of(a)
		if err != nil {
			t.Fatal(err)
		}
		path := logtest.CSV(t, "MAP (kPa),STFT (%)", 60, func(i int) string { return []string{"32,1", "58,2", "97,3"}[i/20] })
		m := document(t, gatherFile(t, Spec{X: x, Values: []string{"short_trim_1"}}, path)).Table("short_trim_1.mean")
		if m.At(0, 0) != 1 || m.At(0, 1) != 2 || m.At(0, 2) != 3 {
			t.Errorf("in %q: %v", in, m.Values())
		}
	}
}

// TestDelayGuards: what a delayed reading is, by hand: 2 g of gas at 4 g/s come
// half a second late; (1 + 10 %) · 0.9 / 1 − 1 is −1 %; what is not read anew, or
// not read, is no reading.
func TestDelayGuards(t *testing.T) {
	for _, c := range []struct {
		why, header string
		row         func(i int) string
		value       string
		delay       sift.Delay
		count       [2]float64 // at 1000 and at 2000 r/min
		mean        float64    // at 2000
	}{
		{"through the exhaust", "RPM,MAF (g/s),Lambda", func(i int) string { return fmt.Sprintf("%v,4,0.9", logtest.Pick(i < 50, 1000, 2000)) }, "lambda", sift.Delay{Exhaust: 2}, [2]float64{50, 45}, 0.9},
		{"no delay at all", "RPM,Lambda", func(i int) string { return fmt.Sprintf("%v,0.9", logtest.Pick(i < 50, 1000, 2000)) }, "lambda", sift.Delay{}, [2]float64{50, 50}, 0.9},
		{"a mixture error with its trim", "RPM,Lambda,Lambda cmd,STFT (%),LTFT (%)", func(i int) string { return fmt.Sprintf("%v,0.9,1,10,0", logtest.Pick(i < 50, 1000, 2000)) }, "mixture_error", sift.Delay{Lag: 0.5}, [2]float64{50, 45}, -1},
		{"polled each half second", "RPM,Lambda", func(i int) string {
			return fmt.Sprintf("%v,%s", logtest.Pick(i < 50, 1000, 2000), []string{"0.9", "", "", "", ""}[i%5])
		}, "lambda", sift.Delay{Lag: 0.5}, [2]float64{10, 9}, 0.9},
	} {
		d := document(t, gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 1000, 2000), Values: []string{c.value}, Delay: &c.delay}, logtest.CSV(t, c.header, 100, c.row)))
		n, m := d.Table(c.value+".count"), d.Table(c.value+".mean")
		if n.At(0, 0) != c.count[0] || n.At(0, 1) != c.count[1] || math.Abs(m.At(0, 1)-c.mean) > 1e-9 {
			t.Errorf("%s: %v readings with means %v, want %v and %v", c.why, n.Values(), m.Values(), c.count, c.mean)
		}
	}
	if d, err := sift.ParseDelay("0"); err != nil || d.String() != "lag=0 cycles=0 exhaust=0" {
		t.Errorf("no delay: %v, %v", d, err)
	}
}

// TestOtherQuestionsDoNotCombine: cells of two logs combine where both were asked
// the same, and only there.
func TestOtherQuestionsDoNotCombine(t *testing.T) {
	path := logtest.CSV(t, "RPM,ECT,STFT (%)", 100, func(i int) string { return fmt.Sprintf("1000,%d,%d", 60+i%30, i%5) })
	other := logtest.CSV(t, "RPM,ECT,STFT (%)", 90, func(i int) string { return fmt.Sprintf("1000,%d,%d", 61+i%30, i%7) })
	base := Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}}
	for why, change := range map[string]func(s *Spec){
		"":                   func(*Spec) {},
		"another condition":  func(s *Spec) { s.Where = "coolant > 70" },
		"a filter":           func(s *Spec) { s.Filters = sift.FilterOptions{Use: []sift.Filter{sift.Warm}} },
		"a filter's bound":   func(s *Spec) { s.Filters = sift.FilterOptions{Use: []sift.Filter{sift.Rates}, SpeedRate: 99} },
		"a limit":            func(s *Spec) { s.TrimLimit = 9 },
		"another definition": func(s *Spec) { s.Let = []drivelog.Definition{{Name: "twice", Expr: "2 * coolant"}} },
	} {
		spec := base
		change(&spec)
		_, err := Combine(document(t, gatherFile(t, base, path)), document(t, gatherFile(t, spec, other)))
		if (err == nil) != (why == "") {
			t.Errorf("%q: %v", why, err)
		}
	}
}

// TestStillMeans: ten readings over two seconds at the extreme are a limit, nine
// are none, however long they take.
func TestStillMeans(t *testing.T) {
	for n, want := range map[int]float64{9: 0, 10: 10} {
		path := logtest.CSV(t, "RPM,STFT (%)", 200, func(i int) string { // a reading each 0.3 s
			switch {
			case i%3 != 0:
				return "1000,"
			case i/3 >= 20 && i/3 < 20+n:
				return "1000,25"
			}
			return fmt.Sprintf("1000,%d", i%5)
		})
		d := document(t, gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}}, path))
		if got := d.Table("short_trim_1.at_limit").At(0, 0) * d.Table("short_trim_1.count").At(0, 0); math.Abs(got-want) > 1e-9 {
			t.Errorf("%d readings at 25 %%: %v of them at the limit, want %v", n, got, want)
		}
	}
}

// TestCompareGuards: what does not compare, and what stands beside a change.
func TestCompareGuards(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 1)
	drive := func(name string, cells ...float64) *tables.Calibration {
		var l []sample
		for i := range 200 {
			at := i / 5 % len(cells)
			l = append(l, sample{0, float64(at), 0, []float64{cells[at] + float64(i/10%3)/10}})
		}
		return document(t, fill(t, x, nil, Nearest, []string{name}, l))
	}
	renamed := func(d *tables.Calibration, id, unit string) *tables.Calibration {
		f := d.Table(id).Fields()
		f.Unit = unit
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		d, err = d.WithTable(table)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, c := range []struct {
		why      string
		old, new *tables.Calibration
		want     string
	}{
		{"the same channel", drive("trim", 1, 2), drive("trim", 3, 4), ""},
		{"no channel in common", drive("trim", 1, 2), drive("coolant", 3, 4), "the two drives have no channel in common"},
		{"another unit", drive("coolant", 1, 2), renamed(drive("coolant", 1, 2), "coolant.mean", "degF"), `channel coolant is in "degC" in one drive and in "degF" in the other`},
	} {
		if _, err := Compare(c.old, c.new); (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.why, err, c.want)
		}
	}
	c, err := Compare(drive("trim", 1, 8), drive("trim", 1))
	if err != nil {
		t.Fatal(err)
	}
	ch := c.Channels[0]
	if len(ch.Cells) != 2 || ch.Cells[1].After.Known() || !ch.Cells[1].Before.Known() || ch.Cells[1].P.Known() || ch.Cells[1].X != 1 || ch.Tested != 0 { // one visit is no test
		t.Errorf("a cell that one drive has: %+v", ch)
	}
	if ch.Before.CellsKnown != 2 || ch.After.CellsKnown != 1 || ch.Before.WorstAt != [2]int{0, 1} || ch.Before.CellShare != 0.5 || ch.Before.Bound != 5 {
		t.Errorf("before %+v, after %+v", ch.Before, ch.After)
	}
	if c, err = Compare(drive("coolant", 1, 8), drive("coolant", 1, 8)); err != nil || c.Channels[0].Before.CellShare.Known() || c.Changed() {
		t.Errorf("a channel of which nothing is normal: %+v, %v", c, err)
	}
	if c, err = Compare(drive("trim", 1, 8), document(t, fill(t, x, nil, Nearest, []string{"trim", "coolant"}, []sample{{0, 0, 0, []float64{1, 2}}}))); err != nil || fmt.Sprint(c.OnlyNew, c.OnlyOld) != "[coolant] []" || !c.Changed() {
		t.Errorf("a channel that one drive alone has: %+v, %v", c, err)
	}
}

// TestSmallPromises: an interval wants two visits; a weight is read by the name
// that it prints; the worst cell of events has the most of them under load.
func TestSmallPromises(t *testing.T) {
	if !math.IsNaN(tally.HalfInterval(1, 1)) || math.Abs(tally.HalfInterval(1, 2)-12.706) > 0.001 {
		t.Errorf("half intervals of one and of two visits are %v and %v", tally.HalfInterval(1, 1), tally.HalfInterval(1, 2))
	}
	for _, name := range []string{"nearest", "spread", ""} {
		if w, err := ParseWeight(name); (err == nil) != (name != "") || err == nil && string(w) != name {
			t.Errorf("weight %q is %v, %v", name, w, err)
		}
	}
	lift, load := true, false
	var s sift.EventSummary
	for _, e := range []sift.Event{{Cell: &[2]int{0, 0}, Peak: 9, AfterLift: &lift}, {Cell: &[2]int{0, 0}, Peak: 8, AfterLift: &lift}, {Cell: &[2]int{1, 1}, Peak: 3, AfterLift: &load},
		{Peak: 2}} {
		s.Add(&e)
	}
	if cells := s.Cells(); s.Events != 4 || s.Lifts != 2 || s.Peak != 9 || len(cells) != 2 || cells[0].Cell != [2]int{1, 1} || cells[1].Lifts != 2 || cells[1].Peak != 9 {
		t.Errorf("%+v", s)
	}
}
