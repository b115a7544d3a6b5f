package sheet

import (
	"strings"
	"testing"

	"calsplice/tables"
)

// recorder writes down what is written.
type recorder struct{ strings.Builder }

func (r *recorder) Name(name string)  { r.WriteString("\n" + name) }
func (r *recorder) Text(text string)  { r.WriteString(" text " + text) }
func (r *recorder) Word(word string)  { r.WriteString(" word " + word) }
func (r *recorder) Number(v float64)  { r.WriteString(" number " + tables.FormatValue(v)) }
func (r *recorder) JSON(value string) { r.WriteString(" json " + value) }

// TestWriting: a row for each fact that is given, a cell for each of its parts.
func TestWriting(t *testing.T) {
	var r recorder
	WriteEngine(&r, nil)
	WriteEngine(&r, &tables.Engine{Strokes: 4, StoichAFR: 14.7, Displacement: &tables.Measure{Value: 2.5, Unit: "L"},
		RailPressure: &tables.RailPressure{Value: 380, Unit: "kPa", RelativeTo: tables.Manifold}, Extra: tables.Extra{"x-a": "[1]"}})
	f := tables.Fields{Title: "T", Role: tables.Other, Limits: &tables.Limits{Low: 1, High: 2}}
	for _, name := range []string{"title", "role", "unit", "resolution", "limits", "notes"} {
		field, _ := tables.TableFields.Find(name)
		WriteField(&r, field, &f)
	}
	WriteKept(&r, "x.", tables.Extra{"x-b": "2", "x-c": "3"})
	want := "\nengine word strokes number 4\nengine word displacement number 2.5 word L\nengine word rail_pressure number 380 word kPa word manifold" +
		"\nengine word stoich_afr number 14.7\nengine word x-a json [1]\ntitle text T\nrole word other\nunit text \nlimits number 1 number 2" +
		"\nx.x-b json 2\nx.x-c json 3"
	if r.String() != want {
		t.Errorf("written:%s\nwant%s", r.String(), want)
	}
}

// TestSplit: pieces that each fit a cell once what XML cannot carry is escaped, and
// that are known to go on by their length.
func TestSplit(t *testing.T) {
	for _, c := range []struct {
		one   string
		units int
	}{{"z", 1}, {"é", 1}, {"\U0001f697", 2}, {"_", 7}, {"\n", 7}, {"\x1f", 7}, {" ", 1}, {"\ufffe", 7}, {"\uffff", 7}, {"\ufffd", 1}} {
		n := MostText / c.units
		full := strings.Repeat(c.one, n)
		if got := Split(full); len(got) != 1 || got[0] != full {
			t.Errorf("%d of %q are %d pieces", n, c.one, len(got))
		}
		got := Split(full + c.one)
		if len(got) != 2 || got[0] != full || got[1] != c.one || !fills(got[0]) {
			t.Errorf("%d of %q are %d pieces, of which the first goes on: %t", n+1, c.one, len(got), fills(got[0]))
		}
		if fills(strings.Repeat(c.one, n-7)) {
			t.Errorf("%d of %q go on", n-7, c.one)
		}
	}
	if got := Split(""); len(got) != 1 || got[0] != "" {
		t.Errorf("nothing is %q", got)
	}
}

// TestWhatHangsOnTheProgram: a formula, a date and their like have no number and no
// text that every program would agree on.
func TestWhatHangsOnTheProgram(t *testing.T) {
	for kind, want := range map[Kind]string{
		Empty: "f: s!B3: is empty, expected a number", Text: "", Number: "", Formula: "f: s!B3: holds a formula, expected its value (copy it, paste the value)",
		Date: "f: s!B3: holds a date, expected a plain number", Percent: "f: s!B3: holds a percentage, expected a plain number",
		Boolean: "f: s!B3: holds a truth value, expected a plain number", Error: "f: s!B3: holds an error value, expected a plain number",
	} {
		r := &Reader{File: "f", Sheet: "s"}
		_, ok := r.Number(Cell{Text: " 1 ", Row: 3, At: 2, Kind: kind})
		got := ""
		if err := r.Err(); err != nil {
			got = err.Error()
		}
		if got != want || ok != (want == "") {
			t.Errorf("%s: %s, want %s", kind, got, want)
		}
		if r.Text(Cell{Text: "a", Kind: kind}); (len(r.Faults) > 1) != (kind > Number) {
			t.Errorf("%s as text: %v", kind, r.Err())
		}
	}
	for text, want := range map[string]string{"0": "", "7": "", "-1": "expected", "1.5": "expected", "9007199254740992": "expected", "9007199254740991": "", "x": "not a number"} {
		r := &Reader{File: "f", Sheet: "s"}
		r.Whole(Cell{Text: text, Kind: Number}, 0)
		if err := r.Err(); (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s as a whole number: %v, want %q", text, err, want)
		}
	}
	r := &Reader{File: "f", Sheet: "s"}
	if r.Text(Cell{Text: "a", Kind: Text}) != "a" || r.Full() {
		t.Error("a text is not read as it stands")
	}
	if r.Stop(); !r.Full() {
		t.Error("reading goes on")
	}
	d := NewDocument("f")
	if d.Open() || d.AwaitsCurve() {
		t.Error("a table is open before it began")
	}
	d.Begin(Cell{Row: 1})
	for _, c := range []struct {
		row  string
		want bool
	}{{"table,a", false}, {"unit,ms", false}, {"x,load,%", false}, {",1,2", true}, {",1,2", false}} {
		if d.Row(text(c.row)[0]); !d.Open() || d.AwaitsCurve() != c.want {
			t.Errorf("after %s a curve's values are awaited: %t", c.row, d.AwaitsCurve())
		}
	}
	if made, _ := d.End(); made == nil || d.Open() {
		t.Errorf("the table is not made: %v", d.Err())
	}
	d.Begin(Cell{Row: 1})
	d.Row(text("x,load,%")[0])
	d.Row(text("y,speed,V")[0])
	if d.Row(text(",1,2")[0]); d.AwaitsCurve() {
		t.Error("a map is taken for a curve")
	}
}
