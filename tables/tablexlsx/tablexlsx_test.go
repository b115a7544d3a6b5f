package tablexlsx

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"
)

func written(t interface{ Fatal(...any) }, c *tables.Calibration) []byte {
	var out bytes.Buffer
	if err := Write(&out, c); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func read(raw []byte) (*tables.Calibration, tables.Faults, error) {
	return Parse(raw, "book.xlsx")
}

func spelled(t interface{ Fatal(...any) }, c *tables.Calibration) string {
	var out bytes.Buffer
	if err := tablejson.Write(&out, c); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// comesBack is the law of every spelling: written and read, a document is
// equal to the bit; written again, the same bytes.
func comesBack(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
}, c *tables.Calibration) {
	raw := written(t, c)
	back, cautions, err := read(raw)
	if err != nil {
		t.Fatal(err)
	}
	if !back.Equal(c) {
		t.Fatalf("written:\n%s\nread:\n%s", spelled(t, c), spelled(t, back))
	}
	if len(cautions) > 0 {
		t.Fatalf("its own workbook gives the cautions %q", cautions)
	}
	if !bytes.Equal(raw, written(t, back)) {
		t.Fatal("the document written again is other bytes")
	}
}

func anyDocument(t *rapid.T) {
	s := tabletest.Rapid(t)
	if s.N(3) == 0 {
		comesBack(t, tabletest.Cells(s))
	} else {
		comesBack(t, tabletest.Document(s))
	}
}

func TestComesBack(t *testing.T) { rapid.Check(t, anyDocument) }

func FuzzComesBack(f *testing.F) { f.Fuzz(rapid.MakeFuzz(anyDocument)) }

func TestComesBackOften(t *testing.T) {
	for seed := range uint64(25) {
		s := tabletest.Rand(seed)
		comesBack(t, tabletest.Document(s))
		comesBack(t, tabletest.Cells(s))
	}
}

func TestLongTextsComeBack(t *testing.T) {
	long := strings.Repeat("Flow measured on the bench, _x0041_ run 3.\r\n", 2000)
	c, err := tables.NewCalibration(tables.Contents{Kind: tables.Cells, Notes: long, Name: long,
		State: tables.Extra{"sums": `"` + strings.Repeat("0123456789_", 9000) + `"`},
		Tables: []*tables.Table{tabletest.Must(tables.NewTable(tables.Fields{ID: "a", Unit: "ms", Title: long, Notes: long, Values: []float64{1},
			Extra: tables.Extra{"x-log": `"` + strings.Repeat("_é", 30000) + `"`}}))}})
	if err != nil {
		t.Fatal(err)
	}
	comesBack(t, c)
}

func TestSheetNamesAreOnlyLabels(t *testing.T) {
	var c tables.Contents
	for _, id := range []string{"contents", "history", "a." + strings.Repeat("long-", 10) + "1", "a." + strings.Repeat("long-", 10) + "2"} {
		c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(tables.Fields{ID: id, Unit: "ms", Values: []float64{1}})))
	}
	doc := tabletest.Must(tables.NewCalibration(c))
	comesBack(t, doc)
	back, _, err := read(written(t, doc))
	if err != nil || !slices.Equal(back.IDs(), doc.IDs()) {
		t.Errorf("ids came back as %v (%v)", back.IDs(), err)
	}
}

func TestWhatNoSheetHolds(t *testing.T) {
	f := tables.Fields{ID: "wide", Unit: "ms", Values: make([]float64, 16384)}
	points := make([]float64, len(f.Values))
	for i := range points {
		points[i] = float64(i)
	}
	f.X = tabletest.Must(tables.NewAxis("load", "%", points))
	doc := tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{tabletest.Must(tables.NewTable(f))}}))
	err := Write(new(bytes.Buffer), doc)
	if want := "sheet wide: row 4, column 16385 is beyond the 1048576 rows and 16384 columns that a workbook's sheet has"; err == nil || err.Error() != want {
		t.Errorf("got %v", err)
	}
}
