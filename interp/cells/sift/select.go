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

// Selector takes part in a scan and tells for each instant whether it is evidence.
type Selector struct {
	picker
	query    drivelog.Query
	instants int
	dropped  [pending]int
}

// NewSelector selects from a log that is then scanned with the selector's reader: an
// instant is evidence where a condition holds ("" is none) and every filter keeps it.
// fn gets each frame, its first columns those of the query, with a reason for each
// instant, [Kept] for evidence; neither is valid after the call.
func NewSelector(log *drivelog.Log, q drivelog.Query, where string, opt FilterOptions, fn func(*drivelog.Frame, []Reason) error) (*Selector, error) {
	s := &Selector{query: drivelog.Query{Columns: slices.Clone(q.Columns)}, picker: picker{where: -1, short: -1}}
	if where != "" {
		s.where = s.query.Ask(where)
	}
	var err error
	if s.filterChain, err = newFilterChain(opt, log, &s.query); err != nil {
		return nil, err
	}
	if asked, _ := opt.asks(Cycles); asked {
		if s.short = s.optional("short_trim_1"); s.short < 0 {
			s.short = s.optional("short_trim_2")
		}
	}
	// The reasons are counted here, when they are final, and not where they are given: a
	// sample that waits for its limit cycle has none yet.
	s.deliver = func(b *block) error {
		s.instants += b.frame.N
		for _, r := range b.why {
			if r != Kept {
				s.dropped[r]++
			}
		}
		return fn(b.frame, b.why)
	}
	return s, nil
}

// Reader is the selector's part in a scan.
func (s *Selector) Reader() drivelog.Reader {
	return drivelog.Reader{Query: s.query, Frame: s.frame}
}

// End hands over what was still held back, and says what was selected.
func (s *Selector) End(reading *drivelog.Reading) (*Selection, error) {
	err := s.finish()
	sel := &Selection{Reading: reading, Instants: s.instants, Notes: append(s.notes, s.cautions()...)}
	for r, n := range s.dropped {
		if n > 0 {
			sel.Dropped = append(sel.Dropped, tables.Dropped{Reason: Reason(r).String(), Count: n})
		}
	}
	return sel, err
}

// block is a frame on its way through the picker.
type block struct {
	frame *drivelog.Frame
	start int // the number of its first instant in the log
	why   []Reason
	held  bool // the frame is a copy
}

// Whether an instant belongs to a whole limit cycle is known only when the trim has turned
// again, some seconds later. Its frame is copied and waits; all others go straight through.

// picker asks the filters about each instant, and holds frames back while it
// is not certain which instants make up whole limit cycles.
type picker struct {
	*filterChain
	where, short int // columns; −1 where there is none
	deliver      func(*block) error
	blocks       []*block
	count        int // instants so far
	stretch      int
	any          bool
	now          instant

	turns       turns
	pend        int     // first instant not decided; count where all are
	pendTime    float64 // its time
	segment     bool    // whether the instants before this one were kept
	firstValley int
	spare       [][]Reason
	copies      []*drivelog.Frame // that may be written over
}

func (p *picker) frame(f *drivelog.Frame) error {
	b := &block{frame: f, start: p.count, why: p.reasons(f.N)}
	p.blocks = append(p.blocks, b)
	p.askWhere(b)
	if len(p.steps) == 0 && p.short < 0 {
		p.count += f.N
		p.pend = p.count
		return p.release()
	}
	p.now.columns = f.Columns
	for i := range f.N {
		r := b.why[i]
		first := !p.any || f.Stretch[i] != p.stretch
		p.any, p.stretch = true, f.Stretch[i]
		// The filters see every instant, also those that a condition leaves out: the engine was
		// there all the same.
		p.now.time, p.now.first, p.now.i = f.Time[i], first, i
		if sifted := p.next(&p.now); r == Kept {
			r = sifted
		}
		b.why[i] = r
		if p.short >= 0 {
			p.cycle(b, i, first)
		}
		p.count++
	}
	if p.short < 0 {
		p.pend = p.count
	}
	return p.release()
}

// askWhere gives each instant of a frame its first reason.
func (p *picker) askWhere(b *block) {
	if p.where < 0 {
		clear(b.why)
		return
	}
	why := b.why
	for i, v := range b.frame.Columns[p.where].Value[:len(why)] {
		r := Kept
		if v != 1 && (v == 0 || v != v) {
			r = NotWhere
		}
		why[i] = r
	}
}

// reasons is room for a frame's reasons, used again when its frame was delivered.
func (p *picker) reasons(n int) []Reason {
	last := len(p.spare) - 1
	if last < 0 || cap(p.spare[last]) < n {
		return make([]Reason, n)
	}
	why := p.spare[last][:n]
	p.spare = p.spare[:last]
	return why
}

// cycle holds an instant that is kept so far until a limit cycle is whole.
func (p *picker) cycle(b *block, i int, first bool) {
	f, n := b.frame, p.count
	if first || b.why[i] != Kept {
		p.endSegment()
	}
	if b.why[i] != Kept {
		p.pend = n + 1
		return
	}
	if !p.segment {
		p.segment, p.turns, p.pend, p.pendTime = true, turns{}, n, f.Time[i]
	}
	b.why[i] = pending
	c := f.Columns[p.short]
	if v := c.Value[i]; c.Fresh[i] && v == v && p.turns.next(v, n) {
		switch p.turns.valleys {
		case 1:
			p.firstValley = p.turns.at
		case 2:
			p.decide(p.firstValley, PartCycle)
			fallthrough
		default:
			p.decide(p.turns.at, Kept)
		}
		p.pendTime = f.Time[i]
	}
	if f.Time[i]-p.pendTime > longestPending {
		p.decide(n+1, Kept)
		p.segment = false
	}
}

// endSegment decides what is left of a run of kept instants: the beginning of a
// cycle that was not finished, or all of it where no cycle was seen.
func (p *picker) endSegment() {
	why := Kept
	if p.turns.valleys >= 2 {
		why = PartCycle
	}
	p.decide(p.count, why)
	p.segment, p.turns = false, turns{}
}

// decide gives the undecided instants before a number their reason.
func (p *picker) decide(before int, why Reason) {
	// From the newest block back: most decisions concern the last few instants.
	for k := len(p.blocks) - 1; k >= 0; k-- {
		b := p.blocks[k]
		for i := max(p.pend, b.start); i < min(before, b.start+len(b.why)); i++ {
			if b.why[i-b.start] == pending {
				b.why[i-b.start] = why
			}
		}
		if b.start <= p.pend {
			break
		}
	}
	p.pend = max(p.pend, before)
}

// release delivers the frames that are decided whole and keeps copies of the
// others.
func (p *picker) release() error {
	done := 0
	for done < len(p.blocks) && p.blocks[done].start+len(p.blocks[done].why) <= p.pend {
		b := p.blocks[done]
		if err := p.deliver(b); err != nil {
			return err
		}
		if p.spare = append(p.spare, b.why); b.held {
			p.copies = append(p.copies, b.frame)
		}
		done++
	}
	p.blocks = slices.Delete(p.blocks, 0, done)
	if n := len(p.blocks); n > 0 {
		p.blocks[n-1].frame, p.blocks[n-1].held = p.copy(p.blocks[n-1].frame), true
	}
	return nil
}

// finish decides and delivers what is left when the log ends.
func (p *picker) finish() error {
	p.endSegment()
	return p.release()
}

// copy is a frame of its own, in the room of one that was delivered.
func (p *picker) copy(f *drivelog.Frame) *drivelog.Frame {
	c := &drivelog.Frame{Columns: make([]drivelog.Column, len(f.Columns))}
	if last := len(p.copies) - 1; last >= 0 {
		c, p.copies = p.copies[last], p.copies[:last]
	}
	c.N, c.Line, c.Time, c.Stretch = f.N, append(c.Line[:0], f.Line...), append(c.Time[:0], f.Time...), append(c.Stretch[:0], f.Stretch...)
	for i, from := range f.Columns {
		to := &c.Columns[i]
		to.Value, to.Fresh = append(to.Value[:0], from.Value...), append(to.Fresh[:0], from.Fresh...)
	}
	return c
}

// cautions are what a person has to know of samples that were kept.
func (s *filterChain) cautions() []string {
	if s.status16 {
		return []string{"fuel status 16 (closed loop with a fault) counts as closed loop here; it is no evidence for a correction"}
	}
	return nil
}
