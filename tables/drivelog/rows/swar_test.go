package rows

import (
	"math"
	"testing"

	"calsplice/tables/drivelog/dialect"
)

// FuzzWordNumber: what is read a word at a time is what is read one
// by one, to the bit.
func FuzzWordNumber(f *testing.F) {
	for _, s := range []string{"0", "-0", "1.5", "-.5", "5.", ".", "", "+7", "--1", "1.2.3", "12345678", "1234567.", "-1234.567", "123456789", "10000.125", "-123456.12345678", "123456789012345", "1234567890123456", ".123456789012345", "12345678.1234567", "1.2345678.9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		want, isNumber := dialect.Number([]byte(s), '.')
		got, ok := wordNumber([]byte("123456789012345"+s+"\n"), 15, 15+len(s), '.')
		if ok && (!isNumber || math.Float64bits(got) != math.Float64bits(want)) {
			t.Errorf("wordNumber(%q) is %v, want %v %v", s, got, want, isNumber)
		}
	})
}

// TestNoMark: where no decimal mark is proved no character is one.
func TestNoMark(t *testing.T) {
	if v, ok := wordNumber([]byte("             1\x005"), 13, 16, dialect.Undecided); ok {
		t.Error(v)
	}
}
