package channel

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/unit"
)

// Column is one column of a wide log, or one channel and unit of a long one.
type Column struct {
	Heading
	dialect.Notation
	Index     int     // field, from 0; in the long form the order of first appearance
	Name      string  // the channel that it is; "" where none
	Told      bool    // mapped by the person
	Second    string  // what a column is already of which this is another name; "" most often
	Why       string  // why it is that channel, or is none
	LogUnit   string  // the unit that its numbers are in; "" where the log gives none
	Assumed   bool    // the channel's own unit was assumed
	ClockUnit string  // the unit assumed of a clock
	Step      float64 // a clock's typical one, seconds; 0 where not known
	First     float64 // a clock's first time, seconds
	Zone      float64 // seconds that a clock's dates are ahead of UTC, by the first
	Conv      unit.Conversion
	Coarse    bool   // a time that hardly moves, as a spreadsheet's rounding leaves it
	Bad       string // why its numbers cannot be used; a fault where not ""
	Note      string // an assumption to report where it is used, other than its unit

	Absolute bool // an absolute pressure: zero or less is none
	Falls    bool // it falls where the throttle opens

	Wordy bool  // holds words by nature: text is no fault
	Seen  Stats // of the sample: what its numbers look like
}

// NewColumn is a column under a header, to be read with these missing marks.
func NewColumn(header string, index int, missing []string) *Column {
	c := &Column{Heading: ReadHeading(header), Notation: dialect.Notation{Missing: missing}, Index: index, Conv: AsWritten}
	c.Status = c.Channel == "fuel_status"
	return c
}

// AsWritten leaves numbers as the log has them.
var AsWritten = unit.Conversion{Mul: 1, Div: 1}

// Unit is what the column's values are in once read.
func (c *Column) Unit() string {
	if c.Name != "" && c.Bad == "" {
		if k, ok := Lookup(c.Name); ok {
			return k.unit
		}
	}
	return c.LogUnit
}

// Assumption names the column and the unit that is assumed for want of one in
// the log; "" where nothing is.
func (c *Column) Assumption() string {
	switch {
	case !c.Assumed || c.Note != "":
		return ""
	case c.ClockUnit != "":
		return c.Name + " " + c.ClockUnit
	}
	return c.Name + " " + c.Unit()
}

// Value reads a cell in the unit of the column's values.
func (c *Column) Value(b []byte) (float64, dialect.ReadKind) {
	v, kind := c.Read(b)
	return c.Conv.Apply(v), kind
}

// In is the column's number in a row; not ok where there is none.
func (c *Column) In(row [][]byte) (v float64, ok bool) {
	if c.Index >= len(row) {
		return 0, false
	}
	v, kind := c.Value(row[c.Index])
	return v, kind == dialect.ReadNumber
}

// IsTrim reports whether a channel is a fuel trim.
func IsTrim(name string) bool { return strings.Contains(name, "_trim_") }

// Stats sums up numbers: compensated (Neumaier), so that a mean over millions
// of rows keeps its digits.
type Stats struct {
	Count, Text  int
	Two          int // cells that can be read in two ways
	Min, Max     float64
	sum, carry   float64
	above, below int // numbers over and under 1, for trims
	Zeros        int
	below0       int
}

// Add takes the next number.
func (s *Stats) Add(v float64) {
	v += 0 // −0 is 0
	if s.Count == 0 {
		s.Min, s.Max = v, v
	}
	s.Count++
	s.Min, s.Max = min(s.Min, v), max(s.Max, v)
	// Means of long logs are compared to the last digit with other programs'.
	// Neumaier: what the sum loses of the smaller number is kept aside.
	t := s.sum + v
	if math.Abs(s.sum) >= math.Abs(v) {
		s.carry += (s.sum - t) + v
	} else {
		s.carry += (v - t) + s.sum
	}
	s.sum = t
	switch {
	case v == 0:
		s.Zeros++
	case v > 1:
		s.above++
	case v < 1:
		s.below++
		if v < 0 {
			s.below0++
		}
	}
}

// Mean is NaN where there is no number.
func (s *Stats) Mean() float64 {
	if s.Count == 0 {
		return math.NaN()
	}
	return (s.sum + s.carry) / float64(s.Count)
}

// Observe reads the first cells: what the column's numbers look like.
func (c *Column) Observe(cells [][]byte) {
	for _, b := range cells {
		if c.See(b) {
			c.CountPlaces(b)
		}
	}
}

// See takes one cell into what is seen, and reports whether it is a number.
func (c *Column) See(b []byte) bool {
	v, kind := c.Read(b)
	switch kind {
	case dialect.ReadNumber:
		c.Seen.Add(v)
	case dialect.ReadText:
		c.Seen.Text++
	case dialect.ReadTwoWays:
		c.Seen.Two++
	}
	return kind == dialect.ReadNumber
}

// settle decides a column's unit and conversion once its channel is known.
func (c *Column) settle(s *Settings, trims map[trimGuess]bool) {
	if c.LogUnit = c.Heading.Unit; c.Channel == "time" || c.Name == "time" {
		return // its clock is known
	}
	c.LogUnit = cmp.Or(c.LogUnit, c.Suffix)
	c.Conv, c.Bad, c.Note, c.Assumed = AsWritten, "", "", false
	if c.Suffix != "" && c.Heading.Unit != "" {
		if conv, err := unit.Find(c.Suffix, c.Heading.Unit); err == nil && !conv.Identity() {
			c.LogUnit = c.Suffix // the cells know best
		}
	}
	u, given := s.Units[c.Name]
	if given = given && c.Name != ""; given {
		c.LogUnit, c.Odd = u, ""
	}
	// In this order: numbers that cannot be read at all, columns that are no channel, units
	// that nobody knows; then each channel by its own rules.
	k, isKnown := Lookup(c.Name)
	switch {
	case c.Name != "" && c.Seen.Two > 0:
		c.Bad = "its numbers can be read in two ways: --decimal . or ,"
		if c.Proof.First != "" {
			c.Bad = dialect.TwoWays(c.Proof.First)
		}
	case c.Name == "" || !isKnown:
	case c.Odd != "" && c.LogUnit == c.Odd:
		c.Bad = fmt.Sprintf("unit %s is not known: --channel-unit %s=UNIT", tables.Quote(c.Odd), c.Name)
	case IsTrim(c.Name):
		c.settleTrim(trims, given)
	case k.unit == "lambda":
		c.settleLambda(s)
	default:
		c.settleUnit(k)
	}
}

// settleUnit takes the log's unit, or the channel's own where there is none, and
// looks at numbers that may mean another thing than their channel.
func (c *Column) settleUnit(k Channel) {
	if c.LogUnit == "" {
		c.Assumed = k.unit != ""
	} else {
		conv, ok := k.convert(c.LogUnit)
		if !ok {
			c.misfit(k)
			return
		}
		c.Conv = conv
	}
	// Two names have two customs: retard is a positive number here, and a pressure
	// against the atmosphere is not one against nothing.
	switch c.Name {
	case "knock_retard": // a retard that is written as a negative advance is turned
		if c.Note = c.NegativeAdvance(&c.Seen); c.Note != "" {
			c.Conv.Mul = -c.Conv.Mul
		}
	case "manifold_pressure", "barometric_pressure", "rail_pressure":
		c.settlePressure()
	}
}

// NegativeAdvance says that a retard of such numbers is written as a negative advance; ""
// where it is not.
func (c *Column) NegativeAdvance(s *Stats) string {
	if s.Count == 0 || s.Min >= 0 || s.Max > 0 {
		return ""
	}
	return fmt.Sprintf("knock_retard: %s is never above 0 and is taken as a negative advance", tables.Quote(c.Text))
}

// misfit says that the log's unit does not measure the channel.
func (c *Column) misfit(k Channel) {
	own := k.unit
	switch {
	case c.Name == "manifold_pressure":
		own += " absolute"
	case own == "":
		own = "no unit"
	}
	c.Bad = fmt.Sprintf("unit %s does not fit %s, which is in %s", tables.Quote(c.LogUnit), c.Name, own)
}
