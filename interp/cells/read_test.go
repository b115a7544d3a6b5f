package cells_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// part counts the rows and the logs that it is given, and fails where it is told to.
type part struct {
	begin, frame, end error // of the first log
	pass              bool  // asks for nothing of it
	name              string
	rows, ended       int
}

func (p *part) first() bool { return p.name == "0" }

func (p *part) Begin(name string, _ *drivelog.Log) (drivelog.Reader, error) {
	p.name = name
	if p.first() && (p.begin != nil || p.pass) {
		return drivelog.Reader{}, p.begin
	}
	return drivelog.Reader{Query: drivelog.Query{Columns: []string{"engine_speed"}}, Frame: func(f *drivelog.Frame) error {
		if p.first() && p.frame != nil {
			return p.frame
		}
		p.rows += f.N
		return nil
	}}, nil
}

func (p *part) End(*drivelog.Reading) error {
	p.ended++
	if p.first() {
		return p.end
	}
	return nil
}

func said(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// TestRead: of two logs of three rows, a part that fails in the first gets the second
// where a fault of the first is all that was wrong, and its neighbour gets all.
func TestRead(t *testing.T) {
	fault, trouble := &tables.Fault{File: "0", What: "no trims"}, errors.New("disk gone")
	for _, row := range []struct {
		name        string
		p           part
		broken      bool // the first log does not open
		rows, ended int
		err         string
	}{
		{"all well", part{}, false, 6, 2, ""},
		{"passes the first over", part{pass: true}, false, 3, 1, ""},
		{"a fault before", part{begin: fault}, false, 3, 1, "0: no trims"},
		{"a fault within", part{frame: fault}, false, 3, 1, "0: no trims"},
		{"a fault after", part{end: fault}, false, 6, 2, "0: no trims"},
		{"trouble before", part{begin: trouble}, false, 0, 0, "0: disk gone"},
		{"trouble within", part{frame: trouble}, false, 0, 0, "0: disk gone"},
		{"trouble after", part{end: trouble}, false, 3, 1, "0: disk gone"},
		{"a log that does not open", part{}, true, 3, 1, "0: torn"},
	} {
		opened := 0
		var logs []cells.Log
		for i := range 2 {
			logs = append(logs, cells.Log{Name: fmt.Sprint(i), Open: func() (*drivelog.Log, error) {
				opened++
				if row.broken && i == 0 {
					return nil, &tables.Fault{File: "0", What: "torn"}
				}
				return drivelog.Open("-", strings.NewReader("Time (s),Engine speed (rpm)\n0,900\n1,901\n2,902\n"), drivelog.Options{})
			}})
		}
		other := &part{}
		errs := cells.Read(context.Background(), logs, other, &row.p)
		if row.p.rows != row.rows || row.p.ended != row.ended || said(errs[1]) != row.err {
			t.Errorf("%s: %d rows, %d ends, error %v, want %d, %d, %q", row.name, row.p.rows, row.p.ended, errs[1], row.rows, row.ended, row.err)
		}
		if all := 6; !row.broken && (other.rows != all || errs[0] != nil) {
			t.Errorf("%s: its neighbour got %d rows and %v", row.name, other.rows, errs[0])
		}
		if opened != 2 {
			t.Errorf("%s: two logs were opened %d times", row.name, opened)
		}
	}
}
