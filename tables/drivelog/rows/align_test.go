package rows

import (
	"math"
	"slices"
	"testing"

	"calsplice/tables/drivelog/dialect"

	"pgregory.net/rapid"
)

// lawFill: what stands at each row is the latest reading, cell by cell: until it is too
// old, or the clock was set back; for ever where an empty cell means "as above". It is
// the same however many rows come at a time.
func lawFill(t *rapid.T) {
	how := Alignment{MaxAge: rapid.SampledFrom([]float64{0, 0.5, 3}).Draw(t, "age"), GapOver: 5, Held: rapid.Bool().Draw(t, "held")}
	n := rapid.IntRange(1, 40).Draw(t, "rows")
	time, cells := make([]float64, n), make([]float64, n)
	at := 0.0
	for i := range time {
		at += rapid.SampledFrom([]float64{0.25, 0.5, 1, 0, -3}).Draw(t, "step")
		time[i] = at
		cells[i] = rapid.SampledFrom([]float64{1, 2, dialect.EmptyCell, dialect.EmptyCell, dialect.NoReading, dialect.NoCell}).Draw(t, "cell")
	}
	var faults Tally
	a := NewAligner(1, how, &faults)
	latest, readAt := math.NaN(), 0.0
	for from := 0; from < n; {
		to := rapid.IntRange(from+1, n).Draw(t, "to")
		raw, clock := slices.Clone(cells[from:to]), slices.Clone(time[from:to])
		b := &Batch{N: to - from, Line: make([]int32, to-from), Vals: [][]float64{clock, raw}, Gaps: make([][]int32, 2)}
		for i, v := range raw {
			if v != v {
				b.gap(1, i, v)
			}
		}
		a.Clock(b, 0, from)
		stale := a.Fill(0, raw, b.Gaps[1])
		for i := from; i < to; i++ {
			if i > 0 && time[i] < time[i-1] && !how.Held {
				latest = math.NaN()
			}
			want, fresh := latest, false
			switch v := cells[i]; {
			case v == v:
				want, fresh, latest, readAt = v, true, v, time[i]
			case how.Held:
				fresh = latest == latest && math.Float64bits(v) == dialect.EmptyBits
			case time[i]-readAt > how.MaxAge:
				want = math.NaN()
			}
			got, new := raw[i-from], !slices.Contains(stale, int32(i-from))
			if new != fresh || got != want && (got == got || want == want) {
				t.Fatalf("row %d of %v at %v has %v, new %v, want %v, %v", i, cells, time, got, new, want, fresh)
			}
		}
		from = to
	}
}

func TestFill(t *testing.T) { rapid.Check(t, lawFill) }

// TestClock: midnights, steps back, repeats and gaps, each beside what is none.
func TestClock(t *testing.T) {
	for _, c := range []struct {
		why     string
		wraps   bool
		raw     []float64
		time    []float64
		stretch []int
		faults  map[faultKind]int
	}{
		{"steps as long as may be", false, []float64{0, 5, 10}, []float64{0, 5, 10}, []int{0, 0, 0}, nil},
		{"a longer one", false, []float64{0, 5.1}, []float64{0, 5.1}, []int{0, 1}, map[faultKind]int{gap: 1}},
		{"a repeat", false, []float64{1, 1, 2}, []float64{1, 1, 2}, []int{0, 0, 0}, map[faultKind]int{clockRepeat: 1}},
		{"a step back", true, []float64{10, 9, 9.5}, []float64{10, 9, 9.5}, []int{0, 1, 1}, map[faultKind]int{clockBack: 1}},
		{"midnight", true, []float64{86399, 1, 2}, []float64{86399, 86401, 86402}, []int{0, 0, 0}, nil},
		{"midnight and as long a step as may be", true, []float64{86397, 2}, []float64{86397, 86402}, []int{0, 0}, nil},
		{"midnight in a gap", true, []float64{86399, 10, 11}, []float64{86399, 86410, 86411}, []int{0, 1, 1}, map[faultKind]int{gap: 1}},
		{"two midnights", true, []float64{86399, 1, 43200, 86399, 1}, []float64{86399, 86401, 129600, 172799, 172801}, []int{0, 0, 1, 2, 2}, map[faultKind]int{gap: 2}},
		{"a clock that knows no midnight", false, []float64{86399, 1}, []float64{86399, 1}, []int{0, 1}, map[faultKind]int{clockBack: 1}},
		{"half a day back", true, []float64{43201, 1}, []float64{43201, 1}, []int{0, 1}, map[faultKind]int{clockBack: 1}},
		{"back into the afternoon", true, []float64{86399.5, 43198}, []float64{86399.5, 129598}, []int{0, 1}, map[faultKind]int{gap: 1}},
	} {
		for _, cut := range []int{len(c.raw), 1} {
			var faults Tally
			var time []float64
			var stretch []int
			a := NewAligner(0, Alignment{GapOver: 5, Wraps: c.wraps}, &faults)
			for raw := range slices.Chunk(c.raw, cut) {
				a.Clock(&Batch{N: len(raw), Line: make([]int32, len(raw)), Vals: [][]float64{slices.Clone(raw)}, Gaps: make([][]int32, 1)}, 0, 1)
				time, stretch = append(time, a.Time...), append(stretch, a.Stretches...)
			}
			if !slices.Equal(time, c.time) || !slices.Equal(stretch, c.stretch) {
				t.Errorf("%s: %v in stretches %v, want %v in %v", c.why, time, stretch, c.time, c.stretch)
			}
			for kind := range faults {
				if got := faults[kind].count; got != c.faults[faultKind(kind)] {
					t.Errorf("%s: %d times %s, want %d", c.why, got, faultNames[kind], c.faults[faultKind(kind)])
				}
			}
		}
	}
}
