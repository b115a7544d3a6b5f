package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/page"
	"calsplice/interp/cells"
	"calsplice/tables"
)

// Drives is the comparison of the cells of two drives as a page.
func Drives(old, new *tables.Calibration, cmp *cells.Comparison) *page.Page {
	p := &page.Page{Title: "Two drives compared", Kind: "Cell averages before and after", Cautions: cautions(nil),
		Lead: []string{fmt.Sprintf("Before: %s. After: %s.", sources(old), sources(new))}}
	for i := range cmp.Channels {
		ch := &cmp.Channels[i]
		p.Lead = append(p.Lead, fmt.Sprintf("%s: %d of %d cells tested changed beyond chance.", ch.Channel, ch.Changed, ch.Tested))
		p.Lead = append(p.Lead, standing(ch, "Before", ch.Before), standing(ch, "After", ch.After))
		p.Sections = append(p.Sections, driveSection(ch))
	}
	for _, name := range cmp.OnlyOld {
		p.Lead = append(p.Lead, name+" is in the first drive alone.")
	}
	for _, name := range cmp.OnlyNew {
		p.Lead = append(p.Lead, name+" is in the second drive alone.")
	}
	return p
}

func sources(doc *tables.Calibration) string {
	list := ""
	for i, s := range doc.Contents().Source {
		if i > 0 {
			list += ", "
		}
		list += tables.Clean(s.Name)
	}
	return list
}

// standing says how a drive's cells stand against what is normal.
func standing(ch *cells.ChannelChange, when string, v cells.Verdict) string {
	s := fmt.Sprintf("%s: mean %s %s, worst cell %s %s", when, fixed(v.Mean, 1), ch.Unit, fixed(v.Worst, 1), ch.Unit)
	if v.Bound > 0 && v.CellShare != nil && v.TimeShare != nil {
		s += fmt.Sprintf("; %.0f %% of cells and %.0f %% of time within %g %s (common practice, no source)", 100**v.CellShare, 100**v.TimeShare, v.Bound, ch.Unit)
	}
	return s + "."
}

func driveSection(ch *cells.ChannelChange) page.Section {
	s := page.Section{Heading: ch.Channel, Text: []string{
		"Welch's test on the visits of each cell; of the cells told as changed 5 % are expected to be chance (Benjamini–Hochberg). " +
			"Changes within chance are marked ~, cells with too few visits to tell ?."}}
	rows, columns := axisLength(ch.Y), axisLength(ch.X)
	if !page.Fits(rows, columns, 3) {
		s.Text = append(s.Text, fmt.Sprintf("%d × %d cells are too many to print.", rows, columns))
		return s
	}
	at := make([]*cells.CellChange, rows*columns)
	extent, change := 0.0, 0.0
	for i := range ch.Cells {
		c := &ch.Cells[i]
		at[c.At[0]*columns+c.At[1]] = c
		extent = max(extent, size(c.Before), size(c.After))
		change = max(change, size(c.Change))
	}
	state := func(pick func(c *cells.CellChange) *float64) func(r, c int) page.Cell {
		return func(r, col int) page.Cell {
			c := at[r*columns+col]
			if c == nil || pick(c) == nil {
				return page.Cell{}
			}
			v := *pick(c)
			return page.Cell{Text: fixed(v, extent), Class: page.Diverging(v, extent)}
		}
	}
	s.Grids = []page.Grid{
		axesGrid("before", ch, state(func(c *cells.CellChange) *float64 { return c.Before })),
		axesGrid("after", ch, state(func(c *cells.CellChange) *float64 { return c.After })),
		axesGrid("change", ch, func(r, col int) page.Cell { return changeCell(at[r*columns+col], change) }),
	}
	return s
}

func changeCell(c *cells.CellChange, extent float64) page.Cell {
	switch {
	case c == nil || c.Change == nil:
		return page.Cell{}
	case c.P == nil:
		return page.Cell{Text: "?", Note: "too few visits to tell"}
	}
	note := fmt.Sprintf("q = %.2g", *c.Q)
	if !c.Changed {
		return page.Cell{Text: "~", Note: fixed(*c.Change, extent) + ", not beyond chance, " + note}
	}
	return page.Cell{Text: fixed(*c.Change, extent), Class: page.Classes(page.Diverging(*c.Change, extent), "changed"), Note: "beyond chance, " + note}
}

func axesGrid(name string, ch *cells.ChannelChange, cell func(r, c int) page.Cell) page.Grid {
	return page.AxesGrid(name, ch.Unit, ch.X, ch.Y, cell)
}

func axisLength(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

func size(v *float64) float64 {
	if v == nil {
		return 0
	}
	return math.Abs(*v)
}

// fixed writes a value with its sign and as many decimals as leave the largest
// of its kind three digits.
func fixed(v, largest float64) string {
	decimals := 2
	if largest > 0 {
		decimals = min(max(2-int(math.Floor(math.Log10(largest))), 0), 6)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	switch {
	case strings.Trim(s, "0.") == "":
		return s
	case v < 0:
		return "−" + s
	}
	return "+" + s
}
