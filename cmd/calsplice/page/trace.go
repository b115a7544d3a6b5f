package page

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/envelope"
	"calsplice/tables"
)

// Trace is channels over time, stacked, each with the extremes of every stretch.
type Trace struct {
	Channels []TraceChannel
	Envelope *envelope.Envelope // a series a channel
	Events   []Span             // marked across all channels
}

// TraceChannel names one channel of a trace.
type TraceChannel struct{ Name, Unit string }

// Span is a stretch of time in seconds.
type Span struct{ Start, End float64 }

//go:embed trace.js
var traceScript string

// The drawing area of a trace; trace.js knows the first two.
const (
	traceLeft, traceWidth = 70, 900
	panelHeight, panelGap = 78, 26
)

// Picture is the trace for a page, with the script that lets a person read
// values and zoom.
func (tr *Trace) Picture(caption string) Picture {
	data, _ := json.Marshal(tr.data())
	return Picture{template.HTML(tr.svg(`class="trace" tabindex="0" role="application" aria-roledescription="chart"`, caption, "")),
		caption, strings.Replace(traceScript, "TRACE", string(data), 1)}
}

// WriteSVG writes the trace as a picture of its own.
func (tr *Trace) WriteSVG(w io.Writer, title string) error {
	_, err := io.WriteString(w, tr.svg(standsAlone+` role="img"`, title, ground())+"\n")
	return err
}

// WritePNG writes it in pixels.
func (tr *Trace) WritePNG(w io.Writer) error {
	return writePNG(w, traceLeft+traceWidth+20, tr.height(), func(p *pixels) { tr.draw(p) })
}

func (tr *Trace) height() int { return len(tr.Channels)*(panelHeight+panelGap) + 28 }

func (tr *Trace) svg(attributes, title, under string) string {
	b := &svg{}
	w, h := traceLeft+traceWidth+20, tr.height()
	fmt.Fprintf(b, `<svg %s viewBox="0 0 %d %d" width="%d" height="%d" aria-label="%s">%s`, attributes, w, h, w, h, html.EscapeString(tables.Clean(title)), under)
	tr.draw(b)
	b.WriteString("</svg>")
	return b.String()
}

func (tr *Trace) draw(to canvas) {
	bottom := float64(tr.height() - 24)
	for _, s := range tr.Events {
		x := tr.x(s.Start)
		to.area("event", fmt.Sprintf(` data-start="%s" data-end="%s"`, short(s.Start), short(s.End)), box(x, 0, max(tr.x(s.End+tr.Envelope.Width())-x, 1.5), bottom))
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
func (tr *Trace) ticks() (list []tick) {
	e := tr.Envelope
	from, to := e.Start(), e.Start()+float64(float64(e.Len())*e.Width())
	step := timeSteps[len(timeSteps)-1]
	for i := len(timeSteps) - 1; i >= 0 && timeSteps[i] >= (to-from)/11; i-- {
		step = timeSteps[i]
	}
	for k := math.Ceil(from / step); k*step <= to && len(list) < 30; k++ {
		list = append(list, tick{k * step, clock(k*step, step)})
	}
	return list
}

// clock is a time as minutes, with seconds where the step is no whole minute.
func clock(t, step float64) string {
	switch {
	case step >= 60:
		return tables.Fixed(t/60, 0) + " min"
	case step >= 1:
		return fmt.Sprintf("%d:%02d", int(t)/60, int(t)%60)
	}
	return tables.Fixed(t, 1) + " s"
}

func (tr *Trace) x(t float64) float64 {
	e := tr.Envelope
	share := (t - e.Start()) / (e.Width() * float64(max(e.Len(), 1)))
	return traceLeft + float64(min(max(share, 0), 1)*traceWidth)
}

// panel draws a channel, from the largest to the smallest value of every stretch; a
// gap parts them.
func (tr *Trace) panel(to canvas, i int) {
	c, top := view.Cleaned(tr.Channels[i]), float64(i*(panelHeight+panelGap)+panelGap)
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

// data is what the script reads values from.
func (tr *Trace) data() map[string]any {
	var list []map[string]any
	for i, c := range view.Cleaned(tr.Channels) {
		least, largest := tr.Envelope.Series(i)
		low, high := span(least, largest)
		list = append(list, map[string]any{"name": c.Name, "unit": c.Unit, "low": low, "high": high, "least": numbers(least), "largest": numbers(largest)})
	}
	return map[string]any{"start": tr.Envelope.Start(), "width": tr.Envelope.Width(), "channels": list}
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
