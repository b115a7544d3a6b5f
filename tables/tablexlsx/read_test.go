package tablexlsx

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// edited is a workbook with parts of it changed by text, as a person or a
// hostile hand would: each edit replaces one text with another in one part.
func edited(t *testing.T, raw []byte, edits ...[3]string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	done := make([]bool, len(edits))
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range edits {
			if f.Name == e[0] && bytes.Contains(body, []byte(e[1])) {
				body, done[i] = bytes.Replace(body, []byte(e[1]), []byte(e[2]), 1), true
			}
		}
		into, _ := w.Create(f.Name)
		into.Write(body)
	}
	for i, e := range edits {
		if !done[i] && e[1] == "" {
			into, _ := w.Create(e[0])
			io.WriteString(into, e[2])
		} else if !done[i] {
			t.Fatalf("part %s holds no %s", e[0], e[1])
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func flow(t *testing.T) *tables.Calibration {
	t.Helper()
	x := tabletest.Must(tables.NewAxis("differential pressure", "kPa", []float64{250, 300, 350}))
	y := tabletest.Must(tables.NewAxis("battery voltage", "V", []float64{10, 14}))
	return tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van", Tables: []*tables.Table{
		tabletest.Must(tables.NewTable(tables.Fields{ID: "flow", Title: "Flow", Unit: "g/s", X: x, Values: []float64{2.2, 2.4, 2.6}})),
		tabletest.Must(tables.NewTable(tables.Fields{ID: "offset", Unit: "ms", X: x, Y: y, Values: []float64{1.5, 1.6, 1.7, 0.5, 0.6, 0.7}})),
	}}))
}

// sheet2 is the sheet of flow, whose values stand in B6 to D6; sheet3 that of
// offset.
const sheet2, sheet3 = "xl/worksheets/sheet2.xml", "xl/worksheets/sheet3.xml"

func TestFaultsNameSheetAndCell(t *testing.T) {
	for _, c := range []struct {
		why   string
		edits [][3]string
		want  string
	}{
		{"a word for a number", [][3]string{{sheet2, `<v>2.4</v>`, `<is><t>abc</t></is>`}, {sheet2, `r="C6"`, `r="C6" t="inlineStr"`}},
			`book.xlsx: flow!C6: "abc" is not a number`},
		{"a decimal comma as text is not guessed at", [][3]string{{sheet2, `<v>2.4</v>`, `<is><t>2,4</t></is>`}, {sheet2, `r="C6"`, `r="C6" t="inlineStr"`}},
			`book.xlsx: flow!C6: "2,4" is text: the spreadsheet's own decimal mark is the point; type 2.4, and look at every number that was typed with a comma, for 2,214 became 2214`},
		{"a formula has no value that can be trusted", [][3]string{{sheet2, `<v>2.4</v>`, `<f>B6*2</f><v>4.4</v>`}},
			`book.xlsx: flow!C6: holds a formula, expected its value (copy it, paste the value)`},
		{"a truth value is no 1", [][3]string{{sheet2, `<v>2.4</v>`, `<v>1</v>`}, {sheet2, `r="C6"`, `r="C6" t="b"`}},
			`book.xlsx: flow!C6: holds a truth value, expected a plain number`},
		{"an error value", [][3]string{{sheet2, `<v>2.4</v>`, `<v>#DIV/0!</v>`}, {sheet2, `r="C6"`, `r="C6" t="e"`}},
			`book.xlsx: flow!C6: holds an error value, expected a plain number`},
		{"an emptied cell", [][3]string{{sheet2, `<v>2.4</v>`, ``}}, `book.xlsx: flow!C6: is empty, expected a number`},
		{"too large", [][3]string{{sheet2, `<v>2.4</v>`, `<v>1E999</v>`}}, `book.xlsx: flow!C6: "1E999" is too large for a number`},
		{"breakpoints out of order", [][3]string{{sheet2, `<v>350</v>`, `<v>290</v>`}},
			`book.xlsx: flow!D5: breakpoint 2 is 290, not above the one before it, 300`},
		{"ten faults, ten lines", [][3]string{{sheet2, `<v>2.2</v>`, ``}, {sheet2, `<v>2.4</v>`, ``}, {sheet3, `<v>1.6</v>`, ``}, {sheet3, `<v>14</v>`, ``}},
			"book.xlsx: flow!B6: is empty, expected a number\nbook.xlsx: flow!C6: is empty, expected a number\n" +
				"book.xlsx: offset!C6: is empty, expected a number\nbook.xlsx: offset!A7: is empty, expected a breakpoint"},
		{"an unknown row", [][3]string{{sheet2, `<t>title</t>`, `<t>colour</t>`}}, `book.xlsx: flow!A2: "colour" is no row of a table`},
		{"no unit", [][3]string{{sheet2, `<t>unit</t>`, `<t></t>`}}, `book.xlsx: flow: table has no row "unit"`},
		{"an id that stands twice", [][3]string{{sheet3, `<t>offset</t>`, `<t>flow</t>`}}, `book.xlsx: offset!B1: the table of flow!B1 has the id "flow" too`},
		{"a bad id", [][3]string{{sheet2, `<t>flow</t>`, `<t>Flow</t>`}}, `book.xlsx: flow!B1: id "Flow" has "F", expected lower-case letters, digits, '.', '_' and '-' only`},
		{"another format", [][3]string{{"xl/worksheets/sheet1.xml", `calsplice/1`, `calsplice/2`}},
			`book.xlsx: Contents!B1: found "calsplice/2": this program reads calsplice/1, so the file needs a newer one`},
		{"a value past the axis", [][3]string{{sheet3, `<v>1.7</v></c>`, `<v>1.7</v></c><c r="E6"><v>9</v></c>`}},
			`book.xlsx: offset!E6: row has 4 values, x has 3 breakpoints`},
		{"a stray number under a curve", [][3]string{{sheet2, `</row><row r="8">`, `</row><row r="7"><c r="C7"><v>9</v></c></row><row r="8">`}},
			`book.xlsx: flow!C7: stands alone under the values, expected a whole row or nothing`},
		{"a stray number under a map", [][3]string{{sheet3, `</row><row r="9">`, `</row><row r="8"><c r="D8"><v>9</v></c></row><row r="9">`}},
			`book.xlsx: offset!D8: stands alone under the values, expected a whole row or nothing`},
		{"a stray number under the breakpoints", [][3]string{{sheet3, `</row><row r="9">`, `</row><row r="8"><c r="A8"><v>18</v></c></row><row r="9">`}},
			`book.xlsx: offset!A8: stands alone under the values, expected a whole row or nothing`},
		{"two of them", [][3]string{{sheet2, `</row><row r="8">`, `</row><row r="7"><c r="C7"><v>9</v></c><c r="D7"><v>9</v></c></row><row r="8">`}},
			"book.xlsx: flow!B7: is empty, expected a number\nbook.xlsx: flow!A7: a curve has one row of values: expected a y axis before the numbers of a map"},
	} {
		_, _, err := read(edited(t, written(t, flow(t)), c.edits...))
		if err == nil {
			t.Errorf("%s: no error", c.why)
		} else if diff := cmp.Diff(c.want, err.Error()); diff != "" {
			t.Errorf("%s (−want +got):\n%s", c.why, diff)
		}
	}
}

// TestFactsNameTheirCell: a fact that no engine has is a fault of its cell.
func TestFactsNameTheirCell(t *testing.T) {
	c := flow(t).Contents()
	c.Engine = &tables.Engine{Strokes: 2, Displacement: &tables.Measure{Value: 2.5, Unit: "L"}, StoichAFR: 14.7,
		RailPressure: &tables.RailPressure{Value: 380, Unit: "kPa", RelativeTo: tables.Manifold}}
	raw := written(t, tabletest.Must(tables.NewCalibration(c)))
	for _, c := range []struct{ why, old, new, want string }{
		{"strokes of no engine", `<v>2</v>`, `<v>3</v>`, "Contents!C3: strokes is 3, expected 2 or 4"},
		{"half a stroke", `<v>2</v>`, `<v>2.5</v>`, `Contents!C3: found "2.5", expected a whole number from 1`},
		{"no number of strokes", `<v>2</v>`, ``, "Contents!C3: is empty, expected a whole number (or delete the row)"},
		{"no displacement", `<v>2.5</v>`, ``, "Contents!C4: is empty, expected a number (or delete the row)"},
		{"no ratio", `<v>14.7</v>`, ``, "Contents!C6: is empty, expected a number (or delete the row)"},
		{"relative to nothing", `<t>manifold</t>`, `<t></t>`, "Contents!E5: is empty, expected atmosphere, manifold or absolute (or delete the row)"},
		{"a row of no name", `<t>engine</t>`, `<t>motor</t>`, `Contents!A3: "motor" is no row of this sheet: its first cell names what it holds, such as engine | cylinders | 4`},
		{"an engine without volume", `<v>2.5</v>`, `<v>0</v>`, "Contents!C4: displacement is 0, expected a number above 0"},
		{"a ratio below nothing", `<v>14.7</v>`, `<v>-1</v>`, "Contents!C6: stoich_afr is -1, expected a number above 0"},
		{"relative to nothing known", `<t>manifold</t>`, `<t>sea</t>`,
			`Contents!E5: rail_pressure is relative to "sea", expected "atmosphere", "manifold" or "absolute"`},
		{"a fact that there is not", `<t>strokes</t>`, `<t>engine.strokes</t>`, `Contents!B3: there is no engine fact "engine.strokes", only cylinders, strokes, injectors, pulses_per_cycle, displacement, rail_pressure, stoich_afr, fuel_density`},
		{"a fact that stands twice", `<t>strokes</t>`, `<t>displacement</t>`, `Contents!B4: engine displacement stands twice`},
	} {
		_, _, err := read(edited(t, raw, [3]string{"xl/worksheets/sheet1.xml", c.old, c.new}))
		if err == nil || err.Error() != "book.xlsx: "+c.want {
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
}

// TestEmptiedFacts: an empty cell beside "role", "resolution" and "limits" is
// none of these, as anywhere in a sheet; half of the limits is not.
func TestEmptiedFacts(t *testing.T) {
	f := flow(t).Tables()[0].Fields()
	f.Role, f.Resolution, f.Limits = tables.Other, 0.25, &tables.Limits{Low: -7, High: 77}
	doc := tabletest.Must(flow(t).WithTable(tabletest.Must(tables.NewTable(f))))
	role, step := [3]string{sheet2, `<t>other</t>`, `<t></t>`}, [3]string{sheet2, `<v>0.25</v>`, ``}
	low, high := [3]string{sheet2, `<v>-7</v>`, ``}, [3]string{sheet2, `<v>77</v>`, ``}
	got, _, err := read(edited(t, written(t, doc), role, step, low, high))
	if err != nil || !got.Equal(flow(t)) {
		t.Errorf("read as %v, %v", got, err)
	}
	for why, edits := range map[string][][3]string{
		"book.xlsx: flow!B10: is empty, expected a number (or delete the row)": {low},
		"book.xlsx: flow!B9: resolution is 0, expected a number above 0":       {{sheet2, `<v>0.25</v>`, `<v>0</v>`}},
	} {
		if _, _, err := read(edited(t, written(t, doc), edits...)); err == nil || err.Error() != why {
			t.Errorf("got %v, want %s", err, why)
		}
	}
	_, said, _ := read(edited(t, written(t, doc), [3]string{sheet2, `<v>77</v></c>`, `<v>77</v></c><c r="D10"><v>9</v></c>`},
		[3]string{sheet2, `<v>0.25</v></c>`, `<v>0.25</v></c><c r="C9"><v>9</v></c>`}))
	if want := "book.xlsx: flow!C9: is beside the document, ignored\nbook.xlsx: flow!D10: is beside the document, ignored"; said.Error() != want {
		t.Errorf("said %q, want %q", said, want)
	}
}

// TestDatesAndPercentages: a program makes a date of "1.5" in some languages,
// and 0.05 of "5%".
func TestDatesAndPercentages(t *testing.T) {
	raw := edited(t, written(t, flow(t)),
		[3]string{"xl/styles.xml", `</cellXfs>`, `<xf numFmtId="14"/><xf numFmtId="9"/><xf numFmtId="900"/></cellXfs>`},
		[3]string{"xl/styles.xml", `<cellXfs`, `<numFmts><numFmt numFmtId="900" formatCode="[$-407]d\.\ mmm"/></numFmts><cellXfs`})
	xfs := string(part(t, raw, "xl/styles.xml"))
	xfs = xfs[strings.Index(xfs, "<cellXfs"):strings.Index(xfs, "</cellXfs>")]
	n := strings.Count(xfs, "<xf ")
	for i, want := range []string{"a date", "a percentage", "a date"} {
		cell := string(part(t, raw, sheet2))
		at := strings.Index(cell, `<c r="C6"`)
		old := cell[at : at+strings.Index(cell[at:], ">")+1]
		_, _, err := read(edited(t, raw, [3]string{sheet2, old, fmt.Sprintf(`<c r="C6" s="%d">`, n-3+i)}))
		if err == nil || err.Error() != "book.xlsx: flow!C6: holds "+want+", expected a plain number" {
			t.Errorf("want %s, got %v", want, err)
		}
	}
}

func part(t *testing.T, raw []byte, name string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return body
}

func TestWhatIsPassedOverIsSaid(t *testing.T) {
	for _, c := range []struct {
		why   string
		edits [][3]string
		want  string
	}{
		{"macros", [][3]string{{"xl/vbaProject.bin", "", "x"}}, "the workbook has macros: ignored"},
		{"links to other files", [][3]string{{"xl/externalLinks/externalLink1.xml", "", "<x/>"}}, "the workbook links to other files: ignored"},
		{"a heading that says otherwise", [][3]string{{sheet2, "differential pressure [kPa]", "rail pressure [bar]"}},
			`flow!B4: heading "rail pressure [bar]" is not the axis of row "x quantity": that row is read`},
		{"the list says otherwise", [][3]string{{"xl/worksheets/sheet1.xml", "<t>Flow</t>", "<t>Fuel</t>"}},
			`Contents!B5: shows "Fuel", the sheet "flow" has "Flow": the sheet is read`},
		{"a remark beside a fact", [][3]string{{sheet2, `<t>Flow</t></is></c>`, `<t>Flow</t></is></c><c r="C2" t="inlineStr"><is><t>ask Ida</t></is></c>`}},
			`flow!C2: is beside the document, ignored`},
	} {
		got, cautions, err := read(edited(t, written(t, flow(t)), c.edits...))
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		if !got.Equal(flow(t)) {
			t.Errorf("%s: the document changed", c.why)
		}
		if diff := cmp.Diff("book.xlsx: "+c.want, cautions.Error()); diff != "" {
			t.Errorf("%s (−want +got):\n%s", c.why, diff) // promise: never silent
		}
	}
}

// TestHostile: each is refused in one line, soon and in little memory.
func TestHostile(t *testing.T) {
	raw := written(t, flow(t))
	deep := strings.Repeat("<a>", 1e6)
	for _, c := range []struct {
		why  string
		raw  []byte
		want string
	}{
		{"no zip at all", []byte("PK\x03\x04 but no more"), "not a workbook: it is no zip archive"},
		{"a password", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and more"), "a workbook with a password or of the old format (.xls)"},
		{"cut short", raw[:len(raw)/2], "not a workbook: it is no zip archive"},
		{"a zip of something else", edited(t, raw, [3]string{"xl/workbook.xml", "<sheets>", "<sheets><!--"}, [3]string{"xl/workbook.xml", "</sheets>", "--></sheets>"}),
			"not a workbook: it has no list of sheets"},
		{"elements nested a million deep", edited(t, raw, [3]string{sheet2, "<sheetData>", "<sheetData>" + deep}), "nests deeper than 64"},
		{"entities that grow", edited(t, raw, [3]string{sheet2, "<worksheet", `<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet`}), "has a document type or an entity"},
		{"a part that is cut", edited(t, raw, [3]string{sheet2, "</worksheet>", ""}), "is cut short"},
		{"a cell beyond the sheet", edited(t, raw, [3]string{sheet2, `r="C6"`, `r="ZZZZ6"`}), `a cell in row 6 is named "ZZZZ6"`},
		{"a row beyond the sheet", edited(t, raw, [3]string{sheet2, `<row r="6"`, `<row r="99999999"`}), `a row is numbered "99999999"`},
		{"a row that stands twice", edited(t, raw, [3]string{sheet2, `</row><row r="6"`, `</row><row r="5"><c r="F5"><v>1</v></c></row><row r="6"`}), `sheet "flow": row 5 stands behind row 5`},
		{"a row above an earlier one", edited(t, raw, [3]string{sheet2, `</row><row r="6"`, `</row><row r="2"><c r="F2"><v>1</v></c></row><row r="6"`}), `sheet "flow": row 2 stands behind row 5`},
		{"shared text that is not there", edited(t, raw, [3]string{sheet2, `<v>2.4</v>`, `<v>77</v>`}, [3]string{sheet2, `r="C6"`, `r="C6" t="s"`}),
			`cell C6: there is no shared text "77"`},
		{"a bomb by ratio", bomb(t, raw, 40<<20), "unpacks to more than 150 times its size"},
		{"a part that is longer than the directory says", lying(t, raw), "the workbook's part \"xl/worksheets/sheet2.xml\" is not sound: zip: not a valid zip file"},
		{"a bomb by size", bomb(t, raw, 200<<20), "unpacks to more than 128 MiB"},
		{"any other workbook", edited(t, raw, [3]string{"xl/worksheets/sheet1.xml", "<t>format</t>", "<t>prices</t>"}),
			`no sheet begins with "format"`},
	} {
		_, _, err := read(c.raw)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") || !strings.HasPrefix(err.Error(), "book.xlsx: ") {
			t.Errorf("%s: want one line with %q, got %v", c.why, c.want, err) // promise: bounded time and memory
		}
	}
}

// lying is a workbook whose directory says of a sheet that it unpacks to little.
func lying(t *testing.T, raw []byte) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		body, err := f.OpenRaw()
		if err != nil {
			t.Fatal(err)
		}
		if h := f.FileHeader; f.Name == sheet2 {
			h.UncompressedSize64 = 100
			into, _ := w.CreateRaw(&h)
			io.Copy(into, body)
		} else {
			w.Copy(f)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// bomb is a workbook with a part of as many blanks.
func bomb(t *testing.T, raw []byte, size int) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		if err := w.Copy(f); err != nil {
			t.Fatal(err)
		}
	}
	into, _ := w.Create("xl/worksheets/sheet9.xml")
	blanks := bytes.Repeat([]byte(" "), 1<<20)
	for range size >> 20 {
		into.Write(blanks)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestFewCellsFarApart: a row with one cell at the far end costs one cell.
func TestFewCellsFarApart(t *testing.T) {
	var rows strings.Builder
	for r := 30; r < 4030; r++ {
		n := tables.FormatValue(float64(r))
		rows.WriteString(`<row r="` + n + `"><c r="XFD` + n + `"><v>1</v></c></row>`)
	}
	raw := edited(t, written(t, flow(t)), [3]string{sheet2, "</sheetData>", rows.String() + "</sheetData>"})
	got, cautions, err := read(raw)
	if err != nil || !got.Equal(flow(t)) {
		t.Fatalf("%v", err)
	}
	if len(cautions) == 0 || len(cautions) > 30 {
		t.Errorf("%d cautions", len(cautions))
	}
	if _, _, _, err := Range(raw, "book.xlsx", "flow"); err == nil || !strings.Contains(err.Error(), "more than 20000000 cells") {
		t.Errorf("a block of 65 million cells: %v", err)
	}
}

// TestFormulas: of a formula in a range the value that was saved is read, and
// said; one without a value is refused.
func TestFormulas(t *testing.T) {
	saved := edited(t, written(t, flow(t)), [3]string{sheet2, `<v>2.4</v>`, `<f>B6*2</f><v>4.4</v>`})
	_, rows, said, err := Range(saved, "book.xlsx", "flow!B6:C6")
	if want := "book.xlsx: 1 formula: the values that the workbook saved are read"; err != nil || rows[0][1].Text != "4.4" || len(said) != 1 || said.Error() != want {
		t.Errorf("a saved value came as %q (%q, %v), want 4.4 and %q", rows, said, err, want)
	}
	if _, _, said, _ := Range(written(t, flow(t)), "book.xlsx", "flow!B6:C6"); len(said) > 0 {
		t.Errorf("without a formula it says %q", said)
	}
	for why, cell := range map[string]string{"no value": `<f>B6*2</f>`, "an empty one": `<f>B6*2</f><v></v>`} {
		_, _, _, err = Range(edited(t, written(t, flow(t)), [3]string{sheet2, `<v>2.4</v>`, cell}), "book.xlsx", "flow!B6:C6")
		if err == nil || err.Error() != "book.xlsx: flow!C6: holds a formula without a saved value, expected one: save the workbook in a spreadsheet program" {
			t.Errorf("%s: %v", why, err)
		}
	}
	_, _, _, err = Range(edited(t, written(t, flow(t)), [3]string{sheet2, `<v>2.4</v>`, `<f>B6/0</f><v>#DIV/0!</v>`}, [3]string{sheet2, `r="C6"`, `r="C6" t="e"`}), "book.xlsx", "flow!B6:C6")
	if err == nil {
		t.Error("an error value of a formula was read")
	}
}

func TestRange(t *testing.T) {
	raw := written(t, flow(t))
	for _, c := range []struct {
		address string
		want    [][]string
		err     string
	}{
		{"offset!A5:D7", [][]string{{"battery voltage [V]", "250", "300", "350"}, {"10", "1.5", "1.6", "1.7"}, {"14", "0.5", "0.6", "0.7"}}, ""},
		{"'Offset'!$D$7:$c$6", [][]string{{"1.6", "1.7"}, {"0.6", "0.7"}}, ""},
		{"offset!C6", [][]string{{"1.6"}}, ""},
		{"offset!C6:E8", [][]string{{"1.6", "1.7"}, {"0.6", "0.7"}}, ""},
		{"offset!A3:B5", [][]string{{"unit", "ms"}, {"values", "differential pressure [kPa]"}, {"battery voltage [V]", "250"}}, ""},
		{"price!A1:B2", nil, `book.xlsx: there is no sheet "price", only "Contents", "flow", "offset"`},
		{"", nil, `book.xlsx: which sheet: expected # and its name, one of "Contents", "flow", "offset"`},
		{"flow!12:B2", nil, `book.xlsx: "12:B2" is no block of cells, expected one such as B2:N20`},
	} {
		_, got, _, err := Range(raw, "book.xlsx", c.address)
		var texts [][]string
		for _, row := range got {
			var line []string
			for _, cell := range row {
				line = append(line, cell.Text)
			}
			texts = append(texts, line)
		}
		text := ""
		if err != nil {
			text = err.Error()
		}
		if diff := cmp.Diff(c.err, text); diff != "" {
			t.Errorf("%s (−want +got):\n%s", c.address, diff)
		}
		if diff := cmp.Diff(c.want, texts); diff != "" {
			t.Errorf("%s (−want +got):\n%s", c.address, diff)
		}
	}
	if _, whole, _, err := Range(raw, "book.xlsx", "flow"); err != nil || len(whole) < 6 || whole[5][1].Text != "2.2" {
		t.Errorf("a whole sheet: %v %v", whole, err)
	}
}

func FuzzRead(f *testing.F) {
	for seed := range uint64(4) {
		f.Add(written(f, tabletest.Document(tabletest.Rand(seed))))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		c, _, err := read(raw)
		if err == nil {
			comesBack(t, c)
		}
		Range(raw, "book.xlsx", "Contents")
	})
}

// TestFrozenShadedLinked looks for what a person would miss in a spreadsheet
// program.
func TestFrozenShadedLinked(t *testing.T) {
	raw := written(t, flow(t))
	for _, c := range [][2]string{
		{sheet3, `state="frozen"`}, {sheet3, `ySplit="5"`}, {sheet3, `<colorScale>`}, {sheet3, `orientation="landscape"`},
		{"xl/worksheets/sheet1.xml", `location="&#39;flow&#39;!A1"`}, {"docProps/core.xml", "calsplice"},
	} {
		if !bytes.Contains(part(t, raw, c[0]), []byte(c[1])) {
			t.Errorf("%s holds no %s", c[0], c[1])
		}
	}
}
