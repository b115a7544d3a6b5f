// Package shade turns a number into a colour, for terminals, pages and
// workbooks alike.
//
// There are two scales, both published, both readable in the common
// deficiencies of colour sight, both steady in lightness: [Sequential] for how
// large, [Diverging] for how far to either side of zero. [Size] and [Sign] are
// the shades of a number on them; [RGB.Text] is what can be read on a shade.
// Colour never stands alone: whoever shades also prints the number and its
// sign.
//
// Where the numbers come from and under what licences: NOTICE.md in this
// folder.
package shade

import (
	_ "embed"
	"fmt"
	"math"
	"strings"
	"sync"
)

// RGB is a colour in sRGB.
type RGB struct{ R, G, B uint8 }

// Black and White are the two colours that text on a shade takes.
var (
	Black = RGB{0, 0, 0}
	White = RGB{255, 255, 255}
)

// String is the colour as pages and workbooks write it: "#rrggbb".
func (c RGB) String() string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// Text is black or white, whichever reads better on c by the contrast of WCAG
// 2.1. On every shade of both scales that is 4.5 to 1 or better.
func (c RGB) Text() RGB {
	if Contrast(c, Black) >= Contrast(c, White) {
		return Black
	}
	return White
}

// Contrast is the contrast ratio of two colours by WCAG 2.1, from 1 to 21.
func Contrast(a, b RGB) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(c RGB) float64 {
	return float64(0.2126*linear(c.R)) + float64(0.7152*linear(c.G)) + float64(0.0722*linear(c.B))
}

// linear takes the sRGB curve (IEC 61966-2-1) off one channel.
func linear(v uint8) float64 {
	s := float64(v) / 255
	if s <= 0.04045 {
		return s / 12.92
	}
	return math.Pow((s+0.055)/1.055, 2.4)
}

// Scale is a published run of colours from its low end to its high one.
type Scale struct {
	Name   string
	csv    *string
	once   sync.Once
	colour []RGB
}

//go:embed viridis.csv
var viridis string

//go:embed vik.csv
var vik string

//go:embed berlin.csv
var berlin string

// The scales. Sequential runs from dark and small to light and large; Diverging
// from blue and negative through light at zero to brown and positive, and
// DivergingDark, for a dark ground, through dark at zero.
var (
	Sequential    = &Scale{Name: "viridis", csv: &viridis}
	Diverging     = &Scale{Name: "vik", csv: &vik}
	DivergingDark = &Scale{Name: "berlin", csv: &berlin}
)

// At is the colour at a share of the scale, 0 its low end and 1 its high one;
// a share past either end is that end.
func (s *Scale) At(share float64) RGB {
	s.once.Do(s.read)
	last := float64(len(s.colour) - 1)
	at := min(max(share, 0), 1) * last
	if math.IsNaN(at) {
		at = 0
	}
	i := min(int(at), len(s.colour)-2)
	a, b, w := s.colour[i], s.colour[i+1], at-float64(i)
	return RGB{mix(a.R, b.R, w), mix(a.G, b.G, w), mix(a.B, b.B, w)}
}

func mix(a, b uint8, w float64) uint8 {
	return uint8(math.Round(float64(a) + float64(w*(float64(b)-float64(a)))))
}

func (s *Scale) read() {
	lines := strings.Split(strings.TrimSpace(*s.csv), "\n")[1:]
	for _, line := range lines {
		var i int
		var c RGB
		if n, err := fmt.Sscanf(line, "%d,%d,%d,%d", &i, &c.R, &c.G, &c.B); n != 4 {
			panic(fmt.Sprintf("shade: %s: %q: %v", s.Name, line, err))
		}
		s.colour = append(s.colour, c)
	}
}

// Size is the shade of a value among values from low to high. Where they are
// all alike it is the middle of the scale, since nothing is large or small.
func Size(v, low, high float64) RGB { return Sequential.At(Share(v, low, high)) }

// Sign is the shade of a difference, the largest of which is most in size.
// Zero is the middle of the scale whatever the rest.
func Sign(v, most float64) RGB {
	if !(most > 0) {
		return Diverging.At(0.5)
	}
	return Diverging.At(0.5 + v/most/2)
}

// Share is where v stands between low and high, from 0 to 1, and a half where
// those two are the same.
func Share(v, low, high float64) float64 {
	if !(high > low) {
		return 0.5
	}
	// Halves, so that the span of two huge numbers stays finite.
	return min(max((v/2-low/2)/(high/2-low/2), 0), 1)
}

// The scales' lighter stretches, on which black text reads: for spreadsheets,
// whose own colour scales leave the text as it is. LightSize is a share of
// [Sequential] from 0 to 1, LightSign of [Diverging] from −1 to 1.
func LightSize(share float64) RGB { return Sequential.At(0.5 + share/2) }

// LightSign: see [LightSize].
func LightSign(share float64) RGB { return Diverging.At(0.5 + float64(share*0.22)) }
