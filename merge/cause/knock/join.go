package knock

import (
	"math"
)

// mostStays is some ten hours of driving. Past it the stays in one bin that are of one
// kind and begin in the same minute of a log become one, later ones as they end; then of the
// same two minutes, and so on: of those in which no knock was heard the lowest bound on the
// need stands, of those with knock the mean of what they need. Counts, times and sums stay.
const mostStays = 1 << 15

// joined is what becomes of several stays in one.
type joined struct {
	stays, apart int     // how many, and with knock apart from what rattles
	weight       float64 // that they have together in a fit
}

// number is how many stays this is.
func (s *Stay) number() int { return max(1, s.joined.stays) }

// numberApart is how many of them have knock where no throttle lift or lower gear rattles.
func (s *Stay) numberApart() int {
	switch {
	case s.joined.stays > 0:
		return s.joined.apart
	case s.Apart():
		return 1
	}
	return 0
}

// weight is how much a stay counts in a fit: a long one no more than two short ones.
func (s *Stay) weight() float64 {
	if s.joined.stays > 0 {
		return s.joined.weight
	}
	w := s.Seconds / (s.Seconds + 0.5)
	if s.Knocked() {
		w = max(w, 0.5)
	}
	return w
}

// slice is a part of a log's time.
type slice struct {
	log        int
	start, end float64 // s
}

// has reports whether a stay begins in it.
func (l *slice) has(s *Stay) bool { return s.Log == l.log && s.Start >= l.start && s.Start < l.end }

// kept is where a stay stands among those of its bin in a slice.
type kept struct {
	kind   uint64
	before int // 1 and the number of the stay before it, which is of another kind; 0 for none
}

// kind numbers what stays of one slice must share to become one: a bin, and a bit for every
// threshold that a rule by which stays are evidence sets, so that no rule sees a joined stay
// otherwise than it would have seen each of its parts.
func (s *Stay) kind() uint64 {
	kind := uint64(s.Bin)
	for _, yes := range [...]bool{s.Off, s.Held, s.Knocked(), math.IsInf(s.Quiet, 1), s.Rich > richFrom*s.Seconds, s.Seconds >= 0.3, s.Seconds >= 0.5,
		s.cut > 0.3*s.Seconds, s.open >= 0.5*s.Seconds, s.closed > 0.5*s.Seconds, s.leanTime > 0, s.leanTime >= leanSeconds} {
		if kind <<= 1; yes {
			kind++
		}
	}
	return kind
}

// keep takes a stay that has ended, and in which nothing can be heard any more.
func (d *Drive) keep(s *Stay) {
	if len(d.Stays) >= mostStays {
		d.coarsen()
	}
	d.insert(s)
}

// insert joins a stay to one of its kind in the slice of time under way, if there is one.
func (d *Drive) insert(s *Stay) {
	if d.within > 0 {
		if !d.slice.has(s) {
			start := math.Floor(s.Start/d.within) * d.within
			d.slice = slice{s.Log, start, start + d.within}
			clear(d.latest)
		}
		kind := s.kind()
		for k := d.latest[s.Bin]; k > 0; k = d.kept[k-1].before {
			if d.kept[k-1].kind == kind {
				d.Stays[k-1].join(s)
				return
			}
		}
		d.kept = append(d.kept, kept{kind, d.latest[s.Bin]})
		d.latest[s.Bin] = len(d.kept)
	}
	d.Stays = append(d.Stays, *s)
}

// coarsen joins stays until half of the most are left, or all of a log were joined.
func (d *Drive) coarsen() {
	for d.within = max(d.within, 30); len(d.Stays) > mostStays/2 && d.within <= 1e6; {
		d.within *= 2
		d.slice = slice{log: -1}
		all := d.Stays
		d.Stays, d.kept = all[:0], d.kept[:0]
		for i := range all {
			d.insert(&all[i])
		}
	}
}

// join takes a later stay of its kind; the drive has not ended yet.
func (s *Stay) join(o *Stay) {
	s.joined.stays, s.joined.apart, s.joined.weight = s.number()+o.number(), s.numberApart()+o.numberApart(), s.weight()+o.weight()
	if s.Knocked() {
		s.bound()
		o.bound()
		s.Need = (float64(s.Need*s.Seconds) + float64(o.Need*o.Seconds)) / (s.Seconds + o.Seconds)
		s.before, s.after, s.Quiet = s.Need, s.Need, math.Inf(1)
	}
	s.Quiet = min(s.Quiet, o.Quiet)
	s.Mean, s.Speed, s.Charge, s.Flow = s.Mean+o.Mean, s.Speed+o.Speed, s.Charge+o.Charge, s.Flow+o.Flow
	s.Table, s.Deficit, s.Rich = s.Table+o.Table, s.Deficit+o.Deficit, s.Rich+o.Rich
	s.intake.Join(o.intake)
	s.coolant.Join(o.coolant)
	s.lean.Join(o.lean)
	s.trim.Join(o.trim)
	s.Peak = max(s.Peak, o.Peak)
	s.Seconds, s.Readings, s.free = s.Seconds+o.Seconds, s.Readings+o.Readings, s.free+o.free
	for k, n := range o.Heard {
		s.Heard[k] += n
	}
	if s.leanTime += o.leanTime; s.leanTime-o.leanTime < leanSeconds {
		s.leanTime = max(s.leanTime-o.leanTime, o.leanTime) // too short to tell, each by itself
	}
	s.near.add(o.near)
	s.off[0].add(o.off[0])
	s.off[1].add(o.off[1])
	s.open, s.closed, s.cut = s.open+o.open, s.closed+o.closed, s.cut+o.cut
}
