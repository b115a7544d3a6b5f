package drivelog

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
)

// A clock that is a plain number without a unit is read in the one unit that
// makes a possible logger and a possible engine. Where two units are left, it is
// refused.

// clockUnit is a unit in which loggers write such a clock.
type clockUnit struct {
	name, word string
	perSecond  float64
	places     int // decimals without which it could not tell rows apart: it steps by 0.1 s or less
}

var clockUnits = []clockUnit{
	{"ns", "nanoseconds", 1e9, 0},
	{"us", "microseconds", 1e6, 0},
	{"ms", "milliseconds", 1e3, 0},
	{"s", "seconds", 1, 0},
	{"min", "minutes", 1.0 / 60, 3},
	{"h", "hours", 1.0 / 3600, 5},
	{"days", "days", 1.0 / 86400, 6},
}

// What a logger can be: common practice, no source.
const (
	fastestStep, slowestStep = 0.0004, 20   // seconds a row: 2.5 kHz, and two rows under a minute
	usualFastest, usualSlow  = 0.005, 2     // most are
	slowSeconds              = 5            // a step that is rather of seconds than of milliseconds in a log of a few rows
	longestUptime            = 10 * 86400   // seconds that a clock that does not give the date has run
	shortestLog              = 2            // seconds that are worth logging
	firstDate, lastDate      = 6.3e8, 4.2e9 // seconds since 1970: 1990 to 2103
	spreadsheetEpoch         = 25569        // days from 1899-12-30 to 1970
)

// swing is how fast a channel moves: the shortest time, on the log's clock, in
// which it went through half of the range in which it was.
type swing struct {
	band   *swingBand
	rate   float64 // of the channel's unit, on the log's clock
	oneRow bool    // in one row: it may have been faster
}

// swingBand is how fast a channel of an engine moves at its fastest in a drive,
// per second: surely not under least and not over most; from low to high as a
// rule. Common practice, no source: a free engine gains some 10,000 r/min a
// second, a gear change takes 1,000 r/min in half of one.
type swingBand struct {
	channel                      string
	span                         float64 // less of a range says nothing
	least, low, high, mostPerSec float64
}

var swingBands = []swingBand{
	{"engine_speed", 300, 3, 50, 8000, 40000},
	{"throttle", 20, 0.5, 8, 1000, 5000},
	{"speed", 20, 0.03, 0.5, 50, 300},
}

// timed are a channel's readings with their times on the log's clock.
type timed struct {
	band *swingBand
	t, v []float64
}

const swingRows = 100 // fewer say nothing

// swing finds the fastest move through half of the range. Both of its ends must
// stand for two readings: one alone may be a glitch.
func (s *timed) swing() (swing, bool) {
	n := len(s.v)
	if n < swingRows {
		return swing{}, false
	}
	sorted := slices.Clone(s.v)
	slices.Sort(sorted)
	span := sorted[n-1-n/20] - sorted[n/20]
	if span < s.band.span {
		return swing{}, false
	}
	best, oneRow := math.Inf(1), false
	for i := 1; i+2 < n; i++ {
		for j := i + 1; j+1 < n && j-i < 5000 && s.t[j] >= s.t[j-1] && s.t[j]-s.t[i] < best; j++ {
			if up := s.v[j] - s.v[i]; math.Abs(up) >= span/2 && math.Abs(s.v[j+1]-s.v[i-1]) >= span/2 && s.t[j] > s.t[i] {
				best, oneRow = s.t[j]-s.t[i], j == i+1
				break
			}
		}
	}
	return swing{s.band, span / 2 / best, oneRow}, !math.IsInf(best, 1)
}

// likelihood is what a unit makes of the log.
type likelihood int

const (
	impossible likelihood = iota
	doubtful
	possible
)

// in judges a swing where so many of the clock's units are a second.
func (s swing) in(perSecond float64) likelihood {
	switch r := s.rate * perSecond; {
	case r > s.band.mostPerSec, r < s.band.least && !s.oneRow:
		return impossible
	case r > s.band.high, r < s.band.low && !s.oneRow:
		return doubtful
	}
	return possible
}

// pace is what a time column's numbers tell.
type pace struct {
	first, step, span float64 // on the log's clock
	places            int     // decimals, zeros at the end aside
	whole             bool    // the log ends with them
	engineLogged      bool    // a channel of which swings are known is in it
	swings            []swing
}

// paceOf looks at a time column's numbers, in the log's order.
func paceOf(times []float64, cells [][]byte, mark byte) pace {
	p := pace{first: math.NaN()}
	var steps []float64
	prev := math.NaN()
	for _, t := range times {
		if p.first != p.first {
			p.first = t
		}
		if t > prev {
			steps = append(steps, t-prev)
			p.span += t - prev
		}
		prev = t
	}
	if len(steps) > 0 {
		slices.Sort(steps)
		p.step = steps[len(steps)/2]
	}
	for _, b := range cells {
		_, decimals, _ := bytes.Cut(b, []byte{mark})
		p.places = max(p.places, len(bytes.TrimRight(decimals, "0")))
	}
	return p
}

// unit is the unit of the clock, and how it was found.
func (p *pace) unit() (u clockUnit, why string, err error) {
	if p.step == 0 {
		return clockUnits[3], "seconds, assumed", nil
	}
	left := slices.DeleteFunc(slices.Clone(clockUnits), func(u clockUnit) bool { return !p.logs(u) })
	if len(left) > 1 {
		left = p.choose(left)
	}
	switch len(left) {
	case 0:
		return u, "", fmt.Errorf("steps of %s are no logger's in any unit of time: --time-format", short(p.step))
	case 1:
		switch u = left[0]; {
		case !p.date(u):
			why = fmt.Sprintf("%s, from steps of %s", u.word, short(p.step))
		case u.name == "days":
			why = "days as spreadsheets count them, from the numbers"
		default:
			why = u.word + " since 1970, from the numbers"
		}
		return u, why, nil
	}
	var words, names []string
	for _, u := range left {
		words, names = append(words, u.word), append(names, u.name)
	}
	slices.Reverse(words)
	slices.Reverse(names)
	return u, "", fmt.Errorf("steps of %s may be %s: --time-format %s", short(p.step), strings.Join(words, " or "), strings.Join(names, " or "))
}

// logs reports whether a logger with this unit is possible.
func (p *pace) logs(u clockUnit) bool {
	step := p.step / u.perSecond
	return step >= fastestStep && step < slowestStep && p.places >= u.places &&
		(math.Abs(p.first)/u.perSecond <= longestUptime || p.date(u))
}

// date reports whether the clock gives the date: as seconds since 1970, or in a
// spreadsheet's days.
func (p *pace) date(u clockUnit) bool {
	s := p.first / u.perSecond
	if u.name == "days" {
		s -= spreadsheetEpoch * 86400
	}
	return s >= firstDate && s <= lastDate && (u.perSecond >= 1 || u.name == "days")
}

func (p *pace) usual(u clockUnit) bool {
	step := p.step / u.perSecond
	return step >= usualFastest && step <= usualSlow
}

// engine is what a unit makes of the engine: the worst of what its channels say.
func (p *pace) engine(u clockUnit) likelihood {
	worst := possible
	for _, s := range p.swings {
		worst = min(worst, s.in(u.perSecond))
	}
	return worst
}

// choose takes the one unit of several that makes a possible engine. A doubtful
// one stands aside for it where no usual logger writes so. Without an engine that
// moves, a unit in which the whole log lasts no time worth logging gives way.
func (p *pace) choose(left []clockUnit) []clockUnit {
	of := func(worth func(u clockUnit) bool) []clockUnit {
		return slices.DeleteFunc(slices.Clone(left), func(u clockUnit) bool { return !worth(u) })
	}
	good := of(func(u clockUnit) bool { return p.engine(u) == possible })
	if len(p.swings) == 0 {
		if p.step <= slowSeconds && !p.engineLogged {
			return of(func(u clockUnit) bool { return u.perSecond == 1 || p.usual(u) })
		}
		if p.step > slowSeconds {
			return left
		}
		return of(func(u clockUnit) bool {
			lasts := p.span/u.perSecond >= shortestLog || !p.whole
			return u.perSecond == 1 || p.usual(u) && lasts || u.perSecond > 1 && lasts
		})
	}
	rivals := of(func(u clockUnit) bool { return p.engine(u) == possible || p.engine(u) == doubtful && p.usual(u) })
	switch usual := of(func(u clockUnit) bool { return p.engine(u) == possible && p.usual(u) }); {
	case len(rivals) == 1 && len(good) == 1, len(good) == 0 && len(rivals) > 0:
		return rivals
	case len(usual) == 1 && len(rivals) == len(good):
		return usual
	case len(good) > 0:
		return rivals
	}
	return left
}

// findClockUnit tells the unit of a time column of plain numbers. Where the
// engine hardly moves in the first rows, those behind are looked at too.
func (l *Log) findClockUnit(c *column, cells [][]byte) (clockUnit, string, error) {
	times := make([]float64, 0, len(cells))
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
	e := l.eachText(l.opt.context(), func(line []byte, _ int) error {
		if rows++; rows <= len(l.d.sample) {
			return nil
		}
		t := moving.observe(c, splitFields(line, l.d.delim))
		if t > last {
			p.span += t - last
		}
		if last = t; rows > longestLook {
			return errEnough
		}
		return nil
	})
	if e != nil && e != errEnough {
		return u, "", e
	}
	p.swings, p.whole = moving.swings(), e == nil
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
	if clock.index >= len(row) {
		return math.NaN()
	}
	b := row[clock.index]
	if clock.suffix != "" {
		b, _ = splitGlued(b)
	}
	t, kind := clock.numeral(b)
	if kind != readNumber {
		return math.NaN()
	}
	for _, ch := range m {
		if ch.column.index < len(row) {
			if v, kind := ch.column.read(row[ch.column.index], missingMarks); kind == readNumber {
				ch.t, ch.v = append(ch.t, t), append(ch.v, v)
			}
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
