package drivelog

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/tables/drivelog/rows"
)

var update = flag.Bool("update", false, "write the expected lines of hostile logs anew")

const hostileLogs = "../../testdata/hostile-logs/"

// outcome is what a person is told about a log, in a line: the error, or the
// rows and the faults.
func outcome(path string, opt Options) string {
	l, err := Open(path, nil, opt)
	if err == nil {
		defer l.Close()
		var sv *Survey
		if sv, err = l.Survey(context.Background()); err == nil {
			out := fmt.Sprintf("%d rows", sv.Rows)
			for _, f := range sv.Faults {
				out += "; " + f.String()
			}
			if err := l.Resolve("engine_speed"); err != nil {
				out += "; engine_speed: " + err.Error()
			}
			return strings.ReplaceAll(out, path, filepath.Base(path))
		}
	}
	return "error: " + strings.ReplaceAll(err.Error(), path, filepath.Base(path))
}

// TestHostileLogs reads every log of testdata/hostile-logs and wants the line
// that expected.tsv gives it.
func TestHostileLogs(t *testing.T) {
	expected := map[string]string{}
	var names []string
	entries, err := os.ReadDir(hostileLogs)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() != "expected.tsv" {
			names = append(names, e.Name())
		}
	}
	if *update {
		var b strings.Builder
		for _, n := range names {
			fmt.Fprintf(&b, "%s\t%s\n", n, outcome(hostileLogs+n, Options{}))
		}
		if err := os.WriteFile(hostileLogs+"expected.tsv", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := os.Open(hostileLogs + "expected.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for sc := bufio.NewScanner(f); sc.Scan(); {
		name, line, _ := strings.Cut(sc.Text(), "\t")
		expected[name] = line
	}
	if len(names) < 60 {
		t.Errorf("%d logs", len(names))
	}
	for _, n := range names {
		if got := outcome(hostileLogs+n, Options{}); got != expected[n] {
			t.Errorf("%s:\ngot  %s\nwant %s", n, got, expected[n]) // promise: never silent
		}
	}
}

// TestHostileLarge tries what is too large for a repository.
func TestHostileLarge(t *testing.T) {
	const head = "time,RPM,MAP\n0,800,40\n1,801,41\n"
	columns := func(n int) string {
		return "time" + strings.Repeat(",x", n-1) + "\n0" + strings.Repeat(",1", n-1) + "\n1" + strings.Repeat(",2", n-1) + "\n"
	}
	for _, c := range []struct{ name, text, want string }{
		{"line of 10 MB", head + strings.Repeat("7", 10<<20) + "\n2,802,42\n", "error: log:4: the line is longer than 4194304 bytes: --max-line"},
		{"line of 10 MB of fields", head + strings.Repeat("7,", 5<<20) + "\n2,802,42\n", "error: log:4: the line is longer than 4194304 bytes: --max-line"},
		{"first line of 10 MB", strings.Repeat("time,", 2<<20), "error: log:1: the line is longer than 4194304 bytes: --max-line"},
		{"line of 3 MB", head + strings.Repeat("7", 3<<20) + "\n2,802,42\n", "4 rows; 1 clock-missing"},
		{"100,000 columns", columns(100000), "error: log:1: the header has 100000 columns: up to 20000 are read"},
		{"20,000 columns", columns(20000), "2 rows; engine_speed: log:1: the log has no channel engine_speed"},
		{"20,000 quotes open", "time (s),RPM,note\n" + strings.Repeat("0,800,\"x\n1,801,\"x\n", 10000), "20000 rows; 9999 clock-back: rows whose clock steps back or restarts; a new stretch begins at each (line 4, 6, 8, 10, 12, 14, 16, 18 …); 20000 quote"},
		{"a quote around everything", "time (s),RPM,note\n0,800,x\n1,801,\"" + strings.Repeat("2,802,x\n", 100000), "100001 rows; 99998 clock-repeat"},
		{"blank lines", head + strings.Repeat("\n", 5<<20), "2 rows"},
		{"commas", head + strings.Repeat(",", 1<<20) + "\n", "3 rows; 1 clock-missing"},
		{"preamble of 10,000 lines", strings.Repeat("a remark\n", 10000) + head, "error: log:1: no header and rows of a drive log are found in the first 400 lines: --header-line LINE"},
	} {
		path := filepath.Join(t.TempDir(), "log")
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := outcome(path, Options{}); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: got %.300s\nwant %s", c.name, got, c.want) // promise: bounded time and memory
		}
	}
}

// TestBombs unpacks what grows without end only as far as it has to.
func TestBombs(t *testing.T) {
	pack := func(head string, unit []byte, n int) string {
		member := func(text []byte) []byte {
			var b bytes.Buffer
			z, _ := gzip.NewWriterLevel(&b, 9)
			z.Write(text)
			z.Close()
			return b.Bytes()
		}
		path := filepath.Join(t.TempDir(), "bomb.gz")
		if err := os.WriteFile(path, append(member([]byte(head)), bytes.Repeat(member(unit), n)...), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	zeros := make([]byte, 1<<20)
	if got := outcome(pack("", zeros, 40), Options{}); got != "error: bomb.gz: it is not text: a drive log is CSV" {
		t.Error(got)
	}
	sevens := bytes.Repeat([]byte("7"), 1<<20)
	if got := outcome(pack("time,RPM\n0,800\n1,801\n", sevens, 40), Options{}); !strings.HasPrefix(got, "error: bomb.gz:4: the line is longer than") {
		t.Error(got)
	}
	rows := bytes.Repeat([]byte("0,800\n"), 1<<20/6)
	if got := outcome(pack("time,RPM\n0,800\n1,801\n", rows, 70), Options{}); !strings.Contains(got, bombed) {
		t.Errorf("70 MB of rows all alike: %s", got) // promise: bounded time and memory
	}
}

const bombed = "it unpacks to more than 500 times its size: no drive log does"

// TestWorkersAgree: the same samples and faults on any number of workers.
func TestWorkersAgree(t *testing.T) {
	var text strings.Builder
	text.WriteString("time,RPM,note,STFT,LTFT\n")
	for i := range 40000 {
		switch {
		case i%1009 == 0:
			fmt.Fprintf(&text, "%d,%d,\"a note\nin two lines, \"\"quoted\"\"\",1,2\n", i, i%977)
		case i%499 == 0:
			fmt.Fprintf(&text, "%d,%d\n", i, i%977)
		case i%701 == 0:
			fmt.Fprintf(&text, "%d,bad,x,,\n", i)
		default:
			fmt.Fprintf(&text, "%d,%d,x,%d,%d\n", i, i%977, i%11-5, i%7-3)
		}
	}
	path := filepath.Join(t.TempDir(), "log.csv")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	read := func(workers int) ([]string, []rows.Fault) {
		l, err := Open(path, nil, Options{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		defer l.Close()
		var rows []string
		r, err := l.Scan(context.Background(), Query{Columns: []string{"engine_speed", "trim"}}, func(f *Frame) error {
			for i := range f.N {
				rows = append(rows, fmt.Sprint(f.Line[i], f.Time[i], f.Columns[0].Value[i], f.Columns[1].Value[i], f.Columns[1].Fresh[i]))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return rows, r.Faults
	}
	rows, faults := read(1)
	if len(rows) != 40000 {
		t.Errorf("%d rows", len(rows))
	}
	for _, n := range []int{2, 3, 8} {
		r, f := read(n)
		if !slices.Equal(r, rows) || fmt.Sprint(f) != fmt.Sprint(faults) {
			t.Errorf("%d workers read it differently: %v, %v", n, f, faults) // promise: the same bytes each time
		}
	}
	if !strings.Contains(fmt.Sprint(faults), "ragged") || !strings.Contains(fmt.Sprint(faults), "text") {
		t.Error(faults)
	}
}
