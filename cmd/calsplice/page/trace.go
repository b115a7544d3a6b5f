package page

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strconv"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
)

//go:embed trace.js
var traceScript string

// The drawing area of a trace; trace.js knows the first two.
const (
	traceLeft, traceWidth = 70, 900
	panelHeight, panelGap = 78, 26
)

// trace draws channels over time.
type trace struct{ *view.Trace }

func (tr trace) size() (width, height int) {
	return traceLeft + traceWidth + 20, len(tr.Channels)*(panelHeight+panelGap) + 28
}

func (tr trace) caption() string {
	return "Each band runs from the smallest to the largest value of its stretch of time. " +
		"Point for values, drag to zoom, double-click for the whole; or with the keyboard: arrows, + and −, Escape."
}

// attributes are what the script reads values from.
func (tr trace) attributes(int) string {
	var list []map[string]any
	for i, c := range tr.Channels {
		least, largest := tr.Envelope.Series(i)
		low, high := span(least, largest)
		list = append(list, map[string]any{"name": c.Name, "unit": c.Unit, "low": low, "high": high, "least": numbers(least), "largest": numbers(largest)})
	}
	return ` class="trace" tabindex="0" role="application" aria-roledescription="chart"` +
		attribute("trace", map[string]any{"start": tr.Envelope.Start(), "width": tr.Envelope.Width(), "ofDay": tr.Clock.OfDay, "ahead": tr.Clock.Ahead, "channels": list})
}

func (tr trace) draw(to canvas) {
	_, height := tr.size()
	bottom := float64(height - 24)
	for _, s := range tr.Marked() {
		x := tr.x(s.Start)
		to.area("event", fmt.Sprintf(` data-start="%s" data-end="%s"`, short(s.Start), short(s.End)), box(x, 0, max(tr.x(s.End)-x, 1.5), bottom))
	}
	to.script(fmt.Sprintf(`<rect class="brush" visibility="hidden" x="0" y="0" width="0" height="%.0f"/>`, bottom))
	for i := range tr.Channels {
		tr.panel(to, i)
	}
	to.script(fmt.Sprintf(`<line class="cursor" visibility="hidden" x1="0" x2="0" y1="0" y2="%.0f"/><g class="ticks" data-y="%.0f">`, bottom, bottom))
	for _, k := range tr.ticks() {
		x := tr.x(k.at)
		to.line("axis", shape{{x, bottom}, {x, bottom + 5}})
		to.text("", x, bottom+16, middle, k.text)
	}
	to.script("</g>")
}

// timeSteps are the seconds between ticks that people count in.
var timeSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400}

// A tick is a time and its text.
type tick struct {
	at   float64
	text string
}

// ticks are about ten round times of the log's clock. trace.js makes the same of
// what is zoomed in on.
func (tr trace) ticks() (list []tick) {
	e := tr.Envelope
	from := e.Start() + tr.Clock.Ahead
	to := from + float64(float64(e.Len())*e.Width())
	step := timeSteps[len(timeSteps)-1]
	for i := len(timeSteps) - 1; i >= 0 && timeSteps[i] >= (to-from)/11; i-- {
		step = timeSteps[i]
	}
	for k := math.Ceil(from / step); k*step <= to && len(list) < 30; k++ {
		list = append(list, tick{k*step - tr.Clock.Ahead, tr.clock(k*step, step)})
	}
	return list
}

// clock is a time of the log, as exact as steps ask for: hh:mm where its clock gives the time of
// day, or else in minutes.
func (tr trace) clock(t, step float64) string {
	switch text := tr.Clock.Text(t - tr.Clock.Ahead); {
	case tr.Clock.OfDay && step >= 60:
		return text[:len("hh:mm")]
	case tr.Clock.OfDay:
		return text
	case step >= 60:
		return tables.Fixed(t/60, 0) + " min"
	case step >= 1:
		return fmt.Sprintf("%d:%02d", int(t)/60, int(t)%60)
	}
	return tables.Fixed(t, 1) + " s"
}

func (tr trace) x(t float64) float64 {
	e := tr.Envelope
	share := (t - e.Start()) / (e.Width() * float64(max(e.Len(), 1)))
	return traceLeft + float64(min(max(share, 0), 1)*traceWidth)
}

// panel draws a channel, from the largest to the smallest value of every stretch; a
// gap parts them.
func (tr trace) panel(to canvas, i int) {
	c, top := tr.Channels[i], float64(i*(panelHeight+panelGap)+panelGap)
	least, largest := tr.Envelope.Series(i)
	f := frame{x1: float64(len(least)), left: traceLeft, right: traceLeft + traceWidth, top: top, bottom: top + panelHeight}
	f.y0, f.y1 = span(least, largest)
	if c.Unit != "" {
		c.Name += " [" + c.Unit + "]"
	}
	to.text("name", f.left, top-6, begins, c.Name)
	f.rules(to, 4)
	x := make([]float64, len(least))
	for k := range x {
		x[k] = float64(k) + .5
	}
	bands, back := f.pieces(x, largest), f.pieces(x, least)
	for k := range bands {
		slices.Reverse(back[k])
		bands[k] = append(bands[k], back[k]...)
	}
	to.script(fmt.Sprintf(`<g class="channel" data-top="%.0f" data-height="%d">`, top, panelHeight))
	to.area("band", "", bands...)
	to.script("</g>")
}

// span is the range of values, widened where all are the same.
func span(values ...[]float64) (low, high float64) {
	low, high = tables.Range(values...)
	switch {
	case !(high >= low):
		return 0, 1
	case high == low:
		return low - 1, high + 1
	}
	return low, high
}

// numbers is written with six significant digits, null for none: a picture has
// no more, and a page stays small.
type numbers []float64

func (n numbers) MarshalJSON() ([]byte, error) {
	b := []byte{'['}
	for i, v := range n {
		if i > 0 {
			b = append(b, ',')
		}
		if math.IsNaN(v) {
			b = append(b, "null"...)
		} else {
			b = append(b, short(v)...)
		}
	}
	return append(b, ']'), nil
}

func short(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
