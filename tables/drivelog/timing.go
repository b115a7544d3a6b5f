package drivelog

import (
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
		return nil
	}
	// The most useful reason: two columns that claim to be the time, or else what is wrong
	// with the one that does.
	what := "no column is the time: --channel time=HEADER"
	if k := l.conflict("time"); k != nil {
		what = k.Text()
	}
	if i := slices.IndexFunc(l.cols, func(c *channel.Column) bool { return c.Channel == "time" && c.Bad != "" }); i >= 0 {
		what = fmt.Sprintf("time column %s: %s", tables.Quote(l.cols[i].Text), l.cols[i].Bad)
	}
	l.clockErr = l.inHeader("%s", what)
	return nil
}

// readClock reports how a time column is written, and how it goes; one that never moves
// is none.
func (l *Log) readClock(c *channel.Column) {
	cells, unitText := l.d.Cells(c.Index), c.Heading.Unit
	if conv, err := unit.Find(c.Suffix, "s"); c.Suffix != "" && err == nil && conv.Mul > 0 { // "12ms"
		unitText = c.Suffix
		for i, b := range cells {
			cells[i], _ = dialect.SplitGlued(b)
		}
	}
	c.Clock, c.Conv, c.ClockUnit = nil, channel.AsWritten, ""
	clk, why, err := c.DetectClock(cells, unitText, l.opt.TimeFormat)
	if err != nil {
		c.Bad = err.Error()
		return
	}
	p := c.Pace(&clk, cells)
	if clk.Div == 0 {
		var u dialect.ClockUnit
		if u, why, err = l.findClockUnit(c, &p); err != nil {
			c.Bad = err.Error()
			return
		}
		clk.Div, c.ClockUnit = u.PerSecond, u.Name
	}
	// A time that never changes is a column of something else, unless a person says so.
	if p.Times > 20 && p.Changes == 0 && l.opt.Channels["time"] == "" {
		first := cells[slices.IndexFunc(cells, func(b []byte) bool { return len(b) > 0 })]
		c.Bad = fmt.Sprintf("it stands still at %s in the first %d rows", tables.Quote(string(first)), p.Times)
		return
	}
	// A spreadsheet that rounded to minutes leaves a clock that is better than none, and worse
	// than any other.
	c.Coarse = p.Times > 50 && p.Changes < p.Times/50
	c.Clock, c.Note, c.Conv = &clk, why, unit.Conversion{Mul: 1, Div: clk.Div}
	c.Step, c.First, c.Zone = c.Conv.Apply(p.Step), c.Conv.Apply(p.First), float64(p.Zone)
}

// longestLook bounds the search for an engine that moves: some hours of driving.
const longestLook = 200_000 // rows in which an engine that moves is looked for

// watchMoving finds the channels whose swings are known, as far as headers and the person
// tell them: channels are not assigned yet. What it returns adds a row's readings of them
// to the pace, and gives the row's time on the log's clock.
func (l *Log) watchMoving(c *channel.Column, p *dialect.Pace) (observe func(row [][]byte) float64) {
	var columns []*channel.Column
	for i := range dialect.SwingBands {
		band := &dialect.SwingBands[i]
		known, mapped := l.opt.Channels[band.Channel]
		k := slices.IndexFunc(l.cols, func(c *channel.Column) bool {
			return mapped && c.Raw == known || !mapped && c.Channel == band.Channel && !c.Lesser
		})
		if k >= 0 {
			columns, p.Moving = append(columns, l.cols[k]), append(p.Moving, dialect.Timed{Band: band})
		}
	}
	return func(row [][]byte) float64 {
		t, ok := c.In(row)
		if !ok {
			return math.NaN()
		}
		for i, column := range columns {
			if v, ok := column.In(row); ok {
				p.Moving[i].Add(t, v)
			}
		}
		return t
	}
}

// findClockUnit tells the unit of a time column of plain numbers by how the engine moves.
// Where it hardly moves in the first rows, those behind are looked at too.
func (l *Log) findClockUnit(c *channel.Column, p *dialect.Pace) (dialect.ClockUnit, string, error) {
	observe := l.watchMoving(c, p)
	for _, row := range l.d.Sample {
		observe(row)
	}
	p.Whole = l.d.Whole
	moves := p.Look()
	u, why, err := p.Unit()
	if err == nil || moves || p.Whole || l.long != nil {
		return u, why, err
	}
	// An engine that idles through the first rows says nothing of how fast the clock runs.
	rows, last := len(l.d.Sample), math.NaN()
	enough, err := l.lookOn(nil, func(row [][]byte) bool {
		rows++
		t := observe(row)
		if t > last {
			p.Span += t - last
		}
		last = t
		return rows > longestLook
	})
	if err != nil {
		return u, "", err
	}
	p.Whole = !enough
	p.Look()
	return p.Unit()
}
