package knock

import (
	"math"
	"testing"

	"calsplice/interp/drive"
)

// TestStaysJoin: stays of one kind in one bin are one, by hand; those of another kind,
// bin or time are not, nor those in which something may yet be heard.
func TestStaysJoin(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	quiet := func(start, seconds, quiet float64) Stay {
		return Stay{Start: start, Seconds: seconds, Readings: 5, Need: nan, Quiet: quiet, Speed: 1000 * seconds, Charge: 400}
	}
	loud := func(start, need float64) Stay {
		s := quiet(start, 1, inf)
		s.Need, s.Quiet, s.before, s.after = need, inf, need-1, need+1
		s.Heard[steady], s.free = 1, 1
		return s
	}
	elsewhere := quiet(5, 1, 0)
	elsewhere.Bin = 1
	warm := quiet(6, 3, 0.25)
	warm.intake = drive.Mean{Sum: 120, Weight: 3}
	other := quiet(61, 1, 0)
	other.Log = 1
	d := &Drive{within: 60, latest: make([]int, 2)}
	for _, s := range []Stay{quiet(0, 1, 0.5), loud(1, 2), quiet(2, 1, 0.25), loud(3, 4), quiet(4, 0.2, 0), elsewhere, warm, quiet(61, 1, 0), other} {
		d.keep(&s)
	}
	if len(d.Stays) != 6 {
		t.Fatalf("%d stays are left, want 6", len(d.Stays))
	}
	s := d.Stays[0]
	s.finish()
	if s.number() != 3 || s.numberApart() != 0 || s.Seconds != 5 || s.Readings != 15 || s.Quiet != 0.25 || s.Need == s.Need || s.Intake != 40 || math.Abs(s.Speed-(1000+1000+3000)/5.0) > 1e-9 {
		t.Errorf("quiet: %+v", s)
	}
	if want := 1/1.5 + 1/1.5 + 3/3.5; math.Abs(s.weight()-want) > 1e-12 {
		t.Errorf("three quiet stays weigh %v, want %v", s.weight(), want)
	}
	l := d.Stays[1]
	l.bound()
	if l.number() != 2 || l.numberApart() != 2 || l.Heard[steady] != 2 || l.Need != 3 || !l.Knocked() {
		t.Errorf("with knock: %+v", l)
	}
	if one := d.Stays[2]; one.number() != 1 || one.Seconds != 0.2 {
		t.Errorf("one too short to be listened to was joined: %+v", one)
	}
	short, long := quiet(0, 1, 0), quiet(0, 1, 0)
	short.leanTime = 0.5
	other = short
	if short.join(&other); short.leanTime != 0.5 {
		t.Errorf("two lambda readings too short to tell are %v s, want 0.5", short.leanTime)
	}
	long.leanTime, long.lean = leanSeconds, drive.Mean{Sum: 0.1 * leanSeconds, Weight: leanSeconds}
	if long.kind() == short.kind() {
		t.Error("a mixture that is told is of the kind of one that is not")
	}
	other = long
	if long.join(&other); long.leanTime != 2*leanSeconds || math.Abs(long.lean.Value()-0.1) > 1e-12 {
		t.Errorf("two mixtures of %v s are %v, %v s", leanSeconds, long.lean.Value(), long.leanTime)
	}
}

// TestManyStays: however long a drive, it has no more than so many stays, and each
// second and rise of it is counted.
func TestManyStays(t *testing.T) {
	d := &Drive{latest: make([]int, 50)}
	seconds, rises, need := 0.0, 0, 0.0
	for i := range 5 * mostStays {
		s := Stay{Bin: i % 50, Start: float64(2 * i), Seconds: 1, Need: math.NaN(), Quiet: 0}
		if i%9 == 0 {
			s.Need, s.before, s.after, s.Quiet = float64(i%4), float64(i%4), float64(i%4), math.Inf(1)
			s.Heard[steady]++
			rises, need = rises+1, need+s.Need
		}
		d.keep(&s)
		seconds++
	}
	if len(d.Stays) > mostStays {
		t.Errorf("%d stays", len(d.Stays))
	}
	for i := range d.Stays {
		s := &d.Stays[i]
		seconds, rises = seconds-s.Seconds, rises-s.Heard[steady]
		if s.Knocked() {
			need -= s.Need * float64(s.number())
		}
	}
	if seconds != 0 || rises != 0 || math.Abs(need) > 1e-6 {
		t.Errorf("%v s, %d rises and %v deg are missing", seconds, rises, need)
	}
}

// TestSettle: a stay is kept once nothing can be heard in it any more, not before.
func TestSettle(t *testing.T) {
	s := &Listener{d: &Drive{}}
	for i := range 3 {
		*s.pending.next() = Stay{Bin: i}
		s.opened++
	}
	*s.recent.next() = spot{stay: 1}
	s.settle()
	if len(s.d.Stays) != 1 || s.d.Stays[0].Bin != 0 || len(s.pending.all()) != 2 || s.pendingStay(1).Bin != 1 || s.pendingStay(2).Bin != 2 {
		t.Errorf("kept %+v, pending %+v", s.d.Stays, s.pending.all())
	}
	s.recent.clear()
	if s.settle(); len(s.d.Stays) != 3 || len(s.pending.all()) != 0 {
		t.Errorf("in the end %d are kept, and %d pending", len(s.d.Stays), len(s.pending.all()))
	}
}
