package drivelog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"

	"gonum.org/v1/gonum/stat"
)

// Log is one drive log, opened and understood but not yet read.
type Log struct {
	name      string
	src       *source
	opt       Options
	d         *dialect
	mark      int // bytes of a byte-order mark
	cols      []*column
	conflicts []conflict
	clock     *column // the time column
	clockErr  error   // why there is none
	long      *longForm
	missing   []string
	step      float64 // the log's typical step in time, seconds; 0 where not known
	held      bool
	open      []*column // whose numbers the beginning does not tell
	why       []string
	said      []string
	faults    tally // found by looking at the beginning
}

// Open opens a log by its path, "-" for standard input, and tells how it is
// written. Compression is known by content. A log of which not even the header
// can be told is an error; one whose time or channels are in doubt opens, so
// that [Log.Survey] can say what there is, and refuses to be scanned.
func Open(path string, stdin io.Reader, opt Options) (*Log, error) {
	src, err := openSource(opt.context(), path, stdin)
	if err != nil {
		if src != nil {
			src.close()
		}
		return nil, err
	}
	l := &Log{name: path, src: src, opt: opt, missing: opt.Missing}
	if l.missing == nil {
		l.missing = missingMarks
	}
	if err := l.understand(); err != nil {
		src.close()
		return nil, l.place(err)
	}
	l.d.sample = nil // it has told what it had to tell
	return l, nil
}

// place gives an error without one the log's name.
func (l *Log) place(err error) error {
	var fs tables.Faults
	var f *tables.Fault
	switch {
	case errors.As(err, &fs):
		for _, f := range fs {
			if f.File == "" {
				f.File = l.name
			}
		}
		return fs
	case errors.As(err, &f):
		if f.File == "" {
			f.File = l.name
		}
		return err
	}
	return &tables.Fault{File: l.name, What: err.Error()}
}

// Close lets go of the log's file.
func (l *Log) Close() error { return l.src.close() }

// Name is the log's path as it was opened.
func (l *Log) Name() string { return l.name }

// Asked says how the log was to be read, as far as that is not the usual way: in
// one line that is equal for logs whose readings are alike; "" most often.
func (l *Log) Asked() string { return l.opt.asked() }

// Engine is what is known of the engine that was logged; nil without any.
func (l *Log) Engine() *tables.Engine { return l.opt.Engine }

const (
	smallHead = 256 << 10
	largeHead = 4 << 20
)

func (l *Log) understand() error {
	raw, atEnd, err := l.src.head(utf8Text, smallHead)
	if err != nil {
		return err
	}
	if len(raw) == 0 {
		return fmt.Errorf("the log is empty")
	}
	enc, mark, why, err := detectEncoding(raw)
	if l.opt.Encoding != "" {
		why = "as told"
		if enc, err = parseEncoding(l.opt.Encoding); err == nil {
			_, mark, _, _ = detectEncoding(raw)
		}
	}
	if err != nil {
		return err
	}
	l.why = append(l.why, fmt.Sprintf("encoding %s: %s", enc, why))
	if l.src.pack != plain {
		l.why = append(l.why, "compressed by "+packingNames[l.src.pack])
	}
	l.mark = mark
	if enc == utf16LE || enc == utf16BE {
		l.mark = min(mark, 1) * 3 // decoded, the mark is U+FEFF
	}
	head, atEnd, err := l.textHead(raw, atEnd, enc)
	if err != nil {
		return err
	}
	if l.d, err = detect(l.name, head, atEnd, enc, &l.opt); err != nil {
		return err
	}
	l.d.dataStart += int64(l.mark)
	l.why = append(l.why, l.d.why...)
	if l.d.openHeader {
		l.faults.note(quoteOpen, l.d.headerLine, "in the header")
	}
	if l.d.trailing {
		l.said = append(l.said, "a delimiter too many ends each row: it is passed over")
	}
	isLong, err := l.isLong()
	if err != nil {
		return err
	}
	if isLong {
		return l.understandLong()
	}
	return l.understandWide()
}

// textHead is the decoded beginning without its mark: more of it where lines
// are long.
func (l *Log) textHead(raw []byte, atEnd bool, enc encoding) ([]byte, bool, error) {
	head, err := raw, error(nil)
	if enc == utf16LE || enc == utf16BE {
		if head, atEnd, err = l.src.head(enc, smallHead); err != nil {
			return nil, false, err
		}
	}
	if lines := strings.Count(string(head), "\n") + strings.Count(string(head), "\r"); lines < 50 && !atEnd {
		if head, atEnd, err = l.src.head(enc, min(largeHead, l.opt.maxLine())); err != nil {
			return nil, false, err
		}
	}
	return head[min(l.mark, len(head)):], atEnd, nil
}

// understandWide tells the columns of a log with one row an instant.
func (l *Log) understandWide() error {
	l.why = append(l.why, "wide: one row an instant")
	for i, text := range l.d.header {
		c := &column{heading: readHeading(text), index: i}
		if c.heading.unit == "" && c.odd == "" && i < len(l.d.units) && isUnit(l.d.units[i]) {
			c.heading.unit = l.d.units[i]
		}
		c.status = c.channel == "fuel_status"
		c.prove(l.cells(i), l.missing)
		l.cols = append(l.cols, c)
	}
	if err := l.findMarks(); err != nil {
		return err
	}
	for _, times := range []bool{false, true} { // how a clock goes is told by how the engine moves
		for i, c := range l.cols {
			if times == (c.channel == "time") {
				cells := l.cells(i)
				if times {
					l.readClock(c, cells)
				}
				c.observe(cells, l.missing)
			}
		}
	}
	return l.finish()
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
	l.d.decimal = decideMarks(l.cols)
	if l.d.decimal == undecided && !l.d.whole {
		err := l.eachText(l.opt.context(), func(line []byte, _ int) error {
			if bytes.IndexByte(line, '.') < 0 && (bytes.IndexByte(line, ',') < 0 || l.d.delim == ',' && bytes.IndexByte(line, '"') < 0) {
				return nil
			}
			for i, f := range splitFields(line, l.d.delim) {
				if i == len(l.cols) {
					break
				}
				p := &l.cols[i].proof
				if p.observe(f); l.cols[i].channel != "" && p.cells != [2]int{} {
					return errEnough
				}
			}
			return nil
		})
		if err != nil && err != errEnough {
			return err
		}
		l.d.decimal = decideMarks(l.cols)
	}
	if l.d.decimal == ',' {
		l.why = append(l.why, "decimal comma, from the cells")
	}
	return nil
}

// cells is one column of the sample.
func (l *Log) cells(i int) [][]byte {
	cells := make([][]byte, 0, len(l.d.sample))
	for _, row := range l.d.sample {
		if i < len(row) {
			cells = append(cells, row[i])
		} else {
			cells = append(cells, nil)
		}
	}
	return cells
}

// readClock tells how a time column is written; one that never moves is none.
func (l *Log) readClock(c *column, cells [][]byte) {
	unitText, bare := c.heading.unit, cells
	if u := gluedUnit(cells); u != "" {
		c.suffix, unitText, bare = u, u, make([][]byte, len(cells))
		for i, b := range cells {
			bare[i], _ = splitGlued(b)
		}
	}
	clk, why, err := c.detectClock(bare, unitText, l.opt.TimeFormat)
	c.clockUnit = ""
	if err == nil && clk.kind == clockNumber && clk.div == 0 {
		var u clockUnit
		u, why, err = l.findClockUnit(c, bare)
		clk.div, c.clockUnit = u.perSecond, u.name
	}
	if err != nil {
		c.bad = err.Error()
		return
	}
	first, last, moves, n := "", "", 0, 0
	for _, b := range cells {
		if len(b) == 0 {
			continue
		}
		if n++; first == "" {
			first, last = string(b), string(b)
		}
		if string(b) != last {
			moves, last = moves+1, string(b)
		}
	}
	if n > 20 && moves == 0 && l.opt.Channels["time"] == "" {
		c.bad = fmt.Sprintf("it stands still at %s in the first %d rows", tables.Quote(first), n)
		return
	}
	c.coarse = n > 50 && moves < n/50
	c.clock, c.said = &clk, why
}

// gluedUnit is the unit of time glued to most of a column's cells.
func gluedUnit(cells [][]byte) string {
	n, u := 0, ""
	for _, b := range cells {
		if _, rest := splitGlued(b); rest != "" {
			if conv, err := unit.Find(rest, "s"); err == nil && conv.Mul > 0 && (u == "" || u == rest) {
				n, u = n+1, rest
			}
		}
	}
	if 2*n > len(cells) {
		return u
	}
	return ""
}

// finish gives channels to columns, and settles their units.
func (l *Log) finish() error {
	var err error
	for name, header := range l.opt.Channels {
		if c, e := findHeader(l.cols, header); e == nil && name == "fuel_status" {
			c.status = true
		}
	}
	if l.cols, l.conflicts, err = assign(l.cols, &l.opt); err != nil {
		return err
	}
	if last := l.cols[len(l.cols)-1]; last.second && l.long != nil {
		return fmt.Errorf("channel %s: %s is %s already", last.name, tables.Quote(last.text), last.channel)
	}
	for _, d := range l.opt.Let {
		if !isOwnName(d.Name) {
			return fmt.Errorf("the name %s that is to be defined is not of lower-case letters, digits and _", tables.Quote(d.Name))
		}
	}
	if err := checkRings(l.opt.Let); err != nil {
		return err
	}
	for _, n := range sortedKeys(l.opt.Units) {
		if l.column(n) == nil {
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
	}
	l.findVacuum()
	l.settle()
	for _, c := range l.cols {
		c.wordy = c.second || c.name == "" && c.seen.text > c.seen.count
	}
	return nil
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// findTime finds the time column, or keeps why there is none.
func (l *Log) findTime() error {
	c := l.column("time")
	if what := l.d.misplaced(); what != "" && l.long == nil {
		l.clockErr = &tables.Fault{File: l.name, Line: l.d.firstLine, What: what}
		return nil
	}
	if c != nil && c.told && l.long == nil {
		c.bad, c.said = "", ""
		l.readClock(c, l.cells(c.index))
		if c.bad != "" {
			return &tables.Fault{File: l.name, Line: l.d.headerLine, What: fmt.Sprintf("time column %s: %s", tables.Quote(c.text), c.bad)}
		}
	}
	if c != nil {
		l.clock = c
		l.why = append(l.why, fmt.Sprintf("time from %s: %s", tables.Quote(c.text), c.said))
		if c.said, c.assumed = "", c.clockUnit != ""; c.assumed {
			c.said = fmt.Sprintf("time: the log gives no unit, %s is assumed", c.clockUnit)
		}
		l.step = l.typicalStep()
		return nil
	}
	what := "no column is the time: --channel time=HEADER"
	for _, k := range l.conflicts {
		if k.channel == "time" {
			what = k.text()
		}
	}
	for _, c := range l.cols {
		if c.channel == "time" && c.bad != "" {
			what = fmt.Sprintf("time column %s: %s", tables.Quote(c.text), c.bad)
			break
		}
	}
	l.clockErr = &tables.Fault{File: l.name, Line: l.d.headerLine, What: what}
	return nil
}

// settle decides units and scales, trims together, since a logger writes all
// of them one way.
func (l *Log) settle() {
	scale := &trimScale{}
	for _, c := range l.cols {
		if strings.Contains(c.name, "_trim_") {
			c.logUnit = c.heading.unit
			if c.seen.count == 0 {
				continue
			}
			switch c.guessTrim() {
			case trimPercent:
				scale.percent = true
			case trimFactor:
				scale.factor = true
			case trimHundred:
				scale.hundred = true
			}
		}
	}
	for _, c := range l.cols {
		c.settle(&l.opt, scale)
	}
}

// findVacuum tells a manifold's vacuum, written without a sign, from its pressure:
// it falls where the throttle opens.
func (l *Log) findVacuum() {
	pressure, throttle := l.column("manifold_pressure"), l.column("throttle")
	if throttle == nil {
		throttle = l.column("load")
	}
	if pressure == nil || throttle == nil || l.long != nil {
		return
	}
	var x, y []float64
	for _, row := range l.d.sample {
		if max(pressure.index, throttle.index) < len(row) {
			a, isA := throttle.read(row[throttle.index], l.missing)
			b, isB := pressure.read(row[pressure.index], l.missing)
			if isA == readNumber && isB == readNumber {
				x, y = append(x, a), append(y, b)
			}
		}
	}
	if len(x) >= vacuumRows && slices.Max(x)-slices.Min(x) >= vacuumOpening {
		pressure.falls = stat.Correlation(x, y, nil) < -0.5
	}
}

// Fewer rows, or a throttle that opens less, do not tell a vacuum from a pressure.
const vacuumRows, vacuumOpening = 50, 15

// column is the one that is a channel, or nil.
func (l *Log) column(name string) *column {
	for _, c := range l.cols {
		if c.name == name && name != "" {
			return c
		}
	}
	return nil
}
