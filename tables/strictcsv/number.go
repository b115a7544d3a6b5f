package strictcsv

import (
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Numbers reads numbers of one input, which has one decimal mark throughout:
// the point or the comma. The first number with a mark decides; another one
// after that is refused, since one of the two would be a thousands separator.
// Where the delimiter is the comma, as [Numbers.Doubt] knows, a comma inside a
// number can only have been quoted, by a spreadsheet that writes decimal commas
// or one that writes thousands separators.
type Numbers struct {
	Comma    byte // the delimiter
	mark     byte
	doubtful sheet.Cell // the first number whose comma may separate thousands
	sure     bool       // whether another number's comma can be nothing but decimal
}

// Parse reads one number.
func (n *Numbers) Parse(c sheet.Cell) (float64, error) {
	s := strings.TrimSpace(c.Text)
	point, comma := strings.IndexByte(s, '.') >= 0, strings.Count(s, ",")
	if comma == 0 && !point {
		return tables.ParseValue(s)
	}
	mark := byte('.')
	if comma > 0 {
		mark = ','
	}
	if point && comma > 0 || comma > 1 {
		return 0, fmt.Errorf("%s has a thousands separator, want a plain number", tables.Quote(s))
	}
	v, err := tables.ParseValue(strings.Replace(s, ",", ".", 1))
	switch {
	case err != nil && comma == 0:
		return 0, err
	case err != nil:
		return 0, fmt.Errorf("%s is not a number", tables.Quote(s))
	}
	if n.mark == 0 {
		n.mark = mark
	}
	if n.mark != mark {
		return 0, fmt.Errorf("%s has the decimal mark %q, the numbers above have %q", tables.Quote(s), mark, n.mark)
	}
	if comma > 0 && n.Comma == ',' {
		if n.sure = n.sure || !CouldBeThousands(s); n.doubtful.Kind == sheet.Empty {
			n.doubtful = c
		}
	}
	return v, nil
}

// Doubt returns the first number of those read so far that may have a decimal
// mark or a thousands separator, and an error that says so; nil where there is
// none, or where another number's comma can only be decimal.
func (n *Numbers) Doubt() (first sheet.Cell, err error) {
	if n.doubtful.Kind == sheet.Empty || n.sure {
		return first, nil
	}
	return n.doubtful, fmt.Errorf("%s may have a decimal mark or a thousands separator: want a point in numbers, or semicolons between them", tables.Quote(n.doubtful.Text))
}

// CouldBeThousands reports whether a number with one mark has it where a
// thousands separator would stand.
func CouldBeThousands(s string) bool {
	s = strings.TrimLeft(s, "+-")
	i := strings.IndexAny(s, ",.")
	return i >= 1 && i <= 3 && s[0] != '0' && len(s) == i+4 && strings.Trim(s[i+1:], "0123456789") == ""
}
