package drivelog

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables/unit"
)

// clockKind is how a time column is written.
type clockKind int

const (
	clockNumber  clockKind = iota // a plain number, divided by a factor
	clockOfDay                    // hh:mm:ss.fff, wrapping at midnight
	clockMinutes                  // mm:ss.fff
	clockISO                      // ISO 8601 date and time
)

// clock reads the cells of a time column as seconds.
type clock struct {
	kind clockKind
	div  float64 // clockNumber: the log's units in a second
}

// words reads a time that is more than a number.
func (c *clock) words(b []byte) (float64, bool) {
	switch c.kind {
	case clockOfDay:
		return timeOfDay(b)
	case clockMinutes:
		return minutesSeconds(b)
	}
	return isoTime(b)
}

// digits reads exactly n digits at b[i].
func digitsAt(b []byte, i, n int) (int, bool) {
	if i+n > len(b) {
		return 0, false
	}
	v := 0
	for _, c := range b[i : i+n] {
		if c-'0' > 9 {
			return 0, false
		}
		v = v*10 + int(c-'0')
	}
	return v, true
}

// secondsAt reads "ss" with an optional fraction, and returns what follows.
func secondsAt(b []byte, i int) (v float64, rest []byte, ok bool) {
	s, ok := digitsAt(b, i, 2)
	if !ok || s > 60 {
		return 0, nil, false
	}
	i += 2
	v = float64(s)
	if i < len(b) && (b[i] == '.' || b[i] == ',') {
		i++
		start, mant := i, 0.0
		for i < len(b) && b[i]-'0' <= 9 && i-start < 15 {
			mant = float64(mant*10) + float64(b[i]-'0')
			i++
		}
		if i == start {
			return 0, nil, false
		}
		v += mant / powersOf10[i-start]
	}
	return v, b[i:], true
}

func timeOfDay(b []byte) (float64, bool) {
	i := 0
	for i < len(b) && b[i]-'0' <= 9 && i < 4 {
		i++
	}
	h, ok := digitsAt(b, 0, i)
	if !ok || i == 0 || i >= len(b) || b[i] != ':' {
		return 0, false
	}
	m, ok := digitsAt(b, i+1, 2)
	if !ok || m > 59 || i+3 >= len(b) || b[i+3] != ':' {
		return 0, false
	}
	s, rest, ok := secondsAt(b, i+4)
	return float64(h*3600+m*60) + s, ok && len(rest) == 0
}

func minutesSeconds(b []byte) (float64, bool) {
	i := 0
	for i < len(b) && b[i]-'0' <= 9 && i < 5 {
		i++
	}
	m, ok := digitsAt(b, 0, i)
	if !ok || i == 0 || i >= len(b) || b[i] != ':' {
		return 0, false
	}
	s, rest, ok := secondsAt(b, i+1)
	return float64(m*60) + s, ok && len(rest) == 0
}

// isoTime reads a date and time of ISO 8601, with "T" or a blank between them
// and an optional zone, as seconds since 1970 (UTC, or the log's own clock
// where it names no zone).
func isoTime(b []byte) (float64, bool) {
	y, ok1 := digitsAt(b, 0, 4)
	mo, ok2 := digitsAt(b, 5, 2)
	d, ok3 := digitsAt(b, 8, 2)
	if !ok1 || !ok2 || !ok3 || b[4] != b[7] || b[4] != '-' && b[4] != '/' || mo < 1 || mo > 12 || d < 1 || d > 31 {
		return 0, false
	}
	if len(b) < 16 || b[10] != 'T' && b[10] != ' ' && b[10] != 't' || b[13] != ':' {
		return 0, false
	}
	h, ok1 := digitsAt(b, 11, 2)
	m, ok2 := digitsAt(b, 14, 2)
	if !ok1 || !ok2 || h > 24 || m > 59 {
		return 0, false
	}
	s, rest := 0.0, b[16:]
	if len(rest) > 0 && rest[0] == ':' {
		if s, rest, ok1 = secondsAt(b, 17); !ok1 {
			return 0, false
		}
	}
	zone, ok := zoneSeconds(rest)
	return float64(daysSince1970(y, mo, d)*86400+h*3600+m*60-zone) + s, ok
}

func zoneSeconds(b []byte) (int, bool) {
	b = trimBlanks(b)
	if len(b) == 0 || len(b) == 1 && (b[0] == 'Z' || b[0] == 'z') {
		return 0, true
	}
	if b[0] != '+' && b[0] != '-' {
		return 0, false
	}
	h, ok := digitsAt(b, 1, 2)
	m := 0
	switch {
	case !ok:
		return 0, false
	case len(b) == 3:
	case len(b) == 5:
		m, ok = digitsAt(b, 3, 2)
	case len(b) == 6 && b[3] == ':':
		m, ok = digitsAt(b, 4, 2)
	default:
		return 0, false
	}
	v := h*3600 + m*60
	if b[0] == '-' {
		v = -v
	}
	return v, ok
}

// daysSince1970 counts days of the proleptic Gregorian calendar.
func daysSince1970(y, m, d int) int {
	if m <= 2 {
		y, m = y-1, m+12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d - 1 - 719468
}

// detectClock tells how a time column is written from its first cells: a kind of
// clock, and of a number whose unit the log gives, that. Of another number, div
// is 0.
func (c *column) detectClock(cells [][]byte, unitText, format string) (clk clock, why string, err error) {
	if format != "" {
		return clockFormat(format)
	}
	filled := slices.DeleteFunc(slices.Clone(cells), func(b []byte) bool { return len(b) == 0 })
	most := func(is func(b []byte) bool) bool {
		n := 0
		for _, b := range filled {
			if is(b) {
				n++
			}
		}
		return 2*n >= len(filled)
	}
	if len(filled) == 0 {
		return clk, "", fmt.Errorf("it is empty in the first rows")
	}
	for _, k := range []struct {
		kind clockKind
		why  string
	}{{clockOfDay, "hh:mm:ss"}, {clockISO, "ISO 8601"}, {clockMinutes, "mm:ss"}} {
		clk.kind = k.kind
		if most(func(b []byte) bool { _, ok := clk.words(b); return ok }) {
			return clk, k.why, nil
		}
	}
	clk.kind = clockNumber
	if !most(func(b []byte) bool { _, kind := c.numeral(b); return kind == readNumber }) {
		if c.decimal == undecided && c.proof.first != "" {
			return clk, "", errors.New(twoWays(c.proof.first))
		}
		return clk, "", fmt.Errorf("its cells are no time that is known (%q): --time-format", string(filled[0]))
	}
	if unitText != "" {
		if conv, err := unit.Find(unitText, "s"); err == nil {
			return clock{div: conv.Div / conv.Mul}, "the log says " + unitText, nil
		}
	}
	return clk, "", nil
}

func clockFormat(s string) (clock, string, error) {
	const why = "as told"
	s = strings.ToLower(s)
	for _, u := range clockUnits {
		if s == u.name || s == u.word {
			return clock{div: u.perSecond}, why, nil
		}
	}
	switch s {
	case "hh:mm:ss", "hh:mm:ss.fff", "h:m:s":
		return clock{kind: clockOfDay}, why, nil
	case "mm:ss", "mm:ss.fff", "m:s":
		return clock{kind: clockMinutes}, why, nil
	case "iso", "iso8601", "iso 8601":
		return clock{kind: clockISO}, why, nil
	}
	return clock{}, "", fmt.Errorf("time format %q is not one of s, ms, us, ns, min, h, days, hh:mm:ss, mm:ss, iso", s)
}
