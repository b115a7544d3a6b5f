package drivelog

import (
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// column is one column of a wide log, or one channel and unit of a long one.
type column struct {
	heading
	notation
	index     int    // field, from 0; in the long form the order of first appearance
	name      string // the channel that it is; "" where none
	told      bool   // mapped by the person
	second    bool   // another name for a column that is a channel
	why       string // why it is that channel, or is none
	logUnit   string // the unit that its numbers are in; "" where the log gives none
	assumed   bool   // the channel's own unit was assumed
	clockUnit string // the unit assumed of a clock
	conv      unit.Conversion
	coarse    bool   // a time that hardly moves, as a spreadsheet's rounding leaves it
	bad       string // why its numbers cannot be used; a fault where not ""
	said      string // an assumption to report where it is used, other than its unit

	absolute bool // an absolute pressure: zero or less is none
	falls    bool // it falls where the throttle opens

	wordy bool  // holds words by nature: text is no fault
	seen  stats // of the sample: what its numbers look like
}

// newColumn is a column under a header, to be read with these missing marks.
func newColumn(header string, index int, missing []string) *column {
	c := &column{heading: readHeading(header), notation: notation{missing: missing}, index: index, conv: asWritten}
	c.status = c.channel == "fuel_status"
	return c
}

var asWritten = unit.Conversion{Mul: 1, Div: 1}

// unit is what the column's values are in once read.
func (c *column) unit() string {
	if c.name != "" && c.bad == "" {
		if k, ok := lookup(c.name); ok {
			return k.unit
		}
	}
	return c.logUnit
}

// assumption names the column and the unit that is assumed for want of one in
// the log; "" where nothing is.
func (c *column) assumption() string {
	switch {
	case !c.assumed || c.said != "":
		return ""
	case c.clockUnit != "":
		return c.name + " " + c.clockUnit
	}
	return c.name + " " + c.unit()
}

// value reads a cell in the unit of the column's values.
func (c *column) value(b []byte) (float64, readKind) {
	v, kind := c.read(b)
	return c.conv.Apply(v), kind
}

// in is the column's number in a row; not ok where there is none.
func (c *column) in(row [][]byte) (v float64, ok bool) {
	if c.index >= len(row) {
		return 0, false
	}
	v, kind := c.value(row[c.index])
	return v, kind == readNumber
}

// isTrim reports whether a channel is a fuel trim.
func isTrim(name string) bool { return strings.Contains(name, "_trim_") }

// stats sums up numbers: compensated (Neumaier), so that a mean over millions
// of rows keeps its digits.
type stats struct {
	count, text  int
	two          int // cells that can be read in two ways
	min, max     float64
	sum, carry   float64
	above, below int // numbers over and under 1, for trims
	zeros        int
	below0       int
}

func (s *stats) add(v float64) {
	v += 0 // −0 is 0
	if s.count == 0 {
		s.min, s.max = v, v
	}
	s.count++
	s.min, s.max = min(s.min, v), max(s.max, v)
	t := s.sum + v
	if math.Abs(s.sum) >= math.Abs(v) {
		s.carry += (s.sum - t) + v
	} else {
		s.carry += (v - t) + s.sum
	}
	s.sum = t
	switch {
	case v == 0:
		s.zeros++
	case v > 1:
		s.above++
	case v < 1:
		s.below++
		if v < 0 {
			s.below0++
		}
	}
}

func (s *stats) mean() float64 {
	if s.count == 0 {
		return math.NaN()
	}
	return (s.sum + s.carry) / float64(s.count)
}

// observe reads the first cells: what the column's numbers look like.
func (c *column) observe(cells [][]byte) {
	var numbers [][]byte
	for _, b := range cells {
		if c.see(b) {
			numbers = append(numbers, b)
		}
	}
	c.countPlaces(numbers)
}

// see takes one cell into what is seen, and reports whether it is a number.
func (c *column) see(b []byte) bool {
	v, kind := c.read(b)
	switch kind {
	case readNumber:
		c.seen.add(v)
	case readText:
		c.seen.text++
	case readTwoWays:
		c.seen.two++
	}
	return kind == readNumber
}

// settle decides a column's unit and conversion once its channel is known.
func (c *column) settle(s *Settings, trims map[trimGuess]bool) {
	c.logUnit = c.heading.unit
	if c.channel == "time" || c.name == "time" {
		return // its clock is known
	}
	c.conv, c.bad, c.said, c.assumed = asWritten, "", "", false
	if c.logUnit == "" {
		c.logUnit = c.suffix
	}
	if c.suffix != "" && c.heading.unit != "" {
		if conv, err := unit.Find(c.suffix, c.heading.unit); err == nil && !conv.Identity() {
			c.logUnit = c.suffix // the cells know best
		}
	}
	u, told := s.Units[c.name]
	if told = told && c.name != ""; told {
		c.logUnit, c.odd = u, ""
	}
	k, isKnown := lookup(c.name)
	switch {
	case c.name != "" && c.seen.two > 0:
		c.bad = "its numbers can be read in two ways: --decimal . or ,"
		if c.proof.first != "" {
			c.bad = twoWays(c.proof.first)
		}
	case c.name == "" || !isKnown:
	case c.odd != "" && c.logUnit == c.odd:
		c.bad = fmt.Sprintf("unit %s is not known: --channel-unit %s=UNIT", tables.Quote(c.odd), c.name)
	case isTrim(c.name):
		c.settleTrim(trims, told)
	case k.unit == "lambda":
		c.settleLambda(s)
	default:
		c.settleUnit(k)
	}
}

// settleUnit takes the log's unit, or the channel's own where there is none, and
// looks at numbers that may mean another thing than their channel.
func (c *column) settleUnit(k channel) {
	if c.logUnit == "" {
		c.assumed = k.unit != ""
	} else {
		conv, ok := k.convert(c.logUnit)
		if !ok {
			c.misfit(k)
			return
		}
		c.conv = conv
	}
	switch c.name {
	case "knock_retard": // a retard that is written as a negative advance is turned
		if c.seen.count > 0 && c.seen.min < 0 && c.seen.max <= 0 {
			c.conv.Mul = -c.conv.Mul
			c.said = fmt.Sprintf("knock_retard: %s is never above 0 and is taken as a negative advance", tables.Quote(c.text))
		}
	case "manifold_pressure", "barometric_pressure", "rail_pressure":
		c.settlePressure()
	}
}

// misfit says that the log's unit does not measure the channel.
func (c *column) misfit(k channel) {
	own := k.unit
	switch {
	case c.name == "manifold_pressure":
		own += " absolute"
	case own == "":
		own = "no unit"
	}
	c.bad = fmt.Sprintf("unit %s does not fit %s, which is in %s", tables.Quote(c.logUnit), c.name, own)
}
