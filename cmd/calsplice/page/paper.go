package page

import (
	"fmt"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
)

// On paper nothing scrolls. A table that is too wide for the sheet is set
// smaller; where that would no longer be legible, it is set in several panels of
// columns, each with the row headings again. A browser tells no page how wide
// the sheet or the type will be, so the widths here are those of the narrower
// sheet, A4 upright, and of a wide typeface.

const (
	paper    = 515 // pt between the margins of page.css
	regular  = .93 // of the width in bold type
	padding  = .85 // em: a cell's own and its border, as page.css has them on paper
	least    = 5   // em: the least width of the corner with the axes' names
	longest  = 18  // em: a word that is longer may be broken
	sentence = 12  // em: what a last column of words needs
)

// sizes are the sizes of type that tables are printed in, in pt; each is a class
// of page.css, such as p7. A table that none of them makes fit is set in panels, of
// the size before the last.
var sizes = []int{8, 7, 6}

// fit says how columns of these widths, in em, and the headings of rows before
// them go onto the sheet: in type of a class, and, where no type makes them fit,
// in panels, each a list of columns.
func fit(head float64, columns []float64) (class string, panels [][]int) {
	wide := 0.0
	for _, w := range columns {
		wide += w
	}
	for _, pt := range sizes {
		if (head+wide)*float64(pt) <= paper {
			return fmt.Sprintf("p%d", pt), nil
		}
	}
	pt := sizes[len(sizes)-2]
	room := paper/float64(pt) - head
	panels = cut(columns, room)
	if len(panels) < 2 { // a column that no sheet holds
		return fmt.Sprintf("p%d", pt), nil
	}
	// No more panels than there must be, and about equally wide.
	for even := wide / float64(len(panels)); even < room; even += .5 {
		if p := cut(columns, even); len(p) == len(panels) {
			return fmt.Sprintf("p%d", pt), p
		}
	}
	return fmt.Sprintf("p%d", pt), panels
}

// cut fills panels of so much room with columns, one at least in each.
func cut(columns []float64, room float64) (panels [][]int) {
	used := 0.0
	for i, w := range columns {
		if i == 0 || used+w > room {
			panels = append(panels, nil)
			used = 0
		}
		panels[len(panels)-1] = append(panels[len(panels)-1], i)
		used += w
	}
	return panels
}

// panelHeads says which columns a panel has.
func panelHeads(panel []int, of int) string {
	first, last := panel[0]+1, panel[len(panel)-1]+1
	if first == last {
		return fmt.Sprintf(", column %d of %d", first, of)
	}
	return fmt.Sprintf(", columns %d to %d of %d", first, last, of)
}

// A sheet is a table, or a panel of one, as it stands in a page; Class says whether
// that is on the screen, on paper, or on both, and Type how large it is printed.
type sheet struct {
	view.Table
	Class, Type, Heads string
	First              int // the panel's first column behind the headings of the rows
}

// sheets is the table, and behind it its panels where paper needs them, each with the
// first column, which heads the rows. That is so many em wide at least.
func sheets(t view.Table, least float64) []sheet {
	columns := columnWidths(t)
	columns[0] = max(columns[0], least)
	class, panels := fit(columns[0], columns[1:])
	if panels == nil {
		return []sheet{{t, "scroll", class, "", 0}}
	}
	list := []sheet{{t, "scroll screen", class, "", 0}}
	for _, panel := range panels {
		of := []int{0}
		for _, c := range panel {
			of = append(of, c+1)
		}
		part := view.Table{Numbers: picked(t.Numbers, of)}
		if t.Head != nil {
			part.Head = picked(t.Head, of)
		}
		for _, line := range t.Lines {
			line = picked(line, of)
			for i := range line {
				line[i].Note = "" // paper has no pointer
			}
			part.Lines = append(part.Lines, line)
		}
		list = append(list, sheet{part, "paper", class, panelHeads(panel, len(columns)-1), panel[0]})
	}
	return list
}

// columnWidths are how wide columns are on paper, in em: a number stands in one line, what
// is words may be set in several.
func columnWidths(t view.Table) []float64 {
	columns := make([]float64, len(t.Numbers))
	for c, head := range t.Head {
		columns[c] = word(head)
		if c == len(columns)-1 && !t.Number(c) {
			columns[c] = max(columns[c], sentence)
		}
	}
	for _, line := range t.Lines {
		for c, cell := range line {
			w := word(cell.Text)
			if t.Number(c) && c > 0 {
				if w = width(cell.Marked()); cell.Mark&view.Changed == 0 {
					w *= regular
				}
			}
			columns[c] = max(columns[c], w)
		}
	}
	for c := range columns {
		columns[c] += padding
	}
	return columns
}

// picked are the columns of a row that a panel has.
func picked[T any](row []T, columns []int) (list []T) {
	for _, c := range columns {
		list = append(list, row[c])
	}
	return list
}

// gridSheets is a grid with its sheets, and the table that is decided about in it.
type gridSheets struct {
	view.Grid
	Decide int
	Sheets []sheet
}

func sheetsOf(g view.Grid, decide int) gridSheets {
	floor := 0.0
	if g.Head != nil {
		floor = least
	}
	return gridSheets{g, decide, sheets(g.Table, floor)}
}

// word is the width of the longest word of a text that may be set in lines; what
// is longer than any word is broken, by a rule of page.css.
func word(s string) float64 {
	w := 0.0
	for f := range strings.FieldsSeq(s) {
		w = max(w, width(f))
	}
	return min(w, longest)
}

// long reports whether a text has a word that is longer than any word.
func long(s string) bool { return word(s) == longest }

// width is how wide a text is at most, in em of bold type.
func width(s string) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune(" .,:", r):
			w += .4
		case strings.ContainsRune("+−×±→↓", r):
			w += .85
		case strings.ContainsRune("mwMW@%", r):
			w += 1.05
		default:
			w += float64(.7 * float64(max(uniseg.StringWidth(string(r)), 1)))
		}
	}
	return w
}
