package drivelog

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// notesOf are what a scan of a log assumes.
func notesOf(t *testing.T, text string, opt Options, columns ...string) []string {
	t.Helper()
	_, r, err := tryScan(text, opt, columns...)
	if err != nil {
		return []string{err.Error()}
	}
	return r.Notes
}

// surveyOf is what is in a log.
func surveyOf(t *testing.T, text string, opt Options) *Survey {
	t.Helper()
	l, err := Open("-", strings.NewReader(text), opt)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	s, err := l.Survey(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestNotesOfDerived: what is taken for want of a better is reported, and nothing where the
// log or the calibration says it.
func TestNotesOfDerived(t *testing.T) {
	four := &tables.Engine{Cylinders: 4}
	whole := &tables.Engine{Cylinders: 4, Strokes: 4, PulsesPerCycle: 1}
	for _, c := range []struct {
		why, head, column string
		engine            *tables.Engine
		want              string
	}{
		{"air flow from charge", "Air charge (mg),RPM (rpm)", "air_flow", four, "air_flow: four strokes are assumed; air_flow: from air charge × speed, 4 cylinders"},
		{"an engine that is known", "Air charge (mg),RPM (rpm)", "air_flow", whole, "air_flow: from air charge × speed, 4 cylinders"},
		{"one that is not", "Air charge (mg),RPM (rpm)", "air_flow", nil, "-: air_flow from air_charge needs the engine's cylinders: the log has no air flow, and no calibration says how many"},
		{"neither", "RPM (rpm)", "air_flow", whole, "-:1: the log has no channel air_flow: --channel air_flow=HEADER if it goes by another name"},
		{"duty", "PW (ms),RPM (rpm)", "duty", nil, "duty: one pulse a cycle is assumed; duty: four strokes are assumed"},
		{"duty of a known engine", "PW (ms),RPM (rpm)", "duty", whole, ""},
		{"one trim of two", "STFT (%),RPM (rpm)", "trim_1", nil, "trim_1: no long trim is logged, the short one stands alone"},
		{"the other", "LTFT (%),RPM (rpm)", "trim_1", nil, "trim_1: no short trim is logged, the long one stands alone"},
		{"both", "STFT (%),LTFT (%)", "trim_1", nil, ""},
		{"one that two columns claim", "STFT (%),LTFT (%),Long fuel trim (%)", "trim_1", nil, `-:1: "LTFT (%)" and "Long fuel trim (%)" are both long_trim_1: choose with --channel long_trim_1='LTFT (%)'`},
		{"vacuum", "MAP (kPa),RPM (rpm)", "manifold_vacuum", nil, "no barometric pressure is logged, 101.325 kPa is assumed"},
		{"vacuum under a barometer", "MAP (kPa),Baro (kPa)", "manifold_vacuum", nil, ""},
		{"no trim at all", "Lambda (lambda),Lambda cmd (lambda)", "mixture_error", nil, "mixture_error: no trim is logged, 0 is taken"},
		{"units", "MAP,RPM", "manifold_pressure + engine_speed", nil, "the log gives no unit; assumed: manifold_pressure kPa, engine_speed r/min"},
		{"a unit once", "MAP,RPM", "manifold_pressure * manifold_pressure", nil, "the log gives no unit; assumed: manifold_pressure kPa"},
		{"no rail", "MAP (kPa),Baro (kPa)", "differential_pressure", nil, "-: differential_pressure needs a rail pressure: the log has none, nor does the calibration"},
		{"no offset", "PW (ms),RPM (rpm)", "effective_pulse", nil, "-: effective_pulse needs the injector offset of a calibration"},
		{"a name that is nearly one", "RPM (rpm),TPS (%)", "throtle", nil, `-: unknown channel "throtle": did you mean throttle?`},
	} {
		row := strings.Repeat(",1", strings.Count(c.head, ",")+1)
		if got := strings.Join(notesOf(t, "Time (s),"+c.head+"\n0"+row+"\n1"+row+"\n", Options{Engine: c.engine}, c.column), "; "); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	// A name of the log's own is suggested too, and one of a definition.
	for asked, want := range map[string]string{"widgt": "widget", "twic": "twice"} {
		opt := Options{Channels: map[string]string{"widget": "Widget"}, Let: []Definition{{Name: "twice", Expr: "2 * widget"}}}
		if got := notesOf(t, "Time (s),Widget\n0,1\n1,2\n", opt, asked); got[0] != fmt.Sprintf("-: unknown channel %q: did you mean %s?", asked, want) {
			t.Error(got)
		}
	}
}

// TestCallersPulse: the effective pulse is the caller's, unless the log has one that a
// person names.
func TestCallersPulse(t *testing.T) {
	const text = "Time (s),RPM (rpm)\n0,1000\n1,2000\n"
	opt := Options{EffectivePulse: &EffectivePulse{Inputs: []string{"engine_speed"}, Func: func(in []float64) float64 { return 2 * in[0] }}}
	if got, _, err := tryScan(text, opt, "effective_pulse"); err != nil || got != "2 0 2000*\n3 1 4000*\n" {
		t.Errorf("%q, %v", got, err)
	}
	opt.Channels = map[string]string{"effective_pulse": "RPM (rpm)"}
	opt.Units = map[string]string{"effective_pulse": "ms"}
	if got, _, err := tryScan(text, opt, "effective_pulse"); err != nil || got != "2 0 1000*\n3 1 2000*\n" {
		t.Errorf("%q, %v", got, err)
	}
	l, err := Open("-", strings.NewReader(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if !l.Logged("engine_speed") || l.Logged("throttle") || l.Logged("") || l.Name() != "-" || l.Err() != nil || l.Engine() != nil {
		t.Error("what is logged")
	}
	// The time is a value like others, and read anew at each row.
	if got, _, err := tryScan("Time (s),RPM (rpm)\n0,1000\n1,\n2,1000\n", Options{}, "time", "time + engine_speed", "engine_speed"); err != nil || got != "2 0 0* 1000* 1000*\n3 1 1* 1001* 1000\n4 2 2* 1002* 1000*\n" {
		t.Errorf("%q, %v", got, err)
	}
}

// TestWhatTwoLogsShare: how readings were understood, in a line.
func TestWhatTwoLogsShare(t *testing.T) {
	ratio := &tables.Engine{StoichAFR: 14.1}
	for _, c := range []struct {
		want string
		opt  Options
	}{
		{"", Options{}}, {"", Options{MaxAge: seconds(2), GaugeStoich: 14.7}}, {"max age 0", Options{MaxAge: seconds(0)}}, {"gap 9", Options{Gap: 9}}, {"gauge stoich 14.6", Options{GaugeStoich: 14.6}},
		{"stoich 14.1", Options{Engine: ratio}}, {"", Options{Engine: &tables.Engine{}}}, {"max age 3; gap 9; gauge stoich 14.6; stoich 14.1", Options{MaxAge: seconds(3), Gap: 9, GaugeStoich: 14.6, Engine: ratio}},
	} {
		l, err := Open("-", strings.NewReader("Time (s),RPM\n0,1\n"), c.opt)
		if err != nil {
			t.Fatal(err)
		}
		if got := l.Asked(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
		l.Close()
	}
	const commanded = "Time (s),Commanded AFR\n0,14.1\n1,14.1\n"
	if got, r, err := tryScan(commanded, Options{Engine: ratio}, "lambda_commanded"); err != nil || got != "2 0 1*\n3 1 1*\n" || !strings.Contains(strings.Join(r.Notes, ""), "divided by 14.1 (the calibration's stoich_afr)") {
		t.Errorf("%q, %v", got, err)
	}
	if got := strings.Join(notesOf(t, commanded, Options{}, "lambda_commanded"), ""); !strings.Contains(got, "divided by 14.7 (no calibration says otherwise)") {
		t.Error(got)
	}
}

// TestMapFile: what a line of a channel map may be, and what is said of another.
func TestMapFile(t *testing.T) {
	o := Options{Channels: map[string]string{"load": "Mine"}, Units: map[string]string{"load": "V"}}
	err := o.ReadMap(strings.NewReader("\ufeff# a remark\n\n load = Other\nthrottle [V] = TPS volts\n  widget=W=1 \n"), "map.txt")
	if err != nil || fmt.Sprint(o.Channels) != "map[load:Mine throttle:TPS volts widget:W=1]" || fmt.Sprint(o.Units) != "map[load:V throttle:V]" {
		t.Errorf("%v, %v, %v", o.Channels, o.Units, err)
	}
	for _, c := range []struct{ text, want string }{
		{"load", `map.txt:1: found "load", expected name = Header`}, {"load =", `map.txt:1: found "load =", expected name = Header`}, {"My load = x", `map.txt:1: channel "My load": a name is lower-case letters, digits and _`},
		{"= x", `map.txt:1: channel "": a name is lower-case letters, digits and _`}, {"load = x\n\nload = y", "map.txt:3: channel load is mapped twice"},
		{strings.Repeat("x", 70_000), "map.txt: a line is longer than 65536 bytes: this is no channel map"},
	} {
		if err := (&Options{}).ReadMap(strings.NewReader(c.text), "map.txt"); err == nil || err.Error() != c.want {
			t.Errorf("%.20q: %v, want %s", c.text, err, c.want)
		}
	}
	err = (&Options{}).ReadMap(strings.NewReader(strings.Repeat("x\n", 150)), "map.txt")
	if lines := strings.Split(err.Error(), "\n"); len(lines) != 101 || lines[100] != "map.txt: 100 faults; reading ends here" {
		t.Errorf("%d lines, the last %s", len(lines), lines[len(lines)-1])
	}
	many := func(n int) string { return strings.Repeat("#\n", n) }
	if err := (&Options{}).ReadMap(strings.NewReader(many(maxMapLines)), "map.txt"); err != nil {
		t.Error(err)
	}
	if err := (&Options{}).ReadMap(strings.NewReader(many(maxMapLines+1)), "map.txt"); err == nil || err.Error() != "map.txt:100001: a channel map has up to 100000 lines" {
		t.Error(err)
	}
}

// TestMarksFarBehind: where the first rows prove no decimal mark, all of the log is asked.
func TestMarksFarBehind(t *testing.T) {
	log := func(delim, last string) string {
		return "Time (s)" + delim + "RPM" + delim + "TPS\n" + strings.Repeat("0"+delim+"800"+delim+"10\n", 2500) + last + "\n"
	}
	for _, c := range []struct {
		why, text string
		comma     bool
	}{
		{"a comma at the end", log(";", "1;900;10,5"), true},
		{"a point at the end", log(";", "1;900;10.5"), false},
		{"a comma in quotes", log(",", `1,900,"10,5"`), true},
		{"none", log(";", "1;900;10"), false},
		{"one that may be either", log(";", "1;900;1.234"), false},
		{"one more field", log(";", "1;900;10;x,5"), false},
	} {
		s := surveyOf(t, c.text, Options{})
		if got := slices.Contains(s.How, "decimal comma, from the cells"); got != c.comma {
			t.Errorf("%s: %q", c.why, s.How)
		}
		if i := slices.IndexFunc(s.Channels, func(c Channel) bool { return c.Name == "throttle" }); c.comma && s.Channels[i].Max != 10.5 {
			t.Errorf("%s: %+v", c.why, s.Channels[i])
		}
	}
}

// TestVacuumTold: a pressure that falls where the throttle opens, over fifty rows and fifteen
// points of throttle at least, is none.
func TestVacuumTold(t *testing.T) {
	log := func(rows int, opening, slope float64, head string) string {
		var b strings.Builder
		b.WriteString("Time (s)," + head + ",MAP (kPa)\n")
		for i := range rows {
			open := opening * float64(i) / float64(rows-1)
			fmt.Fprintf(&b, "%d,%g,%g\n", i, 10+open, 50+slope*open)
		}
		return b.String()
	}
	for _, c := range []struct {
		why  string
		text string
		bad  bool
	}{
		{"a vacuum", log(60, 50, -0.5, "TPS (%)"), true},
		{"by the load", log(60, 50, -0.5, "Load (%)"), true},
		{"a pressure", log(60, 50, 0.5, "TPS (%)"), false},
		{"too few rows", log(vacuumRows-1, 50, -0.5, "TPS (%)"), false},
		{"just enough", log(vacuumRows, 50, -0.5, "TPS (%)"), true},
		{"a throttle that hardly opens", log(60, vacuumOpening-0.5, -0.5, "TPS (%)"), false},
		{"one that opens just enough", log(60, vacuumOpening, -0.5, "TPS (%)"), true},
		{"neither throttle nor load", log(60, 50, -0.5, "IAT (degC)"), false},
	} {
		_, _, err := tryScan(c.text, Options{}, "manifold_pressure")
		if got := err != nil && strings.Contains(err.Error(), "it falls where the throttle opens"); got != c.bad {
			t.Errorf("%s: %v", c.why, err)
		}
	}
}

// TestSharedRows: five different rows that two logs share are more than chance; so is a
// second of one date.
func TestSharedRows(t *testing.T) {
	told := func(a, b string) string {
		o := &Overlaps{}
		for name, text := range map[string]string{"a.csv": a, "b.csv": b} {
			l, err := Open("-", strings.NewReader(text), Options{Overlaps: o})
			if err != nil {
				t.Fatal(err)
			}
			l.name = name
			if _, err := l.Scan(context.Background(), Query{Columns: []string{"engine_speed"}}, func(*Frame) error { return nil }); err != nil {
				t.Fatal(err)
			}
			l.Close()
		}
		return strings.Join(o.Told(), "; ")
	}
	rows := func(from, to int, speed func(i int) int) string {
		var b strings.Builder
		b.WriteString("Time (s),RPM (rpm)\n")
		for i := from; i <= to; i++ {
			fmt.Fprintf(&b, "%d,%d\n", i, speed(i))
		}
		return b.String()
	}
	up := func(i int) int { return 800 + 10*i }
	other := func(n int) func(i int) int { // the same in the first n rows
		return func(i int) int {
			if i < n {
				return up(i)
			}
			return 5000 - i
		}
	}
	for _, c := range []struct{ why, a, b, want string }{
		{"five rows at the end and the beginning", rows(0, 24, up), rows(20, 44, up), "a.csv and b.csv overlap: some 5 rows from 20 to 24 s stand in both and count twice: cut one of them"},
		{"four", rows(0, 23, up), rows(20, 44, up), ""},
		{"five alike, and as many between that are not", rows(0, 9, up), rows(0, 9, func(i int) int { return map[bool]int{true: up(i), false: 9}[i%2 == 0] }), "a.csv and b.csv overlap: some 5 rows from 0 to 8 s stand in both and count twice: cut one of them"},
		{"the same speed throughout", rows(0, 24, func(int) int { return 0 }), rows(0, 24, func(int) int { return 0 }), ""},
		{"the first ten alike", rows(0, 40, up), rows(0, 40, other(10)), "a.csv and b.csv overlap: some 10 rows from 0 to 9 s stand in both and count twice: cut one of them"},
		{"five of a hundred alike, far apart", rows(0, 100, up), rows(0, 100, func(i int) int { return map[bool]int{true: up(i), false: 9}[i%25 == 0] }), ""},
		{"of one date", rows(700_000_000, 700_000_010, up), rows(700_000_008, 700_000_020, func(int) int { return 1 }), "a.csv and b.csv overlap: both were recorded from 700000008 to 700000010 s since 1970, and that time counts twice: cut one of them"},
		{"a second of it", rows(700_000_000, 700_000_010, up), rows(700_000_009, 700_000_020, func(int) int { return 1 }), ""},
		{"at one time since a start", rows(0, 10, up), rows(5, 20, func(int) int { return 1 }), ""},
	} {
		if got := told(c.a, c.b); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestRailBound: a rail pressure of port injection ends at 1000 kPa.
func TestRailBound(t *testing.T) {
	for v, ok := range map[string]bool{"1000": true, "1000.5": false} {
		_, _, err := tryScan("Time (s),MAP (kPa),Rail pressure (kPa(a))\n0,40,300\n1,40,"+v+"\n", Options{}, "differential_pressure")
		if (err == nil) != ok || err != nil && !strings.Contains(err.Error(), "-:3: a rail pressure of 1000.5 kPa is no port injection's") {
			t.Errorf("%s: %v", v, err)
		}
	}
}

// TestSurveyWorked: counts, steps and gaps of a small log, and faults of its columns.
func TestSurveyWorked(t *testing.T) {
	s := surveyOf(t, "Time (s),RPM (rpm),Engine speed (rpm),MAP (V),Note\n0,1000,1,1,a\n1,,2,1,\nx,1500,3,1,b\n3,2000,4,1,\n20,3000,5,1,\n", Options{})
	var got []string
	for _, c := range s.Channels {
		got = append(got, fmt.Sprintf("%s %s %d/%d %g..%g mean %g step %g longest %g: %s", c.Header, c.Unit, c.Count, c.Missing, c.Min, c.Max, c.Mean, c.Step, c.Longest, c.Why))
	}
	want := []string{
		"Time (s) s 4/1 0..20 mean 6 step 1.5 longest 17: its header says so",
		"RPM (rpm) rpm 4/1 1000..3000 mean 1875 step 3 longest 17: one of several columns that may be engine_speed",
		"Engine speed (rpm) rpm 5/0 1..5 mean 3 step 1.5 longest 17: one of several columns that may be engine_speed",
		`MAP (V) V 5/0 1..1 mean 1 step 1.5 longest 17: unit "V" does not fit manifold_pressure, which is in kPa absolute`,
		"Note  0/5 NaN..NaN mean NaN step NaN longest 0: not recognised",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	var faults []string
	for _, f := range s.Faults {
		faults = append(faults, fmt.Sprintf("%s %d %v", f.Kind, f.Count, f.Lines))
	}
	if got := strings.Join(faults, "; "); got != "clock-missing 1 [4]; gap 1 [6]; twice 1 [1]; unit 1 [1]" {
		t.Error(got)
	}
	var b bytes.Buffer
	if err := strictjson.Print(&b, s); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), `"min": null`) || !strings.Contains(b.String(), `"mean": 1875`) || strings.Contains(b.String(), "NaN") {
		t.Error(b.String())
	}
	odd := &Survey{Channels: []Channel{{Min: tables.Number(math.Inf(-1)), Max: tables.Number(math.NaN()), Mean: 2}}}
	if b.Reset(); strictjson.Print(&b, odd) != nil || !strings.Contains(b.String(), `"min": null`) || !strings.Contains(b.String(), `"max": null`) {
		t.Error(b.String())
	}
	empty := surveyOf(t, "Time (s),RPM\n0,800\n1,800\n", Options{})
	if b.Reset(); strictjson.Print(&b, empty) != nil || !strings.Contains(b.String(), `"faults": []`) {
		t.Error(b.String())
	}
}

// TestLongWorked: the long form says so, reads a clock with a unit glued to it, and a decimal
// comma that only its values prove.
func TestLongWorked(t *testing.T) {
	for _, c := range []struct{ why, text, want string }{
		{"glued", "Time;Name;Value;Unit\n0ms;RPM;1000;rpm\n500ms;TPS;10,5;%\n1000ms;RPM;2000;rpm\n", "2 0 1000* -\n3 0.5 1000 10.5*\n4 1 2000* 10.5\n"},
		{"a comma in the clock", "Time (s);Name;Value;Unit\n0,0;RPM;1000;rpm\n0,5;TPS;10;%\n1,0;RPM;2000;rpm\n", "2 0 1000* -\n3 0.5 1000 10*\n4 1 2000* 10\n"},
	} {
		got, _, err := tryScan(c.text, Options{}, "engine_speed", "throttle")
		if err != nil || got != c.want {
			t.Errorf("%s: %q, %v", c.why, got, err)
		}
		if s := surveyOf(t, c.text, Options{}); !slices.Contains(s.How, "long: one row a reading") {
			t.Errorf("%q", s.How)
		}
	}
	if s := surveyOf(t, "Time (s),RPM\n0,1\n1,2\n", Options{}); !slices.Contains(s.How, "wide: one row an instant") || !slices.Contains(s.How, "time from \"Time (s)\": the log says s") {
		t.Errorf("%q", s.How)
	}
	for form, want := range map[string]string{"long": "the long form needs columns for time, channel and value; the header has \"Time (s)\", \"RPM\"", "round": "form is \"round\", expected wide or long"} {
		if _, err := Open("-", strings.NewReader("Time (s),RPM\n0,1\n1,2\n"), Options{Form: form}); err == nil || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%s: %v", form, err)
		}
	}
	if got, _, err := tryScan("Time,Name,Value\n0,1,2\n1,3,4\n", Options{Form: "wide", Channels: map[string]string{"v": "Value"}}, "v"); err != nil || got != "2 0 2*\n3 1 4*\n" {
		t.Errorf("%q, %v", got, err)
	}
}

// TestOpenColumns: a column of which the first rows tell nothing certain is read through
// before its numbers are used.
func TestOpenColumns(t *testing.T) {
	log := func(head, first, last string) string {
		var b strings.Builder
		b.WriteString("Time (s)," + head + "\n")
		firsts := strings.Split(first, "|")
		for i := range 2500 {
			fmt.Fprintf(&b, "%d,%s\n", i, firsts[i%len(firsts)])
		}
		return b.String() + "2500," + last + "\n"
	}
	for _, c := range []struct{ why, text, column, want string }{
		{"a factor that is a percentage", log("STFT", "1.01", "-3"), "short_trim_1", "-3*"},
		{"what looks like a factor, and is none", log("STFT", "0.99|1.01", "-3"), "short_trim_1", "-3*"},
		{"zeros, then a factor", log("STFT", "0", "1.01"), "short_trim_1", "1.01*"},
		{"a retard that is a negative advance", log("KR (deg)", "0", "-3"), "knock_retard", "3*"},
		{"a gauge that warms up", log("Lambda", "0", "14.7"), "lambda", "1*"},
		{"small trims beside one in percent", log("STFT,LTFT", "0.1,5", "0.2,-5"), "short_trim_1", "0.2*"},
	} {
		got, _, err := tryScan(c.text, Options{}, c.column)
		if err != nil || !strings.HasSuffix(got, " 2500 "+c.want+"\n") {
			t.Errorf("%s: %s, %v", c.why, got[max(0, len(got)-40):], err)
		}
	}
}

// TestHeldBehindSample: held values are told by the rows behind the sample too, which are
// looked at once: the sample's own first row again would repeat its last one.
func TestHeldBehindSample(t *testing.T) {
	for repeat, held := range map[string]bool{"": true, "2110,5,40\n2111,6,40\n": false} {
		var b strings.Builder
		b.WriteString("Time (s),RPM (rpm),MAP (kPa)\n")
		for i := range 2100 { // 40 stands in the first of 2000 rows, and last in the row of number 1984
			pressure := ""
			if i%16 == 0 {
				pressure = fmt.Sprint(40 + i/16%2)
			}
			fmt.Fprintf(&b, "%d,%d,%s\n", i, 800+i%2, pressure)
		}
		got, _, err := tryScan(b.String()+repeat, Options{}, "manifold_pressure")
		if all := strings.Count(got, "*") == strings.Count(got, "\n"); err != nil || all != held {
			t.Errorf("behind it %q: held %v, want %v (%v)", repeat, all, held, err)
		}
	}
}

// TestRetardSign: for the sign of a retard a log is gone through only where its first
// reading that is not 0 is below it; and what is a negative advance is said.
func TestRetardSign(t *testing.T) {
	note := `knock_retard: "KR (deg)" is never above 0 and is taken as a negative advance`
	for _, c := range []struct {
		why, rows string
		columns   []string
		last      string
		noted     bool
		readings  int
	}{
		{"no knock at all", "0,0", []string{"knock_retard"}, "0*", false, 1},
		{"a retard", "4,0", []string{"knock_retard"}, "4*", false, 1},
		{"a negative advance", "-3,0|0,0|-4,0", []string{"knock_retard"}, "4*", true, 2},
		{"both signs", "-3,0|0,0|4,0", []string{"knock_retard"}, "4*", false, 2},
		{"both signs, the retard first", "3,0|0,0|-4,0", []string{"knock_retard"}, "-4*", false, 1},
		{"a negative advance, which another column's look settles", "-3,14.7|-4,14.7", []string{"knock_retard", "lambda"}, "4* 1*", true, 2},
		{"a retard, which another column's look settles", "-3,14.7|4,14.7", []string{"knock_retard", "lambda"}, "4* 1*", false, 2},
	} {
		var b strings.Builder
		b.WriteString("Time (s),KR (deg),Lambda\n")
		rows := append(slices.Repeat([]string{"0.0,0.0"}, 2500), strings.Split(c.rows, "|")...)
		for i, row := range rows {
			fmt.Fprintf(&b, "%d,%s\n", i, row)
		}
		readings := 0
		opt := Options{piece: 5000, Progress: func() func(done, size int64) { readings++; return func(done, size int64) {} }}
		got, r, err := tryScan(b.String(), opt, c.columns...)
		if err != nil || !strings.HasSuffix(got, fmt.Sprintf(" %d %s\n", len(rows)-1, c.last)) {
			t.Errorf("%s: %s, %v", c.why, got[max(0, len(got)-40):], err)
		} else if noted := slices.Contains(r.Notes, note); noted != c.noted || readings != c.readings {
			t.Errorf("%s: read %d times, want %d; noted %v, want %v", c.why, readings, c.readings, noted, c.noted)
		}
	}
}

// TestClockColumns: a clock that never moves is none, unless a person says so; one that
// hardly moves gives way to one that does.
func TestClockColumns(t *testing.T) {
	log := func(rows, moves int) string { // the time, and seconds that count on
		var b strings.Builder
		b.WriteString("Time (s),T (s),RPM (rpm)\n")
		for i := range rows {
			fmt.Fprintf(&b, "%d,%d,%d\n", i*(moves+1)/rows, i, 800+i)
		}
		return b.String()
	}
	for _, c := range []struct {
		why  string
		text string
		told string
		want string // header of the time, or why there is none
	}{
		{"still for twenty rows", strings.ReplaceAll(log(20, 0), ",T (s)", ",x"), "", "Time (s)"},
		{"still for one more", strings.ReplaceAll(log(21, 0), ",T (s)", ",x"), "", `-:1: time column "Time (s)": it stands still at "0" in the first 21 rows`},
		{"still, as told", strings.ReplaceAll(log(21, 0), ",T (s)", ",x"), "Time (s)", "Time (s)"},
		{"still, beside another", log(21, 0), "", "T (s)"},
		{"hardly moving", log(100, 1), "", "T (s)"},
		{"moving", log(100, 2), "", "Time (s)"},
		{"hardly moving, as told", log(100, 1), "Time (s)", "Time (s)"},
		{"the other, as told", log(100, 2), "T (s)", "T (s)"},
		{"what is no time, as told", "Time (s),RPM,Mode\n0,1,on\n1,2,off\n", "Mode", `-:1: time column "Mode": its cells are no time that is known ("on"): --time-format`},
		{"none", "RPM (rpm),TPS (%)\n1,2\n3,4\n", "", "-:1: no column is the time: --channel time=HEADER"},
		{"two", "Time (s),Elapsed time (s),RPM\n0,0,1\n1,1,2\n", "", `-:1: "Time (s)" and "Elapsed time (s)" are both time: choose with --channel time='Time (s)'`},
	} {
		opt := Options{}
		if c.told != "" {
			opt.Channels = map[string]string{"time": c.told}
		}
		l, err := Open("-", strings.NewReader(c.text), opt)
		got := ""
		switch {
		case err != nil:
			got = err.Error()
		case l.Err() != nil:
			got = l.Err().Error()
		default:
			got = l.clock.Text
		}
		if l != nil {
			l.Close()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	// Readings glued to a unit of time are a clock in it; a person's unit for what is not
	// there is refused, unless it may be spare.
	if got, _, err := tryScan("Time,RPM (rpm)\n0ms,1\n500ms,2\n", Options{}, "engine_speed"); err != nil || got != "2 0 1*\n3 0.5 2*\n" {
		t.Errorf("%q, %v", got, err)
	}
	units := Options{Units: map[string]string{"load": "%"}}
	if _, err := Open("-", strings.NewReader("Time (s),RPM\n0,1\n"), units); err == nil || err.Error() != "-: channel load: --channel-unit gives it a unit, but the log has no column for it" {
		t.Error(err)
	}
	units.SpareUnits = true
	if l, err := Open("-", strings.NewReader("Time (s),RPM\n0,1\n"), units); err != nil {
		t.Error(err)
	} else {
		l.Close()
	}
}

// TestStepsOfASurvey: steps are within a stretch, and gaps are between its readings.
func TestStepsOfASurvey(t *testing.T) {
	s := surveyOf(t, "Time (s),RPM (rpm),TPS (%)\n0,1,5\n1,2,\n3,3,6\n40,4,7\n41,5,8\n5,6,9\n6,7,1\n", Options{Held: "no"})
	for _, c := range []struct {
		channel       string
		step, longest float64
	}{{"engine_speed", 5. / 4, 37}, {"throttle", 5. / 3, 37}} {
		i := slices.IndexFunc(s.Channels, func(ch Channel) bool { return ch.Name == c.channel })
		if got := s.Channels[i]; math.Abs(got.Step-c.step) > 1e-12 || got.Longest != c.longest {
			t.Errorf("%s: step %v, longest %v", c.channel, got.Step, got.Longest)
		}
	}
	held := surveyOf(t, "Time (s),RPM (rpm),TPS (%)\n0,1,5\n1,2,\n2,3,6\n", Options{})
	if got := held.Channels[2]; got.Count != 3 || got.Missing != 0 || math.Abs(float64(got.Mean)-16./3) > 1e-12 {
		t.Errorf("%+v", got)
	}
	bare := surveyOf(t, "RPM (rpm),TPS (%)\n1,2\n3,4\n", Options{})
	if got := bare.Channels[0]; got.Count != 2 || got.Step == got.Step || bare.Derived != nil {
		t.Errorf("%+v, derived %q", got, bare.Derived)
	}
	if got := surveyOf(t, "Time (s),STFT (%),LTFT (%)\n0,1,2\n1,3,4\n", Options{}).Derived; !slices.Equal(got, []string{"trim", "trim_1"}) {
		t.Errorf("%q", got)
	}
	// A delimiter at the end of each line is no column.
	if got := surveyOf(t, "Time (s),RPM (rpm),\n0,1,\n1,2,\n", Options{}); len(got.Channels) != 2 {
		t.Errorf("%+v", got.Channels)
	}
	if got := surveyOf(t, "Time (s),RPM (rpm),\n0,1,\n1,2,7\n", Options{}); len(got.Channels) != 3 {
		t.Errorf("%+v", got.Channels)
	}
}
