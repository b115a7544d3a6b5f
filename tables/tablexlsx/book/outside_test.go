package book

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// TestExcelizeReadsIt judges by excelize, a library that knows workbooks whole:
// what a page shows beside its cells stands where the format has it.
func TestExcelizeReadsIt(t *testing.T) {
	w := NewWriter()
	p, q := w.Page("it's <a>"), w.Page("b")
	p.Width(1, 2, 11)
	p.Width(3, 3, 30.5)
	p.Width(4, 6, 12)
	p.Freeze(3, 2)
	p.Print(2)
	p.Next()
	p.Styled("head", Style{Bold: true, Italic: true, Size: 15, Colour: "#5a6673", Fill: "#E6EAEE", Border: "thick", Align: "right", Wrap: true})
	p.Merge(1, 3)
	p.Next()
	p.To(2)
	p.Value(2.5, Style{Format: `0.000" <ms>"`})
	p.Shade("B2:C3", [3]float64{-1e-7, 0, 4}, [3]string{"#0000ff", "#ffffff", "#ff0000"})
	p.Comment("was 2 < 3\nnow 2.5")
	p.Protected = true
	q.Next()
	q.Styled("back", Style{})
	q.Link(p)
	var raw bytes.Buffer
	if err := w.Write(&raw); err != nil {
		t.Fatal(err)
	}
	z, _ := zip.NewReader(bytes.NewReader(raw.Bytes()), int64(raw.Len()))
	for part, want := range map[string]string{"xl/styles.xml": `<fgColor rgb="FFE6EAEE"/>`, "xl/worksheets/sheet1.xml": `<color rgb="FFFF0000"/></colorScale>`} {
		if r, err := z.Open(part); err != nil {
			t.Error(err)
		} else if text, _ := io.ReadAll(r); !strings.Contains(string(text), want) {
			t.Errorf("%s holds no %s", part, want) // the library reads colours through a theme alone
		}
	}
	f, err := excelize.OpenReader(&raw)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const page = "it's <a>"
	got := map[string]any{}
	got["sheets"] = strings.Join(f.GetSheetList(), "|")
	got["text"], _ = f.GetCellValue(page, "A1")
	got["number"], _ = f.GetCellValue(page, "B2")
	merged, _ := f.GetMergeCells(page)
	got["merged"] = merged[0].GetStartAxis() + ":" + merged[0].GetEndAxis()
	got["width"], _ = f.GetColWidth(page, "C")
	got["width beside"], _ = f.GetColWidth(page, "D")
	panes, _ := f.GetPanes(page)
	got["frozen"], got["from"] = panes.Freeze && panes.XSplit == 1 && panes.YSplit == 2, panes.TopLeftCell
	shades, _ := f.GetConditionalFormats(page)
	got["shade"] = shades["B2:C3"][0].Type + " " + shades["B2:C3"][0].MinValue + " " + shades["B2:C3"][0].MaxValue
	comments, _ := f.GetComments(page)
	got["comment"] = comments[0].Author + " " + comments[0].Cell + " " + comments[0].Paragraph[0].Text
	layout, _ := f.GetPageLayout(page)
	got["paper"], got["wide"] = *layout.Orientation, *layout.FitToWidth
	names := f.GetDefinedName()
	got["titles"] = names[0].Name + " " + names[0].RefersTo
	_, to, _ := f.GetCellHyperLink("b", "A1")
	got["link"] = to
	id, _ := f.GetCellStyle(page, "A1")
	style, _ := f.GetStyle(id)
	got["look"] = style.Font.Bold && style.Font.Italic && style.Font.Size == 15 && style.Alignment.WrapText && style.Alignment.Horizontal == "right"
	got["filled"] = style.Fill.Type == "pattern" && style.Fill.Pattern == 1
	got["border"] = len(style.Border) == 4 && style.Border[0].Style == 5
	for what, want := range map[string]any{"sheets": "it's <a>|b", "text": "head", "number": "2.500 <ms>", "merged": "A1:C1", "width": 30.5,
		"width beside": 12.0, "frozen": true, "from": "B3", "shade": "3_color_scale -1e-7 4", "comment": "calsplice B2 was 2 < 3\nnow 2.5",
		"paper": "landscape", "wide": 1, "titles": "_xlnm.Print_Titles 'it''s <a>'!$1:$2", "link": "'it''s <a>'!A1", "look": true,
		"filled": true, "border": true} {
		if got[what] != want {
			t.Errorf("%s is %v, want %v", what, got[what], want)
		}
	}
}
