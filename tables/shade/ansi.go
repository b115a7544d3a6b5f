package shade

import (
	"image/color"
	"sync"
)

// ANSI256 is the nearest of a terminal's colours 16 to 255, and what that looks like:
// the cube of 6 × 6 × 6 and the 24 greys, whose values are the same everywhere. The
// first 16 are the user's own, and not used.
func (c RGB) ANSI256() (number int, shown RGB) {
	i := palette().Index(c)
	return 16 + i, palette()[i].(RGB)
}

// RGBA implements [color.Color].
func (c RGB) RGBA() (r, g, b, a uint32) { return color.RGBA{c.R, c.G, c.B, 255}.RGBA() }

var palette = sync.OnceValue(func() (p color.Palette) {
	level := []uint8{0, 95, 135, 175, 215, 255}
	for _, r := range level {
		for _, g := range level {
			for _, b := range level {
				p = append(p, RGB{r, g, b})
			}
		}
	}
	for i := range uint8(24) {
		g := 8 + 10*i
		p = append(p, RGB{g, g, g})
	}
	return p
})
