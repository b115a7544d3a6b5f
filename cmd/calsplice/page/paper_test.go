package page

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/cmd/calsplice/view"
)

// TestPaperHasEveryColumn: whatever the widths, each column stands in one panel,
// in order, and no panel is wider than the sheet unless one column is.
func TestPaperHasEveryColumn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.Float64Range(0, 20).Draw(t, "head")
		columns := rapid.SliceOfN(rapid.Float64Range(.5, 80), 0, 90).Draw(t, "columns")
		class, panels := fit(head, columns)
		var pt float64
		if _, err := fmt.Sscanf(class, "p%f", &pt); err != nil || pt < 6 {
			t.Fatalf("the type is %q", class)
		}
		if panels == nil {
			panels = [][]int{{}}
			for c := range columns {
				panels[0] = append(panels[0], c)
			}
		}
		next := 0
		for _, panel := range panels {
			wide := head
			for _, c := range panel {
				if c != next {
					t.Fatalf("column %d stands where %d should", c, next)
				}
				next++
				wide += columns[c]
			}
			if len(panel) > 1 && wide*pt > paper {
				t.Errorf("%d columns of %v em at %v pt are wider than the sheet", len(panel), wide, pt)
			}
		}
		if next != len(columns) {
			t.Errorf("%d of %d columns are printed", next, len(columns))
		}
	})
}

// TestWideTablesHavePanels: a table that fits is printed as it stands on the
// screen; one that does not is printed in panels, each with the row headings.
func TestWideTablesHavePanels(t *testing.T) {
	grid := func(columns int) view.Grid {
		g := view.Grid{Name: "spark", XName: "engine speed", YName: "air charge", Table: view.Table{Head: []string{""}, Numbers: slices.Repeat([]bool{true}, columns+1), Lines: [][]view.Cell{{{Text: "77.5"}}, {{Text: "88.5"}}}}}
		for c := range columns {
			g.Head = append(g.Head, fmt.Sprint(1000+c))
			for r := range g.Lines {
				g.Lines[r] = append(g.Lines[r], view.Cell{Text: "−1106.11", Scale: view.BySize, Level: 0.2, Note: "far below"})
			}
		}
		return g
	}
	if s := sheetsOf(grid(8), 0).Sheets; len(s) != 1 || s[0].Class != "scroll" || s[0].Type != "p8" {
		t.Errorf("8 columns: %d sheets, %s, %s", len(s), s[0].Class, s[0].Type)
	}
	sheets := sheetsOf(grid(32), 0).Sheets
	if len(sheets) < 3 || sheets[0].Class != "scroll screen" {
		t.Fatalf("32 columns: %d sheets, the first %q", len(sheets), sheets[0].Class)
	}
	var x []string
	for _, s := range sheets[1:] {
		x = append(x, s.Head[1:]...)
		if s.Class != "paper" || s.Lines[0][0].Text != "77.5" || s.Lines[1][0].Text != "88.5" || len(s.Lines[1]) != len(s.Head) {
			t.Errorf("a panel of class %q has the rows %v and %v for %d headings", s.Class, s.Lines[0], s.Lines[1], len(s.Head))
		}
	}
	if !slices.Equal(x, grid(32).Head[1:]) {
		t.Errorf("the panels have the columns %v", x)
	}
	heads, line := []string{"Start"}, []string{"12.5"}
	for c := range 30 {
		heads, line = append(heads, fmt.Sprintf("#manifold_pressure_%d", c)), append(line, fmt.Sprint(c))
	}
	rows := view.NewRows(heads...)
	rows.Caption = "events"
	rows.Line(line...)
	var b strings.Builder
	if err := Write(&b, &view.View{Title: "t", Parts: []view.Part{{Heading: "h", Rows: rows}}}); err != nil {
		t.Fatal(err)
	}
	for c := range 30 {
		if n := strings.Count(b.String(), fmt.Sprintf(">manifold_pressure_%d<", c)); n != 2 {
			t.Errorf("column %d stands %d times, want once for the screen and once for paper", c, n)
		}
	}
	if n := strings.Count(b.String(), " of 30</caption>"); n < 2 || !strings.Contains(b.String(), ", columns 1 to ") {
		t.Errorf("%d panels say how many columns there are", n)
	}
	if n := strings.Count(b.String(), `<th scope="row">12.5</th>`); n < 3 {
		t.Errorf("the first column stands %d times, want it in every panel", n)
	}
}
