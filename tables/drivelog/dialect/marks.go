package dialect

import (
	"bytes"
	"fmt"
	"strings"

	"calsplice/tables"
)

// Numbers are read one way or not at all. "1.004" is 1004 where the decimal mark
// is a comma, and a little over 1 where it is a point; which of them it is, the
// other cells prove. Where none does, the cell is no reading and counts as a
// fault.

// Undecided is the decimal mark of a column for which nothing proves one: a cell
// that can be read in one way only is read so.
const Undecided = 0

// separators group the digits before a decimal mark in threes, beside the point
// and the comma: blanks of several widths and apostrophes, as UTF-8 and as
// Windows-1252 have them.
var separators = []string{".", ",", " ", "'", "\u00a0", "\u2009", "\u202f", "\u2019", "\xa0", "\x92"}

// separatorStarts are the first bytes of the separators: most bytes are none.
const separatorStarts = "., '\xc2\xe2\xa0\x92"

// separatorAt is the separator at the beginning of b, "" where there is none.
func separatorAt(b []byte) string {
	if len(b) == 0 || strings.IndexByte(separatorStarts, b[0]) < 0 {
		return ""
	}
	for _, s := range separators {
		if len(b) >= len(s) && string(b[:len(s)]) == s {
			return s
		}
	}
	return ""
}

// decimal reads a number with a known decimal mark, its digits grouped or not.
func decimal(b []byte, mark byte) (float64, bool) {
	if v, ok := Number(b, mark); ok {
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
	// "0.123" and "1234.567" are no groups, whatever the mark is.
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
	return Number(append(plain, rest...), mark)
}

// proves reports which decimal mark a number's own characters prove: '.' or ',' or,
// where it means the same with either, undecided. It is no number where ok is
// false; two says that it means one number with a point and another with a comma.
func proves(b []byte) (mark byte, two, ok bool) {
	point, asPoint := decimal(b, '.')
	comma, asComma := decimal(b, ',')
	switch {
	case asPoint && asComma:
		return Undecided, point != comma, true
	case asPoint:
		return '.', false, true
	case asComma:
		return ',', false, true
	}
	return Undecided, false, false
}

// markProof is what a column's cells tell of its decimal mark.
type markProof struct {
	Point, Comma evidence
	short        map[string]bool // whole numbers of three digits without any mark, the first few
	long         int             // digits of the longest whole number without a mark
	First        string          // the first cell that can be read in two ways
}

// evidence is what the cells with one of the marks in them tell.
type evidence struct {
	Sure  int             // cells that prove it to be the decimal mark
	two   int             // cells that can be read in two ways
	least int             // digits of the shortest of these
	round bool            // one of these ends with a 0, which no number without fixed decimals does
	many  map[string]bool // these, the first few different ones
}

// enough different numbers with three decimals, none of which ends with a 0, are
// not met by chance: 0.9 to this power is 1 %.
const enough = 44

// Observe takes the next cell, its unit off, and reports whether it is a number.
func (p *markProof) Observe(b []byte) bool {
	mark, two, ok := proves(b)
	e := &p.Point
	if mark == ',' || two && bytes.IndexByte(b, ',') >= 0 {
		e = &p.Comma
	}
	switch {
	case !ok:
	case two:
		e.question(b)
		if p.First == "" {
			p.First = string(b)
		}
	case mark != Undecided:
		e.Sure++
	case leadingDigits(b) == len(b):
		if p.long = max(p.long, len(b)); len(b) == 3 && b[0] != '0' && len(p.short) < 2 {
			p.short = keepIn(p.short, b)
		}
	}
	return ok
}

// question takes a cell that can be read in two ways.
func (e *evidence) question(b []byte) {
	digits := bytes.Count(b, nil) - 2 // runes but for the mark
	if b[0] == '-' || b[0] == '+' {
		digits--
	}
	if e.two++; e.least == 0 || digits < e.least {
		e.least = digits
	}
	e.round = e.round || b[len(b)-1] == '0'
	if len(e.many) < enough {
		e.many = keepIn(e.many, b)
	}
}

// keepIn adds a cell to a set, which is made when it is first needed: most columns
// need none.
func keepIn(set map[string]bool, b []byte) map[string]bool {
	if set == nil {
		set = map[string]bool{}
	}
	set[string(b)] = true
	return set
}

// Own is the mark that the column's cells prove by themselves; strong where a
// cell can be read no other way, not where it takes several of them: whole
// numbers as long as those in question stand without a separator, so theirs is a
// decimal mark; or numbers of three digits stand beside those in question
// without a mark, so theirs is a separator.
func (p *markProof) Own() (mark byte, strong bool) {
	switch {
	case p.Point.Sure > p.Comma.Sure:
		return '.', true
	case p.Comma.Sure > 0:
		return ',', true
	}
	e, itself, other := p.InQuestion()
	switch {
	case e == nil:
	case p.long >= e.least:
		return itself, false
	case len(p.short) > 1 && (e.round || len(e.many) >= enough):
		return other, false
	}
	return Undecided, false
}

// ForgetQuestions drops the cells that can be read in two ways.
func (p *markProof) ForgetQuestions() { p.Point.two, p.Comma.two = 0, 0 }

// InQuestion is the one mark of the cells that can be read in two ways, and the
// other mark; nil where there are none, or with both.
func (p *markProof) InQuestion() (e *evidence, itself, other byte) {
	switch {
	case p.Point.two > 0 && p.Comma.two == 0:
		return &p.Point, '.', ','
	case p.Comma.two > 0 && p.Point.two == 0:
		return &p.Comma, ',', '.'
	}
	return nil, Undecided, Undecided
}

// TwoWays says of a cell what it may be.
func TwoWays(cell string) string {
	cell = cell[:numberEnd([]byte(cell))]
	point, _ := decimal([]byte(cell), '.')
	comma, _ := decimal([]byte(cell), ',')
	return fmt.Sprintf("%s may be %s or %s: --decimal . or ,", tables.Quote(cell), tables.Digits(point, 5), tables.Digits(comma, 5))
}
