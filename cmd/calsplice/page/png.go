package page

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"calsplice/tables"
)

// pixels is the number of pixels to a unit of the drawing.
const pixels = 1.5

var (
	bandColour  = color.NRGBA{0x0f, 0x5a, 0x7a, 0xff}
	eventColour = color.NRGBA{0x8a, 0x4b, 0x00, 0x38}
	axisColour  = color.NRGBA{0xcc, 0xcc, 0xcc, 0xff}
	inkColour   = color.NRGBA{0x33, 0x33, 0x33, 0xff}
)

// WritePNG writes the trace in pixels: the drawing of [Trace.WriteSVG].
func (tr *Trace) WritePNG(w io.Writer) error {
	c, err := newCanvas(traceLeft+traceWidth+20, tr.height())
	if err != nil {
		return err
	}
	e, bottom := tr.Envelope, float64(tr.height()-24)
	for _, s := range tr.Events {
		x := tr.x(s.Start)
		c.bar(x, 0, max(tr.x(s.End+e.Width())-x, 1.5), bottom, eventColour)
	}
	for i := range tr.Channels {
		p := tr.panel(i)
		c.panel(&p)
	}
	for _, k := range tr.ticks() {
		c.bar(tr.x(k.at)-.5, bottom, 1, 5, axisColour)
		c.text(tr.x(k.at)+14, bottom+16, k.text, true)
	}
	return png.Encode(w, c.image)
}

// canvas is a picture in the units of the drawing.
type canvas struct {
	image *image.RGBA
	face  font.Face
	top   float64 // of what is drawn now
}

func newCanvas(width, height int) (*canvas, error) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 12 * pixels, DPI: 72})
	if err != nil {
		return nil, err
	}
	c := &canvas{image: image.NewRGBA(image.Rect(0, 0, int(float64(width)*pixels), int(float64(height)*pixels))), face: face}
	draw.Draw(c.image, c.image.Bounds(), image.White, image.Point{}, draw.Src)
	return c, nil
}

func (c *canvas) panel(p *panel) {
	c.text(traceLeft, p.top-6, p.name, false)
	for _, v := range Ticks(p.low, p.high, 4) {
		c.bar(traceLeft, p.y(v)-.5, traceWidth, 1, axisColour)
		c.text(traceLeft-6, p.y(v)+4, tables.Shown(v), true)
	}
	for _, band := range p.bands {
		c.fill(bandColour, band)
		c.fill(bandColour, outline(band)...)
	}
}

// outline is the line round a band, one unit wide, so that a channel that
// stands still and a spike of one stretch are seen. Its pieces turn the same
// way, so that they add up where they overlap.
func outline(band [][2]float64) (pieces [][][2]float64) {
	for i, p := range band {
		q := band[(i+1)%len(band)]
		dx, dy := q[0]-p[0], q[1]-p[1]
		half := .5 / max(math.Hypot(dx, dy), 1e-9)
		x, y := -dy*half, dx*half
		pieces = append(pieces, [][2]float64{{p[0] + x, p[1] + y}, {q[0] + x, q[1] + y}, {q[0] - x, q[1] - y}, {p[0] - x, p[1] - y}})
	}
	return pieces
}

func (c *canvas) bar(x, y, width, height float64, ink color.Color) {
	c.fill(ink, [][2]float64{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}})
}

func (c *canvas) fill(ink color.Color, polygons ...[][2]float64) {
	size := c.image.Bounds().Size()
	r := vector.NewRasterizer(size.X, size.Y)
	for _, polygon := range polygons {
		for i, at := range polygon {
			x, y := float32(at[0]*pixels), float32((at[1]+c.top)*pixels)
			if i == 0 {
				r.MoveTo(x, y)
			} else {
				r.LineTo(x, y)
			}
		}
		r.ClosePath()
	}
	r.Draw(c.image, c.image.Bounds(), image.NewUniform(ink), image.Point{})
}

// text writes at a place of the drawing, which its end stands at instead of its
// start where ends is set.
func (c *canvas) text(x, y float64, s string, ends bool) {
	d := font.Drawer{Dst: c.image, Src: image.NewUniform(inkColour), Face: c.face,
		Dot: fixed.Point26_6{X: fixed.Int26_6(x * pixels * 64), Y: fixed.Int26_6((y + c.top) * pixels * 64)}}
	if ends {
		d.Dot.X -= d.MeasureString(s)
	}
	d.DrawString(s)
}
