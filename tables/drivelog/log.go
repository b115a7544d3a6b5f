package drivelog

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/drivelog/rows"
)

// Log is one drive log, opened and understood but not yet read.
type Log struct {
	name      string
	opt       Options
	text      rows.Text
	d         *dialect.Dialect
	long      *rows.LongForm // nil in the wide form
	cols      []*channel.Column
	conflicts []channel.Conflict
	clock     *channel.Column // the time column
	clockErr  error           // why there is none
	held      bool
	open      []*channel.Column // whose numbers the beginning does not tell
	why       []string
	notes     []string
	faults    rows.Tally // found by looking at the beginning
}

// Open opens a log by its path, "-" for standard input, and reports how it is
// written. Compression is known by content. A log of which not even the header
// can be told is an error; one whose time or channels are in doubt opens, so
// that [Log.Survey] can say what there is, and refuses to be scanned.
func Open(path string, stdin io.Reader, opt Options) (*Log, error) {
	opt = opt.withDefaults()
	l := &Log{name: path, opt: opt, text: rows.Text{Workers: opt.Workers, Piece: opt.piece, MaxLine: opt.MaxLine, Progress: opt.Progress}}
	if err := l.text.Open(opt.Context, path, stdin); err != nil {
		return nil, err
	}
	if err := l.understand(); err != nil {
		l.Close()
		return nil, l.place(err)
	}
	l.d.Sample = nil // it has told what it had to tell
	return l, nil
}

// place gives an error without one the log's name.
func (l *Log) place(err error) error {
	err = tables.In(l.name, 0, 0, "", err)
	var fs tables.Faults
	if f := (*tables.Fault)(nil); !errors.As(err, &fs) && errors.As(err, &f) {
		fs = tables.Faults{f}
	}
	for _, f := range fs {
		f.File = cmp.Or(f.File, l.name)
	}
	return err
}

// inHeader is a fault of the line of the log's header.
func (l *Log) inHeader(format string, args ...any) error {
	return &tables.Fault{File: l.name, Line: l.d.HeaderLine, What: fmt.Sprintf(format, args...)}
}

// Close lets go of the log's file.
func (l *Log) Close() error { return l.text.Close() }

// Name is the log's path as it was opened.
func (l *Log) Name() string { return l.name }

// Asked says how the log was to be read, as far as that is not the usual way: in
// one line that is equal for logs whose readings are alike; "" most often.
func (l *Log) Asked() string { return l.opt.asked() }

// Engine is what is known of the engine that was logged; nil without any.
func (l *Log) Engine() *tables.Engine { return l.opt.Engine }

// Err is why the log cannot be scanned, nil where it can.
func (l *Log) Err() error { return l.clockErr }

// because keeps a reason for how the log is read, which the survey shows.
func (l *Log) because(format string, args ...any) {
	l.why = append(l.why, fmt.Sprintf(format, args...))
}

// understand takes the steps from bytes to channels in their order: each needs what
// those before it found. The encoding and the header come first, then how cells are
// written, then which column is which channel, and last what the numbers mean.
func (l *Log) understand() error {
	if err := l.opt.check(); err != nil {
		return err
	}
	head, err := l.text.Head(l.opt.Encoding)
	if err != nil {
		return err
	}
	l.why = head.Why
	if l.d, err = dialect.Detect(head, l.opt.asks()); err != nil {
		return err
	}
	l.text.D = l.d
	l.why = append(l.why, l.d.Why...)
	if l.d.OpenHeader {
		l.faults.Note(rows.QuoteOpen, l.d.HeaderLine, "in the header")
	}
	if l.d.Trailing {
		l.notes = append(l.notes, "a delimiter too many ends each row: it is passed over")
	}
	if err := l.findForm(); err != nil {
		return err
	}
	if l.long != nil {
		err = l.understandLong()
	} else {
		err = l.understandWide()
	}
	if err != nil {
		return err
	}
	return l.finish()
}

// findForm tells the long form from the wide one.
func (l *Log) findForm() error {
	if l.opt.Form == "wide" {
		return nil
	}
	if l.long = rows.NewLongForm(l.d, l.opt.Missing); l.long == nil && l.opt.Form == "long" {
		return fmt.Errorf("the long form needs columns for time, channel and value; the header has %s", l.d.HeaderList())
	}
	return nil
}

// understandWide tells the columns of a log with one row an instant.
func (l *Log) understandWide() error {
	l.because("wide: one row an instant")
	for i, header := range l.d.Header {
		c := channel.NewColumn(header, i, l.opt.Missing)
		if c.Heading.Unit == "" && c.Odd == "" && i < len(l.d.Units) && dialect.IsUnit(l.d.Units[i]) {
			c.Heading.Unit = l.d.Units[i]
		}
		c.Prove(l.d.Cells(i))
		l.cols = append(l.cols, c)
	}
	if err := l.findMarks(); err != nil {
		return err
	}
	for _, times := range []bool{false, true} { // how a clock goes is told by how the engine moves
		for i, c := range l.cols {
			if times == (c.Channel == "time") {
				if times {
					l.readClock(c)
				}
				c.Observe(l.d.Cells(i))
			}
		}
	}
	return nil
}

// understandLong goes through the whole log once for the channels in it: one
// that is polled seldom may come late.
func (l *Log) understandLong() error {
	f := l.long
	l.because("long: one row a reading")
	f.Clock.Prove(l.d.Cells(f.Time))
	f.Values.Prove(l.d.Cells(f.Value))
	f.Values.Proof.ForgetQuestions() // several channels' numbers prove nothing of each other but the mark itself
	if l.d.Decimal == dialect.Undecided {
		l.d.Decimal = channel.DecideMarks([]*channel.Column{f.Clock, f.Values})
	}
	f.Clock.Decimal = l.d.Decimal
	l.readClock(f.Clock)
	if f.Clock.Bad != "" {
		return l.inHeader("time column %s: %s", tables.Quote(f.Clock.Text), f.Clock.Bad)
	}
	var fields [][]byte
	var fault error
	_, err := l.text.EachLine(l.opt.Context, func(line []byte) bool {
		fields = dialect.AppendFields(fields[:0], line, l.d.Delim)
		fault = f.Observe(fields)
		return fault != nil
	})
	l.cols = f.Cols
	return errors.Join(err, fault)
}

// finish gives channels to columns, and settles their units.
func (l *Log) finish() error {
	var err error
	if l.cols, l.conflicts, err = channel.Assign(l.cols, l.opt.Channels); err != nil {
		return err
	}
	// A long log is split into channels by their names, so none can be read twice.
	if last := l.cols[len(l.cols)-1]; last.Second != "" && l.long != nil {
		return fmt.Errorf("channel %s: %s is %s already", last.Name, tables.Quote(last.Text), last.Second)
	}
	for _, n := range slices.Sorted(maps.Keys(l.opt.Units)) {
		if l.column(n) == nil && !l.opt.SpareUnits {
			return fmt.Errorf("channel %s: --channel-unit gives it a unit, but the log has no column for it", n)
		}
	}
	if err := l.findTime(); err != nil {
		return err
	}
	l.findOpen()
	if l.long == nil {
		if err := l.findHeld(); err != nil {
			return err
		}
		l.findVacuum()
	}
	channel.SettleAll(l.cols, l.opt.settings())
	// A column of words is no channel with faults in it, and its words are not counted.
	for _, c := range l.cols {
		c.Wordy = c.Second != "" || c.Name == "" && c.Seen.Text > c.Seen.Count
	}
	return nil
}

// column is the one that is a channel, or nil.
func (l *Log) column(name string) *channel.Column {
	if i := slices.IndexFunc(l.cols, func(c *channel.Column) bool { return c.Name == name && name != "" }); i >= 0 {
		return l.cols[i]
	}
	return nil
}

// conflict is that of the columns which claim a channel together, or nil.
func (l *Log) conflict(name string) *channel.Conflict {
	if i := slices.IndexFunc(l.conflicts, func(k channel.Conflict) bool { return k.Channel == name }); i >= 0 {
		return &l.conflicts[i]
	}
	return nil
}

// eachBatch reads columns of the log, which the batches hold in the order given.
// Their lines count from line.
func (l *Log) eachBatch(ctx context.Context, cols []*channel.Column, take func(b *rows.Batch, line int) error) error {
	if l.long != nil {
		return l.long.Each(ctx, &l.text, cols, take)
	}
	return l.text.EachPiece(ctx, rows.NewRowParser(l.d, cols).Parse, take)
}

// alignment is how the log's rows become instants.
func (l *Log) alignment() rows.Alignment {
	a := rows.Alignment{MaxAge: *l.opt.MaxAge, GapOver: 2, Held: l.held && l.long == nil}
	if l.clock != nil { // longer than a reading is used by default, and than five steps
		a.GapOver, a.Wraps = max(2, 5*l.clock.Step), l.clock.Clock.Daily
	}
	if l.opt.Gap > 0 {
		a.GapOver = l.opt.Gap
	}
	return a
}
