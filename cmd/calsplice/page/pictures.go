package page

import (
	"fmt"
	"html"
	"io"

	"calsplice/cmd/calsplice/view"
)

// The room round each chart of a picture: above it for its title, and beside it.
const titleHeight, beside = 28, 10

// picturesSize is that of charts one under the other.
func picturesSize(charts []view.Chart) (width, height int) {
	for _, c := range charts {
		w, h := figureOf(c).size()
		width, height = max(width, w), height+h+titleHeight
	}
	return width + 2*beside, height
}

// WriteSVG writes charts as one picture, each under its title, with its inks on white.
func WriteSVG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	width, height := picturesSize(charts)
	b := &svg{}
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d">`+
		`<style>text{font:12px sans-serif;fill:#333}.title,.name{font-weight:600}%s</style><rect width="100%%" height="100%%" fill="#fff"/>`, width, height, width, height, inkRules())
	y := 0
	for _, c := range charts {
		f := figureOf(c)
		w, h := f.size()
		b.text("title", beside, float64(y+18), begins, c.Title)
		drawOn(b, f, fmt.Sprintf(` x="%d" y="%d" width="%d" height="%d" role="img" aria-label="%s"`, beside, y+titleHeight, w, h, html.EscapeString(c.Title)))
		y += h + titleHeight
	}
	_, err := io.WriteString(w, b.String()+"</svg>\n")
	return err
}

// WritePNG writes the same picture in pixels.
func WritePNG(w io.Writer, charts []view.Chart) error {
	charts = view.Cleaned(charts)
	width, height := picturesSize(charts)
	return writePNG(w, width, height, func(p *pixels) {
		p.left = beside
		for _, c := range charts {
			f := figureOf(c)
			p.text("title", 0, 18, begins, c.Title)
			p.top += titleHeight
			f.draw(p)
			_, h := f.size()
			p.top += float64(h)
		}
	})
}
