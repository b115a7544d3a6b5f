package drivelog

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// column is one column of a wide log, or one channel and unit of a long one.
type column struct {
	heading
	index     int    // field, from 0; in the long form the order of first appearance
	name      string // the channel that it is; "" where none
	told      bool   // mapped by the person
	second    bool   // another name for a column that is a channel
	why       string // why it is that channel, or is none
	logUnit   string // the unit that its numbers are in; "" where the log gives none
	assumed   bool   // the channel's own unit was assumed
	conv      unit.Conversion
	decimal   byte // undecided where nothing proves it
	proof     markProof
	places    int    // decimals that most of its numbers have
	suffix    string // the unit glued to its cells; "" where they are bare
	status    bool   // cells may be the words of a fuel status
	clock     *clock // for the time
	clockUnit string // of a clock whose unit the log does not give
	coarse    bool   // a time that hardly moves, as a spreadsheet's rounding leaves it
	bad       string // why its numbers cannot be used; a fault where not ""
	said      string // an assumption to tell where it is used

	absolute bool // an absolute pressure: zero or less is none
	falls    bool // it falls where the throttle opens

	wordy bool  // holds words by nature: text is no fault
	seen  stats // of the sample: what its numbers look like
}

// unit is what the column's values are in once read.
func (c *column) unit() string {
	if c.name != "" && c.bad == "" {
		if k, ok := lookup(c.name); ok {
			return k.unit
		}
	}
	return c.logUnit
}

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

// conflict is two or more columns for one channel.
type conflict struct {
	channel string
	columns []*column
}

func (c *conflict) text() string {
	var names []string
	for _, col := range c.columns {
		names = append(names, tables.Quote(col.text))
	}
	return fmt.Sprintf("%s are both %s: choose with --channel %s=%s", strings.Join(names, " and "), c.channel,
		c.channel, shellQuote(c.columns[0].text))
}

// shellQuote quotes a word for a command line where it needs to be.
func shellQuote(s string) string {
	if strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-' || r == '.')
	}) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(tables.Clean(s), "'", `'\''`) + "'"
}

// assign gives each channel its column: first what the person told, then what
// the headers say. Channels with two equal columns end as conflicts.
func assign(cols []*column, opt *Options) ([]*column, []conflict, error) {
	taken := map[string]bool{}
	var faults tables.Faults
	var news []string
	for _, n := range sortedKeys(opt.Channels) {
		c, err := findHeader(cols, opt.Channels[n])
		_, isKnown := lookup(n)
		switch {
		case err != nil:
			faults = append(faults, &tables.Fault{What: fmt.Sprintf("channel %s: %v", n, err)})
		case !isOwnName(n):
			faults = append(faults, &tables.Fault{What: fmt.Sprintf("channel %s: a name is lower-case letters, digits and _", tables.Quote(n))})
		case isKnown && c.name != "":
			faults = append(faults, &tables.Fault{What: fmt.Sprintf("channels %s and %s are both mapped to %s", c.name, n, tables.Quote(c.text))})
		case isKnown:
			c.name, c.told, c.why = n, true, "as told"
			taken[n] = true
		default:
			news = append(news, n)
		}
	}
	if err := faults.Err(); err != nil {
		return cols, nil, err
	}
	var conflicts []conflict
	for _, k := range known {
		if taken[k.name] {
			continue
		}
		if c := claim(cols, k.name); c != nil {
			conflicts = append(conflicts, conflict{k.name, c})
		}
	}
	// A new name for a column that is a channel is a second one for it.
	for _, n := range news {
		c, _ := findHeader(cols, opt.Channels[n])
		if c.name != "" {
			second := *c
			second.second = true
			c = &second
			cols = append(cols, c)
		}
		c.name, c.told, c.why = n, true, "as told"
	}
	return cols, conflicts, nil
}

// claim finds the one column for a channel, the lesser spellings after the
// others, and those with readings before those without; it returns the columns
// that it cannot choose between.
func claim(cols []*column, name string) []*column {
	var best []*column
	rank := func(c *column) int {
		r := 0
		if c.seen.count+c.seen.text == 0 {
			r += 2
		}
		if c.lesser {
			r++
		}
		if c.coarse {
			r += 4
		}
		return r
	}
	for _, c := range cols {
		if c.name != "" || c.channel != name || name == "time" && c.bad != "" {
			continue
		}
		switch {
		case len(best) == 0 || rank(c) < rank(best[0]):
			best = []*column{c}
		case rank(c) == rank(best[0]):
			best = append(best, c)
		}
	}
	if len(best) > 1 {
		for _, c := range best {
			c.why = "one of several columns that may be " + name
		}
		return best
	}
	for _, c := range best {
		c.name, c.why = name, "its header says so"
	}
	for _, c := range cols {
		if c.name == "" && c.channel == name && c.why == "" && len(best) > 0 {
			c.why = fmt.Sprintf("%s is read from %s", name, tables.Quote(best[0].text))
		}
	}
	return nil
}

// findHeader finds the one column with a header as a person typed it: as it
// stands, else in any case and without its unit.
func findHeader(cols []*column, header string) (*column, error) {
	cols = slices.DeleteFunc(slices.Clone(cols), func(c *column) bool { return c.told && !knownName(c.name) })
	want := strings.TrimSpace(header)
	for _, same := range []func(c *column) bool{
		func(c *column) bool { return c.raw == header },
		func(c *column) bool { return c.text == want || c.text == mend(want) },
		func(c *column) bool { return strings.EqualFold(c.text, want) },
		func(c *column) bool { return strings.EqualFold(c.heading.name, want) },
	} {
		var found []*column
		for _, c := range cols {
			if c.text != "" && same(c) {
				found = append(found, c)
			}
		}
		switch {
		case len(found) == 1:
			return found[0], nil
		case len(found) > 1:
			return nil, fmt.Errorf("the log has %d columns %s", len(found), tables.Quote(header))
		}
	}
	var all []string
	for _, c := range cols {
		if c.text != "" {
			all = append(all, c.text)
		}
	}
	return nil, fmt.Errorf("the log has no column %s%s", tables.Quote(header), didYouMean(header, all))
}

func knownName(s string) bool { _, ok := lookup(s); return ok }

func isName(s string) bool {
	for i, r := range s {
		if !(r == '_' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || i > 0 && r >= '0' && r <= '9') {
			return false
		}
	}
	return s != "" && s != "true" && s != "false" && s != "nil" && s != "and" && s != "or" && s != "not" && s != "in"
}

// isOwnName reports whether a name may be given to a channel: tables of its cells
// are called after it.
func isOwnName(s string) bool { return isName(s) && s == strings.ToLower(s) }

// prove takes from the sample what it tells of the unit glued to the cells, and
// of their decimal mark.
func (c *column) prove(cells [][]byte, missing []string) {
	glued, filled := map[string]int{}, 0
	for _, b := range cells {
		if len(b) == 0 || isMissing(b, missing) {
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

// observe reads the sample: what the column's numbers look like.
func (c *column) observe(cells [][]byte, missing []string) {
	var places [8]int // numbers with so many decimals
	for _, b := range cells {
		v, kind := c.read(b, missing)
		switch kind {
		case readNumber:
			c.seen.add(v)
			_, decimals, _ := bytes.Cut(b, []byte{c.decimal})
			if places[len(decimals)&7]++; places[len(decimals)&7] > places[c.places] {
				c.places = len(decimals) & 7
			}
		case readText:
			c.seen.text++
		case readTwoWays:
			c.seen.two++
		}
	}
}

type readKind int

const (
	readNumber readKind = iota
	readEmpty
	readMissing
	readText
	readTwoWays // "1.004", where nothing proves the decimal mark
)

// read reads one cell, blanks already off, before its unit is converted.
func (c *column) read(b []byte, missing []string) (float64, readKind) {
	if v, kind := c.bare(b); kind != readText {
		return v, kind
	}
	if len(b) == 0 {
		return 0, readEmpty
	}
	if isMissing(b, missing) {
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

// bare reads a number or, of a clock, a time.
func (c *column) bare(b []byte) (float64, readKind) {
	if c.clock == nil {
		return c.numeral(b)
	}
	if c.clock.kind == clockNumber {
		v, kind := c.numeral(b)
		return v / c.clock.div, kind
	}
	if v, ok := c.clock.words(b); ok {
		return v, readNumber
	}
	return 0, readText
}

// fuelStatus reads the words of SAE J1979 PID 03 as its values.
func fuelStatus(b []byte) (float64, bool) {
	s := strings.ToLower(string(b))
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(s, w) {
				return true
			}
		}
		return false
	}
	switch {
	case s == "cl" || strings.HasPrefix(s, "closed loop") || strings.HasPrefix(s, "closed-loop") || s == "cl-fault":
		if has("fault") {
			return 16, true
		}
		return 2, true
	case s == "ol" || s == "ol-drive" || s == "ol-fault" || strings.HasPrefix(s, "open loop") || strings.HasPrefix(s, "open-loop"):
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

// settle decides a column's unit and conversion once its channel is known.
func (c *column) settle(opt *Options, trims *trimScale) {
	if c.channel == "time" || c.name == "time" { // readClock has settled it
		c.conv, c.logUnit = unit.Conversion{Mul: 1, Div: 1}, c.heading.unit
		return
	}
	c.conv, c.bad, c.said, c.assumed = unit.Conversion{Mul: 1, Div: 1}, "", "", false
	c.logUnit = c.heading.unit
	if c.logUnit == "" {
		c.logUnit = c.suffix
	}
	if c.suffix != "" && c.heading.unit != "" {
		if conv, err := unit.Find(c.suffix, c.heading.unit); err == nil && !conv.Identity() {
			c.logUnit = c.suffix // the cells know best
		}
	}
	u, told := opt.Units[c.name]
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
		return
	case c.name == "" || !isKnown:
		return
	case c.odd != "" && c.logUnit == c.odd:
		c.bad = fmt.Sprintf("unit %s is not known: --channel-unit %s=UNIT", tables.Quote(c.odd), c.name)
		return
	case strings.Contains(c.name, "_trim_"):
		c.settleTrim(trims, told)
		return
	case k.unit == "lambda":
		c.settleLambda(opt)
		return
	case c.logUnit == "":
		c.assumed = k.unit != ""
		if c.assumed {
			c.said = fmt.Sprintf("%s: the log gives no unit, %s is assumed", c.name, k.unit)
		}
		c.settleMeaning()
		return
	}
	conv, ok := k.convert(c.logUnit)
	if !ok {
		c.bad = fmt.Sprintf("unit %s does not fit %s, which is in %s", tables.Quote(c.logUnit), c.name, orNone(k.unit))
		if c.name == "manifold_pressure" {
			c.bad += " absolute"
		}
		return
	}
	c.conv = conv
	c.settleMeaning()
}

// settleMeaning looks at numbers that may mean another thing than their channel.
func (c *column) settleMeaning() {
	switch c.name {
	case "knock_retard":
		c.turnRetard()
	case "manifold_pressure", "barometric_pressure", "rail_pressure":
		c.settlePressure()
	}
}

// turnRetard makes a retard that is written as a negative advance positive.
func (c *column) turnRetard() {
	if c.seen.count > 0 && c.seen.min < 0 && c.seen.max <= 0 {
		c.conv.Mul = -c.conv.Mul
		c.said = fmt.Sprintf("knock_retard: %s is never above 0 and is taken as a negative advance", tables.Quote(c.text))
	}
}

func orNone(u string) string {
	if u == "" {
		return "no unit"
	}
	return u
}

// short is a number for a sentence.
func short(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }
