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
func (q *queue[T]) clear() { q.drop(len(q.all())) }

// window is the readings of the last seconds, and their lowest and highest.
type window struct {
	queue     queue[timed]
	low, high float64
}

// timed is a reading and when it was.
type timed struct{ time, value float64 }

// push takes a reading and drops what is older than so long, but for the last such: it is
// what stood when the window began. Lowest and highest are looked for anew only where the
// one that was is dropped.
func (w *window) push(time, value, keep float64) {
	if value != value {
		return
	}
	list := w.queue.all()
	old, lost := 0, len(list) == 0
	for old+1 < len(list) && list[old+1].time <= time-keep {
		lost = lost || w.low < w.high && (list[old].value == w.low || list[old].value == w.high)
		old++
	}
	w.queue.drop(old)
	w.queue.push(timed{time, value})
	if w.low, w.high = min(w.low, value), max(w.high, value); lost {
		w.low, w.high = value, value
		for _, r := range w.queue.all() {
			w.low, w.high = min(w.low, r.value), max(w.high, r.value)
		}
	}
}

// swing is how far the value fell and rose within the window, and where it is.
func (w *window) swing() (fell, rose, now float64) {
	list := w.queue.all()
	if len(list) == 0 {
		return 0, 0, math.NaN()
	}
	now = list[len(list)-1].value
	return w.high - now, now - w.low, now
}

// changed reports whether not all readings are the same.
func (w *window) changed() bool { return len(w.queue.all()) > 0 && w.low != w.high }

// jumped reports whether engine speed changed as only a gear change makes it:
// by 6 % down within the window's 0.3 s, or by 12 % up on a closed throttle.
func (w *window) jumped(throttle float64) bool {
	fell, rose, now := w.swing()
	return len(w.queue.all()) > 1 && (fell > 0.06*(now+fell) || rose > 0.12*now && throttle < 20)
}

// span is from the first reading to the last, s.
func (w *window) span() float64 {
	list := w.queue.all()
	return list[len(list)-1].time - list[0].time
}
