package channel

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables/drivelog/dialect"
)

// column is one under a header, with these cells.
func column(header string, cells ...string) *Column {
	c := NewColumn(header, 0, []string{"NaN"})
	var b [][]byte
	for _, cell := range cells {
		b = append(b, []byte(cell))
	}
	c.Decimal = '.'
	c.Prove(b)
	c.Observe(b)
	return c
}

// named is one that is a channel already.
func named(name, header string, cells ...string) *Column {
	c := column(header, cells...)
	c.Name = name
	return c
}

// settled are columns once their units are decided, each in a line.
func settled(s *Settings, cols ...*Column) (lines []string) {
	if s == nil {
		s = &Settings{}
	}
	if s.GaugeStoich == 0 {
		s.GaugeStoich, s.Stoich, s.StoichFrom = 14.7, 14.1, "the calibration"
	}
	SettleAll(cols, s)
	for _, c := range cols {
		switch {
		case c.Bad != "":
			lines = append(lines, "bad: "+c.Bad)
		case c.Note != "":
			lines = append(lines, fmt.Sprintf("%s: %.9g to %.9g; %s", c.Unit(), c.Conv.Apply(c.Seen.Min), c.Conv.Apply(c.Seen.Max), c.Note))
		case c.Assumption() != "":
			lines = append(lines, fmt.Sprintf("%s: %.9g to %.9g; assumed", c.Unit(), c.Conv.Apply(c.Seen.Min), c.Conv.Apply(c.Seen.Max)))
		default:
			lines = append(lines, fmt.Sprintf("%s: %.9g to %.9g", c.Unit(), c.Conv.Apply(c.Seen.Min), c.Conv.Apply(c.Seen.Max)))
		}
	}
	return lines
}

// TestScalesOfTrims: percent, a factor, per cent near 100 or a share, by the unit, by a
// person or by the numbers; and what stays open.
func TestScalesOfTrims(t *testing.T) {
	const trim = "short_trim_1"
	open := func(from, to, what, words string) string {
		return fmt.Sprintf("bad: \"STFT\" from %s to %s may be %s: --channel-unit short_trim_1=%s", from, to, what, words)
	}
	for _, c := range []struct {
		why, header, cells, told, want string
	}{
		{"percent", "STFT (%)", "-3 4", "", "%: -3 to 4"},
		{"percent that is small", "STFT (%)", "-0.1 0.3", "", "%: -0.1 to 0.3"},
		{"percent with many places may be a spreadsheet's share", "STFT (%)", "-0.125 0.375", "", strings.Replace(open("−0.125", "0.375", "percent or a share of 1", "% or share"), "\"STFT\"", "\"STFT (%)\"", 1)},
		{"no unit, below zero", "STFT", "-3 4", "", "%: -3 to 4; assumed"},
		{"no unit, at zero", "STFT", "0 4", "", "%: 0 to 4; assumed"},
		{"no unit, past a factor", "STFT", "1 1.7", "", "%: 1 to 1.7; assumed"},
		{"no unit, far below one", "STFT", "0.1 0.39", "", open("0.1", "0.39", "percent or a share of 1", "% or share")},
		{"no unit, as small as a share", "STFT", "-0.4 0.4", "", open("−0.4", "0.4", "percent or a share of 1", "% or share")},
		{"no unit, a little more", "STFT", "-0.4 0.41", "", "%: -0.4 to 0.41; assumed"},
		{"zeros alone", "STFT", "0 0", "", "%: 0 to 0; assumed"},
		{"a factor", "STFT", "0.95 1.05", "", "%: -5 to 5; short_trim_1: a factor, 1 is no correction, from the numbers (0.95 to 1.05)"},
		{"a factor that goes one way", "STFT", "1.01 1.05", "", open("1.01", "1.05", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"a factor that goes too far", "STFT", "0.95 1.4", "", open("0.95", "1.4", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"a factor that goes too far down", "STFT", "0.7 1.2", "", open("0.7", "1.2", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"a factor by its unit", "STFT (1)", "1.01 1.05", "", "%: 1 to 5"},
		{"a share by its unit", "STFT (1)", "-0.02 0.05", "", "%: -2 to 5; short_trim_1: a share, 0.01 is 1 %, from the numbers (−0.02 to 0.05)"},
		{"neither by its unit", "STFT (1)", "0.45 1.05", "", strings.Replace(open("0.45", "1.05", "percent, a factor or per cent near 100", "%, factor or hundred"), "\"STFT\"", "\"STFT (1)\"", 1)},
		{"zero, and not past a factor", "STFT", "0 1.2", "", "%: 0 to 1.2; assumed"},
		{"just not past a factor", "STFT", "1 1.6", "", open("1", "1.6", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"a factor from below alone", "STFT", "0.8 0.95", "", open("0.8", "0.95", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"ones alone", "STFT", "1 1", "", open("1", "1", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"a share by its unit, at its bounds", "STFT (1)", "-0.4 0.4", "", "%: -40 to 40; short_trim_1: a share, 0.01 is 1 %, from the numbers (−0.4 to 0.4)"},
		{"below them", "STFT (1)", "-0.41 0.4", "", strings.Replace(open("−0.41", "0.4", "percent, a factor or per cent near 100", "%, factor or hundred"), "\"STFT\"", "\"STFT (1)\"", 1)},
		{"above them", "STFT (1)", "-0.4 0.41", "", strings.Replace(open("−0.4", "0.41", "percent, a factor or per cent near 100", "%, factor or hundred"), "\"STFT\"", "\"STFT (1)\"", 1)},
		{"a factor by its unit, as far as it goes", "STFT (1)", "0.51 1.99", "", "%: -49 to 99"},
		{"too far down", "STFT (1)", "0.5 1.99", "", strings.Replace(open("0.5", "1.99", "percent, a factor or per cent near 100", "%, factor or hundred"), "\"STFT\"", "\"STFT (1)\"", 1)},
		{"too far up", "STFT (1)", "0.51 2", "", strings.Replace(open("0.51", "2", "percent, a factor or per cent near 100", "%, factor or hundred"), "\"STFT\"", "\"STFT (1)\"", 1)},
		{"per cent near 100", "STFT", "95 104", "", "%: -5 to 4; short_trim_1: 100 is no correction, from the numbers (95 to 104)"},
		{"per cent from 50 to 200", "STFT", "50 200", "", "%: -50 to 100; short_trim_1: 100 is no correction, from the numbers (50 to 200)"},
		{"per cent past that", "STFT", "50 201", "", open("50", "201", "percent, a factor or per cent near 100", "%, factor or hundred")},
		{"told percent", "STFT", "1.01 1.05", "%", "%: 1.01 to 1.05"},
		{"told a factor", "STFT", "1.01 1.05", "factor", "%: 1 to 5"},
		{"told a hundred", "STFT", "40 60", "hundred", "%: -60 to -40"},
		{"told a share", "STFT", "-3 4", "share", "%: -300 to 400"},
		{"told what is none", "STFT", "-3 4", "kPa", `bad: unit "kPa" does not fit short_trim_1, which is in %`},
		{"a unit that is none", "STFT (V)", "-3 4", "", `bad: unit "V" does not fit short_trim_1, which is in %`},
	} {
		s := &Settings{}
		if c.told != "" {
			s.Units = map[string]string{trim: c.told}
		}
		got := settled(s, named(trim, c.header, strings.Fields(c.cells)...))[0]
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestTrimsTogether: a logger writes all of its trims one way, so what one leaves open
// another tells.
func TestTrimsTogether(t *testing.T) {
	for _, c := range []struct {
		why, one, other, want string // of the other
	}{
		{"percent beside percent", "-3 4", "0.5 1.5", "%: 0.5 to 1.5; assumed"},
		{"what looks like a factor beside percent", "-3 4", "0.9 1.1", "%: 0.9 to 1.1; assumed"},
		{"a share beside percent", "-3 4", "0.1 0.2", "%: 0.1 to 0.2; assumed"},
		{"one way beside a factor", "0.9 1.1", "1.01 1.05", "%: 1 to 5; long_trim_1: a factor, 1 is no correction, from the numbers (1.01 to 1.05)"},
		{"far from a factor beside one", "0.9 1.1", "0.45 0.6", `bad: "LTFT" from 0.45 to 0.6 may be percent, a factor or per cent near 100: --channel-unit long_trim_1=%, factor or hundred`},
		{"near 100 beside near 100", "95 104", "60 201", "%: -40 to 101; long_trim_1: 100 is no correction, from the numbers (60 to 201)"},
		{"zeros beside percent", "-3 4", "0 0", "%: 0 to 0; assumed"},
	} {
		got := settled(nil, named("short_trim_1", "STFT", strings.Fields(c.one)...), named("long_trim_1", "LTFT", strings.Fields(c.other)...))[1]
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	const percent, factor, hundred, one, far = "-3 4", "0.9 1.1", "95 104", "1.01 1.05", "60 201"
	for _, c := range []struct {
		trims string // of three columns; the last is open
		bad   bool
	}{
		{percent + "|" + hundred + "|" + one, true}, {percent + "|" + factor + "|" + one, false}, {factor + "|" + hundred + "|" + one, true}, {factor + "|" + factor + "|" + one, false},
		{hundred + "|" + percent + "|" + far, true}, {hundred + "|" + factor + "|" + far, true}, {hundred + "|" + hundred + "|" + far, false}, {hundred + "|" + hundred + "|50 201", true},
		{percent + "|" + percent + "|" + far, true}, {factor + "|" + factor + "|0.5 0.9", true}, {factor + "|" + factor + "|0.51 0.9", false},
	} {
		cells := strings.Split(c.trims, "|")
		got := settled(nil, named("short_trim_1", "STFT", strings.Fields(cells[0])...), named("long_trim_1", "LTFT", strings.Fields(cells[1])...), named("short_trim_2", "STFT2", strings.Fields(cells[2])...))[2]
		if strings.HasPrefix(got, "bad: ") != c.bad {
			t.Errorf("%s: %s", c.trims, got)
		}
	}
	// A column without a reading tells nothing of the others.
	got := settled(nil, named("short_trim_1", "STFT"), named("long_trim_1", "LTFT", "0.5", "1.5"))[1]
	if !strings.HasPrefix(got, "bad: ") {
		t.Error(got)
	}
	// A unit of percent is believed of a person's own column, and of one that never passes 1.
	for _, c := range []struct {
		told  bool
		cells string
		bad   bool
	}{{false, "0.5 0.9", false}, {false, "1.1 1.5", false}, {false, "0.5 1.5", true}, {true, "0.5 1.5", false}, {false, "1.1 49", false}, {true, "51 201", false}, {false, "51 201", true}} {
		col := named("short_trim_1", "STFT (%)", strings.Fields(c.cells)...)
		col.Told = c.told
		if got := settled(nil, col)[0]; strings.HasPrefix(got, "bad: ") != c.bad {
			t.Errorf("%s, told %v: %s", c.cells, c.told, got)
		}
	}
}

// TestLambdaOrRatio: by the unit, by the numbers, and by neither.
func TestLambdaOrRatio(t *testing.T) {
	for _, c := range []struct {
		why, name, header, cells, want string
	}{
		{"lambda", "lambda", "Lambda", "0.9 1.1", "lambda: 0.9 to 1.1; assumed"},
		{"lambda by its unit", "lambda", "Lambda (lambda)", "0.9 1.1", "lambda: 0.9 to 1.1"},
		{"a plain number", "lambda", "Lambda (1)", "0.9 1.1", "lambda: 0.9 to 1.1"},
		{"a lambda of a lean exhaust", "lambda", "Lambda (lambda)", "4.9 4.9", "lambda: 4.9 to 4.9"},
		{"no unit, as lean", "lambda", "Lambda", "3.1 3.1", "bad: its numbers near 3.1 are neither lambda nor an air/fuel ratio: --channel-unit lambda=lambda or AFR"},
		{"no unit, at 3", "lambda", "Lambda", "3 3", "lambda: 3 to 3; assumed"},
		{"past any lambda", "lambda", "Lambda (lambda)", "5 5", "bad: its numbers near 5 are neither lambda nor an air/fuel ratio: --channel-unit lambda=lambda or AFR"},
		{"at 7", "lambda", "Lambda", "7 7", "bad: its numbers near 7 are neither lambda nor an air/fuel ratio: --channel-unit lambda=lambda or AFR"},
		{"just past 7", "lambda", "Lambda", "7.35 7.35", "lambda: 0.5 to 0.5; lambda: \"Lambda\" near 7.35 is an air/fuel ratio, whatever its header says, divided by 14.7 (--gauge-stoich)"},
		{"a ratio", "lambda", "AFR", "14.7 14.7", "lambda: 1 to 1; lambda: \"AFR\" is an air/fuel ratio, divided by 14.7 (--gauge-stoich)"},
		{"a ratio that says lambda", "lambda", "Lambda (lambda)", "14.7 14.7", "lambda: 1 to 1; lambda: \"Lambda (lambda)\" near 14.7 is an air/fuel ratio, whatever its header says, divided by 14.7 (--gauge-stoich)"},
		{"a ratio that was commanded", "lambda_commanded", "Commanded AFR", "14.1 14.1", "lambda: 1 to 1; lambda_commanded: \"Commanded AFR\" is an air/fuel ratio, divided by 14.1 (the calibration)"},
		{"a ratio that is a lambda", "lambda", "AFR", "1 1", "bad: its numbers near 1 are no air/fuel ratio: --channel-unit lambda=lambda"},
		{"a ratio at 3", "lambda", "AFR", "3 3", "lambda: 0.204081633 to 0.204081633; lambda: \"AFR\" is an air/fuel ratio, divided by 14.7 (--gauge-stoich)"},
		{"a gauge that warms up", "lambda", "Lambda", "0 0 0 14.7", "lambda: 0 to 1; lambda: \"Lambda\" near 14.7 is an air/fuel ratio, whatever its header says, divided by 14.7 (--gauge-stoich)"},
		{"one that is off", "lambda", "Lambda", "0 0", "lambda: 0 to 0; assumed"},
		{"in volts", "lambda", "Lambda (V)", "0.4 0.9", `bad: unit "V" does not fit lambda, which is in lambda`},
		{"in percent", "lambda", "Lambda (%)", "90 110", `bad: unit "%" does not fit lambda, which is in lambda`},
	} {
		if got := settled(nil, named(c.name, c.header, strings.Fields(c.cells)...))[0]; got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestPressuresAndRetard: an absolute pressure is above zero, a retard is positive.
func TestPressuresAndRetard(t *testing.T) {
	const gauge = ", so it is a vacuum or a gauge pressure, not an absolute one: --channel gauge=HEADER and --let manifold_pressure='101.3 + gauge', or '101.3 - gauge' of a vacuum"
	ten := strings.Repeat("50 ", 18)
	for _, c := range []struct {
		why, name, header, cells string
		falls                    bool
		want                     string
		absolute                 bool
	}{
		{"manifold", "manifold_pressure", "MAP (kPa)", "30 90", false, "kPa: 30 to 90", true},
		{"a tenth at zero and below", "manifold_pressure", "MAP (kPa)", ten + "-1 0", false, "kPa: -1 to 50", true},
		{"more than that", "manifold_pressure", "MAP (kPa)", ten + "-1 0 0", false, "bad: it goes down to −1 kPa" + gauge, true},
		{"zeros alone", "manifold_pressure", "MAP (kPa)", "0 0 50", false, "kPa: 0 to 50", true},
		{"one that falls", "manifold_pressure", "MAP (kPa)", "30 90", true, "bad: it falls where the throttle opens" + gauge, true},
		{"none", "manifold_pressure", "MAP (kPa)", "", true, "kPa: 0 to 0", true},
		{"the barometer", "barometric_pressure", "Baro (kPa)", "-1 -1", true, "kPa: -1 to -1", true},
		{"a rail", "rail_pressure", "Rail pressure (kPa)", "-1 300", false, "kPa: -1 to 300", false},
		{"an absolute one", "rail_pressure", "Rail pressure (kPa(a))", "400 410", false, "kPa: 400 to 410", true},
		{"a gauge in a manifold", "manifold_pressure", "MAP (kPa(g))", "-30 0", false, `bad: unit "kPa(g)" does not fit manifold_pressure, which is in kPa absolute`, false},
		{"retard", "knock_retard", "KR (deg)", "0 3", false, "deg: 0 to 3", false},
		{"a negative advance", "knock_retard", "KR (deg)", "-3 0", false, "deg: 3 to -0; knock_retard: \"KR (deg)\" is never above 0 and is taken as a negative advance", false},
		{"both signs", "knock_retard", "KR (deg)", "-3 1", false, "deg: -3 to 1", false},
		{"zeros of retard", "knock_retard", "KR (deg)", "0 0", false, "deg: 0 to 0", false},
		{"in another unit", "engine_speed", "RPM x1000", "1 2.5", false, "r/min: 1000 to 2500", false},
		{"without one", "gear", "Gear", "1 5", false, ": 1 to 5", false},
		{"what measures nothing", "gear", "Gear (V)", "1 5", false, `bad: unit "V" does not fit gear, which is in no unit`, false},
		{"a unit that is not known", "speed", "Speed (furlongs)", "1 5", false, `bad: unit "furlongs" is not known: --channel-unit speed=UNIT`, false},
	} {
		col := named(c.name, c.header, strings.Fields(c.cells)...)
		col.Falls = c.falls
		if got := settled(nil, col)[0]; got != c.want || col.Absolute != c.absolute {
			t.Errorf("%s: %s, absolute %v, want %s", c.why, got, col.Absolute, c.want)
		}
	}
	// The cells know their unit better than the header does, and a person best of all.
	if got := settled(nil, named("manifold_pressure", "MAP (kPa)", "1bar", "2bar"))[0]; got != "kPa: 100 to 200" {
		t.Error(got)
	}
	if got := settled(nil, named("manifold_pressure", "MAP (kPa)", "1V", "2V"))[0]; got != "kPa: 1 to 2" {
		t.Error(got)
	}
	if got := settled(&Settings{Units: map[string]string{"manifold_pressure": "psi"}}, named("manifold_pressure", "MAP (furlongs)", "10", "10"))[0]; !strings.HasPrefix(got, "kPa: 68.9") {
		t.Error(got)
	}
	open := NewColumn("Load", 0, nil)
	open.Name = "load"
	open.Prove([][]byte{[]byte("1.234")})
	open.Observe([][]byte{[]byte("1.234")})
	if got := settled(nil, open)[0]; got != `bad: "1.234" may be 1.234 or 1234: --decimal . or ,` {
		t.Error(got)
	}
	if open.Proof.First = ""; settled(nil, open)[0] != "bad: its numbers can be read in two ways: --decimal . or ," {
		t.Error(open.Bad)
	}
}

// TestHeadings: a header's name, unit and channel.
func TestHeadings(t *testing.T) {
	for header, want := range map[string]string{
		"Engine speed (rpm)": "Engine speed|rpm|engine_speed|", "MAF[g/sec]": "MAF|g/sec|air_flow|", "Coolant, degC": "Coolant|degC|coolant|", "Load {%}": "Load|%|load|",
		"throttle_pct": "throttle_pct|pct|throttle|", "Speed (kPa (a))": "Speed|kPa (a)|speed|kPa (a)", "RPM ()": "RPM||engine_speed|", "(kPa)": "(kPa)|||", "Manifold pressure (MAP)": "Manifold pressure (MAP)||manifold_pressure|",
		"Speed (furlongs)": "Speed|furlongs|speed|furlongs", "Widget (furlongs)": "Widget (furlongs)|||furlongs", "A, b": "A, b|||", ", V": ", V|||", "MAP)": "MAP)||manifold_pressure|", "MAP (kPa]": "MAP (kPa]|||",
		"AFR": "AFR|AFR|lambda|", "Milliseconds": "Milliseconds|ms|time|", "Elapsed seconds": "Elapsed seconds|s|time|", "RPM x1000": "RPM x1000|krpm|engine_speed|", "Time ms": "Time ms|ms|time|", "Lambda AFR": "Lambda AFR|AFR|lambda|",
		"AFR (lambda)": "AFR|lambda|lambda|", "Throttle position": "Throttle position||throttle|", "Spark blend factor": "Spark blend factor||spark_blend|", "Gear 1": "Gear 1|||", "Battery V": "Battery V|V|battery|", "Gear V": "Gear V|||", "Battery kPa": "Battery kPa|||", "V": "V|||", "load_": "load_||load|",
		" Load ": "Load||load|", "Â°C": "°C|||", "": "|||", "Injector time ms": "Injector time ms|ms|pulse_width|",
	} {
		h := ReadHeading(header)
		if got := strings.Join([]string{h.Name, h.Unit, h.Channel, h.Odd}, "|"); got != want || h.Raw != header {
			t.Errorf("%q: %s, want %s", header, got, want)
		}
	}
	for header, want := range map[string]string{"EngineSpeed": "engine speed", "STFT1": "short term fuel trim 1", "MAP2kPa": "manifold absolute pressure 2 k pa", "RPM x 1000": "engine speed x1000", "x 100": "x 100", "ABCDef": "abc def", "engine-speed": "engine speed", "": "", "percent": "", "x": "x"} {
		if got := strings.Join(WordsOf(header), " "); got != want {
			t.Errorf("%q: %s, want %s", header, got, want)
		}
	}
}

// TestMarksOfColumns: a column's own mark, the log's, and what makes sense one way only.
func TestMarksOfColumns(t *testing.T) {
	proven := func(header string, cells ...string) *Column {
		c := NewColumn(header, 0, nil)
		for _, cell := range cells {
			c.Proof.Observe([]byte(cell))
		}
		return c
	}
	mark := map[byte]string{'.': ".", ',': ",", dialect.Undecided: "?"}
	for _, c := range []struct {
		why  string
		cols []*Column
		want string // the log's, then each column's
	}{
		{"a channel's", []*Column{proven("RPM", "1.5"), proven("x", "15")}, "..."},
		{"a channel's over another column's", []*Column{proven("RPM", "1,5"), proven("x", "1.5")}, ",,."},
		{"another column's where no channel proves any", []*Column{proven("RPM", "15"), proven("x", "1,5")}, ",,,"},
		{"channels that differ", []*Column{proven("RPM", "1,5"), proven("Load", "1.5")}, "?,."},
		{"columns that differ", []*Column{proven("x", "1,5"), proven("y", "1.5")}, "?,."},
		{"nothing", []*Column{proven("RPM", "15")}, "??"},
		{"an engine never turns so slowly", []*Column{proven("RPM", "1.234")}, "?,"},
		{"a throttle never opens so far", []*Column{proven("TPS", "1.234")}, "?."},
		{"air flow may be either", []*Column{proven("MAF", "1.234")}, "??"},
		{"a speed in another unit", []*Column{proven("RPM (1/s)", "1.234")}, "??"},
		{"a speed in its own", []*Column{proven("RPM (r/min)", "1.234")}, "?,"},
		{"a unit that is not known", []*Column{proven("RPM (furlongs)", "1.234")}, "??"},
		{"against the log's", []*Column{proven("Load", "1,5"), proven("TPS", "1.234")}, ",,?"},
		{"as the log's", []*Column{proven("Load", "1,5"), proven("TPS", "1,234")}, ",,,"},
		{"by several cells", []*Column{proven("MAF", "1.234", "1234")}, "?."},
		{"no question", []*Column{proven("TPS", "12")}, "??"},
	} {
		got := mark[DecideMarks(c.cols)]
		for _, col := range c.cols {
			got += mark[col.Decimal]
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestHeadsAgain: a header or its units among the rows, of this log or of another.
func TestHeadsAgain(t *testing.T) {
	d, err := dialect.Detect(&dialect.Head{Text: []byte("Time (s),RPM,Load\ns,rpm,%\n1,2,3\n"), AtEnd: true}, &dialect.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	h := NewHeads(d, false)
	for line, want := range map[string]bool{
		"Time (s),RPM,Load": false, "time (s),rpm,LOAD": false, "s,rpm,%": false, "(s),[rpm],{%}": false, "1,2,3": false, ",,": false, "on,off,x": false, "RPM,2": false, "V,2": false, "RPM,TPS": true, ",RPM,,TPS,3,4": true,
		"RPM,Time (s),Load": true, "Time (ms),RPM,Load": true, "Time (s),RPM,TPS": true, "ms,rpm,%": true, "s,rpm,V": true, "RPM,2,3": false, "RPM,TPS,3,4,5": false, "RPM,TPS,3,4": true,
		"V,2,3": false, "V,kPa,3,4": true, "V,kPa,3,4,5": false, "Time (s),RPM,Load,": false, "Time (s),RPM,Load,TPS": true,
	} {
		if got := h.Others(dialect.SplitFields([]byte(line), ',')); got != want {
			t.Errorf("%q: %v", line, got)
		}
	}
	long, err := dialect.Detect(&dialect.Head{Text: []byte("Time,Name,Value\n1,RPM,3\n"), AtEnd: true}, &dialect.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	if h := NewHeads(long, true); h.Others(dialect.SplitFields([]byte("RPM,TPS,1"), ',')) || h.Others(dialect.SplitFields([]byte("Time,Name,Value"), ',')) || !h.Others(dialect.SplitFields([]byte("Name,Time,Value"), ',')) {
		t.Error("names of channels in the long form are no header")
	}
}

// TestAssign: what a person maps, what headers claim, and what is refused.
func TestAssign(t *testing.T) {
	cols := func(headers ...string) (list []*Column) {
		for i, h := range headers {
			c := column(h, "1", "2")
			c.Index = i
			list = append(list, c)
		}
		return list
	}
	why := func(cols []*Column) string {
		var s []string
		for _, c := range cols {
			s = append(s, c.Name+": "+c.Why)
		}
		return strings.Join(s, "; ")
	}
	for _, c := range []struct {
		why   string
		cols  []*Column
		told  map[string]string
		want  string
		clash string
		err   string
	}{
		{why: "by header", cols: cols("RPM", "x"), want: "engine_speed: its header says so; : "},
		{why: "a lesser spelling gives way", cols: cols("Speed", "Vehicle speed"), want: `: speed is read from "Vehicle speed"; speed: its header says so`},
		{why: "a lesser one alone", cols: cols("Speed"), want: "speed: its header says so"},
		{why: "two for one", cols: cols("RPM", "Engine speed"), want: ": one of several columns that may be engine_speed; : one of several columns that may be engine_speed",
			clash: `"RPM" and "Engine speed" are both engine_speed: choose with --channel engine_speed=RPM`},
		{why: "as told", cols: cols("RPM", "Engine speed"), told: map[string]string{"engine_speed": "Engine speed"}, want: ": ; engine_speed: as told"},
		{why: "in other capitals", cols: cols("RPM", "x"), told: map[string]string{"load": "X"}, want: "engine_speed: its header says so; load: as told"},
		{why: "without its unit", cols: cols("x (V)"), told: map[string]string{"load": "x"}, want: "load: as told"},
		{why: "with blanks around", cols: cols(" x "), told: map[string]string{"load": "x "}, want: "load: as told"},
		{why: "exactly, where two are alike", cols: cols("x", "X"), told: map[string]string{"load": "X"}, want: ": ; load: as told"},
		{why: "two are alike", cols: cols("x", "X"), told: map[string]string{"load": "x "}, want: "load: as told; : "},
		{why: "two are the same", cols: cols("x", "x"), told: map[string]string{"load": "x"}, err: `channel load: the log has 2 columns "x"`},
		{why: "none", cols: cols("RPM", "Lode"), told: map[string]string{"load": "Lote"}, err: `channel load: the log has no column "Lote": did you mean Lode?`},
		{why: "none, and one in small letters", cols: cols("lode"), told: map[string]string{"load": "lote"}, err: `channel load: the log has no column "lote": did you mean lode?`},
		{why: "none, and none near", cols: cols("RPM", ""), told: map[string]string{"load": "zzzzzzz"}, err: `channel load: the log has no column "zzzzzzz"`},
		{why: "two channels of one column", cols: cols("x"), told: map[string]string{"load": "x", "gear": "x"}, err: `channels gear and load are both mapped to "x"`},
		{why: "a name that is none", cols: cols("x"), told: map[string]string{"My load": "x"}, err: `channel "My load": a name is lower-case letters, digits and _`},
		{why: "a name of one's own", cols: cols("x"), told: map[string]string{"mine": "x"}, want: "mine: as told"},
		{why: "one for a channel's column", cols: cols("RPM"), told: map[string]string{"mine": "RPM"}, want: "engine_speed: its header says so; mine: as told"},
		{why: "a status", cols: cols("x"), told: map[string]string{"fuel_status": "x"}, want: "fuel_status: as told"},
	} {
		all, conflicts, err := Assign(c.cols, c.told)
		clash := ""
		for _, k := range conflicts {
			clash += k.Text()
		}
		switch {
		case err != nil || c.err != "":
			if err == nil || err.Error() != c.err {
				t.Errorf("%s: %v, want %s", c.why, err, c.err)
			}
		case why(all) != c.want || clash != c.clash:
			t.Errorf("%s: %s %s, want %s %s", c.why, why(all), clash, c.want, c.clash)
		}
	}
	if all, _, _ := Assign(cols("x"), map[string]string{"fuel_status": "x"}); !all[0].Status {
		t.Error("a status that is told is not read as one")
	}
	if all, _, _ := Assign(cols("RPM"), map[string]string{"mine": "RPM"}); all[0].Second != "" || all[1].Second != "engine_speed" {
		t.Error("the second name is not marked")
	}
	// Columns without readings, and clocks that hardly move, give way.
	empty, full := column("RPM"), column("Engine speed", "1")
	if _, conflicts, _ := Assign([]*Column{empty, full}, nil); conflicts != nil || full.Name != "engine_speed" {
		t.Errorf("%v, %q", conflicts, full.Name)
	}
	coarse, lesser := column("Time", "1"), column("Run time", "1")
	coarse.Coarse = true
	if _, conflicts, _ := Assign([]*Column{coarse, lesser}, nil); conflicts != nil || lesser.Name != "time" {
		t.Errorf("%v, %q", conflicts, lesser.Name)
	}
	words := column("RPM", "x")
	if _, conflicts, _ := Assign([]*Column{words, column("Engine speed", "1")}, nil); len(conflicts) != 1 {
		t.Error("words are no readings")
	}
	bad := column("Time", "1")
	bad.Bad = "it stands still"
	if all, _, _ := Assign([]*Column{bad}, nil); all[0].Name != "" {
		t.Error("a clock that cannot be read is one")
	}
	for in, want := range map[string]string{"RPM": "RPM", "a_b-c.9": "a_b-c.9", "zAZ09": "zAZ09", "Engine speed": "'Engine speed'", "it's": `'it'\''s'`, "": "", "°": "'°'", "a;b": "'a;b'"} {
		if got := shellQuote(in); got != want {
			t.Errorf("%q: %s, want %s", in, got, want)
		}
	}
}

// TestStats: extremes, the mean to the last digit, and on which side of 0 and 1 the
// numbers are.
func TestStats(t *testing.T) {
	var s Stats
	if s.Mean() == s.Mean() {
		t.Error("a mean of nothing")
	}
	for _, v := range []float64{1, 1e100, 1, -1e100, math.Copysign(0, -1), 0.5} {
		s.Add(v)
	}
	if s.Count != 6 || s.Min != -1e100 || s.Max != 1e100 || s.Mean() != 2.5/6 || s.Zeros != 1 || s.above != 1 || s.below != 2 || s.below0 != 1 {
		t.Errorf("%+v, mean %v", s, s.Mean())
	}
	var one Stats
	if one.Add(math.Copysign(0, -1)); math.Signbit(one.Min) || math.Signbit(one.Max) {
		t.Error("−0 is not 0")
	}
	c := named("load", "Load (1)", "0.5", "x", "")
	c.settle(&Settings{}, nil)
	if v, ok := c.In([][]byte{[]byte("0.25")}); !ok || v != 25 {
		t.Errorf("%v, %v", v, ok)
	}
	for _, row := range [][][]byte{nil, {nil}, {[]byte("x")}} {
		if _, ok := c.In(row); ok {
			t.Errorf("%q is a number", row)
		}
	}
	if c.Seen.Count != 1 || c.Seen.Text != 1 || c.Seen.Two != 0 {
		t.Errorf("%+v", c.Seen)
	}
	if got := c.Assumption(); got != "" {
		t.Error(got)
	}
	clock := &Column{Name: "time", Assumed: true, ClockUnit: "ms"}
	if got := clock.Assumption(); got != "time ms" {
		t.Error(got)
	}
	if logged, derived := Names(); len(logged) != len(Known) || !slices.Contains(derived, "trim") || UnitOf("trim") != "%" || UnitOf("nothing") != "" {
		t.Errorf("%v, %v", logged, derived)
	}
	if c := NewColumn("Fuel status", 3, []string{"x"}); !c.Status || c.Index != 3 || c.Missing[0] != "x" || NewColumn("Load", 0, nil).Status {
		t.Errorf("%+v", c)
	}
	for _, c := range []struct {
		c    Column
		want string
	}{{Column{Name: "load", LogUnit: "1"}, "%"}, {Column{Name: "load", LogUnit: "V", Bad: "it does not fit"}, "V"}, {Column{LogUnit: "V"}, "V"}, {Column{Name: "mine", LogUnit: "V"}, "V"}} {
		if got := c.c.Unit(); got != c.want {
			t.Errorf("%+v is in %s", c.c, got)
		}
	}
	for quantity, want := range map[string]string{"engine speed": "engine_speed", "manifold vacuum": "manifold_vacuum", "": "", "colour": ""} {
		if name, ok := For(quantity); name != want || ok != (want != "") {
			t.Errorf("%q: %s, %v", quantity, name, ok)
		}
	}
}
