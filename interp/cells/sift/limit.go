package sift

import (
	"math"
	"slices"

	"calsplice/tables/drivelog"
)

// rawTrims are the trims that a controller holds and limits; what else is
// called a trim is computed from them.
var rawTrims = []string{"short_trim_1", "long_trim_1", "short_trim_2", "long_trim_2"}

// leastLimit is the least size of a trim that stands at a limit, in %, where
// the limit is not given: a limit cycle's own peaks are no limit.
const leastLimit = 8

// The trims and their two sides each are a bit of a mask: at most instants no bit is set,
// and that one comparison is all that an instant costs.

// What standing still means: this many readings and this long, at least.
const (
	stillReadings = 10
	stillSeconds  = 2
)

// TrimsBehind lists which raw trims stand behind a channel: by index into
// rawTrims, as a mask. Each definition is looked at once, for it uses those before
// it.
func TrimsBehind(channel string, let []drivelog.Definition) uint8 {
	defined := map[string]uint8{}
	behind := func(names []string) (mask uint8) {
		for _, n := range names {
			if m, ok := defined[n]; ok {
				mask |= m
			} else {
				mask |= trimsOf(n)
			}
		}
		return mask
	}
	for _, l := range let {
		defined[l.Name] = behind(l.Names())
	}
	return behind(drivelog.Definition{Expr: channel}.Names())
}

// trimsOf is TrimsBehind of a channel that is not defined by an expression.
func trimsOf(channel string) uint8 {
	switch channel {
	case "trim":
		return 0b1111
	case "trim_1":
		return 0b0011
	case "trim_2":
		return 0b1100
	}
	if i := slices.Index(rawTrims, channel); i >= 0 {
		return 1 << i
	}
	return 0
}

// Limiter finds the samples at which a raw trim stands still at its extreme of
// the log. What the extreme is, is known when the log ends; so samples are
// recorded while a trim stands at the furthest that it has been so far, and
// forgotten when it goes further.
type Limiter struct {
	limit    float64 // given; 0 is the log's own extreme
	sides    []side
	standing uint8         // sides at their extremes now, as a mask
	runs     int           // that have begun, of all sides
	behind   []uint8       // for each channel, the sides that bear on it
	records  [][]atExtreme // for each channel
}

// side is one end of one raw trim's range.
type side struct {
	column   int // in the frame
	short    int // of a long trim, the column of its bank's short one; else −1
	sign     float64
	extreme  float64 // furthest so far, times sign
	readings int
	from, to float64 // seconds of the run's first and last reading
	run      int     // the number of its run
	beside   moving  // the short trim over the run, times sign
}

// moving is the sum and the range of a trim's readings.
type moving struct{ sum, min, max float64 }

// add takes a reading.
func (m *moving) add(v float64) {
	m.sum += v
	m.min, m.max = min(m.min, v), max(m.max, v)
}

// quantum is the step of trims by SAE J1979, 100/128 %.
const quantum = 0.78125

// learned reports whether a long trim that stands still is where the controller
// wants it, and not at a limit: the short trim moves and needs no more on that
// side, so nothing asks the long one to go further.
func (s *side) learned() bool {
	return s.beside.max > s.beside.min && s.beside.sum < quantum*float64(s.readings)
}

// atExtreme is samples of one cell that were taken one after the other while
// the same sides stood at their extremes.
type atExtreme struct {
	cell   int
	weight float64
	sides  uint8
	run    int // the last run that had begun: later samples get a record of their own
}

// WatchLimits follows those raw trims of a log that stand behind channels, as masks
// over rawTrims, and asks for their columns.
func WatchLimits(log *drivelog.Log, limit float64, behind []uint8, q *drivelog.Query) *Limiter {
	var all uint8
	for _, mask := range behind {
		all |= mask
	}
	all |= all & 0b1010 >> 1 // a long trim's short one shows whether it is at a limit
	var at [4]int
	for i, raw := range rawTrims {
		at[i] = q.AskIf(all>>i&1 != 0 && log.Has(raw), raw)
	}
	return NewLimiter(limit, behind, at)
}

// NewLimiter is told where the frame has each raw trim, −1 where not.
func NewLimiter(limit float64, behind []uint8, columns [4]int) *Limiter {
	l := &Limiter{limit: limit, records: make([][]atExtreme, len(behind)), behind: make([]uint8, len(behind))}
	for raw, c := range columns {
		if c < 0 {
			continue
		}
		// Where the limit is given, a trim is at it or not, whatever the short one does.
		short := -1
		if raw%2 == 1 && limit == 0 {
			short = columns[raw-1]
		}
		for _, sign := range []float64{1, -1} {
			for ch, mask := range behind {
				if mask>>raw&1 != 0 {
					l.behind[ch] |= 1 << len(l.sides)
				}
			}
			l.sides = append(l.sides, side{column: c, short: short, sign: sign, extreme: math.Inf(-1)})
		}
	}
	return l
}

// From is the first instant of a frame, from i on, at which there is something
// for next: a trim stands at a limit, or reaches as far as one. Without any it
// is past the frame's last.
func (l *Limiter) From(f *drivelog.Frame, i int) int {
	if l.standing != 0 {
		return i
	}
	const together = 64 // instants, so that a trim far from its limits is not looked at again and again
	for ; i < f.N; i += together {
		first := min(i+together, f.N)
		for k := 0; k < len(l.sides); k += 2 {
			high, low := l.limit, -l.limit
			if l.limit == 0 { // what does not reach the extreme so far changes nothing
				high, low = max(leastLimit, l.sides[k].extreme), -max(leastLimit, l.sides[k+1].extreme)
			}
			for j, v := range f.Columns[l.sides[k].column].Value[i:first] {
				if v >= high || v <= low {
					first = i + j
					break
				}
			}
		}
		if first < min(i+together, f.N) {
			return first
		}
	}
	return f.N
}

// least is the least size of a trim at a limit.
func (l *Limiter) least() float64 {
	if l.limit == 0 {
		return leastLimit
	}
	return l.limit
}

// Next takes the trims of one instant. Most readings of most trims are far from
// any limit, and no trim stands at one.
func (l *Limiter) Next(f *drivelog.Frame, i int, first bool) {
	least := l.least()
	for k := 0; k < len(l.sides); k += 2 {
		c := &f.Columns[l.sides[k].column]
		v := c.Value[i]
		if v > -least && v < least && l.standing>>k&0b11 == 0 {
			continue
		}
		for j := k; j < k+2; j++ {
			if first || v != v {
				l.end(j)
			}
			if v == v && c.Fresh[i] {
				l.reading(f, i, j, v*l.sides[j].sign)
			}
		}
	}
}

// reading takes a new reading of a side's trim, times its sign.
func (l *Limiter) reading(f *drivelog.Frame, i, k int, v float64) {
	s := &l.sides[k]
	at := v >= l.limit
	if l.limit == 0 {
		// Further than ever: what was recorded as the extreme was none.
		if v > s.extreme {
			l.end(k)
			s.extreme = v
			l.forget(k, 0)
		}
		at = v == s.extreme && v >= leastLimit
	}
	if !at {
		l.end(k)
		return
	}
	// A run begins. Records made from here on are told apart by its number, so that they can
	// be forgotten without those before if it turns out to be too short.
	if l.standing>>k&1 == 0 {
		l.standing |= 1 << k
		s.readings, s.from = 0, f.Time[i]
		s.beside = moving{min: math.Inf(1), max: math.Inf(-1)}
		l.runs++
		s.run = l.runs
	}
	s.readings++
	s.to = f.Time[i]
	if s.short >= 0 && !math.IsNaN(f.Columns[s.short].Value[i]) {
		s.beside.add(float64(f.Columns[s.short].Value[i] * s.sign))
	}
}

// end ends a side's run and forgets it where it was too short, or no limit.
func (l *Limiter) end(k int) {
	if l.standing>>k&1 == 0 {
		return
	}
	if s := &l.sides[k]; !(s.readings >= stillReadings && drivelog.Lasted(s.from, s.to) >= stillSeconds) || s.learned() {
		l.forget(k, s.run)
	}
	l.standing &^= 1 << k
}

// forget takes a side from the records since a run began; from all since run 0.
func (l *Limiter) forget(k, run int) {
	for ch, records := range l.records {
		first, _ := slices.BinarySearchFunc(records, run, func(r atExtreme, run int) int { return r.run - run })
		for i := range records[first:] {
			records[first+i].sides &^= 1 << k
		}
		kept := slices.DeleteFunc(records[first:], func(r atExtreme) bool { return r.sides == 0 })
		l.records[ch] = records[:first+len(kept)]
	}
}

// Sample records a sample of a channel in a cell.
func (l *Limiter) Sample(channel, cell int, weight float64) {
	sides := l.standing & l.behind[channel]
	if sides == 0 {
		return
	}
	records := l.records[channel]
	if n := len(records); n > 0 {
		if r := &records[n-1]; r.cell == cell && r.sides == sides && r.run == l.runs {
			r.weight += weight
			return
		}
	}
	l.records[channel] = append(records, atExtreme{cell: cell, weight: weight, sides: sides, run: l.runs})
}

// Renumber gives the cells of the samples recorded so far other numbers.
func (l *Limiter) Renumber(to []int) {
	for _, records := range l.records {
		for i := range records {
			records[i].cell = to[records[i].cell]
		}
	}
}

// Finish gives what was recorded: now every extreme is the log's.
func (l *Limiter) Finish(record func(channel, cell int, weight float64)) {
	for k := range l.sides {
		l.end(k)
	}
	for ch, records := range l.records {
		for _, r := range records {
			record(ch, r.cell, r.weight)
		}
	}
}
