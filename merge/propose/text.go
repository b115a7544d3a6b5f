package propose

import (
	"fmt"
	"io"
	"math"
	"strings"

	"calsplice/tables"
)

// WriteText writes a report for a person: first what stands before any number,
// then the cells that change, then what was left alone and why.
func (r *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	for _, s := range r.First {
		wrap(&b, "! ", s)
	}
	if len(r.First) > 0 {
		b.WriteByte('\n')
	}
	fmt.Fprintf(&b, "%s: %s, table %s [%s]\n", r.Command, tables.Plural(len(r.Edits), "edit"), r.Target, tables.Clean(r.Unit))
	r.fitText(&b)
	r.cellText(&b)
	if n, v := r.unvisited(); n > 0 {
		fmt.Fprintf(&b, "delivered fuel at %s without evidence: %s\n", tables.Plural(n, "breakpoint"), v)
	}
	if r.Fit != nil && r.Fit.Refused == "" && len(r.Fit.Offset) > 0 {
		b.WriteString("          (a cell that moves as the one above it in its column is not shown)\n")
	}
	for _, c := range r.Counts {
		fmt.Fprintf(&b, "%6d  %s\n", c.Cells, c.Verdict)
	}
	if v := r.Within5; v != nil {
		fmt.Fprintf(&b, "within ±5 %% now:       %3.0f %% of cells, %3.0f %% of time; mean size %.2f %%\n", 100*v.Cells, 100*v.Time, v.Mean)
	}
	if v := r.After; v != nil && len(r.Edits) > 0 {
		fmt.Fprintf(&b, "within ±5 %% predicted: %3.0f %% of cells, %3.0f %% of time; mean size %.2f %%\n", 100*v.Cells, 100*v.Time, v.Mean)
	}
	if f := r.FullLoad; f != nil {
		s := fmt.Sprintf("%s: %+.1f %% by the edits", f.Place, f.Table)
		if f.Learned != nil {
			s += fmt.Sprintf("; against %s of %+.1f %%, once cleared: %+.1f %%", f.Against, *f.Learned, *f.Change)
		}
		wrap(&b, "delivered fuel at full load, ", s)
	}
	for _, list := range []struct {
		title string
		lines []string
	}{{"note", r.Notes}, {"then", r.Next}} {
		for _, s := range list.lines {
			wrap(&b, list.title+": ", s)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// width is what a line may take on a terminal of usual width.
const width = 80

// wrap writes a sentence behind its lead, in lines of the usual width.
func wrap(b *strings.Builder, lead, s string) {
	line, indent := lead, strings.Repeat(" ", min(len([]rune(lead)), 10))
	empty := true
	for word := range strings.FieldsSeq(s) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > width {
			b.WriteString(line + "\n")
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	b.WriteString(strings.TrimRight(line, " ") + "\n")
}

// cellText lists the cells that change.
func (r *Report) cellText(b *strings.Builder) {
	head := false
	for i := range r.Cells {
		c := &r.Cells[i]
		if c.From == c.To || r.alike(i) {
			continue
		}
		if !head {
			head = true
			if r.Command == "propose spark" {
				fmt.Fprintf(b, "%-9s %9s → %-9s %7s %7s %7s %6s\n", "cell", "from", "to", "mean", "p95", "count", "visits")
			} else {
				fmt.Fprintf(b, "%-9s %9s → %-9s %16s %7s %6s %9s\n", "cell", "from", "to", "evidence %", "count", "visits", "after %")
			}
		}
		cell := fmt.Sprintf("[%d, %d]", c.At[0], c.At[1])
		from, to := tables.FormatValue(c.From), tables.FormatValue(c.To)
		if r.Command == "propose spark" {
			fmt.Fprintf(b, "%-9s %9s → %-9s %7s %7s %7d %6d", cell, from, to, figure(c.Mean), figure(c.P95), c.Count, c.Visits)
		} else {
			fmt.Fprintf(b, "%-9s %9s → %-9s %16s %7d %6d %9s", cell, from, to, meanText(c), c.Count, c.Visits, signed(c.Predicted))
		}
		note := c.Note
		if c.Table != r.Target {
			fmt.Fprintf(b, "  %s", c.Table)
		} else if r.Command == "propose spark" && note != "" {
			fmt.Fprintf(b, "  %s", note)
			note = ""
		}
		b.WriteByte('\n')
		if c.Load != nil {
			fmt.Fprintf(b, "          load %s %%", tables.Signed(*c.Load, 1))
			if c.Spark != nil {
				fmt.Fprintf(b, ", spark %s deg", tables.Signed(*c.Spark, 2))
			}
			b.WriteByte('\n')
		}
		if note != "" && r.By != "fit" {
			wrap(b, "          ", note)
		}
	}
}

// unvisited counts the target's cells without evidence and says how their fuel
// changes without any trim.
func (r *Report) unvisited() (n int, change string) {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range r.Cells {
		if c := &r.Cells[i]; c.Table == r.Target && c.Delivered != nil {
			n++
			low, high = min(low, *c.Delivered), max(high, *c.Delivered)
		}
	}
	switch {
	case n == 0 || low == 0 && high == 0:
		return n, "unchanged"
	case high-low < 0.05:
		return n, tables.Signed(low, 1) + " %"
	}
	return n, fmt.Sprintf("%s to %s %%", tables.Signed(low, 1), tables.Signed(high, 1))
}

// alike reports whether a fitted cell moves just as the one above it, which
// stands for it in the text.
func (r *Report) alike(i int) bool {
	c := &r.Cells[i]
	if r.By != "fit" || c.At[0] == 0 {
		return false
	}
	for k := i - 1; k >= 0; k-- {
		if above := &r.Cells[k]; above.Table == c.Table && above.At == [2]int{c.At[0] - 1, c.At[1]} {
			return math.Abs((c.To-c.From)-(above.To-above.From)) < 1e-9
		}
	}
	return false
}

func meanText(c *Cell) string {
	if c.Mean == nil {
		return "-"
	}
	if c.unit != "" && c.SE != nil {
		return fmt.Sprintf("%s ± %.3f %s", tables.Signed(*c.Mean, 3), *c.SE, c.unit)
	}
	if c.SE == nil {
		return tables.Signed(*c.Mean, 2)
	}
	return fmt.Sprintf("%s ± %.2f", tables.Signed(*c.Mean, 2), *c.SE)
}

func figure(v *float64) string {
	if v == nil || math.IsNaN(*v) {
		return "-"
	}
	return strings.TrimPrefix(tables.Signed(*v, 2), "+")
}

func signed(v *float64) string {
	if v == nil {
		return "-"
	}
	return tables.Signed(*v, 2)
}

func (r *Report) fitText(b *strings.Builder) {
	f := r.Fit
	if f == nil {
		return
	}
	fmt.Fprintf(b, "fit: %s in %s, effective pulses of %.1f to %.1f ms, residual %.2f %% (one standard deviation)\n",
		tables.Plural(f.Rows, "mean"), tables.Plural(f.Visits, "visit"), f.Pulse[0], f.Pulse[1], f.Residual)
	line := func(what, at string, v *Fitted, unit string) {
		fmt.Fprintf(b, "  %-18s %10s  %+8.3f %s, 95 %% in %s to %s\n", what, at, v.V, unit, bound(v.Low), bound(v.High))
	}
	for i := range f.Flow {
		line("flow error", figureAt(f.Flow[i].At), &f.Flow[i], "%")
	}
	for i := range f.Offset {
		line("offset error", figureAt(f.Offset[i].At), &f.Offset[i], "ms")
	}
	if f.Slope != nil {
		line("offset per 100 kPa", "", f.Slope, "ms")
	}
	for _, s := range f.Dropped {
		fmt.Fprintf(b, "  %s: the drive shows no error beyond its interval and dead band\n", s)
	}
}

func figureAt(v *float64) string {
	if v == nil {
		return "all"
	}
	return tables.FormatValue(*v)
}

func bound(v *float64) string {
	if v == nil {
		return "?"
	}
	return tables.Signed(*v, 3)
}
