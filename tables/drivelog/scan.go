package drivelog

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"sync"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/formula"
	"calsplice/tables/drivelog/rows"
)

// Query names what a scan is to give.
type Query struct {
	Columns []string // channel names, derived names or expressions; a comparison is 1 or 0
	Judges  []Judge
}

// Judge says something of each instant from some columns, in the order of the log, for it
// may depend on the instants before.
type Judge struct {
	Name    string   // judges of one name are one, whoever asks
	Columns []string // as in Query
	New     func() func(f *Frame, said []uint8)
}

// Ask adds a column, once however often it is asked for, and is its place in a frame.
func (q *Query) Ask(column string) int {
	k := slices.Index(q.Columns, column)
	if k < 0 {
		k = len(q.Columns)
		q.Columns = append(q.Columns, column)
	}
	return k
}

// AskIf is Ask of a column that a log may lack: −1 where it does.
func (q *Query) AskIf(has bool, column string) int {
	if !has {
		return -1
	}
	return q.Ask(column)
}

// Reader takes part in a scan: what it asks for, and what gets each frame of it.
type Reader struct {
	Query
	Frame func(*Frame) error
}

// Frame is a run of consecutive instants in the log's order. It is valid only
// during the call that gets it.
type Frame struct {
	N       int
	Line    []int     // file line of the row; of an instant's first reading in the long form
	Time    []float64 // seconds, from the log's own clock; a midnight adds a day
	Since   []float64 // seconds since the log began, to the microsecond: the same by whatever clock
	Stretch []int     // increases where the clock steps back or restarts, and after a gap
	Columns []Column  // as in Query
	Said    [][]uint8 // by the query's judges, of each instant
}

// Lasted is how long it was from one time to another, to the microsecond: 0.8 − 0.4 s is
// 0.4 s, whether a clock counts from 0 or from 1970.
func Lasted(from, to float64) float64 { return math.Floor((to-from)*1e6+0.5) / 1e6 }

// Tick is the time, s, that lies between no two instants. Where a bound of a time is compared
// for each instant, it is reached up to so much: that costs less than [Lasted].
const Tick = 1e-6

// Column is one value of a query over the instants of a frame.
type Column struct {
	Value []float64 // as of the instant; NaN where an input has no reading that still stands
	Fresh []bool    // at least one of its inputs was read anew at this instant
}

// Reading is what a scan went through.
type Reading struct {
	Rows   int      // data rows; readings in the long form
	Faults []Fault  // defects of the time and of the columns that the query needed
	Notes  []string // what was assumed
}

// Scan reads the log once and hands the query's values to fn, frame by frame
// in the log's order, one at a time and on a goroutine of its own. An error of fn ends the
// scan and is returned as it is.
func (l *Log) Scan(ctx context.Context, q Query, fn func(*Frame) error) (*Reading, error) {
	return l.ScanFor(ctx, Reader{q, fn})
}

// ScanFor is one [Log.Scan] for several readers: each gets its own columns of a
// frame, on a goroutine of its own, while the others do and while the next frames are
// made. The reading is of what all of them needed.
func (l *Log) ScanFor(ctx context.Context, readers ...Reader) (*Reading, error) {
	if l.clockErr != nil {
		return nil, l.clockErr
	}
	s := &scanner{l: l, p: l.newPlan()}
	s.p.assume(l.clock)
	for _, r := range readers {
		p := s.part(r.Columns)
		p.fn = r.Frame
		for _, j := range r.Judges {
			k := slices.IndexFunc(s.judges, func(o judge) bool { return o.name == j.Name })
			if k < 0 {
				k = len(s.judges)
				s.judges = append(s.judges, judge{s.part(j.Columns), j.Name, j.New()})
			}
			p.judges = append(p.judges, k)
		}
		s.parts = append(s.parts, p)
	}
	if err := s.faults.Err(); err != nil {
		return nil, err
	}
	s.tally.Merge(&l.faults, 0)
	s.a = rows.NewAligner(len(s.p.inputs), l.alignment(), &s.tally)
	s.stale = make([][]int32, len(s.p.inputs))
	for i := range s.ahead {
		w := &s.ahead[i]
		w.machine.In, w.Columns, w.errs = make([][]float64, len(s.p.inputs)), make([]Column, len(s.programs)), make([]error, len(s.parts))
		w.Said = make([][]uint8, len(s.judges))
	}
	if l.opt.Overlaps != nil {
		s.marks = &footmarks{columns: strings.Join(s.asked.Columns, "\x00"), first: math.Inf(1), last: math.Inf(-1), kept: map[footmark]float64{}}
	}
	if err := s.inLanes(func() error { return l.eachBatch(ctx, append([]*channel.Column{l.clock}, s.p.inputs...), s.frame) }); err != nil {
		return nil, err
	}
	if s.marks != nil {
		l.opt.Overlaps.finish(l.name, s.marks)
	}
	return &Reading{Rows: s.rows, Faults: s.tally.List(s.a.GapOver), Notes: s.p.notes()}, nil
}

// scanner is one scan under way.
type scanner struct {
	began    float64 // the first time
	l        *Log
	p        *plan
	asked    Query
	programs []*program // of what is asked, each computed once, whoever asks for it
	faults   tables.Faults
	judges   []judge
	parts    []part
	a        *rows.Aligner
	stale    [][]int32 // by input, the instants of the frame at which it was not read anew
	trues    []bool
	tally    rows.Tally
	rows     int
	marks    *footmarks
	ahead    [3]workFrame // that readers have, and that is being made
	frames   int          // that were handed over
}

// part is one reader's part of a scan: its frame, which it may lay out anew, and
// of which programs its columns are.
type part struct {
	fn      func(*Frame) error
	columns []int
	judges  []int
	f       Frame
	lane    chan *workFrame
}

// judge is a column that a reader computes, and its own part of the scan.
type judge struct {
	part
	name string
	take func(f *Frame, said []uint8)
}

// workFrame is a frame of every program and judge, and the room that it is made in.
type workFrame struct {
	Frame
	machine formula.Machine
	readers sync.WaitGroup // that have it
	errs    []error        // of readers
}

// part is a reader's part of the scan. A column that several ask for is computed once; each
// fault is told, not only the first.
func (s *scanner) part(columns []string) (p part) {
	for _, c := range columns {
		k := s.asked.Ask(c)
		if k == len(s.programs) {
			s.compile(c)
		}
		p.columns = append(p.columns, k)
	}
	return p
}

// compile makes one more program, for a column that some reader asks for.
func (s *scanner) compile(column string) {
	pr, err := s.p.compile(column)
	s.programs = append(s.programs, pr)
	f, ok := err.(*tables.Fault)
	if err != nil && !ok {
		f = &tables.Fault{File: s.l.name, What: err.Error()}
	}
	if err != nil {
		s.faults = append(s.faults, f)
	}
}

// A scan's buffers are made once and used again: of a log of millions of rows, each
// frame's own would be most of the work.

// frame aligns one batch, of the clock and the inputs, and hands it over; the
// batch's lines count from base.
func (s *scanner) frame(b *rows.Batch, base int) error {
	s.rows += b.Read
	s.tally.Merge(&b.Faults, base)
	f := &s.ahead[s.frames%len(s.ahead)]
	f.readers.Wait()
	if err := cmp.Or(f.errs...); err != nil {
		return err
	}
	s.a.Time, s.a.Stretches = f.Time, f.Stretch
	b.DropUntimed(0, base, &s.tally)
	s.a.Clock(b, 0, base)
	f.N, f.Time, f.Stretch = b.N, s.a.Time, s.a.Stretches
	if b.N == 0 {
		return nil
	}
	if s.frames == 0 {
		s.began = f.Time[0]
	}
	f.Since = rows.Resize(f.Since, b.N)
	for i, t := range f.Time {
		f.Since[i] = Lasted(s.began, t)
	}
	m := &f.machine
	m.Begin(s.frames+1, b.N)
	m.Time = f.Time
	for k := range m.In {
		s.stale[k] = s.a.Fill(k, b.Vals[1+k], b.Gaps[1+k])
		m.In[k], b.Vals[1+k] = b.Vals[1+k], m.In[k] // the batch gets other room
	}
	f.Line = rows.Resize(f.Line, b.N)
	for i, n := range b.Line {
		f.Line[i] = base + int(n)
	}
	for _, check := range s.p.checks {
		if err := check(f); err != nil {
			return err
		}
	}
	for i, pr := range s.programs {
		f.Columns[i].Value = pr.run(m)
		f.Columns[i].Fresh = s.fresh(pr, f.N, f.Columns[i].Fresh)
	}
	for i := range s.judges {
		j := &s.judges[i]
		f.Said[i] = rows.Resize(f.Said[i], f.N)
		j.take(j.layOut(f), f.Said[i])
	}
	if s.marks != nil {
		s.marks.add(&f.Frame)
	}
	return s.handOver(f)
}

// handOver gives a frame to all readers at the same time. Several look at it while the
// next one is made.
func (s *scanner) handOver(f *workFrame) error {
	s.frames++
	f.readers.Add(len(s.parts))
	for i := range s.parts {
		s.parts[i].lane <- f
	}
	return nil
}

// inLanes gives each reader a goroutine while a log is read. Each gets the
// frames in order; what one fails on is told before what comes later in the log.
func (s *scanner) inLanes(read func() error) error {
	var lanes sync.WaitGroup
	for i := range s.parts {
		p := &s.parts[i]
		p.lane = make(chan *workFrame, len(s.ahead))
		lanes.Go(func() {
			var err error
			for f := range p.lane {
				if err == nil {
					err = p.fn(p.layOut(f))
				}
				f.errs[i] = err
				f.readers.Done()
			}
		})
	}
	err := read()
	for i := range s.parts {
		close(s.parts[i].lane)
	}
	lanes.Wait()
	for i := range s.ahead {
		older := &s.ahead[(s.frames+i)%len(s.ahead)]
		if failed := cmp.Or(older.errs...); failed != nil {
			return failed
		}
	}
	return err
}

// layOut is a part's own columns of a frame.
func (p *part) layOut(f *workFrame) *Frame {
	p.f = Frame{f.N, f.Line, f.Time, f.Since, f.Stretch, p.f.Columns[:0], p.f.Said[:0]}
	for _, k := range p.columns {
		p.f.Columns = append(p.f.Columns, f.Columns[k])
	}
	for _, k := range p.judges {
		p.f.Said = append(p.f.Said, f.Said[k])
	}
	return &p.f
}

// fresh is where at least one input of a program was read anew.
func (s *scanner) fresh(pr *program, n int, buf []bool) []bool {
	for len(s.trues) < n {
		s.trues = append(s.trues, true)
	}
	buf = append(buf[:0], s.trues[:n]...)
	// Few instants are stale: only those are looked at.
	switch {
	case len(pr.inputs) == 0:
		clear(buf)
	case pr.inputs[0] != timeInput:
		for _, i := range s.stale[pr.inputs[0]] {
			buf[i] = slices.ContainsFunc(pr.inputs[1:], func(k int) bool { return !in(s.stale[k], i) })
		}
	}
	return buf
}

// in reports whether a number is in a list in order.
func in(list []int32, n int32) bool {
	_, ok := slices.BinarySearch(list, n)
	return ok
}
