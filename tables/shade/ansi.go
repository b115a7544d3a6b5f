package shade

import (
	"math"
	"sync"
)

// ANSI256 is the nearest of a terminal's colours 16 to 255: the cube of 6 × 6 ×
// 6 and the 24 greys, whose values are the same everywhere (the first 16 are
// the user's own).
func (c RGB) ANSI256() int { return 16 + nearest(c, palette256()) }

// ANSI16 is the nearest of a terminal's first 16 colours, by the values that
// xterm gives them; a user may have set others.
func (c RGB) ANSI16() int { return nearest(c, palette16()) }

var palette256 = sync.OnceValue(func() []lab {
	level := []uint8{0, 95, 135, 175, 215, 255}
	p := make([]lab, 0, 240)
	for _, r := range level {
		for _, g := range level {
			for _, b := range level {
				p = append(p, labOf(RGB{r, g, b}))
			}
		}
	}
	for i := range uint8(24) {
		g := 8 + 10*i
		p = append(p, labOf(RGB{g, g, g}))
	}
	return p
})

var palette16 = sync.OnceValue(func() []lab {
	p := make([]lab, 0, 16)
	for _, c := range []RGB{
		{0, 0, 0}, {205, 0, 0}, {0, 205, 0}, {205, 205, 0}, {0, 0, 238}, {205, 0, 205}, {0, 205, 205}, {229, 229, 229},
		{127, 127, 127}, {255, 0, 0}, {0, 255, 0}, {255, 255, 0}, {92, 92, 255}, {255, 0, 255}, {0, 255, 255}, {255, 255, 255},
	} {
		p = append(p, labOf(c))
	}
	return p
})

// lab is a colour in CIE L*a*b* under D65, where a distance is what an eye sees.
type lab struct{ l, a, b float64 }

func labOf(c RGB) lab {
	r, g, b := linear(c.R), linear(c.G), linear(c.B)
	x := (float64(0.4124*r) + float64(0.3576*g) + float64(0.1805*b)) / 0.95047
	y := float64(0.2126*r) + float64(0.7152*g) + float64(0.0722*b)
	z := (float64(0.0193*r) + float64(0.1192*g) + float64(0.9505*b)) / 1.08883
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (float64(24389.0/27*t) + 16) / 116
	}
	return lab{float64(116*f(y)) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// nearest is the index of the palette's colour at the smallest CIE 1976
// distance, the first of equals.
func nearest(c RGB, palette []lab) int {
	want := labOf(c)
	best, least := 0, math.Inf(1)
	for i, p := range palette {
		dl, da, db := p.l-want.l, p.a-want.a, p.b-want.b
		if d := float64(dl*dl) + float64(da*da) + float64(db*db); d < least {
			best, least = i, d
		}
	}
	return best
}
