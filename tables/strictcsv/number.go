package strictcsv

import (
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Numbers reads numbers of one input, which has one decimal mark throughout:
// the point or the comma. The first number with a mark decides, where nobody said
// which it is; another one after that is refused, since one of the two would be a
// thousands separator. One number alone may be read either way: see
// [Numbers.Unsure].
type Numbers struct {
	Mark  byte // the decimal mark, where a person named it
	found byte
	first [2]sheet.Cell // the first number with a point, and with a comma
	sure  [2]bool       // whether one of them can be nothing but a decimal mark
}

// Parse reads one number.
func (n *Numbers) Parse(c sheet.Cell) (float64, error) {
	s := strings.TrimSpace(c.Text)
	points, commas := strings.Count(s, "."), strings.Count(s, ",")
	if points+commas == 0 {
		return tables.ParseValue(s)
	}
	mark, i := byte('.'), 0
	if commas > 0 {
		mark, i = ',', 1
	}
	v, err := tables.ParseValue(strings.Replace(s, ",", ".", 1))
	switch {
	case points+commas > 1:
		return 0, fmt.Errorf("%s has a thousands separator, expected a plain number", tables.Quote(s))
	case err != nil && commas > 0:
		return 0, fmt.Errorf("%s is not a number", tables.Quote(s))
	case err != nil:
		return 0, err
	case n.Mark != 0 && n.Mark != mark:
		return 0, fmt.Errorf("%s has a %q, but the decimal mark is %q: expected a plain number", tables.Quote(s), mark, n.Mark)
	case n.found == 0:
		n.found = mark
	case n.found != mark:
		return 0, fmt.Errorf("%s has the decimal mark %q, the numbers above have %q", tables.Quote(s), mark, n.found)
	}
	if n.sure[i] = n.sure[i] || n.Mark != 0 || !couldBeThousands(s); n.first[i].Kind == sheet.Empty {
		n.first[i] = c
	}
	return v, nil
}

// Unsure returns the first number of those read so far that has a mark, where that
// may separate thousands: every number with it has one to three digits before it,
// no zero first, and three behind.
func (n *Numbers) Unsure(mark byte) (first sheet.Cell, unsure bool) {
	i := strings.IndexByte(".,", mark)
	return n.first[i], n.first[i].Kind != sheet.Empty && !n.sure[i]
}

func couldBeThousands(s string) bool {
	s = strings.TrimLeft(s, "+-")
	i := strings.IndexAny(s, ",.")
	return i >= 1 && i <= 3 && s[0] != '0' && len(s) == i+4 && strings.Trim(s[i+1:], "0123456789") == ""
}
