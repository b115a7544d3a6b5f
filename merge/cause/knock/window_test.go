package knock

import (
	"testing"

	"pgregory.net/rapid"
)

// TestWindowLaw: however readings come and however often it is cleared, a window is
// what a list of all readings says of its last seconds.
func TestWindowLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var w window
		var all []timed
		began := 0.0
		keep, now := float64(rapid.IntRange(1, 12).Draw(t, "keep")), 0.0
		w.keep = keep
		for range rapid.IntRange(1, 200).Draw(t, "readings") {
			if rapid.IntRange(0, 40).Draw(t, "clear") == 0 {
				w.clear()
				all = nil
			}
			now += float64(rapid.IntRange(0, 5).Draw(t, "pause"))
			v := float64(rapid.IntRange(0, 9).Draw(t, "value"))
			w.push(now, v)
			if all == nil {
				began = now
			}
			all = append(all, timed{now, v})
			for len(all) > 2 && all[1].time <= now-keep {
				all = all[1:]
			}
			low, high := v, v
			for _, r := range all {
				low, high = min(low, r.value), max(high, r.value)
			}
			matters := float64(rapid.IntRange(0, 5).Draw(t, "matters"))
			fell, rose := w.fell(matters), w.rose(matters)
			if fell != high-v && !(fell == 0 && high-v < matters) || rose != v-low && !(rose == 0 && v-low < matters) || w.began != began {
				t.Fatalf("at %v s the window fell %v, rose %v, began at %v; want %v, %v, %v of %v", now, fell, rose, w.began, high-v, v-low, began, all)
			}
			if rapid.Bool().Draw(t, "both") {
				if l, h := w.extremes(); l != low || h != high {
					t.Fatalf("at %v s the window is of %v to %v, of %v", now, l, h, all)
				}
			}
		}
	})
}

// However many readings go through a window, it needs the room of a few.
func TestWindowRoom(t *testing.T) {
	w := window{keep: 10}
	for k := range 10_000 {
		w.push(float64(k), float64(k%7))
	}
	if room := cap(w.readings.list); room > 64 {
		t.Errorf("room for %d readings, want 64 at most", room)
	}
}
