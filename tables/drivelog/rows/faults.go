package rows

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
)

// Fault is one kind of defect that a log was read in spite of.
type Fault struct {
	Kind  string `json:"kind"` // clock-back, clock-repeat, gap, ragged, torn, text …
	Count int    `json:"count"`
	Lines []int  `json:"lines"` // the first few, from 1
	Text  string `json:"text"`
}

// String is the fault in one line.
func (f Fault) String() string {
	lines := ""
	for i, n := range f.Lines {
		if i > 0 {
			lines += ", "
		}
		lines += fmt.Sprint(n)
	}
	if f.Count > len(f.Lines) {
		lines += " …"
	}
	return fmt.Sprintf("%d %s: %s (line %s)", f.Count, f.Kind, f.Text, lines)
}

// faultKind orders the kinds as they are shown.
type faultKind int

// The kinds of faults. Those that a log meets outside this room are exported.
const (
	clockBack faultKind = iota
	clockRepeat
	clockMissing
	gap
	ragged
	torn
	textCell
	twoWaysCell
	noPressure
	QuoteOpen
	headerAgain
	Twice
	UnitMisfit
	faultKinds
)

// faultNames are what machines read.
var faultNames = [faultKinds]string{"clock-back", "clock-repeat", "clock-missing", "gap", "ragged", "torn", "text", "number", "pressure", "quote",
	"header", "twice", "unit"}

// faultTexts are what people read; an empty one is a note of its own.
var faultTexts = [faultKinds]string{
	"rows whose clock steps back or restarts; a new stretch begins at each",
	"rows with the same time as the row before",
	"rows without a time, left out",
	"steps of more than %s s; a new stretch begins after each",
	"rows with more or fewer fields than the header; fields are taken by position",
	"the log is cut off in its last row",
	"cells hold text in a column of numbers and are not used",
	"cells that can be read as two numbers, and are no readings",
	"absolute pressures of zero or less, and no readings",
	"rows with a quote that does not close",
	"rows that repeat the header, left out",
	"",
	"",
}

// linesKept are enough to find what is wrong in an editor.
const linesKept = 8

// Tally counts faults of each kind and keeps the first few lines.
type Tally [faultKinds]struct {
	count int
	lines []int
	note  string
}

// add counts a fault of a line; several of one line are one place.
func (t *Tally) add(k faultKind, line int) {
	t[k].count++
	if len(t[k].lines) < linesKept && !slices.Contains(t[k].lines, line) {
		t[k].lines = append(t[k].lines, line)
	}
}

// Note is add with words about the fault: of the first of a kind, or of each
// where each is reported.
func (t *Tally) Note(k faultKind, line int, format string, args ...any) {
	switch {
	case t[k].note == "":
		t[k].note = fmt.Sprintf(format, args...)
	case (k == Twice || k == UnitMisfit) && t[k].count < linesKept:
		t[k].note += "; " + fmt.Sprintf(format, args...)
	}
	t.add(k, line)
}

// cell notes a cell that holds no number where one is wanted.
func (t *Tally) cell(kind dialect.ReadKind, c *channel.Column, cell []byte, enc dialect.Encoding, line int) {
	switch {
	case kind == dialect.ReadTwoWays && t[twoWaysCell].note == "":
		t.Note(twoWaysCell, line, "in %s, %s", tables.Quote(c.Text), dialect.TwoWays(enc.Text(cell)))
	case kind == dialect.ReadTwoWays:
		t.add(twoWaysCell, line)
	case kind != dialect.ReadText || c.Clock != nil || c.Wordy:
	case t[textCell].note == "":
		t.Note(textCell, line, "%s in %s", tables.Quote(enc.Text(cell)), tables.Quote(c.Text))
	default:
		t.add(textCell, line)
	}
}

// noPressure notes an absolute pressure of nothing or less.
func (t *Tally) noPressure(c *channel.Column, kPa float64, line int) {
	t.Note(noPressure, line, "%s kPa in %s", tables.Digits(kPa, 5), tables.Quote(c.Text))
}

// Merge adds what a piece counted; its lines count from base.
func (t *Tally) Merge(o *Tally, base int) {
	for k := range o {
		if o[k].count == 0 {
			continue
		}
		if t[k].note == "" {
			t[k].note = o[k].note
		}
		for _, line := range o[k].lines {
			if len(t[k].lines) < linesKept && !slices.Contains(t[k].lines, base+line) {
				t[k].lines = append(t[k].lines, base+line)
			}
		}
		t[k].count += o[k].count
	}
}

// reset empties the tally and keeps its memory, since each piece has one.
func (t *Tally) reset() {
	for k := range t {
		t[k].count, t[k].lines, t[k].note = 0, t[k].lines[:0], ""
	}
}

// List is the tally as faults, in the order of their kinds.
func (t *Tally) List(gapOver float64) []Fault {
	fs := []Fault{}
	for k := faultKind(0); k < faultKinds; k++ {
		if t[k].count == 0 {
			continue
		}
		text := faultTexts[k]
		switch {
		case k == gap:
			text = fmt.Sprintf(text, tables.Digits(gapOver, 5))
		case text == "" || k == torn && t[k].note != "":
			text = t[k].note
		case t[k].note != "":
			text += ", the first " + t[k].note
		}
		fs = append(fs, Fault{faultNames[k], t[k].count, slices.Clone(t[k].lines), text})
	}
	return fs
}
