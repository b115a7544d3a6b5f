package changefile_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"

	"github.com/xuri/excelize/v2"
)

// opened is a change set as a workbook, as a library has it that knows workbooks
// whole.
func opened(t *testing.T, cs *merge.ChangeSet, base *tables.Calibration) *excelize.File {
	t.Helper()
	var raw bytes.Buffer
	if err := changefile.WriteXLSX(&raw, cs, base); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&raw)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// rowShown are the cells of a row as a person sees them, numbers in their formats.
func rowShown(f *excelize.File, page string, row int) string {
	rows, _ := f.GetRows(page)
	if row > len(rows) {
		return ""
	}
	return strings.Join(rows[row-1], "|")
}

// TestRowsOfAList: what a reviewer sees of edits: values at the table's decimals, by how
// much each changes, in its unit and in per cent, and evidence where there is some.
func TestRowsOfAList(t *testing.T) {
	a, b := document(t, before), document(t, after)
	evident := merge.Diff(a, b)
	evident.Edits[0].(*merge.CellEdit).Why = &merge.Evidence{Count: 812, Visits: 41, Mean: 3.52, SE: 0.18, AtLimit: 0.25, Unit: "%", Note: "twice"}
	plain := `cell|flow|0|1|300 kPa|2.425|2.400|-0.025|-1.0`
	for _, c := range []struct {
		why  string
		cs   *merge.ChangeSet
		base *tables.Calibration
		rows [3]string
	}{
		{"with evidence", evident, a, [3]string{"edit|table|row|column|place|from|to|change|change %|count|visits|mean|se|at_limit|unit|note",
			"cell|flow|0|0|250 kPa|2.214|2.200|-0.014|-0.6|812|41|3.52|0.18|0.25|%|twice", plain}},
		{"without either", merge.Diff(a, b), a, [3]string{"edit|table|row|column|place|from|to|change|change %",
			"cell|flow|0|0|250 kPa|2.214|2.200|-0.014|-0.6", plain}},
		// Without the document nobody knows the resolution: the values say their decimals.
		{"without the document", merge.Diff(a, b), nil, [3]string{"edit|table|row|column|place|from|to|change|change %",
			"cell|flow|0|0|250 kPa|2.214|2.200|-0.014|-0.6", plain}},
		{"to another unit", merge.Diff(a, document(t, strings.Replace(after, "g/s", "kg/h", 1))), a, [3]string{"edit|table|row|column|place|field|with|from|to|change|change %",
			"set|flow||||unit|unit values|g/s|kg/h", "and|flow||||values|unit values|[2.214, 2.425, 2.62]|[2.2, 2.4, 2.6]"}},
		{"to another resolution", merge.Diff(a, document(t, strings.Replace(before, "0.001", "0.01", 1))), a, [3]string{"edit|table|row|column|place|field|from|to|change|change %",
			"set|flow||||resolution|0.001|0.010", ""}},
	} {
		f := opened(t, c.cs, c.base)
		top := 1
		for rowShown(f, "Changes", top) == "" || !strings.HasPrefix(rowShown(f, "Changes", top), "edit|") {
			top++
		}
		for i, want := range c.rows {
			if got := rowShown(f, "Changes", top+i); got != want {
				t.Errorf("%s: row %d is\n%s\nwant\n%s", c.why, i, got, want)
			}
		}
	}
}

// TestSamplesThatThereAreNone: evidence without a sample shows a note and no numbers; one
// with samples shows its count whole and its mean with two decimals.
func TestSamplesThatThereAreNone(t *testing.T) {
	a := document(t, before)
	for count, want := range map[int][2]string{0: {"0.00;-0.00;", "0.00;-0.00;"}, 812: {"", "0.00"}} {
		cs := merge.Diff(a, document(t, after))
		cs.Edits[0].(*merge.CellEdit).Why = &merge.Evidence{Count: count, Note: "as beside it"}
		f := opened(t, cs, a)
		for i, cell := range []string{"J9", "L9"} {
			id, _ := f.GetCellStyle("Changes", cell)
			style, err := f.GetStyle(id)
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			if style.CustomNumFmt != nil {
				got = *style.CustomNumFmt
			}
			if got != want[i] {
				t.Errorf("of %d samples, %s has the format %q, want %q", count, cell, got, want[i])
			}
		}
	}
}

// fills are the colours of a workbook's styles, in their order.
func fills(t *testing.T, cs *merge.ChangeSet, base *tables.Calibration) []string {
	t.Helper()
	var raw bytes.Buffer
	if err := changefile.WriteXLSX(&raw, cs, base); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(raw.Bytes()), int64(raw.Len()))
	if err != nil {
		t.Fatal(err)
	}
	r, err := z.Open("xl/styles.xml")
	if err != nil {
		t.Fatal(err)
	}
	var styles struct {
		Fills []struct {
			Colour struct {
				RGB string `xml:"rgb,attr"`
			} `xml:"patternFill>fgColor"`
		} `xml:"fills>fill"`
		Cells []struct {
			Fill int `xml:"fillId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := xml.NewDecoder(r).Decode(&styles); err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, c := range styles.Cells {
		list = append(list, styles.Fills[c.Fill].Colour.RGB)
	}
	return list
}

// TestShadesOfAList: the largest change of a table has the darkest shade, a smaller one a
// lighter, by sign; and the columns are wide enough for what stands in them.
func TestShadesOfAList(t *testing.T) {
	a := document(t, before)
	shades := func(values string) (list [4]string) {
		cs := merge.Diff(a, document(t, strings.Replace(before, "[2.214, 2.425, 2.62]", values, 1)))
		f, colours := opened(t, cs, a), fills(t, cs, a)
		for i, cell := range []string{"H9", "H10", "H11", "G9"} {
			id, _ := f.GetCellStyle("Changes", cell)
			list[i] = colours[id]
		}
		return list
	}
	large, small := shades("[2.414, 2.475, 2.57]"), shades("[2.264, 2.475, 2.57]")
	if large[0] == large[1] || large[1] == large[2] || large[0] == large[2] || large[3] != "" {
		t.Errorf("the changes of +0.2, +0.05 and -0.05 are shaded %q, and what they change to", large)
	}
	if small[0] != large[0] || small[1] != large[0] || small[2] == small[0] {
		t.Errorf("changes of +0.05, +0.05 and -0.05, of which none is larger, are shaded %q; +0.2, where it was the largest, %s", small, large[0])
	}
	f := opened(t, merge.Diff(a, document(t, after)), a)
	for column, want := range map[string]float64{"A": 11, "B": 22, "C": 8, "E": 22, "F": 11, "I": 8} {
		if got, _ := f.GetColWidth("Changes", column); got != want {
			t.Errorf("column %s is %v wide, want %v", column, got, want)
		}
	}
	if got, above := rowShown(f, "after flow", 12), rowShown(f, "after flow", 11); !strings.HasPrefix(got, "A view of the result") || above != "" {
		t.Errorf("rows 11 and 12 of the view are %q and %q, want nothing and what it is", above, got)
	}
}

// TestWordsBesideCells: each changed cell says what it was, and on what its edit rests; of
// more than five hundred the largest changes do.
func TestWordsBesideCells(t *testing.T) {
	const many = 502
	doc := func(cell func(i int) float64) *tables.Calibration {
		text := []string{}
		for r := range many / 2 {
			text = append(text, fmt.Sprintf("[%v, %v]", cell(2*r), cell(2*r+1)))
		}
		points := strings.Trim(strings.Join(strings.Fields(fmt.Sprint(ints(many/2))), ", "), "[]")
		return document(t, `{"format": "calsplice/1", "tables": [{"id": "m", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": [1, 2]},
			"y": {"quantity": "engine speed", "unit": "r/min", "points": [`+points+`]}, "values": [`+strings.Join(text, ", ")+`]}]}`)
	}
	// The largest values change least, so that size and change order the cells in opposite ways.
	a := doc(func(i int) float64 { return float64(1000 + i) })
	b := doc(func(i int) float64 { return float64(1000+i) + float64(many-i) })
	cs := merge.Diff(a, b)
	for _, e := range cs.Edits {
		c := e.(*merge.CellEdit)
		c.Why = &merge.Evidence{Count: 10*c.Row + c.Column + 1, Visits: 1}
	}
	f := opened(t, cs, a)
	comments, err := f.GetComments("after m")
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]string{}
	for _, c := range comments {
		words := ""
		for _, part := range c.Paragraph {
			words += part.Text
		}
		said[c.Cell] = words + c.Text
	}
	if len(said) != 500 {
		t.Errorf("%d cells say what they were, want 500", len(said))
	}
	rows, _ := f.GetRows("after m")
	var values []int // the rows of the page on which the table's stand
	for r, row := range rows {
		if len(row) > 2 && row[1] == "1502" && row[2] == "1502" {
			values = append(values, r+1)
		}
	}
	if len(values) != many/2 {
		t.Fatalf("%d rows of the page hold values, want %d", len(values), many/2)
	}
	second, last := fmt.Sprintf("C%d", values[0]), fmt.Sprintf("B%d", values[len(values)-1])
	if got, want := said[second], "1001 ms → 1502 ms\n2 samples in 1 visit: mean +0.00 ± 0.00"; got != want {
		t.Errorf("the second cell of the first row (%s) says %q, want %q", second, got, want)
	}
	if got := said[last]; got != "" {
		t.Errorf("the last cell but one (%s), which changes least but one, says %q", last, got)
	}
}

func ints(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i + 1
	}
	return list
}
