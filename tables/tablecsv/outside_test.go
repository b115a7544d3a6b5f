package tablecsv_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablecsv"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"
)

// readBack has Python's own csv and json read what is written, and print each
// value's bits in order.
const readBack = `
import csv, json, struct, sys
def bits(v): print("null" if v is None else struct.pack(">d", float(v)).hex())
long, doc = sys.argv[1:]
with open(long, newline="", encoding="utf-8") as f:
    for row in csv.DictReader(f): bits(row["value"] or None)
print("json")
def walk(v):
    if isinstance(v, list):
        for x in v: walk(x)
    else: bits(v)
with open(doc, encoding="utf-8") as f:
    for t in json.load(f)["tables"]: walk(t["values"])
`

// TestPythonReadsTheSameNumbers compares every value to the bit, in the long
// CSV and in the canonical JSON.
func TestPythonReadsTheSameNumbers(t *testing.T) {
	python, err := exec.LookPath("/usr/bin/python3")
	if err != nil {
		python, err = exec.LookPath("python3")
	}
	if err != nil {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal("there is no python3 to judge by")
		}
		t.Skip("there is no python3 to judge by")
	}
	t.Chdir(t.TempDir())
	for seed := range uint64(8) {
		doc := tabletest.Cells(tabletest.Rand(seed + 100))
		var long, text bytes.Buffer
		tablecsv.WriteLong(&long, doc)
		tablejson.Write(&text, doc)
		os.WriteFile("long.csv", long.Bytes(), 0o644)
		os.WriteFile("doc.json", text.Bytes(), 0o644)
		out, err := exec.Command(python, "-c", readBack, "long.csv", "doc.json").CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		var want strings.Builder
		values(&want, doc)
		want.WriteString("json\n")
		values(&want, doc)
		if got := strings.ReplaceAll(string(out), "\r\n", "\n"); got != want.String() {
			t.Fatalf("Python reads other numbers:\n%s\nwant\n%s\nfrom\n%s", got, want.String(), long.String())
		}
	}
}

func values(b *strings.Builder, doc *tables.Calibration) {
	for _, t := range doc.Tables() {
		for _, v := range t.Values() {
			if math.IsNaN(v) {
				b.WriteString("null\n")
			} else {
				fmt.Fprintf(b, "%016x\n", math.Float64bits(v))
			}
		}
	}
}
