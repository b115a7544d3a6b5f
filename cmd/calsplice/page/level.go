package page

import (
	"fmt"
	"math"
	"strings"

	"calsplice/tables/shade"
)

// levels is the number of steps in which a page shades: a class each, since a
// page that allows no inline styles has its colours in its style sheet.
const levels = 21

// Sequential is the class that shades v by its size between low and high.
func Sequential(v, low, high float64) string {
	if math.IsNaN(v) || !(high > low) {
		return ""
	}
	return fmt.Sprintf("s%d", step((v-low)/(high-low)))
}

// Diverging is the class that shades v by its sign and size, where extent is
// the largest size that occurs.
func Diverging(v, extent float64) string {
	if math.IsNaN(v) || !(extent > 0) {
		return ""
	}
	return fmt.Sprintf("d%d", step((v/extent+1)/2))
}

func step(share float64) int {
	return int(math.Round(min(max(share, 0), 1) * (levels - 1)))
}

// levelRules are the style rules of both scales.
func levelRules() string {
	var b strings.Builder
	for i := range levels {
		size := shade.Size(float64(i), 0, levels-1)
		sign := shade.Sign(float64(2*i-levels+1), levels-1)
		fmt.Fprintf(&b, "td.s%d{background:%s;color:%s}\ntd.d%d{background:%s;color:%s}\n", i, size, size.Text(), i, sign, sign.Text())
	}
	return b.String()
}
