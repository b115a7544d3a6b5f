package tables

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// TestEveryMemberIsAField looks at the structs themselves: whoever gives one a
// member and forgets the field would have it neither compared nor merged, and
// written in no file.
func TestEveryMemberIsAField(t *testing.T) {
	everyMember(t, TableFields, "ID")
	everyMember(t, DocumentFields, "Tables")
	everyMember(t, EngineFields)
	everyMember(t, AxisFields, "Points")
}

func everyMember[T any](t *testing.T, all Fieldset[T], apart ...string) {
	t.Helper()
	var v T
	places := map[any]string{all.Extra(&v): "x-…"}
	for _, f := range all.Of(&v) {
		if at := f.At(&v); places[at] != "" {
			t.Errorf("%s stands where %s does", f.Name, places[at])
		}
		places[f.At(&v)] = f.Name
	}
	members := reflect.ValueOf(&v).Elem()
	for i := range members.NumField() {
		name := members.Type().Field(i).Name
		known := len(apart) > 0 && name == apart[0]
		if at := members.Field(i).Addr().Interface(); (places[at] != "") == known {
			t.Errorf("%T.%s: a field %t, apart from the fields %t", v, name, places[at] != "", known)
		}
	}
}

// TestFactOfADocument takes one fact over and leaves the engine that it came
// from, and the one that it went to, as they were.
func TestFactOfADocument(t *testing.T) {
	from := Contents{Engine: &Engine{Cylinders: 4, Strokes: 2, Extra: Extra{"x-a": "1"}}}
	was := &Engine{Cylinders: 6, Injectors: 6}
	to := Contents{Engine: was}
	DocumentFields.Take([]string{"engine.cylinders", "engine.x-a", "engine.horns"}, &to, &from)
	if want := (&Engine{Cylinders: 4, Injectors: 6, Extra: Extra{"x-a": "1"}}); !to.Engine.Equal(want) {
		t.Errorf("the engine has %s, want %s", to.Engine.Text(), want.Text())
	}
	if was.Cylinders != 6 || from.Engine.Text() != "cylinders 4, strokes 2, x-a 1" {
		t.Errorf("the engines that were are now %s and %s", was.Text(), from.Engine.Text())
	}
	none := Contents{}
	if DocumentFields.Take([]string{"engine.strokes"}, &to, &none); to.Engine.Strokes != 0 || none.Engine != nil {
		t.Error("a fact that is not given is not taken as such")
	}
	for _, name := range []string{"engine.horns", "cylinders", "horns"} {
		if _, ok := DocumentFields.Find(name); ok {
			t.Errorf("a document has a field %s", name)
		}
	}
	f, _ := DocumentFields.Find("engine.cylinders")
	six := Contents{Engine: &Engine{Cylinders: 6, Strokes: 2}}
	if f.Name != "engine.cylinders" || f.Same(&from, &six) || !f.Same(&Contents{Engine: was}, &six) || f.At(&six) != any(&six.Engine) {
		t.Error("a fact is compared and read as another one")
	}
}

// TestNames lists fields, finds them, and sorts their names: kept keys last, by
// their own names.
func TestNames(t *testing.T) {
	a, b := Fields{Extra: Extra{"x-c": "1"}}, Fields{Title: "t", Extra: Extra{"x-a": "1", "x-c": "1"}}
	var names []string
	for _, f := range TableFields.Of(&a, &b) {
		names = append(names, f.Name)
	}
	want := []string{"title", "role", "unit", "resolution", "limits", "notes", "x", "y", "values", "x-a", "x-c"}
	if !slices.Equal(names, want) || !slices.Equal(TableFields.Names(), want[:9]) {
		t.Errorf("the fields are %q", names)
	}
	slices.Reverse(names)
	if TableFields.Sort(names); !slices.Equal(names, want) {
		t.Errorf("sorted they are %q", names)
	}
	if got := TableFields.Different(&a, &b); !slices.Equal(got, []string{"title", "x-a"}) {
		t.Errorf("different are %q", got)
	}
	f, _ := TableFields.Find("title")
	if f.Take(&a, &b); a.Title != "t" {
		t.Error("a title is not taken over")
	}
	none, _ := TableFields.Find("x-none")
	empty, _ := TableFields.Find("x-c")
	if none.Same(&a, &Fields{Extra: Extra{"x-none": ""}}) || none.Given(&a) || !empty.Given(&a) {
		t.Error("a key without a value is taken for none")
	}
}

// TestFieldsInWords shows every kind of field as error lines do.
func TestFieldsInWords(t *testing.T) {
	x, err := AxisParts{"load", "%", []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13}, Extra{"x-a": "1"}}.Axis()
	if err != nil {
		t.Fatal(err)
	}
	f := Fields{Title: "a \"b\"", Role: Other, Resolution: 0.5, Limits: &Limits{-1, 1}, X: x, Values: []float64{1, 2}, Extra: Extra{"x-k": "\"v\""}}
	for name, want := range map[string][2]string{
		"title": {`"a \"b\""`, "nothing"}, "role": {`"other"`, "nothing"}, "unit": {`""`, `""`}, "resolution": {"0.5", "nothing"},
		"limits": {"-1 to 1", "nothing"}, "x": {"load [%] 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, … 13 in all, x-a 1", "no axis"},
		"y": {"no axis", "no axis"}, "values": {"2 values", "nothing"}, "x-k": {`"v"`, "nothing"},
	} {
		g, _ := TableFields.Find(name)
		if got := [2]string{g.Text(&f), g.Text(&Fields{})}; got != want {
			t.Errorf("%s is told as %q, want %q", name, got, want)
		}
	}
	c := Contents{Kind: Cells, Source: []Source{{}}, State: Extra{"a": "1", "b": "2"}}
	for name, want := range map[string]string{"source": "1 log", "state": "2 keys", "engine": "nothing"} {
		if g, _ := DocumentFields.Find(name); g.Text(&c) != want {
			t.Errorf("%s is told as %s, want %s", name, g.Text(&c), want)
		}
	}
	e := &Engine{Cylinders: 4, Displacement: &Measure{2.5, "L"}, RailPressure: &RailPressure{380, "kPa", Manifold}, Extra: Extra{"x-a": "1"}}
	if want := "cylinders 4, displacement 2.5 L, rail_pressure 380 kPa relative to manifold, x-a 1"; e.Text() != want {
		t.Errorf("the engine is told as %s, want %s", e.Text(), want)
	}
}

// TestNoFieldHoldsThat builds with one thing wrong at a time.
func TestNoFieldHoldsThat(t *testing.T) {
	bad := "\x00"
	for want, build := range map[string]func(f *Fields, e *Engine, c *Contents){
		"title": func(f *Fields, _ *Engine, _ *Contents) { f.Title = bad },
		"unit ": func(f *Fields, _ *Engine, _ *Contents) { f.Unit = bad },
		`notes is "\x00", expected clean UTF-8 text`: func(f *Fields, _ *Engine, _ *Contents) { f.Notes = bad },
		"there is no role":                           func(f *Fields, _ *Engine, _ *Contents) { f.Role = "no" },
		"resolution is -1, expected":                 func(f *Fields, _ *Engine, _ *Contents) { f.Resolution = -1 },
		"limits are 1 and 0":                         func(f *Fields, _ *Engine, _ *Contents) { f.Limits = &Limits{1, 0} },
		`key "x-a" holds`:                            func(f *Fields, _ *Engine, _ *Contents) { f.Extra = Extra{"x-a": ""} },
		"name":                                       func(_ *Fields, _ *Engine, c *Contents) { c.Name = bad },
		"source[0]: name":                            func(_ *Fields, _ *Engine, c *Contents) { c.Kind, c.Source = Cells, []Source{{Name: bad}} },
		"state: key":                                 func(_ *Fields, _ *Engine, c *Contents) { c.Kind, c.State = Cells, Extra{bad: "1"} },
		"source[0]: counts":                          func(_ *Fields, _ *Engine, c *Contents) { c.Kind, c.Source = Cells, []Source{{Rows: -1}} },
		"source[0]: counts of":                       func(_ *Fields, _ *Engine, c *Contents) { c.Kind, c.Source = Cells, []Source{{Kept: -1}} },
		"source[0]: counts of rows": func(_ *Fields, _ *Engine, c *Contents) {
			c.Kind, c.Source = Cells, []Source{{Dropped: []Dropped{{"cold", -1}}}}
		},
		"source[0]: reason": func(_ *Fields, _ *Engine, c *Contents) {
			c.Kind, c.Source = Cells, []Source{{Dropped: []Dropped{{"a", 1}, {"b", 1}, {"a", 1}}}}
		},
		"a calibration has no source":              func(_ *Fields, _ *Engine, c *Contents) { c.Source = []Source{{}} },
		"a calibration has no state":               func(_ *Fields, _ *Engine, c *Contents) { c.State = Extra{"k": "1"} },
		"engine cylinders is -1, expected a whole": func(_ *Fields, e *Engine, _ *Contents) { e.Cylinders = -1 },
		"engine injectors is 2147483648":           func(_ *Fields, e *Engine, _ *Contents) { e.Injectors = math.MaxInt32 + 1 },
		"engine strokes is 3, expected 2 or 4":     func(_ *Fields, e *Engine, _ *Contents) { e.Strokes = 3 },
		"engine stoich_afr is ":                    func(_ *Fields, e *Engine, _ *Contents) { e.StoichAFR = math.Inf(1) },
		"engine displacement is 0, expected":       func(_ *Fields, e *Engine, _ *Contents) { e.Displacement = &Measure{0, "L"} },
		"engine unit":                              func(_ *Fields, e *Engine, _ *Contents) { e.FuelDensity = &Measure{1, bad} },
		"engine rail_pressure is NaN":              func(_ *Fields, e *Engine, _ *Contents) { e.RailPressure = &RailPressure{math.NaN(), "kPa", Manifold} },
		"engine rail_pressure is +Inf, expected":   func(_ *Fields, e *Engine, _ *Contents) { e.RailPressure = &RailPressure{math.Inf(1), "kPa", Manifold} },
		"engine rail_pressure is relative":         func(_ *Fields, e *Engine, _ *Contents) { e.RailPressure = &RailPressure{380, "kPa", "sea"} },
		"engine rail_pressure is 1001 kPa":         func(_ *Fields, e *Engine, _ *Contents) { e.RailPressure = &RailPressure{1001, "kPa", Absolute} },
		`engine key "x-a" holds`:                   func(_ *Fields, e *Engine, _ *Contents) { e.Extra = Extra{"x-a": ""} },
	} {
		f, e, c := Fields{ID: "t", Unit: "g", Values: []float64{1}}, &Engine{}, Contents{}
		build(&f, e, &c)
		table, err := NewTable(f)
		if err == nil {
			c.Engine, c.Tables = e, []*Table{table}
			_, err = NewCalibration(c)
		}
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}

// TestFieldsMayHoldThat builds with what is nearly wrong.
func TestFieldsMayHoldThat(t *testing.T) {
	for _, c := range []Contents{
		{Engine: &Engine{Strokes: 2, RailPressure: &RailPressure{MaxRailPressure, "kPa", Absolute}}},
		{Engine: &Engine{Strokes: 4, RailPressure: &RailPressure{0, "kPa", Manifold}}},
		{Engine: &Engine{Injectors: math.MaxInt32, RailPressure: &RailPressure{380, "kPa", Atmosphere}}},
		{Kind: Cells, Source: []Source{{Dropped: []Dropped{{"cold", 0}, {"fast", 0}}}}, State: Extra{"k": "1"}},
	} {
		if _, err := NewCalibration(c); err != nil {
			t.Error(err)
		}
	}
	if c, err := NewCalibration(Contents{Engine: &Engine{}}); err != nil || c.Engine() != nil {
		t.Errorf("an engine without facts is %v, %v", c.Engine(), err)
	}
}

// TestKept sets and takes away keys without touching the list that they were in.
func TestKept(t *testing.T) {
	was := Extra{"x-b": "2", "x-d": "4"}
	e := was
	Kept{&e, "x-c"}.Set("3", true)
	Kept{&e, "x-b"}.Set("", false)
	Kept{&e, "x-a"}.Set("1", true)
	if want := (Extra{"x-a": "1", "x-c": "3", "x-d": "4"}); !e.Equal(want) {
		t.Errorf("kept are %v, want %v", e, want)
	}
	if (Kept{&e, "x-c"}).Set("", false); len(e) != 2 {
		t.Errorf("kept are %v, want two keys", e)
	}
	for key := range e {
		Kept{&e, key}.Set("", false)
	}
	if e != nil {
		t.Errorf("kept are %v, want none at all", e)
	}
	if !was.Equal(Extra{"x-b": "2", "x-d": "4"}) {
		t.Errorf("the list that was is now %v", was)
	}
}

// TestNoEngine holds no engine and one without facts to be the same, as no
// file tells them apart.
func TestNoEngine(t *testing.T) {
	var none *Engine
	if !none.Equal(&Engine{}) || !(&Engine{}).Equal(none) || none.Equal(&Engine{Strokes: 2}) || none.Text() != "nothing" {
		t.Error("no engine is not an engine without facts")
	}
}

// TestWithin: a field of something that another type has is the same field there.
func TestWithin(t *testing.T) {
	type owner struct{ engine *Engine }
	of, _ := EngineFields.Find("strokes")
	f := within(of, func(o *owner) *Engine { return o.engine })
	two, four, none := &owner{&Engine{Strokes: 2}}, &owner{&Engine{Strokes: 4}}, &owner{&Engine{}}
	if f.Name != "strokes" || f.Same(two, four) || !f.Same(two, two) || f.Given(none) || !f.Given(two) || f.Text(four) != "4" || f.At(two) != any(&two.engine.Strokes) {
		t.Error("a field of an engine is another one within its owner")
	}
	if _, wrong := f.Wrong(&owner{&Engine{Strokes: 3}}, true); wrong != "strokes is 3, expected 2 or 4" {
		t.Error(wrong)
	}
	if f.Take(none, two); none.engine.Strokes != 2 {
		t.Error("it is not taken over")
	}
	if _, wrong := (Field[owner]{}).Wrong(two, false); wrong != "" {
		t.Error(wrong)
	}
}

// TestThousands: counts as people read them.
func TestThousands(t *testing.T) {
	for n, want := range map[int]string{0: "0", 999: "999", 1000: "1,000", 52031: "52,031", 1234567: "1,234,567"} {
		if got := Thousands(n); got != want {
			t.Errorf("%d: %s", n, got)
		}
	}
}
