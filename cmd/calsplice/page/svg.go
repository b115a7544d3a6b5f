package page

import (
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
)

// The drawing area, in the units of the picture.
const (
	chartWidth, chartHeight = 740, 260
	left, right, top, under = 64, 156, 12, 40
)

// picture draws a chart: lines over one x axis with their names beside their
// ends, points with a key, or the surface of a map. decide is 1 + the table that
// is decided about, whose picture the page's script keeps up to date; 0 is none.
func picture(c view.Chart, decide int) template.HTML {
	words := c.Title
	if s := c.Surface; s != nil && s.Before != nil {
		words += ": colour and height are the value; dashed: before"
	} else if s != nil {
		words += ": colour and height are the value"
	}
	return template.HTML(drawing(c, decide) + `<output aria-live="polite"></output><figcaption>` + html.EscapeString(words) + "</figcaption>")
}

// drawing is a chart without its caption.
func drawing(c view.Chart, decide int) string {
	var b strings.Builder
	if c.Surface != nil {
		newSurface(c.Surface).svg(&b, c, decide)
		return b.String()
	}
	var all []view.Series
	for _, panel := range c.Panels {
		all = append(all, panel...)
	}
	f := frameOf(all)
	if c.Normal > 0 {
		f.y0, f.y1 = min(f.y0, -2*c.Normal), max(f.y1, 4*c.Normal)
	}
	f.open(&b, c, all, decide)
	if c.Normal > 0 {
		_, y0 := f.at(f.x0, c.Normal)
		_, y1 := f.at(f.x0, -c.Normal)
		fmt.Fprintf(&b, `<rect class="normal" x="%d" y="%.1f" width="%d" height="%.1f"/>`, left, y0, chartWidth-right-left, y1-y0)
	}
	f.axes(&b, c.XName, c.YName)
	if c.Points {
		f.scatter(&b, all)
	} else {
		f.draw(&b, all)
	}
	b.WriteString("</svg>")
	return b.String()
}

func (f frame) scatter(b *strings.Builder, series []view.Series) {
	for i, s := range series {
		for k := range s.X {
			if x, y := f.at(s.X[k], s.Y[k]); !math.IsNaN(y) {
				fmt.Fprintf(b, `<circle class="%s" cx="%.1f" cy="%.1f" r="2.2"/>`, s.Class, x, y)
			}
		}
		y := top + 14 + 18*i
		fmt.Fprintf(b, `<circle class="%s" cx="%d" cy="%d" r="4"/><text class="%s" x="%d" y="%d">%s</text>`,
			s.Class, chartWidth-right+12, y-4, s.Class, chartWidth-right+22, y, html.EscapeString(s.Name))
	}
}

// open begins a picture, with the numbers that a script needs to tell its values
// and to follow decisions: lines that share their breakpoints only.
func (f frame) open(b *strings.Builder, c view.Chart, series []view.Series, decide int) {
	fmt.Fprintf(b, `<svg viewBox="0 0 %d %d" role="img" aria-label="%s"`, chartWidth, chartHeight, html.EscapeString(c.Title))
	data := struct {
		Name  string   `json:"name"`
		X     numbers  `json:"x"`
		Lines []values `json:"lines"`
	}{Name: c.XName}
	for _, s := range series {
		data.X = s.X
		name := s.Name
		if name == "" {
			name = c.YName
		}
		data.Lines = append(data.Lines, values{name, s.Y})
	}
	alike := !c.Points && !slices.ContainsFunc(series, func(s view.Series) bool { return !slices.Equal(s.X, series[0].X) })
	if text, err := json.Marshal(data); err == nil && alike {
		fmt.Fprintf(b, ` tabindex="0" data-series="%s"`, html.EscapeString(string(text)))
	}
	frame, _ := json.Marshal([]float64{f.x0, f.x1, f.y0, f.y1, left, chartWidth - right, top, chartHeight - under})
	xs, _ := json.Marshal([]float64(data.X))
	fmt.Fprintf(b, ` data-frame="%s" data-x="%s"`, frame, xs)
	if decide > 0 && alike {
		fmt.Fprintf(b, ` data-table="%d"`, decide-1)
	}
	b.WriteString(">")
}

// values are one line's, for the script.
type values struct {
	Name string  `json:"name"`
	Y    numbers `json:"y"`
}

// frame maps values to the picture.
type frame struct{ x0, x1, y0, y1 float64 }

func frameOf(series []view.Series) (f frame) {
	var x, y [][]float64
	for _, s := range series {
		x, y = append(x, s.X), append(y, s.Y)
	}
	f.x0, f.x1 = span(x...)
	if f.y0, f.y1 = view.Range(y...); !(f.y1 >= f.y0) {
		f.y0, f.y1 = 0, 1
	}
	pad := float64((f.y1 - f.y0) * 0.06)
	if pad == 0 {
		pad = max(math.Abs(f.y1)*0.05, 1e-9)
	}
	f.y0, f.y1 = f.y0-pad, f.y1+pad
	return f
}

func (f frame) at(x, y float64) (px, py float64) {
	return left + float64((x-f.x0)/(f.x1-f.x0)*(chartWidth-left-right)),
		chartHeight - under - float64((y-f.y0)/(f.y1-f.y0)*(chartHeight-top-under))
}

func (f frame) axes(b *strings.Builder, xName, yName string) {
	for _, v := range Ticks(f.y0, f.y1, 5) {
		_, y := f.at(f.x0, v)
		fmt.Fprintf(b, `<path class="axis" d="M%d %.1fH%d"/><text x="%d" y="%.1f" text-anchor="end">%s</text>`,
			left, y, chartWidth-right, left-6, y+4, tables.Shown(v))
	}
	for _, v := range Ticks(f.x0, f.x1, 8) {
		x, _ := f.at(v, f.y0)
		fmt.Fprintf(b, `<path class="axis" d="M%.1f %dv5"/><text x="%.1f" y="%d" text-anchor="middle">%s</text>`,
			x, chartHeight-under, x, chartHeight-under+18, tables.Shown(v))
	}
	fmt.Fprintf(b, `<path class="axis" d="M%d %dH%d"/>`, left, chartHeight-under, chartWidth-right)
	fmt.Fprintf(b, `<text x="%d" y="%d" text-anchor="middle">%s</text>`, (left+chartWidth-right)/2, chartHeight-4, html.EscapeString(xName))
	fmt.Fprintf(b, `<text transform="translate(13 %d) rotate(-90)" text-anchor="middle">%s</text>`, (top+chartHeight-under)/2, html.EscapeString(yName))
}

func (f frame) draw(b *strings.Builder, series []view.Series) {
	ends := make([]float64, 0, len(series))
	for _, s := range series {
		fmt.Fprintf(b, `<path class="line %s" d="%s"/>`, s.Class, f.path(s))
		if s.Dots {
			for i := range s.X {
				if x, y := f.at(s.X[i], s.Y[i]); !math.IsNaN(y) {
					fmt.Fprintf(b, `<circle class="%s" cx="%.1f" cy="%.1f" r="3"/>`, s.Class, x, y)
				}
			}
		}
		if last := lastValue(s.Y); last >= 0 && s.Name != "" {
			x, y := f.at(s.X[last], s.Y[last])
			y = clear(ends, y)
			ends = append(ends, y)
			fmt.Fprintf(b, `<text class="%s" x="%.1f" y="%.1f">%s</text>`, s.Class, x+8, y+4, html.EscapeString(s.Name))
		}
	}
}

// clear moves a label's height until it stands on no other.
func clear(taken []float64, y float64) float64 {
	for range taken {
		for _, t := range taken {
			if math.Abs(y-t) < 14 {
				y = t + 14
			}
		}
	}
	return y
}

func lastValue(values []float64) int {
	for i := len(values) - 1; i >= 0; i-- {
		if !math.IsNaN(values[i]) {
			return i
		}
	}
	return -1
}

func (f frame) path(s view.Series) string {
	var b strings.Builder
	pen := "M"
	for i := range s.X {
		x, y := f.at(s.X[i], s.Y[i])
		if math.IsNaN(y) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&b, "%s%.1f %.1f", pen, x, y)
		pen = "L"
	}
	return b.String()
}

// Ticks are round numbers between low and high, about as many as wanted.
func Ticks(low, high float64, wanted int) []float64 {
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return nil
	}
	raw := span / float64(wanted)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := power * 10
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*power {
			step = m * power
			break
		}
	}
	var ticks []float64
	for i := math.Ceil(low / step); i*step <= high; i++ {
		// Dividing by the inverse of a small step lands on the short decimal.
		v := i * step
		if step < 1 {
			v = i / math.Round(1/step)
		}
		ticks = append(ticks, v+0) // −0 becomes 0
	}
	return ticks
}
