package page

import (
	"bytes"
	"encoding/xml"
	"image/color"
	"image/png"
	"io"
	"slices"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/envelope"
	"calsplice/tables/drivelog"
	"calsplice/tables/shade"
)

func dented() view.Chart {
	return view.Chart{Title: `<b>"spark"`, XName: "engine speed [r/min]", YName: "deg", Surface: &view.Surface{X: []string{"1", "2", "3"}, Y: []string{"10", "20", "30"},
		After: [][]float64{{1, 1, 1}, {1, -9, 1}, {1, 1, 1}}}}
}

// A dent is seen: what is lower stands lower in the picture, and has another
// colour.
func TestSurfaceShowsADent(t *testing.T) {
	s := newSurface(dented())
	flat, dent := s.at(s.of.After, 1, 0)[1], s.at(s.of.After, 1, 1)[1]
	if dent-flat < rise/2 {
		t.Errorf("the dent is at %v, the values beside it at %v", dent, flat)
	}
	facets := s.facets()
	if len(facets) != 4 {
		t.Fatalf("%d facets, want 4", len(facets))
	}
	for _, f := range facets {
		if f.level < 0.7 || f.level > 0.8 { // three corners at the top, one at the bottom
			t.Errorf("the facet at %d, %d has the level %v", f.r, f.c, f.level)
		}
	}
	// From the back to the front: each row of facets is further down than the last.
	if facets[0].corners[0][1] > facets[2].corners[0][1] {
		t.Error("the front is drawn before the back")
	}
}

// An empty cell leaves a hole, and what a map was before is drawn where it has
// changed.
func TestSurfaceHolesAndWires(t *testing.T) {
	c := dented()
	nan := c.Surface.After[0][0] * 0
	c.Surface.Before = [][]float64{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}
	if n := len(newSurface(c).wires()); n != 4 {
		t.Errorf("%d lines of before, want the 4 that meet in the changed cell", n)
	}
	c.Surface.After[1][1] = nan / nan
	if n := len(newSurface(c).facets()); n != 0 {
		t.Errorf("%d facets round an empty cell, want none", n)
	}
}

// Many rows and columns are thinned, the first and the last kept.
func TestSurfaceIsThinned(t *testing.T) {
	list := some(200)
	if len(list) != mostLines || list[0] != 0 || list[mostLines-1] != 199 || !slices.IsSorted(list) {
		t.Errorf("200 lines become %v", list)
	}
	if got := some(3); !slices.Equal(got, []int{0, 1, 2}) {
		t.Errorf("3 lines become %v", got)
	}
}

// Both pictures hold the same charts; a name is only text in them.
func TestPictures(t *testing.T) {
	curve := view.Chart{Title: "flow", XName: "pressure", YName: "g/s", Series: []view.Series{{Class: "after", X: []float64{1, 2}, Y: []float64{3, 4}}}}
	charts := []view.Chart{dented(), curve}
	var svg, pixels bytes.Buffer
	if err := WriteSVG(&svg, charts); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(strings.NewReader(svg.String()))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%v in\n%s", err, svg.String())
		}
	}
	if n := strings.Count(svg.String(), `class="facet`); n != 4 || strings.Contains(svg.String(), "<b>") {
		t.Errorf("%d facets, or a name that became markup", n)
	}
	if err := WritePNG(&pixels, charts); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&pixels)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[color.Color]bool{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			seen[img.At(x, y)] = true
		}
	}
	rgb := shade.Sequential.At(0.75)
	if !seen[color.RGBA{rgb.R, rgb.G, rgb.B, 0xff}] {
		t.Error("the surface's colour is not in the pixels")
	}
}

// Ticks are round minutes over a drive, and seconds over a moment; of a log that gives the
// time of day, round times of that.
func TestTicksAreRoundTimes(t *testing.T) {
	for _, c := range []struct {
		clock   drivelog.Clock
		seconds float64
		want    string
	}{
		{drivelog.Clock{}, 1200, "0 min 2 min 4 min 6 min 8 min 10 min 12 min 14 min 16 min 18 min 20 min"},
		{drivelog.Clock{}, 60, "0:00 0:10 0:20 0:30 0:40 0:50 1:00"},
		{drivelog.Clock{}, 3, "0.0 s 0.5 s 1.0 s 1.5 s 2.0 s 2.5 s 3.0 s"},
		{drivelog.Clock{OfDay: true, Ahead: -100}, 1200, "00:00 00:02 00:04"},
		{drivelog.Clock{OfDay: true, Ahead: 5400}, 60, "01:30:00 01:30:10"},
		{drivelog.Clock{OfDay: true}, 3, "00:00:00 00:00:00.5 00:00:01"},
	} {
		e := envelope.New(1, 200)
		for i := range 201 {
			e.Add(c.seconds*float64(i)/200, []float64{1})
		}
		var words []string
		for _, k := range (trace{&view.Trace{Envelope: e, Clock: c.clock}}).ticks() {
			words = append(words, k.text)
		}
		if got := strings.Join(words, " "); !strings.HasPrefix(got, c.want) {
			t.Errorf("%v s: %s, want %s", c.seconds, got, c.want)
		}
	}
}

// What is drawn stands at its place in the pixels too: a dot, a line, an axis, and
// nothing where nothing is drawn, in the picture or beside it.
func TestPixels(t *testing.T) {
	var b bytes.Buffer
	err := writePNG(&b, 100, 60, func(p *pixels) {
		p.left, p.top = 10, 20
		p.dot("dot", "", 10, 10, 3)
		p.line("line after", shape{{30, 5}, {30, 25}}, shape{{40, 5}, {40, 25}})
		p.line("axis", shape{{50, 5}, {50, 25}})
		p.area("facet s0", "", box(60, 5, 10, 10))
		p.area("normal", "", box(75, 5, 10, 10))
		p.area("facet s20", "", box(-100, -100, 10, 10))
		p.dot("dot", "", 500, 500, 3)
	})
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	lowest := shade.Sequential.At(0)
	for _, c := range []struct {
		x, y float64
		want color.RGBA
		what string
	}{
		{20, 30, color.RGBA{0x33, 0x33, 0x33, 0xff}, "the dot"},
		{20, 35, color.RGBA{0xff, 0xff, 0xff, 0xff}, "beside the dot"},
		{40, 35, color.RGBA{0x33, 0x33, 0x33, 0xff}, "the line"},
		{50, 35, color.RGBA{0x33, 0x33, 0x33, 0xff}, "its second piece"},
		{45, 35, color.RGBA{0xff, 0xff, 0xff, 0xff}, "between its pieces"},
		{75, 30, color.RGBA{lowest.R, lowest.G, lowest.B, 0xff}, "the facet"},
		{89, 30, color.RGBA{0xff, 0xff, 0xff, 0xff}, "what has no ink"},
	} {
		if r, g, b, a := img.At(int(c.x*scaled), int(c.y*scaled)).RGBA(); [4]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8), uint8(a >> 8)} != [4]uint8{c.want.R, c.want.G, c.want.B, c.want.A} {
			t.Errorf("%s is %02x%02x%02x, want %v", c.what, r>>8, g>>8, b>>8, c.want)
		}
	}
}
