package rows

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/unit"

	"pgregory.net/rapid"
)

// lawFastRows: reading plain lines fast gives what reading each as RFC 4180
// does, for any columns that are wanted, fields of any width around the blocks
// that are looked at, ragged rows, blanks, cells that are no numbers, any byte in any
// place, and a piece that ends anywhere: with the log, in a line, or behind it.
func lawFastRows(t *rapid.T) {
	width := rapid.SampledFrom([]int{2, 1, 3, 5, 12}).Draw(t, "width")
	cell := rapid.OneOf(
		rapid.Map(rapid.IntRange(-99999, 99999), func(n int) string { return strconv.FormatFloat(float64(n)/100, 'g', 5, 64) }),
		rapid.SampledFrom([]string{"", " 7", "7 ", "-", ".5", "5.", "-.25", "1.50", "12345678", "123456789", "-12345678", "1e3", "NaN", "x", "+4", "1.2.3", "0.00", "-0", `"5"`, `""`, `"-1.25"`, `"a,b"`, `"a""b"`, `"x"y`, `x"y"`, `" 7 "`, `"5" `, ` "5"`, `"open`, `"`, `","`, "\"two\nlines\"", "\"three\n\n,lines\"", "12:30:01.5", "Time (s)", "Engine speed (rpm)", "123456.789", "-12345678.25", "1234567890123456"}),
		rapid.Map(rapid.SampledFrom([]int{0, 0, 9, 62, 63, 64, 65, 127, 128}), func(n int) string { return strings.Repeat("8", n) }))
	seldom, lineEnds := 9, []string{"\n", "\n", "\r\n"}
	if rapid.Bool().Draw(t, "tame") { // so that most stretches are regular, and others all but one line
		cell = rapid.SampledFrom([]string{"1.50", "-0.25", "7.25", "12.5", "", "-8", "0.000", "123456.789", "-12345678.25", "99999.50", "9876543210987654", "12345678901234567", "12345678901234.56", "12:456.789", "1.3456.789"})
		seldom, lineEnds = 150, lineEnds[rapid.IntRange(1, 2).Draw(t, "ends"):][:1]
	}
	var cols []*channel.Column
	for i := range width {
		if rapid.Bool().Draw(t, "wanted") {
			cols = append(cols, &channel.Column{Heading: channel.Heading{Text: "c"}, Index: i, Conv: rapid.SampledFrom([]unit.Conversion{channel.AsWritten, {Mul: 1, Div: 4}}).Draw(t, "conversion"),
				Notation: dialect.Notation{Decimal: '.', Missing: dialect.MissingMarks, Places: rapid.IntRange(0, 3).Draw(t, "decimals")}})
		}
	}
	if len(cols) > 0 { // a clock, in numbers or in words: then another log's header may stand there
		times := rapid.SampledFrom([][]byte{nil, nil, []byte("12:30:01")}).Draw(t, "clock")
		if clock, _, _ := cols[0].DetectClock([][]byte{times}, "", ""); rapid.Bool().Draw(t, "timed") {
			cols[0].Clock = &clock
		}
	}
	delim := rapid.SampledFrom([]byte(",,;\t")).Draw(t, "delimiter")
	plan := NewRowParser(&dialect.Dialect{Delim: delim, EOL: '\n', Header: slices.Repeat([]string{"Load (%)"}, width), HeaderRaw: []byte("8.5" + strings.Repeat(string(delim)+"8.5", width-1)), Usual: width}, cols)
	var text strings.Builder
	for range rapid.IntRange(1, together+20).Draw(t, "rows") {
		if rapid.IntRange(0, seldom).Draw(t, "blank") == 0 {
			text.WriteString(rapid.SampledFrom([]string{"\n", "  \n", "\t\r\n"}).Draw(t, "blanks"))
		}
		n := width
		if rapid.IntRange(0, seldom).Draw(t, "header") == 0 {
			text.WriteString("8.5" + strings.Repeat(",8.5", width-1) + "\n")
		}
		if rapid.IntRange(0, seldom).Draw(t, "ragged") == 0 {
			n = rapid.IntRange(1, width+2).Draw(t, "fields")
		}
		if rapid.IntRange(0, seldom).Draw(t, "two ragged") == 0 && width > 1 { // with as many fields as one line or two
			first := rapid.IntRange(1, width-1).Draw(t, "of the first")
			second := rapid.SampledFrom([]int{width - first, 2*width - first}).Draw(t, "of the second")
			text.WriteString(strings.Repeat("1,", first-1) + "1\n" + strings.Repeat("1,", second-1) + "1\n")
		}
		row := rapid.SliceOfN(cell, n, n).Draw(t, "row")
		if rapid.IntRange(0, 4).Draw(t, "empty") == 0 { // delimiters one behind the other
			clear(row[:rapid.IntRange(0, n).Draw(t, "until")])
		}
		text.WriteString(strings.Join(row, ","))
		text.WriteString(rapid.SampledFrom(lineEnds).Draw(t, "end"))
	}
	buf := bytes.ReplaceAll([]byte(text.String()), []byte(","), []byte{delim})
	buf = bytes.Repeat(buf, rapid.SampledFrom([]int{1, 1, 1, 1, 5, 50}).Draw(t, "times"))
	for range rapid.SampledFrom([]int{0, 0, 1, 5}).Draw(t, "slips") {
		buf[rapid.IntRange(0, len(buf)-1).Draw(t, "place")] = rapid.OneOf(
			rapid.SampledFrom([]byte(",\"\n\r\t -.+e5\x00\x1a\x80\xac\xff")), rapid.Byte()).Draw(t, "byte")
	}
	// Blanks behind, so that the last lines are not too near the end to be read fast; or
	// other bytes of the piece, as before a line that the next piece has.
	end := rapid.SampledFrom([]string{"", "", strings.Repeat(" ", 100), "\n", "1,2", "\x1a", strings.Repeat("7", 63)}).Draw(t, "behind")
	buf = append(buf, end...)
	buf = buf[:len(buf)-rapid.SampledFrom([]int{0, 0, 0, 1, 2, 40}).Draw(t, "cut")%len(buf)]
	last := rapid.Bool().Draw(t, "last")
	var fast, slow Batch
	plan.Parse(buf, last, &fast)
	slow.begin(len(plan.slots), len(buf))
	for pos := 0; pos < len(buf) && slow.tail < 0; {
		pos = plan.slowLine(buf, pos, last, &slow)
	}
	slow.end()
	if fast.N != slow.N || fast.lines != slow.lines || fast.tail != slow.tail || fast.other != slow.other || !slices.Equal(fast.Line, slow.Line) || !slices.EqualFunc(fast.Gaps, slow.Gaps, slices.Equal) {
		t.Fatalf("%d rows of %d lines, want %d of %d, tails %d and %d, of %q", fast.N, fast.lines, slow.N, slow.lines, fast.tail, slow.tail, buf)
	}
	for k := range plan.slots {
		for i, want := range slow.Vals[k] {
			if got := fast.Vals[k][i]; got != want && !(got != got && want != want && (math.Float64bits(got) == dialect.EmptyBits) == (math.Float64bits(want) == dialect.EmptyBits)) {
				t.Errorf("row %d, column %d is %v, want %v, of %q", i, plan.slots[k].col.Index, got, want, buf)
			}
		}
	}
	for kind := range fast.Faults {
		f, s := fast.Faults[kind], slow.Faults[kind]
		if f.count != s.count || f.note != s.note || !slices.Equal(f.lines, s.lines) {
			t.Errorf("faults are %+v, want %+v, of %q", f, s, buf)
		}
	}
}

func TestFastRows(t *testing.T) { rapid.Check(t, lawFastRows) }
func FuzzFastRows(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawFastRows)) }

// TestRowsOfNothing: there is room for rows however short they are.
func TestRowsOfNothing(t *testing.T) {
	d := &dialect.Dialect{Delim: ',', EOL: '\n', Header: make([]string, 3), HeaderRaw: []byte("no line is this"), Usual: 3}
	p := NewRowParser(d, []*channel.Column{{Index: 1, Conv: channel.AsWritten, Notation: dialect.Notation{Decimal: '.'}}})
	for _, line := range []string{",,\n", "1\n", ",\"\",\n"} {
		const rows = 3 * stretch
		var b Batch
		if p.Parse([]byte(strings.Repeat(line, rows)), true, &b); b.N != rows || len(b.Vals[0]) != rows || b.lines != rows {
			t.Errorf("%q: %d rows in %d lines, want %d", line, b.N, b.lines, rows)
		}
	}
}

// TestLongQuotes: a quoted cell so long that its quote is given up is read in the
// slow way, and counts as a fault; a shorter one is not.
func TestLongQuotes(t *testing.T) {
	d := &dialect.Dialect{Delim: ',', EOL: '\n', Header: make([]string, 2), HeaderRaw: []byte("no line is this"), Usual: 2}
	p := NewRowParser(d, []*channel.Column{{Index: 0, Conv: channel.AsWritten, Notation: dialect.Notation{Decimal: '.'}}})
	for _, c := range []struct{ long, faults int }{{dialect.QuoteReach - 100, 0}, {dialect.QuoteReach + 100, 1}} {
		var b Batch
		p.Parse([]byte("1,\""+strings.Repeat("x", c.long)+"\"\n2,3\n"+strings.Repeat(" ", 100)), true, &b)
		if b.N != 2 || b.Vals[0][0] != 1 || b.Vals[0][1] != 2 || b.Faults[QuoteOpen].count != c.faults {
			t.Errorf("%d: %d rows, %v, %d quotes open", c.long, b.N, b.Vals, b.Faults[QuoteOpen].count)
		}
	}
}
