package tables

import (
	"reflect"
	"testing"
)

// TestEveryMemberIsAField looks at the structs themselves: whoever gives one a
// member and forgets the field would have it neither compared nor merged, and
// written in no file.
func TestEveryMemberIsAField(t *testing.T) {
	everyMember(t, TableFields, "ID")
	everyMember(t, DocumentFields, "Tables")
	everyMember(t, EngineFields)
	everyMember(t, AxisFields)
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
	from := Contents{Engine: &Engine{Cylinders: 4, Strokes: 2, Extra: Extra{{"x-a", "1"}}}}
	was := &Engine{Cylinders: 6, Injectors: 6}
	to := Contents{Engine: was}
	DocumentFields.Take([]string{"engine.cylinders", "engine.x-a", "engine.horns"}, &to, &from)
	if want := (&Engine{Cylinders: 4, Injectors: 6, Extra: Extra{{"x-a", "1"}}}); !to.Engine.Equal(want) {
		t.Errorf("the engine has %s, want %s", to.Engine.Text(), want.Text())
	}
	if was.Cylinders != 6 || from.Engine.Text() != "cylinders 4, strokes 2, x-a 1" {
		t.Errorf("the engines that were are now %s and %s", was.Text(), from.Engine.Text())
	}
	none := Contents{}
	if DocumentFields.Take([]string{"engine.strokes"}, &to, &none); to.Engine.Strokes != 0 || none.Engine != nil {
		t.Error("a fact that is not given is not taken as such")
	}
	if _, ok := DocumentFields.Find("engine.horns"); ok {
		t.Error("an engine has no horns")
	}
}

// TestKept sets and takes away keys without touching the list that they were in.
func TestKept(t *testing.T) {
	was := Extra{{"x-b", "2"}, {"x-d", "4"}}
	e := was
	Kept{&e, "x-c"}.Set("3", true)
	Kept{&e, "x-b"}.Set("", false)
	Kept{&e, "x-a"}.Set("1", true)
	if want := (Extra{{"x-a", "1"}, {"x-c", "3"}, {"x-d", "4"}}); !e.Equal(want) {
		t.Errorf("kept are %v, want %v", e, want)
	}
	if !was.Equal(Extra{{"x-b", "2"}, {"x-d", "4"}}) {
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
