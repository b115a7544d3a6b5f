package page

import (
	"fmt"
	"math"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/shade"
)

// levels is the number of steps in which a page shades: a class each, since a
// page that allows no inline styles has its colours in its style sheet.
const levels = 21

// class is what the style sheet calls a cell's shade and marks.
func class(c view.Cell) string {
	var words []string
	switch c.Scale {
	case view.BySize:
		words = append(words, fmt.Sprintf("s%d", step(c.Level)))
	case view.BySign:
		words = append(words, fmt.Sprintf("d%d", step((c.Level+1)/2)))
	}
	for _, m := range []struct {
		mark view.Mark
		word string
	}{{view.Changed, "changed"}, {view.Thin, "thin"}, {view.Filled, "inferred"}, {view.Inferred, "inferred"}} {
		if c.Mark&m.mark != 0 {
			words = append(words, m.word)
		}
	}
	return strings.Join(words, " ")
}

func step(share float64) int {
	return int(math.Round(min(max(share, 0), 1) * (levels - 1)))
}

// levelRules are the style rules of the scales, those of signs anew for dark
// ground.
func levelRules() string {
	var b, dark strings.Builder
	for i := range levels {
		size := shade.Size(float64(i), 0, levels-1)
		sign := shade.Sign(float64(2*i-levels+1), levels-1)
		night := shade.DivergingDark.At(float64(i) / (levels - 1))
		fmt.Fprintf(&b, ".s%d{--bg:%s;--fg:%s}\n.d%d{--bg:%s;--fg:%s}\n", i, size, size.Text(), i, sign, sign.Text())
		fmt.Fprintf(&dark, ".d%d{--bg:%s;--fg:%s}\n", i, night, night.Text())
	}
	return b.String() + "@media screen and (prefers-color-scheme: dark) {\n" + dark.String() + "}\n"
}
