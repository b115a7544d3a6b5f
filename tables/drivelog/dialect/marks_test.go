package dialect

import "testing"

// TestProves: which decimal mark a number's own characters prove.
func TestProves(t *testing.T) {
	for _, c := range []struct {
		cell    string
		mark    byte
		two, ok bool
	}{
		{"1.004", Undecided, true, true},
		{"-1,004", Undecided, true, true},
		{"0.123", '.', false, true},
		{"0,123", ',', false, true},
		{"1.0045", '.', false, true},
		{"1.04", '.', false, true},
		{"1004.125", '.', false, true},
		{"1.234.567", ',', false, true},
		{"1.234,5", ',', false, true},
		{"1,234.5", '.', false, true},
		{"1 004", Undecided, false, true},
		{"1'004,5", ',', false, true},
		{"1.5e3", '.', false, true},
		{"1004", Undecided, false, true},
		{"1.23.456", Undecided, false, false},
		{"1.234.56", Undecided, false, false},
		{"1.234 567", Undecided, false, false},
		{"1\x00005", Undecided, false, false},
	} {
		if mark, two, ok := proves([]byte(c.cell)); mark != c.mark || two != c.two || ok != c.ok {
			t.Errorf("%q: %q %v %v", c.cell, mark, two, ok)
		}
	}
	// Where nothing is proved no character is a mark.
	if v, ok := Number([]byte("1\x005"), Undecided); ok {
		t.Error(v)
	}
}
