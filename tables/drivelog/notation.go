package drivelog

import (
	"bytes"
	"strings"

	"calsplice/tables/unit"
)

// notation is how the cells of one column are written.
type notation struct {
	decimal byte // the decimal mark; undecided where nothing proves one
	proof   markProof
	places  int      // decimals that most of its numbers have
	suffix  string   // the unit glued to its cells; "" where they are bare
	status  bool     // cells may be the words of a fuel status
	clock   *clock   // for a time
	missing []string // what stands for no reading
}

// readKind is what a cell holds.
type readKind int

const (
	readNumber readKind = iota
	readEmpty
	readMissing
	readText
	readTwoWays // "1.004", where nothing proves the decimal mark
)

// read reads one cell, blanks already off, before its unit is converted.
func (c *notation) read(b []byte) (float64, readKind) {
	if v, kind := c.bare(b); kind != readText {
		return v, kind
	}
	if len(b) == 0 {
		return 0, readEmpty
	}
	if isMissing(b, c.missing) {
		return 0, readMissing
	}
	if num, rest := splitGlued(b); c.suffix != "" && rest != "" {
		v, kind := c.bare(num)
		if kind == readText || rest == c.suffix {
			return v, kind
		}
		if conv, err := unit.Find(rest, c.suffix); err == nil && c.clock == nil {
			return conv.Apply(v), kind
		}
	}
	if c.status {
		if v, ok := fuelStatus(b); ok {
			return v, readNumber
		}
	}
	return 0, readText
}

// bare reads a number or, of a clock in words, a time.
func (c *notation) bare(b []byte) (float64, readKind) {
	if c.clock == nil || c.clock.words == nil {
		return c.numeral(b)
	}
	if v, ok := c.clock.words(b); ok {
		return v, readNumber
	}
	return 0, readText
}

// numeral reads a number with the column's decimal mark; where nothing proves
// one, a number that can be read in one way only.
func (c *notation) numeral(b []byte) (float64, readKind) {
	if v, ok := number(b, c.decimal); ok {
		return v, readNumber
	}
	mark := c.decimal
	if mark == undecided {
		proven, two, ok := proves(b)
		switch {
		case two:
			return 0, readTwoWays
		case !ok:
			return 0, readText
		case proven == undecided:
			proven = '.' // either will do
		}
		mark = proven
	}
	if v, ok := decimal(b, mark); ok {
		return v, readNumber
	}
	return 0, readText
}

// prove takes from the first cells what they tell of the unit glued to them, and
// of their decimal mark.
func (c *notation) prove(cells [][]byte) {
	glued, filled := map[string]int{}, 0
	for _, b := range cells {
		if len(b) == 0 || isMissing(b, c.missing) {
			continue
		}
		filled++
		if _, _, ok := proves(b); !ok {
			if num, rest := splitGlued(b); rest != "" && isUnit(rest) {
				glued[rest]++
				b = num
			}
		}
		c.proof.observe(b)
	}
	for u, n := range glued {
		if 2*n > filled || n > 0 && 2*n == filled && u > c.suffix {
			c.suffix = u
		}
	}
}

// countPlaces tells how many decimals most of the numbers have.
func (c *notation) countPlaces(numbers [][]byte) {
	var with [8]int
	for _, b := range numbers {
		_, decimals, _ := bytes.Cut(b, []byte{c.decimal})
		n := len(decimals) & 7
		if with[n]++; with[n] > with[c.places] {
			c.places = n
		}
	}
}

// fuelStatus reads the words of SAE J1979 PID 03 as its values.
func fuelStatus(b []byte) (float64, bool) {
	s := strings.ReplaceAll(strings.ToLower(string(b)), "closed-loop", "closed loop")
	s = strings.ReplaceAll(s, "open-loop", "open loop")
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(s, w) {
				return true
			}
		}
		return false
	}
	switch {
	case s == "cl", s == "cl-fault", strings.HasPrefix(s, "closed loop"):
		if has("fault") {
			return 16, true
		}
		return 2, true
	case s == "ol", s == "ol-drive", s == "ol-fault", strings.HasPrefix(s, "open loop"):
		switch {
		case has("fault", "failure"):
			return 8, true
		case has("load", "decel", "drive", "fuel cut"):
			return 4, true
		}
		return 1, true
	}
	return 0, false
}

// missingMarks are what loggers write for no reading.
var missingMarks = []string{"NaN", "nan", "N/A", "n/a", "-", "--", "null"}

func isMissing(b []byte, marks []string) bool {
	for _, m := range marks {
		if string(b) == m {
			return true
		}
	}
	return false
}

// splitGlued cuts a cell after its number.
func splitGlued(b []byte) (num []byte, rest string) {
	i := numberEnd(b)
	if i == 0 || i == len(b) {
		return nil, ""
	}
	return b[:i], strings.TrimSpace(string(b[i:]))
}

// numberEnd is where what may be a number at the beginning of a cell ends: a
// separator belongs to it where a digit follows.
func numberEnd(b []byte) int {
	i := 0
	for i < len(b) {
		switch sep := separatorAt(b[i:]); {
		case b[i]-'0' <= 9, b[i] == '.', b[i] == ',', (b[i] == '-' || b[i] == '+') && i == 0:
			i++
		case sep != "" && i > 0 && leadingDigits(b[i+len(sep):]) > 0:
			i += len(sep)
		default:
			return i
		}
	}
	return i
}

func isUnit(s string) bool { _, ok := unit.Parse(s); return ok }
