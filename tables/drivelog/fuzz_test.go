package drivelog

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/drivelog/formula"
)

// FuzzReadLog: any bytes are read, or refused with a place; a survey and a
// scan agree on the rows; nothing panics.
func FuzzReadLog(f *testing.F) {
	entries, _ := os.ReadDir(hostileLogs)
	for _, e := range entries {
		if raw, err := os.ReadFile(filepath.Join(hostileLogs, e.Name())); err == nil && len(raw) < 20000 {
			f.Add(raw)
		}
	}
	for _, text := range dialects() {
		f.Add([]byte(text[:min(len(text), 2000)]))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		l, err := Open("-", bytes.NewReader(raw), Options{Workers: 2})
		if err != nil {
			wantPlace(t, err)
			return
		}
		defer l.Close()
		sv, err := l.Survey(context.Background())
		if err != nil {
			wantPlace(t, err)
			return
		}
		var columns []string
		for _, c := range sv.Channels {
			if c.Count > sv.Rows && l.long == nil || c.Missing < 0 || c.Count > 0 && !(c.Min <= c.Max) {
				t.Errorf("%+v of %d rows", c, sv.Rows)
			}
			if c.Name != "" && l.Has(c.Name) {
				columns = append(columns, c.Name)
			}
		}
		if l.Err() != nil {
			return
		}
		instants := 0
		r, err := l.Scan(context.Background(), Query{Columns: columns}, func(fr *Frame) error {
			instants += fr.N
			for _, c := range fr.Columns {
				if len(c.Value) != fr.N || len(c.Fresh) != fr.N {
					t.Fatalf("%d values and %d marks for %d instants", len(c.Value), len(c.Fresh), fr.N)
				}
			}
			return nil
		})
		if err != nil {
			wantPlace(t, err)
			return
		}
		if r.Rows != sv.Rows || instants > r.Rows {
			t.Errorf("%d rows surveyed, %d scanned, %d instants", sv.Rows, r.Rows, instants)
		}
	})
}

// wantPlace wants an error of a reader: one line a fault, each with the file.
func wantPlace(t *testing.T, err error) {
	t.Helper()
	var one *tables.Fault
	var many tables.Faults
	if !errors.As(err, &one) && !errors.As(err, &many) {
		t.Fatalf("an error without a place: %v", err)
	}
	for _, line := range strings.Split(err.Error(), "\n") {
		if !strings.HasPrefix(line, "-:") {
			t.Errorf("the line %q does not begin with the log", line)
		}
	}
}

// FuzzExpression: any text is an expression or an error line.
func FuzzExpression(f *testing.F) {
	for _, s := range []string{"engine_speed > 1", "coolant >= 70 && engine_speed > 500", "not (coolant < 3)", "abs(-engine_speed) ** 2 / 7 - 1",
		"coolant ? 1 : 2", "time", "trim + 1", "max(1, engine_speed)", "engine_speed in 1..3", "[1]", "engine_speed.x", "len('a')", "((((", "a = b", "1 / 0 > 1"} {
		f.Add(s)
	}
	const log = "time,RPM,ECT,STFT,LTFT\n0,800,60,0,-1\n1,900,70,1,1\n2,900,80,1,0\n"
	f.Fuzz(func(t *testing.T, s string) {
		l, err := Open("-", strings.NewReader(log), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := l.Resolve(s); err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("more than a line: %v", err)
			}
			return
		}
		_, err = l.Scan(context.Background(), Query{Columns: []string{s}}, func(*Frame) error { return nil })
		if err != nil {
			t.Error(err)
		}
	})
}

// FuzzMap: any text is a channel map or faults with lines.
func FuzzMap(f *testing.F) {
	for _, s := range []string{"battery = Terminal 30\n", "# remark\n\nlambda [AFR] = WB O2\n", "=x", "a=", "a=b\na=c\n", "\ufeffa=b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var o Options
		if err := o.ReadMap(strings.NewReader(s), "-"); err != nil {
			wantPlace(t, err)
		}
		for n := range o.Channels {
			if !formula.IsName(n) {
				t.Errorf("the name %q was taken", n)
			}
		}
	})
}
