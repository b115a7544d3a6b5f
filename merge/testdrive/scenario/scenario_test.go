package scenario

import (
	"bytes"
	"testing"
)

// TestDraw keeps the sets what they claim to be: drives that can be driven, the
// same again for the same numbers, and no scenario in both sets.
func TestDraw(t *testing.T) {
	names := map[string]bool{}
	healthy := 0
	for _, set := range []Set{Chosen, Fresh} {
		for i := range Count {
			s, again, other := Draw(set, i, 1), Draw(set, i, 1), Draw(set, i, 2)
			if s.Name != again.Name || s.options.Seed != again.options.Seed {
				t.Errorf("%s is drawn differently a second time", s.Name)
			}
			if s.options.Seed == other.options.Seed {
				t.Errorf("%s is the same in two drives", s.Name)
			}
			about := s.Name[len(set):]
			if names[about] {
				t.Errorf("%s is in both sets", s.Name)
			}
			names[about] = true
			if s.options.Minutes = 1; s.rough != nil {
				s.rough.minutes = 1
			}
			if rows := bytes.Count(s.CSV(), []byte("\n")); rows < 60 {
				t.Errorf("%s: %d rows in a minute", s.Name, rows)
			}
			if len(s.Truth.Causes) == 0 && !s.Truth.Doubt {
				healthy++
			}
		}
	}
	if healthy != 14 {
		t.Errorf("%d scenarios are of healthy engines, want 14 of %d", healthy, 2*Count)
	}
}
