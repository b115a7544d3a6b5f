package grid

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
	"unicode"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// take reads the numbers of x, y and the rows of values, in one decimal mark. It
// looks at all of them, since one number alone may be read either way.
//
//   - In a workbook it is the point. Where commas stand between cells, one
//     inside a number can only have been quoted.
//   - A number with both marks, or with one of them twice, has thousands
//     separators, and so has one with a blank or an apostrophe inside.
//   - Commas in some numbers and points in others are two marks.
//   - Where every comma stands before exactly three digits, with one to three
//     and no zero before it, all may be thousands separators: 1,234 is a thousandth
//     part of 1234, and both are plausible in an engine's tables. So they may where
//     every point does and semicolons stand between cells, as they do where the
//     comma is the decimal mark. Between tabs such points are decimal, as
//     three decimals are common, and that is reported.
func (g *Raw) take(l layout) (*shaped, error) {
	numbers := strictcsv.Numbers{Mark: g.Decimal}
	g.Parse = func(c sheet.Cell) (float64, error) {
		shown := c.Text
		if c.Text = plain(c.Text); grouped().MatchString(c.Text) {
			return 0, fmt.Errorf("%s has a thousands separator, expected a plain number", tables.Quote(shown))
		}
		return numbers.Parse(c)
	}
	read := func(cells sheet.Row, points bool) (list []float64) {
		for _, c := range cells {
			if c.Kind = sheet.Text; c.Text == "" {
				c.Kind = sheet.Empty
			}
			v, ok := g.Number(c)
			if !ok {
				continue
			}
			if list = append(list, v); points {
				g.Check(c, tables.ValidPoint(list, len(list)-1))
			}
		}
		return list
	}
	out := &shaped{Points: [2][]float64{read(l.x, true), read(l.y, true)}}
	for _, row := range l.values {
		out.Values = append(out.Values, read(row, false)...)
	}
	comma, unsureComma := numbers.Unsure(',')
	point, unsurePoint := numbers.Unsure('.')
	const ambiguous = "%s may have a decimal mark or a thousands separator: say which with --decimal . or --decimal ,"
	switch {
	case g.Faults != nil:
	case unsureComma:
		g.Fault(comma, ambiguous, tables.Quote(comma.Text))
	case unsurePoint && g.Comma == ';':
		g.Fault(point, ambiguous, tables.Quote(point.Text))
	case unsurePoint && g.Comma == '\t':
		out.Notes = []string{g.Line(point, "numbers such as %s are read with decimal points: --decimal . if they are, "+
			"--decimal , (which refuses them) if the points separate thousands", tables.Quote(point.Text)).Error()}
	}
	return out, g.Err()
}

// plain is a number's text with a real minus sign made a hyphen and a degree
// sign behind it left out.
func plain(s string) string {
	s = strings.TrimSuffix(strings.TrimSuffix(s, "°"), "º")
	s = strings.Replace(s, "\u2212", "-", 1)
	return strings.TrimRightFunc(s, unicode.IsSpace)
}

// grouped is a blank or an apostrophe with digits on both sides.
var grouped = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\p{Nd}[\s\v\x{85}\p{Z}'’_]\p{Nd}`) })

// isNumber reports whether a cell looks like a number in any notation. It
// decides between values and headings only: what is read as a number is checked
// strictly.
func (g *Raw) isNumber(c sheet.Cell) bool {
	s := plain(c.Text)
	return s != "" && strings.Trim(s, "0123456789.,+-eE") == "" && strings.ContainsAny(s, "0123456789")
}
