package dialect

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
)

// A clock that is a plain number without a unit is read in the one unit that
// makes a possible logger and a possible engine. Where two units are left, it is
// refused.

// ClockUnit is a unit in which loggers write such a clock.
type ClockUnit struct {
	Name, word string
	PerSecond  float64
	common     int // how usual it is beside the others
	places     int // decimals without which it could not tell rows apart: it steps by 0.1 s or less
}

// clockUnits are from the finest to the coarsest.
var clockUnits = []ClockUnit{
	{"ns", "nanoseconds", 1e9, 1, 0},
	{"us", "microseconds", 1e6, 2, 0},
	{"ms", "milliseconds", 1e3, 3, 0},
	{"s", "seconds", 1, 4, 0},
	{"min", "minutes", 1.0 / 60, 2, 3},
	{"h", "hours", 1.0 / 3600, 1, 5},
	{"days", "days", 1.0 / 86400, 0, 6},
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

// Swing is how fast a channel moves through half of the range in which it was,
// at its fastest, on the log's clock. A logger repeats a value until it hears
// another: so a move took no longer than from the value's first row, and no less
// than from its last.
type Swing struct {
	band            *swingBand
	atLeast, atMost float64
}

// swingBand is how fast a channel of an engine moves at its fastest in a drive,
// per second: surely not under least and not over most; from low to high as a
// rule. Common practice, no source: a free engine gains some 10,000 r/min a
// second, a gear change takes 1,000 r/min in half of one.
type swingBand struct {
	Channel                string
	span                   float64 // less of a range says nothing
	least, low, high, most float64
}

// SwingBands are the channels that move in every drive.
var SwingBands = []swingBand{
	{"engine_speed", 300, 3, 50, 8000, 40000},
	{"throttle", 20, 0.5, 15, 1000, 5000},
	{"speed", 20, 0.03, 0.5, 50, 300},
}

// Timed are a channel's readings with their times on the log's clock.
type Timed struct {
	Band *swingBand
	t, v []float64
}

// Add adds a reading.
func (s *Timed) Add(t, v float64) { s.t, s.v = append(s.t, t), append(s.v, v) }

// swingRows is the least evidence on which a clock is judged.
const swingRows = 100 // fewer say nothing

// Swing finds how fast the channel moves; false where it hardly does.
func (s *Timed) Swing() (Swing, bool) {
	n, sorted := len(s.v), slices.Sorted(slices.Values(s.v))
	if n < swingRows {
		return Swing{}, false
	}
	// The outer twentieths of the range are left out: a glitch is no swing.
	half := (sorted[n-1-n/20] - sorted[n/20]) / 2
	if 2*half < s.Band.span {
		return Swing{}, false
	}
	changes := Timed{Band: s.Band}
	for i, v := range s.v {
		if i == 0 || v != s.v[i-1] {
			changes.Add(s.t[i], v)
		}
	}
	fastest, inOneRow := s.shortest(half, false)
	slowest, _ := changes.shortest(half, true)
	w := Swing{s.Band, half / slowest, half / fastest}
	if inOneRow {
		w.atMost = math.Inf(1) // between the rows it may have been as fast as it likes
	}
	return w, !math.IsInf(fastest, 1)
}

// shortest is the shortest time in which the values move so far; lasting, where
// both ends of the move stand for two values: one alone may be a glitch.
func (s *Timed) shortest(far float64, lasting bool) (best float64, inOneRow bool) {
	best = math.Inf(1)
	for i := 1; i < len(s.v); i++ {
		for j := i + 1; j+1 < len(s.v) && j-i < 5000 && s.t[j] >= s.t[j-1] && s.t[j]-s.t[i] < best; j++ {
			if s.t[j] > s.t[i] && math.Abs(s.v[j]-s.v[i]) >= far && (!lasting || math.Abs(s.v[j+1]-s.v[i-1]) >= far) {
				best, inOneRow = s.t[j]-s.t[i], j == i+1
			}
		}
	}
	return best, inOneRow
}

// likelihood is what a unit makes of the log.
type likelihood int

const (
	impossible likelihood = iota
	doubtful
	possible
)

// in judges a swing where so many of the clock's units are a second.
func (s Swing) in(perSecond float64) likelihood {
	switch slowest, fastest := s.atLeast*perSecond, s.atMost*perSecond; {
	case slowest > s.band.most, fastest < s.band.least:
		return impossible
	case slowest > s.band.high, fastest < s.band.low:
		return doubtful
	}
	return possible
}

// Pace is what a time column's cells tell of how it goes, and the engine with it.
type Pace struct {
	First, Step, Span float64 // on the log's clock
	Zone              int     // s that its first date names
	places            int     // decimals, zeros at the end aside
	Times, Changes    int     // that are in the cells; of one to the next
	Whole             bool    // the log ends with them
	Moving            []Timed // channels of which swings are known
	swings            []Swing // of these
}

// Steps is a clock's median step, 0 without any, and how far it goes on in all. What
// goes back or stands still is no step.
func Steps(times []float64) (median, span float64) {
	var steps []float64
	for i := 1; i < len(times); i++ {
		if step := times[i] - times[i-1]; step > 0 {
			steps, span = append(steps, step), span+step
		}
	}
	if len(steps) == 0 {
		return 0, 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2], span
}

// Pace looks at the cells of a clock, in the log's order.
func (c *Notation) Pace(clk *clock, cells [][]byte) Pace {
	p, as := Pace{First: math.NaN()}, *c
	as.Clock = clk
	var times []float64
	for _, b := range cells {
		if v, kind := as.bare(b); kind == ReadNumber {
			if n := len(times); n > 0 && v != times[n-1] {
				p.Changes++
			}
			if len(times) == 0 {
				_, p.Zone, _ = isoParts(b)
			}
			times = append(times, v)
			_, decimals, _ := bytes.Cut(b, []byte{c.Decimal})
			p.places = max(p.places, len(bytes.TrimRight(decimals, "0")))
		}
	}
	if p.Times = len(times); p.Times > 0 {
		p.First = times[0]
	}
	p.Step, p.Span = Steps(times)
	return p
}

// Look finds how fast what moves does so, and reports whether anything moves enough.
func (p *Pace) Look() bool {
	p.swings = nil
	for i := range p.Moving {
		if s, ok := p.Moving[i].Swing(); ok {
			p.swings = append(p.swings, s)
		}
	}
	return len(p.swings) > 0
}

// Unit is the unit of the clock, and how it was found.
func (p *Pace) Unit() (u ClockUnit, why string, err error) {
	if p.Step == 0 {
		return clockUnits[3], "seconds, assumed", nil
	}
	left := unitsWhere(clockUnits, p.logs)
	if len(left) > 1 {
		left = p.choose(left)
	}
	switch len(left) {
	case 0:
		return u, "", fmt.Errorf("steps of %s are no logger's in any unit of time: --time-format", tables.Digits(p.Step, 5))
	case 1:
		switch u = left[0]; {
		case !p.date(u):
			why = fmt.Sprintf("%s, from steps of %s", u.word, tables.Digits(p.Step, 5))
		case u.Name == "days":
			why = "days as spreadsheets count them, from the numbers"
		default:
			why = u.word + " since 1970, from the numbers"
		}
		return u, why, nil
	}
	var words, names []string
	for _, u := range slices.Backward(left) {
		words, names = append(words, u.word), append(names, u.Name)
	}
	return u, "", fmt.Errorf("steps of %s may be %s: --time-format %s", tables.Digits(p.Step, 5), strings.Join(words, " or "), strings.Join(names, " or "))
}

// unitsWhere are the units of a list of which is holds.
func unitsWhere(list []ClockUnit, is func(u ClockUnit) bool) []ClockUnit {
	return slices.DeleteFunc(slices.Clone(list), func(u ClockUnit) bool { return !is(u) })
}

// logs reports whether a logger with this unit is possible.
func (p *Pace) logs(u ClockUnit) bool {
	step := p.Step / u.PerSecond
	return step >= fastestStep && step < slowestStep && p.places >= u.places &&
		(math.Abs(p.First)/u.PerSecond <= longestUptime || p.date(u))
}

// date reports whether the clock gives the date: as seconds since 1970, or in a
// spreadsheet's days.
func (p *Pace) date(u ClockUnit) bool {
	s := p.First / u.PerSecond
	if u.Name == "days" {
		s -= spreadsheetEpoch * 86400
	}
	return s >= firstDate && s <= lastDate && (u.PerSecond >= 1 || u.Name == "days")
}

// usual reports whether most loggers write rows as fast as this with the unit.
func (p *Pace) usual(u ClockUnit) bool {
	step := p.Step / u.PerSecond
	return step >= usualFastest && step <= usualSlow
}

// engine is what a unit makes of the engine: the worst of what its channels say.
func (p *Pace) engine(u ClockUnit) likelihood {
	worst := possible
	for _, s := range p.swings {
		worst = min(worst, s.in(u.PerSecond))
	}
	return worst
}

// A clock in the wrong unit makes every rate, delay and settling time wrong by a factor of
// 60 or 1000, and every count right; nothing further on would show it.

// choose takes the one unit of several that makes a possible engine. Another that
// is doubtful stands aside for it where it is less common, or no usual logger's.
func (p *Pace) choose(left []ClockUnit) []ClockUnit {
	if len(p.swings) == 0 {
		return p.assume(left)
	}
	// A unit that makes a possible engine is taken only if no other is nearly as likely: a
	// drive of seconds and one of minutes can look alike, and the wrong one would move every
	// rate by a factor of 60.
	good := unitsWhere(left, func(u ClockUnit) bool { return p.engine(u) == possible })
	if usual := unitsWhere(good, p.usual); len(usual) == 1 {
		good = usual
	}
	if len(good) != 1 {
		return left
	}
	return unitsWhere(left, func(u ClockUnit) bool {
		return u == good[0] || p.engine(u) == doubtful && p.usual(u) && u.common >= good[0].common
	})
}

// assume takes seconds where no engine moves: if nothing else is left but finer
// units in which the whole log lasts no time worth logging, or, of a log without
// any engine, what no usual logger writes.
func (p *Pace) assume(left []ClockUnit) []ClockUnit {
	likely := unitsWhere(left, func(u ClockUnit) bool {
		tooShort := p.Whole && u.PerSecond > 1 && p.Span/u.PerSecond < shortestLog
		return u.PerSecond == 1 || !tooShort && (len(p.Moving) > 0 || p.usual(u))
	})
	if p.Step <= slowSeconds && len(likely) == 1 && likely[0].PerSecond == 1 {
		return likely
	}
	return left
}
