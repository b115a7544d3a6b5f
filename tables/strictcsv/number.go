package strictcsv

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// Numbers reads numbers of one input, which has one decimal mark throughout:
// the point, or, where the delimiter is not the comma, the comma. The first
// number with a mark decides; another one after that is refused, since one of
// the two would be a thousands separator.
type Numbers struct {
	Comma byte // the delimiter
	mark  byte
}

// Parse reads one number.
func (n *Numbers) Parse(s string) (float64, error) {
	s = strings.TrimSpace(s)
	point, comma := strings.IndexByte(s, '.') >= 0, strings.Count(s, ",")
	if n.Comma == ',' || comma == 0 && !point {
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
	if err != nil {
		return 0, fmt.Errorf("%s is not a number", tables.Quote(s))
	}
	if n.mark == 0 {
		n.mark = mark
	}
	if n.mark != mark {
		return 0, fmt.Errorf("%s has the decimal mark %q, the numbers above have %q", tables.Quote(s), mark, n.mark)
	}
	return v, nil
}
