package book

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// around is the smallest workbook with a sheet of this XML and shared text of
// that, stored as it is.
func around(xml, shared []byte) []byte {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, part := range []struct{ name, text string }{
		{"_rels/.rels", `<Relationships><Relationship Id="r1" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns:r="r"><sheets><sheet name="a" sheetId="1" r:id="s1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="s1" Type="x/worksheet" Target="worksheets/sheet1.xml"/>` +
			`<Relationship Id="s2" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`},
		{"xl/worksheets/sheet1.xml", string(xml)}, {"xl/sharedStrings.xml", string(shared)},
	} {
		into, _ := w.CreateHeader(&zip.FileHeader{Name: part.name, Method: zip.Store})
		io.WriteString(into, part.text)
	}
	w.Close()
	return out.Bytes()
}

// FuzzSheet reads arbitrary XML as a sheet and as shared text: an error in one
// line or a sheet, never a crash, and no cell where none can be.
func FuzzSheet(f *testing.F) {
	f.Add([]byte(`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="C1"><f>A1</f><v>2</v></c></row><row><c><v>1e3</v></c></row></sheetData></worksheet>`),
		[]byte(`<sst><si><t>x_x000D_</t></si><si><r><t>a</t></r><r><t xml:space="preserve"> b</t></r><rPh><t>c</t></rPh></si></sst>`))
	f.Add([]byte(`<x:worksheet xmlns:x="y"><x:sheetData><x:row r="2"><x:c r="B2" t="inlineStr"><x:is><x:t>a &amp; b</x:t></x:is></x:c></x:row></x:sheetData></x:worksheet>`),
		[]byte(`<sst/>`))
	f.Fuzz(func(t *testing.T, xml, shared []byte) {
		raw := around(xml, shared)
		b, err := Open(raw)
		if err != nil {
			if bytes.ContainsRune([]byte(err.Error()), '\n') {
				t.Errorf("an error of several lines: %v", err)
			}
			return
		}
		for _, s := range b.Sheets {
			last := int32(0)
			err := s.Rows(func(row sheet.Row) bool {
				if n := row[0].Row; n <= last || n > sheet.MostRows || row.Width() > sheet.MostColumns || row.Width() < 1 {
					t.Errorf("row %d of %d columns after row %d", n, row.Width(), last)
				}
				last = row[0].Row
				return true
			})
			if err != nil && bytes.ContainsRune([]byte(err.Error()), '\n') {
				t.Errorf("an error of several lines: %v", err)
			}
		}
	})
}

func TestSmallestWorkbook(t *testing.T) {
	raw := around([]byte(`<x:worksheet xmlns:x="y"><x:sheetData><x:row><x:c t="s"><x:v> 1 </x:v></x:c><x:c/><x:c><x:v>1E3</x:v></x:c></x:row></x:sheetData></x:worksheet>`),
		[]byte(`<sst><si><t>x</t></si><si><r><t>a</t></r><r><t xml:space="preserve"> b_x000D_</t></r><rPh><t>c</t></rPh></si></sst>`))
	s := cells(t, opened(t, raw).Sheets[0])
	if got := s[[2]int{1, 1}]; got.Kind != sheet.Text || got.Text != "a b\r" {
		t.Errorf("rich text with a reading aid came as %+v", got)
	}
	if got := s[[2]int{1, 3}]; got.Kind != sheet.Number || got.Text != "1E3" {
		t.Errorf("a number without a name came as %+v", got)
	}
}

// TestSharedTextCountsEachTime: one text that is shared by many cells counts wherever it
// stands, so that a small workbook does not become a large table.
func TestSharedTextCountsEachTime(t *testing.T) {
	tables.SetMax(1<<20, 0)
	defer tables.SetMax(tables.DefaultMaxBytes, 0)
	shared := []byte("<sst><si><t>" + strings.Repeat("x", 32<<10) + "</t></si></sst>")
	for n, refused := range map[int]bool{32: false, 33: true} {
		xml := []byte("<worksheet><sheetData><row>" + strings.Repeat(`<c t="s"><v>0</v></c>`, n) + "</row></sheetData></worksheet>")
		raw := around(xml, shared)
		b, err := Open(raw)
		if err == nil {
			err = b.Sheets[0].Rows(func(sheet.Row) bool { return true })
		}
		if (err != nil) != refused || refused && !strings.Contains(err.Error(), "the sheet's cells hold more than 1 MiB of text") {
			t.Errorf("%d cells of 32 KiB: %v", n, err)
		}
	}
}

// TestWhereTheListOfSheetsIs: the archive's own relationships name it, whatever
// its folder.
func TestWhereTheListOfSheetsIs(t *testing.T) {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for name, text := range map[string]string{
		"_rels/.rels":  `<Relationships><Relationship Id="r1" Type="x/officeDocument" Target="/odd/list.xml"/></Relationships>`,
		"odd/list.xml": `<workbook xmlns:r="r"><sheets><sheet name="a" sheetId="1" r:id="s1"/></sheets></workbook>`,
		"odd/_rels/list.xml.rels": `<Relationships><Relationship Id="s1" Type="x/worksheet" Target="one.xml"/>` +
			`<Relationship Id="s2" Type="x/sharedStrings" Target="two.xml" TargetMode="External"/></Relationships>`,
		"odd/one.xml": `<worksheet><sheetData><row><c><v>7</v></c></row></sheetData></worksheet>`,
	} {
		into, _ := w.Create(name)
		io.WriteString(into, text)
	}
	w.Close()
	if got := cells(t, opened(t, out.Bytes()).Sheets[0]); got[[2]int{1, 1}].Text != "7" {
		t.Errorf("read %v", got)
	}
}
