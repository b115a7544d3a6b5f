package changefile_test

import (
	"bytes"
	"errors"
	"testing"

	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// FuzzReadCSV feeds the reader of change sets as CSV anything; what it takes it
// must write and read back.
func FuzzReadCSV(f *testing.F) {
	for seed := range uint64(8) {
		var b bytes.Buffer
		_, _, cs := pair(tabletest.Rand(seed))
		changefile.WriteCSV(&b, cs)
		f.Add(b.Bytes())
	}
	f.Add([]byte("calsplice,1,changes\ntitle;x\n\ntable,at,from,to\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		cs, _, err := changefile.ParseCSV(data, "fuzz")
		if err != nil {
			if !errors.As(err, new(*tables.Fault)) && !errors.As(err, new(tables.Faults)) {
				t.Fatalf("an error without a place: %v", err)
			}
			return
		}
		var b bytes.Buffer
		if err := changefile.WriteCSV(&b, cs); err != nil {
			t.Fatal(err)
		}
		again, _, err := changefile.ParseCSV(b.Bytes(), "again")
		if err != nil {
			t.Fatalf("%v\n%s", err, b.Bytes())
		}
		if spelled(cs) != spelled(again) {
			t.Fatalf("reads back as another change set:\n%s", b.Bytes())
		}
	})
}
