package tablexlsx

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"
	"calsplice/tables/tablexlsx/book"
)

// judge finds a program from outside the project. It is asked with
// CALSPLICE_OUTSIDE=1 only, since it takes its seconds; then it must be there.
func judge(t *testing.T, names ...string) string {
	t.Helper()
	if os.Getenv("CALSPLICE_OUTSIDE") != "1" {
		t.Skip("asked with CALSPLICE_OUTSIDE=1 only")
	}
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Fatalf("none of %q is installed", names)
	return ""
}

const listNumbers = `
import json, sys, openpyxl
book = openpyxl.load_workbook(sys.argv[1])
out = {}
for sheet in book:
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                sys.exit("a formula in " + cell.coordinate)
            if isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool):
                out[sheet.title + "!" + cell.coordinate] = repr(float(cell.value))
print(json.dumps(out))
`

// TestOpenpyxlReadsTheSameNumbers judges by openpyxl, an independent reader:
// every number of our workbook, at its place, to the bit.
func TestOpenpyxlReadsTheSameNumbers(t *testing.T) {
	python := judge(t, "/usr/bin/python3", "python3")
	for seed := range uint64(4) {
		path := filepath.Join(t.TempDir(), "book.xlsx")
		raw := written(t, tabletest.Cells(tabletest.Rand(100+seed)))
		if err := os.WriteFile(path, raw, 0o666); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "-c", listNumbers, path).CombinedOutput()
		if err != nil {
			t.Fatalf("openpyxl: %v\n%s", err, out)
		}
		var theirs map[string]string
		if err := json.Unmarshal(out, &theirs); err != nil {
			t.Fatal(err)
		}
		b, err := book.Open(raw)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, s := range b.Sheets {
			if err := s.Rows(func(row sheet.Row) bool {
				for _, c := range row {
					if c.Kind != sheet.Number {
						continue
					}
					n++
					want, _ := strconv.ParseFloat(c.Text, 64)
					place := s.Name + "!" + sheet.Name(int(c.Row), int(c.At))
					got, err := strconv.ParseFloat(theirs[place], 64)
					// openpyxl makes an integer of "-0", and loses its sign.
					if err != nil || got != want {
						t.Errorf("%s is %q to openpyxl, want %v", place, theirs[place], want)
					}
				}
				return true
			}); err != nil {
				t.Fatal(err)
			}
		}
		if n != len(theirs) || n == 0 {
			t.Errorf("openpyxl found %d numbers, we wrote %d", len(theirs), n)
		}
	}
}

// TestLibreOfficeKeepsTheDocument has LibreOffice open a workbook and save it
// again, as a person who looked at it would, and reads that.
func TestLibreOfficeKeepsTheDocument(t *testing.T) {
	soffice := judge(t, "soffice", "libreoffice")
	dir := t.TempDir()
	sane, err := os.ReadFile("../tablejson/testdata/van.json")
	if err != nil {
		t.Fatal(err)
	}
	plain, err := tablejson.Parse(sane, "van.json")
	if err != nil {
		t.Fatal(err)
	}
	docs := map[string]*tables.Calibration{"plain": plain}
	args := []string{"--headless", "-env:UserInstallation=file://" + filepath.ToSlash(dir) + "/profile",
		"--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", filepath.Join(dir, "saved")}
	for i, seed := range []uint64{3, 4, 5} {
		docs["odd"+strconv.Itoa(i)] = tabletest.Document(tabletest.Rand(seed))
	}
	for name, c := range docs {
		path := filepath.Join(dir, name+".xlsx")
		if err := os.WriteFile(path, written(t, c), 0o666); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	if out, err := exec.Command(soffice, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for name, c := range docs {
		raw, err := os.ReadFile(filepath.Join(dir, "saved", name+".xlsx"))
		if err != nil {
			t.Fatal(err)
		}
		back, _, err := read(raw)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if name == "plain" && !back.Equal(c) {
			t.Errorf("written:\n%s\nsaved by LibreOffice:\n%s", spelled(t, c), spelled(t, back))
		}
		for _, want := range c.Tables() {
			got := back.Table(want.ID())
			if got == nil || !sameNumbers(got.Values(), want.Values()) {
				t.Errorf("%s: the values of %s changed", name, want.ID())
			}
		}
	}
}

func sameNumbers(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		// LibreOffice saves 15 digits of a number.
		if math.IsNaN(a[i]) != math.IsNaN(b[i]) || math.Abs(a[i]-b[i]) > 1e-14*math.Abs(a[i]) {
			return false
		}
	}
	return true
}
