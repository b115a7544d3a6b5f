package drivelog

import (
	"strings"
)

// heads knows the header and the units row of a log again where they stand in its
// rows: logs are joined end to end. With the same columns in the same units the
// rows behind them are read on; with others, the log is refused.
type heads struct {
	columns []heading
	units   []string
	enc     encoding
	long    bool // its rows hold the names of channels
}

func newHeads(d *dialect, long bool) *heads {
	h := &heads{units: d.units, enc: d.enc, long: long}
	for _, text := range d.header {
		h.columns = append(h.columns, readHeading(text))
	}
	return h
}

// others reports whether a row is the header or the units row of another log: its
// words are names of columns, or units, and not those of this one.
func (h *heads) others(fields [][]byte) bool {
	filled, named, units, same, sameUnits := 0, 0, 0, 0, 0
	for i, f := range fields {
		if len(f) == 0 {
			continue
		}
		filled++
		if !isWord(f) {
			continue
		}
		text := h.enc.text(f)
		head := readHeading(text)
		if h.names(head) {
			named++
		}
		if i < len(h.columns) && sameHeading(head, h.columns[i]) {
			same++
		}
		u := strings.TrimSpace(strings.Trim(mend(text), "()[]{}"))
		if isUnit(u) {
			units++
		}
		if i < len(h.units) && u == h.units[i] {
			sameUnits++
		}
	}
	switch {
	case named > 1 && 2*named >= filled:
		return same < named
	case units > 1 && 2*units >= filled:
		return sameUnits < units
	}
	return false
}

// names reports whether a heading is a channel's, or one of this log's.
func (h *heads) names(head heading) bool {
	if head.channel != "" && !h.long {
		return true
	}
	for _, c := range h.columns {
		if strings.EqualFold(c.name, head.name) {
			return true
		}
	}
	return false
}

func sameHeading(a, b heading) bool {
	return strings.EqualFold(a.name, b.name) && a.unit == b.unit
}

const otherHeader = "another header stands among the rows, with its columns in another order or in other units: cut the log in two above this line"
