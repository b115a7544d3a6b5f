package cells

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablejson"
	"calsplice/tables/tableunit"
)

// TestQuestions: what a question must have, and the one line that a document remembers
// of it: cells of two questions do not combine.
func TestQuestions(t *testing.T) {
	x, y := logtest.Axis(t, "engine_speed", 1000), logtest.Axis(t, "load", 10)
	for _, c := range []struct {
		why     string
		spec    Spec
		x, y    string
		asked   string
		refused string
	}{
		{"a curve", Spec{X: x, Values: []string{"trim"}}, "engine_speed", "", "", ""},
		{"a map", Spec{X: x, Y: y, Values: []string{"trim"}}, "engine_speed", "load", "", ""},
		{"all that can be asked", Spec{X: x, Values: []string{"lambda"}, Where: "load > 3", Filters: sift.FilterOptions{Use: []sift.Filter{sift.Warm}}, TrimLimit: 9,
			Delay: &sift.Delay{Lag: 0.5}, Let: []drivelog.Definition{{Name: "a", Expr: "load"}, {Name: "b", Expr: "a"}}}, "engine_speed", "",
			"where load > 3; filters warm; delay lag=0.5 cycles=0 exhaust=0; trim limit 9; let a = load; let b = a", ""},
		{"a delay of what is not read in the exhaust", Spec{X: x, Values: []string{"trim"}, Delay: &sift.Delay{Lag: 0.5}}, "engine_speed", "", "", ""},
		{"the log's own delay", Spec{X: x, Values: []string{"trim", "mixture_error"}, Filters: sift.FilterOptions{Steady: true, Not: sift.Filters[1:]}}, "engine_speed", "", "filters closed-loop; delay from steps", ""},
		{"no channel", Spec{X: x}, "", "", "", "no channel to average"},
		{"a channel twice", Spec{X: x, Values: []string{"trim", "load", "trim"}}, "", "", "", `channel "trim" is asked for twice`},
		{"no axis", Spec{Values: []string{"trim"}}, "", "", "", "no axis to average along"},
	} {
		set, err := c.spec.settings()
		if c.refused != "" {
			if err == nil || err.Error() != c.refused {
				t.Errorf("%s: %v", c.why, err)
			}
			if _, _, err := Gather(context.Background(), nil, c.spec); err == nil || err.Error() != c.refused {
				t.Errorf("%s is gathered: %v", c.why, err)
			}
			continue
		}
		if err != nil || set.X != c.x || set.Y != c.y || set.Asked != c.asked || set.Version != stateVersion || set.Weight != Nearest {
			t.Errorf("%s: %+v, %v", c.why, set, err)
		}
	}
	if _, _, err := Gather(context.Background(), nil, Spec{X: x, Values: []string{"trim"}}); err == nil || err.Error() != "no log to read" {
		t.Errorf("no log: %v", err)
	}
}

// logsOf are logs that are opened with options.
func logsOf(opt drivelog.Options, files ...string) (logs []Log) {
	for _, f := range files {
		logs = append(logs, Log{Name: filepath.Base(f), Open: func() (*drivelog.Log, error) { return drivelog.Open(f, nil, opt) }})
	}
	return logs
}

// TestHowLogsWereRead: an unusual way to read a log is part of the question, alone or
// behind what else was asked; a fault of any log is one of the whole, with its name.
func TestHowLogsWereRead(t *testing.T) {
	path := logtest.CSV(t, "RPM,STFT (%)", 20, func(i int) string { return fmt.Sprintf("1000,%d", i%3) })
	old := 5.0
	for where, want := range map[string]string{"": "max age 5", "engine_speed > 3": "where engine_speed > 3; max age 5"} {
		g, _, err := Gather(context.Background(), logsOf(drivelog.Options{MaxAge: &old}, path), Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}, Where: where})
		if err != nil || g.settings.Asked != want {
			t.Errorf("where %q: %+v, %v", where, g, err)
		}
	}
	_, _, err := Gather(context.Background(), logsOf(drivelog.Options{}, path, filepath.Join(t.TempDir(), "none.csv")), Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}})
	if err == nil || !strings.Contains(err.Error(), "none.csv") {
		t.Errorf("a log that is not there: %v", err)
	}
	for _, c := range []struct {
		spec Spec
		want string
	}{
		{Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"lambda"}}, "lambda"},
		{Spec{X: logtest.Axis(t, "load", 1000), Values: []string{"short_trim_1"}}, "load"},
		{Spec{X: logtest.Axis(t, "engine_speed", 1000), Y: logtest.Axis(t, "load", 10), Values: []string{"short_trim_1"}}, "load"},
		{Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"short_trim_1"}, Where: "coolant > 3"}, "coolant"},
	} {
		if _, _, err := Gather(context.Background(), logsOf(drivelog.Options{}, path), c.spec); err == nil || !strings.Contains(err.Error(), "drive.csv:1: the log has no channel "+c.want) {
			t.Errorf("without %s: %v", c.want, err)
		}
	}
}

// TestSpreadByHand: a sample a quarter of the way along and three quarters of the way
// up weighs 3/16, 1/16, 9/16 and 3/16; on a breakpoint it weighs there alone.
func TestSpreadByHand(t *testing.T) {
	x, y := logtest.Axis(t, "engine_speed", 0, 100, 200), logtest.Axis(t, "load", 0, 10)
	g := fill(t, x, y, Spread, []string{"trim"}, []sample{{0, 125, 7.5, []float64{4}}, {0, 200, 10, []float64{8}}, {0, math.NaN(), 10, []float64{8}}, {0, 200, math.NaN(), []float64{8}}})
	n := document(t, g).Table("trim.count")
	for row, list := range [][]float64{{math.NaN(), 3 / 16., 1 / 16.}, {math.NaN(), 9 / 16., 3/16. + 1}} {
		for c, want := range list {
			if got := n.At(row, c); math.Abs(got-want) > 1e-12 || math.IsNaN(got) != math.IsNaN(want) {
				t.Errorf("[%d, %d] weighs %v, want %v", row, c, got, want)
			}
		}
	}
}

// TestSpreadAlone: one sample has no deviation, whatever its weights are; and one on a
// breakpoint weighs there alone, also where the unit of the axis makes it a little less.
func TestSpreadAlone(t *testing.T) {
	x := logtest.Axis(t, "coolant", 0, 22, 45)
	for v, filled := range map[float64]int{0.1: 2, 7.3: 2, 21.3: 2, 22: 1, 22 - 4e-15: 1, 22 + 1e-14: 1, 22.001: 2, 45: 1} {
		d, n := document(t, fill(t, x, nil, Spread, []string{"engine_speed"}, []sample{{0, v, 0, []float64{814.4}}})), 0
		for c, sd := range d.Table("engine_speed.sd").Values() {
			if d.Table("engine_speed.count").At(0, c) > 0 {
				n++
			}
			if !math.IsNaN(sd) {
				t.Errorf("%v: sd %v of one sample", v, sd)
			}
		}
		if n != filled {
			t.Errorf("%v: %d cells have a share, want %d", v, n, filled)
		}
	}
}

// TestSpreadStays: a stay in a spread cell goes on while the cell has a share, whatever
// other cells have; it ends where the share does, and with the stretch.
func TestSpreadStays(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 100, 200)
	at := func(stretch int, x float64) sample { return sample{stretch, x, 0, []float64{1}} }
	g := fill(t, x, nil, Spread, []string{"trim"}, []sample{at(0, 50), at(0, 60), at(0, 100), at(0, 150), at(0, 90), at(1, 90), at(1, 90)})
	v := document(t, g).Table("trim.visits").Values()
	if !slices.Equal(v, []float64{3, 2, 1}) {
		t.Errorf("visits %v, want 3, 2 and 1", v)
	}
}

// TestWhatBecomesOfReadings: a delayed reading belongs to what burned at most ten
// seconds ago, where the filters kept that; each that has no place is counted.
func TestWhatBecomesOfReadings(t *testing.T) {
	const rows = 300
	for _, c := range []struct {
		why, header string
		row         func(i int) string
		spec        Spec
		kept        int
		dropped     string
	}{
		{"ten seconds ago", "RPM,Lambda", func(i int) string { return "1000,0.9" }, Spec{Delay: &sift.Delay{Lag: 10}}, 200, "[{combustion before the log began or over 10 s earlier 100}]"},
		{"longer ago", "RPM,Lambda", func(i int) string { return "1000,0.9" }, Spec{Delay: &sift.Delay{Lag: 10.1}}, 0, "[{combustion before the log began or over 10 s earlier 300}]"},
		{"half a cycle of 120 ms", "RPM,Lambda", func(i int) string { return "1000,0.9" }, Spec{Delay: &sift.Delay{Cycles: 0.5}}, 299, "[{combustion before the log began or over 10 s earlier 1}]"},
		{"half a gram at 1 g/s", "RPM,MAF (g/s),Lambda", func(i int) string { return "1000,1,0.9" }, Spec{Delay: &sift.Delay{Exhaust: 0.5}}, 295, "[{combustion before the log began or over 10 s earlier 5}]"},
		{"burned while cold", "RPM,ECT,Lambda", func(i int) string { return fmt.Sprintf("1000,%v,0.9", logtest.Pick(i < 100, 20, 90)) },
			Spec{Delay: &sift.Delay{Lag: 2}, Filters: sift.FilterOptions{Use: []sift.Filter{sift.Warm}}}, 180, "[{cold 100} {combustion during filtered-out samples 20}]"},
		{"speed not known", "RPM,Lambda", func(i int) string { return []string{",0.9", "1000,0.9"}[min(1, i/50)] }, Spec{Delay: &sift.Delay{Lag: 1}}, 240, "[{axes not known 50} {combustion before the log began or over 10 s earlier 10}]"},
		{"speed not known, without a delay", "RPM,Lambda", func(i int) string { return []string{",0.9", "1000,0.9"}[min(1, i/50)] }, Spec{}, 250, "[{axes not known 50}]"},
		{"read each second", "RPM,Lambda", func(i int) string { return "1000," + []string{"", "0.9"}[(i%10+1)/10] }, Spec{Delay: &sift.Delay{Lag: 1}}, 29, ""},
	} {
		c.spec.X, c.spec.Values = logtest.Axis(t, "engine_speed", 1000), []string{"lambda"}
		g := gatherFile(t, c.spec, logtest.CSV(t, c.header, rows, c.row))
		s := g.sources[0]
		if got := fmt.Sprint(s.Dropped); s.Rows != rows || s.Kept != c.kept || c.dropped != "" && got != c.dropped {
			t.Errorf("%s: %d kept, %s; want %d, %s", c.why, s.Kept, got, c.kept, c.dropped)
		}
	}
	// On a map a reading has no place where either axis is not known.
	for column, header := range []string{"RPM,MAP,Lambda", "MAP,RPM,Lambda"} {
		path := logtest.CSV(t, header, 100, func(i int) string { return []string{"", "60"}[min(1, i/50)] + ",80,0.9" })
		g := gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 60), Y: logtest.Axis(t, "manifold_pressure", 60), Values: []string{"lambda"}, Delay: &sift.Delay{Lag: 1}}, path)
		if g.sources[0].Kept != 40 {
			t.Errorf("axis %d not known: %d kept, want 40", column, g.sources[0].Kept)
		}
	}
}

// TestLongMemory: looking back goes right however long the log: 20,000 instants, each
// counted at the point where its mixture burned.
func TestLongMemory(t *testing.T) {
	const rows = 20_000
	path := logtest.CSV(t, "RPM,Lambda", rows, func(i int) string { return fmt.Sprintf("%d,%d", 1000*(i/50%4), max(i-20, 0)/50%4+1) })
	m := document(t, gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 0, 1000, 2000, 3000), Values: []string{"lambda"}, Delay: &sift.Delay{Lag: 2}}, path))
	for c := range 4 {
		if low, high := m.Table("lambda.min").At(0, c), m.Table("lambda.max").At(0, c); low != float64(c+1) || high != low {
			t.Errorf("at %d r/min lambda is %v to %v, want %d", 1000*c, low, high, c+1)
		}
	}
	l := &delayer{}
	for i := range 100_000 {
		l.past = append(l.past, pastInstant{time: float64(i) / 1000})
		if m, ok := l.at(float64(i)/1000 - 9.9); i >= 9900 && (!ok || math.Abs(m.time-(float64(i)/1000-9.9)) > 1e-6) {
			t.Fatalf("at %v s it looks back to %v, %v", float64(i)/1000, m.time, ok)
		}
	}
	if len(l.past) > 40_000 {
		t.Errorf("%d moments are remembered of 10,000 that can be asked for", len(l.past))
	}
}

// TestDriveOfAStream: a log is opened once, for what is read cannot be read again.
func TestDriveOfAStream(t *testing.T) {
	data, err := os.ReadFile(logtest.CSV(t, "RPM,ECT,Fuel status,STFT (%)", 400, func(int) string { return "1000,90,2,4" }))
	if err != nil {
		t.Fatal(err)
	}
	stream := bytes.NewReader(data)
	logs := []Log{{Name: "-", Open: func() (*drivelog.Log, error) { return drivelog.Open("-", stream, drivelog.Options{}) }}}
	d, _, err := GatherDrive(context.Background(), logs, Spec{X: logtest.Axis(t, "engine_speed", 1000)})
	if err != nil || !has(d.Steady, Trim) {
		t.Errorf("%+v, %v", d, err)
	}
}

// TestDriveOfManyLogs: no more than so many logs are open at a time, standard input among them.
func TestDriveOfManyLogs(t *testing.T) {
	const n = mostOpen + 8
	opens := make([]int, n)
	var logs []Log
	for i := range n {
		path := logtest.CSV(t, "RPM,ECT,Fuel status,STFT (%)", 80, func(k int) string { return fmt.Sprintf("1000,90,2,%.2f", float64(i)/100+float64(k%3)) })
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		stream := bytes.NewReader(data)
		name := map[bool]string{true: "-", false: fmt.Sprint("log ", i)}[i == n-1]
		logs = append(logs, Log{name, func() (*drivelog.Log, error) {
			opens[i]++
			if name == "-" {
				return drivelog.Open("-", stream, drivelog.Options{})
			}
			return drivelog.Open(path, nil, drivelog.Options{})
		}})
	}
	d, _, err := GatherDrive(context.Background(), logs, Spec{X: logtest.Axis(t, "engine_speed", 1000)})
	if err != nil || len(d.Steady.Contents().Source) != n {
		t.Fatal(err)
	}
	for i, times := range opens {
		if want := map[bool]int{true: 1, false: 2}[i < mostOpen || i == n-1]; times != want {
			t.Errorf("log %d is opened %d times, want %d", i, times, want)
		}
	}
}

// TestMergedAsTheyCome: of a season of logs no more is kept than of those being read.
func TestMergedAsTheyCome(t *testing.T) {
	path := logtest.CSV(t, "RPM,Lambda", 40, func(int) string { return "1000,1" })
	var seen []string
	logs := make([]Log, 4)
	for i := range logs {
		logs[i] = Log{Name: "l", Open: func() (*drivelog.Log, error) {
			seen = append(seen, fmt.Sprint("open ", i))
			return drivelog.Open(path, nil, drivelog.Options{})
		}}
	}
	specs := []Spec{{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"lambda"}, Workers: 1}}
	gatherEach(context.Background(), logs, specs, make([]settings, 1), func(i int, list []*gathering, err error) {
		seen = append(seen, fmt.Sprint("take ", i))
		if err != nil || list[0].g.sources[0].Kept != 40 {
			t.Errorf("log %d: %v, %v", i, list[0].g.sources, err)
		}
	})
	if got := strings.Join(seen, ", "); got != "open 0, take 0, open 1, take 1, open 2, take 2, open 3, take 3" {
		t.Error(got)
	}
}

// TestDrives: what is asked of a drive before anything else: trims where steady, retard
// of all samples, whichever every log has.
func TestDrives(t *testing.T) {
	row := func(trim, knock bool) (string, func(i int) string) {
		header := "RPM,ECT,Fuel status"
		if trim {
			header += ",STFT (%)"
		}
		if knock {
			header += ",KR (deg)"
		}
		return header, func(i int) string {
			s := fmt.Sprintf("1000,%v,2", logtest.Pick(i < 100, 20, 90)) // cold, and so not steady
			if trim {
				s += ",4"
			}
			if knock {
				s += ",1"
			}
			return s
		}
	}
	rows := 401
	file := func(trim, knock bool) string { // each of another length, for no log counts twice
		rows--
		h, r := row(trim, knock)
		return logtest.CSV(t, h, rows, r)
	}
	spec := Spec{X: logtest.Axis(t, "engine_speed", 1000)}
	drive := func(files ...string) (*Drive, error) {
		d, _, err := GatherDrive(context.Background(), logsOf(drivelog.Options{}, files...), spec)
		return d, err
	}
	both, err := drive(file(true, true))
	if err != nil || both.Steady == nil || both.Retard == nil {
		t.Fatalf("%+v, %v", both, err)
	}
	if n, all := both.Steady.Table("trim.count").At(0, 0), both.Retard.Table("knock_retard.count").At(0, 0); !(n > 200 && n <= 300) || all != 400 || both.Retard.Table("trim.count") != nil {
		t.Errorf("%v steady trims, %v of all retards", n, all)
	}
	trims, err := drive(file(true, false))
	if err != nil || trims.Retard != nil || trims.Steady == nil {
		t.Errorf("trims alone: %+v, %v", trims, err)
	}
	knock, err := drive(file(false, true), file(true, true))
	if err != nil || has(knock.Steady, Trim) || !has(knock.Retard, KnockRetard) {
		t.Errorf("what two logs have in common: %+v, %v", knock, err)
	}
	if _, err := drive(file(false, false)); err == nil || !strings.Contains(err.Error(), "neither fuel trims nor knock_retard") {
		t.Errorf("neither: %v", err)
	}
	for _, c := range []struct {
		why        string
		old, new   *Drive
		channels   int
		only, said string
	}{
		{"both", both, both, 2, "[] []", ""},
		{"one has no retard", both, trims, 1, "[knock_retard] []", ""},
		{"the other has none", trims, both, 1, "[] [knock_retard]", ""},
		{"nothing in common", trims, knock, 0, "", "the two drives have no channel in common"},
	} {
		cmp, err := CompareDrives(c.old, c.new)
		if c.said != "" {
			if err == nil || err.Error() != c.said {
				t.Errorf("%s: %v", c.why, err)
			}
			continue
		}
		if err != nil || len(cmp.Channels) != c.channels || fmt.Sprint(cmp.OnlyOld, cmp.OnlyNew) != c.only || cmp.Changed() != (c.channels < 2) {
			t.Errorf("%s: %+v, %v", c.why, cmp, err)
		}
	}
	if v, err := Judge(both.Steady, Trim); err != nil || v.Mean != 4 || v.Bound != 5 || v.CellShare != 1 {
		t.Errorf("%+v, %v", v, err)
	}
	if _, err := Judge(both.Retard, Trim); err == nil || err.Error() != `the cells have no channel "trim"` {
		t.Errorf("%v", err)
	}
	changed := &Comparison{Channels: []ChannelChange{{Changed: 0}, {Changed: 1}}}
	if !changed.Changed() || (&Comparison{Channels: changed.Channels[:1]}).Changed() {
		t.Error("a cell that changed is a change, and none is none")
	}
}

// TestSparkTableOfADrive: the one table with role spark.advance; without one, or with
// two, the tables that have axes are named.
func TestSparkTableOfADrive(t *testing.T) {
	cal := func(spark int) *tables.Calibration {
		var c tables.Contents
		for i, f := range []tables.Fields{{ID: "one", Unit: "deg"}, {ID: "two", Unit: "deg"}, {ID: "dot", Unit: "ms"}} {
			if i < 2 {
				f.X = logtest.Axis(t, "engine speed", 1, 2).Axis
				f.Values = []float64{1, 2}
			} else {
				f.Values = []float64{1}
			}
			if i < spark {
				f.Role = tables.SparkAdvance
			}
			table, err := tables.NewTable(f)
			if err != nil {
				t.Fatal(err)
			}
			c.Tables = append(c.Tables, table)
		}
		doc, err := tables.NewCalibration(c)
		if err != nil {
			t.Fatal(err)
		}
		return doc
	}
	for spark, want := range map[int]string{0: "0 tables with role spark.advance, expected one, or a table named behind a colon: one, two", 1: "one", 2: "2 tables with role spark.advance, expected one, or a table named behind a colon: one, two"} {
		if id, err := SparkTable(cal(spark)); err == nil && id != want || err != nil && err.Error() != want {
			t.Errorf("%d: %s, %v", spark, id, err)
		}
	}
}

// TestVerdictWorked: of cells of −6 % for 10 samples, 5 % for 30 and 1 % for 60, two of
// three and 0.9 of the time are within 5 %.
func TestVerdictWorked(t *testing.T) {
	nan := math.NaN()
	e := &evidence{[]estimate{{mean: nan, count: nan}, {mean: 1, count: 60}, {mean: 5, count: 30}, {mean: -6, count: 10}}, 5}
	v := e.verdict(2)
	if v.CellsKnown != 3 || math.Abs(v.Mean-1.5) > 1e-12 || v.Worst != -6 || v.WorstAt != [2]int{1, 1} || v.CellShare != 2/3. || v.TimeShare != 0.9 {
		t.Errorf("%+v", v)
	}
	e.bound = 0
	if v := e.verdict(2); v.CellShare.Known() || v.TimeShare.Known() || v.Worst != -6 {
		t.Errorf("without a bound: %+v", v)
	}
	if v := (&evidence{cells: []estimate{{mean: nan, count: nan}, {mean: 0, count: 7}}}).verdict(1); v.WorstAt != [2]int{1, 0} || v.CellsKnown != 1 {
		t.Errorf("a cell of 0: %+v", v)
	}
	if v := (&evidence{cells: []estimate{{mean: nan, count: nan}}}).verdict(1); v.CellsKnown != 0 || v.Mean != 0 {
		t.Errorf("nothing known: %+v", v)
	}
	for channel, want := range map[string]float64{"trim": 5, "short_trim_2": 5, "mixture_error": 5, "knock_retard": 1, "lambda": 0} {
		if got := boundOf(channel); got != want {
			t.Errorf("%s: %v, want %v", channel, got, want)
		}
	}
}

// TestFloorWorked: the least error that is believed is a fifth of the median of what
// the visits of cells with three of them differ by.
func TestFloorWorked(t *testing.T) {
	nan := math.NaN()
	e := &evidence{cells: []estimate{{se: 0, visits: 4}, {se: 1, visits: 4}, {se: 2, visits: 4}, {se: 0.001, visits: 2}, {se: nan, visits: 0}, {se: 9, visits: 2}}}
	e.floor() // 0, 2 and 4: the median is 2, the least 0.4 of one visit
	for i, want := range []float64{0.2, 1, 2, 0.4 / math.Sqrt2, nan, 9} {
		if math.Abs(e.cells[i].se-want) > 1e-12 {
			t.Errorf("%d: %v, want %v", i, e.cells[i].se, want)
		}
	}
	few := &evidence{cells: []estimate{{se: 0, visits: 2}, {se: 1, visits: 2}}}
	if few.floor(); few.cells[0].se != 0 {
		t.Errorf("with two visits of each: %v", few.cells)
	}
}

// edited0 is a document with the first value of a table changed.
func edited0(t *testing.T, d *tables.Calibration, id string, change func(v float64) float64) *tables.Calibration {
	t.Helper()
	f := d.Table(id).Fields()
	f.Values = slices.Clone(f.Values)
	f.Values[0] = change(f.Values[0])
	table, err := tables.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	if d, err = d.WithTable(table); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestEditedCells: a document whose counts, means, extremes or visits are not what its
// state gives was edited: it does not combine, and compares by its tables alone.
func TestEditedCells(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 100)
	var log []sample
	for i := range 200 {
		log = append(log, sample{0, float64(i / 10 % 2 * 100), 0, []float64{90 + float64(i*7%5)}})
	}
	doc := document(t, fill(t, x, nil, Nearest, []string{"coolant"}, log))
	if _, err := fromDocument(doc); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"count", "visits", "mean", "min", "max"} {
		for by, want := range map[float64]bool{1e-12: false, 1e-6: true} {
			odd := edited0(t, doc, "coolant."+s, func(v float64) float64 { return v * (1 + by) })
			_, err := fromDocument(odd)
			if errors.Is(err, errEdited) != want || want && !strings.HasPrefix(err.Error(), "table coolant."+s+" is not what") {
				t.Errorf("%s changed by %v: %v", s, by, err)
			}
		}
	}
	for _, s := range []string{"sd", "se", "p95", "at_limit"} {
		if _, err := fromDocument(edited0(t, doc, "coolant."+s, func(v float64) float64 { return v + 1 })); err != nil {
			t.Errorf("%s, which the state does not give as such: %v", s, err)
		}
	}
	c := doc.Contents()
	c.Tables = slices.DeleteFunc(slices.Clone(c.Tables), func(t *tables.Table) bool { return t.ID() == "coolant.min" || t.ID() == "coolant.visits" })
	fewer, err := tables.NewCalibration(c)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fromDocument(fewer); err != nil {
		t.Errorf("without some statistics: %v", err)
	}
	// In another unit the means are what the state gives, converted.
	warmer := doc
	for _, s := range []string{"mean", "min", "max", "se"} {
		if warmer, _, err = tableunit.Convert(warmer, "coolant."+s, "degF"); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := fromDocument(warmer); err != nil {
		t.Errorf("in degF: %v", err)
	}
	if _, err := Combine(warmer); err == nil || !strings.Contains(err.Error(), "table coolant.mean is not in the unit that its cells were gathered in") {
		t.Errorf("in degF, combined: %v", err)
	}
	// An edited document's errors and visits are those of its tables.
	edited := edited0(t, edited0(t, doc, "coolant.mean", func(v float64) float64 { return v + 50 }), "coolant.se", func(float64) float64 { return 7 })
	e, err := sideOf(edited).evidence("coolant")
	if err != nil || e.cells[0].se != 7 || e.cells[0].freedom != doc.Table("coolant.visits").At(0, 0)-1 {
		t.Errorf("edited: %+v, %v", e, err)
	}
	e, err = sideOf(edited0(t, doc, "coolant.se", func(float64) float64 { return 7 })).evidence("coolant")
	if err != nil || !(e.cells[0].se < 1) {
		t.Errorf("with a state that holds: %+v, %v", e, err)
	}
	// Of a document without state the error is in its table's unit.
	bare := warmer.Contents()
	bare.State = nil
	odd, err := tables.NewCalibration(bare)
	if err != nil {
		t.Fatal(err)
	}
	e, err = sideOf(odd).evidence("coolant")
	if err != nil || math.Abs(e.cells[0].se-warmer.Table("coolant.se").At(0, 0)) > 1e-12 {
		t.Errorf("in degF, without state: %+v, want an error of %v (%v)", e, warmer.Table("coolant.se").At(0, 0), err)
	}
	back, _, err := tableunit.Convert(odd, "coolant.mean", "degC")
	if err != nil {
		t.Fatal(err)
	}
	if e, err = sideOf(back).evidence("coolant"); err != nil || math.Abs(e.cells[0].se-doc.Table("coolant.se").At(0, 0)) > 1e-9 {
		t.Errorf("an error in degF beside a mean in degC: %+v, want %v (%v)", e, doc.Table("coolant.se").At(0, 0), err)
	}
}

// TestOneSideStill: only where neither drive's reading ever moves is there no variance
// to test against.
func TestOneSideStill(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 100)
	drive := func(spread float64) *tables.Calibration {
		var log []sample
		for i := range 300 {
			log = append(log, sample{0, float64(i / 10 % 2 * 100), 0, []float64{4 + spread*float64(i/20*7%5)}})
		}
		return document(t, fill(t, x, nil, Nearest, []string{"trim"}, log))
	}
	still, moving := drive(0), drive(1)
	for why, pair := range map[string][2]*tables.Calibration{"the second moves": {still, moving}, "the first moves": {moving, still}} {
		c, err := Compare(pair[0], pair[1])
		if err != nil {
			t.Fatal(err)
		}
		a, b := c.Channels[0].Cells[0], c.Channels[0].Cells[1]
		if !a.P.Known() || float64(a.P) == permuted(true, 15, 15) || a.P == 1 || a.SE == 0 || !b.P.Known() {
			t.Errorf("%s: %+v", why, a)
		}
	}
	if _, err := Compare(still, mustParse(t, `{"format": "calsplice/1", "tables": [{"id": "trim.mean", "unit": "%", "values": 1}]}`)); err == nil || !strings.Contains(err.Error(), "only cell averages compare") {
		t.Errorf("a calibration: %v", err)
	}
}

func mustParse(t *testing.T, text string) *tables.Calibration {
	t.Helper()
	d, err := tablejson.Parse([]byte(text), "test")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestEmptyOf: what a document must have for its cells to be read back.
func TestEmptyOf(t *testing.T) {
	x, y := logtest.Axis(t, "engine_speed", 0, 100), logtest.Axis(t, "load", 0, 5)
	log := []sample{{0, 0, 0, []float64{1, 2}}, {0, 100, 5, []float64{3, 4}}}
	g := fill(t, x, y, Spread, []string{"trim", "lambda"}, log)
	doc := document(t, g)
	back, err := fromDocument(doc)
	if err != nil || back.settings.Weight != Spread || len(back.sources) != 1 || back.sources[0].Rows != 2 {
		t.Fatalf("%+v, %v", back, err)
	}
	back.sources[0].Name = "mine"
	if doc.Contents().Source[0].Name == "mine" {
		t.Error("a grid's sources are its document's own")
	}
	change := func(how func(c *tables.Contents)) *tables.Calibration {
		c := doc.Contents()
		c.Tables, c.State = slices.Clone(c.Tables), maps.Clone(c.State)
		how(&c)
		d, err := tables.NewCalibration(c)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, c := range []struct {
		why  string
		doc  *tables.Calibration
		want string
	}{
		{"a calibration", mustParse(t, `{"format": "calsplice/1"}`), "is a calibration, expected cell averages"},
		{"settings that are none", change(func(c *tables.Contents) {
			c.State[settingsKey] = "7"
		}), `state "settings": the exact state of its cells is damaged`},
		{"no table of means", change(func(c *tables.Contents) {
			c.Tables = slices.DeleteFunc(c.Tables, func(t *tables.Table) bool { return strings.HasSuffix(t.ID(), ".mean") })
		}), "has no table of cell averages on axes"},
		{"other axes", change(func(c *tables.Contents) {
			for i, t0 := range c.Tables {
				if t0.ID() == "lambda.mean" {
					f := t0.Fields()
					f.X = logtest.Axis(t, "engine_speed", 0, 101).Axis
					c.Tables[i], _ = tables.NewTable(f)
				}
			}
		}), "table lambda.mean has other axes than the tables before it"},
		{"another row", change(func(c *tables.Contents) {
			for i, t0 := range c.Tables {
				if t0.ID() == "lambda.mean" {
					f := t0.Fields()
					f.Y = logtest.Axis(t, "load", 0, 6).Axis
					c.Tables[i], _ = tables.NewTable(f)
				}
			}
		}), "table lambda.mean has other axes than the tables before it"},
		{"numbers for a text", change(func(c *tables.Contents) {
			for key := range c.State {
				if strings.HasPrefix(key, "trim[") {
					c.State[key] = "77"
				}
			}
		}), `state "trim[0,0]": the exact state of its cells is damaged`},
	} {
		if _, err := fromDocument(c.doc); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
}

// TestCombineOrder: channels in another order combine; in another unit they do not; the first document's name is printed without what a terminal
// would act on.
func TestCombineOrder(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 100)
	log := func(a, b float64) []sample { return []sample{{0, 0, 0, []float64{a, b}}} }
	named := func(g *Grid, name string) *tables.Calibration {
		g.logs[0] = sift.LogID{Fingerprint: name, Name: name}
		g.sources[0].Name = name
		return document(t, g)
	}
	one := named(fill(t, x, nil, Nearest, []string{"trim", "lambda"}, log(1, 0.9)), "a")
	two := named(fill(t, x, nil, Nearest, []string{"lambda", "trim"}, log(1.1, 3)), "b")
	both, err := Combine(one, two)
	if err != nil || both.Table("trim.mean").At(0, 0) != 2 || both.Table("lambda.mean").At(0, 0) != 1 || len(both.Contents().Source) != 2 {
		t.Errorf("%v", err)
	}
	g := fill(t, x, nil, Nearest, []string{"trim", "lambda"}, log(1, 1))
	g.channels[1].unit = "ratio"
	if err := fill(t, x, nil, Nearest, []string{"trim", "lambda"}, log(1, 1)).sameQuestion(g, "x.json"); err == nil || !strings.Contains(err.Error(), `channel lambda is in "ratio"`) {
		t.Errorf("%v", err)
	}
	var c combiner
	if _, err := c.Document(); err == nil || err.Error() != "no cell averages to combine" {
		t.Errorf("%v", err)
	}
}

// TestTitles: each statistic in words.
func TestTitles(t *testing.T) {
	for statistic, want := range map[string]string{"count": "short trim 1: count", "sd": "short trim 1: standard deviation", "se": "short trim 1: standard error of the mean", "p95": "short trim 1: 95th percentile", "at_limit": "short trim 1: share at the trim's limit"} {
		g := newGrid(settings{}, upTo(t, "engine_speed", 1), nil, []string{"short_trim_1"})
		if got, err := g.statisticTable(&g.channels[0], statistic, []float64{1}); err != nil || got.Title() != want {
			t.Errorf("%s: %v, %v", statistic, got, err)
		}
	}
	for statistic, want := range map[string]string{"count": "1", "visits": "1", "at_limit": "1", "mean": "kPa", "se": "kPa"} {
		if got := statisticUnit(statistic, "kPa"); got != want {
			t.Errorf("%s is in %s", statistic, got)
		}
	}
}

// TestTooLongAStream: a document of a stream past the bound on what is read is refused
// before all of it is held.
func TestTooLongAStream(t *testing.T) {
	usual := tables.MaxBytes()
	tables.SetMax(1<<20, 0)
	defer tables.SetMax(usual, 0)
	for n, refused := range map[int]bool{1 << 18: false, 3 << 20: true} {
		_, err := CombineFiles(context.Background(), []string{"-"}, strings.NewReader(`{"format": "`+strings.Repeat("x", n)+`"}`))
		if err == nil || strings.Contains(err.Error(), "larger than 1 MiB") != refused {
			t.Errorf("%d bytes: %.200v", n, err)
		}
	}
}

// TestManyFaultyFiles: each file that is none of cell averages is named, and after ten
// of them no more are read.
func TestManyFaultyFiles(t *testing.T) {
	var files []string
	for i := range 200 {
		path := filepath.Join(t.TempDir(), fmt.Sprintf("%d.json", i))
		if err := os.WriteFile(path, []byte(`{"format": "calsplice/1"}`), 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	_, err := CombineFiles(context.Background(), files[:3], nil)
	if n := strings.Count(fmt.Sprint(err), "is a calibration, expected cell averages"); n != 3 {
		t.Errorf("%d of 3 are named: %v", n, err)
	}
	_, err = CombineFiles(context.Background(), files, nil)
	if n := strings.Count(fmt.Sprint(err), "is a calibration, expected cell averages"); n < 10 || n > 100 {
		t.Errorf("%d of 200 are named", n)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := CombineFiles(ctx, files[:1], nil); err == nil {
		t.Error("what was stopped before it began is combined")
	}
}

// TestPartsOfAText: a text is cut at 30,000 characters, no sooner, and numbered.
func TestPartsOfAText(t *testing.T) {
	for n, want := range map[int]string{longest: "k:30000", longest + 1: "k:30000 k~1:1", 2*longest + 5: "k:30000 k~1:30000 k~2:5"} {
		got, state := "", tables.Extra{}
		keep(state, "k", bytes.Repeat([]byte("a"), n))
		for key, value := range state.Sorted() {
			got += fmt.Sprintf(" %s:%d", key, len(value)-2)
		}
		if got = strings.TrimSpace(got); got != want {
			t.Errorf("%d characters: %s", n, got)
		}
	}
}

// TestApart: where two axes that look alike in a line differ, and nothing where the line
// shows it.
func TestApart(t *testing.T) {
	long := func(last float64) *tables.Axis {
		return logtest.Axis(t, "load", 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, last, 99).Axis
	}
	short := logtest.Axis(t, "load", 5, 7, 9).Axis
	for _, c := range []struct {
		a, b *tables.Axis
		want string
	}{{long(12), long(13), ", with 13 for 12"}, {long(12), long(12), ""}, {long(12), short, ""}, {nil, short, ""}, {short, nil, ""}} {
		if got := apart(c.a, c.b); got != c.want {
			t.Errorf("%s and %s: %q, want %q", c.a.Text(), c.b.Text(), got, c.want)
		}
	}
}

// TestNotesOfALog: what is noted of how a log was read and what of the filters that it
// has no channels for are both there, each once.
func TestNotesOfALog(t *testing.T) {
	path := logtest.CSV(t, "Engine speed,Coolant temperature,Air flow", 100, func(i int) string { return "1000,90,5" })
	_, notes, err := Gather(context.Background(), logsOf(drivelog.Options{}, path), Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"air_flow"}, Filters: sift.FilterOptions{Steady: true}})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"filter purge skipped", "g/s"} {
		if n := len(slices.DeleteFunc(slices.Clone(notes), func(s string) bool { return !strings.Contains(s, want) })); n != 1 {
			t.Errorf("%d notes of %q: %q", n, want, notes)
		}
	}
}

// TestCompareOnAMap: a changed cell has its row's and its column's breakpoint; a statistic
// on other axes than the mean is refused.
func TestCompareOnAMap(t *testing.T) {
	x, y := logtest.Axis(t, "engine_speed", 0, 100), logtest.Axis(t, "load", 5, 7)
	doc := document(t, fill(t, x, y, Nearest, []string{"trim"}, []sample{{0, 100, 7, []float64{3}}, {0, 0, 7, []float64{4}}}))
	c, err := Compare(doc, doc)
	if err != nil {
		t.Fatal(err)
	}
	list := c.Channels[0].Cells
	if len(list) != 2 || list[0].X != 0 || list[0].Y != 7 || list[1].X != 100 || list[1].Y != 7 || list[1].At != [2]int{1, 1} {
		t.Errorf("%+v", list)
	}
	for _, other := range []struct {
		why string
		how func(f *tables.Fields)
	}{{"x", func(f *tables.Fields) { f.X = logtest.Axis(t, "engine_speed", 0, 101).Axis }}, {"y", func(f *tables.Fields) { f.Y = logtest.Axis(t, "load", 5, 8).Axis }}} {
		f := doc.Table("trim.visits").Fields()
		other.how(&f)
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		odd, err := doc.WithTable(table)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Compare(odd, doc); err == nil || !strings.Contains(err.Error(), "table trim.visits has other axes than table trim.mean") {
			t.Errorf("another %s axis: %v", other.why, err)
		}
	}
}

// TestKeptByAnyChannel: a row counts as kept where any channel has a sample; what a filter
// leaves out is no reading of a delayed channel, though its mixture burned before.
func TestKeptByAnyChannel(t *testing.T) {
	for _, values := range [][]string{{"short_trim_1", "lambda"}, {"lambda", "short_trim_1"}} {
		path := logtest.CSV(t, "RPM,STFT (%),Lambda", 100, func(i int) string {
			return []string{"1000,1,", "1000,,0.9"}[i%2]
		})
		g := gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: values}, path)
		if s := g.sources[0]; s.Kept != 100 || len(s.Dropped) != 0 {
			t.Errorf("%v: %d kept, %v", values, s.Kept, s.Dropped)
		}
	}
	path := logtest.CSV(t, "RPM,ECT,Lambda", 200, func(i int) string { return fmt.Sprintf("1000,%v,0.9", logtest.Pick(i < 100, 90, 20)) })
	d := document(t, gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{"lambda"}, Delay: &sift.Delay{Lag: 2}, Filters: sift.FilterOptions{Use: []sift.Filter{sift.Warm}}}, path))
	if n := d.Table("lambda.count").At(0, 0); n != 80 {
		t.Errorf("%v readings of an engine that cools down after ten seconds, want 80", n)
	}
}

// TestBlanksOfAStream: blanks of any kind stand between the documents of a stream.
func TestBlanksOfAStream(t *testing.T) {
	var docs []string
	for i := range 2 {
		g := fill(t, logtest.Axis(t, "engine_speed", 0, 100), nil, Nearest, []string{"trim"}, []sample{{0, 0, 0, []float64{float64(i)}}})
		g.logs[0].Fingerprint = fmt.Sprint(i)
		var b strings.Builder
		if err := tablejson.Write(&b, document(t, g)); err != nil {
			t.Fatal(err)
		}
		docs = append(docs, b.String())
	}
	for _, blank := range []string{"", " ", "\t", "\r\n", "\n\t \r"} {
		d, err := CombineFiles(context.Background(), []string{"-"}, strings.NewReader(blank+docs[0]+blank+docs[1]+blank))
		if err != nil || d.Table("trim.count").At(0, 0) != 2 {
			t.Errorf("%q: %v", blank, err)
		}
	}
}
