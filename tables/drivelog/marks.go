package drivelog

import (
	"bytes"
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// Numbers are read one way or not at all. "1.004" is 1004 where the decimal mark
// is a comma, and a little over 1 where it is a point; which of them it is, the
// other cells prove. Where none does, the cell is no reading and counts as a
// fault.

// undecided is the decimal mark of a column for which nothing proves one: a cell
// that can be read in one way only is read so.
const undecided = 0

// separators group the digits before a decimal mark in threes, beside the point
// and the comma: blanks of several widths and apostrophes, as UTF-8 and as
// Windows-1252 have them.
var separators = []string{".", ",", " ", "'", "\u00a0", "\u2009", "\u202f", "\u2019", "\xa0", "\x92"}

// separatorAt is the separator at the beginning of b, "" where there is none.
func separatorAt(b []byte) string {
	for _, s := range separators {
		if len(b) >= len(s) && string(b[:len(s)]) == s {
			return s
		}
	}
	return ""
}

// leadingDigits counts the digits at the beginning of b.
func leadingDigits(b []byte) int {
	n := 0
	for n < len(b) && b[n]-'0' <= 9 {
		n++
	}
	return n
}

// decimal reads a number with a known decimal mark, its digits grouped or not.
func decimal(b []byte, mark byte) (float64, bool) {
	if v, ok := number(b, mark); ok {
		return v, true
	}
	return grouped(b, mark)
}

// grouped reads a number whose digits before the mark are grouped in threes by
// one separator: 1 to 3 digits, the first of them not 0, then groups of exactly 3.
func grouped(b []byte, mark byte) (float64, bool) {
	sign := 0
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		sign = 1
	}
	n := leadingDigits(b[sign:])
	if n == 0 || n > 3 || b[sign] == '0' {
		return 0, false
	}
	rest := b[sign+n:]
	by := separatorAt(rest)
	if by == "" || by[0] == mark {
		return 0, false
	}
	plain := append(make([]byte, 0, 32), b[:sign+n]...)
	for bytes.HasPrefix(rest, []byte(by)) {
		rest = rest[len(by):]
		if leadingDigits(rest) != 3 {
			return 0, false
		}
		plain, rest = append(plain, rest[:3]...), rest[3:]
	}
	if len(rest) > 0 && (rest[0] != mark || leadingDigits(rest[1:]) != len(rest)-1) {
		return 0, false
	}
	return number(append(plain, rest...), mark)
}

// proves tells which decimal mark a number's own characters prove: '.' or ',' or,
// where it means the same with either, undecided. It is no number where ok is
// false; two says that it means one number with a point and another with a comma.
func proves(b []byte) (mark byte, two, ok bool) {
	point, asPoint := decimal(b, '.')
	comma, asComma := decimal(b, ',')
	switch {
	case asPoint && asComma:
		return undecided, point != comma, true
	case asPoint:
		return '.', false, true
	case asComma:
		return ',', false, true
	}
	return undecided, false, false
}

// numeral reads a number with the column's decimal mark; where nothing proves
// one, a number that can be read in one way only.
func (c *column) numeral(b []byte) (float64, readKind) {
	if v, ok := number(b, c.decimal); ok {
		return v, readNumber
	}
	mark := c.decimal
	if mark == undecided {
		m, two, ok := proves(b)
		if two {
			return 0, readTwoWays
		}
		if !ok {
			return 0, readText
		}
		if mark = m; mark == undecided {
			mark = '.'
		}
	}
	if v, ok := decimal(b, mark); ok {
		return v, readNumber
	}
	return 0, readText
}

// markProof is what a column's cells tell of its decimal mark.
type markProof struct {
	cells [2]int          // that prove a point, and a comma
	two   [2]int          // that can be read in two ways, with a point in them and with a comma
	short map[string]bool // whole numbers of three digits without any mark, the first few
	long  int             // digits of the longest whole number without a mark
	least [2]int          // digits of the shortest number that can be read in two ways, by its mark
	round [2]bool         // one of these ends with a 0, which no number without fixed decimals does
	many  [2]map[string]bool
	first string // the first cell that can be read in two ways
}

// enough different numbers with three decimals, none of which ends with a 0, are
// not met by chance: 0.9 to this power is 1 %.
const enough = 44

func markIndex(mark byte) int {
	if mark == ',' {
		return 1
	}
	return 0
}

// observe takes the next cell, its unit off.
func (p *markProof) observe(b []byte) {
	mark, two, ok := proves(b)
	switch {
	case !ok:
	case two:
		at := markIndex('.')
		if bytes.IndexByte(b, ',') >= 0 {
			at = markIndex(',')
		}
		digits := bytes.Count(b, nil) - 2 // runes but for the mark
		if b[0] == '-' || b[0] == '+' {
			digits--
		}
		if p.two[at]++; p.least[at] == 0 || digits < p.least[at] {
			p.least[at] = digits
		}
		p.round[at] = p.round[at] || b[len(b)-1] == '0'
		if p.many[at] == nil {
			p.many[at] = map[string]bool{}
		}
		if len(p.many[at]) < enough {
			p.many[at][string(b)] = true
		}
		if p.first == "" {
			p.first = string(b)
		}
	case mark != undecided:
		p.cells[markIndex(mark)]++
	case leadingDigits(b) == len(b):
		if p.long = max(p.long, len(b)); len(b) == 3 && b[0] != '0' && len(p.short) < 2 {
			if p.short == nil {
				p.short = map[string]bool{}
			}
			p.short[string(b)] = true
		}
	}
}

// own is the mark that the column's cells prove by themselves; strong where a
// cell can be read no other way, not where it takes several of them: whole
// numbers as long as those in question stand without a separator, so theirs is a
// decimal mark; or numbers of three digits stand beside those in question
// without a mark, so theirs is a separator.
func (p *markProof) own() (mark byte, strong bool) {
	const point, comma = 0, 1
	switch {
	case p.cells[point] > p.cells[comma]:
		return '.', true
	case p.cells[comma] > 0:
		return ',', true
	}
	for at, marks := range [2]struct{ itself, other byte }{{'.', ','}, {',', '.'}} {
		switch {
		case p.two[at] == 0 || p.two[1-at] > 0:
		case p.long >= p.least[at]:
			return marks.itself, false
		case len(p.short) > 1 && (p.round[at] || len(p.many[at]) >= enough):
			return marks.other, false
		}
	}
	return undecided, false
}

// decideMarks gives each column its decimal mark: its own, where a cell of it can be
// read no other way, else the one that the log's channels prove, or all of its
// columns where no channel does. Columns that prove another by several cells
// together stay undecided.
func decideMarks(cols []*column) (log byte) {
	for _, channels := range []bool{true, false} {
		found := map[byte]bool{}
		for _, c := range cols {
			if mark, strong := c.proof.own(); strong && (c.channel != "") == channels {
				found[mark] = true
			}
		}
		if len(found) > 0 && log == undecided {
			if found['.'] != found[','] {
				log = '.'
				if found[','] {
					log = ','
				}
			}
			break
		}
	}
	for _, c := range cols {
		mark, strong := c.proof.own()
		if mark == undecided {
			mark = c.possibleMark()
		}
		switch {
		case strong, log == undecided:
			c.decimal = mark
		case mark == undecided || mark == log:
			c.decimal = log
		default:
			c.decimal = undecided
		}
	}
	return log
}

// neverThousand are channels that in their own unit never reach 1000.
var neverThousand = []string{"manifold_pressure", "barometric_pressure", "load", "throttle", "coolant", "intake_air", "battery",
	"pulse_width", "short_trim_1", "long_trim_1", "short_trim_2", "long_trim_2", "lambda", "lambda_commanded", "spark",
	"knock_retard", "purge", "spark_blend", "speed", "gear"}

// possibleMark is the mark of a channel whose cells in question make sense one
// way only: what never reaches 1000 is not grouped in thousands, and no engine
// turns at less than 100 r/min as a rule.
func (c *column) possibleMark() byte {
	p := &c.proof
	at := markIndex('.')
	if p.two[at] == 0 {
		at = markIndex(',')
	}
	u, own := c.heading.unit, ChannelUnit(c.channel)
	if p.two[at] == 0 || p.two[1-at] > 0 || u != "" && unitName(u) != own {
		return undecided
	}
	switch {
	case c.channel == "engine_speed":
		at = 1 - at
	case !slices.Contains(neverThousand, c.channel):
		return undecided
	}
	return ".,"[at]
}

// unitName is the name that a unit goes by here, "" where it is not known.
func unitName(text string) string {
	u, ok := unit.Parse(text)
	if !ok {
		return ""
	}
	return u.Name()
}

// twoWays says of a cell what it may be.
func twoWays(cell string) string {
	cell = cell[:numberEnd([]byte(cell))]
	point, _ := decimal([]byte(cell), '.')
	comma, _ := decimal([]byte(cell), ',')
	return fmt.Sprintf("%s may be %s or %s: --decimal . or ,", tables.Quote(cell), short(point), short(comma))
}
