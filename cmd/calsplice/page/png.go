package page

import (
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"calsplice/tables/shade"
)

// scaled is the number of pixels to a unit of the drawing.
const scaled = 1.5

// pixels is a canvas of pixels, in the units of the drawing.
type pixels struct {
	image     *image.RGBA
	face      font.Face
	left, top float64 // of what is drawn now
}

// writePNG writes what is drawn on a canvas of this size.
func writePNG(w io.Writer, width, height int, drawOn func(*pixels)) error {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return err
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 12 * scaled, DPI: 72})
	if err != nil {
		return err
	}
	p := &pixels{image: image.NewRGBA(image.Rect(0, 0, int(float64(width)*scaled), int(float64(height)*scaled))), face: face}
	draw.Draw(p.image, p.image.Bounds(), image.White, image.Point{}, draw.Src)
	drawOn(p)
	return png.Encode(w, p.image)
}

func (p *pixels) line(class string, lines ...shape) {
	for _, l := range lines {
		p.stroke(inkOf(class), l)
	}
}

func (p *pixels) area(class, _ string, areas ...shape) {
	for _, a := range areas {
		i := inkOf(class)
		p.fill(i.fill, a)
		p.stroke(i, append(a[:len(a):len(a)], a[0]))
	}
}

func (p *pixels) dot(class, _ string, x, y, radius float64) {
	const corners = 24
	circle := make(shape, corners)
	for i := range circle {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		circle[i] = [2]float64{x + radius*cos, y + radius*sin}
	}
	p.fill(inkOf(class).fill, circle)
}

func (p *pixels) text(_ string, x, y float64, at anchor, s string) {
	d := font.Drawer{Dst: p.image, Src: image.NewUniform(grey), Face: p.face,
		Dot: fixed.Point26_6{X: fixed.Int26_6((x + p.left) * scaled * 64), Y: fixed.Int26_6((y + p.top) * scaled * 64)}}
	switch at {
	case ends:
		d.Dot.X -= d.MeasureString(s)
	case middle:
		d.Dot.X -= d.MeasureString(s) / 2
	}
	d.DrawString(s)
}

func (p *pixels) script(string) {}

// stroke draws along a line, so that a channel that stands still and a spike of one
// stretch are seen. Its pieces turn the same way, so that they add up where they
// overlap.
func (p *pixels) stroke(i ink, line shape) {
	var pieces []shape
	for k := 1; k < len(line); k++ {
		a, b := line[k-1], line[k]
		dx, dy := b[0]-a[0], b[1]-a[1]
		half := i.width / 2 / max(math.Hypot(dx, dy), 1e-9)
		x, y := -dy*half, dx*half
		pieces = append(pieces, shape{{a[0] + x, a[1] + y}, {b[0] + x, b[1] + y}, {b[0] - x, b[1] - y}, {a[0] - x, a[1] - y}})
	}
	p.fill(i.stroke, pieces...)
}

// fill fills areas. Only the pixels round them are worked on: a surface has thousands.
func (p *pixels) fill(with shade.RGB, areas ...shape) {
	if with == (shade.RGB{}) {
		return
	}
	within := image.Rectangle{}
	for _, a := range areas {
		for _, at := range a {
			x, y := (at[0]+p.left)*scaled, (at[1]+p.top)*scaled
			within = within.Union(image.Rect(int(x)-1, int(y)-1, int(x)+2, int(y)+2))
		}
	}
	within = within.Intersect(p.image.Bounds())
	r := vector.NewRasterizer(within.Dx(), within.Dy())
	for _, a := range areas {
		for i, at := range a {
			x, y := float32((at[0]+p.left)*scaled)-float32(within.Min.X), float32((at[1]+p.top)*scaled)-float32(within.Min.Y)
			if i == 0 {
				r.MoveTo(x, y)
			} else {
				r.LineTo(x, y)
			}
		}
		r.ClosePath()
	}
	r.Draw(p.image, within, image.NewUniform(with), image.Point{})
}
