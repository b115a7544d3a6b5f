package dialect

import "testing"

// TestClockUnit: what the numbers alone leave of the units.
func TestClockUnit(t *testing.T) {
	slow := Swing{&SwingBands[0], 0, 0.5} // r/min a second of the log's clock
	for _, c := range []struct {
		why  string
		p    Pace
		want string
	}{
		{"tenths are too coarse for minutes", Pace{Step: 0.1, places: 1, Span: 900, Moving: []Timed{{}}}, "s"},
		{"thousandths are not", Pace{Step: 0.1, places: 3, Span: 900, Moving: []Timed{{}}}, "steps of 0.1 may be minutes or seconds: --time-format min or s"},
		{"no engine takes so many seconds", Pace{Step: 1, Span: 2000, Moving: []Timed{{}}, swings: []Swing{slow}}, "ms"},
		{"nothing moves in a long log", Pace{Step: 1, Span: 9000, Whole: true, Moving: []Timed{{}}}, "steps of 1 may be seconds or milliseconds: --time-format s or ms"},
		{"nothing moves in a short one", Pace{Step: 1, Span: 900, Whole: true, Moving: []Timed{{}}}, "s"},
		{"no logger", Pace{Step: 1e300}, "steps of 1e+300 are no logger's in any unit of time: --time-format"},
	} {
		u, _, err := c.p.Unit()
		got := u.Name
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}
