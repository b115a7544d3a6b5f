package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"testing"

	"calsplice/tables/tablefile"
)

// TestFleet does what the README says of a season of many cars, in the demo's
// folder, and holds each way to the bytes of one command that reads all logs.
func TestFleet(t *testing.T) {
	dir := demoFolder(t)
	calsplice(t, dir, 0, "cells drive-1.csv drive-2.csv drive-3.csv drive-4.csv drive-5.csv --axes van-fitted.json:spark.advance --value trim --steady -o once.json")
	want := fileIn(t, dir, "once.json")
	for _, way := range []struct {
		name string
		run  func(t *testing.T)
	}{
		{"make", func(t *testing.T) {
			write(t, dir, "Makefile", []byte(fenced(t, "make")))
			sh(t, dir, "make", "make", "-j", "4")
		}},
		{"xargs", func(t *testing.T) {
			os.RemoveAll(filepath.Join(dir, "cells"))
			sh(t, dir, "xargs", "sh", "-e", "-c", fenced(t, "sh"))
		}},
		{"in stages", func(t *testing.T) {
			calsplice(t, dir, 0, "cells --combine cells/drive-4.csv.json cells/drive-1.csv.json -o car-1.json")
			calsplice(t, dir, 0, "cells --combine cells/drive-5.csv.json cells/drive-2.csv.json cells/drive-3.csv.json -o car-2.json")
			calsplice(t, dir, 0, "cells --combine car-2.json car-1.json -o season.json")
		}},
	} {
		t.Run(way.name, func(t *testing.T) {
			os.Remove(filepath.Join(dir, "season.json"))
			if way.run(t); !bytes.Equal(fileIn(t, dir, "season.json"), want) {
				t.Error("the season is not what one command makes of all logs")
			}
		})
	}
	t.Run("refused", func(t *testing.T) { fleetRefuses(t, dir) })
	t.Run("duckdb", func(t *testing.T) { fleetInDuckDB(t, dir) })
}

// fleetRefuses: a log of an earlier stage, a file that was cut on its way, and a
// task that fails, each by name and without an output.
func fleetRefuses(t *testing.T, dir string) {
	part := fileIn(t, dir, "cells/drive-2.csv.json")
	write(t, dir, "cells/cut.json", part[:len(part)/2])
	write(t, dir, "torn.csv", []byte("Time (s),Engine speed (rpm)\n0,"))
	for _, tc := range []struct{ line, out, want string }{
		{"cells --combine car-2.json cells/drive-2.csv.json", "twice.json",
			`^calsplice: cells/drive-2\.csv\.json: log drive-2\.csv is the same as drive-2\.csv of car-2\.json: its samples would count twice\n$`},
		{"cells --combine car-1.json cells/cut.json", "part.json", `^calsplice: cells/cut\.json:\d+:\d+: .*: the text ends here, expected .*\n$`},
		{"cells torn.csv --axes van-fitted.json:spark.advance --value trim --steady", "cells/torn.csv.json", `^calsplice: torn\.csv:.*\n$`},
	} {
		told := calsplice(t, dir, statusTrouble, tc.line+" -o "+tc.out)
		if !regexp.MustCompile(tc.want).MatchString(told) {
			t.Errorf("calsplice %s says %swant %s", tc.line, told, tc.want)
		}
		if _, err := os.Stat(filepath.Join(dir, tc.out)); err == nil {
			t.Errorf("calsplice %s wrote %s", tc.line, tc.out)
		}
	}
}

// fleetInDuckDB: DuckDB's answer to the README's query has the season's tables as
// columns, to the last bit.
func fleetInDuckDB(t *testing.T, dir string) {
	var rows []map[string]any
	duck(t, &rows, "query.mjs", dir, fenced(t, "sql"))
	season, err := tablefile.Read(filepath.Join(dir, "season.json"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if cells := len(season.Table("trim.count").Values()); len(rows) != cells || cells == 0 {
		t.Fatalf("DuckDB has %d rows, want one for each of %d cells", len(rows), cells)
	}
	for _, table := range season.Tables() {
		for i, row := range rows {
			v, has := row[table.ID()]
			if want := table.Values()[i]; !has || v != want && !(v == nil && want != want) {
				t.Errorf("%s at %v, %v is %v in DuckDB, want %v", table.ID(), row["y"], row["x"], v, want)
			}
		}
	}
}

// demoFolder is the demo's folder, and a program calsplice in the way of the
// commands that are run there.
func demoFolder(t *testing.T) string {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("the README's lines are for a POSIX shell")
	}
	dir, bin := t.TempDir(), t.TempDir()
	if err := os.Symlink(os.Args[0], filepath.Join(bin, "calsplice")); err != nil {
		t.Skip(err)
	}
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	t.Setenv("CALSPLICE_BE_THE_PROGRAM", "1")
	calsplice(t, dir, 0, "demo -o .")
	return dir
}

// calsplice runs one command in a folder and returns what it says on standard
// error.
func calsplice(t *testing.T, dir string, status int, line string) string {
	t.Helper()
	cmd := program(words(line)...)
	var stderr bytes.Buffer
	cmd.Dir, cmd.Stderr = dir, &stderr
	if cmd.Run(); cmd.ProcessState.ExitCode() != status {
		t.Fatalf("calsplice %s: status %d, want %d: %s", line, cmd.ProcessState.ExitCode(), status, stderr.String())
	}
	return stderr.String()
}

// sh runs a command of the system that a test needs.
func sh(t *testing.T, dir, needs, name string, args ...string) {
	t.Helper()
	if _, err := exec.LookPath(needs); err != nil {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	cmd := exec.Command(name, args...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
}

// fenced is the one block of the README in a language.
func fenced(t *testing.T, language string) string {
	t.Helper()
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile("(?s)```"+language+"\n(.*?)```").FindAllStringSubmatch(string(readme), -1)
	if len(found) != 1 {
		t.Fatalf("the README has %d blocks of %s, want 1", len(found), language)
	}
	return found[0][1]
}

func write(t *testing.T, dir, name string, b []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), b, 0o666); err != nil {
		t.Fatal(err)
	}
}

func fileIn(t *testing.T, dir, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
