package page

import (
	"cmp"
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
)

// The drawing area, in the units of the picture.
const (
	chartWidth, chartHeight = 740, 274
	left, right, top, under = 64, 156, 30, 40
)

// figure is a chart of one kind, as it is drawn.
type figure interface {
	size() (width, height int)
	attributes(decide int) string // what a page's styles and scripts need, each behind a blank
	caption() string
	draw(to canvas)
}

func figureOf(c view.Chart) figure {
	switch {
	case c.Trace != nil:
		return trace{c.Trace}
	case c.Surface != nil:
		return newSurface(c)
	}
	return lines{c, frameOf(c)}
}

// picture is a chart on a page. decide is 1 + the table that is decided about,
// whose picture the page's script keeps up to date; 0 is none.
func picture(c view.Chart, decide int) template.HTML {
	f, b := figureOf(c), &svg{}
	drawOn(b, f, fmt.Sprintf(` aria-label="%s"%s`, html.EscapeString(c.Title), f.attributes(decide)))
	return template.HTML(b.String() + `<output aria-live="polite"></output><figcaption>` + html.EscapeString(f.caption()) + "</figcaption>")
}

// drawOn draws a figure as SVG with attributes of its own.
func drawOn(b *svg, f figure, attributes string) {
	width, height := f.size()
	fmt.Fprintf(b, `<svg viewBox="0 0 %d %d"%s>`, width, height, attributes)
	f.draw(b)
	b.WriteString("</svg>")
}

// lines are lines over one x axis with their names beside their ends, or points with a
// key.
type lines struct {
	view.Chart
	frame
}

func (l lines) size() (width, height int) { return chartWidth, chartHeight }

func (l lines) caption() string { return l.Title }

func (l lines) draw(to canvas) {
	f := l.frame
	if l.Normal > 0 {
		_, high := f.at(f.x0, l.Normal)
		_, low := f.at(f.x0, -l.Normal)
		to.area("normal", "", box(f.left, high, f.right-f.left, low-high))
	}
	f.axes(to, l.XName, l.YName)
	if l.Points {
		f.scatter(to, l.Series)
	} else {
		f.lines(to, l.Series)
	}
}

func (f frame) scatter(to canvas, series []view.Series) {
	for i, s := range series {
		f.dots(to, s, 2.2)
		y := f.top + float64(14+18*i)
		to.dot("dot "+s.Class, "", f.right+12, y-4, 4)
		to.text(s.Class, f.right+22, y, begins, s.Name)
	}
}

func (f frame) dots(to canvas, s view.Series, radius float64) {
	for _, at := range slices.Concat(f.pieces(s.X, s.Y)...) {
		to.dot("dot "+s.Class, "", at[0], at[1], radius)
	}
}

// attributes are the numbers that a script needs to tell its values and to follow
// decisions: of lines that share their breakpoints only.
func (l lines) attributes(decide int) string {
	f := l.frame
	data := struct {
		Name  string   `json:"name"`
		X     numbers  `json:"x"`
		Lines []values `json:"lines"`
	}{Name: l.XName}
	for _, s := range l.Series {
		data.X = s.X
		data.Lines = append(data.Lines, values{cmp.Or(s.Name, l.YName), s.Y})
	}
	alike := !l.Points && !slices.ContainsFunc(l.Series, func(s view.Series) bool { return !slices.Equal(s.X, l.Series[0].X) })
	s := ` role="img"`
	if alike {
		s += ` tabindex="0"` + attribute("series", data)
	}
	s += attribute("frame", []float64{f.x0, f.x1, f.y0, f.y1, f.left, f.right, f.top, f.bottom}) + attribute("x", []float64(data.X))
	if decide > 0 && alike {
		s += attribute("table", decide-1)
	}
	return s
}

// attribute is a value for a script.
func attribute(name string, v any) string {
	text, err := json.Marshal(v)
	if err != nil {
		return "" // infinite values have no picture to follow
	}
	return fmt.Sprintf(` data-%s="%s"`, name, html.EscapeString(string(text)))
}

// values are one line's, for the script.
type values struct {
	Name string  `json:"name"`
	Y    numbers `json:"y"`
}

// frame maps values to a part of the picture.
type frame struct{ x0, x1, y0, y1, left, right, top, bottom float64 }

func frameOf(c view.Chart) (f frame) {
	var x, y [][]float64
	for _, s := range c.Series {
		x, y = append(x, s.X), append(y, s.Y)
	}
	f.left, f.right, f.top, f.bottom = left, chartWidth-right, top, chartHeight-under
	f.x0, f.x1 = span(x...)
	if f.y0, f.y1 = tables.Range(y...); !(f.y1 >= f.y0) {
		f.y0, f.y1 = 0, 1
	}
	pad := float64((f.y1 - f.y0) * 0.06)
	if pad == 0 {
		pad = max(math.Abs(f.y1)*0.05, 1e-9)
	}
	f.y0, f.y1 = f.y0-pad, f.y1+pad
	if c.Normal > 0 {
		f.y0, f.y1 = min(f.y0, -2*c.Normal), max(f.y1, 4*c.Normal)
	}
	return f
}

func (f frame) at(x, y float64) (px, py float64) {
	return f.left + float64((x-f.x0)/(f.x1-f.x0)*(f.right-f.left)), f.bottom - float64((y-f.y0)/(f.y1-f.y0)*(f.bottom-f.top))
}

// pieces are lines through values, parted where one is empty.
func (f frame) pieces(x, y []float64) (list []shape) {
	begun := false
	for i := range x {
		px, py := f.at(x[i], y[i])
		switch {
		case math.IsNaN(py):
			begun = false
			continue
		case !begun:
			list, begun = append(list, nil), true
		}
		list[len(list)-1] = append(list[len(list)-1], [2]float64{px, py})
	}
	return list
}

// rules are lines at about so many round values.
func (f frame) rules(to canvas, wanted int) {
	for _, v := range Ticks(f.y0, f.y1, wanted) {
		_, y := f.at(f.x0, v)
		to.line("axis", shape{{f.left, y}, {f.right, y}})
		to.text("", f.left-6, y+4, ends, tables.Shown(v))
	}
}

func (f frame) axes(to canvas, xName, yName string) {
	f.rules(to, 5)
	for _, v := range Ticks(f.x0, f.x1, 8) {
		x, _ := f.at(v, f.y0)
		to.line("axis", shape{{x, f.bottom}, {x, f.bottom + 5}})
		to.text("", x, f.bottom+18, middle, tables.Shown(v))
	}
	to.line("axis", shape{{f.left, f.bottom}, {f.right, f.bottom}})
	to.text("", (f.left+f.right)/2, f.bottom+36, middle, xName)
	to.text("", 0, 14, begins, yName)
}

func (f frame) lines(to canvas, series []view.Series) {
	var taken []float64
	for _, s := range series {
		pieces := f.pieces(s.X, s.Y)
		to.line("line "+s.Class, pieces...)
		if s.Dots {
			f.dots(to, s, 3)
		}
		if all := slices.Concat(pieces...); all != nil && s.Name != "" {
			end := all[len(all)-1]
			y := clear(taken, end[1])
			taken = append(taken, y)
			to.text(s.Class, end[0]+8, y+4, begins, s.Name)
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

// Ticks are round numbers between low and high, about as many as wanted.
func Ticks(low, high float64, wanted int) []float64 {
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return nil
	}
	raw := span / float64(wanted)
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, by := range []float64{2, 2.5, 2} { // 1, 2, 5, 10
		if raw > step {
			step *= by
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
