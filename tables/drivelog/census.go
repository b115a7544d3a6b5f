package drivelog

import (
	"context"
	"fmt"
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
	h := &heldCheck{last: make([]string, len(l.d.header)), clock: -1, missing: l.missing}
	if l.clock != nil {
		h.clock = l.clock.index
	}
	for _, row := range l.d.sample {
		if h.row(row) {
			return nil
		}
	}
	if !l.d.whole {
		h = &heldCheck{last: make([]string, len(l.d.header)), clock: h.clock, missing: l.missing}
		err := l.eachText(context.Background(), func(line []byte, _ int) error {
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
	last    []string
	clock   int
	missing []string
	empty   bool
}

// row reports whether the row holds a repeat, which settles the matter.
func (h *heldCheck) row(fields [][]byte) bool {
	for i, f := range fields {
		switch {
		case i == h.clock || i >= len(h.last):
		case len(f) == 0:
			h.empty = true
		case isMissing(f, h.missing):
		case h.last[i] == string(f):
			return true
		default:
			h.last[i] = string(f)
		}
	}
	return false
}

// findUncertain reads the columns through whose numbers the beginning does not
// tell: trims whose scale is open, and channels on whose presence others
// depend.
func (l *Log) findUncertain() error {
	var open []*column
	for _, c := range l.cols {
		none := c.seen.count == c.seen.zeros
		switch {
		case l.d.whole || l.long != nil || c.told && c.name == "":
		case strings.Contains(c.name, "_trim_") && (c.seen.count == 0 || c.guessTrim() == trimUnknown),
			(c.name == "lambda" || c.name == "lambda_commanded" || c.name == "barometric_pressure") && none:
			open = append(open, c)
		}
	}
	if len(open) == 0 {
		return nil
	}
	rp := l.rowParser(open)
	for _, c := range open {
		c.conv.Mul, c.conv.Div = 1, 1
		c.seen = stats{}
	}
	return l.eachPiece(context.Background(), rp.parse, func(b *batch, _ int) error {
		for k, s := range rp.slots {
			for _, v := range b.vals[k] {
				if v == v {
					s.col.seen.add(v)
				}
			}
		}
		return nil
	})
}
