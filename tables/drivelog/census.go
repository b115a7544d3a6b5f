package drivelog

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
)

// What the beginning of a log leaves open is settled by going through all of
// it once: whether empty cells are held values, and how columns look of which
// the beginning holds no reading or none that is certain. Most logs need none
// of this, since their first rows answer.

// findHeld decides whether an empty cell means "as above": where there are
// empty cells, and no filled one repeats the last filled one above it.
func (l *Log) findHeld() error {
	switch strings.ToLower(l.opt.Held) {
	case "yes", "no":
		l.held = strings.EqualFold(l.opt.Held, "yes")
		return nil
	case "":
	default:
		return fmt.Errorf("held %s is neither yes nor no", tables.Quote(l.opt.Held))
	}
	h := &heldCheck{last: make([]string, len(l.d.header)), clock: -1}
	if l.clock != nil {
		h.clock = l.clock.index
	}
	for _, row := range l.d.sample {
		if h.row(row) {
			return nil
		}
	}
	if !l.d.whole {
		h = &heldCheck{last: make([]string, len(l.d.header)), clock: h.clock}
		err := l.eachText(l.opt.context(), func(line []byte, _ int) error {
			if len(trimBlanks(line)) > 0 && h.row(splitFields(line, l.d.delim)) {
				return errEnough
			}
			return nil
		})
		if err == errEnough {
			return nil
		}
		if err != nil {
			return err
		}
	}
	if l.held = h.empty; l.held {
		l.why = append(l.why, "an empty cell means \"as above\": no cell repeats the one above it")
	}
	return nil
}

var errEnough = fmt.Errorf("enough was seen")

// heldCheck looks for a filled cell that repeats the last filled one above it.
type heldCheck struct {
	last  []string
	clock int
	empty bool
}

// row reports whether the row holds a repeat, which settles the matter.
func (h *heldCheck) row(fields [][]byte) bool {
	for i, f := range fields {
		switch {
		case i == h.clock || i >= len(h.last):
		case len(f) == 0:
			h.empty = true
		case h.last[i] == string(f):
			return true
		default:
			h.last[i] = string(f)
		}
	}
	return false
}

// findOpen lists the columns through whose numbers the beginning does not
// tell: trims whose scale is open, a knock retard that may be written as a
// negative advance, and channels on whose presence others depend.
func (l *Log) findOpen() {
	percent := slices.ContainsFunc(l.cols, func(c *column) bool {
		return strings.Contains(c.name, "_trim_") && c.seen.count > c.seen.zeros && c.guessTrim() == trimPercent
	})
	for _, c := range l.cols {
		zeros := c.seen.count == c.seen.zeros
		switch {
		case l.d.whole || l.long != nil:
		case strings.Contains(c.name, "_trim_") && percent && c.seen.count > 0 && (zeros || c.mayBeShare()): // as the other trims
		case strings.Contains(c.name, "_trim_") && (zeros || c.guessTrim() == trimUnknown || c.guessTrim() == trimFactor),
			zeros && (c.name == "lambda" || c.name == "lambda_commanded" || c.name == "knock_retard"),
			c.seen.count == 0 && c.name == "barometric_pressure":
			l.open = append(l.open, c)
		}
	}
}

// sure makes certain what a column's numbers say of it: where that is open,
// all such columns are read through once.
func (l *Log) sure(c *column) error {
	open := l.open
	if !slices.Contains(open, c) {
		return nil
	}
	l.open = nil
	rp := l.rowParser(open)
	for i := range rp.slots {
		s := &rp.slots[i]
		raw := *s.col // read as written
		raw.conv.From, raw.conv.To, raw.conv.Mul, raw.conv.Div, raw.absolute = 0, 0, 1, 1, false
		s.col, s.plain, s.bare = &raw, true, true
	}
	seen := make([]stats, len(rp.slots))
	err := l.eachPiece(l.opt.context(), rp.parse, func(b *batch, _ int) error {
		for k := range rp.slots {
			for _, v := range b.vals[k] {
				if v == v {
					seen[k].add(v)
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, s := range rp.slots {
		for _, c := range open {
			if c.index == s.index && c.name == s.col.name {
				c.seen = seen[k]
			}
		}
	}
	l.settle()
	return nil
}
