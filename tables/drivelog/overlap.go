package drivelog

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"sync"

	"calsplice/tables"
)

// Overlaps finds rows that stand in more than one of the logs that are opened
// with it, and so count twice. It remembers a few thousand rows of each log, the
// same ones of all of them: which ones, their times decide.
type Overlaps struct {
	mu    sync.Mutex
	marks map[string][]*footmarks // by the log's name, in the order in which it was scanned
}

// footmarks are rows of one scan of a log.
type footmarks struct {
	columns     string               // that were read
	first, last float64              // seconds of the log
	kept        map[footmark]float64 // with their times, while the log is scanned
	rows        []timedMark          // afterwards, in order
	shift       uint                 // of 2^shift rows one is kept
}

// timedMark is a footmark with its time, in seconds.
type timedMark struct {
	footmark
	time float64
}

// footmark is one row, by its time and by all of its values, so that rows that happen
// to share a time are told apart.
type footmark struct {
	when    uint64 // the time, scattered
	content uint64 // the values
}

const (
	mostFootmarks = 8192
	fewestAlike   = 5 // different rows that two drives do not share by chance
	scatter       = 0x9e3779b97f4a7c15
	dated         = 6.3e8 // seconds that are since 1970 and not since a start
)

// compare orders footmarks by the scattered time first, so that those kept with a shift come
// before those beyond it.
func (f footmark) compare(o footmark) int {
	if f.when != o.when { // nearly always
		return cmp.Compare(f.when, o.when)
	}
	return cmp.Compare(f.content, o.content)
}

// beyond reports whether a footmark is not among those that are kept with a shift.
func (f footmark) beyond(shift uint) bool { return f.when>>(64-shift) != 0 }

// add takes the rows of a frame. Of times and values so many digits count as
// survive another unit or decimal mark.
func (m *footmarks) add(f *Frame) {
	// Which rows are kept depends on their times alone, so two logs keep the same ones of a
	// time that both have; the more rows there are, the fewer of them.
	for i, t := range f.Time {
		mark := footmark{when: uint64(int64(float64(t*1000)+0.5)) * scatter}
		if mark.beyond(m.shift) {
			continue
		}
		for _, c := range f.Columns {
			mark.content = (mark.content<<7 | mark.content>>57) ^ uint64(math.Float32bits(float32(c.Value[i])))*scatter
		}
		m.kept[mark] = t
		for len(m.kept) > mostFootmarks {
			m.shift++
			maps.DeleteFunc(m.kept, func(f footmark, _ float64) bool { return f.beyond(m.shift) })
		}
	}
	if n := f.N; n > 0 {
		m.first, m.last = min(m.first, f.Time[0]), max(m.last, f.Time[n-1])
	}
}

// finish keeps the footmarks of a scan, in a list in order: pairs of lists are compared much
// faster than maps, and a season of logs has many pairs.
func (o *Overlaps) finish(log string, m *footmarks) {
	for f, t := range m.kept {
		m.rows = append(m.rows, timedMark{f, t})
	}
	m.kept = nil
	slices.SortFunc(m.rows, func(a, b timedMark) int { return a.compare(b.footmark) })
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.marks == nil {
		o.marks = map[string][]*footmarks{}
	}
	o.marks[log] = append(o.marks[log], m)
}

// Told says of each pair of logs that overlap, in the order of their names.
func (o *Overlaps) Told() (lines []string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	base := filepath.Base // a log's name for a sentence
	names := slices.SortedFunc(maps.Keys(o.marks), func(a, b string) int { return cmp.Or(cmp.Compare(base(a), base(b)), cmp.Compare(a, b)) })
	for i, a := range names {
		for _, b := range names[:i] {
			if what := sharedBy(o.marks[b], o.marks[a]); what != "" {
				lines = append(lines, fmt.Sprintf("%s and %s overlap: %s: cut one of them", base(b), base(a), what))
			}
		}
	}
	return lines
}

// sharedBy says which rows two logs share, by the first scans of the same columns that
// show any.
func sharedBy(a, b []*footmarks) string {
	for _, m := range a {
		for _, o := range b {
			if what := m.shared(o); what != "" && m.columns == o.columns {
				return what
			}
		}
	}
	return ""
}

// Two files of one drive, one of them cut or exported anew, would count every sample twice,
// and nothing in the averages would show it.

// shared says which rows of two logs are the same; "" where none are. Both may
// begin with an engine that stands still at second 0: so several different ones
// must be, and most in the time from the first to the last of them. Logs with the
// date overlap by that alone.
func (m *footmarks) shared(o *footmarks) string {
	shift := max(m.shift, o.shift)
	mine, theirs := m.upTo(shift), o.upTo(shift)
	var both []float64
	contents := map[uint64]bool{}
	for i, k := 0, 0; i < len(mine) && k < len(theirs); {
		switch order := mine[i].compare(theirs[k].footmark); {
		case order < 0:
			i++
		case order > 0:
			k++
		default:
			both, contents[mine[i].content] = append(both, mine[i].time), true
			i, k = i+1, k+1
		}
	}
	if len(contents) >= fewestAlike {
		from, to := slices.Min(both), slices.Max(both)
		within := func(rows []timedMark) (n int) {
			for _, r := range rows {
				if r.time >= from && r.time <= to {
					n++
				}
			}
			return n
		}
		if 2*len(both) >= min(within(mine), within(theirs)) {
			return fmt.Sprintf("some %d rows from %s to %s s stand in both and count twice", len(both)<<shift, tables.FormatValue(from), tables.FormatValue(to))
		}
	}
	if from, to := max(m.first, o.first), min(m.last, o.last); from > dated && to-from > 1 {
		return fmt.Sprintf("both were recorded from %s to %s s since 1970, and that time counts twice", tables.FormatValue(from), tables.FormatValue(to))
	}
	return ""
}

// upTo are the rows that are kept with a shift.
func (m *footmarks) upTo(shift uint) []timedMark {
	n, _ := slices.BinarySearchFunc(m.rows, shift, func(r timedMark, shift uint) int {
		if r.beyond(shift) {
			return 1
		}
		return -1
	})
	return m.rows[:n]
}
