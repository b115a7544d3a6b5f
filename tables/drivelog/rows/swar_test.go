package rows

import (
	"math"
	"testing"

	"calsplice/tables/drivelog/dialect"
)

// FuzzSmallNumber: what is read eight characters at a time is what is read one
// by one, to the bit.
func FuzzSmallNumber(f *testing.F) {
	for _, s := range []string{"0", "-0", "1.5", "-.5", "5.", ".", "", "+7", "--1", "1.2.3", "12345678", "1234567.", "-1234.567", "123456789"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		want, isNumber := dialect.Number([]byte(s), '.')
		got, ok := smallNumber([]byte("1234567"+s+"\n"), 7, 7+len(s), '.')
		if ok && (!isNumber || math.Float64bits(got) != math.Float64bits(want)) {
			t.Errorf("smallNumber(%q) is %v, want %v %v", s, got, want, isNumber)
		}
	})
}

// TestNoMark: where no decimal mark is proved no character is one.
func TestNoMark(t *testing.T) {
	if v, ok := smallNumber([]byte("        1\x005"), 8, 11, dialect.Undecided); ok {
		t.Error(v)
	}
}
