package cause

import "math"

// A change counts where the same places differ by this much between the parts
// of the drive before and after it, % rms over the places.
const leastChange = 1.3

// surely is how far beyond chance it must lie: the sum over the places of the
// squared difference over its own variance, in standard deviations of what that
// sum is by chance at one split; the best of some hundred splits is looked for.
const surely = 6.0

// stays are the rows of one place and bank in one part of the drive.
type stays struct{ n, sum, square float64 }

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
// merge/testdrive/scenario, where the surest split did in 47.
func (r *rows) change(left []float64) (point int, effect float64) {
	point = -1
	type place struct{ cell, bank int }
	number := map[place]int{}
	at := make([]int, len(left))
	for i := range left {
		p := place{r.points[r.point[i]].cell, r.bank[i]}
		if _, ok := number[p]; !ok {
			number[p] = len(number)
		}
		at[i] = number[p]
	}
	early, late := make([]stays, len(number)), make([]stays, len(number))
	pooled, degrees := 0.0, 0.0
	for i, v := range left {
		late[at[i]].add(r.sure[i], v)
	}
	for _, s := range late {
		pooled += s.within()
		degrees += max(0, s.n-1)
	}
	usual := pooled / max(1, degrees)
	var sure bool
	var best float64
	for i := 0; i < len(left)-1; i++ {
		early[at[i]].add(r.sure[i], left[i])
		late[at[i]].add(-r.sure[i], left[i])
		if r.point[i+1] == r.point[i] {
			continue
		}
		z, size, gain := split(early, late, usual)
		if sure = sure || z > surely; gain > best {
			best, point, effect = gain, r.point[i+1], size
		}
	}
	if !sure {
		return -1, 0
	}
	return point, effect
}

// split is how surely two parts of a drive differ, by how much, % rms over the
// places that both have, and the sum of squares that their difference explains.
func split(early, late []stays, usual float64) (z, size, gain float64) {
	const least = 0.5 // of a row: fewer are no evidence
	var places, chi, square, weight float64
	for k := range early {
		e, l := &early[k], &late[k]
		if e.n < least || l.n < least {
			continue
		}
		h := e.n * l.n / (e.n + l.n)
		d := e.sum/e.n - l.sum/l.n
		variance := (e.within() + l.within() + 3*usual) / (max(0, e.n+l.n-2) + 3)
		chi += min(float64(h*d*d)/variance, 40)
		square += float64(h*d*d) - variance
		weight += h
		gain += float64(h * d * d)
		places++
	}
	if places < 3 || weight < 4 {
		return 0, 0, 0
	}
	return (chi - places) / math.Sqrt(2*places), math.Sqrt(max(0, square) / weight), gain
}
