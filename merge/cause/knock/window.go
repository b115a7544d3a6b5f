package knock

import "math"

// queue is a list that loses its first elements, in the room that it has.
type queue[T any] struct {
	list  []T
	first int
}

// all are those that are left.
func (q *queue[T]) all() []T { return q.list[q.first:] }

// next is room for one behind them, in which all is to be set: a large one that is made
// elsewhere and copied costs as much as all that is done with it.
func (q *queue[T]) next() *T {
	if n := len(q.list); n < cap(q.list) {
		q.list = q.list[:n+1]
	} else {
		q.list = append(q.list, *new(T))
	}
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
// them: it is what stood when they began. What is older is forgotten when it matters.
type window struct {
	keep      float64 // s
	readings  queue[timed]
	began     float64 // time of the first reading since it was cleared
	last      timed   // reading
	low, high float64 // no reading is beyond them
	known     bool    // some readings are there
}

// timed is a reading that stands until the next.
type timed struct{ time, value float64 }

// push takes a reading.
func (w *window) push(time, value float64) {
	if value != value {
		return
	}
	switch list := w.readings.list; len(list) {
	case 0:
		w.began, w.low, w.high, w.known = time, value, value, true
	case cap(list):
		w.forget()
	}
	r := w.readings.next()
	r.time, r.value, w.last.time, w.last.value = time, value, time, value
	w.widen(value)
}

// widen makes the bounds hold a value.
func (w *window) widen(value float64) {
	if value < w.low {
		w.low = value
	}
	if value > w.high {
		w.high = value
	}
}

// clear forgets all.
func (w *window) clear() {
	w.readings.clear()
	w.last.value, w.low, w.high, w.known = math.NaN(), math.NaN(), math.NaN(), true
}

// forget drops the readings that are too old.
func (w *window) forget() {
	list, gone := w.readings.all(), 0
	for gone+1 < len(list) && list[gone+1].time <= w.last.time-w.keep {
		w.known = w.known && list[gone].value > w.low && list[gone].value < w.high
		gone++
	}
	w.readings.drop(gone)
}

// extremes are the lowest and the highest reading; NaN of none.
func (w *window) extremes() (low, high float64) {
	w.forget()
	if !w.known {
		w.low, w.high, w.known = w.last.value, w.last.value, true
		for _, r := range w.readings.all() {
			w.widen(r.value)
		}
	}
	return w.low, w.high
}

// fell is how far the value fell within the window. Where that is certainly less than what
// matters, as it is most of the time, it is 0 without a look at all readings.
func (w *window) fell(matters float64) float64 {
	if w.high-w.last.value < matters {
		return 0
	}
	_, high := w.extremes()
	return high - w.last.value
}

// rose is how far it rose, as [window.fell] is how far it fell.
func (w *window) rose(matters float64) float64 {
	if w.last.value-w.low < matters {
		return 0
	}
	low, _ := w.extremes()
	return w.last.value - low
}
