package page

import (
	"fmt"
	"html"
	"maps"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables/shade"
)

// canvas is what pictures are drawn on, from the back to the front: a page's SVG,
// whose classes page.css and the scripts know, or pixels. Each picture is drawn
// once, by one function, on either.
type canvas interface {
	line(class string, lines ...shape)
	area(class, data string, areas ...shape) // data is an attribute for scripts, with its blank
	dot(class, data string, x, y, radius float64)
	text(class string, x, y float64, at anchor, s string)
	script(markup string) // what only a page's script needs
}

// A shape is a line through points, or an area within them.
type shape [][2]float64

func box(x, y, width, height float64) shape {
	return shape{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}
}

// anchor is which part of a text stands at its place.
type anchor string

const (
	begins anchor = ""
	middle anchor = ` text-anchor="middle"`
	ends   anchor = ` text-anchor="end"`
)

// svg is a canvas that writes SVG.
type svg struct{ strings.Builder }

func (b *svg) line(class string, lines ...shape) { b.path(class, "", "", lines) }

func (b *svg) area(class, data string, areas ...shape) { b.path(class, data, "Z", areas) }

func (b *svg) path(class, data, end string, shapes []shape) {
	fmt.Fprintf(b, `<path class="%s"%s d="`, class, data)
	for _, s := range shapes {
		pen := "M"
		for _, at := range s {
			fmt.Fprintf(b, "%s%.1f %.1f", pen, at[0], at[1])
			pen = "L"
		}
		b.WriteString(end)
	}
	b.WriteString(`"/>`)
}

func (b *svg) dot(class, data string, x, y, radius float64) {
	fmt.Fprintf(b, `<circle class="%s"%s cx="%.1f" cy="%.1f" r="%g"/>`, class, data, x, y, radius)
}

func (b *svg) text(class string, x, y float64, at anchor, s string) {
	fmt.Fprintf(b, `<text class="%s" x="%.1f" y="%.1f"%s>%s</text>`, class, x, y, at, html.EscapeString(s))
}

func (b *svg) script(markup string) { b.WriteString(markup) }

// ink is how a class looks in a picture that stands in a file of its own, always on
// white; black, which nothing has, is none.
type ink struct {
	fill, stroke shade.RGB
	width        float64
}

var (
	grey = shade.RGB{R: 0x33, G: 0x33, B: 0x33}
	blue = shade.RGB{R: 0x0f, G: 0x5a, B: 0x7a}
	inks = map[string]ink{
		"axis":  {stroke: shade.RGB{R: 0xcc, G: 0xcc, B: 0xcc}, width: 1},
		"band":  {fill: blue, stroke: blue, width: 1},
		"dot":   {fill: grey},
		"event": {fill: shade.RGB{R: 0xe6, G: 0xd8, B: 0xc8}},
		"line":  {stroke: grey, width: 2},
	}
)

// inkOf is how a class looks; that of a facet ends in its step among the shades.
func inkOf(class string) ink {
	first, _, _ := strings.Cut(class, " ")
	if s, ok := strings.CutPrefix(class, "facet s"); ok {
		step, _ := strconv.Atoi(s)
		return ink{shade.Size(float64(step), 0, levels-1), shade.White, .6}
	}
	return inks[first]
}

// inkRules are the inks as style rules.
func inkRules() string {
	classes := slices.Sorted(maps.Keys(inks))
	for step := range levels {
		classes = append(classes, fmt.Sprintf("facet s%d", step))
	}
	var b strings.Builder
	for _, c := range classes {
		i := inkOf(c)
		rule := fmt.Sprintf(".%s{fill:%s;stroke:%s;stroke-width:%g}", strings.ReplaceAll(c, " ", "."), i.fill, i.stroke, i.width)
		b.WriteString(strings.ReplaceAll(rule, shade.RGB{}.String(), "none"))
	}
	return b.String()
}
