package cells

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/tables/drivelog"
)

// Looking only at the instants that come near a limit finds what looking at
// each instant does.
func checkNear(t *rapid.T) {
	runs := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) [3]int {
		return [3]int{rapid.SampledFrom([]int{-12, -9, -7, 0, 7, 9, 12}).Draw(t, "trim"), rapid.IntRange(1, 40).Draw(t, "instants"), rapid.IntRange(0, 5).Draw(t, "gap")}
	}), 1, 12).Draw(t, "runs")
	limit := rapid.SampledFrom([]float64{0, 0, 9}).Draw(t, "limit")
	var f drivelog.Frame
	var trim drivelog.Column
	stretch := 0
	for _, run := range runs {
		if run[2] == 0 {
			stretch++
		}
		for range run[1] {
			f.Time, f.Stretch = append(f.Time, float64(f.N)/5), append(f.Stretch, stretch)
			trim.Value, trim.Fresh = append(trim.Value, float64(run[0])), append(trim.Fresh, true)
			f.N++
		}
	}
	size := rapid.IntRange(1, f.N).Draw(t, "frame")
	at := func(watch func(p *placer, f *drivelog.Frame)) float64 {
		p := placer{here: &locator{}, limits: sift.NewLimiter(limit, []uint8{1}, [4]int{0, -1, -1, -1}), take: [][]bool{slices.Repeat([]bool{true}, size)}}
		p.here.Places, p.here.Cell = 1, make([]int32, size)
		for from := 0; from < f.N; from += size {
			end := min(from+size, f.N)
			part := drivelog.Frame{N: end - from, Time: f.Time[from:end], Stretch: f.Stretch[from:end],
				Columns: []drivelog.Column{{Value: trim.Value[from:end], Fresh: trim.Fresh[from:end]}}}
			watch(&p, &part)
			p.stretch = part.Stretch[part.N-1]
		}
		limited := 0.0
		p.limits.Finish(func(_, _ int, weight float64) { limited += weight })
		return limited
	}
	last := 0
	want := at(func(p *placer, f *drivelog.Frame) {
		for i := range f.N {
			p.limits.Next(f, i, f.Stretch[i] != last)
			last = f.Stretch[i]
			p.limits.Sample(0, 0, 1)
		}
	})
	got := at(func(p *placer, f *drivelog.Frame) {
		for i := p.limits.From(f, 0); i < f.N; i = p.limits.From(f, i+1) {
			p.watch(f, i)
		}
	})
	if got != want {
		t.Errorf("%v samples at a limit, want %v", got, want)
	}
}

func TestNear(t *testing.T) { rapid.Check(t, checkNear) }
func FuzzNear(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkNear)) }

// at_limit as DESIGN has it: standing still at the log's extreme, ten readings
// and two seconds at least, 8 % or more in size or the limit that was given.
func TestAtLimit(t *testing.T) {
	wave := func(i int) float64 { return 3 * math.Sin(float64(i)) }
	for _, tc := range []struct {
		why   string
		short func(i int) float64
		limit float64
		want  int // samples of 200
	}{
		{"half the drive pinned at 25 %", func(i int) float64 { return logtest.Pick(i < 100, wave(i), 25) }, 0, 100},
		{"pinned on the other side", func(i int) float64 { return logtest.Pick(i < 100, wave(i), -25) }, 0, 100},
		{"pinned below 8 % is no limit", func(i int) float64 { return logtest.Pick(i < 100, wave(i), 7) }, 0, 0},
		{"so is one just below", func(i int) float64 { return logtest.Pick(i < 100, wave(i), 7.99) }, 0, 0},
		{"8 % itself is one", func(i int) float64 { return logtest.Pick(i < 100, wave(i), 8) }, 0, 100},
		{"unless it is given", func(i int) float64 { return logtest.Pick(i < 100, wave(i), 7) }, 7, 100},
		{"too short: nineteen readings are 1.8 s", func(i int) float64 { return logtest.Pick(i >= 50 && i < 69, 25, wave(i)) }, 0, 0},
		{"two seconds are twenty-one readings", func(i int) float64 { return logtest.Pick(i >= 50 && i < 71, 25, wave(i)) }, 0, 21},
		{"a limit cycle's own peaks of 12 % are touched, not stood at", func(i int) float64 { return math.Round(12*math.Sin(float64(i)/4)*4) / 4 }, 0, 0},
		{"standing below the extreme is no limit", func(i int) float64 { return logtest.Pick(i < 100, 20, logtest.Pick(i == 150, 25, wave(i))) }, 0, 0},
		{"an earlier stand at a lower value is forgotten, a later one at the extreme counts",
			func(i int) float64 { return logtest.Pick(i < 60, 20, logtest.Pick(i < 100, 25, wave(i))) }, 0, 40},
		{"both stands at one extreme count", func(i int) float64 { return logtest.Pick(i < 40 || i >= 160, 25, wave(i)) }, 0, 80},
	} {
		path := logtest.CSV(t, "RPM,STFT (%),LTFT (%)", 200, func(i int) string { return fmt.Sprintf("1000,%v,2", tc.short(i)) })
		x := logtest.Axis(t, "engine_speed", 1000)
		d := document(t, gatherFile(t, Spec{X: x, Values: []string{"trim", "long_trim_1"}, TrimLimit: tc.limit}, path))
		if got := d.Table("trim.at_limit").At(0, 0); math.Abs(got-float64(tc.want)/200) > 1e-12 {
			t.Errorf("%s: %v of samples at the limit, want %v", tc.why, got, float64(tc.want)/200)
		}
		if got := d.Table("long_trim_1.at_limit").At(0, 0); got != 0 {
			t.Errorf("%s: the long trim stands at no limit, but at_limit is %v", tc.why, got)
		}
	}
}

// A long trim that stands still is at a limit only where the short one is still
// needed on that side: a learned +9.9 % with a short trim that swings about zero
// has gone as far as it wants to.
func TestLearnedIsNoLimit(t *testing.T) {
	swing := func(i int) float64 { return []float64{-1.6, 0, 0, 1.6}[i%4] }
	for _, tc := range []struct {
		why   string
		short func(i int) float64
		long  float64
		limit float64
		want  float64
	}{
		{"short swings about 0", swing, 9.9, 0, 0},
		{"short is needed as well", func(i int) float64 { return 4 + swing(i) }, 9.9, 0, 1},
		{"short takes some of it back", func(i int) float64 { return swing(i) - 4 }, 9.9, 0, 0},
		{"short is needed on the lower side", func(i int) float64 { return swing(i) - 4 }, -9.9, 0, 1},
		{"short never moves and says nothing", func(int) float64 { return 0 }, 9.9, 0, 1},
		{"the limit is given", swing, 9.9, 9, 1},
	} {
		path := logtest.CSV(t, "RPM,STFT (%),LTFT (%)", 200, func(i int) string { return fmt.Sprintf("1000,%v,%v", tc.short(i), tc.long) })
		for _, channel := range []string{"trim", "long_trim_1"} {
			d := document(t, gatherFile(t, Spec{X: logtest.Axis(t, "engine_speed", 1000), Values: []string{channel}, TrimLimit: tc.limit}, path))
			if got := d.Table(channel+".at_limit").At(0, 0); got != tc.want {
				t.Errorf("%s: %s.at_limit is %v, want %v", tc.why, channel, got, tc.want) // promise: never silent
			}
		}
	}
}
