package tablecsv_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablecsv"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

// example is the one that describes the format.
const example = `calsplice,1,calibration
name,"Fell rescue van, as found"
engine,cylinders,4
engine,rail_pressure,380,kPa,atmosphere

table,injector.flow
role,injector.flow
unit,g/s
resolution,0.001
x,differential pressure,kPa
,250,300,350,400,450
,2.214,2.425,2.62,2.8,2.97

table,spark.advance
role,spark.advance
unit,deg
x,engine speed,r/min
y,air charge,mg
,600,800,1200
120,12,14,18
240,10,12.5,16

table,injector.min_pulse
unit,ms
value,0.4

end
`

func parse(t *testing.T, s string) *tables.Calibration {
	t.Helper()
	c, _, err := tablecsv.Parse([]byte(s), "example.csv")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestExampleIsCanonical(t *testing.T) {
	var b bytes.Buffer
	if err := tablecsv.Write(&b, parse(t, example)); err != nil {
		t.Fatal(err)
	}
	if b.String() != example {
		t.Errorf("written:\n%s", b.String())
	}
}

// TestSpellingsOfOtherHands reads the example as spreadsheets set to other
// languages write it: each must be the same document.
func TestSpellingsOfOtherHands(t *testing.T) {
	want := parse(t, example)
	const name = "Fell rescue van, as found"
	hand := func(delimiter, decimal string) string {
		plain := strings.Replace(example, `"`+name+`"`, "NAME", 1)
		for _, number := range []string{"2.214", "2.425", "2.62", "2.8", "2.97", "0.4", "0.001", "12.5"} {
			plain = strings.ReplaceAll(plain, number, strings.Replace(number, ".", "<mark>", 1))
		}
		return strings.NewReplacer(",", delimiter, "<mark>", decimal, "NAME", name).Replace(plain)
	}
	padded := strings.NewReplacer("\n", ",,,,,\n").Replace(example)
	quoted := strings.NewReplacer("2.214", `"2,214"`, "2.425", `"2,425"`, "2.62", `"2,62"`, "2.8", `"2,8"`, "2.97", `"2,97"`, "0.4", `"0,4"`, "0.001", `"0,001"`, "12.5", `"12,5"`)
	utf16 := []byte{0xff, 0xfe}
	for _, c := range []byte(example) {
		utf16 = append(utf16, c, 0)
	}
	for name, text := range map[string]string{
		"semicolons and decimal commas": hand(";", ","),
		"semicolons and points":         hand(";", "."),
		"tabs and decimal commas":       hand("\t", ","),
		"tabs and points":               hand("\t", "."),
		"decimal commas in quotes":      quoted.Replace(example),
		"CRLF":                          strings.ReplaceAll(example, "\n", "\r\n"),
		"CR alone":                      strings.ReplaceAll(example, "\n", "\r"),
		"byte-order mark":               "\ufeff" + example,
		"UTF-16":                        string(utf16),
		"padded to the widest line":     padded,
		"a line role that is empty":     strings.Replace(example, "unit,ms\n", "role,\nunit,ms\n", 1),
		"no line end at the end":        strings.TrimSuffix(example, "\n"),
	} {
		got, _, err := tablecsv.Parse([]byte(text), name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if !got.Equal(want) {
			t.Errorf("%s: another document", name)
		}
	}
}

func TestMissingEndIsACaution(t *testing.T) {
	_, cautions, err := tablecsv.Parse([]byte(strings.TrimSuffix(example, "end\n")), "cut.csv")
	if err != nil || len(cautions) != 1 || !strings.Contains(cautions[0].Error(), `cut.csv: the last line "end" is missing`) {
		t.Errorf("cautions %q, error %v", cautions, err)
	}
	if _, cautions, _ := tablecsv.Parse([]byte(example), "whole.csv"); len(cautions) > 0 {
		t.Errorf("a whole file is told %q", cautions)
	}
}

// TestNoFormula reads what is written with Go's own CSV reader and looks for
// a field that a spreadsheet would run (OWASP, CSV Injection).
func TestNoFormula(t *testing.T) {
	for seed := range uint64(300) {
		var b, long bytes.Buffer
		c := tabletest.Cells(tabletest.Rand(seed))
		tablecsv.Write(&b, c)
		tablecsv.WriteLong(&long, c)
		for _, text := range []string{b.String(), long.String()} {
			r := csv.NewReader(strings.NewReader(text))
			r.FieldsPerRecord = -1
			records, err := r.ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			for _, record := range records {
				for _, field := range record {
					if field == "" || !strings.ContainsAny(field[:1], "=+-@\t\r") {
						continue
					}
					if _, err := tables.ParseValue(field); err != nil {
						t.Fatalf("field %q stands bare in\n%s", field, text) // promise: hostile names are only text
					}
				}
			}
		}
	}
}

func roundTrip(t interface{ Fatalf(string, ...any) }, c *tables.Calibration) {
	var first, second bytes.Buffer
	if err := tablecsv.Write(&first, c); err != nil {
		t.Fatalf("write: %v", err)
	}
	again, cautions, err := tablecsv.Parse(first.Bytes(), "first")
	if err != nil || len(cautions) > 0 {
		t.Fatalf("read back: %v %q\n%s", err, cautions, first.Bytes())
	}
	if !again.Equal(c) {
		var want, got bytes.Buffer
		tablejson.Write(&want, c)
		tablejson.Write(&got, again)
		t.Fatalf("reads back as another document:\n%s\nwant\n%s\nfrom\n%s", got.Bytes(), want.Bytes(), first.Bytes())
	}
	if tablecsv.Write(&second, again); second.String() != first.String() {
		t.Fatalf("writing again gives other bytes")
	}
}

func TestRoundTrip(t *testing.T) {
	for seed := range uint64(5000) {
		roundTrip(t, tabletest.Document(tabletest.Rand(seed)))
		roundTrip(t, tabletest.Cells(tabletest.Rand(seed)))
	}
	rapid.Check(t, lawRoundTrip)
}

func lawRoundTrip(t *rapid.T) {
	roundTrip(t, tabletest.Document(tabletest.Rapid(t)))
	roundTrip(t, tabletest.Cells(tabletest.Rapid(t)))
}

func FuzzRoundTrip(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawRoundTrip)) }

// FuzzRead feeds the reader anything: it may refuse, but whatever it takes it
// must be able to write and read back.
func FuzzRead(f *testing.F) {
	f.Add([]byte(example))
	f.Add([]byte(strings.ReplaceAll(example, ",", ";")))
	for seed := range uint64(8) {
		var b bytes.Buffer
		tablecsv.Write(&b, tabletest.Cells(tabletest.Rand(seed)))
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, _, err := tablecsv.Parse(data, "fuzz")
		if err == nil {
			roundTrip(t, c)
		} else if !errors.As(err, new(*tables.Fault)) && !errors.As(err, new(tables.Faults)) {
			t.Fatalf("an error without a place: %v", err)
		}
	})
}

func TestLong(t *testing.T) {
	var b bytes.Buffer
	if err := tablecsv.WriteLong(&b, parse(t, example)); err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("testdata/example-long.csv")
	if err != nil || b.String() != string(want) {
		t.Errorf("%v\n%s", err, b.String())
	}
	if _, _, err := tablecsv.Parse(b.Bytes(), "long.csv"); err == nil || !strings.Contains(err.Error(), "long form") {
		t.Errorf("the long form read back gives %v", err)
	}
}
