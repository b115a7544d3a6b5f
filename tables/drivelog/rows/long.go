package rows

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
)

// LongForm is a log with one row for each reading: where its time, channel,
// value and unit stand, and the channels that it holds by name and unit.
type LongForm struct {
	*dialect.Dialect
	Time, name, Value, unit int // field indexes; unit is −1 where there is none
	width                   int
	missing                 []string
	Clock                   *channel.Column // the time
	Values                  *channel.Column // what the sample's values prove together
	Cols                    []*channel.Column
	known                   map[string]int // name, NUL, unit to the index in cols
	again                   *channel.Heads
	key                     []byte // while the channels are being found
}

// event is one reading of the long form.
type event struct {
	line   int
	Column int // in the batch; −1 where it is not wanted
	Time   float64
	Value  float64
}

// maxLongChannels bounds the memory of a log whose names never repeat.
const maxLongChannels = 5000

// NewLongForm tells the long form by its header: a time, a column of names and
// one of values, and hardly anything else; nil where it is not that.
func NewLongForm(d *dialect.Dialect, missing []string) *LongForm {
	f := &LongForm{Dialect: d, Time: -1, name: -1, Value: -1, unit: -1, width: len(d.Header), missing: missing,
		known: map[string]int{}, again: channel.NewHeads(d, true)}
	// Their names are looked at, not their places: each logger has its own order.
	named := 0
	for i, h := range d.Header {
		h = strings.TrimSpace(h)
		if h == "" {
			continue
		}
		named++
		hd := channel.ReadHeading(h)
		switch strings.Join(channel.WordsOf(hd.Name), " ") {
		case "pid", "channel", "name", "parameter", "sensor", "variable", "channel name", "parameter name", "item", "measurement", "signal name":
			f.name = i
		case "value", "reading":
			f.Value = i
		case "unit", "units", "uom":
			f.unit = i
		default:
			switch {
			case hd.Channel == "time" && f.Time < 0:
				f.Time = i
			case strings.EqualFold(h, "signal"):
				f.name = i
			}
		}
	}
	if f.Time < 0 || f.name < 0 || f.Value < 0 || named > 6 {
		return nil
	}
	f.Clock, f.Values = channel.NewColumn(d.Header[f.Time], f.Time, missing), channel.NewColumn(d.Header[f.Value], f.Value, missing)
	if f.Clock.Heading.Unit == "" && f.Time < len(d.Units) {
		f.Clock.Heading.Unit = d.Units[f.Time]
	}
	f.Clock.Name, f.Clock.Channel = "time", "time"
	return f
}

// addKey names a row's channel by its name and unit.
func (f *LongForm) addKey(b []byte, fields [][]byte) []byte {
	b = append(append(b, fields[f.name]...), 0)
	if f.unit >= 0 && f.unit < len(fields) {
		b = append(b, fields[f.unit]...)
	}
	return b
}

// Observe takes a row while the channels are being found.
func (f *LongForm) Observe(fields [][]byte) error {
	if max(f.name, f.Value, f.unit) >= len(fields) || len(fields) < f.Usual { // ragged, or torn
		return nil
	}
	f.key = f.addKey(f.key[:0], fields)
	i, ok := f.known[string(f.key)]
	if !ok {
		if i = len(f.Cols); i == maxLongChannels {
			return fmt.Errorf("the log holds more than %d channels", maxLongChannels)
		}
		f.known[string(f.key)] = i
		name, u, _ := strings.Cut(string(f.key), "\x00")
		c := channel.NewColumn(f.Enc.Text([]byte(name)), i, f.missing)
		if u = dialect.Mend(f.Enc.Text([]byte(u))); u != "" && c.Heading.Unit != "krpm" {
			c.Heading.Unit = u
		}
		if _, rest := dialect.SplitGlued(fields[f.Value]); rest != "" && dialect.IsUnit(rest) {
			c.Suffix = rest
		}
		c.Decimal = f.Decimal
		f.Cols = append(f.Cols, c)
	}
	f.Cols[i].See(fields[f.Value])
	return nil
}

// parser turns lines into events; wanted maps indexes of cols to places in the
// batch, or −1.
func (f *LongForm) parser(wanted []int) func(buf []byte, last bool, b *Batch) {
	return func(buf []byte, last bool, b *Batch) {
		b.begin(0, 0)
		for pos := 0; pos < len(buf); {
			end, next := dialect.LineEnd(buf, pos, f.EOL)
			if line := dialect.TrimEnd(buf[pos:end]); len(dialect.TrimBlanks(line)) > 0 {
				b.Read++
				b.fields = dialect.AppendFields(b.fields[:0], line, f.Delim)
				f.event(b.fields, wanted, next == end && last, b)
			}
			if next > end {
				b.lines++
			}
			pos = next
		}
	}
}

// event reads one row into an event. A row that is not wanted is one too: its time may
// begin an instant, in which other channels grow older.
func (f *LongForm) event(fields [][]byte, wanted []int, unended bool, b *Batch) {
	switch n := len(fields); {
	case unended && n < f.Usual: // cut off in the last field
		b.Faults.add(torn, b.lines)
		fields = fields[:n-1]
	case n != f.width && !(f.Trailing && n == f.width+1 && len(fields[n-1]) == 0):
		b.Faults.Note(ragged, b.lines, "with %d fields under %d", n, f.width)
	}
	if max(f.Time, f.name, f.Value) >= len(fields) {
		return
	}
	t, kind := f.Clock.Value(fields[f.Time])
	if kind != dialect.ReadNumber {
		b.Faults.add(clockMissing, b.lines)
		if kind == dialect.ReadText && b.other < 0 && f.again.Others(fields) {
			b.other = b.lines
		}
		return
	}
	e := event{line: b.lines, Column: -1, Time: t, Value: dialect.NoReading}
	b.key = f.addKey(b.key[:0], fields)
	if i, ok := f.known[string(b.key)]; ok && wanted[i] >= 0 {
		c := f.Cols[i]
		switch v, kind := c.Value(fields[f.Value]); {
		case kind == dialect.ReadNumber && c.Absolute && v <= 0:
			b.Faults.noPressure(c, v, b.lines)
		case kind == dialect.ReadNumber:
			e.Column, e.Value = wanted[i], v
		default:
			b.Faults.cell(kind, c, fields[f.Value], f.Enc, b.lines)
		}
	}
	b.Events = append(b.Events, e)
}

// Each reads columns of a log in the long form, which the batches hold in the
// order given: readings of one time are one row, an instant. The last instant of a
// piece waits for the next piece, which may go on with it.
func (f *LongForm) Each(ctx context.Context, t *Text, cols []*channel.Column, take func(b *Batch, line int) error) error {
	wanted := make([]int, len(f.Cols))
	for i, c := range f.Cols {
		wanted[i] = slices.Index(cols, c)
	}
	clock := slices.Index(cols, f.Clock)
	var waiting []event
	var rows Batch
	err := t.EachPiece(ctx, f.parser(wanted), func(b *Batch, line int) error {
		for i := range b.Events {
			b.Events[i].line += line
		}
		// Instants are told by their times, so the last one is whole only when another
		// time follows.
		waiting = append(waiting, b.Events...)
		ready := len(waiting)
		for ready > 0 && waiting[ready-1].Time == waiting[len(waiting)-1].Time {
			ready--
		}
		rows.instants(waiting[:ready], len(cols), clock)
		rows.Read, rows.Events = b.Read, b.Events
		rows.Faults.Merge(&b.Faults, line)
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
func (b *Batch) instants(events []event, columns, clock int) {
	b.begin(columns, len(events))
	for _, e := range events {
		if b.N == 0 || b.Vals[clock][b.N-1] != e.Time {
			for k := range b.Vals {
				b.Vals[k][b.N] = dialect.NoReading
			}
			b.Vals[clock][b.N], b.Line[b.N] = e.Time, int32(e.line)
			b.N++
		}
		if e.Column >= 0 {
			b.Vals[e.Column][b.N-1] = e.Value
		}
	}
	for k, cells := range b.Vals {
		for i, v := range cells[:b.N] {
			if v != v {
				b.gap(k, i, v)
			}
		}
	}
	b.end()
}
