package changefile_test

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

// lawXLSX: the workbook carries every byte that JSON does, with the tables
// behind the list and without, and is the same bytes each time.
func lawXLSX(t failer, s tabletest.Source) {
	a, _, cs := pair(s)
	for _, base := range []*tables.Calibration{nil, a} {
		var first, second bytes.Buffer
		if err := changefile.WriteXLSX(&first, cs, base); err != nil {
			t.Fatalf("write: %v", err)
		}
		again, cautions, err := changefile.ParseXLSX(first.Bytes(), "first")
		if err != nil || len(cautions) > 0 {
			t.Fatalf("read back: %v %q", err, cautions)
		}
		if spelled(cs) != spelled(again) {
			t.Fatalf("reads back as another change set:\n%s\nwant\n%s", spelled(again), spelled(cs))
		}
		if changefile.WriteXLSX(&second, again, base); !bytes.Equal(second.Bytes(), first.Bytes()) {
			t.Fatalf("writing again gives other bytes")
		}
	}
}

func TestXLSXComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { lawXLSX(t, tabletest.Rapid(t)) })
}

func FuzzXLSXComesBack(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { lawXLSX(t, tabletest.Rapid(t)) }))
}

func FuzzReadXLSX(f *testing.F) {
	for seed := range uint64(3) {
		var b bytes.Buffer
		_, _, cs := pair(tabletest.Rand(seed))
		if err := changefile.WriteXLSX(&b, cs, nil); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, raw []byte) { changefile.ParseXLSX(raw, "x") })
}

func document(t *testing.T, text string) *tables.Calibration {
	t.Helper()
	c, err := tablejson.Parse([]byte(text), "x.json")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

const (
	before = `{"format": "calsplice/1", "name": "van", "tables": [{"id": "flow", "unit": "g/s", "resolution": 0.001,
 "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350]}, "values": [2.214, 2.425, 2.62]}]}`
	after = `{"format": "calsplice/1", "name": "van", "tables": [{"id": "flow", "unit": "g/s", "resolution": 0.001,
 "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350]}, "values": [2.2, 2.4, 2.6]}]}`
)

// edit replaces text in one part of a workbook.
func edit(t *testing.T, raw []byte, part, old, new string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		r, _ := f.Open()
		body, _ := io.ReadAll(r)
		if f.Name == part {
			if !strings.Contains(string(body), old) {
				t.Fatalf("%s holds no %s", part, old)
			}
			body = []byte(strings.Replace(string(body), old, new, 1))
		}
		into, _ := w.Create(f.Name)
		into.Write(body)
	}
	w.Close()
	return out.Bytes()
}

// rowOf is the XML of a row of a sheet, and of what is left without it.
func rowOf(t *testing.T, raw []byte, part, mark string) string {
	t.Helper()
	z, _ := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	r, err := z.Open(part)
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(r)
	at := strings.Index(string(body), mark)
	from := strings.LastIndex(string(body[:at]), "<row ")
	return string(body)[from : at+strings.Index(string(body[at:]), "</row>")+len("</row>")]
}

// TestReviewed: a reviewer deletes a row and changes what stands under "to".
func TestReviewed(t *testing.T) {
	a, b := document(t, before), document(t, after)
	cs := merge.Diff(a, b)
	cs.Edits[0].(*merge.CellEdit).Why = &merge.Evidence{Count: 812, Visits: 41, Mean: 3.52, SE: 0.18, Unit: "%", Note: "=1+1"}
	var book bytes.Buffer
	if err := changefile.WriteXLSX(&book, cs, a); err != nil {
		t.Fatal(err)
	}
	const list = "xl/worksheets/sheet1.xml"
	raw := edit(t, book.Bytes(), list, rowOf(t, book.Bytes(), list, "<v>2.425</v>"), "")
	raw = edit(t, raw, list, "<v>2.6</v>", "<v>2.605</v>")
	again, cautions, err := changefile.ParseXLSX(raw, "x.xlsx")
	if want := "x.xlsx: after flow: shows other values than the list (1 of its cells): the list is read"; err != nil || len(cautions) != 1 || cautions.Error() != want {
		t.Fatalf("%v %q", err, cautions)
	}
	got, err := merge.Apply(a, again)
	if err != nil {
		t.Fatal(err)
	}
	if v := got.Table("flow").Values(); v[0] != 2.2 || v[1] != 2.425 || v[2] != 2.605 {
		t.Errorf("applied, the values are %v", v)
	}
	if w := again.Edits[0].(*merge.CellEdit).Why; w == nil || w.Note != "=1+1" || w.Count != 812 {
		t.Errorf("the evidence came back as %+v", w)
	}
	for _, c := range []struct{ why, old, new, want string }{
		{"a word", "<v>2.6</v>", "<v>less</v>", `x.xlsx: Changes!G11: "less" is not a number`},
		{"a formula", "<v>2.6</v>", "<f>I12*0.99</f><v>2.6</v>", "x.xlsx: Changes!G11: holds a formula, expected its value"},
		{"a row that is no number", "<v>2.425</v>", "<v>2,4</v>", `x.xlsx: Changes!F10: "2,4" is not a number`},
		{"an unknown edit", "<t>cell</t>", "<t>cells</t>", `x.xlsx: Changes!A9: found "cells", expected one of cell`},
		{"no heading", "<t>to</t>", "<t>towards</t>", `x.xlsx: Changes!A8: has no heading "to"`},
		{"another format", "calsplice.changes/1", "calsplice.changes/9", `x.xlsx: Changes!B1: found "calsplice.changes/9": this program reads calsplice.changes/1, so the file needs a newer one`},
	} {
		_, _, err := changefile.ParseXLSX(edit(t, book.Bytes(), list, c.old, c.new), "x.xlsx")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: want %q, got %v", c.why, c.want, err)
		}
	}
}

// TestViewsOfTables: what a reviewer does on a view is told, and never read.
func TestViewsOfTables(t *testing.T) {
	a, b := document(t, before), document(t, after)
	cs := merge.Diff(a, b)
	var book bytes.Buffer
	if err := changefile.WriteXLSX(&book, cs, a); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ why, old, new, want string }{
		{"nothing", "<v>2.4</v>", "<v>2.4</v>", ""},
		{"as much as digits are lost", "<v>2.4</v>", "<v>2.40000000000001</v>", ""},
		{"a cell emptied", "<v>2.4</v>", "", ""},
		{"another value", "<v>2.4</v>", "<v>2.5</v>", "x.xlsx: after flow: shows other values than the list (1 of its cells): the list is read"},
		{"a formula", "<v>2.4</v>", "<f>1</f><v>2.4</v>", "x.xlsx: after flow: shows no sound table: the list is read"},
		{"a breakpoint deleted", "<v>300</v>", "", "x.xlsx: after flow: shows no sound table: the list is read"},
	} {
		again, cautions, err := changefile.ParseXLSX(edit(t, book.Bytes(), "xl/worksheets/sheet2.xml", c.old, c.new), "x.xlsx")
		if err != nil || spelled(again) != spelled(cs) {
			t.Errorf("%s: %v", c.why, err)
		}
		if got := strings.TrimSpace(cautions.Error()); got != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

// TestChangedCellsStandOut without colour: by a thick frame, and a comment in
// words.
func TestChangedCellsStandOut(t *testing.T) {
	a, b := document(t, before), document(t, after)
	cs := merge.Diff(a, b)
	cs.Edits[0].(*merge.CellEdit).Why = &merge.Evidence{Count: 812, Visits: 41, Mean: 3.52, SE: 0.18, Unit: "%"}
	var book bytes.Buffer
	if err := changefile.WriteXLSX(&book, cs, a); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(book.Bytes()), int64(book.Len()))
	if err != nil {
		t.Fatal(err)
	}
	for part, want := range map[string]string{
		"xl/comments2.xml": "2.214 g/s → 2.2 g/s\n812 samples in 41 visits: mean +3.52 ± 0.18 %", "xl/styles.xml": `style="thick"`,
		"xl/workbook.xml": `name="after flow"`, "xl/worksheets/sheet2.xml": "<sheetProtection",
	} {
		r, err := z.Open(part)
		if err != nil {
			t.Fatal(err)
		}
		if body, _ := io.ReadAll(r); !strings.Contains(strings.ReplaceAll(string(body), "&#xA;", "\n"), want) {
			t.Errorf("%s holds no %q:\n%s", part, want, body)
		}
	}
}

// TestLibreOfficeKeepsTheEdits has LibreOffice save the workbook again, as a
// reviewer does, and applies what it saved. Asked with CALSPLICE_OUTSIDE=1 only.
func TestLibreOfficeKeepsTheEdits(t *testing.T) {
	if os.Getenv("CALSPLICE_OUTSIDE") != "1" {
		t.Skip("asked with CALSPLICE_OUTSIDE=1 only")
	}
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("LibreOffice is not installed")
	}
	dir := t.TempDir()
	a, b := document(t, strings.Replace(before, "2.425", "2.4333333333333336", 1)), document(t, strings.Replace(after, "2.6]", "2.6000000000000005]", 1))
	path := filepath.Join(dir, "changes.xlsx")
	if err := changefile.Write(path, merge.Diff(a, b), a, tablefile.Options{}); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(soffice, "--headless", "-env:UserInstallation=file://"+filepath.ToSlash(dir)+"/profile",
		"--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", filepath.Join(dir, "saved"), path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cs, cautions, err := changefile.ReadWithCautions(filepath.Join(dir, "saved", "changes.xlsx"), nil)
	if err != nil || len(cautions) > 0 {
		t.Fatalf("%v %q", err, cautions)
	}
	if got, err := merge.Apply(a, cs); err != nil || !got.Equal(b) {
		t.Errorf("applied it gives another document (%v)", err)
	}
}
