package drivelog

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
)

// longForm is a log with one row for each reading: where its time, channel,
// value and unit stand, and the channels that it holds by name and unit.
type longForm struct {
	time, name, value, unit int // field indexes; unit is -1 where there is none
	width                   int
	known                   map[string]int // name, NUL, unit to the index in Log.cols
	timeCol                 *column
	heads                   *heads
	scratch                 []byte // a key, while the channels are being found
}

// isLong tells the long form by its header: a time, a column of names and one
// of values, and hardly anything else.
func (l *Log) isLong() (bool, error) {
	f := &longForm{time: -1, name: -1, value: -1, unit: -1, width: len(l.d.header)}
	named := 0
	for i, h := range l.d.header {
		h = strings.TrimSpace(h)
		if h == "" {
			continue
		}
		named++
		hd := readHeading(h)
		switch strings.Join(wordsOf(hd.name), " ") {
		case "pid", "channel", "name", "parameter", "sensor", "variable", "channel name", "parameter name", "item", "measurement", "signal name":
			f.name = i
		case "value", "reading":
			f.value = i
		case "unit", "units", "uom":
			f.unit = i
		default:
			switch {
			case hd.channel == "time" && f.time < 0:
				f.time = i
			case strings.EqualFold(h, "signal"):
				f.name = i
			}
		}
	}
	fits := f.time >= 0 && f.name >= 0 && f.value >= 0 && named <= 6
	switch strings.ToLower(l.opt.Form) {
	case "":
	case "wide":
		fits = false
	case "long":
		if !fits {
			return false, fmt.Errorf("the long form wants columns for time, channel and value; the header has %s", headerList(l.d.header))
		}
	default:
		return false, fmt.Errorf("form %s is neither wide nor long", tables.Quote(l.opt.Form))
	}
	if fits {
		l.long = f
	}
	return fits, nil
}

func headerList(header []string) string {
	var q []string
	for i, h := range header {
		if i == 8 {
			q = append(q, "…")
			break
		}
		q = append(q, tables.Quote(h))
	}
	return strings.Join(q, ", ")
}

// understandLong goes through the whole log once for the channels in it: one
// that is polled seldom may come late.
func (l *Log) understandLong() error {
	f := l.long
	f.heads = newHeads(l)
	l.why = append(l.why, "long: one row a reading")
	tc := &column{heading: readHeading(l.d.header[f.time]), index: f.time}
	if tc.heading.unit == "" && f.time < len(l.d.units) {
		tc.heading.unit = l.d.units[f.time]
	}
	vc := &column{heading: readHeading(l.d.header[f.value]), index: f.value}
	tc.prove(l.cells(f.time), l.missing)
	vc.prove(l.cells(f.value), l.missing)
	vc.proof.two = [2]int{} // several channels' numbers prove nothing of each other but the mark itself
	if cols := []*column{tc, vc}; l.d.decimal == undecided {
		l.d.decimal = decideMarks(cols)
	}
	tc.decimal = l.d.decimal
	l.readClock(tc, l.cells(f.time))
	if tc.bad != "" {
		return &tables.Fault{File: l.name, Line: l.d.headerLine, What: fmt.Sprintf("time column %s: %s", tables.Quote(tc.text), tc.bad)}
	}
	tc.name, tc.channel = "time", "time"
	f.timeCol = tc
	f.known = map[string]int{}
	if err := l.findLongChannels(); err != nil {
		return err
	}
	if err := l.finish(); err != nil {
		return err
	}
	l.clock, l.clockErr = tc, nil
	l.why = append(l.why, fmt.Sprintf("time from %s: %s", tables.Quote(tc.text), tc.said))
	l.step = l.typicalStep()
	return nil
}

const maxLongChannels = 5000

func (l *Log) findLongChannels() error {
	var fields [][]byte
	return l.eachText(l.opt.context(), func(line []byte, _ int) error {
		if len(trimBlanks(line)) == 0 {
			return nil
		}
		fields = appendFields(fields[:0], line, l.d.delim)
		return l.observeLong(fields)
	})
}

func (l *Log) observeLong(fields [][]byte) error {
	f := l.long
	if max(f.name, f.value, f.unit) >= len(fields) || len(fields) < l.d.usual { // ragged, or torn
		return nil
	}
	f.scratch = f.appendKey(f.scratch[:0], fields)
	i, ok := f.known[string(f.scratch)]
	if !ok {
		key := string(f.scratch)
		if len(l.cols) == maxLongChannels {
			return fmt.Errorf("the log holds more than %d channels", maxLongChannels)
		}
		name, u, _ := strings.Cut(key, "\x00")
		c := &column{heading: readHeading(l.d.enc.text([]byte(name))), index: len(l.cols), decimal: l.d.decimal}
		if u = mend(l.d.enc.text([]byte(u))); u != "" && c.heading.unit != "krpm" {
			c.heading.unit = u
		}
		c.status = c.channel == "fuel_status"
		if _, rest := splitGlued(fields[f.value]); rest != "" && isUnit(rest) {
			c.suffix = rest
		}
		i = len(l.cols)
		f.known[key] = i
		l.cols = append(l.cols, c)
	}
	c := l.cols[i]
	switch v, kind := c.read(fields[f.value], l.missing); kind {
	case readNumber:
		c.seen.add(v)
	case readText:
		c.seen.text++
	case readTwoWays:
		c.seen.two++
	}
	return nil
}

// appendKey names a row's channel by its name and unit.
func (f *longForm) appendKey(b []byte, fields [][]byte) []byte {
	b = append(append(b, fields[f.name]...), 0)
	if f.unit >= 0 && f.unit < len(fields) {
		b = append(b, fields[f.unit]...)
	}
	return b
}

func eachLine(buf []byte, eol byte, do func(line []byte, ended bool)) {
	for len(buf) > 0 {
		i := bytes.IndexByte(buf, eol)
		if i < 0 {
			do(bytes.TrimRight(buf, "\r"), false)
			return
		}
		do(bytes.TrimRight(buf[:i], "\r"), true)
		buf = buf[i+1:]
	}
}

// longParser turns lines of the long form into events; wanted maps indexes of
// Log.cols to inputs, or -1.
func (l *Log) longParser(wanted []int) func(buf []byte, last bool, b *batch) {
	f := l.long
	return func(buf []byte, last bool, b *batch) {
		b.n, b.lines, b.tail, b.other, b.err = 0, 0, -1, -1, nil
		b.events = b.events[:0]
		b.faults.reset()
		eachLine(buf, l.d.eol, func(line []byte, ended bool) {
			if len(trimBlanks(line)) > 0 {
				b.n++
				b.fields = appendFields(b.fields[:0], line, l.d.delim)
				l.event(b.fields, f, wanted, !ended && last, b)
			}
			if ended {
				b.lines++
			}
		})
	}
}

func (l *Log) event(fields [][]byte, f *longForm, wanted []int, unended bool, b *batch) {
	cut := unended && len(fields) < l.d.usual // in the last field
	switch n := len(fields); {
	case cut:
		b.faults.add(torn, b.lines)
		fields = fields[:n-1]
	case n != f.width && !(l.d.trailing && n == f.width+1 && len(fields[n-1]) == 0):
		b.faults.note(ragged, b.lines, "with %d fields under %d", n, f.width)
	}
	if max(f.time, f.name, f.value) >= len(fields) {
		return
	}
	t, kind := f.timeCol.read(fields[f.time], l.missing)
	if kind != readNumber {
		b.faults.add(clockMissing, b.lines)
		if kind == readText && b.other < 0 && f.heads.others(fields) {
			b.other = b.lines
		}
		return
	}
	e := event{line: b.lines, channel: -1, time: t, value: noReading}
	b.key = f.appendKey(b.key[:0], fields)
	if i, ok := f.known[string(b.key)]; ok && wanted[i] >= 0 {
		c := l.cols[i]
		switch v, kind := c.read(fields[f.value], l.missing); {
		case kind == readNumber && c.absolute && c.conv.Apply(v) <= 0:
			b.faults.note(noPressure, b.lines, "%s kPa in %s", short(c.conv.Apply(v)), tables.Quote(c.text))
		case kind == readNumber:
			e.channel, e.value = wanted[i], c.conv.Apply(v)
		case kind == readTwoWays:
			b.faults.note(twoWaysCell, b.lines, "in %s, %s", tables.Quote(c.text), twoWays(l.d.enc.text(fields[f.value])))
		case kind == readText && !c.wordy:
			b.faults.note(textCell, b.lines, "%s in %s", tables.Quote(l.d.enc.text(fields[f.value])), tables.Quote(c.text))
		}
	}
	b.events = append(b.events, e)
}

// instants gathers consecutive events of one time into rows. The last instant
// of a piece waits for the next piece, which may go on with it.
type instants struct {
	b       batch // slot 0 is the time
	waiting bool
	slots   int
}

func newInstants(inputs int) *instants {
	return &instants{slots: inputs + 1}
}

// take adds a piece's events, whose lines count from base. It returns the rows
// that are complete, with lines of the file; flush also gives the last one.
func (in *instants) take(events []event, base int, flush bool) *batch {
	b := &in.b
	if in.waiting { // the last row so far stays as the first
		last := b.n - 1
		for k := range b.vals {
			b.vals[k][0] = b.vals[k][last]
			b.vals[k] = b.vals[k][:1]
		}
		b.line[0] = b.line[last]
		b.line, b.n = b.line[:1], 1
	} else {
		b.begin(in.slots, 0)
		for k := range b.vals {
			b.vals[k] = b.vals[k][:0]
		}
		b.line, b.n = b.line[:0], 0
	}
	for _, e := range events {
		if b.n == 0 || b.vals[0][b.n-1] != e.time {
			b.vals[0] = append(b.vals[0], e.time)
			for k := 1; k < in.slots; k++ {
				b.vals[k] = append(b.vals[k], noReading)
			}
			b.line = append(b.line, int32(base+e.line))
			b.n++
		}
		if e.channel >= 0 && e.channel+1 < in.slots {
			b.vals[e.channel+1][b.n-1] = e.value
		}
	}
	for k := range b.full {
		b.full[k] = k == 0
	}
	in.waiting = !flush && b.n > 0
	return b
}

// complete is how many rows of the batch can no longer change.
func (in *instants) complete() int {
	if in.waiting {
		return in.b.n - 1
	}
	return in.b.n
}

func (l *Log) typicalStep() float64 {
	index := l.clock.index
	var steps []float64
	prev := noReading
	for _, row := range l.d.sample {
		if index >= len(row) {
			continue
		}
		if t, kind := l.clock.read(row[index], l.missing); kind == readNumber {
			if t > prev {
				steps = append(steps, t-prev)
			}
			prev = t
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// gapOver is the step in time that ends a stretch: longer than a reading
// stands by default, and than five steps of the log.
func (l *Log) gapOver() float64 {
	if l.opt.Gap > 0 {
		return l.opt.Gap
	}
	return max(2, 5*l.step)
}
