package channel

import (
	"strings"

	"calsplice/tables/drivelog/dialect"
)

// Heads knows the header and the units row of a log again where they stand in its
// rows: logs are joined end to end. With the same columns in the same units the
// rows behind them are read on; with others, the log is refused.
type Heads struct {
	columns []Heading
	units   []string
	enc     dialect.Encoding
	long    bool // its rows hold the names of channels
}

// NewHeads remembers the header and the units of a log in the wide or the long form.
func NewHeads(d *dialect.Dialect, long bool) *Heads {
	h := &Heads{units: d.Units, enc: d.Enc, long: long}
	for _, text := range d.Header {
		h.columns = append(h.columns, ReadHeading(text))
	}
	return h
}

// Others reports whether a row is the header or the units row of another log: its
// words are names of columns, or units, and not those of this one.
func (h *Heads) Others(fields [][]byte) bool {
	// Rows of numbers are the most there are, and leave at the first test of each cell.
	filled, named, units, same, sameUnits := 0, 0, 0, 0, 0
	for i, f := range fields {
		if len(f) == 0 {
			continue
		}
		filled++
		if !dialect.IsWord(f) {
			continue
		}
		text := h.enc.Text(f)
		head := ReadHeading(text)
		if h.names(head) {
			named++
		}
		if i < len(h.columns) && sameHeading(head, h.columns[i]) {
			same++
		}
		u := strings.TrimSpace(strings.Trim(dialect.Mend(text), "()[]{}"))
		if dialect.IsUnit(u) {
			units++
		}
		if i < len(h.units) && u == h.units[i] {
			sameUnits++
		}
	}
	// One word may be anything: two names, and at least half of the row, are a header.
	switch {
	case named > 1 && 2*named >= filled:
		return same < named
	case units > 1 && 2*units >= filled:
		return sameUnits < units
	}
	return false
}

// names reports whether a heading is a channel's, or one of this log's.
func (h *Heads) names(head Heading) bool {
	if head.Channel != "" && !h.long {
		return true
	}
	for _, c := range h.columns {
		if strings.EqualFold(c.Name, head.Name) {
			return true
		}
	}
	return false
}

// sameHeading reports whether two columns have one name and one unit.
func sameHeading(a, b Heading) bool {
	return strings.EqualFold(a.Name, b.Name) && a.Unit == b.Unit
}

// OtherHeader is why such a log is refused: which number is whose changes in it.
const OtherHeader = "another header stands among the rows, with its columns in another order or in other units: cut the log in two above this line"
