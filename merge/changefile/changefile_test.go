package changefile_test

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"

	jsonpatch "github.com/evanphx/json-patch/v5"
	"pgregory.net/rapid"
)

type failer interface{ Fatalf(string, ...any) }

// pair is two documents and what differs between them, with evidence here and
// there.
func pair(s tabletest.Source) (a, b *tables.Calibration, cs *merge.ChangeSet) {
	make := tabletest.Document
	if s.N(3) == 0 {
		make = tabletest.Cells
	}
	a, b = make(s), make(s)
	if s.N(2) == 0 {
		b = near(s, a)
	}
	cs = merge.Diff(a, b)
	cs.Title, cs.MadeBy = tabletest.Text(s), tabletest.Text(s)
	cs.Extra = tabletest.Extra(s)
	cs.LeftOut = s.N(3)
	for range s.N(3) {
		cs.Cautions = append(cs.Cautions, tabletest.Text(s))
	}
	why := func() *merge.Evidence {
		if s.N(2) == 0 {
			return nil
		}
		return &merge.Evidence{Count: s.N(1000), Visits: s.N(50), Mean: tabletest.Number(s),
			SE: tabletest.Pick(s, []float64{0.18, math.NaN()}), Unit: "%", Note: tabletest.Text(s)}
	}
	for i := range cs.Edits {
		switch e := cs.Edits[i].(type) {
		case *merge.CellEdit:
			e.Why = why()
		case *merge.FieldEdit:
			if e.Table != "" && !e.Of(merge.WholeTable) {
				e.Why = why()
			}
		}
	}
	return a, b, cs
}

// near is a document with a few of its cells changed and its tables turned.
func near(s tabletest.Source, a *tables.Calibration) *tables.Calibration {
	c := a.Contents()
	c.Tables = append([]*tables.Table(nil), c.Tables...)
	for i, t := range c.Tables {
		values := append([]float64(nil), t.Values()...)
		for range s.N(4) {
			values[s.N(len(values))] = tabletest.Number(s)
		}
		c.Tables[i] = tabletest.Must(t.WithValues(values))
	}
	if n := len(c.Tables); n > 1 && s.N(2) == 0 {
		c.Tables = append(c.Tables[1:], c.Tables[0])
	}
	return tabletest.Must(tables.NewCalibration(c))
}

// lawJSON: what is written reads back as the same edits, and writes the same
// bytes again.
func lawJSON(t failer, s tabletest.Source) {
	a, b, cs := pair(s)
	var first, second bytes.Buffer
	if err := changefile.WriteJSON(&first, cs); err != nil {
		t.Fatalf("write: %v", err)
	}
	again, err := changefile.ParseJSON(first.Bytes(), "first")
	if err != nil {
		t.Fatalf("read back: %v\n%s", err, first.Bytes())
	}
	if err := changefile.WriteJSON(&second, again); err != nil || second.String() != first.String() {
		t.Fatalf("writing again gives other bytes: %v\n%s\nand\n%s", err, first.Bytes(), second.Bytes())
	}
	applies(t, a, b, again, first.Bytes())
}

// lawCSV: the CSV spelling carries every byte that JSON does.
func lawCSV(t failer, s tabletest.Source) {
	_, _, cs := pair(s)
	var first, second bytes.Buffer
	if err := changefile.WriteCSV(&first, cs); err != nil {
		t.Fatalf("write: %v", err)
	}
	again, cautions, err := changefile.ParseCSV(first.Bytes(), "first")
	if err != nil || len(cautions) > 0 {
		t.Fatalf("read back: %v %q\n%s", err, cautions, first.Bytes())
	}
	if spelled(cs) != spelled(again) {
		t.Fatalf("reads back as another change set:\n%s\nwant\n%s\nfrom\n%s", spelled(again), spelled(cs), first.Bytes())
	}
	if changefile.WriteCSV(&second, again); second.String() != first.String() {
		t.Fatalf("writing again gives other bytes")
	}
}

func spelled(cs *merge.ChangeSet) string {
	var b bytes.Buffer
	if err := changefile.WriteJSON(&b, cs); err != nil {
		return err.Error()
	}
	return b.String()
}

// applies checks that a change set that went through a file still turns a into
// b and back, to the byte.
func applies(t failer, a, b *tables.Calibration, cs *merge.ChangeSet, file []byte) {
	got, err := merge.ApplyWith(a, cs, merge.ApplyOptions{BeyondLimits: true})
	if err != nil || canonical(got.Document) != canonical(b) {
		t.Fatalf("apply gives another document: %v\n%s", err, file)
	}
	if back, err := merge.Apply(b, cs.Reverse()); err != nil || canonical(back) != canonical(a) {
		t.Fatalf("undo gives another document: %v\n%s", err, file)
	}
}

func canonical(c *tables.Calibration) string {
	var b bytes.Buffer
	if err := tablejson.Write(&b, c); err != nil {
		return err.Error()
	}
	return b.String()
}

// lawPatch: an independent library (evanphx/json-patch) that applies the patch
// to the canonical JSON gives the edited document, and refuses a document that
// does not hold what the patch expects.
func lawPatch(t failer, s tabletest.Source) {
	a, b, cs := pair(s)
	var text bytes.Buffer
	if err := changefile.WritePatch(&text, a, cs); err != nil {
		t.Fatalf("write: %v", err)
	}
	if bytes.Contains(text.Bytes(), []byte("null")) {
		return // the library's own test of a null inside a list fails on a nil pointer
	}
	patch, err := jsonpatch.DecodePatch(text.Bytes())
	if err != nil {
		t.Fatalf("not a patch: %v\n%s", err, text.Bytes())
	}
	out, err := patch.Apply([]byte(canonical(a)))
	if err != nil {
		t.Fatalf("not applied: %v\n%s\nto\n%s", err, text.Bytes(), canonical(a))
	}
	got, err := tablejson.Parse(out, "patched")
	if err != nil || canonical(got) != canonical(b) {
		t.Fatalf("patched into another document: %v\n%s\nwant\n%s\npatch\n%s", err, out, canonical(b), text.Bytes())
	}
	for i, op := range patch {
		if kind := op.Kind(); (kind == "replace" || kind == "remove") && (i == 0 || patch[i-1].Kind() != "test") {
			t.Fatalf("operation %d, %s, has no test before it\n%s", i, kind, text.Bytes())
		}
	}
}

// lawPatchElsewhere: the library refuses a document whose tables stand in
// another order, and one in which a breakpoint of an edited table is another.
func lawPatchElsewhere(t failer, s tabletest.Source) {
	a := tabletest.Document(s)
	b := near(s, a)
	var text bytes.Buffer
	if err := changefile.WritePatch(&text, a, merge.Diff(a, b)); err != nil {
		t.Fatalf("write: %v", err)
	}
	patch, err := jsonpatch.DecodePatch(text.Bytes())
	if err != nil || bytes.Contains(text.Bytes(), []byte("null")) || !bytes.Contains(text.Bytes(), []byte("/values")) {
		return
	}
	c := a.Contents()
	for i, old := range a.Tables() {
		f := old.Fields()
		if f.X == nil || slices.Equal(old.Values(), b.Table(f.ID).Values()) {
			continue
		}
		points := slices.Clone(f.X.Points())
		points[len(points)-1] = math.Nextafter(points[len(points)-1], math.Inf(1))
		f.X = tabletest.Must(f.X.WithPoints(points))
		c.Tables = slices.Clone(a.Tables())
		c.Tables[i] = tabletest.Must(tables.NewTable(f))
		if _, err := patch.Apply([]byte(canonical(tabletest.Must(tables.NewCalibration(c))))); err == nil {
			t.Fatalf("a breakpoint of %s moved, and the patch applies\n%s", f.ID, text.Bytes()) // promise: an edit lands on its breakpoints or nowhere
		}
	}
	if n := len(a.Tables()); n > 1 {
		c.Tables = append(slices.Clone(a.Tables()[1:]), a.Tables()[0])
		if _, err := patch.Apply([]byte(canonical(tabletest.Must(tables.NewCalibration(c))))); err == nil {
			t.Fatalf("tables in another order, and the patch applies\n%s", text.Bytes())
		}
	}
}

func TestLaws(t *testing.T) {
	for name, law := range map[string]func(failer, tabletest.Source){"JSON": lawJSON, "CSV": lawCSV, "patch": lawPatch, "patch elsewhere": lawPatchElsewhere} {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(1000) {
				law(t, tabletest.Rand(seed))
			}
			rapid.Check(t, func(t *rapid.T) { law(t, tabletest.Rapid(t)) })
		})
	}
}

func FuzzLaws(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) {
		lawJSON(t, tabletest.Rapid(t))
		lawCSV(t, tabletest.Rapid(t))
		lawPatch(t, tabletest.Rapid(t))
		lawPatchElsewhere(t, tabletest.Rapid(t))
	}))
}

// FuzzRead feeds the reader anything; what it takes it must write and read
// back.
func FuzzRead(f *testing.F) {
	for seed := range uint64(8) {
		var b bytes.Buffer
		_, _, cs := pair(tabletest.Rand(seed))
		changefile.WriteJSON(&b, cs)
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		cs, err := changefile.ParseJSON(data, "fuzz")
		if err != nil {
			if !errors.As(err, new(*tables.Fault)) && !errors.As(err, new(tables.Faults)) {
				t.Fatalf("an error without a place: %v", err)
			}
			return
		}
		var b bytes.Buffer
		if err := changefile.WriteJSON(&b, cs); err != nil {
			t.Fatal(err)
		}
		again, err := changefile.ParseJSON(b.Bytes(), "again")
		if err != nil {
			t.Fatalf("%v\n%s", err, b.Bytes())
		}
		if spelled(cs) != spelled(again) {
			t.Fatalf("reads back as another change set:\n%s", b.Bytes())
		}
	})
}
