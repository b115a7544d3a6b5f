package grid

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

func spec(a *tables.Axis) *tables.AxisParts {
	if a == nil {
		return nil
	}
	return &tables.AxisParts{Quantity: a.Quantity(), Unit: a.Unit()}
}

// of is what a grid with some axes is to become, of which the points are known, or nil.
func of(points ...[]float64) (w wanted) {
	for i, p := range points {
		w.axes[i] = &tables.AxisParts{Points: p}
	}
	return w
}

// lawIdentity: what is given and taken again is the same table to the bit, with
// its breakpoints or without, in commas and in tabs, and taken into its own
// document it leaves that unchanged.
func lawIdentity(t *rapid.T) {
	s := tabletest.Rapid(t)
	table := tabletest.Table(s, "a", false)
	doc := tabletest.Must(tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}}))
	for _, d := range []Dress{{Comma: ','}, {Comma: '\t'}, {Comma: ';', Decimal: ','}, {Comma: '\t', Decimal: ','}} {
		for _, valuesOnly := range []bool{false, true} {
			var b bytes.Buffer
			d.ValuesOnly = valuesOnly
			if err := Write(&b, table, d); err != nil {
				t.Fatal(err)
			}
			raw, err := Read(b.Bytes(), "grid", d.Decimal)
			if err != nil {
				t.Fatalf("%v\n%q", err, b.Bytes())
			}
			for what, order := range map[string]Order{
				"into its own document": {ID: "a", Into: doc},
				"like itself":           {ID: "a", Into: doc, Like: table},
			} {
				got, _, err := order.Take(raw)
				if err != nil {
					t.Fatalf("%s: %v\n%q", what, err, b.Bytes())
				}
				if !got.Equal(doc) {
					t.Fatalf("%s: another document from\n%s", what, b.Bytes())
				}
			}
			if valuesOnly {
				continue
			}
			order := Order{ID: "a", Unit: table.Unit(), UnitSet: true, X: spec(table.X()), Y: spec(table.Y())}
			got, _, err := order.Take(raw)
			if err != nil {
				t.Fatalf("%v\n%q", err, b.Bytes())
			}
			n := got.Table("a")
			if !tables.SameBits(n.Values(), table.Values()) || !n.X().SamePoints(table.X()) || !n.Y().SamePoints(table.Y()) {
				t.Fatalf("another table from\n%s", b.Bytes())
			}
		}
	}
}

func TestIdentity(t *testing.T) { rapid.Check(t, lawIdentity) }
func FuzzIdentity(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawIdentity)) }

// TestOtherHands reads one grid from many hands.
func TestOtherHands(t *testing.T) {
	utf16 := func(s string) string {
		out := "\xff\xfe"
		for _, c := range s {
			out += string([]byte{byte(c), byte(c >> 8)})
		}
		return out
	}
	for _, c := range []struct{ text, why string }{
		{",600,1200.5\n20,1,-2.5\n", "commas"},
		{"\t600\t1200.5\n20\t1\t-2.5\n", "tabs"},
		{";600;1200,5\r\n20;1;-2,5\r\n", "semicolons, decimal commas, CRLF"},
		{"\ufeff\t600\t1200,5\n20\t1\t-2,5", "a byte-order mark, no line end at the end"},
		{"mg/\xb0C\t600\t1200.5\n20\t1\t-2.5\n", "a degree sign in Windows-1252"},
		{utf16("°C\t600\t1200.5\r\n20\t1\t-2.5\r\n"), "UTF-16 from the clipboard"},
		{"\t\u00a0600\t1200.5\u202f\n20\t 1 \t-2.5\n", "blanks that do not break"},
		{"\t600\t1200.5\n20\t1°\t\u22122.5°\n", "degree signs and a real minus"},
		{"\"rpm \\ mg\"\t\"600\"\t1200.5\n20\t1\t-2.5\n", "quotes"},
		{"5\" pipe\t600\t1200.5\n20\t1\t-2.5\n", "a corner with a quote in it"},
		{"600\t1200.5\n20\t1\t-2.5\n", "no corner at all"},
		{"\n\n\t600\t1200.5\t\t\n20\t1\t-2.5\t\t\n\t\t\t\n", "empty rows and columns around it"},
		{"\t\t600\t1200.5\n\t20\t1\t-2.5\n", "an empty column before it"},
		{"\"\",\"600\",\"1200,5\"\n\"20\",\"1\",\"-2,5\"\n", "commas, and decimal commas in quotes"},
		{"\t600\t+1.2005e3\n20\t1\t-25e-1\n", "exponents"},
	} {
		raw, err := Read([]byte(c.text), "grid", 0)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		g, err := raw.Shape(of(nil, nil))
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		if !tables.SameBits(g.Points[0], []float64{600, 1200.5}) || !tables.SameBits(g.Points[1], []float64{20}) || !tables.SameBits(g.Values, []float64{1, -2.5}) {
			t.Errorf("%s: %v", c.why, g)
		}
	}
}

// TestDecimal decides by the whole grid, and refuses where that does not.
func TestDecimal(t *testing.T) {
	for _, c := range []struct {
		text    string
		decimal byte
		want    []float64 // nil where it is refused
		why     string
	}{
		{"1,234\t2,5", 0, []float64{1.234, 2.5}, "a comma before one digit decides for both"},
		{"1,234\t0,500", 0, []float64{1.234, 0.5}, "a zero before the comma decides"},
		{"1,234\t2,500", 0, nil, "all of it may be thousands"},
		{"1,234\t2,500", ',', []float64{1.234, 2.5}, "a person said that it is decimal"},
		{"1,234\t2.5", '.', nil, "a person said that the point is decimal"},
		{"1.234;2.500", 0, nil, "points between semicolons may be thousands"},
		{"1.234;2.500", '.', []float64{1.234, 2.5}, "a person said that they are decimal"},
		{"1.234\t2.500", 0, []float64{1.234, 2.5}, "points between tabs are what this program gives"},
		{"1,234,5", 0, []float64{1, 234, 5}, "commas stand between cells where nothing else does"},
		{"1,5\n", ',', []float64{1.5}, "but for one that a person calls decimal"},
		{`"1,5",2`, 0, []float64{1.5, 2}, "and for those in quotes"},
		{`"1,500","2,25"`, 0, []float64{1.5, 2.25}, "in quotes, and another decides"},
		{`"1,500","2,250"`, 0, nil, "in quotes all of it may be thousands"},
		{`"1,500",2.5`, 0, nil, "in quotes, beside a point"},
		{`"1,500","2,250"`, ',', []float64{1.5, 2.25}, "in quotes, and a person said that it is decimal"},
		{`2,"2,250"`, ',', []float64{2, 2.25}, "one in quotes, and a person said that it is decimal"},
		{`"1,500","2,250"`, '.', nil, "in quotes, and a person said that the point is decimal"},
		{"1.234,2.500", 0, []float64{1.234, 2.5}, "points between commas are what this program gives"},
		{"1.234.567\t1", 0, nil, "two points"},
		{"12 345\t1", 0, nil, "a blank between digits"},
		{"12\u00a0345\t1", 0, nil, "a blank that does not break between digits"},
		{"12'345\t1", 0, nil, "an apostrophe between digits"},
	} {
		raw, err := Read([]byte(c.text), "grid", c.decimal)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		x := make([]float64, raw.columns())
		for i := range x {
			x[i] = float64(i)
		}
		w := of(x)
		if len(x) == 1 {
			w = wanted{}
		}
		g, err := raw.Shape(w)
		switch {
		case c.want == nil && err == nil:
			t.Errorf("%s: read as %v", c.why, g.Values)
		case c.want != nil && err != nil:
			t.Errorf("%s: %v", c.why, err)
		case c.want != nil && !tables.SameBits(g.Values, c.want):
			t.Errorf("%s: %v, want %v", c.why, g.Values, c.want)
		}
	}
}

// TestPointsAreSaid says that points are read as decimal where all of them may
// separate thousands, and nothing where one of them or a person decides.
func TestPointsAreSaid(t *testing.T) {
	for _, c := range []struct {
		text    string
		decimal byte
		want    string
		why     string
	}{
		{"1.000\t2.000\n", 0, `grid:1:1: numbers such as "1.000" are read with decimal points: --decimal . if they are`, "all may separate thousands"},
		{"1\t2.000\n", 0, `grid:1:3: numbers such as "2.000"`, "a number without a mark does not decide"},
		{"1.000\t2.5\n", 0, "", "one digit decides"},
		{"1.000\t0.500\n", 0, "", "a zero before the point decides"},
		{"1.000\t2.000\n", '.', "", "a person decides"},
		{"1.000,2.000\n", 0, "", "commas stand between cells where points are decimal"},
		{"1\t2\n", 0, "", "no points"},
	} {
		raw, err := Read([]byte(c.text), "grid", c.decimal)
		if err != nil {
			t.Fatal(err)
		}
		g, err := raw.Shape(of([]float64{1, 2}))
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
		} else if got := strings.Join(g.Notes, "\n"); (c.want == "") != (got == "") || !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: said %q, want %q", c.why, got, c.want)
		}
	}
}

// TestOneBreakpoint: a row of two cells is a breakpoint and its value where one is known,
// and never a line of headings over nothing.
func TestOneBreakpoint(t *testing.T) {
	for text, want := range map[string]string{
		"5\t7\n": "",
		"6\t7\n": "grid:1:1: the grid's breakpoint is 6, --x gives 5",
		"a\tb\n": "grid:1:1: \"a\" is not a number\ngrid:1:3: \"b\" is not a number",
	} {
		raw, err := Read([]byte(text), "grid", 0)
		if err != nil {
			t.Fatal(err)
		}
		g, err := raw.Shape(of([]float64{5}))
		if (err == nil) != (want == "") || err != nil && err.Error() != want || err == nil && !tables.SameBits(g.Values, []float64{7}) {
			t.Errorf("%q: %+v, %v, want %q", text, g, err, want)
		}
	}
}

// TestSizes: a grid of another size than was wanted is refused with both.
func TestSizes(t *testing.T) {
	ten, twenty := []float64{10}, []float64{10, 20}
	for _, c := range []struct {
		why, text string
		of        wanted
		want      string
	}{
		{"a row for one number", "1\t2\n", of(), "the grid has 1 row of 2 cells, expected one number: a curve or a map needs --x, or --like"},
		{"a column for one number", "1\n2\n", of(), "the grid has 2 rows of 1 cell, expected one number: a curve or a map needs --x, or --like"},
		{"a row of no known curve", "1\t2\t3\n", of(nil), "the grid has 1 row of 3 cells, expected breakpoints above the values, or --x 'quantity [unit]: 1,2,…'"},
		{"a row too long for a curve", "1\t2\t3\n", of(twenty), "the grid has 1 row of 3 cells, expected 2 values"},
		{"three rows for a curve", "1\t2\t3\n4\t5\t6\n7\t8\t9\n", of(nil), "the grid has 3 rows of 3 cells, expected two rows or two columns for a curve (a map needs --y too)"},
		{"a map for a curve", "\t2\t3\n4\t5\t6\n", of(nil), `found "4" before a curve's values, expected nothing: a map needs --y too`},
		{"a row of no known map", "1\t2\n", of(nil, nil), "the grid has 1 row of 2 cells, expected x in the first row and y in the first column"},
		{"a column of no known map", "1\n2\n", of(nil, nil), "the grid has 2 rows of 1 cell, expected x in the first row and y in the first column"},
		{"a row less than a known map", "1\t2\n", of(twenty, twenty), "the grid has 1 row of 2 cells, expected 2 rows of 2 values, or one row and one column of breakpoints more"},
		{"other breakpoints of x", "\t10\t21\n10\t1\t2\n", of(twenty, ten), "the grid's breakpoint is 21, --x gives 20"},
		{"other breakpoints of y", "\t10\t20\n11\t1\t2\n", of(twenty, ten), "the grid's breakpoint is 11, --y gives 10"},
		{"breakpoints of another number", "10\t20\t30\n1\t2\t3\n", of(twenty), "the grid has 3 breakpoints, --x gives 2"},
	} {
		raw, err := Read([]byte(c.text), "grid", 0)
		if err != nil {
			t.Fatal(err)
		}
		if g, err := raw.Shape(c.of); err == nil || !strings.HasSuffix(err.Error(), ": "+c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, %v, want %s", c.why, g, err, c.want)
		}
	}
}

// TestCurveShapes takes a curve in every way that people lay one out.
func TestCurveShapes(t *testing.T) {
	for _, c := range []struct{ text, why string }{
		{",8,10,12\n,3,2,1\n", "as it is given"},
		{"8,10,12\n3,2,1\n", "two rows"},
		{"V,8,10,12\nms,3,2,1\n", "two rows with headings"},
		{"8\t3\n10\t2\n12\t1\n", "two columns"},
		{"V\tms\n8\t3\n10\t2\n12\t1\n", "two columns with headings"},
	} {
		raw, err := Read([]byte(c.text), "grid", 0)
		if err != nil {
			t.Fatal(err)
		}
		g, err := raw.Shape(of(nil))
		if err != nil || !tables.SameBits(g.Points[0], []float64{8, 10, 12}) || !tables.SameBits(g.Values, []float64{3, 2, 1}) {
			t.Errorf("%s: %v %v", c.why, g, err)
		}
	}
}

// TestCommaOfWhat: a comma between digits is read one way or not at all. Where the rows
// are as many as the values wanted, it may be a decimal mark or stand between a
// breakpoint and its value; the known breakpoints, another mark or --decimal tell.
func TestCommaOfWhat(t *testing.T) {
	three, one := []float64{8, 10, 12}, []float64{8}
	for _, c := range []struct {
		text    string
		decimal byte
		of      wanted
		points  []float64
		values  []float64 // nil where it is refused
	}{
		{"28,6\n29,7\n31,1\n", 0, of(three), nil, nil},
		{"28,6\n29,7\n31,1\n", ',', of(three), three, []float64{28.6, 29.7, 31.1}},
		{"28,6\n29,7\n31,1\n", '.', of(three), []float64{28, 29, 31}, []float64{6, 7, 1}},
		{"28,6\n29,7\n31,-1\n", 0, of(three), []float64{28, 29, 31}, []float64{6, 7, -1}},
		{"28.5,6\n29,7\n31,1\n", 0, of(three), []float64{28.5, 29, 31}, []float64{6, 7, 1}},
		{"28\t6\n29\t7\n31\t1\n", 0, of(three), []float64{28, 29, 31}, []float64{6, 7, 1}},
		{"8,6\n10,7\n12,1\n", 0, of(three), three, []float64{6, 7, 1}},
		{"4,5\n0,1\n", 0, of([]float64{4, 5}), []float64{4, 5}, []float64{0, 1}}, {"4,6\n0,1\n", 0, of([]float64{4, 5}), nil, nil},
		{"28,6\n29,7\n31,1\n32,0\n", 0, of(three), []float64{28, 29, 31, 32}, []float64{6, 7, 1, 0}},
		{"28,6\n29,7\n31,1\n", 0, of(nil), []float64{28, 29, 31}, []float64{6, 7, 1}},
		{"-2,6\n", 0, of(one), nil, nil}, {"-2,6\n", ',', of(one), one, []float64{-2.6}},
		{"0,45\n", 0, of(), nil, nil}, {"0,45\n", ',', of(), nil, []float64{0.45}},
	} {
		raw, err := Read([]byte(c.text), "grid", c.decimal)
		if err != nil {
			t.Fatal(err)
		}
		c.of.either = true
		g, err := raw.Shape(c.of)
		switch {
		case c.values == nil && (err == nil || !strings.Contains(err.Error(), "--decimal ,")):
			t.Errorf("%q: %v %v, want --decimal", c.text, g, err)
		case c.values != nil && (err != nil || !tables.SameBits(g.Values, c.values) || !slices.Equal(g.Points[0], c.points)):
			t.Errorf("%q: %v %v, want %v at %v", c.text, g, err, c.values, c.points)
		}
	}
}

// TestRaggedRows: the few rows that differ from the many are told, whether they
// are longer or shorter.
func TestRaggedRows(t *testing.T) {
	for text, want := range map[string]string{
		"1\t2\t3\t4\n1\t2\t3\n1\t2\t3\n":       "grid:1:7: row has 4 cells, the others have 3",
		"1\t2\t3\n1\t2\t3\t9\n1\t2\t3\n":       "grid:2:7: row has 4 cells, the others have 3",
		"1\t2\t3\n1\t2\t3\n1\t2\n":             "grid:3:3: row has 2 cells, the others have 3",
		"1\t2\n1\t2\t3\n":                      "",
		"1\t2\n1\t2\t3\n1\t2\t3\n1\t2\t3\n":    "",
		"1\t2\t3\n1\t2\n":                      "grid:2:3: row has 2 cells, the others have 3",
		"1\t2\n1\t2\t3\t4\n1\t2\t3\n1\t2\t3\n": "grid:2:7: row has 4 cells, the others have 3",
		"1\t2\t3\t4\n1\t2\t3\n1\t2\t3\n1\t2\n": "grid:1:7: row has 4 cells, the others have 3\ngrid:4:3: row has 2 cells, the others have 3",
		"1\t2\t3\t\n1\t2\t3\t\n1\t2\t3\t\t\n":  "",
	} {
		_, err := Read([]byte(text), "grid", 0)
		if (err == nil) != (want == "") || err != nil && err.Error() != want {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// TestLikeShapes tells values alone from values with breakpoints of their own,
// where a map's breakpoints are known but not binding.
func TestLikeShapes(t *testing.T) {
	x, y := []float64{600, 1200, 2000}, []float64{10, 20, 30}
	for _, c := range []struct {
		text   string
		gx, gy []float64 // nil where it is refused
		want   string    // what is said, or the refusal
		why    string
	}{
		{"1\t2\t1\n4\t5\t6\n7\t8\t9\n", x, y, "", "the known size"},
		{"1\t2\t3\n4\t5\t6\n7\t8\t9\n", x, y, "", "the known size, and rising, but far from the known breakpoints"},
		{"1\t700\t900\n15\t5\t6\n25\t8\t9\n", x, y, "grid:1:1: read as values alone", "the known size, but could be breakpoints"},
		{"\t700\t900\n10\t5\t6\n20\t8\t9\n", []float64{700, 900}, []float64{10, 20}, "", "the known size with an empty corner"},
		{"mg\t700\t900\n10\t5\t6\n20\t8\t9\n", []float64{700, 900}, []float64{10, 20}, "", "the known size with text in the corner"},
		{"\t700\t600\n10\t5\t6\n20\t8\t9\n", nil, nil, "breakpoint 1 is 600, not above", "an empty corner is never filled"},
		{"11\t12\n13\t14\n", nil, nil, "grid:1:1: the grid has 2 rows of 2 cells, expected 3 rows of 3 values as the table has, or breakpoints in the first row and column, which an empty corner, or --x and --y, make sure", "values of another size"},
		{"1\t2\t3\t4\n10\t5\t6\t7\n20\t8\t9\t8\n30\t8\t9\t8\n", nil, nil, "the grid has 4 rows of 4 cells", "x nowhere near the known one"},
		{"1\t700\t900\n60\t5\t6\n", nil, nil, "the grid has 2 rows of 3 cells", "y nowhere near the known one"},
		{"1\t2\t3\n", nil, nil, "the grid has 1 row of 3 cells, expected 3 rows of 3 values", "a row"},
		{"0\t700\t900\n15\t5\t6\n", []float64{700, 900}, []float64{15}, "", "a number in the corner and plausible breakpoints"},
		{"0\t900\t700\n15\t5\t6\n", nil, nil, "breakpoint 1 is 700, not above", "a number in the corner and a slip in plausible breakpoints"},
		{"\t1\t2\n3\t5\t6\n", []float64{1, 2}, []float64{3}, "", "an empty corner makes any breakpoints sure"},
	} {
		raw, err := Read([]byte(c.text), "grid", 0)
		if err != nil {
			t.Fatal(err)
		}
		g, err := raw.Shape(wanted{axes: of(x, y).axes, either: true})
		switch {
		case c.gx == nil && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v %v, want %s", c.why, g, err, c.want)
		case c.gx == nil:
		case err != nil || !tables.SameBits(g.Points[0], c.gx) || !tables.SameBits(g.Points[1], c.gy):
			t.Errorf("%s: %v %v", c.why, g, err)
		case (c.want == "") != (len(g.Notes) == 0), !strings.Contains(strings.Join(g.Notes, "\n"), c.want):
			t.Errorf("%s: said %q", c.why, g.Notes)
		}
	}
}

func TestParseAxis(t *testing.T) {
	for _, c := range []struct {
		text, quantity, unit string
		points               []float64
		bad                  string
	}{
		{"engine speed [r/min]", "engine speed", "r/min", nil, ""},
		{" engine speed[r/min] ", "engine speed", "r/min", nil, ""},
		{"air flow [[lb_av]/h]", "air flow", "[lb_av]/h", nil, ""},
		{"engine speed [r/min]: 600, 800,1200", "engine speed", "r/min", []float64{600, 800, 1200}, ""},
		{"air flow [[lb_av]/h]: 1,2", "air flow", "[lb_av]/h", []float64{1, 2}, ""},
		{"load", "load", "", nil, ""},
		{"load: 1,2", "load", "", []float64{1, 2}, ""},
		{"load [%", "", "", nil, "not in pairs"},
		{"load [[lb_av]: 1,2", "", "", nil, "not in pairs"},
		{"load ]%[", "", "", nil, "not in pairs"},
		{"load [%]]", "", "", nil, "not in pairs"},
		{"[%]", "", "", nil, "names no quantity"},
		{"load [%] 1,2", "", "", nil, "expected ':'"},
		{"load [%]: 2,1", "", "", nil, "not above"},
		{"load [%]: 1,two", "", "", nil, "not a number"},
	} {
		a, err := ParseAxis(c.text)
		if c.bad != "" {
			if err == nil || !strings.Contains(err.Error(), c.bad) {
				t.Errorf("%q: %v, want %q", c.text, err, c.bad)
			}
			continue
		}
		if err != nil || a.Quantity != c.quantity || a.Unit != c.unit || !tables.SameBits(a.Points, c.points) {
			t.Errorf("%q: %+v %v", c.text, a, err)
		}
	}
}

// FuzzRead feeds the reader anything; what it refuses it refuses with a place.
func FuzzRead(f *testing.F) {
	f.Add([]byte(",600,700\n20,1,2\n"), byte(0))
	f.Add([]byte("\xff\xfe1\x00"), byte(','))
	f.Add([]byte("rpm\t6\xb0\n1,000\t2"), byte('.'))
	f.Fuzz(func(t *testing.T, data []byte, decimal byte) {
		if decimal != '.' && decimal != ',' {
			decimal = 0
		}
		raw, err := Read(data, "fuzz", decimal)
		for _, w := range []wanted{{}, of(nil), of(nil, nil), of([]float64{1, 2})} {
			if err == nil {
				_, err = raw.Shape(w)
			}
			if err != nil && !errors.As(err, new(*tables.Fault)) && !errors.As(err, new(tables.Faults)) {
				t.Fatalf("an error without a place: %v", err)
			}
			err = nil
			if raw == nil {
				return
			}
		}
	})
}

// TestLargestGrid: a grid past the bound on what is read is refused in one line.
func TestLargestGrid(t *testing.T) {
	tables.SetMax(1<<20, 0)
	defer tables.SetMax(tables.DefaultMaxBytes, 0)
	for n, refused := range map[int]bool{1 << 20: false, 1<<20 + 1: true} {
		_, err := Read([]byte("1,2\n"+strings.Repeat("\n", n-4)), "g.csv", 0)
		if (err != nil) != refused || refused && err.Error() != "g.csv: "+tables.TooManyBytes() {
			t.Errorf("%d bytes: %v", n, err)
		}
	}
}
