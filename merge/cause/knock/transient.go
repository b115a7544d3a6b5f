package knock

import (
	"math"

	"calsplice/interp/drive"
	"calsplice/tables/drivelog"
)

// What is said of an instant by what the throttle, the engine speed and the gear just did, all
// of which a knock sensor hears as knock.
const (
	thrown  uint8 = 1 << iota // the throttle is well below where it was, or a lower gear is taken under load
	lowered                   // a lower gear is taken under load
	lifted                    // the throttle was lifted
	tipped                    // it was opened
	jumped                    // engine speed jumped as it does in a gear change, where no gear is logged
	geared                    // the gear is another than before
)

// transients tells them from windows that see every instant.
type transients struct {
	columns  *drive.Columns
	stretch  int
	throttle window
	most     float64 // load so far in all logs, where no throttle is logged
	speed    window
	gear     float64 // last read
}

// judge is the part of a scan that tells the transients of one more log.
func (t *transients) judge(has func(name string) bool) drivelog.Judge {
	t.columns = drive.Ask(has, drive.Throttle, drive.Speed, drive.Gear, drive.Charge, drive.Manifold, drive.Load)
	t.stretch, t.throttle.keep, t.speed.keep = -1, 1, 0.3
	return drivelog.Judge{Name: "transients", Columns: t.columns.Names, New: func() func(f *drivelog.Frame, said []uint8) { return t.frame }}
}

// frame takes a frame instant by instant. Nothing reaches over a gap in the log.
func (t *transients) frame(f *drivelog.Frame, said []uint8) {
	t.columns.Take(f)
	throttle, speed, gear := t.columns.Values(drive.Throttle), t.columns.Values(drive.Speed), t.columns.Values(drive.Gear)
	for i, now := range f.Since {
		if f.Stretch[i] != t.stretch {
			t.throttle.clear()
			t.speed.clear()
			t.gear, t.stretch = math.NaN(), f.Stretch[i]
		}
		open := throttle[i]
		if !t.columns.Has(drive.Throttle) {
			open = t.load(t.columns.At(i))
		}
		t.throttle.push(now, open)
		t.speed.push(now, speed[i])
		said[i] = t.swings() | t.shifts(throttle[i], gear[i])
	}
}

// swings tells what the throttle did.
func (t *transients) swings() (said uint8) {
	const by = liftPoints - 1e-9
	if fell := t.throttle.fell(by); fell >= by {
		if fell >= liftPoints {
			said |= thrown
		}
		if t.throttle.last.value < wideOpen {
			said |= lifted
		}
	}
	if t.throttle.rose(tipPoints) >= tipPoints {
		said |= tipped
	}
	return said
}

// A jump of engine speed within 0.3 s that only a gear change makes, as shares of where it
// was and where it is (common practice, no source).
const (
	fallsBy = 0.06
	risesBy = 0.12 // on a closed throttle
	lowerBy = 0.2  // of a lower gear, on any
)

// shifts tells gear changes. A lower gear taken under load rattles the drive line as a lift
// does.
func (t *transients) shifts(throttle, gear float64) (said uint8) {
	speed := t.speed.last.value
	if t.speed.rose(lowerBy*speed) > lowerBy*speed {
		said |= lowered | thrown
	}
	if t.columns.Has(drive.Gear) {
		if gear != t.gear && gear == gear {
			if t.gear == t.gear {
				said |= geared
			}
			t.gear = gear
		}
		return said
	}
	if fell := t.speed.fell(fallsBy * speed); fell > fallsBy*(speed+fell) || throttle < 20 && t.speed.rose(risesBy*speed) > risesBy*speed {
		said |= jumped
	}
	return said
}

// load stands in for a throttle that is not logged, in per cent of the highest so far: it
// falls when the throttle is lifted.
func (t *transients) load(v *drive.Instant) float64 {
	at := v.Point()
	load := loadOf(&at)
	if load > t.most {
		t.most = load
	}
	return 100 * load / t.most
}
