package page

import (
	"fmt"
	"io"
	"strings"

	"calsplice/cmd/calsplice/view"
)

// The room round each chart of a picture: above it for its title, and beside it.
const titleHeight, beside = 28, 10

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
	return width + 2*beside, height
}

// WriteSVG writes charts as one picture, each under its title.
func WriteSVG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	width, height := picturesSize(charts)
	b := &svg{}
	fmt.Fprintf(b, `<svg %s viewBox="0 0 %d %d" width="%d" height="%d">%s`, standsAlone, width, height, width, height, ground())
	y := 0
	for _, c := range charts {
		w, h := chartSize(c)
		b.text("title", beside, float64(y+18), begins, c.Title)
		fmt.Fprintf(b, `<svg x="%d" y="%d" width="%d" height="%d" %s`, beside, y+titleHeight, w, h, strings.TrimPrefix(drawing(c, 0), "<svg "))
		y += h + titleHeight
	}
	_, err := io.WriteString(w, b.String()+"</svg>\n")
	return err
}

const standsAlone = `xmlns="http://www.w3.org/2000/svg"`

// ground is what lies under a picture that stands alone: its inks, and white.
func ground() string {
	return `<style>text{font:12px sans-serif;fill:#333}.title{font-weight:600}` + inkRules() + `</style><rect width="100%" height="100%" fill="#fff"/>`
}

// WritePNG writes the same picture in pixels.
func WritePNG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	width, height := picturesSize(charts)
	return writePNG(w, width, height, func(p *pixels) {
		p.left = beside
		for _, c := range charts {
			p.text("title", 0, 18, begins, c.Title)
			p.top += titleHeight
			drawChart(p, c)
			_, h := chartSize(c)
			p.top += float64(h)
		}
	})
}
