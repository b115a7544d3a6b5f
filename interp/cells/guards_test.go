package cells

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestFilterGuards: each filter leaves out what it is for and nothing beside it.
func TestFilterGuards(t *testing.T) {
	step := func(from, to int) func(i int) string {
		return func(i int) string { return fmt.Sprint(pick(i < 50, float64(from), float64(to))) }
	}
	status := func(i int) string { return fmt.Sprint(pick(i < 20, 1, 2)) }
	for _, tc := range []struct {
		why, header string
		row         func(i int) string
		opt         FilterOptions
		want        string
	}{
		{"a deceleration is as unsteady as an acceleration", "RPM", step(2000, 1000), FilterOptions{Use: []Filter{Rates}}, "not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a throttle lift is as unsteady as tipping in", "RPM,Throttle (%)", func(i int) string { return "2000," + step(40, 5)(i) }, FilterOptions{Use: []Filter{Rates}},
			"not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a manifold that empties is unsteady where no load is logged", "RPM,MAP", func(i int) string { return "2000," + step(90, 30)(i) }, FilterOptions{Use: []Filter{Rates}},
			"not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a step within the bound is steady", "RPM", step(2000, 2010), FilterOptions{Use: []Filter{Rates}}, "not steady 0-9, kept 10-99"},
		{"a little purge is purge", "RPM,Purge (%)", func(i int) string { return "1000," + fmt.Sprint(pick(i < 50, 0, 0.4)) }, FilterOptions{Use: []Filter{Purge}}, "kept 0-49, purge 50-99"},
		{"4.9 % of purge too", "RPM,Purge (%)", func(i int) string { return "1000," + fmt.Sprint(pick(i < 50, 0, 4.9)) }, FilterOptions{Use: []Filter{Purge}}, "kept 0-49, purge 50-99"},
		{"a pulse of 0.04 ms is a cut, one of 0.05 not", "RPM,Injector PW (ms)", func(i int) string { return "1000," + fmt.Sprint(pick(i < 50, 0.05, 0.04)) },
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-49, fuel cut on the overrun 50-99"},
		{"a trim settles after a cut that the pulse tells", "RPM,Injector PW (ms),LTFT (%)",
			func(i int) string { return fmt.Sprintf("1000,%v,0", pick(i < 20 || i >= 40, 3, 0.04)) }, FilterOptions{Use: []Filter{Settled}}, "kept 0-39, trim not settled 40-69, kept 70-99"},
		{"no cut, no settling", "RPM,Injector PW (ms),LTFT (%)", func(i int) string { return "1000,3,0" }, FilterOptions{Use: []Filter{Settled}}, "kept 0-99"},
		{"a trim settles after the loop closes", "RPM,Fuel status,LTFT (%)", func(i int) string { return "1000," + status(i) + ",0" }, FilterOptions{Use: []Filter{Settled}},
			"kept 0-19, trim not settled 20-49, kept 50-99"},
		{"a mixture of 0 is a column that is never filled", "RPM,Commanded lambda", func(i int) string { return fmt.Sprintf("1000,%v", pick(i < 50, 0, 0.5)) },
			FilterOptions{Use: []Filter{Enrichment}}, "kept 0-49, commanded enrichment 50-99"},
		{"a closed throttle at idle is no cut", "RPM,Throttle (%)", func(i int) string { return fmt.Sprintf("%v,%v", pick(i < 50, 1500, 1501), pick(i < 10, 20, 3)) },
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-49, fuel cut on the overrun 50-99"},
		{"nor is one that was never opened", "RPM,Throttle (%)", func(i int) string { return fmt.Sprintf("2500,%v", pick(i < 10, 7.9, 3)) }, FilterOptions{Use: []Filter{Overrun}}, "kept 0-99"},
	} {
		list, _ := reasons(t, csvLog(t, tc.header, 100, tc.row), "", tc.opt)
		if got := runs(list); got != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.why, got, tc.want)
		}
	}
}

// TestStatus16IsSaid: closed loop with a fault counts, and that is said where it
// did, and only there.
func TestStatus16IsSaid(t *testing.T) {
	for status, want := range map[int]bool{2: false, 16: true} {
		_, sel := reasons(t, csvLog(t, "RPM,Fuel status", 100, func(i int) string { return fmt.Sprintf("1000,%d", status) }), "", FilterOptions{Use: []Filter{ClosedLoop}})
		if got := strings.Contains(strings.Join(sel.Said, "\n"), "fuel status 16 (closed loop with a fault) counts as closed loop here"); got != want {
			t.Errorf("status %d: %q", status, sel.Said)
		}
	}
}

// TestNothingHeldAcrossARestart: a coolant read once before a gap stands for a
// minute, but not past the gap: the engine may have cooled down.
func TestNothingHeldAcrossARestart(t *testing.T) {
	for gap, want := range map[float64]string{0.2: "kept 0-39", 20: "kept 0-19, no reading of a channel that a filter needs 20-39"} {
		var b strings.Builder
		b.WriteString("Time (s),RPM,ECT\n0,1000,88\n")
		for i := 1; i < 40; i++ {
			fmt.Fprintf(&b, "%.1f,1000,\n", float64(i)/5+pick(i < 20, 0, gap))
		}
		path := filepath.Join(t.TempDir(), "drive.csv")
		if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		log, err := drivelog.Open(path, nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer log.Close()
		var list []Reason
		_, err = Select(context.Background(), log, []string{"engine_speed"}, "", FilterOptions{Use: []Filter{Warm}}, func(f *drivelog.Frame, why []Reason) error {
			list = append(list, why[:f.N]...)
			return nil
		})
		if got := runs(list); err != nil || got != want {
			t.Errorf("a gap of %v s: %s, want %s (%v)", gap, got, want, err)
		}
	}
}

// TestStaleReadingsAreNotCounted: a trim that is polled every half second is held
// between its readings, and counted when it is read.
func TestStaleReadingsAreNotCounted(t *testing.T) {
	x := mustAxis(t, "engine_speed", 1000)
	for polled, want := range map[int]float64{1: 100, 5: 20} {
		path := csvLog(t, "RPM,STFT (%)", 100, func(i int) string {
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
	x := mustAxis(t, "engine_speed", 0, 1, 2)
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
		if cell.Changed != want || cell.SE == nil || !(*cell.SE > 0.02) || math.IsNaN(*cell.P) {
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
		x, err := TableAxis(a)
		if err != nil {
			t.Fatal(err)
		}
		path := csvLog(t, "MAP (kPa),STFT (%)", 60, func(i int) string { return []string{"32,1", "58,2", "97,3"}[i/20] })
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
		delay       Delay
		count       [2]float64 // at 1000 and at 2000 r/min
		mean        float64    // at 2000
	}{
		{"through the exhaust", "RPM,MAF (g/s),Lambda", func(i int) string { return fmt.Sprintf("%v,4,0.9", pick(i < 50, 1000, 2000)) }, "lambda", Delay{Exhaust: 2}, [2]float64{50, 45}, 0.9},
		{"no delay at all", "RPM,Lambda", func(i int) string { return fmt.Sprintf("%v,0.9", pick(i < 50, 1000, 2000)) }, "lambda", Delay{}, [2]float64{50, 50}, 0.9},
		{"a mixture error with its trim", "RPM,Lambda,Lambda cmd,STFT (%),LTFT (%)", func(i int) string { return fmt.Sprintf("%v,0.9,1,10,0", pick(i < 50, 1000, 2000)) }, "mixture_error", Delay{Lag: 0.5}, [2]float64{50, 45}, -1},
		{"polled each half second", "RPM,Lambda", func(i int) string {
			return fmt.Sprintf("%v,%s", pick(i < 50, 1000, 2000), []string{"0.9", "", "", "", ""}[i%5])
		}, "lambda", Delay{Lag: 0.5}, [2]float64{10, 9}, 0.9},
	} {
		d := document(t, gatherFile(t, Spec{X: mustAxis(t, "engine_speed", 1000, 2000), Values: []string{c.value}, Delay: &c.delay}, csvLog(t, c.header, 100, c.row)))
		n, m := d.Table(c.value+".count"), d.Table(c.value+".mean")
		if n.At(0, 0) != c.count[0] || n.At(0, 1) != c.count[1] || math.Abs(m.At(0, 1)-c.mean) > 1e-9 {
			t.Errorf("%s: %v readings with means %v, want %v and %v", c.why, n.Values(), m.Values(), c.count, c.mean)
		}
	}
	if d, err := ParseDelay("0"); err != nil || d.String() != "lag=0 cycles=0 exhaust=0" {
		t.Errorf("no delay: %v, %v", d, err)
	}
}

// TestOtherQuestionsDoNotCombine: cells of two logs combine where both were asked
// the same, and only there.
func TestOtherQuestionsDoNotCombine(t *testing.T) {
	path := csvLog(t, "RPM,ECT,STFT (%)", 100, func(i int) string { return fmt.Sprintf("1000,%d,%d", 60+i%30, i%5) })
	other := csvLog(t, "RPM,ECT,STFT (%)", 90, func(i int) string { return fmt.Sprintf("1000,%d,%d", 61+i%30, i%7) })
	base := Spec{X: mustAxis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}}
	for why, change := range map[string]func(s *Spec){
		"":                   func(*Spec) {},
		"another condition":  func(s *Spec) { s.Where = "coolant > 70" },
		"a filter":           func(s *Spec) { s.Filters = FilterOptions{Use: []Filter{Warm}} },
		"a filter's bound":   func(s *Spec) { s.Filters = FilterOptions{Use: []Filter{Rates}, SpeedRate: 99} },
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
		path := csvLog(t, "RPM,STFT (%)", 200, func(i int) string { // a reading each 0.3 s
			switch {
			case i%3 != 0:
				return "1000,"
			case i/3 >= 20 && i/3 < 20+n:
				return "1000,25"
			}
			return fmt.Sprintf("1000,%d", i%5)
		})
		d := document(t, gatherFile(t, Spec{X: mustAxis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}}, path))
		if got := d.Table("short_trim_1.at_limit").At(0, 0) * d.Table("short_trim_1.count").At(0, 0); math.Abs(got-want) > 1e-9 {
			t.Errorf("%d readings at 25 %%: %v of them at the limit, want %v", n, got, want)
		}
	}
}

// TestWhereOfWhatIsNotRead: a condition on a channel without a reading does not
// hold; one that is a number holds where it is not 0.
func TestWhereOfWhatIsNotRead(t *testing.T) {
	path := csvLog(t, "RPM,ECT", 100, func(i int) string { return "1000," + pickText(i < 50, "", "80") })
	for where, want := range map[string]string{
		"coolant > 70": "outside --where 0-49, kept 50-99", "coolant - 80": "outside --where 0-99", "coolant - 79": "outside --where 0-49, kept 50-99", "coolant / 40": "outside --where 0-49, kept 50-99",
	} {
		list, _ := reasons(t, path, where, FilterOptions{})
		if got := runs(list); got != want {
			t.Errorf("%s: %s, want %s", where, got, want)
		}
	}
}

func pickText(ok bool, a, b string) string {
	if ok {
		return a
	}
	return b
}

// TestCompareGuards: what does not compare, and what stands beside a change.
func TestCompareGuards(t *testing.T) {
	x := mustAxis(t, "engine_speed", 0, 1)
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
		{"no channel in common", drive("trim", 1, 2), drive("coolant", 3, 4), "the two drives' cells have no channel in common"},
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
	if len(ch.Cells) != 2 || ch.Cells[1].After != nil || ch.Cells[1].Before == nil || ch.Cells[1].P != nil || *ch.Cells[1].X != 1 || ch.Tested != 0 { // one visit is no test
		t.Errorf("a cell that one drive has: %+v", ch)
	}
	if ch.Before.CellsKnown != 2 || ch.After.CellsKnown != 1 || ch.Before.WorstAt != [2]int{0, 1} || *ch.Before.CellShare != 0.5 || ch.Before.Bound != 5 {
		t.Errorf("before %+v, after %+v", ch.Before, ch.After)
	}
	if c, err = Compare(drive("coolant", 1, 8), drive("coolant", 1, 8)); err != nil || c.Channels[0].Before.CellShare != nil || c.Changed() {
		t.Errorf("a channel of which nothing is normal: %+v, %v", c, err)
	}
	if c, err = Compare(drive("trim", 1, 8), document(t, fill(t, x, nil, Nearest, []string{"trim", "coolant"}, []sample{{0, 0, 0, []float64{1, 2}}}))); err != nil || fmt.Sprint(c.OnlyNew, c.OnlyOld) != "[coolant] []" || !c.Changed() {
		t.Errorf("a channel that one drive alone has: %+v, %v", c, err)
	}
}

// TestWithoutLifts keeps events of which nobody knows whether a lift came before.
func TestWithoutLifts(t *testing.T) {
	yes, no := true, false
	got := WithoutLifts([]Event{{Line: 1, AfterLift: &yes}, {Line: 2, AfterLift: &no}, {Line: 3}})
	if len(got) != 2 || got[0].Line != 2 || got[1].Line != 3 {
		t.Errorf("%+v", got)
	}
}

// TestSmallPromises: an interval wants two visits; a weight is read by the name
// that it prints; the worst cell of events has the most of them under load.
func TestSmallPromises(t *testing.T) {
	if !math.IsNaN(HalfInterval(1, 1)) || math.Abs(HalfInterval(1, 2)-12.706) > 0.001 {
		t.Errorf("half intervals of one and of two visits are %v and %v", HalfInterval(1, 1), HalfInterval(1, 2))
	}
	for _, name := range []string{"nearest", "spread", ""} {
		if w, err := ParseWeight(name); (err == nil) != (name != "") || err == nil && w.String() != name {
			t.Errorf("weight %q is %v, %v", name, w, err)
		}
	}
	lift, load := true, false
	s := SummariseEvents([]Event{{Cell: &[2]int{0, 0}, Peak: 9, AfterLift: &lift}, {Cell: &[2]int{0, 0}, Peak: 8, AfterLift: &lift}, {Cell: &[2]int{1, 1}, Peak: 3, AfterLift: &load},
		{Peak: 2}})
	if s.Events != 4 || s.Lifts != 2 || s.Peak != 9 || len(s.Cells) != 2 || s.Cells[0].Cell != [2]int{1, 1} || s.Cells[1].Lifts != 2 || s.Cells[1].Peak != 9 {
		t.Errorf("%+v", s)
	}
}
