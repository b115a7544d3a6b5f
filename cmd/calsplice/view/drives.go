package view

import (
	"fmt"
	"math"
	"strings"

	"calsplice/interp/cells"
	"calsplice/tables"
)

// Drives is what two drives have changed: for each channel the change of each
// cell where chance does not explain it, and how the drives compare with what is
// normal.
func Drives(old, new *cells.Drive, cmp *cells.Comparison) *View {
	v := &View{Title: "Two drives compared", Kind: fmt.Sprintf("Before: %s. After: %s.", sources(old.Steady), sources(new.Steady)), Standing: true}
	v.Verdict = drivesVerdict(cmp)
	for i := range cmp.Channels {
		ch := &cmp.Channels[i]
		v.Lead = append(v.Lead, withUnit(ch.Channel, ch.Unit)+": "+changedWords(ch))
		p := driveParts(ch, old, new)
		v.Parts = append(v.Parts, p)
	}
	v.Parts = append(v.Parts, Part{Text: []string{fmt.Sprintf("+ rose, − fell, ~ chance explains it, ? too few visits to test, · not in both drives. "+
		"On average at most %.0f %% of the cells marked as changed are false alarms. Method: Welch's test on the visits, Benjamini–Hochberg.", 100*cells.Rate)}})
	for _, n := range cmp.OnlyOld {
		v.Last = append(v.Last, n+" is in the first drive's cells only")
	}
	for _, n := range cmp.OnlyNew {
		v.Last = append(v.Last, n+" is in the second drive's cells only")
	}
	return v
}

func changedWords(ch *cells.ChannelChange) string {
	return fmt.Sprintf("%d of %s tested changed more than chance explains", ch.Changed, tables.Plural(ch.Tested, "cell"))
}

func withUnit(name, unit string) string {
	if unit == "" || unit == "1" {
		return name
	}
	return name + " [" + unit + "]"
}

func driveParts(ch *cells.ChannelChange, old, new *cells.Drive) Part {
	p := Part{Heading: withUnit(ch.Channel, ch.Unit), Facts: []Fact{{"Before", standing(ch.Unit, ch.X, ch.Y, ch.Before)}, {"After", standing(ch.Unit, ch.X, ch.Y, ch.After)}}}
	switch {
	case ch.Channel == knockRetard:
		for k, d := range []*cells.Drive{old, new} {
			if s := (channel{doc: d.Retard, name: knockRetard}).retard(); s != "" {
				p.Text = append(p.Text, []string{"before: ", "after: "}[k]+s)
			}
		}
	case ch.Before.Bound > 0:
		p.Note = "Trims within ±5 % are commonly accepted as normal (common practice, no source)."
	}
	rows, columns := length(ch.Y), length(ch.X)
	if !fits(rows, columns, 3) {
		p.Text = append(p.Text, fmt.Sprintf("%d × %d cells are too many to print.", rows, columns))
		return p
	}
	p.Grids = driveGrids(ch, rows, columns)
	return p
}

// driveGrids are a channel before and after, for pages, and its change.
func driveGrids(ch *cells.ChannelChange, rows, columns int) []Grid {
	at := make([]*cells.CellChange, rows*columns)
	extent, change := 0.0, 0.0
	var changed []float64
	for i := range ch.Cells {
		c := &ch.Cells[i]
		at[c.At[0]*columns+c.At[1]] = c
		extent = max(extent, sizeOf(c.Before), sizeOf(c.After))
		if c.Changed {
			changed = append(changed, *c.Change)
			change = max(change, sizeOf(c.Change))
		}
	}
	places, shades := decimals([]float64{extent + 0.5}), scaleOf(ch.Channel, extent)
	grid := func(name string, cell func(c *cells.CellChange) Cell) Grid {
		return newGrid(name, ch.Unit, ch.X, ch.Y, func(r, col int) Cell { return cell(at[r*columns+col]) })
	}
	state := func(name string, pick func(c *cells.CellChange) *float64) Grid {
		g := grid(name, func(c *cells.CellChange) Cell {
			if c == nil || pick(c) == nil {
				return empty
			}
			return shades.cell(*pick(c), tables.Signed(*pick(c), places))
		})
		g.On = OnPages
		return g
	}
	grids := []Grid{
		state("before", func(c *cells.CellChange) *float64 { return c.Before }),
		state("after", func(c *cells.CellChange) *float64 { return c.After }),
		grid("change", func(c *cells.CellChange) Cell {
			return changeCell(c, scaleOf(ch.Channel, change), decimals(changed))
		}),
	}
	grids[2].Legend = shades.legend(ch.Channel == knockRetard)
	return grids
}

func changeCell(c *cells.CellChange, shades scale, places int) Cell {
	switch {
	case c == nil || c.Change == nil:
		return empty
	case c.P == nil:
		return Cell{Text: "?", Mark: Faint, Note: "too few visits to test"}
	case !c.Changed:
		return Cell{Text: "~", Mark: Faint, Note: tables.Signed(*c.Change, 2) + ", chance explains it, " + fmt.Sprintf("q = %.2g", *c.Q)}
	}
	cell := shades.cell(*c.Change, tables.Signed(*c.Change, places))
	cell.Mark, cell.Note = Changed, fmt.Sprintf("q = %.2g", *c.Q)
	return cell
}

// standing says how a drive's cells compare with what is normal.
func standing(of string, x, y *tables.Axis, v cells.Verdict) string {
	if v.CellsKnown == 0 {
		return "no samples"
	}
	unit := blankUnit(of)
	s := fmt.Sprintf("mean %s%s, worst cell %s%s at %s", tables.Signed(v.Mean, 2), unit, tables.Signed(v.Worst, 2), unit,
		where(x, y, v.WorstAt[0], v.WorstAt[1]))
	if v.Bound > 0 && v.CellShare != nil && v.TimeShare != nil {
		s = fmt.Sprintf("%.0f %% of cells and %.0f %% of time within ±%s%s, ", 100**v.CellShare, 100**v.TimeShare, tables.Shown(v.Bound), unit) + s
	}
	return s
}

func length(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

func sizeOf(v *float64) float64 {
	if v == nil {
		return 0
	}
	return math.Abs(*v)
}

// drivesVerdict says of each channel whether it changed.
func drivesVerdict(cmp *cells.Comparison) string {
	var list []string
	for i := range cmp.Channels {
		ch := &cmp.Channels[i]
		name := strings.ReplaceAll(ch.Channel, "_", " ")
		switch {
		case ch.Tested == 0:
			list = append(list, name+": no cell has enough visits in both drives")
		case ch.Changed == 0:
			list = append(list, name+": no change that chance does not explain")
		case ch.Before.CellsKnown > 0 && ch.After.CellsKnown > 0:
			list = append(list, fmt.Sprintf("%s: on average %s before, %s after", name, tables.Signed(ch.Before.Mean, 1)+blankUnit(ch.Unit), tables.Signed(ch.After.Mean, 1)+blankUnit(ch.Unit)))
		default:
			list = append(list, fmt.Sprintf("%s: %d of %s changed", name, ch.Changed, tables.Plural(ch.Tested, "cell")))
		}
	}
	if list == nil {
		return ""
	}
	return sentence(strings.Join(list, "; "))
}
