package cause

import (
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/lsq"
)

// rows is the data that the causes compete over: a row for each point and bank.
type rows struct {
	points []*Point
	point  []int     // of each row
	bank   []int     // of each row
	y      []float64 // trim, %
	w      []float64 // how much the row counts
	sure   []float64 // how much evidence the row holds, 0 to 1
	bound  []float64 // +1 where the true trim is y or above, −1 where y or below, else 0
	fold   []int
	banks  int
	cells  int
	noise  float64 // Σ weight · variance of the rows about their operating points
	total  float64 // Σ weight · y²
	rail   *rail   // nil where no pressure is measured
}

// atLimit is the share of a point's samples at a limit from which its trim is a
// bound.
const atLimit = 0.3

// Time that is worth half of full weight: of a row, whose noise averages out
// slowly, and of an operating point, so that an hour of idling does not drown a
// minute at full load.
const (
	shortStay = 4.0
	halfRow   = 3.0
	halfCell  = 12.0
	folds     = 10
	blockOf   = 40.0 // seconds of the drive that are left out together
)

// newRows makes rows of points: their weights, folds and bounds, less what a measured rail
// pressure explains, with wild rows counting less. The order matters: noise is measured on
// what is left to explain.
func newRows(points []*Point, banks int) *rows {
	r := &rows{points: points, banks: banks}
	cell := map[int]float64{} // Σ sure of each operating point
	time := map[int]float64{}
	for _, p := range points {
		time[p.cell] += float64(p.Seconds * p.settled())
		cell[p.cell] += p.sure()
	}
	r.cells = len(cell)
	// A place counts by how long it was held, up to a limit; its visits share that among
	// themselves by how much evidence each is.
	spread(points)
	for i, p := range points {
		sure := p.sure()
		whole := time[p.cell] / (time[p.cell] + halfCell)
		for b := range banks {
			r.point, r.bank, r.fold = append(r.point, i), append(r.bank, b), append(r.fold, p.fold)
			r.y = append(r.y, p.Trim[b])
			r.sure = append(r.sure, sure)
			r.w = append(r.w, whole*sure/cell[p.cell]/float64(banks))
			bound := 0.0
			if p.AtLimit[b] > atLimit {
				bound = math.Copysign(1, p.Trim[b])
			}
			r.bound = append(r.bound, bound)
		}
	}
	r.applyRail()
	r.steady()
	r.measure()
	return r
}

// sure is how much evidence a point holds, 0 to 1.
func (p *Point) sure() float64 { return p.settled() * p.Seconds / (p.Seconds + halfRow) }

// spread deals the drive's blocks of time over the folds of the
// cross-validation, so that each fold is left out with its neighbours in time
// and still leaves every part of the drive.
func spread(points []*Point) {
	type block struct{ log, n int }
	number := drive.Numbers[block]{}
	// A short drive has shorter blocks, so that each fold still gets two of them.
	length := blockOf
	if n := len(points); n > 0 {
		if whole := points[n-1].clock - points[0].clock; whole > 0 && whole < 2*folds*blockOf {
			length = max(sliceSeconds, whole/(2*folds))
		}
	}
	for _, p := range points {
		p.fold = number.Of(block{p.Log, int(math.Floor(p.clock / length))}) % folds
	}
}

// steady lets rows that no shape explains count less: the further they lie from
// a robust model with every shape at once, held small by a ridge. All causes are
// then judged on the same rows.
func (r *rows) steady() {
	shapes := slices.DeleteFunc(r.allShapes(), func(s []float64) bool { return s == nil })
	// Every shape at once, each held small by a ridge: they need not be told apart, only to
	// follow together whatever may be there.
	ridge := func(column []float64) (size float64) {
		for _, v := range column {
			size += float64(v * v)
		}
		return 1e-3 * size
	}
	left, scale, err := problem(shapes, r.y, r.sure, ridge).Residuals(lsq.Options{Loss: lsq.Huber, Floor: 0.7})
	if err != nil {
		return // too little to tell rows apart: all count in full
	}
	const far = 3 // scales: nearer, a row may be of a cause that these shapes do not have
	for i, u := range left {
		factor := min(1, far*scale/math.Abs(u))
		if r.points[r.point[i]].Seconds < shortStay {
			factor *= factor // a short stay may still have the trim of the place before it
		}
		r.w[i] *= factor
	}
}

// places are, by row, the number of its operating point on its bank, and how many there
// are.
func (r *rows) places() (at []int, n int) {
	number := drive.Numbers[[2]int]{}
	for i, p := range r.point {
		at = append(at, number.Of([2]int{r.points[p].cell, r.bank[i]}))
	}
	return at, len(number)
}

// measure takes the noise from how an operating point differs from itself at
// other times, and the whole from the trims.
func (r *rows) measure() {
	at, n := r.places()
	means, times := make([]drive.Mean, n), make([]float64, n)
	for i, y := range r.y {
		means[at[i]].Add(y, r.sure[i])
		times[at[i]]++
		r.total += float64(r.w[i] * y * y)
	}
	var square, degrees float64
	for i, y := range r.y {
		if times[at[i]] >= 2 {
			d := y - means[at[i]].Value()
			// A single wild row says nothing of the usual noise.
			square += float64(r.sure[i] * min(d*d, 9))
		}
	}
	for _, n := range times {
		degrees += n - 1
	}
	variance := 0.5 * 0.5 // %², where nothing was driven twice
	if degrees >= 4 {
		variance = square / degrees
	}
	// A row's own variance goes with the inverse of its evidence.
	for i := range r.y {
		r.noise += r.w[i] * variance / r.sure[i]
	}
}

// column computes a regressor for every row; nil where any row lacks it.
func (r *rows) column(f func(p *Point, bank int) float64) []float64 {
	c := make([]float64, len(r.y))
	for i := range c {
		c[i] = f(r.points[r.point[i]], r.bank[i])
		if math.IsNaN(c[i]) || math.IsInf(c[i], 0) {
			return nil
		}
	}
	return c
}

// quietBank reports whether one of two banks needs nothing while the other does.
func (r *rows) quietBank() bool {
	if r.banks != 2 {
		return false
	}
	var size [2]drive.Mean
	for i, y := range r.y {
		size[r.bank[i]].Add(math.Abs(y), r.w[i])
	}
	quiet, loud := min(size[0].Value(), size[1].Value()), max(size[0].Value(), size[1].Value())
	return quiet < 1.5 && quiet < 0.25*loud
}

// A change counts where the same places differ by this much between the parts
// of the drive before and after it, % rms over the places.
const leastChange = 1.3

// surely is how far beyond chance it must lie: the sum over the places of the
// squared difference over its own variance, in standard deviations of what that
// sum is by chance at one split; the best of some hundred splits is looked for.
const surely = 6.0

// stays are the rows of one place and bank in one part of the drive.
type stays struct{ n, sum, square float64 }

// add takes a row; a negative weight takes it out again.
func (s *stays) add(w, v float64) {
	s.n += w
	s.sum += float64(w * v)
	s.square += float64(w * v * v)
}

// within is the sum of squares about the mean.
func (s *stays) within() float64 { return max(0, s.square-float64(s.sum*s.sum)/s.n) }

// change is where a drive falls into two states: the first point of the second,
// and by how much the same places differ between the two by what the leading
// cause leaves of their trims; −1 where they do not differ beyond chance anywhere.
// The place is the one that explains most, by least squares with a mean for each
// place before and after: it lay within a minute of the truth in 57 of 64 drives of
// the scenarios in merge/propose, where the surest split did in 47.
func (r *rows) change(left []float64) (point int, effect float64) {
	point = -1
	at, n := r.places()
	early, late := make([]stays, n), make([]stays, n)
	pooled, degrees := 0.0, 0.0
	for i, v := range left {
		late[at[i]].add(r.sure[i], v)
	}
	for _, s := range late {
		pooled += s.within()
		degrees += max(0, s.n-1)
	}
	// Two stays of a place may agree by chance; the usual scatter of all places keeps such a
	// place from deciding by itself.
	usual := pooled / max(1, degrees)
	var sure bool
	var best float64
	places := make([]difference, n)
	for i := 0; i < len(left)-1; i++ {
		e, l := &early[at[i]], &late[at[i]]
		e.add(r.sure[i], left[i])
		l.add(-r.sure[i], left[i])
		places[at[i]] = e.from(l, usual)
		if r.point[i+1] == r.point[i] {
			continue
		}
		z, size, gain := split(places)
		if sure = sure || z > surely; gain > best {
			best, point, effect = gain, r.point[i+1], size
		}
	}
	if !sure {
		return -1, 0
	}
	return point, effect
}

// difference is that of one place between two parts of a drive; the zero value where either
// has too little.
type difference struct{ places, chi, square, weight, gain float64 }

// from is the difference of a place from its later stays.
func (s *stays) from(l *stays, usual float64) difference {
	const least = 0.5 // of a row: fewer are no evidence
	if s.n < least || l.n < least {
		return difference{}
	}
	h, d := s.n*l.n/(s.n+l.n), s.sum/s.n-l.sum/l.n
	variance := (s.within() + l.within() + float64(3*usual)) / (max(0, s.n+l.n-2) + 3)
	gain := float64(h * d * d)
	return difference{1, min(gain/variance, 40), gain - variance, h, gain}
}

// split is how surely two parts of a drive differ, by how much, % rms over the
// places that both have, and the sum of squares that their difference explains.
func split(list []difference) (z, size, gain float64) {
	var all difference
	for i := range list {
		d := &list[i]
		all.places += d.places
		all.chi += d.chi
		all.square += d.square
		all.weight += d.weight
		all.gain += d.gain
	}
	if all.places < 3 || all.weight < 4 {
		return 0, 0, 0
	}
	return (all.chi - all.places) / math.Sqrt(2*all.places), math.Sqrt(max(0, all.square) / all.weight), all.gain
}
