package drivelog

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/unit"
)

// findTime finds the time column, or keeps why there is none.
func (l *Log) findTime() error {
	c := l.column("time")
	if l.long != nil {
		c = l.long.Clock
	} else if what := l.d.Misplaced(); what != "" {
		l.clockErr = &tables.Fault{File: l.name, Line: l.d.FirstLine, What: what}
		return nil
	} else if c != nil && c.Told {
		c.Bad, c.Note = "", ""
		if l.readClock(c); c.Bad != "" {
			return l.inHeader("time column %s: %s", tables.Quote(c.Text), c.Bad)
		}
	}
	if c != nil {
		l.clock = c
		l.because("time from %s: %s", tables.Quote(c.Text), c.Note)
		c.Note, c.Assumed = "", c.ClockUnit != ""
		l.step = l.typicalStep()
		return nil
	}
	// The most useful reason: two columns that claim to be the time, or else what is wrong
	// with the one that does.
	what := "no column is the time: --channel time=HEADER"
	if k := l.conflict("time"); k != nil {
		what = k.Text()
	}
	for _, c := range l.cols {
		if c.Channel == "time" && c.Bad != "" {
			what = fmt.Sprintf("time column %s: %s", tables.Quote(c.Text), c.Bad)
			break
		}
	}
	l.clockErr = l.inHeader("%s", what)
	return nil
}

// readClock reports how a time column is written; one that never moves is none.
func (l *Log) readClock(c *channel.Column) {
	cells := l.d.Cells(c.Index)
	unitText, bare := c.Heading.Unit, cells
	if conv, err := unit.Find(c.Suffix, "s"); c.Suffix != "" && err == nil && conv.Mul > 0 { // "12ms"
		unitText, bare = c.Suffix, make([][]byte, len(cells))
		for i, b := range cells {
			bare[i], _ = dialect.SplitGlued(b)
		}
	}
	c.Clock, c.Conv, c.ClockUnit = nil, channel.AsWritten, ""
	clk, why, err := c.DetectClock(bare, unitText, l.opt.TimeFormat)
	if err == nil && clk.Words == nil && clk.Div == 0 {
		var u dialect.ClockUnit
		u, why, err = l.findClockUnit(c, bare)
		clk.Div, c.ClockUnit = u.PerSecond, u.Name
	}
	if err != nil {
		c.Bad = err.Error()
		return
	}
	filled := slices.DeleteFunc(slices.Clone(cells), func(b []byte) bool { return len(b) == 0 })
	moves, n := 0, len(filled)
	for i := 1; i < n; i++ {
		if !bytes.Equal(filled[i], filled[i-1]) {
			moves++
		}
	}
	// A time that never changes is a column of something else, unless a person says so.
	if n > 20 && moves == 0 && l.opt.Channels["time"] == "" {
		c.Bad = fmt.Sprintf("it stands still at %s in the first %d rows", tables.Quote(string(filled[0])), n)
		return
	}
	// A spreadsheet that rounded to minutes leaves a clock that is better than none, and worse
	// than any other.
	c.Coarse = n > 50 && moves < n/50
	c.Clock, c.Note = &clk, why
	if clk.Words == nil {
		c.Conv = unit.Conversion{Mul: 1, Div: clk.Div}
	}
}

// findClockUnit tells the unit of a time column of plain numbers. Where the
// engine hardly moves in the first rows, those behind are looked at too.
func (l *Log) findClockUnit(c *channel.Column, cells [][]byte) (dialect.ClockUnit, string, error) {
	p := c.Pace(cells)
	p.Whole = l.d.Whole
	moving := l.movingChannels()
	for _, row := range l.d.Sample {
		moving.observe(c, row)
	}
	p.Swings, p.EngineLogged = moving.swings(), len(moving) > 0
	u, why, err := p.Unit()
	if err == nil || len(p.Swings) > 0 || p.Whole || l.long != nil {
		return u, why, err
	}
	// An engine that idles through the first rows says nothing of how fast the clock runs.
	rows, last := 0, math.NaN()
	enough, err := l.lookOn(func(line []byte) bool {
		if rows++; rows <= len(l.d.Sample) {
			return false
		}
		t := moving.observe(c, dialect.SplitFields(line, l.d.Delim))
		if t > last {
			p.Span += t - last
		}
		last = t
		return rows > longestLook
	})
	if err != nil {
		return u, "", err
	}
	p.Swings, p.Whole = moving.swings(), !enough
	return p.Unit()
}

// longestLook bounds the search for an engine that moves: some hours of driving.
const longestLook = 200_000 // rows in which an engine that moves is looked for

// moving are the channels by whose swings a clock is judged.
type moving []*movingChannel

// movingChannel gathers the readings of a column whose speed of change is known.
type movingChannel struct {
	dialect.Timed
	column *channel.Column
}

// movingChannels finds the columns of channels whose swings are known, as far as
// headers and the person tell them: channels are not assigned yet.
func (l *Log) movingChannels() moving {
	var m moving
	for i := range dialect.SwingBands {
		band := &dialect.SwingBands[i]
		for _, c := range l.cols {
			if known, mapped := l.opt.Channels[band.Channel]; mapped && c.Raw == known || !mapped && c.Channel == band.Channel && !c.Lesser {
				m = append(m, &movingChannel{Timed: dialect.Timed{Band: band}, column: c})
				break
			}
		}
	}
	return m
}

// observe takes a row, and returns its time on the log's clock.
func (m moving) observe(clock *channel.Column, row [][]byte) float64 {
	t, ok := clock.In(row)
	if !ok {
		return math.NaN()
	}
	for _, ch := range m {
		if v, ok := ch.column.In(row); ok {
			ch.T, ch.V = append(ch.T, t), append(ch.V, v)
		}
	}
	return t
}

// swings are those of the channels that move enough to say anything.
func (m moving) swings() (list []dialect.Swing) {
	for _, ch := range m {
		if s, ok := ch.Swing(); ok {
			list = append(list, s)
		}
	}
	return list
}

// typicalStep is the median of the sample's steps in time.
func (l *Log) typicalStep() float64 {
	var times []float64
	for _, row := range l.d.Sample {
		if t, ok := l.clock.In(row); ok {
			times = append(times, t)
		}
	}
	step, _ := dialect.Steps(times)
	return step
}
