package drivelog

import (
	"fmt"
	"slices"

	"calsplice/tables"
)

// Fault is one kind of defect that a log was read in spite of.
type Fault struct {
	Kind  string // clock-back, clock-repeat, gap, ragged, torn, text …
	Count int
	Lines []int // the first few, from 1
	Text  string
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
	quoteOpen
	headerAgain
	twice
	unitMisfit
	faultKinds
)

var faultNames = [faultKinds]string{"clock-back", "clock-repeat", "clock-missing", "gap", "ragged", "torn", "text", "number", "pressure", "quote",
	"header", "twice", "unit"}

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

const linesKept = 8

// tally counts faults of each kind and keeps the first few lines.
type tally [faultKinds]struct {
	count int
	lines []int
	note  string
}

func (t *tally) add(k faultKind, line int) {
	t[k].count++
	if len(t[k].lines) < linesKept && !slices.Contains(t[k].lines, line) {
		t[k].lines = append(t[k].lines, line)
	}
}

// note is add with words about the fault: of the first of a kind, or of each
// where each is reported.
func (t *tally) note(k faultKind, line int, format string, args ...any) {
	switch {
	case t[k].note == "":
		t[k].note = fmt.Sprintf(format, args...)
	case (k == twice || k == unitMisfit) && t[k].count < linesKept:
		t[k].note += "; " + fmt.Sprintf(format, args...)
	}
	t.add(k, line)
}

// cell notes a cell that holds no number where one is wanted.
func (t *tally) cell(kind readKind, c *column, cell []byte, enc encoding, line int) {
	switch {
	case kind == readTwoWays && t[twoWaysCell].note == "":
		t.note(twoWaysCell, line, "in %s, %s", tables.Quote(c.text), twoWays(enc.text(cell)))
	case kind == readTwoWays:
		t.add(twoWaysCell, line)
	case kind != readText || c.clock != nil || c.wordy:
	case t[textCell].note == "":
		t.note(textCell, line, "%s in %s", tables.Quote(enc.text(cell)), tables.Quote(c.text))
	default:
		t.add(textCell, line)
	}
}

// noPressure notes an absolute pressure of nothing or less.
func (t *tally) noPressure(c *column, kPa float64, line int) {
	t.note(noPressure, line, "%s kPa in %s", tables.Digits(kPa, 5), tables.Quote(c.text))
}

// merge adds what a piece counted; its lines count from base.
func (t *tally) merge(o *tally, base int) {
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

func (t *tally) reset() {
	for k := range t {
		t[k].count, t[k].lines, t[k].note = 0, t[k].lines[:0], ""
	}
}

// list is the tally as faults, in the order of their kinds.
func (t *tally) list(gapOver float64) []Fault {
	var fs []Fault
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
