package knock

import (
	"math"

	"calsplice/interp/drive"
)

// mostStays is some ten hours of driving. Past it the stays in one bin that are of one
// kind and begin within so many seconds of a log become one, then within twice as many,
// and so on: of those in which no knock was heard the lowest bound on the need stands,
// of those with knock the mean of what they need. Counts, times and sums stay.
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

// kinds numbers what stays must share to become one: a log and a slice of its time, a bin,
// and whatever the rules by which stays are taken as evidence ask of each. A table has no
// bin past 2^27.
type kinds struct {
	within float64 // s of a slice
	slices drive.Numbers[slice]
	last   slice
	number int // of that
}

// slice is a part of a log's time.
type slice struct {
	log   int
	start float64
}

// of puts every threshold that a rule sets into a bit, so that no rule sees a joined stay
// otherwise than it would have seen each of its parts.
func (k *kinds) of(s *Stay) uint64 {
	// Most stays follow another of the same slice.
	if at := (slice{s.Log, math.Floor(s.Start / k.within)}); at != k.last || len(k.slices) == 0 {
		k.last, k.number = at, k.slices.Of(at)
	}
	kind := uint64(k.number)<<39 | uint64(s.Bin)<<12
	for i, yes := range [...]bool{s.Off, s.Held, s.Knocked(), math.IsInf(s.Quiet, 1), s.Rich > richFrom*s.Seconds, s.Seconds >= 0.3, s.Seconds >= 0.5,
		s.cut > 0.3*s.Seconds, s.open >= 0.5*s.Seconds, s.closed > 0.5*s.Seconds, s.leanTime > 0, s.leanTime >= leanSeconds} {
		if yes {
			kind |= 1 << i
		}
	}
	return kind
}

// coarsen joins those of the first n stays that are of one kind, until half of the most
// are left or all of a log were joined, and is how many went.
func (d *Drive) coarsen(n int) (gone int) {
	before := len(d.Stays)
	for d.within = max(d.within, 60); ; d.within *= 2 {
		n = d.join(n)
		if len(d.Stays) <= mostStays/2 || d.within > 1e6 {
			return before - len(d.Stays)
		}
	}
}

// join joins those of the first n stays that are of one kind, and is how many of them
// are left.
func (d *Drive) join(n int) (left int) {
	rest := d.Stays[n:]
	of := kinds{within: d.within, slices: drive.Numbers[slice]{}}
	kept, _ := drive.Join(d.Stays[:n], of.of, (*Stay).join)
	d.Stays = append(kept, rest...)
	return len(kept)
}

// join takes a later stay of its kind; the drive has not ended yet.
func (s *Stay) join(o *Stay) {
	s.joined = joined{s.number() + o.number(), s.numberApart() + o.numberApart(), s.weight() + o.weight()}
	if s.Knocked() {
		s.bound()
		o.bound()
		s.Need = (float64(s.Need*s.Seconds) + float64(o.Need*o.Seconds)) / (s.Seconds + o.Seconds)
		s.before, s.after, s.Quiet = s.Need, s.Need, math.Inf(1)
	}
	s.Quiet = min(s.Quiet, o.Quiet)
	others := o.means()
	for k, mine := range s.means() {
		*mine += *others[k]
	}
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
