package page

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"io"
	"math"
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
	var b strings.Builder
	tr.svg(&b, `class="trace" tabindex="0" role="application" aria-roledescription="chart"`, caption)
	data, _ := json.Marshal(tr.data())
	return Picture{template.HTML(b.String()), caption, strings.Replace(traceScript, "TRACE", string(data), 1)}
}

// WriteSVG writes the trace as a picture of its own.
func (tr *Trace) WriteSVG(w io.Writer, title string) error {
	var b strings.Builder
	tr.svg(&b, `xmlns="http://www.w3.org/2000/svg" role="img"`, title)
	s := strings.Replace(b.String(), "<rect ", `<style>text{font:12px sans-serif;fill:#333}.axis{stroke:#ccc;fill:none}.band{fill:#0f5a7a;stroke:#0f5a7a}.event{fill:#8a4b00;opacity:.2}</style><rect width="100%" height="100%" fill="#fff"/><rect `, 1)
	_, err := io.WriteString(w, s+"\n")
	return err
}

func (tr *Trace) height() int { return len(tr.Channels)*(panelHeight+panelGap) + 28 }

func (tr *Trace) svg(b *strings.Builder, attributes, title string) {
	h := tr.height()
	fmt.Fprintf(b, `<svg %s viewBox="0 0 %d %d" width="%d" height="%d" aria-label="%s">`,
		attributes, traceLeft+traceWidth+20, h, traceLeft+traceWidth+20, h, html.EscapeString(tables.Clean(title)))
	e := tr.Envelope
	for _, s := range tr.Events {
		x0, x1 := tr.x(s.Start), tr.x(s.End+e.Width())
		fmt.Fprintf(b, `<rect class="event" data-start="%s" data-end="%s" x="%.1f" y="0" width="%.1f" height="%d"/>`,
			short(s.Start), short(s.End), x0, max(x1-x0, 1.5), h-24)
	}
	fmt.Fprintf(b, `<rect class="brush" visibility="hidden" x="0" y="0" width="0" height="%d"/>`, h-24)
	for i := range tr.Channels {
		p := tr.panel(i)
		p.svg(b)
	}
	fmt.Fprintf(b, `<line class="cursor" visibility="hidden" x1="0" x2="0" y1="0" y2="%d"/>`, h-24)
	fmt.Fprintf(b, `<g class="ticks" data-y="%d">`, h-24)
	for _, k := range tr.ticks() {
		fmt.Fprintf(b, `<path class="axis" d="M%.1f %dv5"/><text x="%.1f" y="%d" text-anchor="middle">%s</text>`, tr.x(k.at), h-24, tr.x(k.at), h-8, k.text)
	}
	b.WriteString("</g></svg>")
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

// panel is one channel's part of the drawing.
type panel struct {
	name      string
	top       float64
	low, high float64        // of the channel, at the panel's edges
	bands     [][][2]float64 // from the largest to the smallest value of every stretch; a gap parts them
}

func (tr *Trace) panel(i int) panel {
	c := view.Cleaned(tr.Channels[i])
	least, largest := tr.Envelope.Series(i)
	p := panel{name: c.Name, top: float64(i*(panelHeight+panelGap) + panelGap)}
	if c.Unit != "" {
		p.name += " [" + c.Unit + "]"
	}
	p.low, p.high = span(least, largest)
	n := len(least)
	x := func(i int) float64 { return traceLeft + float64((float64(i)+.5)/float64(n)*traceWidth) }
	for i := 0; i < n; i++ {
		first := i
		for i < n && !math.IsNaN(least[i]) {
			i++
		}
		var band [][2]float64
		for m := first; m < i; m++ {
			band = append(band, [2]float64{x(m), p.y(largest[m])})
		}
		for m := i - 1; m >= first; m-- {
			band = append(band, [2]float64{x(m), p.y(least[m])})
		}
		if band != nil {
			p.bands = append(p.bands, band)
		}
	}
	return p
}

// y is the height of a value in the drawing.
func (p *panel) y(v float64) float64 {
	return p.top + panelHeight - float64((v-p.low)/(p.high-p.low)*panelHeight)
}

func (p *panel) svg(b *strings.Builder) {
	fmt.Fprintf(b, `<text class="name" x="%d" y="%.0f">%s</text>`, traceLeft, p.top-6, html.EscapeString(p.name))
	for _, v := range Ticks(p.low, p.high, 4) {
		fmt.Fprintf(b, `<path class="axis" d="M%d %.1fH%d"/><text x="%d" y="%.1f" text-anchor="end">%s</text>`,
			traceLeft, p.y(v), traceLeft+traceWidth, traceLeft-6, p.y(v)+4, tables.Shown(v))
	}
	fmt.Fprintf(b, `<g class="channel" data-top="%.0f" data-height="%d"><path class="band" d="`, p.top, panelHeight)
	for _, band := range p.bands {
		pen := "M"
		for _, at := range band {
			fmt.Fprintf(b, "%s%.1f %.1f", pen, at[0], at[1])
			pen = "L"
		}
		b.WriteString("Z")
	}
	b.WriteString(`"/></g>`)
}

// span is the range of values, widened where all are the same.
func span(values ...[]float64) (low, high float64) {
	low, high = view.Range(values...)
	switch {
	case !(high >= low):
		return 0, 1
	case high == low:
		return low - 1, high + 1
	}
	return low, high
}

type traceData struct {
	Start    float64            `json:"start"`
	Width    float64            `json:"width"`
	Channels []traceChannelData `json:"channels"`
}

type traceChannelData struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	Least   numbers `json:"least"`
	Largest numbers `json:"largest"`
}

func (tr *Trace) data() traceData {
	d := traceData{Start: tr.Envelope.Start(), Width: tr.Envelope.Width()}
	for i, c := range view.Cleaned(tr.Channels) {
		least, largest := tr.Envelope.Series(i)
		low, high := span(least, largest)
		d.Channels = append(d.Channels, traceChannelData{c.Name, c.Unit, low, high, least, largest})
	}
	return d
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
