package dialect

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"calsplice/tables/unit"
)

// clock is how a time column tells the time: in plain numbers, div of them to
// the second, or in words such as hh:mm:ss, which are read as seconds.
type clock struct {
	Div   float64
	Words func(b []byte) (float64, bool)
	Daily bool // it starts again at midnight
	dated bool // it gives the date too
}

// OfDay reports whether the clock gives the time of day.
func (c *clock) OfDay() bool { return c.Daily || c.dated }

// wordClocks are the clocks that are more than a number, in the order in which
// cells are tried.
var wordClocks = []struct {
	name  string
	asked string // what people may ask for
	clock clock
}{
	{"hh:mm:ss", "hh:mm:ss hh:mm:ss.fff h:m:s", clock{Div: 1, Words: timeOfDay, Daily: true}},
	{"ISO 8601", "iso iso8601", clock{Div: 1, Words: isoTime, dated: true}},
	{"mm:ss", "mm:ss mm:ss.fff m:s", clock{Div: 1, Words: minutesSeconds}},
}

// digitsAt reads exactly n digits at b[i].
func digitsAt(b []byte, i, n int) (int, bool) {
	if i+n > len(b) || n == 0 {
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

// colonAt reads n digits at b[i] and the colon behind them.
func colonAt(b []byte, i, n int) (int, bool) {
	v, ok := digitsAt(b, i, n)
	return v, ok && i+n < len(b) && b[i+n] == ':'
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
		n := min(leadingDigits(b[i+1:]), 15)
		mant, ok := digitsAt(b, i+1, n)
		if !ok {
			return 0, nil, false
		}
		v += float64(mant) / PowersOf10[n]
		i += 1 + n
	}
	return v, b[i:], true
}

// timeOfDay reads "hh:mm:ss" with an optional fraction, hours past 24 included.
func timeOfDay(b []byte) (float64, bool) {
	n := min(leadingDigits(b), 4)
	h, hours := colonAt(b, 0, n)
	m, minutes := colonAt(b, n+1, 2)
	if !hours || !minutes || m > 59 {
		return 0, false
	}
	s, rest, ok := secondsAt(b, n+4)
	return float64(h*3600+m*60) + s, ok && len(rest) == 0
}

// TimeOfDay reads "hh:mm" or "hh:mm:ss" with an optional fraction, as seconds.
func TimeOfDay(text string) (float64, bool) {
	if strings.Count(text, ":") == 1 {
		text += ":00"
	}
	v, ok := timeOfDay([]byte(text))
	return v, ok && v <= 86400
}

// minutesSeconds reads "mm:ss" with an optional fraction, minutes past 60 included.
func minutesSeconds(b []byte) (float64, bool) {
	n := min(leadingDigits(b), 5)
	m, ok := colonAt(b, 0, n)
	if !ok {
		return 0, false
	}
	s, rest, ok := secondsAt(b, n+1)
	return float64(m*60) + s, ok && len(rest) == 0
}

// isoTime reads a date and time of ISO 8601, with "T" or a blank between them
// and an optional zone, as seconds since 1970 (UTC, or the log's own clock
// where it names no zone).
func isoTime(b []byte) (float64, bool) {
	v, zone, ok := isoParts(b)
	return v - float64(zone), ok
}

// isoParts are the seconds by the log's own clock, and how many of them its zone is ahead of
// UTC.
func isoParts(b []byte) (v float64, zone int, ok bool) {
	y, ok1 := digitsAt(b, 0, 4)
	mo, ok2 := digitsAt(b, 5, 2)
	d, ok3 := digitsAt(b, 8, 2)
	if !ok1 || !ok2 || !ok3 || b[4] != b[7] || b[4] != '-' && b[4] != '/' || mo < 1 || mo > 12 || d < 1 || d > 31 {
		return 0, 0, false
	}
	h, ok1 := colonAt(b, 11, 2)
	m, ok2 := digitsAt(b, 14, 2)
	if !ok1 || !ok2 || h > 24 || m > 59 || b[10] != 'T' && b[10] != ' ' && b[10] != 't' {
		return 0, 0, false
	}
	s, rest := 0.0, b[16:]
	if len(rest) > 0 && rest[0] == ':' {
		if s, rest, ok1 = secondsAt(b, 17); !ok1 {
			return 0, 0, false
		}
	}
	zone, ok = zoneSeconds(rest) // so that a log goes on across a change to summer time
	return float64(time.Date(y, time.Month(mo), d, h, m, 0, 0, time.UTC).Unix()) + s, zone, ok
}

// zoneSeconds reads "", "Z", "+hh", "+hhmm" or "+hh:mm".
func zoneSeconds(b []byte) (int, bool) {
	b = TrimBlanks(b)
	if len(b) == 0 || len(b) == 1 && (b[0] == 'Z' || b[0] == 'z') {
		return 0, true
	}
	h, ok := digitsAt(b, 1, 2)
	m := 0
	if ok && len(b) > 3 {
		minutes := bytes.TrimPrefix(b[3:], []byte{':'})
		m, ok = digitsAt(minutes, 0, 2)
		ok = ok && len(minutes) == 2
	}
	switch v := h*3600 + m*60; b[0] {
	case '+':
		return v, ok
	case '-':
		return -v, ok
	}
	return 0, false
}

// DetectClock reports how a time column is written from its first cells: a kind of
// clock, and of a number whose unit the log gives, that. Of another number, div
// is 0.
func (c *Notation) DetectClock(cells [][]byte, unitText, format string) (clk clock, why string, err error) {
	if format != "" {
		clk, err = clockAsked(format)
		return clk, "as told", err
	}
	filled := slices.DeleteFunc(slices.Clone(cells), func(b []byte) bool { return len(b) == 0 })
	if len(filled) == 0 {
		return clk, "", fmt.Errorf("it is empty in the first rows")
	}
	most := func(is func(b []byte) bool) bool {
		n := 0
		for _, b := range filled {
			if is(b) {
				n++
			}
		}
		return 2*n >= len(filled)
	}
	for _, k := range wordClocks {
		if most(func(b []byte) bool { _, ok := k.clock.Words(b); return ok }) {
			return k.clock, k.name, nil
		}
	}
	// Half of the cells must be a time: single ones may be torn or text.
	if !most(func(b []byte) bool { _, kind := c.Numeral(b); return kind == ReadNumber }) {
		if c.Decimal == Undecided && c.Proof.First != "" {
			return clk, "", errors.New(TwoWays(c.Proof.First))
		}
		return clk, "", fmt.Errorf("its cells are no time that is known (%q): --time-format", string(filled[0]))
	}
	if unitText != "" {
		if conv, err := unit.Find(unitText, "s"); err == nil {
			return clock{Div: conv.Div / conv.Mul}, "the log says " + unitText, nil
		}
	}
	return clk, "", nil
}

// clockAsked is the clock of a time format that a person gives.
func clockAsked(format string) (clock, error) {
	f := strings.ToLower(format)
	for _, u := range clockUnits {
		if f == u.Name || f == u.word {
			return clock{Div: u.PerSecond}, nil
		}
	}
	for _, k := range wordClocks {
		if slices.Contains(strings.Fields(k.asked), f) || f == strings.ToLower(k.name) {
			return k.clock, nil
		}
	}
	return clock{}, fmt.Errorf("time format %q is not one of s, ms, us, ns, min, h, days, hh:mm:ss, mm:ss, iso", f)
}
