// Package celltext writes cell averages, what two drives have changed, and
// events for a person to read in a terminal of 80 columns.
package celltext

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/text"
	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/tables"
)

// interval is what --show also takes: half the width of the 95 % interval.
const interval = "interval"

// Known refuses a statistic that cells do not have.
func Known(statistic string) error {
	known := append(slices.Clone(cells.Statistics), "surface", "surface_se", interval)
	if slices.Contains(known, statistic) {
		return nil
	}
	return fmt.Errorf("--show %s: there are %s", tables.Quote(statistic), strings.Join(known, ", "))
}

// Evidence too thin to act on, and what counts as standing at a limit. Common
// practice, no source.
const (
	fewSamples = 20
	fewVisits  = 3
)

// Print writes one statistic of each channel as a grid. Thin evidence stands in
// parentheses, and dim; what stands at a trim's limit has a "!".
func Print(p *text.Printer, doc *tables.Calibration, statistic string) error {
	for _, name := range cells.Channels(doc) {
		if shown(doc, name, statistic) == nil {
			return fmt.Errorf("the cells have no %s.%s: --surface fits one", name, statistic)
		}
	}
	p.Wrap("", Kept(doc))
	var thin, limited, filled bool
	for _, name := range cells.Channels(doc) {
		t := shown(doc, name, statistic)
		count, visits, limit := doc.Table(name+".count"), doc.Table(name+".visits"), doc.Table(name+".at_limit")
		places := decimals(t.Values())
		low, high := text.Range(t.Values())
		most := max(math.Abs(low), math.Abs(high))
		p.Line("")
		p.Wrap("", tables.Clean(heading(t, statistic)))
		p.Grid(text.TableGrid(t, func(r, c int) text.Cell {
			v := t.At(r, c)
			if math.IsNaN(v) {
				return text.Cell{Text: "·", Dim: true}
			}
			cell := text.Cell{Text: minus(strconv.FormatFloat(v, 'f', places, 64))}
			if signed(name) && (statistic == "mean" || statistic == "surface" || statistic == "min" || statistic == "max" || statistic == "p95") {
				cell.Shade = text.Sign(v, most)
			} else {
				cell.Shade = text.Size(v, low, high)
			}
			if strings.HasPrefix(statistic, "surface") {
				if doc.Table(name+".filled").At(r, c) == 1 {
					cell.Text, cell.Dim, cell.Shade, filled = "["+cell.Text+"]", true, nil, true
				}
				return cell
			}
			if at(count, r, c) < fewSamples || at(visits, r, c) < fewVisits {
				cell.Text, cell.Dim, cell.Shade, thin = "("+cell.Text+")", true, nil, true
			}
			if at(limit, r, c) >= merge.CensoredShare {
				cell.Text += "!"
				limited = true
			} else if limited || anyAbove(limit, merge.CensoredShare) {
				cell.Text += " " // so that figures stand below each other
			}
			return cell
		}))
	}
	p.Line("")
	legend := "· no samples"
	if thin {
		legend += fmt.Sprintf("   ( ) thin: under %d samples or %d visits", fewSamples, fewVisits)
	}
	if limited {
		legend += "   ! at the trim's limit: the size is a lower bound"
	}
	if filled {
		legend = "[ ] filled: no samples there, from what surrounds it"
	}
	p.Wrap("", legend)
	return nil
}

// shown is the table of a statistic; the interval's is made.
func shown(doc *tables.Calibration, channel, statistic string) *tables.Table {
	if statistic != interval {
		return doc.Table(channel + "." + statistic)
	}
	se, visits := doc.Table(channel+".se"), doc.Table(channel+".visits")
	values := make([]float64, len(se.Values()))
	for i, v := range se.Values() {
		values[i] = cells.HalfInterval(v, visits.Values()[i])
	}
	t, err := se.WithValues(values)
	if err != nil {
		return se
	}
	return t
}

func heading(t *tables.Table, statistic string) string {
	h := t.Title()
	if h == "" {
		h = t.ID()
	}
	if statistic == interval {
		h = strings.TrimSuffix(strings.TrimSuffix(t.ID(), ".se"), ".") + ": mean is within ± this, 95 of 100 times"
	}
	if u := t.Unit(); u != "" && u != "1" {
		h += " [" + u + "]"
	}
	return h
}

func at(t *tables.Table, r, c int) float64 {
	if t == nil {
		return math.NaN()
	}
	return t.At(r, c)
}

func anyAbove(t *tables.Table, bound float64) bool {
	return t != nil && slices.ContainsFunc(t.Values(), func(v float64) bool { return v >= bound })
}

// signed reports whether zero is the middle of a channel: a trim, an error.
func signed(channel string) bool {
	return strings.Contains(channel, "trim") || strings.Contains(channel, "error")
}

// decimals shows about three figures of the largest value.
func decimals(values []float64) int {
	most, whole := 0.0, true
	for _, v := range values {
		if !math.IsNaN(v) {
			most = max(most, math.Abs(v))
			whole = whole && v == math.Trunc(v)
		}
	}
	switch {
	case whole || most >= 1000:
		return 0
	case most >= 100:
		return 1
	case most >= 1:
		return 2
	}
	return 3
}

// minus writes a negative number with a minus sign, and no negative zero.
func minus(s string) string {
	if !strings.HasPrefix(s, "-") {
		return s
	}
	if strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return "−" + s[1:]
}

// Kept tells in a line how many rows were kept, and why the others were not.
func Kept(doc *tables.Calibration) string {
	var rows, kept int
	var dropped []tables.Dropped
	for _, s := range doc.Contents().Source {
		rows, kept = rows+s.Rows, kept+s.Kept
		for _, d := range s.Dropped {
			i := slices.IndexFunc(dropped, func(o tables.Dropped) bool { return o.Reason == d.Reason })
			if i < 0 {
				dropped = append(dropped, d)
			} else {
				dropped[i].Count += d.Count
			}
		}
	}
	line := fmt.Sprintf("%s of %s rows kept", cells.Thousands(kept), cells.Thousands(rows))
	if n := len(doc.Contents().Source); n > 1 {
		line += fmt.Sprintf(" of %s logs", cells.Thousands(n))
	}
	for i, d := range dropped {
		line += map[bool]string{true: ": ", false: ", "}[i == 0] + cells.Thousands(d.Count) + " " + tables.Clean(d.Reason)
	}
	return line
}
