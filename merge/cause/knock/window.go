package knock

import "math"

// queue is a list that loses its first elements, in the room that it has.
type queue[T any] struct {
	list  []T
	first int
}

// all are those that are left.
func (q *queue[T]) all() []T { return q.list[q.first:] }

// push puts one behind them, and is where it stands until the next.
func (q *queue[T]) push(v T) *T {
	q.list = append(q.list, v)
	return &q.list[len(q.list)-1]
}

// drop loses the first n; the others move down once as many are gone as are left.
func (q *queue[T]) drop(n int) {
	if q.first += n; 2*q.first >= len(q.list) {
		q.list, q.first = q.list[:copy(q.list, q.all())], 0
	}
}

// clear drops all.
func (q *queue[T]) clear() { q.list, q.first = q.list[:0], 0 }

// window is the readings of a channel within the last seconds, and the last one before
// them: it is what stood when they began.
type window struct {
	readings  queue[timed]
	began     float64 // time of the first reading since it was cleared
	low, high float64 // no reading is beyond them
	known     bool    // some readings are there
}

// timed is a reading that stands until the next.
type timed struct{ time, value float64 }

// push takes a reading and forgets what is older than so long, but for the last such.
func (w *window) push(time, value, keep float64) {
	if value != value {
		return
	}
	list := w.readings.all()
	if len(list) == 0 {
		w.began, w.low, w.high, w.known = time, value, value, true
	}
	gone := 0
	for gone+1 < len(list) && list[gone+1].time <= time-keep {
		w.known = w.known && list[gone].value > w.low && list[gone].value < w.high
		gone++
	}
	if gone > 0 {
		w.readings.drop(gone)
	}
	w.readings.push(timed{time, value})
	if value < w.low {
		w.low = value
	}
	if value > w.high {
		w.high = value
	}
}

// clear forgets all.
func (w *window) clear() { w.readings.clear() }

// now is the last reading; NaN of none.
func (w *window) now() float64 {
	if n := len(w.readings.list); n > 0 {
		return w.readings.list[n-1].value
	}
	return math.NaN()
}

// extremes are the lowest and the highest reading.
func (w *window) extremes() (low, high float64) {
	if w.known {
		return w.low, w.high
	}
	w.low, w.high, w.known = w.now(), w.now(), true
	for _, r := range w.readings.all() {
		if r.value < w.low {
			w.low = r.value
		}
		if r.value > w.high {
			w.high = r.value
		}
	}
	return w.low, w.high
}

// fell is how far the value fell within the window. Where that is certainly less than what
// matters, as it is most of the time, it is 0 without a look at all readings.
func (w *window) fell(matters float64) float64 {
	if w.high-w.now() < matters {
		return 0
	}
	_, high := w.extremes()
	return high - w.now()
}

// rose is how far it rose, as [window.fell] is how far it fell.
func (w *window) rose(matters float64) float64 {
	if w.now()-w.low < matters {
		return 0
	}
	low, _ := w.extremes()
	return w.now() - low
}
