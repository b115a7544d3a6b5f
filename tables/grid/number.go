package grid

import (
	"errors"
	"fmt"
	"strings"
	"unicode"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// mark says what decimal mark a grid's numbers have. It looks at all of them,
// since one number alone may be read either way.
//
//   - In a workbook it is the point. Where commas stand between cells, one
//     inside a number can only have been quoted.
//   - A number with both marks, or with one of them twice, has thousands
//     separators, and so has one with a blank or an apostrophe inside.
//   - Commas in some numbers and points in others are two marks.
//   - Where every comma stands before exactly three digits, with one to three
//     and no zero before it, all may be thousands separators. So they may where
//     every point does and semicolons stand between cells, as they do where the
//     comma is the decimal mark. Between tabs such points are decimal, as
//     three decimals are common, and that is reported.
func (g *Raw) mark(cells sheet.Row) (mark byte, notes []string) {
	if g.Decimal != 0 {
		return g.Decimal, nil
	}
	var first [2]sheet.Cell // the first number with a comma, and with a point
	var sure [2]bool        // whether one of them can be nothing but a decimal mark
	for _, c := range cells {
		s := plain(c.Text)
		commas, points := strings.Count(s, ","), strings.Count(s, ".")
		switch {
		case commas+points == 0 || !g.isNumber(c):
		case commas+points > 1:
			g.Fault(c, grouping, tables.Quote(c.Text))
		default:
			i := points
			if first[i].Text == "" {
				first[i] = c
			}
			sure[i] = sure[i] || !strictcsv.CouldBeThousands(s)
		}
	}
	comma, point := first[0], first[1]
	switch {
	case g.Faults != nil:
	case comma.Text != "" && point.Text != "":
		g.Fault(comma, "%s has a comma, and %s has a point (line %d): want one decimal mark and no thousands separators",
			tables.Quote(comma.Text), tables.Quote(point.Text), point.Row)
	case comma.Text != "" && !sure[0]:
		g.Fault(comma, ambiguous, tables.Quote(comma.Text))
	case point.Text != "" && !sure[1] && g.Comma == ';':
		g.Fault(point, ambiguous, tables.Quote(point.Text))
	case comma.Text != "":
		return ',', nil
	case point.Text != "" && !sure[1] && g.Comma == '\t':
		notes = append(notes, g.Line(point, "numbers such as %s are read with decimal points: --decimal . if they are, "+
			"--decimal , (which refuses them) if the points separate thousands", tables.Quote(point.Text)).Error())
	}
	return '.', notes
}

// A number with a mark that could be of either kind is refused: 1,234 is a
// thousandth part of 1234, and both are plausible in an engine's tables.
const (
	ambiguous = "%s may have a decimal mark or a thousands separator: say which with --decimal . or --decimal ,"
	grouping  = "%s has a thousands separator, want a plain number"
)

// plain is a number's text with a real minus sign made a hyphen and a degree
// sign behind it left out.
func plain(s string) string {
	s = strings.TrimSuffix(strings.TrimSuffix(s, "°"), "º")
	s = strings.Replace(s, "\u2212", "-", 1)
	return strings.TrimRightFunc(s, unicode.IsSpace)
}

// value reads one cell. It reports false, with the fault recorded, where it holds
// no number.
func (g *Raw) value(c sheet.Cell, mark byte) (v float64, ok bool) {
	s, number := plain(c.Text), g.isNumber(c)
	other := byte(',')
	if mark == ',' {
		other = '.'
	}
	var err error
	switch {
	case c.Text == "":
		err = errors.New("cell is empty, want a number")
	case grouped(s):
		err = fmt.Errorf(grouping, tables.Quote(c.Text))
	case strings.IndexByte(s, other) >= 0 && number:
		err = fmt.Errorf("%s has a %q, but the decimal mark is %q: want a plain number", tables.Quote(c.Text), other, mark)
	default:
		if mark == ',' {
			s = strings.Replace(s, ",", ".", 1)
		}
		if v, err = tables.ParseValue(s); err != nil && !number {
			err = fmt.Errorf("%s is not a number", tables.Quote(c.Text))
		}
	}
	g.Check(c, err)
	return v, err == nil
}

// grouped reports whether digits stand on both sides of a blank or an
// apostrophe.
func grouped(s string) bool {
	runes := []rune(s)
	for i := 1; i+1 < len(runes); i++ {
		if c := runes[i]; (unicode.IsSpace(c) || c == '\'' || c == '’' || c == '_') && unicode.IsDigit(runes[i-1]) && unicode.IsDigit(runes[i+1]) {
			return true
		}
	}
	return false
}

// isNumber reports whether a cell looks like a number in any notation. It
// decides between values and headings only: what is read as a number is checked
// strictly.
func (g *Raw) isNumber(c sheet.Cell) bool {
	s := plain(c.Text)
	return s != "" && strings.Trim(s, "0123456789.,+-eE") == "" && strings.ContainsAny(s, "0123456789")
}
