package celltext

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/text"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// JSON writes a result for machines.
func JSON(w io.Writer, v any) error {
	return strictjson.Print(w, v)
}

// PrintComparison writes what changed between two drives: for each channel the
// change of each cell where it is beyond chance, "~" where it is not, and how
// the drives stand against what is normal.
func PrintComparison(p *text.Printer, c *cells.Comparison) {
	untested := false
	for i := range c.Channels {
		ch := &c.Channels[i]
		if i > 0 {
			p.Line("")
		}
		head := ch.Channel
		if ch.Unit != "" {
			head += " [" + ch.Unit + "]"
		}
		p.Wrap("", fmt.Sprintf("%s: %d of %s tested changed beyond chance", tables.Clean(head), ch.Changed, tables.Plural(ch.Tested, "cell")))
		p.Line("")
		untested = printChanges(p, ch) || untested
		p.Line("")
		printVerdict(p, ch)
	}
	legend := fmt.Sprintf("+ rose, − fell, ~ not beyond chance (of the cells told as changed, %.0f %% are expected to be chance), · not in both drives", 100*cells.Rate)
	if untested {
		legend += ", ? too few visits to tell"
	}
	p.Line("")
	p.Wrap("", legend)
	for _, only := range []struct {
		names []string
		which string
	}{{c.OnlyOld, "the first"}, {c.OnlyNew, "the second"}} {
		for _, n := range only.names {
			p.Wrap("", fmt.Sprintf("%s is in %s drive's cells only", tables.Clean(n), only.which))
		}
	}
}

// printChanges draws the grid of changes and reports whether a cell was not
// tested.
func printChanges(p *text.Printer, ch *cells.ChannelChange) (untested bool) {
	rows, columns := 1, 1
	if ch.X != nil {
		columns = ch.X.Len()
	}
	if ch.Y != nil {
		rows = ch.Y.Len()
	}
	at := make([]*cells.CellChange, rows*columns)
	var changes []float64
	most := 0.0
	for i := range ch.Cells {
		cell := &ch.Cells[i]
		at[cell.At[0]*columns+cell.At[1]] = cell
		if cell.Changed {
			changes = append(changes, *cell.Change)
			most = max(most, math.Abs(*cell.Change))
		}
	}
	places := decimals(changes)
	shape, err := tables.NewTable(tables.Fields{ID: "change", X: ch.X, Y: ch.Y, Values: make([]float64, rows*columns)})
	if err != nil {
		return false
	}
	p.Grid(text.TableGrid(shape, func(r, c int) text.Cell {
		cell := at[r*columns+c]
		switch {
		case cell == nil || cell.Change == nil:
			return text.Cell{Text: "·", Dim: true}
		case cell.P == nil:
			untested = true
			return text.Cell{Text: "?", Dim: true}
		case !cell.Changed:
			return text.Cell{Text: "~", Dim: true}
		}
		s := minus(strconv.FormatFloat(*cell.Change, 'f', places, 64))
		if *cell.Change > 0 {
			s = "+" + s
		}
		return text.Cell{Text: s, Bold: true, Shade: text.Sign(*cell.Change, most)}
	}))
	return untested
}

func printVerdict(p *text.Printer, ch *cells.ChannelChange) {
	unit := ch.Unit
	if unit != "" {
		unit = " " + unit
	}
	for _, v := range []struct {
		when string
		v    *cells.Verdict
	}{{"before: ", &ch.Before}, {"after:  ", &ch.After}} {
		if v.v.CellsKnown == 0 {
			p.Wrap(v.when, "no samples")
			continue
		}
		line := fmt.Sprintf("mean %s%s, worst cell %s%s at %s", figure(v.v.Mean), unit, figure(v.v.Worst), unit, place(ch, v.v.WorstAt))
		if v.v.Bound > 0 {
			line = fmt.Sprintf("%.0f %% of cells and %.0f %% of time within ±%s%s, ", 100**v.v.CellShare, 100**v.v.TimeShare,
				tables.FormatValue(v.v.Bound), unit) + line
		}
		p.Wrap(v.when, line)
	}
	switch {
	case ch.Before.Bound > 0 && ch.Channel == "knock_retard":
		p.Wrap("", "Retard of about 1° now and then is sensor noise (common practice, no source).")
	case ch.Before.Bound > 0:
		p.Wrap("", "Trims within ±5 % are commonly accepted as normal (common practice, no source).")
	}
}

// place is a cell by its breakpoints.
func place(ch *cells.ChannelChange, at [2]int) string {
	var parts []string
	for _, a := range []struct {
		axis *tables.Axis
		i    int
	}{{ch.X, at[1]}, {ch.Y, at[0]}} {
		if a.axis != nil {
			parts = append(parts, strings.TrimSpace(tables.FormatValue(a.axis.At(a.i))+" "+a.axis.Unit()))
		}
	}
	if parts == nil {
		return "[0, 0]"
	}
	return tables.Clean(strings.Join(parts, ", "))
}

// figure is a number with its sign, to two places.
func figure(v float64) string {
	s := minus(strconv.FormatFloat(v, 'f', 2, 64))
	if v > 0 {
		return "+" + s
	}
	return s
}
