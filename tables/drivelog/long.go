package drivelog

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// longForm is a log with one row for each reading: where its time, channel,
// value and unit stand, and the channels that it holds by name and unit.
type longForm struct {
	*dialect
	time, name, value, unit int // field indexes; unit is −1 where there is none
	width                   int
	missing                 []string
	clock                   *column // the time
	values                  *column // what the sample's values prove together
	cols                    []*column
	known                   map[string]int // name, NUL, unit to the index in cols
	again                   *heads
	key                     []byte // while the channels are being found
}

// event is one reading of the long form.
type event struct {
	line   int
	column int // in the batch; −1 where it is not wanted
	time   float64
	value  float64
}

const maxLongChannels = 5000

// newLongForm tells the long form by its header: a time, a column of names and
// one of values, and hardly anything else; nil where it is not that.
func newLongForm(d *dialect, missing []string) *longForm {
	f := &longForm{dialect: d, time: -1, name: -1, value: -1, unit: -1, width: len(d.header), missing: missing,
		known: map[string]int{}, again: newHeads(d, true)}
	named := 0
	for i, h := range d.header {
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
	if f.time < 0 || f.name < 0 || f.value < 0 || named > 6 {
		return nil
	}
	f.clock, f.values = newColumn(d.header[f.time], f.time, missing), newColumn(d.header[f.value], f.value, missing)
	if f.clock.heading.unit == "" && f.time < len(d.units) {
		f.clock.heading.unit = d.units[f.time]
	}
	f.clock.name, f.clock.channel = "time", "time"
	return f
}

// addKey names a row's channel by its name and unit.
func (f *longForm) addKey(b []byte, fields [][]byte) []byte {
	b = append(append(b, fields[f.name]...), 0)
	if f.unit >= 0 && f.unit < len(fields) {
		b = append(b, fields[f.unit]...)
	}
	return b
}

// observe takes a row while the channels are being found.
func (f *longForm) observe(fields [][]byte) error {
	if max(f.name, f.value, f.unit) >= len(fields) || len(fields) < f.usual { // ragged, or torn
		return nil
	}
	f.key = f.addKey(f.key[:0], fields)
	i, ok := f.known[string(f.key)]
	if !ok {
		if i = len(f.cols); i == maxLongChannels {
			return fmt.Errorf("the log holds more than %d channels", maxLongChannels)
		}
		f.known[string(f.key)] = i
		name, u, _ := strings.Cut(string(f.key), "\x00")
		c := newColumn(f.enc.text([]byte(name)), i, f.missing)
		if u = mend(f.enc.text([]byte(u))); u != "" && c.heading.unit != "krpm" {
			c.heading.unit = u
		}
		if _, rest := splitGlued(fields[f.value]); rest != "" && isUnit(rest) {
			c.suffix = rest
		}
		c.decimal = f.decimal
		f.cols = append(f.cols, c)
	}
	f.cols[i].see(fields[f.value])
	return nil
}

// parser turns lines into events; wanted maps indexes of cols to places in the
// batch, or −1.
func (f *longForm) parser(wanted []int) func(buf []byte, last bool, b *batch) {
	return func(buf []byte, last bool, b *batch) {
		b.begin(0, 0)
		for pos := 0; pos < len(buf); {
			end, next := lineEnd(buf, pos, f.eol)
			if line := trimEnd(buf[pos:end]); len(trimBlanks(line)) > 0 {
				b.read++
				b.fields = appendFields(b.fields[:0], line, f.delim)
				f.event(b.fields, wanted, next == end && last, b)
			}
			if next > end {
				b.lines++
			}
			pos = next
		}
	}
}

func (f *longForm) event(fields [][]byte, wanted []int, unended bool, b *batch) {
	switch n := len(fields); {
	case unended && n < f.usual: // cut off in the last field
		b.faults.add(torn, b.lines)
		fields = fields[:n-1]
	case n != f.width && !(f.trailing && n == f.width+1 && len(fields[n-1]) == 0):
		b.faults.note(ragged, b.lines, "with %d fields under %d", n, f.width)
	}
	if max(f.time, f.name, f.value) >= len(fields) {
		return
	}
	t, kind := f.clock.value(fields[f.time])
	if kind != readNumber {
		b.faults.add(clockMissing, b.lines)
		if kind == readText && b.other < 0 && f.again.others(fields) {
			b.other = b.lines
		}
		return
	}
	e := event{line: b.lines, column: -1, time: t, value: noReading}
	b.key = f.addKey(b.key[:0], fields)
	if i, ok := f.known[string(b.key)]; ok && wanted[i] >= 0 {
		c := f.cols[i]
		switch v, kind := c.value(fields[f.value]); {
		case kind == readNumber && c.absolute && v <= 0:
			b.faults.noPressure(c, v, b.lines)
		case kind == readNumber:
			e.column, e.value = wanted[i], v
		default:
			b.faults.cell(kind, c, fields[f.value], f.enc, b.lines)
		}
	}
	b.events = append(b.events, e)
}

// each reads columns of a log in the long form, which the batches hold in the
// order given: readings of one time are one row, an instant. The last instant of a
// piece waits for the next piece, which may go on with it.
func (f *longForm) each(ctx context.Context, t *text, cols []*column, take func(b *batch, line int) error) error {
	wanted := make([]int, len(f.cols))
	for i, c := range f.cols {
		wanted[i] = slices.Index(cols, c)
	}
	clock := slices.Index(cols, f.clock)
	var waiting []event
	var rows batch
	err := t.eachPiece(ctx, f.parser(wanted), func(b *batch, line int) error {
		for i := range b.events {
			b.events[i].line += line
		}
		waiting = append(waiting, b.events...)
		ready := len(waiting)
		for ready > 0 && waiting[ready-1].time == waiting[len(waiting)-1].time {
			ready--
		}
		rows.instants(waiting[:ready], len(cols), clock)
		rows.read, rows.events = b.read, b.events
		rows.faults.merge(&b.faults, line)
		waiting = append(waiting[:0], waiting[ready:]...)
		return take(&rows, 0)
	})
	if err != nil {
		return err
	}
	rows.instants(waiting, len(cols), clock)
	return take(&rows, 0)
}

// instants fills the batch with the rows of some readings.
func (b *batch) instants(events []event, columns, clock int) {
	b.begin(columns, len(events))
	for _, e := range events {
		if b.n == 0 || b.vals[clock][b.n-1] != e.time {
			for k := range b.vals {
				b.vals[k][b.n] = noReading
			}
			b.vals[clock][b.n], b.line[b.n] = e.time, int32(e.line)
			b.n++
		}
		if e.column >= 0 {
			b.vals[e.column][b.n-1] = e.value
		}
	}
	b.end()
	for k := range b.full {
		b.full[k] = k == clock
	}
}
