package drivelog

import (
	"bytes"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// What the beginning of a log leaves open is settled by going through all of
// it once: which mark is the decimal one, whether empty cells are held values, and
// how columns look of which the beginning holds no reading or none that is
// certain. Most logs need none of this, since their first rows answer.

// lookOn hands over the lines of a log of which the sample is not all, until take
// has seen enough.
func (l *Log) lookOn(take func(line []byte) (enough bool)) (enough bool, err error) {
	if l.d.whole {
		return false, nil
	}
	return l.text.eachLine(l.opt.context(), take)
}

// findMarks decides the decimal marks. Where the beginning of the log proves
// none, all of it is looked through for a channel's cell that does.
func (l *Log) findMarks() error {
	if l.d.decimal != undecided {
		for _, c := range l.cols {
			c.decimal = l.d.decimal
		}
		return nil
	}
	if l.d.decimal = decideMarks(l.cols); l.d.decimal == undecided {
		_, err := l.lookOn(func(line []byte) bool {
			if bytes.IndexByte(line, '.') < 0 && (bytes.IndexByte(line, ',') < 0 || l.d.delim == ',' && bytes.IndexByte(line, '"') < 0) {
				return false
			}
			for i, f := range splitFields(line, l.d.delim) {
				if i == len(l.cols) {
					break
				}
				p := &l.cols[i].proof
				if p.observe(f); l.cols[i].channel != "" && p.point.sure+p.comma.sure > 0 {
					return true
				}
			}
			return false
		})
		if err != nil {
			return err
		}
		l.d.decimal = decideMarks(l.cols)
	}
	if l.d.decimal == ',' {
		l.because("decimal comma, from the cells")
	}
	return nil
}

// findHeld decides whether an empty cell means "as above": where there are
// empty cells, and no filled one repeats the last filled one above it.
func (l *Log) findHeld() (err error) {
	held, given, err := yesOrNo("held", l.opt.Held)
	if given || err != nil {
		l.held = held
		return err
	}
	var h *heldCheck
	start := func() { h = &heldCheck{last: make([]string, len(l.d.header)), clock: l.clock} }
	start()
	if slices.ContainsFunc(l.d.sample, h.repeats) {
		return nil
	}
	if !l.d.whole {
		start()
		repeats, err := l.lookOn(func(line []byte) bool { return h.repeats(splitFields(line, l.d.delim)) })
		if repeats || err != nil {
			return err
		}
	}
	if l.held = h.empty; l.held {
		l.because("an empty cell means \"as above\": no cell repeats the one above it")
	}
	return nil
}

// heldCheck looks for a filled cell that repeats the last filled one above it.
type heldCheck struct {
	last  []string
	clock *column
	empty bool // a cell was
}

// repeats reports whether the row holds a repeat, which settles the matter.
func (h *heldCheck) repeats(fields [][]byte) bool {
	for i, f := range fields {
		switch {
		case h.clock != nil && i == h.clock.index || i >= len(h.last):
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
	if l.d.whole || l.long != nil {
		return
	}
	percent := slices.ContainsFunc(l.cols, func(c *column) bool {
		return isTrim(c.name) && c.seen.count > c.seen.zeros && c.guessTrim() == trimPercent
	})
	for _, c := range l.cols {
		zeros := c.seen.count == c.seen.zeros
		open := false
		switch {
		case isTrim(c.name):
			guess := c.guessTrim()
			asOthers := percent && c.seen.count > 0 && (zeros || c.mayBeShare())
			open = !asOthers && (zeros || guess == trimUnknown || guess == trimFactor)
		case c.name == "lambda", c.name == "lambda_commanded", c.name == "knock_retard":
			open = zeros
		case c.name == "barometric_pressure":
			open = c.seen.count == 0
		}
		if open {
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
	raw := make([]*column, len(open)) // to be read as written
	for i, c := range open {
		as := *c
		as.conv, as.absolute, as.seen = asWritten, false, stats{}
		raw[i] = &as
	}
	err := l.eachBatch(l.opt.context(), raw, func(b *batch, _ int) error {
		for i, vals := range b.vals {
			for _, v := range vals {
				if v == v {
					raw[i].seen.add(v)
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, c := range open {
		c.seen = raw[i].seen
	}
	settleAll(l.cols, l.opt.settings())
	return nil
}

// findVacuum tells a manifold's vacuum, written without a sign, from its pressure:
// it falls where the throttle opens.
func (l *Log) findVacuum() {
	pressure, throttle := l.column("manifold_pressure"), l.column("throttle")
	if throttle == nil {
		throttle = l.column("load")
	}
	if pressure == nil || throttle == nil {
		return
	}
	var x, y []float64
	for _, row := range l.d.sample {
		a, isA := throttle.in(row)
		b, isB := pressure.in(row)
		if isA && isB {
			x, y = append(x, a), append(y, b)
		}
	}
	if len(x) >= vacuumRows && slices.Max(x)-slices.Min(x) >= vacuumOpening {
		pressure.falls = stat.Correlation(x, y, nil) < -0.5
	}
}

// Fewer rows, or a throttle that opens less, do not tell a vacuum from a pressure.
const vacuumRows, vacuumOpening = 50, 15
