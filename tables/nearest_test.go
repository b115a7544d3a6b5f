package tables

import "testing"

func TestNearest(t *testing.T) {
	all := []string{"mean", "max", "min", "injector.flow", "injector.offset", "r"}
	for _, c := range []struct{ name, want, why string }{
		{"maen", "mean", "letters that changed places"},
		{"Mean", "mean", "capitals"},
		{"injector.flwo", "injector.flow", "a longer name"},
		{"injector.fl", "injector.flow", "an end left out"},
		{"spark", "", "nothing is near"},
		{"inj", "", "two begin so"},
		{"rr", "", "one of one letter is near nothing"},
		{"gap", "", "of three letters one may be wrong"},
		{"x", "", "of one letter nothing is near"},
		{"", "", "nor of none"},
	} {
		if got := Nearest(c.name, all); got != c.want {
			t.Errorf("%s: %q is near %q, want %q", c.why, c.name, got, c.want)
		}
	}
	for name, want := range map[string]string{
		"maen": `there is no statistic "maen": did you mean mean?`,
		"zzzz": `there is no statistic "zzzz", only mean, max, min, injector.flow, injector.offset, r`,
	} {
		if got := Unknown("statistic", name, all); got != want {
			t.Errorf("%s: %s", name, got)
		}
	}
	if got := Unknown("table", "a", nil); got != `there is no table "a", nor any other` {
		t.Error(got)
	}
}
