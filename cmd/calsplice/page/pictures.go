package page

import (
	"fmt"
	"html"
	"image/color"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/shade"
)

// titleHeight is the room above each chart of a picture for its title.
const titleHeight = 28

// chartSize is the size of a chart's drawing.
func chartSize(c view.Chart) (width, height int) {
	if c.Surface != nil {
		return surfaceWidth, surfaceHeight
	}
	return chartWidth, chartHeight
}

// picturesSize is that of charts one under the other.
func picturesSize(charts []view.Chart) (width, height int) {
	for _, c := range charts {
		w, h := chartSize(c)
		width, height = max(width, w), height+h+titleHeight
	}
	return width + 20, height
}

// WriteSVG writes charts as one picture, each under its title.
func WriteSVG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	width, height := picturesSize(charts)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d"><style>text{font:12px sans-serif;fill:#333}.title{font-weight:600}`+
		`.axis{stroke:#ccc;fill:none}.line{stroke:#111;stroke-width:2;fill:none}.wire{stroke:#111;stroke-dasharray:3 3;fill:none}.dot,circle{fill:#111}polygon{fill:var(--bg);stroke:#fff;stroke-width:.6}%s</style><rect width="100%%" height="100%%" fill="#fff"/>`,
		width, height, width, height, strings.ReplaceAll(levelRules(), "\n", ""))
	y := 0
	for _, c := range charts {
		w, h := chartSize(c)
		fmt.Fprintf(&b, `<text class="title" x="10" y="%d">%s</text>`, y+18, html.EscapeString(c.Title))
		fmt.Fprintf(&b, `<svg x="10" y="%d" width="%d" height="%d" %s`, y+titleHeight, w, h, strings.TrimPrefix(drawing(c, 0), "<svg "))
		y += h + titleHeight
	}
	_, err := io.WriteString(w, b.String()+"</svg>\n")
	return err
}

// WritePNG writes the same picture in pixels.
func WritePNG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	c, err := newCanvas(picturesSize(charts))
	if err != nil {
		return err
	}
	for _, chart := range charts {
		c.text(10, 18, chart.Title, false)
		c.top += titleHeight
		if chart.Surface != nil {
			c.surface(newSurface(chart.Surface), chart)
		} else {
			c.curve(chart)
		}
		_, h := chartSize(chart)
		c.top += float64(h)
	}
	return png.Encode(w, c.image)
}

func (c *canvas) surface(s *surface, chart view.Chart) {
	for _, f := range s.facets() {
		rgb := shade.Sequential.At(f.level)
		c.fill(color.NRGBA{rgb.R, rgb.G, rgb.B, 0xff}, f.corners)
		c.fill(color.White, outline(f.corners)...)
	}
	for _, l := range s.labels(chart) {
		c.text(l.x+10, l.y, l.text, l.ends)
	}
}

func (c *canvas) curve(chart view.Chart) {
	series := slices.Concat(chart.Panels...)
	f := frameOf(series)
	for _, v := range Ticks(f.y0, f.y1, 5) {
		_, y := f.at(f.x0, v)
		c.bar(left, y-.5, chartWidth-left-right, 1, axisColour)
		c.text(left-6, y+4, tables.Shown(v), true)
	}
	for _, v := range Ticks(f.x0, f.x1, 8) {
		x, _ := f.at(v, f.y0)
		c.bar(x-.5, chartHeight-under, 1, 5, axisColour)
		c.text(x-8, chartHeight-under+18, tables.Shown(v), false)
	}
	c.text(left, chartHeight-4, chart.XName+", "+chart.YName, false)
	for _, s := range series {
		for i := 1; i < len(s.X); i++ {
			if math.IsNaN(s.Y[i-1]) || math.IsNaN(s.Y[i]) {
				continue
			}
			x0, y0 := f.at(s.X[i-1], s.Y[i-1])
			x1, y1 := f.at(s.X[i], s.Y[i])
			c.fill(inkColour, outline([][2]float64{{x0, y0}, {x1, y1}})...)
			c.fill(inkColour, outline([][2]float64{{x0, y0 + 1}, {x1, y1 + 1}})...)
		}
	}
}
