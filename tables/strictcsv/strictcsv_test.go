package strictcsv

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

// lawSafe: every text comes back as it was, and none that is written begins
// with a character that a spreadsheet acts on.
func lawSafe(t *rapid.T) {
	s := rapid.OneOf(rapid.String(), rapid.SampledFrom(tabletest.Texts), rapid.StringMatching(`'{0,3}[=+@\-]?.*`)).Draw(t, "text")
	safe := Safe(s)
	if Unsafe(safe) != s {
		t.Fatalf("%q becomes %q, and back %q", s, safe, Unsafe(safe))
	}
	if safe != "" && strings.ContainsAny(safe[:1], "=+-@\t\r\n") {
		t.Fatalf("%q is written as %q", s, safe)
	}
}

func TestSafe(t *testing.T)   { rapid.Check(t, lawSafe) }
func FuzzSafe(f *testing.F)   { f.Fuzz(rapid.MakeFuzz(lawSafe)) }
func TestFields(t *testing.T) { rapid.Check(t, lawFields) }
func FuzzFields(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawFields)) }

// lawFields: what is written is RFC 4180 as Go's own reader takes it (which
// makes line ends of CRLF, so they are left out), and this reader gives it back
// whole, whatever stands between fields.
func lawFields(t *rapid.T) {
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom(tabletest.Texts)).Filter(func(s string) bool { return !strings.Contains(s, "\r") })
	records := rapid.SliceOfN(rapid.SliceOfN(text, 2, 4), 1, 4).Draw(t, "records")
	var b []byte
	for _, r := range records {
		for i, f := range r {
			if i > 0 {
				b = append(b, ',')
			}
			b = appendField(b, f)
		}
		b = append(b, '\n')
	}
	judge := csv.NewReader(bytes.NewReader(b))
	judge.FieldsPerRecord = -1
	want, err := judge.ReadAll()
	if err != nil {
		t.Fatalf("encoding/csv: %v\n%s", err, b)
	}
	r := reader(b, ',')
	for i := range want {
		got := r.Next(nil)
		if err := r.to.Err(); err != nil {
			t.Fatalf("record %d: %v\n%s", i, err, b)
		}
		if texts := texts(got); !slices.Equal(texts, want[i]) || !slices.Equal(texts, records[i]) {
			t.Fatalf("record %d is %q, want %q\n%s", i, texts, want[i], b)
		}
	}
	if more := r.Next(nil); more != nil {
		t.Fatalf("more follows: %v", more)
	}
}

// reader is one of a text.
func reader(text []byte, comma byte) *Reader {
	return New(&sheet.Reader{File: "x", Source: string(text)}, comma)
}

func texts(record sheet.Row) []string {
	var list []string
	for _, f := range record {
		list = append(list, f.Text)
	}
	return list
}

// TestPlaces names the line and column of each field, in characters and across
// line ends inside quotes.
func TestPlaces(t *testing.T) {
	r := reader([]byte("é,\"two\r\nlines\",c\nd,e\rf\r\ng"), ',')
	var got [][3]any
	for record := r.Next(nil); record != nil; record = r.Next(record) {
		for _, f := range record {
			at := r.to.Line(f, "here")
			got = append(got, [3]any{f.Text, at.Line, at.Column})
		}
	}
	if err := r.to.Err(); err != nil {
		t.Fatal(err)
	}
	want := [][3]any{{"é", 1, 1}, {"two\r\nlines", 1, 3}, {"c", 2, 8}, {"d", 3, 1}, {"e", 3, 3}, {"f", 4, 1}, {"g", 5, 1}}
	if !slices.Equal(got, want) {
		t.Errorf("places are %v, want %v", got, want)
	}
}

// TestNumbers keeps to one decimal mark.
func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		comma byte
		texts []string
		ok    bool
		why   string
	}{
		{',', []string{"1.5", "2"}, true, "points between commas"},
		{',', []string{"1,5", "2,214"}, true, "decimal commas in quotes"},
		{',', []string{"2,214", "0,001"}, true, "decimal commas in quotes, told by a later one"},
		{',', []string{"1,234", "12,500"}, false, "in quotes, all may be thousands separators"},
		{',', []string{"1,234", "0.5"}, false, "thousands separators in quotes and points"},
		{';', []string{"1,234"}, true, "three decimals where nothing separates thousands"},
		{';', []string{"1,5", "2,25", "3"}, true, "decimal commas"},
		{';', []string{"1.5", "2.25"}, true, "points between semicolons"},
		{';', []string{"1,5", "2.5"}, false, "two marks"},
		{';', []string{"1.000,5"}, false, "a thousands separator"},
		{'\t', []string{"1,000,000"}, false, "thousands separators alone"},
		{'\t', []string{"0x10"}, false, "hexadecimal"},
		{'\t', []string{"1 000"}, false, "a blank inside"},
		{',', []string{"'-1.5", "2"}, true, "behind the apostrophe of a program that takes it for a formula"},
		{',', []string{"'1.5"}, false, "behind an apostrophe of its own"},
	} {
		line := `"` + strings.Join(c.texts, `"`+string(c.comma)+`"`) + `"`
		r := reader([]byte(line), c.comma)
		r.Rows(func(row sheet.Row) {
			for _, cell := range row {
				r.to.Number(cell)
			}
		})
		if ok := r.to.Err() == nil; ok != c.ok {
			t.Errorf("%s: %q: %v", c.why, c.texts, r.to.Err())
		}
	}
}

// TestLongFields: a field that no document has is refused while it is read.
func TestLongFields(t *testing.T) {
	longest := strings.Repeat("a", tables.MaxText)
	for text, want := range map[string]string{
		"b," + longest: "", `b,"` + longest + `"`: "",
		"b," + longest + "aa":           "x:1:3: text is longer than 16 MiB",
		`b,"` + longest + longest + `"`: "x:1:3: text is longer than 16 MiB",
	} {
		r := reader([]byte(text), ',')
		r.Next(nil)
		err := r.to.Err()
		if (err == nil) != (want == "") || err != nil && err.Error() != want {
			t.Errorf("%d bytes: %v, want %q", len(text), err, want)
		}
	}
}
