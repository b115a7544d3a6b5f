package dialect

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestNumbers: a sign, digits, one mark, an exponent, and nothing else; exact to the last
// place also where there are more digits than fit a double's mantissa.
func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		text string
		mark byte
		want float64
	}{
		{"0", '.', 0}, {"-0.5", '.', -0.5}, {"+7", '.', 7}, {".5", '.', 0.5}, {"5.", '.', 5}, {"1,25", ',', 1.25}, {"-1,25E+2", ',', -125}, {"1e-3", '.', 0.001}, {"1,5e2", ',', 150},
		{"123456789012345", '.', 123456789012345}, {"1234567890.12345", '.', 1234567890.12345}, {"0.123456789012345", '.', 0.123456789012345},
		{"1234567890123456", '.', 1234567890123456}, {"0.1234567890123456789", '.', 0.1234567890123456789}, {"9007199254740993", '.', 9007199254740992}, {"9,007199254740993", ',', 9.007199254740993},
		{strings.Repeat("1", 310), '.', math.NaN()}, {"0." + strings.Repeat("1", 398), '.', 0.1111111111111111111}, {"0." + strings.Repeat("1", 399), '.', math.NaN()},
		{"1e999", '.', math.NaN()}, {"1e", '.', math.NaN()}, {"1e+", '.', math.NaN()}, {"1e5x", '.', math.NaN()}, {"1x5", '.', math.NaN()}, {"1.2.3", '.', math.NaN()}, {"", '.', math.NaN()}, {"-", '.', math.NaN()}, {".", '.', math.NaN()}, {"1 ", '.', math.NaN()},
		{"inf", '.', math.NaN()}, {"0x1F", '.', math.NaN()}, {"1_000", '.', math.NaN()}, {"1,5", '.', math.NaN()}, {"1.5", ',', math.NaN()}, {"1.5e2", ',', math.NaN()}, {"--1", '.', math.NaN()},
	} {
		if v, ok := Number([]byte(c.text), c.mark); ok != (c.want == c.want) || ok && v != c.want {
			t.Errorf("%.20q: %v, %v, want %v", c.text, v, ok, c.want)
		}
	}
	if v, ok := Number([]byte("-0"), '.'); !ok || !math.Signbit(v) {
		t.Errorf("-0 is %v", v)
	}
}

// TestGroups: digits in threes, by any separator but the mark itself.
func TestGroups(t *testing.T) {
	for text, want := range map[string]float64{"123.456": 123456, "+1.234": 1234, "1.234": 1234, "12\u2009345": 12345, "1\u2019234,5": 1234.5, "1\xa0234": 1234, "1\x92234": 1234, "999.999.999": 999999999} {
		if v, ok := grouped([]byte(text), ','); !ok || v != want {
			t.Errorf("%q: %v, %v", text, v, ok)
		}
	}
	for _, text := range []string{"1234.567", "0.123", "1,234", "1.23", "1.2345", "1.234x5", "1.234,5,6", "1.234,5 ", "1.234 567", "1", "", "-", "1.", "1.12a"} {
		if v, ok := grouped([]byte(text), ','); ok {
			t.Errorf("%q: %v", text, v)
		}
	}
	for text, want := range map[string]string{".": ".", " x": " ", "\u00a01": "\u00a0", "\xc2": "", "x": "", "": "", "\xe2\x80\x89": "\u2009", "\xe2\x80": "", "\x92": "\x92"} {
		if got := separatorAt([]byte(text)); got != want {
			t.Errorf("%q begins with %q", text, got)
		}
	}
}

// TestMoreProof: how long the numbers in question are, which of them is round, and that
// only so many are kept.
func TestMoreProof(t *testing.T) {
	observed := func(cells ...string) *markProof {
		p := &markProof{}
		for _, c := range cells {
			p.Observe([]byte(c))
		}
		return p
	}
	if p := observed("12.345", "1.234", "123.456", "+1.111", "-2.222"); p.Point.least != 4 || p.Point.two != 5 || p.First != "12.345" || p.Point.round {
		t.Errorf("%+v, first %s", p.Point, p.First)
	}
	if p := observed("1.230", "1.234"); !p.Point.round {
		t.Error("none is round")
	}
	if p := observed("123", "456", "789"); len(p.short) != 2 || p.long != 3 {
		t.Errorf("%v, %d", p.short, p.long)
	}
	if p := observed("12", "12345", "1234"); len(p.short) != 0 || p.long != 5 {
		t.Errorf("%v, %d", p.short, p.long)
	}
	if p := observed("x", "1,2,3"); p.Point.Sure+p.Comma.Sure+p.Point.two+p.Comma.two+p.long != 0 {
		t.Errorf("text is evidence: %+v", p)
	}
	if p := observed(",5", "1,5"); p.Comma.Sure != 2 {
		t.Errorf("%+v", p)
	}
	if p := observed("1.234,5"); p.Comma.Sure != 1 || p.Point.Sure != 0 {
		t.Errorf("%+v", p)
	}
	var many []string
	for i := range 2 * enough {
		many = append(many, fmt.Sprintf("1.%d", 100+i))
	}
	if p := observed(many...); len(p.Point.many) != enough {
		t.Errorf("%d are kept", len(p.Point.many))
	}
}

// TestReadingOfClocks: a time in words is read as such, and a unit that changes is not
// followed for a clock.
func TestReadingOfClocks(t *testing.T) {
	words, err := clockAsked("mm:ss")
	if err != nil {
		t.Fatal(err)
	}
	seconds := clock{Div: 1}
	for _, c := range []struct {
		why  string
		n    Notation
		cell string
		want float64
		kind ReadKind
	}{
		{"words", Notation{Decimal: '.', Clock: &words}, "01:05", 65, ReadNumber},
		{"a number for words", Notation{Decimal: '.', Clock: &words}, "65", 0, ReadText},
		{"a number", Notation{Decimal: '.', Clock: &seconds}, "65", 65, ReadNumber},
		{"its own unit", Notation{Decimal: '.', Clock: &seconds, Suffix: "s"}, "65s", 65, ReadNumber},
		{"another unit", Notation{Decimal: '.', Clock: &seconds, Suffix: "s"}, "65ms", 0, ReadText},
		{"no clock, another unit", Notation{Decimal: '.', Suffix: "s"}, "65ms", 0.065, ReadNumber},
		{"a unit where there is none", Notation{Decimal: '.'}, "65ms", 0, ReadText},
		{"two ways, glued", Notation{Suffix: "s"}, "1.234s", 0, ReadTwoWays},
		{"a mark as a missing one", Notation{Decimal: '.', Missing: []string{"off"}}, "off", 0, readMissing},
		{"either mark will do", Notation{}, "1 234", 1234, ReadNumber},
	} {
		if v, kind := c.n.Read([]byte(c.cell)); kind != c.kind || kind == ReadNumber && v != c.want {
			t.Errorf("%s: %v, %v", c.why, v, kind)
		}
	}
	n := Notation{}
	if n.Prove([][]byte{[]byte("1,5kPa"), []byte("2,5kPa")}); n.Proof.Comma.Sure != 2 || n.Suffix != "kPa" {
		t.Errorf("%+v, %q", n.Proof, n.Suffix)
	}
	if got, ok := fuelStatus([]byte("CL-Fault")); !ok || got != 16 {
		t.Errorf("%v, %v", got, ok)
	}
	for cell, want := range map[string]int{"9x": 1, ".5x": 2, ",5x": 2, " 5": 0, "1 x": 1, "1. x": 2, "1'2": 3, "1'": 1, "-": 1, "1-2": 1} {
		if got := numberEnd([]byte(cell)); got != want {
			t.Errorf("%q: %d, want %d", cell, got, want)
		}
	}
	for text, want := range map[string]float64{"abcd-01-02T00:00": math.NaN(), "1970-01-01Tx0:00": math.NaN(), "1970-01-01T00:x0": math.NaN(), "1970-01-01T00:59": 3540, "1970-01-01T00:00+": math.NaN(), "1970-01-01T00:00Q": math.NaN(),
		"1970-01-01T02:00+01:30": 1800, "1970-01-01T02:00+01:300": math.NaN(), "1970-01-01T02:00-0015": 8100} {
		if v, ok := isoTime([]byte(text)); ok != (want == want) || ok && v != want {
			t.Errorf("%s: %v, %v", text, v, ok)
		}
	}
	if v, ok := minutesSeconds([]byte(":05")); ok {
		t.Error(v)
	}
	decided := Notation{Decimal: '.'}
	decided.Proof.Observe([]byte("1.234"))
	if _, _, err := decided.DetectClock([][]byte{[]byte("a")}, "", ""); err == nil || !strings.HasPrefix(err.Error(), "its cells are no time") {
		t.Error(err)
	}
	if _, _, err := (&Notation{}).DetectClock([][]byte{[]byte("a")}, "", ""); err == nil || !strings.HasPrefix(err.Error(), "its cells are no time") {
		t.Error(err)
	}
}

// TestWhy: what is said of how the log is written.
func TestWhy(t *testing.T) {
	for _, c := range []struct {
		text string
		ask  Asked
		want string
	}{
		{"Time,RPM\n1,2\n", Asked{}, "fields end at a comma, from the rows; header on line 1"},
		{"x\nTime;RPM\ns;rpm\n1;2\n", Asked{}, "fields end at a semicolon, from the rows; header on line 2 after 1 of preamble, units on line 3"},
		{"Time,RPM\n1,2\n", Asked{Delimiter: ","}, "fields end at a comma, as told; header on line 1"},
	} {
		c.ask.MaxLine = 1000
		d, err := Detect(&Head{Text: []byte(c.text), AtEnd: true}, &c.ask)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(d.Why, "; "); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
	if got := (&Dialect{Header: strings.Split("a b c d e f g h", " ")}).HeaderList(); strings.Contains(got, "…") {
		t.Error(got)
	}
}

// TestLayouts: what makes one layout better than another, and lines that are no part of it.
func TestLayouts(t *testing.T) {
	rows := func(lines ...string) (list []splitRow) {
		for _, l := range lines {
			list = append(list, splitLine([]byte(l), ','))
		}
		return list
	}
	for _, c := range []struct {
		why   string
		rows  []splitRow
		width int
		want  float64
	}{
		{"rows of numbers", rows("1,2", "3,4"), 2, 1 - 1.0/3},
		{"half words", rows("1,a", "3,b"), 2, 0.5 * (1 - 1.0/3)},
		{"half of them as wide", rows("1,2", "1,2,3,4,5,6"), 2, 0.5 * (1 - 1.0/3)},
		{"wider", rows("1,2,3"), 3, 1 - 1.0/4},
		{"blank lines aside", rows("1,2", "", " "), 2, 1 - 1.0/3},
		{"one field of a word", rows("1,2", "x"), 2, 2.0 / 3 * (1 - 1.0/3)},
		{"empty fields", rows(",", ","), 2, 0.002},
		{"none", nil, 3, 0.003},
	} {
		if got := fit(c.rows, c.width); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
	wide := "a,b,c,d,e,f,g,h,i,j"
	for _, c := range []struct{ why, text, want string }{
		{"a small table in the preamble", "Gear,Ratio\n1,3.5\n" + strings.ToUpper(wide) + "\n1,2,3,4,5,6,7,8,9,0\n1,2,3,4,5,6,7,8,9,0\n", "comma, header 3, first 4 at 37, 2 rows of 10: A|B|C|D|E|F|G|H|I|J"},
		{"one as wide as three fifths", "A,B,C,D,E,F\n1,2,3,4,5,6\n" + wide + "\n1,2,3,4,5,6,7,8,9,0\n1,2,3,4,5,6,7,8,9,0\n", "comma, header 1, first 2 at 12, 4 rows of 6: A|B|C|D|E|F, the rows have 10 fields under 6 headings, so which number is whose cannot be told: --delimiter or --header-line"},
		{"two widths as common: the wider is usual", "A,B\n1,2\n" + wide + "\n1,2,3,4,5,6,7,8,9,0\n", "comma, header 3, first 4 at 28, 1 rows of 10: a|b|c|d|e|f|g|h|i|j"},
		{"units of another table", "Time,RPM,Load,TPS,MAP\ns,rpm\n1,2,3,4,5\n1,2,3,4,5\n", "3: there is no header above the first row of numbers, so the channels cannot be told"},
		{"blank lines between", "Time,RPM\n\n\n1,2\n\n3,4\n", "comma, header 1, first 4 at 11, 2 rows of 2: Time|RPM"},
		{"a line end before anything else", "\nTime,RPM\n1,2\n", "comma, header 2, first 3 at 10, 1 rows of 2: Time|RPM"},
		{"a carriage return before anything else", "\rTime,RPM\r1,2\r", "comma, header 2, first 3 at 10, 1 rows of 2: Time|RPM"},
		{"an open quote and a delimiter too many", "Time,\"RPM,Load\n1,2,3,\n4,5,6,\n", "comma, header 1, first 2 at 15, 2 rows of 4: Time|\"RPM|Load, trailing, open"},
		{"numbers without a heading in half of the rows", "Time,RPM\n1,2,3\n3,4\n", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"a field too many that is empty in most rows", "Time,RPM\n1,2,\n1,2,\n3,4,5\n", "comma, header 1, first 2 at 9, 3 rows of 3: Time|RPM, trailing"},
		{"states, and numbers behind them", "A;B\nx,on,on\ny,off,on\nTime,Mode\n1,2\n3,4\n5,6\n7,8\n", "comma, header 4, first 5 at 31, 4 rows of 2: Time|Mode"},
	} {
		if got := detect(c.text, Asked{}); got != c.want {
			t.Errorf("%s:\n%s, want\n%s", c.why, got, c.want)
		}
	}
	for line, want := range map[string]bool{"V,hh:mm:ss,x,": true, "V,none,x": true, "V,text,x": true, "V,enum,x": true, "V,bool,x": true, "V,time,x": true, "V,(),x": true, "x,y": false, "V,x,y,z": false, ",,": false} {
		if got := looksLikeUnits(SplitFields([]byte(line), ',')); got != want {
			t.Errorf("units %q: %v", line, got)
		}
	}
	if lines := headLines([]byte("a\nb\r"), '\n', true); len(lines) != 2 || string(lines[0]) != "a\n" || string(withoutEnd(lines[1])) != "b" {
		t.Errorf("%+v", lines)
	}
	if lines := headLines([]byte("a\nb"), '\n', false); len(lines) != 1 {
		t.Errorf("%+v", lines)
	}
}

// TestAskedHeaderFarDown: a header that a person names may stand below the lines that are
// looked at otherwise.
func TestAskedHeaderFarDown(t *testing.T) {
	at := headerReach + 100
	text := strings.Repeat("remark\n", at-1) + "Time,RPM\n1,2\n3,4\n"
	want := fmt.Sprintf("comma, header %d, first %d at %d, 2 rows of 2: Time|RPM", at, at+1, 7*(at-1)+9)
	if got := detect(text, Asked{HeaderLine: at}); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	// The rows may begin up to fifty lines behind it.
	text = strings.Repeat("remark\n", at-1) + "Time,RPM\n" + strings.Repeat("\n", 49) + "1,2\n3,4\n"
	if got := detect(text, Asked{HeaderLine: at}); !strings.HasPrefix(got, fmt.Sprintf("comma, header %d, first %d ", at, at+50)) {
		t.Error(got)
	}
	text = strings.Repeat("remark\n", at-1) + "Time,RPM\n" + strings.Repeat("\n", 50) + "1,2\n3,4\n"
	if got := detect(text, Asked{HeaderLine: at}); !strings.HasSuffix(got, "--header-line LINE if it stands further down") {
		t.Error(got)
	}
}

// TestZerosOfUTF16: two thirds of one half of the bytes are zero, and a tenth of the other
// at most.
func TestZerosOfUTF16(t *testing.T) {
	bytesOf := func(n, low, high int) []byte { // n pairs, so many of each half zero
		b := bytes.Repeat([]byte("a"), 2*n)
		for i := range low {
			b[2*i] = 0
		}
		for i := range high {
			b[2*i+1] = 0
		}
		return b
	}
	for _, c := range []struct {
		low, high int
		want      string
	}{{0, 201, "utf-16le"}, {0, 200, ""}, {29, 201, "utf-16le"}, {30, 201, ""}, {201, 0, "utf-16be"}, {200, 0, ""}, {201, 29, "utf-16be"}, {201, 30, ""}, {1, 0, ""}, {1, 1, ""}} {
		e, _, _, err := DetectEncoding(bytesOf(300, c.low, c.high))
		got := ""
		if err == nil {
			got = e.String()
		}
		if got != c.want {
			t.Errorf("%d and %d zeros: %s, want %s", c.low, c.high, got, c.want)
		}
	}
	for text, want := range map[string]bool{"": true, "a": true, "\ufffd": true, "\xef\xbf\xbda": true, "a\xe2\x82": true, "a\xf0\x9f\x98": true, "a\xff": false, "\xb0a": false, "a\xe2\x82a": false, "\xff\xff\xff\xff": false} {
		if got := validPrefix([]byte(text)); got != want {
			t.Errorf("%q: %v", text, got)
		}
	}
	if got := Mend("Ā"); got != "Ā" {
		t.Error(got)
	}
	if got := Mend("ÂĀ"); got != "ÂĀ" {
		t.Error(got)
	}
}

// TestMoreRecords: fields and records at the ends of what is looked at.
func TestMoreRecords(t *testing.T) {
	for _, c := range []struct {
		why, buf  string
		pos       int
		delim     byte
		end, next int
		open, cut bool
	}{
		{"from within", "x\n\"a\nb\",c\nd\n", 2, ',', 9, 10, false, false},
		{"an empty line", "\na\n", 0, ',', 0, 1, false, false},
		{"a blank at the end", "a, \n\"b\n", 0, ',', 3, 4, false, false},
		{"a delimiter at the end, and a quote behind", "a,\n\"b\n", 0, ',', 2, 3, false, false},
		{"a quote that closes on its own line", "\"a\",b\nc\n", 0, ',', 5, 6, false, false},
		{"a tab behind a quote", "\"a\nb\"\t,c\nd\n", 0, ',', 8, 9, false, false},
		{"a tab as the delimiter", "\"a\nb\"\tc\nd\n", 0, '\t', 7, 8, false, false},
		{"a carriage return behind a quote", "\"a\nb\"\r\nd\n", 0, ',', 6, 7, false, false},
		{"a word behind a quote, and no other quote", "\"a b\nc\" d\n", 0, ',', 4, 5, true, false},
		{"a doubled quote", "\"a\"\"\nb\"\nc\n", 0, ',', 7, 8, false, false},
		{"an empty quoted field", "\"\",\"a\nb\"\nc\n", 0, ',', 8, 9, false, false},
		{"closed at the very end", "\"a\nb\"", 0, ',', 5, 5, false, false},
	} {
		end, next, open, cut := RecordEnd([]byte(c.buf), c.pos, c.delim, '\n')
		if end != c.end || next != c.next || open != c.open || cut != c.cut {
			t.Errorf("%s: %d, %d, %v, %v", c.why, end, next, open, cut)
		}
	}
	for in, want := range map[string]string{"": "", "\r": "", "a": "a", "a\r": "a"} {
		if got := string(TrimEnd([]byte(in))); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
	for in, want := range map[string]string{"": "", " ": "", "\t": "", "\r": "", " a ": "a", "a": "a", "\ta\r": "a"} {
		if got := string(TrimBlanks([]byte(in))); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
	for i, want := range [][2]int{{0, 1}, {2, 3}, {4, 4}} {
		if end, next := LineEnd([]byte("\nb\nc"), []int{0, 1, 3}[i], '\n'); end != want[0] || next != want[1] {
			t.Errorf("%d: %d, %d", i, end, next)
		}
	}
}

// TestLikelyLoggers: the bounds of what a logger's clock can be.
func TestLikelyLoggers(t *testing.T) {
	seconds, ms, days, hours := clockUnits[3], clockUnits[2], clockUnits[6], clockUnits[5]
	for _, c := range []struct {
		why  string
		p    Pace
		u    ClockUnit
		want bool
	}{
		{"as fast as any", Pace{Step: fastestStep}, seconds, true},
		{"faster", Pace{Step: fastestStep / 2}, seconds, false},
		{"nearly as slow as any", Pace{Step: slowestStep - 0.1}, seconds, true},
		{"as slow", Pace{Step: slowestStep}, seconds, false},
		{"running for long", Pace{Step: 1, First: longestUptime}, seconds, true},
		{"running for longer", Pace{Step: 1, First: longestUptime + 1}, seconds, false},
		{"before its start", Pace{Step: 1, First: -longestUptime}, seconds, true},
		{"a date", Pace{Step: 1, First: firstDate}, seconds, true},
		{"the last date", Pace{Step: 1, First: lastDate}, seconds, true},
		{"before any date", Pace{Step: 1, First: firstDate - 1}, seconds, false},
		{"behind any date", Pace{Step: 1, First: lastDate + 1}, seconds, false},
		{"a date in milliseconds", Pace{Step: 100, First: firstDate * 1000}, ms, true},
		{"decimals enough for hours", Pace{Step: 1.0 / 3600, places: 5}, hours, true},
		{"one too few", Pace{Step: 1.0 / 3600, places: 4}, hours, false},
		{"a spreadsheet's date", Pace{Step: 1.0 / 86400, First: spreadsheetEpoch + 18000, places: 6}, days, true},
		{"days before any date", Pace{Step: 1.0 / 86400, First: 10000, places: 6}, days, false},
		{"a date in hours is none", Pace{Step: 1.0 / 3600, First: firstDate / 3600, places: 5}, hours, false},
	} {
		if got := c.p.logs(c.u); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
	for step, want := range map[float64]bool{usualFastest: true, usualFastest / 1.5: false, usualSlow: true, usualSlow + 0.01: false} {
		if got := (&Pace{Step: step}).usual(seconds); got != want {
			t.Errorf("usual at %v s: %v", step, got)
		}
		if got := (&Pace{Step: step * 1000}).usual(ms); got != want {
			t.Errorf("usual at %v ms: %v", step*1000, got)
		}
	}
}

// TestChoiceOfUnits: what is left of two units that are possible loggers'.
func TestChoiceOfUnits(t *testing.T) {
	ms, seconds, minutes := clockUnits[2], clockUnits[3], clockUnits[4]
	names := func(list []ClockUnit) (s string) {
		for _, u := range list {
			s += u.Name + " "
		}
		return strings.TrimSpace(s)
	}
	at := func(perUnit float64) []Swing { return []Swing{{&SwingBands[0], perUnit, perUnit}} }
	for _, c := range []struct {
		why  string
		p    Pace
		left []ClockUnit
		want string
	}{
		{"no engine can do it in either", Pace{Step: 1, swings: at(1e9)}, []ClockUnit{ms, seconds}, "ms s"},
		{"one can in both, and one is usual", Pace{Step: 0.02, swings: at(100)}, []ClockUnit{seconds, minutes}, "s"},
		{"two doubtful ones", Pace{Step: 1, swings: at(20)}, []ClockUnit{ms, seconds}, "ms s"},
		{"a doubtful one that is less common", Pace{Step: 0.02, swings: at(600)}, []ClockUnit{seconds, minutes}, "s"},
		{"a doubtful one that is more common", Pace{Step: 0.02, swings: at(9000)}, []ClockUnit{seconds, minutes}, "s min"},
		{"a doubtful one of no usual logger", Pace{Step: 0.003, swings: at(9000)}, []ClockUnit{seconds, minutes}, "min"},
		{"none moves: a short log in milliseconds", Pace{Step: 1, Span: 1999, Whole: true, Moving: []Timed{{}}}, []ClockUnit{ms, seconds}, "s"},
		{"a log that is long enough for milliseconds", Pace{Step: 1, Span: 2000, Whole: true, Moving: []Timed{{}}}, []ClockUnit{ms, seconds}, "ms s"},
		{"a part of one", Pace{Step: 1, Span: 1999, Moving: []Timed{{}}}, []ClockUnit{ms, seconds}, "ms s"},
		{"minutes are no finer unit", Pace{Step: 0.1, Span: 1, Whole: true, Moving: []Timed{{}}}, []ClockUnit{seconds, minutes}, "s min"},
		{"no engine, and no usual logger in milliseconds", Pace{Step: 1}, []ClockUnit{ms, seconds}, "s"},
		{"no engine, and a usual one", Pace{Step: 5}, []ClockUnit{ms, seconds}, "ms s"},
		{"an engine that stands, and no usual logger", Pace{Step: 1, Moving: []Timed{{}}}, []ClockUnit{ms, seconds}, "ms s"},
		{"steps as slow as may be seconds", Pace{Step: slowSeconds, Span: 100, Whole: true}, []ClockUnit{ms, seconds}, "s"},
		{"slower ones", Pace{Step: slowSeconds + 0.1, Span: 100, Whole: true}, []ClockUnit{ms, seconds}, "ms s"},
		{"no seconds", Pace{Step: 1}, []ClockUnit{ms}, "ms"},
	} {
		if got := names(c.p.choose(c.left)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestShortestMove: the shortest time of a move, whether it is one row's, and that a
// glitch of one value is none.
func TestShortestMove(t *testing.T) {
	for _, c := range []struct {
		why     string
		t, v    []float64
		far     float64
		lasting bool
		want    float64
		oneRow  bool
	}{
		{"two rows on", []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 5, 10, 10, 10}, 10, false, 2, false},
		{"just so far", []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 5, 9.9, 10, 10}, 10, false, 3, false},
		{"in one row", []float64{0, 1, 2, 3, 4}, []float64{0, 0, 10, 10, 10}, 10, false, 1, true},
		{"down", []float64{0, 1, 2, 3, 4}, []float64{10, 10, 0, 0, 0}, 10, false, 1, true},
		{"the faster of two", []float64{0, 1, 2, 5, 6, 6.5, 7}, []float64{0, 0, 5, 10, 10, 0, 0}, 10, false, 0.5, true},
		{"a glitch", []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 10, 0, 0, 0}, 10, true, math.Inf(1), false},
		{"one that stays", []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 10, 10, 10, 10}, 10, true, 1, true},
		{"a glitch, any move", []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 10, 0, 0, 0}, 10, false, 1, true},
		{"across a step back in time", []float64{0, 5, 1, 2, 3, 4}, []float64{0, 0, 10, 10, 10, 10}, 10, false, math.Inf(1), false},
		{"at one time", []float64{0, 1, 1, 2, 3}, []float64{0, 0, 10, 10, 10}, 10, false, 1, false},
		{"nowhere", []float64{0, 1, 2, 3}, []float64{0, 1, 2, 3}, 10, false, math.Inf(1), false},
	} {
		s := Timed{t: c.t, v: c.v}
		if got, oneRow := s.shortest(c.far, c.lasting); got != c.want || oneRow != c.oneRow {
			t.Errorf("%s: %v, %v, want %v, %v", c.why, got, oneRow, c.want, c.oneRow)
		}
	}
	// The range is what lies between the outer twentieths, and may be just enough.
	s := Timed{Band: &SwingBands[1]}
	for i := range 200 {
		v := 10 + 20*float64(i%50/25)
		if i < 9 {
			v = 1000
		}
		s.t, s.v = append(s.t, float64(i)), append(s.v, v)
	}
	if _, ok := s.Swing(); !ok {
		t.Error("a range of 20 says nothing")
	}
	for i := range s.v {
		if s.v[i] == 30 {
			s.v[i] = 29.9
		}
	}
	if w, ok := s.Swing(); ok {
		t.Errorf("less says %+v", w)
	}
}
