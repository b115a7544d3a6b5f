package grid

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// ParseAxis reads an axis as a person names it on a command line: 'quantity [unit]',
// or 'quantity [unit]: 1,2,3' where the grid does not hold its breakpoints. A unit may
// itself hold brackets, as UCUM's do.
func ParseAxis(s string) (a tables.AxisParts, err error) {
	head, points, _ := strings.Cut(s, ":")
	if open := strings.IndexByte(s, '['); open >= 0 {
		end := strings.LastIndexByte(s, ']')
		if strings.Count(s, "[") != strings.Count(s, "]") || end < open {
			return a, fmt.Errorf("axis %s has brackets that are not in pairs", tables.Quote(s))
		}
		head, a.Unit = s[:open], strings.TrimSpace(s[open+1:end])
		rest := strings.TrimSpace(s[end+1:])
		if rest != "" && rest[0] != ':' {
			return a, fmt.Errorf("axis %s has %s behind its unit, expected ':' and breakpoints", tables.Quote(s), tables.Quote(rest))
		}
		points = strings.TrimPrefix(rest, ":")
	}
	if a.Quantity = strings.TrimSpace(head); a.Quantity == "" {
		return a, fmt.Errorf("axis %s names no quantity, expected 'quantity [unit]'", tables.Quote(s))
	}
	if strings.TrimSpace(points) == "" {
		return a, nil
	}
	for word := range strings.SplitSeq(points, ",") {
		v, err := tables.ParseValue(strings.TrimSpace(word))
		if err != nil {
			return a, fmt.Errorf("axis %s: %w", tables.Quote(a.Quantity), err)
		}
		a.Points = append(a.Points, v)
		if err := tables.ValidPoint(a.Points, len(a.Points)-1); err != nil {
			return a, fmt.Errorf("axis %s: %w", tables.Quote(a.Quantity), err)
		}
	}
	return a, nil
}
