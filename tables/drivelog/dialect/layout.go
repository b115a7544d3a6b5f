package dialect

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
)

// headLines cuts the head of a log into lines, their ends with them; a last line without
// its end is left out unless the head is the whole log.
func headLines(head []byte, eol byte, atEnd bool) [][]byte {
	lines := bytes.SplitAfter(head, []byte{eol})
	if last := len(lines) - 1; len(lines[last]) == 0 || !atEnd {
		return lines[:last]
	}
	return lines
}

// withoutEnd is a line as it is read.
func withoutEnd(line []byte) []byte { return bytes.TrimRight(line, "\r\n") }

// IsWord reports whether a cell holds something that is no number, time or
// missing mark.
func IsWord(b []byte) bool {
	if len(b) == 0 || isMissing(b, MissingMarks) {
		return false
	}
	if _, _, ok := proves(b); ok {
		return false
	}
	for _, k := range wordClocks {
		if _, ok := k.clock.Words(b); ok {
			return false
		}
	}
	_, u := SplitGlued(b)
	return u == "" || !IsUnit(u)
}

// splitRow is a line as a row of fields under some delimiter.
type splitRow struct {
	fields        [][]byte
	filled, words int // cells that are not empty, and those that are words
}

// splitLine cuts a line, and counts what its cells are.
func splitLine(b []byte, delim byte) splitRow {
	r := splitRow{fields: AppendFields(make([][]byte, 0, bytes.Count(b, []byte{delim})+1), withoutEnd(b), delim)}
	for _, f := range r.fields {
		if len(f) > 0 {
			r.filled++
		}
		if IsWord(f) {
			r.words++
		}
	}
	return r
}

// isData reports whether at least a share of the row's filled cells are numbers or
// times. One cell is no row.
func (r *splitRow) isData(share float64) bool {
	return len(r.fields) > 1 && r.filled > 0 && float64(r.filled-r.words) >= share*float64(r.filled)
}

// looksLikeUnits reports whether a line under a header holds units.
func looksLikeUnits(fields [][]byte) bool {
	filled, units := 0, 0
	for _, f := range fields {
		s := strings.ToLower(string(f))
		if s == "" {
			continue
		}
		filled++
		switch bare := strings.TrimSpace(strings.Trim(s, "()[]{}")); {
		case IsUnit(bare), bare == "", bare == "-", bare == "#", bare == "hh:mm:ss", bare == "hh:mm:ss.fff", bare == "none",
			bare == "status", bare == "text", bare == "enum", bare == "bool", bare == "time":
			units++
		}
	}
	return units > 0 && 2*units > filled
}

// layout is what one delimiter makes of a log's beginning.
type layout struct {
	delim               byte
	lines               [][]byte
	rows                []splitRow // by line
	share               float64    // of its cells that are numbers or times at least, a row is one of readings
	asked               *Asked
	header, units, data int // indexes of lines; −1 where there is none
	score               float64
}

// tryDelimiter finds the header and the first row under a delimiter; a row is
// one of readings where at least that share of its cells are numbers or times.
func tryDelimiter(lines [][]byte, delim byte, share float64, ask *Asked) (l layout, ok bool) {
	l = layout{delim: delim, lines: lines, share: share, asked: ask, header: -1, units: -1, data: -1}
	for _, line := range lines {
		l.rows = append(l.rows, splitLine(line, delim))
	}
	switch h := ask.HeaderLine - 1; {
	case h < 0 && !l.find(), h >= len(lines):
		return l, false
	case h >= 0:
		l.under(h)
	}
	l.score = fit(l.rows[max(l.data, 0):], l.width(l.header))
	return l, true
}

// width is how many fields a line has.
func (l *layout) width(i int) int { return len(l.rows[i].fields) }

// isData reports whether a line is a row of readings.
func (l *layout) isData(i int) bool { return l.rows[i].isData(l.share) }

// blank reports whether a line holds nothing.
func (l *layout) blank(i int) bool { return len(TrimBlanks(withoutEnd(l.lines[i]))) == 0 }

// isUnits reports whether a line is, or is asked to be, a row of units.
func (l *layout) isUnits(i int) bool {
	if l.asked.UnitsRow != "" {
		return l.asked.UnitsRow == "yes"
	}
	return looksLikeUnits(l.rows[i].fields)
}

// under takes the line h as the header.
func (l *layout) under(h int) {
	l.header = h
	for i := h + 1; i < len(l.rows); i++ {
		switch {
		case l.blank(i):
		case l.units < 0 && !l.isData(i) && l.isUnits(i):
			l.units = i
		default:
			l.data = i
			return
		}
	}
}

// find finds the first row of readings under a line of words that may be its
// header, with a line of units between them or none.
func (l *layout) find() bool {
	text := func(i int) bool { return i >= 0 && l.width(i) > 1 && !l.isData(i) }
	above := func(i int) int { // the nearest line above that is not blank
		for i--; i >= 0 && l.blank(i); i-- {
		}
		return i
	}
	usual := l.usualWidth()
	for i := range l.rows {
		h := above(i)
		if !l.isData(i) || 5*l.width(i) < 3*usual || !text(h) {
			continue
		}
		units := -1
		if up := above(h); text(up) && l.isUnits(h) && near(l.width(up), l.width(h)) {
			units, h = h, up
		}
		// Rows may be a little shorter or longer than their header; a line of another table in
		// the preamble is not.
		if near(l.width(h), l.width(i)) {
			l.header, l.units, l.data = h, units, i
			return true
		}
	}
	return false
}

// What a log's delimiter is, its own numbers may hide: "1,5;2,5" has more commas than
// semicolons. So each is tried, and judged by the table that it makes.

// bestLayout tries each delimiter. Rows of many words are taken only where there
// are no others.
func bestLayout(lines [][]byte, delims []byte, ask *Asked) (best layout) {
	// The widest header wins among equals: a delimiter that does not occur makes one field of
	// every line.
	for _, share := range []float64{0.5, 0.15} {
		for _, c := range delims {
			if l, ok := tryDelimiter(lines, c, share, ask); ok && l.score > best.score {
				best = l
			}
		}
		if best.score > 0 {
			break
		}
	}
	return best
}

// near reports whether two counts of fields may belong together.
func near(a, b int) bool {
	return math.Abs(float64(a-b)) <= math.Max(1, 0.4*float64(max(a, b)))
}

// usualWidth is the commonest count of fields among the rows.
func (l *layout) usualWidth() int {
	counts, best := map[int]int{}, 0
	for i := range l.rows {
		if n := l.width(i); l.isData(i) {
			counts[n]++
			if c, b := counts[n], counts[best]; c > b || c == b && n > best {
				best = n
			}
		}
	}
	return best
}

// fit scores rows under a header: the share of cells that are numbers or times
// times the share of rows as wide as the header; wider headers win ties.
func fit(rows []splitRow, width int) float64 {
	var cells, good, wide, n float64
	for _, r := range rows {
		if len(r.fields) == 1 && r.filled == 0 {
			continue // a blank line
		}
		n++
		if near(len(r.fields), width) {
			wide++
		}
		cells += float64(r.filled)
		good += float64(r.filled - r.words)
	}
	if cells == 0 {
		return 0.001 * float64(width)
	}
	return good / cells * wide / n * (1 - 1/float64(1+width))
}

// noHeader says why a log's columns cannot be told.
func noHeader(lines [][]byte, delims []byte) error {
	if first := TrimBlanks(lines[0]); bytes.HasPrefix(first, []byte("{")) || bytes.HasPrefix(first, []byte("calsplice,")) {
		return fault(1, "this is a document, not a drive log: a drive log is rows of channels over time")
	}
	for i, ln := range lines {
		for _, c := range delims {
			r := splitLine(ln, c)
			if r.isData(0.5) {
				return fault(i+1, "there is no header above the first row of numbers, so the channels cannot be told")
			}
			if len(r.fields) > 1 && i == len(lines)-1 {
				return fault(i+1, "there are no rows of numbers under the header")
			}
		}
	}
	hint := ""
	if len(lines) >= headerReach {
		hint = ": --header-line LINE if it stands further down"
	}
	return fault(1, "no header and rows of a drive log are found in the first %d lines%s", len(lines), hint)
}

// fault is an error with a line; whoever opened the log adds its name.
func fault(line int, format string, args ...any) error {
	return &tables.Fault{Line: line, What: fmt.Sprintf(format, args...)}
}
