package knock

import "math"

// queue is a list that loses its first elements, in the room that it has.
type queue[T any] struct {
	list  []T
	first int
}

// all are those that are left.
func (q *queue[T]) all() []T { return q.list[q.first:] }

// push puts one behind them.
func (q *queue[T]) push(v T) { q.list = append(q.list, v) }

// drop loses the first n; the others move down once as many are gone as are left.
func (q *queue[T]) drop(n int) {
	if q.first += n; 2*q.first >= len(q.list) {
		q.list, q.first = q.list[:copy(q.list, q.all())], 0
	}
}

// clear drops all.
func (q *queue[T]) clear() { q.list, q.first = q.list[:0], 0 }

// window is how far a channel rose and fell within the last seconds.
type window struct {
	tops, bottoms peaks
	began         float64 // time of the first reading since it was cleared
}

// push takes a reading and forgets what is older than so long, but for the last such: it
// is what stood when the window began.
func (w *window) push(time, value, keep float64) {
	if value != value {
		return
	}
	if len(w.tops.queue.list) == 0 {
		w.began = time
	}
	w.tops.push(time, value, keep)
	w.bottoms.push(time, -value, keep)
}

// clear forgets all.
func (w *window) clear() {
	w.tops.queue.clear()
	w.bottoms.queue.clear()
}

// peaks are the readings of a window that no later one is as high as: the highest of all
// comes first, and the newest last.
type peaks struct{ queue queue[peak] }

// peak is a reading and when another took its place.
type peak struct{ value, until float64 }

// push takes a reading as [window.push] does.
func (p *peaks) push(time, value, keep float64) {
	list := p.queue.all()
	gone, n := 0, len(list)
	for gone < n && list[gone].until <= time-keep {
		gone++
	}
	if n > gone {
		last := &list[n-1]
		if last.value == value {
			p.queue.first += gone
			return // what stands goes on standing
		}
		last.until = time
		for n > gone && list[n-1].value <= value {
			n--
		}
	}
	p.queue.list = append(p.queue.list[:p.queue.first+n], peak{value, math.Inf(1)})
	p.queue.drop(gone)
}

// extremes are the lowest and the highest reading of the window, and the last one; NaN
// of none.
func (w *window) extremes() (low, high, now float64) {
	tops := w.tops.queue.all()
	if len(tops) == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return -w.bottoms.queue.all()[0].value, tops[0].value, tops[len(tops)-1].value
}

// swing is how far the value fell and rose within the window, and where it is.
func (w *window) swing() (fell, rose, now float64) {
	low, high, now := w.extremes()
	return high - now, now - low, now
}

// changed reports whether not all readings are the same.
func (w *window) changed() bool {
	low, high, _ := w.extremes()
	return low < high
}

// jumped reports whether engine speed changed as only a gear change makes it:
// by 6 % down within the window's 0.3 s, or by 12 % up on a closed throttle.
func (w *window) jumped(throttle float64) bool {
	fell, rose, now := w.swing()
	return fell > 0.06*(now+fell) || rose > 0.12*now && throttle < 20
}
