package knock

import (
	"math"
	"slices"
)

// window is the readings of the last seconds, and their lowest and highest.
type window struct {
	time, value []float64
	low, high   float64
}

func (w *window) push(time, value, keep float64) {
	if value != value {
		return
	}
	old, lost := 0, len(w.value) == 0
	for old+1 < len(w.time) && w.time[old+1] <= time-keep {
		lost = lost || w.low < w.high && (w.value[old] == w.low || w.value[old] == w.high)
		old++
	}
	if w.time, w.value = w.time[old:], w.value[old:]; len(w.time) == cap(w.time) {
		w.time, w.value = slices.Grow(w.time, 64+len(w.time)), slices.Grow(w.value, 64+len(w.value))
	}
	w.time, w.value = append(w.time, time), append(w.value, value)
	if w.low, w.high = min(w.low, value), max(w.high, value); lost {
		w.low, w.high = slices.Min(w.value), slices.Max(w.value)
	}
}

// swing is how far the value fell and rose within the window, and where it is.
func (w *window) swing() (fell, rose, now float64) {
	if len(w.value) == 0 {
		return 0, 0, math.NaN()
	}
	now = w.value[len(w.value)-1]
	return w.high - now, now - w.low, now
}

func (w *window) changed() bool { return len(w.value) > 0 && w.low != w.high }

// jumped reports whether engine speed changed as only a gear change makes it:
// by 6 % down within the window's 0.3 s, or by 12 % up on a closed throttle.
func (w *window) jumped(throttle float64) bool {
	fell, rose, now := w.swing()
	return len(w.value) > 1 && (fell > 0.06*(now+fell) || rose > 0.12*now && throttle < 20)
}

func (w *window) span() float64 { return w.time[len(w.time)-1] - w.time[0] }
