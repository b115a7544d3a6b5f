package drivelog

import (
	"bytes"
	"slices"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/drivelog/rows"

	"gonum.org/v1/gonum/stat"
)

// What the beginning of a log leaves open is settled by going through all of
// it once: which mark is the decimal one, whether empty cells are held values, and
// how columns look of which the beginning holds no reading or none that is
// certain. Most logs need none of this, since their first rows answer.

// lookOn hands over the rows behind the sample until take has seen enough. Rows in which
// skip finds nothing worth a look are passed over; nil finds something in each.
func (l *Log) lookOn(skip func(line []byte) bool, take func(row [][]byte) (enough bool)) (enough bool, err error) {
	if l.d.Whole {
		return false, nil
	}
	rows := 0
	var fields [][]byte
	return l.text.EachLine(l.opt.Context, func(line []byte) bool {
		if rows++; rows <= len(l.d.Sample) || skip != nil && skip(line) {
			return false
		}
		fields = dialect.AppendFields(fields[:0], line, l.d.Delim)
		return take(fields)
	})
}

// findMarks decides the decimal marks. Where the beginning of the log proves
// none, all of it is looked through for a channel's cell that does.
func (l *Log) findMarks() error {
	if l.d.Decimal != dialect.Undecided {
		for _, c := range l.cols {
			c.Decimal = l.d.Decimal
		}
		return nil
	}
	if l.d.Decimal = channel.DecideMarks(l.cols); l.d.Decimal == dialect.Undecided {
		// A line without a mark proves nothing, and most of a long log's are skipped so.
		markless := func(line []byte) bool {
			return bytes.IndexByte(line, '.') < 0 && (bytes.IndexByte(line, ',') < 0 || l.d.Delim == ',' && bytes.IndexByte(line, '"') < 0)
		}
		_, err := l.lookOn(markless, func(row [][]byte) bool {
			for i, f := range row[:min(len(row), len(l.cols))] {
				p := &l.cols[i].Proof
				if p.Observe(f); l.cols[i].Channel != "" && p.Point.Sure+p.Comma.Sure > 0 {
					return true
				}
			}
			return false
		})
		if err != nil {
			return err
		}
		l.d.Decimal = channel.DecideMarks(l.cols)
	}
	if l.d.Decimal == ',' {
		l.because("decimal comma, from the cells")
	}
	return nil
}

// findHeld decides whether an empty cell means "as above": where there are
// empty cells, and no filled one repeats the last filled one above it.
func (l *Log) findHeld() (err error) {
	if l.opt.Held != "" {
		l.held = l.opt.Held == "yes"
		return nil
	}
	h := heldCheck{last: make([]string, len(l.d.Header)), clock: l.clock}
	if slices.ContainsFunc(l.d.Sample, h.repeats) {
		return nil
	}
	// The sample shows no repeat, which may be chance: all of the log has to.
	if repeats, err := l.lookOn(nil, h.repeats); repeats || err != nil {
		return err
	}
	if l.held = h.empty; l.held {
		l.because("an empty cell means \"as above\": no cell repeats the one above it")
	}
	return nil
}

// heldCheck looks for a filled cell that repeats the last filled one above it.
type heldCheck struct {
	last  []string
	clock *channel.Column
	empty bool // a cell was
}

// repeats reports whether the row holds a repeat, which settles the matter.
func (h *heldCheck) repeats(fields [][]byte) bool {
	for i, f := range fields {
		switch {
		case h.clock != nil && i == h.clock.Index || i >= len(h.last):
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
	if l.d.Whole || l.long != nil {
		return
	}
	percent := slices.ContainsFunc(l.cols, func(c *channel.Column) bool {
		return channel.IsTrim(c.Name) && c.Seen.Count > c.Seen.Zeros && c.GuessTrim() == channel.TrimPercent
	})
	for _, c := range l.cols {
		zeros := c.Seen.Count == c.Seen.Zeros
		open := false
		switch {
		case channel.IsTrim(c.Name):
			guess := c.GuessTrim()
			// One trim that is surely in percent speaks for those of the same logger.
			asOthers := percent && c.Seen.Count > 0 && (zeros || c.MayBeShare())
			open = !asOthers && (zeros || guess == channel.TrimUnknown || guess == channel.TrimFactor)
		case c.Name == "lambda", c.Name == "lambda_commanded", c.Name == "knock_retard":
			open = zeros
		case c.Name == "barometric_pressure":
			open = c.Seen.Count == 0
		}
		if open {
			l.open = append(l.open, c)
		}
	}
}

// sure makes certain what a column's numbers say of it: where that is open,
// all such columns are read through once.
func (l *Log) sure(c *channel.Column) error {
	open := l.open
	if !slices.Contains(open, c) {
		return nil
	}
	l.open = nil
	seen, err := l.goThrough(open)
	if err != nil {
		return err
	}
	for i, c := range open {
		c.Seen = seen[i]
	}
	channel.SettleAll(l.cols, l.opt.settings())
	return nil
}

// goThrough sums up all numbers of columns as they are written, before any unit or scale
// that was taken for granted.
func (l *Log) goThrough(cols []*channel.Column) ([]channel.Stats, error) {
	raw, seen := make([]*channel.Column, len(cols)), make([]channel.Stats, len(cols))
	for i, c := range cols {
		as := *c
		as.Conv, as.Absolute = channel.AsWritten, false
		raw[i] = &as
	}
	return seen, l.eachBatch(l.opt.Context, raw, func(b *rows.Batch, _ int) error {
		for i, vals := range b.Vals {
			for _, v := range vals {
				if v == v {
					seen[i].Add(v)
				}
			}
		}
		return nil
	})
}

// Most drives begin without knock, and a retard of 0 is 0 with either sign. So no log is gone
// through for the sign: the first other reading tells it as a rule, while the log is read.

// findSign makes a retard, input k, positive where it is written as a negative advance.
func (p *plan) findSign(c *channel.Column, k int) func(f *workFrame) error {
	sign := 0.0
	return func(f *workFrame) (err error) {
		values := f.machine.In[k]
		if sign == 0 {
			sign, err = p.signOf(c, values)
		}
		if sign < 0 {
			for i := range values {
				values[i] = -values[i]
			}
		}
		return err
	}
}

// signOf is −1 for a negative advance, 1 for a retard, and 0 where no value tells.
func (p *plan) signOf(c *channel.Column, values []float64) (float64, error) {
	first := slices.IndexFunc(values, func(v float64) bool { return v < 0 || v > 0 })
	switch {
	case first < 0:
		return 0, nil
	case values[first] > 0 || !slices.Contains(p.l.open, c): // or another column's look settled it meanwhile
		p.assume(c)
		return 1, nil
	}
	seen, err := p.l.goThrough([]*channel.Column{c}) // only the rest of the log tells that none is above 0
	if note := c.NegativeAdvance(&seen[0]); note != "" {
		p.listed.Add(note)
		return -1, err
	}
	return 1, err
}

// A vacuum in kPa, without a sign, reads as a small absolute pressure: 60 kPa of it at idle
// looks like a manifold at part load. Only its direction gives it away.

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
	for _, row := range l.d.Sample {
		a, isA := throttle.In(row)
		b, isB := pressure.In(row)
		if isA && isB {
			x, y = append(x, a), append(y, b)
		}
	}
	if len(x) >= vacuumRows && slices.Max(x)-slices.Min(x) >= vacuumOpening {
		pressure.Falls = stat.Correlation(x, y, nil) < -0.5
	}
}

// Fewer rows, or a throttle that opens less, do not tell a vacuum from a pressure.
const vacuumRows, vacuumOpening = 50, 15
