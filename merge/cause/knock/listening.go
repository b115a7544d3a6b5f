package knock

import "slices"

// listening is for how long a sensor was listened to in some condition, and how
// often it heard something then.
type listening struct{ seconds, heard float64 }

// add takes another time of listening.
func (l *listening) add(more listening) {
	l.seconds += more.seconds
	l.heard += more.heard
}

// rate is how often in a second, a little less while little was listened to.
func (l *listening) rate() float64 { return l.heard / (l.seconds + 5) }

// band is the narrowest range of engine speed that holds nearly all visits with
// knock apart from lifts, and what was heard in it. A loose part rattles in such a
// band at any load; real knock needs load.
type band struct {
	low, high   float64   // r/min
	light, load listening // visits with knock
	outside     float64   // seconds under load at other speeds
}

// band finds it by sliding a window of nineteen in twenty of the visits over the sorted
// speeds: one stray visit does not widen a band.
func (d *Drive) band() band {
	var speeds []float64
	for i := range d.Stays {
		if s := &d.Stays[i]; s.Apart() {
			speeds = append(speeds, s.Speed)
		}
	}
	n := (19*len(speeds) + 19) / 20
	if n == 0 {
		return band{}
	}
	slices.Sort(speeds)
	b := band{low: speeds[0], high: speeds[n-1]}
	for i := n; i < len(speeds); i++ {
		if low := speeds[i-n+1]; speeds[i]-low < b.high-b.low {
			b.low, b.high = low, speeds[i]
		}
	}
	for i := range d.Stays {
		b.listen(&d.Stays[i])
	}
	return b
}

// listen counts a stay as listening inside the band, at light load or under load, or
// outside under load. Without fuel nothing burns, so nothing is listened to.
func (b *band) listen(s *Stay) {
	l := listening{seconds: s.Seconds - s.cut, heard: float64(s.numberApart())}
	switch inside := s.Speed >= b.low && s.Speed <= b.high; {
	case inside && s.Share < lightLoad:
		b.light.add(l)
	case inside:
		b.load.add(l)
	case s.Share >= loaded:
		b.outside += l.seconds
	}
}

// narrow reports whether knock keeps to a band of speed although the engine was
// loaded at other speeds.
func (b *band) narrow() bool { return b.high-b.low <= 1000 && b.outside >= 20 }

// ignoresLoad reports whether what is heard in a band comes as often at light load.
func (b *band) ignoresLoad() bool {
	return b.narrow() && b.light.heard >= 3 && b.light.rate() > 0.3*b.load.rate()
}
