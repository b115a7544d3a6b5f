package knock

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestWindowLaw: however readings come and however often it is cleared, a window is
// what a list of all readings says of its last seconds.
func TestWindowLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var w window
		var all []timed
		keep, now := float64(rapid.IntRange(1, 12).Draw(t, "keep")), 0.0
		for range rapid.IntRange(1, 200).Draw(t, "readings") {
			if rapid.IntRange(0, 40).Draw(t, "clear") == 0 {
				w.queue.clear()
				all = nil
			}
			now += float64(rapid.IntRange(0, 5).Draw(t, "pause"))
			v := float64(rapid.IntRange(0, 9).Draw(t, "value"))
			w.push(now, v, keep)
			all = append(all, timed{now, v})
			for len(all) > 2 && all[1].time <= now-keep {
				all = all[1:]
			}
			low, high := v, v
			for _, r := range all {
				low, high = min(low, r.value), max(high, r.value)
			}
			fell, rose, _ := w.swing()
			if !slices.Equal(w.queue.all(), all) || fell != high-v || rose != v-low || w.span() != now-all[0].time {
				t.Fatalf("at %v s the window holds %v and fell %v, rose %v; want %v, %v, %v", now, w.queue.all(), fell, rose, all, high-v, v-low)
			}
		}
	})
}

// However many readings go through a window, it needs the room of a few.
func TestWindowRoom(t *testing.T) {
	var w window
	for k := range 10_000 {
		w.push(float64(k), float64(k%7), 10)
	}
	if n, room := len(w.queue.all()), cap(w.queue.list); n != 11 || room > 64 {
		t.Errorf("%d readings in room for %d, want 11 in room for 64 at most", n, room)
	}
}
