package drivelog

import (
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// findTime finds the time column, or keeps why there is none.
func (l *Log) findTime() error {
	c := l.column("time")
	if l.long != nil {
		c = l.long.clock
	} else if what := l.d.misplaced(); what != "" {
		l.clockErr = &tables.Fault{File: l.name, Line: l.d.firstLine, What: what}
		return nil
	} else if c != nil && c.told {
		c.bad, c.said = "", ""
		if l.readClock(c); c.bad != "" {
			return l.inHeader("time column %s: %s", tables.Quote(c.text), c.bad)
		}
	}
	if c != nil {
		l.clock = c
		l.because("time from %s: %s", tables.Quote(c.text), c.said)
		c.said, c.assumed = "", c.clockUnit != ""
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
	l.clockErr = l.inHeader("%s", what)
	return nil
}

// readClock tells how a time column is written; one that never moves is none.
func (l *Log) readClock(c *column) {
	cells := l.d.cells(c.index)
	unitText, bare := c.heading.unit, cells
	if u := gluedTime(cells); u != "" {
		c.suffix, unitText, bare = u, u, make([][]byte, len(cells))
		for i, b := range cells {
			bare[i], _ = splitGlued(b)
		}
	}
	c.clock, c.conv, c.clockUnit = nil, asWritten, ""
	clk, why, err := c.detectClock(bare, unitText, l.opt.TimeFormat)
	if err == nil && clk.words == nil && clk.div == 0 {
		var u clockUnit
		u, why, err = l.findClockUnit(c, bare)
		clk.div, c.clockUnit = u.perSecond, u.name
	}
	if err != nil {
		c.bad = err.Error()
		return
	}
	moves, n := changes(cells)
	if n > 20 && moves == 0 && l.opt.Channels["time"] == "" {
		c.bad = fmt.Sprintf("it stands still at %s in the first %d rows", tables.Quote(firstOf(cells)), n)
		return
	}
	c.coarse = n > 50 && moves < n/50
	c.clock, c.said = &clk, why
	if clk.words == nil {
		c.conv = unit.Conversion{Mul: 1, Div: clk.div}
	}
}

// changes counts how often a column's cells change, and those that are not empty.
func changes(cells [][]byte) (moves, filled int) {
	last := ""
	for _, b := range cells {
		if len(b) == 0 {
			continue
		}
		if filled++; filled > 1 && string(b) != last {
			moves++
		}
		last = string(b)
	}
	return moves, filled
}

func firstOf(cells [][]byte) string {
	for _, b := range cells {
		if len(b) > 0 {
			return string(b)
		}
	}
	return ""
}

// gluedTime is the unit of time glued to most of a column's cells.
func gluedTime(cells [][]byte) string {
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

// findClockUnit tells the unit of a time column of plain numbers. Where the
// engine hardly moves in the first rows, those behind are looked at too.
func (l *Log) findClockUnit(c *column, cells [][]byte) (clockUnit, string, error) {
	var times []float64
	var filled [][]byte
	for _, b := range cells {
		if v, kind := c.numeral(b); kind == readNumber {
			times, filled = append(times, v), append(filled, b)
		}
	}
	p := paceOf(times, filled, c.decimal)
	p.whole = l.d.whole
	moving := l.movingChannels()
	for _, row := range l.d.sample {
		moving.observe(c, row)
	}
	p.swings, p.engineLogged = moving.swings(), len(moving) > 0
	u, why, err := p.unit()
	if err == nil || len(p.swings) > 0 || p.whole || l.long != nil {
		return u, why, err
	}
	rows, last := 0, math.NaN()
	enough, err := l.lookOn(func(line []byte) bool {
		if rows++; rows <= len(l.d.sample) {
			return false
		}
		t := moving.observe(c, splitFields(line, l.d.delim))
		if t > last {
			p.span += t - last
		}
		last = t
		return rows > longestLook
	})
	if err != nil {
		return u, "", err
	}
	p.swings, p.whole = moving.swings(), !enough
	return p.unit()
}

const longestLook = 200_000 // rows in which an engine that moves is looked for

// moving are the channels by whose swings a clock is judged.
type moving []*movingChannel

type movingChannel struct {
	timed
	column *column
}

func (l *Log) movingChannels() moving {
	var m moving
	for i := range swingBands {
		band := &swingBands[i]
		for _, c := range l.cols {
			if told, mapped := l.opt.Channels[band.channel]; mapped && c.raw == told || !mapped && c.channel == band.channel && !c.lesser {
				m = append(m, &movingChannel{timed: timed{band: band}, column: c})
				break
			}
		}
	}
	return m
}

// observe takes a row, and returns its time on the log's clock.
func (m moving) observe(clock *column, row [][]byte) float64 {
	t, ok := clock.in(row)
	if !ok {
		return math.NaN()
	}
	for _, ch := range m {
		if v, ok := ch.column.in(row); ok {
			ch.t, ch.v = append(ch.t, t), append(ch.v, v)
		}
	}
	return t
}

func (m moving) swings() (list []swing) {
	for _, ch := range m {
		if s, ok := ch.swing(); ok {
			list = append(list, s)
		}
	}
	return list
}

// typicalStep is the median of the sample's steps in time.
func (l *Log) typicalStep() float64 {
	var steps []float64
	prev := math.NaN()
	for _, row := range l.d.sample {
		if t, ok := l.clock.in(row); ok {
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
