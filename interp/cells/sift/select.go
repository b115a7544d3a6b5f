package sift

import (
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Selection is what a [Selector] did to a log.
type Selection struct {
	*drivelog.Reading
	Instants int              // that were looked at
	Dropped  []tables.Dropped // by reason, in the order in which they are asked
	Notes    []string         // filters skipped, and cautions
}

// Selector takes part in a scan and tells for each instant whether it is evidence. It asks
// the filters about each instant, and holds frames back while it is not certain which
// instants make up whole limit cycles.
type Selector struct {
	bounds
	log     *drivelog.Log
	query   *drivelog.Query
	fn      func(*drivelog.Frame, []Reason) error
	notes   tables.Notes
	status  int // column of the fuel status where the loop must be closed, and of the trim
	short   int // whose whole cycles count; −1 where any instant does
	dropped [pending]int

	blocks  []*block
	count   int // instants so far
	stretch int

	turns       turns
	pend        int     // first instant not decided; count where all are
	pendTime    float64 // its time
	segment     bool    // whether the instants before this one were kept
	firstValley int
	copies      []*drivelog.Frame // that may be written over
}

// NewSelector selects from a log that is then scanned with the selector's reader: an
// instant is evidence where a condition holds ("" is none) and every filter keeps it.
// fn gets each frame, its first columns those of the query, with a reason for each
// instant, [Kept] for evidence; neither is valid after the call.
func NewSelector(log *drivelog.Log, q drivelog.Query, where string, opt FilterOptions, fn func(*drivelog.Frame, []Reason) error) (*Selector, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	q.Columns = slices.Clone(q.Columns)
	s := &Selector{bounds: opt.bounds(), log: log, query: &q, fn: fn, status: -1, short: -1}
	if where != "" {
		s.askWhere(where)
	}
	return s, s.ask(opt)
}

// Reader is the selector's part in a scan.
func (s *Selector) Reader() drivelog.Reader {
	return drivelog.Reader{Query: *s.query, Frame: s.frame}
}

// End hands over what was still held back, and says what was selected.
func (s *Selector) End(reading *drivelog.Reading) (*Selection, error) {
	err := s.finish()
	sel := &Selection{Reading: reading, Instants: s.count, Notes: s.notes}
	for r, n := range s.dropped {
		if n > 0 {
			sel.Dropped = append(sel.Dropped, tables.Dropped{Reason: Reason(r).String(), Count: n})
		}
	}
	return sel, err
}

// block is a frame on its way through the selector.
type block struct {
	frame *drivelog.Frame
	start int // the number of its first instant in the log
	why   []Reason
	held  bool // the frame is a copy
}

// Whether an instant belongs to a whole limit cycle is known only when the trim has turned
// again, some seconds later. Its frame is copied and waits; all others go straight through.

func (s *Selector) frame(f *drivelog.Frame) error {
	b := &block{frame: f, start: s.count, why: make([]Reason, f.N)}
	s.blocks = append(s.blocks, b)
	why := b.why
	if s.status >= 0 && slices.Contains(f.Columns[s.status].Value, 16) {
		s.notes.Add("fuel status 16 (closed loop with a fault) counts as closed loop here; it is no evidence for a correction")
	}
	// The filters see every instant, also those that a condition leaves out: the engine was
	// there all the same.
	for _, said := range f.Said {
		for i, r := range said[:len(why)] {
			if why[i] == Kept {
				why[i] = Reason(r)
			}
		}
	}
	if s.short < 0 {
		s.count += f.N
		s.pend = s.count
		return s.release()
	}
	for i, stretch := range f.Stretch {
		if s.segment || b.why[i] == Kept {
			s.cycle(b, i, stretch != s.stretch)
		}
		s.stretch = stretch
		s.count++
	}
	if !s.segment {
		s.pend = s.count
	}
	return s.release()
}

// cycle holds an instant that is kept so far until a limit cycle is whole.
func (s *Selector) cycle(b *block, i int, first bool) {
	f, n := b.frame, s.count
	if s.segment && (first || b.why[i] != Kept) {
		s.endSegment()
	}
	if b.why[i] != Kept {
		return
	}
	if !s.segment {
		s.segment, s.turns, s.pend, s.pendTime = true, turns{}, n, f.Since[i]
	}
	b.why[i] = pending
	c := f.Columns[s.short]
	if v := c.Value[i]; c.Fresh[i] && v == v && s.turns.next(v, n) {
		switch s.turns.valleys {
		case 1:
			s.firstValley = s.turns.at
		case 2:
			s.decide(s.firstValley, PartCycle)
			fallthrough
		default:
			s.decide(s.turns.at, Kept)
		}
		s.pendTime = f.Since[i]
	}
	if f.Since[i]-s.pendTime > longestPending+drivelog.Tick {
		s.decide(n+1, Kept)
		s.segment = false
	}
}

// endSegment decides what is left of a run of kept instants: the beginning of a
// cycle that was not finished, or all of it where no cycle was seen.
func (s *Selector) endSegment() {
	why := Kept
	if s.turns.valleys >= 2 {
		why = PartCycle
	}
	s.decide(s.count, why)
	s.segment, s.turns = false, turns{}
}

// decide gives the undecided instants before a number their reason.
func (s *Selector) decide(before int, why Reason) {
	// From the newest block back: most decisions concern the last few instants.
	for k := len(s.blocks) - 1; k >= 0; k-- {
		b := s.blocks[k]
		for i := max(s.pend, b.start); i < min(before, b.start+len(b.why)); i++ {
			if b.why[i-b.start] == pending {
				b.why[i-b.start] = why
			}
		}
		if b.start <= s.pend {
			break
		}
	}
	s.pend = max(s.pend, before)
}

// release delivers the frames that are decided whole and keeps copies of the
// others.
func (s *Selector) release() error {
	done := 0
	for done < len(s.blocks) && s.blocks[done].start+len(s.blocks[done].why) <= s.pend {
		b := s.blocks[done]
		// The reasons are counted here, when they are final, and not where they are given: a
		// sample that waits for its limit cycle has none yet.
		for _, r := range b.why {
			if r != Kept {
				s.dropped[r]++
			}
		}
		if err := s.fn(b.frame, b.why); err != nil {
			return err
		}
		if b.held {
			s.copies = append(s.copies, b.frame)
		}
		done++
	}
	s.blocks = slices.Delete(s.blocks, 0, done)
	if n := len(s.blocks); n > 0 {
		s.blocks[n-1].frame, s.blocks[n-1].held = s.copy(s.blocks[n-1].frame), true
	}
	return nil
}

// finish decides and delivers what is left when the log ends.
func (s *Selector) finish() error {
	s.endSegment()
	return s.release()
}

// copy is a frame of its own, in the room of one that was delivered.
func (s *Selector) copy(f *drivelog.Frame) *drivelog.Frame {
	c := &drivelog.Frame{Columns: make([]drivelog.Column, len(f.Columns))}
	if last := len(s.copies) - 1; last >= 0 {
		c, s.copies = s.copies[last], s.copies[:last]
	}
	c.N, c.Line, c.Time, c.Since, c.Stretch = f.N, append(c.Line[:0], f.Line...), append(c.Time[:0], f.Time...), append(c.Since[:0], f.Since...), append(c.Stretch[:0], f.Stretch...)
	for i, from := range f.Columns {
		to := &c.Columns[i]
		to.Value, to.Fresh = append(to.Value[:0], from.Value...), append(to.Fresh[:0], from.Fresh...)
	}
	return c
}
