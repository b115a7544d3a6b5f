package drivelog

import (
	"context"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
)

// scan reads a log given as text and writes each instant as
// "line time value…", with * behind a value that is fresh and - for none.
func scan(t *testing.T, text string, opt Options, columns ...string) string {
	t.Helper()
	s, _, err := tryScan(text, opt, columns...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func tryScan(text string, opt Options, columns ...string) (string, *Reading, error) {
	l, err := Open("-", strings.NewReader(text), opt)
	if err != nil {
		return "", nil, err
	}
	defer l.Close()
	var b strings.Builder
	r, err := l.Scan(context.Background(), Query{Columns: columns}, func(f *Frame) error {
		for i := range f.N {
			fmt.Fprintf(&b, "%d %g", f.Line[i], f.Time[i])
			for _, c := range f.Columns {
				v := "-"
				if !math.IsNaN(c.Value[i]) {
					v = fmt.Sprintf("%.6g", c.Value[i]+0)
				}
				if c.Fresh[i] {
					v += "*"
				}
				b.WriteString(" " + v)
			}
			b.WriteByte('\n')
		}
		return nil
	})
	return b.String(), r, err
}

func want(t *testing.T, got, want string) {
	t.Helper()
	if strings.TrimSpace(got) != strings.TrimSpace(strings.ReplaceAll(want, "\t", "")) {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func seconds(v float64) *float64 { return &v }

func TestWideRows(t *testing.T) {
	// A cell is a reading; an empty cell, a missing mark and text are none, and
	// the latest reading stands for two seconds, the bound included.
	log := "time,RPM,MAP\n0,800,\n1,,40\n2,,NaN\n3,0x1F,1_000\n3.1,inf,50\n4,900,1e999\n5,900,-\n"
	want(t, scan(t, log, Options{}, "engine_speed", "manifold_pressure"), `
2 0 800* -
3 1 800 40*
4 2 800 40
5 3 - 40
6 3.1 - 50*
7 4 900* 50
8 5 900* 50`)
	want(t, scan(t, log, Options{MaxAge: seconds(0)}, "engine_speed + manifold_pressure"), `
2 0 -*
3 1 -*
4 2 -
5 3 -
6 3.1 -*
7 4 -*
8 5 -*`)
	// The clock is read in each row, a constant in none.
	want(t, scan(t, "time,RPM\n0,800\n1,-\n", Options{}, "7", "engine_speed + time", "engine_speed + 7"), `
2 0 7 800* 807*
3 1 7 801* 807`)
}

func TestOneTimeManyRows(t *testing.T) {
	// With a maximum age of 0, readings of that very time stand: here a clock
	// of whole seconds under two rows a second.
	want(t, scan(t, "time,RPM,MAP\n1,800,\n1,,40\n2,,41\n2,800,\n", Options{MaxAge: seconds(0)}, "engine_speed * manifold_pressure"), `
2 1 -*
3 1 32000*
4 2 -*
5 2 32800*`)
}

func TestBoundIsDecimal(t *testing.T) {
	// 0.8 - 0.6 is above 0.2 in doubles; in the log's own decimals it is not.
	want(t, scan(t, "time,RPM,MAP\n0.6,800,40\n0.8,800,\n0.9,800,\n", Options{MaxAge: seconds(0.2)}, "manifold_pressure"), `
2 0.6 40*
3 0.8 40
4 0.9 -`)
}

// TestGapIsDecimal: a step of just the bound is no gap, whatever a double makes of
// 16.1 − 15.1, nor over midnight.
func TestGapIsDecimal(t *testing.T) {
	for _, c := range []struct {
		log  string
		gap  float64
		gaps int
	}{
		{"time,RPM\n14.1,800\n15.1,800\n16.1,800\n", 1, 0}, {"time,RPM\n14.1,800\n15.1,800\n16.2,800\n", 1, 1},
		{"time,RPM\n23:59:59.7,800\n23:59:59.9,800\n00:00:00.1,800\n", 0.2, 0}, {"time,RPM\n23:59:59.7,800\n23:59:59.9,800\n00:00:00.2,800\n", 0.2, 1},
	} {
		if f := surveyOf(t, c.log, Options{Gap: c.gap}).Faults; len(f) != c.gaps {
			t.Errorf("%s: faults %v, want %d", c.log, f, c.gaps)
		}
	}
}

func TestHeld(t *testing.T) {
	// Empty cells and no cell that repeats the one above: held values. They
	// count as read, and never grow old, before their first reading there is
	// none.
	log := "time,RPM,MAP\n0,800,\n1,,40\n9,900,\n10,,41\n11,,\n"
	want(t, scan(t, log, Options{}, "engine_speed", "manifold_pressure"), `
2 0 800* -
3 1 800* 40*
4 9 900* 40*
5 10 900* 41*
6 11 900* 41*`)
	// One repeat, however far down, and it is an ordinary log with holes.
	log += "20,,41\n"
	want(t, scan(t, log, Options{}, "engine_speed", "manifold_pressure"), `
2 0 800* -
3 1 800 40*
4 9 900* -
5 10 900 41*
6 11 900 41
7 20 - 41*`)
	want(t, scan(t, log, Options{Held: "yes"}, "engine_speed"), `
2 0 800*
3 1 800*
4 9 900*
5 10 900*
6 11 900*
7 20 900*`)
	// The first repeat may stand past the beginning that detection reads.
	var b strings.Builder
	b.WriteString("time,RPM,MAP\n")
	for i := range 60000 {
		fmt.Fprintf(&b, "%d,%d,\n", i, 800+i)
	}
	held := strings.Count(scan(t, b.String(), Options{}, "manifold_pressure", "engine_speed"), "*")
	b.WriteString("60000,60799,\n")
	if not := strings.Count(scan(t, b.String(), Options{}, "manifold_pressure", "engine_speed"), "*"); held != 60000 || not != 60001 {
		t.Errorf("%d and %d fresh values", held, not)
	}
}

func TestHeldLate(t *testing.T) {
	// Held values whose first empty cell comes late.
	var b strings.Builder
	b.WriteString("time (s),RPM,MAP\n")
	for i := range 40000 {
		fmt.Fprintf(&b, "%d,%d,%d\n", i, 800+i, i)
	}
	b.WriteString("40000,1,\n40100,2,\n")
	got := strings.Split(strings.TrimSpace(scan(t, b.String(), Options{}, "manifold_pressure")), "\n")
	if last := got[len(got)-1]; last != "40003 40100 39999*" {
		t.Errorf("the last instant is %s", last)
	}
}

func TestLongForm(t *testing.T) {
	// Consecutive readings of one time are one instant.
	log := `"SECONDS";"PID";"VALUE";"UNITS";
"10";"Engine RPM";"800";"rpm";
"10";"Intake manifold absolute pressure";"40";"kPa";
"10.5";"Intake manifold absolute pressure";"5.8";"psi";
"11";"Short term fuel % trim - Bank 1";"2";"%";
"11";"Long term fuel % trim - Bank 1";"-1";"%";
"12.4";"Engine RPM";"n/a";"rpm";
"12.6";"Engine RPM";"900";"rpm";
`
	want(t, scan(t, log, Options{}, "engine_speed", "trim"), `
2 10 800* -
4 10.5 800 -
5 11 800 0.98*
7 12.4 - 0.98
8 12.6 900* 0.98`)
}

func TestTrim(t *testing.T) {
	log := "time,STFT B1,LTFT B1,STFT B2,LTFT B2,gear\n0,2,-1,4,0,1\n1,,,8,,1\n"
	want(t, scan(t, log, Options{}, "trim_1", "trim_2", "trim"), `
2 0 0.98* 4* 2.49*
3 1 0.98 8* 4.49*`)
	// Bank 2 has columns and never a reading: there is one bank.
	want(t, scan(t, "time,STFT1,LTFT1,STFT2,LTFT2\n0,2,-1,,\n1,2,-1,,\n", Options{}, "trim"), `
2 0 0.98*
3 1 0.98*`)
}

func TestTrimScales(t *testing.T) {
	for _, c := range []struct{ head, a, b, want, why string }{
		{"STFT,LTFT", "0,0", "-2,1", "-1.02", "zero or below is percent"},
		{"STFT,LTFT", "1.02,0.99", "0.98,1.01", "-1.02", "on both sides of 1 is a factor"},
		{"STFT,LTFT", "102,99", "98,101", "-1.02", "near 100 is per cent near 100"},
		{"STFT [%],LTFT [%]", "102,99", "98,101", "-1.02", "its unit being percent does not change that"},
		{"STFT (factor),LTFT (factor)", "1.02,1.02", "0.98,1.01", "-1.02", "the header says so"},
		{"STFT,LTFT", "1.02,1.01", "0.98,1.01", "-1.02", "one trim is certain, the other is written alike"},
		{"STFT,LTFT", "-3,1", "0,1", "1", "so too of percent, however long the other stands near 1"},
		{"STFT,LTFT", "-3,0.78", "0,1.2", "1.2", "or on both sides of 1, as steps of 0.78 % do"},
		{"STFT (%),LTFT (%)", "2,1", "1.5,1", "2.515", "its unit is percent, and nothing speaks against it"},
	} {
		got := scan(t, "time,"+c.head+"\n0,"+c.a+"\n1,"+c.b+"\n", Options{}, "trim")
		if !strings.HasSuffix(got, "3 1 "+c.want+"*\n") {
			t.Errorf("%s: got %s", c.why, got)
		}
	}
	for _, c := range []struct{ a, b, why string }{
		{"0.9,0.9", "0.8,0.8", "may be percent or a factor"},
		{"0.78,1", "1.5625,1", "steps of a percentage, or an uncommonly restless factor"},
	} {
		if _, _, err := tryScan("time,STFT,LTFT\n0,"+c.a+"\n1,"+c.b+"\n", Options{}, "trim"); err == nil || !strings.Contains(err.Error(), "--channel-unit") {
			t.Errorf("%s: %v", c.why, err)
		}
	}
}

func TestUnits(t *testing.T) {
	for _, c := range []struct{ head, value, channel, want string }{
		{"MAP (psi)", "14.5", "manifold_pressure", "99.974"},
		{"MAP [inHg]", "30", "manifold_pressure", "101.592"},
		{"MAP [psi(a)]", "14.5", "manifold_pressure", "99.974"},
		{"ECT (degF)", "212", "coolant", "100"},
		{"Coolant temp F", "212", "coolant", "100"},
		{"IAT ℉", "32", "intake_air", "0"},
		{"Vehicle speed (mph)", "100", "speed", "160.934"},
		{"MAF (lb/min)", "10", "air_flow", "75.5987"},
		{"AFR", "13.23", "lambda", "0.9"},
		{"Lambda", "13.23", "lambda", "0.9"},
		{"Lambda", "0.9", "lambda", "0.9"},
		{"Target AFR", "13.23", "lambda_commanded", "0.9"},
		{"Injector PW (us)", "2500", "pulse_width", "2.5"},
		{"RPM x1000", "2.5", "engine_speed", "2500"},
		{"Air mass per cylinder (g)", "0.4", "air_charge", "400"},
		{"throttle_pct", "12", "throttle", "12"},
		{"Battery_V", "13.8", "battery", "13.8"},
		{"fuel system status", "\"Closed loop, using oxygen sensor\"", "fuel_status", "2"},
		{"Fuel status", "Open loop due to engine load", "fuel_status", "4"},
	} {
		got := scan(t, "time,"+c.head+",x\n0,"+c.value+",1\n1,"+c.value+",2\n", Options{}, c.channel)
		if !strings.HasSuffix(got, "3 1 "+c.want+"*\n") {
			t.Errorf("%s %s: got %s", c.head, c.value, got)
		}
	}
	for _, head := range []string{"MAP (psig)", "MAP (degC)", "RPM (V)", "MAP (zork)", "Lambda (%)"} {
		name, _, _ := channel.Recognise(strings.Fields(head)[0])
		if _, _, err := tryScan("time,"+head+",x\n0,1,1\n1,1,2\n", Options{}, name); err == nil {
			t.Errorf("%s was read", head)
		}
	}
}

func TestDerived(t *testing.T) {
	e := &tables.Engine{Strokes: 4, PulsesPerCycle: 1, Cylinders: 4,
		RailPressure: &tables.RailPressure{Value: 3, Unit: "bar", RelativeTo: tables.Atmosphere}}
	log := "time,RPM,MAP,Baro,PW,STFT,LTFT,Lambda,Lambda cmd,Air charge\n0,3000,40,100,4,0,0,1,1,200\n1,3000,40,100,4,10,0,1.1,1,200\n"
	want(t, scan(t, log, Options{Engine: e, Let: []Definition{{Name: "power", Expr: "engine_speed / 1000"}, {Name: "twice", Expr: "power * 2"}}},
		"duty", "differential_pressure", "manifold_vacuum", "mixture_error", "air_flow", "twice"), `
2 0 10* 360* 60* 0* 20* 6*
3 1 10* 360* 60* 21* 20* 6*`)
	// A chain of definitions that each use the one before twice takes no longer
	// than as many that do not.
	chain := []Definition{{Name: "d0", Expr: "engine_speed"}}
	for i := range 60 {
		d := chain[i].Name
		chain = append(chain, Definition{Name: fmt.Sprintf("d%d", i+1), Expr: d + " / 2 + " + d + " / 2"})
	}
	want(t, scan(t, log, Options{Let: chain}, "d60", "d7 - d60"), `
2 0 3000* 0*
3 1 3000* 0*`)
	// Without a barometer the standard atmosphere stands in, and is said.
	got, r, err := tryScan("time,MAP\n0,40\n1,40\n", Options{}, "manifold_vacuum")
	if err != nil || !strings.Contains(got, "61.325*") || !strings.Contains(strings.Join(r.Notes, "\n"), "101.325") {
		t.Errorf("%s %v %v", got, r, err)
	}
	// Direct injection is refused.
	_, _, err = tryScan("time,MAP,Fuel rail pressure (kPa)\n0,40,300\n1,40,5000\n", Options{}, "differential_pressure")
	if err == nil || !strings.HasPrefix(err.Error(), "-:3: ") {
		t.Errorf("%v", err)
	}
}

func TestExpressions(t *testing.T) {
	log := "time,RPM,ECT,gear\n0,800,60,1\n1,900,70,1\n2,,80,1\n9,1000,,1\n"
	for _, c := range []struct{ expr, want string }{
		{"coolant >= 70 && engine_speed > 500", "0 1 1 -"},
		{"coolant >= 70 and not (engine_speed > 850)", "0 0 0 -"},
		{"coolant < 65 || engine_speed == 900", "1 1 1 -"},
		{"engine_speed", "800 900 900 1000"},
		{"-engine_speed / 100 + 1", "-7 -8 -8 -9"},
		{"abs(engine_speed - 850)", "50 50 50 150"},
		{"max(engine_speed, 850, coolant)", "850 900 900 -"},
		{"coolant > 65 ? engine_speed : 0", "0 900 900 -"},
		{"engine_speed in [800.0, 1000.0]", "1 0 0 1"},
		{"time > 0.5", "0 1 1 1"},
		{"engine_speed ^ 2 > 700000", "0 1 1 1"},
	} {
		got := scan(t, log, Options{}, c.expr)
		var vs []string
		for _, line := range strings.Split(strings.TrimSpace(got), "\n") {
			vs = append(vs, strings.TrimSuffix(strings.Fields(line)[2], "*"))
		}
		if strings.Join(vs, " ") != c.want {
			t.Errorf("%s: got %v, want %s", c.expr, vs, c.want)
		}
	}
	for _, c := range []struct{ expr, want string }{
		{"engin_speed > 1", `-: unknown channel "engin_speed": did you mean engine_speed?`},
		{"sqrt(coolant) > 8", `-: expression "sqrt(coolant) > 8": there is no function "sqrt", but abs, ceil, floor, max, min and round; ^ 0.5 is the square root`},
		{"coolant > 70; engine_speed > 2000", `-: expression "coolant > 70; engine_speed > 2000": ; keeps only what follows it, expected && between conditions`},
		{"coolant in 70..90", `-: expression "coolant in 70..90": 70..90 holds whole numbers only, expected 70 <= coolant <= 90`},
		{"coolant ^ 0.5 > engine(2)", `-: expression "coolant ^ 0.5 > engine(2)": there is no function "engine", but abs, ceil, floor, max, min and round; ^ 0.5 is the square root`},
		{"coolant >", `-: expression "coolant >": unexpected token EOF (1:9)`},
		{"coolant + true", `-: expression "coolant + true": invalid operation: + (mismatched types float64 and bool) (1:9)`},
		{"battery > 12", `-:1: the log has no channel battery: --channel battery=HEADER if it goes by another name`},
		{`"text"`, `-: expression "\"text\"": expected float64, but got string`},
	} {
		if _, _, err := tryScan(log, Options{}, c.expr); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v", c.expr, err)
		}
	}
}

// TestRings: definitions that are made of each other are refused by name; one may
// redefine what it uses.
func TestRings(t *testing.T) {
	log := "time,RPM,MAP\n0,800,40\n1,900,41\n"
	for _, c := range []struct {
		let  []Definition
		want string
	}{
		{[]Definition{{Name: "a", Expr: "b + 1"}, {Name: "b", Expr: "a + 1"}}, "-: --let goes round in a ring: a → b → a"},
		{[]Definition{{Name: "a", Expr: "c"}, {Name: "b", Expr: "a"}, {Name: "x", Expr: "1"}, {Name: "c", Expr: "b * x"}}, "-: --let goes round in a ring: a → c → b → a"},
		{[]Definition{{Name: "engine_speed", Expr: "manifold_pressure"}, {Name: "manifold_pressure", Expr: "engine_speed"}}, "-: --let goes round in a ring: engine_speed → manifold_pressure → engine_speed"},
		{[]Definition{{Name: "engine_speed", Expr: "engine_speed + 1"}, {Name: "engine_speed", Expr: "engine_speed * 2"}}, ""},
		{[]Definition{{Name: "a", Expr: "manifold_pressure"}, {Name: "engine_speed", Expr: "a + engine_speed"}}, ""},
		{[]Definition{{Name: "engine_speed", Expr: "b"}, {Name: "b", Expr: "1"}}, "-: b is used before its --let defines it: the log has no such channel"},
	} {
		got := ""
		if _, _, err := tryScan(log, Options{Let: c.let}, "engine_speed"); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%v: %s, want %s", c.let, got, c.want)
		}
	}
	// A name that the log has not, in a ring of one, is used before it is defined.
	if _, _, err := tryScan(log, Options{Let: []Definition{{Name: "a", Expr: "a + 1"}}}, "a"); err == nil || !strings.Contains(err.Error(), "a is used before") {
		t.Error(err)
	}
}

func TestSecondNames(t *testing.T) {
	// A new name is good beside the channel's own, its numbers as they stand.
	log := "time,ECT (degF),note\n0,212,x\n1,32,y\n"
	want(t, scan(t, log, Options{Channels: map[string]string{"raw": "ECT (degF)"}}, "coolant", "raw", "raw - coolant"), `
2 0 100* 212* 112*
3 1 0* 32* 32*`)
	// So are two new names for a column that is no channel; in the long form, one.
	twice := Options{Channels: map[string]string{"one": "Oil", "two": "Oil"}}
	want(t, scan(t, "time,Oil\n0,212\n1,32\n", twice, "one", "two"), "2 0 212* 212*\n3 1 32* 32*")
	if _, _, err := tryScan("time,name,value\n0,Oil,212\n1,Oil,32\n", twice, "one"); err == nil || !strings.Contains(err.Error(), `channel two: "Oil" is one already`) {
		t.Error(err)
	}
	if _, _, err := tryScan(log, Options{Channels: map[string]string{"coolant": "note", "intake_air": "note"}}, "coolant"); err == nil {
		t.Error("one column is two channels")
	}
}

func TestRetardIsPositive(t *testing.T) {
	want(t, scan(t, "time,KR\n0,0\n1,-3\n2,-1.5\n", Options{}, "knock_retard"), "2 0 0*\n3 1 3*\n4 2 1.5*")
	// The first retard may come late.
	late := "time,KR\n"
	for i := range 5000 {
		late += fmt.Sprintf("%d,0\n", i)
	}
	if got := scan(t, late+"5000,-2\n", Options{}, "knock_retard"); !strings.HasSuffix(got, "5000 2*\n") {
		t.Error(got[len(got)-40:])
	}
	// So may the second bank's first trim, and a lambda that is none.
	late = "time,STFT1,LTFT1,STFT2,LTFT2,Lambda\n"
	for i := range 5000 {
		late += fmt.Sprintf("%d,0,0,,,\n", i)
	}
	late += "5000,1,1,3,3,14.7\n"
	if got := scan(t, late, Options{}, "trim", "lambda"); !strings.HasSuffix(got, "5000 4.05* 1*\n") {
		t.Error(got[len(got)-40:])
	}
}

func TestClockForms(t *testing.T) {
	for _, c := range []struct{ head, a, b, want, why string }{
		{"Time", "23:59:59.5", "00:00:00.5", "86400.5", "midnight adds a day"},
		{"Time", "2031-05-12T23:59:59.5Z", "2031-05-13T02:00:00.5+02:00", "1.9364e+09", "zones count"},
		{"Time", "2031-05-12 08:00:00", "2031-05-12 08:00:01", "1.93634e+09", "a blank for the T"},
		{"Time", "59:59.5", "60:00.5", "3600.5", "minutes and seconds"},
		{"Time", "1936339200.5", "1936339201.5", "1.93634e+09", "seconds since 1970"},
		{"Time", "1936339200500", "1936339201500", "1.93634e+09", "milliseconds since 1970"},
		{"Time (ms)", "500", "1500", "1.5", "the header says milliseconds"},
		{"Time (min)", "1", "1.5", "90", "the header says minutes"},
		{"Time", "500", "600", "0.6", "no drive log has a row every hundred seconds"},
		{"Seconds", "10", "20", "20", "the header is the unit"},
	} {
		got := strings.Fields(scan(t, "a,"+c.head+"\n1,"+c.a+"\n2,"+c.b+"\n", Options{Channels: map[string]string{"a": "a"}}, "a"))
		var v float64
		fmt.Sscan(got[4], &v)
		if fmt.Sprintf("%.6g", v) != c.want {
			t.Errorf("%s: got %v, want %s", c.why, got, c.want)
		}
	}
}

func TestDetectionOverridden(t *testing.T) {
	text := "a remark, 1\nname;rpm;t\nunit;V;s\nx;8,5;0\ny;9,5;1\n"
	// Left alone: channels t, rpm in volts (refused).
	if _, _, err := tryScan(text, Options{}, "engine_speed"); err == nil {
		t.Error("an engine speed in volts was read")
	}
	for _, o := range []Options{
		{Units: map[string]string{"engine_speed": "rpm"}},
		{Units: map[string]string{"engine_speed": "rpm"}, HeaderLine: 2, UnitsRow: "yes", Delimiter: ";", Decimal: ",", Encoding: "latin-1", TimeFormat: "s", Form: "wide", Held: "no"},
	} {
		want(t, scan(t, text, o, "engine_speed"), "4 0 8.5*\n5 1 9.5*")
	}
	for _, o := range []Options{{Delimiter: "ab"}, {Decimal: "x"}, {Encoding: "ebcdic"}, {TimeFormat: "moons"}, {Form: "tall"}, {Held: "maybe"},
		{UnitsRow: "2"}, {Form: "long"}, {HeaderLine: 99}, {Channels: map[string]string{"x y": "name"}}, {Channels: map[string]string{"x": "nome"}},
		{Units: map[string]string{"battery": "V"}}, {Let: []Definition{{Name: "a b", Expr: "1"}}}} {
		if _, _, err := tryScan(text, o, "time"); err == nil || !strings.HasPrefix(err.Error(), "-:") {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

func TestInterruptedScan(t *testing.T) {
	var b strings.Builder
	b.WriteString("time (s),RPM\n")
	for i := range 200000 {
		fmt.Fprintf(&b, "%d,%d\n", i, i%7)
	}
	l, err := Open("-", strings.NewReader(b.String()), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	ctx, stop := context.WithCancel(context.Background())
	frames := 0
	_, err = l.Scan(ctx, Query{Columns: []string{"engine_speed"}}, func(*Frame) error {
		frames++
		stop()
		return nil
	})
	if !errors.Is(err, context.Canceled) || frames > 5 { // some are made while one is looked at
		t.Errorf("%d frames after the interruption, %v", frames, err)
	}
	mine := errors.New("mine")
	_, err = l.Scan(context.Background(), Query{Columns: []string{"engine_speed"}}, func(*Frame) error { return mine })
	if err != mine {
		t.Errorf("the caller's error came back as %v", err)
	}
}

func TestInterruptedStream(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	ctx, stop := context.WithCancel(context.Background())
	go func() {
		io.WriteString(w, "time,RPM\n0,800\n") // and then nothing
		stop()
	}()
	if _, err := Open("-", r, Options{Context: ctx}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestManyWords(t *testing.T) {
	// Rows of which most cells are words.
	log := "time,Fuel status,Mode,Note,Driver,RPM\n0,Closed loop,eco,start,first,800\n1,Open loop due to load,eco,start,second,900\n"
	want(t, scan(t, log, Options{}, "engine_speed", "fuel_status"), "2 0 800* 2*\n3 1 900* 4*")
}

// An error of the consumer ends a scan: it is returned as it is, and no frame
// comes behind it, however many workers have parsed some.
func TestErrorEndsScan(t *testing.T) {
	stop := errors.New("enough")
	for range 60 {
		l, err := Open("-", strings.NewReader(dialects()["plain"]), Options{piece: 60, Workers: 4})
		if err != nil {
			t.Fatal(err)
		}
		frames := 0
		_, err = l.Scan(context.Background(), Query{}, func(*Frame) error {
			if frames++; frames >= 3 {
				runtime.Gosched()
				return stop
			}
			return nil
		})
		if err != stop || frames != 3 {
			t.Fatalf("%d frames, then %v", frames, err)
		}
		l.Close()
	}
}

func TestProgress(t *testing.T) {
	for name, text := range map[string]string{"plain": dialects()["plain"], "gzip": dialects()["gzip"], "utf-16le": dialects()["utf-16le"]} {
		var last, size int64
		steps := 0
		told := func(d, s int64) {
			if d < last {
				t.Errorf("%s: from %d back to %d", name, last, d)
			}
			if d > last {
				steps++
			}
			last, size = d, s
		}
		l, err := Open("-", strings.NewReader(text), Options{piece: 200, Progress: func() func(d, s int64) { last, steps = 0, 0; return told }})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Scan(context.Background(), Query{}, func(*Frame) error { return nil }); err != nil {
			t.Fatal(err)
		}
		if name == "plain" && steps < len(text)/2000 { // pieces that were read while one was looked at are told together
			t.Errorf("%d steps for %d bytes in pieces of 200", steps, len(text))
		}
		if size != int64(len(text)) || last != size {
			t.Errorf("%s: %d of %d, want %d", name, last, size, len(text))
		}
		l, err = Open("-", strings.NewReader(text), Options{piece: 200, Progress: func() func(d, s int64) { last, steps = 0, 0; return told }})
		if err != nil {
			t.Fatal(err)
		}
		stop := errors.New("enough")
		if _, err := l.Scan(context.Background(), Query{}, func(*Frame) error { return stop }); err != stop || last != size {
			t.Errorf("%s: %v at %d of %d, want to be told the end of a reading that was stopped", name, err, last, size)
		}
	}
}

// obdScale is how SAE J1979 reads the data bytes a and b of each parameter, as
// testdata/reference/constants.md, section 2, quotes it.
var obdScale = map[string]func(a, b float64) float64{
	"04": func(a, _ float64) float64 { return a * 100 / 255 },
	"05": func(a, _ float64) float64 { return a - 40 },
	"06": func(a, _ float64) float64 { return (a - 128) * 100 / 128 },
	"07": func(a, _ float64) float64 { return (a - 128) * 100 / 128 },
	"08": func(a, _ float64) float64 { return (a - 128) * 100 / 128 },
	"09": func(a, _ float64) float64 { return (a - 128) * 100 / 128 },
	"0B": func(a, _ float64) float64 { return a },
	"0C": func(a, b float64) float64 { return (256*a + b) / 4 },
	"0E": func(a, _ float64) float64 { return a/2 - 64 },
	"10": func(a, b float64) float64 { return (256*a + b) / 100 },
	"11": func(a, _ float64) float64 { return a * 100 / 255 },
	"22": func(a, b float64) float64 { return (256*a + b) * 0.079 },
	"23": func(a, b float64) float64 { return (256*a + b) * 10 },
	"24": func(a, b float64) float64 { return (256*a + b) / 32768 },
	"42": func(a, b float64) float64 { return (256*a + b) / 1000 },
	"43": func(a, b float64) float64 { return (256*a + b) * 100 / 255 },
	"44": func(a, b float64) float64 { return (256*a + b) / 32768 },
}

// TestOBDVectors reads the values of raw bytes, under the names and in the units
// that the standard uses, as the standard scales them.
func TestOBDVectors(t *testing.T) {
	f, err := os.Open("../../testdata/reference/obd-pid-vectors.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, r := range rows[1:] {
		h, scale := channel.ReadHeading(r[1]+" ("+r[2]+")"), obdScale[r[0]]
		if h.Channel == "" || scale == nil {
			continue
		}
		checked++
		raw, err := hex.DecodeString(r[3])
		if err != nil {
			t.Fatal(err)
		}
		v := scale(float64(raw[0]), float64(append(raw, 0)[1]))
		if given, _ := strconv.ParseFloat(r[4], 64); math.Abs(given-v) > 1e-9*math.Max(1, math.Abs(v)) {
			t.Errorf("%v: the bytes stand for %v", r, v)
		}
		neighbour := "-0.78125" // makes a trim's scale certain
		if h.Unit == "kPa" {
			neighbour = "101"
		}
		got := scan(t, fmt.Sprintf("time,%q,x\n0,%v,1\n1,%s,1\n", h.Text, v, neighbour), Options{}, h.Channel)
		want := fmt.Sprintf("2 0 %.6g*\n", v)
		if v == 0 && (h.Channel == "manifold_pressure" || h.Channel == "barometric_pressure") {
			want = "2 0 -\n" // no absolute pressure is zero
		}
		if !strings.HasPrefix(got, want) {
			t.Errorf("%v: got %s, want %s", r, got, want)
		}
	}
	if checked < 40 {
		t.Errorf("%d of %d vectors were checked", checked, len(rows)-1)
	}
}

// TestWreckedTime: a time that a spreadsheet rounded away gives place to a
// lesser clock; units stand in every cell, some of which do not fit.
func TestWreckedTime(t *testing.T) {
	var b strings.Builder
	b.WriteString("TIME;ENGINE_RUNTIME;ENGINE_RPM;MAF;ENGINE_COOLANT_TEMP;TIMING_ADVANCE;Short Term Fuel Trim Bank 1\n")
	for i := range 400 {
		fmt.Fprintf(&b, "1,5133%dE+12;00:%02d:%02d;%dRPM;%d,77g/s;82C;66,70%%;-1,60%%\n", i/100, i/60, i%60, 800+i, 4+i%3)
	}
	text := strings.Replace(b.String(), "900RPM", "1:6032000007E803", 1)
	got := scan(t, text, Options{}, "engine_speed", "air_flow", "coolant", "short_trim_1")
	if !strings.HasPrefix(got, "2 0 800* 4.77* 82* -1.6*\n3 1 801* 5.77* 82* -1.6*\n") || !strings.Contains(got, "\n102 100 899 ") {
		t.Error(got[:200])
	}
	if _, _, err := tryScan(text, Options{}, "spark"); err == nil || !strings.Contains(err.Error(), `unit "%" does not fit spark, which is in deg`) {
		t.Errorf("a spark in percent: %v", err)
	}
	// A whole second under a hundred rows is coarse too, but the only clock.
	b.Reset()
	b.WriteString("time,RPM\n")
	for i := range 300 {
		fmt.Fprintf(&b, "%d,%d\n", i/100, i)
	}
	if got := scan(t, b.String(), Options{}, "engine_speed"); !strings.HasSuffix(got, "301 2 299*\n") {
		t.Error(got)
	}
}

// TestLastColumnWithoutHeader: a last header that is empty is a column where
// anything stands below it; else it is a delimiter at the end of each line.
func TestLastColumnWithoutHeader(t *testing.T) {
	for _, c := range []struct {
		text, want, why string
	}{
		{"time,RPM,,Foo,\n0,1000,5,1,7\n1,1001,6,2,8\n2,1002,7,3,9\n", `"time":3 "RPM":3 "":3 "Foo":3 "":3`, "readings"},
		{"time,RPM,\n0,1000,\n1,1001,\n2,1002,9\n", `"time":3 "RPM":3 "":1`, "one reading, and late"},
		{"time,RPM,\n0,1000,off\n1,1001,\n2,1002,\n", `"time":3 "RPM":3 "":0`, "a word"},
		{"time,RPM,\n0,1000,n/a\n1,1001,\n2,1002,\n", `"time":3 "RPM":3 "":0`, "a missing mark"},
		{"time,RPM,\n0,1000,\n1,1001,\n2,1002,\n", `"time":3 "RPM":3`, "empty cells alone"},
		{"time,RPM,\n0,1000\n1,1001\n2,1002\n", `"time":3 "RPM":3`, "rows without the cell"},
		{"time,,RPM\n0,,1000\n1,,1001\n2,,1002\n", `"time":3 "":0 "RPM":3`, "not the last"},
	} {
		l, err := Open("-", strings.NewReader(c.text), Options{})
		if err != nil {
			t.Fatal(err)
		}
		sv, err := l.Survey(context.Background())
		l.Close()
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, ch := range sv.Channels {
			got = append(got, fmt.Sprintf("%q:%d", ch.Header, ch.Count))
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: got %s, want %s", c.why, s, c.want)
		}
	}
}

// TestLasted: a time lasts what its decimals say, from 0 and from 1970.
func TestLasted(t *testing.T) {
	for _, c := range [][3]float64{{0.4, 0.8, 0.4}, {15.1, 16.1, 1}, {1778572803.3, 1778572803.4, 0.1}, {0.8, 0.4, -0.4}, {math.Inf(-1), 3, math.Inf(1)}} {
		if got := Lasted(c[0], c[1]); got != c[2] {
			t.Errorf("from %v to %v: %v, want %v", c[0], c[1], got, c[2])
		}
	}
}
