package dialect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// detect is what a beginning is taken for, in a line; or why it is not.
func detect(text string, ask Asked) string {
	if ask.MaxLine == 0 {
		ask.MaxLine = 1000
	}
	d, err := Detect(&Head{Text: []byte(text), AtEnd: true}, &ask)
	if err != nil {
		return strings.TrimPrefix(err.Error(), ":") // whoever opened the log adds its name
	}
	s := fmt.Sprintf("%s, header %d, first %d at %d, %d rows of %d: %s", delimiterName(d.Delim), d.HeaderLine, d.FirstLine, d.DataStart, len(d.Sample), d.Usual, strings.Join(d.Header, "|"))
	if d.Units != nil {
		_, line, _ := strings.Cut(strings.Join(d.Why, "; "), ", units on line ")
		s += fmt.Sprintf(" in %s on %s", strings.Join(d.Units, "|"), line)
	}
	if d.Trailing {
		s += ", trailing"
	}
	if d.OpenHeader {
		s += ", open"
	}
	if what := d.Misplaced(); what != "" {
		s += ", " + what
	}
	return s
}

// TestDetect: how a log is written, by its first lines and by what is asked.
func TestDetect(t *testing.T) {
	rows := func(row string, n int) string { return strings.Repeat(row+"\n", n) }
	for _, c := range []struct{ why, text, want string }{
		{"plain", "Time,RPM\n1,2\n3,4\n", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"carriage returns alone", "Time,RPM\r1,2\r3,4\r", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"carriage returns too", "Time,RPM\r\n1,2\r\n3,4\r\n", "comma, header 1, first 2 at 10, 2 rows of 2: Time|RPM"},
		{"a last line without its end", "Time,RPM\n1,2\n3,4", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"a semicolon", "Time;RPM\n1,5;2\n3,5;4\n", "semicolon, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"a tab", "Time\tRPM\n1\t2\n3\t4\n", "tab, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"a bar", "Time|RPM\n1|2\n3|4\n", "bar, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"a preamble", "Logger 7\n\nDriver: nobody\nTime,RPM\n1,2\n3,4\n", "comma, header 4, first 5 at 34, 2 rows of 2: Time|RPM"},
		{"units", "Time,RPM\ns,r/min\n1,2\n3,4\n", "comma, header 1, first 3 at 17, 2 rows of 2: Time|RPM in s|r/min on 2"},
		{"units in brackets, and a blank line", "Time,RPM\n(s),[r/min]\n\n1,2\n3,4\n", "comma, header 1, first 4 at 22, 2 rows of 2: Time|RPM in s|r/min on 2"},
		{"words under the header that are no units", "Time,Mode\nhot,cold\n1,2\n3,4\n", "comma, header 2, first 3 at 19, 2 rows of 2: hot|cold"},
		{"a delimiter too many", "Time,RPM\n1,2,\n3,4,\n", "comma, header 1, first 2 at 9, 2 rows of 3: Time|RPM, trailing"},
		{"half of the rows with one", "Time,RPM\n1,2,\n3,4\n", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM"},
		{"rows that are shorter", "Time,RPM,Load\n1,2\n3,4\n5,6\n", "comma, header 1, first 2 at 14, 3 rows of 2: Time|RPM|Load"},
		{"half of the rows shorter", "Time,RPM,Load\n1,2\n3,4,5\n", "comma, header 1, first 2 at 14, 2 rows of 3: Time|RPM|Load"},
		{"numbers without a heading", "Time,RPM\n1,2,3\n3,4,5\n", "comma, header 1, first 2 at 9, 2 rows of 2: Time|RPM, the rows have 3 fields under 2 headings, so which number is whose cannot be told: --delimiter or --header-line"},
		{"a quote that stays open", "Time,\"RPM\n1,2\n3,4\n", "comma, header 1, first 2 at 10, 2 rows of 2: Time|\"RPM, open"},
		{"one that swallows a name", "Time,\"RPM,Load\n1,2\n3,4\n", "1: a quote of the header does not close, and the rows have 2 fields under its 3"},
		{"words for most cells", "Time,A,B,C\n1,on,on,on\n2,off,on,on\n", "comma, header 1, first 2 at 11, 2 rows of 4: Time|A|B|C"},
		{"nothing", "", "the log is empty"},
		{"no rows", "Time,RPM\n", "1: there are no rows of numbers under the header"},
		{"no header", "1,2\n3,4\n", "1: there is no header above the first row of numbers, so the channels cannot be told"},
		{"a document in JSON", " {\"a\": [1,2]}\n", "1: this is a document, not a drive log: a drive log is rows of channels over time"},
		{"a document in CSV", "calsplice,1,cells\n", "1: this is a document, not a drive log: a drive log is rows of channels over time"},
		{"neither", "hello\n\nworld\n", "1: no header and rows of a drive log are found in the first 3 lines"},
		{"nothing for long", rows("x", headerReach), fmt.Sprintf("1: no header and rows of a drive log are found in the first %d lines: --header-line LINE if it stands further down", headerReach)},
		{"nothing for one line less", rows("x", headerReach-1), fmt.Sprintf("1: no header and rows of a drive log are found in the first %d lines", headerReach-1)},
		{"too many columns", strings.Repeat("a,", maxColumns) + "b\n" + strings.Repeat("1,", maxColumns) + "2\n", fmt.Sprintf("1: the header has %d columns: up to %d are read", maxColumns+1, maxColumns)},
	} {
		if got := detect(c.text, Asked{}); got != c.want {
			t.Errorf("%s:\n%s, want\n%s", c.why, got, c.want)
		}
	}
}

// TestDetectAsAsked: what a person says wins over what is seen, and what cannot be is
// refused.
func TestDetectAsAsked(t *testing.T) {
	const text = "Time,RPM\ns,r/min\n1,2\n3,4\n"
	for _, c := range []struct {
		why, text string
		ask       Asked
		want      string
	}{
		{"no units", text, Asked{UnitsRow: "no"}, "comma, header 2, first 3 at 17, 2 rows of 2: s|r/min"},
		{"units after all", "Time,Mode\nhot,cold\n1,2\n3,4\n", Asked{UnitsRow: "yes"}, "comma, header 1, first 3 at 19, 2 rows of 2: Time|Mode in hot|cold on 2"},
		{"a header's line", "a,b\nTime,RPM\n1,2\n3,4\n", Asked{HeaderLine: 1, UnitsRow: "no"}, "comma, header 1, first 2 at 4, 3 rows of 2: a|b"},
		{"a header's line and its units", text, Asked{HeaderLine: 1}, "comma, header 1, first 3 at 17, 2 rows of 2: Time|RPM in s|r/min on 2"},
		{"a header on the last line", "Time,RPM\n1,2\n", Asked{HeaderLine: 2}, "2: there are no rows under the header"},
		{"a header behind the end", "Time,RPM\n1,2\n", Asked{HeaderLine: 3}, "2: there is no header above the first row of numbers, so the channels cannot be told"},
		{"a delimiter's name", "Time|RPM;Load\n1|2;3\n", Asked{Delimiter: "Bar"}, "bar, header 1, first 2 at 14, 1 rows of 2: Time|RPM;Load"},
		{"a delimiter", "Time!RPM\n1!2\n", Asked{Delimiter: "!"}, `"!", header 1, first 2 at 9, 1 rows of 2: Time|RPM`},
		{"a tab as it is written", "Time\tRPM\n1\t2\n", Asked{Delimiter: `\t`}, "tab, header 1, first 2 at 9, 1 rows of 2: Time|RPM"},
		{"two delimiters", text, Asked{Delimiter: ",;"}, `delimiter ",;" is not one character, or tab`},
		{"a quote", text, Asked{Delimiter: `"`}, `delimiter "\"" is not one character, or tab`},
		{"no byte", text, Asked{Delimiter: "\x80"}, `delimiter "\x80" is not one character, or tab`},
		{"a line end", text, Asked{Delimiter: "\n"}, `delimiter "\n" is not one character, or tab`},
	} {
		if got := detect(c.text, c.ask); got != c.want {
			t.Errorf("%s:\n%s, want\n%s", c.why, got, c.want)
		}
	}
	for asked, want := range map[string]byte{"": Undecided, ".": '.', ",": ','} {
		d, err := Detect(&Head{Text: []byte(text), AtEnd: true}, &Asked{Decimal: asked})
		if err != nil || d.Decimal != want {
			t.Errorf("%q: %q, %v", asked, d.Decimal, err)
		}
	}
}

// TestCutOffHead: a head that is not all of the log ends in a row that may be cut off, and
// a head without a line end is a line that is too long.
func TestCutOffHead(t *testing.T) {
	d, err := Detect(&Head{Text: []byte("Time,RPM\n1,2\n3,4\n5,6"), Mark: 3}, &Asked{})
	if err != nil || len(d.Sample) != 2 || d.Whole || d.DataStart != 12 {
		t.Errorf("%+v, %v", d, err)
	}
	if d, err := Detect(&Head{Text: []byte("Time,RPM\n1,2\n3,4\n")}, &Asked{}); err != nil || len(d.Sample) != 2 || d.Whole {
		t.Errorf("%+v, %v", d, err)
	}
	if _, err := Detect(&Head{Text: []byte("Time,RPM")}, &Asked{MaxLine: 77}); err == nil || err.Error() != ":1: the line is longer than 77 bytes: --max-line" {
		t.Error(err)
	}
	long, err := Detect(&Head{Text: []byte("Time,RPM\n" + strings.Repeat("1,2\n", sampleRows+1)), AtEnd: true}, &Asked{})
	if err != nil || len(long.Sample) != sampleRows || long.Whole {
		t.Errorf("%d rows, whole %v, %v", len(long.Sample), long.Whole, err)
	}
	if just, err := Detect(&Head{Text: []byte("Time,RPM\n" + strings.Repeat("1,2\n", sampleRows)), AtEnd: true}, &Asked{}); err != nil || len(just.Sample) != sampleRows || !just.Whole {
		t.Errorf("whole %v, %v", just.Whole, err)
	}
	if got := d.HeaderList(); got != `"Time", "RPM"` {
		t.Error(got)
	}
	many := Dialect{Header: strings.Split("a b c d e f g h i", " ")}
	if got := many.HeaderList(); got != `"a", "b", "c", "d", "e", "f", "g", "h", …` {
		t.Error(got)
	}
}

// TestCellsOfAColumn: a row that is too short has no cell.
func TestCellsOfAColumn(t *testing.T) {
	d, err := Detect(&Head{Text: []byte("Time,RPM\n1,2\n3\n"), AtEnd: true}, &Asked{})
	if err != nil {
		t.Fatal(err)
	}
	if c := d.Cells(1); len(c) != 2 || string(c[0]) != "2" || c[1] != nil {
		t.Errorf("%q", c)
	}
}

// TestNear: rows and headers belong together within two fifths of the wider one, and by
// one field always.
func TestNear(t *testing.T) {
	for _, c := range []struct {
		a, b int
		want bool
	}{{2, 1, true}, {2, 2, true}, {3, 1, false}, {10, 6, true}, {6, 10, true}, {10, 5, false}, {100, 60, true}, {100, 59, false}} {
		if near(c.a, c.b) != c.want {
			t.Errorf("%d and %d: %v", c.a, c.b, !c.want)
		}
	}
}

// TestRowsOfWords: what is a word, and what is a row of readings.
func TestRowsOfWords(t *testing.T) {
	for cell, want := range map[string]bool{"": false, "NaN": false, "--": false, "1.5": false, "1.004": false, "-3e4": false, "12:30:01": false, "12:30.5": false, "2020-01-02 03:04": false,
		"24,77g/s": false, "12 V": false, "on": true, "12 things": true, "0x1F": true, "2020-01-02": true} {
		if got := IsWord([]byte(cell)); got != want {
			t.Errorf("%q: %v", cell, got)
		}
	}
	for _, c := range []struct {
		line  string
		share float64
		want  bool
	}{{"1,2", 0.5, true}, {"1,on", 0.5, true}, {"1,on,off", 0.5, false}, {"1,on,off", 0.15, true}, {",,", 0.15, false}, {"1", 0.5, false}, {"on,off", 0.15, false}} {
		r := splitLine([]byte(c.line), ',')
		if got := r.isData(c.share); got != c.want {
			t.Errorf("%q: %v", c.line, got)
		}
	}
	for line, want := range map[string]bool{"s,r/min": true, "(s),[r/min]": true, "s,on": false, "s,on,V": true, ",": false, "s,,": true, "hh:mm:ss.fff,kPa": true, "status,V": true, "-,#": true, "{V}": true, "hot,cold": false} {
		if got := looksLikeUnits(SplitFields([]byte(line), ',')); got != want {
			t.Errorf("units %q: %v", line, got)
		}
	}
}

// TestFields: RFC 4180, with blanks around a field and quotes in bare ones as loggers write
// them.
func TestFields(t *testing.T) {
	for line, want := range map[string]string{
		`a,b`: "a|b", ` a , b `: "a|b", "a,\tb\t\r": "a|b", `"a,b",c`: "a,b|c", `"a ""b""",c`: `a "b"|c`, ` "a" ,b`: "a|b", `"a"b,c`: `"a"b|c`,
		`a"b,c`: `a"b|c`, `"a,b`: `"a|b`, ``: "", `,`: "|", `"",b`: "|b", `"a"`: "a", "\"a\"\t,b": "a|b",
	} {
		var got []string
		for _, f := range SplitFields([]byte(line), ',') {
			got = append(got, string(f))
		}
		if s := strings.Join(got, "|"); s != want {
			t.Errorf("%q: %q, want %q", line, s, want)
		}
	}
	if n := len(SplitFields([]byte(strings.Repeat(",", 20*maxColumns)), ',')); n != 10*maxColumns+1 {
		t.Errorf("%d fields", n)
	}
	if got := string(TrimEnd([]byte("a\r\r"))); got != "a" {
		t.Errorf("%q", got)
	}
}

// TestRecordEnd: a record ends with its line, or with the line in which its last quote
// closes; a quote that never closes is a line's own.
func TestRecordEnd(t *testing.T) {
	far := strings.Repeat("x", QuoteReach)
	for _, c := range []struct {
		why, buf  string
		end, next int
		open, cut bool
	}{
		{"a line", "a,b\nc\n", 3, 4, false, false},
		{"the last one", "a,b", 3, 3, false, false},
		{"a line end in quotes", "a,\"b\nc\",d\ne\n", 9, 10, false, false},
		{"two of them", "\"a\nb\",\"c\nd\"\ne\n", 11, 12, false, false},
		{"a blank before the quote", "a, \"b\nc\"\nd\n", 8, 9, false, false},
		{"a quote in a bare field", "a,b\"c\nd\n", 5, 6, false, false},
		{"a quoted word in a bare field", "a,\"b\"c\nd\n", 6, 7, false, false},
		{"an open quote", "a,\"b\nc\n", 4, 5, true, true},
		{"an open quote, far from the end", "a,\"b\n" + far + "\n", 4, 5, true, false},
		{"a quote that closes as far as is looked", "\"" + far[:QuoteReach-2] + "\"\n" + far, QuoteReach, QuoteReach + 1, true, false},
	} {
		end, next, open, cut := RecordEnd([]byte(c.buf), 0, ',', '\n')
		if end != c.end || next != c.next || open != c.open || cut != c.cut {
			t.Errorf("%s: %d, %d, %v, %v", c.why, end, next, open, cut)
		}
	}
}

// TestEncodings: by the first bytes, by their zeros, or as UTF-8 and else Latin-1.
func TestEncodings(t *testing.T) {
	utf16 := func(s string, at int) string {
		b := make([]byte, 2*len(s))
		for i := range len(s) {
			b[2*i+at] = s[i]
		}
		return string(b)
	}
	text := strings.Repeat("Time,RPM\n", 30)
	for _, c := range []struct {
		why, head string
		e         Encoding
		mark      int
		ok        bool
	}{
		{"nothing", "", Utf8Text, 0, true},
		{"plain", text, Utf8Text, 0, true},
		{"UTF-8 with a mark", "\xef\xbb\xbfTime", Utf8Text, 3, true},
		{"UTF-16, low byte first, with a mark", "\xff\xfeT\x00", utf16LE, 2, true},
		{"UTF-16, high byte first, with a mark", "\xfe\xff\x00T", utf16BE, 2, true},
		{"UTF-16, low byte first", utf16(text, 0), utf16LE, 0, true},
		{"UTF-16, high byte first", utf16(text, 1), utf16BE, 0, true},
		{"UTF-8", "Temp °C\n", Utf8Text, 0, true},
		{"UTF-8 cut in a letter", "Temp \xc2", Utf8Text, 0, true},
		{"UTF-8 cut in a longer one", "Temp \xe2\x82", Utf8Text, 0, true},
		{"Latin-1", "Temp \xb0C\n", latin1, 0, true},
		{"Latin-1 at the end", "Temp \xb0", latin1, 0, true},
		{"a zero", text + "\x00", 0, 0, false},
		{"control characters", strings.Repeat("a", 45) + "\x01\x02", 0, 0, false},
		{"one of them", strings.Repeat("a", 49) + "\x01", Utf8Text, 0, true},
		{"tabs, form feeds and an end of file", strings.Repeat("\t\n\r\f\x1a\x1b", 20), Utf8Text, 0, true},
		{"what stands far behind", strings.Repeat("a", 4096) + "\x00", Utf8Text, 0, true},
	} {
		e, mark, why, err := DetectEncoding([]byte(c.head))
		if (err == nil) != c.ok || e != c.e || mark != c.mark || c.ok && why == "" {
			t.Errorf("%s: %v, %d, %q, %v", c.why, e, mark, why, err)
		}
	}
	for _, e := range []Encoding{Utf8Text, latin1, utf16LE, utf16BE} {
		if EncodingOf(e.String()) != e {
			t.Errorf("%v is not the encoding of its name", e)
		}
	}
	for e, want := range map[Encoding]bool{Utf8Text: false, latin1: false, utf16LE: true, utf16BE: true} {
		if e.Wide() != want {
			t.Errorf("%v is wide: %v", e, !want)
		}
	}
	for e, in := range map[Encoding]string{utf16LE: "T\x00i\x00", utf16BE: "\x00T\x00i"} {
		if got, err := e.Decoder().(interface {
			Bytes([]byte) ([]byte, error)
		}).Bytes([]byte(in)); err != nil || string(got) != "Ti" {
			t.Errorf("%v: %q, %v", e, got, err)
		}
	}
	if got := latin1.Text([]byte("\xb0C \x80")); got != "°C €" {
		t.Errorf("%q", got)
	}
	if got := Utf8Text.Text([]byte("a\xb0")); got != "a\ufffd" {
		t.Errorf("%q", got)
	}
	for in, want := range map[string]string{"Â°C": "°C", "Ã¼ber": "über", "â‚¬": "€", "Â": "Â", "°C": "°C", "Â°日": "Â°日", "plain": "plain"} {
		if got := Mend(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// TestWordClocks: times that are more than a number, and what only looks like one.
func TestWordClocks(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		text string
		read func(b []byte) (float64, bool)
		want float64
	}{
		{"01:02:03", timeOfDay, 3723}, {"1:02:03.5", timeOfDay, 3723.5}, {"100:00:00,25", timeOfDay, 360000.25}, {"00:59:60", timeOfDay, 3600},
		{"0:60:00", timeOfDay, nan}, {"0:00:61", timeOfDay, nan}, {"0:0:00", timeOfDay, nan}, {"00:00", timeOfDay, nan}, {":00:00", timeOfDay, nan},
		{"00:00:00x", timeOfDay, nan}, {"00:00:00.", timeOfDay, nan}, {"12345:00:00", timeOfDay, nan}, {"00-00-00", timeOfDay, nan}, {"00:00-00", timeOfDay, nan},
		{"02:03", minutesSeconds, 123}, {"99999:59.25", minutesSeconds, 99999*60 + 59.25}, {"123456:00", minutesSeconds, nan}, {"1:2", minutesSeconds, nan}, {"12", minutesSeconds, nan}, {"12:61", minutesSeconds, nan}, {"12:00:", minutesSeconds, nan},
		{"1970-01-02T00:00:01", isoTime, 86401}, {"1970/01/02 00:00", isoTime, 86400}, {"1970-01-02t01:00:00Z", isoTime, 90000}, {"1970-01-02 01:00:00.5 +01:00", isoTime, 86400.5},
		{"1970-01-02T01:00:00+0130", isoTime, 86400 - 1800}, {"1970-01-01T23:00-01", isoTime, 86400}, {"1970-01-01T24:00:00z", isoTime, 86400}, {"1970-12-31T00:00", isoTime, 364 * 86400},
		{"1970-13-01T00:00", isoTime, nan}, {"1970-00-01T00:00", isoTime, nan}, {"1970-01-32T00:00", isoTime, nan}, {"1970-01-00T00:00", isoTime, nan}, {"1970-01-01T25:00", isoTime, nan}, {"1970-01-01T00:60", isoTime, nan},
		{"1970-01/01T00:00", isoTime, nan}, {"1970.01.01T00:00", isoTime, nan}, {"1970-01-01x00:00", isoTime, nan}, {"1970-01-01T00:00:0", isoTime, nan}, {"1970-01-01T00:00:00+1", isoTime, nan}, {"1970-01-01T00:00:00*01", isoTime, nan},
		{"1970-01-01T00:00:00+01-00", isoTime, nan}, {"1970-01-01", isoTime, nan}, {"1970-01-01T00:00:00+01:0", isoTime, nan}, {"1970-01-01T00:00:00ZZ", isoTime, nan},
	} {
		got, ok := c.read([]byte(c.text))
		if ok != (c.want == c.want) || ok && got != c.want {
			t.Errorf("%q: %v, %v, want %v", c.text, got, ok, c.want)
		}
	}
}

// TestDetectClock: a kind of clock that at least half of the cells are; a number in the
// header's unit; what is asked for wins.
func TestDetectClock(t *testing.T) {
	for _, c := range []struct {
		why, cells, unit, format string
		decimal                  byte
		want                     string
	}{
		{"a time of day", "01:02:03 01:02:04 x", "", "", '.', "hh:mm:ss 1 true"},
		{"half of it", "01:02:03 x", "", "", '.', "hh:mm:ss 1 true"},
		{"less than half", "01:02:03 x y", "", "", '.', `its cells are no time that is known ("01:02:03"): --time-format`},
		{"minutes", "02:03 02:04", "", "", '.', "mm:ss 1 false"},
		{"a date", "2020-01-02T03:04:05", "", "", '.', "ISO 8601 1 false"},
		{"numbers", "1.5 2.5", "", "", '.', " 0 false"},
		{"numbers with a unit", "1.5 2.5", "ms", "", '.', "the log says ms 1000 false"},
		{"numbers in minutes", "1.5 2.5", "min", "", '.', fmt.Sprintf("the log says min %v false", 1/60.)},
		{"numbers with a unit of something else", "1.5 2.5", "kPa", "", '.', " 0 false"},
		{"nothing", "", "", "", '.', "it is empty in the first rows"},
		{"words", "a b", "", "", '.', `its cells are no time that is known ("a"): --time-format`},
		{"as told", "a b", "", "ms", '.', "as told 1000 false"},
		{"as told, in words", "a b", "", "milliseconds", '.', "as told 1000 false"},
		{"as told, a clock", "1 2", "", "HH:MM:SS", '.', "as told 1 true"},
		{"as told, by its name", "1 2", "", "iso 8601", '.', "as told 1 false"},
		{"as told, another name", "1 2", "", "m:s", '.', "as told 1 false"},
		{"as told, what is none", "1 2", "", "fortnights", '.', `time format "fortnights" is not one of s, ms, us, ns, min, h, days, hh:mm:ss, mm:ss, iso`},
		{"numbers that are two", "1.234 2.345", "", "", Undecided, `"1.234" may be 1.234 or 1234: --decimal . or ,`},
	} {
		n := Notation{Decimal: c.decimal}
		var cells [][]byte
		for _, f := range strings.Fields(c.cells) {
			cells = append(cells, []byte(f), nil)
			n.Proof.Observe([]byte(f))
		}
		clk, why, err := n.DetectClock(cells, c.unit, c.format)
		got := fmt.Sprintf("%s %v %v", why, clk.Div, clk.Daily)
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestFuelStatusWords: the words for the values of SAE J1979.
func TestFuelStatusWords(t *testing.T) {
	for text, want := range map[string]float64{"CL": 2, "Closed loop": 2, "closed-loop, ok": 2, "Closed Loop - fault": 16, "OL": 1, "Open loop": 1, "open-loop warming": 1,
		"Open loop due to load": 4, "Open loop deceleration": 4, "OL-Drive": 4, "open loop, fuel cut": 4, "Open loop failure": 8, "OL-Fault": 8, "open loop fault under load": 8} {
		if got, ok := fuelStatus([]byte(text)); !ok || got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "loop", "closed", "2x", "open", "CLX", "OLX"} {
		if got, ok := fuelStatus([]byte(text)); ok {
			t.Errorf("%q: %v", text, got)
		}
	}
}

// TestNotation: what the cells of a column are, by the marks for nothing, the unit that is
// glued to them and the words of a status.
func TestNotation(t *testing.T) {
	column := func(cells ...string) *Notation {
		n := &Notation{Decimal: '.', Missing: []string{"NaN", "-"}}
		var b [][]byte
		for _, c := range cells {
			b = append(b, []byte(c))
		}
		n.Prove(b)
		return n
	}
	for _, c := range []struct {
		why, want string
		n         *Notation
	}{
		{"bare", "", column("1", "2")},
		{"glued", "kPa", column("1kPa", "2 kPa")},
		{"most of them glued", "kPa", column("1kPa", "2kPa", "3")},
		{"half of them glued", "kPa", column("1kPa", "3")},
		{"less than half", "", column("1kPa", "3", "4")},
		{"half, the later in the alphabet", "psi", column("1kPa", "2psi")},
		{"half, whatever comes first", "psi", column("1psi", "2kPa")},
		{"beside nothing", "kPa", column("1kPa", "", "NaN", "-", "")},
		{"no unit", "", column("1stone", "2stone")},
		{"empty", "", column("", "NaN")},
	} {
		if c.n.Suffix != c.want {
			t.Errorf("%s: %q, want %q", c.why, c.n.Suffix, c.want)
		}
	}
	glued, status := column("1kPa", "2kPa"), &Notation{Decimal: '.', Status: true}
	for _, c := range []struct {
		n    *Notation
		cell string
		v    float64
		kind ReadKind
	}{
		{glued, "3", 3, ReadNumber}, {glued, "3kPa", 3, ReadNumber}, {glued, "1 bar", 100, ReadNumber}, {glued, "3V", 0, ReadText}, {glued, "", 0, ReadEmpty},
		{glued, "NaN", 0, readMissing}, {glued, "x", 0, ReadText}, {glued, "-.kPa", 0, ReadText}, {column("1"), "3kPa", 0, ReadText}, {status, "closed loop", 2, ReadNumber}, {status, "4", 4, ReadNumber}, {status, "x", 0, ReadText},
		{column("1"), "closed loop", 0, ReadText}, {&Notation{}, "1.234", 0, ReadTwoWays}, {&Notation{}, "1.5", 1.5, ReadNumber}, {&Notation{}, "1,5", 1.5, ReadNumber}, {&Notation{}, "12", 12, ReadNumber}, {&Notation{}, "1'234", 1234, ReadNumber}, {&Notation{}, "1x", 0, ReadText},
		{&Notation{Decimal: ','}, "1.234,5", 1234.5, ReadNumber}, {&Notation{Decimal: '.'}, "1,234", 1234, ReadNumber}, {&Notation{Decimal: ','}, "1.5", 0, ReadText},
	} {
		if v, kind := c.n.Read([]byte(c.cell)); kind != c.kind || kind == ReadNumber && v != c.v {
			t.Errorf("%q: %v, %v, want %v, %v", c.cell, v, kind, c.v, c.kind)
		}
	}
	for cell, want := range map[string]string{"12kPa": "12|kPa", "12": "|", "kPa": "|", "1,234.5 g/s": "1,234.5|g/s", "-3 V": "-3|V", "+3V": "+3|V", "1 234 kPa": "1 234|kPa", "3-4": "3|-4", "": "|"} {
		if num, rest := SplitGlued([]byte(cell)); string(num)+"|"+rest != want {
			t.Errorf("%q: %q, %q, want %s", cell, num, rest, want)
		}
	}
	n := Notation{Decimal: '.'}
	for _, c := range []string{"1.5", "2.25", "3.75", "4"} {
		n.CountPlaces([]byte(c))
	}
	if n.Places != 2 {
		t.Errorf("%d places", n.Places)
	}
	if n.CountPlaces([]byte("5")); n.Places != 2 { // as common, but not more so
		t.Errorf("%d places", n.Places)
	}
	if n.CountPlaces([]byte("6")); n.Places != 0 {
		t.Errorf("%d places", n.Places)
	}
}

// TestProvenMarks: which mark a column's cells prove, and whether one of them does alone.
func TestProvenMarks(t *testing.T) {
	many := func(n int, last string) (cells []string) {
		for i := range n {
			cells = append(cells, fmt.Sprintf("1.%d", 111+i+i/9)) // none ends with a 0
		}
		return append(cells, strings.Fields(last)...)
	}
	for _, c := range []struct {
		why    string
		cells  []string
		mark   byte
		strong bool
	}{
		{"a point", []string{"1.5"}, '.', true},
		{"a comma", []string{"1,5"}, ',', true},
		{"more points", []string{"1.5", "1,5", "2.5"}, '.', true},
		{"as many", []string{"1.5", "1,5"}, ',', true},
		{"none", []string{"15", "x", ""}, Undecided, false},
		{"a question", []string{"1.234"}, Undecided, false},
		{"questions of both kinds", []string{"1.234", "1,234", "99999"}, Undecided, false},
		{"a whole number as long as one in question", []string{"1.234", "1234"}, '.', false},
		{"as one of commas", []string{"1,234", "1234"}, ',', false},
		{"one with a sign in question", []string{"-1.234", "1234"}, '.', false},
		{"a shorter one", []string{"1.234", "234"}, Undecided, false},
		{"two of three digits beside a round one", []string{"1.230", "234", "567"}, ',', false},
		{"one of three digits", []string{"1.230", "234", "234"}, Undecided, false},
		{"with a leading zero", []string{"1.230", "034", "567"}, Undecided, false},
		{"two of three digits beside one that is not round", []string{"1.234", "234", "567"}, Undecided, false},
		{"two beside enough that are not round", many(enough, "234 567"), ',', false},
		{"two beside one less", many(enough-1, "234 567"), Undecided, false},
	} {
		var p markProof
		for _, cell := range c.cells {
			p.Observe([]byte(cell))
		}
		if mark, strong := p.Own(); mark != c.mark || strong != c.strong {
			t.Errorf("%s: %q, %v", c.why, mark, strong)
		}
		p.ForgetQuestions()
		if e, _, _ := p.InQuestion(); e != nil {
			t.Errorf("%s: a question is left", c.why)
		}
	}
	for cell, want := range map[string]string{"1.234": `"1.234" may be 1.234 or 1234: --decimal . or ,`, "1,234 kPa": `"1,234" may be 1234 or 1.234: --decimal . or ,`} {
		if got := TwoWays(cell); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	for cell, want := range map[string]float64{"1'234": 1234, "1 234 567": 1234567, "12\u00a0345,5": 12345.5, "-1.234.567": -1234567, "1.234.567,25": 1234567.25} {
		if v, ok := decimal([]byte(cell), ','); !ok || v != want {
			t.Errorf("%q: %v, %v", cell, v, ok)
		}
	}
	for _, cell := range []string{"0.123", "1234.567", "1.23", "1.2345", "1.234 567", "1.234,5x", "1.234.", ".234", "x", "1.234,", ""} {
		if v, ok := grouped([]byte(cell), ','); ok && cell != "1.234," {
			t.Errorf("%q: %v", cell, v)
		}
	}
}

// TestClockUnits: the one unit that makes a possible logger and a possible engine, and what
// is refused where two are left.
func TestClockUnits(t *testing.T) {
	swing := func(k int, perUnit float64) []Swing { return []Swing{{&SwingBands[k], perUnit, perUnit}} }
	for _, c := range []struct {
		why  string
		p    Pace
		want string
	}{
		{"a clock that stands", Pace{}, "s: seconds, assumed"},
		{"a date in seconds", Pace{First: 1.6e9, Step: 0.1, places: 1}, "s: seconds since 1970, from the numbers"},
		{"a date in milliseconds", Pace{First: 1.6e12, Step: 100}, "ms: milliseconds since 1970, from the numbers"},
		{"a date of a spreadsheet", Pace{First: 45000.5, Step: 1.0 / 86400, places: 8}, "days: days as spreadsheets count them, from the numbers"},
		{"no logger's", Pace{First: 0, Step: 1e13}, "steps of 10000000000000 are no logger's in any unit of time: --time-format"},
		{"two units", Pace{First: 0, Step: 1, Moving: []Timed{{}}}, "steps of 1 may be seconds or milliseconds: --time-format s or ms"},
		{"an engine in seconds", Pace{First: 0, Step: 1, Moving: []Timed{{}}, swings: swing(0, 500)}, "s: seconds, from steps of 1"},
		{"an engine in milliseconds", Pace{First: 0, Step: 20, Moving: []Timed{{}}, swings: swing(0, 0.5)}, "ms: milliseconds, from steps of 20"},
		{"a throttle in seconds", Pace{First: 0, Step: 0.1, places: 1, Moving: []Timed{{}}, swings: swing(1, 50)}, "s: seconds, from steps of 0.1"},
		{"without an engine, a usual step", Pace{First: 0, Step: 0.1, places: 1}, "s: seconds, from steps of 0.1"},
	} {
		u, why, err := c.p.Unit()
		got := u.Name + ": " + why
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	for _, c := range []struct {
		least, most float64 // of the swing, per second
		want        likelihood
	}{{500, 500, possible}, {50, 8000, possible}, {49, 49, doubtful}, {8001, 8001, doubtful}, {2.9, 2.9, impossible}, {40001, 40001, impossible}, {3, 3, doubtful}, {40000, 40000, doubtful}, {1, 500, possible}, {500, math.Inf(1), possible}} {
		s := Swing{&SwingBands[0], c.least / 1000, c.most / 1000}
		if got := s.in(1000); got != c.want {
			t.Errorf("%v to %v: %v, want %v", c.least, c.most, got, c.want)
		}
	}
	step, span := Steps([]float64{5, 6, 8, 3, 3, 4, 14})
	if step != 2 || span != 14 {
		t.Errorf("median %v, in all %v", step, span)
	}
	if step, span := Steps([]float64{3, 2, 2, math.NaN(), 9}); step != 0 || span != 0 {
		t.Errorf("no step is %v, %v", step, span)
	}
	p := (&Notation{Decimal: '.'}).Pace(&clock{}, [][]byte{[]byte("7"), nil, []byte("7.2500")})
	if p.First != 7 || p.Step != 0.25 || p.places != 2 {
		t.Errorf("%+v", p)
	}
	if p := (&Notation{Decimal: '.'}).Pace(&clock{}, nil); p.First == p.First || p.Step != 0 {
		t.Errorf("%+v", p)
	}
}

// TestSwings: how fast a channel moves through half of its range, by the first and by the
// last of the rows that repeat a value.
func TestSwings(t *testing.T) {
	ramp := func(rows int, f func(i int) float64) *Timed {
		s := &Timed{Band: &SwingBands[0]}
		for i := range rows {
			s.t, s.v = append(s.t, float64(i)), append(s.v, f(i))
		}
		return s
	}
	up := func(i int) float64 { return 1000 + 20*float64(i) }
	if _, ok := ramp(swingRows-1, up).Swing(); ok {
		t.Error("too few rows")
	}
	if w, ok := ramp(swingRows, up).Swing(); !ok || math.Abs(w.atMost-20) > 1 || math.Abs(w.atLeast-20) > 1 {
		t.Errorf("%+v, %v", w, ok)
	}
	if _, ok := ramp(200, func(i int) float64 { return 1000 + float64(i%2)*299 }).Swing(); ok {
		t.Error("a range that says nothing")
	}
	if w, ok := ramp(200, func(i int) float64 { return 1000 + float64(i/100)*2000 }).Swing(); !ok || !math.IsInf(w.atMost, 1) {
		t.Errorf("in one row: %+v, %v", w, ok)
	}
	held := ramp(200, func(i int) float64 { return 1000 + 100*float64(i/5) }) // each value stands for five rows
	w, ok := held.Swing()
	if !ok || !(w.atMost > w.atLeast) {
		t.Errorf("held: %+v, %v", w, ok)
	}
	if !slices.IsSorted(held.v) {
		t.Error("the readings were changed")
	}
}
