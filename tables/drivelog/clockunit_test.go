package drivelog

import "testing"

// TestClockUnit: what the numbers alone leave of the units.
func TestClockUnit(t *testing.T) {
	slow := swing{&swingBands[0], 0, 0.5} // r/min a second of the log's clock
	for _, c := range []struct {
		why  string
		p    pace
		want string
	}{
		{"tenths are too coarse for minutes", pace{step: 0.1, places: 1, span: 900, engineLogged: true}, "s"},
		{"thousandths are not", pace{step: 0.1, places: 3, span: 900, engineLogged: true}, "steps of 0.1 may be minutes or seconds: --time-format min or s"},
		{"no engine takes so many seconds", pace{step: 1, span: 2000, engineLogged: true, swings: []swing{slow}}, "ms"},
		{"nothing moves in a long log", pace{step: 1, span: 9000, whole: true, engineLogged: true}, "steps of 1 may be seconds or milliseconds: --time-format s or ms"},
		{"nothing moves in a short one", pace{step: 1, span: 900, whole: true, engineLogged: true}, "s"},
		{"no logger", pace{step: 1e300}, "steps of 1e+300 are no logger's in any unit of time: --time-format"},
	} {
		u, _, err := c.p.unit()
		got := u.name
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}
