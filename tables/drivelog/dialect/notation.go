package dialect

import (
	"bytes"
	"cmp"
	"strings"

	"calsplice/tables/unit"
)

// Notation is how the cells of one column are written.
type Notation struct {
	Decimal byte // the decimal mark; undecided where nothing proves one
	Proof   markProof
	Places  int      // decimals that most of its numbers have
	with    [8]int   // numbers that have so many
	Suffix  string   // the unit glued to its cells; "" where they are bare
	Status  bool     // cells may be the words of a fuel status
	Clock   *clock   // for a time
	Missing []string // what stands for no reading
}

// ReadKind is what a cell holds.
type ReadKind int

// A cell holds a number, nothing, a mark for a missing value, or text.
const (
	ReadNumber ReadKind = iota
	ReadEmpty
	readMissing
	ReadText
	ReadTwoWays // "1.004", where nothing proves the decimal mark
)

// Read reads one cell, blanks already off, before its unit is converted.
func (c *Notation) Read(b []byte) (float64, ReadKind) {
	if v, kind := c.bare(b); kind != ReadText {
		return v, kind
	}
	if len(b) == 0 {
		return 0, ReadEmpty
	}
	if isMissing(b, c.Missing) {
		return 0, readMissing
	}
	// A gauge that switches units on the way ("kPa" to "psi") is followed; a clock is not.
	if num, rest := SplitGlued(b); c.Suffix != "" && rest != "" {
		v, kind := c.bare(num)
		if kind == ReadText || rest == c.Suffix {
			return v, kind
		}
		if conv, err := unit.Find(rest, c.Suffix); err == nil && c.Clock == nil {
			return conv.Apply(v), kind
		}
	}
	if c.Status {
		if v, ok := fuelStatus(b); ok {
			return v, ReadNumber
		}
	}
	return 0, ReadText
}

// bare reads a number or, of a clock in words, a time.
func (c *Notation) bare(b []byte) (float64, ReadKind) {
	if c.Clock == nil || c.Clock.Words == nil {
		return c.Numeral(b)
	}
	if v, ok := c.Clock.Words(b); ok {
		return v, ReadNumber
	}
	return 0, ReadText
}

// Numeral reads a number with the column's decimal mark; where nothing proves
// one, a number that can be read in one way only.
func (c *Notation) Numeral(b []byte) (float64, ReadKind) {
	if v, ok := Number(b, c.Decimal); ok {
		return v, ReadNumber
	}
	mark := c.Decimal
	if mark == Undecided {
		proven, two, _ := proves(b)
		if two {
			return 0, ReadTwoWays
		}
		mark = cmp.Or(proven, '.') // either will do
	}
	if v, ok := decimal(b, mark); ok {
		return v, ReadNumber
	}
	return 0, ReadText
}

// Prove takes from the first cells what they tell of the unit glued to them, and
// of their decimal mark.
func (c *Notation) Prove(cells [][]byte) {
	glued, filled := map[string]int{}, 0
	for _, b := range cells {
		if len(b) == 0 || isMissing(b, c.Missing) {
			continue
		}
		filled++
		if c.Proof.Observe(b) {
			continue
		}
		if num, rest := SplitGlued(b); rest != "" && IsUnit(rest) {
			glued[rest]++
			c.Proof.Observe(num)
		}
	}
	// Of two units that are as common the later in the alphabet, so that the order of a map
	// decides nothing.
	for u, n := range glued {
		if 2*n > filled || 2*n == filled && u > c.Suffix {
			c.Suffix = u
		}
	}
}

// CountPlaces takes the decimals of a number, to tell how many most have.
func (c *Notation) CountPlaces(number []byte) {
	n := 0
	if i := bytes.IndexByte(number, c.Decimal); i >= 0 {
		n = (len(number) - i - 1) & 7
	}
	if c.with[n]++; c.with[n] > c.with[c.Places] {
		c.Places = n
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

// MissingMarks are what loggers write for no reading.
var MissingMarks = []string{"NaN", "nan", "N/A", "n/a", "-", "--", "null"}

// isMissing reports whether a cell is one of the marks for no reading.
func isMissing(b []byte, marks []string) bool {
	for _, m := range marks {
		if string(b) == m {
			return true
		}
	}
	return false
}

// SplitGlued cuts a cell after its number.
func SplitGlued(b []byte) (num []byte, rest string) {
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

// IsUnit reports whether a text is a unit that is known.
func IsUnit(s string) bool { _, ok := unit.Parse(s); return ok }
