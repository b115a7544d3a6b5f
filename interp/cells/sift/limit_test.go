package sift

import (
	"fmt"
	"testing"

	"calsplice/tables/drivelog"
)

// TestTrimsBehind: each definition is looked at once, so that a chain of 60 sums,
// which would be gone through 2^60 times, ends.
func TestTrimsBehind(t *testing.T) {
	chain := []drivelog.Definition{{Name: "d0", Expr: "short_trim_2"}}
	for i := range 60 {
		d := chain[i].Name
		chain = append(chain, drivelog.Definition{Name: fmt.Sprintf("d%d", i+1), Expr: d + " + " + d})
	}
	for _, c := range []struct {
		channel string
		let     []drivelog.Definition
		want    uint8
	}{
		{"d60", chain, 0b0100},
		{"trim_1", chain, 0b0011},
		{"short_trim_1 + long_trim_2", nil, 0b1001},
		{"long_trim_1", []drivelog.Definition{{Name: "long_trim_1", Expr: "long_trim_1 * trim_2"}}, 0b1110},
		{"short_trim_1", []drivelog.Definition{{Name: "short_trim_1", Expr: "long_trim_1"}, {Name: "long_trim_1", Expr: "short_trim_1"}}, 0b0010},
		{"battery", nil, 0},
	} {
		if got := TrimsBehind(c.channel, c.let); got != c.want {
			t.Errorf("%s: %04b, want %04b", c.channel, got, c.want)
		}
	}
}
