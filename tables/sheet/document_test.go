package sheet

import (
	"strings"
	"testing"

	"calsplice/tables"
)

// text is the rows of a text file: a line a row, a comma between cells.
func text(lines string) (rows []Row) {
	pos := 1
	for i, line := range strings.Split(lines, "\n") {
		var row Row
		for j, cell := range strings.Split(line, ",") {
			c := Cell{Text: cell, Row: int32(i + 1), At: int32(j + 1), Pos: int32(pos), Kind: Text}
			if cell == "" {
				c.Kind = Empty
			}
			row = append(row, c)
			pos += len(cell) + 1
		}
		rows = append(rows, row)
	}
	return rows
}

// bookRows is the same rows as a workbook hands them on: empty cells and rows are
// left out, and numbers are numbers.
func bookRows(lines string) (rows []Row) {
	for _, row := range text(lines) {
		var kept Row
		for _, c := range row {
			if _, err := tables.ParseValue(c.Text); err == nil {
				c.Kind = Number
			}
			if c.Kind != Empty {
				kept = append(kept, c)
			}
		}
		if kept != nil {
			rows = append(rows, kept)
		}
	}
	return rows
}

// readTable reads rows of some lines as one table, and the document of them.
func readTable(sheet string, kind tables.Kind, lines string, rows []Row) (*Document, *tables.Table) {
	d := NewDocument("f")
	d.Source, d.Sheet, d.Contents.Kind = lines, sheet, kind
	d.Begin(Cell{Row: 1, At: 1, Pos: 1})
	for _, row := range rows {
		if row.Width() > 0 && !d.Row(row) {
			d.Fault(row.At(1), "no name")
		}
	}
	t, _ := d.End()
	return d, t
}

const curve = "table,a\nunit,ms\nx,load,%\n,1,2\n,5,6"

// TestTextTables: what a table in a text file may be, and what is refused where.
func TestTextTables(t *testing.T) {
	const m = "table,a\nunit,ms\nx,load,%\ny,speed,r/min\n"
	for _, c := range []struct{ why, rows, want string }{
		{"a curve", curve, ""},
		{"a map", m + ",1,2\n7,5,6\n8,5,6", ""},
		{"a scalar", "table,a\nunit,ms\nvalue,1", ""},
		{"the axes in rows of their parts, as in a sheet", "table,a\nunit,ms\nx,,\nx quantity,load\nx unit,%\n,1,2\n,5,6", ""},
		{"facts below", curve + "\nrole,other\nlimits,0,9\nx-a,1\ny.x-b,2", ""},
		{"a kept key of an axis", "table,a\nunit,ms\nx,load,%,x-a,1\n,1,2\n,5,6", ""},
		{"a remark in the numbers", "table,a\nunit,ms\nx,load,%\n,1,2\n# here\n,5,6", ""},
		{"limits left empty", curve + "\nlimits,,", ""},
		{"half of the limits", curve + "\nlimits,1,", "f:6:10: table a: cell is empty, expected a number (or delete the row)"},
		{"a field too many", curve + "\nrole,other,x", "f:6:12: table a: role has 2 fields, expected 1 (text that holds the delimiter needs quotes)"},
		{"a field twice", curve + "\nunit,s", "f:6:1: table a: unit stands twice"},
		{"an axis after the numbers", curve + "\ny,speed,r/min", "f:5:1: table a: cell is empty, expected a breakpoint\nf:6:1: table a: y stands after the numbers, expected it before"},
		{"no id", "table\nunit,ms\nvalue,1", "f:1:1: id is empty"},
		{"a name before the points", "table,a\nunit,ms\nx,load,%\nz,1,2\n,5,6", `f:4:1: table a: found "z", expected nothing before the breakpoints of x`},
		{"a short row", "table,a\nunit,ms\nx,load,%\n,1,2\n,5", "f:5:2: table a: row has 1 value, x has 2 breakpoints"},
		{"a long row", "table,a\nunit,ms\nx,load,%\n,1,2\n,5,6,7", "f:5:6: table a: row has 3 values, x has 2 breakpoints"},
		{"padded rows", "table,a,,\nunit,ms,,\nx,load,%,\n,1,2,\n,5,6,", ""},
		{"two rows of a curve", curve + "\n,7,8", "f:6:1: table a: a curve has one row of values: expected a y axis before the numbers of a map"},
		{"y and no x", "table,a\nunit,ms\ny,load,%\n,1,2", "f:3:1: table a: table has a y axis and no x axis"},
		{"a value and an axis", curve + "\nvalue,1", `f:1:1: table a: table has a row "value" and an axis, expected one of them`},
		{"nothing", "table,a", "f:1:1: table a: table has no row \"unit\"\nf:1:1: table a: table has no values: expected a row \"value\", or axes and numbers"},
		{"no points", "table,a\nunit,ms\nx,load,%", "f:3:1: table a: x has no breakpoints"},
		{"no values", "table,a\nunit,ms\nx,load,%\n,1,2", "f:1:1: table a: table has no row of values"},
		{"points out of order", m + ",1,2\n8,5,6\n7,5,6", "f:7:1: table a: breakpoint 1 is 7, not above the one before it, 8"},
		{"an empty value", "table,a\nunit,ms\nx,load,%\n,1,2\n,,6", "f:5:2: table a: cell is empty, expected a number"},
	} {
		d, made := readTable("", tables.Calibrated, c.rows, text(c.rows))
		got := ""
		if err := d.Err(); err != nil {
			got = err.Error()
		}
		if got != c.want || (made == nil) != (c.want != "") {
			t.Errorf("%s: %s\nwant %s", c.why, got, c.want)
		}
	}
}

// TestSheetTables: the same of a sheet, where rows have numbers, and "values" begins
// the grid.
func TestSheetTables(t *testing.T) {
	const head, axes = "table,a\nunit,ms\nvalues,load\n", "\n\nx quantity,load\nx unit,%\n"
	for _, c := range []struct {
		why, rows, want string
		kind            tables.Kind
	}{
		{"a curve", head + ",1,2\n,5,6" + axes, "", tables.Calibrated},
		{"a map", head + "speed,1,2\n7,5,6\n8,5,6" + axes + "y quantity,speed\ny unit,r/min\ny.x-a,1", "", tables.Calibrated},
		{"a heading that is a row's name", head + "unit,1,2\n7,5,6" + axes + "y quantity,unit\ny unit,r/min", "", tables.Calibrated},
		{"facts without a gap", head + ",1,2\n,5,6\nrole,other" + axes, "", tables.Calibrated},
		{"a curve of empty cells", head + ",1,2\n," + axes, "", tables.Cells},
		{"that in a calibration", head + ",1,2\n," + axes, "f: s!B5: is empty, expected a number\nf: s!C5: is empty, expected a number", tables.Calibrated},
		{"an empty cell at the end", head + ",1,2\n,5" + axes, "f: s!C5: is empty, expected a number", tables.Calibrated},
		{"a cell alone", head + ",1,2\n,5,6\n,,7" + axes, "f: s!C6: stands alone under the values, expected a whole row or nothing", tables.Calibrated},
		{"a breakpoint alone among cell averages", head + "speed,1,2\n7,5,6\n8" + axes + "y quantity,speed\ny unit,r/min", "", tables.Cells},
		{"a blank form", head + axes, "f: s!B4: is empty, expected the breakpoints of the x axis from here on, from low to high (or delete the sheet)\nf: s!B5: is empty, expected the values from here on", tables.Calibrated},
		{"a blank map", head + "speed" + axes + "y quantity,speed\ny unit,r/min", "f: s!B4: is empty, expected the breakpoints of the x axis from here on, from low to high (or delete the sheet)\n" +
			"f: s!A5: is empty, expected the breakpoints of the y axis from here down, from low to high\nf: s!B5: is empty, expected the values from here on", tables.Calibrated},
		{"no y", head + ",1,2\n7,5,6\n8,5,6" + axes, "f: s!A6: a curve has one row of values: expected a y axis before the numbers of a map", tables.Calibrated},
		{"no y, one row", head + ",1,2\n7,5,6" + axes, `f: s!A5: found "7", expected nothing before a curve's values`, tables.Calibrated},
		{"points alone", "table,a\nunit,ms\nx quantity,load", `f: s!A1: table has no values: expected a row "value", or axes and numbers`, tables.Calibrated},
		{"a word for a number", head + ",1,2\n,5,six" + axes, `f: s!C5: "six" is not a number`, tables.Calibrated},
		{"a decimal comma", "table,a\nunit,ms\nvalue,2;5", `f: s!B3: "2,5" is text: the spreadsheet's own decimal mark is the point; type 2.5, and look at every number that was typed with a comma, for 2,214 became 2214`, tables.Calibrated},
	} {
		rows := bookRows(c.rows)
		for _, row := range rows {
			for i := range row {
				row[i].Text = strings.ReplaceAll(row[i].Text, ";", ",")
			}
		}
		d, made := readTable("s", c.kind, c.rows, rows)
		got := ""
		if err := d.Err(); err != nil {
			got = err.Error()
		}
		if got != c.want || (made == nil) != (c.want != "") || len(d.Cautions) > 0 {
			t.Errorf("%s: %s %q\nwant %s", c.why, got, d.Cautions, c.want)
		}
	}
	noted := head + ",1,2\n,5,6" + axes + "role,other,mine\n,note\n# a remark"
	d, made := readTable("s", tables.Calibrated, noted, bookRows(noted))
	if want := "f: s!C9: is beside the document, ignored\nf: s!B10: is beside the document, ignored"; made == nil || d.Cautions.Error() != want {
		t.Errorf("cautions %q, want %q (%v)", d.Cautions, want, d.Err())
	}
}

// TestHeads: the rows about the whole document.
func TestHeads(t *testing.T) {
	for _, c := range []struct {
		why, sheet, rows, want string
		kind                   tables.Kind
	}{
		{"all of them", "", "name,van\nnotes,old\nengine,strokes,4\nengine,rail_pressure,380,kPa,atmosphere\nengine,x-a,1\nx-b,2", "", tables.Calibrated},
		{"logs in a text", "", "source,a,,10,8,cold,1,fast,1\nstate,sums,1", "", tables.Cells},
		{"logs in a sheet", "s", "source,a,,10,8\ndropped,cold,1\ndropped,fast,1", "", tables.Cells},
		{"a name twice", "", "name,a\nname,b", "f:2:1: name stands twice", tables.Calibrated},
		{"a fact twice", "s", "engine,strokes,4\nengine,strokes,2", "f: s!B2: engine strokes stands twice", tables.Calibrated},
		{"a fact without a name", "", "engine", "f:1:1: engine has no fact, expected engine, its name and its value", tables.Calibrated},
		{"an unknown fact", "", "engine,turbo,1", `f:1:8: there is no engine fact "turbo", only cylinders, strokes, injectors, pulses_per_cycle, displacement, rail_pressure, stoich_afr, fuel_density`, tables.Calibrated},
		{"a blank fact", "s", "engine,strokes", "f: s!C1: is empty, expected a whole number (or delete the row)", tables.Calibrated},
		{"a wrong part", "", "engine,rail_pressure,380,kPa,sea", `f:1:30: rail_pressure is relative to "sea", expected "atmosphere", "manifold" or "absolute"`, tables.Calibrated},
		{"a blank among words", "", "engine,rail_pressure,380,kPa,", "f:1:30: cell is empty, expected atmosphere, manifold or absolute (or delete the row)", tables.Calibrated},
		{"logs of a calibration", "", "source,a,,10,8", "f:1:1: a calibration has no source: it belongs to cell averages", tables.Calibrated},
		{"reasons of no log", "s", "dropped,cold,1", `f: s!A1: no row "source" stands above it`, tables.Cells},
		{"half a row", "", "source,a,,10,8.5", `f:1:14: found "8.5", expected a whole number from 0`, tables.Cells},
		{"no JSON", "", "x-a,{", `f:1:5: "{" is not JSON: the text ends here, expected a key in quotes`, tables.Calibrated},
		{"a key twice", "", "x-a,1\nx-a,2", "f:2:1: x-a stands twice", tables.Calibrated},
		{"a name that there is not", "", "colour,red", "f:1:1: no name", tables.Calibrated},
	} {
		d := NewDocument("f")
		d.Source, d.Sheet, d.Contents.Kind = c.rows, c.sheet, c.kind
		rows := text(c.rows)
		if c.sheet != "" {
			rows = bookRows(c.rows)
		}
		for _, row := range rows {
			if !d.Head(row) {
				d.Fault(row.At(1), "no name")
			}
		}
		got := ""
		if _, _, err := d.Calibration(); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %s\nwant %s", c.why, got, c.want)
		}
	}
}

// TestBoundsAreKept: reading ends at the hundredth fault, and at too many cells.
func TestBoundsAreKept(t *testing.T) {
	d := NewDocument("f")
	for range 150 {
		d.Fault(Cell{Row: 1, Pos: 1}, "it")
	}
	if n := len(d.Faults); n != 101 || !d.Full() || !strings.HasSuffix(d.Err().Error(), "\nf: 100 faults; reading ends here") {
		t.Errorf("%d faults: %v", n, d.Err())
	}
	for range 50 {
		d.Caution(Cell{Row: 1}, "it")
	}
	if n := len(d.Cautions); n != 21 || d.Cautions[20].What != "and more of the same" {
		t.Errorf("%d cautions", n)
	}
	defer tables.SetMax(0, int(tables.DefaultMaxCells))
	tables.SetMax(0, 1)
	if d, _ := readTable("", tables.Calibrated, curve, text(curve)); !d.Full() || d.Err().Error() != "f:1:1: table a: "+tables.TooManyCells() {
		t.Errorf("too many cells: %v", d.Err())
	}
}

// TestRows: cells by their places, in rows that leave some out.
func TestRows(t *testing.T) {
	sparse := bookRows(",a,,b,")[0]
	dense := text(",a,,b,")[0]
	for _, row := range []Row{sparse, dense} {
		for i, want := range []string{"", "a", "", "b", "", ""} {
			if c := row.At(i + 1); c.Text != want || int(c.At) != i+1 || c.Row != 1 {
				t.Errorf("cell %d is %+v, want %q", i+1, c, want)
			}
		}
		if row.Width() != 4 || row.Next(1) != 2 || row.Next(2) != 2 || row.Next(3) != 4 || row.Next(5) != 0 {
			t.Errorf("the row's width is %d, its cells begin at %d", row.Width(), row.Next(1))
		}
	}
	if (Row{}).Width() != 0 || (Row{}).Next(1) != 0 || (Row{}).At(2).At != 2 {
		t.Error("an empty row has cells")
	}
	long := strings.Repeat("z", MostText)
	r := &Reader{Sheet: "s"}
	row := Row{{Text: "name", At: 1, Kind: Text}, {Text: long, At: 2, Kind: Text}, {Text: "end", At: 3, Kind: Text}, {Text: "no", At: 4, Kind: Text}}
	if s, next := r.Long(row, 2); s != long+"end" || next != 4 {
		t.Errorf("long text goes on to %d", next)
	}
	if r.Sheet = ""; true {
		if s, next := r.Long(row, 2); s != long || next != 3 {
			t.Errorf("in a text file long text goes on to %d", next)
		}
	}
}
