package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
)

// The drawing area of a surface, in the units of the picture.
const (
	surfaceWidth, surfaceHeight = 680, 330
	surfaceLeft, surfaceBottom  = 36, 286
	across, back, up            = 400, 130, 90 // px of the columns, and of the rows to the right and up
	rise                        = 150          // px from the lowest value to the highest
	mostLines                   = 40           // rows or columns that are drawn; of more, some
)

// surface is a map seen from one corner: columns run to the right, rows to the
// back, and the higher edge stands behind. decide.js draws it by the same rule.
type surface struct {
	view.Chart
	of            *view.Surface
	rows, columns []int // those that are drawn
	low, high     float64
	flip          bool // the first row is in front
	dx, sx, sy    float64
}

func newSurface(c view.Chart) *surface {
	of := c.Surface
	s := &surface{Chart: c, of: of, rows: some(len(of.After)), columns: some(len(of.After[0]))}
	s.low, s.high = tables.Range(slices.Concat(of.After, of.Before)...)
	if !(s.high > s.low) {
		s.low, s.high = s.low-1, s.high+1
	}
	s.dx = across / float64(max(len(s.columns)-1, 1))
	s.sx, s.sy = back/float64(max(len(s.rows)-1, 1)), up/float64(max(len(s.rows)-1, 1))
	s.flip = mean(of.After[0]) < mean(of.After[len(of.After)-1])
	return s
}

// some are the lines that are drawn of n, the first and the last among them.
func some(n int) []int {
	most := min(n, mostLines)
	list := make([]int, most)
	for i := range list {
		list[i] = i * (n - 1) / max(most-1, 1)
	}
	return list
}

func mean(values []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range values {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// at is where a value of a drawn row and column stands in the picture.
func (s *surface) at(z [][]float64, r, c int) [2]float64 {
	k := float64(len(s.rows) - 1 - r)
	if s.flip {
		k = float64(r)
	}
	v := z[s.rows[r]][s.columns[c]]
	return [2]float64{surfaceLeft + float64(float64(c)*s.dx) + float64(k*s.sx), surfaceBottom - float64(k*s.sy) - float64((v-s.low)/(s.high-s.low)*rise)}
}

// A facet is what four neighbouring values span; level is the share of the range
// that it stands at.
type facet struct {
	r, c    int
	corners shape
	level   float64
}

// facets are those of the surface from the back to the front. One with an empty
// corner is left out.
func (s *surface) facets() (list []facet) {
	for k := range len(s.rows) - 1 {
		r := k
		if s.flip {
			r = len(s.rows) - 2 - k
		}
		for c := range len(s.columns) - 1 {
			f := facet{r: r, c: c}
			sum := 0.0
			for _, p := range [][2]int{{r, c}, {r, c + 1}, {r + 1, c + 1}, {r + 1, c}} {
				f.corners = append(f.corners, s.at(s.of.After, p[0], p[1]))
				sum += s.of.After[s.rows[p[0]]][s.columns[p[1]]]
			}
			if f.level = (sum/4 - s.low) / (s.high - s.low); !math.IsNaN(f.level) {
				list = append(list, f)
			}
		}
	}
	return list
}

// wires are the lines of the map as it was, where it has changed.
func (s *surface) wires() (lines []shape) {
	if s.of.Before == nil {
		return nil
	}
	differs := func(r, c int) bool {
		y, x := s.rows[r], s.columns[c]
		return s.of.Before[y][x] != s.of.After[y][x]
	}
	for r := range s.rows {
		for c := range s.columns {
			for _, to := range [][2]int{{r, c + 1}, {r + 1, c}} {
				if to[0] < len(s.rows) && to[1] < len(s.columns) && (differs(r, c) || differs(to[0], to[1])) {
					lines = append(lines, shape{s.at(s.of.Before, r, c), s.at(s.of.Before, to[0], to[1])})
				}
			}
		}
	}
	return slices.DeleteFunc(lines, func(l shape) bool { return math.IsNaN(l[0][1]) || math.IsNaN(l[1][1]) })
}

func (s *surface) size() (width, height int) { return surfaceWidth, surfaceHeight }

func (s *surface) caption() string {
	words := s.Title + ": colour and height are the value"
	if s.of.Before != nil {
		words += "; dashed: before"
	}
	return words
}

func (s *surface) attributes(decide int) string {
	text := ` class="surface" role="img"` + attribute("frame", map[string]any{"rows": s.rows, "columns": s.columns, "low": s.low, "high": s.high, "dx": s.dx, "sx": s.sx, "sy": s.sy,
		"left": surfaceLeft, "bottom": surfaceBottom, "height": rise, "flip": s.flip})
	if decide > 0 {
		text += attribute("table", decide-1)
	}
	return text
}

func (s *surface) draw(to canvas) {
	at := func(r, c int) string { return fmt.Sprintf(` data-at="%d %d"`, r, c) }
	for _, f := range s.facets() {
		to.area(fmt.Sprintf("facet s%d", step(f.level)), at(f.r, f.c), f.corners)
	}
	if wires := s.wires(); len(wires) > 0 {
		to.line("wire", wires...)
	}
	for _, m := range s.of.Marked {
		r, c := slices.Index(s.rows, m[0]), slices.Index(s.columns, m[1])
		if r >= 0 && c >= 0 && len(s.of.Marked) <= 400 {
			p := s.at(s.of.After, r, c)
			to.dot("dot", at(r, c), p[0], p[1], 3)
		}
	}
	s.labels(to)
}

// labels name the ends of both axes and of the range.
func (s *surface) labels(to canvas) {
	x, y := s.of.X, s.of.Y
	front, behind := y[len(y)-1], y[0]
	if s.flip {
		front, behind = behind, front
	}
	write := func(v float64) string { return strings.TrimSpace(tables.Digits(v, 4) + " " + s.YName) }
	to.text("", surfaceLeft, surfaceBottom+18, begins, x[0])
	to.text("", surfaceLeft+across, surfaceBottom+18, ends, x[len(x)-1])
	to.text("", surfaceLeft+across/2, surfaceBottom+36, ends, s.XName)
	to.text("", surfaceLeft+across+14, surfaceBottom+8, begins, front)
	to.text("", surfaceLeft+across+back+8, surfaceBottom-up, begins, behind)
	to.text("", 0, 12, begins, "lowest "+write(s.low)+", highest "+write(s.high))
}
